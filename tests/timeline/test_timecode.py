"""Labels and lengths: what is refused, in which words, and round trips at every rate."""

from __future__ import annotations

from fractions import Fraction
from typing import get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st

from preview.show.model import FrameRate
from preview.timeline.rate import Rate
from preview.timeline.timecode import (
    TimecodeError,
    day_frames,
    format_timecode,
    is_drop_frame,
    parse_duration,
    parse_timecode,
)

RATES = get_args(FrameRate)
COUNTS = [(Rate(text), False) for text in RATES] + [
    (Rate(text), True) for text in RATES if Rate(text).drop_frame_possible
]


@given(count=st.sampled_from(COUNTS), frame=st.integers(min_value=-(10**7), max_value=10**8))
def test_a_frame_survives_its_label_on_every_rate(count: tuple[Rate, bool], frame: int) -> None:
    rate, drop = count
    label = format_timecode(frame, rate, drop)
    assert is_drop_frame(label) == drop
    assert parse_timecode(label, rate) == frame % day_frames(rate, drop)


@given(count=st.sampled_from(COUNTS), frame=st.integers(min_value=0, max_value=10**7))
def test_labels_of_neighbouring_frames_rise(count: tuple[Rate, bool], frame: int) -> None:
    rate, drop = count
    frame %= day_frames(rate, drop) - 1
    assert format_timecode(frame, rate, drop) < format_timecode(frame + 1, rate, drop)


def test_every_rate_of_the_show_file_is_exact() -> None:
    assert [(Rate(text).fps, Rate(text).nominal) for text in RATES] == [
        (Fraction(24), 24),
        (Fraction(24000, 1001), 24),
        (Fraction(25), 25),
        (Fraction(30), 30),
        (Fraction(30000, 1001), 30),
        (Fraction(48), 48),
        (Fraction(48000, 1001), 48),
        (Fraction(50), 50),
        (Fraction(60), 60),
        (Fraction(60000, 1001), 60),
    ]
    assert [text for text in RATES if Rate(text).drop_frame_possible] == ["30000/1001", "60000/1001"]


@pytest.mark.parametrize("text", ["", "25 fps", "0", "-25", "1/0"])
def test_what_is_no_rate_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match="not a frame rate"):
        Rate(text)


@pytest.mark.parametrize(
    ("label", "rate", "found"),
    [
        ("10:00:00", "25", "not a timecode"),
        ("10:00:00.00", "25", "not a timecode"),
        ("1:00:00:00", "25", "not a timecode"),
        (" 10:00:00:00", "25", "not a timecode"),
        ("10:00:00:00\n", "25", "not a timecode"),
        ("１０:00:00:00", "25", "not a timecode"),
        ("-1:00:00:00", "25", "not a timecode"),
        ("24:00:00:00", "25", "hours run from 00 to 23"),
        ("10:60:00:00", "25", "minutes and seconds from 00 to 59"),
        ("10:00:60:00", "25", "minutes and seconds from 00 to 59"),
        ("10:00:00:25", "25", "frames run from 00 to 24"),
        ("10:00:00:24", "24000/1001", "frames run from 00 to 23"),
        ("10:00:00:60", "60000/1001", "frames run from 00 to 59"),
        ("10:00:00;00", "25", 'write "10:00:00:00"'),
        ("10:00:00;00", "24000/1001", "does not have"),
        ("10:01:00;01", "30000/1001", 'write "10:01:00;02"'),
        ("10:01:00;03", "60000/1001", 'write "10:01:00;04"'),
    ],
)
def test_bad_labels_are_refused_with_a_sentence(label: str, rate: str, found: str) -> None:
    with pytest.raises(TimecodeError) as caught:
        parse_timecode(label, Rate(rate))
    assert found in str(caught.value)
    assert str(caught.value) == f"{caught.value.found}; {caught.value.fix}"


def test_the_suggested_label_is_a_good_one() -> None:
    rate = Rate("60000/1001")
    with pytest.raises(TimecodeError) as caught:
        parse_timecode("10:01:00;03", rate)
    suggestion = caught.value.fix.split('"')[1]
    assert parse_timecode(suggestion, rate) == parse_timecode("10:00:59;59", rate) + 1


def test_the_day_starts_again_at_midnight() -> None:
    rate = Rate("30000/1001")
    last = parse_timecode("23:59:59;29", rate)
    assert format_timecode(last + 1, rate, drop=True) == "00:00:00;00"
    assert format_timecode(-1, rate, drop=True) == "23:59:59;29"
    assert format_timecode(24 * 3600 * 25, Rate("25"), drop=False) == "00:00:00:00"


def test_drop_frame_is_not_written_at_a_rate_without_it() -> None:
    with pytest.raises(ValueError, match="no drop-frame counting at 25"):
        format_timecode(0, Rate("25"), drop=True)


@pytest.mark.parametrize(
    ("length", "rate", "frames"),
    [
        ("00:00:04:00", "25", 100),
        ("00:01:00:10", "50", 3010),
        # At drop-frame rates the separator decides. Below a minute nothing is left out yet.
        ("00:00:59:29", "30000/1001", 1799),
        ("00:00:59;29", "30000/1001", 1799),
        ("00:10:00;00", "30000/1001", 17982),
        ("00:10:00:00", "30000/1001", 18000),
        ("00:10:00;00", "60000/1001", 35964),
        # Seconds go to the nearest frame, halves up, as the decimal that is written.
        (4, "25", 100),
        (4.0, "30000/1001", 120),
        (0.3, "25", 8),
        (0.1, "25", 3),
        (0.0999, "25", 2),
        (10.01, "30000/1001", 300),
        (0.02, "25", 1),
    ],
)
def test_lengths_in_frames(length: str | float, rate: str, frames: int) -> None:
    assert parse_duration(length, Rate(rate)) == frames


@pytest.mark.parametrize("length", ["00:00:00:00", 0.0, 0.019])
def test_a_length_of_no_frame_is_refused(length: str | float) -> None:
    with pytest.raises(TimecodeError, match="shorter than one frame at 25"):
        parse_duration(length, Rate("25"))


@pytest.mark.parametrize("length", [-1.0, float("nan"), float("inf")])
def test_what_is_no_number_of_seconds_is_refused(length: float) -> None:
    with pytest.raises(TimecodeError, match="not a length"):
        parse_duration(length, Rate("25"))


def test_a_drop_frame_length_that_does_not_exist_is_refused() -> None:
    with pytest.raises(TimecodeError, match='write "00:01:00;02"'):
        parse_duration("00:01:00;00", Rate("30000/1001"))


@given(
    rate=st.sampled_from([Rate(text) for text in RATES]),
    frame=st.integers(min_value=0, max_value=10**6),
)
def test_a_frame_is_nearest_to_its_own_time(rate: Rate, frame: int) -> None:
    assert rate.nearest_frame(rate.seconds(frame)) == frame
    assert rate.nearest_frame(float(rate.seconds(frame))) == frame
