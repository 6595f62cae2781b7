"""The virtual scene: its mesh, lights, sky and screens, placed on the stage as the show file says."""

from __future__ import annotations

import difflib
import math
from collections.abc import Iterable
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from preview.colour import hex_to_linear
from preview.conventions import Array
from preview.errors import Problem, ShowError
from preview.show.model import Sun, Virtual, VirtualLight
from preview.stage.mesh import Light, Material, MeshPart, SceneMesh, Sky
from preview.stage.meshfile import merge_parts, read_mesh_file
from preview.stage.normals import area_normals
from preview.stage.placement import default_up, placement_matrix
from preview.stage.sky import load_sky

if TYPE_CHECKING:
    from preview.show.load import Show

DEFAULT_SKY = Sky(
    zenith=(0.35, 0.40, 0.48), horizon=(0.75, 0.78, 0.80), ground=(0.22, 0.21, 0.20), ambient=0.6
)
DEFAULT_SUN = Sun(pan_deg=-150.0, height_deg=45.0, level=0.8, color="#ffffff")
"""Light for a scene that neither its file nor the show lights: sun over the cameras' right shoulder.
Our choice, no source."""

SPOT_INNER_SHARE = 0.8
"""Part of a show-file spot's cone that is fully lit. Our choice, no source."""

BRIGHT_LEVEL = 30.0
"""Radiance (times stage white) of a white card that a file light may reach before a note says so."""
BRIGHT_DISTANCE_M = 3.0

_NO_UV_AREA = 1e-9
_ATLAS_SPAN = 0.9


def load_virtual_scene(show: Show) -> SceneMesh:
    """The show's virtual scene in stage coordinates, exposed, with its screens marked.

    ``virtual.exposure_stops`` multiplies lights, sky, emission and unlit colours; not the screens,
    whose ``level`` is relative to stage white. Lights of the mesh file come in at 1 unit of
    ``Light.intensity`` for 1 lux or 1 candela times ``virtual.light_scale``: a white matt card
    facing a directional light of pi lux reads 1.0. The show's own levels are what such a card reads.

    A screen's part gets ``screen`` and a material that shows nothing else: black, unlit, emitting
    ``level``. Its picture fills texture coordinates 0..1; a part without usable ones is fitted flat,
    upright, over its bounding rectangle.

    Raises
    ------
    AssetError : the mesh or the sky picture cannot be used.
    ShowError : screens that the mesh does not have.
    """
    virtual: Virtual = show.file.virtual
    path = show.asset(virtual.mesh)
    up = virtual.up or default_up(virtual.mesh)
    matrix = placement_matrix(virtual.position_m, virtual.pan_deg, virtual.scale, virtual.units, up)
    scene = read_mesh_file(path, matrix)
    exposure = 2.0**virtual.exposure_stops
    notes = list(scene.notes)
    parts = _with_screens(show, _exposed(scene.parts, exposure), notes)
    file_lights = [
        replace(light, intensity=light.intensity * virtual.light_scale)
        for light in _file_lights(scene, virtual)
    ]
    notes += _too_bright(path.name, file_lights)
    lights, sky = _lights_and_sky(show, file_lights, exposure, path.name, notes)
    return SceneMesh(
        parts=merge_parts(parts),
        lights=tuple(replace(light, intensity=light.intensity * exposure) for light in lights),
        sky=sky,
        notes=tuple(notes),
    )


def _file_lights(scene: SceneMesh, virtual: Virtual) -> tuple[Light, ...]:
    return scene.lights if virtual.use_file_lights else ()


