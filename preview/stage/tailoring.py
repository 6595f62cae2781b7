"""Thin pieces of a stand-in's clothes: lapels, pocket flaps, buttons, collars.

Lapels, flaps and buttons are cut on the front view (x, z) and draped over the jacket's distance field;
collars stand round the axis of the neck. Body coordinates, as in ``preview.stage.figure``.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from preview.conventions import Array
from preview.stage.field import Field, gradient

Mesh = tuple[Array, Array, npt.NDArray[np.int32]]

_ACROSS, _DOWN = 5, 13


def lapels(jacket: Field, eye_z: float) -> list[Mesh]:
    """Both lapels, each below its end of the collar, with a notch between."""
    upper_z = eye_z + np.array([-0.200, -0.240, -0.288])
    lower_z = eye_z + np.array([-0.286, -0.300, -0.33, -0.42, -0.534])
    panels = []
    for side in (1.0, -1.0):
        collar = np.array([0.052, 0.054, 0.049]), np.array([0.078, 0.086, 0.086])
        lapel = np.array([0.049, 0.047, 0.043, 0.024, -0.004]), np.array([0.100, 0.101, 0.099, 0.074, 0.012])
        for (inner, outer), z, lift, drop in ((collar, upper_z, 0.0085, -0.012), (lapel, lower_z, 0.0070, 0.012)):
            edges = (side * inner, side * outer)
            left, right = edges if side > 0 else edges[::-1]
            panels.append(_drape(jacket, left, right, z, lift if side > 0 else lift - 0.001, side * drop))
    return panels


def pocket_flaps(jacket: Field, eye_z: float) -> list[Mesh]:
    """Both hip pockets' flaps."""
    z = eye_z + np.array([-0.640, -0.686])
    panels = []
    for side in (1.0, -1.0):
        edges = sorted((side * 0.070, side * 0.148))
        panels.append(_drape(jacket, np.full(2, edges[0]), np.full(2, edges[1]), z, 0.0045))
    return panels


def front_edge(jacket: Field, eye_z: float, hem_z: float) -> Mesh:
    """The jacket's overlapping edge below the lapels."""
    z = np.array([eye_z - 0.530, eye_z - 0.640, hem_z + 0.012])
    return _drape(jacket, np.array([-0.028, -0.028, -0.028]), np.array([0.012, 0.015, 0.034]), z, 0.0040)


def buttons(jacket: Field, eye_z: float) -> list[Mesh]:
    """Two buttons on the overlapping edge."""
    panels = []
    for height in (-0.548, -0.645):
        angle = np.linspace(0.0, np.pi, 9)
        half = 0.0095 * np.sin(angle)
        z = eye_z + height + 0.0095 * np.cos(angle)
        panels.append(_drape(jacket, -half - 1e-4, half + 1e-4, z, 0.0075))
    return panels


def shirt_collar(neck: Array) -> Mesh:
    """Folded collar round the neck whose points part in front. ``neck``: its axis at eye height."""
    turn = np.linspace(0.0, 1.0, 33)
    top_angle, low_angle = 0.05 + turn * (2 * np.pi - 0.10), 0.30 + turn * (2 * np.pi - 0.60)
    front = np.exp(-((np.minimum(low_angle, 2 * np.pi - low_angle) / 0.75) ** 2))
    top = _ring(neck, top_angle, 0.0545, -0.158 - 0.022 * np.cos(top_angle))
    low = _ring(neck, low_angle, 0.0675 + 0.006 * front, -0.196 - 0.020 * np.cos(low_angle) - 0.026 * front)
    return _band(neck, top, low, 0.0035)


def jacket_collar(neck: Array) -> Mesh:
    """Collar from lapel to lapel behind the neck. ``neck``: its axis at eye height."""
    angle = np.linspace(0.78, 2 * np.pi - 0.78, 25)
    top = _ring(neck, angle, 0.0665, -0.186 - 0.024 * np.cos(angle))
    low = _ring(neck, angle, 0.0900, -0.238 - 0.020 * np.cos(angle))
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
    return _closed(outer, outer - away * thickness * 1.6, away + (0, 0, 0.25))


def join(meshes: Sequence[Mesh]) -> Mesh:
    """All ``meshes`` as one."""
    first = np.cumsum([0, *(len(mesh[0]) for mesh in meshes)])
    triangles = [mesh[2] + start for mesh, start in zip(meshes, first, strict=False)]
    return (
        np.concatenate([mesh[0] for mesh in meshes]),
        np.concatenate([mesh[1] for mesh in meshes]),
        np.concatenate(triangles).astype(np.int32),
    )


def _drape(jacket: Field, left: Array, right: Array, z: Array, lift: float, skew: float = 0.0) -> Mesh:
    """Closed thin panel between the edges ``left`` and ``right`` (x at heights ``z``, falling), ``lift``
    metres above the jacket's front; ``skew`` lifts its upper edge's right end against the left."""
    down = np.linspace(0.0, 1.0, _DOWN)
    where = (z - z[0]) / (z[-1] - z[0])
    low, high = np.interp(down, where, left), np.interp(down, where, right)
    across = np.linspace(0.0, 1.0, _ACROSS)
    x = low[:, None] + (high - low)[:, None] * across
    tilt = skew * (1.0 - down[:, None]) ** 3 * (across - (0.0 if skew * (low[0] + high[0]) > 0 else 1.0))
    height = (z[0] + down * (z[-1] - z[0]))[:, None] + tilt
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
    return flat, directions, triangles.astype(np.int32)


def _rim(rows: int, columns: int) -> npt.NDArray[np.int64]:
    """Indices round the border of a grid, once around."""
    index = np.arange(rows * columns).reshape(rows, columns)
    return np.concatenate([index[0, :-1], index[:-1, -1], index[-1, :0:-1], index[:0:-1, 0]])
