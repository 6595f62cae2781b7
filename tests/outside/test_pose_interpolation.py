"""Poses between two tracked frames against scipy's rotation splines and against straight lines.

Source of the rule: Shoemake, "Animating rotation with quaternion curves", SIGGRAPH 1985: between two
orientations a camera turns about one fixed axis at an even rate.
"""

from __future__ import annotations

import warnings
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation, Slerp

from preview.camera.distortion import Distortion
from preview.camera.pose import Pose
from preview.camera.view import CameraView
from preview.show.model import ShowFile
from preview.timeline.delay import view_between
from preview.timeline.timeline import Timeline
from tests.timeline.conftest import Show, document

angles = st.tuples(st.floats(-180, 180), st.floats(-85, 85), st.floats(-180, 180))
places = st.tuples(st.floats(-10, 10), st.floats(-10, 10), st.floats(0, 6))
poses = st.builds(lambda at, turn: Pose(at, *turn), places, angles)
shares = st.floats(0, 1)


def view(pose: Pose, **settings: Any) -> CameraView:
    return CameraView(pose, (9.6, 5.4), **({"projection_mm": 20.0, "focal_length_mm": 20.0} | settings))


def turn_rad(one: np.ndarray, other: np.ndarray) -> float:
    return float(Rotation.from_matrix(one.T @ other).magnitude())


@given(poses, poses, shares)
def test_orientation_is_scipys_slerp(one: Pose, other: Pose, share: float) -> None:
    assume(turn_rad(one.rotation, other.rotation) < np.pi - 1e-3)  # past that either way round is as short
    between = view_between(view(one), view(other), share).pose.rotation
    ends = Rotation.from_euler(
        "ZXY", [[p.pan_deg, p.tilt_deg, p.roll_deg] for p in (one, other)], degrees=True
    )
    # Library: scipy.spatial.transform.Slerp on the two tracked rotations, not on the code's matrices.
    np.testing.assert_allclose(between, Slerp([0, 1], ends)(share).as_matrix(), atol=1e-6)


@given(poses, poses, shares)
def test_orientation_is_the_quaternion_formula(one: Pose, other: Pose, share: float) -> None:
    """Shoemake's own formula, sin((1-t) a)/sin a q0 + sin(t a)/sin a q1, written out."""
    q0, q1 = (Rotation.from_matrix(pose.rotation).as_quat() for pose in (one, other))
    q1 = q1 if q0 @ q1 >= 0 else -q1
    half = np.arccos(np.clip(q0 @ q1, -1, 1))
    assume(1e-3 < half < np.pi / 2 - 1e-3)
    mixed = (np.sin((1 - share) * half) * q0 + np.sin(share * half) * q1) / np.sin(half)
    between = view_between(view(one), view(other), share).pose.rotation
    np.testing.assert_allclose(between, Rotation.from_quat(mixed).as_matrix(), atol=1e-6)


@given(poses, poses, shares)
def test_the_turn_is_shared_out_evenly(one: Pose, other: Pose, share: float) -> None:
    whole = turn_rad(one.rotation, other.rotation)
    assume(whole < np.pi - 1e-3)
    between = view_between(view(one), view(other), share).pose.rotation
    assert turn_rad(one.rotation, between) == pytest.approx(share * whole, abs=1e-6)
    assert turn_rad(between, other.rotation) == pytest.approx((1 - share) * whole, abs=1e-6)


@given(poses, poses, shares)
def test_position_runs_straight(one: Pose, other: Pose, share: float) -> None:
    at = view_between(view(one), view(other), share).pose.position_m
    # Library: numpy.interp, axis by axis.
    ends = np.array([one.position_m, other.position_m])
    np.testing.assert_allclose(at, [np.interp(share, [0, 1], axis) for axis in ends.T], atol=1e-12)


def test_hand_worked_quarter() -> None:
    one, other = Pose((0.0, -4.0, 1.0), 10.0), Pose((1.0, -2.0, 2.0), 30.0)
    between = view_between(
        view(one, projection_mm=10.0, focal_length_mm=12.0, focus_m=4.0),
        view(other, projection_mm=20.0, focal_length_mm=16.0, focus_m=8.0),
        0.25,
    )
    assert between.pose.position_m == pytest.approx((0.25, -3.5, 1.25))
    assert (between.pose.pan_deg, between.pose.tilt_deg, between.pose.roll_deg) == pytest.approx((15.0, 0, 0))
    assert (between.projection_mm, between.focal_length_mm, between.focus_m) == (12.5, 13.0, 5.0)


