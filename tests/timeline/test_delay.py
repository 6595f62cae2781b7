"""Delays against rundowns worked by hand: which camera wall, mixer and return show, frame by frame."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from preview.show.model import CameraDelays, Delays
from preview.timeline.delay import CameraDelay, camera_delay, split_frame, view_between
from preview.timeline.rate import Rate
from preview.timeline.timeline import Timeline

Build = Callable[..., Any]
Tables = list[dict[str, Any]]


@pytest.fixture
def timeline(build_show: Build) -> Build:
    return lambda rundown, **changes: Timeline(build_show(rundown, **changes))


def frames(count: int) -> str:
    return f"00:00:{count // 25:02d}:{count % 25:02d}"


def shot(name: str, on_air: str, count: int, **keys: Any) -> dict[str, Any]:
    return {"name": name, "on_air": on_air, "duration": frames(count), **keys}


def cut() -> Tables:
    """Path for ten frames, then Bench for twenty, then Arm."""
    return [shot("one", "Path", 10), shot("two", "Bench", 20), shot("three", "Arm", 20)]


def read(line: Timeline, what: str) -> str:
    """One letter a frame: the first of the camera's name, in lower case during a mix."""
    letters = ""
    for frame in range(line.frame_count):
        moment = line.at(frame)
        letter = getattr(moment, what)[0]
        letters += letter.lower() if what == "on_air" and moment.mix_from else letter
    return letters


# ---- Which delay counts --------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("show", "own", "rate", "expected"),
    [
        ({}, {}, "25", CameraDelay(0.0, 0, 0)),
        ({"tracking_frames": 2.5, "picture_frames": 3, "return_frames": 4}, {}, "25", CameraDelay(2.5, 3, 4)),
        ({"tracking_ms": 60.0}, {}, "25", CameraDelay(1.5, 0, 0)),
        ({"tracking_ms": 60.0}, {}, "50", CameraDelay(3.0, 0, 0)),
        # A camera's own values win one by one, a zero and another unit included.
        (
            {"tracking_frames": 2.0, "picture_frames": 3},
            {"tracking_frames": 0.0},
            "25",
            CameraDelay(0.0, 3, 0),
        ),
        ({"tracking_frames": 2.0}, {"tracking_ms": 40.0}, "25", CameraDelay(1.0, 0, 0)),
        ({"tracking_ms": 40.0}, {"tracking_frames": 3.25}, "25", CameraDelay(3.25, 0, 0)),
        ({"picture_frames": 3, "return_frames": 4}, {"picture_frames": 0}, "25", CameraDelay(0.0, 0, 4)),
        ({"return_frames": 4}, {"return_frames": 9}, "25", CameraDelay(0.0, 0, 9)),
    ],
)
def test_a_cameras_own_delays_win(
    build_show: Build, camera_tables: Tables, show: dict, own: dict, rate: str, expected: CameraDelay
) -> None:
    camera_tables[0]["delays"] = own
    file = build_show(cut(), cameras=camera_tables, delays=show, show={"frame_rate": rate}).file
    assert camera_delay(file, file.cameras[0], Rate(rate)) == expected
    plain = build_show(cut(), delays=show, show={"frame_rate": rate}).file
    shows = camera_delay(plain, plain.cameras[0], Rate(rate))
    assert [camera_delay(file, camera, Rate(rate)) for camera in file.cameras[1:]] == [shows, shows]


@pytest.mark.parametrize(
    ("ms", "rate", "count"),
    [
        # Frames are 1001/30000 s, 1001/24000 s and 1001/60000 s long: 100.1 ms are 3, 2.4 and 6 of them.
        (100.1, "30000/1001", 3.0),
        (100.1, "24000/1001", 2.4),
        (100.1, "60000/1001", 6.0),
        (100.0, "30000/1001", 2.997002997),
        (33.0, "30", 0.99),
    ],
)
def test_milliseconds_are_counted_in_exact_frames(
    build_show: Build, ms: float, rate: str, count: float
) -> None:
    file = build_show(cut(), delays={"tracking_ms": ms}, show={"frame_rate": rate}).file
    assert camera_delay(file, file.cameras[0], Rate(rate)).tracking == pytest.approx(count, abs=1e-9)


