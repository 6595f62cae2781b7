"""Transfer functions: how much contrast of a fine pattern is left after lens, filter and photosites.

Frequencies are two-dimensional, on the sensor, in cycles per photosite along its rows and columns (``fx`` to
the right, ``fy`` down); where a length counts they are turned into cycles per millimetre by the photosites'
pitch. All functions take arrays of any (broadcastable) shape and keep the sign: a negative value means that
bright and dark have changed places.

A lens out of focus is reckoned by waves, after Hopkins: the product of a blur disc's and a perfect lens's
transfer functions would be too low by half and more where the blur is as small as diffraction, which is where
moire begins. Both are its limits.

Sources: J. W. Goodman, "Introduction to Fourier Optics"; G. D. Boreman, "Modulation Transfer Function in
Optical and Electro-Optical Systems"; H. H. Hopkins, "The frequency response of a defocused optical system",
Proc. R. Soc. A 231, 1955 (titles from memory).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt
from scipy.special import j1

from preview.conventions import Array

DISC_FIRST_ZERO = 1.2196698912665045
"""Cycles per disc diameter at which a disc's transfer function is 0 for the first time: 3.8317... / pi, the
first zero of the Bessel function J1."""
_MOST_CYCLES = 512.0  # less than 1e-4 is left of a disc's contrast there


def disc_transfer(cycles: npt.ArrayLike) -> Array:
    """Transfer of an evenly bright disc, 2 J1(x) / x with x = pi * cycles.

    Parameters
    ----------
    cycles : cycles per diameter of the disc, any shape

    Source: Goodman; the image of a point out of focus by geometry alone.

    >>> round(float(disc_transfer(1.0)), 6)
    0.181192
    """
    x = np.pi * np.abs(np.asarray(cycles, dtype=np.float64))
    small = x < 1e-6
    safe = np.where(small, 1.0, x)
    return np.where(small, 1.0, 2.0 * j1(safe) / safe)


def pupil_transfer(share: npt.ArrayLike) -> Array:
    """Transfer of a perfect lens with a round pupil in light of one wavelength, not coherent.

    Parameters
    ----------
    share : frequency over the cutoff 1 / (wavelength * f-number), any shape; 0 is left from 1 on

    Source: Goodman, (2 / pi) (acos x - x sqrt(1 - x^2)): the pupil's autocorrelation.

    >>> round(float(pupil_transfer(0.5)), 6)
    0.391002
    """
    x = np.clip(np.abs(np.asarray(share, dtype=np.float64)), 0.0, 1.0)
    return np.asarray(2.0 / np.pi * (np.arccos(x) - x * np.sqrt(1.0 - x * x)))


def lens_transfer(share: npt.ArrayLike, cycles: npt.ArrayLike) -> Array:
    """Transfer of a perfect lens with a round pupil, in and out of focus.

    Parameters
    ----------
    share : frequency over the cutoff, any shape; 0 is left from 1 on
    cycles : of that frequency per diameter of the geometric blur disc, any shape; 0 is in focus

    Source: Hopkins, the overlap of the pupil with itself, a straight phase across it: with s = share and
    q = cycles, (4 / pi) times the integral of cos(pi q x) sqrt(1 - (x + s)^2) over x from 0 to 1 - s. Without
    diffraction (s = 0) it is ``disc_transfer``, in focus (q = 0) ``pupil_transfer``.

    >>> round(float(lens_transfer(0.5, 0.0)), 6), round(float(lens_transfer(0.0, 1.0)), 6)
    (0.391002, 0.181192)
    """
    s, q = np.broadcast_arrays(
        np.clip(np.abs(np.asarray(share, dtype=np.float64)), 0.0, 1.0),
        np.minimum(np.abs(np.asarray(cycles, dtype=np.float64)), _MOST_CYCLES),
    )
    # x = (1 - s)(1 - t^2) takes the root's steep end away, so that few Gauss points do.
    points = 24 + int(np.ceil(2.0 * float((q * (1.0 - s)).max(initial=0.0))))
    nodes, weights = np.polynomial.legendre.leggauss(points)
    total = np.zeros(s.shape)
    for t, weight in zip((nodes + 1.0) / 2.0, weights / 2.0, strict=True):
        x = (1.0 - s) * (1.0 - t * t)
        total += weight * t * t * np.cos(np.pi * q * x) * np.sqrt(1.0 + s + x)
    return np.asarray(8.0 / np.pi * (1.0 - s) ** 1.5 * total)


def cutoff_cycles_mm(f_number: float, wavelength_nm: float) -> float:
    """Finest pattern that a round pupil lets through, cycles per millimetre on the sensor.

    Raises
    ------
    ValueError : a value is not positive.

    >>> round(cutoff_cycles_mm(4.0, 550.0), 3)
    454.545
    """
    for name, value in (("f-number", f_number), ("wavelength in nm", wavelength_nm)):
        if not value > 0:
            raise ValueError(f"{name} {value} is not positive; write one above 0")
    return 1e6 / (wavelength_nm * f_number)


def aperture_transfer(fx: npt.ArrayLike, fy: npt.ArrayLike, share: float = 1.0) -> Array:
    """Transfer of a photosite's square light-sensitive area.

    Parameters
    ----------
    fx, fy : cycles per photosite
    share : side of that area over the photosites' pitch, 0..1

    >>> round(float(aperture_transfer(0.5, 0.0)), 6)
    0.63662
    """
    return np.asarray(np.sinc(np.multiply(fx, share)) * np.sinc(np.multiply(fy, share)))


def lowpass_transfer(fx: npt.ArrayLike, fy: npt.ArrayLike, spots_photosites: float) -> Array:
    """Transfer of a birefringent optical low-pass filter that makes four spots of one, in a square.

    Parameters
    ----------
    fx, fy : cycles per photosite
    spots_photosites : distance of neighbouring spots; 0 is no filter, 1 takes half a cycle away

    Source: J. E. Greivenkamp, "Color dependent optical prefilter for the suppression of aliasing artifacts",
    Applied Optics 29(5), 1990 (from memory): two spots multiply by cos(pi d f).

    >>> round(float(lowpass_transfer(0.25, 0.0, 1.0)), 6)
    0.707107
    """
    return np.asarray(
        np.cos(np.pi * np.multiply(fx, spots_photosites)) * np.cos(np.pi * np.multiply(fy, spots_photosites))
    )


@dataclass(frozen=True)
class Emitter:
    """What of an LED pixel shines, centred in its field of the lattice.

    Attributes
    ----------
    share : width of the square, or diameter of the round, shining area over the pixel pitch, above 0 and at
        most 1
    shape : of that area

    Raises
    ------
    ValueError : the share is out of range.
    """

    share: float = 0.4
    shape: Literal["square", "round"] = "square"

    def __post_init__(self) -> None:
        if not 0.0 < self.share <= 1.0:
            raise ValueError(f"emitter share {self.share}; write one above 0 and at most 1")

    def amplitude(self, m: int, n: int) -> float:
        """Share of the mean light in the lattice's harmonic (m, n), signed: cycles per LED pixel along the
        canvas. A harmonic and its negative make a wave of twice that contrast.

        >>> round(2 * Emitter(0.4).amplitude(1, 0), 6)
        1.513653
        """
        if self.shape == "square":
            return float(np.sinc(m * self.share) * np.sinc(n * self.share))
        return float(disc_transfer(self.share * np.hypot(m, n)))


@dataclass(frozen=True)
class Optics:
    """Everything between the LED surface and a photosite's value that takes contrast away.

    The transfer is the product of lens (in and out of focus), low-pass filter and photosite. The lens is
    taken as free of aberrations, so a real one lets through less.

    Attributes
    ----------
    photosite_mm : pitch of the photosites across and down
    f_number : of the lens
    wavelength_nm : mean of the light
    aperture_share : side of a photosite's light-sensitive area over its pitch, 0..1
    lowpass_photosites : distance of the spots of an optical low-pass filter; 0 is none

    Raises
    ------
    ValueError : a value is out of range.
    """

    photosite_mm: tuple[float, float]
    f_number: float
    wavelength_nm: float = 550.0
    aperture_share: float = 1.0
    lowpass_photosites: float = 0.0

    def __post_init__(self) -> None:
        if not min(self.photosite_mm) > 0:
            raise ValueError(f"photosite pitch {self.photosite_mm} mm is not positive; write one above 0")
        cutoff_cycles_mm(self.f_number, self.wavelength_nm)
        if not 0.0 <= self.aperture_share <= 1.0:
            raise ValueError(f"aperture share {self.aperture_share}; write one from 0 to 1")
        if self.lowpass_photosites < 0:
            raise ValueError(f"spot distance {self.lowpass_photosites} photosites; write 0 or more")

    @property
    def cutoff_cycles_mm(self) -> float:
        """Finest pattern that diffraction lets through, cycles per millimetre."""
        return cutoff_cycles_mm(self.f_number, self.wavelength_nm)

    def cycles_mm(self, fx: npt.ArrayLike, fy: npt.ArrayLike) -> Array:
        """Cycles per millimetre on the sensor of frequencies in cycles per photosite."""
        across, down = self.photosite_mm
        return np.asarray(np.hypot(np.divide(fx, across), np.divide(fy, down)), dtype=np.float64)

    def transfer(self, fx: npt.ArrayLike, fy: npt.ArrayLike, blur_mm: npt.ArrayLike = 0.0) -> Array:
        """Transfer of all parts together, signed, float64.

        Parameters
        ----------
        fx, fy : cycles per photosite
        blur_mm : diameter of the blur disc on the sensor there, >= 0
        """
        cycles_mm = self.cycles_mm(fx, fy)
        return np.asarray(
            lens_transfer(
                cycles_mm / self.cutoff_cycles_mm, cycles_mm * np.asarray(blur_mm, dtype=np.float64)
            )
            * lowpass_transfer(fx, fy, self.lowpass_photosites)
            * aperture_transfer(fx, fy, self.aperture_share)
        )


class Lookup:
    """A smooth function as a table, read with straight lines between entries, for millions of float32 values.

    Parameters
    ----------
    function : takes an array >= 0
    end : last value tabulated; beyond it the answer is ``function(end)``
    entries : how many; the error is about (end / entries)^2 / 8 times the second derivative
    """

    def __init__(self, function: Callable[[Array], Array], end: float, entries: int) -> None:
        values = function(np.linspace(0.0, end, entries + 1))
        self._values = np.append(values, values[-1]).astype(np.float32)
        self._steps = np.append(np.diff(values), [0.0, 0.0]).astype(np.float32)
        self._scale, self._last = np.float32(entries / end), np.float32(entries)

    def __call__(self, x: npt.NDArray[np.float32]) -> npt.NDArray[np.float32]:
        """Values at x (float32, >= 0, any shape)."""
        place = x * self._scale
        np.minimum(place, self._last, out=place)
        index = place.astype(np.int32)
        place -= index
        place *= self._steps.take(index)
        place += self._values.take(index)
        return place


class LensLookup:
    """``lens_transfer`` as a table for millions of float32 values, to about 1e-3.

    Kept is what defocus leaves of the lens's transfer in focus, over the share of the cutoff (nearest entry)
    and over cycles * (1 - share) (straight lines between entries): in these it is smooth.
    """

    _SHARES, _PER_CYCLE, _CYCLES = 64, 24, 64

    def __init__(self) -> None:
        shares = (np.arange(self._SHARES) + 0.5) / self._SHARES
        reach = np.linspace(0.0, self._CYCLES, self._CYCLES * self._PER_CYCLE + 1)
        left = (
            lens_transfer(shares[:, None], reach / (1.0 - shares[:, None])) / pupil_transfer(shares)[:, None]
        )
        left[:, -1] = 0.0
        self._row = np.int32(left.shape[1])
        self._values = left.astype(np.float32).ravel()
        self._steps = np.diff(left, axis=1, append=0.0).astype(np.float32).ravel()
        self._in_focus = Lookup(pupil_transfer, 1.0, 4096)

    def __call__(
        self, share: npt.NDArray[np.float32], cycles: npt.NDArray[np.float32] | None = None
    ) -> npt.NDArray[np.float32]:
        """Transfer at shares of the cutoff and cycles per blur disc, both >= 0; None is in focus."""
        sharp = self._in_focus(share)
        if cycles is None:
            return sharp
        inside = np.minimum(share, np.float32(1.0))
        place = (1 - inside) * cycles
        place *= np.float32(self._PER_CYCLE)
        np.minimum(place, np.float32(self._CYCLES * self._PER_CYCLE), out=place)
        index = place.astype(np.int32)
        place -= index
        inside *= np.float32(self._SHARES - 0.001)
        index += inside.astype(np.int32) * self._row
        place *= self._steps.take(index)
        place += self._values.take(index)
        place *= sharp
        return place
