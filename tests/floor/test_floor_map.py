"""A whole floor map: its grid, what is no place for a camera, the clear zone, and requests it refuses."""

from dataclasses import replace

import numpy as np
import pytest

from preview.errors import RequestError
from preview.floor.floor_map import floor_map, others_frame
from preview.floor.grid import MARGIN_M, behind_walls, floor_grid, on_led_floor
from preview.floor.options import FloorOptions
from preview.floor.polygons import Polygons
from preview.floor.result import ARM, BEHIND_WALL, LENS_RANGE, ON_LED_FLOOR, REASONS
from preview.show.load import load_show
from preview.show.model import Framing, Mount, Surface
from preview.stage.build import build_stage
from preview.stage.surface import build_surface
from preview.suggest.changed import with_camera
from preview.timeline.timeline import Timeline
from tests.checks.flat_stage import FLOOR, TILES, WALL, camera, flat_show
from tests.checks.shows import changed

SHOT = {"name": "A", "on_air": "CAM1", "duration": 1}


@pytest.fixture(scope="module")
def demo():
    return load_show("assets/glasshouse/show.toml")


@pytest.fixture(scope="module")
def left(demo):
    return floor_map(demo, "left", "MS guest", FloorOptions(step_m=0.5))


def flat(*others, mount=None, surfaces=(WALL, FLOOR)):
    framing = Framing(name="one", look_at=(0.0, 2.5, 1.5), focal_length_mm=20.0)
    one = camera("CAM1", framing, at=(0.0, -6.0, 1.5), mount=mount or Mount(kind="pedestal"))
    return flat_show([one, *others], [SHOT], surfaces)


def test_the_grid_spans_what_stands_on_the_floor():
    surfaces = [build_surface(WALL)]
    grid = floor_grid(surfaces, [(0.0, -6.0, 1.5)], FloorOptions(step_m=0.25))
    assert (grid.x_m[0], grid.x_m[-1]) == (-2.0 - MARGIN_M, 2.0 + MARGIN_M)
    assert (grid.y_m[0], grid.y_m[-1]) == (-6.0 - MARGIN_M, 4.0 + MARGIN_M)
    assert np.diff(grid.x_m) == pytest.approx(0.25)
    asked = floor_grid(surfaces, [], FloorOptions(step_m=0.1, area_m=((-1.05, 1.0), (0.0, 0.3))))
    assert asked.x_m[0] == pytest.approx(-1.0)
    assert asked.y_m.tolist() == pytest.approx([0.0, 0.1, 0.2, 0.3])


def test_which_side_of_a_curved_wall_is_known():
    """22 facets of 0.5 m turn by 8.5 degrees at each joint: chords of a circle of 0.25 / tan 4.25 = 3.36 m
    inside radius, its middle that far in front of the wall's."""
    wall = Surface(name="Wall", columns=22, rows=6, joint_angle_deg=8.5, position_m=(0.0, 4.0, 0.0), **TILES)
    polygons = Polygons.of([build_surface(wall)])
    radius = 0.25 / np.tan(np.radians(4.25))
    turn = np.radians(np.linspace(-85.0, 85.0, 60))
    for away, behind in ((radius - 0.15, False), (radius + 0.15, True), (0.5, False), (6.0, True)):
        points = np.column_stack([away * np.sin(turn), 4.0 - radius + away * np.cos(turn), np.full(60, 4.5)])
        assert (behind_walls(polygons, points) == behind).all(), away


def test_places_on_an_led_floor_are_known():
    surfaces = [build_surface(WALL), build_surface(FLOOR)]
    polygons = Polygons.of(surfaces)
    low, high = surfaces[1].positions.min(axis=0), surfaces[1].positions.max(axis=0)
    rng = np.random.default_rng(0)
    x, y = rng.uniform(-4, 4, 500), rng.uniform(-3, 6, 500)
    right = (low[0] < x) & (x < high[0]) & (low[1] < y) & (y < high[1])
    assert (on_led_floor(polygons, surfaces, x, y) == right).all()
    assert 0 < right.sum() < 500


def test_no_camera_stands_behind_the_wall_and_no_pedestal_on_the_led_floor():
    found = floor_map(flat(), "CAM1", "one", FloorOptions(step_m=0.25))
    row, column = found.at(0.0, 4.5)
    assert found.reason[row, column] == BEHIND_WALL
    assert found.reason[found.at(0.0, 0.5)] == ON_LED_FLOOR
    assert found.told(row, column) == (REASONS[BEHIND_WALL],)
    carried = floor_map(flat(mount=Mount()), "CAM1", "one", FloorOptions(step_m=0.25))
    assert carried.reason[carried.at(0.0, 0.5)] == 0
    assert carried.reason[carried.at(0.0, 2.25)] == LENS_RANGE


def test_the_clear_zone_is_where_every_judged_layer_passes(left):
    assert left.clear.any()
    assert not left.clear.all()
    clear = left.reachable.copy()
    for layer in left.layers.values():
        assert layer.values.shape == left.clear.shape == (len(left.y_m), len(left.x_m))
        assert np.isnan(layer.values[~left.reachable]).all()
        if layer.judged:
            with np.errstate(invalid="ignore"):
                below = layer.limit_is == "below"
                over = layer.values > layer.limit if below else layer.values <= layer.limit
            clear &= ~over
    assert (clear == left.clear).all()
    for row, column in np.argwhere(left.reachable):
        assert bool(left.told(row, column)) != bool(left.clear[row, column])
    x, y, z = left.nearest_clear_m(*left.here_m[:2])
    assert left.clear[left.at(x, y)]
    assert z == pytest.approx(1.4)
    away = np.hypot(*(np.meshgrid(left.x_m - left.here_m[0], left.y_m - left.here_m[1])))
    assert np.hypot(x - left.here_m[0], y - left.here_m[1]) == pytest.approx(away[left.clear].min())


