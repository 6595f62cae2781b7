"""Where frustums fall on the LED surfaces: exact areas, and how long each place lies in how many.

A frustum is a pyramid with its apex in the entrance pupil; its left and right border planes together
leave nothing behind the pupil. It falls on every facet inside it, whichever way that faces and whatever
stands before it, as the wall is drawn.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from math import ceil, sqrt
from typing import Literal

import numpy as np
import numpy.typing as npt

from preview.conventions import Array
from preview.raster.request import SceneImage
from preview.stage.surface import LedSurface

Bools = npt.NDArray[np.bool_]

CELL_M = 0.05
MOST_CELLS = 70_000
"""Cells of a wall map: 5 cm, and larger where all surfaces together would need more cells than this."""
ON_BORDER_M = 1e-6
"""A corner this near to a border plane lies on it."""


class WallFacets:
    """All flat facets of a stage's LED surfaces in a row.

    Parameters
    ----------
    surfaces : LED surfaces of the stage

    Attributes
    ----------
    surfaces : the same
    corners : (m, 3, 3) stage metres
    surface : (m,) place of each facet's surface in the list
    """

    def __init__(self, surfaces: Sequence[LedSurface]) -> None:
        self.surfaces = tuple(surfaces)
        self.corners: Array = np.concatenate([s.positions[s.triangles] for s in surfaces])
        self.surface = np.repeat(np.arange(len(surfaces)), [len(s.triangles) for s in surfaces])

    @cached_property
    def map_from_stage(self) -> Array:
        """(m, 2, 4) a facet: stage point (x, y, z, 1) to metres on the unrolled surface, x from its left
        edge to the right and y from its lower edge up, as those see it who look at its lit side."""
        found = []
        for surface in self.surfaces:
            scale = np.divide(surface.size_m, surface.canvas_px)
            rows = surface.canvas_from_stage * scale[:, None]
            rows[:, 1] *= -1.0
            rows[:, 1, 3] += surface.size_m[1]
            found.append(rows)
        return np.concatenate(found)

    def by_surface(self, facet: npt.NDArray[np.int64], values: Array) -> Array:
        """(s,) sums of values (n,) of the facets (n,) over each surface."""
        summed = np.bincount(self.surface[facet], values, minlength=len(self.surfaces))
        return summed.astype(np.float64)


def clip(polygons: Array, planes: Array) -> Array:
    """Convex polygons cut down to the positive side of planes.

    Parameters
    ----------
    polygons : (p, k, 3) corners in order; a polygon with fewer repeats one of its corners
    planes : (p, n, 4) unit normal and offset, for each polygon its own

    Returns
    -------
    (p, l, 3) likewise; a polygon of which nothing is left has all corners in one place

    Source: I. Sutherland, G. Hodgman, "Reentrant polygon clipping", Communications of the ACM 17(1), 1974.
    """
    for plane in planes.transpose(1, 0, 2):
        height = np.einsum("pkx,px->pk", polygons, plane[:, :3]) + plane[:, 3:]
        after, next_height = np.roll(polygons, -1, axis=1), np.roll(height, -1, axis=1)
        kept, crosses = height >= 0.0, (height >= 0.0) != (next_height >= 0.0)
        drop = np.where(crosses, height - next_height, 1.0)
        share = np.where(crosses, height / drop, 0.0)
        crossing = polygons + share[:, :, None] * (after - polygons)
        size = len(polygons), 2 * polygons.shape[1]
        both = np.stack([polygons, crossing], axis=2).reshape(*size, 3)
        wanted = np.stack([kept, crosses], axis=2).reshape(size)
        number = wanted.sum(axis=1)
        widest = max(int(number.max(initial=0)), 1)
        order = np.argsort(~wanted, axis=1, kind="stable")[:, :widest]
        last = np.maximum(number - 1, 0)[:, None]
        pick = np.take_along_axis(order, np.minimum(np.arange(widest), last), axis=1)
        polygons = np.take_along_axis(both, pick[:, :, None], axis=1)
    return polygons


def areas(polygons: Array) -> Array:
    """(p,) areas of flat convex polygons (p, k, 3), in their unit squared."""
    spokes = polygons[:, 1:] - polygons[:, :1]
    doubled = np.cross(spokes[:, :-1], spokes[:, 1:]).sum(axis=1)
    area: Array = np.linalg.norm(doubled, axis=1) / 2.0
    return area


@dataclass(frozen=True, eq=False)
class Footprint:
    """What one frustum covers of the LED surfaces.

    Attributes
    ----------
    planes : (4, 4) border planes of the frustum, positive inside
    facet : (n,) facets that it touches, rising
    polygons : (n, k, 3) what it covers of each, stage metres
    areas_m2 : (s,) covered on each surface
    """

    planes: Array
    facet: npt.NDArray[np.int64]
    polygons: Array
    areas_m2: Array


def footprint(facets: WallFacets, image: SceneImage, picture_px: tuple[int, int]) -> Footprint:
    """Where a camera's image falls on the LED surfaces.

    Parameters
    ----------
    image : drawn with its margin, rounded up to whole pixels of ``picture_px``
    """
    planes = image.border_planes(picture_px)
    height = facets.corners @ planes[:, :3].T + planes[:, 3]
    highest: Array = height.max(axis=1)  # a facet wholly behind one plane is not in the frustum
    (facet,) = np.nonzero(highest.min(axis=1) >= 0.0)
    polygons = clip(facets.corners[facet], np.broadcast_to(planes, (len(facet), 4, 4)))
    area = areas(polygons)
    facet, polygons, area = facet[area > 0.0], polygons[area > 0.0], area[area > 0.0]
    return Footprint(planes, facet, polygons, facets.by_surface(facet, area))


def overlaps(facets: WallFacets, pairs: Sequence[tuple[Footprint, Footprint]]) -> Array:
    """(p, s) square metres that both frustums of each pair cover on each surface."""
    found = np.zeros((len(pairs), len(facets.surfaces)))
    shared = []
    for place, (one, other) in enumerate(pairs):
        (rows,) = np.nonzero(np.isin(one.facet, other.facet, assume_unique=True))
        if len(rows):
            shared.append((place, one.facet[rows], one.polygons[rows], other.planes))
    if not shared:
        return found
    widest = max(polygons.shape[1] for _, _, polygons, _ in shared)
    cut = areas(
        clip(
            np.concatenate([_widened(polygons, widest) for _, _, polygons, _ in shared]),
            np.concatenate([np.broadcast_to(planes, (len(rows), 4, 4)) for _, rows, _, planes in shared]),
        )
    )
    start = 0
    for place, facet, _, _ in shared:
        found[place] = facets.by_surface(facet, cut[start : start + len(facet)])
        start += len(facet)
    return found


def _widened(polygons: Array, corners: int) -> Array:
    """The same polygons with their last corner repeated up to ``corners``."""
    return polygons[:, np.minimum(np.arange(corners), polygons.shape[1] - 1)]


def border_lines(facets: WallFacets, print_: Footprint, surface: int) -> Array:
    """(n, 2, 2) pieces of a frustum's border on one surface, metres as ``WallFacets.map_from_stage`` has
    them. Where the frustum runs past the surface there is no border."""
    own = facets.surface[print_.facet] == surface
    polygons, facet = print_.polygons[own], print_.facet[own]
    near = np.abs(polygons @ print_.planes[:, :3].T + print_.planes[:, 3]) < ON_BORDER_M
    after = np.roll(polygons, -1, axis=1)
    along = (near & np.roll(near, -1, axis=1)).any(axis=2)
    along &= np.linalg.norm(after - polygons, axis=2) > ON_BORDER_M
    rows, _ = np.nonzero(along)
    ends = np.stack([polygons[along], after[along]], axis=1)
    turn = facets.map_from_stage[facet[rows]]
    lines: Array = np.einsum("ncx,nex->nec", turn[:, :, :3], ends) + turn[:, None, :, 3]
    return lines


class WallCells:
    """A grid over the unrolled LED surfaces, for maps.

    Parameters
    ----------
    surfaces : LED surfaces of the stage
    cell_m, most_cells : side of a cell, made larger until all cells are no more than ``most_cells``

    Attributes
    ----------
    shapes : rows and columns of each surface's cells
    starts : where each surface's cells begin in the row of all; one more for their end
    points : (n, 3) float32 stage metres of the cells' middles, surface by surface, row by row from the top;
        NaN where no facet shows that part of the canvas
    """

    def __init__(
        self, surfaces: Sequence[LedSurface], cell_m: float = CELL_M, most_cells: int = MOST_CELLS
    ) -> None:
        canvas_m2 = sum(surface.size_m[0] * surface.size_m[1] for surface in surfaces)
        cell_m = max(cell_m, sqrt(canvas_m2 / most_cells))
        self.shapes = tuple(
            (ceil(s.size_m[1] / cell_m - 1e-6), ceil(s.size_m[0] / cell_m - 1e-6)) for s in surfaces
        )
        self.starts = np.cumsum([0, *(rows * columns for rows, columns in self.shapes)])
        points = [_middles(s, shape).reshape(-1, 3) for s, shape in zip(surfaces, self.shapes, strict=True)]
        self.points = np.concatenate(points).astype(np.float32)
        self._across = np.concatenate([self.points.T, np.ones((1, len(self.points)), dtype=np.float32)])

    def inside(self, planes: Array) -> Bools:
        """(n,) cells whose middle lies on the positive side of all planes (k, 4)."""
        with np.errstate(invalid="ignore"):
            height = np.einsum("pk,kn->pn", planes.astype(np.float32), self._across)
            within: Bools = (height >= 0.0).all(axis=0)
        return within

    def of_surface(self, values: np.ndarray, surface: int) -> np.ndarray:
        """(..., rows, columns) of one surface, from values (..., n) of all cells."""
        part = values[..., self.starts[surface] : self.starts[surface + 1]]
        return part.reshape(*values.shape[:-1], *self.shapes[surface])


def _middles(surface: LedSurface, shape: tuple[int, int]) -> Array:
    """(rows, columns, 3) stage metres under the middles of a grid's cells; NaN where there is no facet."""
    points = np.full((*shape, 3), np.nan)
    cell_px = np.divide(surface.canvas_px, shape[::-1])
    corners_m = surface.positions[surface.triangles]
    corners = surface.canvas[surface.triangles] / cell_px - 0.5  # a cell's middle at whole numbers
    for flat, solid in zip(corners, corners_m, strict=True):
        low = np.maximum(np.ceil(flat.min(axis=0) - 1e-9), 0).astype(int)
        high = np.minimum(np.floor(flat.max(axis=0) + 1e-9), np.subtract(shape[::-1], 1)).astype(int)
        if (low > high).any():
            continue
        column, row = np.meshgrid(np.arange(low[0], high[0] + 1), np.arange(low[1], high[1] + 1))
        offset = np.stack([column, row], axis=-1) - flat[0]
        weights = offset @ np.linalg.inv(flat[1:] - flat[0])
        own = (weights >= -1e-9).all(axis=-1) & (weights.sum(axis=-1) <= 1.0 + 1e-9)
        points[row[own], column[own]] = solid[0] + weights[own] @ (solid[1:] - solid[0])
    return points


