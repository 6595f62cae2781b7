"""Viewing: which contrast of which pattern in a picture an observer just sees.

The picture is taken as shown on a display whose pixels are evenly lit squares without gaps, one for each
picture pixel, and looked at from a stated number of picture heights. The observer is Barten's; a colour
pattern is judged in CIELAB, thinned out by S-CIELAB's red-green filter.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from preview.conventions import BT709_LUMINANCE, Array

FULL_RISK_THRESHOLDS = 50.0
"""A pattern this many times as strong as an observer needs on an even field has risk 1. Pictures are not
even: what else they show hides patterns of several times that contrast (masking: G. E. Legge, J. M. Foley,
Journal of the Optical Society of America 70(12), 1980; title from memory). The number is our own choice."""

_XYZ_FROM_BT709: Array = np.array(
    [[0.412391, 0.357584, 0.180481], [0.212639, 0.715169, 0.072192], [0.019331, 0.119195, 0.950532]]
)
"""Linear BT.709 to CIE XYZ, D65. Source: Rec. ITU-R BT.709-6, primaries and white of item 1 (derived)."""
_GREY = 0.5
"""Share of white's luminance of the wall picture in which a colour pattern is judged. Own choice."""


def sensitivity(cycles_deg: npt.ArrayLike, luminance_cd_m2: float, field_deg2: float) -> Array:
    """Contrast sensitivity of a typical observer: 1 / the Michelson contrast seen in half of all trials.

    Parameters
    ----------
    cycles_deg : cycles per degree of visual angle, any shape; 0 gives 0
    luminance_cd_m2 : mean luminance
    field_deg2 : area of the pattern, square degrees

    Source: P. G. J. Barten, "Formula for the contrast sensitivity of the human eye", Proc. SPIE 5294, 2004.

    >>> round(float(sensitivity(4.0, 100.0, 144.0)))
    645
    """
    u2 = np.square(np.asarray(cycles_deg, dtype=np.float64))
    still = u2 < 1e-12
    safe = np.where(still, 1.0, u2)
    rise = 5200.0 * np.exp(-0.0016 * safe * (1.0 + 100.0 / luminance_cd_m2) ** 0.08)
    noise = 63.0 / luminance_cd_m2**0.83 - 1.0 / np.expm1(-0.02 * safe)
    return np.where(still, 0.0, rise / np.sqrt((1.0 + 144.0 / field_deg2 + 0.64 * safe) * noise))


def color_filter(cycles_deg: npt.ArrayLike) -> Array:
    """Share of a red-green pattern's colour difference that the eye takes in, 1 at 0 cycles per degree.

    Source: X. Zhang, B. A. Wandell, "A spatial extension of CIELAB for digital color-image reproduction",
    Journal of the SID 5(1), 1997: two Gaussians, weights 0.531 and 0.330, spreads 0.0392 and 0.494 degree
    (values from memory).
    """
    u = np.pi * np.asarray(cycles_deg, dtype=np.float64)
    fine, coarse = 0.531 * np.exp(-((0.0392 * u) ** 2)), 0.330 * np.exp(-((0.494 * u) ** 2))
    return np.asarray((fine + coarse) / 0.861)


def color_difference(contrasts: npt.ArrayLike) -> Array:
    """CIELAB colour difference, lightness left out, between a grey and its first change by these contrasts.

    Parameters
    ----------
    contrasts : (..., 3) small contrasts of linear BT.709 R, G and B

    Returns
    -------
    (...) units of CIELAB; about one is just seen on large fields (common practice, no source)

    Source: CIE 15:2004, CIELAB, its first derivative at the grey.
    """
    xyz = _XYZ_FROM_BT709 / _XYZ_FROM_BT709.sum(axis=1, keepdims=True)
    x, y, z = np.moveaxis(np.asarray(contrasts, dtype=np.float64) @ xyz.T, -1, 0)
    root = _GREY ** (1 / 3) / 3
    return np.asarray(np.hypot(500.0 * root * (x - y), 200.0 * root * (y - z)))


def risk_of(thresholds: npt.NDArray[np.float32]) -> npt.NDArray[np.float32]:
    """Risk of patterns this many times as strong as an observer needs to see them, 0..1.

    0 up to once the threshold: not seen in the stated viewing. 1 from ``FULL_RISK_THRESHOLDS`` on: seen at a
    glance in any picture. Between them it grows with the logarithm, so 0.5 is about seven times the
    threshold: seen on plain walls, mostly hidden by busy ones.
    """
    floor = np.maximum(thresholds, np.float32(1.0))
    return np.minimum(np.log10(floor) / np.float32(np.log10(FULL_RISK_THRESHOLDS)), np.float32(1.0))


@dataclass(frozen=True)
class Viewing:
    """How a picture is looked at.

    Attributes
    ----------
    picture_px : width and height of the picture
    aspect : its width over its height as shown
    heights : viewing distance in picture heights; about three is what 1080-line television is made for
        (3.1 in Rec. ITU-R BT.500; value from memory)
    luminance_cd_m2 : mean luminance; half of a reference monitor's 100 cd/m^2 (Rec. ITU-R BT.2035; value
        from memory)
    """

    picture_px: tuple[int, int]
    aspect: float = 16 / 9
    heights: float = 3.0
    luminance_cd_m2: float = 50.0

    @property
    def height_deg(self) -> float:
        """Angle under which the picture's height is seen."""
        return float(2.0 * np.degrees(np.arctan(0.5 / self.heights)))

    @property
    def field_deg2(self) -> float:
        """Area of the picture, square degrees."""
        return float(self.height_deg * 2.0 * np.degrees(np.arctan(0.5 * self.aspect / self.heights)))

    @property
    def degree_cycles(self) -> tuple[float, float]:
        """Cycles per degree of one cycle per picture pixel, across and down, in the picture's middle."""
        width, height = self.picture_px
        return width / self.aspect / self.height_deg, height / self.height_deg

    def sensitivity(self, cycles_deg: npt.ArrayLike) -> Array:
        """Contrast sensitivity in this viewing, at cycles per degree."""
        return sensitivity(cycles_deg, self.luminance_cd_m2, self.field_deg2)


LUMINANCE_SHARES: tuple[float, float, float] = tuple(float(v) for v in BT709_LUMINANCE)  # type: ignore[assignment]
"""Shares of red, green and blue in luminance (BT.709)."""