def test_at_29_97_whole_milliseconds_interpolate_and_whole_frames_do_not(timeline: Build) -> None:
    rundown = [{"name": "one", "on_air": "Path", "duration": 3.0, "cameras": {"Path": {"move": "push"}}}]
    rate = {"frame_rate": "30000/1001", "start_timecode": "10:00:00;00"}
    by_frames = timeline(rundown, show=rate, delays={"tracking_frames": 3})
    exact = timeline(rundown, show=rate, delays={"tracking_ms": 100.1})
    rounded = timeline(rundown, show=rate, delays={"tracking_ms": 100.0})
    view = by_frames.layer_view_at("Path", 50)
    assert view == by_frames.view_at("Path", 47) == exact.layer_view_at("Path", 50)
    late, later = by_frames.view_at("Path", 47), by_frames.view_at("Path", 48)
    expected = view_between(late, later, 3 - 100 / 1000 * 30000 / 1001)
    assert rounded.layer_view_at("Path", 50).pose.position_m == pytest.approx(
        expected.pose.position_m, abs=1e-12
    )
    assert rounded.layer_view_at("Path", 50) != view


@pytest.mark.parametrize(
    ("frame", "expected"),
    [(7.0, (7, 0.0)), (7.25, (7, 0.25)), (6.9999999999, (7, 0.0)), (7.0000000001, (7, 0.0)), (0.5, (0, 0.5))],
)
def test_whole_frames_stay_whole(frame: float, expected: tuple[int, float]) -> None:
    assert split_frame(frame) == expected


@given(st.floats(0, 1e5))
def test_a_split_frame_adds_up(frame: float) -> None:
    whole, share = split_frame(frame)
    assert whole + share == pytest.approx(frame, abs=1e-9)
    assert 0.0 <= share < 1.0


def test_negative_delays_do_not_exist() -> None:
    for table in (Delays, CameraDelays):
        for key in ("tracking_frames", "tracking_ms", "picture_frames", "return_frames"):
            with pytest.raises(ValueError, match=key):
                table(**{key: -1})


# ---- Tracking ------------------------------------------------------------------------------------


def test_whole_frames_of_tracking_show_the_view_of_then(timeline: Build) -> None:
    rundown = [shot("one", "Path", 100, cameras={"Path": {"move": "push"}, "Arm": {"move": "rise"}})]
    line = timeline(rundown, delays={"tracking_frames": 4})
    for name in ("Path", "Arm"):
        for frame in (4, 5, 40, 99):
            assert line.layer_view_at(name, frame) == line.view_at(name, frame - 4)
            assert line.layer_view_at(name, frame) != line.view_at(name, frame)
        moment = line.at(40).camera(name)
        assert (moment.layer_view, moment.view) == (line.view_at(name, 36), line.view_at(name, 40))


def test_before_the_first_frame_a_camera_stood_where_it_starts(timeline: Build) -> None:
    rundown = [shot("one", "Path", 50, cameras={"Path": {"move": "push"}})]
    line = timeline(rundown, delays={"tracking_frames": 4.5})
    for frame in range(5):
        assert line.layer_view_at("Path", frame) == line.view_at("Path", 0)
    assert line.layer_view_at("Path", 5) != line.view_at("Path", 0)


def test_each_camera_tracks_with_its_own_delay(timeline: Build, camera_tables: Tables) -> None:
    camera_tables[2]["delays"] = {"tracking_frames": 1}
    rundown = [shot("one", "Path", 100, cameras={"Path": {"move": "push"}, "Arm": {"move": "rise"}})]
    line = timeline(rundown, cameras=camera_tables, delays={"tracking_frames": 6})
    assert line.layer_view_at("Path", 50) == line.view_at("Path", 44)
    assert line.layer_view_at("Arm", 50) == line.view_at("Arm", 49)


@given(delay=st.floats(0, 12), at=st.integers(1, 40))
def test_a_cue_to_another_framing_is_not_smeared(build_show_once: Build, delay: float, at: int) -> None:
    """A camera that is repositioned between shots must not fly through the studio on the wall."""
    rundown = [
        shot("one", "Bench", at, cameras={"Path": {"framing": "wide"}}),
        shot("two", "Bench", 60 - at, cameras={"Path": {"framing": "close"}}),
    ]
    line = Timeline(build_show_once(rundown, delays={"tracking_frames": delay}))
    wide, close = line.view_at("Path", 0), line.view_at("Path", at)
    assert wide != close
    for frame in range(60):
        assert line.layer_view_at("Path", frame) == (wide if frame < at else close)


def test_a_move_that_begins_with_its_shot_is_tracked_from_there(timeline: Build) -> None:
    rundown = [
        shot("one", "Bench", 20, cameras={"Path": {"framing": "beds"}}),
        shot("two", "Bench", 120, cameras={"Path": {"move": "push"}}),
    ]
    line = timeline(rundown, delays={"tracking_frames": 3.5})
    start = line.view_at("Path", 20)
    assert [line.layer_view_at("Path", frame) == start for frame in (20, 23, 24)] == [True, True, False]
    expected = view_between(line.view_at("Path", 20), line.view_at("Path", 21), 0.5)
    assert line.layer_view_at("Path", 24) == expected


