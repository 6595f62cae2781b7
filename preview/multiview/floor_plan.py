"""The studio from above for a multiview: its ground once, cameras wherever they are at a moment."""

from __future__ import annotations

from dataclasses import replace

from preview.camera.view import CameraView
from preview.multiview.frame import TALLY_COLORS
from preview.plan.studio import camera_plan, studio_plan, wall_lines
from preview.review.plan import PlanCamera
from preview.review.plan_inset import InsetScale, draw_cameras, ground_picture
from preview.review.plate import Pixels
from preview.show.load import Show
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
        self._lines = wall_lines(empty.walls)
        self._kept: dict[str, tuple[CameraView, PlanCamera]] = {}
        reached = [
            outline
            for camera in show.file.cameras
            for framing in camera.framings
            for _, outline in camera_plan(
                camera, timeline.framing_view(camera.name, framing.name), self._lines, sees=False
            ).parts
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
                plan = camera_plan(self._cameras[now.name], now.view, self._lines)
                kept = self._kept[now.name] = now.view, plan
            cameras.append(replace(kept[1], tally=moment.tally(now.name)))
        picture = self._ground.copy()
        draw_cameras(picture, cameras, self._scale, TALLY_COLORS, self._text_px)
        return picture