def _lights_and_sky(
    show: Show, file_lights: list[Light], exposure: float, name: str, notes: list[str]
) -> tuple[list[Light], Sky]:
    virtual: Virtual = show.file.virtual
    lights = [sun_light(virtual.sun)] if virtual.sun is not None else []
    lights += [show_light(light) for light in virtual.lights] + file_lights
    if virtual.sky is not None:
        sky = load_sky(virtual.sky, show.root, exposure)
        if sky.image is not None and sky.image.shape[1] != 2 * sky.image.shape[0]:
            height, width = sky.image.shape[:2]
            notes.append(
                f"{virtual.sky.image}: is {width} x {height} pixels; a full equirectangular picture "
                "is twice as wide as it is high, so this one is stretched"
            )
        return lights, sky
    if lights:
        notes.append(
            f"{name}: no sky in the show file, so what is behind the scene is black and shadows get no "
            "fill (add [virtual.sky])"
        )
        return lights, Sky()
    notes.append(
        f"{name}: neither the file nor the show has a light or a sky; a plain grey sky and a sun are used"
    )
    sky = replace(
        DEFAULT_SKY,
        zenith=_scaled(DEFAULT_SKY.zenith, exposure),
        horizon=_scaled(DEFAULT_SKY.horizon, exposure),
        ground=_scaled(DEFAULT_SKY.ground, exposure),
    )
    return [sun_light(DEFAULT_SUN)], sky


def sun_light(sun: Sun) -> Light:
    """The show's sun: ``level`` is the radiance of a white matt card facing it."""
    pan, height = math.radians(sun.pan_deg), math.radians(sun.height_deg)
    flat = math.cos(height)
    return Light(
        kind="directional",
        color=hex_to_linear(sun.color),
        intensity=math.pi * sun.level,
        direction=(math.sin(pan) * flat, -math.cos(pan) * flat, -math.sin(height)),
        casts_shadow=sun.shadow,
        softness_deg=sun.softness_deg,
        name="sun",
    )


def show_light(light: VirtualLight) -> Light:
    """A point or spot light of the show file; a spot without ``look_at_m`` shines straight down."""
    direction = np.array([0.0, 0.0, -1.0])
    if light.look_at_m is not None:
        way = np.subtract(light.look_at_m, light.position_m)
        if np.any(way):
            direction = way / np.linalg.norm(way)
    half = light.cone_deg / 2
    return Light(
        kind=light.kind,
        color=hex_to_linear(light.color),
        intensity=math.pi * light.level,
        position=light.position_m,
        direction=(float(direction[0]), float(direction[1]), float(direction[2])),
        inner_cone_deg=half * SPOT_INNER_SHARE,
        outer_cone_deg=half,
        name=light.name,
    )


def _too_bright(name: str, lights: Iterable[Light]) -> list[str]:
    """A note when file lights are so strong that everything they reach would be white."""
    level, brightest = 0.0, ""
    for light in lights:
        reach = 1.0 if light.kind == "directional" else BRIGHT_DISTANCE_M**2
        here = light.intensity * max(light.color) / math.pi / reach
        if here > level:
            level, brightest = here, light.name
    if level <= BRIGHT_LEVEL:
        return []
    return [
        f"{name}: light {brightest!r} makes a white card about {level:.0f} times stage white"
        f" (at {BRIGHT_DISTANCE_M:.0f} m, or in the sun); virtual.light_scale = {1 / level:.2g} makes that 1"
    ]


def _exposed(parts: tuple[MeshPart, ...], exposure: float) -> tuple[MeshPart, ...]:
    """Emission and unlit colours times ``exposure``; parts that shared a material still do."""
    if exposure == 1.0:
        return parts
    changed: dict[int, Material] = {}
    for part in parts:
        material = part.material
        if id(material) not in changed:
            red, green, blue, alpha = material.base_color
            base = (*_scaled((red, green, blue), exposure), alpha) if material.unlit else material.base_color
            changed[id(material)] = replace(
                material, base_color=base, emissive=_scaled(material.emissive, exposure)
            )
    return tuple(replace(part, material=changed[id(part.material)]) for part in parts)


