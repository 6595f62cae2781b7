"""Maps of pictures against the checks' own sights of cameras that really stand there, and closed forms."""

from dataclasses import fields, replace

import numpy as np
import pytest

from preview.checks.frustums import Frustums
from preview.checks.look import Look
from preview.checks.seen_moire import seen_moire
from preview.checks.structure import (
    LEAST_SHARE,
    blur_mm,
    periods_mm,
    photosite_mm,
    stop_of,
    structures,
)
from preview.checks.viewing_angle import _level
from preview.checks.walk import open_plan
from preview.floor.aim import Aim, LensGrid
from preview.floor.options import FloorOptions
from preview.floor.pictures import THIN, Pictures, picture_grid
from preview.floor.polygons import Polygons
from preview.floor.risk import Risk
from preview.optics.lattice import Facets, picture_tangents, view_crossing
from preview.raster.sight import Sight
from preview.show.load import load_show
from preview.show.model import Framing
from preview.show.thresholds import Checks, StructureLimits
from preview.stage.build import build_stage
from preview.timeline.timeline import Timeline
from preview.wall.layer import inner_image
from tests.checks.flat_stage import WALL, camera, flat_show
from tests.floor.places import standing_at

GRID = (32, 18)


def bare(show):
    """The show without set and people, which hide nothing from a floor map."""
    stage = show.file.stage.model_copy(update={"set": (), "people": (), "equipment": False})
    return replace(show, file=show.file.model_copy(update={"stage": stage}))


def pictures_of(show, aim, stands, others=()):
    surfaces = build_stage(show).surfaces
    size = show.file.show.picture_size_px
    planes = np.array([inner_image(one).border_planes(size) for one in others]).reshape(-1, 4, 4)
    lens = LensGrid(aim.camera, picture_grid(*aim.options.sightlines), stands.projection_mm)
    risk = Risk(aim.camera, surfaces, size)
    return Pictures(aim, Polygons.of(surfaces), risk, show.file.checks, planes, lens).take(stands)


@pytest.mark.parametrize(
    ("name", "framing"),
    [("left", "MS guest"), ("jib", "Wide"), ("hand", "Low floor shot"), ("hand", "Standby")],
)
def test_every_number_is_what_the_checks_find_from_there(name, framing):
    show = bare(load_show("assets/glasshouse/show.toml"))
    aim = Aim.of(show.file, name, framing, FloorOptions(sightlines=GRID))
    rng = np.random.default_rng(8)
    if name == "jib":
        turn, reach = rng.uniform(-1, 1, 14), rng.uniform(3.5, 4.6, 14)
        x, y = reach * np.sin(turn), -9.6 + reach * np.cos(turn)
    else:
        x, y = rng.uniform(-5.5, 5.5, 14), rng.uniform(-8.0, 0.0, 14)
    stands = aim.stands(x, y)
    stands = stands.take(np.flatnonzero(stands.reason == 0))
    assert len(stands.focal_mm) >= 8
    moment = Timeline(show).at(0)
    others = [one for one in moment.cameras if one.name != name]
    found = pictures_of(show, aim, stands, others)
    limits = show.file.checks.structure
    off_seen = 0
    for place in range(len(stands.focal_mm)):
        there = standing_at(show, aim, stands, place) if name != "jib" else show
        with open_plan(there, size_px=GRID) as plan:
            view = aim.view(stands, place)
            if name != "jib":
                assert plan.timeline.framing_view(name, framing).pose.rotation == pytest.approx(
                    view.pose.rotation, abs=1e-9
                )
            sight = exact_sight(view, plan.stage.surfaces, GRID)
            fields_off = 100 * float(sight.off_wall.mean())
            off_seen += fields_off > 0
            # The border adds no more than a quarter of each of the 100 fields along it.
            assert fields_off - 1e-3 <= found.off[place] <= fields_off + 100 * THIN * 100 / 576
            surfaces = plan.stage.surfaces
            walls = [(n, s) for n, s in enumerate(surfaces) if s.kind == "wall"]
            level = [_level(sight, sight.surface == n, s) for n, s in walls]
            facing = [sight.facing[sight.surface == n] for n, _ in walls]
            if all(len(part) for part in level):
                assert found.loss[place] == pytest.approx(100 * (1 - np.concatenate(level).min()), abs=0.01)
                angle = np.degrees(np.arccos(np.concatenate(facing).min()))
                assert found.angle[place] == pytest.approx(angle, abs=0.02)
            period, blur = periods_mm(sight, (9.6, 5.4)), blur_mm(sight, stop_of(aim.camera))
            with np.errstate(invalid="ignore"):
                through = sight.lit & (period >= limits.pitch_photosites * photosite_mm(aim.camera))
                through &= blur < limits.blur_pitches * period
            exact = resolved(sight, aim, surfaces, limits)
            # One field of 576: a sightline on the very limit may fall to either side.
            assert found.structure[place] == pytest.approx(100 * exact.mean(), abs=0.2)
            # The check's slopes are differences over the grid, rougher beside edges and joints.
            assert found.structure[place] == pytest.approx(100 * through.mean(), abs=3.0)
            moire = seen_moire(sight, aim.camera, surfaces, there.file.show.picture_size_px)
            assert found.worst[place] == pytest.approx(moire.risk.max(), abs=2e-3)
            assert found.mean[place] == pytest.approx(moire.risk[moire.seen].mean(), abs=1e-3)
            counts = moire.risk >= show.file.checks.moire.risk
            assert found.moire[place] == pytest.approx(100 * counts.mean(), abs=0.2)
            assert found.overlap[place] == pytest.approx(overlap(there, plan, sight, others), abs=0.2)
    if name == "hand" and framing == "Low floor shot":
        assert off_seen >= 2


