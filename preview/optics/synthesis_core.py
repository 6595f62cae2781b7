"""Synthesis by brute force: the very picture that photosites make of an LED surface's lattice.

Works in space alone and knows no transfer function: every LED pixel's shining area is drawn many samples to
a photosite, spread by the lens's point spread (blur disc, diffraction, optical low-pass filter), gathered by
the photosites' light-sensitive areas, and read through the colour filter. It proves what
``preview.optics.alias`` predicts, and shows it to people.

Source: M. Born, E. Wolf, "Principles of Optics", 8.5 and 8.8 (from memory): the image of a point by waves, an
Airy pattern in focus, and nearly the geometric blur disc where that is much larger.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import ceil, floor

import numpy as np
import numpy.typing as npt
from scipy import fft, ndimage
from scipy.special import j0

from preview.conventions import Array
from preview.optics.alias import ColorFilter
from preview.optics.transfer import Emitter, Optics

CanvasAt = Callable[[Array, Array], tuple[Array, Array]]
"""Sensor places x and y in photosites from the picture's left and top edges (arrays of one shape) to canvas
coordinates u and v, LED pixels; NaN where there is no LED surface."""
LightOf = Callable[[npt.NDArray[np.int64], npt.NDArray[np.int64]], Array]
"""Columns and rows of LED pixels (arrays of one shape) to (..., 3) linear light."""

_TILE, _TILE_SAMPLES = 128, 4096  # photosites, and samples, a side rendered at once: bounds the memory
_SAMPLES_A_PIXEL = 14  # along an LED pixel: averaging within a sample takes 1 % of the first harmonic
_FINEST, _COARSEST = 48, 8  # samples along a photosite
_AIRY_RADII, _AIRY_PHOTOSITES = (
    40.0,
    20.0,
)  # how far diffraction is followed: wavelength * f-number, photosites
_BLUR_STEP, _BLUR_STEPS = 0.2, 9  # photosites between blur discs that are rendered, and how many at most
_CHUNK = 1 << 21


@dataclass(frozen=True)
class Patch:
    """A rectangle of a picture, in photosites: first column and row, width and height."""

    left: int
    top: int
    width: int
    height: int


def render(
    canvas_at: CanvasAt,
    patch: Patch,
    blur_photosites: npt.ArrayLike,
    optics: Optics | tuple[Optics, Optics, Optics],
    emitter: Emitter,
    color_filter: ColorFilter = "three-chip",
    light: LightOf | None = None,
    samples: int | None = None,
) -> npt.NDArray[np.float32]:
    """Linear picture of a patch, photosite by photosite.

    Parameters
    ----------
    canvas_at : what each place of the sensor sees
    blur_photosites : one number or (height, width): diameter of the blur disc in photosites across; NaN where
        there is no LED surface
    optics : for all colours, or one each for red, green and blue (wavelength)
    light : of the LED pixels; None is an even white of 1
    samples : along a photosite; None takes what the lattice needs

    Returns
    -------
    (height, width, 3) linear light, of which an LED surface's mean is that of its LED pixels' light

    Raises
    ------
    ValueError : the patch is empty, or samples are below 1.
    """
    if patch.width < 1 or patch.height < 1:
        raise ValueError(f"a patch of {patch.width} x {patch.height} photosites; make it at least 1 x 1")
    if samples is not None and samples < 1:
        raise ValueError(f"{samples} samples along a photosite; take at least 1")
    blur = np.broadcast_to(np.asarray(blur_photosites, dtype=np.float64), (patch.height, patch.width))
    known = np.isfinite(blur)
    blur = np.where(known, blur, np.median(blur[known]) if known.any() else 0.0)  # beside the LED surface
    border = 0 if color_filter == "three-chip" else 2
    blur = np.pad(blur, border, mode="edge")
    wide = Patch(patch.left - border, patch.top - border, patch.width + 2 * border, patch.height + 2 * border)
    finest = samples or _samples_for(canvas_at, wide)
    sampled = np.empty((wide.height, wide.width, 3), dtype=np.float32)
    around = 2 * ceil(_AIRY_PHOTOSITES + float(blur.max()) / 2 + 2)
    side = int(np.clip(_TILE_SAMPLES // finest - around, 24, _TILE))
    for top in range(0, wide.height, side):
        for left in range(0, wide.width, side):
            height, width = min(side, wide.height - top), min(side, wide.width - left)
            place = (slice(top, top + height), slice(left, left + width))
            tile = Patch(wide.left + left, wide.top + top, width, height)
            sampled[place] = _tile(canvas_at, tile, blur[place], optics, emitter, light, finest)
    if color_filter == "three-chip":
        return sampled
    full = demosaic(mosaic(sampled, (wide.left, wide.top)), (wide.left, wide.top))
    return np.ascontiguousarray(full[border:-border, border:-border])


def mosaic(picture: npt.NDArray[np.float32], first: tuple[int, int] = (0, 0)) -> npt.NDArray[np.float32]:
    """(h, w) what is left of (h, w, 3) behind a Bayer filter with red at even columns and rows.

    Parameters
    ----------
    first : column and row of the picture's first photosite
    """
    return np.sum(picture * _sites(picture.shape[:2], first), axis=2, dtype=np.float32)


def demosaic(raw: npt.NDArray[np.float32], first: tuple[int, int] = (0, 0)) -> npt.NDArray[np.float32]:
    """(h, w, 3) from (h, w) behind that Bayer filter, bilinear: the mean of a colour's nearest sites."""
    sites = _sites(raw.shape, first)
    near = np.array([[1, 2, 1], [2, 4, 2], [1, 2, 1]], dtype=np.float32) / 4
    cross = np.array([[0, 1, 0], [1, 4, 1], [0, 1, 0]], dtype=np.float32) / 4
    colors = [
        ndimage.convolve(raw * sites[..., color], cross if color == 1 else near, mode="mirror")
        for color in range(3)
    ]
    return np.stack(colors, axis=2)


