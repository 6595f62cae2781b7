"""From a show and its timeline to what one camera's sheet says; numbers are those of the pictures."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from math import ceil

from preview.camera.view import CameraView
from preview.sheets.findings import SheetWarning, of_shots
from preview.sheets.values import (
    Frames,
    Neighbour,
    OffAir,
    OffAirCue,
    Place,
    Setting,
    SheetMove,
    SheetShot,
    SheetStill,
    ShotSheet,
)
from preview.show.load import Show
from preview.show.model import Camera
from preview.timeline.delay import camera_delay
from preview.timeline.mount import arm_angles_of
from preview.timeline.rundown import Cue, ResolvedShot
from preview.timeline.timeline import Timeline


def shot_sheet(
    show: Show,
    timeline: Timeline,
    camera: str,
    warnings: Sequence[SheetWarning] = (),
    checked: str = "",
) -> ShotSheet:
    """Everything that a camera's sheet says.

    Parameters
    ----------
    warnings : of any camera; those of others are left out
    checked : what the warnings come from, one sentence; "" where nothing was checked

    Raises
    ------
    KeyError : the show has no such camera.
    """
    return _Builder(show, timeline, camera, warnings).sheet(checked)


def on_air_frames(timeline: Timeline, index: int) -> Frames:
    """First and last frame on which a shot's camera is on programme for that shot, mixes included.

    Relies on what ``load_show`` insists on: no cut is held back, with its mix, past the end of its shot.
    """
    shot = timeline.shots[index]
    follows = index > 0 and timeline.shots[index - 1].on_air == shot.on_air
    first = shot.start_frame if follows else _taken_frame(timeline, index)
    if index + 1 == len(timeline.shots):
        return first, timeline.frame_count - 1
    following = timeline.shots[index + 1]
    if following.on_air == shot.on_air:
        return first, shot.end_frame - 1
    return first, _taken_frame(timeline, index + 1) + following.mix_frames - 1


def next_tally_frame(timeline: Timeline, index: int) -> int | None:
    """First frame of the stretch with tally "next" that leads up to a shot; None where there is none."""
    first, camera = on_air_frames(timeline, index)[0], timeline.shots[index].on_air
    if index == 0 or timeline.shots[index - 1].on_air == camera:
        return None
    before = timeline.shots[index - 1]
    lights = _taken_frame(timeline, index - 1)
    if index > 1 and timeline.shots[index - 2].on_air == camera:
        lights += before.mix_frames  # it is still on air in the mix
    return lights if lights < first else None


def _taken_frame(timeline: Timeline, index: int) -> int:
    """First frame on which the mixer shows a shot."""
    shot = timeline.shots[index]
    return shot.start_frame + (timeline.held_back(shot.on_air) if index else 0)


class _Builder:
    """One camera's sheet while it is put together."""

    def __init__(self, show: Show, timeline: Timeline, name: str, warnings: Sequence[SheetWarning]) -> None:
        found = next((one for one in show.file.cameras if one.name == name), None)
        if found is None:
            raise KeyError(name)
        self._camera: Camera = found
        self._show, self._timeline = show, timeline
        self._numbers = {one.name: one.number for one in show.file.cameras}
        self._warnings = of_shots([one for one in warnings if one.camera == name], timeline)
        self._own = [shot for shot in timeline.shots if shot.on_air == name]

    def sheet(self, checked: str) -> ShotSheet:
        file, line, camera = self._show.file, self._timeline, self._camera
        delay = camera_delay(file, camera, line.rate)
        view = line.view_at(camera.name, 0)
        assert not isinstance(camera.lens, str)
        return ShotSheet(
            title=file.show.title,
            frame_rate=str(line.rate),
            timecodes=(line.timecode(0), line.timecode(line.frame_count - 1)),
            camera=camera.name,
            number=camera.number,
            operator=camera.operator,
            mount=camera.mount.kind,
            focal_range_mm=camera.lens.focal_length_mm,
            t_stop=view.t_stop,
            return_late_frames=delay.returned,
            return_late_ms=1000 * float(line.rate.seconds(delay.returned)),
            drive=file.drive.mode,
            led_floor=any(surface.kind == "floor" for surface in file.stage.surfaces),
            parts=tuple(self._parts()),
            warnings=tuple(self._warnings.get(0, ())),
            checked=checked,
        )

    def _parts(self) -> list[SheetShot | OffAir]:
        parts: list[SheetShot | OffAir] = []
        waiting: list[ResolvedShot] = []
        free = 0
        for shot in self._timeline.shots:
            if shot.on_air != self._camera.name:
                waiting.append(shot)
                continue
            first, last = on_air_frames(self._timeline, shot.index)
            if waiting or free < first:
                parts.append(self._off_air(waiting, (free, first - 1)))
            parts.append(self._shot(shot, (first, last)))
            waiting, free = [], last + 1
        if waiting:
            parts.append(self._off_air(waiting, (free, self._timeline.frame_count - 1)))
        return parts

    def _off_air(self, shots: Sequence[ResolvedShot], frames: Frames) -> OffAir:
        there = frames[0] <= frames[1]
        cues = []
        for shot in shots:
            cue = shot.cue(self._camera.name)
            given = self._show.file.rundown[shot.index].cameras.get(self._camera.name) is not None
            if shot.index and not given:
                continue
            move = self._move(cue, shot.index)
            setting = self._setting("held", cue.since_frame) if move is None else self._start(move)
            note = self._show.file.rundown[shot.index].note.strip() if given and move else ""
            since = cue.since_frame
            label = self._timeline.timecode(since)
            cues.append(OffAirCue(since, label, shot.index + 1, shot.name, setting, move, note))
        return OffAir(
            frames=frames if there else None,
            timecodes=self._labels(frames) if there else None,
            seconds=self._seconds(frames) if there else 0.0,
            cues=tuple(cues),
            warnings=tuple(one for shot in shots for one in self._warnings.get(shot.index + 1, ())),
        )

    def _shot(self, shot: ResolvedShot, frames: Frames) -> SheetShot:
        line, index = self._timeline, shot.index
        lights = next_tally_frame(line, index)
        after = line.shots[index + 1] if index + 1 < len(line.shots) else None
        move = self._move(shot.cue(self._camera.name), index)
        settings = self._settings(move, frames)
        if move is not None and move.frames[1] <= frames[0]:
            move = None
        return SheetShot(
            number=index + 1,
            name=shot.name,
            of_camera=self._camera.name,
            place=self._own.index(shot) + 1,
            of=len(self._own),
            frames=frames,
            timecodes=self._labels(frames),
            seconds=self._seconds(frames),
            cue_timecode=line.timecode(shot.start_frame),
            held_back_frames=frames[0] - shot.start_frame,
            transition=shot.transition,
            mix_frames=shot.mix_frames,
            before=self._neighbour(line.shots[index - 1]) if index else None,
            after=self._neighbour(after) if after else None,
            after_transition=after.transition if after else None,
            after_mix_frames=after.mix_frames if after else 0,
            next_frame=lights,
            next_timecode=None if lights is None else line.timecode(lights),
            next_lead_frames=None if lights is None else frames[0] - lights,
            settings=settings,
            move=move,
            stills=self._stills(frames, moving=len(settings) > 1),
            note=self._show.file.rundown[index].note.strip(),
            warnings=tuple(self._warnings.get(index + 1, ())),
        )

    def _settings(self, move: SheetMove | None, frames: Frames) -> tuple[Setting, ...]:
        """Both ends of a move that is seen on air, and what is seen first and last where it is neither."""
        first, last = frames
        if move is None or move.frames[1] <= first or move.frames[0] > last:
            return (self._setting("held", first),)
        begins, arrives = move.frames
        found = [self._start(move)]
        if begins < first:
            found.append(self._setting("comes on air", first))
        if arrives > last:
            found.append(self._setting("goes off air", last))
        end = self._timeline.framing_view(self._camera.name, move.end)
        found.append(self._from_view("move ends", move.end, arrives, end))
        return tuple(found)

    def _start(self, move: SheetMove) -> Setting:
        view = self._timeline.framing_view(self._camera.name, move.start)
        return self._from_view("move starts", move.start, move.frames[0], view)

    def _setting(self, place: Place, frame: int) -> Setting:
        now = self._timeline.at(frame).camera(self._camera.name)
        return self._from_view(place, now.framing, frame, now.view)

    def _from_view(self, place: Place, framing: str, frame: int, view: CameraView) -> Setting:
        mount, pose = self._camera.mount, view.pose
        swing, boom = arm_angles_of(mount, pose.position_m) if mount.kind == "jib" else (None, None)
        return Setting(
            place, framing, frame, self._timeline.timecode(frame), pose.position_m, pose.pan_deg,
            pose.tilt_deg, pose.roll_deg, swing, boom, view.focal_length_mm, view.focus_m, view.t_stop,
        )  # fmt: skip

    def _move(self, cue: Cue, index: int) -> SheetMove | None:
        """The move that a cue names, timed; None for a framing."""
        if cue.move is None:
            return None
        move = next(one for one in self._camera.moves if one.name == cue.move)
        # A length is the decimal that is written, as in ``Rate.nearest_frame``.
        wait, length = (Fraction(repr(float(value))) for value in (cue.after_s, move.duration_s))
        fps = self._timeline.rate.fps
        frames = cue.since_frame + ceil(wait * fps), cue.since_frame + ceil((wait + length) * fps)
        later = (shot.cue(self._camera.name).since_frame for shot in self._timeline.shots[index + 1 :])
        following = next((since for since in later if since > cue.since_frame), self._timeline.frame_count)
        broken_off = following if following < min(frames[1], self._timeline.frame_count) else None
        return SheetMove(
            move.name, move.start, move.end, move.duration_s, move.ease, frames, self._labels(frames),
            broken_off,
        )  # fmt: skip

    def _stills(self, frames: Frames, moving: bool) -> tuple[SheetStill, ...]:
        first, last = frames
        middle = (first + last) // 2
        label = self._timeline.timecode
        if not moving or first == last:
            return (SheetStill("held", middle, label(middle)),)
        begin = SheetStill("comes on air", first, label(first))
        end = SheetStill("goes off air", last, label(last))
        return (begin, SheetStill("middle", middle, label(middle)), end) if middle > first else (begin, end)

    def _neighbour(self, shot: ResolvedShot) -> Neighbour:
        return Neighbour(shot.index + 1, shot.name, self._numbers[shot.on_air], shot.on_air)

    def _labels(self, frames: Frames) -> tuple[str, str]:
        return self._timeline.timecode(frames[0]), self._timeline.timecode(frames[1])

    def _seconds(self, frames: Frames) -> float:
        return float(self._timeline.rate.seconds(frames[1] - frames[0] + 1))
