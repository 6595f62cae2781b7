"""What is told of one place stays told when somebody stands in the middle of the square round it."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest

from preview.checks.seen_moire import seen_moire
from preview.checks.walk import sight_raster
from preview.moire.picture_map import grid_of
from preview.moire.spot import Crop, spot_of
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