def test_a_move_under_way_is_tracked_across_a_cut(timeline: Build) -> None:
    rundown = [shot("one", "Path", 40, cameras={"Path": {"move": "push"}}), shot("two", "Bench", 60)]
    line = timeline(rundown, delays={"tracking_frames": 5})
    for frame in (40, 42, 44, 50):
        assert line.layer_view_at("Path", frame) == line.view_at("Path", frame - 5)


def test_a_finished_move_is_still_late_for_as_long_as_the_delay(timeline: Build) -> None:
    # The four-second push ends on frame 100.
    rundown = [shot("one", "Path", 150, cameras={"Path": {"move": "push"}})]
    line = timeline(rundown, delays={"tracking_frames": 5})
    end = line.view_at("Path", 100)
    assert line.view_at("Path", 99) != end
    assert [line.layer_view_at("Path", frame) == end for frame in (99, 100, 104, 105)] == [False] * 3 + [True]


# ---- Wall and mixer ------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("delays", "wall", "programme"),
    [
        ({}, "P10 B20 A20", "P10 B20 A20"),
        ({"wall_switch_frames": 3}, "P13 B20 A17", "P10 B20 A20"),
        ({"picture_frames": 3}, "P10 B20 A20", "P13 B20 A17"),
        ({"wall_switch_frames": 2, "picture_frames": 2}, "P12 B20 A18", "P12 B20 A18"),
        ({"wall_switch_frames": 1, "picture_frames": 4}, "P11 B20 A19", "P14 B20 A16"),
    ],
)
def test_cuts_worked_by_hand(timeline: Build, delays: dict, wall: str, programme: str) -> None:
    line = timeline(cut(), delays=delays)
    assert read(line, "wall_camera") == spelt(wall)
    assert read(line, "on_air") == spelt(programme)


def spelt(runs: str) -> str:
    """ "P2 B3" to "PPBBB"."""
    return "".join(run[0] * int(run[1:]) for run in runs.split())


def test_a_cut_to_a_camera_waits_as_long_as_that_camera_is_late(
    timeline: Build, camera_tables: Tables
) -> None:
    camera_tables[1]["delays"] = {"picture_frames": 5}
    camera_tables[2]["delays"] = {"picture_frames": 0}
    line = timeline(cut(), cameras=camera_tables, delays={"picture_frames": 2})
    assert read(line, "on_air") == spelt("P15 B15 A20")
    assert read(line, "wall_camera") == spelt("P10 B20 A20")


def test_a_shot_shorter_than_its_delay_is_never_seen(timeline: Build, camera_tables: Tables) -> None:
    """The mixer that waits six frames for Bench is told after four to take Arm at once."""
    camera_tables[1]["delays"] = {"picture_frames": 6}
    rundown = [shot("one", "Path", 10), shot("two", "Bench", 4), shot("three", "Arm", 10)]
    line = timeline(rundown, cameras=camera_tables)
    assert read(line, "on_air") == spelt("P14 A10")


def test_delays_longer_than_every_shot_leave_the_first_camera_and_catch_up_in_order(timeline: Build) -> None:
    rundown = [
        shot("one", "Path", 4),
        shot("two", "Bench", 4),
        shot("three", "Arm", 4),
        shot("four", "Path", 30),
    ]
    line = timeline(rundown, delays={"picture_frames": 10})
    assert read(line, "on_air") == spelt("P14 B4 A4 P20")


def test_the_rundowns_labels_stay_with_the_cue(timeline: Build) -> None:
    line = timeline(cut(), delays={"picture_frames": 3, "wall_switch_frames": 1})
    moment = line.at(11)
    assert (moment.shot, moment.shot_index, moment.on_air, moment.wall_camera) == ("two", 1, "Path", "Bench")


@given(wall=st.integers(0, 15), picture=st.integers(0, 15))
def test_wrong_frames_at_a_cut_are_the_difference_of_the_delays(
    build_show_once: Build, wall: int, picture: int
) -> None:
    rundown = [shot("one", "Path", 30), shot("two", "Bench", 30), shot("three", "Path", 30)]
    delays = {"wall_switch_frames": wall, "picture_frames": picture}
    line = Timeline(build_show_once(rundown, delays=delays))
    wrong = [m.frame for m in map(line.at, range(90)) if m.wall_camera != m.on_air]
    first, last = sorted((wall, picture))
    assert wrong == [cue + n for cue in (30, 60) for n in range(first, last)]


