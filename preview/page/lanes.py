"""The time line: where its boxes and bars stand, in per cent of its length."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from preview.page.labels import GRADE_ORDER, GRADE_WORD, camera_names, timecode
from preview.page.model import Checked, Finding, Frames, PageData, Rate, Shot

DEEPEST = 8
"""Rows of bars a check has at most; bars that find no room lie on the last one, half seen through."""

_TICK_S = (1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600)
_MOST_TICKS = 8


@dataclass(frozen=True)
class Span:
    """A stretch on the time line: ``left`` and ``width`` in per cent."""

    left: float
    width: float


@dataclass(frozen=True)
class Bar:
    """A finding on the time line: its place in the table, its row in the lane, and its stretch."""

    index: int
    finding: Finding
    row: int
    span: Span


@dataclass(frozen=True)
class CheckLane:
    """Where one check speaks up; ``rows`` of bars, one at least."""

    check: Checked
    bars: tuple[Bar, ...]
    rows: int


@dataclass(frozen=True)
class CameraLane:
    """When a camera is on air: ``told`` says it in words."""

    label: str
    spans: tuple[tuple[Span, Shot], ...]


@dataclass(frozen=True)
class TimeLine:
    """Everything on the time line. ``ticks`` are places in per cent with their timecodes."""

    shots: tuple[tuple[Span, Shot], ...]
    cameras: tuple[CameraLane, ...]
    checks: tuple[CheckLane, ...]
    ticks: tuple[tuple[float, str], ...]


def time_line(data: PageData) -> TimeLine:
    """The page's time line: shots, cameras on air, a lane for each check that speaks up, faults on top."""
    shots = tuple((span(shot.frames, data.frames), shot) for shot in data.shots)
    names = camera_names(data.cameras)
    cameras = tuple(
        CameraLane(
            names[camera.name], tuple((place, shot) for place, shot in shots if shot.camera == camera.name)
        )
        for camera in data.cameras
    )
    told = [(index, finding) for index, finding in enumerate(data.findings) if finding.grade != "fine"]
    lanes = []
    for check in data.checks:
        bars, rows = _packed([entry for entry in told if entry[1].check == check.name], data.frames)
        if bars:
            lanes.append(CheckLane(check, bars, rows))
    lanes.sort(key=lambda lane: min(GRADE_ORDER.index(bar.finding.grade) for bar in lane.bars))
    return TimeLine(shots, cameras, tuple(lanes), _ticks(data.frames, data.rate))


def span(frames: Frames, whole: Frames) -> Span:
    """Where ``frames`` lie in ``whole``, cut to it; both with their last frame.

    >>> span((25, 49), (0, 99))
    Span(left=25.0, width=25.0)
    """
    total = whole[1] - whole[0] + 1
    first = min(max(frames[0], whole[0]), whole[1])
    last = max(min(frames[1], whole[1]), first)
    return Span(round(100 * (first - whole[0]) / total, 5), round(100 * (last - first + 1) / total, 5))


def bar_words(finding: Finding) -> str:
    """What a bar says to a pointer that rests on it."""
    return f"{GRADE_WORD[finding.grade]}, {finding.check}, {finding.timecodes[0]}: {finding.sentence}"


def _packed(told: Sequence[tuple[int, Finding]], whole: Frames) -> tuple[tuple[Bar, ...], int]:
    """Bars in rows so that none hides another, as long as there are rows."""
    ends: list[int] = []
    bars = []
    gap = max(1, (whole[1] - whole[0]) // 400)  # narrow bars are drawn wider than they last
    for index, finding in sorted(told, key=lambda entry: (entry[1].frames, entry[0])):
        row = next((row for row, end in enumerate(ends) if end < finding.frames[0]), len(ends))
        end = max(finding.frames[1], finding.frames[0] + gap)
        if row == len(ends) and row < DEEPEST:
            ends.append(end)
        row = min(row, DEEPEST - 1)
        ends[row] = max(ends[row], end)
        bars.append(Bar(index, finding, row, span(finding.frames, whole)))
    return tuple(bars), max(1, len(ends))


def _ticks(frames: Frames, rate: Rate) -> tuple[tuple[float, str], ...]:
    """Labels at whole seconds, few enough to stand beside each other."""
    total = frames[1] - frames[0] + 1
    seconds = total * rate.denominator / rate.numerator
    step_s = next((step for step in _TICK_S if seconds / step <= _MOST_TICKS), 7200)
    places = range(frames[0], frames[1] + 1, step_s * rate.nominal)
    return tuple((round(100 * (frame - frames[0]) / total, 4), timecode(frame, rate)) for frame in places)