def test_a_pan_across_the_back_takes_the_short_way() -> None:
    between = view_between(view(Pose((0, 0, 0), 170.0)), view(Pose((0, 0, 0), -170.0)), 0.5)
    assert abs(between.pose.pan_deg) == pytest.approx(180.0)


def test_hand_worked_turn_about_a_diagonal() -> None:
    """Neither end tilts, and yet the camera looks down half way: it turns about one fixed axis.

    From looking along +Y upright to looking along +X with its right side up, the axes right, forward, up
    go from X, Y, Z to Z, X, Y: a third of a turn about the diagonal (1, 1, 1). Half of that, 60 degrees,
    is the matrix of thirds 2 and -1; its middle column, forward, is (2, 2, -1) / 3.
    """
    between = view_between(view(Pose((0, 0, 0))), view(Pose((0, 0, 0), -90.0, 0.0, -90.0)), 0.5).pose
    np.testing.assert_allclose(3 * between.rotation, [[2, 2, -1], [-1, 2, 2], [2, -1, 2]], atol=1e-9)
    assert between.tilt_deg == pytest.approx(-np.degrees(np.arcsin(1 / 3)))


def test_straight_down_works_without_a_warning() -> None:
    """An overhead camera: pan and roll are one angle there, and any split of it is the same orientation."""
    down, turned = Pose((0, 0, 4), 20.0, -90.0), Pose((0, 0, 4), 40.0, -90.0)
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        between = view_between(view(down), view(turned), 0.5).pose
    np.testing.assert_allclose(between.rotation, Pose((0, 0, 4), 30.0, -90.0).rotation, atol=1e-6)


@given(poses, poses)
def test_the_ends_are_the_ends(one: Pose, other: Pose) -> None:
    assume(turn_rad(one.rotation, other.rotation) < np.pi - 1e-3)
    assert view_between(view(one), view(other), 0.0) == view(one)
    last = view_between(view(one), view(other), 1.0).pose
    np.testing.assert_allclose(last.rotation, other.rotation, atol=1e-6)
    assert last.position_m == pytest.approx(other.position_m)


@given(poses, poses, shares)
def test_back_to_front_it_is_the_same_view(one: Pose, other: Pose, share: float) -> None:
    assume(turn_rad(one.rotation, other.rotation) < np.pi - 1e-3)
    there = view_between(view(one), view(other), share).pose
    back = view_between(view(other), view(one), 1 - share).pose
    np.testing.assert_allclose(there.rotation, back.rotation, atol=1e-6)
    np.testing.assert_allclose(there.position_m, back.position_m, atol=1e-9)


@pytest.mark.parametrize(("share", "k1"), [(0.49, -0.1), (0.51, 0.2)])
def test_the_glass_is_that_of_the_nearer_frame(share: float, k1: float) -> None:
    one = view(Pose((0, 0, 0)), distortion=Distortion(k1=-0.1))
    other = replace(one, pose=Pose((1, 0, 0)), distortion=Distortion(k1=0.2))
    assert view_between(one, other, share).distortion.k1 == k1


@pytest.mark.parametrize("delay", [0.25, 0.5, 1.75, 3.4])
@pytest.mark.parametrize("camera", ["Path", "Arm"])
def test_a_late_layer_lies_between_the_two_frames_around_it(camera: str, delay: float) -> None:
    """The whole way from a rundown's moves, against scipy on the views at whole frames."""
    cues = {"Path": {"move": "push"}, "Arm": {"move": "rise"}}
    rundown = [{"name": "one", "on_air": "Path", "duration": 6.0, "cameras": cues}]
    line = Timeline(Show(ShowFile(**document(rundown, delays={"tracking_frames": delay}))))
    for frame in (4, 30, 77):
        then = frame - delay
        whole = int(np.floor(then))
        before, after = line.view_at(camera, whole), line.view_at(camera, whole + 1)
        assert before != after
        late = line.layer_view_at(camera, frame)
        ends = Rotation.from_matrix([before.pose.rotation, after.pose.rotation])
        expected = Slerp([whole, whole + 1], ends)(then).as_matrix()
        np.testing.assert_allclose(late.pose.rotation, expected, atol=1e-9)
        for name in ("projection_mm", "focal_length_mm", "focus_m"):
            ends_of = [getattr(before, name), getattr(after, name)]
            assert getattr(late, name) == pytest.approx(np.interp(then, [whole, whole + 1], ends_of))
        x = [v.pose.position_m[0] for v in (before, after)]
        assert late.pose.position_m[0] == pytest.approx(np.interp(then, [whole, whole + 1], x), abs=1e-12)
