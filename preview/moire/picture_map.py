"""The picture map: risk of moire laid over a picture, with lines that run as the pattern would."""

from __future__ import annotations

from functools import cache
from math import cos, sin

import cv2
import numpy as np
import numpy.typing as npt

from preview.checks.seen_moire import Floats, SeenMoire

STEP_PX = 6
"""Risk is worked out at every sixth picture pixel either way, and smoothed between."""
SHOWN_FROM = 0.02
"""Risk below this is not laid over the picture."""
LINES_FROM = 0.15
MARK_PX = 46
"""Distance of the lines that show how a pattern runs, at 1920 x 1080."""

RAMP = np.array(
    [[0.94, 0.98, 0.13], [0.97, 0.60, 0.25], [0.80, 0.28, 0.47], [0.49, 0.01, 0.66], [0.05, 0.03, 0.53]]
)[::-1]
"""Dark blue over magenta to yellow, perceptually even and told apart by every kind of colour vision.

Source: the colour map "plasma" of N. Smith and S. van der Walt, 2015, five of its entries (CC0)."""


def ramp(risk: npt.NDArray[np.floating]) -> npt.NDArray[np.float32]:
    """(..., 3) colours 0..1 of risks 0..1.

    >>> [[round(float(c), 2) for c in color] for color in ramp(np.array([0.0, 1.0]))]
    [[0.05, 0.03, 0.53], [0.94, 0.98, 0.13]]
    """
    steps = np.linspace(0.0, 1.0, len(RAMP))
    return np.stack([np.interp(risk, steps, RAMP[:, c]) for c in range(3)], axis=-1).astype(np.float32)


def grid_of(picture_px: tuple[int, int]) -> tuple[int, int]:
    """Fields across and down in which a picture's risk is worked out."""
    return max(16, picture_px[0] // STEP_PX), max(9, picture_px[1] // STEP_PX)


def enlarged(values: Floats, seen: npt.NDArray[np.bool_], picture_px: tuple[int, int]) -> Floats:
    """(h, w) values of a grid at a picture's size; where nothing is seen nothing is laid in."""
    # Averaged over what is seen only, so that a picture's risk does not fade towards people's edges.
    weight = cv2.resize(seen.astype(np.float32), picture_px, interpolation=cv2.INTER_LINEAR)
    smooth = cv2.resize(
        np.where(seen, values, 0.0).astype(np.float32), picture_px, interpolation=cv2.INTER_LINEAR
    )
    smooth /= np.maximum(weight, 0.5)
    smooth[weight <= 0.5] = 0.0
    return smooth


def picture_map(code: npt.NDArray[np.uint8], moire: SeenMoire) -> npt.NDArray[np.uint8]:
    """A picture with the risk of moire laid over it.

    Parameters
    ----------
    code : (h, w, 3) the picture
    moire : of the same picture, on any grid

    Returns
    -------
    (h, w, 3) uint8: the picture in grey, darkened; risk as colour; short lines run as the pattern's stripes
    """
    height, width = code.shape[:2]
    risk = enlarged(moire.risk, moire.seen, (width, height))
    place = cv2.convertScaleAbs(risk, alpha=255.0).astype(np.uint16)
    place <<= 8
    place |= cv2.cvtColor(code, cv2.COLOR_RGB2GRAY)
    return _with_lines(_laid_over()[place], moire)


@cache
def _laid_over() -> npt.NDArray[np.uint8]:
    """(65536, 3) what is shown of 256 steps of risk over 256 greys."""
    risk, grey = np.meshgrid(np.arange(256) / 255.0, np.arange(256) / 255.0, indexing="ij")
    alpha = np.where(risk > SHOWN_FROM, 0.25 + 0.3 * risk, 0.0)[..., None]
    shown = (1.0 - alpha) * (0.08 + 0.75 * grey[..., None]) + alpha * ramp(risk)
    return np.round(np.clip(shown, 0.0, 1.0) * 255.0).astype(np.uint8).reshape(-1, 3)


def _with_lines(picture: npt.NDArray[np.uint8], moire: SeenMoire) -> npt.NDArray[np.uint8]:
    """Three short stripes at places of a wide grid, in the pattern's own direction."""
    height, width = picture.shape[:2]
    rows, columns = moire.seen.shape
    step = max(12, round(MARK_PX * height / 1080))
    angles, shown = np.radians(moire.patterns.orientation_deg), moire.seen & (moire.risk >= LINES_FROM)
    size, apart = 16 * 0.30 * step, 16 * 0.16 * step  # sixteenths of a pixel, as OpenCV takes them
    for y in range(step // 2, height, step):
        for x in range(step // 2, width, step):
            row, column = y * rows // height, x * columns // width
            if not shown[row, column]:
                continue
            # Rows run down: a stripe that rises to the right goes up.
            along_x, along_y = cos(angles[row, column]), -sin(angles[row, column])
            for offset in (-apart, 0.0, apart):
                middle_x, middle_y = 16 * x - offset * along_y, 16 * y + offset * along_x
                start, end = (
                    (round(middle_x + side * along_x), round(middle_y + side * along_y))
                    for side in (-size, size)
                )
                cv2.line(picture, start, end, (255, 255, 255), 1, cv2.LINE_AA, 4)
    return picture