# ---- Mixes ---------------------------------------------------------------------------------------


def mixed() -> Tables:
    return [shot("one", "Path", 10), shot("two", "Bench", 30, transition="mix", mix_frames=4)]


@pytest.mark.parametrize(
    ("delays", "switch", "wall", "programme"),
    [
        ({}, "start", "P10 B30", "P10 b4 B26"),
        ({}, "middle", "P12 B28", "P10 b4 B26"),
        ({}, "end", "P14 B26", "P10 b4 B26"),
        ({"picture_frames": 3}, "middle", "P12 B28", "P13 b4 B23"),
        ({"wall_switch_frames": 3}, "start", "P13 B27", "P10 b4 B26"),
        ({"wall_switch_frames": 3}, "middle", "P15 B25", "P10 b4 B26"),
        ({"wall_switch_frames": 2, "picture_frames": 2}, "end", "P16 B24", "P12 b4 B24"),
    ],
)
def test_mixes_worked_by_hand(timeline: Build, delays: dict, switch: str, wall: str, programme: str) -> None:
    line = timeline(mixed(), delays=delays, drive={"mix_switch": switch})
    assert read(line, "wall_camera") == spelt(wall)
    assert read(line, "on_air") == spelt(programme)


def test_a_held_back_mix_has_the_shares_of_a_prompt_one(timeline: Build) -> None:
    line = timeline(mixed(), delays={"picture_frames": 3})
    moments = [line.at(frame) for frame in range(12, 18)]
    assert [m.mix_share for m in moments] == [1.0, 0.125, 0.375, 0.625, 0.875, 1.0]
    assert [m.mix_from for m in moments] == [None, "Path", "Path", "Path", "Path", None]


# ---- The outgoing camera -------------------------------------------------------------------------


def test_the_outgoing_camera_waits_for_the_mixer_before_it_takes_its_cue(timeline: Build) -> None:
    rundown = [
        shot("one", "Path", 10, cameras={"Path": {"framing": "wide"}, "Bench": {"framing": "single"}}),
        shot("two", "Bench", 30, cameras={"Path": {"framing": "beds"}, "Bench": {"framing": "pot"}}),
    ]
    line = timeline(rundown, delays={"picture_frames": 3})
    assert [line.at(frame).camera("Path").framing for frame in (9, 10, 12, 13)] == ["wide"] * 3 + ["beds"]
    # The incoming one goes to its framing on the cue: it is not seen yet.
    assert [line.at(frame).camera("Bench").framing for frame in (9, 10)] == ["single", "pot"]
    for frame in range(40):
        assert line.at(frame).camera("Path").framing == (
            "wide" if line.at(frame).on_air == "Path" else "beds"
        )


def test_the_outgoing_camera_of_a_held_back_mix_waits_for_both(timeline: Build) -> None:
    rundown = mixed()
    rundown[0]["cameras"] = {"Path": {"move": "push"}}
    rundown[1]["cameras"] = {"Path": {"framing": "beds"}}
    line = timeline(rundown, delays={"picture_frames": 3})
    framings = [line.at(frame).camera("Path").framing for frame in (9, 13, 16, 17)]
    assert framings == ["wide > close"] * 3 + ["beds"]
    assert line.shots[1].cue("Path").since_frame == 10 + 4 + 3


def test_it_is_the_incoming_cameras_delay_that_counts(timeline: Build, camera_tables: Tables) -> None:
    camera_tables[0]["delays"] = {"picture_frames": 9}
    camera_tables[1]["delays"] = {"picture_frames": 2}
    rundown = [shot("one", "Path", 10), shot("two", "Bench", 30, cameras={"Path": {"framing": "beds"}})]
    line = timeline(rundown, cameras=camera_tables)
    assert line.shots[1].cue("Path").since_frame == 12
    assert read(line, "on_air") == spelt("P12 B28")


