"""What a camera's picture takes in on the plan: from its entrance pupil to the walls.

A plan's wedge is the horizontal angle of view, level: tilt, roll and the lens's distortion are left out.
"""

from __future__ import annotations

import numpy as np

from preview.conventions import Array

STEP_DEG = 0.5
"""Between the wedge's rays."""
INTO_THE_OPEN_M = 8.0
"""How far a wedge is drawn where no wall ends it."""
JUST_M = 1e-9


def reach_m(at_m: tuple[float, float], pans_deg: Array, lines: Array) -> Array:
    """(n,) metres from a point to the first wall line in each direction; inf for none.

    Parameters
    ----------
    pans_deg : (n,) directions, 0 along +Y, positive to the left
    lines : (k, 2, 2) wall lines

    Source: two lines cross where a + t r = b + u s (Cramer's rule).
    """
    turns = np.radians(np.asarray(pans_deg, dtype=np.float64))
    ray = np.column_stack([-np.sin(turns), np.cos(turns)])[:, None]
    if not len(lines):
        return np.full(len(turns), np.inf)
    start, along = lines[:, 0] - np.asarray(at_m), lines[:, 1] - lines[:, 0]
    cross = ray[..., 0] * along[:, 1] - ray[..., 1] * along[:, 0]
    with np.errstate(divide="ignore", invalid="ignore"):
        far = (start[:, 0] * along[:, 1] - start[:, 1] * along[:, 0]) / cross
        share = (start[:, 0] * ray[..., 1] - start[:, 1] * ray[..., 0]) / cross
    met = (far > JUST_M) & (share >= -JUST_M) & (share <= 1 + JUST_M)
    return np.where(met, far, np.inf).min(axis=1)


def wedge(at_m: tuple[float, float], pan_deg: float, half_deg: float, lines: Array) -> Array:
    """(n, 2) outline of a level wedge: the pupil, then its far edge from left to right.

    Parameters
    ----------
    pan_deg, half_deg : direction, and half the horizontal angle of view
    lines : (k, 2, 2) wall lines that end it
    """
    pans, reach = _rays(at_m, pan_deg, half_deg, lines)
    ends = _ends(at_m, pans, np.where(np.isfinite(reach), reach, INTO_THE_OPEN_M))
    return np.concatenate([[np.asarray(at_m, dtype=np.float64)], ends])


def on_walls(at_m: tuple[float, float], pan_deg: float, half_deg: float, lines: Array) -> Array:
    """(k, 2, 2) lines of wall that a level wedge meets first."""
    pans, reach = _rays(at_m, pan_deg, half_deg, lines)
    ends = _ends(at_m, pans, reach)
    both = np.isfinite(reach[:-1]) & np.isfinite(reach[1:])
    # Neighbours on two walls, one behind the other, are not joined.
    both &= np.abs(np.diff(np.where(np.isfinite(reach), reach, 0.0))) < 0.1 * np.maximum(reach[:-1], 1.0)
    return np.stack([ends[:-1][both], ends[1:][both]], axis=1)


def _rays(at_m: tuple[float, float], pan_deg: float, half_deg: float, lines: Array) -> tuple[Array, Array]:
    steps = max(2, int(np.ceil(2 * half_deg / STEP_DEG)) + 1)
    pans = pan_deg + np.linspace(half_deg, -half_deg, steps)
    return pans, reach_m(at_m, pans, lines)


def _ends(at_m: tuple[float, float], pans_deg: Array, reach: Array) -> Array:
    turns = np.radians(pans_deg)
    with np.errstate(invalid="ignore"):
        return np.asarray(at_m) + reach[:, None] * np.column_stack([-np.sin(turns), np.cos(turns)])
