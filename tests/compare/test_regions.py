"""Which pixels count as wall, set and off-wall, on a stage small enough to work out by hand.

One flat wall, 3.75 x 2.25 m, 4 m in front of a camera that looks straight at it; a box of 1 m before it.
"""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from preview.camera.pose import Pose
from preview.camera.view import CameraView
from preview.compare.measures import measure
from preview.compare.regions import REGIONS, WHOLE, RegionFinder, masks_of
from tests.twin import oracle
from tests.twin.drawing import SIZE, near_borders, raster_of
from tests.twin.oracle import OracleStage
from tests.twin.room import PaintedRoom
from tests.twin.stages import EYE_POINT_M, box_solid, faceted_wall

HALF_TANGENT = 0.75
"""Of half the horizontal angle. At 4 m the picture is 6 m wide, 320 pixels, and the wall 200 x 120 pixels:
its edges fall between pixels, those of the box (53.3 pixels above and below the middle) within them."""

LENS_M = 1.125
VIEW = CameraView(Pose((0.0, 0.0, LENS_M)), (2 * HALF_TANGENT, 2 * HALF_TANGENT * SIZE[1] / SIZE[0]), 1.0)


@pytest.fixture(scope="module")
def stage():
    wall = faceted_wall(columns=1, tile_m=(3.75, 2.25), joint_deg=0.0)
    box = box_solid((1.0, 1.0, 1.0), (0.41, 2.5, LENS_M), (0.4, 0.3, 0.2))  # front at 2 m
    return OracleStage([wall], [2.0], EYE_POINT_M, [box])


@pytest.fixture(scope="module")
def raster(stage):
    with raster_of(stage, PaintedRoom()) as raster:
        yield raster


def columns_between(left_m, right_m, distance_m):
    """Pixel columns whose middles see between two X at a distance, from similar triangles."""
    middles = (np.arange(SIZE[0]) + 0.5) / SIZE[0] * 2 - 1
    return (middles * HALF_TANGENT * distance_m > left_m) & (middles * HALF_TANGENT * distance_m < right_m)


def rows_between(low_m, high_m, distance_m):
    """Pixel rows whose middles see between two heights."""
    middles = (1 - (np.arange(SIZE[1]) + 0.5) / SIZE[1] * 2) * HALF_TANGENT * SIZE[1] / SIZE[0]
    return (LENS_M + middles * distance_m > low_m) & (LENS_M + middles * distance_m < high_m)


def test_masks_are_the_rectangles_that_geometry_gives(raster):
    """To the pixel. The box's edges fall inside pixels, where the larger part decides."""
    masks = masks_of(raster.sightlines(VIEW))
    on_box = np.outer(rows_between(0.625, 1.625, 2.0), columns_between(-0.09, 0.91, 2.0))
    on_wall = np.outer(rows_between(0.0, 2.25, 4.0), columns_between(-1.875, 1.875, 4.0)) & ~on_box
    np.testing.assert_array_equal(masks["set"], on_box)
    np.testing.assert_array_equal(masks["wall"], on_wall)
    np.testing.assert_array_equal(masks["off-wall"], ~on_box & ~on_wall)


def test_shares_are_those_of_the_areas(raster):
    """Each thing's size over what the picture spans there; the box stands wholly before the wall."""
    masks = RegionFinder(raster).shared([VIEW])
    wide, high = 2 * HALF_TANGENT, 2 * HALF_TANGENT * SIZE[1] / SIZE[0]
    box = (1 / (2 * wide)) * (1 / (2 * high))
    wall = (3.75 / (4 * wide)) * (2.25 / (4 * high)) - box
    assert masks["set"].mean() == pytest.approx(box, abs=0.006)
    assert masks["wall"].mean() == pytest.approx(wall, abs=0.006)
    assert masks["off-wall"].mean() == pytest.approx(1 - wall - box, abs=0.006)


@pytest.mark.parametrize("pan_deg, tilt_deg", [(12.0, 3.0), (-20.0, -8.0)])
def test_masks_agree_with_rays_traced_one_by_one(raster, stage, pan_deg, tilt_deg):
    view = replace(VIEW, pose=Pose((0.7, -0.4, 1.4), pan_deg, tilt_deg, 5.0))
    seen = oracle.sightlines(view, SIZE, stage)
    shape = (SIZE[1], SIZE[0])
    labels = np.where(seen.surface >= 0, 0, np.where(seen.solid >= 0, 1, 2)).reshape(shape)
    away = ~near_borders(labels, 1)
    masks = masks_of(raster.sightlines(view))
    for number, name in enumerate(REGIONS):
        np.testing.assert_array_equal(masks[name][away], (labels == number)[away])
        assert (labels == number).any(), "the view shows all three"


def test_every_pixel_of_one_view_is_in_one_region(raster):
    masks = RegionFinder(raster).shared([VIEW, VIEW])
    assert list(masks) == [WHOLE, *REGIONS]
    assert masks[WHOLE].all()
    np.testing.assert_array_equal(sum(masks[name].astype(int) for name in REGIONS), 1)


def test_two_views_share_what_is_the_same_in_both(raster):
    other = replace(VIEW, pose=Pose((0.6, 0.0, LENS_M)))
    finder = RegionFinder(raster)
    one, two, both = finder.shared([VIEW]), finder.shared([other]), finder.shared([VIEW, other])
    for name in REGIONS:
        np.testing.assert_array_equal(both[name], one[name] & two[name])
    covered = sum(both[name].astype(int) for name in REGIONS)
    assert covered.max() == 1 and covered.min() == 0, "some pixels show different things: in no region"
    assert both[WHOLE].all()


def test_half_a_pixel_of_set_is_set_and_a_wall_from_behind_is_none():
    seen = SimpleNamespace(
        surface=np.array([[0, 0, -1, -1, 2]]), set_cover=np.array([[0.49, 0.5, 0.5, 0.25, 0.0]])
    )
    masks = masks_of(seen)
    assert masks["set"].tolist() == [[False, True, True, False, False]]
    assert masks["wall"].tolist() == [[True, False, False, False, True]]
    assert masks["off-wall"].tolist() == [[False, False, False, True, False]]


def test_a_view_that_stands_still_is_looked_up_once():
    asked = []

    def sightlines(view):
        asked.append(view)
        return SimpleNamespace(surface=np.zeros((2, 2), int), set_cover=np.zeros((2, 2)))

    finder = RegionFinder(SimpleNamespace(sightlines=sightlines))
    views = [replace(VIEW, focus_m=float(metres)) for metres in range(20, 31)]
    for _ in range(3):
        finder.shared([VIEW])
    assert len(asked) == 1
    for view in views:
        finder.shared([view])
    assert len(asked) == 12
    finder.shared([views[-1]])
    assert len(asked) == 12
    finder.shared([VIEW])
    assert len(asked) == 13, "forgotten, not kept for ever"


def test_the_region_that_is_not_in_a_picture_has_no_numbers(raster):
    near = replace(VIEW, pose=Pose((-1.0, 3.0, 1.0)))  # past the box, the wall fills the picture
    masks = RegionFinder(raster).shared([near])
    code = np.zeros((SIZE[1], SIZE[0], 3), np.uint8)
    found = measure(code, code, masks)
    assert found["set"] is None and found["off-wall"] is None
    assert found["wall"].share == 1
