"""The rundown on one page: shots, who is on programme, and below them where each check speaks up."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from PIL import Image, ImageDraw

from preview.checks.result import Finding, Grade
from preview.report.caption import GRADE_COLOR, GRADE_MEANS, GRADE_WORD, draw_grade
from preview.review.lettering import BAND, PAPER, QUIET, Color, font, wrapped, write

WIDTH_PX = 1920

_PAD, _GUTTER = 28, 250
_LEFT, _RIGHT = _PAD + _GUTTER, WIDTH_PX - _PAD
_LANE, _CAMERA_LANE = 26, 22
_SHOT_HEIGHT = 104
_LEAST_BAR_PX = 6
_LABEL = 15
_LANES = 12
"""More lanes a check than this, and bars lose their labels."""
_FAINT: Color = (58, 62, 68)
_ON: Color = (205, 209, 215)
_TICK_S = (1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200)


@dataclass(frozen=True)
class ShotBox:
    """One shot on the page: number, name, and frames, the last one included."""

    number: int
    name: str
    first: int
    last: int


@dataclass(frozen=True)
class CameraLane:
    """When a camera is on programme: its label, and first and last frames."""

    label: str
    stretches: tuple[tuple[int, int], ...]


@dataclass(frozen=True)
class CheckRow:
    """One check on the page.

    Attributes
    ----------
    name, words : the check and its findings in a few words
    grade : its worst; None when it did not look
    findings : drawn where they are not fine
    """

    name: str
    words: str
    grade: Grade | None
    findings: tuple[Finding, ...]


@dataclass(frozen=True)
class RundownPage:
    """What goes on the page.

    Attributes
    ----------
    title, verdict : its two top lines
    frames : first and last frame looked at
    ticks : (frame, timecode) along the axis
    shots, cameras, rows : from top to bottom
    """

    title: str
    verdict: str
    frames: tuple[int, int]
    ticks: tuple[tuple[int, str], ...]
    shots: tuple[ShotBox, ...]
    cameras: tuple[CameraLane, ...]
    rows: tuple[CheckRow, ...]


def tick_frames(first: int, last: int, frames_per_second: float, most: int = 10) -> list[int]:
    """Frames at whole steps of seconds from ``first`` on, ``most`` at most.

    >>> tick_frames(0, 99, 25.0)
    [0, 25, 50, 75]
    """
    seconds = (last - first + 1) / frames_per_second
    step = next((step for step in _TICK_S if seconds / step <= most), seconds / most)
    count = int(seconds / step) + 1
    frames = [first + round(place * step * frames_per_second) for place in range(count)]
    return [frame for frame in frames if frame <= last][:most]


def draw_rundown(page: RundownPage) -> np.ndarray:
    """The page, WIDTH_PX wide: (h, WIDTH_PX, 3) uint8."""
    scale = Scale(*page.frames)
    lanes = [packed(row.findings, scale) for row in page.rows]
    heights = [max(52, 18 + _LANE * max((bar.lane for bar in one), default=0) + _LANE) for one in lanes]
    shots_top = 128
    cameras_top = shots_top + _SHOT_HEIGHT + 12
    checks_top = cameras_top + _CAMERA_LANE * len(page.cameras) + 22
    bottom = checks_top + sum(heights)
    sheet = Image.new("RGB", (WIDTH_PX, bottom + 56), PAPER)
    _draw_head(sheet, page)
    _draw_shots(sheet, page.shots, scale, shots_top)
    _draw_cameras(sheet, page.cameras, scale, cameras_top)
    pen = ImageDraw.Draw(sheet)
    for shot in page.shots[1:]:
        x = scale.x(shot.first)
        if _LEFT < x < _RIGHT:
            pen.line((x, shots_top, x, bottom), fill=_FAINT)
    y = checks_top
    for row, bars, height in zip(page.rows, lanes, heights, strict=True):
        _draw_row(sheet, row, bars, scale, y, height)
        y += height
    pen.line((_LEFT, bottom, _RIGHT, bottom), fill=QUIET, width=2)
    for frame, timecode in page.ticks:
        x = scale.x(frame)
        pen.line((x, bottom, x, bottom + 8), fill=QUIET, width=2)
        anchor = "ls" if x < _LEFT + 60 else "rs" if x > _RIGHT - 60 else "ms"
        write(sheet, timecode, (x, bottom + 32), 17, room_px=160, color=QUIET, anchor=anchor)
    return np.asarray(sheet)


class Scale:
    """Frames to pixels across the page."""

    def __init__(self, first: int, last: int) -> None:
        self.first, self.last = first, last
        self._step = (_RIGHT - _LEFT) / (last - first + 1)

    def x(self, frame: float) -> float:
        """Left side of a frame, kept on the page."""
        frame = min(max(frame, self.first), self.last + 1)
        return _LEFT + (frame - self.first) * self._step

    def span(self, first: int, last: int) -> tuple[float, float]:
        """Both sides of a stretch, wide enough to be seen."""
        left, right = self.x(first), self.x(last + 1)
        if right - left < _LEAST_BAR_PX:
            middle = (left + right) / 2
            left = min(max(_LEFT, middle - _LEAST_BAR_PX / 2), _RIGHT - _LEAST_BAR_PX)
            right = left + _LEAST_BAR_PX
        return left, right


Label = Literal["inside", "after", "before", "none"]


@dataclass(frozen=True)
class Bar:
    """A finding, its sides on the page, its lane, and where its cameras' names stand."""

    finding: Finding
    left: float
    right: float
    lane: int
    label: Label


