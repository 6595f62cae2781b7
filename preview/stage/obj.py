"""Wavefront OBJ files with their .mtl materials, group by group.

Read here and not through a general loader because this needs the names of objects and groups (for
screens), and must say which material or texture file is missing; trimesh 5.2 drops the first, is
silent about the second, and counts relative indices from the end of the file.

Source: Wavefront "Object Files (.obj)" and "MTL material format", version 3.0 (1995), which define
neither units nor axes; ``Pr``, ``Pm``, ``Ke`` and ``norm`` are later common practice, no standard.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np
import numpy.typing as npt

from preview.colour import srgb_to_linear
from preview.conventions import Array
from preview.errors import AssetError
from preview.stage.assetfile import cannot_open, find_beside
from preview.stage.mesh import Material, MeshPart
from preview.stage.mtl import read_mtl
from preview.stage.notes import Notes
from preview.stage.polygon import triangulate
from preview.stage.primitive import Primitive, place_primitive

CREASE_DEG = 30.0

Corner = tuple[int, int, int]


@dataclass
class _Lists:
    """What the file's lines say, before it is turned into parts."""

    positions: list[list[float]] = field(default_factory=list)
    colors: dict[int, list[float]] = field(default_factory=dict)
    uvs: list[list[float]] = field(default_factory=list)
    normals: list[list[float]] = field(default_factory=list)
    faces: dict[tuple[str, str], list[list[Corner]]] = field(default_factory=lambda: defaultdict(list))
    libraries: list[str] = field(default_factory=list)


def load_obj(
    path: Path, stage_from_file: Array, default_material: Material, notes: Notes
) -> tuple[MeshPart, ...]:
    """Parts of an OBJ file, one for each object or group (whichever was named last) and material.

    Vertex colours (six numbers after ``v``) count as sRGB-coded. Faces without normals are shaded
    smooth up to edges of 30 degrees. Surfaces are seen from both sides, as OBJ knows no back.

    Raises
    ------
    AssetError : unreadable file, or a line that cannot be understood, with its number.
    """
    lists = _read_lines(path, notes)
    materials = _materials(path, lists.libraries, notes)
    positions = np.array(lists.positions, dtype=np.float64).reshape(-1, 3)
    uvs = np.array(lists.uvs, dtype=np.float64).reshape(-1, 2)
    normals = np.array(lists.normals, dtype=np.float64).reshape(-1, 3)
    colors = _colors(lists.colors, len(positions))
    parts, unknown = [], set()
    for (name, material_name), polygons in lists.faces.items():
        corners, triangles = triangulate(polygons, positions)
        vertices, inverse = np.unique(corners, axis=0, return_inverse=True)
        material = materials.get(material_name)
        if material is None:
            if material_name:
                unknown.add(material_name)
            base = default_material.base_color if colors is None else (1.0, 1.0, 1.0, 1.0)
            material = replace(default_material, name=material_name, base_color=base)
            materials[material_name] = material
        uv0 = None
        if np.any(vertices[:, 1] >= 0):
            uv0 = np.where(vertices[:, 1:2] >= 0, uvs[vertices[:, 1]], 0.0) * (1, -1) + (0, 1)
        primitive = Primitive(
            positions=positions[vertices[:, 0]],
            triangles=inverse.reshape(-1)[triangles],
            normals=normals[vertices[:, 2]] if np.all(vertices[:, 2] >= 0) else None,
            uv0=uv0,
            colors=None if colors is None else colors[vertices[:, 0]],
        )
        parts.append(place_primitive(primitive, stage_from_file, name, material, notes, CREASE_DEG))
    if unknown and (lists.libraries or materials):
        listed = ", ".join(sorted(unknown))
        notes.add(f"materials not described in any .mtl file are drawn plain: {listed}")
    return tuple(parts)


def _read_lines(path: Path, notes: Notes) -> _Lists:
    try:
        data = path.read_bytes()
    except OSError as error:
        raise AssetError(path, cannot_open(error), "check the name and the folder") from error
    if not data.strip():
        raise AssetError(path, "is empty", "export the scene again")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = data.decode("latin-1")
    lists, name, material, pending = _Lists(), path.stem, "", ""
    for number, line in enumerate(text.splitlines(), start=1):
        line = pending + line.split("#", 1)[0].strip()
        if line.endswith("\\"):
            pending = line[:-1] + " "
            continue
        pending = ""
        key, _, rest = line.partition(" ") if "\t" not in line else line.replace("\t", " ").partition(" ")
        try:
            if key == "v":
                values = [float(word) for word in rest.split()]
                if len(values) >= 6:
                    lists.colors[len(lists.positions)] = values[3:6]
                lists.positions.append(_exactly(values, 3))
            elif key == "vt":
                lists.uvs.append(_exactly([*(float(word) for word in rest.split()), 0.0], 2))
            elif key == "vn":
                lists.normals.append(_exactly([float(word) for word in rest.split()], 3))
            elif key == "f":
                corners = [_corner(word, lists) for word in rest.split()]
                if len(corners) < 3:
                    raise ValueError(f"a face has {len(corners)} corners")
                lists.faces[name, material].append(corners)
            elif key in ("o", "g"):
                name = rest.strip()
            elif key == "usemtl":
                material = rest.strip()
            elif key == "mtllib":
                lists.libraries.append(rest.strip())
            elif key in ("p", "l"):
                notes.add("points and lines are left out; only surfaces are drawn")
            elif key in ("curv", "curv2", "surf"):
                notes.add("free-form curves and surfaces are left out; export them as polygons")
        except ValueError as error:
            found = f"line {number} cannot be understood ({error}): {line[:60]!r}"
            raise AssetError(path, found, "export the file again as polygons") from error
    return lists


def _exactly(values: list[float], count: int) -> list[float]:
    if len(values) < count:
        raise ValueError(f"{len(values)} numbers where {count} belong")
    return values[:count]


def _corner(word: str, lists: _Lists) -> Corner:
    """Position, texture and normal index of ``7``, ``7/2``, ``7//5`` or ``7/2/5``; -1 where absent."""
    pieces = word.split("/")
    if len(pieces) > 3:
        raise ValueError(f"corner {word!r} has more than three numbers")
    counts = (len(lists.positions), len(lists.uvs), len(lists.normals))
    found = [-1, -1, -1]
    for place, piece in enumerate(pieces):
        if not piece and place:
            continue
        index = int(piece)
        found[place] = index - 1 if index > 0 else counts[place] + index
        if index == 0 or not 0 <= found[place] < counts[place]:
            kind = ("position", "texture coordinate", "normal")[place]
            raise ValueError(f"{kind} {index} of {counts[place]} so far")
    return found[0], found[1], found[2]


def _materials(path: Path, libraries: list[str], notes: Notes) -> dict[str, Material]:
    materials: dict[str, Material] = {}
    for library in libraries:
        # One line may name several files, but most that hold a space name one file with a space.
        whole = find_beside(path, library)
        files = [whole] if whole.is_file() else [find_beside(path, name) for name in library.split()]
        if not any(file.is_file() for file in files):
            files = [whole]
        for file in files:
            if file.is_file():
                materials.update(read_mtl(file, notes))
            else:
                notes.add(f"material file {file.name} does not exist; its materials are drawn plain")
    return materials


def _colors(written: dict[int, list[float]], count: int) -> npt.NDArray[np.float64] | None:
    if not written:
        return None
    colors = np.ones((count, 4))
    at = np.fromiter(written, dtype=np.int64)
    colors[at, :3] = srgb_to_linear(np.clip(np.array(list(written.values())), 0.0, 1.0))
    return colors
