"""Pose, projection and distortion against OpenTrackIO values and OpenCV.

Sources: SMPTE RIS OSVP OpenTrackIO, protocol 1.0.1 (clip documentation: Z up, Y forward, X right,
intrinsic Z-X-Y, right-handed); OpenCV calib3d, ``cv2.projectPoints`` and ``cv2.undistortPoints``.
"""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from preview.camera.distortion import Distortion
from preview.camera.pose import Pose
from preview.camera.view import CameraView

SIZE = (1920, 1080)

# Worked independently from the documented axes; pan, tilt, roll to forward, right, up.
POSES = [
    ((0, 0, 0), (0, 1, 0), (1, 0, 0), (0, 0, 1)),
    ((90, 0, 0), (-1, 0, 0), (0, 1, 0), (0, 0, 1)),
    ((0, 90, 0), (0, 0, 1), (1, 0, 0), (0, -1, 0)),
    ((0, 0, 90), (0, 1, 0), (0, 0, -1), (1, 0, 0)),
    (
        (30, 20, 10),
        (-0.469846, 0.813798, 0.342020),
        (0.823173, 0.543838, -0.163176),
        (0.318796, -0.204874, 0.925417),
    ),
    (
        (-45, -10, 5),
        (0.696364, 0.696364, -0.173648),
        (0.693714, -0.715118, -0.085832),
        (0.183949, 0.060692, 0.981060),
    ),
]

# cv2.projectPoints, fx = fy = 2000 px, centre (960, 540), on a 24 mm wide 16:9 sensor (so 25 mm).
PUBLISHED_LENS = Distortion(k1=-0.12, k2=0.03, p1=0.001, p2=-0.0005, k3=0.002)
PUBLISHED_POINTS = [
    ((0.3, 0.2, 1.0), (1550.8768364, 934.2645576)),
    ((-0.4, 0.1, 1.0), (174.9685392, 736.5553652)),
    ((0.48, -0.27, 1.0), (1886.4802472, 19.2908547)),
]

lenses = st.builds(
    Distortion,
    k1=st.floats(-0.25, 0.25),
    k2=st.floats(-0.1, 0.1),
    p1=st.floats(-0.003, 0.003),
    p2=st.floats(-0.003, 0.003),
    k3=st.floats(-0.05, 0.05),
)
poses = st.builds(
    Pose,
    st.tuples(st.floats(-20, 20), st.floats(-20, 20), st.floats(0, 6)),
    st.floats(-180, 180),
    st.floats(-80, 80),
    st.floats(-30, 30),
)


@pytest.mark.parametrize(("angles", "forward", "right", "up"), POSES)
def test_pose_axes(angles: tuple, forward: tuple, right: tuple, up: tuple) -> None:
    rotation = Pose((0, 0, 0), *angles).rotation
    np.testing.assert_allclose(rotation.T, [right, forward, up], atol=1e-6)


def test_transforms_compound_as_documented() -> None:
    # {t (1, 2, 0), pan 90} then {t (0, 3, 1)} puts the sensor at (-2, 2, 1).
    outer, inner = Pose((1, 2, 0), pan_deg=90), Pose((0, 3, 1))
    np.testing.assert_allclose((outer.stage_from_body @ inner.stage_from_body)[:3, 3], (-2, 2, 1), atol=1e-12)


def test_three_transforms_of_the_complete_static_example() -> None:
    # The format's complete static example: three times t (1, 2, 3), pan 180, tilt 90, roll 45 (its
    # scales left out). Position worked from the documented rotation order.
    step = Pose((1, 2, 3), pan_deg=180, tilt_deg=90, roll_deg=45).stage_from_body
    np.testing.assert_allclose((step @ step @ step)[:3, 3], (-1.242641, 6.828427, 6.414214), atol=1e-6)


@pytest.mark.parametrize(("point", "pixel"), PUBLISHED_POINTS)
def test_published_projections(point: tuple, pixel: tuple) -> None:
    # Camera axes there are x right, y down, z forward; ours x right, y forward, z up. Its centre
    # (960, 540) is our picture's centre, measured from the picture's edges.
    view = CameraView(Pose((0, 0, 0)), (24.0, 13.5), 25.0, distortion=PUBLISHED_LENS)
    x, y, z = point
    pixels, valid = view.project(np.array([[x, z, -y]]), SIZE)
    assert valid.all()
    np.testing.assert_allclose(pixels[0], pixel, rtol=0, atol=1e-6)


