"""Where light is cut off and how it becomes signal, in pictures drawn by the raster.

These stages differ in brightness, so each test makes a raster of its own, one after the other.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from preview.camera.pose import Pose
from preview.camera.view import CameraView
from preview.picture.display import Display
from preview.raster.request import CameraPicture, CanvasPicture, Layer, OuterPicture, SceneImage
from tests.twin.drawing import compare, expected, near_borders, raster_of
from tests.twin.oracle import OracleStage
from tests.twin.room import PaintedRoom
from tests.twin.stages import EYE_POINT_M, faceted_wall, led_floor

WIDE = CameraView(Pose.looking_at((-1.0, -3.2, 2.1), (0.2, 4.0, 1.6), 3.0), (9.6, 5.4), 7.0, 0.1)
STAGE = OracleStage((faceted_wall(px_per_m=60), led_floor(px_per_m=60)), (10.0, 10.0), EYE_POINT_M)
OWN = (Layer(SceneImage(WIDE, 0.05)),)


def test_light_is_clipped_at_each_surfaces_peak():
    bright = PaintedRoom(most=2.0)
    stage = replace(STAGE, headroom=(1.0, 0.4))
    with raster_of(stage, bright) as raster:
        for stack in ((), OWN):
            drawn = raster.draw([CameraPicture(WIDE, stack)], linear=True)[0].pixels
            picture, labels = expected(WIDE, stack, stage, bright)
            wall, floor = (labels > 0) & (labels < 1900), labels > 1900
            assert picture[wall].max() == 1.0 and picture[floor].max() == 0.4
            inside = ~near_borders(labels, 2)
            assert drawn[wall & inside].max() <= 1.0005 and drawn[floor & inside].max() <= 0.4005
            comparison = compare(drawn, picture, labels)
            # Twice the paint's contrast; the clip comes before or after averaging four samples.
            comparison.assert_close(slack=6.0 if not stack else 2.5)


def test_code_values_are_the_display_transform_of_the_linear_picture():
    display = Display(exposure_stops=0.7, knee_point=0.7, knee_range_stops=2.0)
    bright = PaintedRoom(most=3.0)
    with raster_of(STAGE, bright, display=display) as raster:
        requests = [
            CameraPicture(WIDE, OWN),
            SceneImage(WIDE),
            OuterPicture(),
            CanvasPicture(0, OWN),
        ]
        code = raster.draw(requests)
        linear = raster.draw(requests, linear=True)
        for shown, light in zip(code, linear, strict=True):
            assert shown.pixels.dtype == np.uint8
            # One code value: the driver's pow and log are not correctly rounded.
            difference = np.abs(shown.pixels.astype(int) - display.code(light.pixels))
            assert difference.max() <= 1 and (difference > 0).mean() < 0.02
        assert code[0].pixels.max() > 240
