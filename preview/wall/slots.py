"""Interleaving in time: which part of a frame is whose, what it costs in light, and whether it can work.

A frame is divided into N equal slots, one a camera. The wall shows one camera's picture in each, and
that camera's shutter is open in its own slot only. Nothing here moves a pixel; ``preview.wall.drive``
says what is shown.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal, get_args

from preview.camera.exposure import exposure_time_s, shutter_angle_deg, stops_between
from preview.show.model import FrameRate, ShowFile
from preview.wall.drive import in_order

WHOLE_REFRESHES = 1e-3
"""Refreshes this near to a whole number count as whole: data sheets round theirs, and walls lock to the
frame rate."""

FUSION_HZ = 60.0
"""Pictures that come round less often are seen to flicker on a bright wall. Common practice, no source."""


@dataclass(frozen=True)
class Slot:
    """One camera's part of every frame.

    Attributes
    ----------
    camera : its name
    start_s, length_s : when in the frame, and how long
    frame_s : length of the frame
    open_s : how long the shutter is open in the slot
    asked_s : how long the camera's own shutter angle would have it open
    """

    camera: str
    start_s: float
    length_s: float
    frame_s: float
    open_s: float
    asked_s: float

    @property
    def loss_stops(self) -> float:
        """Light lost against a shutter open the whole frame: log2 N, and what the shutter cuts away."""
        return stops_between(self.frame_s, self.open_s)

    @property
    def lost_of_own_stops(self) -> float:
        """Light lost against the camera's own shutter angle; 0 where that fits into the slot."""
        return stops_between(self.asked_s, self.open_s)


@dataclass(frozen=True)
class SlotFinding:
    """Something about an interleaved wall that a user should know.

    Attributes
    ----------
    about : what it concerns
    subject : surface or camera, "" for all
    text : one sentence
    """

    about: Literal["refresh", "flicker", "shutter", "sensor", "eye"]
    subject: str
    text: str


def slots(file: ShowFile) -> tuple[Slot, ...]:
    """The slots of an interleaved show, in order of time.

    A shutter is open for ``drive.slot_shutter_percent`` of its slot, or for what its camera's shutter
    angle asks if that is less.
    """
    fps = Fraction(file.show.frame_rate)
    cameras = in_order(file.cameras, file.drive)
    length = 1 / (fps * len(cameras))
    most = float(length) * file.drive.slot_shutter_percent / 100.0
    made = []
    for place, camera in enumerate(cameras):
        asked = exposure_time_s(camera.shutter_angle_deg, fps)
        opened = min(most, asked)
        made.append(Slot(camera.name, float(place * length), float(length), float(1 / fps), opened, asked))
    return tuple(made)


def pulse_ripple(cycles: float, duty: float) -> float:
    """Largest difference between two exposures of a pulsed light over their mean, whatever the phase.

    Parameters
    ----------
    cycles : pulses in an exposure, above 0
    duty : share of each cycle that is lit, above 0 and up to 1

    Source: the integral of a rectangular pulse over ``cycles``, own derivation checked by numerical sweep.
    One pulse a refresh; drivers that scatter their light over the refresh ripple less.

    >>> round(pulse_ripple(240 / 50, 0.5), 6), pulse_ripple(240 / 48, 0.5)
    (0.083333, 0.0)
    """
    part = cycles - int(cycles)
    return (min(part, duty) - max(0.0, part + duty - 1.0)) / (cycles * duty)


def slot_findings(file: ShowFile, refresh_hz: Mapping[str, float]) -> tuple[SlotFinding, ...]:
    """What stands in the way of an interleaved show.

    Parameters
    ----------
    file : the show
    refresh_hz : refreshes a second of each LED surface, by name
    """
    made = slots(file)
    return (
        *(found for name, refresh in refresh_hz.items() if (found := _refresh(file, made, name, refresh))),
        *_shutters(file, made),
        *_always(file, made),
    )


