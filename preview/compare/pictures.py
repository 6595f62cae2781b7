"""Two pictures as one: an amplified difference with its scale, and a wipe from one to the other.

Differences are second minus first, in 8-bit code values. An amplification of 4 means that the scale ends at
a difference of 255 / 4 codes; whatever is larger is drawn as the scale's end, and its share is written down.
"""

from __future__ import annotations

from typing import Literal

import numpy as np
from PIL import Image

from preview.compare.measures import FULL_CODE, luma
from preview.conventions import Array
from preview.review.lettering import BAND, INK, PAPER, QUIET, write

LEAST_WIDTH_PX = 480
"""Narrower pictures are drawn larger, so that the scale's numbers have room."""

Form = Literal["absolute", "signed"]


def difference_codes(first: np.ndarray, second: np.ndarray, form: Form) -> Array:
    """(h, w) difference of two (h, w, 3) uint8 pictures in code values.

    "absolute": the largest of the three channels' differences, 0 to 255. "signed": the luma's, second
    minus first, -255 to 255.
    """
    if form == "absolute":
        return np.abs(second.astype(np.int16) - first).max(axis=2).astype(np.float64)
    return luma(second) - luma(first)


def difference_colors(codes: Array, form: Form, amplify: float) -> np.ndarray:
    """(h, w, 3) uint8 of ``difference_codes``: dark for none to light yellow, or blue below and orange above
    a dark middle; both ramps can be told apart with any kind of colour vision, and lighter is always more."""
    level = np.clip(codes * amplify / FULL_CODE, -1.0, 1.0)
    if form == "absolute":
        return _ramp(form)[np.round(level * 255).astype(int)]
    return _ramp(form)[np.round((level + 1) * 127.5).astype(int)]


def difference_sheet(
    first: np.ndarray, second: np.ndarray, labels: tuple[str, str], form: Form, amplify: float, caption: str
) -> np.ndarray:
    """The amplified difference of two pictures with its scale in code values.

    Parameters
    ----------
    first, second : (h, w, 3) uint8
    labels : what the two pictures are
    form : "absolute" or "signed"
    amplify : factor, > 0
    caption : frame and shot

    Returns
    -------
    (h', w', 3) uint8: a line of text above, the picture, and a scale below
    """
    codes = difference_codes(first, second, form)
    picture = enlarged(difference_colors(codes, form, amplify))
    height, width = picture.shape[:2]
    size = text_size_px(width)
    limit = FULL_CODE / amplify
    beyond = float((np.abs(codes) > limit).mean())
    what = "largest channel difference" if form == "absolute" else "luma difference, second minus first"
    head, foot = round(3.9 * size), round(4.6 * size)
    sheet = Image.new("RGB", (width, height + head + foot), PAPER)
    sheet.paste(Image.fromarray(picture), (0, head))
    pad, room = size, width - 2 * size
    write(
        sheet, f"{labels[0]}  against  {labels[1]}", (pad, round(1.5 * size)), size, room_px=room, bold=True
    )
    write(sheet, f"{caption}   {what}, amplified x{amplify:g}", (pad, round(3.0 * size)), size,
          room_px=room, color=QUIET)  # fmt: skip

    left, right = pad + size, width - pad - size
    top = head + height + round(0.6 * size)
    lowest = -limit if form == "signed" else 0.0
    along = np.linspace(lowest, limit, right - left)[None, :].repeat(round(0.9 * size), axis=0)
    sheet.paste(Image.fromarray(difference_colors(along, form, amplify)), (left, top))
    for share in np.linspace(0, 1, 5):
        value = lowest + share * (limit - lowest)
        at = (left + share * (right - left), top + round(2.2 * size))
        write(sheet, f"{value:.3g}", at, size, room_px=room / 5, color=INK, anchor="ms")
    over = (
        f"{beyond:.2%} of the picture is past the scale's end"
        if beyond
        else "nothing is past the scale's end"
    )
    at = (width / 2, top + round(3.6 * size))
    write(sheet, f"8-bit code values; {over}", at, size, room_px=room, color=QUIET, anchor="ms")
    return np.asarray(sheet)


def wipe(first: np.ndarray, second: np.ndarray, position: float) -> np.ndarray:
    """The first picture left of a line, the second right of it.

    Parameters
    ----------
    first, second : (h, w, 3) uint8
    position : of the line, as a share of the width from the left

    Returns
    -------
    (h, w, 3) uint8; only the line itself (at least 3 pixels: white between black) hides both pictures
    """
    width = first.shape[1]
    at = round(position * width)
    joined = np.concatenate([first[:, :at], second[:, at:]], axis=1)
    core = max(1, round(width / 960))
    left = min(max(at - core // 2, core), width - 2 * core)
    joined[:, left - core : left + 2 * core] = 0
    joined[:, left : left + core] = 255
    return joined


def wipe_sheet(
    first: np.ndarray, second: np.ndarray, labels: tuple[str, str], position: float, caption: str
) -> np.ndarray:
    """A wipe with the pictures' names under their halves; (h', w', 3) uint8."""
    picture = enlarged(wipe(first, second, position))
    height, width = picture.shape[:2]
    size = text_size_px(width)
    head, foot = round(2.4 * size), round(2.4 * size)
    sheet = Image.new("RGB", (width, height + head + foot), PAPER)
    sheet.paste(Image.fromarray(picture), (0, head))
    sheet.paste(BAND, (0, head + height, width, head + height + foot))
    base, room = head + height + round(1.6 * size), width / 2 - 2 * size
    write(sheet, caption, (size, round(1.6 * size)), size, room_px=width - 2 * size, color=QUIET)
    write(sheet, f"left: {labels[0]}", (size, base), size, room_px=room, bold=True)
    write(sheet, f"right: {labels[1]}", (width - size, base), size, room_px=room, bold=True, anchor="rs")
    return np.asarray(sheet)


def text_size_px(width: int) -> int:
    """Letter size for a sheet of this width: readable when the sheet fills a laptop's screen."""
    return max(12, round(width / 64))


def enlarged(picture: np.ndarray) -> np.ndarray:
    """Small pictures at a whole multiple of their size, pixel by pixel; others as they are."""
    times = -(-LEAST_WIDTH_PX // picture.shape[1])
    return picture if times == 1 else picture.repeat(times, axis=0).repeat(times, axis=1)


def _ramp(form: Form) -> np.ndarray:
    """(256, 3) uint8 colours from the scale's lower end to its upper."""
    import matplotlib

    name = {"absolute": "cividis", "signed": "managua_r"}[form]
    ramp = matplotlib.colormaps[name](np.arange(256) / 255.0)[:, :3]
    return np.round(ramp * 255).astype(np.uint8)
