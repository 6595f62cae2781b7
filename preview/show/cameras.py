"""Cameras: mount, lens and framings agree with each other."""

from __future__ import annotations

from math import dist
from typing import Any

from pydantic import ValidationError

from preview.show import model
from preview.show.catalogue import Catalogue, check_focal_range
from preview.show.entry import Entry, Findings
from preview.show.surfaces import Standpoint
from preview.show.values import Model, validated
from preview.show.wording import shown

_JIB_ONLY = (
    "pivot_m", "arm_m", "head_offset_m", "boom_range_deg", "tail_m", "arm_width_m", "counterweight_size_m",
)  # fmt: skip
_SLACK = 1e-6  # metres, degrees or millimetres: limits as written are allowed


def check_cameras(findings: Findings, catalogue: Catalogue) -> list[Standpoint]:
    """Note what does not fit in each camera's tables; where all of its framings stand."""
    aims = _aim_points(findings)
    standpoints = []
    for camera in findings.top.tables("cameras"):
        mount = camera.table("mount")
        _check_mount(findings, mount)
        if camera.table("lens").data:
            check_focal_range(findings, camera.table("lens"))
        lens = _LensLimits(camera, catalogue)
        lens.check_stop(findings, camera)
        if camera.has("iso") and camera.has("sensitivity"):
            found = "iso and sensitivity are both written"
            findings.add(camera.at("sensitivity"), found, "keep one of the two")
        for framing in camera.tables("framings"):
            _check_position(findings, camera, mount, framing)
            _check_aim(findings, framing)
            standing = _standpoint(camera, mount, framing)
            if standing:
                standpoints.append(standing)
                _check_height(findings, mount, standing)
            lens.check(findings, framing, standing, aims)
        _note_moves(findings, camera)
    return standpoints


def _check_mount(findings: Findings, mount: Entry) -> None:
    if _is_jib(mount):
        for key in ("pivot_m", "arm_m"):
            if not mount.has(key):
                example = "[0.0, -6.0, 1.2]" if key == "pivot_m" else "3.5"
                findings.add(mount.at(key), "required for a jib, but missing", f"add {key} = {example}")
    else:
        for key in _JIB_ONLY:
            if mount.has(key):
                fix = f'delete it, or write kind = "jib" (kind is {shown(_kind(mount))})'
                findings.add(mount.at(key), "only for a jib", fix)
    if _kind(mount) == "free" and mount.has("base_width_m"):
        fix = 'delete it, or write kind = "pedestal", "tripod" or "jib"'
        findings.add(mount.at("base_width_m"), "a camera that is carried has no base", fix)
    for key in ("height_range_m", "boom_range_deg"):
        limits = mount.numbers(key)
        if limits and len(limits) == 2 and limits[0] > limits[1]:
            found = f"[{limits[0]:g}, {limits[1]:g}] runs downwards"
            findings.add(mount.at(key), found, f"write the lowest first: [{limits[1]:g}, {limits[0]:g}]")


def _check_position(findings: Findings, camera: Entry, mount: Entry, framing: Entry) -> None:
    if _is_jib(mount):
        for key in ("swing_deg", "boom_deg"):
            if not framing.has(key):
                fix = f"add {key}: the arm angle in degrees"
                findings.add(framing.at(key), "required for a framing of a jib, but missing", fix)
        if framing.has("position_m"):
            fix = "delete it: pivot, arm, swing_deg and boom_deg give the position"
            findings.add(framing.at("position_m"), "a jib's framing cannot have a position", fix)
        if camera.has("position_m"):
            fix = "delete it: mount.pivot_m says where the jib stands"
            findings.add(camera.at("position_m"), "a camera on a jib cannot have a position", fix)
        boom, limits = framing.number("boom_deg"), _range(mount, "boom_range_deg")
        if boom is not None and limits and not _within(boom, limits):
            found = f"boom {boom:g} degrees is outside the jib's range of {limits[0]:g} to {limits[1]:g}"
            findings.add(framing.at("boom_deg"), found, f"write {limits[0]:g} to {limits[1]:g}")
        return
    for key in ("swing_deg", "boom_deg"):
        if framing.has(key):
            fix = 'delete it and give position_m, or put the camera on a mount of kind "jib" '
            fix += f"(it is on {shown(_kind(mount))})"
            findings.add(framing.at(key), "only for a camera on a jib", fix)
    if not framing.has("position_m") and not camera.has("position_m"):
        name = framing.text("name") or "this framing"
        fix = "add position_m = [x, y, z] in metres here or under the camera"
        findings.add(framing.at("position_m"), f"{name!r} has no position", fix)