@dataclass(frozen=True, eq=False)
class WallMap:
    """How long each place of one LED surface lies in how many cameras' frustums.

    Arrays have the surface's cells: row 0 along its upper edge, column 0 along its left edge.

    Attributes
    ----------
    surface, kind : name and kind of the LED surface
    size_m : width and height of it unrolled
    seconds : of rundown looked at
    is_wall : (r, c) cells that are on the surface
    seconds_in : (n + 1, r, c) seconds in which a cell lies in exactly 0, 1, 2 .. n frustums
    most_at_once : (r, c) largest number of frustums it lies in at once
    camera_share : by camera, (r, c) share of the time in which a cell lies in its frustum
    outlines : by camera, (k, 2, 2) lines of its frustum's border at the worst moment, metres from the left
        edge and from the lower edge
    worst_timecode, worst_overlap_m2 : when most area is shared, summed over pairs of cameras; "" and 0
        when none is
    """

    surface: str
    kind: Literal["wall", "floor", "ceiling"]
    size_m: tuple[float, float]
    seconds: float
    is_wall: Bools
    seconds_in: Array
    most_at_once: npt.NDArray[np.int64]
    camera_share: Mapping[str, Array]
    outlines: Mapping[str, Array]
    worst_timecode: str
    worst_overlap_m2: float

    @property
    def overlap_s(self) -> Array:
        """(r, c) seconds in which a cell lies in two frustums or more."""
        total: Array = self.seconds_in[2:].sum(axis=0)
        return total


