"""Film strips: the frames round each cut as a director reads them, programme above the wall behind it.

Plain pictures and words come in; what is wrong was decided elsewhere. A mark is a shape, a word and a
colour at once, so that no one of them has to be told apart.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import cv2
import numpy as np
from PIL import Image, ImageDraw

from preview.review.lettering import BAND, INK, PAPER, QUIET, Color, font, write

Mark = Literal["own", "wrong", "mix"]

WIDTH_PX = 1920
STRIPS_PER_PAGE = 4
FRAMES_PER_STRIP = 7

MARK_COLOR: dict[Mark, Color] = {"own": (0, 158, 115), "wrong": (236, 110, 10), "mix": (86, 180, 233)}
"""Bluish green, vermilion (lightened to stand out on dark), sky blue: apart for every kind of colour vision.

Source: M. Okabe, K. Ito, "Color Universal Design", 2008, palette."""
MARK_WORD: dict[Mark, str] = {"own": "", "wrong": "WRONG", "mix": "MIX"}
LEGEND: dict[Mark, str] = {
    "own": "own background",
    "wrong": "another camera's background",
    "mix": "two cameras mixed, one background",
}

_PAD, _GUTTER, _GAP = 28, 150, 10
_TEXT, _SMALL = 19, 17
_LINE = 27
_CELL = (WIDTH_PX - 2 * _PAD - _GUTTER - (FRAMES_PER_STRIP - 1) * _GAP) // FRAMES_PER_STRIP
_BORDER = 5


@dataclass(frozen=True, eq=False)
class StripFrame:
    """One column of a strip.

    Attributes
    ----------
    timecode, place : its label, and where it stands ("-2", "cut", "+1")
    mark : what is to be said of it
    as_shot, programme : (h, w, 3) uint8; ``cell_picture`` of the drawn ones
    wall : (h, w, 3) uint8 of the wall unrolled, or None
    caption, compared, wall_caption : a few words under each of the three
    """

    timecode: str
    place: str
    mark: Mark
    as_shot: np.ndarray
    programme: np.ndarray
    wall: np.ndarray | None
    caption: str
    compared: str
    wall_caption: str


@dataclass(frozen=True, eq=False)
class Strip:
    """One cut or mix: what it is, what to say of it in two words and in a sentence, and its frames."""

    title: str
    verdict: str
    mark: Mark
    sentence: str
    frames: tuple[StripFrame, ...]


def cell_picture(code: np.ndarray) -> np.ndarray:
    """A picture made small enough for a strip's column, its shape kept; small ones are enlarged.

    Parameters
    ----------
    code : (h, w, 3) uint8
    """
    height, width = code.shape[:2]
    tall = max(1, round(_CELL * height / width))
    way = cv2.INTER_AREA if width >= _CELL else cv2.INTER_CUBIC
    return cv2.resize(code, (_CELL, tall), interpolation=way)


def film_strip_pages(strips: Sequence[Strip], heading: str, wall_name: str) -> list[np.ndarray]:
    """Strips on as many pages as they need, WIDTH_PX wide.

    Parameters
    ----------
    strips : in running order
    heading : top line of every page
    wall_name : which LED surface the wall pictures show

    Returns
    -------
    list of (h, w, 3) uint8 pages, at most STRIPS_PER_PAGE strips on each
    """
    groups = [strips[i : i + STRIPS_PER_PAGE] for i in range(0, len(strips), STRIPS_PER_PAGE)]
    return [
        _page(group, f"{heading}   page {number} of {len(groups)}", wall_name)
        for number, group in enumerate(groups, start=1)
    ]


def _page(strips: Sequence[Strip], heading: str, wall_name: str) -> np.ndarray:
    head = 92
    heights = [_strip_height(strip) for strip in strips]
    sheet = Image.new("RGB", (WIDTH_PX, head + sum(heights)), PAPER)
    write(sheet, heading, (_PAD, 38), 26, room_px=WIDTH_PX - 2 * _PAD, bold=True)
    x = float(_PAD)
    for mark, words in LEGEND.items():
        _shape(sheet, mark, (x, 68), 18)
        label = f"{MARK_WORD[mark]}: {words}" if MARK_WORD[mark] else words
        x += 28 + write(sheet, label, (x + 28, 75), _SMALL, room_px=600, color=QUIET) + 36
    top = head
    for strip, height in zip(strips, heights, strict=True):
        _draw_strip(sheet, strip, top, wall_name)
        top += height
    return np.asarray(sheet)


def _rows(strip: Strip) -> tuple[int, int]:
    """Height of the strip's camera pictures and of its wall pictures."""
    pictures = max(frame.as_shot.shape[0] for frame in strip.frames)
    walls = max((frame.wall.shape[0] for frame in strip.frames if frame.wall is not None), default=0)
    return pictures, walls


def _head_height(strip: Strip) -> int:
    return 56 + _LINE * len(_lines(strip.sentence))


