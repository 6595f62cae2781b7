"""The oracle against the outside: before anything is compared with it, it has to be right itself."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh

from preview.camera.distortion import Distortion
from preview.camera.pose import Pose
from preview.camera.view import CameraView
from preview.raster.request import Layer, SceneImage
from tests.twin import oracle
from tests.twin.room import PaintedRoom
from tests.twin.stages import EYE_POINT_M, box_solid, faceted_wall, led_floor

SIZE = (96, 54)
ROOM = PaintedRoom()
NO_DISTORTION = Distortion()


def outer(directions):
    return ROOM.light_from(np.asarray(EYE_POINT_M), directions)


def stage(**options) -> oracle.OracleStage:
    surfaces = (faceted_wall(), led_floor())
    return oracle.OracleStage(surfaces, (10.0, 10.0), EYE_POINT_M, **options)


def view(x=1.2, y=-3.0, z=1.9, *, distortion=NO_DISTORTION, pan=None) -> CameraView:
    pose = Pose.looking_at((x, y, z), (0.2, 4.0, 1.6), 3.0)
    if pan is not None:
        pose = Pose((x, y, z), pan)
    return CameraView(pose, (9.6, 5.4), 8.0, 0.1, distortion)


def test_sightlines_meet_what_embree_meets():
    """Source: Intel Embree through trimesh, an independent ray caster (float32, so 10 micrometres)."""
    surfaces, camera = stage().surfaces, view()
    seen = oracle.sightlines(camera, SIZE, stage())
    mesh = trimesh.util.concatenate(
        [trimesh.Trimesh(surface.positions, surface.triangles, process=False) for surface in surfaces]
    )
    x, y = np.meshgrid(np.arange(SIZE[0]) + 0.5, np.arange(SIZE[1]) + 0.5)
    directions, _ = camera.sightlines(np.column_stack([x.ravel(), y.ravel()]), SIZE)
    origins = np.tile(camera.pupil_m, (len(directions), 1))
    points, rays, faces = mesh.ray.intersects_location(origins, directions, multiple_hits=False)
    met = np.isfinite(seen.distance_m)
    assert 0.2 < met.mean() < 1.0
    assert (np.isin(np.arange(len(met)), rays) != met).sum() <= 2  # a ray may graze an outer edge
    both = met[rays]
    np.testing.assert_allclose(seen.point_m[rays[both]], points[both], atol=1e-5)
    floor = faces[both] >= len(surfaces[0].triangles)
    assert (seen.surface[rays[both]] == floor).mean() > 0.999


def test_sightlines_agree_with_the_surfaces_own_intersection():
    surfaces, camera = stage().surfaces, view()
    seen = oracle.sightlines(camera, SIZE, stage())
    x, y = np.meshgrid(np.arange(SIZE[0]) + 0.5, np.arange(SIZE[1]) + 0.5)
    directions, _ = camera.sightlines(np.column_stack([x.ravel(), y.ravel()]), SIZE)
    for index, surface in enumerate(surfaces):
        hits = surface.intersect(camera.pupil_m, directions)
        here = seen.surface == index
        assert here.any()
        np.testing.assert_allclose(hits.canvas[here], seen.canvas[here], atol=1e-6)
        np.testing.assert_allclose(hits.distance_m[here], seen.distance_m[here], atol=1e-9)


def test_behind_the_wall_there_is_no_wall_light():
    """A camera behind the wall sees its back: off the wall, and it hides the floor beyond."""
    behind = view(0.0, 8.0, 1.6, pan=180.0)
    seen = oracle.sightlines(behind, SIZE, stage())
    middle = SIZE[1] // 2 * SIZE[0] + SIZE[0] // 2
    assert seen.surface[middle] == -1 and np.isclose(seen.distance_m[middle], 3.9, atol=1e-3)


@pytest.mark.parametrize(
    "distortion", [Distortion(), Distortion(k1=-0.08, p1=0.002)], ids=["plain", "barrel"]
)
def test_own_layer_is_the_virtual_scene_seen_straight(distortion):
    """What the operator must see: where the wall is, the virtual scene as if the wall were a window."""
    camera = view(distortion=distortion)
    image = SceneImage(camera, margin=0.1)
    images = {image: ROOM.image(image, (640, 360))}
    picture, labels = oracle.composite(camera, SIZE, stage(), (Layer(image),), images, outer)
    on_wall = labels > 0
    assert on_wall.mean() > 0.5
    error = np.abs(picture - ROOM.picture(camera, SIZE))[on_wall]
    # Bilinear sampling of a picture nearly seven times finer; creases of the paint cost a little more.
    assert np.percentile(error, 99) < 0.01 and error.max() < 0.05
    without, _ = oracle.composite(camera, SIZE, stage(), (), images, outer)
    assert np.abs(without - ROOM.picture(camera, SIZE))[on_wall].mean() > 0.1


def test_empty_stack_from_the_eye_point_is_the_virtual_scene_seen_straight():
    pose = Pose.looking_at(EYE_POINT_M, (0.5, 4.0, 1.8))
    camera = CameraView(pose, (9.6, 5.4), 8.0)
    picture, labels = oracle.composite(camera, SIZE, stage(), (), {}, outer)
    on_wall = labels > 0
    assert on_wall.mean() > 0.5
    np.testing.assert_allclose(picture[on_wall], ROOM.picture(camera, SIZE)[on_wall], atol=1e-9)


def test_edge_line_has_its_width_on_the_wall():
    """A camera square to a flat wall at 5 m with a 90 degree picture: its border stands 5 m out."""
    flat = faceted_wall(columns=1, tile_m=(30.0, 30.0), joint_deg=0.0, distance_m=5.0, bottom_m=-15.0)
    camera = CameraView(Pose((0.0, 0.0, 0.0)), (10.0, 10.0), 5.0)
    points = np.array([[4.5, 5.0, 0.0], [-4.9, 5.0, 1.0], [0.0, 5.0, 4.98], [1.0, 5.0, -4.7]])
    distance = oracle.edge_distance_m(SceneImage(camera), points, np.tile([0.0, -1.0, 0.0], (4, 1)))
    np.testing.assert_allclose(distance, [0.5, 0.1, 0.02, 0.3], atol=1e-12)
    # Turned 45 degrees, one border runs straight ahead along +Y: on the wall it is the line X = 0.
    turned = CameraView(Pose((0.0, 0.0, 0.0), pan_deg=-45.0), (10.0, 10.0), 5.0)
    distance = oracle.edge_distance_m(
        SceneImage(turned), np.array([[0.3, 5.0, 0.0]]), np.array([[0.0, -1.0, 0.0]])
    )
    np.testing.assert_allclose(distance, [0.3], atol=1e-12)
    image = SceneImage(camera)
    wide = CameraView(Pose((0.0, 0.0, 0.0)), (16.0, 9.0), 5.0)
    lined = Layer(image, edge_rgb=(1.0, 0.0, 0.0), edge_width_m=0.5)
    picture, _ = oracle.composite(
        wide,
        (320, 180),
        oracle.OracleStage((flat,), (9.0,), (0.0, 0.0, 0.0)),
        (lined,),
        {image: np.zeros((8, 8, 3))},
        np.zeros_like,
    )
    # 20 px a metre: the border stands 100 px either side of the middle, the line fills 10 px inside it.
    assert np.flatnonzero(picture[90, :, 0]).tolist() == [*range(60, 70), *range(250, 260)]


def test_light_is_clipped_to_what_the_surface_can_give_and_the_set_hides_the_wall():
    dim_stage = oracle.OracleStage(
        stage().surfaces, (0.5, 10.0), EYE_POINT_M, (box_solid((1, 0.4, 2.0), (0, 2, 1.5), (2.0, 0.1, 0.3)),)
    )
    picture, labels = oracle.composite(
        view(), SIZE, dim_stage, (), {}, lambda directions: np.full(directions.shape, 0.8)
    )
    np.testing.assert_array_equal(np.unique(picture[(labels > 0) & (labels < 1900)]), [0.5])
    np.testing.assert_array_equal(np.unique(picture[labels >= 1900]), [0.8])
    assert (labels == -10).any() and (picture[labels == -10] == (2.0, 0.1, 0.3)).all()


def test_room_as_triangles_is_the_room_as_a_function():
    """The mesh handed to the renderer and the closed form agree, by Embree and barycentric weights."""
    part = ROOM.mesh().parts[0]
    mesh = trimesh.Trimesh(part.positions, part.triangles, process=False)
    random = np.random.default_rng(5)
    directions = random.normal(size=(500, 3))
    directions /= np.linalg.norm(directions, axis=1, keepdims=True)
    origin = np.array([1.0, -2.0, 1.5])
    points, rays, faces = mesh.ray.intersects_location(
        np.tile(origin, (500, 1)), directions, multiple_hits=False
    )
    assert len(rays) == 500
    weights = trimesh.triangles.points_to_barycentric(mesh.triangles[faces], points)
    colors = np.einsum("kc,kcx->kx", weights, part.colors[:, :3][part.triangles[faces]])
    np.testing.assert_allclose(colors, ROOM.light_from(origin, directions[rays]), atol=2e-5)
    inward = np.einsum("kx,kx->k", mesh.face_normals[faces], directions[rays])
    assert (inward < 0).all()


def test_unrolled_wall_is_what_a_camera_square_to_it_sees():
    flat = faceted_wall(
        columns=1, tile_m=(4.0, 2.25), joint_deg=0.0, distance_m=4.0, bottom_m=0.6, px_per_m=24
    )
    tight = CameraView(Pose.looking_at((1.2, -3.0, 1.9), (0.2, 4.0, 1.6), 3.0), (9.6, 5.4), 24.0)
    image = SceneImage(tight)
    images = {image: ROOM.image(image, (96, 54))}
    stack = (Layer(image, dim=0.7, edge_rgb=(0.0, 1.0, 0.0), edge_width_m=0.08),)
    one = oracle.OracleStage((flat,), (10.0,), EYE_POINT_M)
    canvas = oracle.unrolled(flat, one, stack, images, outer)
    square = CameraView(Pose((0.0, 0.0, 0.6 + 2.25 / 2)), (8.0, 4.5), 8.0)
    picture, labels = oracle.composite(square, flat.canvas_px, one, stack, images, outer)
    assert {999, 1000, 998} == set(np.unique(labels))
    np.testing.assert_allclose(canvas, picture, atol=1e-9)
