"""The running strip: which shot programme is in, which ones come, who takes them, and how long till.

Times are those of programme: a cue that the mixer holds back counts from when the picture changes.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from math import ceil

from preview.show.model import Camera
from preview.timeline.rundown import ResolvedShot
from preview.timeline.timeline import Timeline


@dataclass(frozen=True)
class Coming:
    """One shot on the strip.

    Attributes
    ----------
    shot : from the rundown
    frames : until programme takes it; 0 for the shot that it is in
    framing : of the camera that takes it, then; "start > end" for a move
    """

    shot: ResolvedShot
    frames: int
    framing: str


@dataclass(frozen=True)
class Running:
    """The rundown as programme stands in it at a frame.

    Attributes
    ----------
    now : the shot that programme is in
    following : shots that come, in running order
    gone, length : frames since programme took the present shot, and in all until the next (or the end)
    """

    now: Coming
    following: tuple[Coming, ...]
    gone: int
    length: int

    @property
    def left(self) -> int:
        """Frames until programme changes or the rundown ends."""
        return self.length - self.gone


class Strip:
    """The strip of a whole rundown, worked out once.

    Parameters
    ----------
    cameras : of the show
    """

    def __init__(self, timeline: Timeline, cameras: tuple[Camera, ...]) -> None:
        self._timeline, self._cameras = timeline, {camera.name: camera for camera in cameras}
        self._taken = taken(timeline)
        self._framings: dict[int, str] = {}

    def at(self, frame: int) -> Running:
        """The strip at a frame; ValueError outside the rundown."""
        self._timeline.shot_at(frame)
        place = max(i for i, (_, since) in enumerate(self._taken) if since <= frame)
        shot, since = self._taken[place]
        end = self._taken[place + 1][1] if place + 1 < len(self._taken) else self._timeline.frame_count
        following = tuple(
            Coming(coming, due - frame, self._framing(coming, due))
            for coming, due in self._taken[place + 1 :]
        )
        return Running(Coming(shot, 0, self._framing(shot, since)), following, frame - since, end - since)

    def _framing(self, shot: ResolvedShot, due: int) -> str:
        """What its camera shows when programme takes it: the framing, or the move it makes from there."""
        if shot.index not in self._framings:
            now, cue = self._timeline.at(due).camera(shot.on_air), shot.cue(shot.on_air)
            found = now.framing
            if cue.move is not None and not now.moving:
                move = next(one for one in self._cameras[shot.on_air].moves if one.name == cue.move)
                if found == move.start:
                    found = f"{move.start} > {move.end}"
            self._framings[shot.index] = found
        return self._framings[shot.index]


def taken(timeline: Timeline) -> list[tuple[ResolvedShot, int]]:
    """Every shot that comes on programme, with the frame on which the mixer takes it.

    A shot so short that the mixer, which holds its cut back, is already due for the next one never does.
    """
    found: list[tuple[ResolvedShot, int]] = []
    later = timeline.frame_count
    for shot in reversed(timeline.shots):
        due = shot.start_frame + (timeline.held_back(shot.on_air) if shot.index else 0)
        if due < later:
            found.append((shot, due))
            later = due
    return found[::-1]


def changes(timeline: Timeline, first: int, last: int) -> list[int]:
    """Frames of a stretch (both ends included) on which something changes at once: a cue, programme's camera,
    a mix's start and end, the wall's camera."""
    found, before = [], None
    for frame in range(max(0, first - 1), last + 1):
        moment = timeline.at(frame)
        state = moment.shot_index, moment.on_air, moment.mix_from, moment.wall_camera
        if before is not None and state != before and frame >= first:
            found.append(frame)
        before = state
    return found


def time_left(frames: int, rate: Fraction) -> str:
    """A countdown: seconds and tenths, rounded up so that it reads 0.0 only when the time has come.

    >>> time_left(106, Fraction(25)), time_left(1, Fraction(25)), time_left(1850, Fraction(25))
    ('4.3 s', '0.1 s', '1:14')
    """
    tenths = ceil(10 * Fraction(frames) / rate)
    if tenths < 600:
        return f"{tenths // 10}.{tenths % 10} s"
    seconds = ceil(Fraction(frames) / rate)
    return f"{seconds // 60}:{seconds % 60:02d}"
