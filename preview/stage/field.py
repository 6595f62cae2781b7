"""Smooth solids as signed distance fields, and the triangles on their surface.

A field takes points (..., 3) and returns distances (...), negative inside, roughly in metres near
the surface. Blending fields before meshing is what joins limbs without seams.
Source of the formulas: the usual distance-field primitives and polynomial smooth minimum, common
practice; the isosurface is scikit-image's marching cubes (Lewiner et al., 2003).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
import numpy.typing as npt
from skimage.measure import marching_cubes

from preview.conventions import Array

Field = Callable[[Array], Array]
Vector = Sequence[float] | Array


def ellipsoid(center: Vector, radii: Vector, turn: Array | None = None) -> Field:
    """Ellipsoid; ``turn`` is (3, 3), world from its own axes."""
    middle, size = np.asarray(center, dtype=np.float64), np.asarray(radii, dtype=np.float64)

    def distance(points: Array) -> Array:
        local = points - middle
        if turn is not None:
            local = local @ turn
        scaled = np.linalg.norm(local / size, axis=-1)
        slope = np.linalg.norm(local / size**2, axis=-1)
        return scaled * (scaled - 1.0) / np.maximum(slope, 1e-9)

    return distance


def limb(start: Vector, end: Vector, start_radius: float, end_radius: float) -> Field:
    """Capsule whose radius changes from ``start_radius`` to ``end_radius``."""
    first = np.asarray(start, dtype=np.float64)
    span = np.asarray(end, dtype=np.float64) - first
    square = float(span @ span)

    def distance(points: Array) -> Array:
        local = points - first
        share = np.clip(local @ span / square, 0.0, 1.0)
        radius = start_radius + (end_radius - start_radius) * share
        return np.linalg.norm(local - share[..., None] * span, axis=-1) - radius

    return distance


def chain(points: Sequence[Vector], radii: Sequence[float], blend: float) -> Field:
    """Limbs through ``points``, one after the other, blended."""
    pieces = [limb(points[i], points[i + 1], radii[i], radii[i + 1]) for i in range(len(points) - 1)]
    return union(pieces, blend)


def half_space(point: Vector, normal: Vector) -> Field:
    """Everything on the side that ``normal`` points away from."""
    direction = np.asarray(normal, dtype=np.float64) / np.linalg.norm(normal)
    offset = float(direction @ np.asarray(point, dtype=np.float64))
    return lambda points: points @ direction - offset


def union(fields: Sequence[Field], blend: float) -> Field:
    """All of ``fields``, melted together over about ``blend`` metres."""

    def distance(points: Array) -> Array:
        result = fields[0](points)
        for field in fields[1:]:
            result = _smooth_minimum(result, field(points), blend)
        return result

    return distance


def cut(field: Field, tool: Field, blend: float) -> Field:
    """``field`` without what lies in ``tool``; the edge is rounded over about ``blend`` metres."""
    return lambda points: -_smooth_minimum(-field(points), tool(points), blend)


def common(field: Field, other: Field, blend: float) -> Field:
    """What lies in both; the edge is rounded over about ``blend`` metres."""
    return lambda points: -_smooth_minimum(-field(points), -other(points), blend)


def grown(field: Field, by: float | Callable[[Array], Array]) -> Field:
    """``field`` thicker by ``by`` metres, or by a function of the points."""
    if callable(by):
        return lambda points: field(points) - by(points)
    return lambda points: field(points) - by


def boxed(field: Field, low: Vector, high: Vector, margin: float) -> Field:
    """``field``, which lies inside a box, evaluated only within ``margin`` of it; farther away the
    distance to the box stands in (never more than the true one)."""
    middle = (np.asarray(low, dtype=np.float64) + np.asarray(high)) / 2.0
    half = (np.asarray(high, dtype=np.float64) - np.asarray(low)) / 2.0

    def distance(points: Array) -> Array:
        outside = np.linalg.norm(np.maximum(np.abs(points - middle) - half, 0.0), axis=-1)
        near = outside < margin
        outside[near] = field(points[near])
        return outside

    return distance


def mirrored(field: Field) -> Field:
    """``field`` modelled for x >= 0, on both sides."""

    def distance(points: Array) -> Array:
        folded = points.copy()
        folded[..., 0] = np.abs(points[..., 0])
        return field(folded)

    return distance


def axis_samples(
    start: float, end: float, step: float, fine: Sequence[tuple[float, float, float]] = ()
) -> Array:
    """Grid positions along one axis from ``start`` to ``end``: ``step`` apart, and closer inside each
    ``fine`` range (from, to, step)."""
    dense = np.linspace(start, end, 4096)
    spacing = np.full(dense.size, step)
    for low, high, close in fine:
        outside = np.maximum(np.maximum(low - dense, dense - high), 0.0)
        spacing = np.minimum(spacing, close + 0.35 * outside)
    count = np.concatenate([[0.0], np.cumsum(np.diff(dense) / spacing[1:])])
    whole = max(2, int(np.ceil(count[-1])))
    return np.interp(np.linspace(0.0, count[-1], whole + 1), count, dense)


def gradient(field: Field, points: Array, step: float = 0.0015) -> Array:
    """(n, 3) slope of ``field`` at ``points`` by central differences ``step`` metres apart."""
    slopes = [field(points + step * axis) - field(points - step * axis) for axis in np.eye(3)]
    return np.stack(slopes, axis=-1) / (2.0 * step)


def polygonise(field: Field, axes: tuple[Array, Array, Array]) -> tuple[Array, Array, npt.NDArray[np.int32]]:
    """Surface of ``field`` inside a grid of samples, which must enclose it.

    Returns
    -------
    positions : (n, 3)
    normals : (n, 3) unit, outwards, from the field itself
    triangles : (m, 3) counter-clockwise seen from outside
    """
    grid = np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1)
    steps, faces, _, _ = marching_cubes(field(grid), 0.0, gradient_direction="descent")
    positions = np.stack(
        [np.interp(steps[:, i], np.arange(len(axis)), axis) for i, axis in enumerate(axes)], axis=-1
    )
    for _ in range(2):  # the cubes interpolate linearly; two Newton steps bring the points onto the solid
        slope = gradient(field, positions)
        square = np.maximum((slope**2).sum(axis=-1), 0.05)
        move = -(field(positions) / square)[:, None] * slope
        length = np.linalg.norm(move, axis=1, keepdims=True)
        positions = positions + move * np.minimum(1.0, 0.004 / np.maximum(length, 1e-12))
    slope = gradient(field, positions)
    normals = slope / np.maximum(np.linalg.norm(slope, axis=1, keepdims=True), 1e-12)
    return positions, normals, faces.astype(np.int32)


def openness(field: Field, positions: Array, normals: Array, reach: float = 0.16) -> Array:
    """(n,) share of the surroundings a surface point sees, about 0..1: folds and hollows are lower."""
    blocked = np.zeros(len(positions))
    total = 0.0
    for i, share in enumerate((0.15, 0.4, 1.0)):
        height, weight = reach * share, 0.6**i
        free = np.clip(field(positions + height * normals), 0.0, height) / height
        blocked += weight * (1.0 - free)
        total += weight
    return 1.0 - blocked / total


def _smooth_minimum(first: Array, second: Array, blend: float) -> Array:
    if blend <= 0.0:
        return np.minimum(first, second)
    near = np.maximum(blend - np.abs(first - second), 0.0) / blend
    return np.minimum(first, second) - near * near * blend * 0.25
