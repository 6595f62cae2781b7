"""A sheet says what the pictures show: angles by trigonometry, times by counting, tally by looking."""

from __future__ import annotations

from math import atan2, cos, degrees, hypot, radians, sin

import pytest
from timecode import Timecode

from preview.sheets.findings import SheetWarning
from preview.sheets.resolve import next_tally_frame, on_air_frames, shot_sheet
from preview.sheets.values import OffAir, SheetShot
from preview.timeline.timeline import Timeline
from tests.sheets.shows import build, cameras, shot


def sheet(show, camera, **keys):
    return shot_sheet(show, Timeline(show), camera, **keys)


def test_pan_tilt_and_focus_are_those_of_the_line_to_the_aim():
    (only,) = sheet(build([shot("A", "Studio 1", 50)]), "Studio 1").shots
    (held,) = only.settings
    assert held.position_m == (-3.0, -4.0, 1.5)
    assert held.pan_deg == pytest.approx(-degrees(atan2(3.0, 4.0)))
    assert held.tilt_deg == pytest.approx(degrees(atan2(1.1 - 1.5, 5.0)))
    assert held.focus_m == pytest.approx(hypot(5.0, 0.4))
    assert (held.focal_length_mm, held.t_stop, held.swing_deg, held.boom_deg) == (25.0, 4.0, None, None)


def test_a_jib_is_where_its_arm_puts_it():
    (only,) = sheet(build([shot("A", "Crane", 50)]), "Crane").shots
    (held,) = only.settings
    swing, boom = radians(30.0), radians(20.0)
    reach = 4.0 * cos(boom) + 0.25  # the head's offset is forward along the level arm
    x, y, z = -reach * sin(swing), -8.0 + reach * cos(swing), 1.5 + 4.0 * sin(boom) - 0.15
    assert held.position_m == pytest.approx((x, y, z))
    assert (held.swing_deg, held.boom_deg) == pytest.approx((30.0, 20.0))
    assert held.pan_deg == pytest.approx(degrees(atan2(x, -y)))
    assert held.tilt_deg == pytest.approx(degrees(atan2(1.0 - z, hypot(x, y))))


def test_a_jib_that_is_under_way_at_both_ends():
    """8 s in a straight line from (30, 20) to (-10, -10): 2 s off air, 4 s on air, 2 s off air again."""
    rundown = [
        shot("Before", "Studio 1", 100, cameras={"Crane": {"move": "drop", "after_s": 2.0}}),
        shot("Crane", "Crane", 100),
        shot("After", "Studio 1", 100),
    ]
    (only,) = sheet(build(rundown), "Crane").shots
    assert [one.place for one in only.settings] == [
        "move starts", "comes on air", "goes off air", "move ends",
    ]  # fmt: skip
    assert [one.timecode for one in only.settings] == [
        "10:00:02:00", "10:00:04:00", "10:00:07:24", "10:00:10:00",
    ]  # fmt: skip
    angles = [(one.swing_deg, one.boom_deg) for one in only.settings]
    last = 149 / 200
    assert angles == [
        pytest.approx((30.0, 20.0)),
        pytest.approx((20.0, 12.5)),
        pytest.approx((30.0 - 40.0 * last, 20.0 - 30.0 * last)),
        pytest.approx((-10.0, -10.0)),
    ]
    assert [one.place for one in only.stills] == ["comes on air", "middle", "goes off air"]
    assert [one.frame for one in only.stills] == [100, 149, 199]


SHOWS = {
    "cuts": build([shot("A", "Studio 1", 30), shot("B", "Crane", 20), shot("C", "Studio 1", 40)]),
    "there and back in mixes": build([
        shot("A", "Studio 1", 30),
        shot("B", "Crane", 30, transition="mix", mix_frames=12),
        shot("C", "Studio 1", 30, transition="mix", mix_frames=7),
        shot("D", "Studio 1", 30),
        shot("E", "Crane", 30),
    ]),
    "held back": build(
        [shot("A", "Studio 1", 30), shot("B", "Crane", 30), shot("C", "Studio 1", 30, transition="mix",
         mix_frames=10), shot("D", "Crane", 30)],
        delays={"picture_frames": 3, "wall_switch_frames": 3},
    ),
    "a mix as long as its shot": build([
        shot("A", "Studio 1", 30), shot("B", "Crane", 10, transition="mix", mix_frames=10),
        shot("C", "Studio 1", 30),
    ]),
}  # fmt: skip


