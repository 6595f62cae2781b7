"""What ``preview info`` tells: derived numbers against the show file and trade formulas."""

import json
from math import atan, degrees

import pytest

from preview.facts import show_facts, wrap_angle_deg
from preview.show.model import Surface
from preview.stage.surface import build_surface
from tests.starter_show import starter_show


@pytest.fixture(scope="module")
def facts():
    return show_facts(starter_show())


def test_facts_are_plain_data(facts):
    assert json.loads(json.dumps(facts)) == facts


def test_the_wall_is_as_its_tiles_say(facts):
    """14 x 7 tiles of 500 mm at 2.5 mm, thirteen joints of 5 degrees."""
    wall = facts["surfaces"][0]
    assert wall["size_m"] == [7.0, 3.5]
    assert wall["canvas_px"] == [2800, 1400]
    assert wall["area_m2"] == 24.5
    assert wall["wrap_deg"] == 65.0


@pytest.mark.parametrize("kind", ["wall", "floor", "ceiling"])
@pytest.mark.parametrize("angles", [0.0, 7.5, -4.0, (10.0, -10.0, 5.0), (0.0, 0.0, -30.0)])
def test_wrap_is_the_sum_of_the_joints_however_the_surface_stands(kind, angles):
    surface = Surface(
        name="A", kind=kind, tile_size_mm=(500, 500), pixel_pitch_mm=5.0, columns=4, rows=3,
        joint_angle_deg=angles, yaw_deg=33, position_m=(1, 2, 3),
    )  # fmt: skip
    total = sum(angles) if isinstance(angles, tuple) else 3 * angles
    assert wrap_angle_deg(build_surface(surface)) == pytest.approx(total, abs=1e-6)


def test_angles_of_view_follow_from_sensor_and_focal_length(facts):
    """2 atan(d / 2f), common practice; 9.59 mm wide, lens without breathing."""
    framings = {f["name"]: f for camera in facts["cameras"] for f in camera["framings"]}
    for name, focal_mm in (("wide", 13), ("mid shot", 28), ("close-up", 55)):
        expected = degrees(2 * atan(9.59 / 2 / focal_mm))
        assert framings[name]["horizontal_angle_deg"] == pytest.approx(expected, abs=0.005)


def test_shots_tile_the_rundown_and_say_who_does_what(facts):
    shots = facts["shots"]
    assert [shot["first_timecode"] for shot in shots] == ["10:00:00:00", "10:00:04:00", "10:00:08:00"]
    assert sum(shot["frames"] for shot in shots) == facts["show"]["frames"] == 275
    assert [(shot["on_air"], shot["transition"]) for shot in shots] == [
        ("CAM1", "cut"), ("CAM2", "cut"), ("CAM1", "mix"),
    ]  # fmt: skip
    push = [cue for cue in shots[1]["cues"] if cue["camera"] == "CAM2"]
    assert push == [
        {"camera": "CAM2", "framing": None, "move": "push in", "after_s": 0.5, "inherited": False}
    ]
    assert all(cue["inherited"] for cue in shots[2]["cues"])
