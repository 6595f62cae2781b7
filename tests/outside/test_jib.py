"""Jib positions against hand-worked trigonometry, a parallelogram's facts and scipy."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from preview.show.model import Mount
from preview.timeline.mount import arm_end_m, jib_position_m

ROOT_2, ROOT_3 = 2**0.5, 3**0.5
angles = st.floats(-180, 180), st.floats(-80, 80)


def jib(arm_m: float, pivot_m: tuple = (0.0, 0.0, 1.5), offset_m: tuple = (0.0, 0.0, 0.0)) -> Mount:
    return Mount(kind="jib", pivot_m=pivot_m, arm_m=arm_m, head_offset_m=offset_m)


@pytest.mark.parametrize(
    ("swing_deg", "boom_deg", "position_m"),
    [
        # 6 m arm, pivot 1.5 m high; sines and cosines of 30, 45 and 60 degrees written out.
        (0, 0, (0, 6, 1.5)),
        (0, 30, (0, 3 * ROOT_3, 4.5)),
        (90, 0, (-6, 0, 1.5)),
        (-90, 0, (6, 0, 1.5)),
        (180, 0, (0, -6, 1.5)),
        (30, 45, (-1.5 * ROOT_2, 1.5 * ROOT_2 * ROOT_3, 1.5 + 3 * ROOT_2)),
        (0, -30, (0, 3 * ROOT_3, -1.5)),
        (0, 90, (0, 0, 7.5)),
    ],
)
def test_hand_worked_positions(swing_deg: float, boom_deg: float, position_m: tuple) -> None:
    np.testing.assert_allclose(arm_end_m(jib(6.0), swing_deg, boom_deg), position_m, rtol=0, atol=1e-9)


def test_three_four_five_triangle() -> None:
    boom = float(np.degrees(np.arcsin(0.6)))
    np.testing.assert_allclose(arm_end_m(jib(5.0, (0, 0, 1)), 0, boom), (0, 4, 4), rtol=0, atol=1e-9)


@given(*angles)
def test_equals_scipy_rotation_of_the_arm(swing_deg: float, boom_deg: float) -> None:
    # Library: scipy Rotation, intrinsic Z then X, applied to the arm lying along +Y.
    pivot = np.array([2.0, -7.0, 1.3])
    turned = Rotation.from_euler("ZX", [swing_deg, boom_deg], degrees=True).apply([0, 4.5, 0])
    mine = arm_end_m(jib(4.5, tuple(pivot)), swing_deg, boom_deg)
    np.testing.assert_allclose(mine, pivot + turned, rtol=0, atol=1e-9)


@given(*angles)
def test_a_parallelogram_keeps_its_platform_upright(swing_deg: float, boom_deg: float) -> None:
    # Two equal bars on pivots 0.3 m above each other carry a platform edge; opposite sides of a
    # parallelogram stay parallel, so that edge stays upright and 0.3 m long.
    lower = np.array(arm_end_m(jib(4.0, (0.5, -8.0, 1.4)), swing_deg, boom_deg))
    upper = np.array(arm_end_m(jib(4.0, (0.5, -8.0, 1.7)), swing_deg, boom_deg))
    np.testing.assert_allclose(upper - lower, (0, 0, 0.3), rtol=0, atol=1e-9)


@given(*angles)
def test_the_boom_moves_the_sensor_without_turning_its_offset(swing_deg: float, boom_deg: float) -> None:
    mount = jib(4.0, (0.5, -8.0, 1.4), (0.2, 0.4, -0.3))
    offset = np.subtract(jib_position_m(mount, swing_deg, boom_deg), arm_end_m(mount, swing_deg, boom_deg))
    level = np.subtract(jib_position_m(mount, swing_deg, 0.0), arm_end_m(mount, swing_deg, 0.0))
    np.testing.assert_allclose(offset, level, rtol=0, atol=1e-9)


def test_hand_worked_head_offset() -> None:
    # Arm swung a quarter turn left points along -X; right of it is +Y. From the arm's end at
    # (-4, 2, 1.5): 0.1 right is +Y, 0.4 forward is -X, 0.3 down.
    mount = jib(5.0, (1.0, 2.0, 1.5), (0.1, 0.4, -0.3))
    np.testing.assert_allclose(jib_position_m(mount, 90, 0), (-4.4, 2.1, 1.2), rtol=0, atol=1e-9)


@given(*angles, st.floats(0.5, 12.0))
def test_the_arm_keeps_its_length(swing_deg: float, boom_deg: float, arm_m: float) -> None:
    reach = np.subtract(arm_end_m(jib(arm_m), swing_deg, boom_deg), (0, 0, 1.5))
    assert np.linalg.norm(reach) == pytest.approx(arm_m, abs=1e-9)


def test_head_speed_of_a_swing() -> None:
    # A 6 m arm swung level at 10 degrees a second: 6 pi / 18 = 1.0472 m/s at its end. Over a
    # hundredth of a second the chord is shorter than the arc by less than one part in a million.
    before, after = arm_end_m(jib(6.0), 20.0, 0.0), arm_end_m(jib(6.0), 20.1, 0.0)
    assert np.linalg.norm(np.subtract(after, before)) / 0.01 == pytest.approx(1.0472, abs=5e-5)


def test_a_mount_without_arm_is_no_jib() -> None:
    with pytest.raises(ValueError, match="pivot_m and arm_m"):
        arm_end_m(Mount(kind="jib"), 0.0, 0.0)
