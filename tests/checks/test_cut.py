"""Cuts against the plain truth of every frame, and in words."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from preview.checks.cut import around, cut_result, cuts_of, programme_frame, proof_frames
from preview.timeline.timeline import Timeline
from tests.checks.shows import changed, whip_show, with_rundown

DELAY = st.integers(0, 6)


@st.composite
def any_rundowns(draw):
    """Short and long shots, cuts and mixes, and a shot that keeps its camera; cameras with own delays."""
    shots = [{"name": "0", "on_air": "CAM1", "duration": "00:00:01:00"}]
    for number in range(1, draw(st.integers(2, 5)) + 1):
        length = draw(st.sampled_from([1, 2, 5, 9, 30]))
        camera = draw(st.sampled_from(["CAM1", "CAM2"]))
        shot = {"name": str(number), "on_air": camera, "duration": length / 25}
        if camera != shots[-1]["on_air"] and draw(st.booleans()):
            shot |= {"transition": "mix", "mix_frames": draw(st.integers(1, length))}
        shots.append(shot)
    drive = {"mix_switch": draw(st.sampled_from(["start", "middle", "end"]))}
    delays = {"wall_switch_frames": draw(DELAY), "picture_frames": draw(DELAY)}
    show = with_rundown(whip_show(), *shots, drive=drive, delays=delays)
    own = draw(st.one_of(st.none(), DELAY))
    late = show.file.cameras[1].delays.model_copy(update={"picture_frames": own})
    return changed(show, {"CAM2": {"delays": late}})


@given(any_rundowns())
def test_no_frame_of_the_rundown_is_missed_and_none_told_twice(show):
    timeline = Timeline(show)
    cuts = cuts_of(show, timeline)
    told = [one for cut in cuts for one in cut.frames if one.state != "own"]
    every = [programme_frame(timeline.at(n), show.file.drive) for n in range(timeline.frame_count)]
    assert told == [one for one in every if one.state != "own"]


@given(DELAY, DELAY)
def test_a_cut_is_wrong_for_as_long_as_wall_and_mixer_are_apart(wall, picture):
    show = changed(whip_show(), delays={"wall_switch_frames": wall, "picture_frames": picture})
    cut, mix = cuts_of(show)
    assert len(cut.wrong_frames) == abs(wall - picture)
    assert cut.wall_late_frames == mix.wall_late_frames == wall - picture
    assert len(mix.wrong_frames) == max(0, abs(wall - picture) - 3), "the mix hides three frames each way"


@given(any_rundowns())
def test_interleaved_is_never_wrong_by_switching_and_shared_as_switched_is(show):
    slots = changed(show, drive={"mode": "interleaved"})
    assert not [one for cut in cuts_of(slots) for one in cut.frames if one.state != "own"]
    stacked = cuts_of(changed(show, drive={"mode": "shared"}))
    assert [cut.wrong_frames for cut in stacked] == [cut.wrong_frames for cut in cuts_of(show)]


@pytest.mark.parametrize(
    "wall, picture, words",
    [
        (2, 0, "Cut to CAM2 at 10:00:01:00: for 2 frames (10:00:01:00 to 10:00:01:01) CAM2 is on programme "
               "with CAM1's background; the wall follows 2 frames after the cut."),
        (0, 1, "Cut to CAM2 at 10:00:01:01: for 1 frame (10:00:01:00) CAM1 is on programme with CAM2's "
               "background; the mixer cuts 1 frame after the wall has changed."),
        (3, 3, "Cut to CAM2 at 10:00:01:03: clean, the background changes with the picture."),
    ],
)  # fmt: skip
def test_what_the_director_is_told_of_a_cut(wall, picture, words):
    show = changed(whip_show(), delays={"wall_switch_frames": wall, "picture_frames": picture})
    timeline = Timeline(show)
    finding = cut_result(cuts_of(show, timeline), timeline).findings[0]
    assert finding.sentence == words
    assert finding.grade == ("fine" if wall == picture else "fault")
    assert finding.measures["wrong_frames"] == abs(wall - picture)


def test_what_the_director_is_told_of_a_mix():
    show = changed(whip_show(), delays={"wall_switch_frames": 1})
    timeline = Timeline(show)
    finding = cut_result(cuts_of(show, timeline), timeline).findings[1]
    assert finding.sentence == (
        "Mix to CAM1 at 10:00:03:00 over 6 frames: for 4 frames (10:00:03:00 to 10:00:03:03) CAM1 is mixed "
        "in over CAM2's background; for 2 frames (10:00:03:04 to 10:00:03:05) CAM2 is mixed out over CAM1's "
        "background; the wall changes 1 frame later than this mix should have it."
    )
    assert finding.grade == "compromise"


def test_shared_and_interleaved_have_their_own_words():
    late = {"wall_switch_frames": 2}
    for mode, words in (("shared", "with CAM1's frustum on top"), ("interleaved", "its own slot")):
        show = changed(whip_show(), drive={"mode": mode}, delays=late)
        timeline = Timeline(show)
        assert words in cut_result(cuts_of(show, timeline), timeline).findings[0].sentence


def test_a_shot_that_keeps_its_camera_is_no_change_and_a_cue_too_late_is_told():
    one = {"name": "one", "on_air": "CAM1", "duration": 1.0}
    show = with_rundown(
        whip_show(), one, {**one, "name": "two"},
        {**one, "name": "three", "on_air": "CAM2", "duration": 0.08},
        delays={"picture_frames": 5},
    )  # fmt: skip
    timeline = Timeline(show)
    (cut,) = cuts_of(show, timeline)
    assert (cut.shot, cut.programme_frame, cut.wall_late_frames) == ("three", None, None)
    assert len(cut.wrong_frames) == 2, "the wall goes and the rundown ends before the mixer follows"
    assert "cued at 10:00:02:00 never reaches programme" in cut_result([cut], timeline).findings[0].sentence


def test_frames_shown_round_a_cut_and_frames_proved():
    show = changed(whip_show(), delays={"wall_switch_frames": 8})
    cut, mix = cuts_of(show)
    assert around(cut, 100) == (22, 23, 24, 25, 26, 27, 28)
    assert proof_frames(cut, 100) == tuple(range(22, 34)), "all wrong ones and one more"
    # Mix of frames 75 to 80; the wall is due at 78 and comes at 86.
    assert around(mix, 100) == (74, 75, 78, 80, 81, 85, 86)
    assert set(range(74, 90)) == set(proof_frames(mix, 90)), "until it could have settled, and one more"
    assert around(cut, 27) == (22, 23, 24, 25, 26)
