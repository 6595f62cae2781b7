"""The studio from above for a multiview: its ground once, cameras wherever they are at a moment."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from preview.camera.view import CameraView
from preview.multiview.frame import TALLY_COLORS
from preview.plan.studio import hull_from_above, studio_plan
from preview.plan.wedge import on_walls, wedge
from preview.review.plan import PlanCamera
from preview.review.plan_inset import InsetScale, draw_cameras, ground_picture
from preview.review.plate import Pixels
from preview.show import model
from preview.show.load import Show
from preview.stage.appearance import equipment_at
from preview.stage.build import Stage
from preview.timeline.moment import Moment
from preview.timeline.timeline import Timeline


class FloorPlan:
    """The plan of a show's studio as a small picture.

    Wedges are the level angle of view, to the wall; the coloured stretch of wall is what the camera's frustum
    image covers, overscan included.

    Parameters
    ----------
    size_px : width and height of the picture
    text_px : size of its words
    """

    def __init__(
        self, show: Show, stage: Stage, timeline: Timeline, size_px: tuple[int, int], text_px: int
    ) -> None:
        self._cameras = {camera.name: camera for camera in show.file.cameras}
        self._text_px = text_px
        empty = studio_plan(show, stage, {})
        self._lines = (
            np.concatenate([wall.lines for wall in empty.walls]) if empty.walls else np.zeros((0, 2, 2))
        )
        self._kept: dict[str, tuple[CameraView, PlanCamera]] = {}
        reached = [
            outline
            for camera in show.file.cameras
            for framing in camera.framings
            for _, outline in self._camera(camera, timeline.framing_view(camera.name, framing.name)).parts
        ]
        ruler_px = round(1.6 * text_px)
        scale = InsetScale.fitting(empty.bounds_m(*reached), (size_px[0], size_px[1] - ruler_px))
        self._scale = replace(scale, size_px=size_px)
        self._ground = ground_picture(empty, self._scale, text_px)

    def at(self, moment: Moment) -> Pixels:
        """(h, w, 3) uint8 of the plan at a moment; a new array."""
        cameras = []
        for now in moment.cameras:
            kept = self._kept.get(now.name)
            if kept is None or kept[0] != now.view:
                kept = self._kept[now.name] = now.view, self._camera(self._cameras[now.name], now.view)
            cameras.append(replace(kept[1], tally=moment.tally(now.name)))
        picture = self._ground.copy()
        draw_cameras(picture, cameras, self._scale, TALLY_COLORS, self._text_px)
        return picture

    def _camera(self, camera: model.Camera, view: CameraView) -> PlanCamera:
        parts = tuple((solid.kind, hull_from_above(solid.mesh()[0])) for solid in equipment_at(camera, view))
        x, y, _ = (float(value) for value in view.pupil_m)
        pan, half_deg = view.pose.pan_deg, view.horizontal_angle_deg / 2
        wider_deg = float(np.degrees(np.arctan(view.half_tangents[0] * (1 + camera.overscan_percent / 50))))
        return PlanCamera(
            camera.number, camera.name, (x, y), pan, parts,
            wedge((x, y), pan, half_deg, self._lines), on_walls((x, y), pan, wider_deg, self._lines),
        )  # fmt: skip
