"""One LED surface unrolled: how long each place of it lies in more than one camera's frustum."""

from __future__ import annotations

import io
import textwrap
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, Literal, Protocol

import numpy as np
import numpy.typing as npt

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.colors import Colormap
    from matplotlib.figure import Figure
    from matplotlib.image import AxesImage

Array = npt.NDArray[np.float64]

# Okabe and Ito, "Color universal design" (2008), from memory: told apart with any kind of colour vision.
# Dashes say the same again.
_LINES: tuple[tuple[str, Any], ...] = (
    ("#E69F00", "-"), ("#56B4E9", (0, (6, 2))), ("#009E73", (0, (2, 1.5))), ("#D55E00", (0, (7, 2, 1.5, 2))),
    ("#CC79A7", (0, (4, 1.5, 1.5, 1.5, 1.5, 1.5))), ("#0072B2", (0, (1, 1))), ("#F0E442", (0, (9, 3))),
)  # fmt: skip
# The ramp, cividis, is perceptually even and the same to colour-blind eyes. Source: Nuñez, Anderton, Renslow,
# "Optimizing colormaps with consideration for color vision deficiency", PLoS ONE 13(7), 2018.
_INK, _QUIET, _NO_WALL = "#1d2025", "#5a616b", "#d9dce1"
_WIDTH_IN, _DPI = 13.66, 100
_LEFT_IN, _RIGHT_IN = 0.85, 1.2
_HEAD_IN, _FOOT_IN, _WHEN_IN = 1.35, 1.1, 2.05
"""Above the large map: title and sentence; below it: its axis and the legend, which begins with the time."""
_SMALL_ACROSS, _SMALL_GAP_IN, _SMALL_HEAD_IN = 3, 0.55, 0.75
_MOST_HIGH_IN = 6.4

_UPWARDS = {
    "wall": "metres above the lower edge",
    "floor": "metres from the near edge",
    "ceiling": "metres from the far edge",
}


class Mapped(Protocol):
    """What is drawn. Arrays have the surface's cells: row 0 along the upper edge, column 0 along the left.

    ``size_m`` width and height unrolled; ``seconds`` of rundown; ``is_wall`` (r, c); ``seconds_in``
    (n + 1, r, c) seconds in exactly 0, 1, 2 .. n frustums; ``most_at_once`` (r, c); ``camera_share`` by
    camera (r, c) share of the time; ``outlines`` by camera (k, 2, 2) lines in metres from the left and lower
    edges at the worst moment; ``worst_timecode`` and ``worst_overlap_m2`` of it, "" and 0 for none.
    """

    @property
    def surface(self) -> str:
        """Name of the LED surface."""
        ...

    @property
    def kind(self) -> Literal["wall", "floor", "ceiling"]:
        """Kind of it."""
        ...

    @property
    def size_m(self) -> tuple[float, float]:
        """As above."""
        ...

    @property
    def seconds(self) -> float:
        """As above."""
        ...

    @property
    def is_wall(self) -> npt.NDArray[np.bool_]:
        """As above."""
        ...

    @property
    def seconds_in(self) -> Array:
        """As above."""
        ...

    @property
    def most_at_once(self) -> npt.NDArray[np.int64]:
        """As above."""
        ...

    @property
    def camera_share(self) -> Mapping[str, Array]:
        """As above."""
        ...

    @property
    def outlines(self) -> Mapping[str, Array]:
        """As above."""
        ...

    @property
    def worst_timecode(self) -> str:
        """As above."""
        ...

    @property
    def worst_overlap_m2(self) -> float:
        """As above."""
        ...


def wall_map_png(mapped: Mapped, title: str) -> bytes:
    """A page about one LED surface, as a PNG: seconds in two frustums or more, frustums at the worst moment,
    the most at once, and each camera's share of the time.

    Parameters
    ----------
    mapped : one surface's map
    title : of the show
    """
    png = io.BytesIO()
    _page(mapped, title).savefig(png, format="png", metadata={"Title": f"{title}: {mapped.surface}"})
    return png.getvalue()


