"""Timecode against published drop-frame labels and two timecode libraries.

Sources: SMPTE ST 12-1 as explained in public texts (labels 00 and 01, at 59.94 00 to 03, are left out
every minute except each tenth); OpenTimelineIO; the Python package ``timecode``.
"""

from __future__ import annotations

import opentimelineio as otio
import pytest
from timecode import Timecode

from preview.timeline.rate import Rate
from preview.timeline.timecode import day_frames, format_timecode, parse_timecode

NTSC_30, NTSC_60 = Rate("30000/1001"), Rate("60000/1001")

# Worked by hand from the rule: 1798 frames a minute, 17982 in ten minutes, 107892 an hour.
LABELS_29_97 = [
    (0, "00:00:00;00"),
    (1799, "00:00:59;29"),
    (1800, "00:01:00;02"),
    (3597, "00:01:59;29"),
    (3598, "00:02:00;02"),
    (17981, "00:09:59;29"),
    (17982, "00:10:00;00"),
    (19782, "00:11:00;02"),
    (107892, "01:00:00;00"),
    (2589407, "23:59:59;29"),
]
LABELS_59_94 = [
    (3599, "00:00:59;59"),
    (3600, "00:01:00;04"),
    (35964, "00:10:00;00"),
    (215784, "01:00:00;00"),
    (5178815, "23:59:59;59"),
]


@pytest.mark.parametrize(("frame", "label"), LABELS_29_97)
def test_drop_frame_table_at_29_97(frame: int, label: str) -> None:
    assert format_timecode(frame, NTSC_30, drop=True) == label
    assert parse_timecode(label, NTSC_30) == frame


@pytest.mark.parametrize(("frame", "label"), LABELS_59_94)
def test_drop_frame_table_at_59_94(frame: int, label: str) -> None:
    assert format_timecode(frame, NTSC_60, drop=True) == label
    assert parse_timecode(label, NTSC_60) == frame


def test_published_label_succession() -> None:
    # A published example of the rule: 01:04:59;29 is followed by 01:05:00;02.
    frame = parse_timecode("01:04:59;29", NTSC_30)
    assert format_timecode(frame + 1, NTSC_30, drop=True) == "01:05:00;02"


def test_published_labels_left_out_an_hour() -> None:
    # Published: 108 labels an hour at 29.97. Twice that at 59.94 follows from the doubled rate.
    assert 3600 * 30 - parse_timecode("01:00:00;00", NTSC_30) == 108
    assert 3600 * 60 - parse_timecode("01:00:00;00", NTSC_60) == 216


def test_drop_frame_day_runs_86_4_ms_short_of_the_clock() -> None:
    # Published clock error of drop-frame counting: 3.6 ms an hour, 86.4 ms a day.
    hour = float(NTSC_30.seconds(parse_timecode("01:00:00;00", NTSC_30)))
    day = float(NTSC_30.seconds(day_frames(NTSC_30, drop=True)))
    assert hour == pytest.approx(3600 - 0.0036, abs=1e-9)
    assert day == pytest.approx(86400 - 0.0864, abs=1e-9)


def test_non_drop_hour_runs_3_6_s_long() -> None:
    # Published: an hour of non-drop labels at 24000/1001 or 30000/1001 lasts 3603.6 s.
    for rate in (Rate("24000/1001"), NTSC_30):
        assert float(rate.seconds(parse_timecode("01:00:00:00", rate))) == pytest.approx(3603.6, abs=1e-9)


@pytest.mark.parametrize("rate", [NTSC_30, NTSC_60], ids=str)
def test_drop_frame_labels_equal_opentimelineio_all_day(rate: Rate) -> None:
    fps = float(rate.fps)
    for frame in range(0, day_frames(rate, drop=True), 997):
        label = otio.opentime.RationalTime(frame, fps).to_timecode(fps, drop_frame=True)
        assert format_timecode(frame, rate, drop=True) == label
        assert parse_timecode(label, rate) == frame


@pytest.mark.parametrize("text", ["24", "25", "30", "50", "60"])
def test_plain_labels_equal_opentimelineio(text: str) -> None:
    rate = Rate(text)
    for frame in range(0, day_frames(rate, drop=False), 9973):
        label = otio.opentime.RationalTime(frame, float(rate.fps)).to_timecode()
        assert format_timecode(frame, rate, drop=False) == label
        assert parse_timecode(label, rate) == frame


@pytest.mark.parametrize(("name", "rate"), [("29.97", NTSC_30), ("59.94", NTSC_60)], ids=["29.97", "59.94"])
def test_drop_frame_labels_equal_the_timecode_package(name: str, rate: Rate) -> None:
    # The package counts frames from 1.
    for frame in range(0, day_frames(rate, drop=True), 3331):
        assert str(Timecode(name, frames=frame + 1)) == format_timecode(frame, rate, drop=True)


@pytest.mark.parametrize("label", ["00:01:00;00", "00:01:00;01", "10:59:00;01"])
def test_labels_no_frame_carries_are_refused_where_libraries_accept_them(label: str) -> None:
    fps = float(NTSC_30.fps)
    assert otio.opentime.from_timecode(label, fps).value > 0  # accepted there without a word
    with pytest.raises(ValueError, match="does not exist"):
        parse_timecode(label, NTSC_30)


def test_the_tenth_minute_keeps_its_first_labels() -> None:
    assert parse_timecode("00:20:00;00", NTSC_30) + 1 == parse_timecode("00:20:00;01", NTSC_30)
