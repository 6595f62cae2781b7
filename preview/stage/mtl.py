"""Materials of Wavefront .mtl files.

Source: Wavefront "MTL material format", version 3.0 (1995). Colours are taken as linear, as common
exporters write them (no source); the shininess exponent becomes a roughness of sqrt(2 / (Ns + 2)).
"""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import numpy as np

from preview.errors import AssetError
from preview.stage.assetfile import cannot_open, find_beside
from preview.stage.image import read_image
from preview.stage.mesh import Material, Texture
from preview.stage.notes import Notes

_OPTION_VALUES = {
    "-blendu": 1, "-blendv": 1, "-bm": 1, "-boost": 1, "-cc": 1, "-clamp": 1, "-imfchan": 1, "-mm": 2,
    "-texres": 1, "-type": 1, "-colorspace": 1,
}  # fmt: skip
_VECTOR_OPTIONS = ("-s", "-o", "-t")
_LEFT_OUT_MAPS = {
    "map_ka", "map_ks", "map_ns", "map_d", "map_pr", "map_pm", "map_bump", "bump", "disp", "refl",
}  # fmt: skip


def read_mtl(path: Path, notes: Notes) -> dict[str, Material]:
    """Materials of one file by name. Missing or unreadable textures become notes that name them.

    Raises
    ------
    AssetError : the file cannot be read, or a line cannot be understood.
    """
    try:
        text = path.read_bytes().decode("utf-8-sig", errors="replace")
    except OSError as error:
        raise AssetError(path, cannot_open(error), "check the name and the folder") from error
    materials: dict[str, Material] = {}
    current = ""
    for number, line in enumerate(text.splitlines(), start=1):
        words = line.split("#", 1)[0].split()
        if len(words) < 2:
            continue
        key, rest = words[0].lower(), line.split("#", 1)[0].strip()[len(words[0]) :].strip()
        if key == "newmtl":
            current = rest
            materials[current] = Material(name=rest, double_sided=True)
        elif current:
            try:
                materials[current] = _apply(materials[current], key, rest, path, notes)
            except ValueError as error:
                found = f"line {number} cannot be understood ({error}): {line.strip()[:60]!r}"
                raise AssetError(path, found, "correct the line or export the materials again") from error
    return {name: _finish(material, notes) for name, material in materials.items()}


def _apply(material: Material, key: str, rest: str, path: Path, notes: Notes) -> Material:
    red, green, blue, alpha = material.base_color
    if key in ("kd", "ke"):
        if not rest[0].isdigit() and rest[0] not in ".-+":
            notes.add(f"{key.capitalize()} colours written as {rest.split()[0]} are left out")
            return material
        numbers = [float(word) for word in rest.split()]
        color = (numbers[0], *numbers[1:3]) if len(numbers) >= 3 else (numbers[0],) * 3
        if key == "ke":
            return replace(material, emissive=(color[0], color[1], color[2]))
        return replace(material, base_color=(color[0], color[1], color[2], alpha))
    if key in ("d", "tr"):
        value = float(rest.split()[-1])  # "d -halo 0.5" has a word before the number
        opacity = value if key == "d" else 1.0 - value
        return replace(material, base_color=(red, green, blue, opacity))
    if key == "ns":
        return replace(material, roughness=math.sqrt(2 / (max(float(rest), 0.0) + 2)))
    if key == "pr":
        return replace(material, roughness=float(rest))
    if key == "pm":
        return replace(material, metallic=float(rest))
    if key in ("map_kd", "map_ke", "norm"):
        texture = _texture(rest, path, key != "norm", notes)
        if key == "norm":
            return replace(material, normal_texture=texture)
        if key == "map_ke":
            return replace(material, emissive_texture=texture)
        return replace(material, base_color_texture=texture)
    if key in _LEFT_OUT_MAPS:
        notes.add(f"textures of kind {key} are left out")
    return material


def _finish(material: Material, notes: Notes) -> Material:
    """Repairs two habits of exporters: a texture over a black colour, and an emission without one."""
    if material.base_color_texture is not None and not any(material.base_color[:3]):
        notes.add("textures over a black Kd are drawn over white")
        material = replace(material, base_color=(1.0, 1.0, 1.0, material.base_color[3]))
    if material.emissive_texture is not None and not any(material.emissive):
        material = replace(material, emissive=(1.0, 1.0, 1.0))
    texture = material.base_color_texture
    if material.base_color[3] < 1:
        return replace(material, alpha_mode="blend")
    if texture is not None and int(texture.image[..., 3].min()) < 255:
        return replace(material, alpha_mode="mask")
    return material


def _texture(rest: str, path: Path, srgb: bool, notes: Notes) -> Texture | None:
    words = rest.split()
    scale, offset, clamp = (1.0, 1.0), (0.0, 0.0), False
    while words and words[0].startswith("-") and len(words) > 1:
        option = words.pop(0).lower()
        if option in _VECTOR_OPTIONS:
            numbers: list[float] = []
            while len(words) > 1 and len(numbers) < 3 and _is_number(words[0]):
                numbers.append(float(words.pop(0)))
            if option == "-s" and numbers:
                scale = (numbers[0], numbers[1] if len(numbers) > 1 else 1.0)
            elif option == "-o" and numbers:
                offset = (numbers[0], numbers[1] if len(numbers) > 1 else 0.0)
            continue
        values = [words.pop(0) for _ in range(min(_OPTION_VALUES.get(option, 0), len(words) - 1))]
        clamp |= option == "-clamp" and values[:1] == ["on"]
    name = " ".join(words)
    file = find_beside(path, name)
    if not file.is_file():
        notes.add(f"texture {name} does not exist; its material is drawn without it")
        return None
    matrix = np.eye(3)
    matrix[0, 0], matrix[1, 1] = scale
    matrix[0, 2] = offset[0]
    matrix[1, 2] = 1.0 - scale[1] - offset[1]  # the file's v points up, ours down
    return Texture(
        image=read_image(file),
        srgb=srgb,
        wrap_s="clamp" if clamp else "repeat",
        wrap_t="clamp" if clamp else "repeat",
        uv_transform=matrix,
    )


def _is_number(word: str) -> bool:
    try:
        float(word)
    except ValueError:
        return False
    return True
