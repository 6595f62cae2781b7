"""The timeline: moments, moves across cuts, mixes, the wall's camera."""

from __future__ import annotations

import pickle
from collections.abc import Callable
from itertools import pairwise
from math import dist
from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from preview.camera.view import CameraView
from preview.errors import ShowError
from preview.timeline.timeline import Timeline

Build = Callable[..., Any]
Tables = list[dict[str, Any]]


def shot(name: str, **keys: Any) -> dict[str, Any]:
    return {"name": name, "duration": 2.0, **keys}


@pytest.fixture
def timeline(build_show: Build) -> Build:
    return lambda rundown, **changes: Timeline(build_show(rundown, **changes))


def turn_deg(one: CameraView, other: CameraView) -> float:
    turn = Rotation.from_matrix(one.pose.rotation.T @ other.pose.rotation)
    return float(np.degrees(turn.magnitude()))


def test_a_moment_says_where_it_is(timeline: Build) -> None:
    line = timeline(
        [shot("one", on_air="Path"), shot("two", on_air="Arm")],
        show={"frame_rate": "30000/1001", "start_timecode": "09:59:58;00"},
    )
    assert (line.frame_count, line.rate.nominal) == (120, 30)
    last = line.at(119)
    assert (last.frame, last.shot, last.shot_index, last.on_air) == (119, "two", 1, "Arm")
    assert last.seconds == 119 * 1001 / 30000
    assert last.timecode == "10:00:01;29"
    assert [(camera.name, camera.number) for camera in last.cameras] == [
        ("Path", 1),
        ("Bench", 2),
        ("Arm", 3),
    ]
    assert last.camera("Bench").overscan == 0.05
    assert [line.at(frame).shot for frame in (0, 59, 60)] == ["one", "one", "two"]


def test_every_frame_is_found_by_its_label(timeline: Build) -> None:
    line = timeline(
        [shot("one", on_air="Path", duration=100.0)],
        show={"frame_rate": "60000/1001", "start_timecode": "23:59:30;00"},
    )
    assert line.at(0).timecode == "23:59:30;00"
    assert line.at(1800).timecode == "00:00:00;00"  # past midnight
    for frame in range(line.frame_count):
        assert line.frame_of(line.timecode(frame)) == frame


