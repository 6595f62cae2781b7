"""Moves: easing, and what lies between two framings."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from math import cos, dist, radians, sin
from typing import Any, get_args

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from preview.camera.pose import Pose
from preview.show.model import Lens, Mount
from preview.timeline.framing import PlacedFraming
from preview.timeline.mount import jib_position_m
from preview.timeline.move import Ease, MovePath, ease_share

EASES = get_args(Ease)
LENS = Lens(focal_length_mm=(8, 160), minimum_focus_m=0.6)
ARM = Mount(kind="jib", pivot_m=(0.0, -8.0, 1.5), arm_m=4.0, head_offset_m=(0.1, 0.2, -0.3))

shares = st.floats(0, 1)
level_poses = st.builds(
    Pose,
    st.tuples(st.floats(-9, 9), st.floats(-9, 9), st.floats(0.3, 5)),
    st.floats(-180, 180),
    st.floats(-70, 70),
)


def framing(pose: Pose, **changes: Any) -> PlacedFraming:
    return replace(PlacedFraming("a", pose, None, None, 20.0, 5.0, False), **changes)


def aimed(position: tuple, aim: tuple, **changes: Any) -> PlacedFraming:
    focus = dist(position, aim)
    return framing(Pose.looking_at(position, aim), aim_m=aim, focus_m=focus, focus_on_aim=True, **changes)


def path(*ends: PlacedFraming, mount: Mount | None = None) -> MovePath:
    start, end = ends
    return MovePath(start, end, mount or Mount(), LENS)


def turn_deg(one: Pose, other: Pose) -> float:
    """Angle between two orientations."""
    return float(np.degrees(Rotation.from_matrix(one.rotation.T @ other.rotation).magnitude()))


@pytest.mark.parametrize("ease", EASES)
def test_every_ease_goes_from_start_to_end(ease: Ease) -> None:
    assert (ease_share(ease, 0.0), ease_share(ease, 1.0)) == (0.0, 1.0)
    assert (ease_share(ease, -0.5), ease_share(ease, 1.5)) == (0.0, 1.0)


@given(ease=st.sampled_from(EASES), one=shares, other=shares)
def test_no_ease_runs_back(ease: Ease, one: float, other: float) -> None:
    assume(one < other)
    assert ease_share(ease, one) <= ease_share(ease, other)


@pytest.mark.parametrize(
    ("ease", "start_speed", "end_speed"),
    [("linear", 1, 1), ("smooth", 0, 0), ("slow-start", 0, 2), ("slow-end", 2, 0)],
)
def test_speeds_at_both_ends(ease: Ease, start_speed: float, end_speed: float) -> None:
    step = 1e-6
    assert ease_share(ease, step) / step == pytest.approx(start_speed, abs=1e-5)
    assert (1 - ease_share(ease, 1 - step)) / step == pytest.approx(end_speed, abs=1e-5)


@given(t=shares)
def test_smooth_and_linear_run_alike_from_either_end(t: float) -> None:
    for ease in ("linear", "smooth"):
        assert ease_share(ease, t) + ease_share(ease, 1 - t) == pytest.approx(1.0)
    assert ease_share("slow-start", t) + ease_share("slow-end", 1 - t) == pytest.approx(1.0)


def test_position_runs_straight() -> None:
    between = path(framing(Pose((0, -6, 1))), framing(Pose((2, -4, 2)))).at(0.25)[0]
    assert between.position_m == pytest.approx((0.5, -5.5, 1.25))


def test_a_jibs_head_runs_on_an_arc() -> None:
    start = framing(Pose(jib_position_m(ARM, -30, 0)), arm_deg=(-30.0, 0.0))
    end = framing(Pose(jib_position_m(ARM, 30, 40)), arm_deg=(30.0, 40.0))
    middle = path(start, end, mount=ARM).at(0.5)[0].position_m
    # Half way both angles are half way: swing 0, boom 20, then the offset (0.1, 0.2, -0.3) unturned.
    arm = (0.0, -8 + 4 * cos(radians(20)), 1.5 + 4 * sin(radians(20)))
    assert middle == pytest.approx(np.add(arm, (0.1, 0.2, -0.3)), abs=1e-9)
    chord = np.add(start.pose.position_m, end.pose.position_m) / 2
    assert dist(middle, chord) > 0.5


@given(
    swings=st.tuples(st.floats(-90, 90), st.floats(-90, 90)),
    booms=st.tuples(st.floats(-20, 60), st.floats(-20, 60)),
    share=shares,
)
def test_the_arm_keeps_its_length_in_a_move(swings: tuple, booms: tuple, share: float) -> None:
    plain = Mount(kind="jib", pivot_m=(0.0, -8.0, 1.5), arm_m=4.0)
    ends = [
        framing(Pose(jib_position_m(plain, swing, boom)), arm_deg=(swing, boom))
        for swing, boom in zip(swings, booms, strict=True)
    ]
    pose = path(*ends, mount=plain).at(share)[0]
    assert dist(pose.position_m, (0.0, -8.0, 1.5)) == pytest.approx(4.0, abs=1e-9)


@given(start=level_poses, end=level_poses, share=shares)
def test_a_turn_between_level_framings_keeps_the_horizon(start: Pose, end: Pose, share: float) -> None:
    pose = path(framing(start), framing(end)).at(share)[0]
    assert pose.roll_deg == 0.0
    assert pose.rotation[2, 0] == pytest.approx(0.0, abs=1e-12)
    assert pose.rotation[2, 2] >= -1e-12  # never upside down


@given(start=level_poses, end=level_poses, share=shares)
def test_a_turn_back_runs_over_the_same_orientations(start: Pose, end: Pose, share: float) -> None:
    assume(turn_deg(start, end) < 179)  # at half a turn either way round is as short
    there = path(framing(start), framing(end)).at(share)[0]
    back = path(framing(end), framing(start)).at(1 - share)[0]
    assert turn_deg(there, back) == pytest.approx(0.0, abs=1e-4)


@pytest.mark.parametrize(
    ("start_deg", "end_deg", "middle_deg"), [(170, -170, 180), (-10, 30, 10), (80, -80, 0), (350, 20, 5)]
)
def test_a_pan_at_one_tilt_takes_the_shorter_way(start_deg: float, end_deg: float, middle_deg: float) -> None:
    ends = [framing(Pose((0, 0, 1), pan, -25.0)) for pan in (start_deg, end_deg)]
    pose = path(*ends).at(0.5)[0]
    assert turn_deg(pose, Pose((0, 0, 1), middle_deg, -25.0)) == pytest.approx(0.0, abs=1e-6)
    assert pose.tilt_deg == pytest.approx(-25.0)


def test_a_tilt_at_one_pan_stays_on_it() -> None:
    ends = [framing(Pose((0, 0, 1), 140.0, tilt)) for tilt in (-40.0, 20.0)]
    pose = path(*ends).at(0.25)[0]
    assert (pose.pan_deg, pose.tilt_deg) == pytest.approx((140.0, -25.0))


def test_a_tilt_up_to_vertical_keeps_its_pan() -> None:
    ends = [framing(Pose((0, 0, 1), 30.0, tilt)) for tilt in (80.0, 90.0)]
    poses = [path(*ends).at(share)[0] for share in (0.5, 0.999999999999)]
    assert [pose.pan_deg for pose in poses] == pytest.approx([30.0, 30.0], abs=1e-6)
    assert [pose.tilt_deg for pose in poses] == pytest.approx([85.0, 90.0], abs=1e-6)


def test_roll_runs_evenly_beside_the_turn() -> None:
    ends = [framing(Pose((0, 0, 1), pan, 10.0, roll)) for pan, roll in ((0.0, -8.0), (60.0, 12.0))]
    pose = path(*ends).at(0.75)[0]
    assert pose.roll_deg == pytest.approx(7.0)
    assert (pose.pan_deg, pose.tilt_deg) == pytest.approx((45.0, 10.0))


def test_equal_turns_in_equal_shares_of_a_pan() -> None:
    ends = [framing(Pose((0, 0, 1), pan, 15.0)) for pan in (-30.0, 50.0)]
    pans = [path(*ends).at(share)[0].pan_deg for share in np.linspace(0, 1, 9)]
    np.testing.assert_allclose(np.diff(pans), 10.0)


@given(share=shares, x=st.floats(-4, 4), end_x=st.floats(-4, 4))
def test_between_two_aims_the_camera_is_aimed_anew(share: float, x: float, end_x: float) -> None:
    start = aimed((x, -6.0, 1.5), (0.0, 0.0, 1.2))
    end = aimed((end_x, -3.0, 2.5), (1.0, 2.0, 1.6))
    pose, _, focus = path(start, end).at(share)
    aim = np.array([0.0, 0.0, 1.2]) + share * np.array([1.0, 2.0, 0.4])
    toward = aim - pose.position_m
    np.testing.assert_allclose(pose.rotation[:, 1], toward / np.linalg.norm(toward), atol=1e-9)
    assert focus == pytest.approx(np.linalg.norm(toward))  # both leave focus to their aim


def test_focus_given_in_figures_runs_evenly_in_dioptres() -> None:
    start, end = framing(Pose((0, 0, 1)), focus_m=2.0), framing(Pose((0, 0, 1)), focus_m=6.0)
    assert path(start, end).at(0.5)[2] == pytest.approx(3.0)  # (1/2 + 1/6) / 2 = 1/3
    mixed = aimed((0.0, -2.0, 1.0), (0.0, 0.0, 1.0))
    given_focus = replace(mixed, focus_m=6.0, focus_on_aim=False)
    assert path(mixed, given_focus).at(0.5)[2] == pytest.approx(3.0)


def test_focus_on_the_aim_stops_at_the_nearest_focus() -> None:
    start = framing(Pose((0.0, -1.0, 1.0)), aim_m=(0.0, 0.0, 1.0), focus_m=1.0, focus_on_aim=True)
    end = framing(Pose((0.0, -0.2, 1.0)), aim_m=(0.0, 0.0, 1.0), focus_m=0.6, focus_on_aim=True)
    assert path(start, end).at(0.9)[2] == 0.6


def test_zoom_runs_at_a_constant_rate() -> None:
    start, end = (
        framing(Pose((0, 0, 1)), focal_length_mm=10.0),
        framing(Pose((0, 0, 1)), focal_length_mm=80.0),
    )
    lengths = [path(start, end).at(share)[1] for share in (0, 1 / 3, 2 / 3, 1)]
    assert lengths == pytest.approx([10, 20, 40, 80])


def test_ends_are_the_framings_themselves() -> None:
    start, end = aimed((0, -6, 1), (0, 0, 1)), framing(Pose((1, -4, 2), 10, 5, 3), focal_length_mm=33.0)
    assert path(start, end).at(0.0) == (start.pose, start.focal_length_mm, start.focus_m)
    assert path(start, end).at(1.0) == (end.pose, end.focal_length_mm, end.focus_m)


@given(start=level_poses, end=level_poses)
def test_nothing_jumps_along_a_move(start: Pose, end: Pose) -> None:
    assume(turn_deg(start, end) < 170)
    one, other = framing(start, focus_m=2.0), framing(end, focal_length_mm=90.0, focus_m=9.0)
    along = path(one, other)
    states = [along.at(share) for share in np.linspace(0, 1, 101)]
    for (a, a_mm, a_m), (b, b_mm, b_m) in pairwise(states):
        assert dist(a.position_m, b.position_m) <= dist(start.position_m, end.position_m) / 100 + 1e-9
        assert 0 <= b_mm / a_mm - 1 < 0.016
        assert 0 <= 1 / a_m - 1 / b_m < 0.0039
        # Tilts within 70 degrees of the horizon: never more than a few times the even rate.
        assert turn_deg(a, b) < 6.0


def test_a_move_whose_aim_passes_through_the_camera_says_so() -> None:
    still = (0.0, 0.0, 1.5)
    along = path(aimed(still, (0.0, 4.0, 1.5)), aimed(still, (0.0, -4.0, 1.5)))
    with pytest.raises(ValueError, match="same point"):
        along.at(0.5)