def exact_sight(view, surfaces, grid):
    """A sight by the exact ray test: the graphics side picks facets on a grid as coarse as its own."""
    width, height = grid
    x, y = np.meshgrid(np.arange(width) + 0.5, np.arange(height) + 0.5)
    rays, _ = view.sightlines(np.column_stack([x.ravel(), y.ravel()]), grid)
    count = len(rays)
    distance, facing = np.full(count, np.inf), np.zeros(count)
    number, facet, canvas = np.full(count, -1), np.full(count, -1), np.zeros((count, 2))
    for place, surface in enumerate(surfaces):
        hits = surface.intersect(view.pupil_m, rays)
        nearer = hits.distance_m < distance
        distance = np.where(nearer, hits.distance_m, distance)
        lit = nearer & hits.front
        number = np.where(nearer, np.where(hits.front, place, -2), number)
        facet[nearer], canvas[nearer] = hits.triangle[nearer], hits.canvas[nearer]
        facing[lit] = -np.einsum("nx,nx->n", surface.normals[hits.triangle[lit]], rays[lit])
    points = np.where(
        (number >= 0)[:, None], view.pupil_m + rays * np.where(number >= 0, distance, 0)[:, None], np.nan
    )
    shape = height, width
    return Sight(
        view, number.reshape(shape).astype(np.int16), canvas.reshape(*shape, 2).astype(np.float32),
        points.reshape(*shape, 3), distance.reshape(shape).astype(np.float32),
        facing.reshape(shape).astype(np.float32), np.full(shape, -1, np.int16),
        np.full(shape, np.inf, np.float32), (), facet.reshape(shape).astype(np.int32),
    )  # fmt: skip


def resolved(sight, aim, surfaces, limits):
    """Where structure comes through, by slopes in closed form and in double precision at each sightline."""
    facets = Facets.of(surfaces)
    number = facets.numbers(sight.surface, sight.facet)
    photosites = aim.camera.sensor.photosites
    ux, uy, vx, vy = view_crossing(
        sight.view, facets, number, picture_tangents(sight.view, GRID), photosites
    ).gradients
    per_mm = np.divide(photosites, aim.camera.sensor.size_mm)
    finest = np.minimum(np.hypot(ux * per_mm[0], uy * per_mm[1]), np.hypot(vx * per_mm[0], vy * per_mm[1]))
    with np.errstate(divide="ignore", invalid="ignore"):
        coarse = 1 / finest >= limits.pitch_photosites * photosite_mm(aim.camera)
        return sight.lit & coarse & (blur_mm(sight, stop_of(aim.camera)) * finest < limits.blur_pitches)