@pytest.mark.parametrize(
    ("label", "words"),
    [
        ("10:00:02:00", "outside the rundown; write a label from 10:00:00:00 to 10:00:01:24"),
        ("09:59:59:24", "outside the rundown"),
        ("10:00:00;00", "drop-frame counting"),
        ("now", "not a timecode"),
    ],
)
def test_labels_outside_are_refused(timeline: Build, label: str, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        timeline([shot("one", on_air="Path")]).frame_of(label)


@pytest.mark.parametrize("frame", [-1, 50])
def test_frames_outside_are_refused(timeline: Build, frame: int) -> None:
    with pytest.raises(ValueError, match="write a frame from 0 to 49"):
        timeline([shot("one", on_air="Path")]).at(frame)


def test_a_view_is_made_of_sensor_lens_and_framing(timeline: Build) -> None:
    view = timeline([shot("one", on_air="Path")]).at(0).camera("Path").view
    focus = dist((-2, -5, 1.6), (0, 0, 1.2))
    assert view.focus_m == pytest.approx(focus)
    assert view.projection_mm == pytest.approx(10 * (1 + 0.5 * 10 / (1000 * focus - 10)))
    assert (view.sensor_mm, view.t_stop, view.distortion.k1) == ((9.59, 5.39), 2.8, -0.02)
    pixels, valid = view.project(np.array([[0.0, 0.0, 1.2]]), (1920, 1080))
    assert valid.all()
    np.testing.assert_allclose(pixels[0], (960, 540), atol=1e-6)  # look_at is in the middle


def test_a_cued_camera_jumps_on_the_shots_first_frame(timeline: Build) -> None:
    line = timeline([shot("one", on_air="Path"), shot("two", cameras={"Bench": {"framing": "pot"}})])
    assert [line.at(frame).camera("Bench").framing for frame in (49, 50)] == ["single", "pot"]
    assert line.view_at("Bench", 50) == line.view_at("Bench", 99) != line.view_at("Bench", 49)


def test_a_move_waits_goes_and_rests(timeline: Build) -> None:
    # A 4 s move, 1 s into a shot that starts at frame 50: under way from 75, over at 175.
    line = timeline(
        [
            shot("one", on_air="Path"),
            shot("two", duration=8.0, cameras={"Path": {"move": "push", "after_s": 1.0}}),
        ]
    )
    seen = [line.at(frame).camera("Path") for frame in (50, 74, 75, 125, 174, 175, 249)]
    assert [camera.framing for camera in seen] == ["wide"] * 2 + ["wide > close"] * 3 + ["close"] * 2
    assert [camera.moving for camera in seen] == [False] * 2 + [True] * 3 + [False] * 2
    assert seen[1].view == seen[2].view  # the move's first frame is its start framing
    middle = np.add((-2, -5, 1.6), (-1, -4, 1.5)) / 2
    assert seen[3].view.pose.position_m == pytest.approx(tuple(middle))
    assert seen[3].view.focal_length_mm == pytest.approx(20.0)  # half way from 10 to 40
    assert seen[5].view == seen[6].view
    assert seen[5].view.pose.position_m == (-1.0, -4.0, 1.5)


def test_a_move_at_29_97_ends_on_the_first_frame_past_its_time(timeline: Build) -> None:
    # 4 s are 119.88 frames.
    line = timeline(
        [shot("one", on_air="Path", duration=6.0, cameras={"Path": {"move": "push"}})],
        show={"frame_rate": "30000/1001", "start_timecode": "10:00:00;00"},
    )
    assert [line.at(frame).camera("Path").moving for frame in (0, 119, 120)] == [True, True, False]


def test_a_move_goes_on_across_cuts(timeline: Build) -> None:
    line = timeline(
        [
            shot("one", on_air="Path", cameras={"Arm": {"move": "rise"}}),
            shot("two", on_air="Arm"),
            shot("three", on_air="Bench", duration=4.0),
        ]
    )
    moving = [line.at(frame).camera("Arm").moving for frame in range(line.frame_count)]
    assert moving == [True] * 150 + [False] * 50
    positions = [line.view_at("Arm", frame).pose.position_m for frame in range(line.frame_count)]
    steps = [dist(a, b) for a, b in pairwise(positions)]
    # 45 degrees each way on a 4 m arm is at most 6.3 m; smooth's top speed is 1.5 times the mean.
    assert max(steps) < 1.5 * 6.3 / 150
    assert max(steps[:149]) > 0.01


def test_cueing_a_move_again_starts_it_again(timeline: Build) -> None:
    line = timeline(
        [
            shot("one", on_air="Path", cameras={"Path": {"move": "push"}}),
            shot("two", cameras={"Path": {"move": "push"}}),
        ]
    )
    assert line.view_at("Path", 50) == line.view_at("Path", 0) != line.view_at("Path", 49)


@given(cut=st.integers(1, 199), rate=st.sampled_from(["25", "30000/1001", "60"]))
def test_cutting_a_shot_in_two_moves_no_camera(build_show_once: Build, cut: int, rate: str) -> None:
    cues = {"Path": {"move": "push", "after_s": 0.7}, "Arm": {"move": "rise"}, "Bench": {"framing": "pot"}}
    start = {"frame_rate": rate}

    def frames(count: int) -> str:
        nominal = 25 if rate == "25" else 30 if rate == "30000/1001" else 60
        return f"00:00:{count // nominal:02d}:{count % nominal:02d}"

    whole = [shot("whole", on_air="Path", duration=frames(200), cameras=cues)]
    halves = [
        shot("first", on_air="Path", duration=frames(cut), cameras=cues),
        shot("second", on_air="Bench", duration=frames(200 - cut)),
    ]
    one, two = (Timeline(build_show_once(rundown, show=start)) for rundown in (whole, halves))
    assert one.frame_count == two.frame_count == 200
    for frame in range(0, 200, 7):
        assert one.at(frame).cameras == two.at(frame).cameras
    assert [two.at(frame).on_air for frame in (cut - 1, cut)] == ["Path", "Bench"]


@given(
    angles=st.lists(
        st.tuples(st.floats(-180, 180), st.floats(-60, 60), st.floats(-20, 20)), min_size=2, max_size=2
    ),
    ease=st.sampled_from(["linear", "smooth", "slow-start", "slow-end"]),
)
def test_no_camera_jumps_during_a_move(
    build_show_once: Build, angles: list[tuple[float, float, float]], ease: str
) -> None:
    framings = [
        {
            "name": name,
            "pan_deg": pan,
            "tilt_deg": tilt,
            "roll_deg": roll,
            "focal_length_mm": focal_length,
            "position_m": (x, -5.0, 1.5),
        }
        for name, (pan, tilt, roll), focal_length, x in zip(
            ("a", "b"), angles, (10.0, 60.0), (-2.0, 2.0), strict=True
        )
    ]
    camera = {
        "name": "Path",
        "number": 1,
        "sensor": {"size_mm": (9.59, 5.39), "photosites": (1920, 1080)},
        "lens": {"focal_length_mm": (8.0, 160.0)},
        "framings": framings,
        "moves": [{"name": "go", "start": "a", "end": "b", "duration_s": 4.0, "ease": ease}],
    }
    line = Timeline(
        build_show_once(
            [
                shot("one", on_air="Path", duration=1.0, cameras={"Path": {"move": "go", "after_s": 0.3}}),
                shot("two", duration=4.0),
            ],
            cameras=[camera],
        )
    )
    views = [line.view_at("Path", frame) for frame in range(line.frame_count)]
    assume(turn_deg(views[0], views[-1]) < 170)
    for one, other in pairwise(views):
        # 4 m, a factor of 6 and at most half a turn in 100 frames; no ease is faster than twice even.
        assert dist(one.pose.position_m, other.pose.position_m) <= 2 * 4 / 100 + 1e-9
        assert 1.0 <= other.focal_length_mm / one.focal_length_mm <= 6 ** (2 / 100) + 1e-9
        assert turn_deg(one, other) < 10.0
    assert views[0].pose.position_m == (-2.0, -5.0, 1.5)
    assert views[-1].pose.position_m == (2.0, -5.0, 1.5)


def mixed(frames: int) -> list[dict[str, Any]]:
    return [
        shot("one", on_air="Path", duration=1.0),
        shot("two", on_air="Bench", duration=4.0, transition="mix", mix_frames=frames),
    ]


def test_shares_of_a_short_mix_by_hand(timeline: Build) -> None:
    line = timeline(mixed(4))
    moments = [line.at(frame) for frame in range(24, 30)]
    assert [m.mix_share for m in moments] == [1.0, 0.125, 0.375, 0.625, 0.875, 1.0]
    assert [m.mix_from for m in moments] == [None, "Path", "Path", "Path", "Path", None]
    assert [m.on_air for m in moments] == ["Path"] + ["Bench"] * 5


@given(frames=st.integers(1, 100))
def test_a_mix_rises_and_runs_alike_from_either_end(build_show_once: Build, frames: int) -> None:
    line = Timeline(build_show_once(mixed(frames)))
    shares = np.array([line.at(25 + n).mix_share for n in range(frames)])
    assert (np.diff(shares) > 0).all()
    assert ((shares > 0) & (shares < 1)).all()
    np.testing.assert_allclose(shares + shares[::-1], 1.0)
    assert line.at(25 + frames - 1).mix_from == "Path"
    assert frames == 100 or line.at(25 + frames).mix_from is None


@pytest.mark.parametrize(
    ("switch", "frames", "outgoing"),
    [("start", 4, 0), ("middle", 4, 2), ("end", 4, 4), ("middle", 5, 2), ("middle", 1, 0), ("end", 1, 1)],
)
def test_when_the_wall_changes_camera(timeline: Build, switch: str, frames: int, outgoing: int) -> None:
    line = timeline(mixed(frames), drive={"mix_switch": switch})
    wall = [line.at(25 + n).wall_camera for n in range(frames)]
    assert wall == ["Path"] * outgoing + ["Bench"] * (frames - outgoing)
    assert (line.at(24).wall_camera, line.at(25 + frames).wall_camera) == ("Path", "Bench")


def test_layers_are_drawn_from_the_view_of_the_same_frame(timeline: Build) -> None:
    line = timeline([shot("one", on_air="Path", cameras={"Path": {"move": "push"}})])
    for camera in line.at(30).cameras:
        assert camera.layer_view == camera.view == line.layer_view_at(camera.name, 30)


def test_the_outgoing_camera_of_a_mix_takes_its_cue_after_it(timeline: Build) -> None:
    rundown = mixed(10)
    rundown[0]["cameras"] = {"Path": {"move": "push"}}
    rundown[1]["cameras"] = {"Path": {"framing": "beds"}, "Bench": {"framing": "pot"}}
    line = timeline(rundown)
    rundown[1]["cameras"] = {"Bench": {"framing": "pot"}}
    goes_on = timeline(rundown)
    for frame in range(25, 35):
        assert line.view_at("Path", frame) == goes_on.view_at("Path", frame)  # still pushing in
        assert line.at(frame).camera("Path").framing == "wide > close"
    assert [line.at(frame).camera("Path").framing for frame in (35, 124)] == ["beds", "beds"]
    assert line.at(25).camera("Bench").framing == "pot"  # the incoming camera is on its cue at once


def test_a_mix_as_long_as_its_shot_hands_the_cue_to_the_next(timeline: Build) -> None:
    rundown = [*mixed(100), shot("three")]
    rundown[1]["cameras"] = {"Path": {"move": "push"}}
    line = timeline(rundown)
    assert [line.at(frame).camera("Path").moving for frame in (25, 124, 125)] == [False, False, True]
    assert line.view_at("Path", 125) == line.view_at("Path", 0)


def test_frames_may_be_asked_for_in_any_order(timeline: Build) -> None:
    rundown = [shot("one", on_air="Path", cameras={"Path": {"move": "push"}}), shot("two", on_air="Arm")]
    forward, backward = timeline(rundown), timeline(rundown)
    ahead = [forward.at(frame) for frame in range(100)]
    behind = [backward.at(frame) for frame in reversed(range(100))]
    assert ahead == behind[::-1]


def test_a_timeline_can_be_sent_to_another_process(timeline: Build) -> None:
    line = timeline([shot("one", on_air="Path", cameras={"Path": {"move": "push"}})])
    assert pickle.loads(pickle.dumps(line)).at(20) == line.at(20)


def test_framings_and_moves_that_do_not_work_are_all_named(timeline: Build, camera_tables: Tables) -> None:
    camera_tables[0]["framings"][1]["look_at"] = "Bob"
    camera_tables[1]["position_m"] = None
    camera_tables[2]["moves"][0]["end"] = "roof"
    with pytest.raises(ShowError) as caught:
        timeline([shot("one", on_air="Path")], cameras=camera_tables)
    assert [problem.key for problem in caught.value.problems] == [
        "cameras[0].framings[1].look_at",
        "cameras[1].framings[0].position_m",
        "cameras[1].framings[1].position_m",
        "cameras[2].moves[0].end",
    ]


def test_a_move_whose_aim_meets_the_camera_is_named(timeline: Build, camera_tables: Tables) -> None:
    camera_tables[0]["framings"][0].update(position_m=(0, 0, 1.5), look_at=(0, 4, 1.5))
    camera_tables[0]["framings"][1].update(position_m=(0, 0, 1.5), look_at=(0, -4, 1.5))
    line = timeline(
        [shot("one", on_air="Path", duration=5.0, cameras={"Path": {"move": "push"}})], cameras=camera_tables
    )
    with pytest.raises(ShowError, match=r"cameras\[0\]\.moves\[0\]: cannot look at"):
        line.at(50)  # half way
