"""A glTF 2.0 file's container: its JSON, buffers, accessors and images, checked as they are read.

General loaders keep only part of what a scene file says (no light, emissive strength, unlit flag or
texture transform survives in trimesh 5.2, and vertex colours only sometimes), so the JSON is read here; the
numbers are views into the buffers, so little is copied.

Source: Khronos glTF 2.0 Specification (ISO/IEC 12113:2022), clauses 3.6 and 4.4.
"""

from __future__ import annotations

import base64
import binascii
import importlib
import json
import struct
from pathlib import Path
from typing import Any
from urllib.parse import unquote, unquote_to_bytes, urlparse

import numpy as np
import numpy.typing as npt

from preview.errors import AssetError
from preview.stage.assetfile import cannot_open, find_beside
from preview.stage.image import decode_image

Json = dict[str, Any]

COMPONENT_DTYPES = {5120: "<i1", 5121: "<u1", 5122: "<i2", 5123: "<u2", 5125: "<u4", 5126: "<f4"}
ELEMENT_SIZES = {"SCALAR": 1, "VEC2": 2, "VEC3": 3, "VEC4": 4, "MAT4": 16}
MOST_ELEMENTS = 100_000_000
REPAIR = "export the file again, or look it through with a glTF validator"

_GLB_MAGIC, _CHUNK_JSON, _CHUNK_BIN = b"glTF", 0x4E4F534A, 0x004E4942


