"""A show without a single finding, and the same show with one fault planted for each check.

Two presenters stand 8 m apart before a flat wall; each has a pedestal camera, and a jib looks between them,
so that no two frustums meet. The virtual scene is bright on the left and dark on the right.
"""

from __future__ import annotations

import atexit
import shutil
import tempfile
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np
import trimesh

from preview.conventions import STAGE_FROM_Y_UP
from preview.show.load import Show, load_show

Edit = tuple[str, str]
"""A piece of the show file, and what stands there instead."""

SHOW = """
format = 1

[show]
title = "Two Greenhouses"
frame_rate = "25"
picture_size_px = [640, 360]

[stage]
eye_point_m = [0, -2, 1.6]
white_cd_m2 = 300

[[stage.surfaces]]
name = "Wall"
tile_size_mm = [500, 500]
pixel_pitch_mm = 2.6042
columns = 40
rows = 12
position_m = [0, 6, 0]
reflectance = 0.04

[[stage.people]]
name = "Anna"
position_m = [-4, 1, 0]

[[stage.people]]
name = "Ben"
position_m = [4, 1, 0]

[stage.light]
key_level = 0.7

[virtual]
mesh = "halves.glb"

[virtual.sky]
ground_color = "#000000"
zenith_color = "#000000"
horizon_color = "#000000"

[[cameras]]
name = "CAM1"
number = 1
sensor = { size_mm = [9.59, 5.39], photosites = [1920, 1080] }
lens = { focal_length_mm = [7.6, 152] }
mount = { kind = "pedestal" }
iso = 100
position_m = [-4, -5, 1.6]
overscan_percent = 6

[[cameras.framings]]
name = "MS Anna"
look_at = "Anna"
focal_length_mm = 40

[[cameras.framings]]
name = "Anna from her left"
position_m = [-4, -5, 1.6]
pan_deg = 6
tilt_deg = 0
focal_length_mm = 40
focus_m = 6

[[cameras.moves]]
name = "Pan"
start = "MS Anna"
end = "Anna from her left"
duration_s = 1.0

[[cameras]]
name = "CAM2"
number = 2
sensor = { size_mm = [9.59, 5.39], photosites = [1920, 1080] }
lens = { focal_length_mm = [7.6, 152] }
mount = { kind = "pedestal" }
iso = 100
position_m = [4, -5, 1.6]

[[cameras.framings]]
name = "MS Ben"
look_at = "Ben"
focal_length_mm = 40

[[cameras]]
name = "JIB"
number = 3
sensor = { size_mm = [9.59, 5.39], photosites = [1920, 1080] }
lens = { focal_length_mm = [8, 128] }
mount = { kind = "jib", pivot_m = [0, -9, 1.5], arm_m = 3.0 }
iso = 100

[[cameras.framings]]
name = "Between them"
swing_deg = 0
boom_deg = 10
look_at = [0, 6, 2.5]
focal_length_mm = 40
focus_m = 6

[[cameras.framings]]
name = "Between them lower"
swing_deg = 8
boom_deg = 0
look_at = [0, 6, 2.5]
focal_length_mm = 40
focus_m = 6

[[cameras.moves]]
name = "Crane"
start = "Between them"
end = "Between them lower"
duration_s = 1.2

[[rundown]]
name = "Anna"
on_air = "CAM1"
duration = 2
cameras.CAM1 = { move = "Pan", after_s = 0.5 }
cameras.CAM2 = { framing = "MS Ben" }
cameras.JIB = { move = "Crane", after_s = 0.5 }

[[rundown]]
name = "Ben"
on_air = "CAM2"
duration = 1

[[rundown]]
name = "Goodbye"
on_air = "JIB"
duration = 1
"""
"""100 frames: 0-49 CAM1 pans, 50-74 CAM2, 75-99 the jib."""


def halves_glb() -> bytes:
    """A wall that glows on the left and does not on the right, 20 m away."""
    scene = trimesh.Scene()
    for name, middle, glow in (("bright", -40.0, 1.0), ("dark", 40.0, 0.0)):
        box = trimesh.creation.box((79.0, 0.2, 60.0))
        box.apply_translation((middle, 20.0, 0.0))
        box.apply_transform(np.linalg.inv(STAGE_FROM_Y_UP))
        material = trimesh.visual.material.PBRMaterial(
            name=name, baseColorFactor=[0.0, 0.0, 0.0, 1.0], emissiveFactor=[glow] * 3
        )
        box.visual = trimesh.visual.TextureVisuals(material=material)
        scene.add_geometry(box, node_name=name, geom_name=name)
    return bytes(scene.export(file_type="glb"))


