"""Timecode labels and lengths to frame counts and back.

A label is ``HH:MM:SS:FF``; ``;`` before the frames means drop-frame counting, which leaves out the
first labels (two at 29.97, four at 59.94) of every minute that is not a tenth one, so that labels
keep step with the clock. No picture is dropped. Source: SMPTE ST 12-1; the rule is read from public
explanations of it. Common timecode libraries accept the labels that drop-frame counting leaves out;
here they are errors, because no frame carries them.
"""

from __future__ import annotations

import re

from preview.timeline.rate import Rate

_LABEL = re.compile(r"(\d\d):(\d\d):(\d\d)([:;])(\d\d)", re.ASCII)
_SHAPE = "HH:MM:SS:FF"


class TimecodeError(ValueError):
    """A label or length that means nothing. ``found`` says what is wrong, ``fix`` what to write."""

    def __init__(self, found: str, fix: str):
        self.found, self.fix = found, fix
        super().__init__(f"{found}; {fix}")


def day_frames(rate: Rate, drop: bool) -> int:
    """Frames that labels of one 24 h timecode day can name.

    >>> day_frames(Rate("30000/1001"), drop=True)
    2589408
    """
    return 24 * 3600 * rate.nominal - (_dropped(rate) * 9 * 6 * 24 if drop else 0)


def is_drop_frame(label: str) -> bool:
    """True when the label is written with ``;`` before its frames."""
    return ";" in label


def parse_timecode(label: str, rate: Rate) -> int:
    """Frames from 00:00:00:00 to the frame that carries ``label``.

    Raises
    ------
    TimecodeError : malformed, past the day's end, frames the rate has not, ``;`` at a rate without
        drop-frame counting, or a label that drop-frame counting leaves out.

    >>> parse_timecode("00:01:00;02", Rate("30000/1001"))
    1800
    """
    return _count(label, rate, "timecode")


def parse_duration(length: str | float, rate: Rate) -> int:
    """A length as whole frames, at least one.

    A text is ``HH:MM:SS:FF`` and counts frames: it is the label reached after counting that many
    frames from zero. With ``;`` it counts as drop-frame does, so ``00:10:00;00`` is 17982 frames
    (ten minutes by the clock) at 29.97 and ``00:01:00;00`` does not exist; with ``:`` every label
    counts, so ``00:10:00:00`` is 18000 frames. Below one minute the two agree. A number is seconds,
    taken to the nearest frame.

    Raises
    ------
    TimecodeError : as ``parse_timecode``, or the length comes to no frame at all.
    """
    if isinstance(length, str):
        frames = _count(length, rate, "length")
    else:
        if not 0 <= length < float("inf"):
            raise TimecodeError(f"{length} s is not a length", "write seconds above 0")
        frames = rate.nearest_frame(length)
    if frames < 1:
        shown = f'"{length}"' if isinstance(length, str) else f"{length} s"
        raise TimecodeError(
            f"{shown} is shorter than one frame at {rate} frames per second",
            f"write at least 1 frame (00:00:00:01, or {float(1 / rate.fps):.3f} s)",
        )
    return frames


def format_timecode(frame: int, rate: Rate, drop: bool) -> str:
    """Label of the ``frame``-th frame after 00:00:00:00; past 23:59:59 it starts again at zero.

    Raises
    ------
    ValueError : ``drop`` at a rate without drop-frame counting.

    >>> format_timecode(17982, Rate("30000/1001"), drop=True)
    '00:10:00;00'
    """
    if drop and not rate.drop_frame_possible:
        raise ValueError(f"there is no drop-frame counting at {rate} frames per second")
    nominal = rate.nominal
    number = frame % day_frames(rate, drop)
    if drop:
        skip = _dropped(rate)
        minute = 60 * nominal - skip
        tens, rest = divmod(number, 10 * minute + skip)
        number += skip * 9 * tens
        if rest >= minute + skip:
            number += skip * ((rest - skip) // minute)
    seconds, frames = divmod(number, nominal)
    minutes, second = divmod(seconds, 60)
    hour, minute_label = divmod(minutes, 60)
    return f"{hour:02d}:{minute_label:02d}:{second:02d}{';' if drop else ':'}{frames:02d}"


def _dropped(rate: Rate) -> int:
    """Labels left out at the start of a minute: 2 at 29.97, 4 at 59.94."""
    return rate.nominal // 15


def _count(label: str, rate: Rate, what: str) -> int:
    match = _LABEL.fullmatch(label)
    if not match:
        separator = '" or "HH:MM:SS;FF' if rate.drop_frame_possible else ""
        raise TimecodeError(f'"{label}" is not a {what}', f'write two digits each as "{_SHAPE}{separator}"')
    hour, minute, second, frames = (int(match[group]) for group in (1, 2, 3, 5))
    if hour > 23 or minute > 59 or second > 59:
        raise TimecodeError(
            f'"{label}" is not a {what}', "hours run from 00 to 23, minutes and seconds from 00 to 59"
        )
    nominal = rate.nominal
    if frames >= nominal:
        raise TimecodeError(
            f'"{label}" names frame {frames:02d}',
            f"at {rate} frames per second frames run from 00 to {nominal - 1:02d}",
        )
    total = ((hour * 60 + minute) * 60 + second) * nominal + frames
    if match[4] == ":":
        return total
    if not rate.drop_frame_possible:
        raise TimecodeError(
            f'"{label}" asks for drop-frame counting, which {rate} frames per second does not have',
            f'write "{label.replace(";", ":")}"',
        )
    skip, minutes = _dropped(rate), hour * 60 + minute
    if minute % 10 and not second and frames < skip:
        raise TimecodeError(
            f'"{label}" does not exist: drop-frame counting leaves out frames 00 to {skip - 1:02d} here',
            f'write "{label[:-2]}{skip:02d}" for the first frame of this minute',
        )
    return total - skip * (minutes - minutes // 10)
