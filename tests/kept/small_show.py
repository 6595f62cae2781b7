"""A show that opens quickly and has everything a picture may depend on: a textured scene, a screen with a
clip and one with a still, a set piece, a moving camera that stands in another's picture, and a mix."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import numpy as np
import trimesh
from PIL import Image

from preview.review.clips import open_clip

SIZE = (96, 54)
SHOW = """
format = 1
[show]
title = "The Glasshouse Hour"
frame_rate = "25"
start_timecode = "10:00:00:00"
picture_size_px = [96, 54]
[picture]
exposure_stops = -0.5
[stage]
eye_point_m = [0.5, -1.0, 1.4]
white_cd_m2 = 600.0
[[stage.surfaces]]
name = "Wall"
tile_size_mm = [500, 500]
pixel_pitch_mm = 5.0
peak_luminance_cd_m2 = 1500.0
columns = 16
rows = 9
joint_angle_deg = 3.0
position_m = [0.0, 4.0, 0.0]
[[stage.set]]
name = "Desk"
mesh = "desk.obj"
position_m = [0.0, 1.0, 0.0]
[virtual]
mesh = "scene.glb"
up = "z"
[virtual.sky]
zenith_color = "#203040"
horizon_color = "#405060"
ground_color = "#203040"
[[virtual.screens]]
name = "caller"
clip = "caller.mp4"
[[virtual.screens]]
name = "title"
picture = "title.png"
[[cameras]]
name = "near"
number = 1
mount = { kind = "pedestal" }
sensor = { size_mm = [9.6, 5.4], photosites = [1920, 1080] }
lens = { focal_length_mm = [6.0, 40.0], k1 = -0.03 }
[[cameras.framings]]
name = "wide"
position_m = [-1.4, -2.5, 1.6]
look_at = [-0.1, 4.0, 2.1]
focal_length_mm = 11.0
[[cameras.framings]]
name = "tight"
position_m = [-1.4, -2.5, 1.6]
look_at = [0.3, 4.0, 2.0]
focal_length_mm = 16.0
[[cameras.moves]]
name = "push"
start = "wide"
end = "tight"
duration_s = 0.4
[[cameras]]
name = "far"
number = 2
mount = { kind = "pedestal" }
sensor = { size_mm = [9.6, 5.4], photosites = [1920, 1080] }
lens = { focal_length_mm = [6.0, 40.0] }
[[cameras.framings]]
name = "cards"
position_m = [0.2, -5.0, 1.5]
look_at = [0.2, 4.0, 1.8]
focal_length_mm = 8.0
[[cameras]]
name = "side"
number = 3
mount = { kind = "pedestal" }
sensor = { size_mm = [9.6, 5.4], photosites = [1920, 1080] }
lens = { focal_length_mm = [6.0, 40.0] }
[[cameras.framings]]
name = "desk"
position_m = [2.6, -2.0, 1.5]
look_at = [0.4, 4.0, 1.8]
focal_length_mm = 14.0
[drive]
mode = "switched"
[[rundown]]
name = "open"
on_air = "near"
duration = 0.6
[rundown.cameras]
near = { move = "push" }
far = { framing = "cards" }
side = { framing = "desk" }
[[rundown]]
name = "over"
on_air = "far"
duration = 1.0
transition = "mix"
mix_frames = 6
"""


def write_show(folder: Path, text: str = SHOW) -> Path:
    """The show with its files; path of the show file."""
    folder.mkdir(parents=True, exist_ok=True)
    write_scene(folder / "scene.glb")
    write_desk(folder / "desk.obj", 1.2)
    write_clip(folder / "caller.mp4")
    Image.fromarray(_noise(7, (18, 32))).save(folder / "title.png")
    path = folder / "show.toml"
    path.write_text(text, encoding="utf-8")
    return path


def write_scene(path: Path, texture_seed: int = 3) -> None:
    """Two screens and a ball before a backdrop with a picture on it; stage axes."""
    scene = trimesh.Scene()
    picture = Image.fromarray(_noise(texture_seed, (32, 32)))
    _add(scene, "backdrop", (8.0, 5.0), (0.0, 9.0, 2.5), picture)
    _add(scene, "caller", (1.6, 0.9), (-1.2, 7.0, 2.2), None)
    _add(scene, "title", (1.6, 0.9), (1.2, 7.0, 2.2), None)
    ball = trimesh.creation.icosphere(2, 0.5)
    ball.apply_translation([0.0, 6.5, 1.2])
    scene.add_geometry(ball, node_name="ball", geom_name="ball")
    path.write_bytes(scene.export(file_type="glb"))


def write_desk(path: Path, width_m: float) -> None:
    desk = trimesh.creation.box((width_m, 0.5, 0.8))
    desk.apply_translation([0, 0, 0.4])
    path.write_text(desk.export(file_type="obj"))


def write_clip(path: Path) -> None:
    """Eight frames at 25 that all differ; the same file each time."""
    with open_clip(path, (64, 36), Fraction(25), "10:00:00:00") as clip:
        for number in range(8):
            levels = np.full((36, 64, 3), 30 + 25 * number, np.uint8)
            levels[:, : 8 * number] = (200, 40, 60)
            clip.write(levels, 1)


def _add(scene, name, size, middle, picture):
    """An upright rectangle that faces the cameras."""
    (wide, high), corners = size, ((-0.5, -0.5), (0.5, -0.5), (0.5, 0.5), (-0.5, 0.5))
    points = [(middle[0] + x * wide, middle[1], middle[2] + z * high) for x, z in corners]
    material = trimesh.visual.material.PBRMaterial(name=name, baseColorTexture=picture, metallicFactor=0.0)
    uv = np.array([(x + 0.5, z + 0.5) for x, z in corners])
    mesh = trimesh.Trimesh(points, [[0, 1, 2], [0, 2, 3]], process=False)
    mesh.visual = trimesh.visual.TextureVisuals(uv=uv, material=material)
    scene.add_geometry(mesh, node_name=name, geom_name=name)


def _noise(seed: int, shape: tuple[int, int]) -> np.ndarray:
    return np.random.default_rng(seed).integers(0, 256, (*shape, 3), dtype=np.uint8)
