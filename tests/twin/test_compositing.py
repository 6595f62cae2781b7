"""The GL compositing against its plain twin, picture kind by picture kind, in linear light."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from preview.camera.distortion import Distortion
from preview.camera.extent import undistorted_extent
from preview.camera.pose import Pose
from preview.camera.view import CameraView
from preview.raster.request import CameraPicture, CanvasPicture, Layer, OuterPicture, SceneImage
from tests.twin import oracle
from tests.twin.drawing import SIZE, check, compare, expected, images_of, near_borders, raster_of
from tests.twin.oracle import OracleStage
from tests.twin.room import PaintedRoom
from tests.twin.stages import EYE_POINT_M, box_solid, faceted_wall, led_floor

ROOM = PaintedRoom()
BARREL = Distortion(k1=-0.12, k2=0.03, p1=0.002, p2=-0.001)
CROSS = CameraView(Pose.looking_at((2.6, -2.0, 1.5), (-0.6, 4.0, 1.8), -2.0), (9.6, 5.4), 9.0, 0.12)
WIDE = CameraView(Pose.looking_at((-1.0, -3.2, 2.1), (0.2, 4.0, 1.6), 3.0), (9.6, 5.4), 7.0, 0.1)
LATE = replace(WIDE, pose=Pose.looking_at((-1.15, -3.1, 2.05), (0.35, 4.0, 1.7), 2.0), projection_mm=7.2)
AWAY = CameraView(Pose((0.3, 1.0, 1.6), pan_deg=170.0), (9.6, 5.4), 8.0)
"""Its image must not appear, point-mirrored, on the wall behind it."""
BENT = replace(WIDE, distortion=BARREL)
"""Wide through a lens with distortion."""

STAGE = OracleStage(
    surfaces=(faceted_wall(px_per_m=60), led_floor(px_per_m=60)),
    headroom=(10.0, 10.0),
    eye_point_m=EYE_POINT_M,
    solids=(
        box_solid((0.5, 0.3, 1.7), (-0.4, 1.8, 0.85), (0.7, 0.2, 0.1)),
        box_solid((1.6, 0.6, 0.8), (1.2, 1.4, 0.4), (0.1, 0.3, 0.6)),
    ),
)


@pytest.fixture(scope="module")
def raster():
    with raster_of(STAGE, ROOM) as made:
        yield made


def lens_margin(view: CameraView) -> float:
    """Margin in whole pixels of SIZE that covers what a distorting lens sees, plus 5 %."""
    reach = undistorted_extent(view).tangents
    need = max(seen / pinhole for seen, pinhole in zip(reach, view.half_tangents, strict=True))
    return float(np.ceil(((need * 1.1 - 1) / 2) * 20) / 20)


def own(view: CameraView, margin: float = 0.05) -> tuple[Layer, ...]:
    return (Layer(SceneImage(view, margin)),)


STACKS = {
    "outer alone": (),
    "own layer": own(WIDE),
    "own layer drawn two frames ago": own(LATE),
    "another camera's layer": own(CROSS),
    "layer that looks away from the wall": own(AWAY),
    "shared, dimmed, with lines": (
        Layer(SceneImage(CROSS, 0.05), dim=0.5, edge_rgb=(0.9, 0.5, 0.0), edge_width_m=0.1),
        Layer(SceneImage(replace(LATE, projection_mm=14.0)), edge_rgb=(0.0, 0.9, 0.3), edge_width_m=0.15),
    ),
}


@pytest.mark.parametrize("name", STACKS)
@pytest.mark.parametrize("view", [WIDE, CROSS], ids=["wide", "cross"])
def test_camera_picture(raster, view, name):
    check(raster, view, STACKS[name], STAGE, ROOM)


@pytest.mark.parametrize("name", ["outer alone", "shared, dimmed, with lines"])
def test_camera_picture_through_a_distorting_lens(raster, name):
    check(raster, BENT, STACKS[name], STAGE, ROOM)


def test_own_layer_through_a_distorting_lens_covers_the_whole_picture(raster):
    stack = own(BENT, lens_margin(BENT))
    check(raster, BENT, stack, STAGE, ROOM)
    _, labels = expected(BENT, stack, STAGE, ROOM)
    assert not (labels % 1000 == 999).any()  # no pixel falls back to the outer image


def test_tolerance_would_catch_a_third_of_a_pixel(raster):
    """The measure has teeth: the twin turned by a third of a pixel is not close."""
    drawn = raster.draw([CameraPicture(WIDE, own(WIDE))], linear=True)[0]
    third = np.degrees(WIDE.half_tangents[0] * 2 / SIZE[0] / 3)
    turned = replace(WIDE, pose=replace(WIDE.pose, pan_deg=WIDE.pose.pan_deg + third))
    picture, labels = expected(turned, own(turned), STAGE, ROOM)
    with pytest.raises(AssertionError, match="error"):
        compare(drawn.pixels, picture, labels).assert_close()


def test_return_is_the_virtual_scene_seen_straight(raster):
    """Self-check without the twin: on the wall, an operator's own frustum is a window."""
    for view, margin in ((WIDE, 0.05), (CROSS, 0.0), (BENT, lens_margin(BENT))):
        drawn = raster.draw([CameraPicture(view, own(view, margin))], linear=True)[0]
        _, labels = expected(view, own(view, margin), STAGE, ROOM)
        on_wall = np.where(labels > 0, labels, oracle.OFF_WALL)
        # A lens's image is wider and looked up between its pixels, which softens creases a little more.
        slack = 1.5 if view.distortion else 1.0
        compare(drawn.pixels, ROOM.picture(view, SIZE), on_wall).assert_close(slack)