class GltfFile:
    """One opened file. ``document`` is its JSON; ``where`` names the part being read, for errors."""

    def __init__(self, path: Path):
        self.path = path
        self.where = ""
        self._buffers: dict[int, memoryview] = {}
        self._images: dict[int, npt.NDArray[np.uint8]] = {}
        try:
            data = path.read_bytes()
        except OSError as error:
            raise AssetError(path, cannot_open(error), "check the name and the folder") from error
        if not data:
            raise AssetError(path, "is empty", "export the scene again")
        text, self._glb_buffer = self._split(data)
        self.document = self._parse(text)

    def error(self, found: str, fix: str = REPAIR) -> AssetError:
        """An AssetError that names this file and the part being read."""
        return AssetError(self.path, f"{self.where}: {found}" if self.where else found, fix)

    def item(self, kind: str, index: Any) -> Json:
        """Entry ``index`` of a top-level list such as ``"nodes"``; AssetError if there is none."""
        entries = self.document.get(kind, [])
        if isinstance(index, bool) or not isinstance(index, int) or not 0 <= index < len(entries):
            raise self.error(f"refers to {kind}[{index}], but the file has {len(entries)} {kind}")
        entry: Json = entries[index]
        return entry

    def view(self, index: Any) -> tuple[memoryview, int]:
        """Bytes of a buffer view and its byte stride (0: tightly packed)."""
        view = self.item("bufferViews", index)
        buffer = self._buffer(view["buffer"])
        start, length = int(view.get("byteOffset", 0)), int(view["byteLength"])
        if start < 0 or length < 0 or start + length > len(buffer):
            raise self.error(
                f"bufferViews[{index}] ends at byte {start + length}, but its buffer has {len(buffer)}",
                "the file is cut short or its .bin belongs to another export; export it again",
            )
        return buffer[start : start + length], int(view.get("byteStride", 0))

    def accessor(
        self, index: Any, *, whole: bool = False, normalized: bool | None = None
    ) -> npt.NDArray[Any]:
        """(count, size) values of an accessor, sparse ones filled in.

        Parameters
        ----------
        index : position in ``accessors``
        whole : the values are indices: int64; otherwise float64, normalised integers scaled to
            0..1 or -1..1 (clause 3.6.2.4)
        normalized : overrules the accessor's own flag
        """
        accessor = self.item("accessors", index)
        count, size = int(accessor["count"]), self._size(accessor)
        dtype = self._dtype(accessor["componentType"])
        if not 0 <= count <= MOST_ELEMENTS:
            raise self.error(f"accessors[{index}] has {count} elements (at most {MOST_ELEMENTS})")
        if "bufferView" in accessor:
            offset = int(accessor.get("byteOffset", 0))
            raw = self._elements(accessor["bufferView"], offset, count, size, dtype).copy()
        else:
            raw = np.zeros((count, size), dtype=dtype)
        if "sparse" in accessor:
            sparse = accessor["sparse"]
            changed, places, values = int(sparse["count"]), sparse["indices"], sparse["values"]
            place_dtype = self._dtype(places["componentType"])
            place_start = int(places.get("byteOffset", 0))
            at = self._elements(places["bufferView"], place_start, changed, 1, place_dtype)[:, 0]
            if changed and int(at.max()) >= count:
                raise self.error(f"accessors[{index}] changes element {int(at.max())} of {count}")
            value_start = int(values.get("byteOffset", 0))
            raw[at] = self._elements(values["bufferView"], value_start, changed, size, dtype)
        flag = accessor.get("normalized", False) if normalized is None else normalized
        return as_numbers(raw, bool(flag), whole)

    def image(self, index: Any) -> npt.NDArray[np.uint8]:
        """(h, w, 4) uint8 pixels of ``images[index]``, row 0 at the top."""
        entry = self.item("images", index)
        if index not in self._images:
            if "bufferView" in entry:
                data, name = bytes(self.view(entry["bufferView"])[0]), f"{self.path} images[{index}]"
            else:
                data, name = self._resource(entry.get("uri"), f"images[{index}]")
            self._images[index] = decode_image(data, name, upright=False)
        return self._images[index]

    def draco(self, extension: Json) -> tuple[npt.NDArray[np.int32], dict[str, npt.NDArray[Any]]]:
        """Triangles (m, 3) and raw attribute arrays of a KHR_draco_mesh_compression primitive.

        Raises
        ------
        ImportError : the DracoPy package is not installed.
        AssetError : the compressed data cannot be decoded.
        """
        decoder = importlib.import_module("DracoPy")
        try:
            mesh = decoder.decode(bytes(self.view(extension["bufferView"])[0]))
            attributes = {
                name: np.asarray(mesh.get_attribute_by_unique_id(identity)["data"])
                for name, identity in extension["attributes"].items()
            }
            return np.asarray(mesh.faces, dtype=np.int32).reshape(-1, 3), attributes
        except AssetError:
            raise
        except Exception as error:  # the decoder raises bare exceptions of several kinds
            raise self.error(
                f"its Draco data cannot be decoded ({error})", "export it without Draco"
            ) from error

    def _elements(
        self, view_index: Any, offset: int, count: int, size: int, dtype: np.dtype[Any]
    ) -> npt.NDArray[Any]:
        data, stride = self.view(view_index)
        item = dtype.itemsize * size
        step = stride or item
        if count < 0 or offset < 0 or (count and offset + step * (count - 1) + item > len(data)):
            raise self.error(
                f"{count} elements of {item} bytes do not fit in bufferViews[{view_index}] "
                f"({len(data)} bytes, from byte {offset}, every {step})"
            )
        strides = (step, dtype.itemsize)
        return np.ndarray(
            (count, size), dtype=dtype, buffer=data, offset=offset if count else 0, strides=strides
        )

    def _dtype(self, component_type: Any) -> np.dtype[Any]:
        if component_type not in COMPONENT_DTYPES:
            known = ", ".join(str(code) for code in COMPONENT_DTYPES)
            raise self.error(f"component type {component_type!r} is none of {known}")
        return np.dtype(COMPONENT_DTYPES[component_type])

    def _size(self, accessor: Json) -> int:
        kind = accessor["type"]
        if kind not in ELEMENT_SIZES:
            raise self.error(f"accessor type {kind!r} is none of {', '.join(ELEMENT_SIZES)}")
        return ELEMENT_SIZES[kind]

    def _buffer(self, index: Any) -> memoryview:
        entry = self.item("buffers", index)
        if index not in self._buffers:
            if "uri" in entry:
                data, _ = self._resource(entry["uri"], f"buffers[{index}]")
                self._buffers[index] = memoryview(data)
            elif index == 0 and self._glb_buffer is not None:
                self._buffers[index] = self._glb_buffer
            else:
                raise self.error(f"buffers[{index}] has neither a uri nor data in the file")
            length = int(entry["byteLength"])
            if len(self._buffers[index]) < length:
                raise self.error(
                    f"buffers[{index}] should have {length} bytes and has {len(self._buffers[index])}",
                    "the file is cut short; copy or export it again",
                )
        return self._buffers[index]

    def _resource(self, uri: Any, what: str) -> tuple[bytes, str]:
        if not isinstance(uri, str) or not uri:
            raise self.error(f"{what} has neither a uri nor a buffer view")
        if uri.startswith("data:"):
            head, comma, body = uri.partition(",")
            if not comma:
                raise self.error(f"{what} has a data: URI without data")
            try:
                data = base64.b64decode(unquote(body)) if head.endswith(";base64") else unquote_to_bytes(body)
            except (binascii.Error, ValueError) as error:
                raise self.error(f"{what} has a data: URI that is not base64 ({error})") from error
            return data, f"{self.path} {what}"
        if urlparse(uri).scheme in ("http", "https", "ftp"):
            raise self.error(f"{what} is on a network ({uri})", "download it and refer to the copy")
        found = find_beside(self.path, uri)
        try:
            return found.read_bytes(), str(found)
        except OSError as error:
            fix = f"put it beside {self.path.name} under that name, or export the scene as one .glb file"
            raise AssetError(found, f"{cannot_open(error)} ({what} of {self.path})", fix) from error

    def _split(self, data: bytes) -> tuple[bytes, memoryview | None]:
        """JSON bytes, and the binary chunk of a GLB (clause 4.4)."""
        if data[:4] != _GLB_MAGIC:
            return data, None
        if len(data) < 20:
            raise AssetError(
                self.path, f"is a GLB cut short after {len(data)} bytes", "copy or export it again"
            )
        version, length = struct.unpack_from("<II", data, 4)
        if version != 2:
            raise AssetError(self.path, f"is GLB version {version}", "export it as glTF 2.0")
        if length > len(data):
            found = f"is a GLB cut short: {len(data)} of {length} bytes"
            raise AssetError(self.path, found, "copy or export it again")
        text: bytes | None = None
        binary: memoryview | None = None
        place = 12
        while place + 8 <= length:
            size, kind = struct.unpack_from("<II", data, place)
            chunk = memoryview(data)[place + 8 : place + 8 + size]
            if text is None and kind == _CHUNK_JSON:
                text = bytes(chunk)
            elif binary is None and kind == _CHUNK_BIN:
                binary = chunk
            place += 8 + size + (-size % 4)
        if text is None:
            raise AssetError(self.path, "is a GLB without a JSON chunk", REPAIR)
        return text, binary

    def _no_number(self, word: str) -> float:
        raise AssetError(self.path, f"is not glTF: it holds {word} where a number belongs", REPAIR)

    def _parse(self, text: bytes) -> Json:
        try:
            document = json.loads(text.decode("utf-8-sig"), parse_constant=self._no_number)
        except UnicodeDecodeError as error:
            raise AssetError(self.path, "is not glTF: it is no UTF-8 text", REPAIR) from error
        except RecursionError as error:
            raise AssetError(self.path, "is not glTF: its JSON is nested too deeply", REPAIR) from error
        except json.JSONDecodeError as error:
            found = f"is not glTF: line {error.lineno}, column {error.colno} is not JSON ({error.msg})"
            raise AssetError(self.path, found, REPAIR) from error
        asset = document.get("asset") if isinstance(document, dict) else None
        version = asset.get("version") if isinstance(asset, dict) else None
        if not isinstance(version, str):
            raise AssetError(
                self.path, "is JSON without glTF's asset.version", "export the scene as glTF 2.0"
            )
        if not version.startswith("2."):
            raise AssetError(self.path, f"is glTF {version}", "export it as glTF 2.0")
        parsed: Json = document
        return parsed


def as_numbers(raw: npt.NDArray[Any], normalized: bool, whole: bool = False) -> npt.NDArray[Any]:
    """Stored components as int64 (``whole``) or float64, normalised integers scaled (3.6.2.4)."""
    if whole:
        return raw.astype(np.int64)
    if normalized and raw.dtype.kind in "iu":
        return np.maximum(raw / float(np.iinfo(raw.dtype).max), -1.0)
    return raw.astype(np.float64)
