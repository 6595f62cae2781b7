"""The product's side of the benchmark: its own raster, kinds and drive on the shared workload."""

from __future__ import annotations

import numpy as np

from preview.picture import kinds
from preview.raster.raster import Raster
from preview.raster.request import Request
from preview.show.model import Drive
from preview.timeline.moment import Moment
from preview.wall.drive import drive
from tests.benchmarks import workload

DRIVE = Drive(mode="shared", edge_line=False, off_air_dim=workload.OFF_AIR_DIM)


class ProductRenderer:
    """The benchmark workload drawn by the product; ``frame_set`` gives every picture of one moment."""

    def __init__(self) -> None:
        self.raster = Raster(
            surfaces=(workload.curved_wall(),),
            headroom=(1.0,),
            stage_set=workload.stage_set(),
            virtual=workload.virtual_scene(),
            outer_eye_m=np.array(workload.EYE_POINT_M),
            display=workload.DISPLAY,
            picture_px=workload.PICTURE_PX,
            samples=4,
            outer_face_px=workload.OUTER_FACE_PX,
        )
        self.graphics = self.raster.context.renderer

    def frame_set(self, moment: Moment, keep_outer: bool = False) -> dict[str, np.ndarray]:
        """Pictures by name: outer, and each camera's inner, as-shot and return pictures."""
        if not keep_outer:
            self.raster.forget()
        driven = drive(moment, DRIVE)
        requests: dict[str, Request] = {"outer": kinds.outer()}
        for camera in moment.cameras:
            requests[f"inner {camera.name}"] = kinds.inner(camera)
            requests[f"as-shot {camera.name}"] = kinds.as_shot(camera, driven)
            requests[f"return {camera.name}"] = kinds.operator_return(camera)
        drawn = self.raster.draw(list(requests.values()))
        return {name: picture.pixels for name, picture in zip(requests, drawn, strict=True)}
