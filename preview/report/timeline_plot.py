"""A check's curves over the rundown as one picture: limits drawn, shots shaded and named."""

from __future__ import annotations

import io
from collections.abc import Sequence
from itertools import count
from typing import TYPE_CHECKING

import numpy as np

from preview.checks.registry import Curve
from preview.report.rundown_page import ShotBox

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_LOOKS = (
    ("#0072B2", "-"), ("#D55E00", "--"), ("#009E73", "-."), ("#CC79A7", ":"), ("#56B4E9", "-"),
    ("#000000", "--"), ("#E69F00", "-."),
)  # fmt: skip
"""Okabe and Ito, "Color Universal Design", 2008, palette; line styles say the same again."""
_LIMIT = "#B3261E"
_SHADE = "#eceef1"
_WIDE_IN, _HIGH_IN, _DPI = 14.4, 2.9, 100
_LEAST_NAMED_IN = 0.24
"""Shots closer together than this on the plot are not named one by one."""


def curves_png(
    curves: Sequence[Curve],
    shots: Sequence[ShotBox],
    frames: tuple[int, int],
    ticks: Sequence[tuple[int, str]],
    title: str,
    cameras: Sequence[str] = (),
) -> bytes:
    """Curves below each other over one time axis, as a PNG.

    Parameters
    ----------
    curves : at least one
    shots : in running order
    frames : first and last frame shown
    ticks : (frame, timecode) along the axis
    title : what is plotted
    cameras : names of lines that look alike on every plot of a show, in order
    """
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure(figsize=(_WIDE_IN, 1.5 + _HIGH_IN * len(curves)), dpi=_DPI, layout="constrained")
    FigureCanvasAgg(figure)
    rows = figure.subplots(len(curves), 1, sharex=True, squeeze=False)[:, 0]
    for axis, curve in zip(rows, curves, strict=True):
        _draw(axis, curve, cameras)
        axis.spines[["top", "right"]].set_visible(False)
        axis.grid(axis="y", color="#d0d3d8", linewidth=0.6)
        axis.set_axisbelow(True)
        for shot in shots[1::2]:
            axis.axvspan(shot.first - 0.5, shot.last + 0.5, color=_SHADE, linewidth=0, zorder=0)
    first, last = frames
    rows[-1].set_xlim(first - 0.5, max(last, first + 1) + 0.5)
    rows[-1].set_xticks([frame for frame, _ in ticks], [timecode for _, timecode in ticks])
    rows[-1].set_xlabel("timecode")
    _name_shots(rows[0], shots, frames)
    figure.suptitle(title, x=0.01, ha="left", fontsize=13, fontweight="bold")
    png = io.BytesIO()
    figure.savefig(png, format="png", metadata={"Title": title})
    return png.getvalue()


def _draw(axis: Axes, curve: Curve, cameras: Sequence[str]) -> None:
    place = {name: number for number, name in enumerate(cameras)}
    order = sorted(curve.values, key=lambda name: place.get(name, len(cameras)))
    # A line that is no camera's takes a look that no camera has.
    others = count(len(cameras) if place.keys() & set(order) else 0)
    frames = np.asarray(curve.frames, dtype=float)
    lowest = highest = curve.limit
    for name in order:
        color, style = _LOOKS[(place[name] if name in place else next(others)) % len(_LOOKS)]
        heights = np.asarray(curve.values[name], dtype=float)
        axis.plot(frames, heights, color=color, linestyle=style, linewidth=1.7, label=name)
        known = np.isfinite(heights)
        alone = known & ~np.r_[False, known[:-1]] & ~np.r_[known[1:], False]
        axis.plot(frames[alone], heights[alone], color=color, marker="o", markersize=3.5, linestyle="")
        if known.any():
            low, high = float(heights[known].min()), float(heights[known].max())
            lowest = low if lowest is None else min(lowest, low)
            highest = high if highest is None else max(highest, high)
    if lowest is not None and highest is not None:
        axis.set_ylim(*_room(lowest, highest))
    unit = f" ({curve.unit})" if curve.unit else ""
    axis.set_title(curve.title + unit, loc="left", fontsize=10.5, pad=4)
    if curve.limit is not None:
        bottom, top = axis.get_ylim()
        ends = (curve.limit, top) if curve.limit_is == "below" else (bottom, curve.limit)
        # Where all but nothing is past the limit, or everything, a tint says no more than the line.
        if 0.05 * (top - bottom) < ends[1] - ends[0] < 0.95 * (top - bottom):
            axis.axhspan(*ends, color=_LIMIT, alpha=0.07, linewidth=0, zorder=1)
        word = "at most" if curve.limit_is == "below" else "at least"
        axis.axhline(
            curve.limit, color=_LIMIT, linewidth=1.3, linestyle=(0, (6, 3)),
            label=f"limit: {word} {curve.limit:g} {curve.unit}".rstrip(),
        )  # fmt: skip
    handles, names = axis.get_legend_handles_labels()
    if handles:
        axis.legend(handles, names, loc="upper left", bbox_to_anchor=(1.005, 1.02), frameon=False, fontsize=9)


def _room(lowest: float, highest: float) -> tuple[float, float]:
    """Ends of the axis: from zero where zero is not far, and lines at the ends stand clear of the frame."""
    if lowest == highest == 0.0:
        return -0.04, 1.0
    bottom = 0.0 if 0.0 <= lowest < 0.25 * highest else lowest
    room = 0.08 * (highest - bottom) or 0.1 * abs(highest)
    return bottom - room / 2, highest + room


def _name_shots(axis: Axes, shots: Sequence[ShotBox], frames: tuple[int, int]) -> None:
    """Names over the topmost axis, slanted; where shots are too close, every second, third ..."""
    first, last = frames
    inside = [shot for shot in shots if shot.last >= first and shot.first <= last]
    step_in = (_WIDE_IN - 3.0) / max(1, len(inside))
    every = max(1, int(np.ceil(_LEAST_NAMED_IN / step_in)))
    for shot in inside[::every]:
        middle = (max(shot.first, first) + min(shot.last, last)) / 2
        axis.annotate(
            f"{shot.number} {shot.name}", (middle, 1.0), xycoords=("data", "axes fraction"), xytext=(0, 20),
            textcoords="offset points", rotation=28, ha="left", va="bottom", fontsize=8.5, color="#33373d",
        )  # fmt: skip
