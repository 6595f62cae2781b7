"""Sheets of plans: one moment of the studio, or values over its floor, to scale, as PNG and SVG."""

from __future__ import annotations

import io
import textwrap
from collections.abc import Callable, Sequence
from itertools import pairwise
from typing import TYPE_CHECKING, Any
from xml.sax.saxutils import escape

import numpy as np

from preview.review.floor_layer import (
    CLEAR_COLOR,
    HATCH_COLOR,
    FloorLayer,
    FloorSheet,
    clear_middle_m,
    draw_clear,
    draw_layer,
    draw_limit,
    draw_out_of_reach,
    extent_m,
    mark_nearest,
    mark_now,
    ramp_bar,
    spaced,
)
from preview.review.plan import (
    CAMERA_COLORS,
    FLOOR_COLOR,
    INK,
    LIT_COLOR,
    QUIET,
    StudioPlan,
    draw_axes,
    draw_cameras,
    draw_fixed,
    draw_grounds,
    draw_subject,
    write_names,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

DPI = 110
SCALES = (10, 20, 25, 50, 75, 100, 125, 150, 200, 250, 300, 400, 500, 750, 1000)
"""Scales that rulers have, and those between."""
IN_PER_M = 1 / 0.0254
_PLAN_WIDE_IN, _PLAN_HIGH_IN = 11.0, 9.4
_LEFT_IN, _HEAD_IN, _FOOT_IN, _GAP_IN, _COLUMN_IN, _RIGHT_IN = 0.75, 1.3, 0.7, 0.45, 3.9, 0.3
_SMALLS_WIDE_IN, _SMALLS_HIGH_IN, _SMALL_ROOM_IN = 8.6, 5.9, 0.85
"""Room for all small maps; and above and below each for its title, ticks and ramp."""
_FONT = "DejaVu Sans"


def moment_sheet(plan: StudioPlan, title: str, told: str, facts: Sequence[str] = ()) -> Figure:
    """The studio at one moment: every camera with its wedge, and the wall that its image covers."""
    bounds = plan.bounds_m()
    sheet = Sheet(bounds, title, told)
    axis = sheet.plan_axes()
    draw_grounds(axis, plan)
    draw_fixed(axis, plan)
    draw_cameras(axis, plan.cameras)
    draw_axes(axis, bounds)
    write_names(axis, plan, plan.cameras, 9)
    entries: list[tuple[str, dict[str, Any]]] = []
    for tally, words in (("on air", "on programme"), ("next", "next"), ("off", "off air")):
        if any(camera.tally == tally for camera in plan.cameras):
            look = {"color": CAMERA_COLORS[tally], "linewidth": 4.0 if tally == "on air" else 2.0}
            entries.append((f"camera {words}: view, and frustum on the wall", look))
    sheet.column(_fixed_entries(plan) + entries, facts)
    return sheet.figure


def layer_sheet(floor: FloorSheet, layer: FloorLayer) -> Figure:
    """One layer of a floor map, with the clear zone outlined."""
    bounds = _bounds(floor)
    sheet = Sheet(bounds, f"{floor.title}: {layer.title}", floor.told)
    axis = sheet.plan_axes()
    image = _floor_map(axis, floor, layer, bounds, names=8)
    bar = sheet.column_axes(0.16)
    ramp_bar(bar, image, layer, layer.title)
    sheet.column(_floor_entries(floor, layer) + _fixed_entries(floor.plan), floor.facts)
    return sheet.figure


def overview_sheet(floor: FloorSheet) -> Figure:
    """The clear zone large, every layer small beside it, cut to the places there are."""
    bounds = _bounds(floor)
    left, right, bottom, top = extent_m(floor.x_m, floor.y_m)
    cut = left - 0.2, right + 0.2, bottom - 0.2, top + 0.2
    across, small_wide, small_high = _small_size(
        len(floor.layers), (right - left + 0.4) / (top - bottom + 0.4)
    )
    step = max(small_wide + 0.55, 2.0)
    sheet = Sheet(bounds, f"{floor.title}: where all checks pass", floor.told, max(across * step, 7.4), 9.0)
    layer = floor.speaking_up
    image = _floor_map(sheet.plan_axes(), floor, layer, bounds, names=8)
    for place, one in enumerate(floor.layers):
        row, at = divmod(place, across)
        from_left = sheet.column_left + at * step
        from_top = sheet.head_in + row * (small_high + _SMALL_ROOM_IN) + 0.22
        small = sheet.axes(from_left + 0.2, from_top, small_wide, small_high)
        shown = _floor_map(small, floor, one, cut, names=0)
        small.set_title(one.title, fontsize=8.5, color=INK, loc="left", pad=4)
        bar = sheet.axes(from_left + 0.2, from_top + small_high + 0.27, small_wide, 0.09)
        ramp_bar(bar, shown, one, "", small=True)
    below = sheet.head_in + -(-len(floor.layers) // across) * (small_high + _SMALL_ROOM_IN) + 0.1
    bar = sheet.axes(sheet.column_left + 0.2, below + 0.3, 3.1, 0.14)
    ramp_bar(bar, image, layer, layer.title)
    sheet.column(_floor_entries(floor, None) + _fixed_entries(floor.plan), (), below + 0.85)
    sheet.facts(floor.facts, sheet.column_left + 3.8, below + 0.15, 3.6)
    return sheet.figure


def _small_size(layers: int, shape: float) -> tuple[int, float, float]:
    """How many small maps stand side by side, and their width and height: as large as there is room.

    ``shape`` is width over height.
    """
    best = (1, 0.0, 0.0)
    for across in (2, 3, 4):
        room_high = _SMALLS_HIGH_IN / -(-layers // across) - _SMALL_ROOM_IN
        wide = min(_SMALLS_WIDE_IN / across - 0.55, room_high * shape)
        if wide > best[1] + 1e-9:
            best = (across, wide, wide / shape)
    return best


def as_png(figure: Figure, title: str) -> bytes:
    """A sheet as PNG; the same bytes for the same sheet."""
    png = io.BytesIO()
    figure.savefig(png, format="png", dpi=DPI, metadata={"Title": title, "Software": None})
    return png.getvalue()


def as_svg(figure: Figure, title: str, description: str) -> bytes:
    """A sheet as SVG with its words as text, ``title`` and ``desc``; the same bytes for the same sheet."""
    from matplotlib import rc_context

    svg = io.BytesIO()
    with rc_context({"svg.fonttype": "none", "svg.hashsalt": "preview"}):
        figure.savefig(svg, format="svg", metadata={"Title": title, "Date": None, "Creator": None})
    # Another machine may lack the font; the second is as wide, so nothing runs into anything.
    text = svg.getvalue().decode().replace(f"'{_FONT}'", f"'{_FONT}', Verdana, sans-serif")
    head = f"<title>{escape(title)}</title>"
    if head not in text:
        raise ValueError("the drawing library wrote no title into the SVG")
    return text.replace(head, f"{head}\n <desc>{escape(description)}</desc>", 1).encode()


def _floor_map(
    axis: Axes, floor: FloorSheet, layer: FloorLayer, bounds: tuple[float, float, float, float], names: int
) -> Any:
    """Draw one layer with everything on it; gives back its image. ``names`` is a font size, 0 for none."""
    large = names > 0
    plan = floor.plan
    draw_grounds(axis, plan)
    image = draw_layer(axis, floor.x_m, floor.y_m, layer)
    draw_out_of_reach(axis, floor.x_m, floor.y_m, floor.out_of_reach, large)
    draw_limit(axis, floor.x_m, floor.y_m, layer, large)
    draw_fixed(axis, plan)
    draw_clear(axis, floor.x_m, floor.y_m, floor.clear, large)
    draw_cameras(axis, plan.cameras)
    if plan.subject_m is not None and large:
        draw_subject(axis, plan.subject_m)
    mark_now(axis, floor.now_m, large)
    if floor.nearest_m is not None:
        mark_nearest(axis, floor.now_m, floor.nearest_m, large)
    draw_axes(axis, bounds, labels=large)
    if large:
        labels = write_names(axis, plan, plan.cameras, names)
        if floor.clear.any():
            middle = clear_middle_m(floor.x_m, floor.y_m, floor.clear)
            labels.write(
                middle,
                "clear",
                2,
                fontsize=names + 3,
                fontweight="bold",
                color=CLEAR_COLOR,
            )
        if floor.nearest_m is not None:
            labels.write(floor.nearest_m, "nearest clear place", 9, fontsize=names + 1, fontweight="bold")
    return image


def _bounds(floor: FloorSheet) -> tuple[float, float, float, float]:
    ends = [[floor.x_m[0], floor.y_m[0]], [floor.x_m[-1], floor.y_m[-1]]]
    return floor.plan.bounds_m(np.array(ends))


def _fixed_entries(plan: StudioPlan) -> list[tuple[str, dict[str, Any]]]:
    entries: list[tuple[str, dict[str, Any]]] = [
        ("LED wall, lit side blue", {"color": LIT_COLOR, "linewidth": 2.5})
    ]
    if plan.floors:
        entries.append(("LED floor", {"patch": {"facecolor": FLOOR_COLOR, "edgecolor": LIT_COLOR}}))
    return entries


def _floor_entries(floor: FloorSheet, layer: FloorLayer | None) -> list[tuple[str, dict[str, Any]]]:
    entries: list[tuple[str, dict[str, Any]]] = []
    if floor.clear.any():
        entries.append(("clear zone: all checks pass", {"color": CLEAR_COLOR, "linewidth": 3.0}))
    if layer is not None and layer.limit is not None:
        words = f"limit: {layer.limit:g}{spaced(layer.unit)}"
        entries.append((words, {"color": INK, "linewidth": 1.6, "linestyle": (0, (4, 2))}))
    if floor.out_of_reach.any():
        look = {"facecolor": "white", "edgecolor": HATCH_COLOR, "hatch": "/////", "linewidth": 0.5}
        entries.append(("cannot stand there, or not hold the framing", {"patch": look}))
    ring: dict[str, Any] = {"linestyle": "none", "color": INK}
    entries.append(("where the camera stands now", {**ring, "marker": "o", "markerfacecolor": "white"}))
    if floor.nearest_m is not None:
        entries.append(("nearest clear place", {**ring, "marker": "D", "color": CLEAR_COLOR}))
    if floor.plan.subject_m is not None:
        entries.append(("subject: what the framing is aimed at", {**ring, "marker": "+", "markersize": 9}))
    return entries


class Sheet:
    """A page: title, plan to scale, a column on the right. Places are inches from the top left."""

    def __init__(
        self,
        bounds: tuple[float, float, float, float],
        title: str,
        told: str,
        column_in: float = _COLUMN_IN,
        most_wide_in: float = _PLAN_WIDE_IN,
    ) -> None:
        from matplotlib import rc_context
        from matplotlib.backends.backend_agg import FigureCanvasAgg
        from matplotlib.figure import Figure

        wide_m, high_m = bounds[1] - bounds[0], bounds[3] - bounds[2]
        least = max(wide_m * IN_PER_M / most_wide_in, high_m * IN_PER_M / _PLAN_HIGH_IN)
        self.scale = next((scale for scale in SCALES if scale >= least), int(np.ceil(least / 1000)) * 1000)
        self.wide_in, self.high_in = (length * IN_PER_M / self.scale for length in (wide_m, high_m))
        self.column_left = _LEFT_IN + self.wide_in + _GAP_IN
        self._column_in = column_in
        self._width = self.column_left + column_in + _RIGHT_IN
        lines = textwrap.wrap(told, int((self._width - _LEFT_IN) / 0.098))
        self.head_in = _HEAD_IN + 0.21 * max(0, len(lines) - 2)
        self._height = self.head_in + max(self.high_in, 9.0 if column_in > _COLUMN_IN else 7.2) + _FOOT_IN
        with rc_context({"font.family": _FONT, "hatch.linewidth": 0.6}):
            self.figure = Figure(figsize=(self._width, self._height), dpi=DPI, facecolor="white")
        FigureCanvasAgg(self.figure)
        self._top = self.head_in
        self._text(_LEFT_IN, 0.48, title, fontsize=16, fontweight="bold")
        self._text(_LEFT_IN, 0.78, "\n".join(lines), fontsize=10.5, va="top", linespacing=1.4)

    def axes(self, left: float, top: float, wide: float, high: float) -> Axes:
        """Axes at a place."""
        bottom = 1.0 - (top + high) / self._height
        return self.figure.add_axes((left / self._width, bottom, wide / self._width, high / self._height))

    def plan_axes(self) -> Axes:
        """Axes for the plan, at the sheet's scale."""
        return self.axes(_LEFT_IN, self.head_in, self.wide_in, self.high_in)

    def column_axes(self, high: float) -> Axes:
        """Axes at the head of the column, with room for a title above and ticks below."""
        axis = self.axes(self.column_left, self._top + 0.3, self._column_in - 0.3, high)
        self._top += high + 0.95
        return axis

    def column(
        self, entries: Sequence[tuple[str, dict[str, Any]]], facts: Sequence[str], top: float | None = None
    ) -> None:
        """The legend, the scale and the facts, one below the other."""
        from matplotlib.legend import Legend
        from matplotlib.lines import Line2D
        from matplotlib.patches import Patch

        top = self._top if top is None else top
        handles = [
            Patch(label=words, **look["patch"]) if "patch" in look else Line2D([], [], label=words, **look)
            for words, look in entries
        ]
        corner = (self.column_left / self._width, 1.0 - top / self._height)
        legend: Legend = self.figure.legend(
            handles=handles, loc="upper left", bbox_to_anchor=corner, borderaxespad=0.0, borderpad=0.0,
            frameon=False, fontsize=8.5, labelcolor=INK, handlelength=2.6, labelspacing=0.55,
        )  # fmt: skip
        box = legend.get_window_extent(self.figure.canvas.get_renderer())  # type: ignore[attr-defined]
        at = top + box.height / DPI + 0.35
        self._scale_bar(at)
        self.facts(facts, self.column_left, at + 0.75, self._column_in)

    def facts(self, facts: Sequence[str], left: float, top: float, wide: float) -> None:
        """Lines of text, wrapped to a width."""
        for fact in facts:
            lines = textwrap.wrap(fact, int(wide / 0.083))
            self._text(left, top, "\n".join(lines), fontsize=9, va="top", linespacing=1.4)
            top += 0.175 * len(lines) + 0.1

    def _scale_bar(self, top: float) -> None:
        from matplotlib.lines import Line2D

        metre = IN_PER_M / self.scale
        length = next((m for m in (5, 2, 1) if m * metre <= self._column_in - 1.2), 1)
        y = 1.0 - top / self._height
        for place, (start, end) in enumerate(pairwise(range(length + 1))):
            ends = [(self.column_left + at * metre) / self._width for at in (start, end)]
            color = INK if place % 2 == 0 else "#aeb4bc"
            line = Line2D(ends, [y, y], color=color, linewidth=4, solid_capstyle="butt")
            line.set_transform(self.figure.transFigure)
            self.figure.add_artist(line)
        after = self.column_left + length * metre + 0.1
        self._text(after, top, f"{length} m", fontsize=9, va="center")
        note = f"scale 1:{self.scale} where printed at full size"
        self._text(self.column_left, top + 0.25, note, fontsize=9, va="center", color=QUIET)

    def _text(self, left: float, top: float, words: str, **look: Any) -> None:
        look.setdefault("color", INK)
        self.figure.text(left / self._width, 1.0 - top / self._height, words, **look)


def drawn(draw: Callable[[], Figure]) -> Figure:
    """A sheet drawn with this project's lettering, whatever the machine's own settings say."""
    from matplotlib import rc_context

    with rc_context({"font.family": _FONT, "hatch.linewidth": 0.6}):
        return draw()
