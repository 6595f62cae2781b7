"""The rundown as a function of the frame: where every camera is, who is on air, what the wall shows."""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass
from math import isclose
from typing import Protocol

from preview.camera.lens import view_through
from preview.camera.view import CameraView
from preview.errors import Problem, ShowError
from preview.show.model import Camera, Lens, Move, Sensor, ShowFile
from preview.timeline.delay import camera_delay, split_frame, view_between
from preview.timeline.framing import (
    FramingError,
    PlacedFraming,
    aim_points_m,
    lens_of,
    place_framing,
    sensor_of,
)
from preview.timeline.moment import CameraMoment, Moment
from preview.timeline.move import MovePath, ease_share
from preview.timeline.rate import Rate
from preview.timeline.rundown import Cue, ResolvedShot, read_label, resolve_rundown
from preview.timeline.timecode import (
    TimecodeError,
    day_frames,
    format_timecode,
    is_drop_frame,
    parse_timecode,
)

REMEMBERED_STATES = 4096


class HasShowFile(Protocol):
    """What a timeline needs of a show: its file, with catalogue names already looked up."""

    @property
    def file(self) -> ShowFile: ...


@dataclass(frozen=True)
class CameraState:
    """One camera at one frame: its view, and the framing or move it is on."""

    view: CameraView
    framing: str
    moving: bool


