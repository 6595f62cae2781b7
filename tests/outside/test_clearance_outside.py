"""Distances of equipment against closed forms, trimesh's proximity queries and a convex program."""

from __future__ import annotations

from math import cos, radians, sin
from pathlib import Path

import numpy as np
import pytest
import trimesh
from scipy.optimize import minimize
from scipy.spatial import cKDTree
from scipy.spatial.transform import Rotation

from preview.camera.pose import Pose
from preview.camera.view import CameraView
from preview.show import model
from preview.show.load import load_show
from preview.stage.equipment import Solid, equipment
from preview.stage.gap import Extent, gap_m, least_gaps_m, winding_number
from preview.stage.meshfile import load_mesh_file
from preview.stage.people import person_parts
from preview.stage.placement import default_up, placement_matrix
from preview.timeline.mount import arm_angles_of, jib_position_m

DEMO = Path(__file__).parents[2] / "assets" / "glasshouse" / "show.toml"
PIVOT = (0.0, -6.0, 2.0)


def flat_wall(y: float) -> Extent:
    corners = np.array([[-50.0, y, 0.0], [50.0, y, 0.0], [50.0, y, 9.0], [-50.0, y, 9.0]])
    return Extent.of_mesh(corners, np.array([[0, 1, 2], [0, 2, 3]]))


def jib(swing: float, boom: float, arm_m: float = 4.0, width_m: float = 0.24) -> dict[str, Solid]:
    mount = model.Mount(kind="jib", pivot_m=PIVOT, arm_m=arm_m, arm_width_m=width_m)
    framing = {"name": "a", "focal_length_mm": 9.0, "pan_deg": 0.0}
    camera = model.Camera(name="jib", number=1, sensor="s", lens="l", mount=mount, framings=[framing])
    view = CameraView(Pose(jib_position_m(mount, swing, boom)), (9.59, 5.39), 9.0)
    return {solid.name: solid for solid in equipment(camera, view, (swing, boom))}


def capsule(from_m: tuple, to_m: tuple, width_m: float) -> Solid:
    way = np.subtract(to_m, from_m)
    rotation = Rotation.align_vectors([way], [[0.0, 0.0, 1.0]])[0].as_matrix()
    size = (width_m, width_m, float(np.linalg.norm(way)))
    middle = tuple(float(value) for value in np.add(from_m, to_m) / 2)
    return Solid("bar", "arm", "jib", "capsule", size, middle, tuple(map(tuple, rotation.T)))


# Closed forms


@pytest.mark.parametrize(("swing", "boom"), [(0, 0), (35, 0), (-60, 20), (10, -25), (0, 60)])
def test_arm_end_to_a_flat_wall(swing: float, boom: float) -> None:
    # Plain trigonometry: the arm's end is at y = -6 + 4 cos(swing) cos(boom); the wall at y = 3; off that
    # goes half of the arm's width of 0.24 m.
    end_y = -6.0 + 4.0 * cos(radians(swing)) * cos(radians(boom))
    distance, at = gap_m(Extent.of(jib(swing, boom)["jib arm"]), flat_wall(3.0))
    assert distance == pytest.approx(3.0 - end_y - 0.12, abs=1e-9)
    assert at is not None and at[1] == pytest.approx(3.0, abs=1e-9)


def test_lens_front_to_a_flat_wall() -> None:
    # The camera looks at the wall: its lens ends 0.28 m (typical of a jib's) ahead of the sensor at y = -2.
    lens = [solid for solid in jib_solids(0.0) if solid.name == "jib camera"][-1]
    assert gap_m(Extent.of(lens), flat_wall(3.0))[0] == pytest.approx(3.0 + 2.0 - 0.28, abs=1e-9)


def jib_solids(swing: float) -> tuple[Solid, ...]:
    mount = model.Mount(kind="jib", pivot_m=PIVOT, arm_m=4.0)
    framing = {"name": "a", "focal_length_mm": 9.0, "pan_deg": 0.0}
    camera = model.Camera(name="jib", number=1, sensor="s", lens="l", mount=mount, framings=[framing])
    view = CameraView(Pose(jib_position_m(mount, swing, 0.0)), (9.59, 5.39), 9.0)
    return equipment(camera, view, (swing, 0.0))


