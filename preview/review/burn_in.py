"""Timecode, shot and camera burnt into a picture, on a dark plate that keeps them legible."""

from __future__ import annotations

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

    The text is made smaller where it would not fit the picture's width.

    Parameters
    ----------
    code : (h, w, 3) uint8
    text : plain ASCII, such as ``10:00:04:12  003 Seed trays  CAM2 return``

    Returns
    -------
    (h, w, 3) uint8
    """
    height, width = code.shape[:2]
    scale = max(height * TEXT_HEIGHT, 9.0) / _CAPITAL_PX
    (wide, _), _ = cv2.getTextSize(text, _FONT, scale, 1)
    scale = min(scale, scale * 0.92 * width / max(wide, 1))
    thickness = max(1, round(scale * _CAPITAL_PX / 9))
    (wide, tall), drop = cv2.getTextSize(text, _FONT, scale, thickness)
    pad = max(3, round(tall * 0.5))
    left = max(0, (width - wide) // 2)
    base = height - 2 * pad - drop
    top, bottom = max(0, base - tall - pad), min(height, base + drop + pad)

    marked = np.ascontiguousarray(code).copy()
    plate = marked[top:bottom, max(0, left - pad) : left + wide + pad]
    plate[:] = (plate * PLATE_LEVEL).astype(np.uint8)
    cv2.putText(marked, text, (left, base), _FONT, scale, (255, 255, 255), thickness, cv2.LINE_AA)
    return marked
