"""Rundowns worked by hand: frames, inheritance, and what is refused."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from preview.errors import ShowError
from preview.timeline.rundown import Cue, ResolvedShot, resolve_rundown

Build = Callable[..., Any]
FIRST = {"name": "titles", "on_air": "Path", "duration": "00:00:02:00"}


@pytest.fixture
def resolve(build_show: Build) -> Build:
    def run(rundown: list[dict[str, Any]], **changes: Any) -> tuple[ResolvedShot, ...]:
        return resolve_rundown(build_show(rundown, **changes).file, "test-show.toml")

    return run


def spans(shots: tuple[ResolvedShot, ...]) -> list[tuple[int, int]]:
    return [(shot.start_frame, shot.end_frame) for shot in shots]


def test_frames_by_length_by_start_and_by_seconds(resolve: Build) -> None:
    shots = resolve(
        [
            FIRST,  # 0..50
            {"name": "a", "duration": 1.5},  # 37.5 frames, to 38
            {"name": "b"},  # until the next start, 10:00:06:10 = 160
            {"name": "c", "start": "10:00:06:10", "duration": "00:00:01:00"},
            {"name": "d", "start": "10:00:07:10", "duration": 0.04},  # agrees with c's length
        ]
    )
    assert spans(shots) == [(0, 50), (50, 88), (88, 160), (160, 185), (185, 186)]
    assert [(shot.name, shot.index) for shot in shots] == [
        ("titles", 0), ("a", 1), ("b", 2), ("c", 3), ("d", 4)
    ]  # fmt: skip


def test_drop_frame_starts_count_frames_not_labels(resolve: Build) -> None:
    # From 00:00:59;20 the next labels are ;29 then 00:01:00;02: 10 frames to the minute.
    shots = resolve(
        [
            {"name": "a", "on_air": "Path"},
            {"name": "b", "start": "00:01:00;02", "duration": "00:00:00;05"},
        ],
        show={"frame_rate": "30000/1001", "start_timecode": "00:00:59;20"},
    )
    assert spans(shots) == [(0, 10), (10, 15)]


def test_a_rundown_runs_past_midnight(resolve: Build) -> None:
    shots = resolve(
        [{"name": "a", "on_air": "Path"}, {"name": "b", "start": "00:00:01:00", "duration": 1.0}],
        show={"start_timecode": "23:59:59:00"},
    )
    assert spans(shots) == [(0, 50), (50, 75)]


def test_on_air_and_cues_are_inherited(resolve: Build) -> None:
    shots = resolve(
        [
            FIRST,
            {"name": "a", "duration": 1.0, "cameras": {"Bench": {"framing": "pot"}}},
            {
                "name": "b",
                "on_air": "Arm",
                "duration": 1.0,
                "cameras": {"Path": {"move": "push", "after_s": 0.5}},
            },
            {"name": "c", "duration": 1.0},
            {"name": "d", "on_air": "Bench", "duration": 1.0, "cameras": {"Path": {"framing": "beds"}}},
        ]
    )
    assert [shot.on_air for shot in shots] == ["Path", "Path", "Arm", "Arm", "Bench"]
    wide, pushing = Cue("Path", "wide", None), Cue("Path", None, "push", 75, 0.5)
    assert [shot.cue("Path") for shot in shots] == [
        wide, wide, pushing, pushing, Cue("Path", "beds", None, 125)
    ]  # fmt: skip
    single, pot = Cue("Bench", "single", None), Cue("Bench", "pot", None, 50)
    assert [shot.cue("Bench") for shot in shots] == [single, pot, pot, pot, pot]
    assert {shot.cue("Arm") for shot in shots} == {Cue("Arm", "low", None)}  # never cued
    with pytest.raises(KeyError):
        shots[0].cue("Crane")


def test_mixes_keep_their_length_and_cuts_have_none(resolve: Build) -> None:
    shots = resolve(
        [FIRST, {"name": "a", "on_air": "Bench", "duration": 1.0, "transition": "mix", "mix_frames": 25}]
    )
    assert [(shot.transition, shot.mix_frames) for shot in shots] == [("cut", 0), ("mix", 25)]


def shot(**keys: Any) -> dict[str, Any]:
    return {"name": "later", "duration": 1.0, **keys}


@pytest.mark.parametrize(
    ("rundown", "key", "words"),
    [
        ([{"name": "a", "on_air": "Path"}], "rundown[0].duration", 'the end of shot "a" is not known'),
        ([{**FIRST, "duration": "00:00:00:25"}], "rundown[0].duration", "frames run from 00 to 24"),
        ([{**FIRST, "duration": 0.001}], "rundown[0].duration", "shorter than one frame"),
        ([{**FIRST, "start": "10:00:00:01"}], "rundown[0].start", "not the rundown's first frame"),
        ([FIRST, shot(start="10:00:02:01")], "rundown[1].start", "leaves a gap after"),
        ([FIRST, shot(start="10:00:01:24")], "rundown[1].start", "overlaps"),
        ([FIRST, shot(start="10:00:00:00")], "rundown[1].start", "not after the start"),
        (
            [{"name": "a", "on_air": "Path"}, shot(start="09:59:59:00")],
            "rundown[1].start",
            'not after the start of "a", 10:00:00:00',
        ),
        ([FIRST, shot(start="10:00:02;00")], "rundown[1].start", "does not have"),
        ([{"name": "a", "duration": 1.0}], "rundown[0].on_air", "no camera is on air yet"),
        ([FIRST, shot(on_air="Crane")], "rundown[1].on_air", "write one of: Path, Bench, Arm"),
        ([FIRST, shot(cameras={"Crane": {"framing": "wide"}})], "rundown[1].cameras.Crane", "no camera"),
        (
            [FIRST, shot(cameras={"Path": {"framing": "pot"}})],
            "rundown[1].cameras.Path.framing",
            'Path has no framing called "pot"; write one of: wide, close, beds',
        ),
        (
            [FIRST, shot(cameras={"Bench": {"move": "push"}})],
            "rundown[1].cameras.Bench.move",
            'Bench has no move called "push"; write one of: (it has none)',
        ),
        ([FIRST, shot(cameras={"Path": {}})], "rundown[1].cameras.Path", "neither a framing nor a move"),
        (
            [FIRST, shot(cameras={"Path": {"framing": "wide", "move": "push"}})],
            "rundown[1].cameras.Path",
            "both a framing and a move",
        ),
        (
            [FIRST, shot(cameras={"Path": {"framing": "wide", "after_s": 1.0}})],
            "rundown[1].cameras.Path.after_s",
            "use it with a move only",
        ),
        (
            [FIRST, shot(on_air="Bench", transition="mix")],
            "rundown[1].mix_frames",
            "a mix needs a length",
        ),
        (
            [FIRST, shot(on_air="Bench", transition="mix", mix_frames=26)],
            "rundown[1].mix_frames",
            '26 frames are longer than the shot "later" (25 frames)',
        ),
        ([FIRST, shot(on_air="Bench", mix_frames=5)], "rundown[1].mix_frames", "a mix length for a cut"),
        ([FIRST, shot(transition="mix", mix_frames=5)], "rundown[1].transition", "cannot mix to itself"),
        (
            [{**FIRST, "transition": "mix", "mix_frames": 5}],
            "rundown[0].transition",
            "nothing to mix from",
        ),
        ([FIRST, shot(duration=86400.0)], "rundown", "more than 24 hours"),
    ],
)
def test_what_is_refused(resolve: Build, rundown: list[dict[str, Any]], key: str, words: str) -> None:
    with pytest.raises(ShowError) as caught:
        resolve(rundown)
    assert [problem.key for problem in caught.value.problems] == [key]
    assert words in str(caught.value)
    assert str(caught.value).startswith("test-show.toml: " + key)


def test_all_problems_come_in_one_round(resolve: Build) -> None:
    with pytest.raises(ShowError) as caught:
        resolve(
            [
                {"name": "a", "duration": "1 s"},
                {"name": "b", "start": "10:00", "on_air": "Crane"},
                {"name": "c", "cameras": {"Path": {"move": "fly"}}},
            ]
        )
    assert sorted(problem.key for problem in caught.value.problems) == [
        "rundown[0].duration",
        "rundown[0].on_air",
        "rundown[1].on_air",
        "rundown[1].start",
        "rundown[2].cameras.Path.move",
    ]


def test_a_label_of_the_other_count_is_refused(resolve: Build) -> None:
    ntsc = {"frame_rate": "30000/1001", "start_timecode": "10:00:00;00"}
    with pytest.raises(ShowError, match='write "10:00:02;00"'):
        resolve([{**FIRST, "duration": 2.0}, shot(start="10:00:02:00")], show=ntsc)
    with pytest.raises(ShowError, match=r"10:01:00;00.* does not exist"):
        resolve([FIRST], show={"frame_rate": "30000/1001", "start_timecode": "10:01:00;00"})
