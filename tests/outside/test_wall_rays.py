"""Rays onto LED surfaces against Embree, through trimesh.

Source: Intel Embree (package embreex), as wrapped by trimesh's ``ray_pyembree``. Embree answers in
single precision; trimesh then meets the ray with the hit triangle's plane in double precision, so
points agree far below Embree's own error.
"""

from __future__ import annotations

import numpy as np
import pytest
import trimesh

pytest.importorskip("embreex", reason="install the test extra: embreex")
from trimesh.ray.ray_pyembree import RayMeshIntersector

from preview.show.model import Surface
from preview.stage.surface import build_surface

TILES = {"tile_size_mm": (500, 500), "pixel_pitch_mm": 2.5}
STAGES = {
    "flat": Surface(name="flat", columns=10, rows=6, position_m=(0.4, 5, 0.1), yaw_deg=12, **TILES),
    "curved": Surface(name="curved", columns=21, rows=7, radius_m=4.2, position_m=(0, 4.2, 0), **TILES),
    "past half a circle": Surface(
        name="deep", columns=26, rows=7, joint_angle_deg=9, position_m=(0, 3, 0), yaw_deg=-20, **TILES
    ),
    "bent outwards": Surface(
        name="out", columns=6, rows=6, joint_angle_deg=(-20, 10, -30, 25, 5), position_m=(0, 5, 0), **TILES
    ),
    "floor": Surface(name="floor", kind="floor", columns=12, rows=8, position_m=(0, -1, 0), **TILES),
    "ceiling": Surface(
        name="ceiling", kind="ceiling", columns=12, rows=8, position_m=(0, 6, 5), tilt_deg=-70, **TILES
    ),
}


@pytest.mark.parametrize("name", STAGES)
def test_rays_meet_the_wall_where_embree_says(name):
    surface = build_surface(STAGES[name])
    mesh = trimesh.Trimesh(surface.positions, surface.triangles, process=False)
    random = np.random.default_rng(list(STAGES).index(name))
    origins = np.tile([0.2, -1.0, 1.6], (4000, 1)) + random.normal(scale=0.5, size=(4000, 3))
    targets = surface.canvas_to_stage(random.random((4000, 2)) * surface.canvas_px)[0]
    targets[3000:] = random.uniform(-6, 6, size=(1000, 3))  # many of these miss
    directions = targets - origins

    points, rays, triangles = RayMeshIntersector(mesh).intersects_location(
        origins, directions, multiple_hits=False
    )
    hits = surface.intersect(origins, directions)
    theirs = np.zeros(len(origins), dtype=bool)
    theirs[rays] = True
    # Rays within a hair of an outer edge may be judged either way in single precision.
    assert np.count_nonzero(theirs != (hits.triangle >= 0)) <= 4
    both = (hits.triangle >= 0)[rays]
    points, rays, triangles = points[both], rays[both], triangles[both]
    assert len(rays) > 2500

    unit = directions[rays] / np.linalg.norm(directions[rays], axis=1, keepdims=True)
    same = hits.triangle[rays] == triangles  # a ray on a shared edge may be given to either triangle
    assert same.mean() > 0.995
    ours = origins[rays] + hits.distance_m[rays][:, None] * unit
    assert np.abs(ours - points)[same].max() < 1e-6

    weights = trimesh.triangles.points_to_barycentric(surface.positions[surface.triangles[triangles]], points)
    canvas = np.einsum("kc,kcx->kx", weights, surface.canvas[surface.triangles[triangles]])
    assert np.abs(hits.canvas[rays] - canvas)[same].max() < 1e-3
    facing = np.einsum("ij,ij->i", mesh.face_normals[triangles], directions[rays]) < 0
    np.testing.assert_array_equal(hits.front[rays][same], facing[same])
