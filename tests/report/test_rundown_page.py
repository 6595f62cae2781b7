"""The rundown on one page, and the curves: everything told is there, nothing lies over anything else."""

from __future__ import annotations

import io
from itertools import pairwise

import numpy as np
import pytest
from PIL import Image

from preview.checks.registry import Curve
from preview.checks.result import Finding
from preview.report import rundown_page
from preview.report.caption import GRADE_COLOR
from preview.report.rundown_page import (
    WIDTH_PX,
    CameraLane,
    CheckRow,
    RundownPage,
    Scale,
    ShotBox,
    draw_rundown,
    packed,
    tick_frames,
)
from preview.report.timeline_plot import _room, curves_png
from preview.review.lettering import font


def finding(grade, first, last, cameras=("CAM2",), shot="Wide"):
    labels = ("10:00:00:00", "10:00:00:00")
    return Finding(grade, shot, tuple(cameras), (first, last), labels, "It is seen.")


def page(findings, frames=(0, 99), shots=None, grade="fault"):
    shots = shots or (ShotBox(1, "Wide", 0, 49), ShotBox(2, "Close", 50, 99))
    lanes = (CameraLane("1 CAM1", ((0, 49),)), CameraLane("2 CAM2", ((50, 99),)))
    rows = (
        CheckRow("off-wall", "2 faults", grade, tuple(findings)),
        CheckRow("flashing", "not looked at", None, ()),
    )
    return RundownPage("Show: checks", "2 faults", frames, ((0, "10:00:00:00"),), shots, lanes, rows)


def colored(drawn, grade):
    return (drawn == np.array(GRADE_COLOR[grade])).all(axis=2)[130:]


def test_a_bar_stands_where_its_frames_are():
    drawn = draw_rundown(page([finding("fault", 25, 74, ())]))
    assert drawn.shape[1] == WIDTH_PX
    columns = np.flatnonzero(colored(drawn, "fault")[:, 300:].sum(axis=0) > 10) + 300
    scale = Scale(0, 99)
    assert (columns.min(), columns.max() + 1) == pytest.approx((scale.x(25), scale.x(75)), abs=2)


def test_one_frame_of_an_hour_is_still_seen():
    drawn = draw_rundown(page([finding("fault", 45_000, 45_000, ())], (0, 89_999)))
    columns = np.flatnonzero(colored(drawn, "fault")[:, 300:].sum(axis=0) > 10)
    assert 4 <= len(columns) <= 8


def test_faults_and_compromises_differ_without_colour():
    fault = draw_rundown(page([finding("fault", 25, 74, ())]))
    compromise = draw_rundown(page([finding("compromise", 25, 74, ())], grade="compromise"))
    full = [
        colored(drawn, grade)[:, 800:1200].sum()
        for drawn, grade in ((fault, "fault"), (compromise, "compromise"))
    ]
    assert full[0] > 3 * full[1], "full against outlined"


def test_over_several_shots_a_bar_is_slim():
    one = colored(draw_rundown(page([finding("fault", 10, 89, ())])), "fault")[:, 800:1200].sum()
    several = colored(draw_rundown(page([finding("fault", 10, 89, (), shot="")])), "fault")[:, 800:1200].sum()
    assert several < 0.25 * one


@pytest.mark.parametrize("seed", range(4))
def test_bars_and_labels_never_lie_over_each_other(seed):
    random = np.random.default_rng(seed)
    firsts = random.integers(0, 3000, 30)
    told = [
        finding(
            str(random.choice(["fault", "compromise"])),
            int(f),
            int(f + random.integers(0, 200)),
            ["CAM1", "hand"],
        )
        for f in firsts
    ]
    bars = packed(told, Scale(0, 3249))
    assert len(bars) == 30
    taken: dict[int, list[tuple[float, float]]] = {}
    for bar in bars:
        wide = font(15, bold=True).getlength("CAM1, hand")
        left = bar.left - wide if bar.label == "before" else bar.left
        right = bar.right + wide if bar.label == "after" else bar.right
        assert right <= WIDTH_PX
        if bar.label == "inside":
            assert wide <= bar.right - bar.left
        for other in taken.setdefault(bar.lane, []):
            assert right <= other[0] or left >= other[1]
        taken[bar.lane].append((left, right))


def test_too_many_bars_lose_their_labels_not_their_places():
    told = [
        finding("fault", frame, frame + 1, ("a camera with a long name",)) for frame in range(0, 3000, 40)
    ]
    bars = packed(told, Scale(0, 3249))
    assert {bar.label for bar in bars} == {"none"}
    assert [bar.finding.frames[0] for bar in bars] == list(range(0, 3000, 40))


def test_what_is_fine_has_a_line_and_what_was_not_looked_at_has_none():
    fine = draw_rundown(page([finding("fine", 0, 99)], grade="fine"))
    assert colored(fine, "fine")[:, 300:].sum() > 3000
    assert "flashing" in [row.name for row in page([]).rows]