@pytest.mark.parametrize("name", SHOWS)
def test_on_air_and_tally_are_those_of_every_frame(name):
    show = SHOWS[name]
    line = Timeline(show)
    for camera in ("Studio 1", "Crane"):
        tally = [line.at(frame).tally(camera) for frame in range(line.frame_count)]
        told = ["off"] * line.frame_count
        for one in line.shots:
            if one.on_air != camera:
                continue
            first, last = on_air_frames(line, one.index)
            assert set(tally[first : last + 1]) == {"on air"}
            told[first : last + 1] = ["on air"] * (last + 1 - first)
            lights = next_tally_frame(line, one.index)
            if lights is not None:
                assert set(tally[lights:first]) == {"next"}
                assert lights == 0 or tally[lights - 1] != "next"
                told[lights:first] = ["next"] * (first - lights)
        assert told == tally


def test_parts_of_a_sheet_leave_no_frame_out():
    for show in SHOWS.values():
        for camera in ("Studio 1", "Crane"):
            parts = [part for part in sheet(show, camera).parts if part.frames is not None]
            ends = [-1, *(part.frames[1] for part in parts)]
            starts = [part.frames[0] for part in parts]
            if all(isinstance(part, SheetShot) for part in parts):
                continue  # a mix that fills its shot overlaps the next one
            assert starts == [end + 1 for end in ends[:-1]]
            assert ends[-1] == Timeline(show).frame_count - 1


def test_neighbours_transitions_and_the_mixers_delay():
    first, second = sheet(SHOWS["held back"], "Crane").shots
    assert (first.before.camera, first.before.shot_number, first.after.shot_number) == ("Studio 1", 1, 3)
    assert (first.cue_timecode, first.held_back_frames, first.timecodes[0]) == (
        "10:00:01:05", 3, "10:00:01:08",
    )  # fmt: skip
    # Cue of shot 3 at frame 60, held back 3 frames, then 10 frames of mix.
    assert first.frames == (33, 72)
    assert (first.after_transition, first.after_mix_frames) == ("mix", 10)
    assert first.next_lead_frames == 33, "lit from the rundown's first frame"
    assert second.after is None and second.frames[1] == 119
    assert (first.place, first.of, second.place) == (1, 2, 2)


def test_timecodes_of_drop_frame_shows_count_as_another_library_counts():
    """Against the package timecode: labels over a minute's end at 29.97, where two are left out."""
    rundown = [
        {"name": "A", "on_air": "Studio 1", "duration": "00:00:02;00"},
        {"name": "B", "on_air": "Crane", "duration": "00:00:03;00"},
    ]
    show = build(rundown, show={"frame_rate": "30000/1001", "start_timecode": "00:00:58;15"})
    (only,) = sheet(show, "Crane").shots
    outside = Timecode("29.97", "00:00:58;15")
    assert only.timecodes == (str(outside + 60), str(outside + 149))
    assert only.seconds == pytest.approx(90 * 1001 / 30000)
    assert only.timecodes[0] == "00:01:00;17", "frames 00 and 01 of minute 1 do not exist"


@pytest.mark.parametrize("after", [0.0, 0.3, 1.0, 1.01])
def test_a_move_is_timed_as_the_timeline_moves(after):
    show = build([shot("A", "Studio 1", 200, cameras={"Studio 1": {"move": "push", "after_s": after}})])
    line = Timeline(show)
    (only,) = sheet(show, "Studio 1").shots
    begins, arrives = only.move.frames
    moving = [line.at(frame).camera("Studio 1").moving for frame in range(200)]
    assert moving == [begins <= frame < arrives for frame in range(200)]
    assert [one.framing for one in only.settings] == ["desk", "window"]
    assert only.settings[0].pan_deg == line.framing_view("Studio 1", "desk").pose.pan_deg
    assert only.settings[1].pan_deg == 20.0
    assert (only.move.duration_s, only.move.broken_off) == (4.0, None)


