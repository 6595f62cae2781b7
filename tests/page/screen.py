"""What is on screen, as numbers."""

from __future__ import annotations

import io

import numpy as np
from PIL import Image

NEAR = 10
"""Code values that H.264 and the browser's conversion may be off; neighbouring frames are 26 apart."""


def pixels(page, selector="#stage .pair"):
    """What is on screen there, without the edge, where a pixel may be shared with the page around."""
    shot = Image.open(io.BytesIO(page.locator(selector).screenshot())).convert("RGB")
    return np.asarray(shot).astype(int)[2:-2, 2:-2]


def at(picture, x, y=0.3):
    height, width = picture.shape[:2]
    return picture[int(y * height), int(x * width)]


def near(found, wanted, within=NEAR):
    return np.abs(np.asarray(found) - np.asarray(wanted)).max() <= within
