"""What the pictures taken from many places show of the LED surfaces, as a few numbers each.

A picture is a grid of sightlines through the middles of equal fields, and one more line of them all round
its border. Set, people and equipment hide nothing.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, fields

import numpy as np
import numpy.typing as npt

from preview.camera.lens import lens_distortion
from preview.checks.structure import photosite_mm, stop_of
from preview.conventions import Array
from preview.floor.aim import Aim, LensGrid, Stands
from preview.floor.polygons import Polygons
from preview.floor.result import Bools, Floats
from preview.floor.risk import Risk
from preview.optics.lattice import crossing
from preview.show.thresholds import Checks
from preview.stage.falloff import GRAZING
from preview.timeline.framing import lens_of, sensor_of

BLOCK = 64
"""Places at once: their sightlines stay in a core's cache."""
CHUNK = 2048
"""Places between two looks at the moire of all their sightlines."""
THIN = 0.25
"""What a strip off the wall that only the border shows counts, in fields. Own choice."""


@dataclass(frozen=True, eq=False)
class Pictured:
    """Numbers of pictures taken from n places, (n,) float32 each.

    Attributes
    ----------
    off : percent of the picture that shows no LED surface's lit side
    loss, angle : of the LED walls' seen points: greatest loss of luminance against straight on, percent, and
        greatest angle off straight on, degrees; NaN where no wall is in the picture
    structure : percent of the picture in which LED pixels are resolved, as ``preview.checks.structure``
    overlap : percent of the picture that lies in other cameras' frustums
    worst, mean : moire risk 0..1, the largest, and the mean over all LED surfaces seen; NaN without any
    moire : percent of the picture in which the risk counts (checks.moire.risk)
    """

    off: Floats
    loss: Floats
    angle: Floats
    structure: Floats
    overlap: Floats
    worst: Floats
    mean: Floats
    moire: Floats

    @classmethod
    def unknown(cls, count: int) -> Pictured:
        """All NaN."""
        return cls(*(np.full(count, np.nan, dtype=np.float32) for _ in fields(cls)))


