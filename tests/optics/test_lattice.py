"""Gradients of canvas coordinates over the sensor against finite differences of the projection itself."""

import numpy as np
import pytest

from preview.camera.distortion import Distortion
from preview.optics.lattice import (
    Facets,
    crossing,
    harmonic_frequency,
    jacobians,
    photosites_per_unit,
    picture_tangents,
    view_crossing,
)
from tests.optics.flat_camera import PHOTOSITES, FlatPicture, view, wall

LENS = Distortion(-0.05, 0.02, 0.002, -0.001, 0.004)
PLACES = [
    ((0.5, -6.0, 1.4), (0.3, 0.0, 2.5), 12.0, 0.0, None, 0.0),
    ((-2.0, -4.0, 0.6), (0.8, 0.0, 3.1), 9.0, 12.0, LENS, 0.16),
    ((3.0, -9.0, 2.0), (-1.0, 0.0, 2.0), 40.0, -35.0, LENS, -0.05),
]


def met(surface, seen, count=60, seed=4):
    """Canvas points that a view shows, with their facets and undistorted sightlines."""
    rng = np.random.default_rng(seed)
    canvas = rng.uniform(0, 1, (4000, 2)) * surface.canvas_px
    stage, known = surface.canvas_to_stage(canvas)
    sensor, ahead = seen.project(stage, PHOTOSITES)
    inside = known & ahead & (sensor > 5).all(1) & (sensor < np.subtract(PHOTOSITES, 5)).all(1)
    canvas, stage = canvas[inside][:count], stage[inside][:count]
    assert len(canvas) > 20
    rays = stage - seen.pupil_m
    hits = surface.intersect(np.broadcast_to(seen.pupil_m, rays.shape), rays)
    local = rays @ seen.pose.rotation
    tangents = np.column_stack([local[:, 0], -local[:, 2]]) / local[:, 1:2]
    return canvas, hits.triangle, tangents, local[:, 1]


@pytest.mark.parametrize("joint_deg", [0.0, 4.2, -3.0])
@pytest.mark.parametrize("place", PLACES)
def test_jacobians_are_the_projections_finite_differences(place, joint_deg):
    """Perspective, facet, distortion and entrance pupil in it; u and v a hundredth of an LED pixel apart."""
    surface, seen = wall(joint_deg=joint_deg), view(*place)
    canvas, facet, tangents, ahead = met(surface, seen)
    found = view_crossing(seen, Facets.of([surface]), facet, tangents, PHOTOSITES)
    assert found.ahead_m == pytest.approx(ahead, rel=1e-9)
    inverse = jacobians(found.gradients)
    step = 0.01
    for axis in range(2):
        away = np.zeros(2)
        away[axis] = step
        ends = [surface.canvas_to_stage(canvas + sign * away)[0] for sign in (-1, 1)]
        before, after = (seen.project(end, PHOTOSITES)[0] for end in ends)
        inner = np.abs((canvas + 100) % 200 - 100).min(axis=1) > 1  # not across a joint
        slope = (after - before) / (2 * step)
        assert inner.sum() > 15
        assert inverse[inner, :, axis] == pytest.approx(slope[inner], rel=2e-5, abs=1e-7)


def test_harmonics_are_the_inverse_transpose_of_the_jacobian():
    surface, seen = wall(), view(*PLACES[1])
    _, facet, tangents, _ = met(surface, seen)
    gradients = view_crossing(seen, Facets.of([surface]), facet, tangents, PHOTOSITES).gradients
    by_hand = np.linalg.inv(jacobians(gradients)).transpose(0, 2, 1) @ np.array([2.0, -1.0])
    found = harmonic_frequency(gradients, 2, -1)
    assert pytest.approx(by_hand, rel=1e-9) == found.T


