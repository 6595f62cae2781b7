"""The rundown worked out: every shot's first and last frame, and what each camera does in it.

A shot inherits what it does not say from the shot before it:

- the camera on air stays on air;
- a camera without a cue goes on with what it does: it holds its framing, and a move under way
  continues across the cut without restarting. A finished move leaves it on the move's end framing;
- a camera that was never cued holds its first framing.

A cue takes effect on the shot's first frame: the camera is on the framing it names, or on the start
framing of the move it names, from that frame on, wherever it was before. ``after_s`` makes it hold
that start framing so long before the move begins. Cueing a move again starts it again. Only the
outgoing camera takes its cue later where it is still seen: on the first frame after a mix, and after
the frames that the mixer holds its cut back.

Source: common practice for rundowns; the wording of the rules is this project's own.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from preview.errors import Problem, ShowError
from preview.show.model import Camera, Shot, ShowFile
from preview.timeline.delay import camera_delay
from preview.timeline.rate import Rate
from preview.timeline.timecode import (
    TimecodeError,
    day_frames,
    format_timecode,
    is_drop_frame,
    parse_duration,
    parse_timecode,
)


@dataclass(frozen=True)
class Cue:
    """What one camera does, and since when.

    Attributes
    ----------
    camera : camera name
    framing : framing it holds, or None when it makes a move
    move : move it makes (and then stays on the end framing of), or None
    since_frame : frame from which the cue holds: the first of the shot that gave it, or for the outgoing
        camera the first on which the mixer has left it; 0 for a camera never cued
    after_s : seconds from there until the move begins
    """

    camera: str
    framing: str | None
    move: str | None
    since_frame: int = 0
    after_s: float = 0.0


@dataclass(frozen=True)
class ResolvedShot:
    """One shot with nothing left to inherit.

    Attributes
    ----------
    name, index : from the rundown
    start_frame, end_frame : frames since the rundown's first; the end is the next shot's start
    on_air : camera on air (the incoming one during a mix)
    transition : how it comes on air
    mix_frames : length of the mix, 0 for a cut; the mix begins on ``start_frame``
    cues : what each camera does, in camera order (the outgoing camera of a mix, once that is over)
    """

    name: str
    index: int
    start_frame: int
    end_frame: int
    on_air: str
    transition: Literal["cut", "mix"]
    mix_frames: int
    cues: tuple[Cue, ...]

    def cue(self, camera: str) -> Cue:
        """The cue of ``camera``; KeyError if the show has none of that name."""
        for cue in self.cues:
            if cue.camera == camera:
                return cue
        raise KeyError(camera)


def resolve_rundown(file: ShowFile, path: str = "show file") -> tuple[ResolvedShot, ...]:
    """Work the rundown out.

    Parameters
    ----------
    file : the show
    path : name of its file, for problems

    Raises
    ------
    ShowError : every gap, overlap, bad label, missing length, impossible mix and unknown name found.
    """
    reader = _Reader(file, path)
    spans = reader.spans()
    # Cues are looked at even when the times are wrong, for all problems in one round; a day is
    # longer than any mix.
    day = day_frames(reader.rate, drop=False)
    shots = reader.shots(spans or [(0, day)] * len(file.rundown))
    if reader.problems:
        raise ShowError(reader.problems)
    return shots


class _Reader:
    """Collects problems while it works, so that a user sees them in one round."""

    def __init__(self, file: ShowFile, path: str):
        self.file, self.path = file, path
        self.rate = Rate(file.show.frame_rate)
        self.drop = is_drop_frame(file.show.start_timecode)
        self.problems: list[Problem] = []

    def problem(self, key: str, found: str, fix: str) -> None:
        self.problems.append(Problem(self.path, 0, 0, key, found, fix))

    def spans(self) -> list[tuple[int, int]]:
        """(start, end) frames of every shot; empty when any of them cannot be told."""
        rundown = self.file.rundown
        try:
            first = parse_timecode(self.file.show.start_timecode, self.rate)
        except TimecodeError as error:
            self.problem("show.start_timecode", error.found, error.fix)
            return []
        starts = [self._start(i, shot, first) for i, shot in enumerate(rundown)]
        lengths = [self._length(i, shot) for i, shot in enumerate(rundown)]
        if self.problems:
            return []
        if starts[0] not in (None, 0):
            self.problem(
                "rundown[0].start",
                f'"{rundown[0].start}" is not the rundown\'s first frame, {self.file.show.start_timecode}',
                "leave it out, or change show.start_timecode",
            )
        spans: list[tuple[int, int]] = []
        start = 0
        for i, shot in enumerate(rundown):
            last = i + 1 == len(rundown)
            length = lengths[i]
            following = None if last else self._after(start, starts[i + 1])
            if length is not None:
                end = start + length
            elif following is not None:
                end = following
            else:
                self.problem(
                    f"rundown[{i}].duration",
                    f'the end of shot "{shot.name}" is not known',
                    "write a duration" if last else "write a duration, or a start for the shot after it",
                )
                return []
            if following is not None and (following != end or following <= start):
                self._misfit(i, shot, start, end, following, first)
                return []
            spans.append((start, end))
            start = end
        if start > day_frames(self.rate, self.drop):
            self.problem("rundown", "the shots come to more than 24 hours", "shorten them")
        return [] if self.problems else spans

    def _misfit(self, i: int, shot: Shot, start: int, end: int, following: int, first: int) -> None:
        later = self.file.rundown[i + 1]
        if following <= start:
            found = f'"{later.start}" is not after the start of "{shot.name}", {self._label(start, first)}'
            fix = "put the shots in order of time"
        else:
            what = "leaves a gap after" if following > end else "overlaps"
            found = f'"{later.start}" {what} "{shot.name}", which ends at {self._label(end, first)}'
            fix = f'leave this start out, or leave out the duration of "{shot.name}"'
        self.problem(f"rundown[{i + 1}].start", found, fix)

    def _after(self, start: int, following: int | None) -> int | None:
        """A start label's frame, counted on from the shot before it and so past midnight too.

        Labels come round every 24 h: one more than 12 h ahead is taken as one before ``start``.
        """
        if following is None:
            return None
        day = day_frames(self.rate, self.drop)
        ahead = (following - start) % day
        return start + (ahead - day if ahead > day // 2 else ahead)

    def _unknown_camera(self, key: str, name: str) -> None:
        names = ", ".join(camera.name for camera in self.file.cameras)
        self.problem(key, f'no camera is called "{name}"', f"write one of: {names}")

    def _label(self, frame: int, first: int) -> str:
        return format_timecode(first + frame, self.rate, self.drop)

    def _start(self, i: int, shot: Shot, first: int) -> int | None:
        if shot.start is None:
            return None
        try:
            frame = (read_label(shot.start, self.rate, self.drop) - first) % day_frames(self.rate, self.drop)
        except TimecodeError as error:
            self.problem(f"rundown[{i}].start", error.found, error.fix)
            return None
        return frame

    def _length(self, i: int, shot: Shot) -> int | None:
        if shot.duration is None:
            return None
        try:
            return parse_duration(shot.duration, self.rate)
        except TimecodeError as error:
            self.problem(f"rundown[{i}].duration", error.found, error.fix)
            return None

    def shots(self, spans: list[tuple[int, int]]) -> tuple[ResolvedShot, ...]:
        cameras = self.file.cameras
        doing = {camera.name: Cue(camera.name, camera.framings[0].name, None) for camera in cameras}
        on_air: str | None = None
        shots: list[ResolvedShot] = []
        for i, (shot, (start, end)) in enumerate(zip(self.file.rundown, spans, strict=True)):
            before, on_air = on_air, shot.on_air or on_air
            if on_air is None:
                self.problem(
                    f"rundown[{i}].on_air", "no camera is on air yet", "name the camera this shot starts on"
                )
            elif shot.on_air and on_air not in doing:
                self._unknown_camera(f"rundown[{i}].on_air", on_air)
            for name in shot.cameras:
                if name not in doing:
                    self._unknown_camera(f"rundown[{i}].cameras.{name}", name)
            mix_frames = self._mix_frames(i, shot, before, on_air, end - start)
            for camera in cameras:
                # On programme until the mixer, which may hold back, has left it.
                leaves = camera.name == before and camera.name != on_air
                since = start + mix_frames + self._held_back(on_air) if leaves else start
                doing[camera.name] = self._cue(i, shot, camera, since) or doing[camera.name]
            shots.append(
                ResolvedShot(
                    name=shot.name,
                    index=i,
                    start_frame=start,
                    end_frame=end,
                    on_air=on_air or "",
                    transition=shot.transition,
                    mix_frames=mix_frames,
                    cues=tuple(doing.values()),
                )
            )
        return tuple(shots)

    def _held_back(self, on_air: str | None) -> int:
        for camera in self.file.cameras:
            if camera.name == on_air:
                return camera_delay(self.file, camera, self.rate).picture
        return 0

    def _cue(self, i: int, shot: Shot, camera: Camera, since: int) -> Cue | None:
        cue = shot.cameras.get(camera.name)
        if cue is None:
            return None
        key = f"rundown[{i}].cameras.{camera.name}"
        if (cue.framing is None) == (cue.move is None):
            both = cue.framing is not None
            self.problem(
                key,
                "gives both a framing and a move" if both else "gives neither a framing nor a move",
                "keep one of them" if both else "write framing or move, or leave the camera out",
            )
        elif cue.framing is not None and cue.after_s:
            self.problem(
                f"{key}.after_s", "delays a framing, which begins with its shot", "use it with a move only"
            )
        names = [move.name for move in camera.moves] if cue.move else [f.name for f in camera.framings]
        wanted, kind = (cue.move, "move") if cue.move else (cue.framing, "framing")
        if wanted is not None and wanted not in names:
            self.problem(
                f"{key}.{kind}",
                f'{camera.name} has no {kind} called "{wanted}"',
                f"write one of: {', '.join(names) or '(it has none)'}",
            )
        return Cue(camera.name, None if cue.move else cue.framing, cue.move, since, cue.after_s)

    def _mix_frames(self, i: int, shot: Shot, before: str | None, on_air: str | None, length: int) -> int:
        if shot.transition == "cut":
            if shot.mix_frames is not None:
                self.problem(
                    f"rundown[{i}].mix_frames", "gives a mix length for a cut", 'write transition = "mix"'
                )
            return 0
        if before is None:
            self.problem(f"rundown[{i}].transition", "the first shot has nothing to mix from", 'write "cut"')
        elif before == on_air:
            self.problem(
                f"rundown[{i}].transition", f"{on_air} cannot mix to itself", "cut, or name another camera"
            )
        if shot.mix_frames is None:
            self.problem(f"rundown[{i}].mix_frames", "a mix needs a length", "write mix_frames")
            return 0
        if shot.mix_frames > length:
            self.problem(
                f"rundown[{i}].mix_frames",
                f'{shot.mix_frames} frames are longer than the shot "{shot.name}" ({length} frames)',
                "shorten the mix or lengthen the shot",
            )
        return shot.mix_frames


def read_label(label: str, rate: Rate, drop: bool) -> int:
    """``parse_timecode``, for a show that counts in one way only.

    Raises
    ------
    TimecodeError : as ``parse_timecode``, or the label is of the other count, where it may name
        another frame.
    """
    frame = parse_timecode(label, rate)
    if is_drop_frame(label) != drop:
        ours, theirs = (";", ":") if drop else (":", ";")
        raise TimecodeError(
            f'"{label}" has "{theirs}" before its frames and the show counts with "{ours}"',
            f'write "{label[:8]}{ours}{label[9:]}"',
        )
    return frame
