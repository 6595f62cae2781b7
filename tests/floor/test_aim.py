"""A framing taken from elsewhere: aim, picture size, focus, ranges, and a jib's reach."""

from dataclasses import replace

import numpy as np
import pytest

from preview.camera.lens import projection_mm
from preview.floor.aim import Aim, LensGrid, focal_for, jib_heights_m
from preview.floor.options import FloorOptions
from preview.floor.pictures import picture_grid
from preview.floor.result import ARM, FOLDS, HEIGHT, LENS_RANGE, NEAREST_FOCUS
from preview.show.load import load_show
from preview.show.model import Framing, Mount
from preview.suggest.changed import with_camera
from preview.timeline.mount import jib_position_m
from preview.timeline.timeline import Timeline
from tests.checks.flat_stage import camera, flat_show

SIZE = (1920, 1080)


def aim_of(show, name, framing, **options):
    return Aim.of(show.file, name, framing, FloorOptions(**options))


@pytest.fixture(scope="module")
def demo():
    return load_show("assets/glasshouse/show.toml")


def lensed(**lens):
    """One camera at the origin whose framing looks at a point 4 m away."""
    framing = Framing(name="one", look_at=(0.3, 4.0, 1.2), focal_length_mm=40.0)
    one = camera("CAM1", framing)
    return flat_show([one.model_copy(update={"lens": one.lens.model_copy(update=lens)})], [SHOT])


SHOT = {"name": "A", "on_air": "CAM1", "duration": 1}


@pytest.mark.parametrize("name", ["left", "right", "hand", "jib"])
def test_where_it_stands_now_the_view_is_the_framings(demo, name):
    settings = {one.name: one for one in demo.file.cameras}[name]
    for framing in settings.framings:
        aim = aim_of(demo, name, framing.name)
        x, y, z = aim.here_m
        stands = aim.stands(np.array([x]), np.array([y]))
        view = Timeline(demo).framing_view(name, framing.name)
        made = aim.view(stands, 0)
        assert stands.reason[0] == 0
        assert stands.position_m[0, 2] == pytest.approx(z, abs=1e-6)
        assert made.pose.rotation == pytest.approx(view.pose.rotation, abs=1e-6)
        assert stands.rotation[0] == pytest.approx(view.pose.rotation, abs=1e-6)
        assert stands.pupil_m[0] == pytest.approx(view.pupil_m, abs=1e-6)
        assert (made.focal_length_mm, made.focus_m) == pytest.approx((view.focal_length_mm, view.focus_m))
        assert stands.projection_mm[0] == pytest.approx(view.projection_mm)


@pytest.mark.parametrize(
    "lens", [{}, {"breathing": 0.7}, {"breathing": 1.0, "entrance_pupil_offset_m": 0.12}]
)
def test_the_subject_keeps_its_size_in_the_picture(lens):
    """Closed form: size on the sensor is projection distance times size over distance from the pupil."""
    show = lensed(**lens)
    aim = aim_of(show, "CAM1", "one")
    rng = np.random.default_rng(5)
    stands = aim.stands(rng.uniform(-3, 3, 40), rng.uniform(-3, 2, 40))
    here = Timeline(show).framing_view("CAM1", "one")
    wanted = here.projection_mm / np.linalg.norm(np.array(aim.subject_m) - here.pupil_m)
    fine = np.flatnonzero(stands.reason == 0)
    assert len(fine) > 20
    for place in fine:
        view = aim.view(stands, place)
        assert view.projection_mm == pytest.approx(stands.projection_mm[place])
        away = np.linalg.norm(np.array(aim.subject_m) - view.pupil_m)
        assert view.projection_mm / away == pytest.approx(wanted)
        across = np.array(aim.subject_m) + np.outer([-0.1, 0.1], view.pose.rotation[:, 0])
        pixels, _ = view.project(across, SIZE)
        assert pixels.mean(axis=0) == pytest.approx([960, 540], abs=1e-6)
        assert np.linalg.norm(pixels[1] - pixels[0]) == pytest.approx(wanted * 0.2 / 9.6 * 1920)
        assert view.focus_m == pytest.approx(np.linalg.norm(np.array(aim.subject_m) - view.pose.position_m))


def test_focal_lengths_are_the_inverse_of_projection():
    for breathing in (0.0, 0.3, 1.0):
        focal = np.array([8.0, 40.0, 160.0])
        there = np.array([projection_mm(f, 2.5, breathing) for f in focal])
        assert focal_for(there, np.full(3, 2.5), breathing) == pytest.approx(focal)


def test_a_fixed_lens_and_focus_stay_as_written():
    aim = aim_of(lensed(), "CAM1", "one", zoom="fixed", focus="fixed")
    stands = aim.stands(np.array([0.0, 2.0]), np.array([-2.0, 1.0]))
    assert stands.focal_mm == pytest.approx([40.0, 40.0])
    assert stands.focus_m == pytest.approx([aim.placed.focus_m] * 2)
    assert not stands.reason.any()


