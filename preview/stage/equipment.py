"""What stands on the studio floor for each camera: body and lens, stand, jib arm, operator.

Two uses: other cameras see it, and it may come near something. Everything is a box or a capsule (all points
within a radius of a line), so that distances are exact:

- the camera is a box round the sensor and a narrower one for the lens, both along the optical axis;
- a pedestal is a base and a column under the sensor; a tripod is three legs, one of them towards +Y, that
  meet under the camera; a camera that is carried has no stand;
- a jib is an arm, a head from the arm's end to the sensor, a level counterweight, and a base with a column
  under the pivot;
- an operator stands on the floor (Z = 0): behind the camera along its pan, beside one that is carried,
  behind the counterweight of a jib. Who holds a camera low is crouching.

Sizes come from the show file (``body`` and ``mount`` of a camera); those left out are typical of the mount.
Cables, monitor, zoom and focus handles and an assistant are left out.

Source: common practice; sizes are values from memory. Equipment on set is to be measured.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property, lru_cache
from math import cos, hypot, radians, sin
from typing import Literal

import numpy as np
import numpy.typing as npt
import trimesh

from preview.camera.view import CameraView
from preview.conventions import Array
from preview.show import model
from preview.show.model import Point
from preview.timeline.mount import arm_end_m

SolidKind = Literal["camera", "arm", "stand", "operator"]
Axes = tuple[Point, Point, Point]


@dataclass(frozen=True)
class BodySize:
    """A camera's outer sizes in metres, as ``model.Body`` has them."""

    width_m: float
    height_m: float
    behind_m: float
    lens_m: float
    lens_width_m: float


TYPICAL_BODY = {
    "pedestal": BodySize(0.32, 0.42, 0.45, 0.50, 0.26),
    "jib": BodySize(0.18, 0.26, 0.28, 0.28, 0.15),
    "tripod": BodySize(0.18, 0.30, 0.32, 0.30, 0.15),
    "free": BodySize(0.18, 0.28, 0.32, 0.28, 0.14),
}
"""A studio camera with box lens; cameras with portable lenses. Values from memory."""
TYPICAL_BASE_M = {"pedestal": 0.90, "tripod": 1.10, "jib": 1.40}
TYPICAL_TAIL_SHARE = 1 / 3
"""Of the arm: a counterweight a few times as heavy as head and camera balances there."""
TYPICAL_ARM_M = 0.20
TYPICAL_COUNTERWEIGHT_M = 0.45

MOUNT_PLATE_M = 0.06
"""From the sensor to where the lens begins."""
COLUMN_M = {"pedestal": 0.28, "jib": 0.30}
"""Width of a column."""
BASE_HEIGHT_M = 0.30
THIN_M = 0.02
"""What is left of a base or column that has no room under its camera."""
LEG_M = 0.06
"""Width of a tripod's leg."""
HEAD_M = 0.16
"""Width of what hangs between a jib's arm and its camera."""
OPERATOR_M = 0.46
"""Width of a person at the shoulders."""
BEHIND_CAMERA_M = 0.40
"""From a camera's back to the middle of who stands behind it; from a counterweight's too."""
BESIDE_CAMERA_M = 0.35
"""From the middle of a camera on the shoulder to the middle of who carries it, on its left."""
CROUCH_M = 0.25, 1.10
"""Who carries a camera reaches so far above it, and is not lower than so high."""


@dataclass(frozen=True)
class Solid:
    """A box or a capsule that belongs to a camera.

    Attributes
    ----------
    name : as a crew calls it, "hand camera"; parts of one thing share a name
    kind : camera (body and lens), arm (of a jib, with head and counterweight), stand or operator
    camera : name of the camera whose it is
    shape : "box", or "capsule" along the Z of its own axes
    size_m : a box's full size along its own axes; a capsule's width, width again, and the length of the
        line in its middle (0 for a ball)
    middle_m : stage position of its middle
    axes : its own X, Y and Z as unit vectors in stage axes
    """

    name: str
    kind: SolidKind
    camera: str
    shape: Literal["box", "capsule"]
    size_m: Point
    middle_m: Point
    axes: Axes = ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))

    @cached_property
    def rotation(self) -> Array:
        """(3, 3) stage from own axes."""
        return np.array(self.axes).T

    @property
    def radius_m(self) -> float:
        """A capsule's radius; 0 for a box, whose corners are sharp."""
        return self.size_m[0] / 2 if self.shape == "capsule" else 0.0

    @cached_property
    def corners_m(self) -> Array:
        """(8, 3) corners of a box, or (2, 3) ends of the line in a capsule's middle, stage metres.

        With ``radius_m`` round them, their hull is the solid.
        """
        return core(self.shape, self.size_m)[0] @ self.rotation.T + self.middle_m

    @cached_property
    def bounds_m(self) -> Array:
        """(2, 3) lowest and highest stage coordinates."""
        low, high = self.corners_m.min(axis=0), self.corners_m.max(axis=0)
        return np.array([low - self.radius_m, high + self.radius_m])

    def mesh(self) -> tuple[Array, npt.NDArray[np.int32]]:
        """(n, 3) stage metres and (m, 3) triangles: closed, counter-clockwise seen from outside.

        A capsule's corners lie on it, so its drawn sides lie up to 4 % of the radius inside.
        """
        positions, triangles = _drawn(self.shape, self.size_m)
        return positions @ self.rotation.T + self.middle_m, triangles


