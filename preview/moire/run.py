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
from preview.checks.where import where
from preview.compare.delivery import Delivery
from preview.conventions import Array
from preview.errors import RequestError
from preview.frame import Studio, Wanted
from preview.moire.measure import Measured, strongest_near
from preview.moire.page import Panel, moire_page, with_scale
from preview.moire.picture_map import grid_of, picture_map
from preview.moire.synthesis import patch_round, predicted_pattern, synthesise
from preview.optics.alias import ALIAS, GRID, Patterns
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

CROP_PHOTOSITES = (160, 90)
MEASURED_PHOTOSITES = 64
"""Side of the square in which a pattern is measured: waves of a dozen photosites fit in a few times."""
SAMPLES = 24
"""Samples along a photosite of a synthesis: from LED pixels of a third of a photosite on they take less than
3 % of the first harmonic away."""
OVER_RISK = 0.5
"""A pattern of this risk is about seven times as strong as an observer needs on an even field."""


@dataclass(frozen=True)
class Spot:
    """What is predicted, and what a synthesis shows, at one place of a picture.

    Attributes
    ----------
    focus_m : focus distance from the sensor
    blur_photosites : diameter of the blur disc there
    risk, contrast : predicted
    frequency : predicted, cycles per photosite, x right and y down
    expected, synthesised : measured alike over a square round the place, in the predicted pattern and in
        the synthesis; None where nothing is predicted to be seen
    """

    focus_m: float
    blur_photosites: float
    risk: float
    contrast: float
    frequency: tuple[float, float]
    expected: Measured | None
    synthesised: Measured | None


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
            row, column = found.worst
            place = int(sight.surface[row, column])
            patch = patch_round(
                row, column, grid_of(studio.size_px), CROP_PHOTOSITES, sensor_of(settings).photosites
            )
            light = _light(studio, frame, camera, place)
            spots = [_spot(scene, one, found.worst, place) for one in (found, *others)]
            bodies = studio.bodies_seen(moment, view)
            cover = studio.raster.sightlines(view, bodies).set_cover
            panels = _panels(scene, picture.code, cover, place, patch, light, view)
            page = moire_page(title, _page_told(spots, settings), panels)
            delivery.still(frame, "moire-synthesis", camera, page)
            data["worst"]["spots"] = [_spot_data(spot) for spot in spots]
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


def _spot(scene: _Scene, found: SeenMoire, at: tuple[int, int], place: int) -> Spot:
    """Prediction and an evenly white synthesis round one place, for one focus."""
    row, column = at
    sensor, grid = sensor_of(scene.camera), grid_of(scene.studio.size_px)
    side = MEASURED_PHOTOSITES
    patch = patch_round(row, column, grid, (side, side), sensor.photosites)
    # A patch at the picture's edge has its middle elsewhere: that is where it is predicted.
    row = min(grid[1] - 1, int((patch.top + patch.height / 2) / sensor.photosites[1] * grid[1]))
    column = min(grid[0] - 1, int((patch.left + patch.width / 2) / sensor.photosites[0] * grid[0]))
    per_photosite = _per_photosite(found.patterns, sensor.photosites)
    frequency = float(per_photosite[0, row, column]), float(per_photosite[1, row, column])
    expected = measured = None
    if found.patterns.kind[row, column] in (ALIAS, GRID) and any(frequency):
        of = found.view, scene.camera, scene.studio.stage.surfaces, place, patch
        told, green = predicted_pattern(*of), synthesise(*of, samples=SAMPLES).linear[..., 1]
        if np.isfinite(told).all():  # a square over the surface's edge is no even field
            expected, measured = (strongest_near(one, frequency) for one in (told, green))
    width_mm = sensor.size_mm[0] / sensor.photosites[0]
    return Spot(
        found.view.focus_m,
        float(found.blur_mm[row, column]) / width_mm,
        float(found.risk[row, column]),
        float(found.patterns.contrast[row, column]),
        frequency,
        expected,
        measured,
    )


def _per_photosite(found: Patterns, photosites: tuple[int, int]) -> npt.NDArray[np.floating]:
    """(2, ...) frequencies in cycles per photosite."""
    scale = np.divide(found.viewing.picture_px, photosites)
    return found.frequency * scale.reshape(2, *[1] * (found.frequency.ndim - 1))


