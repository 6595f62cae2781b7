"""The suggested overscan survives the whip pan, and one percent less does not: counted on every pixel."""

from __future__ import annotations

import pytest

from preview.checks.coverage import coverage_over, uncovered_pixels
from preview.frame import Studio
from preview.suggest.changed import with_overscan
from preview.suggest.overscan import prove_overscan, rounded_up, suggest_overscan
from preview.timeline.timeline import Timeline
from tests.checks.shows import changed, whip_show


@pytest.fixture(scope="module")
def studio():
    with Studio(whip_show()) as made:
        yield made


@pytest.fixture(scope="module")
def late():
    """A whip pan of 20 degrees in 15 frames, with tracking three frames late."""
    return changed(whip_show(), delays={"tracking_frames": 3.0})


def test_with_it_no_pixel_is_left_and_with_one_percent_less_some_are(studio, late):
    covered = coverage_over(late, surfaces=studio.stage.surfaces)
    still, whip = prove_overscan(late, suggest_overscan(late, covered), covered, studio.raster)
    assert (still.camera, still.suggested_percent, still.proofs, still.enough) == ("CAM1", 0.0, (), True)
    assert whip.needed_percent < whip.suggested_percent < whip.needed_percent + 0.1001
    assert not whip.enough
    assert [proof.frame for proof in whip.proofs] == [49, 50, 48], "the fastest frames of the move"
    for proof in whip.proofs:
        assert proof.with_suggestion == 0
        assert proof.less_percent == pytest.approx(whip.suggested_percent - 1.0)
        assert proof.with_less > 0
    # And in every other frame of the move, not only in the worst ones.
    timeline = Timeline(with_overscan(late, {"CAM2": whip.suggested_percent}))
    for frame in range(40, 60):
        assert uncovered_pixels(studio.raster, timeline.at(frame).camera("CAM2")) == 0


def test_a_suggestion_that_leaves_a_pixel_goes_up(studio, late):
    from dataclasses import replace

    covered = coverage_over(late, surfaces=studio.stage.surfaces)
    _, whip = suggest_overscan(late, covered)
    low = replace(whip, suggested_percent=whip.suggested_percent - 1.5)
    (proved,) = prove_overscan(late, [low], covered, studio.raster)
    assert whip.suggested_percent - 0.3 < proved.suggested_percent <= whip.suggested_percent
    assert not any(proof.with_suggestion for proof in proved.proofs)


def test_a_move_that_no_overscan_covers_is_told(studio):
    """Tracking 15 frames late, the whip three times as fast and twice as far: the image is elsewhere."""
    show = changed(whip_show(), delays={"tracking_frames": 15.0})
    framings = tuple(
        framing.model_copy(update={"pan_deg": {"left of wall": 60.0, "right of wall": -25.0}[framing.name]})
        if framing.name in ("left of wall", "right of wall")
        else framing
        for framing in show.file.cameras[1].framings
    )
    show = changed(show, {"CAM2": {"framings": framings}})
    covered = coverage_over(show, surfaces=studio.stage.surfaces)
    _, whip = prove_overscan(show, suggest_overscan(show, covered), covered, studio.raster)
    assert whip.suggested_percent is None
    assert not whip.enough
    assert whip.worst_frame is not None


def test_rounding_goes_up_only():
    assert [rounded_up(x) for x in (0.0, 0.001, 0.1, 4.2, 4.2000001, 19.55)] == [
        0.0,
        0.1,
        0.1,
        4.2,
        4.3,
        19.6,
    ]
