"""LED pixels on the sensor against projection point by point, and what the check says of a whip show."""

from __future__ import annotations

from dataclasses import replace
from math import isnan

import numpy as np
import pytest

from preview.camera.focus import blur_disc_mm
from preview.camera.lens import view_through
from preview.camera.pose import Pose
from preview.checks.look import Look
from preview.checks.structure import (
    StructureCheck,
    blur_mm,
    focus_from_pupil_mm,
    periods_mm,
    photosite_mm,
    structures,
)
from preview.checks.walk import open_plan, walk
from preview.raster.sight import SightRaster
from preview.show.model import Lens, Sensor, Surface
from preview.show.thresholds import StructureLimits
from preview.stage.build import build_surface
from preview.stage.mesh import SceneMesh
from preview.suggest.mend import changed_plan
from tests.checks.shows import changed, whip_show

HD = Sensor(size_mm=(9.5873, 5.3929), photosites=(1920, 1080))
FLAT = build_surface(
    Surface(
        name="Wall", tile_size_mm=(520, 520), pixel_pitch_mm=2.6, columns=40, rows=30, position_m=(0, 0, -7)
    )
)


@pytest.fixture(scope="module")
def flat():
    with SightRaster([FLAT], SceneMesh(())) as raster:
        yield raster


@pytest.fixture(scope="module")
def plan():
    with open_plan(whip_show()) as made:
        yield made


@pytest.mark.parametrize(
    "distance_m, photosites",
    [(5, 2.0911), (8, 1.3050), (10, 1.0435), (12, 0.8693), (20, 0.5212)],
)
def test_an_led_pixel_on_the_sensor_of_a_thin_lens_focused_on_the_wall(flat, distance_m, photosites):
    """p f / (Z - f) over the photosite, worked apart from this project: 2.6 mm, f = 20 mm, 1920 photosites
    on 9.5873 mm."""
    lens = Lens(focal_length_mm=(20, 20), breathing=1.0, minimum_focus_m=0.1)
    view = view_through(HD, lens, Pose((0.0, -float(distance_m), 0.0)), 20.0, float(distance_m))
    sight = flat.look(view)
    found = periods_mm(sight, HD.size_mm) / (9.5873 / 1920)
    assert found[sight.lit] == pytest.approx(photosites, rel=2e-4)
    assert sight.lit.mean() > 0.9


def test_every_lens_and_angle_agrees_with_projection(flat):
    """The lattice of LED pixels projected pixel by pixel; a period is one over the length of the gradient."""
    lens = Lens(focal_length_mm=(8, 8), k1=-0.12, k2=0.01, entrance_pupil_offset_m=0.1)
    view = view_through(
        HD, lens, Pose((-4.0, -5.0, 1.0), pan_deg=-35.0, tilt_deg=-8.0, roll_deg=3.0), 8.0, 4.0
    )
    sight = flat.look(view)
    found = periods_mm(sight, HD.size_mm)
    height, width = found.shape
    rows, columns = (at.ravel() for at in np.meshgrid(range(5, height - 5, 14), range(5, width - 5, 17)))
    inside = sight.lit[rows, columns] & np.isfinite(found[rows, columns])
    rows, columns = rows[inside], columns[inside]
    assert len(rows) > 50
    canvas = sight.canvas[rows, columns].astype(np.float64)
    steps = []
    for step in ((0.5, 0.0), (0.0, 0.5)):
        ends = [FLAT.canvas_to_stage(canvas + sign * np.array(step))[0] for sign in (1, -1)]
        far, near = (view.project(end, HD.photosites)[0] for end in ends)
        steps.append(far - near)
    per_pixel = np.stack(steps, axis=-1)  # (n, xy, uv): photosites a step of one LED pixel
    gradient = np.linalg.inv(per_pixel)  # rows: how u and v change a photosite
    wanted = 1.0 / np.linalg.norm(gradient, axis=2).min(axis=1)
    assert found[rows, columns] * 1920 / 9.5873 == pytest.approx(wanted, rel=0.01)


def test_blur_is_of_the_distance_along_the_axis_from_the_entrance_pupil(flat):
    lens = Lens(focal_length_mm=(40, 40), entrance_pupil_offset_m=0.25)
    view = view_through(HD, lens, Pose((0.0, -9.0, 0.0)), 40.0, 6.25)
    assert focus_from_pupil_mm(view) == pytest.approx(6000.0)
    sight = flat.look(view)
    wanted = float(blur_disc_mm(40, 4.0, 6000.0, 8750.0))
    assert blur_mm(sight, 4.0)[sight.lit] == pytest.approx(wanted, rel=1e-6)


