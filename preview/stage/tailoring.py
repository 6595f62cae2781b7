"""Thin pieces of a stand-in's clothes: lapels, pocket flaps, buttons, collars.

Lapels, flaps and buttons are cut on the front view (x, z) and draped over the jacket's distance field;
collars stand round the axis of the neck. Body coordinates, as in ``preview.stage.figure``.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from preview.conventions import Array
from preview.stage.field import Field, gradient

Mesh = tuple[Array, Array, npt.NDArray[np.int32]]

_ACROSS, _DOWN = 5, 13


def lapels(jacket: Field, eye_z: float) -> Mesh:
    """Both lapels and the ends of the collar above them, with a notch between."""
    collar_z = eye_z + np.array([-0.196, -0.240, -0.288])
    lapel_z = eye_z + np.array([-0.280, -0.300, -0.33, -0.42, -0.534])
    collar_edges = np.array([0.051, 0.053, 0.049]), np.array([0.082, 0.090, 0.089])
    lapel_edges = (
        np.array([0.049, 0.047, 0.043, 0.024, -0.006]),
        np.array([0.100, 0.101, 0.099, 0.074, 0.012]),
    )
    panels = []
    for over, side in ((0.0012, 1.0), (0.0, -1.0)):  # the right one lies over the left at the button
        collar = _drape(jacket, *collar_edges, collar_z, 0.0066)
        lapel = _drape(jacket, *lapel_edges, lapel_z, 0.0050 + over, drop=0.020)
        panels += [collar, lapel] if side > 0 else [_other_side(collar), _other_side(lapel)]
    return join(panels)


def pocket_flaps(jacket: Field, eye_z: float) -> Mesh:
    """Both hip pockets' flaps."""
    z = eye_z + np.array([-0.640, -0.686])
    flap = _drape(jacket, np.full(2, 0.070), np.full(2, 0.148), z, 0.0045)
    return join([flap, _other_side(flap)])


def front_edge(jacket: Field, top_z: float, hem_z: float) -> Mesh:
    """The jacket's overlapping edge from the lapels' end to the hem."""
    z = np.array([top_z, 0.5 * (top_z + hem_z), hem_z])
    return _drape(jacket, np.full(3, -0.028), np.array([0.012, 0.015, 0.034]), z, 0.0040)


def button(jacket: Field, z: float) -> Mesh:
    """A button on the overlapping edge, its middle at height ``z``."""
    angle = np.linspace(0.12, np.pi - 0.12, 9)
    half = 0.0095 * np.sin(angle)
    return _drape(jacket, -half, half, z + 0.0095 * np.cos(angle), 0.0075)


def shirt_collar(neck: Array) -> Mesh:
    """Folded collar round the neck whose points part in front. ``neck``: its axis at eye height."""
    turn = np.linspace(0.0, 1.0, 33)
    top_angle, low_angle = 0.05 + turn * (2 * np.pi - 0.10), 0.30 + turn * (2 * np.pi - 0.60)
    front = np.exp(-((np.minimum(low_angle, 2 * np.pi - low_angle) / 0.75) ** 2))
    top = _ring(neck, top_angle, 0.0545, -0.158 - 0.022 * np.cos(top_angle))
    low = _ring(neck, low_angle, 0.0675 + 0.046 * front, -0.196 - 0.020 * np.cos(low_angle) - 0.030 * front)
    return _band(neck, top, low, 0.0035)


def jacket_collar(neck: Array) -> Mesh:
    """Collar from lapel to lapel behind the neck. ``neck``: its axis at eye height."""
    angle = np.linspace(0.78, 2 * np.pi - 0.78, 25)
    top = _ring(neck, angle, 0.0665, -0.186 - 0.024 * np.cos(angle))
    low = _ring(neck, angle, 0.0785 + 0.008 * np.cos(angle), -0.236 - 0.020 * np.cos(angle))
    return _band(neck, top, low, 0.005)


def _ring(neck: Array, angle: Array, radius: Array | float, height: Array) -> Array:
    """Points round the neck; angle 0 is in front."""
    return neck + np.stack([radius * np.sin(angle), radius * np.cos(angle), height], axis=-1)


def _band(neck: Array, top: Array, low: Array, thickness: float) -> Mesh:
    """Closed strip of cloth between two edges, rounded over its upper one."""
    down = np.array([0.0, 0.12, 0.4, 0.7, 1.0])[:, None, None]
    outer = top + (low - top) * down
    away = (outer - neck) * (1.0, 1.0, 0.0)
    away /= np.linalg.norm(away, axis=-1, keepdims=True)
    outer = outer + away * thickness * np.array([0.2, 1.0, 1.0, 1.0, 1.0])[:, None, None]
    return _closed(outer, outer - away * thickness * 1.6, away + np.array([0.0, 0.0, 0.25]))


