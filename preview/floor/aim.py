"""A framing taken from elsewhere: where the camera looks from there, and what its lens is set to."""

from __future__ import annotations

from dataclasses import dataclass
from math import dist, inf
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from preview.camera.distortion import Distortion
from preview.camera.lens import lens_distortion, projection_mm, view_through
from preview.camera.pose import Pose
from preview.camera.view import CameraView
from preview.conventions import Array
from preview.floor.options import FloorOptions
from preview.floor.result import ARM, FOLDS, HEIGHT, LENS_RANGE, NEAREST_FOCUS
from preview.show import model
from preview.show.model import Point
from preview.timeline.framing import PlacedFraming, aim_points_m, lens_of, place_framing, sensor_of

_SLACK = 1e-6
"""A lens at the end of its range, or a mount at that of its heights, is still inside it."""


class Stands(NamedTuple):
    """A camera in many places.

    Attributes
    ----------
    position_m : (n, 3) sensors, stage metres; NaN height where an arm does not reach
    pupil_m : (n, 3) entrance pupils
    rotation : (n, 3, 3) stage from body, as ``Pose.rotation``
    focal_mm, focus_m, projection_mm : (n,) of the lens
    reason : (n,) int8, as of ``FloorMap.reason``; numbers of places with one mean nothing
    """

    position_m: Array
    pupil_m: Array
    rotation: Array
    focal_mm: Array
    focus_m: Array
    projection_mm: Array
    reason: npt.NDArray[np.int8]

    def take(self, rows: npt.NDArray[np.integer] | slice) -> Stands:
        """Some of the places."""
        return Stands(
            self.position_m[rows], self.pupil_m[rows], self.rotation[rows], self.focal_mm[rows],
            self.focus_m[rows], self.projection_mm[rows], self.reason[rows],
        )  # fmt: skip