def test_inner_picture_is_the_virtual_scene_from_the_layers_pose(raster):
    for image in (SceneImage(LATE), SceneImage(CROSS, 0.1)):
        drawn = raster.draw([image], linear=True)[0].pixels
        labels = np.ones((SIZE[1], SIZE[0]), dtype=int)
        compare(drawn, ROOM.image(image, SIZE), labels).assert_close()


def test_margin_is_rounded_up_to_whole_pixels():
    image = SceneImage(WIDE, 0.051)
    width, height = image.drawn_size(SIZE)
    assert (width, height) == (320 + 2 * 17, 180 + 2 * 10)
    np.testing.assert_allclose(image.tangents(SIZE), np.multiply(WIDE.half_tangents, (354 / 320, 200 / 180)))


def test_outer_picture_is_the_virtual_scene_all_round(raster):
    """Equirectangular: the middle looks along +Y, to the left of it pans left, the top row looks up."""
    drawn = raster.draw([OuterPicture()], linear=True)[0].pixels
    height, width = drawn.shape[:2]
    pan = (0.5 - (np.arange(width) + 0.5) / width) * 2 * np.pi
    up = (0.5 - (np.arange(height) + 0.5) / height) * np.pi
    pan, up = np.meshgrid(pan, up)
    directions = np.stack([-np.sin(pan) * np.cos(up), np.cos(pan) * np.cos(up), np.sin(up)], axis=-1).reshape(
        -1, 3
    )
    expected_light = ROOM.light_from(np.array(EYE_POINT_M), directions).reshape(height, width, 3)
    error = np.abs(drawn - expected_light)
    # Drawn from a cube four to eight times finer, so filtered: creases and corners of the paint soften.
    assert error.mean() < 0.01 and np.percentile(error, 99) < 0.06
    for mirrored in (
        expected_light[:, ::-1],
        expected_light[::-1],
        np.roll(expected_light, width // 2, axis=1),
    ):
        assert np.abs(drawn - mirrored).mean() > 0.1


@pytest.mark.parametrize("surface", [0, 1], ids=["wall", "floor"])
def test_canvas_is_the_light_of_every_led_pixel(raster, surface):
    stack = STACKS["shared, dimmed, with lines"]
    drawn = raster.draw([CanvasPicture(surface, stack)], linear=True)[0].pixels
    canvas_px = STAGE.surfaces[surface].canvas_px
    assert drawn.shape == (canvas_px[1], canvas_px[0], 3)
    light = oracle.unrolled(
        STAGE.surfaces[surface],
        STAGE,
        stack,
        images_of(stack, ROOM),
        lambda directions: ROOM.light_from(np.array(EYE_POINT_M), directions),
    )
    error = np.abs(drawn - light).max(axis=2)
    # Borders of layers and lines are smoothed by the product and hard in the twin: a few pixels a row.
    assert np.median(error) < 0.003 and np.percentile(error, 90) < 0.012
    assert np.abs(drawn - light[:, ::-1]).mean() > 0.05 and np.abs(drawn - light[::-1]).mean() > 0.05


@pytest.mark.parametrize("view", [WIDE, CROSS, BENT], ids=["wide", "cross", "bent"])
def test_sightlines_meet_what_the_twin_meets(raster, view):
    lines = raster.sightlines(view)
    height, width = SIZE[1], SIZE[0]
    bare = replace(STAGE, solids=())
    seen = oracle.sightlines(view, SIZE, bare)
    surface = seen.surface.reshape(height, width)
    clear = ~near_borders(surface)
    # A pixel's surface is decided at its first sample, not quite at its middle: at the picture's own edge
    # a border may lie just outside.
    agree = lines.surface == surface
    assert agree[clear].mean() > 0.9995
    sure = clear & (surface >= 0) & agree
    assert sure.mean() > 0.5
    # The canvas comes from float32 planes: a hundredth of an LED pixel. At facet joints either facet may win.
    canvas_error = np.abs(lines.canvas - seen.canvas.reshape(height, width, 2)).max(axis=2)[sure]
    assert np.percentile(canvas_error, 99) < 0.02 and canvas_error.max() < 1.0
    distance = np.linalg.norm(seen.point_m - view.pupil_m, axis=1).reshape(height, width)
    np.testing.assert_allclose(lines.distance_m[sure], distance[sure], rtol=2e-3)
    directions = (seen.point_m - view.pupil_m).reshape(height, width, 3)
    facing = -(directions * seen.normal.reshape(height, width, 3)).sum(axis=2) / distance
    assert np.percentile(np.abs(lines.facing - facing)[sure], 99) < 1e-4
    solid = oracle.sightlines(view, SIZE, STAGE).solid.reshape(height, width) >= 0
    away = ~near_borders(solid.astype(int))
    np.testing.assert_array_equal(lines.set_cover[away] > 0.5, solid[away])


def test_back_of_a_wall_is_off_the_wall_and_hides_what_is_beyond(raster):
    behind = CameraView(Pose.looking_at((0.5, 7.0, 2.0), (0.0, 0.0, 1.0)), (9.6, 5.4), 9.0)
    lines = raster.sightlines(behind)
    seen = oracle.sightlines(behind, SIZE, replace(STAGE, solids=()))
    surface = seen.surface.reshape(SIZE[1], SIZE[0])
    assert (lines.surface == surface)[~near_borders(surface)].mean() > 0.9995
    assert (lines.surface == -1).mean() > 0.5
    drawn = raster.draw([CameraPicture(behind, ())], linear=True)[0]
    _, labels = expected(behind, (), STAGE, ROOM)
    assert abs(drawn.off_wall - (labels == oracle.OFF_WALL).mean()) < 0.01


def test_many_stacks_in_one_request_are_the_same_as_one_at_a_time(raster):
    requests = [CameraPicture(view, stack) for view in (WIDE, CROSS) for stack in STACKS.values()]
    together = [drawn.pixels for drawn in raster.draw(requests, linear=True)]
    for request, pixels in zip(requests, together, strict=True):
        raster.forget()
        np.testing.assert_allclose(raster.draw([request], linear=True)[0].pixels, pixels, atol=2e-3)
