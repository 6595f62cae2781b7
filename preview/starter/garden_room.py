"""The starter show's virtual scene: a garden room with a glazed end, built from boxes and balls."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import trimesh

from preview.colour import hex_to_linear
from preview.conventions import STAGE_FROM_Y_UP

PAINT = {
    "floor": ("#8a8378", 0.9),
    "plaster": ("#d9d2c3", 0.9),
    "timber": ("#a07850", 0.7),
    "frame": ("#3e4a46", 0.5),
    "lawn": ("#84a85c", 1.0),
    "leaves": ("#6b9a4f", 0.9),
    "terracotta": ("#c9764c", 0.8),
}
"""Colour and roughness of each material."""

TUBS = ((-3.6, 9.2, 0.9), (3.4, 9.3, 0.75), (-8.0, 18.0, 3.0), (7.0, 21.0, 3.6), (1.0, 27.0, 3.2))
"""Plants on the floor and on the lawn: X, Y and size in metres."""

NEAR_M, FAR_M, HALF_WIDTH_M, HEIGHT_M = -8.0, 10.0, 6.0, 4.2


def garden_room_glb() -> bytes:
    """The scene as binary glTF: metres, Y up, made so that it stands right on the stage unmoved."""
    parts: dict[str, list[trimesh.Trimesh]] = {}
    for paint, mesh in _parts():
        parts.setdefault(paint, []).append(mesh)
    scene = trimesh.Scene()
    y_up_from_stage = np.linalg.inv(STAGE_FROM_Y_UP)
    for paint, meshes in parts.items():
        color, roughness = PAINT[paint]
        mesh = trimesh.util.concatenate(meshes)
        mesh.apply_transform(y_up_from_stage)
        mesh.visual = trimesh.visual.TextureVisuals(
            material=trimesh.visual.material.PBRMaterial(
                name=paint,
                baseColorFactor=[*hex_to_linear(color), 1.0],
                metallicFactor=0.0,
                roughnessFactor=roughness,
            )
        )
        scene.add_geometry(mesh, node_name=paint, geom_name=paint)
    return bytes(scene.export(file_type="glb"))


def _parts() -> Iterator[tuple[str, trimesh.Trimesh]]:
    """Every part in stage axes, with its paint."""
    long, middle = FAR_M - NEAR_M, (FAR_M + NEAR_M) / 2
    yield "floor", _box((2 * HALF_WIDTH_M, long, 0.1), (0, middle, -0.05))
    yield "plaster", _box((2 * HALF_WIDTH_M, 0.2, HEIGHT_M), (0, NEAR_M, HEIGHT_M / 2))
    for side in (-1, 1):
        yield "plaster", _box((0.2, long, HEIGHT_M), (side * HALF_WIDTH_M, middle, HEIGHT_M / 2))
    yield "lawn", _box((60, 40, 0.1), (0, FAR_M + 20.2, -0.06))
    for y in np.arange(NEAR_M + 1.5, FAR_M, 3.0):
        yield "timber", _box((2 * HALF_WIDTH_M, 0.18, 0.25), (0, y, HEIGHT_M - 0.1))
    for x in np.linspace(-HALF_WIDTH_M, HALF_WIDTH_M, 7):
        yield "frame", _box((0.12, 0.12, HEIGHT_M), (x, FAR_M, HEIGHT_M / 2))
    for z in (0.5, 2.4, HEIGHT_M - 0.1):
        yield "frame", _box((2 * HALF_WIDTH_M, 0.1, 0.12), (0, FAR_M, z))
    for side in (-1, 1):
        bench_x = side * (HALF_WIDTH_M - 0.7)
        yield "timber", _box((0.9, 5.0, 0.08), (bench_x, 6.0, 0.85))
        for y in (3.8, 8.2):
            yield "timber", _box((0.7, 0.1, 0.85), (bench_x, y, 0.42))
        for number, y in enumerate(np.linspace(4.0, 8.0, 5)):
            yield from _plant((bench_x, y, 0.89), 0.32 + 0.06 * (number % 3))
    for x, y, size in TUBS:
        yield from _plant((x, y, 0.0), size)


def _plant(foot_m: tuple[float, float, float], size_m: float) -> Iterator[tuple[str, trimesh.Trimesh]]:
    x, y, z = foot_m
    pot = trimesh.creation.cylinder(radius=0.3 * size_m, height=0.5 * size_m, sections=24)
    pot.apply_translation((x, y, z + 0.25 * size_m))
    yield "terracotta", pot
    for dx, dy, dz, radius in ((0, 0, 0.95, 0.5), (0.25, 0.1, 1.25, 0.35), (-0.22, -0.12, 1.3, 0.33)):
        ball = trimesh.creation.icosphere(subdivisions=3, radius=radius * size_m)
        ball.apply_translation((x + dx * size_m, y + dy * size_m, z + dz * size_m))
        yield "leaves", ball


def _box(size_m: tuple[float, float, float], centre_m: tuple[float, float, float]) -> trimesh.Trimesh:
    box = trimesh.creation.box(extents=size_m)
    box.apply_translation(centre_m)
    return box
