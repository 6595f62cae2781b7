"""Rundowns worked by hand: frames, inheritance, and what is refused."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from preview.errors import ShowError
from preview.timeline.rundown import Cue, ResolvedShot, resolve_rundown
from preview.timeline.timecode import TimecodeError

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
    ("rundown", "words"),
    [
        ([{"name": "a", "on_air": "Path"}], r"rundown\[0\].*end is not known"),
        ([{**FIRST, "duration": "00:00:00:25"}], "frames run from 00 to 24"),
        ([{**FIRST, "duration": 0.001}], "shorter than one frame"),
        ([{**FIRST, "start": "10:00:00:01"}], r"rundown\[0\].*gap"),
        ([FIRST, shot(start="10:00:02:01")], r"rundown\[1\].*gap"),
        ([FIRST, shot(start="10:00:01:24")], r"rundown\[1\].*overlap"),
        ([{"name": "a", "on_air": "Path"}, shot(start="10:00:00:00")], r"rundown\[0\].*end is not known"),
        ([{"name": "a", "on_air": "Path"}, shot(start="09:59:59:00")], r"rundown\[0\].*end is not known"),
        ([FIRST, shot(start="10:00:02;00")], "does not have"),
        ([{"name": "a", "duration": 1.0}], r"rundown\[0\].*no camera is called None"),
        ([FIRST, shot(on_air="Crane")], r"rundown\[1\].*no camera is called 'Crane'"),
        ([FIRST, shot(cameras={"Crane": {"framing": "wide"}})], r"rundown\[1\].*does not exist"),
        ([FIRST, shot(cameras={"Path": {"framing": "pot"}})], r"rundown\[1\].*Path has no 'pot'"),
        ([FIRST, shot(cameras={"Bench": {"move": "push"}})], r"rundown\[1\].*Bench has no 'push'"),
        ([FIRST, shot(cameras={"Path": {}})], r"rundown\[1\].*a framing or a move"),
        (
            [FIRST, shot(cameras={"Path": {"framing": "wide", "move": "push"}})],
            r"rundown\[1\].*a framing or a move",
        ),
        (
            [FIRST, shot(cameras={"Path": {"framing": "wide", "after_s": 1.0}})],
            r"rundown\[1\].*delays a framing",
        ),
        ([FIRST, shot(on_air="Bench", transition="mix")], r"rundown\[1\].*a mix of None frames"),
        (
            [FIRST, shot(on_air="Bench", transition="mix", mix_frames=26)],
            r"rundown\[1\].*a mix of 26 frames in a shot of 25",
        ),
        ([FIRST, shot(on_air="Bench", mix_frames=5)], r"rundown\[1\].*a cut has no length"),
        ([FIRST, shot(transition="mix", mix_frames=5)], r"rundown\[1\].*nothing to mix from"),
        ([{**FIRST, "transition": "mix", "mix_frames": 5}], r"rundown\[0\].*nothing to mix from"),
    ],
)
def test_a_rundown_that_was_never_checked_fails(
    resolve: Build, rundown: list[dict[str, Any]], words: str
) -> None:
    """Users meet none of these: the loader refuses such a show in their words (tests/show)."""
    with pytest.raises(ValueError, match=words):
        resolve(rundown)


def test_a_rundown_lasts_a_timecode_day_at_most(resolve: Build) -> None:
    rest = {"name": "rest", "duration": 86398.0}
    assert spans(resolve([FIRST, rest]))[-1] == (50, 24 * 3600 * 25)
    with pytest.raises(ShowError, match="rundown: the shots come to more than 24 hours") as caught:
        resolve([FIRST, {**rest, "duration": 86398.04}])
    assert str(caught.value).startswith("test-show.toml: rundown: ")


def test_a_label_of_the_other_count_is_refused(resolve: Build) -> None:
    ntsc = {"frame_rate": "30000/1001", "start_timecode": "10:00:00;00"}
    with pytest.raises(TimecodeError, match='write "10:00:02;00"'):
        resolve([{**FIRST, "duration": 2.0}, shot(start="10:00:02:00")], show=ntsc)
    with pytest.raises(TimecodeError, match=r"10:01:00;00.* does not exist"):
        resolve([FIRST], show={"frame_rate": "30000/1001", "start_timecode": "10:01:00;00"})