def _page(mapped: Mapped, title: str) -> Figure:
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    width, height = mapped.size_m
    room = _WIDTH_IN - _LEFT_IN - _RIGHT_IN
    large = min(room, _MOST_HIGH_IN * width / height)
    step_in = (room + _SMALL_GAP_IN) / _SMALL_ACROSS
    small = min(step_in - _SMALL_GAP_IN, 0.5 * _MOST_HIGH_IN * width / height)
    large_high, small_high = large * height / width, small * height / width
    longest = max((len(name) for name in mapped.outlines), default=0)
    entries = max(1, int((room - _WHEN_IN) / (1.2 + 0.09 * longest)))  # legend entries in a row
    foot = _FOOT_IN + 0.25 * -(-len(mapped.outlines) // entries)
    rows = -(-(1 + len(mapped.camera_share)) // _SMALL_ACROSS)
    total = _HEAD_IN + large_high + foot + rows * (small_high + _SMALL_HEAD_IN)
    figure = Figure(figsize=(_WIDTH_IN, total), dpi=_DPI, facecolor="white")
    FigureCanvasAgg(figure)

    def axes(left: float, top: float, wide: float, high: float) -> Axes:
        place = (left / _WIDTH_IN, 1.0 - (top + high) / total, wide / _WIDTH_IN, high / total)
        return figure.add_axes(place)

    def text(top: float, words: str, **look: Any) -> None:
        figure.text(_LEFT_IN / _WIDTH_IN, 1.0 - top / total, words, color=_INK, **look)

    text(0.5, f"{title}: where frustums meet on {mapped.surface}", fontsize=16, fontweight="bold")
    text(_HEAD_IN - 0.13, _told(mapped), fontsize=11, linespacing=1.5)
    axis = axes(_LEFT_IN, _HEAD_IN, large, large_high)
    _large(figure, axis, axes(_LEFT_IN + large + 0.18, _HEAD_IN, 0.2, large_high), mapped)
    if mapped.worst_timecode:
        at = _HEAD_IN + large_high + 0.62
        text(at + 0.12, f"Frustums at {mapped.worst_timecode}:", fontsize=10)
        corner = ((_LEFT_IN + _WHEN_IN) / _WIDTH_IN, 1.0 - at / total)
        _borders(figure, axis, mapped, corner, entries)
    top = _HEAD_IN + large_high + foot
    for place, name in enumerate((None, *mapped.camera_share)):
        row, column = divmod(place, _SMALL_ACROSS)
        at = top + row * (small_high + _SMALL_HEAD_IN)
        axis = axes(_LEFT_IN + column * step_in, at, small, small_high)
        if name is None:
            _most(axis, mapped, small)
        else:
            shares = _share(axis, mapped, name)
    if mapped.camera_share:
        left = _LEFT_IN + (_SMALL_ACROSS - 1) * step_in + small + 0.18
        _bar(figure, axes(left, top, 0.2, small_high), shares, "% of the time")
    return figure


def _large(figure: Figure, axis: Axes, bar: Axes, mapped: Mapped) -> None:
    """Seconds in two frustums or more."""
    overlap, most = _overlap(mapped)
    _bar(figure, bar, _image(axis, mapped, overlap, 0.0, most or 1.0), "seconds in two frustums or more")
    _axes(axis, mapped, 10)
    wide = axis.get_position().width * _WIDTH_IN
    axis.set_xlabel(
        "← left        metres from the left edge, unrolled, as the cameras see it        right →",
        color=_QUIET, loc="center" if wide > 7.0 else "left",
    )  # fmt: skip
    axis.set_ylabel(_UPWARDS[mapped.kind], color=_QUIET)


def _borders(figure: Figure, axis: Axes, mapped: Mapped, corner: tuple[float, float], entries: int) -> None:
    """The frustums' borders at the worst moment, and their legend: its upper left corner on the page, and
    entries in a row."""
    from matplotlib.lines import Line2D
    from matplotlib.patheffects import Normal, Stroke

    halo = [Stroke(linewidth=4.6, foreground="#101216"), Normal()]
    named = []
    for place, (name, lines) in enumerate(mapped.outlines.items()):
        color, dashes = _LINES[place % len(_LINES)]
        look: dict[str, Any] = {
            "color": color, "linestyle": dashes, "linewidth": 2.4, "dash_capstyle": "butt",
            "path_effects": halo,
        }  # fmt: skip
        for path in _chained(lines):
            axis.plot(path[:, 0], path[:, 1], **look)
        named.append(Line2D([], [], label=name if len(lines) else f"{name} (none here)", **look))
    figure.legend(
        handles=named, loc="upper left", bbox_to_anchor=corner, borderaxespad=0.0, borderpad=0.0,
        frameon=False, ncols=min(entries, len(named)), handlelength=4.6, columnspacing=2.0,
        labelcolor=_INK, fontsize=10,
    )  # fmt: skip


def _overlap(mapped: Mapped) -> tuple[Array, float]:
    """(r, c) seconds in two frustums or more, and the most of them."""
    overlap: Array = mapped.seconds_in[2:].sum(axis=0)
    return overlap, float(overlap[mapped.is_wall].max(initial=0.0))


def _told(mapped: Mapped) -> str:
    """What the map says, in a sentence or two."""
    lasts = f"{_seconds(mapped.seconds)} of the rundown"
    if not mapped.worst_timecode:
        return f"In {lasts} no place of {mapped.surface} lies in two frustums at once."
    _, most_s = _overlap(mapped)
    share = 100.0 * float((mapped.most_at_once[mapped.is_wall] >= 2).mean())
    text = (
        f"{share:.0f} % of {mapped.surface} lies in two frustums or more at some time in {lasts}; no place "
        f"for longer than {_seconds(most_s)}. Frustums share most at {mapped.worst_timecode}: "
        f"{mapped.worst_overlap_m2:.3g} m², all pairs of cameras added up."
    )
    return "\n".join(textwrap.wrap(text, 130))


def _seconds(value: float) -> str:
    return f"{value:.0f} s" if value >= 100 else f"{value:.3g} s"


def _most(axis: Axes, mapped: Mapped, wide_in: float) -> None:
    """The largest number of frustums at once."""
    from matplotlib.patches import Patch

    highest = len(mapped.seconds_in) - 1
    _image(axis, mapped, mapped.most_at_once, 0, max(highest, 1))
    _axes(axis, mapped, 5)
    axis.set_title("most frustums at once", loc="left", fontsize=10, color=_INK)
    patches = [
        Patch(facecolor=_ramp()(number / max(highest, 1)), label=str(number))
        for number in range(int(mapped.most_at_once.max(initial=0)) + 1)
    ]
    axis.legend(
        handles=patches, loc="lower left", bbox_to_anchor=(1.75 / wide_in, 1.0), ncols=min(6, len(patches)),
        fontsize=9, handlelength=0.9, handleheight=0.9, handletextpad=0.35, columnspacing=0.8,
        borderpad=0.25, borderaxespad=0.1, frameon=False,
    )  # fmt: skip


def _share(axis: Axes, mapped: Mapped, name: str) -> AxesImage:
    """How much of the time one camera's frustum lies where."""
    image = _image(axis, mapped, 100.0 * mapped.camera_share[name], 0.0, 100.0)
    _axes(axis, mapped, 5)
    axis.set_title(f"in {name}'s frustum", loc="left", fontsize=10, color=_INK)
    return image


def _bar(figure: Figure, axis: Axes, image: AxesImage, label: str) -> None:
    bar = figure.colorbar(image, cax=axis)
    bar.set_label(label, color=_QUIET)
    bar.ax.tick_params(labelsize=9, colors=_QUIET, length=3)
    bar.ax.spines[:].set_visible(False)


def _ramp() -> Colormap:
    from matplotlib import colormaps

    return colormaps["cividis"].with_extremes(bad=_NO_WALL)


def _image(axis: Axes, mapped: Mapped, values: np.ndarray, low: float, high: float) -> AxesImage:
    width, height = mapped.size_m
    shown = np.ma.masked_array(values, ~mapped.is_wall)
    return axis.imshow(
        shown, cmap=_ramp(), vmin=low, vmax=high, extent=(0.0, width, 0.0, height), aspect="auto",
        interpolation="nearest",
    )  # fmt: skip


def _axes(axis: Axes, mapped: Mapped, ticks: int) -> None:
    from matplotlib.ticker import MaxNLocator

    width, height = mapped.size_m
    longer = max(width, height)
    marks = np.asarray(MaxNLocator(ticks, steps=[1, 2, 5, 10]).tick_values(0.0, longer))
    axis.xaxis.set_ticks(marks[marks <= width * 1.001])
    axis.yaxis.set_ticks(marks[marks <= height * 1.001])
    axis.tick_params(labelsize=9 if ticks > 5 else 8, colors=_QUIET, length=3)
    axis.spines[:].set_color(_QUIET)
    axis.spines[:].set_linewidth(0.8)
    axis.set_xlim(0.0, width)
    axis.set_ylim(0.0, height)


def _chained(lines: Array) -> list[Array]:
    """Lines (n, 2, 2) that meet end to end, joined, so that dashes run on from facet to facet."""
    left = [line for line in np.asarray(lines, dtype=np.float64).reshape(-1, 2, 2)]
    paths = []
    while left:
        path = list(left.pop())
        grown = True
        while grown:
            grown = False
            for place, (start, end) in enumerate(left):
                if _meet(path[-1], start) or _meet(path[-1], end):
                    path.append(end if _meet(path[-1], start) else start)
                elif _meet(path[0], end) or _meet(path[0], start):
                    path.insert(0, start if _meet(path[0], end) else end)
                else:
                    continue
                del left[place]
                grown = True
                break
        paths.append(np.array(path))
    return paths


def _meet(one: Array, other: Array) -> bool:
    return bool(np.abs(one - other).max() < 1e-4)
