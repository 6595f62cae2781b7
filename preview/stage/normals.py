"""Surface normals for meshes that bring none."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
from scipy import sparse

from preview.conventions import Array


def area_normals(positions: npt.NDArray[np.floating], triangles: npt.NDArray[np.integer]) -> Array:
    """(m, 3) normal of each triangle, as long as twice its area; zero for a degenerate one."""
    corners = np.asarray(positions, dtype=np.float64)[triangles]
    return np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])


def unit(vectors: Array) -> Array:
    """(n, 3) the same directions with length 1; a zero vector becomes (0, 0, 1)."""
    length = np.linalg.norm(vectors, axis=1, keepdims=True)
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.where(length > 0, vectors / length, np.array([0.0, 0.0, 1.0]))


def corner_normals(
    positions: npt.NDArray[np.floating],
    triangles: npt.NDArray[np.integer],
    crease_deg: float = 30.0,
) -> Array:
    """(3 m, 3) unit normals, one for each corner of each triangle in order.

    A corner takes the mean, weighted by area, of the triangles around its point (found by equal
    position) that lean from its own triangle by at most ``crease_deg``; sharper edges stay sharp.
    0 gives flat shading.

    Source: common practice in modelling programmes ("auto smooth", 30 degrees), no standard.
    """
    weighted = area_normals(positions, triangles)
    if crease_deg <= 0:
        return np.repeat(unit(weighted), 3, axis=0)
    points = np.asarray(positions, dtype=np.float64)
    _, place = np.unique(points, axis=0, return_inverse=True)
    corner_place = place.reshape(-1)[triangles.reshape(-1)]
    corners = np.arange(corner_place.size)
    at_point = sparse.csr_matrix(
        (np.ones(corners.size), (corner_place, corners)), shape=(int(corner_place.max()) + 1, corners.size)
    )
    pairs = (at_point.T @ at_point).tocoo()
    facing = unit(weighted)
    near = (facing[pairs.row // 3] * facing[pairs.col // 3]).sum(axis=1) >= np.cos(np.radians(crease_deg))
    total = np.zeros((corners.size, 3))
    np.add.at(total, pairs.row[near], weighted[pairs.col[near] // 3])
    return unit(total)
