"""Values over places of the studio floor, as a ramp with its limit, the clear zone and marks on it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
import numpy.typing as npt

from preview.conventions import Array
from preview.review.plan import INK, QUIET, StudioPlan, halo

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.colors import Colormap
    from matplotlib.image import AxesImage
    from matplotlib.path import Path

Bools = npt.NDArray[np.bool_]
Values = npt.NDArray[np.floating[Any]]
LimitIs = Literal["below", "above"]

# The ramp, cividis, is perceptually even and the same to colour-blind eyes. Source: Nuñez, Anderton,
# Renslow, "Optimizing colormaps with consideration for color vision deficiency", PLoS ONE 13(7), 2018. Bright
# is bad on every map: where large values are good it runs the other way.
_RAMP = {"below": "cividis", "above": "cividis_r"}
CLEAR_COLOR = "#009E73"
"""Okabe and Ito, "Color universal design" (2008), from memory; the width says it again."""
HATCH_COLOR = "#8d949d"
SHARE = "0 to 1"
"""What stands for the unit of a share."""


@dataclass(frozen=True, eq=False)
class FloorLayer:
    """Values over places of the floor.

    Attributes
    ----------
    name : short, for file names
    title, unit : what is drawn, and in what
    values : (rows, columns) of the sheet's places; NaN where there is none
    passes : (rows, columns) places on the right side of the limit
    limit, limit_is : where it speaks up, and whether values are to stay "below" or "above" it
    judged : whether the clear zone asks for it
    note : what it is, a sentence
    top : end of the ramp; the largest value when None
    """

    name: str
    title: str
    unit: str
    values: Values
    passes: Bools
    limit: float | None = None
    limit_is: LimitIs = "below"
    judged: bool = True
    note: str = ""
    top: float | None = None


@dataclass(frozen=True, eq=False)
class FloorSheet:
    """A floor map ready to be drawn.

    Attributes
    ----------
    title, told : head line, and a sentence or two below it
    plan : the studio; its cameras are drawn where they stand now
    x_m, y_m : (columns,), (rows,) middles of the places, rising
    layers : what is drawn over them
    clear : (rows, columns) places where everything is right
    out_of_reach : (rows, columns) places where the camera cannot stand or not hold the framing
    now_m : where the camera stands now
    nearest_m : the nearest clear place, None for none
    facts : lines beside the drawing
    """

    title: str
    told: str
    plan: StudioPlan
    x_m: Array
    y_m: Array
    layers: tuple[FloorLayer, ...]
    clear: Bools
    out_of_reach: Bools
    now_m: tuple[float, float]
    nearest_m: tuple[float, float] | None = None
    facts: tuple[str, ...] = ()

    @property
    def speaking_up(self) -> FloorLayer:
        """How many of the judged layers a place does not pass."""
        judged = [layer for layer in self.layers if layer.judged]
        wrong = np.sum([~layer.passes for layer in judged], axis=0) if judged else np.zeros(self.clear.shape)
        values = np.where(self.out_of_reach, np.nan, wrong)
        title = f"Checks that speak up, of {len(judged)}"
        return FloorLayer("clear", title, "", values, self.clear, judged=False, top=max(1.0, len(judged)))


def ramp(limit_is: LimitIs) -> Colormap:
    """The ramp, bright where values are bad; nothing is drawn where there is no value."""
    from matplotlib import colormaps

    return colormaps[_RAMP[limit_is]].with_extremes(bad=(1.0, 1.0, 1.0, 0.0))


def draw_layer(axis: Axes, x_m: Array, y_m: Array, layer: FloorLayer) -> AxesImage:
    """Values as coloured places; the ramp begins at 0, or below it where values do."""
    known = layer.values[np.isfinite(layer.values)]
    low = min(0.0, float(known.min(initial=0.0)))
    high = layer.top if layer.top is not None else float(known.max(initial=0.0))
    if layer.limit is not None:
        high = max(high, 1.25 * layer.limit)
    left, right, bottom, top = extent_m(x_m, y_m)
    return axis.imshow(
        np.ma.masked_invalid(layer.values), cmap=ramp(layer.limit_is), vmin=low, vmax=high or 1.0,
        extent=(left, right, bottom, top), origin="lower", aspect="equal", interpolation="nearest", zorder=2,
    )  # fmt: skip


def draw_out_of_reach(axis: Axes, x_m: Array, y_m: Array, mask: Bools, large: bool) -> None:
    """Places where the camera cannot stand, hatched."""
    from matplotlib.patches import PathPatch

    if mask.any():
        axis.add_patch(
            PathPatch(
                mask_path(mask, x_m, y_m), facecolor="none", edgecolor=HATCH_COLOR, linewidth=0.0,
                hatch="////" if large else "//////", zorder=2.2,
            )
        )  # fmt: skip


def draw_limit(axis: Axes, x_m: Array, y_m: Array, layer: FloorLayer, large: bool) -> None:
    """The line between places that pass and places that do not, dashed."""
    known = np.isfinite(layer.values)
    if layer.limit is None or not (layer.passes[known].any() and (~layer.passes)[known].any()):
        return
    for color, style, width in (("white", "-", 2.4), (INK, (0, (4, 2)), 1.3)):
        lines = list(_borders(layer.passes & known, ~layer.passes & known, x_m, y_m))
        for line in lines:
            axis.plot(*line.T, color=color, linestyle=style, linewidth=width if large else width / 2,
                      solid_capstyle="projecting", zorder=2.5)  # fmt: skip


def draw_clear(axis: Axes, x_m: Array, y_m: Array, clear: Bools, large: bool) -> None:
    """The clear zone: a strong line round it, and its name in the widest part."""
    from matplotlib.patches import PathPatch

    if not clear.any():
        return
    path = mask_path(clear, x_m, y_m)
    for color, width in (("white", 5.0), (CLEAR_COLOR, 3.0)):
        axis.add_patch(PathPatch(path, fill=False, edgecolor=color, joinstyle="round", zorder=4.5,
                                 linewidth=width if large else 0.45 * width))  # fmt: skip


def clear_middle_m(x_m: Array, y_m: Array, clear: Bools) -> tuple[float, float]:
    """Middle of the largest ring of clear places that fits: where to write the zone's name."""
    import cv2

    padded = np.pad(clear.astype(np.uint8), 1)
    inside = cv2.distanceTransform(padded, cv2.DIST_L2, 5)[1:-1, 1:-1]
    row, column = np.unravel_index(int(inside.argmax()), inside.shape)
    return float(x_m[column]), float(y_m[row])