def lathe(profile: Sequence[tuple[float, float]], segments: int = 28) -> Mesh:
    """Solid of revolution about Z through points (radius, z), from the axis below to the axis above."""
    angle = np.linspace(0.0, 2.0 * np.pi, segments + 1)
    wheel = np.stack([np.cos(angle), np.sin(angle)], axis=-1)
    pieces = []
    for (r0, z0), (r1, z1) in pairwise(profile):
        ends = [
            np.column_stack([wheel * radius, np.full(len(wheel), z)]) for radius, z in ((r0, z0), (r1, z1))
        ]
        slope = np.column_stack([wheel * (z1 - z0), np.full(len(wheel), r0 - r1)]) / np.hypot(
            z1 - z0, r1 - r0
        )
        pieces.append(_sheet(np.stack(ends), np.stack([slope, slope])))
    return join(pieces)


def join(meshes: Sequence[Mesh]) -> Mesh:
    """All ``meshes`` as one."""
    first = np.cumsum([0, *(len(mesh[0]) for mesh in meshes)])
    triangles = [mesh[2] + start for mesh, start in zip(meshes, first, strict=False)]
    return (
        np.concatenate([mesh[0] for mesh in meshes]),
        np.concatenate([mesh[1] for mesh in meshes]),
        np.concatenate(triangles).astype(np.int32),
    )


def _drape(jacket: Field, left: Array, right: Array, z: Array, lift: float, drop: float = 0.0) -> Mesh:
    """Closed thin panel between the edges ``left`` and ``right`` (x at heights ``z``, falling), ``lift``
    metres above the jacket's front; the upper edge's right end is ``drop`` metres lower than the left."""
    down = np.linspace(0.0, 1.0, _DOWN)
    where = (z - z[0]) / (z[-1] - z[0])
    low, high = np.interp(down, where, left), np.interp(down, where, right)
    across = np.linspace(0.0, 1.0, _ACROSS)
    x = low[:, None] + (high - low)[:, None] * across
    slant = drop * (1.0 - down[:, None]) ** 3 * across**2
    height = (z[0] + down * (z[-1] - z[0]))[:, None] - slant
    points = np.stack([x, np.full_like(x, 0.32), height], -1)
    points = points.reshape(-1, 3)
    for _ in range(40):  # sphere tracing from the front, short of the field's own inexactness
        points[:, 1] -= 0.8 * jacket(points)
    normals = gradient(jacket, points)
    normals /= np.linalg.norm(normals, axis=1, keepdims=True)
    shape = (_DOWN, _ACROSS, 3)
    front, back = points + lift * normals, points - 0.004 * normals
    return _closed(front.reshape(shape), back.reshape(shape), normals.reshape(shape))


def _closed(front: Array, back: Array, normals: Array) -> Mesh:
    """Thin solid between two grids of points (rows, columns, 3); ``normals`` are the front's."""
    normals = normals / np.linalg.norm(normals, axis=-1, keepdims=True)
    pieces = [_sheet(front, normals), _sheet(back[:, ::-1], -normals[:, ::-1])]
    rim = _rim(*front.shape[:2])
    strip = np.stack([front.reshape(-1, 3)[rim], back.reshape(-1, 3)[rim]], axis=1)
    tangent = np.roll(strip[:, 0], -1, axis=0) - np.roll(strip[:, 0], 1, axis=0)
    side = np.cross(normals.reshape(-1, 3)[rim], tangent)  # the rim runs clockwise seen from the front
    side *= np.sign(np.einsum("ij,ij->", side, strip[:, 0] - front.reshape(-1, 3).mean(axis=0)))
    side /= np.maximum(np.linalg.norm(side, axis=1, keepdims=True), 1e-9)
    strip, side = np.concatenate([strip, strip[:1]]), np.concatenate([side, side[:1]])
    pieces.append(_sheet(strip, np.repeat(side[:, None], 2, axis=1)))
    return join(pieces)


def _other_side(mesh: Mesh) -> Mesh:
    flip = np.array([-1.0, 1.0, 1.0])
    return mesh[0] * flip, mesh[1] * flip, mesh[2][:, ::-1].copy()


def _sheet(grid: Array, normals: Array) -> Mesh:
    """Triangles of a grid of points, wound to agree with its normals."""
    rows, columns = grid.shape[:2]
    index = np.arange(rows * columns).reshape(rows, columns)
    a, b, c, d = index[:-1, :-1], index[1:, :-1], index[1:, 1:], index[:-1, 1:]
    triangles = np.concatenate([np.stack([a, b, c], -1), np.stack([a, c, d], -1)]).reshape(-1, 3)
    flat, directions = grid.reshape(-1, 3), normals.reshape(-1, 3)
    corners = flat[triangles]
    faces = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    if np.einsum("ij,ij->", faces, directions[triangles].mean(axis=1)) < 0:
        triangles = triangles[:, ::-1]
    solid = np.linalg.norm(faces, axis=1) > 1e-12  # none where an edge of the grid runs into a point
    return flat, directions, triangles[solid].astype(np.int32)


def _rim(rows: int, columns: int) -> npt.NDArray[np.int64]:
    """Indices round the border of a grid, once around."""
    index = np.arange(rows * columns).reshape(rows, columns)
    return np.concatenate([index[0, :-1], index[:-1, -1], index[-1, :0:-1], index[:0:-1, 0]])