@pytest.mark.parametrize("swing", [-40.0, -15.0, 12.0, 30.0])
def test_level_arm_past_an_upright_person(swing: float) -> None:
    # A person as an upright cylinder of 0.25 m at (0, -4.5), taller than the arm is high: in plan the arm
    # is a line from the pivot, 1.5 m of which the person stands ahead, so their lines are 1.5 sin(swing)
    # apart. 720 sides: the cylinder's flats lie 2 micrometres inside.
    person = trimesh.creation.cylinder(radius=0.25, height=2.6, sections=720)
    body = Extent.of_mesh(np.add(person.vertices, (0.0, -4.5, 1.3)), person.faces)
    distance, _ = gap_m(Extent.of(jib(swing, 0.0)["jib arm"]), body)
    assert distance == pytest.approx(max(1.5 * abs(sin(radians(swing))) - 0.25 - 0.12, 0.0), abs=5e-6)


def test_two_bars_that_cross_in_the_air() -> None:
    # Distance of two skew lines: |(p - q) . (a x b)| / |a x b|. Common geometry.
    one = capsule((-2.0, 0.3, 1.0), (2.0, -0.4, 1.4), 0.1)
    other = capsule((0.2, -2.0, 2.2), (-0.3, 2.0, 1.9), 0.3)
    a, b = (np.diff(bar.corners_m, axis=0)[0] for bar in (one, other))
    across = np.cross(a, b)
    apart = abs((one.corners_m[0] - other.corners_m[0]) @ across) / np.linalg.norm(across)
    assert gap_m(Extent.of(one), Extent.of(other))[0] == pytest.approx(apart - 0.05 - 0.15, abs=1e-9)


def test_a_ball_has_a_distance_too() -> None:
    ball = Solid("ball", "arm", "jib", "capsule", (0.4, 0.4, 0.0), (0.0, 1.0, 1.0))
    assert gap_m(Extent.of(ball), flat_wall(3.0))[0] == pytest.approx(1.8, abs=1e-9)


@pytest.mark.parametrize(
    ("arm", "height", "position", "angles"),
    [
        # Hand-worked: pivot h above the origin, arm L; sines and cosines of 30, 45 and 90 degrees, and the
        # triangle of 3, 4 and 5.
        (6.0, 1.5, (0.0, 5.196152, 4.5), (0.0, 30.0)),
        (6.0, 1.5, (-6.0, 0.0, 1.5), (90.0, 0.0)),
        (6.0, 1.5, (-2.121320, 3.674235, 5.742641), (30.0, 45.0)),
        (5.0, 1.0, (0.0, 4.0, 4.0), (0.0, 36.869898)),
    ],
)
def test_arm_angles_of_hand_worked_places(arm: float, height: float, position: tuple, angles: tuple) -> None:
    mount = model.Mount(kind="jib", pivot_m=(0.0, 0.0, height), arm_m=arm)
    np.testing.assert_allclose(arm_angles_of(mount, position), angles, atol=2e-5)


def test_head_speed_turned_back_into_a_swing() -> None:
    # A 6 m arm at 10 degrees a second makes 1.0472 m/s at its end: in 0.1 s, one degree.
    mount = model.Mount(kind="jib", pivot_m=(0.0, 0.0, 1.5), arm_m=6.0)
    start = jib_position_m(mount, 20.0, 0.0)
    swing, _ = arm_angles_of(mount, jib_position_m(mount, 21.0, 0.0))
    way = np.linalg.norm(np.subtract(jib_position_m(mount, swing, 0.0), start))
    assert way / 0.1 == pytest.approx(1.0472, abs=1e-4)


# A convex program: the least distance of two hulls, by another method and another library