def _sites(shape: tuple[int, ...], first: tuple[int, int]) -> npt.NDArray[np.float32]:
    column = (np.arange(shape[1]) + first[0])[None, :] % 2
    row = (np.arange(shape[0]) + first[1])[:, None] % 2
    red, blue = (column == 0) & (row == 0), (column == 1) & (row == 1)
    return np.stack([red, ~red & ~blue, blue], axis=2).astype(np.float32)


def _samples_for(canvas_at: CanvasAt, patch: Patch) -> int:
    """Samples along a photosite that draw the lattice's finest place in this patch."""
    x, y = np.meshgrid(
        patch.left + np.linspace(0, patch.width, 9), patch.top + np.linspace(0, patch.height, 9)
    )
    step = 1e-3
    here, right, below = canvas_at(x, y), canvas_at(x + step, y), canvas_at(x, y + step)
    finest = 0.0
    for axis in range(2):
        for there in (right, below):
            slope = np.abs(there[axis] - here[axis]) / step
            finest = max(finest, float(np.nanmax(slope, initial=0.0)))
    return int(np.clip(ceil(_SAMPLES_A_PIXEL * finest), _COARSEST, _FINEST))


def _tile(
    canvas_at: CanvasAt,
    tile: Patch,
    blur: Array,
    optics: Optics | tuple[Optics, Optics, Optics],
    emitter: Emitter,
    light: LightOf | None,
    samples: int,
) -> npt.NDArray[np.float32]:
    lenses = optics if isinstance(optics, tuple) else (optics,)
    discs = _discs(blur)
    spreads = [[_spread(lens, disc, samples) for disc in discs] for lens in lenses]
    margin = max(max(spread.shape) // 2 for row in spreads for spread, _ in row) // samples + 1
    emitted = _emitted(canvas_at, tile, margin, emitter, light, samples)
    shape = [fft.next_fast_len(side, real=True) for side in emitted.shape[:2]]
    channels = [fft.rfft2(emitted[..., c], shape, workers=-1) for c in range(emitted.shape[2])]
    out = np.empty((tile.height, tile.width, 3), dtype=np.float32)
    made: dict[tuple[int, int], npt.NDArray[np.float32]] = {}
    for color in range(3):
        lens, channel = color % len(lenses), color % len(channels)
        if (lens, channel) not in made:
            mean = float(emitted[..., channel].mean())
            pictures = [
                _gathered(
                    _convolved(channels[channel], spread, shape, margin * samples, tile, samples),
                    samples,
                    lenses[lens].aperture_share,
                )
                + np.float32((1.0 - kept) * mean)
                for spread, kept in spreads[lens]
            ]
            made[lens, channel] = _between(pictures, discs, blur)
        out[..., color] = made[lens, channel]
    return out


def _emitted(
    canvas_at: CanvasAt, tile: Patch, margin: int, emitter: Emitter, light: LightOf | None, samples: int
) -> npt.NDArray[np.float32]:
    """(rows, columns, 1 or 3) light of the lattice without any lens, averaged within each sample."""
    columns, rows = ((side + 2 * margin) * samples for side in (tile.width, tile.height))
    x = tile.left - margin + (np.arange(columns) + 0.5) / samples
    y = tile.top - margin + (np.arange(rows) + 0.5) / samples
    out = np.zeros((rows, columns, 1 if light is None else 3), dtype=np.float32)
    step = max(1, _CHUNK // columns)
    for start in range(0, rows, step):
        part = slice(start, min(rows, start + step))
        u, v = canvas_at(*np.meshgrid(x, y[part]))
        wide_u, wide_v = _widths(canvas_at, x, y[part], (u, v), samples)
        shining = np.nan_to_num(_coverage(u, v, wide_u, wide_v, emitter))
        if light is None:
            out[part, :, 0] = shining
        else:
            known = np.isfinite(u) & np.isfinite(v)
            pixel = [np.floor(np.where(known, c, 0)).astype(np.int64) for c in (u, v)]
            out[part] = shining[..., None] * light(*pixel)
    return out


def _widths(canvas_at: CanvasAt, x: Array, y: Array, here: tuple[Array, Array], samples: int) -> list[Array]:
    """How wide each sample is on the canvas, across and down: worked out once a photosite."""
    few = np.s_[::samples, ::samples]
    right = canvas_at(*np.meshgrid(x[::samples] + 0.5 / samples, y[::samples]))
    below = canvas_at(*np.meshgrid(x[::samples], y[::samples] + 0.5 / samples))
    found = []
    for axis, place in enumerate(here):
        wide = 2 * np.hypot(right[axis] - place[few], below[axis] - place[few])
        known = np.isfinite(wide)
        if known.any():  # photosites that only begin off the LED surface
            wide = np.where(known, wide, np.median(wide[known]))
        wide = np.repeat(np.repeat(np.maximum(wide, 1e-9), samples, axis=0), samples, axis=1)
        found.append(wide[: len(y), : len(x)])
    return found


def _coverage(u: Array, v: Array, wide_u: Array, wide_v: Array, emitter: Emitter) -> Array:
    """Share of a sample at u, v, as wide as given, that shines, over the lattice's mean."""
    share = emitter.share
    if emitter.shape == "round":
        # An edge that fades over one sample; the fading itself adds a little area, which is taken out.
        from_middle = np.hypot(u - np.floor(u) - 0.5, v - np.floor(v) - 0.5)
        edge, radius = np.sqrt(wide_u * wide_v), share / 2
        lit = np.where(
            edge < share, radius**2 + edge**2 / 12, (radius + edge / 2) ** 3 / (3 * edge)
        )  # over pi
        return np.clip((radius - from_middle) / edge + 0.5, 0.0, 1.0) / (np.pi * lit)

    def shining(place: Array) -> Array:  # length that shines up to a place
        whole = np.floor(place)
        return whole * share + np.clip(place - whole - (1 - share) / 2, 0.0, share)

    across = (shining(u + wide_u / 2) - shining(u - wide_u / 2)) / wide_u
    down = (shining(v + wide_v / 2) - shining(v - wide_v / 2)) / wide_v
    return across * down / share**2


def _discs(blur: Array) -> Array:
    """Diameters to render, photosites: enough to blend between."""
    least, most = float(blur.min()), float(blur.max())
    if most - least < _BLUR_STEP / 4:
        return np.array([(least + most) / 2])
    return np.linspace(least, most, min(_BLUR_STEPS, ceil((most - least) / _BLUR_STEP) + 1))


def _between(pictures: list[npt.NDArray[np.float32]], discs: Array, blur: Array) -> npt.NDArray[np.float32]:
    if len(pictures) == 1:
        return pictures[0]
    place = (np.clip(blur, discs[0], discs[-1]) - discs[0]) / (discs[1] - discs[0])
    low = np.clip(np.floor(place).astype(int), 0, len(discs) - 2)
    share = (place - low).astype(np.float32)
    stack = np.stack(pictures)
    lower, upper = (np.take_along_axis(stack, (low + k)[None], axis=0)[0] for k in (0, 1))
    return lower * (1 - share) + upper * share


def _spread(lens: Optics, disc_photosites: float, samples: int) -> tuple[Array, float]:
    """Point spread on the grid of samples (odd sides), and the energy in it: diffraction reaches farther."""
    across, down = (side / samples for side in lens.photosite_mm)  # mm a sample
    point, kept = _point(lens, disc_photosites * lens.photosite_mm[0], across, down, samples)
    parts = [point]
    if lens.lowpass_photosites:
        parts.append(_spots(lens.lowpass_photosites * samples))
    shape = [sum(part.shape[axis] - 1 for part in parts) + 1 for axis in range(2)]
    fast = [fft.next_fast_len(side, real=True) for side in shape]
    product = np.prod([fft.rfft2(part, fast) for part in parts], axis=0)
    return fft.irfft2(product, fast)[: shape[0], : shape[1]], kept


def _point(lens: Optics, disc_mm: float, across: float, down: float, samples: int) -> tuple[Array, float]:
    """Image of a point by waves, in or out of focus, with what it holds of the light."""
    scale = np.pi / (1e-6 * lens.wavelength_nm * lens.f_number)  # radians of v a mm on the sensor
    tail = min(_AIRY_RADII * np.pi / scale, _AIRY_PHOTOSITES * samples * min(across, down))
    reach = scale * (disc_mm / 2 + tail)
    # The wavefront's error at the pupil's edge is disc / (8 f-number); a wave of it is a whole turn of phase.
    phase = 2 * np.pi * disc_mm / (8 * lens.f_number * 1e-6 * lens.wavelength_nm)
    bright = point_image(phase, reach)
    half = [max(1, ceil(reach / scale / side)) for side in (across, down)]
    fine = 3  # points a sample, so that a sample holds its mean
    x, y = (
        (np.arange((2 * h + 1) * fine) - ((2 * h + 1) * fine - 1) / 2) / fine * side
        for h, side in zip(half, (across, down), strict=True)
    )
    v = scale * np.hypot(*np.meshgrid(x, y))
    steps = np.linspace(0.0, reach, len(bright))
    values = np.interp(v, steps, bright, right=0.0)
    kernel = values.reshape(2 * half[1] + 1, fine, 2 * half[0] + 1, fine).mean((1, 3))
    kept = float(np.trapezoid(bright * steps, steps) / 2)
    return kernel * (kept / kernel.sum()), kept


def point_image(phase: float, reach: float) -> Array:
    """Light along a radius of a point's image by a perfect round pupil, 1 in the middle when in focus.

    Parameters
    ----------
    phase : of the wavefront's error at the pupil's edge, radians
    reach : of the last value, in v = pi r / (wavelength * f-number); values are evenly spaced from 0

    Source: Born and Wolf, 8.8: the square of the integral of exp(i phase rho^2) J0(v rho) 2 rho over rho from
    0 to 1. In focus that is the Airy pattern (2 J1(v) / v)^2.
    """
    v = np.linspace(0.0, reach, ceil(reach / 0.08) + 2)
    nodes, weights = np.polynomial.legendre.leggauss(40 + ceil((abs(phase) + reach) * 0.7))
    rho = (nodes + 1) / 2
    wave = weights * rho * np.exp(1j * phase * rho**2)
    image = np.empty(len(v))
    for start in range(0, len(v), 1024):
        part = slice(start, start + 1024)
        bessel = j0(v[part, None] * rho)
        image[part] = np.square(bessel @ wave.real) + np.square(bessel @ wave.imag)
    return image


def _spots(distance: float) -> Array:
    """Four spots of a low-pass filter, this many samples apart, shared out to the nearest samples."""
    low = floor(distance / 2)
    line = np.zeros(2 * low + 3)
    share = distance / 2 - low
    for side in (-1, 1):
        line[low + 1 + side * low] += 0.5 * (1 - share)
        line[low + 1 + side * (low + 1)] += 0.5 * share
    return np.outer(line, line)


def _convolved(
    spectrum: npt.NDArray[np.complex64],
    spread: Array,
    shape: list[int],
    margin: int,
    tile: Patch,
    samples: int,
) -> npt.NDArray[np.float32]:
    """Light on the sensor within the tile, sample by sample. The convolution wraps round outside of it."""
    kernel = fft.rfft2(spread.astype(np.float32), shape, workers=-1)
    spread_out = fft.irfft2(spectrum * kernel, shape, workers=-1)
    top, left = (margin + side // 2 for side in spread.shape)
    return spread_out[top : top + tile.height * samples, left : left + tile.width * samples]


def _gathered(light: npt.NDArray[np.float32], samples: int, share: float) -> npt.NDArray[np.float32]:
    """(h, w) mean over each photosite's light-sensitive square, in the middle of its field."""
    edge = np.arange(samples + 1) / samples
    inside = np.clip(edge, 0.5 - share / 2, 0.5 + share / 2)
    weight = np.diff(inside)
    if not weight.sum() > 0:  # a point: the middle sample, or the two beside the middle
        weight = np.zeros(samples)
        weight[[(samples - 1) // 2, samples // 2]] += 1.0
    weight = (weight / weight.sum()).astype(np.float32)
    height, width = (side // samples for side in light.shape)
    return np.asarray(
        np.einsum(
            "hawb,a,b->hw", light.reshape(height, samples, width, samples), weight, weight, optimize=True
        )
    )