def test_many_cameras_at_once_are_each_of_them_alone():
    """Focal lengths of their own, on two surfaces, some sightlines past them, in both number types."""
    surfaces = [wall(joint_deg=4.2), wall(pitch_mm=3.9)]
    facets = Facets.of(surfaces)
    rng = np.random.default_rng(5)
    views = [
        view((x, -7.0, 1.5), (0.0, 0.0, 2.0), f, distortion=LENS) for x, f in ((-2, 9), (0, 20), (3, 14))
    ]
    tangents = np.stack([picture_tangents(v, (8, 5)).reshape(-1, 2) for v in views])
    number = rng.integers(-1, len(facets.rows), (3, 40))
    pupils = np.stack([v.pupil_m for v in views])
    turns = np.stack([v.pose.rotation for v in views])
    per_unit = np.array([photosites_per_unit(v, PHOTOSITES) for v in views])
    together = crossing(facets, number, tangents, pupils, turns, per_unit, LENS)
    fast = crossing(facets, number, tangents, pupils, turns, per_unit, LENS, dtype=np.float32)
    assert fast.gradients.dtype == np.float32
    for k, one in enumerate(views):
        alone = view_crossing(one, facets, number[k], tangents[k], PHOTOSITES)
        assert together.gradients[:, k] == pytest.approx(alone.gradients, rel=1e-12, nan_ok=True)
        assert together.ahead_m[k] == pytest.approx(alone.ahead_m, rel=1e-12, nan_ok=True)
    assert fast.gradients == pytest.approx(together.gradients, rel=2e-4, abs=2e-5, nan_ok=True)
    assert np.array_equal(np.isnan(together.ahead_m), number < 0)


def test_facets_are_counted_surface_after_surface():
    surfaces = [wall(columns=3), wall(columns=5)]
    facets = Facets.of(surfaces)
    assert facets.first == (0, len(surfaces[0].triangles))
    found = facets.numbers(np.array([[0, 1], [-1, -2]]), np.array([[2, 3], [0, 1]]))
    assert found.tolist() == [[2, facets.first[1] + 3], [-1, -1]]


@pytest.mark.parametrize("distortion", [None, LENS])
def test_tangents_of_a_picture_are_its_sightlines(distortion):
    seen = view((0.0, 0.0, 0.0), (0.0, 5.0, 0.0), 8.0, distortion=distortion)
    size = (160, 90)
    x, y = np.meshgrid(np.arange(160) + 0.5, np.arange(90) + 0.5)
    rays, valid = seen.sightlines(np.column_stack([x.ravel(), y.ravel()]), size)
    assert valid.all()
    found = picture_tangents(seen, size).reshape(-1, 2)
    assert found == pytest.approx(np.column_stack([rays[:, 0], -rays[:, 2]]) / rays[:, 1:2], abs=2e-6)


def test_tangents_say_where_a_lens_folds_over():
    """Strong pincushion turned round: corners have no sightline, the middle has."""
    found = picture_tangents(view((0, 0, 0), (0, 5, 0), 5.0, distortion=Distortion(-0.6)), (64, 36))
    assert np.isnan(found[0, 0]).all()
    assert np.isfinite(found[18, 32]).all()


def test_a_flat_wall_square_on_has_one_spacing():
    """Pitch p at distance Z: p f / Z on the sensor (a pinhole)."""
    picture = FlatPicture(view((0.0, -8.0, 3.0), (0.0, 0.0, 3.0), 20.0), wall(2.5))
    gradients, ahead = picture.crossing_at(np.array([[960.0, 540.0], [100.0, 900.0]]))
    spacing = 2.5 * 20.0 / 8000.0 / (9.5873 / 1920)
    assert ahead == pytest.approx([8.0, 8.0])
    assert gradients[0] == pytest.approx([1 / spacing] * 2, rel=1e-4)
    assert gradients[1:3] == pytest.approx(0.0, abs=1e-9)


def test_the_helpers_homography_is_the_projection():
    surface = wall()
    picture = FlatPicture(view((1.0, -6.0, 2.0), (0.0, 0.0, 3.0), 15.0, 8.0), surface)
    canvas = np.array([[2300.0, 1200.0], [2500.5, 1100.25]])
    sensor, _ = picture.view.project(surface.canvas_to_stage(canvas)[0], PHOTOSITES)
    assert np.column_stack(picture.canvas_at(*sensor.T)) == pytest.approx(canvas, abs=1e-3)
