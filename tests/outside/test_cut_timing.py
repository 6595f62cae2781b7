"""Cuts worked out by hand, frame by frame, at 25, 29.97 and 59.94.

What is seen at a cut: the wall changes so many frames after the cue, the mixer so many; on the frames
between the two, programme has another camera's background. In a switched set-up the background changes
on the cut, with no delay seen on programme, when the chain is compensated. Common practice, no source.

Labels: drop-frame leaves out the first two labels of each minute but the tenth (SMPTE ST 12-1, 29.97;
rule from public explanations) and the first four at 59.94 (its doubling).
"""

from __future__ import annotations

import pytest

from preview.checks.cut import cuts_of
from preview.timeline.timeline import Timeline
from tests.checks.shows import whip_show, with_rundown

A, B = "CAM1", "CAM2"


def rundown(rate, start, first, shots, wall, picture, **drive):
    """A show that begins on CAM1 for ``first``, then the shots given as (on air, length, mix frames)."""
    listed = [{"name": "one", "on_air": A, "duration": first}]
    for number, (camera, length, mix) in enumerate(shots):
        how = {"transition": "mix", "mix_frames": mix} if mix else {}
        listed.append({"name": f"shot {number}", "on_air": camera, "duration": length, **how})
    return with_rundown(
        whip_show(), *listed, show={"frame_rate": rate, "start_timecode": start},
        delays={"wall_switch_frames": wall, "picture_frames": picture}, drive=drive,
    )  # fmt: skip


def labels(show, which):
    """Labels of each cut's ``which`` frames."""
    timeline = Timeline(show)
    return [[timeline.timecode(frame) for frame in getattr(cut, which)] for cut in cuts_of(show, timeline)]


DROP, DROP60 = "30000/1001", "60000/1001"
SECOND = "00:00:01:00"


@pytest.mark.parametrize(
    "rate, start, first, wall, picture, wrong",
    [
        # 25: the wall three frames late; the mixer makes up for one of them.
        ("25", "10:00:00:00", "00:00:02:00", 3, 1, ["10:00:02:01", "10:00:02:02"]),
        # ... for all of them; for more than the wall is late.
        ("25", "10:00:00:00", "00:00:02:00", 3, 3, []),
        ("25", "10:00:00:00", "00:00:02:00", 1, 4, ["10:00:02:01", "10:00:02:02", "10:00:02:03"]),
        # ... across a second and an hour.
        ("25", "10:59:58:00", "00:00:01:24", 2, 0, ["10:59:59:24", "11:00:00:00"]),
        # 29.97 drop-frame: two seconds on is 60 frames, and labels ;00 and ;01 of minute 1 are left out.
        (DROP, "10:00:58;00", "00:00:02:00", 2, 0, ["10:01:00;02", "10:01:00;03"]),
        # ... across the minute: cue on the last label of minute 0.
        (DROP, "10:00:58;00", "00:00:01:29", 3, 0, ["10:00:59;29", "10:01:00;02", "10:01:00;03"]),
        # ... across the tenth minute, which leaves out none.
        (DROP, "10:09:58;00", "00:00:01:29", 3, 0, ["10:09:59;29", "10:10:00;00", "10:10:00;01"]),
        # 29.97 non-drop across a minute.
        (DROP, "10:00:58:00", "00:00:01:29", 3, 0, ["10:00:59:29", "10:01:00:00", "10:01:00:01"]),
        # 59.94 drop-frame: cue two labels before the minute, four labels left out.
        (DROP60, "10:00:59;00", "00:00:00:58", 4, 0,
         ["10:00:59;58", "10:00:59;59", "10:01:00;04", "10:01:00;05"]),
        # ... the mixer two frames late, so that only the last two are left.
        (DROP60, "10:00:59;00", "00:00:00:58", 4, 2, ["10:01:00;04", "10:01:00;05"]),
        # ... the wall quicker than the mixer.
        (DROP60, "10:00:59;00", "00:00:00:58", 1, 3, ["10:00:59;59", "10:01:00;04"]),
        # 59.94 non-drop.
        (DROP60, "10:00:59:00", "00:00:00:58", 4, 0,
         ["10:00:59:58", "10:00:59:59", "10:01:00:00", "10:01:00:01"]),
    ],
)  # fmt: skip
def test_wrong_frames_of_a_cut(rate, start, first, wall, picture, wrong):
    show = rundown(rate, start, first, [(B, SECOND, 0)], wall, picture)
    assert labels(show, "wrong_frames") == [wrong]
    assert labels(show, "shared_frames") == [[]]
    (cut,) = cuts_of(show)
    timeline = Timeline(show)
    for label in wrong:
        (told,) = [one for one in cut.frames if one.timecode == label]
        # The wall late: the new camera on the old background; the mixer late: the other way round.
        assert (told.cameras, told.wall_camera) == ((((B, 1.0),), A) if wall > picture else (((A, 1.0),), B))
    assert timeline.at(cut.cue_frame).shot == "shot 0"