class Pictures:
    """Takes pictures of one framing from many places.

    Parameters
    ----------
    aim : the framing
    polygons : LED surfaces of the stage
    risk : moire risk of sightlines
    checks : the show's thresholds
    frustums : (c, 4, 4) border planes of other cameras' frustums, positive inside, stage metres
    lens : sightlines of the picture, on the grid that ``picture_grid`` gives
    """

    def __init__(
        self, aim: Aim, polygons: Polygons, risk: Risk, checks: Checks, frustums: Array, lens: LensGrid
    ) -> None:
        self._polygons, self._risk, self._frustums, self._lens = polygons, risk, frustums, lens
        self._across, self._down = aim.options.sightlines
        sensor = sensor_of(aim.camera)
        self._size_mm, self._photosites = np.array(sensor.size_mm), np.array(sensor.photosites)
        self._distortion = lens_distortion(lens_of(aim.camera))
        self._offset_m = lens_of(aim.camera).entrance_pupil_offset_m
        self._stop, self._site_mm = stop_of(aim.camera), photosite_mm(aim.camera)
        self._limits, self._counts = checks.structure, np.float32(max(checks.moire.risk, 1e-6))
        self._surface = polygons.surface.astype(np.int16)

    def take(self, stands: Stands, on_place: Callable[[int], None] = lambda done: None) -> Pictured:
        """Pictures from all these places, every one of which the framing can be taken from.

        Parameters
        ----------
        on_place : told how many are done
        """
        total = len(stands.focal_mm)
        found = Pictured.unknown(total)
        with ThreadPoolExecutor(_workers()) as pool:
            for first in range(0, total, CHUNK):
                chunk = range(first, min(first + CHUNK, total), BLOCK)
                parts = [slice(start, min(start + BLOCK, chunk.stop)) for start in chunk]
                for _ in pool.map(lambda part: self._look(stands.take(part), found, part), parts):
                    pass
                on_place(chunk.stop)
        return found

    def _look(self, stands: Stands, found: Pictured, part: slice) -> None:
        across, down, count = self._across, self._down, len(stands.focal_mm)
        everywhere = self._lens.tangents(stands.projection_mm)
        met = self._polygons.meet(stands.pupil_m, stands.rotation, everywhere, (across + 2, down + 2))
        lit = met.front.reshape(count, down + 2, across + 2)
        found.off[part] = _off_percent(lit)
        inner = (slice(None), slice(1, -1), slice(1, -1))
        polygon = np.where(lit, met.polygon.reshape(lit.shape), np.int32(-1))[inner].reshape(count, -1)
        tangents = everywhere.reshape(*lit.shape, 2)[inner].reshape(count, -1, 2)
        per_unit = self._photosites * stands.projection_mm[:, None] / self._size_mm
        gradients, ahead = crossing(
            self._polygons.facets, polygon, tangents, stands.pupil_m, stands.rotation, per_unit,
            self._distortion, np.float32,
        )  # fmt: skip
        x, y = (np.ascontiguousarray(tangents[..., axis]) for axis in (0, 1))
        seen = polygon >= 0
        blur = self._blur_mm(stands, ahead)
        found.structure[part] = self._structure(gradients, blur)
        found.loss[part], found.angle[part] = self._aside(stands.rotation, polygon, x, y)
        if len(self._frustums):
            found.overlap[part] = self._shared(stands, x, y, ahead, seen)
        else:
            found.overlap[part] = 0.0
        self._moire(np.asarray(gradients, dtype=np.float32), blur, polygon, found, part)

    def _moire(
        self, gradients: Floats, blur_mm: Floats, polygon: npt.NDArray[np.int32], found: Pictured, part: slice
    ) -> None:
        seen = polygon >= 0
        surface = np.where(seen, self._surface.take(np.maximum(polygon, 0)), np.int16(-1))
        risk = self._risk(gradients.reshape(4, -1), blur_mm.ravel(), surface.ravel()).reshape(seen.shape)
        number = seen.sum(axis=1)
        with np.errstate(invalid="ignore"):
            found.worst[part] = np.where(number > 0, risk.max(axis=1), np.nan)
            found.mean[part] = risk.sum(axis=1) / np.where(number > 0, number, np.nan)
        found.moire[part] = 100.0 * (risk >= self._counts).mean(axis=1)

    def _blur_mm(self, stands: Stands, ahead_m: npt.NDArray[np.floating]) -> Floats:
        """(k, n) blur discs as of ``preview.camera.focus.blur_disc_mm``; NaN stays NaN."""
        focus_mm = np.maximum(1000.0 * (stands.focus_m - self._offset_m), 1.001 * stands.focal_mm)
        scale = (stands.focal_mm**2 / (self._stop * (focus_mm - stands.focal_mm))).astype(np.float32)
        focus_m = (focus_mm / 1000.0).astype(np.float32)
        off = np.abs(1.0 - focus_m[:, None] / ahead_m)
        off *= scale[:, None]
        return np.asarray(off, dtype=np.float32)

    def _structure(self, gradients: npt.NDArray[np.floating], blur_mm: Floats) -> Array:
        across, down = (self._photosites / self._size_mm).astype(np.float32)
        ux, uy, vx, vy = gradients
        finest = np.minimum(
            np.square(ux * across) + np.square(uy * down), np.square(vx * across) + np.square(vy * down)
        )
        with np.errstate(invalid="ignore", divide="ignore"):
            period = 1.0 / np.sqrt(finest)
            through = period >= np.float32(self._limits.pitch_photosites * self._site_mm)
            through &= blur_mm < np.float32(self._limits.blur_pitches) * period
        return 100.0 * through.mean(axis=1)

    def _aside(
        self, rotation: Array, polygon: npt.NDArray[np.int32], x: Floats, y: Floats
    ) -> tuple[Array, Array]:
        """Loss of luminance, percent, and angle off straight on, degrees, each the greatest on walls."""
        polygons, count = self._polygons, len(rotation)
        walls = polygons.wall[polygon] & (polygon >= 0)
        place = np.where(walls, polygon, 0) + len(polygons.wall) * np.arange(count)[:, None]

        def along(directions: Array) -> Floats:
            turned = np.einsum("mx,kxc->kmc", directions, rotation).astype(np.float32).reshape(-1, 3)
            right, forward, up = np.ascontiguousarray(turned.T)
            return right.take(place) * x + forward.take(place) - up.take(place) * y

        length = 1.0 + x * x + y * y
        per_metre = 1.0 / np.sqrt(length)
        cosine = -along(polygons.facets.rows[:, 6:]) * per_metre
        level = np.maximum(1.0 - cosine * cosine, np.float32(1e-12))
        share = np.minimum(np.square(along(polygons.rows)) / (length * level), np.float32(1.0))
        across, down = (np.ascontiguousarray(p, dtype=np.float32)[np.where(walls, polygon, 0)]
                        for p in polygons.power.T)  # fmt: skip
        seen = np.maximum(cosine, np.float32(GRAZING)) ** (down + (across - down) * share)
        least = np.where(walls, seen, np.inf).min(axis=1)
        straight = np.where(walls, cosine, np.inf).min(axis=1)
        none = ~walls.any(axis=1)
        angle = np.degrees(np.arccos(np.clip(straight, 0.0, 1.0)))
        return np.where(none, np.nan, 100.0 * (1.0 - least)), np.where(none, np.nan, angle)

    def _shared(
        self, stands: Stands, x: Floats, y: Floats, ahead_m: npt.NDArray[np.floating], seen: Bools
    ) -> Array:
        """Percent of each picture inside any of the frustums."""
        inside = np.zeros(seen.shape, dtype=bool)
        with np.errstate(invalid="ignore"):
            for planes in self._frustums:
                one = seen.copy()
                turned = np.einsum("px,kxc->pkc", planes[:, :3], stands.rotation).astype(np.float32)
                starts = (planes[:, :3] @ stands.pupil_m.T + planes[:, 3:]).astype(np.float32)
                for (right, forward, up), start in zip(turned.transpose(0, 2, 1), starts, strict=True):
                    height = right[:, None] * x
                    height += forward[:, None]
                    height -= up[:, None] * y
                    height *= ahead_m
                    height += start[:, None]
                    one &= height >= 0.0
                inside |= one
        return 100.0 * inside.mean(axis=1)


def picture_grid(across: int, down: int) -> Array:
    """((down + 2) * (across + 2), 2) places in a picture, shares of its sides from its middle: the middles of
    fields and a line of places on the border, row by row."""
    lines = []
    for count in (across, down):
        lines.append(np.concatenate([[0.0], np.arange(count) + 0.5, [count]]) / count - 0.5)
    x, y = np.meshgrid(*lines)
    return np.column_stack([x.ravel(), y.ravel()])


def _off_percent(lit: Bools) -> Array:
    """Fields off the wall, and THIN of one for each place on the border that is off beside a field that is
    not."""
    off = ~lit
    fields_off = off[:, 1:-1, 1:-1]
    thin = sum(
        (border & ~beside).sum(axis=1)
        for border, beside in (
            (off[:, 0, 1:-1], fields_off[:, 0]),
            (off[:, -1, 1:-1], fields_off[:, -1]),
            (off[:, 1:-1, 0], fields_off[:, :, 0]),
            (off[:, 1:-1, -1], fields_off[:, :, -1]),
        )
    )
    return 100.0 * (fields_off.sum(axis=(1, 2)) + THIN * thin) / fields_off[0].size


def _workers() -> int:
    return max(1, min(8, len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else 2))
