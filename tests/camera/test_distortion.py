"""Distortion: its own inverse, and where there is none."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from preview.camera.distortion import Distortion

# Radial slope stays positive out to a radius of 0.6, so every point there has one inverse.
lenses = st.builds(
    Distortion,
    k1=st.floats(-0.25, 0.4),
    k2=st.floats(-0.1, 0.1),
    p1=st.floats(-0.003, 0.003),
    p2=st.floats(-0.003, 0.003),
    k3=st.floats(-0.05, 0.05),
)


@given(lens=lenses, seed=st.integers(0, 2**32 - 1))
def test_undistort_inverts_distort(lens: Distortion, seed: int) -> None:
    points = np.random.default_rng(seed).uniform(-0.42, 0.42, (50, 2))
    back, valid = lens.undistort(lens.distort(points))
    assert valid.all()
    np.testing.assert_allclose(back, points, rtol=0, atol=1e-9)


def test_negative_k1_is_barrel() -> None:
    # OpenCV calib3d: k1 < 0 pulls the corners in.
    assert Distortion(k1=-0.1).distort(np.array([[0.4, 0.3]]))[0] == pytest.approx((0.39, 0.2925))


def test_points_past_the_fold_have_no_inverse() -> None:
    # k1 = -1/2 folds where 1 + 3 k1 r^2 = 0: r^2 = 2/3, and r (1 - r^2 / 2) = 0.5443 is the most it
    # can reach.
    lens = Distortion(k1=-0.5)
    points = np.array([[0.5, 0.0], [0.0, -0.54], [0.55, 0.0], [0.5, 0.5]])
    back, valid = lens.undistort(points)
    assert valid.tolist() == [True, True, False, False]
    np.testing.assert_allclose(lens.distort(back[valid]), points[valid], rtol=0, atol=1e-9)
    assert (np.linalg.norm(back[valid], axis=1) < (2 / 3) ** 0.5).all()


def test_no_distortion_leaves_points_alone() -> None:
    points = np.array([[0.3, -0.7], [12.0, 4.0]])
    back, valid = Distortion().undistort(points)
    np.testing.assert_array_equal(back, points)
    np.testing.assert_array_equal(Distortion().distort(points), points)
    assert valid.all()
    assert not Distortion()
    assert Distortion(p2=1e-5)


def test_opencv_order() -> None:
    assert Distortion(1, 2, 3, 4, 5).opencv.tolist() == [1, 2, 3, 4, 5]