def test_every_layer_says_what_it_is(left):
    assert set(left.layers) == {
        "moire-share", "moire-worst", "moire-mean", "structure", "off-wall", "viewing-loss", "viewing-angle",
        "overlap", "clearance",
    }  # fmt: skip
    for name, layer in left.layers.items():
        assert layer.name == name
        assert layer.note.endswith(".")
        assert layer.values.dtype == np.float32
        assert not layer.judged or layer.limit is not None
    assert len(left.assumptions) > 5


def test_overlap_is_judged_only_where_frustums_are_on_the_wall_together(demo):
    options = FloorOptions(step_m=1.0)
    assert not floor_map(demo, "left", "MS guest", options).layers["overlap"].judged
    shared = changed(demo, drive={"mode": "shared"})
    layer = floor_map(shared, "left", "MS guest", options).layers["overlap"]
    assert layer.judged
    assert layer.limit == demo.file.checks.bleed.off_air_percent


def test_a_jibs_map_is_its_arms_ring(demo):
    found = floor_map(demo, "jib", "Wide", FloorOptions(step_m=0.2))
    mount = demo.file.cameras[2].mount
    x, y = np.meshgrid(found.x_m - mount.pivot_m[0], found.y_m - mount.pivot_m[1])
    away = np.hypot(x, y)
    low, high = mount.arm_m * np.cos(np.radians(45.0)) + 0.25, mount.arm_m + 0.25
    ring = (away > low + 1e-9) & (away < high - 1e-9)
    behind = found.reason == BEHIND_WALL
    assert (found.reason[~ring & ~behind] == ARM).all()
    assert (found.reason[ring] == 0).all()
    rise = mount.arm_m * np.sin(np.arccos((away[ring] - 0.25) / mount.arm_m))
    raised, lowered = 1.5 - 0.15 + rise, 1.5 - 0.15 - rise
    height = found.height_m[ring]
    assert (np.minimum(abs(height - raised), abs(height - lowered)) < 1e-5).all()


def test_the_map_of_a_flat_wall_is_even_and_alike_on_both_sides():
    found = floor_map(flat(surfaces=(WALL,), mount=Mount()), "CAM1", "one", FloorOptions(step_m=0.5))
    for name in ("off-wall", "viewing-loss", "moire-mean", "structure"):
        values = found.layers[name].values
        assert values == pytest.approx(values[:, ::-1], abs=2.0, nan_ok=True), name
    middle = found.at(0.0, 0.0)[1]
    angle = found.layers["viewing-angle"].values[found.at(0.0, -3.0)[0], middle:]
    assert (np.diff(angle[np.isfinite(angle)]) > 0).all(), "the farther aside, the more from the side"


def test_the_other_cameras_are_taken_when_this_one_has_the_framing(demo):
    timeline = Timeline(demo)
    for name, framing in (("left", "MS guest"), ("right", "MS presenter"), ("hand", "CU seedlings")):
        frame = others_frame(timeline, name, framing, FloorOptions())
        assert timeline.at(frame).camera(name).framing == framing
    assert others_frame(timeline, "left", "MS guest", FloorOptions(others_frame=7)) == 7


def test_requests_that_cannot_be_met_say_what_to_ask_for(demo):
    options = FloorOptions(step_m=1.0)
    for camera_name, framing, ask, words in (
        ("center", "MS guest", options, "there are left, right, jib, hand"),
        ("left", "MS gust", options, "'MS guest'"),
        ("left", "MS guest", FloorOptions(others_frame=10**6), "outside the rundown"),
        ("left", "MS guest", FloorOptions(step_m=0.01, area_m=((-50, 50), (-50, 50))), "larger step"),
    ):
        with pytest.raises(RequestError, match=words):
            floor_map(demo, camera_name, framing, ask)
    for keys in ({"step_m": 0.0}, {"height_m": -1.0}, {"sightlines": (2, 2)}, {"area_m": ((1, 0), (0, 1))}):
        with pytest.raises(ValueError, match="write"):
            FloorOptions(**keys)


def test_a_place_is_what_the_map_says_wherever_the_grid_is_laid(demo):
    """One place in two grids: all its numbers agree, but clearance where it is a mean of neighbours."""
    stage, timeline = build_stage(demo), Timeline(demo)
    area = FloorOptions(step_m=0.5, area_m=((-5.0, -3.0), (-6.0, -4.0)))
    one = floor_map(demo, "left", "MS guest", area, stage, timeline)
    other = floor_map(demo, "left", "MS guest", replace(area, step_m=1.0), stage, timeline)
    for name in one.layers:
        a, b = (found.layers[name].values[found.at(-4.0, -5.0)] for found in (one, other))
        assert a == pytest.approx(b, abs=0.3 if name == "clearance" else 1e-3), name


def test_a_pedestal_that_is_too_low_for_its_height_is_told(demo):
    low = with_camera(demo, "left", mount=Mount(kind="pedestal", height_range_m=(1.6, 1.8)))
    found = floor_map(low, "left", "MS guest", FloorOptions(step_m=1.0))
    assert not found.reachable.any()
    assert found.nearest_clear_m(0.0, 0.0) is None
