"""Writes glTF 2.0 binary files. Source: Khronos glTF 2.0 specification, chapters 3 and 4."""

from __future__ import annotations

import json
import struct
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

from .shapes import Shape

LARGEST_U16 = 65_535
FLOAT, U8, U16 = 5126, 5121, 5123
ARRAY_BUFFER, ELEMENT_BUFFER = 34962, 34963


@dataclass(frozen=True)
class Paint:
    """A glTF material. ``texture`` is encoded PNG or JPEG."""

    name: str
    color: tuple[float, float, float, float] = (1.0, 1.0, 1.0, 1.0)
    texture: bytes | None = None
    normal_texture: bytes | None = None
    normal_scale: float = 1.0
    roughness: float = 0.9
    metallic: float = 0.0
    emissive: tuple[float, float, float] = (0.0, 0.0, 0.0)
    emissive_is_texture: bool = False
    double_sided: bool = False
    blend: bool = False
    cutoff: float = 0.0
    unlit: bool = False
    clamp: bool = False
    uses_uv: bool = True


@dataclass
class GlbFile:
    """Collects nodes, then writes one file. Positions turn from stage axes to glTF's Y up."""

    document: dict[str, Any] = field(default_factory=dict)
    data: bytearray = field(default_factory=bytearray)

    def __post_init__(self) -> None:
        self.document = {
            "asset": {"version": "2.0", "generator": "build_glasshouse.py"},
            "scene": 0,
            "scenes": [{"nodes": []}],
            "nodes": [],
            "meshes": [],
            "accessors": [],
            "bufferViews": [],
            "materials": [],
        }
        self._materials: dict[str, int] = {}
        self._images: dict[bytes, int] = {}

    def _view(self, data: bytes, target: int | None = None) -> int:
        self.data.extend(b"\0" * (-len(self.data) % 4))
        view: dict[str, Any] = {"buffer": 0, "byteOffset": len(self.data), "byteLength": len(data)}
        if target:
            view["target"] = target
        self.data.extend(data)
        self.document["bufferViews"].append(view)
        return len(self.document["bufferViews"]) - 1

    def _accessor(self, array: np.ndarray, kind: str, component: int, **extra: Any) -> int:
        element = kind == "SCALAR"
        accessor = {
            "bufferView": self._view(array.tobytes(), ELEMENT_BUFFER if element else ARRAY_BUFFER),
            "componentType": component,
            "count": len(array),
            "type": kind,
            **extra,
        }
        self.document["accessors"].append(accessor)
        return len(self.document["accessors"]) - 1

    def _texture(self, data: bytes, clamp: bool) -> int:
        lists = self.document
        for key in ("images", "textures"):
            lists.setdefault(key, [])
        lists.setdefault(
            "samplers",
            [
                {"magFilter": 9729, "minFilter": 9987, "wrapS": 10497, "wrapT": 10497},
                {"magFilter": 9729, "minFilter": 9987, "wrapS": 33071, "wrapT": 33071},
            ],
        )
        if data not in self._images:
            mime = "image/png" if data.startswith(b"\x89PNG") else "image/jpeg"
            lists["images"].append({"bufferView": self._view(data), "mimeType": mime})
            self._images[data] = len(lists["images"]) - 1
        texture = {"source": self._images[data], "sampler": int(clamp)}
        if texture not in lists["textures"]:
            lists["textures"].append(texture)
        return int(lists["textures"].index(texture))

    def _material(self, paint: Paint) -> int:
        if paint.name in self._materials:
            return self._materials[paint.name]
        surface: dict[str, Any] = {
            "baseColorFactor": list(paint.color),
            "metallicFactor": paint.metallic,
            "roughnessFactor": paint.roughness,
        }
        material: dict[str, Any] = {"name": paint.name, "pbrMetallicRoughness": surface}
        if paint.texture:
            reference = {"index": self._texture(paint.texture, paint.clamp)}
            surface["baseColorTexture"] = reference
            if paint.emissive_is_texture:
                material["emissiveTexture"] = reference
        if paint.normal_texture:
            material["normalTexture"] = {
                "index": self._texture(paint.normal_texture, paint.clamp),
                "scale": paint.normal_scale,
            }
        if any(paint.emissive):
            material["emissiveFactor"] = [min(value, 1.0) for value in paint.emissive]
            strength = max(paint.emissive)
            if strength > 1.0:
                material["emissiveFactor"] = [value / strength for value in paint.emissive]
                material["extensions"] = {"KHR_materials_emissive_strength": {"emissiveStrength": strength}}
                self._extension("KHR_materials_emissive_strength")
        if paint.double_sided:
            material["doubleSided"] = True
        if paint.blend:
            material["alphaMode"] = "BLEND"
        if paint.cutoff:
            material["alphaMode"], material["alphaCutoff"] = "MASK", paint.cutoff
        if paint.unlit:
            material.setdefault("extensions", {})["KHR_materials_unlit"] = {}
            self._extension("KHR_materials_unlit")
        self.document["materials"].append(material)
        self._materials[paint.name] = len(self.document["materials"]) - 1
        return self._materials[paint.name]

    def _extension(self, name: str) -> None:
        used = self.document.setdefault("extensionsUsed", [])
        if name not in used:
            used.append(name)

    def add(self, name: str, paint: Paint, shape: Shape) -> None:
        """Adds a node, in as many primitives as 16-bit indices need."""
        primitives = []
        for piece in _pieces(shape):
            positions = _y_up(piece.positions).astype("<f4")
            normals = _y_up(piece.normals).astype("<f4")
            normals /= np.linalg.norm(normals, axis=1, keepdims=True)
            attributes = {
                "POSITION": self._accessor(
                    positions, "VEC3", FLOAT, min=positions.min(0).tolist(), max=positions.max(0).tolist()
                ),
                "NORMAL": self._accessor(normals, "VEC3", FLOAT),
            }
            if paint.uses_uv:
                attributes["TEXCOORD_0"] = self._accessor(piece.uv.astype("<f4"), "VEC2", FLOAT)
            if not np.all(piece.colors == 1.0):
                rgba = np.full((len(piece.colors), 4), 255, np.uint8)
                rgba[:, :3] = np.round(np.clip(piece.colors, 0, 1) * 255)
                attributes["COLOR_0"] = self._accessor(rgba, "VEC4", U8, normalized=True)
            primitives.append(
                {
                    "attributes": attributes,
                    "indices": self._accessor(piece.triangles.astype("<u2").ravel(), "SCALAR", U16),
                    "material": self._material(paint),
                }
            )
        self.document["meshes"].append({"name": name, "primitives": primitives})
        self.document["nodes"].append({"name": name, "mesh": len(self.document["meshes"]) - 1})
        self.document["scenes"][0]["nodes"].append(len(self.document["nodes"]) - 1)

    def write(self, path: Path) -> int:
        """Writes the file and returns its size in bytes."""
        self.data.extend(b"\0" * (-len(self.data) % 4))
        self.document["buffers"] = [{"byteLength": len(self.data)}]
        text = json.dumps(self.document, separators=(",", ":")).encode()
        text += b" " * (-len(text) % 4)
        total = 12 + 8 + len(text) + 8 + len(self.data)
        blob = struct.pack("<4sII", b"glTF", 2, total)
        blob += struct.pack("<I4s", len(text), b"JSON") + text
        blob += struct.pack("<I4s", len(self.data), b"BIN\0") + bytes(self.data)
        temporary = path.with_suffix(".part")
        temporary.write_bytes(blob)
        temporary.replace(path)
        return total


def _y_up(vectors: np.ndarray) -> np.ndarray:
    return np.stack([vectors[:, 0], vectors[:, 2], -vectors[:, 1]], axis=1)


def _pieces(shape: Shape) -> list[Shape]:
    """Runs of triangles whose vertices fit 16-bit indices, unused vertices dropped."""
    pieces, start = [], 0
    triangles = shape.triangles
    while start < len(triangles):
        stop = len(triangles)
        while True:
            used = np.unique(triangles[start:stop])
            if len(used) <= LARGEST_U16:
                break
            stop = start + (stop - start) // 2
        local = np.searchsorted(used, triangles[start:stop])
        pieces.append(
            Shape(shape.positions[used], shape.normals[used], shape.uv[used], shape.colors[used], local)
        )
        start = stop
    return pieces
