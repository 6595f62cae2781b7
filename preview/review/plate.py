"""Words as small finished pictures on one ground, for frames that change only in a few words.

A line is set once and kept, so that writing it again copies pixels. Digits are all equally wide in the
sheet's font: a timecode does not jump as it counts.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import numpy.typing as npt
from PIL import Image, ImageDraw

from preview.review.lettering import INK, PAPER, Color, fitted, font

Pixels = npt.NDArray[np.uint8]

KEPT = 256
"""Lines kept: a frame has about fifty, of which ten change."""


@lru_cache(maxsize=KEPT)
def plate(
    text: str,
    size_px: int,
    color: Color = INK,
    ground: Color = PAPER,
    bold: bool = False,
    room_px: int = 4096,
) -> Pixels:
    """One line of text, cut off and marked where it is wider than its room.

    Returns
    -------
    (h, w, 3) uint8, read only; as high as the font is for any text, as wide as the text
    """
    face = font(size_px, bold)
    text = fitted(text, room_px, size_px, bold)
    rise, drop = face.getmetrics()
    wide = max(1, round(face.getlength(text)))
    picture = Image.new("RGB", (wide, rise + drop), ground)
    ImageDraw.Draw(picture).text((0, rise), text, font=face, fill=color, anchor="ls")
    pixels = np.asarray(picture)
    pixels.flags.writeable = False
    return pixels


def put(frame: Pixels, picture: Pixels, left: int, top: int) -> None:
    """Copy a picture into a frame; what lies outside is cut off."""
    height, width = frame.shape[:2]
    high, wide = picture.shape[:2]
    x, y = max(0, left), max(0, top)
    right, bottom = min(width, left + wide), min(height, top + high)
    if right > x and bottom > y:
        frame[y:bottom, x:right] = picture[y - top : bottom - top, x - left : right - left]