def packed(findings: Sequence[Finding], scale: Scale) -> list[Bar]:
    """What is not fine, packed into lanes so that neither bars nor labels lie over each other."""
    told = sorted((f for f in findings if f.grade != "fine"), key=lambda f: (f.frames, f.cameras))
    bars: list[Bar] = []
    for beside in (True, False):
        bars, ends = [], list[float]()
        for finding in told:
            left, right = scale.span(*finding.frames)
            wide = font(_LABEL, bold=True).getlength(_who(finding)) + 20
            label: Label = "inside" if wide <= right - left else "none"
            if beside and label == "none":
                label = "after" if right + wide <= WIDTH_PX - 6 else "before"
            start = left - wide if label == "before" else left
            end = right + wide if label == "after" else right
            lane = next((place for place, taken in enumerate(ends) if taken + 3 <= start), len(ends))
            ends[lane : lane + 1] = [end]
            bars.append(Bar(finding, left, right, lane, label))
        if len(ends) <= _LANES:
            break
    return bars


def _who(finding: Finding) -> str:
    return ", ".join(finding.cameras)


def _draw_head(sheet: Image.Image, page: RundownPage) -> None:
    room = WIDTH_PX - 2 * _PAD
    write(sheet, page.title, (_PAD, 40), 26, room_px=room, bold=True)
    write(sheet, page.verdict, (_PAD, 74), 19, room_px=room)
    x = float(_PAD)
    for grade, words in GRADE_MEANS.items():
        draw_grade(sheet, grade, (x, 100), 18)
        x += 28 + write(sheet, f"{GRADE_WORD[grade]}: {words}", (x + 28, 107), 17, room_px=600, color=QUIET)
        x += 36
    pen = ImageDraw.Draw(sheet)
    pen.line((x, 100, x + 34, 100), fill=QUIET, width=3)
    for end in (x, x + 34):
        pen.line((end, 94, end, 106), fill=QUIET, width=3)
    x += 44
    write(sheet, "at times, over several shots", (x, 107), 17, room_px=_RIGHT - x, color=QUIET)


def _draw_shots(sheet: Image.Image, shots: Sequence[ShotBox], scale: Scale, top: int) -> None:
    pen = ImageDraw.Draw(sheet)
    write(sheet, "Shots", (_PAD, top + 26), 19, room_px=_GUTTER - 16, bold=True)
    for place, shot in enumerate(shots):
        left, right = scale.x(shot.first), scale.x(shot.last + 1)
        pen.rectangle((left, top, right, top + _SHOT_HEIGHT), fill=BAND if place % 2 else _FAINT)
        room = right - left - 10
        if room < font(17, bold=True).getlength(str(shot.number)):
            continue
        write(sheet, str(shot.number), (left + 5, top + 24), 17, room_px=room, bold=True)
        if room < 40:
            continue
        for line, words in enumerate(wrapped(shot.name, room, 14)[:3]):
            write(sheet, words, (left + 5, top + 48 + 20 * line), 14, room_px=room)