def test_two_cuts_of_one_rundown_at_25():
    """CAM2 for one second, then CAM1: wall two frames late, mixer not at all."""
    show = rundown("25", "10:00:00:00", "00:00:02:00", [(B, SECOND, 0), (A, SECOND, 0)], 2, 0)
    assert labels(show, "wrong_frames") == [["10:00:02:00", "10:00:02:01"], ["10:00:03:00", "10:00:03:01"]]


def test_a_shot_shorter_than_the_walls_delay():
    """CAM2 for two frames only, the wall five late. CAM2 is up for frames 02:00 and 02:01, before CAM1's
    background. The wall shows CAM2's from 02:05 (2:00 + 5) until 02:06; CAM1 is on programme then."""
    show = rundown("25", "10:00:00:00", "00:00:02:00", [(B, "00:00:00:02", 0), (A, SECOND, 0)], 5, 0)
    assert labels(show, "wrong_frames") == [["10:00:02:00", "10:00:02:01"], ["10:00:02:05", "10:00:02:06"]]


@pytest.mark.parametrize(
    "switch, incoming_on_old, outgoing_on_new",
    [
        ("start", [], ["00", "01", "02", "03", "04", "05"]),
        ("middle", ["00", "01", "02"], ["03", "04", "05"]),
        ("end", ["00", "01", "02", "03", "04", "05"], []),
    ],
)
def test_a_mix_of_six_frames_on_one_wall(switch, incoming_on_old, outgoing_on_new):
    """Nothing late: no frame is wrong, and on each one of the two cameras has the other's background."""
    show = rundown("25", "10:00:00:00", "00:00:02:00", [(B, SECOND, 6)], 0, 0, mix_switch=switch)
    (cut,) = cuts_of(show)
    assert not cut.wrong_frames
    assert [one.timecode[-2:] for one in cut.frames if one.strangers == (B,)] == incoming_on_old
    assert [one.timecode[-2:] for one in cut.frames if one.strangers == (A,)] == outgoing_on_new
    assert cut.wall_late_frames == 0


def test_a_mix_whose_wall_comes_after_it():
    """Six frames of mix, 02:00 to 02:05; the wall is due at the middle, 02:03, and four frames late: 02:07.
    On 02:06 CAM2 is alone on programme before CAM1's background."""
    show = rundown("25", "10:00:00:00", "00:00:02:00", [(B, SECOND, 6)], 4, 0)
    assert labels(show, "shared_frames") == [[f"10:00:02:0{n}" for n in range(6)]]
    assert labels(show, "wrong_frames") == [["10:00:02:06"]]
    assert cuts_of(show)[0].wall_late_frames == 4
    # Held back four frames the mix runs from 02:04 to 02:09 and the wall changes in its middle.
    held = rundown("25", "10:00:00:00", "00:00:02:00", [(B, SECOND, 6)], 4, 4)
    assert labels(held, "shared_frames") == [[f"10:00:02:{n:02d}" for n in range(4, 10)]]
    assert labels(held, "wrong_frames") == [[]]
    assert cuts_of(held)[0].wall_late_frames == 0


def test_the_share_of_the_picture_that_is_wrong_in_a_mix():
    """Six frames, shares 1/12, 3/12 ... 11/12: up to the middle the incoming camera's share is wrong
    (1 + 3 + 5) / 12, past it the outgoing one's, the same: 1.5 pictures in all."""
    (cut,) = cuts_of(rundown("25", "10:00:00:00", "00:00:02:00", [(B, SECOND, 6)], 0, 0))
    assert sum(one.wrong_share for one in cut.frames) == pytest.approx(1.5)
