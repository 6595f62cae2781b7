"""Synthesis: a crop of a picture with the LED lattice in it, drawn by brute force through the same optics.

Nothing of the prediction goes into it, so a person sees whether the prediction is right.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from preview.camera.view import CameraView
from preview.checks.seen_moire import Floats, blur_of, emitter_of, optics_of
from preview.checks.structure import stop_of
from preview.conventions import Array
from preview.optics.alias import HARMONICS
from preview.optics.synthesis_core import CanvasAt, LightOf, Patch, render
from preview.show import model
from preview.stage.surface import Hits, LedSurface
from preview.timeline.framing import sensor_of

MARGIN = 48
"""Photosites round a crop whose light may reach it; sightlines are worked out there too."""
KNOTS = 9
"""Exact sightlines across and down a patch that the cubic goes through."""
_SLACK = 1e-6  # barycentric; a place on a joint must not slip between two facets


@dataclass(frozen=True, eq=False)
class Synthesis:
    """A crop drawn photosite by photosite.

    Attributes
    ----------
    patch : which photosites
    linear : (h, w, 3) float32; what one LED surface makes of it, set and people taken away
    surface : name of that surface
    photosites : of the whole sensor, across and down
    """

    patch: Patch
    linear: Floats
    surface: str
    photosites: tuple[int, int]


def predicted_pattern(
    view: CameraView,
    camera: model.Camera,
    surfaces: Sequence[LedSurface],
    place: int,
    patch: Patch,
) -> Floats:
    """What the prediction says of an evenly white surface: its harmonics' waves, read at the photosites.

    Returns
    -------
    (h, w) float32, mean 1; colour filters left out. NaN where the surface is not met
    """
    surface, sensor = surfaces[place], sensor_of(camera)
    rays = _Rays(view, patch, sensor.photosites)
    x, y = _middles(patch)
    canvas_at = _canvas_on(surface, rays, _round_about(surface, view, rays, patch))
    u, v = canvas_at(x, y)
    step = 1e-3
    right, below = canvas_at(x + step, y), canvas_at(x, y + step)
    hits = surface.intersect(view.pupil_m, rays.directions(x, y).reshape(-1, 3))
    blur = _blur(view, camera, rays, patch, hits)
    optics, emitter = optics_of(camera), emitter_of(surface)
    total = np.where(np.isfinite(u), 1.0, np.nan)
    for m, n in HARMONICS:
        fx = (m * (right[0] - u) + n * (right[1] - v)) / step
        fy = (m * (below[0] - u) + n * (below[1] - v)) / step
        passed = optics.transfer(np.nan_to_num(fx), np.nan_to_num(fy), blur)
        wave = np.cos(2.0 * np.pi * (m * (u - 0.5) + n * (v - 0.5)))
        total += 2.0 * emitter.amplitude(m, n) * passed * wave
    return total.astype(np.float32)


def patch_round(
    row: int, column: int, grid: tuple[int, int], size: tuple[int, int], photosites: tuple[int, int]
) -> Patch:
    """The patch of a sensor round the middle of a field of a grid, moved inside the picture.

    Parameters
    ----------
    grid : fields across and down the picture
    size : width and height of the patch, photosites
    """
    middle = (column + 0.5) / grid[0] * photosites[0], (row + 0.5) / grid[1] * photosites[1]
    width, height = (min(side, most) for side, most in zip(size, photosites, strict=True))
    left = int(np.clip(round(middle[0] - width / 2), 0, photosites[0] - width))
    top = int(np.clip(round(middle[1] - height / 2), 0, photosites[1] - height))
    return Patch(left, top, width, height)


def synthesise(
    view: CameraView,
    camera: model.Camera,
    surfaces: Sequence[LedSurface],
    place: int,
    patch: Patch,
    light: LightOf | None = None,
    samples: int | None = None,
) -> Synthesis:
    """Draw one LED surface's lattice over a patch of a picture.

    Parameters
    ----------
    view, camera : whose picture
    surfaces, place : the stage's surfaces, and which of them is drawn
    patch : which photosites
    light : linear light of its LED pixels; None is an even white
    samples : along a photosite; None takes what the lattice's finest place needs
    """
    surface = surfaces[place]
    sensor = sensor_of(camera)
    rays = _Rays(view, patch, sensor.photosites)
    x, y = _middles(patch)
    hits = surface.intersect(view.pupil_m, rays.directions(x, y).reshape(-1, 3))
    blur = _blur(view, camera, rays, patch, hits)
    linear = render(
        _canvas_on(surface, rays, _round_about(surface, view, rays, patch)),
        patch,
        blur / (sensor.size_mm[0] / sensor.photosites[0]),
        optics_of(camera),
        emitter_of(surface),
        sensor.color_filter,
        light,
        samples,
    )
    return Synthesis(patch, linear, surface.name, sensor.photosites)


class _Rays:
    """Sightlines anywhere in a patch and its margin: a cubic through exact ones.

    Over a patch of a few hundred photosites a lens's distortion is a cubic to far less than an LED pixel.
    """

    def __init__(self, view: CameraView, patch: Patch, photosites: tuple[int, int]) -> None:
        self._half = patch.width / 2 + MARGIN, patch.height / 2 + MARGIN
        self._middle = patch.left + patch.width / 2, patch.top + patch.height / 2
        line = np.cos(np.pi * (np.arange(KNOTS) + 0.5) / KNOTS)
        x, y = (
            middle + half * side.ravel()
            for middle, half, side in zip(self._middle, self._half, np.meshgrid(line, line), strict=True)
        )
        rays, valid = view.sightlines(np.column_stack([x, y]), photosites)
        local = rays @ view.pose.rotation
        plane = local[valid][:, [0, 2]] / local[valid][:, 1:2]
        terms = self._terms(x[valid], y[valid])
        self._factors, *_ = np.linalg.lstsq(terms, plane, rcond=None)
        self._rotation, self.pupil_m = view.pose.rotation, view.pupil_m

    def _terms(self, x: Array, y: Array) -> Array:
        """(n, 16) products of powers up to the third."""
        p, q = (x - self._middle[0]) / self._half[0], (y - self._middle[1]) / self._half[1]
        return np.stack([p**i * q**j for i in range(4) for j in range(4)], axis=-1)

    def tangents(self, x: Array, y: Array) -> tuple[Array, Array]:
        """Right and up at unit distance, at places in photosites."""
        p, q = (x - self._middle[0]) / self._half[0], (y - self._middle[1]) / self._half[1]
        found = []
        for factors in self._factors.T.reshape(2, 4, 4):
            total = np.zeros_like(p)
            for row in factors[::-1]:
                total *= p
                total += ((row[3] * q + row[2]) * q + row[1]) * q + row[0]
            found.append(total)
        return found[0], found[1]

    def turned(self, vector: Array) -> Array:
        """(3,) a stage vector in camera axes: right, ahead, up."""
        return np.asarray(vector @ self._rotation)

    def directions(self, x: Array, y: Array) -> Array:
        """(..., 3) stage directions, not of unit length: one metre ahead."""
        right, up = self.tangents(x, y)
        return np.stack([right, np.ones_like(right), up], axis=-1) @ self._rotation.T


def _middles(patch: Patch) -> tuple[Array, Array]:
    """Middles of a patch's photosites, photosites from the picture's left and top edges."""
    x, y = np.meshgrid(np.arange(patch.width) + 0.5, np.arange(patch.height) + 0.5)
    return x + patch.left, y + patch.top


def _blur(view: CameraView, camera: model.Camera, rays: _Rays, patch: Patch, hits: Hits) -> Array:
    """(h, w) blur discs in mm at the photosites' middles; their mean where the surface is not met."""
    directions = rays.directions(*_middles(patch)).reshape(-1, 3)
    along = directions @ view.pose.rotation[:, 1] / np.linalg.norm(directions, axis=1)
    with np.errstate(invalid="ignore"):
        ahead = np.where(np.isfinite(hits.distance_m), hits.distance_m * along, np.nan)
    blur = blur_of(view, stop_of(camera), ahead).reshape(patch.height, patch.width).astype(np.float64)
    known = np.isfinite(blur)
    return np.where(known, blur, blur[known].mean() if known.any() else 0.0)


