"""Named framings, worked out: where each puts its camera, its aim and its lens settings."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import dist

from preview.camera.lens import default_focus_m, projection_mm
from preview.camera.pose import Pose
from preview.show.model import Camera, Framing, Lens, Point, Sensor, ShowFile
from preview.stage.people_dims import eye_point_m
from preview.timeline.mount import arm_angles_deg, sensor_position_m


@dataclass(frozen=True)
class PlacedFraming:
    """A framing with every default filled in.

    Attributes
    ----------
    name : framing name
    pose : Pose of the sensor on the stage
    arm_deg : swing and boom of a jib, or None
    aim_m : stage point it looks at, or None when it gives pan and tilt
    focal_length_mm, focus_m : lens settings
    focus_on_aim : True when the focus distance is the aim's because the framing gives none
    """

    name: str
    pose: Pose
    arm_deg: tuple[float, float] | None
    aim_m: Point | None
    focal_length_mm: float
    focus_m: float
    focus_on_aim: bool


class FramingError(ValueError):
    """A framing that cannot be placed; ``key`` is the key to blame, ``found`` and ``fix`` say why."""

    def __init__(self, key: str, found: str, fix: str):
        self.key, self.found, self.fix = key, found, fix
        super().__init__(f"{key}: {found}; {fix}")


def sensor_of(camera: Camera) -> Sensor:
    """The camera's sensor; TypeError while it is still a catalogue name."""
    if isinstance(camera.sensor, str):
        raise TypeError(f"sensor {camera.sensor!r} of {camera.name!r} is not looked up in the catalogue yet")
    return camera.sensor


def lens_of(camera: Camera) -> Lens:
    """The camera's lens; TypeError while it is still a catalogue name."""
    if isinstance(camera.lens, str):
        raise TypeError(f"lens {camera.lens!r} of {camera.name!r} is not looked up in the catalogue yet")
    return camera.lens


def aim_points_m(file: ShowFile) -> dict[str, Point]:
    """Stage point of every name ``look_at`` may give: a person's eyes, a set piece's position.

    A person wins over a set piece of the same name.
    """
    points: dict[str, Point] = {piece.name: piece.position_m for piece in file.stage.set}
    points.update({person.name: eye_point_m(person) for person in file.stage.people})
    return points


def place_framing(camera: Camera, framing: Framing, aim_points: Mapping[str, Point]) -> PlacedFraming:
    """Work a framing out on the stage.

    Parameters
    ----------
    camera : the camera it belongs to, sensor and lens looked up
    framing : one of its framings
    aim_points : from ``aim_points_m``

    Raises
    ------
    FramingError : unknown aim, no position, aim at the sensor itself, tilt past vertical, or focus
        inside the focal length.
    """
    lens = lens_of(camera)
    try:
        arm = arm_angles_deg(camera, framing)
        position = sensor_position_m(camera, framing)
    except ValueError as error:
        found, _, fix = str(error).partition("; ")
        key = "swing_deg" if camera.mount.kind == "jib" else "position_m"
        raise FramingError(key, found, fix) from error
    aim = _aim_m(framing, aim_points)
    if aim is None:
        tilt = framing.tilt_deg or 0.0
        if abs(tilt) > 90.0:
            raise FramingError("tilt_deg", f"{tilt} is past vertical", "write a tilt from -90 to 90")
        pose = Pose(position, framing.pan_deg or 0.0, tilt, framing.roll_deg)
    else:
        try:
            pose = Pose.looking_at(position, aim, framing.roll_deg)
        except ValueError as error:
            raise FramingError(
                "look_at", f"{framing.look_at!r} is where the camera stands", "aim at another point"
            ) from error
    focus = framing.focus_m
    if focus is None:
        focus = default_focus_m(lens, None if aim is None else dist(position, aim))
    try:
        projection_mm(framing.focal_length_mm, focus, lens.breathing)
    except ValueError as error:
        found, _, fix = str(error).partition("; ")
        raise FramingError("focus_m", found, fix) from error
    return PlacedFraming(
        name=framing.name,
        pose=pose,
        arm_deg=arm,
        aim_m=aim,
        focal_length_mm=framing.focal_length_mm,
        focus_m=focus,
        focus_on_aim=aim is not None and framing.focus_m is None,
    )


def _aim_m(framing: Framing, aim_points: Mapping[str, Point]) -> Point | None:
    if not isinstance(framing.look_at, str):
        return framing.look_at
    if framing.look_at not in aim_points:
        raise FramingError(
            "look_at",
            f"nobody and no set piece is called {framing.look_at!r}",
            "write a stage point in metres, or one of: " + (", ".join(sorted(aim_points)) or "(none named)"),
        )
    return aim_points[framing.look_at]
