"""The spine: every picture of one frame, in the order that makes the product.

Take the moment, decide what the wall shows, ask the raster for each kind of picture, mix what is on
air. Nothing here knows OpenGL; nothing below asks the timeline again.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from preview.camera.pose import Pose
from preview.camera.view import CameraView
from preview.picture import kinds
from preview.picture.display import Display
from preview.picture.kinds import CAMERA_KINDS, KINDS
from preview.raster.raster import Drawn, Raster
from preview.raster.request import CameraPicture, Request
from preview.show.load import Show
from preview.stage.appearance import Body, bodies_in, equipment_at
from preview.stage.build import Stage, build_stage
from preview.stage.equipment import Solid
from preview.stage.screens import ScreenPictures
from preview.stage.virtual_scene import load_virtual_scene
from preview.timeline.moment import CameraMoment, Moment
from preview.timeline.timeline import Timeline
from preview.wall.drive import drive

__all__ = ["CAMERA_KINDS", "KINDS", "Picture", "Studio", "Wanted"]


@dataclass(frozen=True)
class Wanted:
    """Which pictures of a frame to draw.

    Attributes
    ----------
    kinds : names from KINDS
    cameras : camera names for the kinds that exist once a camera; empty for all
    linear : also give linear light
    """

    kinds: tuple[str, ...]
    cameras: tuple[str, ...] = ()
    linear: bool = False


@dataclass(frozen=True, eq=False)
class Picture:
    """One finished picture.

    Attributes
    ----------
    kind, subject : kind from KINDS; camera or surface name, or ""
    code : (h, w, 3) uint8, BT.709-coded R'G'B', full range
    linear : (h, w, 3) float32, 1.0 = stage white, before exposure; None unless asked
    off_wall : share of the picture past the LED and the set; None for pictures that are not a camera's
    """

    kind: str
    subject: str
    code: np.ndarray
    linear: np.ndarray | None
    off_wall: float | None

    @property
    def label(self) -> str:
        """Kind and subject, for file names and captions."""
        return f"{self.kind} {self.subject}".strip()


class Studio:
    """A show made ready to draw: timeline, stage, virtual scene and the raster that draws them.

    Parameters
    ----------
    show : from ``preview.show.load.load_show``
    size_px : camera picture size; the show's own when None
    samples : per pixel, for edges

    Raises
    ------
    AssetError, GraphicsError : a file cannot be used, or there is no OpenGL.
    """

    def __init__(self, show: Show, size_px: tuple[int, int] | None = None, samples: int = 4) -> None:
        self.show = show
        self.size_px = size_px or show.file.show.picture_size_px
        self.timeline = Timeline(show)
        self.stage: Stage = build_stage(show)
        virtual = load_virtual_scene(show)
        self.notes: tuple[str, ...] = (*show.notes, *self.stage.notes, *virtual.notes)
        self._screens = ScreenPictures(show)
        self._cameras = {camera.name: camera for camera in show.file.cameras}
        self._stands: dict[str, tuple[CameraView, tuple[Solid, ...]]] = {}
        settings = show.file.picture
        self.display = Display(settings.exposure_stops, settings.knee_point, settings.knee_range_stops)
        self.raster = Raster(
            surfaces=self.stage.surfaces,
            headroom=self.stage.headroom,
            stage_set=self.stage.set,
            virtual=virtual,
            outer_eye_m=np.array(self.stage.eye_point_m),
            display=self.display,
            picture_px=self.size_px,
            samples=samples,
        )

    def __enter__(self) -> Studio:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def pictures(self, frame: int, wanted: Wanted) -> Iterator[Picture]:
        """Every wanted picture of one frame, in KINDS order. The order of these lines is the product."""
        moment = self.timeline.at(frame)
        self._screens_to_raster(moment)
        plan = self._plan(moment, wanted)
        code = self._draw(plan, moment, linear=False)
        linear = self._draw(plan, moment, linear=True) if wanted.linear else [None] * len(plan)
        for (kind, subject, _), shown, light in zip(plan, code, linear, strict=True):
            is_camera = kind not in ("inner", "outer", "wall")
            yield Picture(
                kind=kind,
                subject=subject,
                code=shown.pixels,
                linear=light.pixels if light is not None else None,
                off_wall=shown.off_wall if is_camera else None,
            )

    def _plan(self, moment: Moment, wanted: Wanted) -> list[tuple[str, str, tuple[Request, ...]]]:
        """Kind, subject and requests of each picture; two requests where two cameras are mixed."""
        driven = drive(moment, self.show.file.drive)
        cameras = [c for c in moment.cameras if not wanted.cameras or c.name in wanted.cameras]
        faded = replace(moment, on_air=moment.mix_from) if moment.mix_from else None
        plan: list[tuple[str, str, tuple[Request, ...]]] = []
        for kind in (kind for kind in KINDS if kind in wanted.kinds):
            match kind:
                case "inner":
                    plan += [(kind, c.name, (kinds.inner(c),)) for c in cameras]
                case "outer":
                    plan.append((kind, "", (kinds.outer(),)))
                case "wall":
                    for index, surface in enumerate(self.stage.surfaces):
                        plan.append((kind, surface.name, (kinds.wall(index, driven),)))
                case "as-shot":
                    plan += [(kind, c.name, (kinds.as_shot(c, driven),)) for c in cameras]
                case "return":
                    plan += [(kind, c.name, (kinds.operator_return(c),)) for c in cameras]
                case "programme":
                    pair = [kinds.programme(m) for m in (faded, moment) if m]
                    plan.append((kind, "", tuple(pair)))
                case "programme-as-shot":
                    pair = [kinds.programme_as_shot(m, driven) for m in (faded, moment) if m]
                    plan.append((kind, "", tuple(pair)))
                case "house":
                    plan.append((kind, "", (kinds.house(self._house_view(), driven),)))
        return [
            (kind, subject, tuple(self._furnished(request, moment) for request in requests))
            for kind, subject, requests in plan
        ]

    def _furnished(self, request: Request, moment: Moment) -> Request:
        """A camera picture with the other cameras' equipment in it, blurred by its lens or not."""
        if not isinstance(request, CameraPicture):
            return request
        bodies = self.bodies_seen(moment, request.view)
        return replace(request, bodies=bodies, defocus=self.show.file.picture.defocus)

    def bodies_seen(self, moment: Moment, view: CameraView, owner: str = "") -> tuple[Body, ...]:
        """The equipment of cameras at a moment that may come into a view's picture; none of the camera whose
        view it is (or ``owner``'s), and none at all where the show leaves equipment out."""
        if not self.show.file.stage.equipment:
            return ()
        solids = [
            (solid, camera.view.pose.pan_deg)
            for camera in moment.cameras
            if camera.name != owner and view not in (camera.view, camera.returned.view)
            for solid in self._equipment(camera)
        ]
        return bodies_in(view, solids)

    def _equipment(self, camera: CameraMoment) -> tuple[Solid, ...]:
        kept = self._stands.get(camera.name)
        if kept is None or kept[0] != camera.view:
            kept = (camera.view, equipment_at(self._cameras[camera.name], camera.view))
            self._stands[camera.name] = kept
        return kept[1]

    def _draw(
        self, plan: list[tuple[str, str, tuple[Request, ...]]], moment: Moment, linear: bool
    ) -> list[Drawn]:
        flat = [request for _, _, requests in plan for request in requests]
        drawn = iter(self.raster.draw(flat, linear))
        finished = []
        for _, _, requests in plan:
            parts = [next(drawn) for _ in requests]
            finished.append(parts[0] if len(parts) == 1 else mix(parts[0], parts[1], moment.mix_share))
        return finished

    def _screens_to_raster(self, moment: Moment) -> None:
        self.raster.set_screens(self._screens.changed(moment.seconds))

    def _house_view(self) -> CameraView:
        house = self.show.file.stage.house
        width, height = self.size_px
        half = float(np.tan(np.radians(house.horizontal_angle_deg) / 2))
        return CameraView(
            pose=Pose.looking_at(house.position_m, house.look_at_m),
            sensor_mm=(2 * half, 2 * half * height / width),
            projection_mm=1.0,
        )

    @property
    def graphics(self) -> str:
        """What draws: the graphics driver's own name for itself."""
        return self.raster.context.renderer

    def close(self) -> None:
        """Free the raster and close clips."""
        self._screens.close()
        self.raster.close()


def mix(outgoing: Drawn, incoming: Drawn, share: float) -> Drawn:
    """Mix two pictures as a vision mixer does: on the signal for code values, so the eye sees the usual
    mix; linear pictures are mixed in light. ``share`` is the incoming camera's, 0..1.

    Source: common practice (mixers work on the coded signal), no source.
    """
    a, b = outgoing.pixels.astype(np.float32), incoming.pixels.astype(np.float32)
    mixed = a + (b - a) * np.float32(share)
    if outgoing.pixels.dtype == np.uint8:
        mixed = np.round(mixed).astype(np.uint8)
    off_wall = outgoing.off_wall + (incoming.off_wall - outgoing.off_wall) * share
    return Drawn(mixed, off_wall)
