"""Angle of view against published tables and OpenCV.

Formula: 2 atan(d / 2f), with f (1 + m) in place of f at close focus (common practice).
"""

from __future__ import annotations

from math import hypot

import cv2
import numpy as np
import pytest

from preview.camera.lens import projection_mm
from preview.camera.pose import Pose
from preview.camera.view import CameraView, angle_of_view

# Public conversion table: focal length that gives a wanted horizontal angle on a 5.76 mm wide sensor.
PUBLISHED_FOCAL_LENGTHS_5_76_MM = [
    (1, 330.015312),
    (5, 65.962845),
    (18, 18.183604),
    (35, 9.134193),
    (50, 6.17618),
    (85, 3.142968),
    (100, 2.416607),
    (135, 1.192935),
]

# One-decimal values published in lens tables: 36 x 24 mm at 50 mm (H, V, D), and 22.5 mm at 30 mm.
PUBLISHED_ANGLES = [
    (36.0, 50.0, 39.6),
    (24.0, 50.0, 27.0),
    (hypot(36, 24), 50.0, 46.8),
    (22.5, 30.0, 41.1),
]

# Worked from the formula to four decimals, twice and independently, for three formats.
WORKED = [
    ((9.59, 5.39), 8, (61.8748, 37.2348, 69.0215)),
    ((9.59, 5.39), 10, (51.2354, 30.1657, 57.6256)),
    ((9.59, 5.39), 50, (10.9558, 6.1705, 12.5556)),
    ((9.59, 5.39), 100, (5.4905, 3.0875, 6.2967)),
    ((24.89, 14.0), 24, (54.8172, 32.5204, 61.5003)),
    ((24.89, 14.0), 35, (39.1479, 22.6199, 44.3870)),
    ((24.89, 14.0), 50, (27.9538, 15.9392, 31.8757)),
    ((36.0, 24.0), 24, (73.7398, 53.1301, 84.0622)),
    ((36.0, 24.0), 35, (54.4322, 37.8493, 63.4400)),
    ((36.0, 24.0), 50, (39.5978, 26.9915, 46.7930)),
]


@pytest.mark.parametrize(("angle_deg", "focal_length_mm"), PUBLISHED_FOCAL_LENGTHS_5_76_MM)
def test_published_focal_lengths(angle_deg: float, focal_length_mm: float) -> None:
    assert angle_of_view(5.76, focal_length_mm) == pytest.approx(angle_deg, abs=5e-5)


def test_an_angle_past_a_half_turn_has_no_focal_length() -> None:
    # The same table prints -0.5078 mm for 200 degrees; no lens is that.
    with pytest.raises(ValueError, match="focal_length_mm must be positive"):
        angle_of_view(5.76, -0.5078)


@pytest.mark.parametrize(("sensor_mm", "focal_length_mm", "angle_deg"), PUBLISHED_ANGLES)
def test_published_angles(sensor_mm: float, focal_length_mm: float, angle_deg: float) -> None:
    assert angle_of_view(sensor_mm, focal_length_mm) == pytest.approx(angle_deg, abs=0.05)


@pytest.mark.parametrize(("size_mm", "focal_length_mm", "angles_deg"), WORKED)
def test_worked_angles_across_down_and_along_the_diagonal(
    size_mm: tuple[float, float], focal_length_mm: float, angles_deg: tuple[float, float, float]
) -> None:
    sides = (*size_mm, hypot(*size_mm))
    for side, angle in zip(sides, angles_deg, strict=True):
        assert angle_of_view(side, focal_length_mm) == pytest.approx(angle, abs=1e-4)


@pytest.mark.parametrize(("size_mm", "focal_length_mm", "angles_deg"), WORKED)
def test_opencv_agrees_with_the_view(
    size_mm: tuple[float, float], focal_length_mm: float, angles_deg: tuple[float, float, float]
) -> None:
    # Library: cv2.calibrationMatrixValues, given our camera matrix with the half pixel put back.
    view = CameraView(Pose((0, 0, 0)), size_mm, focal_length_mm)
    matrix = view.opencv_matrix((3840, 2160)) + np.array([[0, 0, 0.5], [0, 0, 0.5], [0, 0, 0]])
    across, down, focal, _, _ = cv2.calibrationMatrixValues(matrix, (3840, 2160), *size_mm)
    assert view.horizontal_angle_deg == pytest.approx(across, abs=1e-9)
    assert angle_of_view(size_mm[1], focal_length_mm) == pytest.approx(down, abs=1e-9)
    assert focal == pytest.approx(focal_length_mm, abs=1e-9)


@pytest.mark.parametrize(
    ("focus_m", "angle_deg"), [(0.1, 20.408), (0.45, 35.489), (1.0, 37.761), (1e9, 39.598)]
)
def test_thin_lens_breathing_narrows_the_angle(focus_m: float, angle_deg: float) -> None:
    # 50 mm on 36 mm, thin-lens extension: m = 1, 1/8, 1/19, 0. Worked from f (1 + f / (s - f)).
    distance = projection_mm(50.0, focus_m, breathing=1.0)
    assert angle_of_view(36.0, distance) == pytest.approx(angle_deg, abs=1e-3)
