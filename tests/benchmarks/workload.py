"""What both sides of the benchmark draw: one invented studio, the same values for both.

A glasshouse of about 100 000 triangles (textured, lit by a sun and two lamps), a curved LED wall of
28 tile columns, a set of about 40 000 triangles, and three cameras that all move on every frame, each
followed by its frustum layer two frames late.
"""

from __future__ import annotations

import cv2
import numpy as np
import trimesh

from preview.camera.pose import Pose
from preview.camera.view import CameraView
from preview.conventions import Array
from preview.picture.display import Display
from preview.stage.mesh import Light, Material, MeshPart, SceneMesh, Sky, Texture
from preview.stage.surface import LedSurface
from preview.timeline.moment import CameraMoment, Moment

PICTURE_PX = (1920, 1080)
OUTER_PX = (1920, 960)
OUTER_FACE_PX = 1536
"""Side of the outer image's six faces, as the product chooses it for pictures of this size."""
EYE_POINT_M = (0.0, 0.0, 1.6)
OVERSCAN = 0.05
LAYER_DELAY_FRAMES = 0
OFF_AIR_DIM = 0.6
SENSOR_MM = (9.59, 5.39)
WALL_COLUMNS, WALL_ROWS, TILE_M, TILE_PX = 28, 9, 0.5, 192
WALL_JOINT_DEG = 5.0
AMBIENT = 0.25
SKY_RGB = (0.55, 0.68, 0.8)
DISPLAY = Display(exposure_stops=0.0, knee_point=0.8, knee_range_stops=3.0)


