"""One framing with its camera, lens, focus or stop changed so that the subject stays as large."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import dist, inf, log2
from typing import Any

import numpy as np
import numpy.typing as npt
from scipy.ndimage import distance_transform_edt

from preview.camera.exposure import iso_of
from preview.camera.focus import blur_disc_mm, depth_of_field_mm
from preview.camera.lens import projection_mm
from preview.checks.registry import Lever
from preview.checks.structure import photosite_mm, stop_of
from preview.floor.aim import Aim
from preview.floor.options import FloorOptions
from preview.floor.result import ON_LED_FLOOR, FloorMap
from preview.show import model
from preview.show.load import Show
from preview.show.model import Point
from preview.stage.equipment import TYPICAL_BASE_M
from preview.suggest.changed import with_camera, with_framings
from preview.suggest.levers import FOCUS_STEP, FOCUS_STEPS, LONGER_STEP, SOFT_PHOTOSITES, widest_stop
from preview.timeline.framing import PlacedFraming, lens_of
from preview.timeline.mount import arm_angles_of

TIGHTEST = 1.1
"""A subject gets this many times larger at most: beyond it is another shot size. Own choice."""
PLACES_TRIED = 30
"""Places of a floor map that are tried, the nearest first."""
FARTHEST_M = 3.0
"""A camera is moved this far over the floor at most: beyond it is another camera. Own choice."""
APART_M = 0.3
"""Between places tried: neighbours are alike."""
OPTICAL = ("moire-share", "moire-worst", "moire-mean", "structure")
"""Layers of a floor map that focus and stop change too."""
APART_SHARE = 0.3
"""Between places tried, of how far away they are."""
STOP_STEPS = (1 / 3, 2 / 3, 1.0, 4 / 3, 5 / 3, 2.0, 8 / 3, 10 / 3, 4.0)
"""Stops that a lens is opened by."""


@dataclass(frozen=True, eq=False)
class Change:
    """What a framing is changed to; None for what stays.

    Attributes
    ----------
    levers : what was turned
    position_m : sensor, stage metres
    focal_length_mm, focus_m, t_stop : of the lens
    """

    levers: tuple[Lever, ...]
    position_m: Point | None = None
    focal_length_mm: float | None = None
    focus_m: float | None = None
    t_stop: float | None = None

    def also(self, other: Change) -> Change:
        """Both changes; of what both change the other's."""
        return Change(
            (*self.levers, *(lever for lever in other.levers if lever not in self.levers)),
            other.position_m or self.position_m,
            other.focal_length_mm or self.focal_length_mm,
            other.focus_m or self.focus_m,
            other.t_stop or self.t_stop,
        )