@pytest.mark.parametrize(
    "delays", [{}, {"picture_frames": 3}, {"picture_frames": 8, "wall_switch_frames": 2}]
)
def test_no_camera_jumps_while_it_is_on_programme(timeline: Build, delays: dict) -> None:
    rundown = [
        shot("one", "Path", 12, cameras={"Path": {"framing": "wide"}}),
        shot("two", "Bench", 12, cameras={"Path": {"framing": "close"}, "Bench": {"framing": "single"}}),
        shot("three", "Path", 12, cameras={"Bench": {"framing": "pot"}}, transition="mix", mix_frames=5),
        shot("four", "Arm", 12, cameras={"Path": {"framing": "beds"}}),
    ]
    line = timeline(rundown, delays=delays)
    for frame in range(1, line.frame_count):
        before, now = line.at(frame - 1), line.at(frame)
        seen = {before.on_air, before.mix_from} & {now.on_air, now.mix_from} - {None}
        for name in seen:
            assert before.camera(name).framing == now.camera(name).framing, frame


# ---- Returns -------------------------------------------------------------------------------------


def test_a_return_shows_the_camera_and_its_layer_as_they_were(timeline: Build) -> None:
    rundown = [shot("one", "Path", 100, cameras={"Path": {"move": "push"}})]
    line = timeline(rundown, delays={"tracking_frames": 2, "return_frames": 5})
    now = line.at(40).camera("Path")
    assert (now.view, now.layer_view) == (line.view_at("Path", 40), line.view_at("Path", 38))
    then = now.returned
    assert (then.view, then.layer_view) == (line.view_at("Path", 35), line.view_at("Path", 33))
    assert (then.name, then.overscan) == (now.name, now.overscan)
    assert then.returned == then, "what has been returned is not returned again"


def test_the_first_return_waits_on_the_first_frame(timeline: Build) -> None:
    rundown = [shot("one", "Path", 100, cameras={"Path": {"move": "push"}})]
    line = timeline(rundown, delays={"return_frames": 5})
    assert all(line.at(frame).camera("Path").returned.view == line.view_at("Path", 0) for frame in range(6))
    assert line.at(6).camera("Path").returned.view == line.view_at("Path", 1)


def test_a_return_passes_a_cue_late(timeline: Build) -> None:
    rundown = cut()
    rundown[1]["cameras"] = {"Arm": {"framing": "high"}}
    line = timeline(rundown, delays={"return_frames": 4})
    low, high = line.view_at("Arm", 9), line.view_at("Arm", 10)
    assert [line.at(frame).camera("Arm").returned.view for frame in (13, 14)] == [low, high]


def test_without_delays_a_return_is_of_this_frame(timeline: Build) -> None:
    line = timeline(cut())
    for camera in line.at(20).cameras:
        assert (camera.returned.view, camera.returned.layer_view) == (camera.view, camera.view)


def test_each_operator_has_a_delay_of_their_own(timeline: Build, camera_tables: Tables) -> None:
    camera_tables[0]["delays"] = {"return_frames": 0}
    rundown = [shot("one", "Path", 100, cameras={"Path": {"move": "push"}, "Arm": {"move": "rise"}})]
    line = timeline(rundown, cameras=camera_tables, delays={"return_frames": 7})
    assert line.at(50).camera("Path").returned.view == line.view_at("Path", 50)
    assert line.at(50).camera("Arm").returned.view == line.view_at("Arm", 43)


# ---- Tally ---------------------------------------------------------------------------------------


def tallies(line: Timeline, frame: int) -> tuple[str, ...]:
    moment = line.at(frame)
    return tuple(moment.tally(camera.name) for camera in moment.cameras)


def test_tally_says_who_is_on_and_who_is_next(timeline: Build) -> None:
    line = timeline(cut())
    assert tallies(line, 9) == ("on air", "next", "off")
    assert tallies(line, 10) == ("off", "on air", "next")
    assert tallies(line, 30) == ("off", "off", "on air")
    assert line.at(30).next_camera is None


def test_tally_follows_the_mixer_not_the_cue(timeline: Build) -> None:
    line = timeline(cut(), delays={"picture_frames": 3, "wall_switch_frames": 1})
    assert tallies(line, 12) == ("on air", "next", "off")
    assert tallies(line, 13) == ("off", "on air", "next")


def test_both_cameras_of_a_mix_are_on_air(timeline: Build) -> None:
    rundown = [*mixed(), shot("three", "Arm", 10)]
    line = timeline(rundown, delays={"picture_frames": 2})
    assert [tallies(line, frame) for frame in (11, 12, 15, 16)] == [
        ("on air", "next", "off"),
        ("on air", "on air", "next"),
        ("on air", "on air", "next"),
        ("off", "on air", "next"),
    ]


def test_a_camera_that_stays_on_is_on_air_not_next(timeline: Build) -> None:
    line = timeline([shot("one", "Path", 10), shot("two", "Path", 10)])
    assert line.at(5).next_camera == "Path"
    assert tallies(line, 5) == ("on air", "off", "off")
