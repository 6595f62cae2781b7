"""How far out of focus things in a picture are, and on which scales their blur is drawn.

A thin lens images a point that is out of focus as an even disc. Its diameter follows from the point's axial
distance alone: ``at_infinity * (1 - focus / distance)``, negative in front of the plane in focus. That is
``preview.camera.focus.blur_disc_mm`` with a sign, in pixels of the picture.

Small discs are drawn pixel by pixel. Each level above halves the picture, so that a wide disc costs no more
than a small one.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from preview.camera.focus import blur_disc_mm
from preview.camera.view import CameraView
from preview.conventions import Array

SHARP_PX = 1.25
"""Discs up to this diameter count as sharp: they spread light less than a tenth more than a pixel does."""
TILE_PX = 16
"""Side of the tiles over which blur is summed up to plan the drawing."""
LEVELS = 4
"""Scales: the picture, its half, and so on to an eighth."""
_FIRST_RAMP = (1.0, 1.5)
_HALVED_PX = (8.0, 28.0, 80.0)
"""Diameters around which discs move from one level to the next, pixels of the picture. Up to each a disc
costs no more than one of the first does on the picture's own pixels."""


@dataclass(frozen=True)
class Blur:
    """The lens of a view as blur.

    Attributes
    ----------
    at_infinity_px : diameter of the disc of a point at infinity, pixels of the picture
    focus_m : axial distance of the plane in focus from the entrance pupil
    """

    at_infinity_px: float
    focus_m: float

    def signed_px(self, axial_m: Array | float) -> Array:
        """Disc diameters (pixels) at axial distances from the pupil (metres, any shape); below 0 in front
        of the plane in focus."""
        return np.asarray(self.at_infinity_px * (1.0 - self.focus_m / np.asarray(axial_m, dtype=np.float64)))

    def nearest_sharp_m(self) -> float:
        """Axial distance in front of which discs are wider than ``SHARP_PX``."""
        return self.focus_m / (1.0 + SHARP_PX / self.at_infinity_px)


def blur_of(view: CameraView, picture_px: tuple[int, int]) -> Blur | None:
    """Blur of a view's lens; None for an eye, which has no lens (focal length 0).

    The T-stop stands for the f-number. Focus is counted from the sensor on a lens's scale, and from the
    entrance pupil here; never nearer than just beyond the focal length, where a thin lens stops to form
    images.
    """
    if view.focal_length_mm <= 0:
        return None
    focus_m = max(view.focus_m - view.entrance_pupil_offset_m, 1.001e-3 * view.focal_length_mm)
    at_infinity_mm = float(blur_disc_mm(view.focal_length_mm, view.t_stop, 1000 * focus_m, 1e15))
    return Blur(at_infinity_mm * picture_px[0] / view.sensor_mm[0], focus_m)


def ramp_px(level: int) -> tuple[float, float]:
    """Diameters between which discs move from the level below to ``level``; from sharp, for level 0."""
    if level == 0:
        return _FIRST_RAMP
    if level >= LEVELS:
        return 1e8, 2e8
    middle = _HALVED_PX[level - 1]
    return middle * 8 / 9, middle * 10 / 9


def levels_for(widest_px: float) -> int:
    """How many levels hold discs up to ``widest_px``."""
    return sum(ramp_px(level)[0] < widest_px for level in range(LEVELS))


@dataclass(frozen=True, eq=False)
class Sheet:
    """What lies on one side of the plane in focus and is blurred on one level.

    Attributes
    ----------
    level : 0 for the picture's own pixels
    near : in front of the plane in focus
    diameter_px : (rows, columns) float32 disc diameter on the tile grid, carried on past the things' edges
    reached : (rows, columns) bool, tiles that its discs can reach
    box : left, top, right, bottom in picture pixels that its discs can reach
    """

    level: int
    near: bool
    diameter_px: np.ndarray
    reached: np.ndarray
    box: tuple[int, int, int, int]


def sheets_of(tiles: np.ndarray, near: bool, picture_px: tuple[int, int]) -> list[Sheet]:
    """The sheets that a picture needs on one side, finest first.

    Parameters
    ----------
    tiles : (rows, columns, 4) float32: sum of coverage, sum of coverage times diameter, smallest and largest
        diameter of what lies on that side; the smallest is above the largest where nothing does
    """
    cover, total, least, most = np.moveaxis(tiles.astype(np.float32), -1, 0)
    sheets = []
    for level in range(LEVELS):
        low, high = ramp_px(level)[0], min(ramp_px(level + 1)[1], 1e4)
        there = (most > low) & (least < high) & (cover > 0)
        if not there.any():
            continue
        weight = np.where(there, cover, 0.0).astype(np.float32)
        value = np.where(there, np.clip(total / np.maximum(cover, 1e-6), low, high), 0.0).astype(np.float32)
        diameter = _carried_on(value, weight)
        rows, columns = np.nonzero(there)
        reach = float(most[there].clip(max=high).max()) / 2 + 2 ** (level + 1)
        box = (
            max(0, int(columns.min() * TILE_PX - reach)),
            max(0, int(rows.min() * TILE_PX - reach)),
            min(picture_px[0], int((columns.max() + 1) * TILE_PX + reach + 1)),
            min(picture_px[1], int((rows.max() + 1) * TILE_PX + reach + 1)),
        )
        tiles_on = int(np.ceil(reach / TILE_PX)) + 1
        grown = np.ones((2 * tiles_on + 1,) * 2, dtype=np.uint8)
        reached = cv2.dilate(there.astype(np.uint8), grown).astype(bool)
        sheets.append(Sheet(level, near, diameter, reached, box))
    return sheets


def _carried_on(value: np.ndarray, weight: np.ndarray) -> np.ndarray:
    """(rows, columns) values where there is weight; elsewhere the weighted mean of the nearest that are."""
    filled = value.copy()
    have = weight > 0
    side = 1
    while not have.all():
        side = 2 * side + 1
        kernel = (side, side)
        near = cv2.blur(weight, kernel, borderType=cv2.BORDER_CONSTANT)
        mean = cv2.blur(value * weight, kernel, borderType=cv2.BORDER_CONSTANT)
        found = ~have & (near > 1e-7 * weight.max())
        filled[found] = mean[found] / near[found]
        have |= found
        if side > 4 * max(value.shape):
            break
    return filled
