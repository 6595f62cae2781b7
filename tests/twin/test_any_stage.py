"""The same comparison on stages, poses, lenses and stacks nobody chose."""

from __future__ import annotations

import numpy as np
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from preview.camera.distortion import Distortion
from preview.camera.pose import Pose
from preview.camera.view import CameraView
from preview.raster.request import CameraPicture, Layer, SceneImage
from tests.twin import oracle
from tests.twin.drawing import MARGINS, SIZE, check, compare, expected, raster_of
from tests.twin.oracle import OracleStage
from tests.twin.room import PaintedRoom
from tests.twin.stages import EYE_POINT_M, box_solid, faceted_wall, led_floor

ROOM = PaintedRoom(cells=8)


def metres(low: float, high: float) -> st.SearchStrategy[float]:
    return st.floats(low, high, allow_subnormal=False).map(lambda value: round(value, 3))


@st.composite
def stages(draw) -> OracleStage:
    wall = faceted_wall(
        columns=draw(st.integers(1, 9)),
        tile_m=(draw(metres(0.8, 1.6)), draw(metres(2.5, 4.5))),
        joint_deg=draw(metres(-4.0, 16.0)),
        distance_m=draw(metres(3.5, 6.0)),
        bottom_m=draw(metres(0.0, 0.5)),
        lean=draw(metres(-0.1, 0.3)),
    )
    surfaces = (wall, led_floor()) if draw(st.booleans()) else (wall,)
    solid = box_solid(
        (0.6, 0.4, 1.6), (draw(metres(-1.5, 1.5)), draw(metres(1.0, 2.5)), 0.8), (0.8, 0.1, 0.2)
    )
    return OracleStage(surfaces, (10.0,) * len(surfaces), EYE_POINT_M, (solid,))


@st.composite
def views(draw, lens: bool = False) -> CameraView:
    position = (draw(metres(-3.5, 3.5)), draw(metres(-5.0, -2.0)), draw(metres(0.6, 3.2)))
    target = (draw(metres(-1.0, 1.0)), 4.5, draw(metres(1.2, 2.2)))
    pose = Pose.looking_at(position, target, draw(metres(-20.0, 20.0)))
    distortion = Distortion()
    if lens:
        k1 = draw(st.sampled_from([0.0, -0.1, 0.05]))
        distortion = Distortion(k1=k1, p1=0.002 if k1 else 0.0)
    return CameraView(pose, (9.6, 5.4), draw(metres(8.0, 16.0)), draw(metres(0.0, 0.2)), distortion)


@st.composite
def layers(draw) -> Layer:
    edge = draw(st.none() | st.just((0.1, 0.9, 0.4)))
    return Layer(
        SceneImage(draw(views()), draw(st.sampled_from(MARGINS))),
        dim=draw(st.sampled_from([1.0, 0.6, 0.0])),
        edge_rgb=edge,
        edge_width_m=draw(metres(0.06, 0.3)) if edge else 0.0,
    )


@settings(max_examples=5, derandomize=True, database=None, suppress_health_check=list(HealthCheck))
@given(stages(), views(lens=True), st.lists(layers(), max_size=3).map(tuple))
def test_any_camera_picture_on_any_stage(stage, view, stack):
    _, labels = expected(view, stack, stage, ROOM)
    assume((labels > 0).mean() > 0.25)
    with raster_of(stage, ROOM) as raster:
        check(raster, view, stack, stage, ROOM, least_compared=0.1)


@settings(max_examples=3, derandomize=True, database=None, suppress_health_check=list(HealthCheck))
@given(stages(), views())
def test_on_any_stage_a_return_is_a_window_into_the_virtual_scene(stage, view):
    """Whatever the wall's shape: where the camera sees it, its own frustum shows what lies behind."""
    stack = (Layer(SceneImage(view, 0.05)),)
    _, labels = expected(view, stack, stage, ROOM)
    assume((labels > 0).mean() > 0.25)
    with raster_of(stage, ROOM) as raster:
        drawn = raster.draw([CameraPicture(view, stack)], linear=True)[0]
    on_wall = np.where(labels > 0, labels, oracle.OFF_WALL)
    compare(drawn.pixels, ROOM.picture(view, SIZE), on_wall).assert_close(least_compared=0.1)
