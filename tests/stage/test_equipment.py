"""What stands on the studio floor for a camera: sizes, places, meshes, and the way back to a jib's angles."""

from __future__ import annotations

from math import cos, radians, sin
from pathlib import Path

import numpy as np
import pytest
import trimesh
from hypothesis import given
from hypothesis import strategies as st

from preview.camera.pose import Pose
from preview.camera.view import CameraView
from preview.errors import ShowError
from preview.show import model
from preview.show.load import load_show
from preview.stage.equipment import OPERATOR_M, TYPICAL_BODY, Solid, body_size, equipment, tail_m
from preview.timeline.mount import arm_angles_of, jib_position_m
from tests.starter_show import starter_path

JIB = {"kind": "jib", "pivot_m": (1.0, -8.0, 1.5), "arm_m": 4.2, "head_offset_m": (0.1, 0.25, -0.15)}
AT = (1.0, -5.0, 1.5)


def camera(mount: dict | None = None, **body: object) -> model.Camera:
    return model.Camera(
        name="one",
        number=1,
        sensor="s",
        lens="l",
        mount=mount or {"kind": "pedestal"},
        body=body,
        framings=[{"name": "wide", "focal_length_mm": 10.0, "pan_deg": 0.0, "position_m": AT}],
    )


def view(position_m: tuple = AT, pan: float = 0.0, tilt: float = 0.0, roll: float = 0.0) -> CameraView:
    return CameraView(Pose(position_m, pan, tilt, roll), (9.59, 5.39), 10.0)


def on_jib(swing: float, boom: float, mount: dict = JIB, **body: object) -> tuple[Solid, ...]:
    one = camera(mount, **body)
    return equipment(one, view(jib_position_m(one.mount, swing, boom)), (swing, boom))


def named(solids: tuple[Solid, ...], name: str) -> list[Solid]:
    found = [solid for solid in solids if solid.name == name]
    assert found, name
    return found


def shapes() -> list[Solid]:
    every = [
        *on_jib(20.0, 30.0),
        *equipment(camera({"kind": "tripod"}), view(pan=30, tilt=-10, roll=4), None),
    ]
    every += [*equipment(camera(), view(pan=-50, tilt=20), None)]
    return [*every, *equipment(camera({"kind": "free"}), view(tilt=70), None)]


@pytest.mark.parametrize("solid", shapes(), ids=lambda solid: f"{solid.name} {solid.shape}")
def test_meshes_are_closed_and_outward_and_as_large_as_their_solid(solid: Solid) -> None:
    # Library: trimesh's volume is positive where triangles face outwards.
    mesh = trimesh.Trimesh(*solid.mesh(), process=False)
    assert mesh.is_watertight and mesh.is_winding_consistent
    x, y, z = solid.size_m
    whole = x * y * z if solid.shape == "box" else np.pi * x**2 / 4 * (z + 2 * x / 3)
    share = 1.0 if solid.shape == "box" else 0.9  # a round body drawn with flat sides inside it
    assert share * whole <= mesh.volume * (1 + 1e-9) and mesh.volume <= whole * (1 + 1e-9)
    np.testing.assert_allclose(np.linalg.det(solid.rotation), 1.0, atol=1e-12)
    low, high = solid.bounds_m
    assert (mesh.vertices >= low - 1e-9).all() and (mesh.vertices <= high + 1e-9).all()
    np.testing.assert_allclose(mesh.bounds, solid.bounds_m, atol=0.05 * x)


def test_a_capsule_is_drawn_inside_itself_and_not_far() -> None:
    for solid in (one for one in shapes() if one.shape == "capsule"):
        positions, triangles = solid.mesh()
        start, end = solid.corners_m
        line = end - start
        long = max(float(line @ line), 1e-12)

        def off_line(points: np.ndarray, start=start, line=line, long=long) -> np.ndarray:
            share = np.clip((points - start) @ line / long, 0, 1)
            return np.linalg.norm(points - start - share[:, None] * line, axis=1)

        np.testing.assert_allclose(off_line(positions), solid.radius_m, atol=1e-9)
        middles = positions[triangles].mean(axis=1)
        assert off_line(middles).min() > 0.9 * solid.radius_m


def test_the_same_moment_gives_equal_solids_that_can_be_looked_up() -> None:
    assert on_jib(20.0, 30.0) == on_jib(20.0, 30.0)
    assert len({on_jib(20.0, 30.0), on_jib(20.0, 30.0), on_jib(20.0, 31.0)}) == 2


def test_the_body_follows_pan_tilt_and_roll_round_the_sensor() -> None:
    body, lens = named(equipment(camera(lens_m=0.6, behind_m=0.4), view(pan=90), None), "one camera")
    # Panned a quarter turn left the camera looks along -X: the lens ends 0.6 m that way, the back 0.4 m
    # the other.
    assert lens.bounds_m[0, 0] == pytest.approx(AT[0] - 0.6)
    assert body.bounds_m[1, 0] == pytest.approx(AT[0] + 0.4)
    assert body.bounds_m[0, 0] == pytest.approx(lens.bounds_m[1, 0])
    up = named(equipment(camera(lens_m=0.6, behind_m=0.4), view(tilt=90), None), "one camera")
    assert up[1].bounds_m[1, 2] == pytest.approx(AT[2] + 0.6)
    rolled = named(equipment(camera(width_m=0.2, height_m=0.5), view(roll=90), None), "one camera")[0]
    np.testing.assert_allclose(np.ptp(rolled.bounds_m, axis=0)[[0, 2]], (0.5, 0.2), atol=1e-12)


