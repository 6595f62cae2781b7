"""Surface normals for meshes that bring none."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
from scipy import sparse

from preview.conventions import Array

MOST_AROUND = 256
"""Points with more triangles around them (the hub of a disc) are not smoothed: work grows with the
square of the number, and such hubs are flat."""


def area_normals(positions: npt.NDArray[np.floating], triangles: npt.NDArray[np.integer]) -> Array:
    """(m, 3) normal of each triangle, as long as twice its area; zero for a degenerate one."""
    corners = np.asarray(positions, dtype=np.float64)[triangles]
    with np.errstate(invalid="ignore", over="ignore"):  # broken files are refused by name later
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
    0 gives flat shading, as do points that more than ``MOST_AROUND`` triangles share.

    Source: common practice in modelling programmes ("auto smooth", 30 degrees), no standard.
    """
    weighted = np.repeat(area_normals(positions, triangles), 3, axis=0)
    facing = unit(weighted)
    if crease_deg <= 0:
        return facing
    points = np.asarray(positions, dtype=np.float64)
    _, place = np.unique(points, axis=0, return_inverse=True)
    corner_place = place.reshape(-1)[triangles.reshape(-1)]
    around = np.bincount(corner_place)
    shared = np.flatnonzero(around[corner_place] <= MOST_AROUND)
    size = corner_place.size
    at_point = sparse.csr_matrix(
        (np.ones(shared.size, dtype=np.int32), (corner_place[shared], shared)), shape=(around.size, size)
    )
    pairs = (at_point.T @ at_point).tocoo()
    near = np.einsum("ni,ni->n", facing[pairs.row], facing[pairs.col]) >= np.cos(np.radians(crease_deg))
    row, column = pairs.row[near], pairs.col[near]
    total = sparse.csr_matrix((np.ones(row.size), (row, column)), shape=(size, size)) @ weighted
    return np.where(np.any(total, axis=1, keepdims=True), unit(total), facing)


def weld_corners(
    corners: npt.NDArray[np.integer], normals: Array
) -> tuple[npt.NDArray[np.int64], npt.NDArray[np.int64]]:
    """Corners of the same vertex whose normals agree (to a tenth of a degree) become one again.

    Parameters
    ----------
    corners : (c,) vertex of each corner
    normals : (c, 3) unit normal of each corner

    Returns
    -------
    (n,) rows of ``corners`` to keep, and (c,) which of those each corner has become.
    """
    steps = np.rint((np.nan_to_num(normals) + 1.0) * 511.5).astype(np.int64)
    key = (((corners.astype(np.int64) << 10 | steps[:, 0]) << 10 | steps[:, 1]) << 10) | steps[:, 2]
    _, kept, became = np.unique(key, return_index=True, return_inverse=True)
    return kept, became.reshape(-1)
