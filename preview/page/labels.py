"""Words, timecodes and addresses as the page writes them."""

from __future__ import annotations

from collections.abc import Sequence
from urllib.parse import quote

from preview.checks.result import Grade
from preview.page.model import Camera, Rate
from preview.timeline import rate as timeline_rate
from preview.timeline.timecode import format_timecode

GRADE_WORD: dict[Grade, str] = {"fault": "Fault", "compromise": "Compromise", "fine": "Fine"}
GRADE_MEANS: dict[Grade, str] = {
    "fault": "would be seen, and can be put right",
    "compromise": "is seen, and this set-up cannot avoid it",
    "fine": "looked at, and right",
}
GRADE_ORDER: tuple[Grade, ...] = ("fault", "compromise", "fine")


def timecode(frame: int, rate: Rate) -> str:
    """Label of a frame that counts from the rundown's first.

    >>> timecode(2, Rate(30000, 1001, 30, True, "00:00:59;28", 1798))
    '00:01:00;02'
    """
    exact = timeline_rate.Rate(f"{rate.numerator}/{rate.denominator}")
    return format_timecode(rate.first_count + frame, exact, rate.drop_frame)


def length(frames: int, rate: Rate) -> str:
    """How long a stretch lasts, in seconds by the clock.

    >>> length(1500, Rate(25, 1, 25, False, "10:00:00:00", 900000)), length(3, Rate(25, 1, 25, False, "", 0))
    ('1 min 0 s', '0.12 s')
    """
    seconds = frames * rate.denominator / rate.numerator
    if seconds < 1:
        return f"{seconds:.2f} s"
    if seconds < 60:
        return f"{seconds:.1f} s"
    hours, rest = divmod(round(seconds), 3600)
    minutes, left = divmod(rest, 60)
    return f"{hours} h {minutes} min" if hours else f"{minutes} min {left} s"


def address(file: str) -> str:
    """The address of a file beside the page: no character of its name means anything but itself.

    >>> address("stills/50 % #1.png"), address("javascript:x")
    ('stills/50%20%25%20%231.png', 'javascript%3Ax')
    """
    return quote(file, safe="/")


def count(number: int, one: str, many: str = "") -> str:
    """
    >>> count(1, "fault"), count(0, "fault"), count(2, "compromise")
    ('1 fault', 'no faults', '2 compromises')
    """
    return f"{number or 'no'} {one if number == 1 else many or one + 's'}"


def camera_names(cameras: Sequence[Camera]) -> dict[str, str]:
    """What the page calls each camera: its number, then its name."""
    return {camera.name: f"{camera.number} {camera.name}" for camera in cameras}


def anchor(kind: str, number: int) -> str:
    """The id of a shot or a camera on the page."""
    return f"{kind}-{number}"
