"""Aliases of the LED lattice: which coarse pattern a sensor makes of it, how strong, and whether it is seen.

Each harmonic of the lattice falls on the photosites as a wave. Photosites can tell a frequency only up to the
steps of their own reciprocal lattice, so the picture shows the wave nearest to zero among its replicas:

- three-chip: all colours are sampled at every photosite; replicas lie whole cycles per photosite apart.
- Bayer: green at every second photosite in a chequered (quincunx) order, so half a cycle in both directions
  apart too; red and blue at every second one in both directions, so half a cycle in either direction apart
  too. The colours do not agree there: what is left is a pattern of colour, and a weaker one of luminance.
  Colours between sites are taken as bilinear.

A harmonic below half a cycle is no alias: the picture shows the grid of LED pixels itself (kind ``grid``).
Close to half a cycle it beats all the same, with its replica on the other side that a display's pixels let
through; ``Patterns.beats`` gives that. If the picture has fewer pixels than the sensor photosites, the scaler
between is taken as perfect: it folds nothing and keeps what is below half a cycle per picture pixel.

Sources: D. P. Petersen, D. Middleton, "Sampling and reconstruction of wave-number-limited functions in
N-dimensional Euclidean spaces", Information and Control 5, 1962; I. Amidror, "The Theory of the Moire
Phenomenon", and for beats below half a cycle "Sub-Nyquist artefacts and sampling moire effects", Royal
Society Open Science, 2015; D. Alleysson, S. Suesstrunk, J. Herault, "Linear demosaicing inspired by the human
visual system", IEEE Trans. Image Processing 14(4), 2005, for the Bayer colours (titles from memory).
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Literal, NamedTuple

import numpy as np
import numpy.typing as npt

from preview.conventions import Array
from preview.optics.transfer import Emitter, LensLookup, Lookup, Optics
from preview.optics.viewing import LUMINANCE_SHARES, Viewing, color_difference, color_filter, risk_of

ColorFilter = Literal["three-chip", "bayer"]
Floats = npt.NDArray[np.float32]

HARMONICS: tuple[tuple[int, int], ...] = ((1, 0), (0, 1), (1, 1), (1, -1), (2, 0), (0, 2))
"""Harmonics looked at. Finer ones are weaker by emitter, lens and photosite together."""
NONE, GRID, ALIAS = 0, 1, 2
"""Kinds of pattern: nothing known; the LED pixels themselves; moire."""
_BLOCK = 1 << 15  # points at once, so that work stays in a core's cache
_LEAST_THRESHOLDS = 0.02  # a harmonic that cannot reach this share of an observer's threshold is passed over


class _Replica(NamedTuple):
    """One coset of replicas of a colour filter."""

    offset: tuple[float, float]
    green: float  # sign and size with which green, and red and blue, show it in luminance
    red_blue: float
    signs: tuple[float, float, float]  # of red, green, blue


_RED, _GREEN, _BLUE = LUMINANCE_SHARES
_REPLICAS: dict[ColorFilter, tuple[_Replica, ...]] = {
    "three-chip": (_Replica((0.0, 0.0), 1.0, 0.0, (1.0, 1.0, 1.0)),),
    "bayer": (
        _Replica((0.0, 0.0), _GREEN, _RED + _BLUE, (1.0, 1.0, 1.0)),
        _Replica((0.5, 0.5), _GREEN, -_RED - _BLUE, (-1.0, 1.0, -1.0)),
        _Replica((0.5, 0.0), 0.0, _RED - _BLUE, (1.0, 0.0, -1.0)),
        _Replica((0.0, 0.5), 0.0, _RED - _BLUE, (1.0, 0.0, -1.0)),
    ),
}


@dataclass(frozen=True, eq=False)
class Patterns:
    """The strongest pattern at each point, float32 arrays of one shape (...); 0 where nothing comes through.

    Attributes
    ----------
    frequency : (2, ...) of the luminance pattern that is seen best, cycles per picture pixel, x right, y down
    contrast : its Michelson contrast in the camera's linear picture, 0 and up
    thresholds : its contrast as displayed, in multiples of what an observer just sees (visibility-weighted)
    kind : int8 NONE, GRID or ALIAS
    harmonic : int8, its place in the harmonics looked at; -1 for none
    color_frequency : (2, ...) of the colour pattern that is seen best (Bayer)
    color_contrast : largest difference between the contrasts of two of its colours
    color_thresholds : its colour difference as displayed, in multiples of what is just seen
    viewing : how the picture is looked at, with no more picture pixels than the sensor has photosites
    """

    frequency: Floats
    contrast: Floats
    thresholds: Floats
    kind: npt.NDArray[np.int8]
    harmonic: npt.NDArray[np.int8]
    color_frequency: Floats
    color_contrast: Floats
    color_thresholds: Floats
    viewing: Viewing

    @property
    def risk(self) -> Floats:
        """(...) risk 0..1 of the better seen of both patterns, as of ``risk_of``."""
        return risk_of(np.maximum(self.thresholds, self.color_thresholds))

    @property
    def cycles_per_height(self) -> Floats:
        """(...) cycles of the luminance pattern in one picture height."""
        width, height = self.viewing.picture_px
        return np.hypot(
            self.frequency[0] * np.float32(width / self.viewing.aspect),
            self.frequency[1] * np.float32(height),
        )

    @property
    def orientation_deg(self) -> Floats:
        """(...) direction in which the pattern's stripes run, 0..180: 0 level, 90 upright, 45 rising to the
        right."""
        return np.asarray(np.degrees(np.arctan2(*self.frequency)) % 180.0, dtype=np.float32)

    def beats(self) -> Beats:
        """The beat of each luminance pattern with its nearest replica, as displayed."""
        fx, fy = self.frequency
        across = np.abs(fx) >= np.abs(fy)
        other_x = np.where(across, fx - np.copysign(np.float32(1), fx), fx)
        other_y = np.where(across, fy, fy - np.copysign(np.float32(1), fy))
        shown = self.contrast * np.abs(np.sinc(other_x) * np.sinc(other_y)).astype(np.float32)
        per_x, per_y = self.viewing.degree_cycles
        seen = shown * self.viewing.sensitivity(np.hypot(other_x * per_x, other_y * per_y))
        return Beats(np.stack([fx + other_x, fy + other_y]), shown, seen.astype(np.float32))


class Beats(NamedTuple):
    """Swelling and fading of a pattern near half a cycle per picture pixel.

    Attributes
    ----------
    frequency : (2, ...) of the swelling, cycles per picture pixel: the sum of both replicas' frequencies
    contrast : (...) of the weaker replica as displayed: how far the pattern swells and fades
    thresholds : (...) that in multiples of what an observer just sees; below 1 no beat is seen
    """

    frequency: Floats
    contrast: Floats
    thresholds: Floats


def fold(fx: npt.ArrayLike, fy: npt.ArrayLike, lattice: Literal["full", "green", "red-blue"]) -> Array:
    """(2, ...) alias nearest to zero of frequencies in cycles per photosite, by a lattice of photosites.

    Parameters
    ----------
    lattice : all photosites; every second one in chequered order; every second one in both directions

    >>> fold(0.45, 0.45, "green").round(6).tolist()
    [-0.05, -0.05]
    """
    f = np.stack(np.broadcast_arrays(np.asarray(fx, dtype=np.float64), np.asarray(fy, dtype=np.float64)))
    if lattice == "red-blue":
        return f - np.round(2.0 * f) / 2.0
    whole = f - np.round(f)
    if lattice == "full":
        return whole
    half = (f - 0.5) - np.round(f - 0.5)
    nearer = np.hypot(*half) < np.hypot(*whole)
    return np.where(nearer, half, whole)


def patterns(
    gradients: npt.NDArray[np.floating],
    blur_mm: npt.ArrayLike,
    optics: Optics,
    emitter: Emitter,
    viewing: Viewing,
    photosites: tuple[int, int],
    color_filter: ColorFilter = "three-chip",
    harmonics: tuple[tuple[int, int], ...] = HARMONICS,
) -> Patterns:
    """The pattern that is seen best at each point of a picture or a floor plan.

    Parameters
    ----------
    gradients : (4, ...) as of ``preview.optics.lattice``, LED pixels per photosite; NaN is nothing
    blur_mm : (...) or one number, diameter of the blur disc on the sensor of the LED surface's point
    photosites : of the sensor across and down
    """
    shape = np.shape(gradients)[1:]
    flat = np.ascontiguousarray(np.reshape(gradients, (4, -1)), dtype=np.float32)
    count = flat.shape[1]
    disc = np.broadcast_to(np.asarray(blur_mm, dtype=np.float32), shape).reshape(-1)
    # Enlarging a picture adds no pattern: it is taken as one of as many pixels as photosites.
    smaller = min(photosites[0], viewing.picture_px[0]), min(photosites[1], viewing.picture_px[1])
    viewing = replace(viewing, picture_px=smaller)
    plan = _Plan(optics, emitter, viewing, photosites, color_filter, harmonics)
    luminance, color = np.zeros((4, count), np.float32), np.zeros((4, count), np.float32)
    kind, harmonic = np.zeros(count, np.int8), np.full(count, -1, np.int8)

    def work(part: slice) -> None:
        plan.see(flat[:, part], disc[part], luminance[:, part], color[:, part], kind[part], harmonic[part])

    with ThreadPoolExecutor(_workers()) as pool:
        for _ in pool.map(work, _parts(count)):
            pass
    return Patterns(
        luminance[:2].reshape(2, *shape), luminance[2].reshape(shape), luminance[3].reshape(shape),
        kind.reshape(shape), harmonic.reshape(shape),
        color[:2].reshape(2, *shape), color[2].reshape(shape), color[3].reshape(shape), viewing,
    )  # fmt: skip


def _workers() -> int:
    return max(1, min(8, len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else 2))


def _parts(count: int) -> Iterator[slice]:
    for start in range(0, count, _BLOCK):
        yield slice(start, min(start + _BLOCK, count))


class _Plan:
    """Tables and numbers of one set-up, float32."""

    def __init__(
        self,
        optics: Optics,
        emitter: Emitter,
        viewing: Viewing,
        photosites: tuple[int, int],
        color_filter: ColorFilter,
        harmonics: tuple[tuple[int, int], ...],
    ) -> None:
        self.optics, self.replicas = optics, _REPLICAS[color_filter]
        self.harmonics = [(m, n, 2.0 * abs(emitter.amplitude(m, n))) for m, n in harmonics]
        self.scale = tuple(s / p for s, p in zip(photosites, viewing.picture_px, strict=True))
        self.degree = viewing.degree_cycles
        self.to_mm = tuple(np.float32(1.0 / side) for side in optics.photosite_mm)
        self.lens = _lens_table()
        self.seen = _sensitivity_table(viewing)
        self.color = _color_table()
        self.most = float(self.seen.peak)

    def see(
        self,
        gradients: Floats,
        disc: Floats,
        luminance: Floats,
        color: Floats,
        kind: npt.NDArray[np.int8],
        harmonic: npt.NDArray[np.int8],
    ) -> None:
        """Fill in the strongest patterns of one block."""
        gradients = np.where(np.isfinite(gradients), gradients, np.float32(1e4))  # far beyond any cutoff
        disc = np.where(np.isfinite(disc), disc, np.float32(1e4))
        blurred = bool(disc.any())
        for place, (m, n, amplitude) in enumerate(self.harmonics):
            if amplitude * self.most < _LEAST_THRESHOLDS:
                continue
            fx, fy = (m * gradients[i] + n * gradients[i + 2] for i in (0, 1))
            cycles = np.hypot(fx * self.to_mm[0], fy * self.to_mm[1])
            share = cycles * np.float32(1.0 / self.optics.cutoff_cycles_mm)
            if share.min(initial=1.0) >= 1.0:
                continue
            contrast = self.lens(share, cycles * disc if blurred else None)
            contrast *= np.float32(amplitude)
            for f in (fx, fy):
                contrast *= _sinc(f * np.float32(self.optics.aperture_share))
                if self.optics.lowpass_photosites:
                    contrast *= np.cos(f * np.float32(np.pi * self.optics.lowpass_photosites))
            np.abs(contrast, out=contrast)
            for replica in self.replicas:
                self._replica(replica, place, fx, fy, contrast, luminance, color, kind, harmonic)

    def _replica(
        self,
        replica: _Replica,
        place: int,
        fx: Floats,
        fy: Floats,
        contrast: Floats,
        luminance: Floats,
        color: Floats,
        kind: npt.NDArray[np.int8],
        harmonic: npt.NDArray[np.int8],
    ) -> None:
        step_x, step_y = (
            np.rint(f - np.float32(o)) + np.float32(o) for f, o in zip((fx, fy), replica.offset, strict=True)
        )
        ax, ay = fx - step_x, fy - step_y
        px, py = ax * np.float32(self.scale[0]), ay * np.float32(self.scale[1])
        shown = _short_sinc(px) * _short_sinc(py)
        if max(self.scale) > 1.0:
            shown *= (np.abs(px) <= 0.5) & (np.abs(py) <= 0.5)
        u = np.hypot(px * np.float32(self.degree[0]), py * np.float32(self.degree[1]))
        if len(self.replicas) == 1:
            kept = contrast
        else:
            cos_x, cos_y = np.cos(ax * np.float32(2 * np.pi)), np.cos(ay * np.float32(2 * np.pi))
            red_blue = (1 + cos_x) * (1 + cos_y) * np.float32(0.25)
            green = (cos_x + cos_y) * np.float32(0.25) + np.float32(0.5)
            kept = contrast * np.abs(
                np.float32(replica.green) * green + np.float32(replica.red_blue) * red_blue
            )
            self._colors(replica, px, py, green, red_blue, contrast, shown, u, color)
        thresholds = kept * shown
        thresholds *= self.seen(u)
        better = thresholds > luminance[3]
        for row, values in enumerate((px, py, kept, thresholds)):
            np.copyto(luminance[row], values, where=better)
        folded = np.where((step_x != 0) | (step_y != 0), np.int8(ALIAS), np.int8(GRID))
        np.copyto(kind, folded, where=better)
        np.copyto(harmonic, np.int8(place), where=better)

    def _colors(
        self,
        replica: _Replica,
        px: Floats,
        py: Floats,
        green: Floats,
        red_blue: Floats,
        contrast: Floats,
        shown: Floats,
        u: Floats,
        color: Floats,
    ) -> None:
        red_sign, green_sign, blue_sign = replica.signs
        if green_sign:  # red and blue agree: what shows is their difference from green
            spread = np.abs(np.float32(green_sign) * green - np.float32(red_sign) * red_blue)
            unit = float(color_difference([0.0, 1.0, 0.0]))
        else:  # red and blue are opposite, green is still
            spread = red_blue
            unit = float(color_difference([red_sign, 0.0, blue_sign]))
        thresholds = contrast * spread
        thresholds *= shown
        thresholds *= self.color(u)
        thresholds *= np.float32(unit)
        better = thresholds > color[3]
        apart = spread if green_sign else spread * np.float32(2.0)
        for row, values in enumerate((px, py, contrast * apart, thresholds)):
            np.copyto(color[row], values, where=better)


def _sinc(x: Floats) -> Floats:
    """sin(pi x) / (pi x)."""
    turned = x * np.float32(np.pi)
    turned += np.float32(1e-12)
    return np.sin(turned) / turned


def _short_sinc(x: Floats) -> Floats:
    """The same for |x| <= 0.5 by its series, to 2e-6."""
    y = np.square(x * np.float32(np.pi))
    return 1 + y * (
        np.float32(-1 / 6)
        + y * (np.float32(1 / 120) + y * (np.float32(-1 / 5040) + y * np.float32(1 / 362880)))
    )


class _Sensitivity(Lookup):
    """Contrast sensitivity as a table, and its highest value."""

    def __init__(self, viewing: Viewing) -> None:
        super().__init__(viewing.sensitivity, 64.0, 8192)
        self.peak = self._values.max()


@lru_cache(maxsize=1)
def _lens_table() -> LensLookup:
    return LensLookup()


@lru_cache(maxsize=8)
def _sensitivity_table(viewing: Viewing) -> _Sensitivity:
    return _Sensitivity(viewing)


@lru_cache(maxsize=1)
def _color_table() -> Lookup:
    return Lookup(color_filter, 64.0, 4096)
