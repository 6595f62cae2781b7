"""Sights against exact rays, the raster's sightlines, and Embree where things stand in front."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pytest
import trimesh

pytest.importorskip("embreex", reason="install the test extra: embreex")
from trimesh.ray.ray_pyembree import RayMeshIntersector

from preview.camera.distortion import Distortion
from preview.camera.pose import Pose
from preview.camera.view import CameraView
from preview.picture.display import Display
from preview.raster.raster import Raster
from preview.raster.sight import KEPT_VIEWS, Sight, SightRaster
from preview.stage.mesh import Material, MeshPart, SceneMesh, Sky
from tests.twin.stages import faceted_wall, led_floor

SIZE = (192, 108)
WALL, FLOOR = faceted_wall(columns=9, joint_deg=12.0), led_floor()
BARREL = Distortion(k1=-0.09, k2=0.02, p1=0.001, p2=-0.0015)
VIEWS = {
    "whole wall and past it": CameraView(Pose((0.3, -3.0, 1.7), 4.0, -3.0, 2.0), (9.6, 5.4), 6.0),
    "along the floor": CameraView(Pose((-2.0, -1.5, 0.4), -20.0, -4.0), (9.6, 5.4), 9.0),
    "bent lens": CameraView(Pose((0.3, -3.0, 1.7), 4.0, -3.0), (9.6, 5.4), 6.0, 0.1, BARREL),
    "from outside": CameraView(Pose((7.5, 6.0, 2.0), 110.0, -2.0), (9.6, 5.4), 6.0),
}


@dataclass(frozen=True)
class Crate:
    """A box on the studio floor that moves."""

    x: float
    y: float
    z: float
    size_m: float = 0.5
    name: str = "hand camera"
    kind: str = "camera"
    camera: str = "hand"

    def solid(self) -> trimesh.Trimesh:
        box = trimesh.creation.box((self.size_m,) * 3)
        box.apply_translation((self.x, self.y, self.z))
        return box

    def mesh(self):
        box = self.solid()
        return np.asarray(box.vertices), np.asarray(box.faces, dtype=np.int32)


def part(name: str, mesh: trimesh.Trimesh, alpha_mode: str = "opaque") -> MeshPart:
    return MeshPart(
        name=name,
        positions=mesh.vertices.astype(np.float32),
        normals=mesh.vertex_normals.astype(np.float32),
        uv0=None,
        uv1=None,
        colors=None,
        triangles=mesh.faces.astype(np.int32),
        material=Material(base_color=(0.5, 0.5, 0.5, 0.4), unlit=True, alpha_mode=alpha_mode),
    )


def ball(at, radius=0.5):
    mesh = trimesh.creation.icosphere(3, radius)
    mesh.apply_translation(at)
    return mesh


THINGS = {"Desk": Crate(0.5, 1.5, 0.45, 0.9).solid(), "Anna": ball((-1.2, 2.0, 1.3))}
SET = SceneMesh(
    (
        part("Desk", THINGS["Desk"]),
        part("Anna", THINGS["Anna"]),
        part("Gauze", Crate(0.0, 0.5, 1.5, 2.0).solid(), "blend"),
    )
)


@pytest.fixture(scope="module")
def sights():
    with SightRaster((WALL, FLOOR), SET, ["Anna"], SIZE) as made:
        yield made


@pytest.fixture(scope="module")
def raster():
    sky = SceneMesh((), (), Sky((0.1, 0.2, 0.5)))
    size, headroom = np.zeros(3), [1.0, 1.0]
    with Raster((WALL, FLOOR), headroom, SET, sky, size, Display(), SIZE, samples=1) as drawn:
        yield drawn


def rays_of(view):
    width, height = SIZE
    x, y = np.meshgrid(np.arange(width) + 0.5, np.arange(height) + 0.5)
    directions, _ = view.sightlines(np.column_stack([x.ravel(), y.ravel()]), SIZE)
    return directions.reshape(height, width, 3)


def met_exactly(view):
    """surface, canvas, distance, facing and triangle of every field, by the surfaces' own rays."""
    rays = rays_of(view).reshape(-1, 3)
    surface = np.full(len(rays), -1)
    distance, facing = np.full(len(rays), np.inf), np.zeros(len(rays))
    canvas, facet = np.zeros((len(rays), 2)), np.full(len(rays), -1)
    for number, led in enumerate((WALL, FLOOR)):
        hits = led.intersect(view.pupil_m, rays)
        nearer = hits.distance_m < distance
        distance[nearer] = hits.distance_m[nearer]
        surface[nearer] = np.where(hits.front[nearer], number, -2)
        canvas[nearer], facet[nearer] = hits.canvas[nearer], hits.triangle[nearer]
        facing[nearer] = -np.einsum("nx,nx->n", led.normals[hits.triangle[nearer]], rays[nearer])
    shape = SIZE[1], SIZE[0]
    return (
        surface.reshape(shape),
        canvas.reshape(*shape, 2),
        distance.reshape(shape),
        facing.reshape(shape),
        facet.reshape(shape),
    )