def equipment(
    camera: model.Camera, view: CameraView, arm_deg: tuple[float, float] | None
) -> tuple[Solid, ...]:
    """The solids of a camera at a moment.

    Parameters
    ----------
    camera : its sizes and mount
    view : where it is; pan, tilt and roll turn the body, pan alone the operator's place
    arm_deg : swing and boom of a jib (``preview.timeline.mount.arm_angles_of``); None on other mounts

    Raises
    ------
    ValueError : a jib without angles, pivot or arm.
    """
    body, kind = body_size(camera), camera.mount.kind
    solids = _body(camera.name, view, body)
    if kind == "jib":
        if arm_deg is None:
            raise ValueError(f"{camera.name}: a jib's solids need swing and boom")
        return tuple(solids + _jib(camera, view, *arm_deg))
    if kind != "free":
        solids += _stand(camera, view.pose.position_m, body)
    if camera.body.operated:
        solids.append(_behind(camera, view, body) if kind != "free" else _beside(camera, view))
    return tuple(solids)


def body_size(camera: model.Camera) -> BodySize:
    """A camera's outer sizes: what the show file says, else what is typical of its mount."""
    typical = TYPICAL_BODY[camera.mount.kind]
    written = {name: getattr(camera.body, name) for name in BodySize.__dataclass_fields__}
    return BodySize(**{name: value or getattr(typical, name) for name, value in written.items()})


def tail_m(mount: model.Mount) -> float:
    """Metres from a jib's pivot to the middle of its counterweight; ValueError for a mount without arm."""
    if mount.arm_m is None:
        raise ValueError("a jib needs arm_m; write it under mount")
    return mount.tail_m or mount.arm_m * TYPICAL_TAIL_SHARE


def _body(name: str, view: CameraView, body: BodySize) -> list[Solid]:
    rotation, sensor = view.pose.rotation, np.asarray(view.pose.position_m)
    axes = _axes(rotation)

    def box(from_m: float, to_m: float, width_m: float, height_m: float) -> Solid:
        middle = sensor + rotation[:, 1] * (from_m + to_m) / 2
        size = (width_m, to_m - from_m, height_m)
        return Solid(f"{name} camera", "camera", name, "box", size, _point(middle), axes)

    plate = min(MOUNT_PLATE_M, body.lens_m / 2)
    return [
        box(-body.behind_m, plate, body.width_m, body.height_m),
        box(plate, body.lens_m, body.lens_width_m, body.lens_width_m),
    ]


def _stand(camera: model.Camera, sensor_m: Point, body: BodySize) -> list[Solid]:
    mount, name = camera.mount, f"{camera.name} {camera.mount.kind}"
    x, y, z = sensor_m
    top = z - body.height_m / 2
    base = mount.base_width_m or TYPICAL_BASE_M[mount.kind]
    if mount.kind == "pedestal":
        return _column(name, camera.name, (x, y), top, base, COLUMN_M["pedestal"])
    turns = [radians(120.0 * leg) for leg in range(3)]
    reach, foot_z = base / 2, LEG_M / 2
    apex = (x, y, max(top - LEG_M / 2, 2 * foot_z))
    feet = [(x - reach * sin(turn), y + reach * cos(turn), foot_z) for turn in turns]
    return [_capsule(name, "stand", camera.name, apex, foot, LEG_M) for foot in feet]


def _column(
    name: str, camera: str, at_m: tuple[float, float], top_m: float, base_m: float, width_m: float
) -> list[Solid]:
    # Always two solids, however low the camera, so that those of two moments belong together.
    height = min(BASE_HEIGHT_M, max(top_m - THIN_M, THIN_M))
    rest = max(top_m - height, THIN_M)
    return [
        Solid(name, "stand", camera, "box", (base_m, base_m, height), (*at_m, height / 2)),
        Solid(name, "stand", camera, "box", (width_m, width_m, rest), (*at_m, height + rest / 2)),
    ]