@dataclass(frozen=True, eq=False)
class Subject:
    """A framing as it is, and what it is held to.

    Attributes
    ----------
    show : the show at hand
    camera, framing : as the show file has them
    placed : the framing worked out
    subject_m : stage point it looks at
    """

    show: Show
    camera: model.Camera
    framing: model.Framing
    placed: PlacedFraming
    subject_m: Point

    @classmethod
    def of(cls, show: Show, camera: str, framing: str) -> Subject:
        """Of a show, with the subject that floor maps have; KeyError for names it has not."""
        aim = Aim.of(show.file, camera, framing, FloorOptions())
        return cls(show, aim.camera, aim.framing, aim.placed, aim.subject_m)

    @property
    def here_m(self) -> Point:
        """Where the sensor is."""
        return self.placed.pose.position_m

    def keys(self, change: Change) -> dict[str, Any]:
        """Keys of the framing's table that make a change."""
        keys: dict[str, Any] = {}
        if change.position_m is not None:
            if self.camera.mount.kind == "jib":
                swing, boom = arm_angles_of(self.camera.mount, change.position_m)
                keys |= {"swing_deg": round(swing, 3), "boom_deg": round(boom, 3)}
            else:
                keys["position_m"] = tuple(round(value, 3) for value in change.position_m)
            if self.placed.aim_m is None:
                aim = tuple(round(value, 3) for value in self.subject_m)
                keys |= {"look_at": aim, "pan_deg": None, "tilt_deg": None}
        if change.focal_length_mm is not None:
            keys["focal_length_mm"] = round(change.focal_length_mm, 2)
        follows = self.placed.focus_on_aim and "focus" not in change.levers
        if change.focus_m is not None and not follows:
            keys["focus_m"] = round(change.focus_m, 3)
        return keys

    def changed(self, change: Change, show: Show) -> Show:
        """A show with the framing changed; ``show`` is the one at hand, or has the same cameras."""
        name = self.camera.name
        keys = self.keys(change)
        made = with_framings(show, name, {self.framing.name: keys}) if keys else show
        if change.t_stop is None:
            return made
        lens = lens_of(self.camera).model_copy(update={"t_stop": change.t_stop})
        iso = self.iso_behind_filter(change.t_stop)
        return with_camera(made, name, t_stop=change.t_stop, lens=lens, iso=iso, sensitivity=None)

    def iso_behind_filter(self, t_stop: float) -> float:
        """Exposure index that stands for an ND filter which takes off what a wider stop lets in more."""
        own = self.camera
        iso = own.iso if own.sensitivity is None else iso_of(own.sensitivity)
        return round(iso * (t_stop / stop_of(own)) ** 2, 1)

    def toml(self, change: Change) -> tuple[str, ...]:
        """What to write in the show file: a line a key, each with its table."""
        table = f'cameras "{self.camera.name}", framing "{self.framing.name}"'
        lines = [
            f"{table}: {'leave out ' + key if value is None else f'{key} = {_toml(value)}'}"
            for key, value in self.keys(change).items()
            if value is not None or getattr(self.framing, key) is not None
        ]
        if change.t_stop is not None:
            own = f'cameras "{self.camera.name}"'
            iso = self.iso_behind_filter(change.t_stop)
            lines.append(f"{own}: t_stop = {change.t_stop:g}")
            lines.append(f"{own}: iso = {iso:g} (stands for the ND filter)")
            if self.camera.sensitivity is not None:
                lines.append(f"{own}: leave out sensitivity")
        return tuple(lines)

    def costs(self, change: Change) -> dict[str, Any]:
        """What a change costs, in numbers: metres moved, focal length, depth of field, light, size."""
        here, there = self.here_m, change.position_m or self.here_m
        stop, wide = stop_of(self.camera), change.t_stop or stop_of(self.camera)
        focal = change.focal_length_mm or self.placed.focal_length_mm
        focus = change.focus_m or self.placed.focus_m
        size = self._size(there, focal, focus) / self._size(
            here, self.placed.focal_length_mm, self.placed.focus_m
        )
        return {
            "moved_m": round(dist(here, there), 3),
            "focal_length_mm": [self.placed.focal_length_mm, round(focal, 2)],
            "focus_m": [round(self.placed.focus_m, 3), round(focus, 3)],
            "t_stop": [stop, wide],
            "light_stops": round(2 * log2(stop / wide), 2),
            "depth_of_field_m": [
                self._depth_m(self.placed.focal_length_mm, stop, self.placed.focus_m),
                self._depth_m(focal, wide, focus),
            ],
            "subject_size_percent": round(100 * size, 1),
            "subject_blur_photosites": round(self.blur_photosites(change), 2),
        }

    def blur_photosites(self, change: Change) -> float:
        """How wide a point of the subject is blurred, where it was in focus before."""
        lens = lens_of(self.camera)
        away = dist(change.position_m or self.here_m, self.subject_m)
        before = dist(self.here_m, self.subject_m)
        sharp = self.placed.focus_m + away - before
        focus = change.focus_m or sharp
        focal = change.focal_length_mm or self.placed.focal_length_mm
        offset = lens.entrance_pupil_offset_m
        focus_mm, sharp_mm = 1000 * (focus - offset), 1000 * (sharp - offset)
        if focus_mm <= focal:
            return inf
        disc = blur_disc_mm(focal, change.t_stop or stop_of(self.camera), focus_mm, sharp_mm)
        return float(disc) / photosite_mm(self.camera)

    def _size(self, at_m: Point, focal_mm: float, focus_m: float) -> float:
        """How large a metre at the subject is on the sensor, mm."""
        lens = lens_of(self.camera)
        away = dist(at_m, self.subject_m) - lens.entrance_pupil_offset_m
        return projection_mm(focal_mm, focus_m, lens.breathing) / away

    def _depth_m(self, focal_mm: float, stop: float, focus_m: float) -> list[float | None]:
        """Nearest and farthest sharp distance from the sensor; None for infinity.

        Sharp is what is blurred over SOFT_PHOTOSITES at most; the T-stop stands for the f-number.
        """
        offset = lens_of(self.camera).entrance_pupil_offset_m
        focus_mm = max(1000 * (focus_m - offset), 1.001 * focal_mm)
        blur = SOFT_PHOTOSITES * photosite_mm(self.camera)
        near, far = depth_of_field_mm(focal_mm, stop, focus_mm, blur)
        return [round(near / 1000 + offset, 2), round(far / 1000 + offset, 2) if np.isfinite(far) else None]