def _refresh(file: ShowFile, made: tuple[Slot, ...], surface: str, refresh: float) -> SlotFinding | None:
    fps = Fraction(file.show.frame_rate)
    slots_a_second = float(fps * len(made))
    refreshes = refresh / slots_a_second
    share = f"{refreshes:.4g} times in each slot ({refresh:g} / ({fps_text(fps)} x {len(made)}))"
    better = max(1, round(refreshes)) * slots_a_second
    fix = f"{better:.8g} Hz would give {max(1, round(refreshes))}"
    if refreshes < 1 - WHOLE_REFRESHES:
        text = f"{surface} refreshes {share}, and needs a whole one to change its picture; {fix}"
        return SlotFinding("refresh", surface, text)
    shortest = min(made, key=lambda slot: slot.open_s)
    if refresh * shortest.open_s < 1 - WHOLE_REFRESHES:
        text = (
            f"{surface} refreshes {refresh * shortest.open_s:.4g} times while the shutter of "
            f"{shortest.camera} is open, and may be dark all that time; "
            f"{1 / shortest.open_s:.8g} Hz or a longer shutter would hold one"
        )
        return SlotFinding("refresh", surface, text)
    ripple = max(_worst_ripple(refresh * slot.open_s) for slot in made)
    if _is_whole(refreshes) or not ripple:
        return None
    rate = _whole_rate(fps, len(made), refresh)
    text = (
        f"{surface} refreshes {share}: not a whole number, so exposures may differ by up to "
        f"{100 * ripple:.2g} % and flicker; {fix}{f', or {rate} frames per second' if rate else ''}"
    )
    return SlotFinding("flicker", surface, text)


def _is_whole(refreshes: float) -> bool:
    return abs(refreshes - round(refreshes)) < WHOLE_REFRESHES


def _worst_ripple(refreshes: float) -> float:
    """``pulse_ripple`` of the shortest pulses, which ripple most."""
    return 0.0 if _is_whole(refreshes) else 1.0 / refreshes


def _whole_rate(fps: Fraction, count: int, refresh: float) -> str | None:
    """The frame rate nearest to ``fps`` at which ``refresh`` fits into the slots, if there is one."""
    fitting = [
        rate
        for rate in get_args(FrameRate)
        if refresh >= (a_second := float(Fraction(rate) * count)) and _is_whole(refresh / a_second)
    ]
    return min(fitting, key=lambda rate: abs(stops_between(float(Fraction(rate)), float(fps))), default=None)


def _shutters(file: ShowFile, made: tuple[Slot, ...]) -> Iterator[SlotFinding]:
    fps = Fraction(file.show.frame_rate)
    for slot in made:
        if slot.asked_s <= slot.open_s * (1 + 1e-9):
            continue
        text = (
            f"{slot.camera} asks for a shutter of {shutter_angle_deg(slot.asked_s, fps):.4g} degrees "
            f"({1000 * slot.asked_s:.4g} ms), longer than its slot allows: it becomes "
            f"{shutter_angle_deg(slot.open_s, fps):.4g} degrees ({1000 * slot.open_s:.4g} ms), "
            f"{slot.lost_of_own_stops:.2f} stops less light"
        )
        yield SlotFinding("shutter", slot.camera, text)


def _always(file: ShowFile, made: tuple[Slot, ...]) -> Iterator[SlotFinding]:
    if len(made) < 2:
        return
    yield SlotFinding(  # common practice, no source
        "sensor",
        "",
        "every camera needs a global shutter, locked to the wall: a rolling one reads its rows out over "
        "several slots",
    )
    fps = Fraction(file.show.frame_rate)
    if round(fps) < FUSION_HZ:
        text = (
            f"inside the frustums each slot's picture comes round {float(fps):.4g} times a second, below the "
            f"{FUSION_HZ:g} or so that look steady: people on the floor see flicker that the house picture "
            "does not show"
        )
        yield SlotFinding("eye", "", text)


def fps_text(fps: Fraction) -> str:
    """A frame rate as people say it.

    >>> fps_text(Fraction(30000, 1001)), fps_text(Fraction(25))
    ('29.97', '25')
    """
    return f"{float(fps):.5g}"