@dataclass(frozen=True, eq=False)
class Aim:
    """What of a framing is kept wherever the camera stands.

    Attributes
    ----------
    camera, framing : as in the show file
    placed : the framing as written
    subject_m : stage point on the optical axis: what the framing looks at, else the point in focus
    options : how zoom and focus follow
    """

    camera: model.Camera
    framing: model.Framing
    placed: PlacedFraming
    subject_m: Point
    options: FloorOptions

    @classmethod
    def of(cls, file: model.ShowFile, camera: str, framing: str, options: FloorOptions) -> Aim:
        """Of a framing of the show; KeyError if there is none of that name."""
        settings = {one.name: one for one in file.cameras}[camera]
        written = {one.name: one for one in settings.framings}[framing]
        placed = place_framing(settings, written, aim_points_m(file))
        subject = placed.aim_m
        if subject is None:
            ahead = np.asarray(placed.pose.position_m) + placed.pose.rotation[:, 1] * placed.focus_m
            x, y, z = (float(value) for value in ahead)
            subject = (x, y, z)
        return cls(settings, written, placed, subject, options)

    @property
    def here_m(self) -> Point:
        """Where the sensor is in the framing as written."""
        return self.placed.pose.position_m

    @property
    def height_m(self) -> float:
        """Height of the sensor that is asked for."""
        return self.here_m[2] if self.options.height_m is None else self.options.height_m

    def stands(self, x_m: Array, y_m: Array) -> Stands:
        """The camera with its sensor at stage places (n,) and (n,), aimed at the subject."""
        reason = np.zeros(len(x_m), dtype=np.int8)
        position = np.column_stack([x_m, y_m, np.full(len(x_m), self.height_m)])
        mount = self.camera.mount
        if mount.kind == "jib":
            position[:, 2] = jib_heights_m(mount, x_m, y_m, self.height_m)
            reason[np.isnan(position[:, 2])] = ARM
        if mount.height_range_m is not None:
            low, high = mount.height_range_m
            outside = (position[:, 2] < low - _SLACK) | (position[:, 2] > high + _SLACK)
            reason[outside & (reason == 0)] = HEIGHT
        rotation, away = self._looking(position)
        lens = lens_of(self.camera)
        focus, close = self._focus(lens, away)
        with np.errstate(divide="ignore", invalid="ignore"):
            focal, projection = self._zoom(lens, away, focus)
        shortest, longest = lens.focal_length_mm
        if self.options.zoom == "hold":
            # "not inside" also where there is no number at all
            inside = (focal >= shortest * (1 - _SLACK)) & (focal <= longest * (1 + _SLACK))
            reason[~inside & (reason == 0)] = LENS_RANGE
        close |= (1000.0 * focus <= 1.001 * focal) | (away <= abs(lens.entrance_pupil_offset_m) + 0.01)
        reason[close & (reason == 0)] = NEAREST_FOCUS
        pupil = position + rotation[:, :, 1] * lens.entrance_pupil_offset_m
        return Stands(position, pupil, rotation, focal, focus, projection, reason)

    def view(self, stands: Stands, place: int) -> CameraView:
        """The view of one place, as the rest of the product has it."""
        x, y, z = (float(value) for value in stands.position_m[place])
        pose = Pose.looking_at((x, y, z), self.subject_m, self.framing.roll_deg)
        return view_through(
            sensor_of(self.camera), lens_of(self.camera), pose,
            float(stands.focal_mm[place]), float(stands.focus_m[place]),
        )  # fmt: skip

    def _looking(self, position: Array) -> tuple[Array, Array]:
        """(n, 3, 3) rotations as of ``Pose.looking_at``, and (n,) distances to the subject."""
        way = np.asarray(self.subject_m) - position
        away = np.linalg.norm(way, axis=1)
        forward = way / np.maximum(away, 1e-9)[:, None]
        level = np.hypot(forward[:, 0], forward[:, 1])
        upright = ~(level > 0.0)  # straight above or below the subject pan is 0
        safe = np.where(upright, 1.0, level)
        right = np.column_stack([forward[:, 1] / safe, -forward[:, 0] / safe, np.zeros(len(way))])
        right[upright] = (1.0, 0.0, 0.0)
        up = np.cross(right, forward)
        roll = np.radians(self.framing.roll_deg)
        c, s = np.cos(roll), np.sin(roll)
        return np.stack([c * right - s * up, forward, s * right + c * up], axis=2), away

    def _focus(self, lens: model.Lens, away: Array) -> tuple[Array, npt.NDArray[np.bool_]]:
        """Focus (n,) from the sensor, and where the lens does not focus that near."""
        written = self.placed.focus_m
        if self.options.focus == "fixed":
            return np.full(len(away), written), np.zeros(len(away), dtype=bool)
        here = dist(self.here_m, self.subject_m)
        focus = away if self.placed.focus_on_aim else written + (away - here)
        close = focus < lens.minimum_focus_m - _SLACK
        return np.maximum(focus, max(lens.minimum_focus_m, 0.01)), close

    def _zoom(self, lens: model.Lens, away: Array, focus: Array) -> tuple[Array, Array]:
        """Focal lengths and projection distances (n,), mm."""
        if self.options.zoom == "fixed":
            focal = np.full(len(away), self.placed.focal_length_mm)
            return focal, focal * (1.0 + lens.breathing * focal / (1000.0 * focus - focal))
        written = projection_mm(self.placed.focal_length_mm, self.placed.focus_m, lens.breathing)
        offset = lens.entrance_pupil_offset_m
        projection = written * (away - offset) / (dist(self.here_m, self.subject_m) - offset)
        return focal_for(projection, focus, lens.breathing), projection


def focal_for(projection: Array, focus_m: Array, breathing: float) -> Array:
    """Focal lengths (mm) that project at these distances (mm): ``projection_mm`` turned round.

    p = f + b f^2 / (s - f) is (1 - b) f^2 - (s + p) f + p s = 0, of which the smaller root is the lens's.
    """
    s, p = 1000.0 * focus_m, projection
    root = np.sqrt((s + p) ** 2 - 4.0 * (1.0 - breathing) * p * s)
    return np.asarray(2.0 * p * s / (s + p + root))