@pytest.mark.parametrize("name", VIEWS)
def test_every_field_meets_what_its_exact_ray_meets(sights, name):
    view = VIEWS[name]
    sight = sights.look(view)
    surface, canvas, distance, facing, facet = met_exactly(view)
    same = sight.surface == surface
    # Through a bent lens a field is picked from a finer undistorted picture: outlines may be off by half
    # of one of its pixels.
    assert (~same).mean() < (0.01 if view.distortion else 0.0005)
    assert len(np.unique(surface)) >= 3, "the view shows both surfaces and something else"
    lit = same & (surface >= 0)
    np.testing.assert_allclose(
        sight.distance_m[lit], distance[lit], rtol=1e-6 if not view.distortion else 2e-3
    )
    np.testing.assert_allclose(sight.canvas[lit], canvas[lit], atol=0.01 if not view.distortion else 2.0)
    one = lit & (sight.facet == facet)
    assert one.sum() > 0.97 * lit.sum()
    np.testing.assert_allclose(sight.facing[one], facing[one], atol=1e-6)
    ends = view.pupil_m + rays_of(view) * distance[..., None]
    np.testing.assert_allclose(sight.points[one], ends[one], atol=1e-6)
    none = sight.surface < 0
    assert np.isnan(sight.points[none]).all() and not sight.facing[none].any()
    assert (sight.facet[none] == -1).all() and np.isinf(sight.distance_m[sight.surface == -1]).all()
    back = same & (surface == -2)
    np.testing.assert_allclose(
        sight.distance_m[back], distance[back], rtol=1e-3 if not view.distortion else 0.02
    )


@pytest.mark.parametrize("name", VIEWS)
def test_it_agrees_with_the_sightlines_of_the_raster(sights, raster, name):
    """Up to outlines and joints, where the raster decides by the first of its samples in a pixel, which
    does not lie in the pixel's middle."""
    sight, lines = sights.look(VIEWS[name]), raster.sightlines(VIEWS[name])
    same = np.maximum(sight.surface, -1) == lines.surface
    assert same.mean() > 0.988
    both = same & (lines.surface >= 0)
    bent = name == "bent lens"
    turned = np.abs(sight.facing[both] - lines.facing[both]) > (1e-3 if bent else 1e-5)
    assert turned.mean() < 0.01
    apart = np.abs(sight.canvas[both] - lines.canvas[both]).max(axis=1)
    assert np.quantile(apart, 0.99) < (1.0 if bent else 0.02)
    assert np.abs(sight.distance_m[both] / lines.distance_m[both] - 1.0).max() < 0.01


def embree(meshes, view):
    """Which of the meshes each field meets first, and how far: -1 and inf for none."""
    rays = rays_of(view).reshape(-1, 3)
    whole = trimesh.util.concatenate(meshes)
    owner = np.repeat(np.arange(len(meshes)), [len(mesh.faces) for mesh in meshes])
    origins = np.tile(view.pupil_m, (len(rays), 1))
    points, ray, triangle = RayMeshIntersector(whole).intersects_location(origins, rays, multiple_hits=False)
    thing, distance = np.full(len(rays), -1), np.full(len(rays), np.inf)
    thing[ray], distance[ray] = owner[triangle], np.linalg.norm(points - view.pupil_m, axis=1)
    shape = SIZE[1], SIZE[0]
    return thing.reshape(shape), distance.reshape(shape)


@pytest.mark.parametrize("name", VIEWS)
def test_things_in_front_stand_where_embree_says(sights, name):
    view = VIEWS[name]
    crates = Crate(1.4, 0.2, 1.4), Crate(1.6, 2.4, 0.3, camera="jib"), Crate(0.5, 6.2, 1.6, 3.0)
    sight = sights.look(view, crates)
    thing, distance = embree([*THINGS.values(), *(crate.solid() for crate in crates)], view)
    thing[distance >= met_exactly(view)[2]] = -1  # behind an LED surface, lit side or back
    seen = [np.flatnonzero(np.array([t.name for t in sight.things]) == name) for name in THINGS]
    assert [len(places) for places in seen] == [1, 1] and "Gauze" not in {t.name for t in sight.things}
    named = np.array([sight.things[at].name if at >= 0 else "" for at in sight.thing.ravel()])
    numbers = {name: at for at, name in enumerate(THINGS)}
    theirs = np.array(
        [list(numbers)[at] if 0 <= at < 2 else "hand camera" if at >= 0 else "" for at in thing.flat]
    )
    agree = (named == theirs).reshape(thing.shape)
    assert agree.mean() > (0.985 if view.distortion else 0.998)
    met = agree & (thing >= 0)
    assert met.any()
    off = np.abs(sight.thing_m[met] - distance[met]) / distance[met]
    assert np.quantile(off, 0.98) < (0.03 if view.distortion else 1e-3)
    assert np.isinf(sight.thing_m[sight.thing < 0]).all()