def mark_now(axis: Axes, at_m: tuple[float, float], large: bool) -> None:
    """Where the camera stands: a white ring."""
    size = 9.0 if large else 4.5
    axis.plot(*at_m, marker="o", markersize=size, markerfacecolor="white", markeredgecolor=INK,
              markeredgewidth=1.6 if large else 0.8, zorder=12)  # fmt: skip


def mark_nearest(axis: Axes, now_m: tuple[float, float], at_m: tuple[float, float], large: bool) -> None:
    """Where it would be clear, with an arrow that leads there."""
    size = 10.0 if large else 5.0
    axis.plot(*at_m, marker="D", markersize=size, markerfacecolor=CLEAR_COLOR, markeredgecolor="white",
              markeredgewidth=1.8 if large else 0.8, zorder=12.5)  # fmt: skip
    if large and float(np.hypot(*np.subtract(at_m, now_m))) > 0.3:
        arrow = {"arrowstyle": "-|>", "color": INK, "linewidth": 1.6, "shrinkA": 6, "shrinkB": 8,
                 "path_effects": halo(3.6)}  # fmt: skip
        axis.annotate("", at_m, now_m, arrowprops=arrow, zorder=12.2)


def ramp_bar(axis: Axes, image: AxesImage, layer: FloorLayer, title: str, small: bool = False) -> None:
    """The ramp's bar with its unit, and a mark where the limit is."""
    from matplotlib.ticker import MaxNLocator

    figure = axis.figure.get_figure(root=True)
    bar = figure.colorbar(image, cax=axis, orientation="horizontal")  # type: ignore[union-attr]
    size = 6.5 if small else 8.5
    bar.ax.tick_params(labelsize=size, colors=QUIET, length=2, pad=1.5)
    bar.locator = MaxNLocator(3 if small else 6, integer=layer.unit == "" and layer.name == "clear")
    bar.update_ticks()
    bar.outline.set_visible(False)  # type: ignore[operator]
    if layer.limit is not None:
        for color, width in (("white", 3.0), (INK, 1.4)):
            look: dict[str, Any] = {"color": color, "linewidth": width / 2 if small else width}
            axis.plot([layer.limit] * 2, [-0.25, 1.25], clip_on=False, zorder=9, **look)
    words = title
    if layer.limit is not None and not small:
        words += f"; limit {layer.limit:g}{spaced(layer.unit)}"
    if words:
        axis.set_title(words, loc="left", fontsize=size + 1.0, color=INK, pad=7)
    if layer.unit:
        axis.text(1.02, 0.5, layer.unit, transform=axis.transAxes, fontsize=size, color=QUIET, va="center")


