"""The spine: every picture of one frame, in the order that makes the product.

Take the moment, decide what the wall shows, ask the raster for each kind of picture, mix what is on
air. Nothing here knows OpenGL; nothing below asks the timeline again.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from preview.camera.pose import Pose
from preview.camera.view import CameraView
from preview.kept.digest import digest
from preview.kept.key import PictureKeys
from preview.kept.pictures import KeptPicture, PictureStore
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
    reused : drawn for an earlier frame or by an earlier run, and not for this frame
    """

    kind: str
    subject: str
    code: np.ndarray
    linear: np.ndarray | None
    off_wall: float | None
    reused: bool = False

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
    kept : pictures of earlier runs: those drawn from the very same are taken from there, new ones put there.
        Pictures in linear light are not kept

    Raises
    ------
    AssetError, GraphicsError : a file cannot be used, or there is no OpenGL.
    """

    def __init__(
        self,
        show: Show,
        size_px: tuple[int, int] | None = None,
        samples: int = 4,
        kept: PictureStore | None = None,
    ) -> None:
        self.show = show
        self.kept = kept
        self.size_px = size_px or show.file.show.picture_size_px
        self.timeline = Timeline(show)
        self.stage: Stage = build_stage(show)
        self._virtual = load_virtual_scene(show)
        self._samples = samples
        self._last: dict[bytes, Drawn] = {}
        self._screens = ScreenPictures(show)
        self._cameras = {camera.name: camera for camera in show.file.cameras}
        self._stands: dict[str, tuple[CameraView, tuple[Solid, ...]]] = {}
        settings = show.file.picture
        self.display = Display(settings.exposure_stops, settings.knee_point, settings.knee_range_stops)
        self.raster = Raster(
            surfaces=self.stage.surfaces,
            headroom=self.stage.headroom,
            stage_set=self.stage.set,
            virtual=self._virtual,
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
        plan = self._plan(moment, wanted)
        flat = list(dict.fromkeys(request for _, _, requests in plan for request in requests))
        if self.kept is None or wanted.linear:
            code, reused = self._drawn(flat, moment), set[Request]()
        else:
            code, reused = self._kept_or_drawn(self.kept, flat, moment)
        linear = self._drawn(flat, moment, linear=True) if wanted.linear else {}
        for kind, subject, requests in plan:
            shown = _mixed([code[request] for request in requests], moment.mix_share)
            light = _mixed([linear[request] for request in requests], moment.mix_share) if linear else None
            is_camera = kind not in ("inner", "outer", "wall")
            yield Picture(
                kind=kind,
                subject=subject,
                code=shown.pixels,
                linear=light.pixels if light is not None else None,
                off_wall=shown.off_wall if is_camera else None,
                reused=reused.issuperset(requests),
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

    def _drawn(
        self, requests: Sequence[Request], moment: Moment, linear: bool = False
    ) -> dict[Request, Drawn]:
        """What each request shows."""
        if not requests:
            return {}
        self._screens_to_raster(moment)
        return dict(zip(requests, self.raster.draw(requests, linear), strict=True))

    def _kept_or_drawn(
        self, kept: PictureStore, requests: Sequence[Request], moment: Moment
    ) -> tuple[dict[Request, Drawn], set[Request]]:
        """What each request shows, and which of them were not drawn for it."""
        screens = {name: self._screens.frame(name, moment.seconds) for name in self._screens.names}
        keys = dict(zip(requests, self._keys.of(requests, screens), strict=True))
        known: dict[Request, Drawn] = {}
        for request, key in keys.items():
            if key in self._last:
                known[request] = self._last[key]
            elif (picture := kept.get(key)) is not None:
                known[request] = Drawn(picture.pixels, picture.off_wall)
        drawn = self._drawn([request for request in requests if request not in known], moment)
        for request, new in drawn.items():
            kept.put(keys[request], KeptPicture(new.pixels, new.off_wall))
        code = known | drawn
        self._last = {keys[request]: picture for request, picture in code.items()}
        return code, set(known)

    @cached_property
    def _keys(self) -> PictureKeys:
        context = self.raster.context
        driver = (context.renderer, context.version, context.max_samples, context.max_size)
        return PictureKeys(
            drawing=(self.size_px, self._samples, self.display, driver),
            scene=self._virtual,
            eye=self.stage.eye_point_m,
            surfaces=(self.stage.surfaces, self.stage.headroom),
            stage_set=self.stage.set,
        )

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

    @cached_property
    def scene_digest(self) -> bytes:
        """Digest of all that is drawn, as it was loaded, and of what draws it; not of sizes or views."""
        stage = self.stage
        return digest(
            (self.graphics, stage.surfaces, stage.headroom, stage.set, stage.eye_point_m, self._virtual)
        )

    @property
    def notes(self) -> tuple[str, ...]:
        """Sentences for the user: what was assumed, and what went wrong with kept pictures."""
        kept = self.kept.notes if self.kept is not None else ()
        return (*self.show.notes, *self.stage.notes, *self._virtual.notes, *kept)

    @property
    def graphics(self) -> str:
        """What draws: the graphics driver's own name for itself."""
        return self.raster.context.renderer

    def close(self) -> None:
        """Free the raster and close clips."""
        self._screens.close()
        self.raster.close()


def _mixed(parts: Sequence[Drawn], share: float) -> Drawn:
    return parts[0] if len(parts) == 1 else mix(parts[0], parts[1], share)


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
