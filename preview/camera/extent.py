"""How far past its pinhole picture a distorting lens sees."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from preview.camera.view import CameraView
from preview.conventions import Array
from preview.errors import PreviewError

_CELLS = 64


@dataclass(frozen=True)
class Extent:
    """Undistorted reach of a picture.

    Attributes
    ----------
    tangents : half width and height at unit distance that hold every sightline of the picture
    finest_step : across and down, the smallest undistorted step of one picture pixel, in pinhole pixels
    """

    tangents: tuple[float, float]
    finest_step: tuple[float, float]


@lru_cache(maxsize=512)
def undistorted_extent(view: CameraView) -> Extent:
    """Follow a grid over the picture back through the lens.

    Raises
    ------
    PreviewError : the distortion folds over inside the picture, so it has no inverse there.
    """
    tan_x, tan_y = view.half_tangents
    if not view.distortion:
        return Extent((tan_x, tan_y), (1.0, 1.0))
    line = np.linspace(-1.0, 1.0, _CELLS + 1)
    x, y = np.meshgrid(line * tan_x, line * tan_y)
    plane, valid = view.distortion.undistort(np.stack([x.ravel(), y.ravel()], axis=1))
    if not valid.all():
        d = view.distortion
        raise PreviewError(
            f"lens distortion k1 {d.k1:g}, k2 {d.k2:g}, p1 {d.p1:g}, p2 {d.p2:g}, k3 {d.k3:g} folds over "
            f"inside the picture at {view.projection_mm:.1f} mm; check the lens's coefficients "
            "(normalised by focal length, as OpenCV has them)"
        )
    reach = np.abs(plane).max(axis=0) * 1.002
    lattice = plane.reshape(_CELLS + 1, _CELLS + 1, 2)
    step_x = np.linalg.norm(np.diff(lattice, axis=1), axis=2).min() / (2 * tan_x / _CELLS)
    step_y = np.linalg.norm(np.diff(lattice, axis=0), axis=2).min() / (2 * tan_y / _CELLS)
    return Extent((float(reach[0]), float(reach[1])), (float(step_x), float(step_y)))


def may_see(view: CameraView, corners_m: Array) -> bool:
    """Whether a view's picture may show something with these corners: False only when all of them lie past
    one border of the picture, or behind the entrance pupil.

    Parameters
    ----------
    corners_m : (n, 3) stage metres of a convex hull's corners
    """
    tan_x, tan_y = undistorted_extent(view).tangents
    local = (np.asarray(corners_m, dtype=np.float64) - view.pupil_m) @ view.pose.rotation
    x, ahead, z = local.T
    past = (x < -tan_x * ahead, x > tan_x * ahead, z < -tan_y * ahead, z > tan_y * ahead, ahead < 0.0)
    return not any(bool(side.all()) for side in past)