def focus_ladders(at: Subject) -> tuple[tuple[Change, ...], ...]:
    """Focus pulled nearer, and farther, in steps, as long as the subject stays sharp enough."""
    lens, ladders = lens_of(at.camera), []
    for factor in (1 / FOCUS_STEP, FOCUS_STEP):
        ladder = []
        for step in range(1, FOCUS_STEPS + 1):
            focus = at.placed.focus_m * factor**step
            change = Change(("focus",), focus_m=round(focus, 2))
            near = focus < lens.minimum_focus_m or 1000 * focus <= 1.001 * at.placed.focal_length_mm
            if near or at.blur_photosites(change) > SOFT_PHOTOSITES:
                break
            ladder.append(change)
        ladders.append(tuple(ladder))
    return tuple(ladder for ladder in ladders if ladder)


def stop_ladder(at: Subject) -> tuple[Change, ...]:
    """The lens opened, down to its widest; subjects stay in focus."""
    now, widest = stop_of(at.camera), widest_stop(at.show, at.camera.name)
    ladder, seen = [], now
    for stops in STOP_STEPS:
        wider = max(widest, round(now * 2 ** (-stops / 2), 1))
        if wider < seen:
            seen = wider
            ladder.append(Change(("stop",), t_stop=wider))
    return tuple(ladder)


def lens_ladder(at: Subject) -> tuple[Change, ...]:
    """Longer lenses from where the camera stands: the shot gets a little tighter."""
    longest, ladder, step = lens_of(at.camera).focal_length_mm[1], [], 1
    while LONGER_STEP**step <= TIGHTEST:
        length = round(at.placed.focal_length_mm * LONGER_STEP**step, 1)
        if length > longest:
            break
        ladder.append(Change(("focal length",), focal_length_mm=length))
        step += 1
    return tuple(ladder)


def place_changes(at: Subject, floor: FloorMap) -> Iterator[Change]:
    """Places of the clear zone, the nearest first, with focal length and focus as the map has them.

    Without a clear zone: places that pass all that focus and stop do not mend. What is tried lies farther
    apart the farther it is away.
    """
    good = floor.clear
    if not good.any():
        fixed = [one.passes for one in floor.layers.values() if one.judged and one.name not in OPTICAL]
        good = np.logical_and.reduce([floor.reachable, *fixed])
    rows, columns = np.nonzero(good & _off_led_floors(at.camera, floor))
    away = np.hypot(floor.x_m[columns] - at.here_m[0], floor.y_m[rows] - at.here_m[1])
    taken: list[tuple[float, float]] = []
    for place in np.argsort(away, kind="stable"):
        if away[place] > FARTHEST_M:
            return
        row, column = rows[place], columns[place]
        x, y = float(floor.x_m[column]), float(floor.y_m[row])
        apart = max(APART_M, APART_SHARE * float(away[place]))
        if away[place] < floor.step_m or any(dist((x, y), other) < apart for other in taken):
            continue
        taken.append((x, y))
        zoomed = abs(float(floor.focal_length_mm[row, column]) / at.placed.focal_length_mm - 1) > 1e-3
        yield Change(
            ("position",),
            (round(x, 3), round(y, 3), round(float(floor.height_m[row, column]), 4)),
            float(floor.focal_length_mm[row, column]) if zoomed else None,
            float(floor.focus_m[row, column]),
        )
        if len(taken) >= PLACES_TRIED:
            return


def _off_led_floors(camera: model.Camera, floor: FloorMap) -> npt.NDArray[np.bool_]:
    """(ny, nx) places where a stand's base is off LED floors too, not its middle alone."""
    mount = camera.mount
    if mount.kind not in ("pedestal", "tripod") or not (floor.reason == ON_LED_FLOOR).any():
        return np.ones(floor.reason.shape, dtype=bool)
    base_m = mount.base_width_m or TYPICAL_BASE_M[mount.kind]
    away = distance_transform_edt(floor.reason != ON_LED_FLOOR) * floor.step_m
    return np.asarray(away >= base_m / 2)


def _toml(value: Any) -> str:
    if isinstance(value, tuple):
        return "[" + ", ".join(f"{one:g}" for one in value) + "]"
    return f"{value:g}"
