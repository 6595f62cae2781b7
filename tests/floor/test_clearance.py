"""Room over the least distances against the clearance check of cameras that really stand there."""

import numpy as np
import pytest

from preview.checks.clearance import Clearance
from preview.checks.look import Look, Plan
from preview.checks.near import stage_targets
from preview.checks.walk import open_plan
from preview.floor.aim import Aim
from preview.floor.clearance import ENOUGH_M, Room, floor_targets
from preview.floor.grid import FloorGrid
from preview.floor.options import FloorOptions
from preview.floor.polygons import Polygons
from preview.show.load import load_show
from preview.stage.appearance import equipment_at
from preview.stage.build import build_stage
from preview.suggest.changed import with_framings
from preview.timeline.mount import arm_angles_of
from preview.timeline.timeline import Timeline
from tests.checks.shows import with_rundown
from tests.floor.places import standing_at


@pytest.fixture(scope="module")
def demo():
    return load_show("assets/glasshouse/show.toml")


@pytest.fixture(scope="module")
def stage(demo):
    return build_stage(demo)


@pytest.fixture(scope="module")
def plan(demo):
    with open_plan(demo, size_px=(16, 9)) as opened:
        yield opened


def room_of(show, stage, aim):
    moment = Timeline(show).at(0)
    settings = {one.name: one for one in show.file.cameras}
    solids = []
    for one in moment.cameras:
        if one.name != aim.camera.name:
            solids += equipment_at(settings[one.name], one.view)
    bodies = stage_targets(stage, {person.name for person in show.file.stage.people})
    targets = floor_targets(stage, Polygons.of(stage.surfaces), bodies)
    return Room(aim, targets, bodies, solids, show.file.checks.clearance)


def checked_m(plan, show, camera):
    """Least room of a camera in the first frame, by the check."""
    check = Clearance(Plan(show, Timeline(show), plan.stage, plan.sights, (0,)))
    check.see(Look(check.plan, 0))
    (curve,) = check.curves()
    return curve.values[camera][0]


CASES = [("left", "MS guest"), ("hand", "CU seedlings"), ("jib", "Two-shot centre")]


@pytest.mark.parametrize(("name", "framing"), CASES)
def test_room_is_what_the_check_finds_there(demo, stage, plan, name, framing):
    held = with_rundown(
        demo, {"name": "A", "on_air": name, "duration": 1, "cameras": {name: {"framing": framing}}}
    )
    aim = Aim.of(held.file, name, framing, FloorOptions())
    room = room_of(held, stage, aim)
    rng = np.random.default_rng(6)
    if name == "jib":
        turn, reach = rng.uniform(-0.6, 0.6, 4), rng.uniform(4.0, 4.6, 4)
        x, y = reach * np.sin(turn), -9.6 + reach * np.cos(turn)
    else:
        x, y = rng.uniform(-4, 4, 10), rng.uniform(-5.0, 2.5, 10)
    stands = aim.stands(x, y)
    usable = np.flatnonzero(stands.reason == 0)
    assert len(usable) >= 4
    signs = set()
    for place in usable:
        there = standing_at(held, aim, stands, place)
        if name == "jib":
            swing, boom = swing_boom(aim, stands.position_m[place])
            keys = {"swing_deg": swing, "boom_deg": boom, "position_m": None}
            there = with_framings(there, name, {framing: keys})
        found = room.at(stands, place)
        right = checked_m(plan, there, name)
        assert found == pytest.approx(min(right, ENOUGH_M), abs=1e-5)
        signs.add(found > 0)
    if name != "jib":
        assert signs == {True, False}


def swing_boom(aim, position_m):
    return arm_angles_of(aim.camera.mount, tuple(float(value) for value in position_m))


@pytest.mark.parametrize(("name", "framing"), CASES[:2])
def test_places_that_were_not_measured_are_on_the_right_side(demo, stage, name, framing):
    aim = Aim.of(demo.file, name, framing, FloorOptions())
    grid = FloorGrid(np.arange(-2.0, 2.001, 0.1), np.arange(-4.0, -1.499, 0.1))
    stands = aim.stands(*grid.places)
    wanted = (stands.reason == 0).reshape(grid.shape)
    room = room_of(demo, stage, aim)
    found = room.over(stands, grid.shape, wanted)
    assert room.measured < 0.8 * wanted.sum(), "nothing was spared"
    assert np.isnan(found[~wanted]).all()
    rows, columns = np.nonzero(wanted)
    rng = np.random.default_rng(1)
    for pick in rng.choice(len(rows), 100, replace=False):
        place = rows[pick], columns[pick]
        right = room.at(stands, int(place[0] * grid.shape[1] + place[1]))
        assert (found[place] > 0) == (right > 0)
        assert found[place] == pytest.approx(right, abs=0.5)


def test_a_camera_inside_a_person_touches(demo, stage):
    aim = Aim.of(demo.file, "hand", "CU seedlings", FloorOptions(height_m=1.2))
    gardener = next(person for person in demo.file.stage.people if person.name == "Gardener")
    x, y, _ = gardener.position_m
    stands = aim.stands(np.array([x]), np.array([y]))
    assert room_of(demo, stage, aim).at(stands, 0) == -demo.file.checks.clearance.carried_m