@given(pose=poses, lens=lenses, pupil=st.floats(-0.1, 0.3), seed=st.integers(0, 2**32 - 1))
def test_projection_equals_opencv(pose: Pose, lens: Distortion, pupil: float, seed: int) -> None:
    # Library: cv2.projectPoints with R, t from our pose, to 1e-6 px.
    view = CameraView(pose, (9.59, 5.39), 12.0, entrance_pupil_offset_m=pupil, distortion=lens)
    tan_x, tan_y = view.half_tangents
    random = np.random.default_rng(seed)
    depth = random.uniform(1.0, 30.0, 40)
    local = np.stack(
        [depth * tan_x * random.uniform(-1, 1, 40), depth, depth * tan_y * random.uniform(-1, 1, 40)], axis=1
    )
    points = local @ pose.rotation.T + view.pupil_m
    # OpenCV's axes (x right, y down, z forward) from body axes (x right, y forward, z up).
    cv_from_body = np.array([[1, 0, 0], [0, 0, -1], [0, 1, 0]], dtype=np.float64)
    rotation = cv_from_body @ pose.rotation.T
    # Near half a turn OpenCV's rotation vector does not give its own matrix back to better than 1e-6.
    assume(np.abs(cv2.Rodrigues(cv2.Rodrigues(rotation)[0])[0] - rotation).max() < 1e-11)
    pupil_m = np.asarray(pose.position_m) + pupil * pose.rotation @ [0, 1, 0]
    expected, _ = cv2.projectPoints(
        points, cv2.Rodrigues(rotation)[0], -rotation @ pupil_m, view.opencv_matrix(SIZE), lens.opencv
    )
    pixels, valid = view.project(points, SIZE)
    assert valid.all()
    np.testing.assert_allclose(pixels - 0.5, expected.reshape(-1, 2), rtol=0, atol=1e-6)


@given(lens=lenses, seed=st.integers(0, 2**32 - 1))
def test_undistortion_equals_opencv(lens: Distortion, seed: int) -> None:
    # Library: cv2.undistortPoints, iterated to its own convergence.
    inner = np.random.default_rng(seed).uniform(-0.4, 0.4, (30, 2))
    distorted = lens.distort(inner)
    criteria = (cv2.TERM_CRITERIA_COUNT | cv2.TERM_CRITERIA_EPS, 200, 1e-14)
    # OpenCV 4 takes the criteria in a function of its own.
    iterated = getattr(cv2, "undistortPointsIter", cv2.undistortPoints)
    expected = iterated(
        distorted.reshape(-1, 1, 2), np.eye(3), lens.opencv, R=None, P=None, criteria=criteria
    )
    mine, valid = lens.undistort(distorted)
    assert valid.all()
    np.testing.assert_allclose(mine, expected.reshape(-1, 2), rtol=0, atol=1e-9)


@given(pose=poses, lens=lenses, seed=st.integers(0, 2**32 - 1))
def test_sightlines_undo_projection(pose: Pose, lens: Distortion, seed: int) -> None:
    view = CameraView(pose, (9.59, 5.39), 12.0, entrance_pupil_offset_m=0.1, distortion=lens)
    pixels = np.random.default_rng(seed).uniform((0, 0), SIZE, (40, 2))
    directions, valid = view.sightlines(pixels, SIZE)
    assert valid.all()
    np.testing.assert_allclose(np.linalg.norm(directions, axis=1), 1.0, atol=1e-12)
    back, in_front = view.project(view.pupil_m + 7.0 * directions, SIZE)
    assert in_front.all()
    np.testing.assert_allclose(back, pixels, rtol=0, atol=1e-6)


def test_clip_matrix_agrees_with_opencv_without_distortion() -> None:
    view = CameraView(Pose((1, -6, 1.7), 12.0, -4.0, 3.0), (9.59, 5.39), 18.0, 0.12)
    points = np.array([[0.0, 0.0, 1.0], [1.5, 2.0, 2.0], [-1.0, 1.0, 0.5]])
    clip = np.c_[points, np.ones(3)] @ view.clip_from_stage(0.1, 100.0).T
    ndc = clip[:, :2] / clip[:, 3:]
    pixels = np.stack([(ndc[:, 0] + 1) / 2 * SIZE[0], (1 - ndc[:, 1]) / 2 * SIZE[1]], axis=1)
    rotation = np.array([[1, 0, 0], [0, 0, -1], [0, 1, 0]]) @ view.pose.rotation.T
    expected, _ = cv2.projectPoints(
        points, cv2.Rodrigues(rotation)[0], -rotation @ view.pupil_m, view.opencv_matrix(SIZE), None
    )
    np.testing.assert_allclose(pixels - 0.5, expected.reshape(-1, 2), rtol=0, atol=1e-6)