class CellTimes:
    """Adds up for how many frames each cell lies in which frustums.

    Parameters
    ----------
    cells : of the LED surfaces
    cameras : how many cameras
    """

    def __init__(self, cells: WallCells, cameras: int) -> None:
        self.cells, count = cells, len(cells.points)
        self.frames = 0
        self._planes: list[Array | None] = [None] * cameras
        self._inside = np.zeros((cameras, count), dtype=bool)
        self._together = np.zeros(count, dtype=np.uint8)
        self._held = 0
        self._camera_held = [0] * cameras
        self._frames_in = np.zeros((cameras + 1, count), dtype=np.int32)
        self._of_camera = np.zeros((cameras, count), dtype=np.int32)

    def add(self, planes: Sequence[Array], frames: int) -> None:
        """Frames in which the cameras' frustums have these border planes (4, 4); give the same objects
        while they stay."""
        changed = [place for place, own in enumerate(planes) if own is not self._planes[place]]
        if changed:
            self._settle(changed)
            for place in changed:
                self._planes[place] = planes[place]
                self._inside[place] = self.cells.inside(planes[place])
            self._together = self._inside.sum(axis=0, dtype=np.uint8)
        self.frames += frames
        self._held += frames
        self._camera_held = [held + frames for held in self._camera_held]

    def frames_in(self) -> npt.NDArray[np.int32]:
        """(cameras + 1, n) frames in which a cell lies in exactly 0, 1, 2 .. frustums."""
        self._settle(range(len(self._planes)))
        return self._frames_in

    def frames_of_camera(self) -> npt.NDArray[np.int32]:
        """(cameras, n) frames in which a cell lies in each camera's frustum."""
        self._settle(range(len(self._planes)))
        return self._of_camera

    def _settle(self, cameras: Sequence[int]) -> None:
        """Write down what has stood still until now."""
        if self._held:
            for number, total in enumerate(self._frames_in):
                total += (self._together == number) * np.int32(self._held)
            self._held = 0
        for place in cameras:
            if self._camera_held[place]:
                self._of_camera[place] += self._inside[place] * np.int32(self._camera_held[place])
                self._camera_held[place] = 0