@pytest.mark.parametrize(("name", "framing"), [("left", "MS guest"), ("hand", "Low floor shot")])
def test_places_pass_and_fail_as_at_the_checks_own_resolution(name, framing):
    """192 x 108 sightlines against 32 x 18: where they disagree it is about two fields at most."""
    show = load_show("assets/glasshouse/show.toml")
    aim = Aim.of(show.file, name, framing, FloorOptions(sightlines=GRID))
    rng = np.random.default_rng(21)
    stands = aim.stands(rng.uniform(-5.5, 5.5, 120), rng.uniform(-9.0, 1.0, 120))
    stands = stands.take(np.flatnonzero(stands.reason == 0)[:24])
    assert len(stands.focal_mm) == 24
    found = pictures_of(show, aim, stands)
    checks, size, field = show.file.checks, show.file.show.picture_size_px, 100 / 576
    most, failing = checks.moire.picture_percent, set()
    with open_plan(show) as plan:
        surfaces = plan.stage.surfaces
        for place in range(24):
            sight = plan.sights.look(aim.view(stands, place))
            sight = replace(sight, thing=np.full_like(sight.thing, -1))
            moire = seen_moire(sight, aim.camera, surfaces, size)
            parts = structures(sight, aim.camera, surfaces, checks.structure)
            for mine, exact, limit in (
                (found.off[place], 100 * float((~sight.lit).mean()), checks.off_wall.percent),
                (found.structure[place], 100 * sum(part.share for part in parts), 100 * LEAST_SHARE),
                (found.moire[place], 100 * (moire.risk >= checks.moire.risk).mean(), most),
            ):
                assert (mine > limit) == (exact > limit) or abs(mine - exact) <= 2 * field
                failing.add(bool(exact > limit))
            assert found.mean[place] == pytest.approx(moire.risk[moire.seen].mean(), abs=0.02)
            assert -0.02 <= moire.risk.max() - found.worst[place] <= 0.25
            walls = [sight.facing[sight.surface == n] for n, s in enumerate(surfaces) if s.kind == "wall"]
            least = np.concatenate(walls).min(initial=1.0)
            if least < 1.0:
                assert -0.05 <= np.degrees(np.arccos(least)) - found.angle[place] <= 3.0
    assert failing == {True, False}


def overlap(show, plan, sight, others):
    """Percent of a sight inside the others' frustums, by the bleed check's own planes."""
    scene = Frustums(plan)
    scene.arrange(Look(plan, 0))
    points = sight.points[sight.lit]
    inside = np.zeros(len(points), dtype=bool)
    for one in others:
        planes = scene.prints[scene.names.index(one.name)].planes
        inside |= (points @ planes[:, :3].T + planes[:, 3] >= -1e-9).all(axis=1)
    return 100 * inside.sum() / sight.lit.size


def flat(focal=20.0, checks=None, **keys):
    one = camera("CAM1", Framing(name="one", look_at=(0.0, 4.0, 1.5), focal_length_mm=focal, **keys))
    shot = {"name": "A", "on_air": "CAM1", "duration": 1}
    return flat_show([one], [shot], (WALL,), checks=checks)


def at(show, x, y, **options):
    options = {"sightlines": (64, 36), "zoom": "fixed", **options}
    aim = Aim.of(show.file, "CAM1", "one", FloorOptions(**options))
    return pictures_of(show, aim, aim.stands(np.asarray(x, float), np.asarray(y, float)))


def test_off_the_wall_straight_on_is_plane_geometry():
    """A wall of 4 x 3 m in the middle of a picture 9.6/20 d wide and 5.4/20 d high at distance d."""
    y = np.linspace(-16.0, -2.0, 29)
    found = at(flat(), np.zeros(29), y)
    d = 4.0 - y
    seen = np.minimum(1.0, 4.0 / (0.48 * d)) * np.minimum(1.0, 3.0 / (0.27 * d))
    assert found.off == pytest.approx(100 * (1 - seen), abs=2.5)
    assert (found.off[d < 8.2] == 0).all()
    assert (np.diff(found.off[::-1]) >= -1e-6).all(), "farther away it never shows less"


def test_a_strip_that_only_the_border_shows_is_not_missed():
    """At 8.4 m the picture is 4.032 m wide: 1.6 cm past a wall of 4 m, a quarter of a field, on each side."""
    found = at(flat(), [0.0, 0.0], [4.0 - 8.4, 4.0 - 8.3], sightlines=(64, 36))
    assert found.off[0] == pytest.approx(100 * THIN * 2 * 36 / (64 * 36))
    assert found.off[1] == 0.0