def _strip_height(strip: Strip) -> int:
    pictures, walls = _rows(strip)
    return _head_height(strip) + 2 * (pictures + _LINE + 12) + (walls + _LINE + 12 if walls else 0) + 34 + 22


def _draw_strip(sheet: Image.Image, strip: Strip, top: int, wall_name: str) -> None:
    pen = ImageDraw.Draw(sheet)
    pen.rectangle((0, top, WIDTH_PX, top + 42), fill=BAND)
    verdict_room = 420
    write(sheet, strip.title, (_PAD, top + 29), 23, room_px=WIDTH_PX - verdict_room - 2 * _PAD, bold=True)
    wide = write(
        sheet, strip.verdict, (WIDTH_PX - _PAD, top + 29), 22, room_px=verdict_room, bold=True,
        color=MARK_COLOR[strip.mark], anchor="rs",
    )  # fmt: skip
    _shape(sheet, strip.mark, (WIDTH_PX - _PAD - wide - 32, top + 21), 20)
    for line, words in enumerate(_lines(strip.sentence)):
        write(sheet, words, (_PAD, top + 68 + _LINE * line), _TEXT, room_px=WIDTH_PX - 2 * _PAD)

    pictures, walls = _rows(strip)
    y = top + _head_height(strip)
    rows = [("as shot", "what goes out", pictures), ("programme", "own background", pictures)]
    if walls:
        rows.append(("wall", wall_name, walls))
    for row, (name, more, tall) in enumerate(rows):
        write(sheet, name, (_PAD, y + 24), 20, room_px=_GUTTER - 12, bold=True)
        write(sheet, more, (_PAD, y + 48), 16, room_px=_GUTTER - 12, color=QUIET)
        for column, frame in enumerate(strip.frames):
            _draw_cell(sheet, frame, row, (_PAD + _GUTTER + column * (_CELL + _GAP), y), tall)
        y += tall + _LINE + 12
    for column, frame in enumerate(strip.frames):
        x = _PAD + _GUTTER + column * (_CELL + _GAP)
        here = frame.place in ("cut", "first")
        if here and column:
            pen.line((x - _GAP / 2, top + _head_height(strip), x - _GAP / 2, y + 24), fill=INK, width=2)
        taken = write(sheet, frame.timecode, (x, y + 18), 20, room_px=_CELL, bold=True)
        write(sheet, frame.place, (x + taken + 12, y + 18), _TEXT, room_px=_CELL - taken - 12,
              bold=here, color=INK if here else QUIET)  # fmt: skip


def _draw_cell(sheet: Image.Image, frame: StripFrame, row: int, at: tuple[int, int], tall: int) -> None:
    x, y = at
    picture = (frame.as_shot, frame.programme, frame.wall)[row]
    if picture is None:
        return
    sheet.paste(Image.fromarray(picture), (x, y + (tall - picture.shape[0]) // 2))
    base = y + tall + 21
    if row:
        words = frame.compared if row == 1 else frame.wall_caption
        write(sheet, words, (x, base), _SMALL, room_px=_CELL, color=QUIET)
        return
    color = MARK_COLOR[frame.mark]
    if frame.mark != "own":
        edges = (x, y, x + picture.shape[1] - 1, y + tall - 1)
        ImageDraw.Draw(sheet).rectangle(edges, outline=color, width=_BORDER)
    _shape(sheet, frame.mark, (x, base - 7), 16)
    word, start = MARK_WORD[frame.mark], x + 24.0
    if word:
        start += write(sheet, word, (start, base), _SMALL, room_px=_CELL - 24, bold=True, color=color) + 8
    write(sheet, frame.caption, (start, base), _SMALL, room_px=x + _CELL - start, color=INK)


def _shape(sheet: Image.Image, mark: Mark, at: tuple[float, float], size: int) -> None:
    """A mark's shape, its left at ``at`` and its middle at that height: ring, crossed square, half disc."""
    pen, color, (x, y) = ImageDraw.Draw(sheet), MARK_COLOR[mark], at
    box = (x, y - size / 2, x + size, y + size / 2)
    if mark == "own":
        pen.ellipse(box, outline=color, width=3)
    elif mark == "mix":
        pen.ellipse(box, outline=color, width=2)
        pen.chord(box, 90, 270, fill=color)
    else:
        pen.rectangle(box, fill=color)
        inset = size / 4
        left, top, right, bottom = box[0] + inset, box[1] + inset, box[2] - inset, box[3] - inset
        pen.line((left, top, right, bottom), fill=PAPER, width=3)
        pen.line((left, bottom, right, top), fill=PAPER, width=3)


def _lines(sentence: str) -> list[str]:
    """A sentence in lines as wide as the page allows."""
    face, lines = font(_TEXT), [""]
    for word in sentence.split():
        longer = f"{lines[-1]} {word}".strip()
        if face.getlength(longer) <= WIDTH_PX - 2 * _PAD:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines
