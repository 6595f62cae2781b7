"""What a picture sees of the LED surfaces: chosen points by ray, or every pixel by the raster's sightlines.

Set and people are taken away unless asked for. Nothing here looks at colours.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from preview.camera.view import CameraView
from preview.conventions import Array
from preview.raster.raster import Raster
from preview.raster.request import SceneImage
from preview.stage.surface import LedSurface

BORDER_STEPS = 32
INSIDE = (8, 5)
"""Points along each side of the picture, and inside it. Seen through a flat facet one picture maps to the
other by a homography, whose coordinates are quasi-linear: over the part of a facet that a pinhole picture
shows, the outermost place is one of that part's corners, and those are looked at all. The points here
catch what a bent lens adds between them."""

ASIDE = 1e-4
"""How far past a surface's outline, as a share of the picture, what lies behind is looked at too."""


def outermost_points(surfaces: Sequence[LedSurface], view: CameraView, picture_px: tuple[int, int]) -> Array:
    """(n, 3) stage points on the LED surfaces, among them the outermost that the picture shows.

    Whatever flat facet a picture is seen through, one of these lies farthest out in any other picture.
    """
    corners, outline = _corners_of_parts(surfaces, view, picture_px)
    pixels = np.concatenate([_outline_and_grid() * picture_px, _beside(outline, view, picture_px)])
    return np.concatenate([corners, wall_points(surfaces, view, pixels, picture_px)[0]])


def wall_points(
    surfaces: Sequence[LedSurface], view: CameraView, pixels: Array, picture_px: tuple[int, int]
) -> tuple[Array, npt.NDArray[np.bool_]]:
    """Where sightlines of a picture meet the lit side of an LED surface, the set taken away.

    Parameters
    ----------
    pixels : (n, 2) picture points, x right, y down, from the picture's left and top edges

    Returns
    -------
    points : (m, 3) stage metres, of the sightlines that meet one
    meets : (n,) which of them do
    """
    directions, meets = view.sightlines(pixels, picture_px)
    nearest = np.full(len(directions), np.inf)
    lit = np.zeros(len(directions), dtype=bool)
    for surface in surfaces:
        hits = surface.intersect(view.pupil_m, directions)
        closer = hits.distance_m < nearest
        nearest[closer], lit[closer] = hits.distance_m[closer], hits.front[closer]
    meets = meets & lit
    return view.pupil_m + directions[meets] * nearest[meets, None], meets


@lru_cache(maxsize=64)
def _edges(surface: LedSurface) -> tuple[Array, npt.NDArray[np.int64], npt.NDArray[np.bool_]]:
    """A surface's facet edges, each once however many facets share it.

    Returns
    -------
    ends : (n, 2, 3) stage metres
    facets : (n, 2) triangles on either side; the same one twice where there is one only
    outline : (n,) edges of one facet only, past which something else may be seen
    """
    corners = np.round(surface.positions[surface.triangles], 6)
    sides = np.stack([corners, np.roll(corners, -1, axis=1)], axis=2).reshape(-1, 2, 3)
    backwards = [tuple(a) > tuple(b) for a, b in sides]
    sides[backwards] = sides[backwards, ::-1]
    ends, place, times = np.unique(sides.reshape(-1, 6), axis=0, return_inverse=True, return_counts=True)
    triangle = np.arange(len(sides)) // 3
    facets = np.empty((len(ends), 2), dtype=np.int64)
    facets[place, 0] = triangle
    facets[place[::-1], 1] = triangle[::-1]
    return ends.reshape(-1, 2, 3), facets, times == 1


def _corners_of_parts(
    surfaces: Sequence[LedSurface], view: CameraView, picture_px: tuple[int, int]
) -> tuple[Array, Array]:
    """Corners of what the picture shows of each facet: the facet's own, and where its edges cross the
    picture's border.

    Returns
    -------
    points : (n, 3) stage metres, hidden ones left out
    outline : (m, 3) those on a surface's outline, hidden or not
    """
    lines, outlines = [], []
    for surface in surfaces:
        ends, facets, outline = _edges(surface)
        lit = (surface.planes @ np.append(view.pupil_m, 1.0) > 0.0)[facets].any(axis=1)
        lines.append(ends[lit])
        outlines.append(outline[lit])
    line, is_outline = np.concatenate(lines), np.concatenate(outlines)
    crossing, crossed = _crossings(view, line[:, 0], line[:, 1], picture_px)
    corners, owner = line.reshape(-1, 3), np.repeat(np.arange(len(line)), 2)
    inside = _inside(view, corners, picture_px)
    points = np.concatenate([corners[inside], crossing])
    on_outline = is_outline[np.concatenate([owner[inside], crossed])]
    rays = points - view.pupil_m
    distance = np.linalg.norm(rays, axis=1)
    hidden = np.zeros(len(points), dtype=bool)
    for surface in surfaces if len(points) else ():
        hidden |= surface.intersect(view.pupil_m, rays).distance_m < distance - 1e-4
    return points[~hidden], points[on_outline]


def _inside(view: CameraView, points: Array, picture_px: tuple[int, int]) -> npt.NDArray[np.bool_]:
    pixels, in_front = view.project(points, picture_px)
    with np.errstate(invalid="ignore"):
        return in_front & ((pixels >= 0.0) & (pixels <= picture_px)).all(axis=1)


def _crossings(
    view: CameraView, start: Array, end: Array, picture_px: tuple[int, int]
) -> tuple[Array, npt.NDArray[np.int64]]:
    """Where lines from start to end (m, 3) cross the picture's border.

    The border is taken as straight between BORDER_STEPS sightlines a side, which it is for a pinhole: two
    neighbouring sightlines span a plane, and a line crosses the border where it meets one between the two.

    Returns
    -------
    points : (n, 3) stage metres
    line : (n,) which line each lies on
    """
    there = np.linspace(0.0, 1.0, BORDER_STEPS, endpoint=False)
    none, full = np.zeros(BORDER_STEPS), np.ones(BORDER_STEPS)
    round_about = [(there, none), (full, there), (1.0 - there, full), (none, 1.0 - there)]
    places = np.concatenate([np.column_stack(side) for side in round_about])
    ray, _ = view.sightlines(places * picture_px, picture_px)
    following = np.roll(ray, -1, axis=0)
    plane = np.cross(ray, following)
    before, after = (start - view.pupil_m) @ plane.T, (end - view.pupil_m) @ plane.T
    line, side = np.nonzero((before > 0.0) != (after > 0.0))
    height, drop = before[line, side], before[line, side] - after[line, side]
    points = start[line] + (height / drop)[:, None] * (end - start)[line]
    seen = points - view.pupil_m
    between = (np.einsum("ij,ij->i", np.cross(ray[side], seen), plane[side]) >= 0.0) & (
        np.einsum("ij,ij->i", np.cross(seen, following[side]), plane[side]) >= 0.0
    )
    return points[between], line[between]


def _beside(points: Array, view: CameraView, picture_px: tuple[int, int]) -> Array:
    """(n, 2) picture points close to stage points on all four sides: past an edge another surface begins."""
    pixels, _ = view.project(points, picture_px)
    steps = np.array([(-1, -1), (-1, 1), (1, -1), (1, 1)]) * ASIDE * np.asarray(picture_px)
    return np.clip((pixels[:, None] + steps).reshape(-1, 2), 0.0, picture_px)


def _outline_and_grid() -> Array:
    """(n, 2) places in the picture, 0..1: all round its border, and a grid inside."""
    line = np.linspace(0.0, 1.0, BORDER_STEPS + 1)
    ends = np.zeros_like(line), np.ones_like(line)
    sides = [np.column_stack(pair) for end in ends for pair in ((line, end), (end, line))]
    return np.concatenate([*sides, fields(*INSIDE)])


def pinhole_place(view: CameraView, points: Array) -> tuple[Array, npt.NDArray[np.bool_]]:
    """Stage points in a view's pinhole picture, x right and y down: -1..1 from edge to edge.

    Returns
    -------
    place : (n, 2), for a point behind the view the direction it lies in
    in_front : (n,)
    """
    local = (points - view.pupil_m) @ view.pose.rotation
    in_front = local[:, 1] > 1e-9
    depth = np.where(in_front, local[:, 1], 1.0)
    tan_x, tan_y = view.half_tangents
    return np.column_stack([local[:, 0] / depth / tan_x, -local[:, 2] / depth / tan_y]), in_front


def fields(across: int, down: int) -> Array:
    """(n, 2) middles of equal fields of a picture, 0..1, row by row."""
    x, y = np.meshgrid((np.arange(across) + 0.5) / across, (np.arange(down) + 0.5) / down)
    return np.column_stack([x.ravel(), y.ravel()])


def reaches(image: SceneImage, points: Array, picture_px: tuple[int, int]) -> npt.NDArray[np.bool_]:
    """Which stage points (n, 3) lie inside a scene image as drawn, its margin in whole pixels."""
    place, in_front = pinhole_place(image.view, points)
    drawn = np.divide(image.drawn_size(picture_px), picture_px)
    return in_front & (np.abs(place) <= drawn + 1e-9).all(axis=1)


@dataclass(frozen=True, eq=False)
class SeenWall:
    """Wall points of the pixels of one picture that see an LED surface.

    Attributes
    ----------
    points : (n, 3) stage metres, under the pixels' middles
    seen : (h, w) which pixels those are; ``points`` runs through them row by row
    surface : (n,) place of each point's LED surface in the stage's list
    """

    points: Array
    seen: npt.NDArray[np.bool_]
    surface: npt.NDArray[np.int32]


def seen_wall(raster: Raster, view: CameraView, most_set_cover: float | None = None) -> SeenWall:
    """What a picture sees of the LED surfaces, from the raster's sightlines.

    Parameters
    ----------
    most_set_cover : leave out pixels that set and people cover by more than this share; None keeps all
    """
    lines = raster.sightlines(view)
    seen = lines.surface >= 0
    if most_set_cover is not None:
        seen &= lines.set_cover <= most_set_cover
    rows, columns = np.nonzero(seen)
    directions, _ = view.sightlines(np.column_stack([columns + 0.5, rows + 0.5]), raster.picture_px)
    directions *= lines.distance_m[seen].astype(np.float64)[:, None]
    return SeenWall(view.pupil_m + directions, seen, lines.surface[seen])