class Timeline:
    """Every frame of a show's rundown, in any order; frame 0 is the rundown's first.

    Parameters
    ----------
    show : anything with ``.file``, a ShowFile whose catalogue names are looked up

    Attributes
    ----------
    rate : Rate
    shots : the resolved shots, in order
    frame_count : frames in the rundown

    Raises
    ------
    ShowError : every framing that cannot be placed and everything ``resolve_rundown`` finds.
    """

    def __init__(self, show: HasShowFile):
        file = show.file
        path = str(getattr(show, "path", "show file"))
        self.rate = Rate(file.show.frame_rate)
        self.shots: tuple[ResolvedShot, ...] = resolve_rundown(file, path)
        self.frame_count = self.shots[-1].end_frame
        self._drop = is_drop_frame(file.show.start_timecode)
        self._first = parse_timecode(file.show.start_timecode, self.rate)
        self._mix_switch = file.drive.mix_switch
        self._delays = {camera.name: camera_delay(file, camera, self.rate) for camera in file.cameras}
        self._picture_frames = {name: delay.picture for name, delay in self._delays.items()}
        self._wall_frames = dict.fromkeys(self._delays, file.delays.wall_switch_frames)
        self._starts = [shot.start_frame for shot in self.shots]
        self._tracks = _tracks(file, path)
        self._states: dict[tuple[str, int], CameraState] = {}

    def at(self, frame: int) -> Moment:
        """The stage at ``frame`` (0 to ``frame_count - 1``).

        Raises
        ------
        ValueError : no such frame.
        """
        shot = self.shot_at(frame)
        on_programme, since = self._taken(frame, self._picture_frames)
        mix_from, share = self._mix(on_programme, since)
        return Moment(
            frame=frame,
            seconds=float(self.rate.seconds(frame)),
            timecode=self.timecode(frame),
            shot=shot.name,
            shot_index=shot.index,
            cameras=tuple(self._camera_moment(track, frame) for track in self._tracks.values()),
            on_air=on_programme.on_air,
            mix_from=mix_from,
            mix_share=share,
            wall_camera=self._wall_camera(frame),
            next_camera=self._next_camera(on_programme),
        )

    def shot_at(self, frame: int) -> ResolvedShot:
        """The shot that ``frame`` belongs to; ValueError for a frame outside the rundown."""
        if not 0 <= frame < self.frame_count:
            raise ValueError(
                f"frame {frame} is outside the rundown; write a frame from 0 to {self.frame_count - 1}"
            )
        return self.shots[bisect_right(self._starts, frame) - 1]

    def view_at(self, camera: str, frame: int) -> CameraView:
        """Where ``camera`` is at ``frame``; KeyError if the show has none of that name."""
        return self._state(self._tracks[camera], frame).view

    def held_back(self, camera: str) -> int:
        """Frames that the mixer holds a cut to ``camera`` back."""
        return self._picture_frames[camera]

    def framing_view(self, camera: str, framing: str) -> CameraView:
        """The view of a framing; KeyError if there is none of that name."""
        return self._tracks[camera].held[framing].view

    def layer_view_at(self, camera: str, frame: int) -> CameraView:
        """The view that the frustum layer of ``camera``, as the wall shows it at ``frame``, was drawn from.

        The view as it was ``tracking`` frames earlier, between two frames interpolated as a tracking
        system does. A camera that a cue puts on another framing is taken to have gone there in good
        time: its tracking never reaches back behind its cue.
        """
        since = self._cue(camera, frame).since_frame
        whole, share = split_frame(max(float(since), frame - self._delays[camera].tracking))
        view = self.view_at(camera, whole)
        return view_between(view, self.view_at(camera, whole + 1), share) if share else view

    def timecode(self, frame: int) -> str:
        """Label of ``frame``, in the count of the show's start timecode."""
        return format_timecode(self._first + frame, self.rate, self._drop)

    def frame_of(self, timecode: str) -> int:
        """Frame that carries the label ``timecode``.

        Raises
        ------
        TimecodeError : not a label of this rundown.
        """
        day = day_frames(self.rate, self._drop)
        frame = (read_label(timecode, self.rate, self._drop) - self._first) % day
        if frame >= self.frame_count:
            last = self.timecode(self.frame_count - 1)
            raise TimecodeError(
                f'"{timecode}" is outside the rundown', f"write a label from {self.timecode(0)} to {last}"
            )
        return frame

    def _taken(self, frame: int, late: dict[str, int]) -> tuple[ResolvedShot, int]:
        """The shot that a device shows which follows each cue ``late`` frames after it (by the camera
        it goes to), and since how many frames it does."""
        index = self.shot_at(frame).index
        while index > 0 and frame - self.shots[index].start_frame < late[self.shots[index].on_air]:
            index -= 1
        shot = self.shots[index]
        return shot, frame - shot.start_frame - (late[shot.on_air] if index else 0)

    def _mix(self, shot: ResolvedShot, since: int) -> tuple[str | None, float]:
        """Outgoing camera and share of the incoming one, ``since`` frames into the mixer's shot.

        The n-th of N mixed frames has share (n + 1/2) / N: every one shows both cameras, and the mix
        runs alike from either end.
        """
        if since >= shot.mix_frames:
            return None, 1.0
        return self.shots[shot.index - 1].on_air, (since + 0.5) / shot.mix_frames

    def _wall_camera(self, frame: int) -> str:
        """Whose frustum a switched wall shows. At "middle" and an odd N the middle frame of a mix already
        has the incoming camera."""
        shot, since = self._taken(frame, self._wall_frames)
        if since >= shot.mix_frames:
            return shot.on_air
        over = {"start": True, "middle": 2 * since + 1 >= shot.mix_frames, "end": False}[self._mix_switch]
        return shot.on_air if over else self.shots[shot.index - 1].on_air

    def _next_camera(self, shot: ResolvedShot) -> str | None:
        following = shot.index + 1
        return self.shots[following].on_air if following < len(self.shots) else None

    def _camera_moment(self, track: _Track, frame: int) -> CameraMoment:
        camera, state = track.camera, self._state(track, frame)
        then = max(0, frame - self._delays[camera.name].returned)
        return CameraMoment(
            name=camera.name,
            number=camera.number,
            view=state.view,
            layer_view=self.layer_view_at(camera.name, frame),
            overscan=camera.overscan_percent / 100.0,
            framing=state.framing,
            moving=state.moving,
            return_view=self.view_at(camera.name, then),
            return_layer_view=self.layer_view_at(camera.name, then),
        )

    def _cue(self, camera: str, frame: int) -> Cue:
        """The cue that ``camera`` follows at ``frame``."""
        shot = self.shot_at(frame)
        cue = shot.cue(camera)
        while frame < cue.since_frame:  # still seen on programme
            shot = self.shots[shot.index - 1]
            cue = shot.cue(camera)
        return cue

    def _state(self, track: _Track, frame: int) -> CameraState:
        key = (track.camera.name, frame)
        state = self._states.get(key)
        if state is None:
            cue = self._cue(track.camera.name, frame)
            state = track.state(cue, float(self.rate.seconds(frame - cue.since_frame)))
            if len(self._states) >= REMEMBERED_STATES:
                self._states.clear()
            self._states[key] = state
        return state


