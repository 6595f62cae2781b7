"""Plain numpy twin of the compositing: what each picture must be, one sightline at a time in meaning.

Naive on purpose and never optimised: every sightline is tried against every triangle, every layer is
looked up in full, everything is float64. Scene images come in as arrays, so that a comparison with the
GL side says something about compositing alone; the outer image comes in as a function of direction.

Frames: stage metres. Pictures: (height, width, 3) linear light, row 0 at the top.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from preview.camera.view import CameraView
from preview.conventions import Array
from preview.raster.request import SceneImage, Stack
from preview.stage.surface import LedSurface

OFF_WALL = -9
"""Label of a pixel that sees neither surface nor solid."""

Outer = Callable[[Array], Array]
"""Unit directions (n, 3) from the eye point to linear colours (n, 3)."""


@dataclass(frozen=True, eq=False)
class Solid:
    """Something in front of the wall, of one flat colour: corners (m, 3, 3) stage metres."""

    corners: Array
    rgb: tuple[float, float, float]


@dataclass(frozen=True, eq=False)
class OracleStage:
    """LED surfaces, the most light each can give (peak over white), what stands in front, the eye point."""

    surfaces: Sequence[LedSurface]
    headroom: Sequence[float]
    eye_point_m: tuple[float, float, float]
    solids: Sequence[Solid] = ()


@dataclass(frozen=True, eq=False)
class Seen:
    """What n sightlines meet: ``surface`` and ``solid`` are -1 where it is something else."""

    surface: np.ndarray
    solid: np.ndarray
    distance_m: Array
    point_m: Array
    normal: Array
    canvas: Array


def sightlines(view: CameraView, size_px: tuple[int, int], stage: OracleStage) -> Seen:
    """Nearest thing along the sightline through every pixel centre, row by row from the top left.

    A surface met from behind hides what is beyond it and counts as off the wall.
    """
    width, height = size_px
    columns, rows = np.meshgrid(np.arange(width) + 0.5, np.arange(height) + 0.5)
    directions, valid = view.sightlines(np.column_stack([columns.ravel(), rows.ravel()]), size_px)
    count = len(directions)
    seen = Seen(
        np.full(count, -1),
        np.full(count, -1),
        np.full(count, np.inf),
        np.full((count, 3), np.nan),
        np.full((count, 3), np.nan),
        np.full((count, 2), np.nan),
    )
    for index, solid in enumerate(stage.solids):
        for corners in solid.corners:
            distance, _ = meet(view.pupil_m, directions, corners)
            nearer = valid & (distance < seen.distance_m)
            seen.distance_m[nearer] = distance[nearer]
            seen.solid[nearer] = index
    for index, surface in enumerate(stage.surfaces):
        for triangle in surface.triangles:
            corners = surface.positions[triangle]
            distance, weights = meet(view.pupil_m, directions, corners)
            nearer = valid & (distance < seen.distance_m)
            normal = np.cross(corners[1] - corners[0], corners[2] - corners[0])
            front = directions @ normal < 0
            seen.distance_m[nearer] = distance[nearer]
            seen.solid[nearer] = -1
            seen.surface[nearer] = np.where(front[nearer], index, -1)
            seen.point_m[nearer] = view.pupil_m + distance[nearer, None] * directions[nearer]
            seen.normal[nearer] = normal / np.linalg.norm(normal)
            seen.canvas[nearer] = weights[nearer] @ surface.canvas[triangle]
    return seen


def meet(origin: Array, directions: Array, corners: Array) -> tuple[Array, Array]:
    """Distances (n,) from ``origin`` to one triangle (inf where missed) and corner weights (n, 3)."""
    # origin + s d = corners' weighted mean: for each ray, d * -s + e1 * b + e2 * c = origin - corner 0
    edge1, edge2 = corners[1] - corners[0], corners[2] - corners[0]
    normal = np.cross(edge1, edge2)
    with np.errstate(divide="ignore", invalid="ignore"):
        distance = (corners[0] - origin) @ normal / (directions @ normal)
        offset = origin + distance[:, None] * directions - corners[0]
        weight1 = np.cross(offset, edge2) @ normal / (normal @ normal)
        weight2 = np.cross(edge1, offset) @ normal / (normal @ normal)
    weights = np.column_stack([1 - weight1 - weight2, weight1, weight2])
    # The slack closes the seam between two triangles that share an edge.
    inside = (distance > 0) & np.isfinite(distance) & (np.nan_to_num(weights, nan=-1).min(axis=1) >= -1e-9)
    return np.where(inside, distance, np.inf), weights


def image_coordinates(image: SceneImage, points_m: Array) -> tuple[Array, np.ndarray]:
    """Where stage points lie in a scene image: (n, 2) in 0..1 from its top left, and whether inside."""
    local = (points_m - image.view.pupil_m) @ image.view.pose.rotation
    tangents = np.multiply(image.view.half_tangents, 1 + 2 * image.margin)
    with np.errstate(divide="ignore", invalid="ignore"):
        across = local[:, [0, 2]] / local[:, [1]] / tangents
    place = np.column_stack([0.5 + across[:, 0] / 2, 0.5 - across[:, 1] / 2])
    inside = (local[:, 1] > 0) & (np.abs(np.nan_to_num(across, nan=9)).max(axis=1) < 1)
    return place, inside


def sample(picture: Array, place: Array) -> Array:
    """Bilinear samples (n, 3) at places in 0..1; pixel centres at half pixels, borders repeated."""
    height, width = picture.shape[:2]
    x = np.clip(place[:, 0] * width - 0.5, 0, width - 1)
    y = np.clip(place[:, 1] * height - 0.5, 0, height - 1)
    left, top = np.floor(x).astype(int), np.floor(y).astype(int)
    right, bottom = np.minimum(left + 1, width - 1), np.minimum(top + 1, height - 1)
    dx, dy = (x - left)[:, None], (y - top)[:, None]
    upper = picture[top, left] * (1 - dx) + picture[top, right] * dx
    lower = picture[bottom, left] * (1 - dx) + picture[bottom, right] * dx
    return upper * (1 - dy) + lower * dy


def edge_distance_m(image: SceneImage, points_m: Array, normals: Array) -> Array:
    """Distance (n,) along the facet from each point to the nearest border line of the image on it.

    Each border is a plane through the entrance pupil; it cuts the facet in a line. The distance within
    the facet is the distance to the plane over the length of the plane's normal laid into the facet.
    """
    tan_x, tan_y = np.multiply(image.view.half_tangents, 1 + 2 * image.margin)
    inward = np.array([[1, tan_x, 0], [-1, tan_x, 0], [0, tan_y, 1], [0, tan_y, -1]])
    nearest = np.full(len(points_m), np.inf)
    for plane in inward @ image.view.pose.rotation.T:
        height = (points_m - image.view.pupil_m) @ plane
        laid = plane - (normals @ plane)[:, None] * normals
        nearest = np.minimum(nearest, height / np.linalg.norm(laid, axis=1))
    return nearest


def wall_light(
    seen: Seen, stage: OracleStage, stack: Stack, images: Mapping[SceneImage, Array], outer: Outer
) -> tuple[Array, np.ndarray]:
    """Light (n, 3) that leaves the wall where each sightline meets it, and the top layer's index (n,).

    The index is -1 on the outer image and -2 on an edge line; both are meaningless off the wall.
    """
    to_point = seen.point_m - np.asarray(stage.eye_point_m)
    light = outer(to_point / np.linalg.norm(to_point, axis=1, keepdims=True))
    top = np.full(len(light), -1)
    for index, layer in enumerate(stack):
        place, inside = image_coordinates(layer.image, seen.point_m)
        light[inside] = sample(images[layer.image], place[inside]) * layer.dim
        top[inside] = index
        if layer.edge_rgb is not None:
            line = inside & (edge_distance_m(layer.image, seen.point_m, seen.normal) < layer.edge_width_m)
            light[line] = layer.edge_rgb
            top[line] = -2
    most = np.asarray(stage.headroom, dtype=np.float64)[seen.surface]
    return np.minimum(light, most[:, None]), top


def composite(
    view: CameraView,
    size_px: tuple[int, int],
    stage: OracleStage,
    stack: Stack,
    images: Mapping[SceneImage, Array],
    outer: Outer,
    off_wall: tuple[float, float, float] = (0.0, 0.0, 0.0),
) -> tuple[Array, np.ndarray]:
    """One camera's picture: set over wall over the off-wall marker.

    Returns
    -------
    picture : (height, width, 3) linear light
    labels : (height, width) int, one value for each set piece, surface, layer, line and off wall, to
        find the borders between them
    """
    width, height = size_px
    seen = sightlines(view, size_px, stage)
    light, top = wall_light(seen, stage, stack, images, outer)
    picture = np.tile(np.asarray(off_wall, dtype=np.float64), (len(light), 1))
    on_wall = seen.surface >= 0
    picture[on_wall] = light[on_wall]
    for index, solid in enumerate(stage.solids):
        picture[seen.solid == index] = solid.rgb
    labels = np.where(on_wall, 1000 * (seen.surface + 1) + top, OFF_WALL - 1 - seen.solid)
    return picture.reshape(height, width, 3), labels.reshape(height, width)


def unrolled(
    surface: LedSurface, stage: OracleStage, stack: Stack, images: Mapping[SceneImage, Array], outer: Outer
) -> Array:
    """The wall's own canvas (v, u, 3): the light of every LED pixel."""
    width, height = surface.canvas_px
    u, v = np.meshgrid(np.arange(width) + 0.5, np.arange(height) + 0.5)
    points, valid = surface.canvas_to_stage(np.column_stack([u.ravel(), v.ravel()]))
    corners = surface.positions[surface.triangles]
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    normals /= np.linalg.norm(normals, axis=1, keepdims=True)
    heights = np.einsum("kmx,mx->km", points[:, None] - corners[:, 0], normals)
    facet = np.abs(np.nan_to_num(heights, nan=9.0)).argmin(axis=1)
    index = np.full(len(points), list(stage.surfaces).index(surface))
    seen = Seen(index, index, index, points, normals[facet], points[:, :2])
    light, _ = wall_light(seen, stage, stack, images, outer)
    light[~valid] = 0
    return light.reshape(height, width, 3)
