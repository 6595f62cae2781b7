"""Areas and shares of frustums on the wall against GEOS, through shapely, and against dense sampling.

Source: GEOS polygon intersection and area (package shapely). Corners of a frustum on a flat wall by closed
form: the corner sightline from the pupil p along d meets the plane y = D at p + d (D - p_y) / d_y.
"""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

pytest.importorskip("shapely", reason="install the test extra: shapely")
from shapely.geometry import Polygon, box

from preview.camera.pose import Pose
from preview.camera.view import CameraView
from preview.checks.frustums import Frustums
from preview.checks.overlap import WallFacets, footprint, overlaps
from preview.checks.seen_wall import reaches
from preview.raster.request import SceneImage
from preview.raster.sight import SightRaster
from preview.stage.mesh import SceneMesh
from preview.timeline.moment import CameraMoment
from preview.wall.layer import inner_image
from tests.twin.stages import faceted_wall, led_floor

SIZE = (1920, 1080)
WALL_Y, WIDE, HIGH = 5.0, 12.0, 6.0
FLAT = faceted_wall(columns=4, joint_deg=0.0, distance_m=WALL_Y, tile_m=(WIDE / 4, HIGH), bottom_m=-1.0)
WHOLE = box(-WIDE / 2, -1.0, WIDE / 2, HIGH - 1.0)


def view(at=(0.0, 0.0, 1.5), pan=0.0, tilt=0.0, roll=0.0, focal=10.0):
    return CameraView(Pose(at, pan, tilt, roll), (9.6, 5.4), focal)


def random_view(random):
    return view(
        at=tuple(random.uniform((-4, -3, 0.5), (4, 1, 3))), pan=random.uniform(-35, 35),
        tilt=random.uniform(-20, 20), roll=random.uniform(-10, 10), focal=random.uniform(6, 30),
    )  # fmt: skip


def corner_rays(image):
    """(4, 3) sightlines of the image's corners, in turn round it."""
    view = image.view
    wide, high = np.divide(view.sensor_mm, 2 * view.projection_mm) * np.divide(image.drawn_size(SIZE), SIZE)
    corners = np.array([(-wide, 1, high), (wide, 1, high), (wide, 1, -high), (-wide, 1, -high)])
    return corners @ view.pose.rotation.T


def on_flat_wall(image):
    """The image's outline on the flat wall, (x, z) metres, when all of it lands in front; or None."""
    rays, pupil = corner_rays(image), image.view.pupil_m
    if (rays[:, 1] <= 0.05).any():
        return None
    points = pupil + rays * ((WALL_Y - pupil[1]) / rays[:, 1])[:, None]
    return Polygon(points[:, [0, 2]])


def by_half_planes(image):
    """The same for any image: the wall cut by half planes in which GEOS knows nothing of a frustum."""
    rays, pupil = corner_rays(image), image.view.pupil_m
    middle = rays.mean(axis=0)
    shape = WHOLE
    for one, other in zip(rays, np.roll(rays, -1, axis=0), strict=True):
        normal = np.cross(one, other)
        normal *= np.sign(normal @ middle)
        flat = normal[[0, 2]]  # on y = D: flat . (x, z) >= level
        level = -(normal[1] * (WALL_Y - pupil[1])) + normal[[0, 2]] @ pupil[[0, 2]]
        foot, along = flat * level / (flat @ flat), np.array([-flat[1], flat[0]])
        far = 1e3 / np.linalg.norm(flat)
        corners = [foot + along * far, foot - along * far]
        shape = shape.intersection(Polygon([*corners, *(c + flat * far for c in reversed(corners))]))
    return shape


def measured(*images):
    facets = WallFacets([FLAT])
    prints = [footprint(facets, image, SIZE) for image in images]
    return [one.areas_m2[0] for one in prints], overlaps(facets, [(prints[0], prints[1])])[0, 0]


def test_overlap_of_random_cameras_on_a_flat_wall():
    random = np.random.default_rng(7)
    met = 0
    for _ in range(150):
        images = [SceneImage(random_view(random), random.uniform(0, 0.1)) for _ in range(2)]
        shapes = [on_flat_wall(image) for image in images]
        if None in shapes:
            continue
        shapes = [shape & WHOLE for shape in shapes]
        own, shared = measured(*images)
        assert own == pytest.approx([shape.area for shape in shapes], abs=1e-9)
        assert shared == pytest.approx((shapes[0] & shapes[1]).area, abs=1e-9)
        met += shared > 0.01
    assert met > 40


