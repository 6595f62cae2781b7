"""LED surfaces from the side, against plane geometry; the falloff itself: ``tests/outside/test_falloff``."""

from __future__ import annotations

from math import atan2, cos, degrees, log, radians, tan

import numpy as np
import pytest

from preview.checks.look import Look
from preview.checks.viewing_angle import ViewingAngle
from preview.show.model import Surface
from preview.show.thresholds import Checks, ViewingAngleLimits
from tests.checks.flat_stage import TILES, camera, flat_show, framing, seen, shot

HALF_DEG = 70.0
POWER = log(0.5) / log(cos(radians(HALF_DEG)))
ANGLES = {"viewing_angle_deg": (2 * HALF_DEG, 2 * HALF_DEG), "viewing_angle_of": "luminance"}
WALL = Surface(name="Wall", columns=200, rows=200, position_m=(0.0, 4.0, -50.0), **TILES, **ANGLES)
FLOOR = Surface(
    name="Floor", kind="floor", columns=100, rows=40, position_m=(0.0, -1.0, 0.0), **TILES, **ANGLES
)
FOCAL = 48.0
HALF_PICTURE_DEG = degrees(atan2(4.8 * 191 / 192, FOCAL))
"""From the axis to the middle of the outermost field."""


def show_of(*cameras, surfaces=(WALL,), limits=None, shots=None):
    shots = shots or [shot("One", "A", {c.name: c.framings[0].name for c in cameras})]
    checks = Checks(viewing_angle=ViewingAngleLimits(**limits)) if limits else None
    return flat_show(cameras, shots, surfaces=surfaces, checks=checks)


def luminance(off_deg):
    return cos(radians(off_deg)) ** POWER


@pytest.mark.parametrize("pan", [0.0, 20.0, 45.0, 60.0])
def test_a_flat_wall_from_a_known_angle(pan):
    """Panned so far off a flat wall's normal, a camera sees it from there plus and minus half its picture."""
    show = show_of(camera("A", framing("f", FOCAL, pan)), limits={"loss_percent": 0.0})
    with seen(ViewingAngle, show) as (check, _):
        (finding,) = check.result().findings
        loss, stops = check.curves()
    measures = finding.measures
    widest, least = pan + HALF_PICTURE_DEG, max(0.0, pan - HALF_PICTURE_DEG)
    # The picture's corners lie a little farther off than its sides' middles.
    assert measures["angle_deg"] == pytest.approx(widest, abs=1.6 if pan == 0.0 else 0.9)
    worst = luminance(measures["angle_deg"])
    assert measures["loss_percent"] == pytest.approx(100 * (1 - worst), abs=0.01)
    assert measures["difference_stops"] == pytest.approx(np.log2(luminance(least) / worst), abs=0.02)
    assert loss.values["A"][0] == pytest.approx(measures["loss_percent"], abs=0.01)
    assert stops.values["A"][0] == pytest.approx(measures["difference_stops"], abs=0.001)
    assert finding.grade == "fault" and measures["surface"] == "Wall"
    assert measures["surface_percent"] == 100.0


def test_where_colours_shift_is_counted_and_marked():
    """The limit at the picture's middle line: half the picture lies past it, on the side panned to."""
    show = show_of(
        camera("A", framing("f", FOCAL, 40.0)), limits={"colour_shift_deg": 40.0, "loss_percent": 90.0}
    )
    with seen(ViewingAngle, show) as (check, _):
        (finding,) = check.result().findings
        (mark,) = check.marks(Look(check.plan, 0), finding)
    assert finding.grade == "fault" and "colours may shift" in finding.sentence
    assert finding.measures["colour_shift_percent"] == pytest.approx(50.0, abs=2.0)
    assert mark.mask[:, :90].all() and not mark.mask[:, 102:].any(), "+pan turns left, away from the normal"


def test_vertical_angles_use_the_vertical_plane():
    narrow = WALL.model_copy(update={"viewing_angle_deg": (160.0, 90.0)})
    limits = {"loss_percent": 0.0}
    across = show_of(camera("A", framing("f", 80.0, 40.0)), surfaces=(narrow,), limits=limits)
    up = show_of(camera("A", framing("f", 80.0, 0.0, 40.0)), surfaces=(narrow,), limits=limits)
    with seen(ViewingAngle, across) as (one, _), seen(ViewingAngle, up) as (other, _):
        (level,), (tall,) = one.result().findings, other.result().findings
    assert tall.measures["loss_percent"] > level.measures["loss_percent"] + 20.0
    off = tall.measures["angle_deg"]
    assert tall.measures["loss_percent"] == pytest.approx(100 * (1 - cos(radians(off)) ** 2), abs=1.0)


