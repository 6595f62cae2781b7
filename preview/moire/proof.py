"""A change proved by synthesis: the worst place of a framing's picture before it, and after it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from preview.checks.result import capital
from preview.checks.seen_moire import Floats, SeenMoire, seen_moire
from preview.checks.walk import sight_raster
from preview.moire.page import Code, Panel, moire_page
from preview.moire.picture_map import grid_of
from preview.moire.spot import (
    CROP_PHOTOSITES,
    SAMPLES,
    WHOLE,
    Crop,
    Spot,
    bayer_note,
    spot_of,
    stretched,
    swing_of,
    where_at,
    worst_shown,
)
from preview.optics.lattice import Facets
from preview.show import model
from preview.show.load import Show
from preview.stage.build import Stage
from preview.stage.surface import LedSurface
from preview.timeline.framing import sensor_of
from preview.timeline.timeline import Timeline


@dataclass(frozen=True, eq=False)
class Worst:
    """The worst place of a picture.

    Attributes
    ----------
    when : "as it is" or "as suggested"
    where : of the picture, in words
    surface : name of the LED surface seen there
    spot : predicted and measured round it
    crop : the pattern there, predicted and synthesised
    """

    when: str
    where: str
    surface: str
    spot: Spot
    crop: Crop


@dataclass(frozen=True, eq=False)
class Proof:
    """Before and after; ``page`` shows both on one scale of grey."""

    before: Worst
    after: Worst
    page: Code

    @property
    def sentence(self) -> str:
        """What the synthesis shows."""
        return (
            "worst pattern of LED pixels, drawn through lens and photosites: contrast "
            f"{_contrast(self.before)} as it is, {_contrast(self.after)} as suggested"
        )

    def data(self) -> dict[str, Any]:
        """The same as JSON types."""
        return {
            when: {
                "where": one.where,
                "surface": one.surface,
                **one.spot.data(),
                "predicted_swing_percent": _swing_percent(one.crop.told),
                "synthesised_swing_percent": _swing_percent(one.crop.drawn),
            }
            for when, one in (("before", self.before), ("after", self.after))
        }


def prove(
    show: Show,
    changed: Show,
    stage: Stage,
    camera: str,
    framing: str,
    title: str,
    samples: int = SAMPLES,
) -> Proof | None:
    """Draw the worst place of a framing's picture as it is and as changed, by brute force.

    Other cameras' equipment is left out: it hides LED pixels and shows none.

    Parameters
    ----------
    show, changed : the show at hand, and the one with the change; their stages are alike
    stage : of both
    camera, framing : names
    title : of the page
    samples : along a photosite of the synthesis

    Returns
    -------
    Proof ; None where one of the pictures shows no LED surface

    Raises
    ------
    GraphicsError : there is no OpenGL.
    """
    facets, found = Facets.of(stage.surfaces), []
    picture_px = show.file.show.picture_size_px
    with sight_raster(show, stage, grid_of(picture_px)) as sights:
        for when, one in (("as it is", show), ("as suggested", changed)):
            settings = next(own for own in one.file.cameras if own.name == camera)
            sight = sights.look(Timeline(one).framing_view(camera, framing), [])
            seen = seen_moire(sight, settings, stage.surfaces, picture_px, facets)
            if not seen.seen.any():
                return None
            found.append(_worst(when, seen, sight.surface, settings, stage.surfaces, samples))
    before, after = found
    swing = max(swing_of(one.crop.told) for one in found)
    panels = [
        [
            Panel(
                stretched(pattern, swing),
                f"{one.when}, {how}",
                f"{one.where}, on {one.surface}; {100 * swing:.2g} % lighter is white, darker is black",
            )
            for how, pattern in (("predicted", one.crop.told), ("synthesised", one.crop.drawn))
        ]
        for one in found
    ]
    told = [f"{capital(one.when)}: focus {one.spot.focus_m:.2f} m, {one.spot.words}." for one in found]
    return Proof(before, after, moire_page(title, [*told, *bayer_note(settings)], panels))


def _worst(
    when: str,
    seen: SeenMoire,
    surface: npt.NDArray[np.integer],
    camera: model.Camera,
    surfaces: Sequence[LedSurface],
    samples: int,
) -> Worst:
    at = worst_shown(seen, surface, sensor_of(camera).photosites, WHOLE)
    place = int(surface[at])
    crop = Crop.of(seen, camera, surfaces, at, place, CROP_PHOTOSITES, samples)
    return Worst(
        when,
        where_at(seen, at),
        surfaces[place].name,
        spot_of(seen, camera, at, crop),
        crop,
    )


def _swing_percent(pattern: Floats) -> float:
    """Contrast of the wave that would swing as much as a pattern does."""
    known = pattern[np.isfinite(pattern)]
    return round(100 * float(np.sqrt(2.0) * known.std() / known.mean()), 4)


def _contrast(one: Worst) -> str:
    """Synthesised, in the square round the place; of the whole crop where nothing is predicted."""
    found = one.spot.synthesised
    if found is None:
        return f"{_swing_percent(one.crop.drawn):.2g} % (too fine or too faint to be seen)"
    return f"{100 * found.contrast:.2g} %"