@dataclass(frozen=True, eq=False)
class _Track:
    """One camera's framings and moves, placed once and read at any time."""

    path: str
    camera: Camera
    sensor: Sensor
    lens: Lens
    held: dict[str, CameraState]
    moves: dict[str, tuple[str, Move, MovePath]]

    def state(self, cue: Cue, seconds: float) -> CameraState:
        """The camera ``seconds`` after its cue."""
        if cue.move is None:
            return self.held[cue.framing or ""]
        key, move, path = self.moves[cue.move]
        gone = seconds - cue.after_s
        # Sums of float seconds may miss a whole frame by a rounding error; a move must not last a
        # frame longer for it.
        if gone < 0.0 and not isclose(gone, 0.0, abs_tol=1e-9):
            return self.held[move.start]
        time_share = gone / move.duration_s
        if time_share >= 1.0 - 1e-9:
            return self.held[move.end]
        try:
            pose, focal_length_mm, focus_m = path.at(ease_share(move.ease, time_share))
            view = view_through(self.sensor, self.lens, pose, focal_length_mm, focus_m)
        except ValueError as error:
            raise ShowError(
                [Problem(self.path, 0, 0, key, str(error), "change one of its framings")]
            ) from error
        return CameraState(view, f"{move.start} > {move.end}", moving=True)


def _tracks(file: ShowFile, path: str) -> dict[str, _Track]:
    """Every camera by name, in show order; ShowError with all framings and moves that do not work."""
    aim_points = aim_points_m(file)
    problems: list[Problem] = []
    tracks: dict[str, _Track] = {}
    for i, camera in enumerate(file.cameras):
        sensor, lens = sensor_of(camera), lens_of(camera)
        placed: dict[str, PlacedFraming] = {}
        for j, framing in enumerate(camera.framings):
            try:
                placed[framing.name] = place_framing(camera, framing, aim_points)
            except FramingError as error:
                key = f"cameras[{i}].framings[{j}].{error.key}"
                problems.append(Problem(path, 0, 0, key, error.found, error.fix))
        moves: dict[str, tuple[str, Move, MovePath]] = {}
        for j, move in enumerate(camera.moves):
            move_key = f"cameras[{i}].moves[{j}]"
            for key, name in (("start", move.start), ("end", move.end)):
                if name not in {framing.name for framing in camera.framings}:
                    found = f'{camera.name} has no framing called "{name}"'
                    fix = "write one of: " + ", ".join(framing.name for framing in camera.framings)
                    problems.append(Problem(path, 0, 0, f"{move_key}.{key}", found, fix))
            if move.start in placed and move.end in placed:
                start, end = placed[move.start], placed[move.end]
                moves[move.name] = (move_key, move, MovePath(start, end, camera.mount, lens))
        held = {
            name: CameraState(
                view_through(sensor, lens, at.pose, at.focal_length_mm, at.focus_m), name, moving=False
            )
            for name, at in placed.items()
        }
        tracks[camera.name] = _Track(path, camera, sensor, lens, held, moves)
    if problems:
        raise ShowError(problems)
    return tracks