def _round_about(surface: LedSurface, view: CameraView, rays: _Rays, patch: Patch) -> npt.NDArray[np.int64]:
    """Triangles that the patch and its margin meet."""
    step = 4
    x, y = np.meshgrid(
        np.arange(patch.left - MARGIN, patch.left + patch.width + MARGIN + 1, step, dtype=np.float64),
        np.arange(patch.top - MARGIN, patch.top + patch.height + MARGIN + 1, step, dtype=np.float64),
    )
    hits = surface.intersect(view.pupil_m, rays.directions(x, y).reshape(-1, 3))
    return np.unique(hits.triangle[hits.front])


def _canvas_on(surface: LedSurface, rays: _Rays, triangles: npt.NDArray[np.int64]) -> CanvasAt:
    """Canvas coordinates of places on the sensor: on each flat facet a projective map."""
    corners = surface.canvas[surface.triangles[triangles]]
    insides = np.linalg.inv(corners[:, 1:] - corners[:, :1])
    maps = []
    for triangle, first, inside in zip(triangles, corners[:, 0], insides, strict=True):
        plane, to_canvas = surface.planes[triangle], surface.canvas_from_stage[triangle]
        # A sightline (right, 1, up) meets the facet at ``ahead`` = height / (slope . sightline).
        slope = rays.turned(plane[:3])
        height = -float(plane[:3] @ rays.pupil_m + plane[3])
        start = to_canvas[:, :3] @ rays.pupil_m + to_canvas[:, 3]
        run = np.stack([rays.turned(row[:3]) for row in to_canvas])
        maps.append((slope, height, start, run, first, inside))

    def canvas_at(x: Array, y: Array) -> tuple[Array, Array]:
        right, up = rays.tangents(x, y)
        u, v = np.full(x.shape, np.nan), np.full(x.shape, np.nan)
        deepest = np.full(x.shape, -_SLACK)
        for slope, height, start, run, first, inside in maps:
            with np.errstate(divide="ignore", invalid="ignore"):
                ahead = height / (slope[0] * right + slope[1] + slope[2] * up)
                at_u, at_v = (
                    start[row] + ahead * (run[row, 0] * right + run[row, 1] + run[row, 2] * up)
                    for row in (0, 1)
                )
                off_u, off_v = at_u - first[0], at_v - first[1]
                one_way = off_u * inside[0, 0] + off_v * inside[1, 0]
                other = off_u * inside[0, 1] + off_v * inside[1, 1]
                depth = np.minimum(np.minimum(one_way, other), 1.0 - one_way - other)
                better = (depth > deepest) & (ahead > 0.0)
            np.copyto(u, at_u, where=better)
            np.copyto(v, at_v, where=better)
            np.copyto(deepest, depth, where=better)
        return u, v

    return canvas_at
