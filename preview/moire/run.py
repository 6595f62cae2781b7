"""Moire of one camera in one frame, or a clip of it, from a show to files."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import numpy.typing as npt

from preview.camera.lens import view_through
from preview.camera.view import CameraView
from preview.checks.moire import runs_words
from preview.checks.seen_moire import SeenMoire, seen_moire
from preview.checks.structure import focus_from_pupil_mm, stop_of
from preview.checks.walk import sight_raster
from preview.compare.delivery import Delivery
from preview.conventions import Array
from preview.errors import RequestError
from preview.frame import Studio, Wanted
from preview.moire.page import Panel, moire_page, with_scale
from preview.moire.picture_map import grid_of, picture_map
from preview.moire.spot import (
    CROP_PHOTOSITES,
    SAMPLES,
    Crop,
    bayer_note,
    spot_of,
    stretched,
    swing_of,
    where_at,
    worst_shown,
)
from preview.moire.synthesis import synthesise
from preview.optics.alias import ALIAS, GRID
from preview.optics.lattice import Facets
from preview.optics.synthesis_core import LightOf, Patch
from preview.raster.request import CanvasPicture
from preview.raster.sight import Sight, SightRaster
from preview.review.clips import check_clip_size, open_clip
from preview.review.manifest import FileEntry
from preview.show import model
from preview.timeline.framing import lens_of, sensor_of
from preview.timeline.moment import Moment
from preview.wall.layer import frustum_layer

OVER_RISK = 0.5
"""A pattern of this risk is about seven times as strong as an observer needs on an even field."""


@dataclass(frozen=True)
class MoireResult:
    """What was written: the folder, its files, and everything as JSON types."""

    folder: Path
    files: tuple[FileEntry, ...]
    data: dict[str, Any]


@dataclass(frozen=True, eq=False)
class _Scene:
    """A camera at a frame, and what its moire is worked out from."""

    studio: Studio
    sights: SightRaster
    facets: Facets
    camera: model.Camera

    def sight(self, moment: Moment, view: CameraView) -> Sight:
        solids = [body.solid for body in self.studio.bodies_seen(moment, view, self.camera.name)]
        return self.sights.look(view, solids)

    def seen(self, moment: Moment, view: CameraView) -> SeenMoire:
        return self.seen_in(self.sight(moment, view))

    def seen_in(self, sight: Sight) -> SeenMoire:
        return seen_moire(sight, self.camera, self.studio.stage.surfaces, self.studio.size_px, self.facets)


def refocused(camera: model.Camera, view: CameraView, focus_m: float) -> CameraView:
    """The view with its focus elsewhere, breathing included.

    Raises
    ------
    RequestError : nearer than the lens focuses.
    """
    lens = lens_of(camera)
    if focus_m < lens.minimum_focus_m:
        raise RequestError(
            f"--focus {focus_m:g}: the lens of {camera.name} focuses from {lens.minimum_focus_m:g} m on; "
            "write a longer distance"
        )
    return view_through(sensor_of(camera), lens, view.pose, view.focal_length_mm, focus_m)


def write_moire(
    studio: Studio,
    camera: str,
    frame: int,
    folder: Path,
    focus_m: float | None = None,
    command: str = "",
) -> MoireResult:
    """Write the picture map of a camera's return in one frame, and a synthesis of its worst place.

    Parameters
    ----------
    studio : the show, ready to draw at its own picture size
    focus_m : also work out that place with the lens focused there; None for no other focus
    command : noted in the manifest

    Raises
    ------
    RequestError, OutputError, AssetError, GraphicsError : as ``preview.run.render``.
    """
    settings = next(one for one in studio.show.file.cameras if one.name == camera)
    moment = studio.timeline.at(frame)
    view = moment.camera(camera).view
    views = [view] if focus_m is None else [view, refocused(settings, view, focus_m)]
    with Delivery(studio, folder, command, (frame, frame), 3) as delivery:
        with sight_raster(studio.show, studio.stage, grid_of(studio.size_px)) as sights:
            scene = _Scene(studio, sights, Facets.of(studio.stage.surfaces), settings)
            sight = scene.sight(moment, view)
            found = scene.seen_in(sight)
            others = [scene.seen(moment, one) for one in views[1:]]
        (picture,) = studio.pictures(frame, Wanted(("return",), (camera,)))
        title = f"{studio.show.file.show.title}: moire in {camera}'s return, {moment.timecode}"
        lens_told = _lens_told(settings, view)
        mapped = with_scale(picture_map(picture.code, found), title, [_told(found), lens_told])
        delivery.still(frame, "moire", camera, mapped)
        data = _data(found, moment.timecode, camera, settings)
        if found.seen.any():
            surfaces = studio.stage.surfaces
            at = worst_shown(found, sight.surface, sensor_of(settings).photosites)
            place = int(sight.surface[at])
            crop = Crop.of(found, settings, surfaces, at, place, CROP_PHOTOSITES)
            light = _light(studio, frame, camera, place)
            spots = [spot_of(found, settings, at, crop)]
            spots += [
                spot_of(one, settings, at, Crop.of(one, settings, surfaces, at, place)) for one in others
            ]
            bodies = studio.bodies_seen(moment, view)
            cover = studio.raster.sightlines(view, bodies).set_cover
            panels = _panels(scene, picture.code, cover, place, crop, light, view, where_at(found, at))
            told = [f"Focus {spot.focus_m:.2f} m: {spot.words}." for spot in spots]
            page = moire_page(title, told + bayer_note(settings), panels)
            delivery.still(frame, "moire-synthesis", camera, page)
            data["worst"]["spots"] = [spot.data() for spot in spots]
        delivery.numbers(frame, "moire", camera, data)
    return MoireResult(folder, tuple(delivery.entries), data)


def write_moire_clip(
    studio: Studio,
    camera: str,
    frames: Sequence[int],
    every: int,
    folder: Path,
    command: str = "",
    on_frame: Callable[[int, int], None] = lambda done, total: None,
) -> MoireResult:
    """Write a clip of picture maps of a camera's return, and each frame's worst risk as JSON.

    Parameters
    ----------
    frames : rising, ``every`` apart; each is held for ``every`` frames
    """
    check_clip_size(studio.size_px)
    settings = next(one for one in studio.show.file.cameras if one.name == camera)
    run = range(frames[0], frames[-1] + 1, every)
    rows: list[dict[str, Any]] = []
    with (
        Delivery(studio, folder, command, (frames[0], frames[-1]), 0) as delivery,
        sight_raster(studio.show, studio.stage, grid_of(studio.size_px)) as sights,
    ):
        scene = _Scene(studio, sights, Facets.of(studio.stage.surfaces), settings)
        path = delivery.run_path(run, "moire", camera, ".mp4")
        label = studio.timeline.timecode(frames[0])
        with open_clip(path, studio.size_px, studio.timeline.rate.fps, label, {"title": path.stem}) as clip:
            for done, frame in enumerate(frames):
                on_frame(done, len(frames))
                moment = studio.timeline.at(frame)
                found = scene.seen(moment, moment.camera(camera).view)
                (picture,) = studio.pictures(frame, Wanted(("return",), (camera,)))
                clip.write(picture_map(picture.code, found), every)
                rows.append(_row(found, frame, studio.timeline.timecode(frame)))
        on_frame(len(frames), len(frames))
        delivery.listed(run, "moire", camera, ".mp4", "clip")
        data = {"camera": camera, "frames": rows}
        text = json.dumps(data, indent=2, ensure_ascii=False, allow_nan=False) + "\n"
        delivery.series(run, "moire", camera, text.encode(), ".json", "data")
    return MoireResult(folder, tuple(delivery.entries), data)


def _light(studio: Studio, frame: int, camera: str, place: int) -> LightOf:
    """Linear light of a surface's LED pixels when it shows the camera's frustum alone, as its return does."""
    layer = frustum_layer(studio.timeline.at(frame).camera(camera))
    (drawn,) = studio.raster.draw([CanvasPicture(place, (layer,))], linear=True)
    height, width = drawn.pixels.shape[:2]
    across, down = studio.stage.surfaces[place].canvas_px

    def light(column: npt.NDArray[np.int64], row: npt.NDArray[np.int64]) -> Array:
        x = np.clip(((column + 0.5) * (width / across)).astype(np.int64), 0, width - 1)
        y = np.clip(((row + 0.5) * (height / down)).astype(np.int64), 0, height - 1)
        return np.asarray(drawn.pixels[y, x], dtype=np.float64)

    return light


def _panels(
    scene: _Scene,
    code: npt.NDArray[np.uint8],
    set_cover: npt.NDArray[np.float32],
    place: int,
    crop: Crop,
    light: LightOf,
    view: CameraView,
    where_words: str,
) -> list[list[Panel]]:
    """The picture without and with LED pixels; the pattern on even white as predicted and as drawn."""
    studio, surfaces, patch = scene.studio, scene.studio.stage.surfaces, crop.patch
    drawn = synthesise(view, scene.camera, surfaces, place, patch, light, SAMPLES)
    plain = _crop(code, patch, drawn.photosites)
    cover = _crop(set_cover, patch, drawn.photosites)[..., None]
    shown = studio.display.code(drawn.linear).astype(np.float32)
    mixed = np.round(shown * (1.0 - cover) + plain * cover).astype(np.uint8)
    swing = swing_of(crop.told)
    size = f"{patch.width} x {patch.height} photosites"
    scaled = f"even white, set taken away; {100 * swing:.2g} % lighter is white, darker is black"
    return [
        [
            Panel(plain, "without LED pixels", f"the return's picture in {where_words}, {size}"),
            Panel(
                mixed, "synthesised", f"every LED pixel of {drawn.surface} drawn through lens and photosites"
            ),
        ],
        [
            Panel(stretched(crop.told, swing), "pattern, predicted", scaled),
            Panel(stretched(crop.drawn, swing), "pattern, synthesised", scaled),
        ],
    ]


def _crop(picture: npt.NDArray[Any], patch: Patch, photosites: tuple[int, int]) -> npt.NDArray[Any]:
    """A patch of a picture, one picture pixel a photosite."""
    height, width = picture.shape[:2]
    left, right = (round(x / photosites[0] * width) for x in (patch.left, patch.left + patch.width))
    top, bottom = (round(y / photosites[1] * height) for y in (patch.top, patch.top + patch.height))
    part = np.ascontiguousarray(picture[top : max(bottom, top + 1), left : max(right, left + 1)])
    return cv2.resize(part, (patch.width, patch.height), interpolation=cv2.INTER_LINEAR)


def _lens_told(camera: model.Camera, view: CameraView) -> str:
    return (
        f"{view.focal_length_mm:.3g} mm, T{stop_of(camera):g}, focus {view.focus_m:.2f} m "
        f"({focus_from_pupil_mm(view) / 1000:.2f} m from the lens's pupil); seen from three picture heights"
    )


def _told(found: SeenMoire) -> str:
    """The worst pattern in words."""
    if not found.seen.any():
        return "No LED surface in this picture."
    row, column = found.worst
    one = found.patterns
    risk = float(found.risk[row, column])
    if not risk:
        return "No pattern of the LED pixels that an observer would see."
    over = found.risk > OVER_RISK
    share = f"{100 * over.mean():.2g} % of the picture" if over.any() else "none of the picture"
    what = "moire" if one.kind[row, column] == ALIAS else "the grid of LED pixels itself"
    return (
        f"Worst in {where_at(found, found.worst)}: risk {risk:.2f}, {what}, "
        f"{one.cycles_per_height[row, column]:.0f} stripes to the picture height, "
        f"{runs_words(float(one.orientation_deg[row, column]))}, contrast "
        f"{100 * one.contrast[row, column]:.2g} %; risk over {OVER_RISK:g} on {share}."
    )


def _data(found: SeenMoire, timecode: str, camera: str, settings: model.Camera) -> dict[str, Any]:
    row = _row(found, 0, timecode)
    row.pop("frame")
    return {
        "camera": camera,
        "focal_length_mm": found.view.focal_length_mm,
        "t_stop": stop_of(settings),
        "focus_m": found.view.focus_m,
        "sightlines": list(found.seen.shape[::-1]),
        **row,
    }


def _row(found: SeenMoire, frame: int, timecode: str) -> dict[str, Any]:
    """One frame's numbers."""
    height, width = found.seen.shape
    row, column = found.worst
    one = found.patterns
    return {
        "frame": frame,
        "timecode": timecode,
        "led_percent": round(100 * float(found.seen.mean()), 3),
        "risk_over_half_percent": round(100 * float((found.risk > OVER_RISK).mean()), 3),
        "mean_risk": round(float(found.risk[found.seen].mean()), 4) if found.seen.any() else 0.0,
        "worst": {
            "risk": round(float(found.risk[row, column]), 4),
            "x": round((column + 0.5) / width, 4),
            "y": round((row + 0.5) / height, 4),
            "contrast_percent": round(100 * float(one.contrast[row, column]), 3),
            "cycles_per_picture_height": round(float(one.cycles_per_height[row, column]), 2),
            "orientation_deg": round(float(one.orientation_deg[row, column]), 1),
            "pattern": {ALIAS: "moire", GRID: "led pixels"}.get(int(one.kind[row, column]), "none"),
        },
    }