def test_every_word_of_the_page_is_written(monkeypatch):
    written = []
    write = rundown_page.write

    def note(sheet, text, *args, **kwargs):
        written.append(text)
        return write(sheet, text, *args, **kwargs)

    monkeypatch.setattr(rundown_page, "write", note)
    draw_rundown(page([finding("fault", 25, 26), finding("compromise", 60, 90, ("CAM1",))]))
    assert {"Show: checks", "2 faults", "Wide", "Close", "1 CAM1", "2 CAM2", "off-wall", "flashing",
            "not looked at", "CAM2", "CAM1", "10:00:00:00"} <= set(written)  # fmt: skip


def test_an_hour_of_short_shots_fits_the_page():
    shots = tuple(ShotBox(n + 1, f"Shot {n}", 250 * n, 250 * n + 249) for n in range(360))
    told = [finding("compromise", 250 * n, 250 * n + 20) for n in range(0, 360, 3)]
    drawn = draw_rundown(page(told, (0, 89_999), shots))
    assert drawn.shape[0] < 1000


@pytest.mark.parametrize(
    "last, rate, step",
    [(99, 25.0, 25), (3074, 25.0, 375), (89_999, 25.0, 15000), (0, 25.0, None), (1799, 29.97, 300)],
)
def test_ticks_stand_at_whole_steps(last, rate, step):
    ticks = tick_frames(0, last, rate)
    assert 1 <= len(ticks) <= 10 and ticks[0] == 0 and ticks[-1] <= last
    if step:
        assert all(abs(b - a - step) <= 1 for a, b in pairwise(ticks))


def plotted(*curves, frames=(0, 99), cameras=()):
    shots = (ShotBox(1, "Wide", 0, 49), ShotBox(2, "Close", 50, 99))
    png = curves_png(curves, shots, frames, ((0, "10:00:00:00"),), "Show: bleed", cameras)
    with Image.open(io.BytesIO(png)) as drawn:
        return np.asarray(drawn.convert("RGB"))


def test_curves_limits_and_gaps_are_drawn():
    flat = Curve("Bleed", "%", range(100), {"CAM1": [2.0] * 100}, 5.0)
    gap = Curve("Bleed", "%", range(100), {"CAM1": [float("nan")] * 100}, 5.0)
    free = Curve("Bleed", "%", range(100), {"CAM1": [2.0] * 100})
    line, limit = (0, 0x72, 0xB2), (0xB3, 0x26, 0x1E)
    drawn = {name: plotted(curve) for name, curve in (("flat", flat), ("gap", gap), ("free", free))}
    assert near(drawn["flat"], line) > near(drawn["gap"], line) + 800, "a line across the page"
    assert near(drawn["flat"], limit) > 500 > 20 > near(drawn["free"], limit)


def near(drawn, color):
    """Pixels of about a colour: thin lines are drawn with soft edges."""
    return int((np.abs(drawn.astype(int) - np.array(color)).max(axis=2) < 60).sum())


def test_a_single_value_between_gaps_is_a_dot():
    values = [float("nan")] * 100
    values[40] = 3.0
    dotted = plotted(Curve("Bleed", "%", range(100), {"CAM1": values}))
    empty = plotted(Curve("Bleed", "%", range(100), {"CAM1": [float("nan")] * 100}))
    assert (dotted[200:, 100:1200] != empty[200:, 100:1200]).any()


def test_each_curve_has_its_own_axis():
    one = Curve("Bleed", "%", range(100), {f"CAM{n}": [float(n)] * 100 for n in range(9)}, 4.0, "above")
    assert plotted(one, one).shape[0] > plotted(one).shape[0] + 200
    assert plotted(one, frames=(7, 7)).shape[1] == 1440, "one frame alone"


def test_a_camera_looks_alike_on_every_plot():
    """CAM2 alone on a plot, or named first there, keeps the second look."""
    second = (0xD5, 0x5E, 0x00)
    for names in (("CAM2",), ("CAM2", "CAM1"), ("CAM1", "CAM2")):
        lines = {name: [2.0 if name == "CAM2" else float("nan")] * 100 for name in names}
        drawn = plotted(Curve("Bleed", "%", range(100), lines), cameras=("CAM1", "CAM2"))
        assert near(drawn[:, 100:1100], second) > 500, names


@pytest.mark.parametrize("low, high", [(0.0, 0.0), (0.0, 80.0), (1.0, 1.0), (-3.0, 5.0), (60.0, 61.0)])
def test_lines_stand_clear_of_the_frame(low, high):
    bottom, top = _room(low, high)
    assert bottom < low and top > high
    assert top - bottom < 3 * max(high - low, abs(high), 0.5)
