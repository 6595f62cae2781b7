"""A studio seen from above, drawn to scale: LED surfaces, set, people, cameras and what they see.

Everything comes as plain values in stage metres, X to the right and Y up the page: the cameras stand at the
bottom and look up at the wall. Outlines are (n, 2); pan and facing are degrees, 0 up the page, positive to
the left.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from math import cos, radians, sin
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from preview.conventions import Array

if TYPE_CHECKING:
    from matplotlib.axes import Axes

WALL_THICKNESS_M = 0.12
"""How thick walls are drawn, behind their lit side: a sign, not a measure."""
MARGIN_M = 0.5
"""Round what is drawn."""

INK, QUIET, FAINT = "#1d2025", "#5a616b", "#c9ced6"
WALL_COLOR, LIT_COLOR, FLOOR_COLOR, SET_COLOR, PEOPLE_COLOR = (
    "#2b3036", "#0072B2", "#e3ecf2", "#d8c9ae", "#f4efe6",
)  # fmt: skip
CAMERA_COLORS = {"on air": "#D55E00", "next": "#009E73", "off": "#7d848d"}
"""Okabe and Ito, "Color universal design" (2008), from memory; number and line width say the same again."""
PART_COLORS = {"operator": "#b9bec6", "stand": "#d3d7dd", "arm": "#8b929c", "camera": "#2b3036"}

Tally = Literal["on air", "next", "off"]
Across = Literal["left", "center", "right"]
Upright = Literal["bottom", "center", "top"]


@dataclass(frozen=True, eq=False)
class PlanWall:
    """An LED wall: what stands upright of it.

    Attributes
    ----------
    name : of the surface
    lines : (k, 2, 2) built facets seen from above
    behind : (k, 2) unit vectors towards each one's back
    """

    name: str
    lines: Array
    behind: Array


@dataclass(frozen=True, eq=False)
class PlanArea:
    """Something that covers floor: an LED floor, a ceiling, a set piece.

    Attributes
    ----------
    name : as the show file has it
    outlines : closed outlines, (n, 2) each
    """

    name: str
    outlines: tuple[Array, ...]


@dataclass(frozen=True)
class PlanPerson:
    """A person on the set: name, place and facing (0 up the page, positive to the left)."""

    name: str
    at_m: tuple[float, float]
    facing_deg: float
    posture: str = "standing"


@dataclass(frozen=True, eq=False)
class PlanCamera:
    """A camera where it stands.

    Attributes
    ----------
    number, name : of the camera
    at_m, pan_deg : entrance pupil, and where it looks
    parts : (kind, outline) of what stands there: "stand", "arm", "operator", "camera"
    wedge : (n, 2) what its picture takes in, from the pupil to the wall and back; empty for none
    on_wall : (k, 2, 2) lines of wall that its frustum image covers, overscan included; empty for none
    tally : how strongly it is drawn
    """

    number: int
    name: str
    at_m: tuple[float, float]
    pan_deg: float
    parts: tuple[tuple[str, Array], ...] = ()
    wedge: Array = field(default_factory=lambda: np.zeros((0, 2)))
    on_wall: Array = field(default_factory=lambda: np.zeros((0, 2, 2)))
    tally: Tally = "off"


@dataclass(frozen=True, eq=False)
class StudioPlan:
    """A studio at one moment, as drawn from above.

    Attributes
    ----------
    walls, floors, pieces, people, cameras : what stands there
    subject_m : what a framing is aimed at; None for nothing
    """

    walls: tuple[PlanWall, ...]
    floors: tuple[PlanArea, ...] = ()
    pieces: tuple[PlanArea, ...] = ()
    people: tuple[PlanPerson, ...] = ()
    cameras: tuple[PlanCamera, ...] = ()
    subject_m: tuple[float, float] | None = None

    def bounds_m(self, *more: Array) -> tuple[float, float, float, float]:
        """Left, right, bottom, top of a sheet with everything on it, (n, 2) points given too, and a margin.

        Wedges are left out: they end at walls, or at nothing.
        """
        points = [wall.lines.reshape(-1, 2) for wall in self.walls]
        points += [outline for area in (*self.floors, *self.pieces) for outline in area.outlines]
        points += [np.array([person.at_m]) for person in self.people]
        points += [outline for camera in self.cameras for _, outline in camera.parts]
        points += [np.array([camera.at_m]) for camera in self.cameras]
        points += [np.asarray(one, dtype=np.float64).reshape(-1, 2) for one in more]
        every = np.concatenate(points)
        left, bottom = every.min(axis=0) - MARGIN_M
        right, top = every.max(axis=0) + MARGIN_M
        return float(left), float(right), float(bottom), float(top)


def halo(width: float = 2.5, color: str = "white") -> list[Any]:
    """Path effects that keep lines and letters legible on any ground."""
    from matplotlib.patheffects import Normal, Stroke

    return [Stroke(linewidth=width, foreground=color), Normal()]


def draw_grounds(axis: Axes, plan: StudioPlan) -> None:
    """LED floors as areas, below everything."""
    for area in plan.floors:
        for outline in area.outlines:
            axis.fill(*outline.T, facecolor=FLOOR_COLOR, edgecolor=LIT_COLOR, linewidth=0.8, zorder=1)


def draw_fixed(axis: Axes, plan: StudioPlan, filled: bool = True) -> None:
    """LED walls, outlines of floors, set pieces and people; ``filled`` False lets what lies below show."""
    for area in plan.floors:
        for outline in area.outlines:
            axis.fill(
                *outline.T, fill=False, edgecolor=LIT_COLOR, linewidth=0.8, linestyle=(0, (5, 3)), zorder=4
            )
    for piece in plan.pieces:
        for outline in piece.outlines:
            axis.fill(
                *outline.T, facecolor=SET_COLOR if filled else "none", edgecolor=INK, linewidth=0.9, zorder=5
            )
    for wall in plan.walls:
        for line, behind in zip(wall.lines, wall.behind, strict=True):
            back = line[::-1] + WALL_THICKNESS_M * behind
            axis.fill(*np.concatenate([line, back]).T, facecolor=WALL_COLOR, edgecolor=WALL_COLOR,
                      linewidth=0.4, zorder=6)  # fmt: skip
        for path in chained(wall.lines):
            axis.plot(*path.T, color=LIT_COLOR, linewidth=1.6, solid_capstyle="butt", zorder=6.1,
                      gid=f"wall {wall.name}")  # fmt: skip
    for person in plan.people:
        _person(axis, person)


def draw_cameras(axis: Axes, cameras: Sequence[PlanCamera], wedges: bool = True) -> None:
    """Cameras with stands, arms and operators, and the wedges of what they see."""
    for camera in cameras:
        color, strong = CAMERA_COLORS[camera.tally], camera.tally == "on air"
        if wedges and len(camera.wedge):
            axis.fill(*camera.wedge.T, facecolor=color, alpha=0.16 if strong else 0.07, linewidth=0, zorder=3)
            sides = camera.wedge[1], camera.wedge[0], camera.wedge[-1]
            axis.plot(*np.array(sides).T, color=color, linewidth=1.3 if strong else 0.8,
                      linestyle="-" if strong else (0, (5, 2)), zorder=7)  # fmt: skip
            for line in camera.on_wall:
                axis.plot(*line.T, color=color, linewidth=4.0 if strong else 2.0, alpha=0.85,
                          solid_capstyle="butt", zorder=6.2 if strong else 6.15)  # fmt: skip
        order = list(PART_COLORS)
        for kind, outline in sorted(camera.parts, key=lambda part: order.index(part[0])):
            axis.fill(*outline.T, facecolor=PART_COLORS[kind], edgecolor=INK, linewidth=0.6, zorder=8)


def draw_subject(axis: Axes, at_m: tuple[float, float]) -> None:
    """What the framing is aimed at: a cross in a ring."""
    axis.plot(*at_m, marker="o", markersize=11, markerfacecolor="none", markeredgecolor="white",
              markeredgewidth=3.2, zorder=11)  # fmt: skip
    axis.plot(*at_m, marker="o", markersize=11, markerfacecolor="none", markeredgecolor=INK,
              markeredgewidth=1.4, zorder=11.1)  # fmt: skip
    axis.plot(*at_m, marker="+", markersize=8, color=INK, markeredgewidth=1.4, zorder=11.2)


def draw_axes(axis: Axes, bounds_m: tuple[float, float, float, float], labels: bool = True) -> None:
    """Axes in metres with a grid each metre, or each second or fifth one where space is short."""
    left, right, bottom, top = bounds_m
    axis.set_xlim(left, right)
    axis.set_ylim(bottom, top)
    axis.set_aspect("equal", adjustable="box")
    wide_in = axis.get_position().width * axis.figure.get_figure(root=True).get_figwidth()
    per_metre = wide_in / (right - left)
    step = next((step for step in (1, 2, 5, 10, 20) if step * per_metre >= 0.3), 50)
    for low, high, lines in ((left, right, axis.xaxis), (bottom, top, axis.yaxis)):
        ticks = [value for value in range(int(np.ceil(low)), int(high) + 1) if value % step == 0]
        lines.set_ticks(ticks, [f"{value:d}".replace("-", "−") for value in ticks])
    axis.grid(color=FAINT, linewidth=0.5, zorder=0.5)
    axis.set_axisbelow(False)
    axis.tick_params(labelsize=8 if labels else 6.5, colors=QUIET, length=2.5, pad=2)
    axis.spines[:].set_color(QUIET)
    axis.spines[:].set_linewidth(0.8)
    if labels:
        axis.set_xlabel("cameras' side: left        metres        right", color=QUIET, fontsize=9)
        axis.set_ylabel("metres, towards the wall →", color=QUIET, fontsize=9)


def _person(axis: Axes, person: PlanPerson) -> None:
    """Shoulders, head and nose: which way somebody faces."""
    turn = radians(person.facing_deg)
    across, ahead = np.array([cos(turn), sin(turn)]), np.array([-sin(turn), cos(turn)])
    angle = np.linspace(0.0, 2 * np.pi, 33)
    middle = np.asarray(person.at_m)
    for wide, deep, color, order in ((0.24, 0.13, PEOPLE_COLOR, 9.0), (0.095, 0.11, "#8d7a62", 9.2)):
        outline = middle + wide * np.cos(angle)[:, None] * across + deep * np.sin(angle)[:, None] * ahead
        axis.fill(*outline.T, facecolor=color, edgecolor=INK, linewidth=0.8, zorder=order)
    nose = np.array(
        [middle + 0.07 * across + 0.09 * ahead, middle + 0.24 * ahead, middle - 0.07 * across + 0.09 * ahead]
    )
    axis.fill(*nose.T, facecolor=INK, linewidth=0, zorder=9.1)


def chained(lines: Array) -> list[Array]:
    """Lines (n, 2, 2) that meet end to end, joined into paths of (k, 2) points."""
    left = list(np.asarray(lines, dtype=np.float64).reshape(-1, 2, 2))
    paths = []
    while left:
        path = list(left.pop(0))
        grown = True
        while grown:
            grown = False
            for place, (start, end) in enumerate(left):
                for one, other in ((start, end), (end, start)):
                    if np.abs(path[-1] - one).max() < 1e-3:
                        path.append(other)
                    elif np.abs(path[0] - one).max() < 1e-3:
                        path.insert(0, other)
                    else:
                        continue
                    grown = True
                    break
                if grown:
                    del left[place]
                    break
        paths.append(np.array(path))
    return paths


class Labels:
    """Names beside what they name, none over another or over a symbol.

    Places are tried round the point named, nearest first; one that fits nowhere takes the first place.

    Parameters
    ----------
    axis : drawn to its final scale
    """

    def __init__(self, axis: Axes) -> None:
        self._axis, self._taken = axis, list[tuple[float, float, float, float]]()
        self._renderer = axis.figure.get_figure(root=True).canvas.get_renderer()  # type: ignore[attr-defined]

    def keep_off(self, points: Array, pad_m: float = 0.0) -> None:
        """Nothing is written over the box round (n, 2) points, stage metres."""
        low = self._axis.transData.transform(np.min(points, axis=0) - pad_m)
        high = self._axis.transData.transform(np.max(points, axis=0) + pad_m)
        self._taken.append((low[0], low[1], high[0], high[1]))

    def write(self, at_m: tuple[float, float], words: str, away_pt: float = 9.0, **look: Any) -> None:
        """Words beside a point."""
        ground = {"facecolor": "white", "alpha": 0.72, "edgecolor": "none", "pad": 0.9}
        text = self._axis.annotate(
            words, at_m, (0, 0), textcoords="offset points", zorder=20, color=look.pop("color", INK),
            fontsize=look.pop("fontsize", 8), bbox=ground, **look,
        )  # fmt: skip
        frame = self._axis.get_window_extent()
        inside = (frame.x0, frame.y0, frame.x1, frame.y1)
        best = None
        for dx, dy, ha, va in _places(away_pt):
            text.set_position((dx, dy))
            text.set_horizontalalignment(ha)
            text.set_verticalalignment(va)
            box = text.get_window_extent(self._renderer)
            mine = (box.x0 - 1, box.y0 - 1, box.x1 + 1, box.y1 + 1)
            cost = sum(_shared(mine, other) for other in self._taken)
            cost += 4.0 * (_area(mine) - _shared(mine, inside))
            if best is None or cost < best[0] - 1e-6:
                best = (cost, (dx, dy), ha, va, mine)
            if cost == 0.0:
                break
        assert best is not None
        _, place, ha, va, mine = best
        text.set_position(place)
        text.set_horizontalalignment(ha)
        text.set_verticalalignment(va)
        self._taken.append(mine)


def write_names(axis: Axes, plan: StudioPlan, cameras: Sequence[PlanCamera], fontsize: float = 8) -> Labels:
    """Names of cameras, people, set pieces and LED surfaces; gives back the labels, to write more."""
    labels = Labels(axis)
    if plan.subject_m is not None:
        labels.keep_off(np.array([plan.subject_m]), 0.15)
    for person in plan.people:
        labels.keep_off(np.array([person.at_m]), 0.26)
    for camera in cameras:
        for _, outline in camera.parts:
            labels.keep_off(outline)
    for camera in cameras:
        strong = camera.tally != "off"
        labels.write(
            camera.at_m, f"{camera.number} {camera.name}", 11, fontsize=fontsize + 1 if strong else fontsize,
            fontweight="bold", color=CAMERA_COLORS[camera.tally] if strong else INK,
        )  # fmt: skip
    for person in plan.people:
        labels.write(person.at_m, person.name, 13, fontsize=fontsize)
    for piece in plan.pieces:
        outline = max(piece.outlines, key=len)
        low, high = outline.min(axis=0), outline.max(axis=0)
        labels.write(((low[0] + high[0]) / 2, low[1]), piece.name, 4, fontsize=fontsize, fontstyle="italic")
    for wall in plan.walls:
        middle = wall.lines[len(wall.lines) // 2].mean(axis=0)
        labels.write((middle[0], middle[1]), wall.name, 8, fontsize=fontsize, color=LIT_COLOR)
    for floor in plan.floors:
        points = np.concatenate(floor.outlines)
        low, high = points.min(axis=0), points.max(axis=0)
        labels.write((high[0], low[1]), floor.name, 3, fontsize=fontsize, color=LIT_COLOR)
    return labels


def _places(away: float) -> Iterator[tuple[float, float, Across, Upright]]:
    for factor in (1.0, 1.7, 2.6, 3.8):
        far, near = away * factor, away * factor * 0.75
        yield (0, far, "center", "bottom")
        yield (far, 0, "left", "center")
        yield (-far, 0, "right", "center")
        yield (0, -far, "center", "top")
        yield (near, near, "left", "bottom")
        yield (-near, near, "right", "bottom")
        yield (near, -near, "left", "top")
        yield (-near, -near, "right", "top")


def _shared(one: tuple[float, ...], other: tuple[float, ...]) -> float:
    wide = min(one[2], other[2]) - max(one[0], other[0])
    high = min(one[3], other[3]) - max(one[1], other[1])
    return wide * high if wide > 0 and high > 0 else 0.0


def _area(box: tuple[float, ...]) -> float:
    return (box[2] - box[0]) * (box[3] - box[1])