def _check_aim(findings: Findings, framing: Entry) -> None:
    angles = [key for key in ("pan_deg", "tilt_deg") if framing.has(key)]
    if framing.has("look_at") and angles:
        found = f"look_at and {' and '.join(angles)} are both written"
        findings.add(framing.at("look_at"), found, "keep look_at, or pan_deg and tilt_deg")
    elif not framing.has("look_at") and not angles:
        name = framing.text("name") or "this framing"
        fix = "add look_at (a name, or [x, y, z] in metres), or pan_deg and tilt_deg"
        findings.add(framing.at("look_at"), f"{name!r} does not say where to look", fix)
    tilt = framing.number("tilt_deg")
    if tilt is not None and abs(tilt) > 90:
        findings.add(framing.at("tilt_deg"), f"tilt {tilt:g} is past vertical", "write -90 to 90 degrees")


def _check_height(findings: Findings, mount: Entry, standing: Standpoint) -> None:
    limits, height = _range(mount, "height_range_m"), standing.position_m[2]
    # Below the floor is said by the check of standpoints, and more clearly.
    if limits and height >= 0 and not _within(height, limits):
        found = (
            f"{standing.camera} in framing {standing.framing!r} is {height:.2f} m high, "
            f"outside the mount's range of {limits[0]:g} to {limits[1]:g} m"
        )
        findings.add(standing.path, found, "change the height, or the mount's height_range_m")


class _LensLimits:
    """What one camera's lens can do, as far as it is written."""

    def __init__(self, camera: Entry, catalogue: Catalogue):
        name = camera.text("lens")
        self.name = repr(name) if name else "this camera's lens"
        self.focal_mm: tuple[float, float] | None = None
        self.nearest_m: float | None = None
        self.widest: float | None = None
        written = camera.table("lens")
        if name in catalogue.lenses:
            lens = catalogue.lenses[name]
            self.focal_mm, self.nearest_m = lens.focal_length_mm, lens.minimum_focus_m
            self.widest = lens.t_stop
        elif written.data:
            self.focal_mm = _range(written, "focal_length_mm")
            default = model.Lens.model_fields["minimum_focus_m"].default
            found = written.number("minimum_focus_m")
            self.nearest_m = found if written.has("minimum_focus_m") else default
            self.widest = written.number("t_stop") if written.has("t_stop") else None

    def check_stop(self, findings: Findings, camera: Entry) -> None:
        """A lens cannot be opened wider than it goes; one that does not say how wide can do anything."""
        stop = camera.number("t_stop")
        if stop is not None and self.widest is not None and 0 < stop < self.widest - _SLACK:
            found = f"T {stop:g} is wider than {self.name} opens, T {self.widest:g}"
            fix = f"write {self.widest:g} or more, or choose another lens"
            findings.add(camera.at("t_stop"), found, fix)

    def check(
        self,
        findings: Findings,
        framing: Entry,
        standing: Standpoint | None,
        aims: dict[str, model.Point],
    ) -> None:
        focal = framing.number("focal_length_mm")
        limits = self.focal_mm
        if focal is not None and limits and not _within(focal, limits):
            span = f"{limits[0]:g} mm" if limits[0] == limits[1] else f"{limits[0]:g} to {limits[1]:g} mm"
            found = f"{focal:g} mm is outside the range of {self.name}, {span}"
            findings.add(framing.at("focal_length_mm"), found, f"write {span}, or choose another lens")
        focus = framing.number("focus_m")
        if focus is not None and self.nearest_m is not None and focus < self.nearest_m - _SLACK:
            found = f"{focus:g} m is nearer than {self.name} can focus"
            findings.add(framing.at("focus_m"), found, f"write {self.nearest_m:g} m or more")
        if focus is not None and focal is not None and 0 < focus <= focal / 1000:
            found = f"{focus:g} m is within the focal length of {focal:g} mm"
            findings.add(framing.at("focus_m"), found, "write a longer distance")
        aim = framing.point("look_at") or aims.get(framing.text("look_at") or "")
        if standing is None or aim is None:
            return
        distance = dist(standing.position_m, aim)
        if distance < _SLACK:
            fix = "aim at another point, or move the camera"
            findings.add(framing.at("look_at"), "the camera stands on the point it looks at", fix)
        elif not framing.has("focus_m") and self.nearest_m is not None and distance < self.nearest_m:
            findings.notes.append(
                f"{standing.camera} in framing {standing.framing!r} looks at a point {distance:.2f} m away, "
                f"nearer than {self.name} can focus: focus stays at {self.nearest_m:g} m"
            )