def spaced(unit: str) -> str:
    """A unit as it stands after a number; a share, 0 to 1, has none.

    >>> spaced("%"), spaced("0 to 1")
    (' %', '')
    """
    return f" {unit}" if unit and unit != SHARE else ""


def extent_m(x_m: Array, y_m: Array) -> tuple[float, float, float, float]:
    """Left, right, bottom, top edges of the places."""
    x, y = _edges(x_m, y_m)
    return float(x[0]), float(x[-1]), float(y[0]), float(y[-1])


def mask_path(mask: Bools, x_m: Array, y_m: Array) -> Path:
    """Outline of the True places along their edges; holes run the other way round.

    Parameters
    ----------
    mask : (rows, columns)
    x_m, y_m : (columns,), (rows,) middles of the places, rising
    """
    from matplotlib.path import Path

    x, y = _edges(x_m, y_m)
    padded = np.pad(mask, 1)
    after: dict[tuple[int, int], list[tuple[int, int]]] = {}
    for row, column in zip(*np.nonzero(mask), strict=True):
        r, c = int(row), int(column)
        if not padded[r, c + 1]:
            after.setdefault((c, r), []).append((c + 1, r))
        if not padded[r + 1, c + 2]:
            after.setdefault((c + 1, r), []).append((c + 1, r + 1))
        if not padded[r + 2, c + 1]:
            after.setdefault((c + 1, r + 1), []).append((c, r + 1))
        if not padded[r + 1, c]:
            after.setdefault((c, r + 1), []).append((c, r))
    rings = []
    while after:
        start = next(iter(after))
        ring = [start]
        while True:
            onward = after[ring[-1]]
            step = _turned_left(ring, onward)
            onward.remove(step)
            if not onward:
                del after[ring[-1]]
            if step == start:
                break
            ring.append(step)
        corners = [
            at for before, at, then in zip([ring[-1], *ring[:-1]], ring, [*ring[1:], ring[0]], strict=True)
            if (at[0] - before[0], at[1] - before[1]) != (then[0] - at[0], then[1] - at[1])
        ]  # fmt: skip
        points = np.array([(x[c], y[r]) for c, r in corners])
        rings.append(Path(np.concatenate([points, points[:1]]), closed=True))
    return Path.make_compound_path(*rings)


def _turned_left(ring: list[tuple[int, int]], onward: list[tuple[int, int]]) -> tuple[int, int]:
    """Where two places touch at a corner only, the outline stays with the one it goes round."""
    if len(onward) == 1 or len(ring) < 2:
        return onward[0]
    (x0, y0), (x1, y1) = ring[-2:]
    return max(onward, key=lambda to: (x1 - x0) * (to[1] - y1) - (y1 - y0) * (to[0] - x1))


def _borders(one: Bools, other: Bools, x_m: Array, y_m: Array) -> Iterator[Array]:
    """(n, 2) lines along the edges between places of two masks, joined where they run on."""
    from preview.review.plan import chained

    x, y = _edges(x_m, y_m)
    across = (one[:, :-1] & other[:, 1:]) | (other[:, :-1] & one[:, 1:])
    down = (one[:-1] & other[1:]) | (other[:-1] & one[1:])
    lines = [[(x[c + 1], y[first]), (x[c + 1], y[last + 1])]
             for c in range(across.shape[1]) for first, last in _runs(across[:, c])]  # fmt: skip
    lines += [[(x[first], y[r + 1]), (x[last + 1], y[r + 1])]
              for r in range(down.shape[0]) for first, last in _runs(down[r])]  # fmt: skip
    yield from chained(np.array(lines)) if lines else ()


def _runs(flags: Bools) -> list[tuple[int, int]]:
    steps = np.flatnonzero(np.diff(np.concatenate([[0], flags.astype(np.int8), [0]])))
    return [(int(first), int(last) - 1) for first, last in steps.reshape(-1, 2)]


def _edges(x_m: Array, y_m: Array) -> tuple[Array, Array]:
    """Edges of the places; one row or column alone is as wide as the other way round."""
    step = float(x_m[1] - x_m[0]) if len(x_m) > 1 else float(y_m[1] - y_m[0]) if len(y_m) > 1 else 1.0
    steps = step * (np.arange(len(x_m) + 1) - 0.5), step * (np.arange(len(y_m) + 1) - 0.5)
    return x_m[0] + steps[0], y_m[0] + steps[1]
