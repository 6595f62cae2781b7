"""A camera at one moment: pose, sensor and lens, and the projection they make together."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from preview.camera.distortion import Distortion
from preview.camera.pose import Pose
from preview.conventions import BODY_FROM_GL, Array


def angle_of_view(sensor_mm: float, focal_length_mm: float) -> float:
    """Full angle (degrees) a pinhole at ``focal_length_mm`` sees across one sensor side.

    Raises
    ------
    ValueError : a length is not positive; names it and its value.

    Source: common practice, 2 atan(d / 2f).

    >>> round(angle_of_view(36, 50), 2)
    39.6
    """
    for name, value in (("sensor_mm", sensor_mm), ("focal_length_mm", focal_length_mm)):
        if not value > 0:
            raise ValueError(f"{name} must be positive, got {value}")
    return float(2 * np.degrees(np.arctan(sensor_mm / (2 * focal_length_mm))))


@dataclass(frozen=True)
class CameraView:
    """Everything that decides which sightline lands on which point of the picture.

    Attributes
    ----------
    pose : Pose of the sensor
    sensor_mm : active width and height
    projection_mm : pinhole (projection) distance now, breathing included
    entrance_pupil_offset_m : from the sensor towards the subject; sightlines start there
    distortion : Distortion of the lens
    focal_length_mm, focus_m, t_stop : the lens settings behind it
    """

    pose: Pose
    sensor_mm: tuple[float, float]
    projection_mm: float
    entrance_pupil_offset_m: float = 0.0
    distortion: Distortion = Distortion()  # noqa: RUF009 (frozen value)
    focal_length_mm: float = 0.0
    focus_m: float = 5.0
    t_stop: float = 2.8

    @property
    def pupil_m(self) -> Array:
        """(3,) stage position of the entrance pupil, where sightlines start."""
        return np.asarray(self.pose.position_m) + self.pose.rotation[:, 1] * self.entrance_pupil_offset_m

    @property
    def stage_from_gl(self) -> Array:
        """(4, 4) GL camera axes (X right, Y up, looks along -Z) at the pupil, to stage."""
        matrix = self.pose.stage_from_body @ BODY_FROM_GL
        matrix[:3, 3] = self.pupil_m
        return matrix

    @property
    def half_tangents(self) -> tuple[float, float]:
        """Tangents of half the horizontal and vertical angle of view, before distortion."""
        width, height = self.sensor_mm
        return width / (2 * self.projection_mm), height / (2 * self.projection_mm)

    @property
    def horizontal_angle_deg(self) -> float:
        """Horizontal angle of view, degrees, before distortion."""
        return angle_of_view(self.sensor_mm[0], self.projection_mm)

    def clip_from_stage(self, near_m: float, far_m: float, overscan: float = 0.0) -> Array:
        """(4, 4) pinhole projection to GL clip space, widened by ``overscan`` (share a side)."""
        return self.clip_from_gl(near_m, far_m, overscan) @ np.linalg.inv(self.stage_from_gl)

    def clip_from_gl(self, near_m: float, far_m: float, overscan: float = 0.0) -> Array:
        """(4, 4) as ``clip_from_stage``, from GL camera axes."""
        tan_x, tan_y = (tangent * (1 + 2 * overscan) for tangent in self.half_tangents)
        depth = far_m - near_m
        return np.array(
            [
                [1 / tan_x, 0, 0, 0],
                [0, 1 / tan_y, 0, 0],
                [0, 0, -(far_m + near_m) / depth, -2 * far_m * near_m / depth],
                [0, 0, -1, 0],
            ]
        )

    def project(self, points_m: Array, size_px: tuple[int, int]) -> tuple[Array, np.ndarray]:
        """Stage points to picture points, distortion included.

        Parameters
        ----------
        points_m : (n, 3) stage metres
        size_px : picture width and height

        Returns
        -------
        pixels : (n, 2) x right, y down, from the picture's left and top edges; NaN behind the lens
        valid : (n,) bool, True in front of the entrance pupil
        """
        local = (np.asarray(points_m, dtype=np.float64) - self.pupil_m) @ self.pose.rotation
        valid = local[:, 1] > 1e-9
        depth = np.where(valid, local[:, 1], np.nan)
        normalised = np.stack([local[:, 0] / depth, -local[:, 2] / depth], axis=1)
        return self._pixels_per_unit(size_px) * self.distortion.distort(normalised) + np.divide(
            size_px, 2
        ), valid

    def sightlines(self, pixels: Array, size_px: tuple[int, int]) -> tuple[Array, np.ndarray]:
        """Picture points to unit directions from the pupil, distortion undone.

        Returns
        -------
        directions : (n, 3) stage axes, unit length
        valid : (n,) bool, False where the distortion model cannot be inverted
        """
        normalised = (np.asarray(pixels, dtype=np.float64) - np.divide(size_px, 2)) / self._pixels_per_unit(
            size_px
        )
        plane, valid = self.distortion.undistort(normalised)
        local = np.stack([plane[:, 0], np.ones(len(plane)), -plane[:, 1]], axis=1)
        local /= np.linalg.norm(local, axis=1, keepdims=True)
        return local @ self.pose.rotation.T, valid

    def opencv_matrix(self, size_px: tuple[int, int]) -> Array:
        """(3, 3) K for cv2, whose pixel centres are whole numbers (ours are at .5)."""
        fx, fy = self._pixels_per_unit(size_px)
        return np.array([[fx, 0, size_px[0] / 2 - 0.5], [0, fy, size_px[1] / 2 - 0.5], [0, 0, 1]])

    def _pixels_per_unit(self, size_px: tuple[int, int]) -> Array:
        tan_x, tan_y = self.half_tangents
        return np.array([size_px[0] / (2 * tan_x), size_px[1] / (2 * tan_y)])