def _jib(camera: model.Camera, view: CameraView, swing_deg: float, boom_deg: float) -> list[Solid]:
    mount, name = camera.mount, camera.name
    end = np.array(arm_end_m(mount, swing_deg, boom_deg))
    assert mount.pivot_m and mount.arm_m
    pivot, tail = np.array(mount.pivot_m), tail_m(mount)
    back = pivot - (end - pivot) * (tail / mount.arm_m)
    width = mount.arm_width_m or TYPICAL_ARM_M
    weight = mount.counterweight_size_m or TYPICAL_COUNTERWEIGHT_M
    solids = [
        _capsule(f"{name} arm", "arm", name, _point(back), _point(end), width),
        _capsule(f"{name} head", "arm", name, _point(end), view.pose.position_m, HEAD_M),
        Solid(f"{name} counterweight", "arm", name, "box", (weight,) * 3, _point(back), _upright(swing_deg)),
    ]
    x, y, z = mount.pivot_m
    base = mount.base_width_m or TYPICAL_BASE_M["jib"]
    solids += _column(f"{name} base", name, (x, y), z - width / 2, base, COLUMN_M["jib"])
    if camera.body.operated:
        away = tail * cos(radians(boom_deg)) + weight / 2 + BEHIND_CAMERA_M
        swing = radians(swing_deg)
        place = (x + away * sin(swing), y - away * cos(swing))
        solids.append(_person(camera, place, camera.body.operator_height_m))
    return solids


def _behind(camera: model.Camera, view: CameraView, body: BodySize) -> Solid:
    x, y, _ = view.pose.position_m
    pan = radians(view.pose.pan_deg)
    away = body.behind_m + BEHIND_CAMERA_M
    return _person(camera, (x + away * sin(pan), y - away * cos(pan)), camera.body.operator_height_m)


def _beside(camera: model.Camera, view: CameraView) -> Solid:
    x, y, z = view.pose.position_m
    pan = radians(view.pose.pan_deg)
    above, lowest = CROUCH_M
    height = min(camera.body.operator_height_m, max(z + above, lowest))
    place = (x - BESIDE_CAMERA_M * cos(pan), y - BESIDE_CAMERA_M * sin(pan))
    return _person(camera, place, height)


def _person(camera: model.Camera, at_m: tuple[float, float], height_m: float) -> Solid:
    size = (OPERATOR_M, OPERATOR_M, height_m - OPERATOR_M)
    name = f"{camera.name} operator"
    return Solid(name, "operator", camera.name, "capsule", size, (*at_m, height_m / 2))


def _capsule(name: str, kind: SolidKind, camera: str, from_m: Point, to_m: Point, width_m: float) -> Solid:
    along = np.subtract(to_m, from_m)
    length = float(np.linalg.norm(along))
    size, middle = (width_m, width_m, length), _point(np.add(from_m, to_m) / 2)
    if length < 1e-9:
        return Solid(name, kind, camera, "capsule", size, middle)
    z = along / length
    level = hypot(z[0], z[1])
    x = np.array([-z[1], z[0], 0.0]) / level if level > 1e-9 else np.array([1.0, 0.0, 0.0])
    axes = np.column_stack([x, np.cross(z, x), z])
    return Solid(name, kind, camera, "capsule", size, middle, _axes(axes))


@lru_cache(maxsize=256)
def core(shape: Literal["box", "capsule"], size_m: Point) -> tuple[Array, npt.NDArray[np.int64]]:
    """Corners (n, 3) in a solid's own axes, and triangles (m, 3) outward.

    A capsule's are the two ends of its line, and one triangle without area: the solid is what lies
    within its radius.
    """
    if shape == "capsule":
        half = size_m[2] / 2
        return np.array([[0.0, 0.0, -half], [0.0, 0.0, half]]), np.array([[0, 1, 1]])
    box = trimesh.creation.box(extents=size_m)
    return np.asarray(box.vertices, dtype=np.float64), np.asarray(box.faces, dtype=np.int64)


@lru_cache(maxsize=256)
def _drawn(shape: Literal["box", "capsule"], size_m: Point) -> tuple[Array, npt.NDArray[np.int32]]:
    if shape == "box":
        positions, triangles = core(shape, size_m)
        return positions, triangles.astype(np.int32)
    made = trimesh.creation.capsule(height=size_m[2], radius=size_m[0] / 2, count=[8, 12])
    positions = np.asarray(made.vertices, dtype=np.float64)
    return positions - [0.0, 0.0, (positions[:, 2].min() + positions[:, 2].max()) / 2], np.asarray(
        made.faces, dtype=np.int32
    )


def _upright(turn_deg: float) -> Axes:
    turn = radians(turn_deg)
    return ((cos(turn), sin(turn), 0.0), (-sin(turn), cos(turn), 0.0), (0.0, 0.0, 1.0))


def _axes(rotation: Array) -> Axes:
    x, y, z = (_point(column) for column in rotation.T)
    return (x, y, z)


def _point(values: Array) -> Point:
    x, y, z = (float(value) for value in values)
    return (x, y, z)
