"""What is late between cameras, wall and mixer, resolved once and for all.

A cue is given at the rundown's frame. The wall changes ``wall_switch`` frames later. The mixer holds
its cut back ``picture`` frames, so that it can meet the wall. A frustum is drawn from a pose that is
``tracking`` frames old, and a return reaches its operator ``returned`` frames late. All frames are
those of the picture as it is exposed.
"""

from __future__ import annotations

import warnings
from dataclasses import dataclass, replace
from math import floor

from scipy.spatial.transform import Rotation, Slerp

from preview.camera.pose import Pose
from preview.camera.view import CameraView
from preview.show.model import Camera, CameraDelays, Delays, ShowFile
from preview.timeline.rate import Rate


@dataclass(frozen=True)
class CameraDelay:
    """One camera's delays in frames; ``tracking`` may have a fraction."""

    tracking: float
    picture: int
    returned: int


def camera_delay(file: ShowFile, camera: Camera, rate: Rate) -> CameraDelay:
    """The camera's own delays where it has them, the show's otherwise."""
    tracking = _tracking_frames(camera.delays, rate)
    if tracking is None:
        tracking = _tracking_frames(file.delays, rate) or 0.0
    own = camera.delays
    picture = file.delays.picture_frames if own.picture_frames is None else own.picture_frames
    returned = file.delays.return_frames if own.return_frames is None else own.return_frames
    return CameraDelay(tracking, picture, returned)


def _tracking_frames(delays: Delays | CameraDelays, rate: Rate) -> float | None:
    if delays.tracking_ms is not None:
        return delays.tracking_ms / 1000.0 * float(rate.fps)
    return delays.tracking_frames


def split_frame(frame: float) -> tuple[int, float]:
    """The whole frame at or before ``frame`` and the fraction past it; whole within 1e-9 counts as whole.

    >>> split_frame(7.25)
    (7, 0.25)
    """
    nearest = round(frame)
    if abs(frame - nearest) < 1e-9:
        return nearest, 0.0
    return floor(frame), frame - floor(frame)


def view_between(before: CameraView, after: CameraView, share: float) -> CameraView:
    """What a tracking system that interpolates its samples reports between two frames.

    Position, focal length, projection distance and focus run straight; the orientation, roll included,
    turns by spherical interpolation. Distortion and entrance pupil are those of the nearer frame.

    Parameters
    ----------
    before, after : views at two neighbouring frames
    share : 0 for ``before``, 1 for ``after``

    Source: Shoemake, "Animating rotation with quaternion curves", SIGGRAPH 1985 (scipy's Slerp).
    """
    if share == 0.0 or before == after:
        return before
    x, y, z = (
        a + (b - a) * share for a, b in zip(before.pose.position_m, after.pose.position_m, strict=True)
    )
    ends = Rotation.from_matrix([before.pose.rotation, after.pose.rotation])
    with warnings.catch_warnings():
        # Looking straight down, pan and roll are one angle: any split of it is the same orientation.
        warnings.simplefilter("ignore", UserWarning)
        pan, tilt, roll = Slerp([0.0, 1.0], ends)(share).as_euler("ZXY", degrees=True)
    nearer = before if share < 0.5 else after
    between = {
        name: getattr(before, name) + (getattr(after, name) - getattr(before, name)) * share
        for name in ("projection_mm", "focal_length_mm", "focus_m")
    }
    return replace(nearer, pose=Pose((x, y, z), float(pan), float(tilt), float(roll)), **between)