def test_a_floor_is_a_compromise_told_once_a_camera_with_what_to_do():
    low = camera("A", framing("f", 20.0, 0.0, -12.0), framing("g", 20.0, 0.0, -20.0), at=(0.0, 0.0, 1.2))
    shots = [shot("One", "A", {"A": "f"}), shot("Two", "A", {"A": "g"}), shot("Three", "A", {"A": "f"})]
    show = show_of(low, surfaces=(FLOOR,), shots=shots)
    with seen(ViewingAngle, show) as (check, _):
        found = check.result().findings
        rows = check.tables()["viewing-angle"]
    (floor,) = [f for f in found if f.grade == "compromise"]
    assert floor.measures["surface"] == "Floor" and floor.measures["shots_over"] == 3
    assert floor.shot in ("One", "Three") and "balance this floor" in floor.remedy
    assert "no camera sees a floor straight on" in floor.sentence and "in 3 shots" in floor.sentence
    (fine,) = [f for f in found if f.grade == "fine"]
    assert "sees no LED wall" in fine.sentence
    assert [(row["shot"], row["surface"]) for row in rows] == [(s, "Floor") for s in ("One", "Two", "Three")]
    # The topmost field looks 12 degrees down, less half the picture: 1.2 m up, plain trigonometry.
    top = 12.0 - degrees(atan2(2.7 * 107 / 108, 20.0))
    far = 1.2 / tan(radians(top))
    assert top > 0.0 and far < 19.0, "the floor fills the picture"
    assert floor.measures["angle_deg"] == pytest.approx(90.0 - top, abs=0.2)


def test_each_surface_is_compared_with_itself_alone():
    """Wall straight on and floor from the side: neither differs much, and no step between them is told."""
    low = camera("A", framing("f", 60.0, 0.0, -16.0), at=(0.0, 0.0, 1.2))
    show = show_of(low, surfaces=(WALL.model_copy(update={"position_m": (0, 4.0, 0)}), FLOOR))
    with seen(ViewingAngle, show) as (check, _):
        check.result()
        rows = {row["surface"]: row for row in check.tables()["viewing-angle"]}
    assert rows["Wall"]["difference_stops"] < 0.1 and rows["Floor"]["difference_stops"] < 0.5
    assert rows["Floor"]["loss_percent"] > rows["Wall"]["loss_percent"] + 20.0


def test_a_difference_alone_is_a_compromise():
    show = show_of(
        camera("A", framing("f", 8.0, 20.0)),
        limits={"loss_percent": 80.0, "colour_shift_deg": 85.0, "difference_stops": 0.3},
    )
    with seen(ViewingAngle, show) as (check, _):
        (finding,) = check.result().findings
        (mark,) = check.marks(Look(check.plan, 0), finding)
    assert finding.grade == "compromise" and finding.measures["difference_stops"] > 0.3
    assert mark.mask[:, 0].all() and not mark.mask[:, 150:].any()


def test_within_the_limits_a_camera_is_fine_for_its_worst_shot():
    a = camera("A", framing("f", FOCAL, 0.0), framing("g", FOCAL, 15.0))
    shots = [shot("One", "A", {"A": "f"}), shot("Two", "A", {"A": "g"})]
    with seen(ViewingAngle, show_of(a, shots=shots)) as (check, _):
        (finding,) = check.result().findings
    assert finding.grade == "fine" and finding.shot == "Two" and "in 2 shots" in finding.sentence
    assert finding.measures["angle_deg"] == pytest.approx(15.0 + HALF_PICTURE_DEG, abs=0.9)
    assert check.marks(Look(check.plan, 0), finding) == ()


def test_tiles_by_intensity_that_are_lambertian_lose_nothing():
    even = WALL.model_copy(update={"viewing_angle_deg": (120.0, 120.0), "viewing_angle_of": "intensity"})
    show = show_of(camera("A", framing("f", FOCAL, 55.0)), surfaces=(even,))
    with seen(ViewingAngle, show) as (check, _):
        (finding,) = check.result().findings
    assert finding.grade == "fine" and finding.measures["loss_percent"] == pytest.approx(0.0, abs=1e-9)
    assert "loses no light" in finding.sentence