def test_people_set_and_whose_equipment_are_told_apart(sights):
    view = VIEWS["whole wall and past it"]
    sight = sights.look(view, (Crate(1.4, 0.2, 1.4),))
    kinds = {thing.name: (thing.kind, thing.camera) for thing in sight.things}
    assert kinds == {"Desk": ("set", ""), "Anna": ("person", ""), "hand camera": ("camera", "hand")}
    everything = sight.of_kind("set", "person", "camera")
    np.testing.assert_array_equal(everything, sight.thing >= 0)
    assert sight.of_kind("camera").any() and not sight.of_kind("arm").any()
    parts = sight.wall_seen.astype(int) + sight.off_wall + everything
    assert (parts == 1).all(), "each field ends on one of the three"


def test_a_solid_in_front_takes_the_field_and_one_behind_does_not(sights):
    view = replace(VIEWS["whole wall and past it"], pose=Pose((0.0, -3.0, 1.6)))
    middle = SIZE[1] // 2, SIZE[0] // 2
    bare = sights.look(view)
    before = sights.look(view, (Crate(0.0, 1.0, 1.6),))
    behind = sights.look(view, (Crate(0.0, 6.0, 1.6),))
    assert bare.thing[middle] == -1 and behind.thing[middle] == -1 and behind.wall_seen[middle]
    assert before.things[before.thing[middle]].name == "hand camera"
    assert before.thing_m[middle] == pytest.approx(1.0 - 0.25 + 3.0, abs=0.01)
    # The wall behind it is still told, and nothing of the bare sight has changed.
    np.testing.assert_array_equal(before.canvas, bare.canvas)
    np.testing.assert_array_equal(before.surface, bare.surface)
    assert (bare.thing == sights.look(view).thing).all()


def test_a_box_face_on_covers_what_its_size_and_distance_say(sights):
    """A face of 0.5 m, 3.75 m away, through a lens that sees 1.6 m across a metre away: plane geometry."""
    view = replace(VIEWS["whole wall and past it"], pose=Pose((0.0, -3.0, 1.6)))
    sight = sights.look(view, (Crate(0.0, 1.0, 1.6),))
    across, down = sight.of_kind("camera").any(axis=0).sum(), sight.of_kind("camera").any(axis=1).sum()
    assert across == pytest.approx(0.5 / 3.75 / 1.6 * SIZE[0], abs=1.0)
    assert down == pytest.approx(0.5 / 3.75 / 0.9 * SIZE[1], abs=1.0)


def test_views_are_kept_and_moved_solids_are_drawn_again(sights):
    view = VIEWS["along the floor"]
    near, aside = Crate(-0.2, 1.5, 0.5), Crate(0.2, 1.5, 0.5)
    first = sights.look(view, (near,))
    drawn = sights.drawn
    assert sights.look(replace(view), (Crate(-0.2, 1.5, 0.5),)) is first and sights.drawn == drawn
    moved = sights.look(view, (aside,))
    assert sights.drawn == drawn + 1 and (moved.thing != first.thing).any()
    out = Crate(-2.0, -9.0, 0.5)  # behind the camera: the bare sight itself
    assert sights.look(view, (out,)) is sights.look(view)


def test_what_it_keeps_is_bounded_and_drawn_alike_again(sights):
    view = VIEWS["along the floor"]
    first: Sight = sights.look(view)
    for number in range(KEPT_VIEWS + 1):
        sights.look(replace(view, projection_mm=10.0 + number))
    again = sights.look(view)
    assert again is not first
    for name in ("surface", "canvas", "thing", "distance_m", "facet"):
        np.testing.assert_array_equal(getattr(again, name), getattr(first, name))


def test_a_stage_without_set():
    with SightRaster((WALL,), SceneMesh(()), (), (32, 18)) as bare:
        sight = bare.look(VIEWS["whole wall and past it"])
        assert sight.things == () and (sight.thing == -1).all() and sight.lit.any() and sight.off_wall.any()
        assert sight.surface.shape == (18, 32) and sight.points.shape == (18, 32, 3)
