"""The moire check: what it counts is what the optics say, and words follow the numbers."""

import pytest

from preview.checks.look import Look
from preview.checks.moire import Moire, runs_words
from preview.checks.seen_moire import optics_of, seen_moire
from preview.checks.walk import open_plan, walk
from tests.checks.planted import jib_focused, show_of


def checked(show, **range_):
    with open_plan(show, **range_) as plan:
        check = Moire(plan)
        walk(plan, [check])
        return plan, check, check.result()


@pytest.fixture(scope="module")
def in_focus():
    """The jib's picture with the wall in focus, frames 75 to 99."""
    show = show_of("moire", *jib_focused(12))
    with open_plan(show, first=75) as plan:
        check = Moire(plan)
        walk(plan, [check])
        result = check.result()
        marks = check.marks(Look(plan, 80), result.findings[0])
        sight = Look(plan, 80).sight("JIB")
        found = seen_moire(sight, plan.camera("JIB"), plan.stage.surfaces, (640, 360))
        yield plan, check, result, marks, found


def test_the_share_is_the_sightlines_with_enough_risk(in_focus):
    _, _, result, marks, found = in_focus
    (finding,) = result.findings
    share = 100 * float((found.risk >= 0.5).mean())
    assert finding.grade == "compromise"
    assert finding.measures["moire_picture_percent"] == pytest.approx(share, abs=1e-3)
    assert share > 50
    (mark,) = marks
    assert mark.camera == "JIB"
    assert 100 * mark.mask.mean() == pytest.approx(share, abs=1e-6)


def test_words_follow_the_numbers(in_focus):
    _, _, result, _, found = in_focus
    (finding,) = result.findings
    cycles = finding.measures["worst_cycles_per_height"]
    assert f"{cycles:.0f} stripes to the picture height" in finding.sentence
    assert runs_words(finding.measures["worst_orientation_deg"]) in finding.sentence
    row, column = found.worst
    assert float(found.patterns.cycles_per_height[row, column]) == pytest.approx(cycles, abs=0.01)


def test_focus_on_people_takes_it_away():
    _, _, result = checked(show_of(), first=75)
    assert [finding.grade for finding in result.findings] == ["fine"]
    assert result.findings[0].measures["worst_risk"] < 0.5


def test_a_finer_wall_has_less():
    """Half the pitch at the same place: the LED pixels are below a photosite and the lens takes them."""
    fine = show_of("fine-moire", *jib_focused(12), ("pixel_pitch_mm = 2.6042", "pixel_pitch_mm = 1.0"))
    _, _, result = checked(fine, first=75, every=10)
    _, _, coarse = checked(show_of("moire", *jib_focused(12)), first=75, every=10)
    assert (
        result.findings[0].measures["worst_contrast_percent"]
        < 0.2 * (coarse.findings[0].measures["worst_contrast_percent"])
    )


def test_the_limit_is_the_shows():
    limit = ('[[rundown]]\nname = "Anna"', '[checks.moire]\nrisk = 1.0\n\n[[rundown]]\nname = "Anna"')
    _, _, result = checked(show_of("moire-limit", *jib_focused(12), limit), first=75, every=10)
    strict = result.findings[0]
    _, _, loose = checked(show_of("moire", *jib_focused(12)), first=75, every=10)
    assert strict.measures["moire_picture_percent"] <= loose.findings[0].measures["moire_picture_percent"]


def test_curves_and_table_have_a_value_a_frame(in_focus):
    plan, check, _, _, _ = in_focus
    for curve in check.curves():
        assert len(curve.values["JIB"]) == len(curve.frames) == len(plan.frames)
    assert len(check.tables()["moire"]) == len(plan.frames)


def test_the_optics_are_the_cameras(in_focus):
    plan, *_ = in_focus
    optics = optics_of(plan.camera("JIB"))
    assert optics.photosite_mm == pytest.approx((9.59 / 1920, 5.39 / 1080))
    assert optics.f_number == 2.8
