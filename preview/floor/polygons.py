"""LED surfaces as flat convex polygons, and which of them the sightlines of many cameras meet."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
from scipy.spatial import ConvexHull

from preview.conventions import Array
from preview.floor.result import Bools, Floats
from preview.optics.lattice import Facets
from preview.stage.falloff import Falloff
from preview.stage.surface import LedSurface

_JOINT_RAD = 1e-5
"""A sightline so near to a polygon's edge passes through it: none slips through a joint."""


class Met(NamedTuple):
    """What sightlines meet first.

    Attributes
    ----------
    polygon : (k, n) int32 place in the list of polygons; -1 for none
    front : (k, n) bool, whether it is met on its lit side
    """

    polygon: npt.NDArray[np.int32]
    front: Bools


@dataclass(frozen=True, eq=False)
class Polygons:
    """Flat convex parts of LED surfaces: facets that share a plane and their way onto the canvas are one.

    Attributes
    ----------
    corners_m : (m, e, 3) stage metres, counter-clockwise seen from the lit side; a polygon with fewer
        corners repeats its last one
    facets : (m) one facet of each, for its plane and its canvas
    surface : (m,) place of its surface in the stage's list
    rows : (m, 3) unit direction of its canvas rows, stage axes
    wall : (m,) whether its surface is of kind wall
    power : (m, 2) powers of the cosine with which its tiles lose luminance, across and down
    """

    corners_m: Array
    facets: Facets
    surface: npt.NDArray[np.int64]
    rows: Array
    wall: Bools
    power: Array

    @classmethod
    def of(cls, surfaces: Sequence[LedSurface]) -> Polygons:
        """Of the stage's LED surfaces."""
        everything = Facets.of(surfaces)
        corners: list[Array] = []
        facet: list[int] = []
        place: list[int] = []
        for number, surface in enumerate(surfaces):
            for triangle, outline in _outlines(surface):
                corners.append(outline)
                facet.append(everything.first[number] + triangle)
                place.append(number)
        most = max(len(outline) for outline in corners)
        padded = [np.concatenate([o, np.repeat(o[-1:], most - len(o), axis=0)]) for o in corners]
        rows = everything.rows[facet]
        falloff = [Falloff.of(s.viewing_angle_deg, s.viewing_angle_of) for s in surfaces]
        return cls(
            np.array(padded),
            Facets(rows, everything.offsets[facet], (0,)),
            np.array(place),
            rows[:, :3] / np.linalg.norm(rows[:, :3], axis=1, keepdims=True),
            np.array([surfaces[one].kind == "wall" for one in place]),
            np.array([(falloff[one].across, falloff[one].down) for one in place]),
        )

    def meet(self, pupil_m: Array, rotation: Array, tangents: Floats, grid: tuple[int, int]) -> Met:
        """What a grid of sightlines of each of many cameras meets first.

        A sightline meets a polygon when it lies on the same side of the planes that its sides make with the
        entrance pupil; only sightlines between its outermost corners in the picture are tried.

        Parameters
        ----------
        pupil_m, rotation : (k, 3) and (k, 3, 3), as of ``Stands``
        tangents : (k, h * w, 2) sightlines at unit distance, x right, y down; row by row, columns and rows
            rising across the picture
        grid : w and h
        """
        count, (width, height) = len(pupil_m), grid
        turned = self.corners_m.reshape(-1, 3) @ rotation - (pupil_m[:, None] @ rotation)
        local = turned.reshape(count, *self.corners_m.shape)
        normals, offsets = self.facets.rows[:, 6:], self.facets.offsets
        before = pupil_m @ normals.T + offsets
        columns, rows = _reaches(tangents.reshape(count, height, width, 2))
        camera, polygon, span = _in_picture(local, before, columns, rows)
        sides = np.cross(local[camera, polygon], np.roll(local[camera, polygon], -1, axis=1))
        sides *= -np.sign(before[camera, polygon])[:, None, None]
        sides /= np.maximum(np.linalg.norm(sides, axis=2, keepdims=True), 1e-12)
        pair, sample = _samples(camera, span, width, height)
        # A sightline is (x, 1, -y) in camera axes.
        x, y = (np.ascontiguousarray(tangents[..., axis]).reshape(-1).take(sample) for axis in (0, 1))
        inside = np.ones(len(pair), dtype=bool)
        for side in np.ascontiguousarray(sides.transpose(1, 2, 0), dtype=np.float32):
            across = side[0].take(pair)
            across *= x
            across -= side[2].take(pair) * y
            across += side[1].take(pair)
            inside &= across >= np.float32(-_JOINT_RAD)
        hit = np.flatnonzero(inside)
        pair, sample, x, y = pair.take(hit), sample.take(hit), x.take(hit), y.take(hit)
        plane = np.einsum("px,pxc->pc", normals[polygon], rotation[camera]).astype(np.float32)
        along = plane[:, 0].take(pair) * x
        along -= plane[:, 2].take(pair) * y
        along += plane[:, 1].take(pair)
        with np.errstate(divide="ignore", invalid="ignore"):
            ahead = -before[camera, polygon].astype(np.float32).take(pair) / along
        winner = _nearest(ahead, sample, count * width * height)
        met = np.full(count * width * height, -1, dtype=np.int32)
        met[sample[winner]] = polygon.astype(np.int32)[pair[winner]]
        front = np.zeros(len(met), dtype=bool)
        front[sample[winner]] = (before[camera, polygon] > 0.0)[pair[winner]]
        return Met(met.reshape(count, -1), front.reshape(count, -1))