@given(st.floats(-180, 180), st.floats(-89, 89), st.floats(-45, 45), st.sampled_from(sorted(TYPICAL_BODY)))
def test_sensor_in_the_body_and_lens_ahead_of_it(pan: float, tilt: float, roll: float, kind: str) -> None:
    mount = JIB if kind == "jib" else {"kind": kind}
    one = camera(mount)
    here = view(jib_position_m(one.mount, 0, 0) if kind == "jib" else AT, pan, tilt, roll)
    body, lens = named(equipment(one, here, (0, 0) if kind == "jib" else None), "one camera")
    local = (np.array(here.pose.position_m) - body.middle_m) @ body.rotation
    assert (np.abs(local) < np.array(body.size_m) / 2).all()
    ahead = (lens.corners_m - here.pose.position_m) @ here.pose.rotation[:, 1]
    assert ahead.min() > 0 and ahead.max() == pytest.approx(TYPICAL_BODY[kind].lens_m)


def test_sizes_from_the_show_win_over_typical_ones() -> None:
    size = body_size(camera({"kind": "free"}, width_m=0.11))
    assert size.width_m == 0.11 and size.height_m == TYPICAL_BODY["free"].height_m


def test_a_pedestal_stands_on_the_floor_under_the_sensor() -> None:
    base, column = named(
        equipment(camera({"kind": "pedestal", "base_width_m": 0.8}), view(), None), "one pedestal"
    )
    np.testing.assert_allclose(base.bounds_m[:, 2][0], 0.0, atol=1e-12)
    np.testing.assert_allclose(np.ptp(base.bounds_m, axis=0)[:2], (0.8, 0.8))
    np.testing.assert_allclose(base.middle_m[:2], AT[:2])
    assert column.bounds_m[0, 2] == pytest.approx(base.bounds_m[1, 2])
    assert column.bounds_m[1, 2] == pytest.approx(AT[2] - TYPICAL_BODY["pedestal"].height_m / 2)


def test_a_camera_low_over_its_pedestal_keeps_as_many_solids() -> None:
    high, low = (equipment(camera(), view((0.0, 0.0, z)), None) for z in (1.5, 0.3))
    assert [one.name for one in high] == [one.name for one in low]
    assert all(min(one.size_m) > 0 for one in low)


def test_a_tripods_legs_meet_under_the_camera_and_stand_on_the_floor() -> None:
    legs = named(equipment(camera({"kind": "tripod", "base_width_m": 1.2}), view(), None), "one tripod")
    assert len(legs) == 3
    feet = np.array([min(leg.corners_m, key=lambda end: end[2]) for leg in legs])
    np.testing.assert_allclose([leg.bounds_m[0, 2] for leg in legs], 0.0, atol=1e-12)
    np.testing.assert_allclose(np.linalg.norm(feet[:, :2] - AT[:2], axis=1), 0.6)
    tops = np.array([max(leg.corners_m, key=lambda end: end[2]) for leg in legs])
    np.testing.assert_allclose(tops, np.broadcast_to(tops[0], (3, 3)))


def test_jib_arm_runs_from_counterweight_through_the_pivot_to_its_end() -> None:
    # Plain trigonometry: pivot (1, -8, 1.5), arm 4.2, tail 1.4, swing 90 to the left, boom 30.
    (arm,) = named(on_jib(90.0, 30.0), "one arm")
    level, rise = cos(radians(30)), sin(radians(30))
    ends = [(1 + 1.4 * level, -8, 1.5 - 1.4 * rise), (1 - 4.2 * level, -8, 1.5 + 4.2 * rise)]
    np.testing.assert_allclose(arm.corners_m, ends, atol=1e-12)
    (weight,) = named(on_jib(90.0, 30.0), "one counterweight")
    np.testing.assert_allclose(weight.middle_m, ends[0], atol=1e-12)
    (head,) = named(on_jib(90.0, 30.0), "one head")
    np.testing.assert_allclose(head.corners_m[0], ends[1], atol=1e-12)
    # The head hangs 0.25 m on along the arm's heading (-X), 0.1 m to its right (+Y) and 0.15 m lower.
    np.testing.assert_allclose(head.corners_m[1] - head.corners_m[0], (-0.25, 0.1, -0.15), atol=1e-12)


def test_the_pivot_balances_on_its_column() -> None:
    base, column = named(on_jib(33.0, 10.0), "one base")
    np.testing.assert_allclose(column.middle_m[:2], JIB["pivot_m"][:2])
    assert base.bounds_m[0, 2] == 0.0 and column.bounds_m[1, 2] == pytest.approx(1.5 - 0.1)


