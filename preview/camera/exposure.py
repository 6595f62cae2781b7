"""How bright a luminance comes out: T-stop, exposure time, and an ISO number or a stated sensitivity.

The law is that of reflected-light meters, N^2 / t = L S / K, with the T-stop in place of the f-number N,
because light lost in the glass is lost to the picture too. What a meter is set for comes out as an 18 %
grey card (common practice; the standard names no card).

Source: ISO 2720:1974, which recommends K from 10.6 to 13.4; 12.5 is usual. From public explanations of
the standard, whose text was not at hand.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from math import log2, pi

from preview.show.model import Camera, Lens, Sensitivity

METER_K_CD_S_M2 = 12.5
"""Calibration constant of reflected-light meters (cd s/m2, ISO 2720); makers use 12.5 or 14."""

GREY_CARD_PERCENT = 18.0
"""Reflectance of the grey card that a metered luminance stands for. Common practice, no source."""

FULL_VIDEO_PERCENT = 100.0
"""Reflectance that an ISO number puts at 100 % video, so that grey comes out at 41 % (the BT.709 curve
at 0.18): the pictures' own scale. Common practice, no source."""


def exposure_time_s(shutter_angle_deg: float, frames_per_second: float | Fraction) -> float:
    """How long a shutter is open in every frame.

    >>> exposure_time_s(180, 25)
    0.02
    """
    return shutter_angle_deg / 360.0 / float(frames_per_second)


def shutter_angle_deg(exposure_s: float, frames_per_second: float | Fraction) -> float:
    """The shutter angle that is open for ``exposure_s`` in every frame.

    >>> shutter_angle_deg(0.01, 50)
    180.0
    """
    return exposure_s * 360.0 * float(frames_per_second)


def stops_between(more: float, less: float) -> float:
    """How many times light doubles from ``less`` to ``more``; negative when it falls.

    >>> stops_between(200, 100)
    1.0
    """
    return log2(more / less)


def metered_luminance_cd_m2(
    t_stop: float, exposure_s: float, iso: float, meter_k: float = METER_K_CD_S_M2
) -> float:
    """Luminance for which these settings are right: what a reflected-light meter answers them to.

    Source: ISO 2720:1974, L = K N^2 / (S t), the T-stop for N.

    >>> metered_luminance_cd_m2(16, 1 / 100, 100)  # the sunny sixteen of photographers
    3200.0
    """
    return meter_k * t_stop**2 / (exposure_s * iso)


def card_luminance_cd_m2(illuminance_lx: float, card_percent: float) -> float:
    """Luminance of a matt card of this reflectance, evenly lit.

    Source: a Lambertian surface, L = E rho / pi.
    """
    return illuminance_lx * card_percent / 100.0 / pi


def iso_of(sensitivity: Sensitivity) -> float:
    """The ISO number that exposes a grey card as a camera of this stated sensitivity does.

    The f-number counts as a T-stop: the sheet's measurement had a lens, and its loss is in the figure.
    """
    grey = card_luminance_cd_m2(sensitivity.illuminance_lx, GREY_CARD_PERCENT)
    return METER_K_CD_S_M2 * sensitivity.f_number**2 / (grey * sensitivity.exposure_s)


@dataclass(frozen=True)
class Exposure:
    """One camera's exposure.

    Attributes
    ----------
    t_stop : what the lens is set to
    exposure_s : how long the shutter is open in a frame
    iso : exposure index, or the one that a stated sensitivity comes to
    full_video_percent : reflectance of the card that comes out at 100 % video
    """

    t_stop: float
    exposure_s: float
    iso: float
    full_video_percent: float = FULL_VIDEO_PERCENT

    def card_cd_m2(self, card_percent: float) -> float:
        """Luminance that comes out like a card of this reflectance in the light the exposure is for."""
        grey = metered_luminance_cd_m2(self.t_stop, self.exposure_s, self.iso)
        return grey * card_percent / GREY_CARD_PERCENT

    @property
    def full_video_cd_m2(self) -> float:
        """Luminance that comes out at 100 % video, before any knee."""
        return self.card_cd_m2(self.full_video_percent)

    def stops_above(self, luminance_cd_m2: float, card_percent: float = GREY_CARD_PERCENT) -> float:
        """Stops that a luminance lies above the key: a card of ``card_percent``."""
        return stops_between(luminance_cd_m2, self.card_cd_m2(card_percent))

    def stops_over_video(self, luminance_cd_m2: float) -> float:
        """Stops that a luminance lies above 100 % video."""
        return stops_between(luminance_cd_m2, self.full_video_cd_m2)


def camera_exposure(
    camera: Camera, frames_per_second: float | Fraction, exposure_s: float | None = None
) -> Exposure:
    """A camera's exposure as the show file has it.

    Parameters
    ----------
    camera : lens looked up in the catalogue; its stated sensitivity, if it has one, counts before its iso
    frames_per_second : the show's
    exposure_s : shutter time where something else than its angle decides it (a slot of the wall)

    Raises
    ------
    TypeError : the lens is still a catalogue name.
    """
    if not isinstance(camera.lens, Lens):
        raise TypeError(f"lens {camera.lens!r} of {camera.name!r} is not looked up in the catalogue yet")
    stated = camera.sensitivity
    return Exposure(
        t_stop=camera.lens.t_stop if camera.t_stop is None else camera.t_stop,
        exposure_s=exposure_time_s(camera.shutter_angle_deg, frames_per_second)
        if exposure_s is None
        else exposure_s,
        iso=camera.iso if stated is None else iso_of(stated),
        full_video_percent=FULL_VIDEO_PERCENT if stated is None else stated.card_percent,
    )
