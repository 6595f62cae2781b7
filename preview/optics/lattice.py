"""The lattice of LED pixels on the sensor: how canvas coordinates run across the photosites at each point.

Every facet of an LED surface is flat, so canvas coordinates are a projective function of the undistorted
picture; their gradients over the sensor follow in closed form from the facet's plane, the camera's pose and
the lens's distortion. The gradients are the inverse of the Jacobian of the way from canvas to sensor, and the
lattice's harmonic (m, n) has the frequency m * gradient of u + n * gradient of v.

Gradients are arrays (4, ...): u along x, u along y, v along x, v along y, in LED pixels per photosite; x
right and y down on the sensor. The projection distance is the view's, breathing included.

Source: chain rule through the projection of a plane; R. Hartley, A. Zisserman, "Multiple View Geometry in
Computer Vision", 2nd ed., 2.3 and 13.1 (from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
from scipy.interpolate import RectBivariateSpline

from preview.camera.distortion import Distortion
from preview.camera.pose import Pose
from preview.camera.view import CameraView
from preview.conventions import Array
from preview.stage.surface import LedSurface

_SPLINE_CELLS = 64


@dataclass(frozen=True, eq=False)
class Facets:
    """All flat facets of some LED surfaces, one after the other.

    Attributes
    ----------
    rows : (m, 9) gradients of canvas u and v over the stage (LED pixels per metre), and the unit normal
        towards the viewer
    offsets : (m,) of the planes: normal . x + offset is the distance in front, metres
    first : number of each surface's first facet
    """

    rows: Array
    offsets: Array
    first: tuple[int, ...]

    @classmethod
    def of(cls, surfaces: Sequence[LedSurface]) -> Facets:
        """Of these surfaces, in their order."""
        counts = [len(surface.triangles) for surface in surfaces]
        rows = [
            np.concatenate(
                [surface.canvas_from_stage[:, 0, :3], surface.canvas_from_stage[:, 1, :3], surface.normals],
                axis=1,
            )
            for surface in surfaces
        ]
        first = tuple(int(number) for number in np.cumsum([0, *counts[:-1]]))
        return cls(np.concatenate(rows), np.concatenate([s.planes[:, 3] for s in surfaces]), first)

    def numbers(
        self, surface: npt.NDArray[np.integer], facet: npt.NDArray[np.integer]
    ) -> npt.NDArray[np.int32]:
        """Place in ``rows`` of each surface's place and facet, any shape; -1 where either is below 0."""
        first = np.asarray(self.first, dtype=np.int32)
        known = (surface >= 0) & (facet >= 0)
        return np.where(known, first[np.where(known, surface, 0)] + facet, -1).astype(np.int32)


class Crossing(NamedTuple):
    """The lattice where sightlines meet it.

    Attributes
    ----------
    gradients : (4, ...) LED pixels per photosite; NaN where no facet is met
    ahead_m : (...) distance of the point in front of the entrance pupil along the optical axis, metres; NaN
        likewise
    """

    gradients: npt.NDArray[np.floating]
    ahead_m: npt.NDArray[np.floating]


def photosites_per_unit(view: CameraView, photosites: tuple[int, int]) -> tuple[float, float]:
    """Photosites across and down for one unit of the picture at unit distance."""
    tan_x, tan_y = view.half_tangents
    return photosites[0] / (2.0 * tan_x), photosites[1] / (2.0 * tan_y)


