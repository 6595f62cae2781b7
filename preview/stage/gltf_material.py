"""glTF materials and textures as the stage's own ``Material`` and ``Texture`` values.

Sources: glTF 2.0 (ISO/IEC 12113:2022), clauses 3.8 and 3.9; Khronos extensions KHR_materials_unlit,
KHR_materials_emissive_strength, KHR_texture_transform, KHR_materials_transmission, and the archived
KHR_materials_pbrSpecularGlossiness.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any, Literal

import numpy as np

from preview.conventions import Array
from preview.stage.gltf_file import GltfFile, Json
from preview.stage.mesh import Material, Texture
from preview.stage.notes import Notes

GLASS_ALPHA = 0.25
"""Opacity left where light is fully transmitted, so that glass stays visible. Our choice, no source."""

_ALPHA_MODES: dict[str, Literal["opaque", "mask", "blend"]] = {
    "OPAQUE": "opaque", "MASK": "mask", "BLEND": "blend",
}  # fmt: skip
_WRAPS: dict[int, Literal["repeat", "clamp", "mirror"]] = {10497: "repeat", 33071: "clamp", 33648: "mirror"}
_NEAREST = 9728
_IMAGE_EXTENSIONS = ("EXT_texture_webp", "EXT_texture_avif")


class MaterialReader:
    """Reads each material of a file once, so that parts sharing one share the object too."""

    def __init__(self, file: GltfFile, notes: Notes, default: Material):
        self._file, self._notes, self._default = file, notes, default
        self._materials: dict[int, Material] = {}
        self._textures: dict[tuple[str, bool], Texture | None] = {}

    def material(self, index: int | None) -> Material:
        """Material ``index``, or the default for a primitive that names none."""
        if index is None:
            self._notes.add("parts without a material are drawn in a plain matt one")
            return self._default
        if index not in self._materials:
            entry = self._file.item("materials", index)
            before, self._file.where = self._file.where, f"materials[{index}]"
            self._materials[index] = self._read(entry)
            self._file.where = before
        return self._materials[index]

    def _read(self, entry: Json) -> Material:
        extensions: Json = entry.get("extensions", {})
        surface: Json = entry.get("pbrMetallicRoughness", {})
        red, green, blue, alpha = _numbers(surface.get("baseColorFactor"), (1.0, 1.0, 1.0, 1.0))
        strength = float(extensions.get("KHR_materials_emissive_strength", {}).get("emissiveStrength", 1.0))
        glow = _numbers(entry.get("emissiveFactor"), (0.0, 0.0, 0.0))
        normal: Json = entry.get("normalTexture", {})
        occlusion: Json = entry.get("occlusionTexture", {})
        mode = entry.get("alphaMode", "OPAQUE")
        if mode not in _ALPHA_MODES:
            raise self._file.error(f"alphaMode {mode!r} is none of {', '.join(_ALPHA_MODES)}")
        material = Material(
            name=str(entry.get("name", "")),
            base_color=(red, green, blue, alpha),
            base_color_texture=self._texture(surface.get("baseColorTexture"), srgb=True),
            metallic=float(surface.get("metallicFactor", 1.0)),
            roughness=float(surface.get("roughnessFactor", 1.0)),
            metallic_roughness_texture=self._texture(surface.get("metallicRoughnessTexture"), srgb=False),
            normal_texture=self._texture(normal or None, srgb=False),
            normal_scale=float(normal.get("scale", 1.0)),
            occlusion_texture=self._texture(occlusion or None, srgb=False),
            occlusion_strength=float(occlusion.get("strength", 1.0)),
            emissive=(glow[0] * strength, glow[1] * strength, glow[2] * strength),
            emissive_texture=self._texture(entry.get("emissiveTexture"), srgb=True),
            alpha_mode=_ALPHA_MODES[mode],
            alpha_cutoff=float(entry.get("alphaCutoff", 0.5)),
            double_sided=bool(entry.get("doubleSided", False)),
            unlit="KHR_materials_unlit" in extensions,
        )
        if material.unlit:
            # An unlit surface shows its base colour and nothing else.
            material = replace(material, emissive=(0.0, 0.0, 0.0), emissive_texture=None)
        if "KHR_materials_pbrSpecularGlossiness" in extensions:
            material = self._from_glossiness(material, extensions["KHR_materials_pbrSpecularGlossiness"])
        if "KHR_materials_transmission" in extensions:
            material = self._from_transmission(material, extensions["KHR_materials_transmission"])
        return material

    def _from_glossiness(self, material: Material, gloss: Json) -> Material:
        self._notes.add(
            "specular-glossiness materials are drawn as non-metals with their diffuse colour "
            "(roughness = 1 - glossiness); specular colours and their textures are left out"
        )
        red, green, blue, alpha = _numbers(gloss.get("diffuseFactor"), (1.0, 1.0, 1.0, 1.0))
        return replace(
            material,
            base_color=(red, green, blue, alpha),
            base_color_texture=self._texture(gloss.get("diffuseTexture"), srgb=True),
            metallic=0.0,
            roughness=1.0 - float(gloss.get("glossinessFactor", 1.0)),
            metallic_roughness_texture=None,
        )

    def _from_transmission(self, material: Material, glass: Json) -> Material:
        share = float(glass.get("transmissionFactor", 0.0))
        if share <= 0 or material.alpha_mode == "mask":
            return material
        self._notes.add("transmission (glass) is drawn as see-through blending, without refraction or blur")
        red, green, blue, alpha = material.base_color
        kept = (alpha if material.alpha_mode == "blend" else 1.0) * (1 - share * (1 - GLASS_ALPHA))
        return replace(material, base_color=(red, green, blue, kept), alpha_mode="blend")

    def _texture(self, info: Json | None, srgb: bool) -> Texture | None:
        if info is None:
            return None
        key = (repr(sorted(info.items(), key=lambda pair: pair[0])), srgb)
        if key not in self._textures:
            self._textures[key] = self._read_texture(info, srgb)
        return self._textures[key]

    def _read_texture(self, info: Json, srgb: bool) -> Texture | None:
        texture = self._file.item("textures", info.get("index"))
        source = texture.get("source")
        extensions: Json = texture.get("extensions", {})
        for name in _IMAGE_EXTENSIONS:
            if name in extensions:
                source = extensions[name].get("source", source)
        if source is None:
            if "KHR_texture_basisu" in extensions:
                raise self._file.error(
                    "a texture exists only as KTX2/Basis Universal (KHR_texture_basisu)",
                    "export the textures as PNG or JPEG",
                )
            self._notes.add("textures without an image are left out")
            return None
        sampler: Json = self._file.item("samplers", texture["sampler"]) if "sampler" in texture else {}
        transform: Json = info.get("extensions", {}).get("KHR_texture_transform", {})
        uv_set = int(transform["texCoord"] if "texCoord" in transform else info.get("texCoord", 0))
        if uv_set not in (0, 1):
            self._notes.add(f"a texture uses texture coordinates {uv_set}; set 0 is used instead")
            uv_set = 0
        return Texture(
            image=self._file.image(source),
            srgb=srgb,
            wrap_s=_wrap(sampler, "wrapS"),
            wrap_t=_wrap(sampler, "wrapT"),
            nearest=sampler.get("magFilter") == _NEAREST,
            uv_transform=uv_matrix(transform),
            uv_set=uv_set,
        )


def uv_matrix(transform: Json) -> Array:
    """(3, 3) matrix of a KHR_texture_transform: offset @ rotation @ scale, applied to (u, v, 1).

    The rotation runs anticlockwise as seen in the picture. v points down, so its matrix is
    [[cos, sin], [-sin, cos]]: the extension's text and its worked example (lower left quadrant) say
    so, while its GLSL listing shows the transpose; viewers follow the text.
    """
    offset = _numbers(transform.get("offset"), (0.0, 0.0))
    scale = _numbers(transform.get("scale"), (1.0, 1.0))
    angle = float(transform.get("rotation", 0.0))
    turn = np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
    matrix = np.eye(3)
    matrix[:2, :2] = turn @ np.diag(scale)
    matrix[:2, 2] = offset
    return matrix


def _wrap(sampler: Json, key: str) -> Literal["repeat", "clamp", "mirror"]:
    return _WRAPS[sampler.get(key, 10497)]


def _numbers(values: Any, default: tuple[float, ...]) -> tuple[float, ...]:
    """``values`` as floats, as many as ``default`` has; ValueError otherwise."""
    if values is None:
        return default
    numbers = tuple(float(value) for value in values)
    if len(numbers) != len(default):
        raise ValueError(f"{len(numbers)} numbers where {len(default)} belong")
    return numbers
