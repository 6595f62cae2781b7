"""Checks that look at every frame of a plan, against the functions that ``preview cuts`` uses."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from preview.checks.coverage import CoverageCheck, coverage_over, worst_of
from preview.checks.cut import CutCheck, cuts_of
from preview.checks.edge_lines import LineFinder
from preview.checks.line_sight import EdgeLineCheck
from preview.checks.look import Look
from preview.checks.registry import all_checks
from preview.checks.walk import open_plan, walk
from preview.show.thresholds import CutLimits
from preview.suggest.changed import with_overscan
from preview.suggest.mend import changed_plan
from preview.timeline.timeline import Timeline
from tests.checks.shows import changed, whip_show

SHARED = {"mode": "shared", "edge_width_mm": 50.0}


@pytest.fixture(scope="module")
def plan():
    with open_plan(whip_show()) as made:
        yield made


def checked(plan, check, show, frames=None):
    timeline = Timeline(show)
    made = check(changed_plan(plan, show, frames or tuple(range(timeline.frame_count))))
    walk(made.plan, [made])
    return made, made.result()


def test_they_are_among_all_checks_in_their_places():
    order = {check.name: check.order for check in all_checks()}
    assert {
        "coverage": 20,
        "structure": 60,
        "cuts": 70,
        "edge-lines": 75,
        "ambient": 100,
    }.items() <= order.items()


def test_coverage_says_what_coverage_over_says(plan):
    late = changed(whip_show(), delays={"tracking_frames": 3.0})
    check, result = checked(plan, CoverageCheck, late)
    over = coverage_over(late, surfaces=plan.stage.surfaces)
    (fault,) = result.faults
    short = [one.frame for one in over if not one.covered]
    assert fault.cameras == ("CAM2",)
    assert fault.frames == (short[0], short[-1])
    worst = max(over, key=lambda one: (one.missing_share, one.needed_percent))
    assert fault.measures["worst_frame"] == worst.frame
    assert fault.measures["missing_picture_percent"] == pytest.approx(100 * worst.missing_share)
    assert fault.measures["needed_overscan_percent"] == pytest.approx(worst_of(over).needed_percent)
    assert fault.measures["where"] == f"the {worst.edge} edge"
    (curve,) = check.curves()
    assert np.nanmax(curve.values["CAM2"]) == pytest.approx(100 * worst.missing_share)
    (mark,) = check.marks(Look(check.plan, worst.frame), fault)
    assert mark.mask.mean() == pytest.approx(worst.missing_share, abs=0.01)


def test_enough_overscan_is_told_as_fine(plan):
    late = with_overscan(changed(whip_show(), delays={"tracking_frames": 3.0}), {"CAM2": 60.0})
    _, result = checked(plan, CoverageCheck, late)
    assert result.grade == "fine"
    one, two = result.findings
    assert "it needs no overscan" in one.sentence
    needed = worst_of(coverage_over(late, surfaces=plan.stage.surfaces)).needed_percent
    assert f"needs {needed:.1f} % overscan" in two.sentence


def test_cuts_and_the_mix_on_one_wall(plan):
    late = changed(whip_show(), delays={"wall_switch_frames": 3})
    _, result = checked(plan, CutCheck, late)
    cut, mix = result.findings
    told, mixed = cuts_of(late)
    assert (cut.grade, cut.frames, cut.measures["wrong_frames"]) == ("fault", (25, 27), 3)
    assert cut.measures["worst_frame"] in told.wrong_frames
    assert mix.grade == "compromise"
    assert mix.measures["worst_frame"] in mixed.shared_frames
    shares = {one.frame: one.wrong_share for one in mixed.frames}
    assert shares[mix.measures["worst_frame"]] == max(shares.values())


def test_clean_cuts_are_one_line_and_allowed_frames_no_fault(plan):
    _, result = checked(plan, CutCheck, whip_show(), tuple(range(20, 40)))
    (clean,) = result.findings
    assert clean.sentence == "Clean: 1 cut; the background changes with the picture."
    assert clean.frames == (20, 39)
    _, result = checked(plan, CutCheck, whip_show(), (3, 4))
    assert "No change of camera" in result.findings[0].sentence
    late = changed(whip_show(), delays={"wall_switch_frames": 3})
    limits = late.file.checks.model_copy(update={"cuts": CutLimits(wrong_frames=3)})
    late = replace(late, file=late.file.model_copy(update={"checks": limits}))
    _, result = checked(plan, CutCheck, late, tuple(range(20, 40)))
    assert [f.grade for f in result.findings] == ["compromise"]


@pytest.mark.parametrize(
    "name, change, overscan, frames",
    [
        ("own line, no overscan", {}, 0.0, (10,)),
        ("own line inside, image late", {"delays": {"tracking_frames": 3.0}}, 5.0, (45, 49, 53)),
        ("the other's on top, wall late", {"delays": {"wall_switch_frames": 3}}, 5.0, (25, 27, 28)),
        ("thin line", {"delays": {"tracking_frames": 3.0}, "drive": {"edge_width_mm": 4.0}}, 5.0, (46, 49)),
        ("enough of everything", {}, 30.0, (10, 30, 49, 90)),
    ],
)
def test_lines_on_coarse_sightlines_are_those_of_every_pixel(plan, studio, name, change, overscan, frames):
    """Whose line is seen in whose picture: the grid of 192 x 108 against the pixels of 640 x 360."""
    drive = {**SHARED, **change.get("drive", {})}
    show = changed(whip_show(), drive=drive, **{k: v for k, v in change.items() if k != "drive"})
    show = with_overscan(show, {"CAM1": overscan, "CAM2": overscan})
    finder = LineFinder(studio.raster, studio.stage.surfaces)
    timeline = Timeline(show)
    for frame in frames:
        moment = timeline.at(frame)
        exact = finder.pixels(moment, moment.on_air, show.file.drive)
        check, result = checked(plan, EdgeLineCheck, show, (frame,))
        told = {f.measures["line_of"]: f for f in result.findings if f.grade != "fine"}
        assert set(told) == set(exact), frame
        for whose, finding in told.items():
            (mark,) = check.marks(Look(check.plan, frame), finding)
            rows, columns = np.nonzero(exact[whose])
            cells = mark.mask[(rows * 108) // 360, (columns * 192) // 640]
            assert cells.mean() > 0.3, "the fields marked are where the line is"


def test_no_lines_on_a_switched_wall(plan):
    _, result = checked(plan, EdgeLineCheck, whip_show(), (0, 30))
    (finding,) = result.findings
    assert (finding.grade, finding.sentence) == ("fine", "No edge lines are drawn on this wall.")
