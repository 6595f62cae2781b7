"""What ``preview info`` tells: derived numbers against the show file and trade formulas."""

import json
from dataclasses import replace
from math import atan, degrees, log2

import pytest

from preview import terminal
from preview.facts import show_facts, wrap_angle_deg
from preview.show.model import Sensitivity, Surface
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


# ---- Exposure and slots --------------------------------------------------------------------------


def changed(drive: dict, **camera) -> dict:
    """Facts of the starter show with another drive, and its first camera changed."""
    show = starter_show()
    first, *others = show.file.cameras
    update = {
        "drive": show.file.drive.model_copy(update=drive),
        "cameras": (first.model_copy(update=camera), *others),
    }
    return show_facts(replace(show, file=show.file.model_copy(update=update)))


def test_exposure_says_where_the_walls_white_comes_out(facts):
    """By hand: T 2.8, 1/50 s, ISO 800 is right for a grey of 12.5 x 2.8^2 / (0.02 x 800) = 6.125 cd/m2."""
    assert facts["white_cd_m2"] == 1500.0
    assert facts["key_percent"] == 18.0
    row = facts["exposures"][0]
    assert (row["camera"], row["t_stop"], row["exposure_ms"], row["iso"]) == ("CAM1", 2.8, 20.0, 800.0)
    assert (row["key_cd_m2"], row["full_video_cd_m2"]) == (6.125, 34.028)
    assert row["white_over_key_stops"] == round(log2(1500 / 6.125), 3)
    assert row["white_over_full_video_stops"] == round(log2(1500 / 34.0278), 3)
    assert row["over_preview_stops"] == row["white_over_full_video_stops"]  # drawn at 0 stops
    assert facts["slots"] == facts["slot_findings"] == []


def test_exposure_is_compared_with_how_pictures_are_drawn():
    show = starter_show()
    picture = show.file.picture.model_copy(update={"exposure_stops": 1.5, "key_percent": 90.0})
    row = show_facts(replace(show, file=show.file.model_copy(update={"picture": picture})))["exposures"][0]
    assert row["over_preview_stops"] == pytest.approx(row["white_over_full_video_stops"] - 1.5, abs=1e-3)
    assert row["key_cd_m2"] == 30.625


def test_a_stated_sensitivity_is_told_from_an_iso():
    row = changed({}, sensitivity=Sensitivity(f_number=10.0))["exposures"][0]
    assert (row["iso"], row["iso_from"]) == (545.4, "sensitivity")


def test_slots_of_an_interleaved_show():
    """Two cameras at 25: 20 ms each; 180 degrees fit exactly; at 75 % the shutter is open for 15 ms."""
    facts = changed({"mode": "interleaved", "order": ("CAM2",), "crosstalk": 0.2})
    assert [slot["camera"] for slot in facts["slots"]] == ["CAM1", "CAM2"]
    assert [slot["start_ms"] for slot in facts["slots"]] == [0.0, 20.0]
    assert [(slot["loss_stops"], slot["lost_of_own_stops"]) for slot in facts["slots"]] == [(1.0, 0.0)] * 2
    assert facts["slots"][0]["ghost_stops"] == -2.0  # 0.2 against 0.8
    assert any("global shutter" in text for text in facts["slot_findings"])
    shorter = changed({"mode": "interleaved", "slot_shutter_percent": 75.0})
    assert shorter["slots"][0]["open_ms"] == shorter["exposures"][0]["exposure_ms"] == 15.0
    assert shorter["slots"][0]["ghost_stops"] is None
    lost = facts["exposures"][0]["white_over_key_stops"] - shorter["exposures"][0]["white_over_key_stops"]
    assert lost == pytest.approx(log2(20 / 15), abs=2e-3)
    assert any("becomes 135 degrees (15 ms)" in text for text in shorter["slot_findings"])


def test_tables_show_exposure_and_slots(capsys):
    facts = changed({"mode": "interleaved", "crosstalk": 0.2}, sensitivity=Sensitivity(f_number=10.0))
    terminal.print_facts(facts)
    shown = capsys.readouterr().out
    assert "Slots of every frame" in shown and "545*" in shown and "1/50" in shown
    assert all("- " + text in shown for text in facts["slot_findings"])
    terminal.print_facts(show_facts(starter_show()))
    shown = capsys.readouterr().out
    assert "Slots" not in shown and "Exposure of the wall's white, 1500 cd/m2" in shown