def jib_heights_m(mount: model.Mount, x_m: Array, y_m: Array, nearest_m: float) -> Array:
    """Heights (n,) of a jib's sensor over places (n,): of the two that its arm gives the one nearest to
    ``nearest_m``; NaN where the arm, in its range of boom angles, does not reach.

    Raises
    ------
    ValueError : the mount has no pivot or no arm.
    """
    if mount.pivot_m is None or mount.arm_m is None:
        raise ValueError("a jib needs pivot_m and arm_m; write both under mount")
    right, forward, up = mount.head_offset_m
    round_pivot = np.square(x_m - mount.pivot_m[0]) + np.square(y_m - mount.pivot_m[1])
    with np.errstate(invalid="ignore"):
        reach = np.sqrt(round_pivot - right**2) - forward
        raised = np.degrees(np.arccos(reach / mount.arm_m))  # NaN past the arm's end
    raised = np.where(reach >= 0.0, raised, np.nan)
    low, high = mount.boom_range_deg or (-90.0, 90.0)
    heights = np.full((2, len(raised)), np.nan)
    for row, boom in enumerate((raised, -raised)):
        allowed = (boom >= low - _SLACK) & (boom <= high + _SLACK)
        heights[row, allowed] = mount.pivot_m[2] + up + mount.arm_m * np.sin(np.radians(boom[allowed]))
    off = np.nan_to_num(np.abs(heights - nearest_m), nan=inf)
    return np.asarray(heights[off.argmin(axis=0), np.arange(len(raised))])


class LensGrid:
    """Undistorted sightlines of a grid over the picture, for many projection distances at once.

    With distortion they are polynomials of 1 / projection distance, fitted where the places need it.

    Parameters
    ----------
    camera : sensor and lens
    picture : (n, 2) places in the picture, shares of its width and height from the middle, x right, y down
    projection_mm : (k,) that will be asked for
    """

    DEGREE = 10

    def __init__(self, camera: model.Camera, picture: Array, projection_mm: Array) -> None:
        distortion = lens_distortion(lens_of(camera))
        points = picture * np.asarray(sensor_of(camera).size_mm)
        inverse = 1.0 / np.asarray(projection_mm, dtype=np.float64)
        low, high = (float(inverse.min()), float(inverse.max())) if len(inverse) else (0.0, 1.0)
        self.most = high
        if distortion:
            high = self.most = _not_folded(distortion, points, low, high)
        self._low, self._high = low, high
        if not distortion or not len(inverse) or high < low:
            self._terms = points[None]
        else:
            knots = np.cos((np.arange(2 * self.DEGREE) + 0.5) * np.pi / (2 * self.DEGREE))
            at = low + (knots + 1.0) / 2.0 * (high - low)
            ratio = np.array([distortion.undistort(points * q)[0] / q for q in at])
            fit = np.polynomial.chebyshev.chebfit(knots, ratio.reshape(len(at), -1), self.DEGREE)
            self._terms = fit.reshape(self.DEGREE + 1, *points.shape)

    def folds(self, projection_mm: Array) -> npt.NDArray[np.bool_]:
        """(k,) where the distortion has no inverse all over the picture."""
        return 1.0 / projection_mm > self.most * (1.0 + 1e-12)

    def tangents(self, projection_mm: Array) -> npt.NDArray[np.float32]:
        """(k, n, 2) sightlines at unit distance, x right, y down."""
        inverse = 1.0 / np.asarray(projection_mm, dtype=np.float64)
        count = len(self._terms)
        if count == 1:
            return (inverse[:, None, None] * self._terms[0]).astype(np.float32)
        spread = self._high - self._low
        place = 2.0 * (inverse - self._low) / spread - 1.0 if spread > 0 else np.zeros_like(inverse)
        powers = np.polynomial.chebyshev.chebvander(place, count - 1) * inverse[:, None]
        flat = powers.astype(np.float32) @ self._terms.reshape(count, -1).astype(np.float32)
        return flat.reshape(len(inverse), *self._terms.shape[1:])


def _not_folded(distortion: Distortion, points: Array, low: float, high: float) -> float:
    """Largest 1 / projection distance up to ``high`` at which every point has an undistorted one; below
    ``low`` when there is none."""

    def whole(q: float) -> bool:
        return bool(distortion.undistort(points * q)[1].all())

    if whole(high):
        return high
    if not whole(low):
        return low * (1.0 - 1e-9)
    for _ in range(30):
        middle = (low + high) / 2.0
        low, high = (middle, high) if whole(middle) else (low, middle)
    return low


def folded(stands: Stands, grid: LensGrid) -> None:
    """Write down where the lens's distortion has no inverse."""
    fine = stands.reason == 0
    stands.reason[fine] = np.where(grid.folds(stands.projection_mm[fine]), FOLDS, 0)