def crossing(
    facets: Facets,
    number: npt.NDArray[np.integer],
    tangents: npt.NDArray[np.floating],
    pupil_m: npt.NDArray[np.floating],
    rotation: npt.NDArray[np.floating],
    per_unit: npt.NDArray[np.floating] | tuple[float, float],
    distortion: Distortion | None = None,
    dtype: npt.DTypeLike = np.float64,
) -> Crossing:
    """Gradients of canvas coordinates over the sensor, for the sightlines of one or of many cameras.

    Parameters
    ----------
    facets : of the stage
    number : (n,) or (k, n), the facet each sightline meets, its place in ``facets.rows``; below 0 is none
    tangents : (n, 2), or (k, n, 2) for k cameras of different focal lengths: undistorted sightlines at unit
        distance, x right, y down
    pupil_m : (3,) or (k, 3) entrance pupils, stage metres
    rotation : (3, 3) or (k, 3, 3) stage from camera body (``Pose.rotation``)
    per_unit : as of ``photosites_per_unit``, (2,) or (k, 2)
    distortion : of the lens; None or one without coefficients leaves it out
    dtype : float32 is twice as fast and exact to about 1e-5

    Returns
    -------
    Crossing with arrays of the shape of ``number``
    """
    number = np.asarray(number)
    cameras = number.reshape(-1, number.shape[-1])
    turn = np.asarray(rotation, dtype=np.float64).reshape(-1, 3, 3)
    pupil = np.asarray(pupil_m, dtype=np.float64).reshape(-1, 3)
    count, rows = len(turn), len(facets.rows)
    seen = np.einsum("mgx,kxc->kmgc", facets.rows.reshape(rows, 3, 3), turn).reshape(count * rows, 9)
    height = (pupil @ facets.rows[:, 6:].T + facets.offsets).reshape(count * rows)
    place = np.where(cameras >= 0, cameras, 0) + rows * np.arange(count)[:, None]
    ux, uy, uz, vx, vy, vz, nx, ny, nz = (
        column.take(place) for column in np.ascontiguousarray(seen.T, dtype=dtype)
    )
    flat = np.asarray(tangents, dtype=dtype)
    x, y = flat[..., 0], flat[..., 1]
    # A sightline is (x, 1, -y) in camera axes (right, ahead, up) and meets the facet ``ahead`` metres away.
    along = nx * x + ny - nz * y
    with np.errstate(divide="ignore", invalid="ignore"):
        ahead = -height.astype(dtype).take(place) / along
        lean_x, lean_y = nx / along, -nz / along
    per_x, per_y = (
        np.asarray(part, dtype=dtype)[..., None] for part in np.moveaxis(np.asarray(per_unit), -1, 0)
    )
    out = np.empty((4, *cameras.shape), dtype=dtype)
    for half, (gx, gy, gz) in enumerate(((ux, uy, uz), (vx, vy, vz))):
        run = gx * x + gy - gz * y
        out[2 * half] = ahead * (gx - run * lean_x)
        out[2 * half + 1] = ahead * (-gz - run * lean_y)
    if distortion:
        xx, xy, yy = _undistorting(x, y, distortion)
        for half in (0, 2):
            across, down = out[half].copy(), out[half + 1]
            out[half] = xx * across + xy * down
            out[half + 1] = xy * across + yy * down
    out[0::2] /= per_x
    out[1::2] /= per_y
    none = cameras < 0
    if none.any():
        out[:, none], ahead[none] = np.nan, np.nan
    return Crossing(out.reshape(4, *number.shape), ahead.reshape(number.shape))


def view_crossing(
    view: CameraView,
    facets: Facets,
    number: npt.NDArray[np.integer],
    tangents: npt.NDArray[np.floating],
    photosites: tuple[int, int],
    dtype: npt.DTypeLike = np.float64,
) -> Crossing:
    """``crossing`` for one view.

    Parameters
    ----------
    number : (...) facets met, of any shape
    tangents : (..., 2) undistorted sightlines at unit distance, as ``picture_tangents`` gives them
    photosites : of the sensor across and down
    """
    shape = np.shape(number)
    found = crossing(
        facets,
        np.reshape(number, -1),
        np.reshape(tangents, (-1, 2)),
        view.pupil_m,
        view.pose.rotation,
        photosites_per_unit(view, photosites),
        view.distortion,
        dtype,
    )
    return Crossing(found.gradients.reshape(4, *shape), found.ahead_m.reshape(shape))


