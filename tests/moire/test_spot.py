"""What is told of one place stays told when somebody stands in the middle of the square round it."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest

from preview.checks.seen_moire import seen_moire
from preview.checks.walk import sight_raster
from preview.moire.picture_map import grid_of
from preview.moire.spot import Crop, spot_of, worst_shown
from preview.optics.lattice import Facets
from preview.stage.build import build_stage
from preview.timeline.timeline import Timeline
from tests.suggest.test_proof import before_the_wall


@pytest.fixture(scope="module")
def place():
    """The moire of a whole picture, its camera, its worst place, and the crop round it."""
    show = before_the_wall()
    stage, (camera,) = build_stage(show), show.file.cameras
    size = show.file.show.picture_size_px
    with sight_raster(show, stage, grid_of(size)) as sights:
        sight = sights.look(Timeline(show).framing_view("A", "mid"), [])
        found = seen_moire(sight, camera, stage.surfaces, size, Facets.of(stage.surfaces))
    at = found.worst
    return found, camera, at, Crop.of(found, camera, stage.surfaces, at, int(sight.surface[at]), samples=8)


def test_a_hidden_middle_is_told_by_the_nearest_place_that_is_seen(place):
    found, camera, at, crop = place
    open_to_view = spot_of(found, camera, at, crop)
    seen, blur = found.seen.copy(), found.blur_mm.copy()
    height, width = seen.shape
    row = int((crop.patch.top + crop.patch.height / 2) / 1080 * height)
    column = int((crop.patch.left + crop.patch.width / 2) / 1920 * width)
    seen[row, column], blur[row, column] = False, np.nan
    hidden = spot_of(replace(found, seen=seen, blur_mm=blur), camera, at, crop)
    assert hidden.blur_photosites == pytest.approx(open_to_view.blur_photosites, rel=0.02)
    json.dumps(hidden.data(), allow_nan=False)


def test_a_picture_without_led_has_no_place_to_tell_of(place):
    found, camera, at, crop = place
    with pytest.raises(ValueError, match="no LED surface"):
        spot_of(replace(found, seen=np.zeros_like(found.seen)), camera, at, crop)


def test_the_place_shown_is_the_worst_whose_crop_is_not_mostly_hidden(place):
    found, _, at, _ = place
    surface = np.where(found.seen, 0, -1)
    shown = worst_shown(found, surface, (1920, 1080))
    assert found.seen[shown] and found.risk[shown] > 0.5 * found.risk[at]
    # A sliver of wall between two people is no place to show a pattern, however strong it is there.
    height, width = found.seen.shape
    seen = np.zeros_like(found.seen)
    seen[:, : width // 2], seen[:, width - 2] = True, True
    risk = np.where(found.seen, 0.3, 0.0).astype(np.float32)
    risk[:, width - 2] = 1.0
    sliver = replace(found, seen=seen & found.seen)
    object.__setattr__(sliver, "__dict__", {**sliver.__dict__, "risk": risk})
    assert worst_shown(sliver, np.where(sliver.seen, 0, -1), (1920, 1080))[1] < width // 2
    alone = replace(found, seen=np.eye(height, width, dtype=bool) & found.seen)
    assert alone.seen[worst_shown(alone, np.where(alone.seen, 0, -1), (1920, 1080))], "better than nothing"
