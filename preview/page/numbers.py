"""A plot's numbers: thinned without loss for the script, and as a table for who cannot see the plot."""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass
from itertools import pairwise

from preview.page.model import Line, Plot

MOST_ROWS = 200
"""Rows of a table. More distinct values than this, and each row tells a stretch by its least and greatest."""

_DIGITS = 5


@dataclass(frozen=True)
class NumberTable:
    """Rows of first and last frame and a text a line. ``stretched``: texts are "least to greatest"."""

    columns: tuple[str, ...]
    rows: tuple[tuple[int, int, tuple[str, ...]], ...]
    stretched: bool


def thinned(line: Line) -> tuple[list[int], list[float | None]]:
    """Frames and values without what a straight line between neighbours draws anyway: the middle of runs.

    >>> thinned(Line("", (0, 1, 2, 3), (5.0, 5.0, 5.0, None)))
    ([0, 2, 3], [5.0, 5.0, None])
    """
    values = [None if value is None else float(f"{value:.{_DIGITS}g}") for value in line.values]
    last = len(values) - 1
    keep = [
        index
        for index in range(last + 1)
        if index in (0, last) or values[index] != values[index - 1] or values[index] != values[index + 1]
    ]
    return [line.frames[index] for index in keep], [values[index] for index in keep]


def plot_document(plot: Plot) -> dict[str, object]:
    """What the script needs to draw a plot."""
    lines = []
    for line in plot.lines:
        frames, values = thinned(line)
        lines.append({"label": line.label, "frames": frames, "values": values})
    return {"title": plot.title, "unit": plot.unit, "limit": plot.limit, "lines": lines}


def number_table(plot: Plot) -> NumberTable:
    """The plot as a table: a row for each run of frames without a change, or ``MOST_ROWS`` stretches."""
    columns = tuple(line.label for line in plot.lines)
    at: dict[int, list[float | None]] = {}
    for column, line in enumerate(plot.lines):
        for frame, value in zip(line.frames, line.values, strict=True):
            at.setdefault(frame, [None] * len(columns))[column] = value
    frames = sorted(at)
    if not frames:
        return NumberTable(columns, (), stretched=False)
    starts = [frames[0], *(now for before, now in pairwise(frames) if at[now] != at[before])]
    if len(starts) <= MOST_ROWS:
        ends = [*(_before(frames, start) for start in starts[1:]), frames[-1]]
        rows = tuple(
            (first, last, tuple(_text(value) for value in at[first]))
            for first, last in zip(starts, ends, strict=True)
        )
        return NumberTable(columns, rows, stretched=False)
    size = -(-len(frames) // MOST_ROWS)
    groups = [frames[start : start + size] for start in range(0, len(frames), size)]
    rows = tuple(
        (
            group[0],
            group[-1],
            tuple(_range([at[frame][column] for frame in group]) for column in range(len(columns))),
        )
        for group in groups
    )
    return NumberTable(columns, rows, stretched=True)


def _before(frames: list[int], frame: int) -> int:
    return frames[bisect_left(frames, frame) - 1]


def _text(value: float | None) -> str:
    return "none" if value is None else f"{value:.4g}"


def _range(values: list[float | None]) -> str:
    known = [value for value in values if value is not None]
    if not known:
        return "none"
    least, greatest = _text(min(known)), _text(max(known))
    return least if least == greatest else f"{least} to {greatest}"
