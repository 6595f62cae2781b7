"""Timecode, shot and camera burnt into a picture, on a dark plate that keeps them legible."""

from __future__ import annotations

import re

import cv2
import numpy as np

TEXT_HEIGHT = 1 / 32
"""Height of a capital as a share of the picture's: readable on a quarter-size window on a page."""

PLATE_LEVEL = 0.35
"""What the plate leaves of the picture under it: white text then stands out on any picture."""

_FONT = cv2.FONT_HERSHEY_SIMPLEX
_CAPITAL_PX = 21
"""Height of this font's capitals at scale 1, in pixels."""


def burn_in(code: np.ndarray, text: str) -> np.ndarray:
    """A copy of the picture with one line of text on a plate, centred near the bottom.

    The text is made smaller where it would not fit the picture's width. Every digit has the same
    width, so that nothing jumps from frame to frame as the timecode counts.

    Parameters
    ----------
    code : (h, w, 3) uint8
    text : one line, such as ``10:00:04:12  003 Seed trays  CAM2 return``

    Returns
    -------
    (h, w, 3) uint8
    """
    height, width = code.shape[:2]
    scale = max(height * TEXT_HEIGHT, 9.0) / _CAPITAL_PX
    wide = _width_px(text, scale, 1)
    scale = min(scale, scale * 0.92 * width / max(wide, 1))
    thickness = max(1, round(scale * _CAPITAL_PX / 9))
    wide = _width_px(text, scale, thickness)
    # Measured on letters that reach up and down, so that the plate has one height whatever it says.
    (_, tall), drop = cv2.getTextSize("0Ag", _FONT, scale, thickness)
    pad = max(3, round(tall * 0.5))
    left = max(0, (width - wide) // 2)
    base = height - 2 * pad - drop
    top, bottom = max(0, base - tall - pad), min(height, base + drop + pad)

    marked = np.ascontiguousarray(code).copy()
    plate = marked[top:bottom, max(0, left - pad) : left + wide + pad]
    plate[:] = (plate * PLATE_LEVEL).astype(np.uint8)
    for piece, offset in _placed(text, scale, thickness):
        at = (left + offset, base)
        cv2.putText(marked, piece, at, _FONT, scale, (255, 255, 255), thickness, cv2.LINE_AA)
    return marked


def _placed(text: str, scale: float, thickness: int) -> list[tuple[str, int]]:
    """The text in pieces with their distance from its left end, and an empty piece at its right end."""
    cell = max(cv2.getTextSize(digit, _FONT, scale, thickness)[0][0] for digit in "0123456789")
    pieces, at = [], 0
    for piece in re.findall(r"[0-9]|[^0-9]+", text):
        wide = cv2.getTextSize(piece, _FONT, scale, thickness)[0][0]
        is_digit = piece in "0123456789"
        pieces.append((piece, at + (cell - wide) // 2 if is_digit else at))
        at += cell if is_digit else wide
    return [*pieces, ("", at)]


def _width_px(text: str, scale: float, thickness: int) -> int:
    return _placed(text, scale, thickness)[-1][1]
