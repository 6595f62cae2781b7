"""Builds every file under ``assets/glasshouse`` from nothing but this script and its workshop.

    python assets/build_glasshouse.py

The same machine writes the same bytes each time; the results are kept in the repository.
"""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
from workshop import callers, desk, fittings, garden, house, planting, sprigs, textures
from workshop.glb import GlbFile, Paint
from workshop.occlusion import Occluders, shaded
from workshop.plants import Grown, merge
from workshop.shapes import Shape, grid, join, place

OUT = Path(__file__).parent / "glasshouse"
SEED = 1851
SHAFT = 0.26
"""Coverage of a sun shaft along its middle."""
NOT_SHADED = {"hills", "globe", "glass", "shaft", "turf"}
STAGE_VOLUME = ((-5.0, -9.0, 0.02), (5.0, 5.5, 4.5))
UNTEXTURED = {"paint", "iron", "stem", "fruit", "globe", "glass", "zinc", "hills", "water"}


def paints(rng: np.random.Generator, shrink: int = 1) -> dict[str, Paint]:
    """Every material by name."""
    brick, brick_normal = textures.brick(rng)
    flags, flags_normal = textures.flagstones(rng)
    tiles, tiles_normal = textures.encaustic(rng)
    soil, soil_normal = textures.bark_chips(rng)
    leaves, _ = textures.foliage(rng)
    wood = textures.jpeg(textures.planks(rng))
    clay = textures.jpeg(textures.terracotta(rng))
    shingle = textures.jpeg(textures.gravel(rng), 80)
    turf = textures.jpeg(textures.turf(rng), 80)
    sheet = textures.jpeg(textures.leaf_sheet(), 88)
    cut_outs = sprigs.png(sprigs.sheet(np.random.default_rng(SEED + 11)), shrink)
    jpeg = textures.jpeg
    brick_jpeg, flags_jpeg = jpeg(brick), jpeg(flags, 84)
    materials = [
        Paint("paint", roughness=0.5),
        Paint("iron", roughness=0.45),
        Paint("zinc", roughness=0.35, metallic=0.25),
        Paint("stem", roughness=0.8),
        Paint("fruit", roughness=0.3),
        Paint("brick", texture=brick_jpeg, normal_texture=jpeg(brick_normal, 76), roughness=0.92),
        Paint("edging", texture=brick_jpeg, roughness=0.92),
        Paint("stone", texture=flags_jpeg, color=(0.95, 0.95, 0.92, 1), roughness=0.85),
        Paint("flags", texture=flags_jpeg, normal_texture=jpeg(flags_normal, 72), roughness=0.75),
        Paint("tiles", texture=jpeg(tiles, 84), normal_texture=jpeg(tiles_normal, 74), roughness=0.45),
        Paint("soil", texture=jpeg(soil, 80), normal_texture=jpeg(soil_normal, 70), roughness=0.95),
        Paint("shingle", texture=shingle, roughness=0.95),
        Paint("wood", texture=wood, roughness=0.7),
        Paint("terracotta", texture=clay, roughness=0.8),
        Paint("bark", texture=jpeg(textures.trunk(np.random.default_rng(SEED + 5)), 80), roughness=0.95),
        Paint("turf", texture=turf, roughness=0.95),
        Paint("hedge", texture=jpeg(leaves, 82), roughness=0.85, color=(1, 1, 1, 1)),
        Paint("leaf", texture=sheet, roughness=0.5, double_sided=True),
        Paint("sprig", texture=cut_outs, roughness=0.6, double_sided=True, cutoff=0.42, clamp=True),
        Paint("crown", texture=cut_outs, roughness=0.9, double_sided=True, cutoff=0.42, clamp=True),
        Paint(
            "sign",
            texture=jpeg(textures.sign(np.random.default_rng(SEED), "THE  GLASSHOUSE  HOUR"), 90),
            roughness=0.6,
            clamp=True,
        ),
        Paint("water", color=(0.03, 0.06, 0.05, 1), roughness=0.08),
        Paint("globe", color=(1, 0.93, 0.8, 1), emissive=(1.15, 0.88, 0.55), roughness=0.4),
        Paint("glass", color=(0.80, 0.92, 0.90, 0.07), roughness=0.08, blend=True, double_sided=True),
        Paint(
            "shaft",
            texture=sprigs.png(textures.shaft()),
            color=(1.0, 0.90, 0.70, SHAFT),
            unlit=True,
            blend=True,
            double_sided=True,
            clamp=True,
        ),
        Paint("hills", unlit=True, double_sided=True),
    ]
    return {
        paint.name: Paint(**{**paint.__dict__, "uses_uv": paint.name not in UNTEXTURED})
        for paint in materials
    }


def screen_paint(name: str) -> Paint:
    """Dark until the show puts a caller on it."""
    picture = textures.flat(64, (0.05, 0.07, 0.07))
    return Paint(name, texture=textures.jpeg(picture, 90), unlit=True, clamp=True)


def scene(rng: np.random.Generator) -> Grown:
    return merge(house.house(), fittings.fittings(), planting.planting(SEED), garden.garden(SEED + 7))