def picture_tangents(view: CameraView, size_px: tuple[int, int]) -> npt.NDArray[np.float32]:
    """(h, w, 2) undistorted sightlines at unit distance through the middles of a picture's fields.

    x right, y down. With distortion they are exact at some thousand points and a cubic spline between them;
    NaN where the distortion folds over. Kept for lens settings that come again: do not write into it.
    """
    return _picture_tangents(view.sensor_mm, view.projection_mm, view.distortion, size_px)


@lru_cache(maxsize=16)
def _picture_tangents(
    sensor_mm: tuple[float, float], projection_mm: float, distortion: Distortion, size_px: tuple[int, int]
) -> npt.NDArray[np.float32]:
    view = CameraView(Pose((0.0, 0.0, 0.0)), sensor_mm, projection_mm, distortion=distortion)
    tan_x, tan_y = view.half_tangents
    width, height = size_px
    x = ((np.arange(width) + 0.5) / width * 2.0 - 1.0) * tan_x
    y = ((np.arange(height) + 0.5) / height * 2.0 - 1.0) * tan_y
    out = np.empty((height, width, 2), dtype=np.float32)
    if not distortion:
        out[..., 0], out[..., 1] = x, y[:, None]
        return out
    knots_x, knots_y = (np.linspace(-tan, tan, _SPLINE_CELLS + 1) for tan in (tan_x, tan_y))
    across, down = np.meshgrid(knots_x, knots_y)
    plane, valid = distortion.undistort(np.column_stack([across.ravel(), down.ravel()]))
    if valid.all():
        for axis in range(2):
            grid = plane[:, axis].reshape(across.shape)
            out[..., axis] = RectBivariateSpline(knots_y, knots_x, grid)(y, x)
        return out
    across, down = np.meshgrid(x, y)
    plane, valid = distortion.undistort(np.column_stack([across.ravel(), down.ravel()]))
    plane[~valid] = np.nan
    out[...] = plane.reshape(out.shape)
    return out


def jacobians(gradients: npt.NDArray[np.floating]) -> npt.NDArray[np.floating]:
    """(..., 2, 2) photosites per LED pixel: d(x, y) / d(u, v), the inverse of (4, ...) gradients."""
    ux, uy, vx, vy = gradients
    with np.errstate(divide="ignore", invalid="ignore"):
        inverse = np.stack([np.stack([vy, -uy], -1), np.stack([-vx, ux], -1)], -2)
        return np.asarray(inverse / (ux * vy - uy * vx)[..., None, None])


def harmonic_frequency(gradients: npt.NDArray[np.floating], m: int, n: int) -> npt.NDArray[np.floating]:
    """(2, ...) frequency (fx, fy) of the lattice's harmonic (m, n), cycles per photosite."""
    return np.stack([m * gradients[0] + n * gradients[2], m * gradients[1] + n * gradients[3]])


def _undistorting(
    x: npt.NDArray[np.floating], y: npt.NDArray[np.floating], distortion: Distortion
) -> tuple[npt.NDArray[np.floating], npt.NDArray[np.floating], npt.NDArray[np.floating]]:
    """xx, xy and yy of the inverse of the distortion's Jacobian at undistorted points; it is symmetric."""
    d = distortion
    r2 = x * x + y * y
    radial = 1 + r2 * (d.k1 + r2 * (d.k2 + r2 * d.k3))
    slope = 2 * (d.k1 + r2 * (2 * d.k2 + 3 * r2 * d.k3))
    xx = radial + slope * x * x + 2 * d.p1 * y + 6 * d.p2 * x
    yy = radial + slope * y * y + 6 * d.p1 * y + 2 * d.p2 * x
    xy = slope * x * y + 2 * d.p1 * x + 2 * d.p2 * y
    determinant = xx * yy - xy * xy
    return yy / determinant, -xy / determinant, xx / determinant
