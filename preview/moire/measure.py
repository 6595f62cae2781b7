"""What pattern a synthesis holds, found by Fourier transform: the prediction's judge."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy import fft

PADDED = 8
"""Times that a window is enlarged by zeros: finer steps of frequency."""


@dataclass(frozen=True)
class Measured:
    """The strongest pattern near a frequency.

    Attributes
    ----------
    frequency : cycles per photosite, x right and y down
    contrast : Michelson contrast of its wave
    """

    frequency: tuple[float, float]
    contrast: float


def strongest_near(
    picture: npt.NDArray[np.floating], frequency: tuple[float, float], within: float = 0.35
) -> Measured:
    """The strongest wave of a picture at frequencies near an expected one.

    Parameters
    ----------
    picture : (h, w) linear light, evenly lit but for the pattern
    frequency : expected, cycles per photosite; a wave and its negative are the same
    within : farthest from it, as a share of it, but at least one cycle in the window

    Raises
    ------
    ValueError : the picture is dark.
    """
    mean = float(picture.mean())
    if not mean > 0.0:
        raise ValueError("the picture is dark; there is no pattern to measure")
    height, width = picture.shape
    window = np.outer(np.hanning(height + 2)[1:-1], np.hanning(width + 2)[1:-1])
    shape = height * PADDED, width * PADDED
    bright = fft.fft2((picture / mean - 1.0) * window, shape)
    strength = 2.0 * np.abs(bright) / window.sum()
    fy, fx = np.meshgrid(fft.fftfreq(shape[0]), fft.fftfreq(shape[1]), indexing="ij")
    away = np.minimum(
        np.hypot(fx - frequency[0], fy - frequency[1]), np.hypot(fx + frequency[0], fy + frequency[1])
    )
    reach = max(within * float(np.hypot(*frequency)), 1.0 / min(height, width))
    strength = np.where(away <= reach, strength, 0.0)
    row, column = np.unravel_index(int(strength.argmax()), shape)
    found = float(fx[row, column]), float(fy[row, column])
    if found[0] * frequency[0] + found[1] * frequency[1] < 0.0:
        found = -found[0], -found[1]
    return Measured(found, float(strength[row, column]))
