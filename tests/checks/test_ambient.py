"""Stage light on the whip show's wall and floor: what is left of their contrast, and who sees it."""

from __future__ import annotations

from math import cos, log2, pi, radians

import numpy as np
import pytest

from preview.checks.ambient import AmbientCheck, facet_table
from preview.checks.look import Look
from preview.checks.walk import open_plan, walk
from preview.show.model import StageLight
from preview.suggest.mend import changed_plan
from tests.checks.shows import changed, whip_show

FRONT = StageLight(
    key_level=1.0, fill_level=0.0, ambient_level=0.0, key_pan_deg=0.0, key_height_deg=0.0, key_color="#ffffff"
)


@pytest.fixture(scope="module")
def plan():
    with open_plan(whip_show(), every=10) as made:
        yield made


def seen(plan, light, frames=None, **tables):
    show = changed(plan.show, stage={"light": light}, **tables)
    check = AmbientCheck(changed_plan(plan, show, frames or plan.frames))
    walk(check.plan, [check])
    return check, check.result()


def of(result, surface):
    (found,) = [f for f in result.findings if f.measures.get("surface") == surface]
    return found


def test_a_key_from_straight_ahead_on_the_wall(plan):
    """The wall's middle facets stand 2.5 degrees off it; white and black scale alike, so that only the
    reflectance (0.04) is left of the contrast: (1 + 0.04 cos) / (0.04 cos)."""
    _, result = seen(plan, FRONT)
    wall, floor = of(result, "Wall"), of(result, "Floor")
    lifted = 0.04 * cos(radians(2.5))
    assert wall.measures["contrast"] == pytest.approx((1 + lifted) / lifted, abs=0.01)
    assert wall.measures["illuminance_lx"] == pytest.approx(
        pi * plan.stage.white_cd_m2 * cos(radians(2.5)), abs=0.1
    )
    assert wall.grade == "fine"
    assert "26:1" in wall.sentence
    assert floor.measures["contrast"] is None, "light along the floor does not fall on it"
    assert "No stage light" in floor.sentence


def test_more_light_than_the_show_asks_for_is_a_fault_where_it_is_seen(plan):
    strong = FRONT.model_copy(update={"key_level": 2.0})
    check, result = seen(plan, strong)
    wall = of(result, "Wall")
    assert wall.grade == "fault"
    assert "20:1 asked for" in wall.sentence
    look = Look(check.plan, int(wall.measures["worst_frame"]))
    (mark,) = check.marks(look, wall)
    sight = look.bare(wall.cameras[0])
    assert mark.mask.any()
    assert (sight.surface[mark.mask] == 0).all()


def test_light_from_one_side_lifts_the_side_that_faces_it(plan):
    """Positive pan comes from +X, which the wall's left part faces, as it wraps round the viewer."""
    for pan, part in ((60.0, "the left"), (-60.0, "the right")):
        _, result = seen(plan, FRONT.model_copy(update={"key_pan_deg": pan}), (0, 1))
        wall = of(result, "Wall")
        assert f"on {part} of it" in wall.sentence, wall.sentence
        assert wall.measures["black_cd_m2"] > wall.measures["mean_black_cd_m2"]


def test_white_against_the_key_and_the_exposure(plan):
    light = FRONT.model_copy(update={"key_level": 0.3})
    _, result = seen(plan, light)
    key, *_ = [f for f in result.findings if "white_over_key_stops" in f.measures]
    assert key.measures["white_over_key_stops"] == pytest.approx(-log2(0.3), abs=1e-4)
    assert key.grade == "compromise"
    assert "more than 1" in key.sentence
    exposures = [f for f in result.findings if "white_over_video_stops" in f.measures]
    assert sum(len(f.cameras) for f in exposures) == 2, "every camera on programme, alike ones together"
    # ISO 2720 with K = 12.5, T2.8, 1/50 s, ISO 800: grey at 6.125 cd/m2, 100 % video at 6.125 / 0.18.
    over = log2(plan.stage.white_cd_m2 / (6.125 / 0.18))
    assert exposures[0].measures["white_over_video_stops"] == pytest.approx(over, abs=1e-3)
    assert exposures[0].grade == "compromise", "the knee holds three stops"


def test_without_a_key_there_is_nothing_to_hold_the_wall_against(plan):
    _, result = seen(plan, StageLight(key_level=0.0, fill_level=0.0, ambient_level=0.1), (0,))
    assert any("no key" in f.sentence for f in result.findings)
    assert of(result, "Wall").measures["contrast"] == pytest.approx(1.004 / 0.004, abs=0.01)


def test_the_facet_under_every_part_of_the_canvas(plan):
    """Looked up fields against the surface's own way from canvas to stage."""
    for surface in plan.stage.surfaces:
        table = facet_table(surface)
        assert (table >= 0).all()
        rows, columns = table.shape
        at = np.random.default_rng(1).integers(0, (columns, rows), size=(200, 2))
        middles = (at + 0.5) / (columns, rows) * surface.canvas_px
        points, valid = surface.canvas_to_stage(middles)
        assert valid.all()
        planes = surface.planes[table[at[:, 1], at[:, 0]]]
        off = np.einsum("nx,nx->n", planes[:, :3], points) + planes[:, 3]
        assert np.abs(off).max() < 1e-9