def _panels(
    scene: _Scene,
    code: npt.NDArray[np.uint8],
    set_cover: npt.NDArray[np.float32],
    place: int,
    patch: Patch,
    light: LightOf,
    view: CameraView,
) -> list[list[Panel]]:
    """The picture without and with LED pixels; the pattern on even white as predicted and as drawn."""
    studio, surfaces = scene.studio, scene.studio.stage.surfaces
    drawn = synthesise(view, scene.camera, surfaces, place, patch, light, SAMPLES)
    white = synthesise(view, scene.camera, surfaces, place, patch, samples=SAMPLES)
    told = predicted_pattern(view, scene.camera, surfaces, place, patch)
    plain = _crop(code, patch, drawn.photosites)
    cover = _crop(set_cover, patch, drawn.photosites)[..., None]
    shown = studio.display.code(drawn.linear).astype(np.float32)
    mixed = np.round(shown * (1.0 - cover) + plain * cover).astype(np.uint8)
    swing = max(float(np.nanstd(told)) * 2.0, 1e-4)
    size = f"{patch.width} x {patch.height} photosites"
    scaled = f"even white, set taken away; {100 * swing:.2g} % lighter is white, darker is black"
    return [
        [
            Panel(plain, "without LED pixels", f"the return's picture, {size}"),
            Panel(
                mixed, "synthesised", f"every LED pixel of {drawn.surface} drawn through lens and photosites"
            ),
        ],
        [
            Panel(_stretched(told, swing), "pattern, predicted", scaled),
            Panel(_stretched(white.linear[..., 1], swing), "pattern, synthesised", scaled),
        ],
    ]


def _stretched(pattern: npt.NDArray[np.floating], swing: float) -> npt.NDArray[np.uint8]:
    """(h, w, 3) a pattern round 1 as grey: ``swing`` either way is black and white."""
    grey = np.clip((np.nan_to_num(pattern, nan=1.0) - 1.0) / (2.0 * swing) + 0.5, 0.0, 1.0)
    return np.repeat(np.round(grey * 255.0).astype(np.uint8)[..., None], 3, axis=2)


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
    at = np.zeros_like(found.seen)
    at[row, column] = True
    return (
        f"Worst in {where(at)}: risk {risk:.2f}, {what}, "
        f"{one.cycles_per_height[row, column]:.0f} stripes to the picture height, "
        f"{runs_words(float(one.orientation_deg[row, column]))}, contrast "
        f"{100 * one.contrast[row, column]:.2g} %; risk over {OVER_RISK:g} on {share}."
    )


def _page_told(spots: Sequence[Spot], camera: model.Camera) -> list[str]:
    told = []
    for spot in spots:
        line = f"Focus {spot.focus_m:.2f} m: blur disc {spot.blur_photosites:.1f} photosites, "
        line += f"predicted contrast {100 * spot.contrast:.2g} % (risk {spot.risk:.2f})"
        if spot.expected is not None and spot.synthesised is not None:
            line += (
                f"; over {MEASURED_PHOTOSITES} photosites {100 * spot.expected.contrast:.2g} % predicted and "
            )
            line += f"{100 * spot.synthesised.contrast:.2g} % synthesised, "
            line += f"{_cycles(spot.expected.frequency)} and {_cycles(spot.synthesised.frequency)}"
        told.append(line + ".")
    if sensor_of(camera).color_filter == "bayer":
        told.append("Contrasts are of green; a Bayer sensor shows patterns of colour besides.")
    return told


def _cycles(frequency: tuple[float, float]) -> str:
    across, down = frequency
    return f"one stripe in {1 / max(float(np.hypot(across, down)), 1e-6):.3g} photosites"


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


def _spot_data(spot: Spot) -> dict[str, Any]:
    return {
        "focus_m": round(spot.focus_m, 4),
        "blur_photosites": round(spot.blur_photosites, 3),
        "risk": round(spot.risk, 4),
        "predicted_contrast_percent": round(100 * spot.contrast, 4),
        "predicted_cycles_per_photosite": [round(value, 6) for value in spot.frequency],
        "over_photosites": MEASURED_PHOTOSITES,
        **_measured_data("expected", spot.expected),
        **_measured_data("synthesised", spot.synthesised),
    }


def _measured_data(name: str, found: Measured | None) -> dict[str, Any]:
    if found is None:
        return {f"{name}_contrast_percent": None, f"{name}_cycles_per_photosite": None}
    return {
        f"{name}_contrast_percent": round(100 * found.contrast, 4),
        f"{name}_cycles_per_photosite": [round(value, 6) for value in found.frequency],
    }