def _standpoint(camera: Entry, mount: Entry, framing: Entry) -> Standpoint | None:
    # The timeline imports the show's model, so it is imported where it is asked.
    from preview.timeline.mount import jib_position_m

    names = camera.text("name") or "this camera", framing.text("name") or "unnamed"
    if _is_jib(mount):
        swing, boom = framing.number("swing_deg"), framing.number("boom_deg")
        arm = _readable(mount.data, model.Mount)
        if swing is None or boom is None or arm is None or arm.pivot_m is None or arm.arm_m is None:
            return None
        return Standpoint(framing.at("boom_deg"), *names, jib_position_m(arm, swing, boom))
    owner = framing if framing.has("position_m") else camera
    position = owner.point("position_m")
    return Standpoint(owner.at("position_m"), *names, position) if position else None


def _aim_points(findings: Findings) -> dict[str, model.Point]:
    """Stage points of the names that ``look_at`` may give."""
    from preview.stage.people_dims import eye_point_m

    stage = findings.top.table("stage")
    points: dict[str, model.Point] = {}
    for table in stage.tables("set"):
        piece = _readable(table.data, model.SetPiece)
        if piece:
            points[piece.name] = piece.position_m
    for table in stage.tables("people"):
        person = _readable(table.data, model.Person)
        if person:
            points[person.name] = eye_point_m(person)
    return points


def _note_moves(findings: Findings, camera: Entry) -> None:
    for move in camera.tables("moves"):
        start, end = move.text("start"), move.text("end")
        if start is not None and start == end:
            who = f"{camera.text('name')}: move {move.text('name')!r}"
            findings.notes.append(f"{who} starts and ends on framing {start!r}, so nothing moves")


def _readable(data: dict[str, Any], table: type[Model]) -> Model | None:
    try:
        return validated(data, table)
    except ValidationError:
        return None


def _kind(mount: Entry) -> object:
    return mount.data.get("kind", model.Mount.model_fields["kind"].default)


def _is_jib(mount: Entry) -> bool:
    return _kind(mount) == "jib"


def _range(table: Entry, key: str) -> tuple[float, float] | None:
    """Lowest and highest, when both are written in that order; other lists have problems already."""
    limits = table.numbers(key)
    return (limits[0], limits[1]) if limits and len(limits) == 2 and limits[0] <= limits[1] else None


def _within(value: float, limits: tuple[float, float]) -> bool:
    return limits[0] - _SLACK <= value <= limits[1] + _SLACK