def test_whichever_is_not_wall_has_no_period(flat):
    lens = Lens(focal_length_mm=(8, 8))
    sight = flat.look(view_through(HD, lens, Pose((0.0, -30.0, 0.0)), 8.0, 20.0))
    period = periods_mm(sight, HD.size_mm)
    assert 0.1 < sight.lit.mean() < 0.9
    assert np.isnan(period[~sight.lit]).all()
    assert np.isfinite(period[sight.lit]).all()


def test_blur_takes_the_structure_away_and_so_does_distance(flat):
    limits = StructureLimits()
    camera = whip_show().file.cameras[0].model_copy(update={"sensor": HD, "t_stop": 2.8})
    lens = Lens(focal_length_mm=(20, 60), t_stop=2.8)
    told = {}
    for name, focal, focus in (("sharp", 40.0, 8.0), ("soft", 40.0, 3.0), ("wide", 12.0, 8.0)):
        view = view_through(HD, lens, Pose((0.0, -8.0, 0.0)), focal, focus)
        (told[name],) = structures(flat.look(view), camera, [FLAT], limits)
    assert told["sharp"].share == 1.0
    assert told["sharp"].worst_blur_pitches < 0.05
    assert told["sharp"].where == "the whole picture"
    assert told["soft"].share == 0.0
    assert told["soft"].blur_pitches > limits.blur_pitches
    assert isnan(told["soft"].worst_pitch_photosites)
    assert told["wide"].share == 0.0
    assert told["wide"].pitch_photosites[1] < 1.0
    assert told["sharp"].nearest_m == pytest.approx(8.0, abs=1e-3)


def test_one_finding_a_shot_camera_and_surface(plan):
    """CAM2 of the whip show is focused at 5 m, about 7.5 m before a 2.5 mm wall, at 16 mm and T2.8."""
    check = StructureCheck(plan)
    walk(plan, [check])
    found = check.result()
    (wall,) = [f for f in found.findings if f.grade != "fine" and f.cameras == ("CAM2",)]
    assert wall.shot == "Whip pan"
    assert wall.measures["surface"] == "Wall"
    assert wall.frames[0] >= 25, "and the mix out of it belongs to it"
    assert wall.grade == "compromise", "farther away than 2.5 m"
    assert "CAM2 sees Wall" in wall.sentence
    measures = wall.measures
    view = plan.timeline.at(int(measures["worst_frame"])).camera("CAM2").view
    straight_on = 2.5 * view.projection_mm / 7.5 / 1000 / photosite_mm(plan.camera("CAM2"))
    assert 0.8 * straight_on < measures["worst_pitch_photosites"] < 1.3 * straight_on
    assert measures["worst_blur_pitches"] < 1.22
    look = Look(plan, int(measures["worst_frame"]))
    (mark,) = check.marks(look, wall)
    assert 100 * mark.mask.mean() == pytest.approx(measures["structure_picture_percent"], abs=1e-3)
    (curve,) = check.curves()
    assert len(curve.frames) == 100
    assert np.isfinite(curve.values["CAM2"]).sum() >= 50
    assert {row["surface"] for row in check.tables()["structure"]} >= {"Wall"}


def test_nearer_than_common_practice_is_a_fault_only_where_structure_shows(plan):
    """One metre a millimetre of pitch: with 4 m asked for each, the wall is too near; blurred away, it is
    told and no fault."""
    strict = plan.show.file.checks.model_copy(
        update={"structure": StructureLimits(distance_m_per_mm=4.0, pitch_photosites=0.5)}
    )
    file = plan.show.file.model_copy(update={"checks": strict})
    near = replace(plan.show, file=file)
    check = StructureCheck(changed_plan(plan, near, (40,)))
    check.see(Look(check.plan, 40))
    assert {f.grade for f in check.result().findings} >= {"fault"}
    assert any("common practice keeps 10.0 m" in f.sentence for f in check.result().faults)
    framings = tuple(f.model_copy(update={"focus_m": 0.7}) for f in near.file.cameras[1].framings)
    lens = near.file.cameras[1].lens.model_copy(update={"t_stop": 1.4})
    soft = changed(near, {"CAM2": {"framings": framings, "lens": lens}})
    check = StructureCheck(changed_plan(plan, soft, (40,)))
    check.see(Look(check.plan, 40))
    wall = [f for f in check.result().findings if "Wall" in f.sentence]
    assert {f.grade for f in wall} == {"fine"}
    assert "nearer than common practice keeps" in wall[0].sentence
