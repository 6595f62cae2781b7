"""LED surfaces as polygons: what they are merged into, and what sightlines meet, by the exact ray test."""

import numpy as np
import pytest

from preview.camera.pose import Pose
from preview.floor.polygons import Polygons
from preview.show.load import load_show
from preview.show.model import Surface
from preview.stage.build import build_stage
from preview.stage.surface import LedSurface, build_surface
from tests.checks.flat_stage import FLOOR, TILES, WALL

CURVED = Surface(name="Curve", columns=14, rows=6, joint_angle_deg=9.0, position_m=(0.0, 4.0, 0.0), **TILES)
SIDE = Surface(name="Side", columns=4, rows=4, yaw_deg=70.0, position_m=(-2.0, 1.0, 0.0), **TILES)
TILTED = Surface(name="Tilted", columns=4, rows=3, tilt_deg=-25.0, position_m=(1.5, 2.0, 2.0), **TILES)


def wavy() -> LedSurface:
    """A surface drawn as a mesh: a wave of 2 x 40 triangles, each in its own plane."""
    u = np.linspace(0.0, 1.0, 21)
    lower = np.column_stack([4 * u - 2, 3 + 0.3 * np.sin(7 * u), 0.2 * np.cos(5 * u)])
    lean = np.column_stack([0 * u, 0.3 * np.sin(9 * u), 2.0 + 0 * u])
    positions = np.concatenate([lower, lower + lean])
    canvas = np.concatenate(
        [np.column_stack([1000 * u, np.full(21, 500.0)]), np.column_stack([1000 * u, 0 * u])]
    )
    first = np.arange(20)
    triangles = np.concatenate(
        [np.column_stack([first, first + 1, first + 22]), np.column_stack([first, first + 22, first + 21])]
    )
    return LedSurface(
        "Wave", "wall", (1000, 500), positions, canvas, triangles.astype(np.int32), 1000.0, 3840.0, 0.04, 2.0
    )  # fmt: skip


STAGES = {
    "flat": lambda: [build_surface(WALL)],
    "curved and floor": lambda: [build_surface(CURVED), build_surface(FLOOR)],
    "one before the other": lambda: [build_surface(s) for s in (CURVED, SIDE, TILTED, FLOOR)],
    "mesh": lambda: [wavy(), build_surface(FLOOR)],
    "demo": lambda: build_stage(load_show("assets/glasshouse/show.toml")).surfaces,
}


def test_columns_in_one_plane_become_one_polygon():
    flat = Polygons.of([build_surface(WALL), build_surface(FLOOR)])
    assert flat.corners_m.shape == (2, 4, 3)
    assert flat.surface.tolist() == [0, 1]
    assert flat.wall.tolist() == [True, False]
    curved = Polygons.of([build_surface(CURVED)])
    assert curved.corners_m.shape == (14, 4, 3)
    assert len(Polygons.of([wavy()]).corners_m) == 40
    for polygons in (flat, curved):
        spokes = polygons.corners_m[:, 1:] - polygons.corners_m[:, :1]
        normal = np.cross(spokes[:, 0], spokes[:, 1])
        assert (np.einsum("mx,mx->m", normal, polygons.facets.rows[:, 6:]) > 0).all(), (
            "not seen from the front"
        )


@pytest.mark.parametrize("name", STAGES)
def test_sightlines_meet_what_the_exact_ray_test_says(name):
    surfaces = STAGES[name]()
    polygons = Polygons.of(surfaces)
    rng = np.random.default_rng(11)
    width, height = 14, 9
    y, x = np.meshgrid(
        (np.arange(height) + 0.5) / height - 0.5, (np.arange(width) + 0.5) / width - 0.5, indexing="ij"
    )
    pupils, turns, tangents = [], [], []
    for _ in range(40):
        pupil = rng.uniform([-3, -5, 0.3], [3, 5, 3.5])
        pose = Pose(tuple(pupil), rng.uniform(-180, 180), rng.uniform(-50, 50), rng.uniform(-20, 20))
        wide = rng.uniform(0.1, 1.4)
        pupils.append(pupil)
        turns.append(pose.rotation)
        tangents.append(np.column_stack([x.ravel() * wide, y.ravel() * wide * 0.6]))
    met = polygons.meet(
        np.array(pupils), np.array(turns), np.array(tangents, dtype=np.float32), (width, height)
    )
    wrong = total = hits = 0
    for place, (pupil, turn, plane) in enumerate(zip(pupils, turns, tangents, strict=True)):
        plane = plane.astype(np.float32).astype(np.float64)
        rays = np.column_stack([plane[:, 0], np.ones(len(plane)), -plane[:, 1]]) @ turn.T
        least, surface, front = np.full(len(rays), np.inf), np.full(len(rays), -1), np.zeros(len(rays), bool)
        for number, one in enumerate(surfaces):
            found = one.intersect(pupil, rays)
            nearer = found.distance_m < least
            least = np.where(nearer, found.distance_m, least)
            surface, front = np.where(nearer, number, surface), np.where(nearer, found.front, front)
        polygon = met.polygon[place]
        mine = np.where(polygon >= 0, polygons.surface[polygon], -1)
        wrong += int(((mine != surface) | (met.front[place] != front)).sum())
        total, hits = total + len(rays), hits + int((surface >= 0).sum())
        plane_of = polygons.facets.rows[polygon, 6:], polygons.facets.offsets[polygon]
        unit = rays / np.linalg.norm(rays, axis=1, keepdims=True)
        with np.errstate(divide="ignore", invalid="ignore"):
            away = -(plane_of[0] @ pupil + plane_of[1]) / np.einsum("nx,nx->n", plane_of[0], unit)
        same = (mine == surface) & (surface >= 0)
        assert away[same] == pytest.approx(least[same], rel=1e-4)
    assert hits > 0.1 * total
    assert wrong <= 2, "only a sightline within 1e-5 of an edge may differ"


def test_the_back_of_a_wall_hides_the_front_of_another():
    surfaces = [
        build_surface(WALL),
        build_surface(
            Surface(name="Back", columns=8, rows=6, position_m=(0.0, 2.0, 0.0), yaw_deg=180.0, **TILES)
        ),
    ]
    polygons = Polygons.of(surfaces)
    met = polygons.meet(
        np.array([[0.0, -1.0, 1.5]]), np.eye(3)[None], np.zeros((1, 1, 2), dtype=np.float32), (1, 1)
    )
    assert polygons.surface[met.polygon[0, 0]] == 1
    assert not met.front[0, 0]
