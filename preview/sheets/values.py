"""One camera's shots as its operator needs them, as plain values: nothing is drawn or written here.

Frames count from the rundown's first; a stretch of frames includes its last. Angles are degrees and lengths
metres where the name does not say otherwise, all in stage axes (``preview.conventions``).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from preview.sheets.findings import SheetWarning
from preview.show.model import Point

Frames = tuple[int, int]
Place = Literal["held", "move starts", "comes on air", "goes off air", "move ends"]


@dataclass(frozen=True)
class Setting:
    """Where camera and lens are at one frame.

    Attributes
    ----------
    place : what the frame is in its shot
    framing : name of the framing, "A > B" between the ends of a move
    frame, timecode : when
    position_m : stage position of the sensor; the third is its height
    pan_deg, tilt_deg, roll_deg : of the optical axis
    swing_deg, boom_deg : of a jib's arm; None on any other mount
    focal_length_mm, focus_m, t_stop : of the lens; focus from the sensor
    """

    place: Place
    framing: str
    frame: int
    timecode: str
    position_m: Point
    pan_deg: float
    tilt_deg: float
    roll_deg: float
    swing_deg: float | None
    boom_deg: float | None
    focal_length_mm: float
    focus_m: float
    t_stop: float


@dataclass(frozen=True)
class SheetMove:
    """A move as it is timed.

    Attributes
    ----------
    name, start, end : of the move and its framings
    duration_s, ease : as in the show file
    frames : the first that moves, and the first on which the camera has arrived
    timecodes : their labels
    broken_off : frame on which another cue ends it before it has arrived, or None
    """

    name: str
    start: str
    end: str
    duration_s: float
    ease: str
    frames: Frames
    timecodes: tuple[str, str]
    broken_off: int | None


@dataclass(frozen=True)
class Neighbour:
    """The shot before or after on programme, and its camera."""

    shot_number: int
    shot: str
    camera_number: int
    camera: str


@dataclass(frozen=True)
class SheetStill:
    """A frame whose return is drawn, and what it is in its shot."""

    place: Literal["held", "comes on air", "middle", "goes off air"]
    frame: int
    timecode: str


@dataclass(frozen=True)
class SheetShot:
    """A shot that this camera has on programme.

    Attributes
    ----------
    number, name : of the rundown, from 1 on
    of_camera : name of this camera
    place, of : which of this camera's shots it is, and how many there are
    frames, timecodes : on air, from the first frame of a mix to the last of the next
    seconds : how long that is
    cue_timecode, held_back_frames : when the cut is called, and how long the mixer holds it back
    transition, mix_frames : how it comes on air
    before, after : on programme before and after; None at the rundown's ends
    after_transition, after_mix_frames : how the next shot takes over
    next_frame, next_timecode, next_lead_frames : from when on the tally says "next", and for how many
        frames; None where it never does before this shot
    settings : one where the camera holds still, more where it moves on air
    move : the move that is under way on air, or starts after it; None for none
    stills : its middle; first, middle and last frame on air where the camera moves on air
    note : of the rundown
    warnings : of the checks
    """

    number: int
    name: str
    of_camera: str
    place: int
    of: int
    frames: Frames
    timecodes: tuple[str, str]
    seconds: float
    cue_timecode: str
    held_back_frames: int
    transition: Literal["cut", "mix"]
    mix_frames: int
    before: Neighbour | None
    after: Neighbour | None
    after_transition: Literal["cut", "mix"] | None
    after_mix_frames: int
    next_frame: int | None
    next_timecode: str | None
    next_lead_frames: int | None
    settings: tuple[Setting, ...]
    move: SheetMove | None
    stills: tuple[SheetStill, ...]
    note: str
    warnings: tuple[SheetWarning, ...]

    @property
    def moves_on_air(self) -> bool:
        """Whether the picture moves while it is on air."""
        return len(self.settings) > 1


@dataclass(frozen=True)
class OffAirCue:
    """What the camera is cued to do in a shot of another camera.

    Attributes
    ----------
    frame, timecode : from when on
    shot_number, shot : which shot cues it
    setting : what it holds from then on, or where its move starts
    move : the move, or None
    note : of that shot, where the camera makes a move in it; other notes are for others
    """

    frame: int
    timecode: str
    shot_number: int
    shot: str
    setting: Setting
    move: SheetMove | None
    note: str


@dataclass(frozen=True)
class OffAir:
    """A stretch off air between shots of this camera.

    ``frames`` is None, and so are ``timecodes`` and ``seconds``, where one shot follows straight on a mix.
    """

    frames: Frames | None
    timecodes: tuple[str, str] | None
    seconds: float
    cues: tuple[OffAirCue, ...]
    warnings: tuple[SheetWarning, ...]


@dataclass(frozen=True)
class ShotSheet:
    """Everything on one camera's sheet.

    Attributes
    ----------
    title : of the show
    frame_rate : frames a second, as written
    timecodes : first and last of the rundown
    camera, number, operator : from the show file
    mount : kind of mount
    focal_range_mm, t_stop : of the lens, at its working stop
    return_late_frames, return_late_ms : how late the return arrives
    drive : how the wall is driven
    led_floor : the stage has one
    parts : shots and stretches off air, in running order
    warnings : of the checks, about the whole rundown
    checked : what the warnings come from; "" where there was no check
    """

    title: str
    frame_rate: str
    timecodes: tuple[str, str]
    camera: str
    number: int
    operator: str
    mount: str
    focal_range_mm: tuple[float, float]
    t_stop: float
    return_late_frames: int
    return_late_ms: float
    drive: str
    led_floor: bool
    parts: tuple[SheetShot | OffAir, ...]
    warnings: tuple[SheetWarning, ...]
    checked: str

    @property
    def shots(self) -> tuple[SheetShot, ...]:
        """The shots alone."""
        return tuple(part for part in self.parts if isinstance(part, SheetShot))
