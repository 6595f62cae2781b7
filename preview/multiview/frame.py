"""One multiview frame: pictures and words put in their places.

What never changes (title, mats, the plan's ground) is drawn once. A frame copies that, fits the pictures in,
and writes the words from plates that are kept.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import cv2
import numpy as np

from preview.multiview.layout import Box, Layout, Tile
from preview.multiview.words import CameraWords, CardWords, FrameWords
from preview.review.lettering import BAND, INK, PAPER, QUIET, Color
from preview.review.plan import Tally
from preview.review.plate import Pixels, plate, put

TALLY_COLORS: dict[Tally, Color] = {"on air": (200, 50, 34), "next": (60, 190, 140), "off": (138, 145, 154)}
"""Red on air and green next are common practice, no source. The red is darker and the green lighter than each
other, so that they part without colour vision too; shape and word say the same."""
WARNING: Color = (240, 176, 60)
MAT: Color = (12, 13, 15)
CARD: Color = (33, 36, 41)
BADGE: Color = (62, 67, 75)
NOW_CARD: Color = (52, 57, 64)

FROM_ABOVE = "Studio from above"

Pictures = Mapping[tuple[str, str], Pixels]
"""Code values (h, w, 3) by kind and subject, as ``preview.frame.Picture`` names them."""


def base_picture(layout: Layout, title: str, how: str, surfaces: Sequence[str], driven: str) -> Pixels:
    """What no frame changes.

    Parameters
    ----------
    title, how : of the show, and how the wall is driven; at the right of the header
    surfaces, driven : names of the LED surfaces, and what their pictures are

    Returns
    -------
    (h, w, 3) uint8
    """
    width, height = layout.size_px
    frame = np.full((height, width, 3), PAPER, dtype=np.uint8)
    text, header = layout.text, layout.header
    room = header.width * 2 // 5
    for line, (words, color) in enumerate(((title, INK), (how, QUIET))):
        found = plate(words, text.small, color, PAPER, line == 0, room)
        lines_top = header.top + (header.height - 2 * text.small_line) // 2
        _middle(
            frame, found, header.right - found.shape[1], lines_top + line * text.small_line, text.small_line
        )
    for tile in (layout.programme, layout.as_shot, *layout.cameras):
        _fill(frame, tile.picture, MAT)
    for place, box in enumerate(layout.cards):
        _fill(frame, box, CARD if place else NOW_CARD)
    for tile, name in zip((*layout.surfaces, layout.plan), (*surfaces, FROM_ABOVE), strict=True):
        named = plate(name, text.name, INK, PAPER, True, tile.caption.width)
        _middle(frame, named, tile.caption.left, tile.caption.top, tile.caption.height)
        room = tile.caption.width - named.shape[1] - text.small
        told = plate(driven, text.small, QUIET)
        if name != FROM_ABOVE and told.shape[1] <= room:
            _middle(frame, told, tile.caption.right - told.shape[1], tile.caption.top, tile.caption.height)
    return frame


def compose(
    layout: Layout, base: Pixels, words: FrameWords, surfaces: Sequence[str], plan: Pixels, pictures: Pictures
) -> Pixels:
    """One frame.

    Parameters
    ----------
    base : from ``base_picture``
    surfaces : names of the LED surfaces
    plan : (h, w, 3) uint8 of the plan box's size
    pictures : every return, programme, programme as shot and LED surface, of any size

    Returns
    -------
    (h, w, 3) uint8, a new array

    Raises
    ------
    KeyError : a picture is missing.
    """
    frame = base.copy()
    _fit(frame, layout.programme.picture, pictures["programme", ""])
    _fit(frame, layout.as_shot.picture, pictures["programme-as-shot", ""])
    for tile, name in zip(layout.surfaces, surfaces, strict=True):
        _fit(frame, tile.picture, pictures["wall", name])
    for tile, camera in zip(layout.cameras, words.cameras, strict=True):
        _fit(frame, tile.picture, pictures["return", camera.name])
        _camera(frame, layout, tile, camera)
    put(frame, plan, layout.plan.picture.left, layout.plan.picture.top)
    _header(frame, layout, words)
    _programme(frame, layout, words)
    for box, card in zip(layout.cards, words.cards, strict=False):
        _card(frame, layout, box, card, words.gone if card.when == "now" else None)
    return frame


def timecode_plate(layout: Layout, timecode: str) -> Pixels:
    """The timecode as the header shows it."""
    return plate(timecode, layout.text.timecode, INK, PAPER, True)


def _header(frame: Pixels, layout: Layout, words: FrameWords) -> None:
    text, box = layout.text, layout.header
    found = timecode_plate(layout, words.timecode)
    _middle(frame, found, box.left, box.top, box.height)
    left = box.left + found.shape[1] + 2 * text.name
    room = box.width * 3 // 5 - (left - box.left) - text.name
    lines_top = box.top + (box.height - text.name_line - text.small_line) // 2
    _middle(frame, plate(words.shot, text.name, INK, PAPER, True, room), left, lines_top, text.name_line)
    told = plate(f"{words.left} left", text.small, QUIET, PAPER, False, room)
    _middle(frame, told, left, lines_top + text.name_line, text.small_line)


def _programme(frame: Pixels, layout: Layout, words: FrameWords) -> None:
    text = layout.text
    _pair(frame, layout.programme.caption, "PROGRAMME", words.programme, INK, text.name, text.small)
    color = WARNING if words.wall_wrong else QUIET
    told = words.wall
    _pair(
        frame,
        layout.as_shot.caption,
        "PROGRAMME AS SHOT",
        told,
        color,
        text.name,
        text.small,
        words.wall_wrong,
    )
    _border(frame, layout.programme.picture, TALLY_COLORS["on air"], max(2, text.small // 6))
    if words.wall_wrong:
        _border(frame, layout.as_shot.picture, WARNING, max(2, text.small // 6))


def _pair(
    frame: Pixels,
    box: Box,
    name: str,
    words: str,
    color: Color,
    name_px: int,
    words_px: int,
    warn: bool = False,
) -> None:
    """A caption: a name at the left, words at the right, with a warning sign where something is wrong."""
    named = plate(name, name_px, INK, PAPER, True, box.width)
    _middle(frame, named, box.left, box.top, box.height)
    room = box.width - named.shape[1] - name_px - (words_px * 2 if warn else 0)
    told = plate(words, words_px, color, PAPER, warn, max(room, 1))
    _middle(frame, told, box.right - told.shape[1], box.top, box.height)
    if warn:
        side, middle = words_px, box.top + box.height // 2
        x = box.right - told.shape[1] - round(1.4 * side)
        corners = np.array(
            [[x, middle + side // 2], [x + side, middle + side // 2], [x + side // 2, middle - side // 2]]
        )
        cv2.fillPoly(frame, [corners.astype(np.int32)], color, cv2.LINE_AA)


def _camera(frame: Pixels, layout: Layout, tile: Tile, camera: CameraWords) -> None:
    text, box = layout.text, tile.caption
    tally: Tally = camera.tally  # type: ignore[assignment]
    color, line = TALLY_COLORS[tally], text.name_line
    tag = _tag(frame, layout, box, tally, camera.tag)
    side = line
    ground = color if tally == "on air" else BADGE
    _fill(frame, Box(box.left, box.top, side, side), ground)
    number = plate(str(camera.number), text.name, INK, ground, True, side)
    _middle(frame, number, box.left + (side - number.shape[1]) // 2, box.top, side)
    left = box.left + side + text.small // 2
    named = plate(camera.name, text.name, INK, PAPER, True, max(tag - left - text.small // 2, 1))
    _middle(frame, named, left, box.top, line)
    second = box.top + line + 2
    framing = plate(camera.framing, text.small, INK, PAPER, False, box.width)
    # A long framing's name needs the lens's room; how late the return is stays.
    for words in (", ".join(filter(None, (camera.lens, camera.late))), camera.late):
        note = plate(words, text.small, QUIET, PAPER, False, box.width)
        room = box.width - note.shape[1] - text.small // 2
        if framing.shape[1] <= room:
            break
    _middle(frame, note, box.right - note.shape[1], second, text.small_line)
    framing = plate(camera.framing, text.small, INK, PAPER, False, room)
    _middle(frame, framing, box.left, second, text.small_line)
    thick = max(3, text.small // 4)
    if tally == "on air":
        _border(frame, tile.picture, color, thick)
    elif tally == "next":
        _corners(frame, tile.picture, color, thick)


def _tag(frame: Pixels, layout: Layout, box: Box, tally: Tally, words: str) -> int:
    """The tally at the right of a caption: a filled field with a disc, an outlined one with an arrow, or a
    bare ring; gives back its left edge."""
    text, color, line = layout.text, TALLY_COLORS[tally], layout.text.name_line
    ground = color if tally == "on air" else PAPER
    ink = INK if tally == "on air" else color
    sign, pad = round(text.small * 0.8), text.small // 2
    told = plate(words, text.small, ink, ground, tally != "off", box.width // 2)
    wide = told.shape[1] + sign + 3 * pad
    left = box.right - wide
    if tally == "on air":
        _fill(frame, Box(left, box.top, wide, line), ground)
    elif tally == "next":
        _border(frame, Box(left + 2, box.top + 2, wide - 4, line - 4), color, 2)
    _sign(frame, tally, (left + pad, box.top + line // 2), sign, ink)
    inner = told[1 : line - 2] if told.shape[0] > line - 4 else told
    _middle(frame, inner, left + 2 * pad + sign, box.top, line)
    return left


def _sign(frame: Pixels, tally: Tally, at: tuple[int, int], side: int, color: Color) -> None:
    """A disc on air, an arrow next, a ring off; its left edge and middle are at a point."""
    x, y = at
    if tally == "next":
        corners = np.array([[x, y - side // 2], [x + side, y], [x, y + side // 2]], dtype=np.int32)
        cv2.fillPoly(frame, [corners], color, cv2.LINE_AA)
    else:
        thick = -1 if tally == "on air" else 2
        cv2.circle(frame, (x + side // 2, y), side // 2, color, thick, cv2.LINE_AA)


def _card(frame: Pixels, layout: Layout, box: Box, card: CardWords, gone: float | None) -> None:
    """A card of the strip; the present shot's has a bar of how much of it is over."""
    text, now = layout.text, gone is not None
    ground = NOW_CARD if now else CARD
    pad = text.small // 2
    left, right, top = box.left + pad, box.right - pad, box.top + pad // 2
    room = right - left
    when = plate(card.when, text.name, INK, ground, True, room)
    _middle(frame, when, right - when.shape[1], top, text.name_line)
    if card.camera:
        color = TALLY_COLORS["on air"] if now else BADGE
        _fill(frame, Box(left, top + 2, text.name_line - 4, text.name_line - 4), color)
        number = plate(str(card.number), text.small, INK, color, True, room)
        _middle(frame, number, left + (text.name_line - 4 - number.shape[1]) // 2, top, text.name_line)
        start = left + text.name_line + pad // 2
        name = plate(card.camera, text.name, INK, ground, True, max(right - when.shape[1] - pad - start, 1))
        _middle(frame, name, start, top, text.name_line)
    top += text.name_line
    turn = plate(card.transition, text.small, WARNING, ground, False, room)
    if card.transition:
        _middle(frame, turn, right - turn.shape[1], top, text.small_line)
    taken = turn.shape[1] + pad if card.transition else 0
    shot = plate(card.shot, text.small, INK, ground, False, max(room - taken, 1))
    _middle(frame, shot, left, top, text.small_line)
    top += text.small_line
    _middle(frame, plate(card.framing, text.small, QUIET, ground, False, room), left, top, text.small_line)
    if gone is not None:
        tall = max(3, pad // 2)
        _fill(frame, Box(box.left, box.bottom - tall, box.width, tall), BAND)
        _fill(frame, Box(box.left, box.bottom - tall, round(box.width * gone), tall), TALLY_COLORS["on air"])


def _middle(frame: Pixels, words: Pixels, left: int, top: int, height: int) -> None:
    """Words in the middle of a line of some height."""
    put(frame, words, left, top + (height - words.shape[0]) // 2)


def _fit(frame: Pixels, box: Box, code: Pixels) -> None:
    """A picture as large as a box allows, its shape kept, in the box's middle."""
    high, wide = code.shape[:2]
    scale = min(box.width / wide, box.height / high)
    size = min(box.width, max(1, round(wide * scale))), min(box.height, max(1, round(high * scale)))
    code = resized(code, size)
    put(frame, code, box.left + (box.width - size[0]) // 2, box.top + (box.height - size[1]) // 2)


def resized(code: Pixels, size: tuple[int, int]) -> Pixels:
    """A picture in another size: halved exactly as often as it goes, then interpolated.

    An average over whole areas would be a shade better between the two, at ten times the cost.

    Parameters
    ----------
    size : width and height
    """
    while code.shape[1] >= 2 * size[0] and code.shape[0] >= 2 * size[1]:
        high, wide = code.shape[0] // 2, code.shape[1] // 2
        even = np.ascontiguousarray(code[: 2 * high, : 2 * wide])
        code = np.asarray(cv2.resize(even, (wide, high), interpolation=cv2.INTER_AREA), dtype=np.uint8)
    if code.shape[1::-1] == size:
        return code
    return np.asarray(cv2.resize(code, size, interpolation=cv2.INTER_LINEAR), dtype=np.uint8)


def _fill(frame: Pixels, box: Box, color: Color) -> None:
    frame[box.top : box.bottom, box.left : box.right] = color


def _border(frame: Pixels, box: Box, color: Color, thick: int) -> None:
    """A line round a box, outside it: the picture's edge stays in sight."""
    wide, high = box.width + 2 * thick, box.height + 2 * thick
    _fill(frame, Box(box.left - thick, box.top - thick, wide, thick), color)
    _fill(frame, Box(box.left - thick, box.bottom, wide, thick), color)
    _fill(frame, Box(box.left - thick, box.top - thick, thick, high), color)
    _fill(frame, Box(box.right, box.top - thick, thick, high), color)


def _corners(frame: Pixels, box: Box, color: Color, thick: int) -> None:
    """Angles round a box's four corners, outside it."""
    long = min(box.width, box.height) // 5
    for left, x in ((box.left - thick, box.left - thick), (box.right + thick - long, box.right)):
        for top, y in ((box.top - thick, box.top - thick), (box.bottom + thick - long, box.bottom)):
            _fill(frame, Box(left, y, long, thick), color)
            _fill(frame, Box(x, top, thick, long), color)