def test_a_move_that_arrived_before_its_shot_is_a_held_framing():
    rundown = [
        shot("A", "Crane", 150, cameras={"Studio 1": {"move": "push"}}),
        shot("B", "Studio 1", 50),
    ]
    off_air, only = sheet(build(rundown), "Studio 1").parts
    assert only.move is None and only.settings[0].framing == "window"
    assert off_air.cues[0].move.timecodes == ("10:00:00:00", "10:00:04:00")


def test_a_move_that_another_cue_breaks_off():
    rundown = [
        shot("A", "Studio 1", 75, cameras={"Studio 1": {"move": "push"}}),
        shot("B", "Studio 1", 50, cameras={"Studio 1": {"framing": "desk"}}),
    ]
    first, second = sheet(build(rundown), "Studio 1").shots
    assert first.move.broken_off == 75
    assert second.settings[0].framing == "desk" and not second.moves_on_air
    assert second.next_frame is None, "it is on air already"


def test_off_air_tells_cues_and_only_notes_of_moves():
    rundown = [
        shot("A", "Crane", 50, cameras={"Studio 1": {"framing": "window"}}, note="For somebody else."),
        shot("B", "Crane", 50, cameras={"Studio 1": {"move": "push", "after_s": 1.0}}, note="Écoute !"),
        shot("C", "Crane", 50),
        shot("D", "Studio 1", 50),
    ]
    off_air, only = sheet(build(rundown), "Studio 1").parts
    assert isinstance(off_air, OffAir) and isinstance(only, SheetShot)
    assert off_air.timecodes == ("10:00:00:00", "10:00:05:24")
    assert [(cue.timecode, cue.shot_number, cue.note) for cue in off_air.cues] == [
        ("10:00:00:00", 1, ""),
        ("10:00:02:00", 2, "Écoute !"),
    ]
    assert only.move.timecodes == ("10:00:03:00", "10:00:07:00")


def test_a_camera_without_shots_and_one_that_does_not_exist():
    show = build([shot("A", "Crane", 50)])
    told = sheet(show, "Studio 1")
    assert told.shots == () and told.parts[0].seconds == 2.0
    with pytest.raises(KeyError):
        sheet(show, "Studio 9")


def test_returns_are_late_by_the_cameras_own_delay():
    made = cameras()
    made[1]["delays"] = {"return_frames": 5}
    show = build([shot("A", "Crane", 50)], made, delays={"return_frames": 2})
    assert sheet(show, "Studio 1").return_late_frames == 2
    assert (sheet(show, "Crane").return_late_frames, sheet(show, "Crane").return_late_ms) == (5, 200.0)


def test_warnings_go_to_their_camera_and_shot_faults_first():
    rundown = [shot("A", "Crane", 50), shot("B", "Studio 1", 50), shot("C", "Crane", 50)]
    warnings = [
        SheetWarning("Crane", 3, "compromise", "Three."),
        SheetWarning("Crane", "C", "fault", "Also three."),
        SheetWarning("Crane", "", "fault", "Everywhere."),
        SheetWarning("Crane", 2, "fault", "Off air."),
        SheetWarning("Studio 1", 3, "fault", "Of another."),
    ]
    told = sheet(build(rundown), "Crane", warnings=warnings)
    first, off_air, third = told.parts
    assert first.warnings == ()
    assert [one.sentence for one in off_air.warnings] == ["Off air."]
    assert [one.sentence for one in third.warnings] == ["Also three.", "Three."]
    assert [one.sentence for one in told.warnings] == ["Everywhere."]
    with pytest.raises(ValueError, match="shot 4"):
        sheet(build(rundown), "Crane", warnings=[SheetWarning("Crane", 4, "fault", "Nowhere.")])