def random_solid(rng: np.random.Generator) -> Solid:
    axes = tuple(map(tuple, Rotation.random(rng=rng).as_matrix()))
    middle = tuple(float(value) for value in rng.uniform(-1.2, 1.2, 3))
    x, y, z = (float(value) for value in rng.uniform(0.1, 1.2, 3))
    if rng.random() < 0.5:
        return Solid("rod", "arm", "jib", "capsule", (x / 4, x / 4, z), middle, axes)
    return Solid("box", "camera", "jib", "box", (x, y, z), middle, axes)


def hull_distance(one: np.ndarray, other: np.ndarray) -> float:
    """Least distance of two convex hulls: a quadratic program over their corners' weights (scipy)."""
    corners, n = np.concatenate([one, -other]), len(one)
    ones = np.zeros((2, len(corners)))
    ones[0, :n] = ones[1, n:] = 1.0
    found = minimize(
        lambda weight: float((weight @ corners) @ (weight @ corners)),
        np.concatenate([np.full(n, 1 / n), np.full(len(other), 1 / len(other))]),
        jac=lambda weight: 2 * corners @ (weight @ corners),
        bounds=[(0, 1)] * len(corners),
        constraints={"type": "eq", "fun": lambda weight: ones @ weight - 1, "jac": lambda weight: ones},
        options={"ftol": 1e-14, "maxiter": 500},
    )
    return float(np.sqrt(found.fun))


def test_equipment_to_equipment_against_a_convex_program() -> None:
    rng = np.random.default_rng(3)
    touching = 0
    for _ in range(80):
        one, other = random_solid(rng), random_solid(rng)
        distance, at = gap_m(Extent.of(one), Extent.of(other))
        expected = max(hull_distance(one.corners_m, other.corners_m) - one.radius_m - other.radius_m, 0.0)
        assert distance == pytest.approx(expected, abs=1e-5)
        assert least_gaps_m(one.bounds_m[None], other.bounds_m[None])[0, 0] <= distance + 1e-9
        touching += distance == 0.0
        if at is not None:
            # The point is the other's: on its corners' hull, as far from the first as is said.
            assert hull_distance(other.corners_m, np.array([at])) == pytest.approx(0.0, abs=1e-5)
            from_one = hull_distance(one.corners_m, np.array([at]))
            assert from_one - one.radius_m - other.radius_m == pytest.approx(distance, abs=1e-5)
    assert 3 < touching < 40  # both kinds of case were seen


# The demo's own meshes


@pytest.fixture(scope="module")
def demo_meshes() -> dict[str, trimesh.Trimesh]:
    show = load_show(DEMO)
    (desk,) = show.file.stage.set
    up = desk.up or default_up(desk.mesh)
    matrix = placement_matrix(desk.position_m, desk.pan_deg, desk.scale, desk.units, up)
    parts = {
        "desk": load_mesh_file(show.asset(desk.mesh), matrix).parts,
        "gardener": person_parts(show.file.stage.people[2], stool=False),
    }
    return {
        name: trimesh.util.concatenate(
            [trimesh.Trimesh(p.positions, p.triangles, process=False) for p in found]
        )
        for name, found in parts.items()
    }


def solid_points(solid: Solid, spacing_m: float) -> np.ndarray:
    """Points of a capsule's line or all over a box, no point of which is farther off than the spacing."""
    if solid.shape == "capsule":
        share = np.linspace(0, 1, 2 + int(solid.size_m[2] / (2 * spacing_m)))[:, None]
        return solid.corners_m[0] + share * (solid.corners_m[1] - solid.corners_m[0])
    sides = [np.linspace(-s / 2, s / 2, 2 + int(s / (1.4 * spacing_m))) for s in solid.size_m]
    grid = np.stack(np.meshgrid(*sides, indexing="ij"), axis=-1).reshape(-1, 3)
    outside = (np.abs(np.abs(grid) - np.divide(solid.size_m, 2)) < 1e-9).any(axis=1)
    return grid[outside] @ solid.rotation.T + solid.middle_m