@cache
def _folder() -> Path:
    folder = Path(tempfile.mkdtemp(prefix="planted-"))
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    (folder / "halves.glb").write_bytes(halves_glb())
    return folder


@cache
def show_of(name: str = "clean", *edits: Edit) -> Show:
    """The clean show with pieces of its text replaced; each must occur once (or, ending in "*", at all)."""
    text = SHOW
    for old, new in edits:
        everywhere = old.endswith("*")
        old = old.removesuffix("*")
        assert (text.count(old) >= 1) if everywhere else (text.count(old) == 1), old
        text = text.replace(old, new)
    path = _folder() / f"{name}.toml"
    path.write_text(text, encoding="utf-8")
    return load_show(path)


@dataclass(frozen=True)
class Planted:
    """A fault: which check has to find it, in which shot and of which camera."""

    check: str
    edits: tuple[Edit, ...]
    shot: str
    camera: str
    grades: tuple[str, ...] = ("fault",)

    def show(self) -> Show:
        return show_of(self.check, *self.edits)


def flicker() -> Edit:
    """Instead of the second shot: cuts between bright and dark every second frame."""
    lines = []
    for number in range(14):
        camera = "CAM1" if number % 2 else "CAM2"
        lines.append(f'[[rundown]]\nname = "Flick {number}"\non_air = "{camera}"\nduration = "00:00:00:02"\n')
    return ('[[rundown]]\nname = "Ben"\non_air = "CAM2"\nduration = 1\n', "\n".join(lines))


def before_rundown(table: str) -> Edit:
    """Adds a table to the show file."""
    first = '[[rundown]]\nname = "Anna"'
    return (first, f"{table}\n\n{first}")


def jib_focused(metres: int) -> tuple[Edit, ...]:
    """Both of the jib's framings focused elsewhere."""
    aim = "look_at = [0, 6, 2.5]\nfocal_length_mm = 40\nfocus_m = "
    return tuple((f"boom_deg = {boom}\n{aim}6", f"boom_deg = {boom}\n{aim}{metres}") for boom in (10, 0))


def anna_from(x: float, y: float, pan_deg: float) -> tuple[Edit, ...]:
    """CAM1 somewhere else in both of its framings."""
    here = "position_m = [-4, -5, 1.6]\n"
    there = f"position_m = [{x}, {y}, 1.6]\n"
    return ((f"{here}overscan", f"{there}overscan"), (f"{here}pan_deg = 6", f"{there}pan_deg = {pan_deg}"))


NO_OVERSCAN = ("overscan_percent = 6", "overscan_percent = 0")
LATE_WALL = before_rundown("[delays]\nwall_switch_frames = 4")
LATE_TRACKING = before_rundown("[delays]\ntracking_frames = 4")
SHARED = before_rundown('[drive]\nmode = "shared"\nedge_width_mm = 40\n\n[delays]\ntracking_frames = 4')
WIDE = ("focal_length_mm = 40*", "focal_length_mm = 12")
WIDE_ON_BEN = ('look_at = "Ben"\nfocal_length_mm = 40', 'look_at = "Ben"\nfocal_length_mm = 7.7')
FROM_THE_SIDE = ("position_m = [4, -5, 1.6]", "position_m = [9.5, -2.0, 1.6]")
ARM_OVER_ANNA = ("pivot_m = [0, -9, 1.5], arm_m = 3.0", "pivot_m = [-4.6, -3.5, 1.5], arm_m = 4.0")
STRONG_KEY = ("key_level = 0.7", "key_level = 1.4")
BRIGHT_TILES = ("reflectance = 0.04", "reflectance = 0.12")

FAULTS = (
    Planted("bleed", (LATE_WALL, WIDE), "Ben", "CAM2"),
    Planted("coverage", (NO_OVERSCAN, LATE_TRACKING), "Anna", "CAM1"),
    Planted("off-wall", (WIDE_ON_BEN,), "Ben", "CAM2"),
    Planted("crossing", anna_from(2.9, -1.2, 60), "Ben", "CAM2"),
    Planted("viewing-angle", (FROM_THE_SIDE,), "Ben", "CAM2"),
    Planted("structure", jib_focused(12), "Goodbye", "JIB", ("fault", "compromise")),
    Planted("moire", jib_focused(12), "Goodbye", "JIB", ("compromise",)),
    Planted("cuts", (LATE_WALL,), "Ben", "CAM2"),
    Planted("edge-lines", (NO_OVERSCAN, SHARED), "Anna", "CAM1", ("fault", "compromise")),
    Planted("clearance", (ARM_OVER_ANNA,), "Anna", "JIB"),
    Planted("flashing", (flicker(),), "", ""),
    Planted("ambient", (STRONG_KEY, BRIGHT_TILES), "", "", ("fault", "compromise")),
)
"""One a check."""
