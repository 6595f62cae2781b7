"""Polygons with any number of corners, cut into triangles."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from preview.conventions import Array

Whole = npt.NDArray[np.int64]


def triangulate(polygons: Sequence[Sequence[tuple[int, int, int]]], positions: Array) -> tuple[Whole, Whole]:
    """All corners in a row, and triangles over them.

    Parameters
    ----------
    polygons : for each its corners; the first number of a corner is a row of ``positions``
    positions : (n, 3)

    Returns
    -------
    (c, 3) the corners of all polygons, and (m, 3) rows of it. Convex polygons become fans; others
    (a wall with a notch) are cut ear by ear.
    """
    corners = np.array([corner for polygon in polygons for corner in polygon], dtype=np.int64)
    starts = np.cumsum([0, *(len(polygon) for polygon in polygons)])
    by_size: dict[int, list[int]] = defaultdict(list)
    for index, polygon in enumerate(polygons):
        by_size[len(polygon)].append(index)
    pieces: list[Whole] = []
    for size, indices in by_size.items():
        rows = starts[indices][:, None] + np.arange(size)
        points = positions[corners[rows, 0]]
        convex = np.ones(len(rows), dtype=bool) if size == 3 else _convex(points)
        fan = np.array([(0, step, step + 1) for step in range(1, size - 1)])
        pieces.append(rows[convex][:, fan].reshape(-1, 3))
        pieces += [rows[at][_ears(points[at])] for at in np.flatnonzero(~convex)]
    return corners, np.concatenate(pieces)


def _normals(points: Array) -> Array:
    """(p, 3) Newell normal of each polygon (p, k, 3)."""
    after = np.roll(points, -1, axis=1)
    total: Array = np.cross(points, after).sum(axis=1)
    return total


def _convex(points: Array) -> npt.NDArray[np.bool_]:
    before, after = np.roll(points, 1, axis=1), np.roll(points, -1, axis=1)
    turns = np.cross(points - before, after - points)
    normal = _normals(points - points[:, :1])
    size = np.einsum("pi,pi->p", normal, normal)
    inside: npt.NDArray[np.bool_] = np.all(
        np.einsum("pki,pi->pk", turns, normal) >= -1e-9 * size[:, None], axis=1
    )
    return inside


def _ears(points: Array) -> Whole:
    """(k - 2, 3) triangles of one simple polygon (k, 3), by cutting off ears."""
    normal = _normals((points - points[0])[None])[0]
    drop = int(np.argmax(np.abs(normal)))
    flat = np.delete(points, drop, axis=1) * (1 if (normal[drop] > 0) != (drop == 1) else (-1, 1))
    rest, triangles = list(range(len(points))), []
    while len(rest) > 3:
        place = next((at for at in range(len(rest)) if _is_ear(flat, rest, at)), 0)
        triangles.append((rest[place - 1], rest[place], rest[(place + 1) % len(rest)]))
        del rest[place]
    return np.array([*triangles, rest], dtype=np.int64)


def _is_ear(flat: Array, rest: list[int], at: int) -> bool:
    """Whether corner ``at`` turns left and no other corner lies in the triangle it cuts off."""
    a, b, c = flat[rest[at - 1]], flat[rest[at]], flat[rest[(at + 1) % len(rest)]]
    if _turn(a, b, c) <= 0:
        return False
    others = [flat[index] for index in rest if not any(np.array_equal(flat[index], p) for p in (a, b, c))]
    return not any(_turn(a, b, p) >= 0 and _turn(b, c, p) >= 0 and _turn(c, a, p) >= 0 for p in others)


def _turn(a: Array, b: Array, c: Array) -> float:
    return float((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]))
