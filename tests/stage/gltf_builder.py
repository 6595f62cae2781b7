"""Builds small glTF files for tests: arrays in, a .gltf with data: URIs (or a .glb) out."""

from __future__ import annotations

import base64
import io
import json
import struct
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image

COMPONENTS = {"int8": 5120, "uint8": 5121, "int16": 5122, "uint16": 5123, "uint32": 5125, "float32": 5126}
KINDS = {1: "SCALAR", 2: "VEC2", 3: "VEC3", 4: "VEC4", 16: "MAT4"}

QUAD = np.array([[0, 0, 0], [2, 0, 0], [2, 1, 0], [0, 1, 0]], dtype=np.float32)
"""A 2 x 1 card in glTF axes (Y up), its front towards +Z."""
QUAD_UV = np.array([[0, 1], [1, 1], [1, 0], [0, 0]], dtype=np.float32)
QUAD_NORMALS = np.array([[0, 0, 1]] * 4, dtype=np.float32)
QUAD_TRIANGLES = np.array([0, 1, 2, 0, 2, 3], dtype=np.uint16)


class Gltf:
    """A file under construction; ``document`` may be changed freely before ``save``."""

    def __init__(self) -> None:
        self.document: dict[str, Any] = {"asset": {"version": "2.0"}, "scene": 0, "scenes": [{"nodes": []}]}
        self.blob = b""

    def list(self, kind: str) -> list[Any]:
        return self.document.setdefault(kind, [])

    def append(self, kind: str, entry: dict[str, Any]) -> int:
        self.list(kind).append(entry)
        return len(self.list(kind)) - 1

    def view(self, data: bytes, stride: int = 0) -> int:
        self.blob += b"\0" * (-len(self.blob) % 4)
        entry = {"buffer": 0, "byteOffset": len(self.blob), "byteLength": len(data)}
        if stride:
            entry["byteStride"] = stride
        self.blob += data
        return self.append("bufferViews", entry)

    def accessor(self, array: Any, **extra: Any) -> int:
        array = np.ascontiguousarray(array)
        size = 1 if array.ndim == 1 else array.shape[1]
        entry = {
            "bufferView": self.view(array.tobytes()),
            "componentType": COMPONENTS[array.dtype.name],
            "count": len(array),
            "type": KINDS[size],
        }
        return self.append("accessors", entry | extra)

    def primitive(
        self, material: int | None = None, indices: Any = QUAD_TRIANGLES, **attributes: Any
    ) -> dict:
        """A primitive dictionary; attribute arrays by name, an int is an accessor already made."""
        attributes = {"POSITION": QUAD, **attributes}
        entry: dict[str, Any] = {
            "attributes": {
                name: value if isinstance(value, int) else self.accessor(value)
                for name, value in attributes.items()
                if value is not None
            }
        }
        if indices is not None:
            entry["indices"] = indices if isinstance(indices, int) else self.accessor(indices)
        if material is not None:
            entry["material"] = material
        return entry

    def mesh(self, *primitives: dict, **extra: Any) -> int:
        return self.append("meshes", {"primitives": list(primitives), **extra})

    def node(self, parent: int | None = None, **entry: Any) -> int:
        index = self.append("nodes", entry)
        if parent is None:
            self.document["scenes"][0]["nodes"].append(index)
        else:
            self.list("nodes")[parent].setdefault("children", []).append(index)
        return index

    def material(self, **entry: Any) -> int:
        return self.append("materials", entry)

    def texture(self, pixels: np.ndarray, sampler: dict[str, int] | None = None) -> int:
        entry = {"source": self.append("images", {"uri": png_uri(pixels)})}
        if sampler is not None:
            entry["sampler"] = self.append("samplers", sampler)
        return self.append("textures", entry)

    def use(self, *extensions: str, required: bool = False) -> None:
        self.list("extensionsUsed").extend(extensions)
        if required:
            self.list("extensionsRequired").extend(extensions)

    def save(self, path: Path, *, bin_name: str | None = None) -> Path:
        """Write .gltf (binary data inside, or in ``bin_name`` beside it) or .glb, by suffix."""
        document = dict(self.document)
        if self.blob:
            document.setdefault("buffers", [{"byteLength": len(self.blob)}])
        if path.suffix == ".glb":
            path.write_bytes(glb(document, self.blob))
            return path
        if self.blob and bin_name is not None:
            (path.parent / bin_name).write_bytes(self.blob)
            document["buffers"][0].setdefault("uri", bin_name)
        elif self.blob:
            coded = base64.b64encode(self.blob).decode()
            document["buffers"][0].setdefault("uri", f"data:application/octet-stream;base64,{coded}")
        path.write_text(json.dumps(document))
        return path


def glb(document: dict[str, Any], blob: bytes) -> bytes:
    text = json.dumps(document).encode()
    text += b" " * (-len(text) % 4)
    blob += b"\0" * (-len(blob) % 4)
    chunks = struct.pack("<II", len(text), 0x4E4F534A) + text
    if blob:
        chunks += struct.pack("<II", len(blob), 0x004E4942) + blob
    return struct.pack("<4sII", b"glTF", 2, 12 + len(chunks)) + chunks


def png_bytes(pixels: np.ndarray) -> bytes:
    data = io.BytesIO()
    Image.fromarray(pixels).save(data, format="PNG")
    return data.getvalue()


def png_uri(pixels: np.ndarray) -> str:
    return "data:image/png;base64," + base64.b64encode(png_bytes(pixels)).decode()


def quad_file(path: Path, **node: Any) -> Path:
    """A file with one card named "Card"."""
    gltf = Gltf()
    gltf.node(name="Card", mesh=gltf.mesh(gltf.primitive(TEXCOORD_0=QUAD_UV)), **node)
    return gltf.save(path)