def test_tail_is_what_is_written() -> None:
    assert tail_m(model.Mount(**JIB)) == pytest.approx(1.4)
    assert tail_m(model.Mount(**JIB, tail_m=2.0)) == 2.0


def test_operators_stand_behind_their_camera() -> None:
    # Panned 90 to the left it looks along -X, so its operator stands towards +X.
    (person,) = named(equipment(camera(operator_height_m=1.8), view(pan=90), None), "one operator")
    assert person.middle_m[0] > AT[0] + TYPICAL_BODY["pedestal"].behind_m + OPERATOR_M / 2 - 0.1
    assert person.middle_m[1] == pytest.approx(AT[1])
    np.testing.assert_allclose(person.bounds_m[:, 2], (0.0, 1.8), atol=1e-12)
    (jib,) = named(on_jib(90.0, 0.0), "one operator")
    (weight,) = named(on_jib(90.0, 0.0), "one counterweight")
    assert jib.bounds_m[0, 0] > weight.bounds_m[1, 0]


def test_who_carries_a_camera_stands_on_its_left_and_crouches_for_a_low_one() -> None:
    carried = camera({"kind": "free"}, operator_height_m=1.8)
    (tall,) = named(equipment(carried, view(pan=0), None), "one operator")
    assert tall.middle_m[0] < AT[0] and tall.middle_m[1] == pytest.approx(AT[1])
    (low,) = named(equipment(carried, view((0.0, 0.0, 0.4)), None), "one operator")
    assert low.bounds_m[1, 2] == pytest.approx(1.1)
    assert {one.kind for one in equipment(carried, view(), None)} == {"camera", "operator"}


@pytest.mark.parametrize("mount", [{"kind": "pedestal"}, {"kind": "free"}, {"kind": "tripod"}])
def test_a_driven_camera_has_no_operator(mount: dict) -> None:
    kinds = {one.kind for one in equipment(camera(mount, operated=False), view(), None)}
    assert "operator" not in kinds and "camera" in kinds


def test_a_jib_needs_its_angles() -> None:
    with pytest.raises(ValueError, match="swing and boom"):
        equipment(camera(JIB), view(), None)


offsets = st.tuples(*[st.floats(-0.5, 0.5)] * 3)


@given(st.floats(-179, 179), st.floats(-80, 80), st.floats(1.0, 12.0), offsets)
def test_arm_angles_come_back_from_the_sensor(swing: float, boom: float, arm: float, offset: tuple) -> None:
    mount = model.Mount(kind="jib", pivot_m=(2.0, -7.0, 1.3), arm_m=arm, head_offset_m=offset)
    position = jib_position_m(mount, swing, boom)
    found = arm_angles_of(mount, position)
    np.testing.assert_allclose(jib_position_m(mount, *found), position, atol=1e-9)
    if arm * cos(radians(boom)) > 1.5:  # else the arm may stand on either side of the pivot
        np.testing.assert_allclose(found, (swing, boom), atol=1e-5)


def test_arm_angles_of_a_place_between_two_frames() -> None:
    # A fast swing, 5 degrees a frame: the middle of the chord is 4 mm off a 4.2 m arm's arc (s^2 / 8 L).
    mount = model.Mount(**JIB)
    ends = [jib_position_m(mount, swing, 10.0) for swing in (0.0, 5.0)]
    swing, boom = arm_angles_of(mount, tuple(np.mean(ends, axis=0)))
    assert swing == pytest.approx(2.5, abs=0.01) and boom == pytest.approx(10.0, abs=0.01)


def test_arm_angles_of_a_place_out_of_reach() -> None:
    with pytest.raises(ValueError, match=r"an arm of 4\.2 m does not reach"):
        arm_angles_of(model.Mount(**JIB), (1.0, -2.0, 1.5))
    with pytest.raises(ValueError, match="pivot_m and arm_m"):
        arm_angles_of(model.Mount(), (0.0, 0.0, 0.0))


@pytest.mark.parametrize(
    ("mount", "key", "found"),
    [
        ('kind = "pedestal", tail_m = 1.0', "tail_m", "only for a jib"),
        ('kind = "tripod", arm_width_m = 0.2', "arm_width_m", "only for a jib"),
        ('kind = "pedestal", counterweight_size_m = 0.4', "counterweight_size_m", "only for a jib"),
        ('kind = "free", base_width_m = 1.0', "base_width_m", "a camera that is carried has no base"),
    ],
)
def test_sizes_of_what_a_mount_does_not_have(tmp_path: Path, mount: str, key: str, found: str) -> None:
    text = starter_path().read_text(encoding="utf-8")
    (tmp_path / "scenes").symlink_to(starter_path().parent / "scenes")
    (tmp_path / "show.toml").write_text(text.replace('kind = "pedestal"', mount, 1), encoding="utf-8")
    with pytest.raises(ShowError) as error:
        load_show(tmp_path / "show.toml")
    assert [(p.key, p.found) for p in error.value.problems] == [(f"cameras[0].mount.{key}", found)]