def build_scene() -> None:
    rng = np.random.default_rng(SEED)
    materials = paints(rng)
    shapes = {name: join(parts) for name, parts in scene(rng).items()}
    check(shapes)
    occluders = Occluders([shape for name, shape in shapes.items() if name not in NOT_SHADED])
    check_stage_is_free(shapes)
    shapes |= {"glass": house.glass(), "shaft": fittings.shafts()}
    file = GlbFile()
    total = 0
    order = sorted(shapes, key=lambda name: materials[name].blend)
    for name in order:
        shape = shapes[name]
        if name not in NOT_SHADED:
            green = name in ("leaf", "sprig", "crown", "hedge", "stem")
            tint = (0.9, 1.1, 0.75) if green else (1.05, 1.0, 0.9)
            shape = shaded(shape, occluders.openness(shape), 0.42 if green else 0.28, tint)
        print(f"{name:12} {len(shape.triangles):7} triangles {len(shape.positions):7} vertices")
        total += len(shape.triangles)
        file.add(name, materials[name], shape)
    for name, (where, pan) in fittings.SCREENS.items():
        file.add(name, screen_paint(name), fittings.screen_face().moved(place(where, pan)))
    print({name: len(paint.texture or b"") // 1000 for name, paint in materials.items() if paint.texture})
    print(
        {
            name: len(paint.normal_texture or b"") // 1000
            for name, paint in materials.items()
            if paint.normal_texture
        }
    )
    size = file.write(OUT / "glasshouse.glb")
    print(f"glasshouse.glb: {total} triangles, {size / 1e6:.2f} MB")


def write_shared_show() -> None:
    """The same show with every frustum on the wall at once, from show.toml.

    Its edge lines are twice the default width, so that they read in pictures of the whole wall.
    """
    text = (OUT / "show.toml").read_text(encoding="utf-8")
    switched = 'mode = "switched"'
    if text.count(switched) != 1:
        raise SystemExit(f"show.toml: {switched} is expected once")
    shared = 'mode = "shared"\nedge_width_mm = 40.0'
    first = "# Written by build_glasshouse.py from show.toml: edit that one.\n"
    temporary = OUT / "show-shared.part"
    temporary.write_text(first + text.replace(switched, shared), encoding="utf-8")
    temporary.replace(OUT / "show-shared.toml")


def check(shapes: dict[str, Shape]) -> None:
    """Refuses degenerate faces and normals that look through their own surface."""
    for name, shape in shapes.items():
        corner = shape.positions[shape.triangles]
        face = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
        area = np.linalg.norm(face, axis=1)
        if (area < 1e-9).any():
            raise SystemExit(f"{name}: {(area < 1e-9).sum()} degenerate triangles")
        turned = ((face / area[:, None])[:, None] * shape.normals[shape.triangles]).sum(2) < -1e-6
        if turned.any():
            raise SystemExit(f"{name}: {turned.any(axis=1).sum()} triangles face against their normals")


def build_desk() -> None:
    rng = np.random.default_rng(SEED + 3)
    materials = paints(np.random.default_rng(SEED), shrink=2)
    shapes = {name: join(parts) for name, parts in desk.desk(rng).items()}
    check(shapes)
    ground = grid(np.linspace(-3, 3, 2), np.linspace(-3, 3, 2), 0.0)
    occluders = Occluders([*shapes.values(), ground])
    file = GlbFile()
    for name, shape in shapes.items():
        paint = replace(materials[name], normal_texture=None)
        file.add(name, paint, shaded(shape, occluders.openness(shape), 0.35))
    size = file.write(OUT / "desk.glb")
    print(f"desk.glb: {sum(len(s.triangles) for s in shapes.values())} triangles, {size / 1e6:.2f} MB")


def check_stage_is_free(shapes: dict[str, Shape]) -> None:
    """Refuses anything but the floor where people, desk and cameras stand: it would be drawn on the
    wall behind them although it belongs in front."""
    low, high = np.asarray(STAGE_VOLUME)
    for name, shape in shapes.items():
        corner = shape.positions[shape.triangles]
        weights = np.asarray([[i, j, 4 - i - j] for i in range(5) for j in range(5 - i)]) / 4
        points = np.einsum("wk,nkx->nwx", weights, corner).reshape(-1, 3)
        inside = ((points > low) & (points < high)).all(axis=1)
        if inside.any():
            raise SystemExit(f"{name}: reaches into the stage near {points[inside][0].round(2).tolist()}")


def main() -> None:
    OUT.mkdir(exist_ok=True)
    wanted = sys.argv[1:] or ["scene", "desk", "sky", "shared", "callers"]
    if "scene" in wanted:
        build_scene()
    if "desk" in wanted:
        build_desk()
    if "sky" in wanted:
        data = textures.jpeg(textures.sky(np.random.default_rng(SEED + 21)), 88)
        (OUT / "sky.part").write_bytes(data)
        (OUT / "sky.part").replace(OUT / "sky.jpg")
    if "shared" in wanted:
        write_shared_show()
    if "callers" in wanted:
        callers.write_still(OUT / "caller_2.png", callers.cai())
        callers.write_clip(OUT / "caller_1.mp4")


if __name__ == "__main__":
    main()
