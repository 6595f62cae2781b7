"""Prediction against brute force, through a real lens on a curved wall: the two share no formula.

Source: none outside; the synthesis works in space alone and is the reference.
"""

from dataclasses import replace

import numpy as np
import pytest

from preview.checks.look import Look
from preview.checks.seen_moire import emitter_of, seen_moire
from preview.checks.walk import open_plan
from preview.moire.measure import strongest_near
from preview.moire.synthesis import patch_round, predicted_pattern, synthesise
from preview.timeline.framing import sensor_of
from tests.checks.shows import changed, whip_show

LENS = {"focal_length_mm": (7.6, 152.0), "t_stop": 4.0, "k1": -0.02, "k2": 0.004}
GRID = (96, 54)


def bent():
    """The whip show behind a lens with distortion, focused on the wall."""
    show = whip_show()
    cameras = {}
    for camera in show.file.cameras:
        framings = tuple(f.model_copy(update={"focus_m": 7.0}) for f in camera.framings)
        lens = camera.lens.model_copy(update=LENS)
        cameras[camera.name] = {"lens": lens, "framings": framings, "t_stop": 4.0}
    return changed(show, cameras)


@pytest.fixture(scope="module")
def plan():
    with open_plan(bent(), size_px=GRID) as made:
        yield made


@pytest.fixture(scope="module")
def found(plan):
    look = Look(plan, 0)
    sight = look.bare("CAM1")
    size = plan.show.file.show.picture_size_px
    return sight, seen_moire(sight, plan.camera("CAM1"), plan.stage.surfaces, size)


def patches(sight, moire, plan, count):
    """Places on the wall whose pattern is steady and strong."""
    rng = np.random.default_rng(7)
    sensor = sensor_of(plan.camera("CAM1"))
    strong = moire.seen & (sight.surface == 0) & (moire.patterns.contrast > 0.02)
    strong[:4], strong[-4:], strong[:, :4], strong[:, -4:] = False, False, False, False
    rows, columns = np.nonzero(strong)
    for place in rng.choice(len(rows), count, replace=False):
        row, column = int(rows[place]), int(columns[place])
        yield row, column, patch_round(row, column, GRID, (40, 40), sensor.photosites)


def test_the_predicted_picture_is_the_synthesised_one(plan, found):
    """Photosite by photosite, on even white: harmonics against every LED pixel drawn."""
    sight, moire = found
    for _, _, patch in patches(sight, moire, plan, 2):
        camera, surfaces = plan.camera("CAM1"), plan.stage.surfaces
        told = predicted_pattern(sight.view, camera, surfaces, 0, patch)
        drawn = synthesise(sight.view, camera, surfaces, 0, patch, samples=20).linear[..., 1]
        assert np.isfinite(told).all()
        swing = np.std(drawn)
        assert swing > 0.01
        assert np.corrcoef(told.ravel(), drawn.ravel())[0, 1] > 0.985
        assert np.std(told) == pytest.approx(swing, rel=0.08)


def test_the_mean_light_is_kept(plan, found):
    sight, moire = found
    _, _, patch = next(patches(sight, moire, plan, 1))
    drawn = synthesise(sight.view, plan.camera("CAM1"), plan.stage.surfaces, 0, patch, samples=16)
    assert drawn.linear.mean() == pytest.approx(1.0, abs=0.01)
    assert drawn.surface == plan.stage.surfaces[0].name


def test_refocusing_takes_away_what_is_predicted(plan, found):
    """The same place with the lens focused nearer: both tell the same loss."""
    sight, moire = found
    camera, surfaces = plan.camera("CAM1"), plan.stage.surfaces
    row, column, patch = next(patches(sight, moire, plan, 1))
    near = replace(sight.view, focus_m=3.4)
    size = plan.show.file.show.picture_size_px
    other = seen_moire(replace(sight, view=near), camera, surfaces, size)
    frequency = tuple(float(v) for v in moire.patterns.frequency[:, row, column])
    scale = np.divide(moire.patterns.viewing.picture_px, sensor_of(camera).photosites)
    frequency = (frequency[0] * scale[0], frequency[1] * scale[1])
    drawn = [
        strongest_near(
            synthesise(view, camera, surfaces, 0, patch, samples=20).linear[..., 1], frequency
        ).contrast
        for view in (sight.view, near)
    ]
    told = [float(one.patterns.contrast[row, column]) for one in (moire, other)]
    assert told[1] < 0.7 * told[0]
    assert other.patterns.harmonic[row, column] == moire.patterns.harmonic[row, column]
    assert drawn[1] / drawn[0] == pytest.approx(told[1] / told[0], rel=0.1)


def test_light_of_the_led_pixels_colours_the_picture(plan, found):
    sight, moire = found
    _, _, patch = next(patches(sight, moire, plan, 1))
    red = synthesise(
        sight.view,
        plan.camera("CAM1"),
        plan.stage.surfaces,
        0,
        patch,
        light=lambda column, row: np.stack([np.full(column.shape, 0.8), 0.0 * column, 0.0 * column], -1),
        samples=12,
    ).linear
    assert red[..., 0].mean() == pytest.approx(0.8, abs=0.02)
    assert red[..., 1:].max() == pytest.approx(0.0, abs=1e-6)


def test_the_emitter_is_the_surfaces(plan):
    surface = replace(plan.stage.surfaces[0], emitter_share=0.7, emitter_shape="round")
    assert (emitter_of(surface).share, emitter_of(surface).shape) == (0.7, "round")


def test_a_patch_stays_inside_the_sensor():
    patch = patch_round(0, 95, GRID, (160, 90), (1920, 1080))
    assert (patch.left, patch.top, patch.width, patch.height) == (1760, 0, 160, 90)
    whole = patch_round(20, 20, GRID, (4000, 4000), (1920, 1080))
    assert (whole.left, whole.top, whole.width, whole.height) == (0, 0, 1920, 1080)