def test_the_viewing_angle_is_plane_geometry():
    """Seen from the side, the picture's far edge is farthest off straight on; its last sightline ends half a
    field short of it."""
    turn = np.radians([0.0, 20.0, 40.0, 55.0])
    found = at(flat(focal=60.0), 5.0 * np.sin(turn), 4.0 - 5.0 * np.cos(turn))
    x, y = (1 - 1 / 64) * 4.8 / 60.0, (1 - 1 / 36) * 2.7 / 60.0
    # A sightline (x, 1, y) turned by the angle: its part along the normal is cos t - x sin t.
    cosine = (np.cos(turn) - x * np.sin(turn)) / np.sqrt(1 + x * x + y * y)
    assert found.angle == pytest.approx(np.degrees(np.arccos(cosine)), abs=1e-3)


def test_luminance_is_lost_as_the_tiles_half_value_angle_says():
    """The starter's tiles: half at 80 degrees in the horizontal plane, cos^k with k = ln 0.5 / ln cos 80."""
    turn = np.radians(60.0)
    found = at(flat(focal=80.0, focus_m=8.0), [5.0 * np.sin(turn)], [4.0 - 5.0 * np.cos(turn)])
    angle = np.radians(found.angle[0])
    k = np.log(0.5) / np.log(np.cos(np.radians(80.0)))
    assert found.loss[0] == pytest.approx(100 * (1 - np.cos(angle) ** k), abs=0.6)


def test_structure_on_a_flat_wall_ends_where_a_pixel_is_a_photosite():
    """In focus and straight on an LED pixel of 2.5 mm covers 2.5 f / d mm of the sensor: one photosite (5 um)
    at d = 10 m with 20 mm."""
    y = 4.0 - np.array([9.7, 9.9, 10.1, 10.3])
    found = at(flat(), np.zeros(4), y, sightlines=(8, 4))
    assert (found.structure > 0).tolist() == [True, True, False, False]
    coarse = Checks(structure=StructureLimits(pitch_photosites=2.0))
    y = 4.0 - np.array([4.9, 5.1])
    assert (at(flat(checks=coarse), np.zeros(2), y, sightlines=(8, 4)).structure > 0).tolist() == [
        True,
        False,
    ]


def test_risk_is_gone_far_out_of_focus():
    blurred = at(flat(focus_m=0.35), np.zeros(3), [-1.0, -3.0, -5.0], focus="fixed")
    assert blurred.worst.max() == 0.0


def test_risk_comes_again_where_pitch_and_photosites_nearly_agree():
    """Straight on the lattice has d / 10 m cycles a photosite (5 um, pitch 2.5 mm, 20 mm). The picture has a
    third of the photosites: it shows neither lattice nor alias between 1/6 and 5/6 of a cycle."""
    cycles = np.array([0.1, 0.25, 0.5, 0.75, 0.9, 1.1])
    found = at(flat(), np.zeros(6), 4.0 - 10.0 * cycles, sightlines=(8, 4))
    assert (found.worst > 0.5).tolist() == [True, False, False, False, True, True]
    assert (found.worst[1:4] == 0.0).all()


def test_where_no_led_surface_is_seen_there_is_nothing_to_judge():
    show = flat()
    aim = Aim.of(show.file, "CAM1", "one", FloorOptions(zoom="fixed"))
    aim = replace(aim, subject_m=(0.0, 4.0, 40.0))
    found = pictures_of(show, aim, aim.stands(np.array([0.0]), np.array([-1.0])))
    assert found.off[0] == 100.0
    assert all(np.isnan(getattr(found, name)[0]) for name in ("loss", "angle", "worst", "mean"))
    assert found.structure[0] == found.moire[0] == found.overlap[0] == 0.0


def test_numbers_do_not_depend_on_how_places_are_cut_into_blocks():
    show = flat()
    x, y = np.meshgrid(np.linspace(-2, 2, 12), np.linspace(-6, 0, 12))
    whole = at(show, x.ravel(), y.ravel(), sightlines=(8, 6))
    for place in (0, 63, 64, 143):
        one = at(show, x.ravel()[place : place + 1], y.ravel()[place : place + 1], sightlines=(8, 6))
        for field in fields(whole):
            a, b = getattr(whole, field.name)[place], getattr(one, field.name)[0]
            assert a == pytest.approx(b, abs=1e-3, nan_ok=True), field.name
