"""The page on one place of a picture: as planned, as predicted, and as photosites would make of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt
from PIL import Image

from preview.moire.picture_map import ramp
from preview.review.lettering import INK, PAPER, QUIET, wrapped, write

WIDTH_PX = 1920
_PAD, _GAP, _LINE = 28, 16, 28

Code = npt.NDArray[np.uint8]


@dataclass(frozen=True, eq=False)
class Panel:
    """One picture of the page: (h, w, 3) uint8, its title, and a line below."""

    picture: Code
    title: str
    below: str


def moire_page(title: str, told: Sequence[str], rows: Sequence[Sequence[Panel]]) -> Code:
    """Rows of panels, enlarged alike without smoothing, with words above and below.

    Parameters
    ----------
    title : top line
    told : sentences below the panels, each from a new line on
    rows : as many panels in each

    Returns
    -------
    (h, WIDTH_PX, 3) uint8
    """
    across = len(rows[0])
    wide = (WIDTH_PX - 2 * _PAD - (across - 1) * _GAP) // across
    tall = max(round(wide * one.picture.shape[0] / one.picture.shape[1]) for row in rows for one in row)
    step = tall + 84
    room = WIDTH_PX - 2 * _PAD
    told = [line for words in told for line in wrapped(words, room, 19)]
    sheet = Image.new("RGB", (WIDTH_PX, 58 + step * len(rows) + _LINE * len(told) + 28), PAPER)
    write(sheet, title, (_PAD, 40), 26, room_px=WIDTH_PX - 2 * _PAD, bold=True)
    for line, row in enumerate(rows):
        top = 96 + step * line
        for place, panel in enumerate(row):
            left = _PAD + place * (wide + _GAP)
            write(sheet, panel.title, (left, top - 12), 20, room_px=wide, bold=True)
            size = wide, round(wide * panel.picture.shape[0] / panel.picture.shape[1])
            enlarged = cv2.resize(panel.picture, size, interpolation=cv2.INTER_NEAREST_EXACT)
            sheet.paste(Image.fromarray(enlarged), (left, top))
            write(sheet, panel.below, (left, top + tall + 24), 17, room_px=wide, color=QUIET)
    for number, words in enumerate(told):
        top = 58 + step * len(rows) + _LINE * number + 24
        write(sheet, words, (_PAD, top), 19, room_px=room, color=INK)
    return np.asarray(sheet)


def with_scale(picture: Code, title: str, told: Sequence[str]) -> Code:
    """A picture map with a band below: what it is, words, and the ramp of risk.

    Parameters
    ----------
    picture : (h, w, 3) uint8
    """
    height, width = picture.shape[:2]
    unit = max(0.45, width / WIDTH_PX)
    line = round(30 * unit)
    band = round(56 * unit) + line * len(told)
    sheet = Image.new("RGB", (width, height + band), PAPER)
    sheet.paste(Image.fromarray(picture), (0, 0))
    pad, bar = round(24 * unit), (round(360 * unit), round(18 * unit))
    size = max(11, round(21 * unit))
    room = width - 3 * pad - bar[0]
    write(sheet, title, (pad, height + round(36 * unit)), size, room_px=room, bold=True)
    for number, words in enumerate(told):
        at = (pad, height + round(36 * unit) + line * (number + 1))
        write(sheet, words, at, max(10, round(18 * unit)), room_px=width - 2 * pad, color=QUIET)
    colors = np.round(ramp(np.linspace(0.0, 1.0, bar[0])) * 255).astype(np.uint8)
    left, top = width - pad - bar[0], height + round(10 * unit)
    sheet.paste(Image.fromarray(np.repeat(colors[None], bar[1], axis=0)), (left, top))
    small = max(10, round(16 * unit))
    base = top + bar[1] + round(18 * unit)
    write(sheet, "0 unseen", (left, base), small, room_px=bar[0] / 2, color=QUIET)
    write(
        sheet, "risk: seen at a glance 1", (left + bar[0], base), small, room_px=0.7 * bar[0], color=QUIET,
        anchor="rs",
    )  # fmt: skip
    return np.asarray(sheet)
