"""Fourier transforms of windowed pictures, and lattices that lie straight before the sensor."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from scipy import fft, optimize


def windowed(picture: np.ndarray) -> tuple[np.ndarray, float]:
    """Relative difference from the mean under a Blackman window, and the window's sum."""
    window = np.outer(np.blackman(len(picture)), np.blackman(len(picture)))
    mean = (picture * window).sum() / window.sum()
    return (picture / mean - 1.0) * window, float(window.sum())


def contrast_at(picture: np.ndarray, frequency: np.ndarray) -> float:
    """Michelson contrast of one frequency, cycles per photosite."""
    shaped, total = windowed(picture.astype(np.float64))
    line = np.arange(len(picture))
    there = np.exp(-2j * np.pi * frequency[1] * line) @ shaped @ np.exp(-2j * np.pi * frequency[0] * line)
    return float(2.0 * np.abs(there) / total)


def peak(picture: np.ndarray, near: np.ndarray | None = None) -> tuple[np.ndarray, float]:
    """Frequency (right half-plane) and contrast of the highest peak away from 0; of one within two cycles per
    window of ``near`` where that is given."""
    shaped, _ = windowed(picture.astype(np.float64))
    count = 8 * len(picture)
    height = np.abs(fft.fft2(shaped, (count, count)))
    line = fft.fftfreq(count)
    fx, fy = np.meshgrid(line, line)
    kept = np.hypot(fx, fy) > 4.0 / len(picture)
    if near is not None:
        kept &= np.hypot(fx - near[0], fy - near[1]) < 2.0 / len(picture)
    row, column = np.unravel_index(np.argmax(height * kept), height.shape)
    start = np.array([line[column], line[row]])
    corners = start + 5e-4 * np.array([[0, 0], [1, 0], [0, 1]])
    best = optimize.minimize(
        lambda f: -contrast_at(picture, f), start, method="Nelder-Mead",
        options={"xatol": 1e-6, "fatol": 1e-9, "initial_simplex": corners},
    )  # fmt: skip
    return best.x, -float(best.fun)


def off(found: np.ndarray, predicted: np.ndarray) -> float:
    """Distance of two frequencies, a wave being its negative too, as a share of the predicted one's length.

    In a sampled picture whole cycles per photosite do not count.
    """
    away = []
    for sign in (1, -1):
        difference = found - sign * predicted
        away.append(np.hypot(*(difference - np.round(difference))))
    return float(min(away) / np.hypot(*predicted))


def straight(spacing: float, turn_deg: float = 0.0) -> np.ndarray:
    """(4,) gradients of a lattice square on, LED pixels so many photosites apart, turned."""
    c, s = np.cos(np.radians(turn_deg)) / spacing, np.sin(np.radians(turn_deg)) / spacing
    return np.array([c, s, -s, c])


def straight_at(gradients: np.ndarray) -> Callable[[np.ndarray, np.ndarray], tuple[np.ndarray, np.ndarray]]:
    """What the sensor's places see of that lattice."""
    ux, uy, vx, vy = gradients
    return lambda x, y: (ux * x + uy * y + 0.31, vx * x + vy * y + 0.17)
