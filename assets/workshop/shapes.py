"""Small solid shapes with normals, texture coordinates and vertex colours.

All shapes are built in stage axes: metres, X right, Y away from the cameras, Z up. Triangles run
counter-clockwise seen from the front.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]
Vector = Sequence[float] | Array


@dataclass(frozen=True, eq=False)
class Shape:
    """positions, normals (n, 3); uv (n, 2), v down; colors (n, 3) linear; triangles (m, 3)."""

    positions: Array
    normals: Array
    uv: Array
    colors: Array
    triangles: npt.NDArray[np.int64]

    def moved(self, matrix: Array) -> Shape:
        """Placed by a 4x4 matrix of rotation, uniform scale and translation."""
        normals = self.normals @ matrix[:3, :3].T
        normals /= np.linalg.norm(normals, axis=1, keepdims=True)
        return replace(self, positions=self.positions @ matrix[:3, :3].T + matrix[:3, 3], normals=normals)

    def uv_scaled(self, factor: float) -> Shape:
        return replace(self, uv=self.uv * factor)


EMPTY = Shape(
    np.zeros((0, 3)), np.zeros((0, 3)), np.zeros((0, 2)), np.zeros((0, 3)), np.zeros((0, 3), np.int64)
)


def join(shapes: Sequence[Shape]) -> Shape:
    """All shapes as one."""
    if not shapes:
        return EMPTY
    offsets = np.cumsum([0] + [len(shape.positions) for shape in shapes[:-1]])
    return Shape(
        np.concatenate([shape.positions for shape in shapes]),
        np.concatenate([shape.normals for shape in shapes]),
        np.concatenate([shape.uv for shape in shapes]),
        np.concatenate([shape.colors for shape in shapes]),
        np.concatenate([shape.triangles + offset for shape, offset in zip(shapes, offsets, strict=True)]),
    )


def place(
    position: Vector = (0, 0, 0), pan_deg: float = 0.0, tilt_deg: float = 0.0, scale: float = 1.0
) -> Array:
    """4x4: scaled, tilted about X, turned about Z, moved."""
    pan, tilt = np.radians([pan_deg, tilt_deg])
    about_z = np.array([[np.cos(pan), -np.sin(pan), 0], [np.sin(pan), np.cos(pan), 0], [0, 0, 1]])
    about_x = np.array([[1, 0, 0], [0, np.cos(tilt), -np.sin(tilt)], [0, np.sin(tilt), np.cos(tilt)]])
    matrix = np.eye(4)
    matrix[:3, :3] = about_z @ about_x * scale
    matrix[:3, 3] = position
    return matrix


def unit(vectors: Array) -> Array:
    return vectors / np.maximum(np.linalg.norm(vectors, axis=-1, keepdims=True), 1e-12)


def _quads(corners: Array, color: Vector, uv: Array | None = None) -> Shape:
    """(n, 4, 3) corners, counter-clockwise; flat normals; uv in metres by the dominant axis."""
    normals = unit(np.cross(corners[:, 1] - corners[:, 0], corners[:, 3] - corners[:, 0]))
    count = len(corners)
    if uv is None:
        axis = np.abs(normals).argmax(axis=1)
        u = np.where(axis[:, None] == 0, corners[..., 1], corners[..., 0])
        v = np.where(axis[:, None] == 2, corners[..., 1], corners[..., 2])
        uv = np.stack([u, -v], axis=2)
    first = np.arange(count)[:, None] * 4
    triangles = (first + np.asarray([0, 1, 2, 0, 2, 3])).reshape(-1, 3)
    return Shape(
        corners.reshape(-1, 3),
        np.repeat(normals, 4, axis=0),
        np.asarray(uv, float).reshape(-1, 2),
        np.tile(np.asarray(color, float), (count * 4, 1)),
        triangles,
    )


def quad(
    a: Vector, b: Vector, c: Vector, d: Vector, color: Vector = (1, 1, 1), uv: Array | None = None
) -> Shape:
    """One flat face, corners counter-clockwise."""
    return _quads(np.asarray([[a, b, c, d]], float), color, None if uv is None else np.asarray([uv]))


_BOX_FACES = {
    "+x": [(1, -1, -1), (1, 1, -1), (1, 1, 1), (1, -1, 1)],
    "-x": [(-1, 1, -1), (-1, -1, -1), (-1, -1, 1), (-1, 1, 1)],
    "+y": [(1, 1, -1), (-1, 1, -1), (-1, 1, 1), (1, 1, 1)],
    "-y": [(-1, -1, -1), (1, -1, -1), (1, -1, 1), (-1, -1, 1)],
    "+z": [(-1, -1, 1), (1, -1, 1), (1, 1, 1), (-1, 1, 1)],
    "-z": [(-1, 1, -1), (1, 1, -1), (1, -1, -1), (-1, -1, -1)],
}


def box(low: Vector, high: Vector, color: Vector = (1, 1, 1), without: str = "", grain: str = "") -> Shape:
    """Axis-aligned box. ``without`` lists faces left out, such as "-z+y".

    ``grain`` names the axis that texture u runs along on every face ("x", "y" or "z").
    """
    low_a, high_a = np.asarray(low, float), np.asarray(high, float)
    names = [name for name in _BOX_FACES if name not in without]
    signs = np.asarray([_BOX_FACES[name] for name in names], float)
    corners = (low_a + high_a) / 2 + signs * (high_a - low_a) / 2
    uv = None
    if grain:
        along = "xyz".index(grain)
        across = []
        for name in names:
            free = [i for i in range(3) if i not in (along, "xyz".index(name[1]))]
            across.append(free[0])
        u = corners[..., along]
        v = np.stack([corners[i, :, axis] for i, axis in enumerate(across)])
        uv = np.stack([u + low_a.sum() * 1.37, v + low_a.sum() * 0.71], axis=2)
    return _quads(corners, color, uv)


def bar(
    start: Vector, end: Vector, width: float, depth: float, color: Vector = (1, 1, 1), up: Vector = (0, 0, 1)
) -> Shape:
    """Rectangular bar without end caps; ``depth`` runs along ``up``, ``width`` across."""
    return sweep(np.asarray([start, end], float), width, depth, color, up)


def sweep(
    path: Array, width: float, depth: float, color: Vector = (1, 1, 1), up: Vector | Array = (0, 0, 1)
) -> Shape:
    """Rectangular section along a path. ``up`` is one vector or one for each point."""
    path = np.asarray(path, float)
    tangent = unit(np.gradient(path, axis=0))
    ups = np.broadcast_to(np.asarray(up, float), path.shape)
    side = unit(np.cross(tangent, ups))
    ups = np.cross(side, tangent)
    ring = np.stack(
        [
            path + side * width / 2 - ups * depth / 2,
            path + side * width / 2 + ups * depth / 2,
            path - side * width / 2 + ups * depth / 2,
            path - side * width / 2 - ups * depth / 2,
        ],
        axis=1,
    )
    length = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(path, axis=0), axis=1))])
    corners, uv = [], []
    for k in range(4):
        a, b = ring[:, k], ring[:, (k + 1) % 4]
        corners.append(np.stack([a[:-1], a[1:], b[1:], b[:-1]], axis=1))
        across = depth if k % 2 == 0 else width
        low, high = np.zeros(len(path) - 1), np.full(len(path) - 1, across)
        uv.append(
            np.stack(
                [
                    np.stack([length[:-1], high], 1),
                    np.stack([length[1:], high], 1),
                    np.stack([length[1:], low], 1),
                    np.stack([length[:-1], low], 1),
                ],
                axis=1,
            )
        )
    return _quads(np.concatenate(corners), color, np.concatenate(uv))


def grid(xs: Array, ys: Array, z: float, color: Vector = (1, 1, 1)) -> Shape:
    """Horizontal sheet facing up with a vertex at every (x, y); uv in metres."""
    gx, gy = np.meshgrid(xs, ys)
    count_x, count_y = len(xs), len(ys)
    positions = np.stack([gx, gy, np.full_like(gx, z)], axis=2).reshape(-1, 3)
    index = np.arange(count_x * count_y).reshape(count_y, count_x)
    a, b = index[:-1, :-1].ravel(), index[:-1, 1:].ravel()
    c, d = index[1:, 1:].ravel(), index[1:, :-1].ravel()
    triangles = np.concatenate([np.stack([a, b, c], 1), np.stack([a, c, d], 1)])
    uv = positions[:, :2] * [1, -1]
    return Shape(
        positions,
        np.tile([0.0, 0.0, 1.0], (len(positions), 1)),
        uv,
        np.tile(np.asarray(color, float), (len(positions), 1)),
        triangles,
    )


def _surface(rings: Array, uv: Array, color: Vector, crease_deg: float = 50.0) -> Shape:
    """Closed rings (k, s, 3) joined into a skin. Rings that meet at a sharp edge are split."""
    count, sides = rings.shape[:2]
    wrapped = np.concatenate([rings, rings[:, :1]], axis=1)
    around = np.roll(rings, -1, axis=1) - np.roll(rings, 1, axis=1)
    around = np.concatenate([around, around[:, :1]], axis=1)
    shapes = []
    along = np.diff(wrapped, axis=0)
    face = unit(np.cross(around[:-1] + around[1:], along))
    limit = np.cos(np.radians(crease_deg))
    for k in range(count - 1):
        below = face[k] if k == 0 else unit(face[k] + face[k - 1])
        if k and (face[k] * face[k - 1]).sum(1).min() < limit:
            below = face[k]
        above = face[k] if k == count - 2 else unit(face[k] + face[k + 1])
        if k < count - 2 and (face[k] * face[k + 1]).sum(1).min() < limit:
            above = face[k]
        positions = np.concatenate([wrapped[k], wrapped[k + 1]])
        i = np.arange(sides)
        j = i + sides + 1
        triangles = np.concatenate([np.stack([i, i + 1, j + 1], 1), np.stack([i, j + 1, j], 1)])
        corner = positions[triangles]
        area = np.linalg.norm(np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]), axis=1)
        shapes.append(
            Shape(
                positions,
                np.concatenate([below, above]),
                np.concatenate([uv[k], uv[k + 1]]),
                np.tile(np.asarray(color, float), (len(positions), 1)),
                triangles[area > 1e-10],
            )
        )
    return join(shapes)


def lathe(
    profile: Sequence[tuple[float, float]], sides: int, color: Vector = (1, 1, 1), crease_deg: float = 40.0
) -> Shape:
    """Solid of revolution about Z from (radius, height) pairs, bottom to top outside."""
    outline = np.asarray(profile, float)
    angle = np.linspace(0, 2 * np.pi, sides, endpoint=False)
    circle = np.stack([np.cos(angle), np.sin(angle)], axis=1)
    rings = np.concatenate(
        [
            outline[:, None, :1] * circle[None],
            np.broadcast_to(outline[:, None, 1:], (len(outline), sides, 1)),
        ],
        axis=2,
    )
    step = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(outline, axis=0), axis=1))])
    turns = np.linspace(0, 2 * np.pi * max(outline[:, 0].max(), 0.01), sides + 1)
    uv = np.stack(np.broadcast_arrays(turns[None], -step[:, None]), axis=2)
    return _surface(rings, uv, color, crease_deg)


def tube(path: Array, radius: float | Array, sides: int, color: Vector = (1, 1, 1)) -> Shape:
    """Round skin along a path; ``radius`` is one number or one for each point. No caps."""
    path = np.asarray(path, float)
    tangent = unit(np.gradient(path, axis=0))
    reference = np.eye(3)[np.abs(tangent).max(axis=0).argmin()]  # the axis the path never runs along
    side = unit(np.cross(tangent, reference))
    other = np.cross(tangent, side)
    angle = np.linspace(0, 2 * np.pi, sides, endpoint=False)
    radii = np.broadcast_to(np.asarray(radius, float), (len(path),))
    rings = path[:, None] + radii[:, None, None] * (
        np.cos(angle)[None, :, None] * side[:, None] + np.sin(angle)[None, :, None] * other[:, None]
    )
    step = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(path, axis=0), axis=1))])
    turns = np.linspace(0, 2 * np.pi * radii.max(), sides + 1)
    uv = np.stack(np.broadcast_arrays(step[:, None], turns[None]), axis=2)
    return _surface(rings, uv, color, 60.0)


def dome(
    radius: float, color: Vector = (1, 1, 1), sides: int = 8, rings: int = 4, squash: float = 1.0
) -> Shape:
    """Whole ball, squashed in Z, centred on the origin."""
    angle = np.linspace(-np.pi / 2, np.pi / 2, rings + 1)
    profile = [(float(radius * np.cos(a)), float(radius * squash * np.sin(a))) for a in angle]
    return lathe(profile, sides, color, crease_deg=89.0)


def plane_curve(points: Sequence[tuple[float, float]], y: float) -> Array:
    """(x, z) pairs to stage points at one y."""
    xz = np.asarray(points, float)
    return np.stack([xz[:, 0], np.full(len(xz), y), xz[:, 1]], axis=1)
