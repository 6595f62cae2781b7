"""Moire over a picture: what each sightline that meets an LED surface will show of its lattice."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from functools import cached_property

import numpy as np
import numpy.typing as npt

from preview.camera.focus import blur_disc_mm
from preview.camera.view import CameraView
from preview.checks.structure import focus_from_pupil_mm, stop_of
from preview.optics.alias import Patterns, patterns
from preview.optics.lattice import Facets, picture_tangents, view_crossing
from preview.optics.transfer import Emitter, Optics
from preview.optics.viewing import Viewing
from preview.raster.sight import Sight
from preview.show import model
from preview.stage.surface import LedSurface
from preview.timeline.framing import sensor_of

Bools = npt.NDArray[np.bool_]
Floats = npt.NDArray[np.float32]


@dataclass(frozen=True, eq=False)
class SeenMoire:
    """Patterns over a grid of a picture's sightlines.

    Attributes
    ----------
    view : whose picture
    seen : (h, w) sightlines that end on the lit side of an LED surface
    patterns : arrays (h, w); 0 where nothing is seen
    blur_mm : (h, w) float32 blur disc of the LED surface on the sensor; NaN where there is none
    """

    view: CameraView
    seen: Bools
    patterns: Patterns
    blur_mm: Floats

    @cached_property
    def risk(self) -> Floats:
        """(h, w) risk 0..1, 0 where no LED surface is seen."""
        return np.where(self.seen, self.patterns.risk, np.float32(0))

    @property
    def worst(self) -> tuple[int, int]:
        """Row and column of the largest risk; of the strongest pattern among several."""
        strength = np.maximum(self.patterns.thresholds, self.patterns.color_thresholds)
        strength = np.where(self.seen, strength, -1.0)
        row, column = np.unravel_index(int(strength.argmax()), strength.shape)
        return int(row), int(column)


def optics_of(camera: model.Camera) -> Optics:
    """What stands between LED surface and signal in a camera; the T-stop counts as its f-number."""
    sensor = sensor_of(camera)
    width, height = np.divide(sensor.size_mm, sensor.photosites)
    return Optics(
        photosite_mm=(float(width), float(height)),
        f_number=stop_of(camera),
        aperture_share=sensor.photosite_aperture,
        lowpass_photosites=sensor.lowpass_photosites,
    )


def emitter_of(surface: LedSurface) -> Emitter:
    """The shining part of a surface's LED pixels."""
    return Emitter(surface.emitter_share, surface.emitter_shape)


def viewing_of(camera: model.Camera, picture_px: tuple[int, int]) -> Viewing:
    """How a camera's picture is looked at: at three picture heights, in its own shape."""
    width, height = sensor_of(camera).size_mm
    return Viewing(picture_px, aspect=width / height)


def blur_of(view: CameraView, t_stop: float, ahead_m: npt.NDArray[np.floating]) -> Floats:
    """Blur discs (mm on the sensor, any shape) of points so far in front of the pupil along the optical
    axis; NaN stays NaN."""
    focus_mm = focus_from_pupil_mm(view)
    return blur_disc_mm(view.focal_length_mm, t_stop, focus_mm, 1000.0 * ahead_m).astype(np.float32)


def seen_moire(
    sight: Sight,
    camera: model.Camera,
    surfaces: Sequence[LedSurface],
    picture_px: tuple[int, int],
    facets: Facets | None = None,
) -> SeenMoire:
    """Patterns over the sightlines of a picture.

    Parameters
    ----------
    sight : what they meet
    camera : its sensor, lens and stop
    surfaces : of the stage
    picture_px : width and height of the picture that is looked at
    facets : of these surfaces, where they were made before
    """
    facets = Facets.of(surfaces) if facets is None else facets
    view, seen = sight.view, sight.wall_seen
    height, width = seen.shape
    photosites = sensor_of(camera).photosites
    tangents = picture_tangents(view, (width, height))[seen]
    number = facets.numbers(sight.surface[seen], sight.facet[seen])
    found = view_crossing(view, facets, number, tangents, photosites, np.float32)
    blur = np.full(seen.shape, np.nan, dtype=np.float32)
    blur[seen] = blur_of(view, stop_of(camera), found.ahead_m)
    optics, viewing = optics_of(camera), viewing_of(camera, picture_px)
    color_filter = sensor_of(camera).color_filter
    parts: list[tuple[np.ndarray, Patterns]] = []
    of_surface = sight.surface[seen]
    emitters = [emitter_of(surface) for surface in surfaces]
    for emitter in dict.fromkeys(emitters):
        mine = np.isin(of_surface, [place for place, one in enumerate(emitters) if one == emitter])
        gradients = np.ascontiguousarray(found.gradients[:, mine])
        own = patterns(gradients, blur[seen][mine], optics, emitter, viewing, photosites, color_filter)
        parts.append((mine, own))
    return SeenMoire(view, seen, _together(seen, parts), blur)


def _together(seen: Bools, parts: Sequence[tuple[np.ndarray, Patterns]]) -> Patterns:
    """Patterns of several emitters, each over its share of the seen sightlines, over the whole picture."""
    first = parts[0][1]
    whole: dict[str, np.ndarray] = {}
    for name in (field.name for field in fields(Patterns) if field.name != "viewing"):
        values = getattr(first, name)
        flat = np.zeros((*values.shape[:-1], int(seen.sum())), dtype=values.dtype)
        for mine, own in parts:
            flat[..., mine] = getattr(own, name)
        full = np.zeros((*values.shape[:-1], *seen.shape), dtype=values.dtype)
        full[..., seen] = flat
        whole[name] = full
    return replace(first, **whole)  # type: ignore[arg-type]