def curved_wall() -> LedSurface:
    """28 flat tile columns, each turned ``WALL_JOINT_DEG`` from its neighbour, wrapping the stage."""
    joints = (np.arange(WALL_COLUMNS) - (WALL_COLUMNS - 1) / 2) * np.radians(WALL_JOINT_DEG)
    steps = TILE_M * np.stack([np.cos(joints), -np.sin(joints)], axis=1)
    edges = np.vstack([np.zeros(2), np.cumsum(steps, axis=0)])
    edges -= edges[WALL_COLUMNS // 2]
    edges[:, 1] += 6.0
    height_m, height_px = WALL_ROWS * TILE_M, WALL_ROWS * TILE_PX
    positions, canvas, triangles = [], [], []
    for column in range(WALL_COLUMNS):
        for edge in (column, column + 1):
            for z, v in ((height_m, 0), (0.0, height_px)):
                positions.append((*edges[edge], z))
                canvas.append((edge * TILE_PX, v))
        first = 4 * column
        triangles += [(first, first + 1, first + 3), (first, first + 3, first + 2)]
    return LedSurface(
        name="curve",
        kind="wall",
        canvas_px=(WALL_COLUMNS * TILE_PX, height_px),
        positions=np.array(positions, dtype=np.float64),
        canvas=np.array(canvas, dtype=np.float64),
        triangles=np.array(triangles, dtype=np.int32),
        peak_luminance_cd_m2=1500.0,
        refresh_hz=3840.0,
        reflectance=0.0,
        pixel_pitch_mm=1000 * TILE_M / TILE_PX,
    )


def _noise_texture(seed: int, low: tuple[int, int, int], high: tuple[int, int, int]) -> Texture:
    """1024 x 1024 colour noise of several octaves between two sRGB colours."""
    random = np.random.default_rng(seed)
    grey = np.zeros((1024, 1024), dtype=np.float32)
    for octave in range(2, 9):
        field = random.random((2**octave, 2**octave), dtype=np.float32)
        grey += cv2.resize(field, (1024, 1024), interpolation=cv2.INTER_CUBIC) * 0.6 ** (octave - 2)
    grey = (grey - grey.min()) / (grey.max() - grey.min())
    rgb = grey[..., None] * np.array(high, np.float32) + (1 - grey[..., None]) * np.array(low, np.float32)
    image = np.dstack([rgb, np.full_like(grey, 255)]).round().astype(np.uint8)
    return Texture(np.ascontiguousarray(image), srgb=True)


def _part(
    name: str,
    meshes: list[trimesh.Trimesh],
    texture: Texture | None,
    color: tuple[float, float, float],
    tile_m: float,
) -> MeshPart:
    """Merge meshes into one part, textured by a box projection of its stage coordinates."""
    mesh = trimesh.util.concatenate(meshes)
    normals = np.asarray(mesh.vertex_normals)
    side = np.abs(normals[:, :2]).argmax(axis=1)
    level = np.abs(normals[:, 2]) > 0.7
    x, y, z = mesh.vertices.T
    uv = np.stack([np.where(level | (side == 1), x, y), np.where(level, y, -z)], axis=1) / tile_m
    material = Material(name=name, base_color=(*color, 1.0), base_color_texture=texture, roughness=0.9)
    return MeshPart(
        name,
        mesh.vertices.astype(np.float32),
        normals.astype(np.float32),
        uv.astype(np.float32),
        None,
        None,
        mesh.faces.astype(np.int32),
        material,
    )


def _box(size: tuple[float, float, float], centre: tuple[float, float, float]) -> trimesh.Trimesh:
    box = trimesh.creation.box(extents=size)
    box.apply_translation(centre)
    box.unmerge_vertices()
    return box


def _ball(radius: float, centre: tuple[float, float, float], subdivisions: int) -> trimesh.Trimesh:
    ball = trimesh.creation.icosphere(subdivisions=subdivisions, radius=radius)
    ball.apply_translation(centre)
    return ball


def virtual_scene() -> SceneMesh:
    """The glasshouse garden behind the wall: floor, hills, hedges, planters and glazing bars."""
    random = np.random.default_rng(7)
    side = 140
    grid_x, grid_y = np.meshgrid(np.linspace(-70, 70, side), np.linspace(12, 90, side))
    height = (
        0.08 * (grid_y - 12) * (1 + np.sin(grid_x / 6) * np.cos(grid_y / 7))
        + 0.1 * np.sin(grid_x * 1.7) * np.cos(grid_y * 1.3)
        - 0.3
    )
    cells = np.arange(side * side).reshape(side, side)
    a, b, c, d = cells[:-1, :-1], cells[:-1, 1:], cells[1:, 1:], cells[1:, :-1]
    faces = np.concatenate([np.stack(t, axis=-1).reshape(-1, 3) for t in ((a, b, c), (a, c, d))])
    hills = trimesh.Trimesh(np.stack([grid_x, grid_y, height], -1).reshape(-1, 3), faces, process=False)
    shrubs: list[list[trimesh.Trimesh]] = [[], [], []]
    planters, bars = [], []
    for index in range(45):
        angle = np.radians(-110 + 220 * index / 44)
        distance = 9 + 6 * random.random()
        x, y = distance * np.sin(angle), distance * np.cos(angle)
        radius = 0.6 + 0.7 * random.random()
        shrubs[index % 3].append(_ball(radius, (x, y, 0.8 + radius), 3))
        planters.append(_box((1.1, 1.1, 0.8), (x, y, 0.4)))
    for angle in np.radians(np.arange(-120, 121, 6)):
        x, y = 17 * np.sin(angle), 17 * np.cos(angle)
        bars.append(_box((0.14, 0.14, 8), (x, y, 4)))
        bars += [_box((1.9, 0.1, 0.1), (x, y, z)) for z in (1, 2, 4, 6)]
    floor = _box((200, 200, 0.2), (0, 0, -0.5))
    parts = (
        _part("floor", [floor], _noise_texture(1, (96, 88, 76), (170, 160, 140)), (0.9, 0.9, 0.9), 3.0),
        _part("hills", [hills], _noise_texture(2, (40, 80, 30), (130, 160, 80)), (0.9, 0.9, 0.9), 5.0),
        _part("shrubs", shrubs[0], _noise_texture(3, (20, 70, 24), (120, 180, 70)), (0.9, 0.9, 0.9), 1.0),
        _part("roses", shrubs[1], _noise_texture(4, (60, 90, 40), (220, 80, 90)), (0.9, 0.9, 0.9), 0.8),
        _part("olives", shrubs[2], _noise_texture(5, (70, 80, 60), (170, 180, 140)), (0.9, 0.9, 0.9), 0.7),
        _part("planters", planters, _noise_texture(6, (110, 60, 40), (190, 120, 80)), (0.9, 0.9, 0.9), 0.6),
        _part("bars", bars, None, (0.8, 0.82, 0.8), 1.0),
    )
    lights = (
        Light("directional", (1.0, 0.94, 0.85), 1.6, direction=tuple(_unit((0.4, 0.7, -0.8)))),
        Light("point", (1.0, 0.8, 0.6), 9.0, position=(-4.0, 9.0, 5.0)),
        Light("point", (0.7, 0.85, 1.0), 9.0, position=(5.0, 10.0, 5.0)),
    )
    return SceneMesh(parts, lights, Sky(SKY_RGB, SKY_RGB, SKY_RGB, ambient=AMBIENT))


def stage_set() -> SceneMesh:
    """Riser, desk and three stand-ins in front of the wall."""
    people = []
    for x, y in ((-1.2, 2.4), (0.0, 2.7), (1.2, 2.4)):
        people.append(_ball(0.12, (x, y, 1.62), 4))
        people += [_ball(0.24, (x, y, 1.25), 4), _ball(0.22, (x, y, 1.0), 3)]
        people += [_ball(0.09, (x + side * 0.27, y - 0.1, 1.15), 2) for side in (-1, 1)]
        people.append(_box((0.3, 0.22, 0.9), (x, y, 0.45)))
    fittings = [_box((3.6, 0.7, 0.06), (0, 1.9, 0.78)), _box((3.4, 0.06, 0.75), (0, 1.65, 0.38))]
    fittings.append(_box((5.0, 3.2, 0.12), (0, 2.4, -0.05)))
    flowers = [_ball(0.1, (x, 1.9, 0.92), 2) for x in np.linspace(-1.5, 1.5, 8)]
    parts = (
        _part("people", people, None, (0.5, 0.36, 0.28), 1.0),
        _part("fittings", fittings, _noise_texture(8, (90, 70, 50), (150, 120, 90)), (0.9, 0.9, 0.9), 1.0),
        _part("flowers", flowers, None, (0.6, 0.2, 0.3), 1.0),
    )
    lights = (
        Light("directional", (1.0, 0.96, 0.9), 1.9, direction=tuple(_unit((0.5, 0.7, -0.6)))),
        Light("directional", (0.9, 0.95, 1.0), 0.7, direction=tuple(_unit((-0.6, 0.7, -0.3)))),
    )
    return SceneMesh(parts, lights, Sky(ambient=0.0))


def _unit(vector: tuple[float, float, float]) -> Array:
    return np.asarray(vector) / np.linalg.norm(vector)


def _view(number: int, frame: int) -> CameraView:
    """Camera ``number`` (1..3) at ``frame``: each drifts, pans and zooms a little on every frame."""
    sway = np.sin(frame * 0.11 + number)
    x, y, z, target_x, zoom_mm = (
        (-3.4, -4.2, 1.7, 0.8, 11),
        (0.2, -5.2, 1.5, 0.0, 12),
        (3.6, -3.6, 2.6, -0.9, 10),
    )[number - 1]
    pose = Pose.looking_at((x + 0.4 * sway, y + 0.2 * sway, z), (target_x - 0.3 * sway, 4.0, 1.7), 0.4 * sway)
    return CameraView(pose, SENSOR_MM, zoom_mm * (1 + 0.03 * sway), focal_length_mm=zoom_mm)


def moment(frame: int) -> Moment:
    """The stage at ``frame``; camera 2 is on air."""
    cameras = tuple(
        CameraMoment(
            name=f"camera {number}",
            number=number,
            view=_view(number, frame),
            layer_view=_view(number, frame - LAYER_DELAY_FRAMES),
            overscan=OVERSCAN,
            framing="drift",
            moving=True,
        )
        for number in (1, 2, 3)
    )
    seconds = frame / 25
    return Moment(
        frame, seconds, f"00:00:00:{frame % 25:02}", "drift", 0, cameras, "camera 2", None, 1.0, "camera 2"
    )


def triangle_count(mesh: SceneMesh) -> int:
    return sum(len(part.triangles) for part in mesh.parts)
