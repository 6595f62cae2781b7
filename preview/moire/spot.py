"""One place of a picture: what is predicted there, and what a synthesis shows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import cv2
import numpy as np
import numpy.typing as npt

from preview.checks.seen_moire import Floats, SeenMoire
from preview.checks.where import where
from preview.moire.measure import Measured, strongest_near
from preview.moire.synthesis import patch_round, predicted_pattern, synthesise
from preview.optics.alias import ALIAS, GRID, Patterns
from preview.optics.synthesis_core import Patch
from preview.show import model
from preview.stage.surface import LedSurface
from preview.timeline.framing import sensor_of

CROP_PHOTOSITES = (160, 90)
"""Of a picture, shown enlarged: some twenty stripes across, and single photosites still to be told apart."""
MOSTLY, WHOLE = 0.7, 0.999
"""Share of a crop that shows a surface: a person is to see its pattern, not what stands before it."""
MEASURED_PHOTOSITES = 64
"""Side of the square in which a pattern is measured: waves of a dozen photosites fit in a few times."""
SAMPLES = 24
"""Samples along a photosite of a synthesis: from LED pixels of a third of a photosite on they take less than
3 % of the first harmonic away."""


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

    def data(self) -> dict[str, Any]:
        """The same as JSON types."""
        return {
            "focus_m": round(self.focus_m, 4),
            "blur_photosites": round(self.blur_photosites, 3),
            "risk": round(self.risk, 4),
            "predicted_contrast_percent": round(100 * self.contrast, 4),
            "predicted_cycles_per_photosite": [round(value, 6) for value in self.frequency],
            "over_photosites": MEASURED_PHOTOSITES,
            **_measured_data("expected", self.expected),
            **_measured_data("synthesised", self.synthesised),
        }

    @property
    def words(self) -> str:
        """Blur, and contrast predicted and synthesised."""
        told = f"blur disc {self.blur_photosites:.1f} photosites, "
        told += f"predicted contrast {100 * self.contrast:.2g} % (risk {self.risk:.2f})"
        if self.expected is None or self.synthesised is None:
            return told
        told += f"; over {MEASURED_PHOTOSITES} photosites {100 * self.expected.contrast:.2g} % predicted and "
        told += f"{100 * self.synthesised.contrast:.2g} % synthesised, "
        return told + f"{_cycles(self.expected.frequency)} and {_cycles(self.synthesised.frequency)}"


@dataclass(frozen=True, eq=False)
class Crop:
    """The pattern on an even white round one place.

    Attributes
    ----------
    patch : which photosites
    told, drawn : (h, w) float32, predicted with mean 1, and green of the synthesis
    """

    patch: Patch
    told: Floats
    drawn: Floats

    @classmethod
    def of(
        cls,
        found: SeenMoire,
        camera: model.Camera,
        surfaces: Sequence[LedSurface],
        at: tuple[int, int],
        place: int,
        size: tuple[int, int] = (MEASURED_PHOTOSITES, MEASURED_PHOTOSITES),
        samples: int = SAMPLES,
    ) -> Crop:
        """Predict and draw it.

        Parameters
        ----------
        found : of the whole picture
        camera : whose picture
        at : row and column on the grid of ``found``
        place : of the surface that is seen there, in ``surfaces``
        size : photosites across and down
        samples : along a photosite of the synthesis
        """
        height, width = found.seen.shape
        patch = patch_round(*at, (width, height), size, sensor_of(camera).photosites)
        of = found.view, camera, surfaces, place, patch
        return cls(patch, predicted_pattern(*of), synthesise(*of, samples=samples).linear[..., 1])

    def within(self, patch: Patch) -> tuple[Floats, Floats]:
        """``told`` and ``drawn`` of a smaller patch that lies in it."""
        top, left = patch.top - self.patch.top, patch.left - self.patch.left
        part = np.s_[top : top + patch.height, left : left + patch.width]
        return self.told[part], self.drawn[part]


def spot_of(found: SeenMoire, camera: model.Camera, at: tuple[int, int], crop: Crop) -> Spot:
    """What is predicted at one place, and what the middle of the crop round it holds.

    Parameters
    ----------
    found : of the whole picture
    camera : whose picture
    at : row and column on the grid of ``found``
    crop : round it, at least MEASURED_PHOTOSITES either way
    """
    row, column = at
    height, width = found.seen.shape
    sensor = sensor_of(camera)
    across, down = sensor.photosites
    side = MEASURED_PHOTOSITES
    patch = patch_round(row, column, (width, height), (side, side), sensor.photosites)
    # A patch at the picture's edge has its middle elsewhere: that is where it is predicted.
    row = min(height - 1, int((patch.top + patch.height / 2) / down * height))
    column = min(width - 1, int((patch.left + patch.width / 2) / across * width))
    if not found.seen[row, column]:  # somebody stands there
        row, column = _nearest_seen(found, at)
    per_photosite = _per_photosite(found.patterns, sensor.photosites)
    frequency = float(per_photosite[0, row, column]), float(per_photosite[1, row, column])
    expected = measured = None
    told, drawn = crop.within(patch)
    if found.patterns.kind[row, column] in (ALIAS, GRID) and any(frequency) and np.isfinite(told).all():
        # A square over the surface's edge is no even field.
        expected, measured = strongest_near(told, frequency), strongest_near(drawn, frequency)
    return Spot(
        found.view.focus_m,
        float(found.blur_mm[row, column]) / (sensor.size_mm[0] / across),
        float(found.risk[row, column]),
        float(found.patterns.contrast[row, column]),
        frequency,
        expected,
        measured,
    )


def where_at(found: SeenMoire, at: tuple[int, int]) -> str:
    """Words for a place of the picture: row and column on its grid."""
    mark = np.zeros_like(found.seen)
    mark[at] = True
    return where(mark)


def worst_shown(
    seen: SeenMoire, surface: npt.NDArray[np.integer], photosites: tuple[int, int], least: float = MOSTLY
) -> tuple[int, int]:
    """The worst place that a crop round it shows well; the worst of all where no crop does.

    Parameters
    ----------
    seen : of the whole picture
    surface : (h, w) place of the surface that each sightline meets
    photosites : of the sensor, across and down
    least : share of the crop that one surface has to fill
    """
    height, width = seen.seen.shape
    across, down = (
        2 * int(np.ceil(crop / 2 / side * fields)) + 1
        for crop, side, fields in zip(CROP_PHOTOSITES, photosites, (width, height), strict=True)
    )
    filled = np.zeros(seen.seen.shape, dtype=np.float32)
    for place in np.unique(surface[seen.seen]):
        of_place = (seen.seen & (surface == place)).astype(np.float32)
        # Past the picture's edge nothing is missing: a crop is moved inside it.
        share = cv2.blur(of_place, (across, down), borderType=cv2.BORDER_REPLICATE)
        filled = np.maximum(filled, np.where(of_place > 0, share, 0.0))
    shown = filled >= least
    if shown.any() and (seen.risk[shown].any() or not seen.risk.any()):
        return replace(seen, seen=shown).worst
    return seen.worst


def _nearest_seen(found: SeenMoire, at: tuple[int, int]) -> tuple[int, int]:
    """The place itself where an LED surface is seen there, and else the nearest one.

    Raises
    ------
    ValueError : the picture shows no LED surface.
    """
    rows, columns = np.nonzero(found.seen)
    if not len(rows):
        raise ValueError("no LED surface is seen; there is no place to tell of")
    nearest = int(np.argmin((rows - at[0]) ** 2 + (columns - at[1]) ** 2))
    return int(rows[nearest]), int(columns[nearest])


def stretched(pattern: npt.NDArray[np.floating], swing: float) -> npt.NDArray[np.uint8]:
    """(h, w, 3) a pattern round 1 as grey: ``swing`` either way is black and white."""
    grey = np.clip((np.nan_to_num(pattern, nan=1.0) - 1.0) / (2.0 * swing) + 0.5, 0.0, 1.0)
    return np.repeat(np.round(grey * 255.0).astype(np.uint8)[..., None], 3, axis=2)


def swing_of(pattern: npt.NDArray[np.floating]) -> float:
    """How far a predicted pattern swings either way: twice its standard deviation."""
    return max(float(np.nanstd(pattern)) * 2.0, 1e-4)


def bayer_note(camera: model.Camera) -> list[str]:
    """What the contrasts leave out behind a colour filter; nothing without one."""
    if sensor_of(camera).color_filter != "bayer":
        return []
    return ["Contrasts are of green; a Bayer sensor shows patterns of colour besides."]


def _per_photosite(found: Patterns, photosites: tuple[int, int]) -> npt.NDArray[np.floating]:
    """(2, ...) frequencies in cycles per photosite."""
    scale = np.divide(found.viewing.picture_px, photosites)
    return found.frequency * scale.reshape(2, *[1] * (found.frequency.ndim - 1))


def _cycles(frequency: tuple[float, float]) -> str:
    across, down = frequency
    return f"one stripe in {1 / max(float(np.hypot(across, down)), 1e-6):.3g} photosites"


def _measured_data(name: str, found: Measured | None) -> dict[str, Any]:
    if found is None:
        return {f"{name}_contrast_percent": None, f"{name}_cycles_per_photosite": None}
    return {
        f"{name}_contrast_percent": round(100 * found.contrast, 4),
        f"{name}_cycles_per_photosite": [round(value, 6) for value in found.frequency],
    }