def test_places_that_need_another_lens_or_a_nearer_focus_are_named():
    """40 mm at 4.01 m: a lens of 20 to 60 mm holds the size from 2.0 to 6.0 m."""
    show = lensed(focal_length_mm=(20.0, 60.0), minimum_focus_m=2.4)
    aim = aim_of(show, "CAM1", "one", height_m=1.2)
    away = np.array([1.9, 2.3, 2.5, 5.9, 6.1])
    stands = aim.stands(np.full(5, 0.3), 4.0 - away)
    assert stands.reason.tolist() == [LENS_RANGE, NEAREST_FOCUS, 0, 0, LENS_RANGE]
    assert stands.focal_mm[2:4] == pytest.approx(40.0 * away[2:4] / np.linalg.norm([0.3, 4.0, 0.3]))


def test_heights_outside_the_mounts_are_named():
    show = with_camera(lensed(), "CAM1", mount=Mount(kind="pedestal", height_range_m=(1.0, 1.8)))
    for height, reason in ((0.9, HEIGHT), (1.0, 0), (1.8, 0), (1.9, HEIGHT)):
        aim = aim_of(show, "CAM1", "one", height_m=height)
        assert aim.stands(np.array([0.0]), np.array([0.0])).reason.tolist() == [reason]


def test_a_jib_reaches_where_its_arm_puts_it_and_nowhere_else():
    mount = Mount(
        kind="jib", pivot_m=(1.0, -6.0, 1.5), arm_m=4.0, head_offset_m=(0.1, 0.3, -0.2),
        boom_range_deg=(-15.0, 40.0),
    )  # fmt: skip
    rng = np.random.default_rng(2)
    swing, boom = rng.uniform(-180, 180, 200), rng.uniform(-14.9, 39.9, 200)
    placed = np.array([jib_position_m(mount, s, b) for s, b in zip(swing, boom, strict=True)])
    for x, y, z in placed:
        assert jib_heights_m(mount, np.array([x]), np.array([y]), z)[0] == pytest.approx(z, abs=1e-6)
    away = np.hypot(4.0 * np.cos(np.radians(40.0)) + 0.3, 0.1)
    outside = [1.0 + away - 0.01, 1.0 + np.hypot(4.3, 0.1) + 0.01, 1.0]
    assert np.isnan(jib_heights_m(mount, np.array(outside), np.full(3, -6.0), 1.5)).all()
    inside = [1.0 + away + 0.01, 1.0 + np.hypot(4.3, 0.1) - 0.01]
    assert np.isfinite(jib_heights_m(mount, np.array(inside), np.full(2, -6.0), 1.5)).all()


def test_of_an_arms_two_heights_the_one_nearest_to_the_framings_is_taken(demo):
    high, low = (aim_of(demo, "jib", name) for name in ("Wide", "Low wide left"))
    x, y, _ = high.here_m
    raised = high.stands(np.array([x]), np.array([y]))
    lowered = low.stands(np.array([x]), np.array([y]))
    assert raised.position_m[0, 2] > 1.5 > lowered.position_m[0, 2]
    assert high.stands(np.array([9.0]), np.array([0.0])).reason.tolist() == [ARM]


def test_sightlines_through_a_distorting_zoom_are_the_views(demo):
    """1e-5 of unit distance is a hundredth of a picture pixel at the widest angle here."""
    aim = aim_of(demo, "jib", "Wide", zoom="fixed")
    rng = np.random.default_rng(4)
    stands = aim.stands(rng.uniform(-4, 4, 400), rng.uniform(-8, -5, 400))
    stands = stands.take(np.flatnonzero(stands.reason == 0))
    focal = rng.uniform(8.0, 128.0, len(stands.focal_mm))
    stands = stands._replace(focal_mm=focal, projection_mm=focal)
    picture = picture_grid(8, 6)
    lens = LensGrid(aim.camera, picture, stands.projection_mm)
    assert not lens.folds(stands.projection_mm).any()
    made = lens.tangents(stands.projection_mm)
    for place in range(0, len(focal), 17):
        view = replace(aim.view(stands, place), projection_mm=float(focal[place]))
        rays, valid = view.sightlines((picture + 0.5) * SIZE, SIZE)
        local = rays @ view.pose.rotation
        assert valid.all()
        right = np.column_stack([local[:, 0], -local[:, 2]]) / local[:, 1:2]
        assert made[place] == pytest.approx(right, abs=1e-5)


def test_a_lens_whose_distortion_folds_over_is_named():
    """x (1 + k1 r^2) turns back where 1 + 3 k1 r^2 = 0; with k1 = -0.8 the corner of a wide picture is past
    that."""
    aim = aim_of(lensed(k1=-0.8), "CAM1", "one")
    lens = LensGrid(aim.camera, picture_grid(8, 6), np.array([4.0, 40.0]))
    assert lens.folds(np.array([4.0, 40.0])).tolist() == [True, False]
    assert FOLDS not in aim.stands(np.array([0.0]), np.array([0.0])).reason
