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
from preview.show.model import Camera, CameraCue, Shot, ShowFile
from preview.timeline.delay import camera_delay
from preview.timeline.rate import Rate
from preview.timeline.timecode import (
    TimecodeError,
    day_frames,
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

    What a rundown may say is checked, in a user's words, where the show file is read
    (``preview.show.rundown``); here a rundown that was never checked only fails.

    Parameters
    ----------
    file : the show, checked
    path : name of its file, for problems

    Raises
    ------
    ShowError : the shots come to more than a timecode day.
    ValueError : a gap, an overlap, an unknown name, an impossible mix or a bad label.
    """
    rate, drop = Rate(file.show.frame_rate), is_drop_frame(file.show.start_timecode)
    spans = _spans(file, rate, drop)
    if spans[-1][1] > day_frames(rate, drop):
        found = "the shots come to more than 24 hours"
        raise ShowError([Problem(path, 0, 0, "rundown", found, "shorten them")])
    doing = {camera.name: Cue(camera.name, camera.framings[0].name, None) for camera in file.cameras}
    on_air: str | None = None
    shots: list[ResolvedShot] = []
    for i, (shot, (start, end)) in enumerate(zip(file.rundown, spans, strict=True)):
        before, on_air = on_air, shot.on_air or on_air
        _insist(on_air in doing, i, f"no camera is called {on_air!r}")
        _insist(set(shot.cameras) <= set(doing), i, "cues a camera that does not exist")
        assert on_air is not None
        mix_frames = _mix_frames(i, shot, before, on_air, end - start)
        for camera in file.cameras:
            cue = shot.cameras.get(camera.name)
            if cue is not None:
                # On programme until the mixer, which may hold back, has left it.
                leaves = camera.name == before and camera.name != on_air
                since = start + mix_frames + _held_back(file, on_air, rate) if leaves else start
                doing[camera.name] = _cue(i, cue, camera, since)
        shots.append(
            ResolvedShot(
                name=shot.name,
                index=i,
                start_frame=start,
                end_frame=end,
                on_air=on_air,
                transition=shot.transition,
                mix_frames=mix_frames,
                cues=tuple(doing.values()),
            )
        )
    return tuple(shots)


def _insist(so: bool, shot: int, otherwise: str) -> None:
    if not so:
        raise ValueError(f"rundown[{shot}] was not checked: {otherwise}")


def _spans(file: ShowFile, rate: Rate, drop: bool) -> list[tuple[int, int]]:
    """(start, end) frames of every shot."""
    first = parse_timecode(file.show.start_timecode, rate)
    spans: list[tuple[int, int]] = []
    start = 0
    for i, shot in enumerate(file.rundown):
        _insist(_start(shot, start, first, rate, drop) in (None, start), i, "a gap or an overlap before it")
        if shot.duration is not None:
            end = start + parse_duration(shot.duration, rate)
        else:
            following = file.rundown[i + 1] if i + 1 < len(file.rundown) else None
            due = None if following is None else _start(following, start, first, rate, drop)
            _insist(due is not None and due > start, i, "its end is not known")
            assert due is not None
            end = due
        spans.append((start, end))
        start = end
    return spans


def _start(shot: Shot, after: int, first: int, rate: Rate, drop: bool) -> int | None:
    """Frame that a shot's start label names, counted on from ``after`` and so past midnight too.

    Labels come round every 24 h: one more than 12 h ahead is taken as one before ``after``.
    """
    if shot.start is None:
        return None
    day = day_frames(rate, drop)
    ahead = (read_label(shot.start, rate, drop) - first - after) % day
    return after + (ahead - day if ahead > day // 2 else ahead)


def _held_back(file: ShowFile, on_air: str, rate: Rate) -> int:
    return next(camera_delay(file, c, rate).picture for c in file.cameras if c.name == on_air)


def _cue(i: int, cue: CameraCue, camera: Camera, since: int) -> Cue:
    _insist((cue.framing is None) != (cue.move is None), i, f"{camera.name} needs a framing or a move")
    _insist(cue.move is not None or not cue.after_s, i, f"{camera.name} delays a framing")
    name = cue.move or cue.framing
    known = {one.name for one in (camera.moves if cue.move else camera.framings)}
    _insist(name in known, i, f"{camera.name} has no {name!r}")
    return Cue(camera.name, cue.framing, cue.move, since, cue.after_s)


def _mix_frames(i: int, shot: Shot, before: str | None, on_air: str, length: int) -> int:
    if shot.transition == "cut":
        _insist(shot.mix_frames is None, i, "a cut has no length")
        return 0
    _insist(before not in (None, on_air), i, "there is nothing to mix from")
    frames = shot.mix_frames
    _insist(frames is not None and frames <= length, i, f"a mix of {frames} frames in a shot of {length}")
    assert frames is not None
    return frames


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
