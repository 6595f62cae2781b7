"""The shortest distance between equipment and what is on the stage, and between two pieces of equipment.

Distances are those between triangles, which the collision library finds exactly, also where a triangle has
no area: a capsule is its middle line, and its radius is taken off afterwards. Two bodies of which one lies
wholly inside the other, so that no triangles meet, touch too.

Source: the library is FCL (Pan, Chitta and Manocha, "FCL: A general purpose library for collision and
proximity queries", ICRA 2012). Inside or outside by winding number: Jacobson, Kavan and Sorkine-Hornung,
"Robust inside-outside segmentation using generalized winding numbers", SIGGRAPH 2013, with the solid angle of
a triangle after Van Oosterom and Strackee, IEEE Trans. Biomed. Eng. 30(2), 1983.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

import fcl
import numpy as np
import numpy.typing as npt

from preview.conventions import Array
from preview.show.model import Point
from preview.stage.equipment import Solid, core

_AT_ONCE = 200_000  # triangles of a winding number in one table, to bound its memory


@dataclass(frozen=True, eq=False)
class Extent:
    """A body that distances are measured to: triangles, and what lies within a radius of them.

    Attributes
    ----------
    corners_m : (m, 3, 3) triangles in stage metres, counter-clockwise from outside where it is closed
    radius_m : 0 or, of a capsule, its radius
    bounds_m : (2, 3) lowest and highest stage coordinates, radius included
    body : the same as the collision library has it
    solid : the piece of equipment that it is; None for anything else
    """

    corners_m: Array
    radius_m: float
    bounds_m: Array
    body: fcl.CollisionObject
    solid: Solid | None = None

    @classmethod
    def of_mesh(cls, positions: Array, triangles: npt.NDArray[np.integer]) -> Extent:
        """Something that stands still: (n, 3) stage metres and (m, 3) triangles."""
        corners = np.asarray(positions, dtype=np.float64)[triangles]
        used = corners.reshape(-1, 3)
        bounds = np.array([used.min(axis=0), used.max(axis=0)])
        return cls(corners, 0.0, bounds, fcl.CollisionObject(_model(positions, triangles)))

    @classmethod
    def of(cls, solid: Solid) -> Extent:
        """A piece of equipment where it stands."""
        _, triangles = core(solid.shape, solid.size_m)
        where = fcl.Transform(solid.rotation, np.asarray(solid.middle_m))
        body = fcl.CollisionObject(_core_model(solid.shape, solid.size_m), where)
        return cls(solid.corners_m[triangles], solid.radius_m, solid.bounds_m, body, solid)

    def holds(self, point_m: Array) -> bool:
        """Whether a stage point (3,) lies inside, by triangles alone: what is not closed holds nothing."""
        if self.solid is not None:
            local = (point_m - self.solid.middle_m) @ self.solid.rotation
            inside = np.abs(local) <= np.divide(self.solid.size_m, 2)
            return self.solid.shape == "box" and bool(inside.all())
        if (point_m < self.bounds_m[0]).any() or (point_m > self.bounds_m[1]).any():
            return False
        return winding_number(self.corners_m, point_m) > 0.5


def gap_m(one: Extent, other: Extent) -> tuple[float, Point | None]:
    """Shortest distance (metres) between two bodies, 0 where they touch, and the nearest point of ``other``.

    The point is None where they touch. For a body with a radius it lies in its middle.
    """
    result = fcl.DistanceResult()
    found = fcl.distance(one.body, other.body, fcl.DistanceRequest(enable_nearest_points=True), result)
    distance = found - one.radius_m - other.radius_m
    if distance <= 0.0 or one.holds(other.corners_m[0, 0]) or other.holds(one.corners_m[0, 0]):
        return 0.0, None
    x, y, z = (float(value) for value in result.nearest_points[1])
    return float(distance), (x, y, z)


def least_gaps_m(ones: Array, others: Array) -> Array:
    """(n, m) distances that bodies in two lists of boxes keep at least, from their bounds alone.

    Parameters
    ----------
    ones, others : (n, 2, 3) and (m, 2, 3) bounds, stage metres
    """
    apart = np.maximum(ones[:, None, 0] - others[None, :, 1], others[None, :, 0] - ones[:, None, 1])
    return np.linalg.norm(np.maximum(apart, 0.0), axis=2)


def winding_number(corners: Array, point_m: Array) -> float:
    """How often a surface goes round a point: 1 inside a closed one, 0 outside.

    Parameters
    ----------
    corners : (m, 3, 3) triangles, counter-clockwise seen from outside
    point_m : (3,)
    """
    angle = 0.0
    for start in range(0, len(corners), _AT_ONCE):
        a, b, c = np.moveaxis(corners[start : start + _AT_ONCE] - point_m, 1, 0)
        la, lb, lc = (np.linalg.norm(side, axis=1) for side in (a, b, c))
        above = np.einsum("ij,ij->i", a, np.cross(b, c))
        below = la * lb * lc + lc * np.einsum("ij,ij->i", a, b)
        below += la * np.einsum("ij,ij->i", b, c) + lb * np.einsum("ij,ij->i", c, a)
        angle += float(np.arctan2(above, below).sum())
    return angle / (2 * np.pi)


@lru_cache(maxsize=256)
def _core_model(shape: Literal["box", "capsule"], size_m: Point) -> fcl.BVHModel:
    return _model(*core(shape, size_m))


def _model(positions: Array, triangles: npt.NDArray[np.integer]) -> fcl.BVHModel:
    model = fcl.BVHModel()
    model.beginModel(len(triangles), len(positions))
    model.addSubModel(
        np.ascontiguousarray(positions, dtype=np.float64), np.ascontiguousarray(triangles, dtype=np.int64)
    )
    model.endModel()
    return model