@pytest.mark.parametrize("thing", ["desk", "gardener"])
def test_equipment_to_the_demos_meshes_against_trimesh(
    demo_meshes: dict[str, trimesh.Trimesh], thing: str
) -> None:
    # Library: trimesh.proximity.closest_point. Points leave at most their spacing between them, so what it
    # finds is never below the true distance and never more than the spacing above.
    # That library takes its time: every so many of the triangles, which is a mesh as good as any.
    whole, spacing, rng = demo_meshes[thing], 0.04, np.random.default_rng(8)
    mesh = trimesh.Trimesh(whole.vertices, whole.faces[:: 1 + len(whole.faces) // 400])
    body = Extent.of_mesh(mesh.vertices, mesh.faces)
    apart = 0
    for _ in range(14):
        solid = random_solid(rng)
        middle = mesh.bounds.mean(axis=0) + rng.uniform(-1.5, 1.5, 3)
        moved = Solid("moved", "arm", "jib", solid.shape, solid.size_m, tuple(map(float, middle)), solid.axes)
        _, found, _ = trimesh.proximity.closest_point(mesh, solid_points(moved, spacing))
        highest = float(found.min()) - moved.radius_m
        distance, at = gap_m(Extent.of(moved), body)
        assert distance <= max(highest, 0.0) + 1e-6
        assert distance >= highest - spacing - 1e-6 or distance == 0.0
        if distance == 0.0:
            assert highest <= spacing
            continue
        apart += 1
        assert trimesh.proximity.closest_point(mesh, [at])[1][0] == pytest.approx(0.0, abs=1e-5)
    assert apart >= 6


@pytest.mark.parametrize("thing", ["desk", "gardener"])
def test_arm_to_the_whole_meshes_against_their_corners(
    demo_meshes: dict[str, trimesh.Trimesh], thing: str
) -> None:
    # Library: scipy's k-d tree over all corners. What it finds from points on an arm's line is never below
    # the true distance, and not above it by more than the points' spacing and a triangle's longest edge.
    mesh, spacing, rng = demo_meshes[thing], 0.01, np.random.default_rng(9)
    body, tree = Extent.of_mesh(mesh.vertices, mesh.faces), cKDTree(mesh.vertices[np.unique(mesh.faces)])
    slack = spacing + float(mesh.edges_unique_length.max())
    for _ in range(40):
        ends = mesh.bounds.mean(axis=0) + rng.uniform(-3, 3, (2, 3))
        arm = capsule(tuple(map(float, ends[0])), tuple(map(float, ends[1])), 0.2)
        highest = float(tree.query(solid_points(arm, spacing))[0].min()) - 0.1
        distance, _ = gap_m(Extent.of(arm), body)
        assert max(highest - slack, 0.0) - 1e-6 <= distance <= max(highest, 0.0) + 1e-6


def test_a_camera_wholly_inside_a_set_piece_touches_it() -> None:
    block = trimesh.creation.box((2.0, 2.0, 2.0))
    body = Extent.of_mesh(block.vertices, block.faces)
    inside = Solid("small", "camera", "jib", "box", (0.2, 0.2, 0.2), (0.3, 0.1, -0.2))
    assert gap_m(Extent.of(inside), body) == (0.0, None)
    over = Solid("large", "camera", "jib", "box", (5.0, 5.0, 5.0), (0.0, 0.0, 0.0))
    assert gap_m(Extent.of(over), body)[0] == 0.0
    beside = Solid("small", "camera", "jib", "box", (0.2, 0.2, 0.2), (1.6, 0.1, -0.2))
    assert gap_m(Extent.of(beside), body)[0] == pytest.approx(0.5, abs=1e-9)


def test_winding_numbers_against_trimesh(demo_meshes: dict[str, trimesh.Trimesh]) -> None:
    # Library: trimesh's ray-based inside test, on a closed ball seen through a random turn.
    ball = trimesh.creation.icosphere(subdivisions=2, radius=1.0)
    ball.apply_transform(trimesh.transformations.random_rotation_matrix(np.array([0.2, 0.5, 0.7])))
    points = np.random.default_rng(5).uniform(-1.2, 1.2, (60, 3))
    inside = ball.contains(points)
    mine = [winding_number(ball.triangles, point) for point in points]
    np.testing.assert_allclose(mine, inside.astype(float), atol=1e-9)
    assert 10 < inside.sum() < 50
