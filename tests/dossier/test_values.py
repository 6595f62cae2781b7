"""What the parts told, as the page takes it: counts, sentences, and plots that lose no peak."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest

from preview.checks.registry import Curve
from preview.dossier import values
from preview.dossier.asked import Asked, fitted, frames_to_draw
from preview.dossier.tables import tables_of
from preview.errors import RequestError
from preview.facts import show_facts
from preview.timeline.timeline import Timeline
from tests.checks.shows import whip_show


def report(*grades, left_out=0):
    findings = [{"grade": grade} for grade in grades]
    return {
        "checks": [{"check": "bleed", "grade": next(iter(grades), "fine"), "findings": findings}],
        "not_looked_at": [{"check": "x"}] * left_out,
    }


@pytest.mark.parametrize(
    ("told", "words"),
    [
        (report(), "Ready for air: nothing found."),
        (report("fine"), "Ready for air: nothing found."),
        (report("compromise", "fine"), "Ready for air, with 1 compromise to live with."),
        (report("fault", "compromise", "compromise"),
         "Not ready for air: 1 fault to put right, 2 compromises to live with."),
        (report("fault", "fault", left_out=3),
         "Not ready for air: 2 faults to put right. 3 checks did not look."),
    ],
)  # fmt: skip
def test_the_verdict_is_what_a_director_asks(told, words):
    assert values.verdict_of(told) == words


def test_a_long_plot_keeps_its_worst_values():
    frames = np.arange(50_000)
    line = np.zeros(50_000)
    line[[7, 31_234, 49_999]] = 5.0, 9.0, 4.0
    line[100:200] = np.nan
    row = values.plot_data("bleed", Curve("t", "%", frames, {"A": line}, 1.0))
    assert len(row["frames"]) == len(row["lines"]["A"]) == values.MOST_POINTS
    known = {value for value in row["lines"]["A"] if value}
    assert known == {5.0, 9.0, 4.0}
    assert None in row["lines"]["A"], "a gap stays one"
    peak = row["lines"]["A"].index(9.0)
    assert row["frames"][peak] <= 31_234 < row["frames"][peak + 1]
    low = values.plot_data("clearance", Curve("t", "m", frames, {"A": 10.0 - line}, 1.0, "above"))
    assert min(value for value in low["lines"]["A"] if value is not None) == 1.0


def test_a_plot_is_told_by_its_worst_and_when():
    timeline = Timeline(whip_show())
    rows = [
        values.plot_data(
            "bleed", Curve("Strange", "%", [0, 25, 50], {"A": [1, 12.5, 3], "B": [np.nan] * 3}, 2)
        )
    ]
    (plot,) = values.plots_of(timeline, rows)
    assert plot.told == "Strange: A at most 12.5 % (10:00:01:00); B has no value. It should stay below 2 %."
    assert plot.lines[1].values == (None, None, None)
    rows = [values.plot_data("clearance", Curve("Room", "m", [0, 25], {"A": [3.0, 0.5]}, 1.0, "above"))]
    assert (
        values.plots_of(timeline, rows)[0].told
        == "Room: A at least 0.5 m (10:00:01:00). It should stay above 1 m."
    )


def test_shots_say_how_they_start_and_what_is_framed():
    show = whip_show()
    shots = values.shots_of(show, Timeline(show))
    assert [(one.number, one.camera, one.start) for one in shots] == [
        (1, "CAM1", "cut"), (2, "CAM2", "cut"), (3, "CAM1", "mix of 6 frames"),
    ]  # fmt: skip
    assert [one.frames for one in shots] == [(0, 24), (25, 74), (75, 99)]
    assert shots[1].timecodes == ("10:00:01:00", "10:00:02:24")


def test_the_page_counts_as_the_rundown_does():
    rate = values.rate_of(Timeline(whip_show()))
    assert Fraction(rate.numerator, rate.denominator) == 25 and rate.nominal == 25 and not rate.drop_frame
    assert (rate.first_timecode, rate.first_count) == ("10:00:00:00", 10 * 3600 * 25)


def test_every_table_has_its_columns_in_every_row():
    show = whip_show()
    tables = tables_of(show, show_facts(show))
    assert [table.title for table in tables] == ["LED surfaces", "Cameras", "Framings", "Settings"]
    for table in tables:
        assert table.rows and all(len(row) == len(table.columns) for row in table.rows)
    settings = dict(tables[3].rows)
    assert settings["Frame rate"] == "25 a second" and settings["Drive of the LED surfaces"] == "switched"
    assert settings["Wall switch frames"] == "0"


def test_frames_near_a_cut_are_all_drawn():
    timeline = Timeline(whip_show())
    drawn = frames_to_draw(timeline, (0, 99), 10)
    assert set(range(0, 100, 10)) <= set(drawn)
    assert {24, 25} <= set(drawn), "the last before the cut at 25, and the first after it"
    assert set(range(74, 82)) <= set(drawn), "and all of the mix from 75 on"
    assert not {5, 45, 65} & set(drawn)
    assert frames_to_draw(timeline, (0, 99), 1) == tuple(range(100))
    assert frames_to_draw(timeline, (40, 60), 10) == (40, 50, 60)


@pytest.mark.parametrize("aspect", [16 / 9, 4 / 3, 2.39, 1.0, 9 / 16])
def test_a_size_is_fitted_in_with_its_shape(aspect):
    width, height = fitted((640, 360), aspect)
    assert width <= 640 and height <= 360 and width % 2 == height % 2 == 0
    assert width / height == pytest.approx(aspect, rel=0.02)
    assert width >= 638 or height >= 358, "as large as goes in"


def test_impossible_sizes_are_refused_at_once():
    with pytest.raises(RequestError, match="even"):
        Asked((0, 9), (), (), clip_px=(641, 360))
    with pytest.raises(RequestError, match="1 or more"):
        Asked((0, 9), (), (), every=0)
