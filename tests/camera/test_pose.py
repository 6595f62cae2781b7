"""Pose: aiming, and the matrix it makes."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from preview.camera.pose import Pose

points = st.tuples(st.floats(-20, 20), st.floats(-20, 20), st.floats(-5, 10))


@given(position=points, target=points, roll_deg=st.floats(-45, 45))
def test_the_optical_axis_passes_through_the_target(position: tuple, target: tuple, roll_deg: float) -> None:
    away = np.subtract(target, position)
    distance = np.linalg.norm(away)
    assume(distance > 1e-3)
    pose = Pose.looking_at(position, target, roll_deg)
    np.testing.assert_allclose(pose.rotation[:, 1] * distance, away, atol=1e-9)
    assert pose.roll_deg == roll_deg


@given(position=points, target=points)
def test_aiming_keeps_the_horizon_level_and_the_top_up(position: tuple, target: tuple) -> None:
    assume(np.hypot(*np.subtract(target, position)[:2]) > 1e-3)
    right, _, up = Pose.looking_at(position, target).rotation.T
    assert right[2] == pytest.approx(0.0, abs=1e-12)
    assert up[2] > 0.0


@pytest.mark.parametrize(
    ("target", "pan_deg", "tilt_deg"),
    [
        ((0, 5, 1), 0, 0),
        ((-5, 0, 1), 90, 0),
        ((5, 0, 1), -90, 0),
        ((0, 5, 6), 0, 45),
        ((-3, 3, 1), 45, 0),
        ((0, 0, 9), 0, 90),
        ((0, 0, -9), 0, -90),
    ],
)
def test_signs_of_pan_and_tilt(target: tuple, pan_deg: float, tilt_deg: float) -> None:
    # +pan turns left, +tilt looks up (OpenTrackIO, protocol 1.0.1).
    pose = Pose.looking_at((0, 0, 1), target)
    assert (pose.pan_deg, pose.tilt_deg) == pytest.approx((pan_deg, tilt_deg), abs=1e-12)


def test_there_is_no_aim_at_the_camera_itself() -> None:
    with pytest.raises(ValueError, match="same point"):
        Pose.looking_at((1, 2, 3), (1, 2, 3))


@given(points, st.floats(-180, 180), st.floats(-90, 90), st.floats(-90, 90))
def test_stage_from_body_is_rigid(position: tuple, pan: float, tilt: float, roll: float) -> None:
    matrix = Pose(position, pan, tilt, roll).stage_from_body
    np.testing.assert_allclose(matrix[:3, :3] @ matrix[:3, :3].T, np.eye(3), atol=1e-12)
    assert np.linalg.det(matrix[:3, :3]) == pytest.approx(1.0)
    np.testing.assert_array_equal(matrix[:, 3], [*position, 1.0])
