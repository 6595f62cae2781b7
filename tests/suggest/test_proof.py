"""A move that was suggested against moire takes the pattern away: drawn LED pixel by LED pixel.

The synthesis shares no formula with the prediction that the suggestion rests on.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from preview.checks.moire import Moire
from preview.moire.proof import prove
from preview.show.model import Framing
from preview.stage.build import build_stage
from tests.checks.flat_stage import camera, flat_show, shot
from tests.suggest.test_search import complaints, searched

SUBJECT = (0.0, 2.6, 1.5)


def before_the_wall():
    """4 m before LED pixels of 2.5 mm on 9 mm: a little over one photosite each, so the coarsest stripes.

    On such a short lens neither focus nor stop blurs the wall enough, so the camera has to move.
    """
    taken = Framing(name="mid", look_at=SUBJECT, focal_length_mm=9.0, focus_m=2.6)
    show = flat_show(
        [camera("A", taken, t_stop=2.8, range_mm=(8.0, 40.0))], [shot("One", "A", {"A": "mid"}, 0.08)]
    )
    info = show.file.show.model_copy(update={"picture_size_px": (1920, 1080)})
    return replace(show, file=show.file.model_copy(update={"show": info}))


@pytest.fixture(scope="module")
def moved():
    show = before_the_wall()
    found, _ = searched(show, "mid", Moire, step_m=0.25)
    return show, found, prove(show, found.show, build_stage(show), "A", "mid", "Mid", samples=12)


def test_moving_the_camera_as_suggested_clears_the_pattern(moved):
    show, found, proof = moved
    assert complaints(show, Moire) and complaints(found.show, Moire) == []
    assert "position" in found.change.levers
    before, after = proof.before.spot, proof.after.spot
    assert after.synthesised.contrast < 0.4 * before.synthesised.contrast
    assert f"{100 * after.synthesised.contrast:.2g} % as suggested" in proof.sentence


def test_both_places_are_drawn_as_they_are_predicted(moved):
    _, _, proof = moved
    for one in (proof.before, proof.after):
        spot = one.spot
        assert spot.synthesised.contrast == pytest.approx(
            spot.expected.contrast, rel=0.06
        )  # 12 samples a photosite take a little of it away
        assert spot.synthesised.frequency == pytest.approx(spot.expected.frequency, abs=0.002)
        assert np.isfinite(one.crop.told).all(), "the crop shows the surface alone"
        assert np.corrcoef(one.crop.told.ravel(), one.crop.drawn.ravel())[0, 1] > 0.95
    data = proof.data()
    assert data["before"]["risk"] > 0.5 > data["after"]["risk"]
    assert proof.page.shape[1:] == (1920, 3) and proof.page.dtype == np.uint8