def wall_maps(
    surfaces: Sequence[LedSurface],
    times: CellTimes,
    names: Sequence[str],
    fps: float,
    outlines: Sequence[Mapping[str, Array]],
    worst: Sequence[tuple[str, float]],
) -> tuple[WallMap, ...]:
    """One map a surface.

    Parameters
    ----------
    times : what was added up
    names : of the cameras, in the order they were added in
    fps : frames a second
    outlines, worst : for each surface, as ``WallMap`` has them: timecode and square metres
    """
    frames_in, of_camera = times.frames_in(), times.frames_of_camera()
    made = []
    for place, surface in enumerate(surfaces):
        own = times.cells.of_surface(frames_in, place)
        share = times.cells.of_surface(of_camera, place) / max(times.frames, 1)
        numbers = np.arange(len(own))[:, None, None]
        made.append(
            WallMap(
                surface=surface.name,
                kind=surface.kind,
                size_m=surface.size_m,
                seconds=times.frames / fps,
                is_wall=~np.isnan(times.cells.of_surface(times.cells.points[:, 0], place)),
                seconds_in=own / fps,
                most_at_once=np.where(own > 0, numbers, 0).max(axis=0),
                camera_share=dict(zip(names, share, strict=True)),
                outlines=outlines[place],
                worst_timecode=worst[place][0],
                worst_overlap_m2=worst[place][1],
            )
        )
    return tuple(made)