def _with_screens(show: Show, parts: tuple[MeshPart, ...], notes: list[str]) -> tuple[MeshPart, ...]:
    """Parts with the show's screens marked; ShowError for names that the mesh does not have."""
    virtual: Virtual = show.file.virtual
    names = {part.name for part in parts} | {part.material.name for part in parts}
    names.discard("")
    result, problems = list(parts), list[Problem]()
    for number, screen in enumerate(virtual.screens):
        chosen = [at for at, part in enumerate(parts) if part.name == screen.name]
        if not chosen:
            chosen = [at for at, part in enumerate(parts) if part.material.name == screen.name]
        if not chosen:
            near = difflib.get_close_matches(screen.name, names, n=1)
            hint = f"did you mean {near[0]!r}? " if near else ""
            listed = ", ".join(sorted(names)) or "no named parts"
            found = f"{virtual.mesh} has no node or material called {screen.name!r}"
            key = f"virtual.screens[{number}].name"
            problems += show.error(key, found, f"{hint}it has: {listed}").problems
            continue
        if len(chosen) > 1:
            notes.append(
                f"{virtual.mesh}: screen {screen.name!r} is {len(chosen)} parts; each shows the whole picture"
            )
        for at in chosen:
            result[at] = _screen_part(parts[at], screen.name, screen.level, virtual.mesh, notes)
    if problems:
        raise ShowError(problems)
    return tuple(result)


def _screen_part(part: MeshPart, screen: str, level: float, mesh: str, notes: list[str]) -> MeshPart:
    uv0 = part.uv0
    if uv0 is None or _uv_area(uv0, part.triangles) < _NO_UV_AREA:
        uv0 = flat_uv(part.positions, part.triangles)
        notes.append(
            f"{mesh}: screen {screen!r} has no texture coordinates; its picture is fitted to its "
            "bounding rectangle"
        )
    else:
        low, high = uv0.min(axis=0), uv0.max(axis=0)
        if np.any(high - low < _ATLAS_SPAN):
            notes.append(
                f"{mesh}: screen {screen!r} spans u {low[0]:.2f} to {high[0]:.2f} and v {low[1]:.2f} to "
                f"{high[1]:.2f} of its picture only; unwrap it over 0..1 to show all of it"
            )
    material = Material(
        name=part.material.name,
        base_color=(0.0, 0.0, 0.0, 1.0),
        emissive=(level, level, level),
        double_sided=part.material.double_sided,
        unlit=True,
    )
    return replace(part, uv0=uv0, colors=None, material=material, screen=screen)


def _uv_area(uv: npt.NDArray[np.float32], triangles: npt.NDArray[np.int32]) -> float:
    corners = uv.astype(np.float64)[triangles]
    a, b = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    return float(np.abs(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]).sum())


def flat_uv(
    positions: npt.NDArray[np.floating], triangles: npt.NDArray[np.integer]
) -> npt.NDArray[np.float32]:
    """(n, 2) texture coordinates 0..1 over a screen's bounding rectangle, as seen from its front.

    The picture's top is towards +Z; on a screen that lies flat, towards +Y. The front is the mean of
    the triangles' directions, or, on a closed body, its largest side (of equals, the one that faces -Y).
    """
    weighted = area_normals(positions, triangles)
    facing = weighted.sum(axis=0)
    if np.linalg.norm(facing) < 0.1 * np.linalg.norm(weighted, axis=1).sum():
        facing = _largest_side(weighted)
    facing = facing / np.linalg.norm(facing)
    up = np.array([0.0, 0.0, 1.0]) if abs(facing[2]) < 0.9 else np.array([0.0, 1.0, 0.0])
    right = np.cross(up, facing)
    right /= np.linalg.norm(right)
    above = np.cross(facing, right)
    flat = np.asarray(positions, dtype=np.float64) @ np.stack([right, above], axis=1)
    low, size = flat.min(axis=0), np.ptp(flat, axis=0)
    share = (flat - low) / np.where(size > 0, size, 1.0)
    return np.stack([share[:, 0], 1.0 - share[:, 1]], axis=1).astype(np.float32)


def _largest_side(weighted: Array) -> Array:
    length = np.linalg.norm(weighted, axis=1, keepdims=True)
    used = weighted[length[:, 0] > 0]
    sides, member = np.unique(np.round(used / length[length[:, 0] > 0], 2), axis=0, return_inverse=True)
    area = np.zeros(len(sides))
    np.add.at(area, member.reshape(-1), np.linalg.norm(used, axis=1))
    largest = area > 0.999 * area.max()
    best: Array = sides[largest][np.argmin(sides[largest][:, 1])]
    return best


def _scaled(color: tuple[float, float, float], gain: float) -> tuple[float, float, float]:
    return color[0] * gain, color[1] * gain, color[2] * gain
