"""Several rasters in one process: the end of one, closed or forgotten, leaves the others working."""

from __future__ import annotations

import gc

import numpy as np

from preview.camera.pose import Pose
from preview.camera.view import CameraView
from preview.picture.display import Display
from preview.raster.raster import Raster
from preview.raster.request import CameraPicture
from preview.stage.mesh import SceneMesh, Sky
from tests.twin.stages import faceted_wall

VIEW = CameraView(Pose((0.0, -4.0, 1.6)), (9.6, 5.4), 9.0)


def raster(level: float) -> Raster:
    sky = Sky((level,) * 3, (level,) * 3, (level,) * 3)
    scene = SceneMesh((), (), sky)
    return Raster([faceted_wall()], [4.0], SceneMesh(()), scene, np.array([0, 0, 1.6]), Display(), (96, 54))


def middle(drawn: Raster) -> float:
    return float(drawn.draw([CameraPicture(VIEW, ())], linear=True)[0].pixels[27, 48, 0])


def test_closing_one_raster_leaves_the_others() -> None:
    first, second = raster(0.25), raster(0.5)
    assert (middle(first), middle(second), middle(first)) == (0.25, 0.5, 0.25)
    first.close()
    second.forget()
    assert middle(second) == 0.5
    second.close()


def test_forgetting_one_raster_leaves_the_others() -> None:
    kept, dropped = raster(0.25), raster(0.5)
    assert middle(dropped) == 0.5
    del dropped
    gc.collect()
    kept.forget()
    assert middle(kept) == 0.25
    kept.close()