def _outlines(surface: LedSurface) -> list[tuple[int, Array]]:
    """Facets' numbers and (e, 3) outlines of the convex polygons they make with those in the same plane."""
    maps = surface.canvas_from_stage.reshape(len(surface.triangles), -1)
    keys = np.round(np.concatenate([surface.planes * 1e6, maps * 1e3], axis=1)).astype(np.int64)
    _, group = np.unique(keys, axis=0, return_inverse=True)
    found = []
    for number in range(int(group.max()) + 1):
        members = np.flatnonzero(group.reshape(-1) == number)
        together = _hull(surface, members) if len(members) > 1 else None
        if together is not None:
            found.append((int(members[0]), together))
        else:
            found += [(int(one), surface.positions[surface.triangles[one]]) for one in members]
    return found


def _hull(surface: LedSurface, members: npt.NDArray[np.int64]) -> Array | None:
    """Outline of triangles of one plane, if they fill their convex hull."""
    used = np.unique(surface.triangles[members])
    canvas = surface.canvas[used]
    edges = surface.canvas[surface.triangles[members]]
    spans = edges[:, 1:] - edges[:, :1]
    area = float(np.abs(spans[:, 0, 0] * spans[:, 1, 1] - spans[:, 0, 1] * spans[:, 1, 0]).sum()) / 2
    hull = ConvexHull(canvas)
    if abs(hull.volume - area) > 1e-6 * area:
        return None
    flat = canvas[hull.vertices]
    before, after = flat - np.roll(flat, 1, axis=0), np.roll(flat, -1, axis=0) - flat
    corner = np.abs(before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]) > 1e-9 * area
    outline = surface.positions[used[hull.vertices[corner]]]
    spokes = outline[1:] - outline[:1]
    upright = np.cross(spokes[:-1], spokes[1:]).sum(axis=0) @ surface.normals[members[0]] > 0
    return np.asarray(outline if upright else outline[::-1])


class _Reach(NamedTuple):
    low: Array  # (k, c) least and largest tangent in each column, or row
    high: Array


def _reaches(lattice: npt.NDArray[np.float32]) -> tuple[_Reach, _Reach]:
    x, y = lattice[..., 0], lattice[..., 1]
    return _Reach(x.min(axis=1), x.max(axis=1)), _Reach(y.min(axis=2), y.max(axis=2))


class _Span(NamedTuple):
    """First column and row, and how many, of the part of the picture that may show a polygon, (p,) each."""

    column: npt.NDArray[np.int64]
    columns: npt.NDArray[np.int64]
    row: npt.NDArray[np.int64]
    rows: npt.NDArray[np.int64]


def _in_picture(
    local: Array, before: Array, columns: _Reach, rows: _Reach
) -> tuple[npt.NDArray[np.int64], npt.NDArray[np.int64], _Span]:
    """Cameras and polygons that may meet (p,), and where in the picture.

    ``local`` (k, m, e, 3) are corners in camera axes. A polygon that reaches behind the pupil may be
    anywhere.
    """
    ahead = local[..., 1]
    near = 1e-6
    wholly = ahead.min(axis=2) > near
    with np.errstate(divide="ignore", invalid="ignore"):
        x, y = local[..., 0] / ahead, -local[..., 2] / ahead
    limits = []
    for values in (x, y):
        low = np.where(wholly, values.min(axis=2), -np.inf)
        high = np.where(wholly, values.max(axis=2), np.inf)
        limits.append((low - 1e-4, high + 1e-4))
    (left, right), (top, bottom) = limits
    may = (ahead.max(axis=2) > near) & (np.abs(before) > 1e-9)
    may &= (right >= columns.low[:, :1]) & (left <= columns.high[:, -1:])
    may &= (bottom >= rows.low[:, :1]) & (top <= rows.high[:, -1:])
    camera, polygon = np.nonzero(may)
    spans = []
    for low, high, reach in ((left, right, columns), (top, bottom, rows)):
        first = (reach.high[camera] < low[camera, polygon][:, None]).sum(axis=1)
        after = (reach.low[camera] <= high[camera, polygon][:, None]).sum(axis=1)
        spans += [first, np.maximum(after - first, 0)]
    return camera, polygon, _Span(*spans)


def _samples(
    camera: npt.NDArray[np.int64], span: _Span, width: int, height: int
) -> tuple[npt.NDArray[np.int64], npt.NDArray[np.int64]]:
    """Every sightline to try: its pair of camera and polygon, and its place among all cameras' sightlines."""
    count = len(camera)
    of_row = np.repeat(np.arange(count), span.rows)
    row = np.arange(len(of_row)) - np.repeat(np.cumsum(span.rows) - span.rows, span.rows) + span.row[of_row]
    wide = span.columns[of_row]
    start = (camera[of_row] * height + row) * width + span.column[of_row]
    pair = np.repeat(of_row, wide)
    sample = np.arange(len(pair)) + np.repeat(start - (np.cumsum(wide) - wide), wide)
    return pair, sample


def _nearest(ahead: Floats, sample: npt.NDArray[np.int64], count: int) -> npt.NDArray[np.int64]:
    """Places in ``ahead`` of the nearest meeting of each sightline that has one."""
    depth = np.full(count, np.inf, dtype=np.float32)
    usable = ahead > 0.0
    closer = np.flatnonzero(usable)
    while len(closer):  # of several meetings of one sightline one is kept at a time, until none is nearer
        depth[sample.take(closer)] = ahead.take(closer)
        closer = closer[ahead.take(closer) < depth.take(sample.take(closer))]
    first = np.full(count, -1, dtype=np.int64)
    at = np.flatnonzero(usable & (ahead == depth.take(sample)))
    first[sample.take(at)] = at
    return first[first >= 0]
