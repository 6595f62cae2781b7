"""Measures over time as one picture: a curve a region, cuts marked, equal pictures on a line of their own."""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass
from math import inf, isfinite
from typing import TYPE_CHECKING, Any

import numpy as np

from preview.compare.regions import REGIONS, WHOLE
from preview.compare.series import Row

if TYPE_CHECKING:
    from matplotlib.axes import Axes

# Okabe and Ito, "Color universal design" (2008), from memory: told apart with any kind of colour vision.
# Line styles say the same again.
_LOOK: dict[str, dict[str, Any]] = {
    WHOLE: {"color": "#000000", "linestyle": "-", "linewidth": 2.0},
    "wall": {"color": "#0072B2", "linestyle": "--", "linewidth": 1.6},
    "set": {"color": "#D55E00", "linestyle": "-.", "linewidth": 1.6},
    "off-wall": {"color": "#009E73", "linestyle": ":", "linewidth": 2.0},
}
_SHADE = "#CC79A7"
_SIZE_IN = (13.66, 8.2)
_DPI = 100


@dataclass(frozen=True)
class Cut:
    """Programme goes to another camera: from ``frame`` on (a mix: from its first frame on)."""

    frame: int
    on_air: str


def plot_png(
    rows: Sequence[Row],
    cuts: Sequence[Cut],
    elsewhere: Sequence[tuple[int, int]],
    title: str,
    every: int = 1,
) -> bytes:
    """PSNR, SSIM and CIEDE2000 over timecode, as a PNG.

    Parameters
    ----------
    rows : in running order, at least one
    cuts : changes of the camera on programme, first frame of the run included
    elsewhere : first and last frame of each stretch in which the wall follows another camera than programme
    title : what is compared
    every : frames between two rows
    """
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure(figsize=_SIZE_IN, dpi=_DPI, layout="constrained")
    FigureCanvasAgg(figure)
    axes = figure.subplots(3, 1, sharex=True, height_ratios=(4, 3, 4))
    _psnr(axes[0], rows)
    _curves(axes[1], rows, "ssim")
    axes[1].set_ylabel("SSIM of luma")
    _curves(axes[2], rows, "de2000_mean")
    _curves(axes[2], rows, "de2000_p95", alpha=0.45)
    axes[2].set_ylabel("CIEDE2000\nstrong: mean, pale: 95th percentile")
    axes[2].set_ylim(bottom=0)
    for axis in axes:
        axis.grid(axis="y", color="#d0d3d8", linewidth=0.6)
        axis.spines[["top", "right"]].set_visible(False)
        for start, end in elsewhere:
            axis.axvspan(start - 0.5, end + 0.5, color=_SHADE, alpha=0.25, linewidth=0)
        for cut in cuts[1:]:
            axis.axvline(cut.frame - 0.5, color="#4b5058", linewidth=1.0, linestyle=(0, (4, 2)))
    _name_cuts(axes[0], cuts, rows)
    first, last = rows[0].frame, rows[-1].frame
    axes[2].set_xlim(first - 0.5, max(last, first + 1) + 0.5)
    _timecodes(axes[2], rows)
    handles, names = axes[0].get_legend_handles_labels()
    if elsewhere:
        from matplotlib.patches import Patch

        handles.append(Patch(color=_SHADE, alpha=0.25))
        names.append("wall follows another camera than programme")
    figure.legend(handles, names, loc="outside lower center", ncols=len(names), frameon=False)
    heading = title if every == 1 else f"{title}, every {every} frames"
    figure.suptitle(heading, x=0.01, ha="left", fontsize=13, fontweight="bold")
    png = io.BytesIO()
    figure.savefig(png, format="png", metadata={"Title": title})
    return png.getvalue()


def _psnr(axis: Axes, rows: Sequence[Row]) -> None:
    """Curves of finite values, and above them one line of marks for frames that are identical."""
    finite = [
        found.psnr_db for row in rows for found in row.measures.values() if found and isfinite(found.psnr_db)
    ]
    low, high = (min(finite), max(finite)) if finite else (30.0, 50.0)
    margin = max(1.0, 0.06 * (high - low))
    step = max(1.2, 0.075 * (high - low + 2 * margin))
    _curves(axis, rows, "psnr_db")
    axis.set_ylim(low - margin, high + margin + step * (len(_LOOK) + 1))
    ticks = [tick for tick in axis.get_yticks() if low - margin <= tick <= high + margin]
    base = high + margin + step
    axis.axhline(base - step / 2, color="#9aa0a8", linewidth=0.8)
    for place, (region, look) in enumerate(_LOOK.items()):
        level = base + place * step
        frames = [row.frame for row in rows if (found := row.measures[region]) and found.psnr_db == inf]
        axis.plot(
            frames, [level] * len(frames), color=look["color"], marker="s", markersize=3.2, linestyle=""
        )
    axis.set_yticks(ticks if finite else [])
    axis.set_ylabel("PSNR (dB)")
    middle = base + (len(_LOOK) - 1) / 2 * step
    axis.annotate("identical\n(no noise)", (1.005, middle), xycoords=("axes fraction", "data"), va="center",
                  fontsize=9, annotation_clip=False)  # fmt: skip


def _curves(axis: Axes, rows: Sequence[Row], name: str, alpha: float = 1.0) -> None:
    """One curve a region; broken where the region is empty or the value is not finite."""
    frames = [row.frame for row in rows]
    for region in (WHOLE, *REGIONS):
        values = [getattr(row.measures[region], name, None) for row in rows]
        heights = np.array([np.nan if v is None or not isfinite(v) else v for v in values], dtype=float)
        seen = any(row.measures[region] for row in rows)
        axis.plot(
            frames,
            heights,
            label=region if seen else f"{region} (no pixels)",
            alpha=alpha,
            drawstyle="steps-mid",
            marker="o",  # or a single frame between two breaks would not show
            markersize=3.0 if len(rows) < 60 else 1.6,
            **_LOOK[region],
        )


def _name_cuts(axis: Axes, cuts: Sequence[Cut], rows: Sequence[Row]) -> None:
    first, last = rows[0].frame, max(rows[-1].frame, rows[0].frame + 1)
    for cut in cuts:
        at = max(cut.frame, first)
        share = (at - first) / (last - first)
        if share > 0.97:
            continue
        place = (at - 0.5, 1.01)
        axis.annotate(f"{cut.on_air} on air", place, xycoords=("data", "axes fraction"), fontsize=9,
                      color="#33373d", annotation_clip=False)  # fmt: skip


def _timecodes(axis: Axes, rows: Sequence[Row]) -> None:
    """Labels of at most seven rows, evenly spread."""
    chosen = sorted({round(place) for place in np.linspace(0, len(rows) - 1, min(7, len(rows)))})
    axis.set_xticks([rows[place].frame for place in chosen], [rows[place].timecode for place in chosen])
    axis.set_xlabel("timecode")
