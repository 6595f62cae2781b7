"""Linear light to signal: exposure, highlight knee, BT.709 curve. The last function of every picture.

The GL side evaluates the same formula (shaders/display.glsl); this numpy twin is its reference.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy.optimize import brentq

from preview.colour import bt709_oetf


@lru_cache(maxsize=32)
def knee_curve(point: float, range_stops: float) -> tuple[float, float]:
    """Curvature c and scale s of the knee ``point + s ln(1 + c (x - point))`` for x above ``point``.

    The knee leaves the straight line smoothly (equal slope at ``point``) and reaches 1.0 at
    ``2 ** range_stops``. Returns (0, 0) for no knee. Common practice (camera knee), no source.
    """
    white = 2.0**range_stops
    if point >= 1.0 or white <= 1.0 + 1e-9:
        return 0.0, 0.0

    def slope_gap(curvature: float) -> float:
        return float((1 - point) * curvature - np.log1p(curvature * (white - point)))

    high = 1.0
    while slope_gap(high) < 0:
        high *= 2
    low = high
    while slope_gap(low) >= 0:
        low /= 2
    curvature = float(brentq(slope_gap, low, high, xtol=1e-12))
    return curvature, 1 / curvature


@dataclass(frozen=True)
class Display:
    """The display transform of a show.

    Attributes
    ----------
    exposure_stops : applied first
    knee_point : linear level where the knee starts; 1 for none
    knee_range_stops : stops above 1.0 that still come out below full signal
    """

    exposure_stops: float = 0.0
    knee_point: float = 1.0
    knee_range_stops: float = 0.0

    @property
    def gain(self) -> float:
        """What exposure multiplies linear light by."""
        return float(2.0**self.exposure_stops)

    def signal(self, linear: np.ndarray) -> np.ndarray:
        """(..., 3) linear light (1.0 = stage white) to BT.709 R'G'B' in 0..1, float."""
        x = np.maximum(np.asarray(linear, dtype=np.float64) * self.gain, 0.0)
        curvature, scale = knee_curve(self.knee_point, self.knee_range_stops)
        if curvature:
            above = self.knee_point + scale * np.log1p(curvature * np.maximum(x - self.knee_point, 0))
            x = np.where(x > self.knee_point, above, x)
        return bt709_oetf(np.minimum(x, 1.0))

    def code(self, linear: np.ndarray) -> np.ndarray:
        """(..., 3) linear light to uint8 code values, full range."""
        return np.round(self.signal(linear) * 255).astype(np.uint8)
