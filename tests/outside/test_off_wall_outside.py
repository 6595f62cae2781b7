"""How much of a picture is past the wall, against Embree's rays and against areas of polygons by Shapely.

Sources: Intel Embree (package embreex) as wrapped by trimesh; GEOS through Shapely.
"""

from __future__ import annotations

import numpy as np
import pytest
import shapely
import trimesh
from trimesh.ray.ray_pyembree import RayMeshIntersector

from preview.camera.distortion import Distortion
from preview.camera.pose import Pose
from preview.camera.view import CameraView
from preview.checks.past_wall import LedRays, past_wall
from preview.raster.sight import SightRaster
from preview.stage.mesh import SceneMesh
from tests.twin.stages import faceted_wall, led_floor

SURFACES = (faceted_wall(columns=9, joint_deg=12.0), led_floor())
VIEWS = {
    "wide": CameraView(Pose((0.3, -3.0, 1.7), 4.0, -3.0, 2.0), (9.6, 5.4), 5.0),
    "low at the floor's end": CameraView(Pose((-2.0, -1.5, 0.4), -20.0, -4.0), (9.6, 5.4), 9.0),
    "barrel": CameraView(
        Pose((0.3, -3.0, 1.7), 4.0, -3.0), (9.6, 5.4), 6.0, distortion=Distortion(k1=-0.09, k2=0.02)
    ),
    "from behind": CameraView(Pose((7.5, 6.0, 2.0), 110.0, -2.0), (9.6, 5.4), 6.0),
}


@pytest.fixture(scope="module")
def sights():
    with SightRaster(SURFACES, SceneMesh(())) as made:
        yield made


def embree_lit(pupil_m, rays):
    """Which rays meet the lit side of a surface first."""
    meshes = [trimesh.Trimesh(s.positions, s.triangles, process=False) for s in SURFACES]
    whole = trimesh.util.concatenate(meshes)
    triangle = RayMeshIntersector(whole).intersects_first(np.tile(pupil_m, (len(rays), 1)), rays)
    facing = np.einsum("nx,nx->n", np.concatenate([s.normals for s in SURFACES])[triangle], rays) < 0.0
    return (triangle >= 0) & facing


def rays_of(view, size):
    x, y = np.meshgrid(np.arange(size[0]) + 0.5, np.arange(size[1]) + 0.5)
    return view.sightlines(np.column_stack([x.ravel(), y.ravel()]), size)[0]


@pytest.mark.parametrize("name", VIEWS)
def test_rays_end_on_the_lit_side_where_embree_says(name):
    view = VIEWS[name]
    rays = rays_of(view, (320, 180))
    ours, theirs = LedRays(SURFACES).lit(view.pupil_m, rays), embree_lit(view.pupil_m, rays)
    assert 0.005 < theirs.mean() < 0.98
    assert (ours != theirs).mean() < 2e-4, "single precision judges a hair's breadth either way"


@pytest.mark.parametrize("name", VIEWS)
def test_the_share_is_that_of_many_more_rays(sights, name):
    view = VIEWS[name]
    found = past_wall(sights.look(view), LedRays(SURFACES))
    fine = ~embree_lit(view.pupil_m, rays_of(view, (960, 540)))
    assert found.share == pytest.approx(fine.mean(), abs=0.004)
    picture = fine.reshape(540, 960)
    # A strip along a whole side ends on its neighbours: rows and columns without any wall are its own.
    rows, columns = ~picture.all(axis=1), ~picture.all(axis=0)
    along = {
        "left": (picture[:, 0] & rows).mean(),
        "right": (picture[:, -1] & rows).mean(),
        "top": (picture[0] & columns).mean(),
        "bottom": (picture[-1] & columns).mean(),
    }
    long = max(along.values())
    sure = {edge for edge, share in along.items() if share > 0.12 * long}
    assert sure <= set(found.edges) <= {edge for edge, share in along.items() if share > 0.08 * long}


def picture_polygon(view, corners):
    """A facet in front of a pinhole, as it lies in its picture of 1 x 1."""
    places, in_front = view.project(corners, (1, 1))
    assert in_front.all()
    return shapely.Polygon(places)


@pytest.mark.parametrize("pan_deg", [0.0, 8.0, 8.6, 9.0, 9.4, 14.0, -8.9])
def test_strips_thinner_than_a_field_have_the_polygon_s_area(sights, pan_deg):
    """A flat wall of 4 x 12 m, 5 m away, slides out of the picture as the camera pans."""
    flat = (faceted_wall(columns=4, joint_deg=0.0, distance_m=5.0, tile_m=(1.0, 12.0), bottom_m=-6.0),)
    view = CameraView(Pose((0.0, 0.0, 0.0), pan_deg), (9.6, 5.4), 19.0)
    facets = flat[0].positions[flat[0].triangles]
    wall = shapely.union_all([picture_polygon(view, corners) for corners in facets])
    past = shapely.box(0, 0, 1, 1).difference(wall.buffer(1e-12)).area
    with SightRaster(flat, SceneMesh(())) as raster:
        found = past_wall(raster.look(view), LedRays(flat))
    assert (found.share > 0.0) == (past > 1e-9)
    assert found.share == pytest.approx(past, abs=0.5 / 192)
    if past > 1e-9:
        side = "left" if pan_deg > 0 else "right"
        assert found.edges == (side,) if past < 0.05 else side in found.edges
        columns = np.flatnonzero(found.mask.any(axis=0))
        assert columns.min() == 0 if pan_deg > 0 else columns.max() == 191


@pytest.mark.parametrize("gap_mm", [2.0, 6.0, 15.0])
def test_a_gap_between_two_walls_is_found_and_measured(gap_mm):
    """Two walls side by side 5 m away; through a lens that sees 5 m of them across: a gap of 2 mm is 0.04 %
    of the picture's width, a thirteenth of a field."""
    made = faceted_wall(columns=2, joint_deg=0.0, distance_m=5.0, tile_m=(4.0, 12.0), bottom_m=-6.0)
    half = np.array([gap_mm / 2000.0, 0.0, 0.0])
    right = made.positions[:, 0].reshape(2, -1).mean(axis=1).repeat(len(made.positions) // 2) > 0
    moved = trimesh.Trimesh(
        made.positions + np.where(right[:, None], half, -half), made.triangles, process=False
    )
    walls = (type(made)(**{**vars_of(made), "positions": np.asarray(moved.vertices)}),)
    view = CameraView(Pose((0.004, 0.0, 0.0)), (9.6, 5.4), 9.6)
    with SightRaster(walls, SceneMesh(())) as raster:
        found = past_wall(raster.look(view), LedRays(walls))
    assert found.edges in ((), ("top", "bottom")), "as thin as that it may slip through the border too"
    assert found.share == pytest.approx(gap_mm / 5000.0, rel=0.7)
    assert set(np.flatnonzero(found.mask.any(axis=0))) <= {95, 96}


def vars_of(surface):
    return {name: getattr(surface, name) for name in surface.__dataclass_fields__}
