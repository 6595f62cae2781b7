"""A still with what a check means outlined in it, and below it what the check says."""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np
import numpy.typing as npt
from PIL import Image, ImageDraw

from preview.checks.registry import Mark
from preview.report.caption import GRADE_COLOR, Caption, caption_height, draw_caption
from preview.review.lettering import PAPER, Color, fitted, font

WIDTH_PX = 960
"""Width of a page: its text is read at half a laptop's screen."""

_DARK = (12, 13, 15)
_HATCH_STEP_PX, _HATCH_PX = 16, 3
_RINGED_PX = 56
"""A mark smaller than this both ways is ringed, or nobody finds it."""
_LABEL = 17

Box = tuple[int, int, int, int]
"""Left, top, right, bottom; pixels."""
Bools = npt.NDArray[np.bool_]


def drawn_size(picture_px: tuple[int, int]) -> tuple[int, int]:
    """Size at which a still is drawn: the picture's shape, as large as a square of WIDTH_PX takes."""
    width, height = picture_px
    scale = WIDTH_PX / max(width, height)
    return max(16, round(width * scale)), max(16, round(height * scale))


def annotated_page(code: np.ndarray, marks: Sequence[Mark], caption: Caption) -> np.ndarray:
    """The page: the picture with its marks outlined and hatched, and the caption below.

    Parameters
    ----------
    code : (h, w, 3) uint8 picture, at most WIDTH_PX wide
    marks : what to outline, each on a grid of its own over the whole picture

    Returns
    -------
    (h', WIDTH_PX, 3) uint8
    """
    height, width = code.shape[:2]
    sheet = Image.new("RGB", (WIDTH_PX, height + caption_height(caption, WIDTH_PX)), PAPER)
    sheet.paste(
        Image.fromarray(outlined(code, marks, GRADE_COLOR[caption.grade])), ((WIDTH_PX - width) // 2, 0)
    )
    draw_caption(sheet, caption, height)
    return np.asarray(sheet)


def outlined(code: np.ndarray, marks: Sequence[Mark], color: Color) -> np.ndarray:
    """The picture with marks outlined and hatched, small ones ringed, and their labels beside them.

    Parameters
    ----------
    code : (h, w, 3) uint8

    Returns
    -------
    (h, w, 3) uint8, a copy
    """
    picture = np.array(code)
    size = code.shape[1], code.shape[0]
    seen = [(mark, field) for mark in marks if (field := enlarged(mark.mask, size)).any()]
    for _, field in seen:
        _hatch(picture, field, color)
    for _, field in seen:
        contours, _ = cv2.findContours(field.astype(np.uint8), cv2.RETR_LIST, cv2.CHAIN_APPROX_NONE)
        for ink, thick in ((_DARK, 6), (color, 3)):
            cv2.drawContours(picture, contours, -1, ink, thick, cv2.LINE_AA)
            if (ring := _ring(field)) is not None:
                cv2.circle(picture, ring[0], ring[1], ink, thick, cv2.LINE_AA)
    sheet, taken = Image.fromarray(picture), list[Box]()
    for mark, field in seen:
        if mark.label:
            taken.append(_label(sheet, mark.label, field, color, taken))
    return np.asarray(sheet)


def enlarged(mask: Bools, size_px: tuple[int, int]) -> Bools:
    """A mask over the whole picture, brought to the picture's size with smooth borders.

    Parameters
    ----------
    mask : (h, w) bool; a single field stays to be seen
    size_px : width and height of the picture
    """
    field = cv2.resize(mask.astype(np.float32), size_px, interpolation=cv2.INTER_LINEAR)
    cell = max(size_px[0] / mask.shape[1], size_px[1] / mask.shape[0], 1.0)
    smooth = cv2.GaussianBlur(field, (0, 0), 0.9 * cell)
    # Blurring takes away what is one field wide: there the unblurred border stays.
    thin = cv2.morphologyEx(mask.astype(np.uint8), cv2.MORPH_OPEN, np.ones((3, 3), np.uint8)) == 0
    alone = cv2.resize((mask & thin).astype(np.float32), size_px, interpolation=cv2.INTER_LINEAR)
    return np.asarray((smooth >= 0.5) | (alone >= 0.5), dtype=bool)


def _hatch(picture: np.ndarray, field: Bools, color: Color) -> None:
    rows, columns = np.arange(field.shape[0])[:, None], np.arange(field.shape[1])
    lines = field & ((rows + columns) % _HATCH_STEP_PX < _HATCH_PX)
    picture[lines] = np.round(0.3 * picture[lines] + 0.7 * np.array(color)).astype(np.uint8)


def _ring(field: Bools) -> tuple[tuple[int, int], int] | None:
    """Middle and radius of a ring round a small mark."""
    left, top, right, bottom = _box(field)
    if max(right - left, bottom - top) >= _RINGED_PX:
        return None
    radius = int(np.hypot(right - left, bottom - top) / 2) + 14
    return ((left + right) // 2, (top + bottom) // 2), max(24, radius)


def _box(field: Bools) -> Box:
    rows, columns = np.flatnonzero(field.any(axis=1)), np.flatnonzero(field.any(axis=0))
    return int(columns[0]), int(rows[0]), int(columns[-1]) + 1, int(rows[-1]) + 1


def _label(sheet: Image.Image, text: str, field: Bools, color: Color, taken: Sequence[Box]) -> Box:
    """Write a label by its mark, inside the picture and off the labels before; returns its box."""
    face = font(_LABEL, bold=True)
    text = fitted(text, sheet.width - 40, _LABEL, bold=True)
    wide, high = int(face.getlength(text)) + 20, _LABEL + 14
    left, top, right, bottom = _box(field)
    ring = _ring(field)
    if ring is not None:
        (x, y), radius = ring
        left, top, right, bottom = x - radius, y - radius, x + radius, y + radius
    middle = (left + right) // 2
    rows = (top - high - 8, bottom + 8, top + 8, *range(8, sheet.height - high, high + 6))
    for row in rows:
        at = min(max(8, middle - wide // 2), max(8, sheet.width - wide - 8))
        box = (at, row, at + wide, row + high)
        inside = row >= 4 and row + high <= sheet.height - 4
        if inside and not any(_overlap(box, other) for other in taken):
            break
    pen = ImageDraw.Draw(sheet)
    pen.rounded_rectangle(box, radius=4, fill=_DARK, outline=color, width=2)
    pen.text(((box[0] + box[2]) / 2, (box[1] + box[3]) / 2), text, font=face, fill=color, anchor="mm")
    return box


def _overlap(one: Box, other: Box) -> bool:
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]
