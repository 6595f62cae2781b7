"""Moire risk of very many sightlines, as ``preview.optics.alias`` has it.

Only the strength of the best seen pattern is worked out, not which one it is and how it runs, which takes a
third of the time. Tests hold both against each other.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import lru_cache
from itertools import product
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from preview.checks.seen_moire import emitter_of, optics_of, viewing_of
from preview.floor.result import Floats
from preview.optics.alias import HARMONICS
from preview.optics.transfer import Emitter, LensLookup, Lookup
from preview.optics.viewing import LUMINANCE_SHARES, color_difference, color_filter, risk_of
from preview.show import model
from preview.stage.surface import LedSurface
from preview.timeline.framing import sensor_of


@lru_cache(maxsize=1)
def _lens_table() -> LensLookup:
    return LensLookup()


class Risk:
    """Moire risk in one camera's picture.

    Parameters
    ----------
    camera : its sensor, lens and stop
    surfaces : LED surfaces of the stage
    picture_px : width and height of the picture that is looked at
    """

    def __init__(
        self, camera: model.Camera, surfaces: Sequence[LedSurface], picture_px: tuple[int, int]
    ) -> None:
        sensor = sensor_of(camera)
        self._optics, self._viewing = optics_of(camera), viewing_of(camera, picture_px)
        self._photosites, self._filter = sensor.photosites, sensor.color_filter
        self._emitters = [emitter_of(surface) for surface in surfaces]
        picture = [min(pair) for pair in zip(sensor.photosites, picture_px, strict=True)]
        viewing = replace(self._viewing, picture_px=(picture[0], picture[1]))
        self._scale = [np.float32(s / p) for s, p in zip(sensor.photosites, picture, strict=True)]
        self._degree = [np.float32(per) for per in viewing.degree_cycles]
        self._lens, self._seen = _lens_table(), Lookup(viewing.sensitivity, 64.0, 8192)
        self._color = Lookup(color_filter, 64.0, 4096)
        self._most = float(viewing.sensitivity(np.linspace(0.05, 64.0, 8192)).max())

    def __call__(self, gradients: Floats, blur_mm: Floats, surface: npt.NDArray[np.integer]) -> Floats:
        """Risk 0..1 of sightlines (n,), 0 where no LED surface is met.

        Parameters
        ----------
        gradients : (4, n) as of ``preview.optics.lattice``
        blur_mm : (n,) blur discs on the sensor
        surface : (n,) place of the LED surface in the stage's list, below 0 for none
        """
        strength = np.zeros(len(blur_mm), dtype=np.float32)
        for emitter in dict.fromkeys(self._emitters):
            places = [place for place, one in enumerate(self._emitters) if one == emitter]
            mine = surface == places[0]
            for place in places[1:]:
                mine |= surface == place
            self._of_emitter(emitter, gradients, blur_mm, np.flatnonzero(mine), strength)
        return risk_of(strength)

    def _of_emitter(
        self, emitter: Emitter, gradients: Floats, blur_mm: Floats, where: npt.NDArray[np.intp], best: Floats
    ) -> None:
        whole = len(where) == len(best)
        own = gradients if whole else np.stack([row.take(where) for row in gradients])
        if len(where):
            best[where] = self._strongest(emitter, own, blur_mm if whole else blur_mm.take(where))

    def _strongest(self, emitter: Emitter, gradients: Floats, blur_mm: Floats) -> Floats:
        """(n,) times what an observer just sees of the best seen pattern, as ``patterns`` has it."""
        optics, best = self._optics, np.zeros(len(blur_mm), dtype=np.float32)
        across, down = (np.float32(1.0 / side) for side in optics.photosite_mm)
        for m, n in HARMONICS:
            amplitude = np.float32(2.0 * abs(emitter.amplitude(m, n)))
            fx, fy = (_sum(m, gradients[i], n, gradients[i + 2]) for i in (0, 1))
            cycles = _length(fx * across, fy * down)
            share = cycles * np.float32(1.0 / optics.cutoff_cycles_mm)
            if amplitude * self._most < 1.0 or share.min() >= 1.0:
                continue
            cycles *= blur_mm
            contrast = self._lens(share, cycles)
            contrast *= amplitude
            axes = [self._axis(f, axis) for axis, f in enumerate((fx, fy))]
            for f in (fx, fy):
                if optics.lowpass_photosites:
                    contrast *= np.cos(f * np.float32(np.pi * optics.lowpass_photosites))
                f *= np.float32(np.pi * optics.aperture_share)
                f += np.float32(1e-12)
                contrast *= np.sin(f)
                contrast /= f
            np.abs(contrast, out=contrast)
            for x, y in product(*axes):
                seen = self._as_seen(x, y)
                seen *= contrast
                np.maximum(best, seen, out=best)
        return best

    def _axis(self, f: Floats, axis: int) -> list[_Alias]:
        """The aliases that replicas whole cycles per photosite apart, and behind colour filters half a cycle
        off, leave along one axis."""
        found = []
        for half in (False, True) if self._filter == "bayer" else (False,):
            near = f - np.float32(0.5) if half else f
            near = near - np.rint(near)
            cosine = np.cos(near * np.float32(2.0 * np.pi)) if self._filter == "bayer" else None
            near *= self._scale[axis]
            shown = _display(near)
            if self._scale[axis] > 1.0:
                shown *= np.abs(near) <= 0.5
            near *= self._degree[axis]
            near *= near
            found.append(_Alias(half, near, shown, cosine))
        return found

    def _as_seen(self, x: _Alias, y: _Alias) -> Floats:
        """(n,) times what an observer just sees of the pattern that a contrast of 1 on the photosites makes,
        in luminance or in colour, whichever is better seen; colours as in ``preview.optics.alias``."""
        u = np.sqrt(x.squares + y.squares)
        seen = self._seen(u)
        if x.cosine is not None and y.cosine is not None:
            luminance, color = _mosaic(x, y)
            color *= self._color(u)
            seen *= luminance
            np.maximum(seen, color, out=seen)
        seen *= x.shown
        seen *= y.shown
        return seen


class _Alias(NamedTuple):
    """Aliases along one axis, (n,) each.

    ``half``: from replicas half a cycle off; ``squares``: of its cycles per degree; ``shown``: what display
    pixels leave of it; ``cosine``: of one photosite's phase, None without colour filters.
    """

    half: bool
    squares: Floats
    shown: Floats
    cosine: Floats | None


def _mosaic(x: _Alias, y: _Alias) -> tuple[Floats, Floats]:
    """Luminance contrast, and colour difference, that one pair of aliases makes of a contrast of 1 behind a
    Bayer filter, colours between sites taken as bilinear."""
    assert x.cosine is not None
    assert y.cosine is not None
    red, green, blue = LUMINANCE_SHARES
    between = (1 + x.cosine) * (1 + y.cosine) * np.float32(0.25)  # of red and blue
    if x.half != y.half:  # red and blue are opposite, green is still
        unit = float(color_difference([1.0, 0.0, -1.0]))
        return between * np.float32(abs(red - blue)), between * np.float32(unit)
    chequered = (x.cosine + y.cosine) * np.float32(0.25) + np.float32(0.5)
    sign = np.float32(-1.0 if x.half else 1.0)
    luminance = np.abs(chequered * np.float32(green) + between * (sign * np.float32(red + blue)))
    unit = float(color_difference([0.0, 1.0, 0.0]))
    return luminance, np.abs(chequered - between * sign) * np.float32(unit)


def _sum(m: int, one: Floats, n: int, other: Floats) -> Floats:
    found = one * np.float32(m)
    if n:
        found += other if n == 1 else other * np.float32(n)
    return found


def _length(x: Floats, y: Floats) -> Floats:
    """Root of the sum of squares, several times as fast as ``numpy.hypot``; x and y are overwritten."""
    x *= x
    y *= y
    x += y
    return np.sqrt(x, out=x)


def _display(cycles: Floats) -> Floats:
    """What evenly lit display pixels leave, sin(pi x) / (pi x) for |x| <= 0.5, by its series, to 2e-6."""
    y = cycles * np.float32(np.pi)
    y *= y
    found = y * np.float32(1 / 362880)
    for term in (-1 / 5040, 1 / 120, -1 / 6):
        found += np.float32(term)
        found *= y
    found += np.float32(1.0)
    return found