@pytest.mark.parametrize("pan, tilt", [(80.0, 0.0), (-75.0, 10.0), (90.0, 0.0), (20.0, 65.0), (180.0, 0.0)])
def test_a_frustum_of_which_part_never_meets_the_wall(pan, tilt):
    """Some corner sightlines run away from the wall, or all: nothing behind the camera may be counted."""
    turned, straight = SceneImage(view((0, 0, 0.5), pan, tilt, focal=5.0)), SceneImage(view(focal=4.0), 0.05)
    assert (corner_rays(turned)[:, 1] < 0).any()
    own, shared = measured(turned, straight)
    shape = by_half_planes(turned) if pan != 180.0 else Polygon()
    assert own[0] == pytest.approx(shape.area, abs=1e-9)
    assert own[1] == pytest.approx((on_flat_wall(straight) & WHOLE).area, abs=1e-9)
    assert shared == pytest.approx((shape & on_flat_wall(straight)).area, abs=1e-9)
    assert (own[0] > 0.3) == (pan != 180.0)


def test_a_curved_wall_and_a_floor_against_dense_sampling():
    """Every facet sampled alike: the share of samples inside both images is the share of its area."""
    wall = faceted_wall(columns=11, joint_deg=11.0, distance_m=5.0, tile_m=(0.8, 4.0), lean=0.1)
    surfaces = [wall, led_floor(8.0, 6.0)]
    facets = WallFacets(surfaces)
    random = np.random.default_rng(3)
    steps = (np.arange(300) + 0.5) / 300
    u, v = (line.ravel() for line in np.meshgrid(steps, steps))
    over = u + v > 1.0
    weights = np.column_stack(
        [np.where(over, 1 - u, u), np.where(over, 1 - v, v)]
    )  # folded into the triangle
    for _ in range(6):
        images = [SceneImage(random_view(random), 0.05) for _ in range(2)]
        prints = [footprint(facets, image, SIZE) for image in images]
        shared = overlaps(facets, [(prints[0], prints[1])])[0]
        counted = np.zeros((3, 2))
        for corners, surface in zip(facets.corners, facets.surface, strict=True):
            edges = corners[1:] - corners[0]
            area = np.linalg.norm(np.cross(*edges)) / 2
            inside = [reaches(image, corners[0] + weights @ edges, SIZE) for image in images]
            counted[:, surface] += [area * mask.mean() for mask in (*inside, inside[0] & inside[1])]
        measured = [prints[0].areas_m2, prints[1].areas_m2, shared]
        np.testing.assert_allclose(measured, counted, atol=0.03)


def test_the_share_of_a_picture_inside_another_frustum():
    """Source's outline, put on the wall and looked at by the viewer, is a polygon in its picture: the share
    counted on sightlines is its area, to one row of sightlines along its border."""
    random = np.random.default_rng(11)
    grid = (192, 108)
    with SightRaster([FLAT], SceneMesh(()), size_px=grid) as sights:
        compared = 0
        while compared < 12:
            cameras = [
                CameraMoment(name, n, one, one, 0.05, "any")
                for n, name in enumerate(("A", "B"))
                for one in [random_view(random)]
            ]
            outline = on_flat_wall(inner_image(cameras[1]))
            if outline is None or on_flat_wall(inner_image(cameras[0])) is None:
                continue
            seen = outline & WHOLE
            if seen.area < 0.1:
                continue
            moment = SimpleNamespace(
                cameras=cameras, wall_camera="A", camera={c.name: c for c in cameras}.get
            )
            file = SimpleNamespace(cameras=cameras, show=SimpleNamespace(picture_size_px=SIZE))
            plan = SimpleNamespace(
                stage=SimpleNamespace(surfaces=[FLAT]), show=SimpleNamespace(file=file), sights=sights
            )
            scene = Frustums(plan)
            scene.arrange(
                SimpleNamespace(moment=moment, bare=lambda n, m=moment: sights.look(m.camera(n).view))
            )
            x, z = np.array(seen.exterior.coords).T
            pixels, ahead = cameras[0].view.project(np.column_stack([x, np.full_like(x, WALL_Y), z]), grid)
            if not ahead.all():
                continue
            exact = Polygon(pixels) & box(0, 0, *grid)
            counted = scene.share(scene.inside[0][1])
            slack = max(exact.length, 4.0) / (grid[0] * grid[1])
            assert counted == pytest.approx(exact.area / (grid[0] * grid[1]), abs=slack)
            compared += exact.area > 0
