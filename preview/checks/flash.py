"""Flashes, pixel by pixel: which pixels complete a change of light or of saturated red in this frame.

Pictures are fed one by one; what is kept is a few numbers a pixel, however long the show. How many pixels
change together and how often is counted in ``preview.checks.flash_count``.

Sources: Recommendation ITU-R BT.1702-3 (11/2023), read only through texts that quote it; Web Content
Accessibility Guidelines (WCAG) 2.2, "general flash and red flash thresholds" (saturated red, after
ISO 9241-391).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from preview.conventions import BT709_LUMINANCE, Array

Bools = npt.NDArray[np.bool_]

MONITOR_WHITE_CD_M2 = 200.0
"""Display that BT.1702 judges SDR pictures on: 10-bit codes 400, 863, 940 are 20.1, 160.4, 200 cd/m2 there
(BT.1702-3, Annex 2, table 1, secondary source)."""
MONITOR_EXPONENT = 2.4
"""Recommendation ITU-R BT.1886 (03/2011), Annex 1, with a black of 0."""
BRIGHT_CONTRAST = 1.0 / 17.0
"""Michelson contrast from which brighter than SDR images count where the darker one is at 160 cd/m2 or above:
160 to 180 cd/m2 is exactly that, so both rules meet there (BT.1702-3, secondary source)."""
RED_SHARE = 0.8
"""R / (R + G + B) in linear light from which a red is saturated (WCAG 2.2)."""
RED_STEP_UV = 0.2
"""Distance in the CIE 1976 u'v' diagram above which a change to or from it counts (WCAG 2.2)."""
BLACK_CD_M2 = 0.2
"""Below it a pixel has no colour to speak of and counts as a neutral black: 0.1 % of a 200 cd/m2 monitor.
Own choice; BT.1702 says "at any luminance"."""

_SLACK = 1e-6  # cd/m2 or u'v': a step of exactly the threshold must not be lost to rounding
_PRIMARIES_XY = np.array([[0.64, 0.33], [0.30, 0.60], [0.15, 0.06]])
_WHITE_XY = np.array([0.3127, 0.3290])
"""Recommendation ITU-R BT.709-6 (06/2015), items 1.3 and 1.4."""


def _xyz_from_rgb() -> Array:
    """(3, 3) XYZ of linear BT.709 R, G, B. Source: SMPTE RP 177:1993, from memory."""

    def xyz(xy: Array) -> Array:
        x, y = xy[..., 0], xy[..., 1]
        return np.stack([x / y, np.ones_like(x), (1 - x - y) / y], axis=-1)

    primaries = xyz(_PRIMARIES_XY).T
    found: Array = primaries * np.linalg.solve(primaries, xyz(_WHITE_XY))
    return found


_XYZ_FROM_RGB = _xyz_from_rgb()
_DENOMINATOR = np.array([1.0, 15.0, 3.0]) @ _XYZ_FROM_RGB


def _uv_of_xy(xy: Array) -> Array:
    x, y = xy
    return np.array([4 * x, 9 * y]) / (-2 * x + 12 * y + 3)


RED_UV = _uv_of_xy(_PRIMARIES_XY[0])
"""u', v' of the BT.709 red primary."""
WHITE_UV = _uv_of_xy(_WHITE_XY)
"""u', v' of D65."""

_MONITOR_LIGHT = MONITOR_WHITE_CD_M2 * (np.arange(256) / 255.0) ** MONITOR_EXPONENT


def monitor_light(code: npt.NDArray[np.uint8]) -> Array:
    """(h, w, 3) light of an SDR picture on a 200 cd/m2 monitor: linear R, G, B, in cd/m2 of white.

    Parameters
    ----------
    code : (h, w, 3) uint8, full range R'G'B'

    Raises
    ------
    TypeError : ``code`` is not uint8.

    >>> monitor_light(np.array([[[255, 255, 255]]], dtype=np.uint8)).tolist()
    [[[200.0, 200.0, 200.0]]]
    """
    if code.dtype != np.uint8:
        raise TypeError(f"an 8-bit picture is expected (uint8), not {code.dtype}")
    found: Array = _MONITOR_LIGHT[code]
    return found


def surface_light(linear: npt.NDArray[np.floating], white_cd_m2: float, peak_cd_m2: float) -> Array:
    """(h, w, 3) light of an LED surface seen straight on: linear R, G, B, in cd/m2 of white.

    Parameters
    ----------
    linear : (h, w, 3), 1.0 = stage white
    white_cd_m2 : luminance of stage white
    peak_cd_m2 : most that the surface gives
    """
    return np.clip(linear.astype(np.float64) * white_cd_m2, 0.0, peak_cd_m2)


def luminance_of(light: Array) -> Array:
    """(...) cd/m2 of (..., 3) linear R, G, B in cd/m2 of white."""
    found: Array = light @ BT709_LUMINANCE
    return found


def red_share_of(light: Array) -> Array:
    """(...) R / (R + G + B) of (..., 3) linear light; 0 for black."""
    total = light.sum(axis=-1)
    return np.divide(light[..., 0], total, out=np.zeros_like(total), where=total > 0.0)


def uv_of(light: Array) -> Array:
    """(..., 2) CIE 1976 u', v' of (..., 3) linear BT.709 light; that of white for black.

    Source: CIE 15:2004, 8.2.1 (u' = 4X / (X + 15Y + 3Z), v' = 9Y / (X + 15Y + 3Z)), from memory.
    """
    below = light @ _DENOMINATOR
    above = light @ (_XYZ_FROM_RGB[:2] * np.array([[4.0], [9.0]])).T
    uv = np.empty((*light.shape[:-1], 2))
    uv[:] = WHITE_UV
    np.divide(above, below[..., None], out=uv, where=(below > 0.0)[..., None])
    return uv


def _apart(one: Array, other: Array) -> Array:
    gap = one - other
    found: Array = np.sqrt(gap[..., 0] ** 2 + gap[..., 1] ** 2)
    return found


@dataclass(frozen=True)
class Limits:
    """From where on changes count, and how many of them are too many.

    Attributes
    ----------
    step_cd_m2 : least change of luminance where the darker image is below ``dark_cd_m2``
    contrast : contrast (bright - dark) / (bright + dark) above which changes count at or above it; None where
        they never do (SDR)
    area_share : share of the picture (0..1) above which a change counts
    flashes : most flashes in any second
    sustained_s : flashing within the limits that lasts longer is told
    """

    step_cd_m2: float = 20.0
    dark_cd_m2: float = 160.0
    contrast: float | None = None
    area_share: float = 0.25
    flashes: int = 3
    sustained_s: float = 5.0


class Changes(NamedTuple):
    """Pixels that complete a change in one frame.

    Attributes
    ----------
    up, down : (h, w) to brighter and to darker, or to red and from red; never both
    swing : (h, w) how far they have come, cd/m2 or u'v'; 0 where neither
    """

    up: Bools
    down: Bools
    swing: Array


def counts(dark: Array, bright: Array, limits: Limits) -> Bools:
    """Whether a change of luminance between two levels counts, whichever comes first.

    Parameters
    ----------
    dark, bright : (...) cd/m2, dark <= bright
    """
    found: Bools = (bright - dark >= limits.step_cd_m2 - _SLACK) & (dark < limits.dark_cd_m2)
    if limits.contrast is not None:
        steep = bright - dark > limits.contrast * (bright + dark) + _SLACK
        found |= steep & (dark >= limits.dark_cd_m2)
    return found


class LuminanceChanges:
    """Finds changes of luminance as they complete, each against the extreme since the one before.

    A change is from the darkest level to a brighter one (or the other way round) since the pixel's last
    change: a rise over several frames is one change, complete in the frame in which it has come far enough,
    and smaller ripples on it do not break it. That is the cautious reading; judging each frame against the
    one before would let quick ramps pass.

    Parameters
    ----------
    limits : of the picture
    """

    def __init__(self, limits: Limits) -> None:
        self._limits = limits
        self._last: npt.NDArray[np.int8] | None = None
        self._dark: Array = np.empty(0)
        self._bright: Array = np.empty(0)

    def feed(self, luminance: Array) -> Changes:
        """The next picture's changes.

        Parameters
        ----------
        luminance : (h, w) cd/m2
        """
        if self._last is None:
            self._last = np.zeros(luminance.shape, dtype=np.int8)
            self._dark, self._bright = luminance.copy(), luminance.copy()
            none = np.zeros(luminance.shape, dtype=bool)
            return Changes(none, none, np.zeros(luminance.shape))
        rise, fall = np.maximum(luminance, self._dark), np.minimum(luminance, self._bright)
        up = (self._last <= 0) & counts(self._dark, rise, self._limits)
        down = (self._last >= 0) & counts(fall, self._bright, self._limits) & ~up
        swing = np.where(up, rise - self._dark, np.where(down, self._bright - fall, 0.0))
        changed = up | down
        self._last[up], self._last[down] = 1, -1
        # After a change both extremes start anew; the one it came from is of no more use.
        self._dark = np.where(changed, luminance, np.minimum(self._dark, luminance))
        self._bright = np.where(changed, luminance, np.maximum(self._bright, luminance))
        return Changes(up, down, swing)


class RedChanges:
    """Finds changes to and from saturated red as they complete, at any luminance.

    A pixel changes to red when it is a saturated red and RED_STEP_UV away from the colour farthest from red
    that it had since its last change; from red when it is that far from its most saturated red. Farthest and
    most are measured from the red primary in the u'v' diagram. Black is neutral: a red that goes on and off
    counts.
    """

    def __init__(self) -> None:
        self._last: npt.NDArray[np.int8] | None = None
        self._red_uv: Array = np.empty(0)
        self._red_off: Array = np.empty(0)
        self._other_uv: Array = np.empty(0)
        self._other_off: Array = np.empty(0)

    def feed(self, light: Array) -> Changes:
        """The next picture's changes: ``up`` to red, ``down`` from red.

        Parameters
        ----------
        light : (h, w, 3) linear R, G, B in cd/m2 of white
        """
        lit = luminance_of(light) >= BLACK_CD_M2
        light = np.where(lit[..., None], light, 0.0)
        uv = uv_of(light)
        off = _apart(uv, RED_UV)
        red = red_share_of(light) >= RED_SHARE - 1e-9
        if self._last is None:
            self._last = np.zeros(off.shape, dtype=np.int8)
            self._red_uv, self._other_uv = uv.copy(), uv.copy()
            self._red_off = np.full(off.shape, np.inf)
            self._other_off = np.full(off.shape, -np.inf)
        from_other = _apart(uv, self._other_uv)
        from_red = _apart(uv, self._red_uv)
        up = (self._last <= 0) & red & np.isfinite(self._other_off) & (from_other > RED_STEP_UV + _SLACK)
        down = (self._last >= 0) & np.isfinite(self._red_off) & (from_red > RED_STEP_UV + _SLACK) & ~up
        swing = np.where(up, from_other, np.where(down, from_red, 0.0))
        self._last[up], self._last[down] = 1, -1
        changed = up | down
        self._red_off[changed], self._other_off[changed] = np.inf, -np.inf
        redder = red & (self._last >= 0) & (off < self._red_off)
        farther = ~red & (self._last <= 0) & (off > self._other_off)
        for take, colors, offs in (
            (redder, self._red_uv, self._red_off),
            (farther, self._other_uv, self._other_off),
        ):
            colors[take], offs[take] = uv[take], off[take]
        return Changes(up, down, swing)
