"""Camera moves: how far along, and what lies between two framings.

Along a move's share (0 at its start, 1 at its end):

- a position travels in a straight line; a jib's swing and boom change evenly, so its head travels
  on an arc;
- with ``look_at`` at both ends the aim travels in a straight line and the camera is aimed anew each
  frame; otherwise the optical axis turns by spherical interpolation (the shorter way round) with
  the horizon kept level. Roll changes evenly and is the only thing that tips the horizon;
- focal length changes by equal factors in equal shares, so the picture grows at a constant rate;
- focus stays on the aim when both framings leave it to their ``look_at``; otherwise it changes
  evenly in dioptres (1 / distance), about as a focus ring is marked.

Source: Shoemake, "Animating rotation with quaternion curves", SIGGRAPH 1985, for the spherical
interpolation (scipy's Slerp here); the rest is common practice.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from math import atan2, degrees, dist, hypot
from typing import Literal

from scipy.spatial.transform import Rotation, Slerp

from preview.camera.lens import default_focus_m
from preview.camera.pose import Pose
from preview.show.model import Lens, Mount, Point
from preview.timeline.framing import PlacedFraming
from preview.timeline.mount import jib_position_m

Ease = Literal["linear", "smooth", "slow-start", "slow-end"]


def ease_share(ease: Ease, time_share: float) -> float:
    """Share of the way done after ``time_share`` of a move's time; both clipped to 0..1.

    ``smooth`` (3 t^2 - 2 t^3) starts and stops at zero speed, ``slow-start`` (t^2) only starts so,
    ``slow-end`` (its mirror image) only stops so. Source: common practice.

    >>> ease_share("smooth", 0.25), ease_share("slow-start", 0.5), ease_share("slow-end", 0.5)
    (0.15625, 0.25, 0.75)
    """
    t = min(max(time_share, 0.0), 1.0)
    if ease == "smooth":
        return t * t * (3.0 - 2.0 * t)
    if ease == "slow-start":
        return t * t
    if ease == "slow-end":
        return t * (2.0 - t)
    return t


@dataclass(frozen=True)
class MovePath:
    """Everything between two framings of one camera.

    Attributes
    ----------
    start, end : the framings, placed
    mount : what carries the camera
    lens : its lens, for the nearest focus
    """

    start: PlacedFraming
    end: PlacedFraming
    mount: Mount
    lens: Lens

    def at(self, share: float) -> tuple[Pose, float, float]:
        """Pose, focal length (mm) and focus distance (m) at ``share`` (0..1, eased) of the way.

        Raises
        ------
        ValueError : the straight line between two aims passes through the moving camera.
        """
        start, end = self.start, self.end
        if share <= 0.0 or share >= 1.0:
            there = start if share <= 0.0 else end
            return there.pose, there.focal_length_mm, there.focus_m
        position = self._position_m(share)
        roll = _between(start.pose.roll_deg, end.pose.roll_deg, share)
        focal_length = start.focal_length_mm * (end.focal_length_mm / start.focal_length_mm) ** share
        focus = 1.0 / _between(1.0 / start.focus_m, 1.0 / end.focus_m, share)
        if start.aim_m is None or end.aim_m is None:
            return self._turned(position, share, roll), focal_length, focus
        aim = _point_between(start.aim_m, end.aim_m, share)
        if start.focus_on_aim and end.focus_on_aim:
            focus = default_focus_m(self.lens, dist(position, aim))
        return Pose.looking_at(position, aim, roll), focal_length, focus

    def _position_m(self, share: float) -> Point:
        if self.start.arm_deg is None or self.end.arm_deg is None:
            return _point_between(self.start.pose.position_m, self.end.pose.position_m, share)
        swing, boom = (
            _between(a, b, share) for a, b in zip(self.start.arm_deg, self.end.arm_deg, strict=True)
        )
        return jib_position_m(self.mount, swing, boom)

    @cached_property
    def _turn(self) -> Slerp:
        # Level orientations only: interpolating roll along with them would bend the axis's path and
        # lean the horizon of a move whose framings are both level.
        angles = [[pose.pan_deg, pose.tilt_deg, 0.0] for pose in (self.start.pose, self.end.pose)]
        return Slerp([0.0, 1.0], Rotation.from_euler("ZXY", angles, degrees=True))

    def _turned(self, position: Point, share: float, roll_deg: float) -> Pose:
        matrix = self._turn(share).as_matrix()
        x, y, z = (float(value) for value in matrix[:, 1])
        level = hypot(x, y)
        # Straight up or down the axis has no pan of its own; the picture's right edge still has.
        pan = atan2(-x, y) if level > 1e-9 else atan2(float(matrix[1, 0]), float(matrix[0, 0]))
        return Pose(position, degrees(pan), degrees(atan2(z, level)), roll_deg)


def _between(start: float, end: float, share: float) -> float:
    return start + (end - start) * share


def _point_between(start: Point, end: Point, share: float) -> Point:
    x, y, z = (_between(a, b, share) for a, b in zip(start, end, strict=True))
    return (x, y, z)