def _draw_cameras(sheet: Image.Image, cameras: Sequence[CameraLane], scale: Scale, top: int) -> None:
    pen = ImageDraw.Draw(sheet)
    write(sheet, "On air", (_PAD, top + 18), 19, room_px=90, bold=True)
    for place, camera in enumerate(cameras):
        y = top + place * _CAMERA_LANE
        write(sheet, camera.label, (_LEFT - 14, y + 17), 16, room_px=_GUTTER - 110, color=QUIET, anchor="rs")
        pen.line((_LEFT, y + _CAMERA_LANE / 2, _RIGHT, y + _CAMERA_LANE / 2), fill=_FAINT)
        for first, last in camera.stretches:
            if last < scale.first or first > scale.last:
                continue
            left, right = scale.span(first, last)
            pen.rectangle((left, y + 4, right - 1, y + _CAMERA_LANE - 4), fill=_ON)


def _draw_row(
    sheet: Image.Image, row: CheckRow, bars: Sequence[Bar], scale: Scale, top: int, height: int
) -> None:
    pen = ImageDraw.Draw(sheet)
    pen.line((_PAD, top, _RIGHT, top), fill=_FAINT)
    if row.grade is not None:
        draw_grade(sheet, row.grade, (_PAD, top + 18), 17)
    write(sheet, row.name, (_PAD + 27, top + 24), 18, room_px=_GUTTER - 40, bold=True)
    write(sheet, row.words, (_PAD + 27, top + 44), 14, room_px=_GUTTER - 36, color=QUIET)
    middle = top + height / 2
    if row.grade is None:
        pen.line((_LEFT, middle, _RIGHT, middle), fill=_FAINT)
    elif not bars:
        left, right = scale.x(scale.first), scale.x(scale.last + 1)
        pen.line((left, middle, right, middle), fill=GRADE_COLOR["fine"], width=3)
    for bar in bars:
        _draw_bar(sheet, bar, top + 10 + bar.lane * _LANE)


def _draw_bar(sheet: Image.Image, bar: Bar, top: float) -> None:
    """Faults are full, compromises are outlined and hatched; over several shots they are slim."""
    pen, color = ImageDraw.Draw(sheet), GRADE_COLOR[bar.finding.grade]
    left, right, bottom = bar.left, bar.right - 1, top + _LANE - 6
    if not bar.finding.shot:
        _draw_slim(sheet, bar, (top + bottom) / 2)
        return
    fault = bar.finding.grade == "fault"
    pen.rectangle((left, top, right, bottom), fill=color if fault else PAPER)
    if not fault:
        high, dim = bottom - top, (color[0] // 2, color[1] // 2, color[2] // 2)
        for start in np.arange(left - high, right, 9.0):
            ends = [(x, bottom - (x - start)) for x in (max(left, start), min(right, start + high))]
            pen.line((*ends[0], *ends[1]), fill=dim, width=2)
        pen.rectangle((left, top, right, bottom), outline=color, width=2)
    who, base = _who(bar.finding), bottom - 4
    if bar.label in ("after", "before"):
        x, anchor = (right + 6, "ls") if bar.label == "after" else (left - 6, "rs")
        write(sheet, who, (x, base), _LABEL, room_px=_RIGHT - _LEFT, bold=True, color=color, anchor=anchor)
    elif bar.label == "inside":
        if not fault:
            wide = font(_LABEL, bold=True).getlength(who)
            pen.rectangle((left + 3, top + 2, left + 8 + wide, bottom - 2), fill=PAPER)
        ink = PAPER if fault else color
        write(sheet, who, (left + 6, base), _LABEL, room_px=right - left - 8, bold=True, color=ink)


def _draw_slim(sheet: Image.Image, bar: Bar, middle: float) -> None:
    pen, color = ImageDraw.Draw(sheet), GRADE_COLOR[bar.finding.grade]
    left, right = bar.left, bar.right - 1
    pen.line((left, middle, right, middle), fill=color, width=3)
    for x in (left, right):
        pen.line((x, middle - 6, x, middle + 6), fill=color, width=3)
    if bar.label == "none":
        return
    anchors = {"inside": (left + 10, "lm"), "after": (right + 6, "lm"), "before": (left - 6, "rm")}
    x, anchor = anchors[bar.label]
    who = _who(bar.finding)
    if bar.label == "inside":
        wide = font(_LABEL, bold=True).getlength(who)
        pen.rectangle((x - 4, middle - 8, x + wide + 4, middle + 8), fill=PAPER)
    write(sheet, who, (x, middle), _LABEL, room_px=_RIGHT - _LEFT, bold=True, color=color, anchor=anchor)
