"""Mesh files of every kind this program reads, as a ``SceneMesh`` in stage coordinates.

glTF and GLB keep materials, lights and names (``preview.stage.gltf``); OBJ keeps groups and .mtl
materials (``preview.stage.obj``); PLY and STL come through trimesh and bring shape, PLY also
colours and one texture.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection
from dataclasses import replace
from pathlib import Path

import numpy as np
import numpy.typing as npt
import trimesh

from preview.colour import srgb8_to_linear
from preview.conventions import Array
from preview.errors import AssetError
from preview.stage.assetfile import cannot_open, find_beside, first_line
from preview.stage.gltf import load_gltf
from preview.stage.image import read_image
from preview.stage.mesh import Material, MeshPart, SceneMesh, Texture
from preview.stage.normals import area_normals
from preview.stage.notes import Notes
from preview.stage.obj import CREASE_DEG, load_obj
from preview.stage.primitive import Primitive, place_primitive

DEFAULT_MATERIAL = Material(name="", base_color=(0.4, 0.4, 0.4, 1.0), roughness=0.8, double_sided=True)
"""Plain matt grey for meshes that bring no material."""

_STL_HEADER, _STL_TRIANGLE = 84, 50

SUFFIXES = (".gltf", ".glb", ".obj", ".ply", ".stl")


def load_mesh_file(
    path: str | Path,
    stage_from_file: Array,
    *,
    default_material: Material = DEFAULT_MATERIAL,
    keep_names: Collection[str] = (),
) -> SceneMesh:
    """A mesh file placed on the stage, at rest, with as few parts as its materials allow.

    Parameters
    ----------
    path : .gltf, .glb, .obj, .ply or .stl
    stage_from_file : (4, 4), from the file's own units and axes to stage metres
        (``preview.stage.placement.placement_matrix``)
    default_material : for meshes that bring none
    keep_names : parts or materials with these names stay parts of their own

    Raises
    ------
    AssetError : the file is missing, broken, empty, has no area, has positions that are not finite
        numbers, or needs a glTF extension that cannot be read.
    """
    scene = read_mesh_file(path, stage_from_file, default_material=default_material)
    return replace(scene, parts=merge_parts(scene.parts, keep_names))


def read_mesh_file(
    path: str | Path, stage_from_file: Array, *, default_material: Material = DEFAULT_MATERIAL
) -> SceneMesh:
    """As ``load_mesh_file``, with every part of the file still by itself."""
    path = Path(path)
    suffix = path.suffix.lower()
    if suffix not in SUFFIXES:
        found = f"is a {suffix or 'nameless'} file, not one of {', '.join(SUFFIXES)}"
        raise AssetError(path, found, "export the mesh as .glb")
    notes = Notes(path.name)
    if suffix in (".gltf", ".glb"):
        scene = load_gltf(path, stage_from_file, default_material)
    elif suffix == ".obj":
        parts = load_obj(path, stage_from_file, default_material, notes)
        scene = SceneMesh(parts, notes=notes.sentences())
    else:
        parts = _load_plain(path, stage_from_file, default_material, notes)
        scene = SceneMesh(parts, notes=notes.sentences())
    return _checked(path, scene)


def merge_parts(parts: tuple[MeshPart, ...], keep_names: Collection[str] = ()) -> tuple[MeshPart, ...]:
    """Fewer parts that draw the same: those sharing a material become one, named after all of them.

    Parts stay as they are if they carry a screen, if their name or their material's is in
    ``keep_names``, or if they blend (the order of see-through parts matters).
    """
    groups: dict[object, list[MeshPart]] = defaultdict(list)
    for number, part in enumerate(parts):
        kept = part.name in keep_names or part.material.name in keep_names
        if part.screen or kept or part.material.alpha_mode == "blend":
            groups[number].append(part)
        else:
            shape = (part.uv0 is None, part.uv1 is None, part.colors is None)
            groups[id(part.material), shape].append(part)
    return tuple(members[0] if len(members) == 1 else _joined(members) for members in groups.values())


def _joined(parts: list[MeshPart]) -> MeshPart:
    starts = np.cumsum([0, *(len(part.positions) for part in parts[:-1])])
    triangles = [part.triangles + start for part, start in zip(parts, starts, strict=True)]
    first = parts[0]
    return replace(
        first,
        name=", ".join(dict.fromkeys(part.name for part in parts)),
        positions=np.concatenate([part.positions for part in parts]),
        normals=np.concatenate([part.normals for part in parts]),
        uv0=_stacked([part.uv0 for part in parts]),
        uv1=_stacked([part.uv1 for part in parts]),
        colors=_stacked([part.colors for part in parts]),
        triangles=np.concatenate(triangles).astype(np.int32),
    )


def _stacked(arrays: list[npt.NDArray[np.float32] | None]) -> npt.NDArray[np.float32] | None:
    present = [array for array in arrays if array is not None]
    return np.concatenate(present) if present else None


def _checked(path: Path, scene: SceneMesh) -> SceneMesh:
    """The scene without empty parts; AssetError if nothing drawable is left."""
    if not scene.parts:
        found = "has no surfaces (only points, lines or nothing at all)"
        raise AssetError(path, found, "export the mesh with its faces")
    parts, notes, flat = [], list(scene.notes), 0
    for part in scene.parts:
        if not np.all(np.isfinite(part.positions)):
            found = f"{part.name or 'its mesh'!r} has positions that are not finite numbers"
            raise AssetError(path, found, "repair the mesh in a modelling programme and export it again")
        if not np.any(area_normals(part.positions, part.triangles)):
            flat += 1
            continue
        for uv in (part.uv0, part.uv1):
            if uv is not None and not np.all(np.isfinite(uv)):
                found = f"{part.name or 'its mesh'!r} has texture coordinates that are not finite numbers"
                raise AssetError(path, found, "unwrap the mesh again in a modelling programme")
        parts.append(part)
    if not parts:
        found = "has no area: every triangle is flat"
        raise AssetError(path, found, "check its scale and export it again")
    if flat:
        count = "1 part" if flat == 1 else f"{flat} parts"
        notes.append(f"{path.name}: {count} without any area left out")
    return replace(scene, parts=tuple(parts), notes=tuple(notes))


def _load_plain(
    path: Path, stage_from_file: Array, default_material: Material, notes: Notes
) -> tuple[MeshPart, ...]:
    """Parts of a PLY or STL file, through trimesh.

    PLY colours count as sRGB-coded (the format does not say; common practice, no source).
    """
    kind = path.suffix[1:].upper()
    try:
        size = path.stat().st_size
        with path.open("rb") as opened:
            header = opened.read(4096)
    except OSError as error:
        raise AssetError(path, cannot_open(error), "check the name and the folder") from error
    if size == 0:
        raise AssetError(path, "is empty", "export the mesh again")
    if kind == "STL" and not header.lstrip().lower().startswith(b"solid"):
        # A binary STL of the wrong length would otherwise be read as text without any triangle.
        count = int.from_bytes(header[80:84], "little")
        if size != _STL_HEADER + _STL_TRIANGLE * count:
            needed = _STL_HEADER + _STL_TRIANGLE * count
            found = f"is damaged: {count} triangles take {needed} bytes and it has {size}"
            raise AssetError(path, found, "copy or export it again")
    try:
        loaded = trimesh.load_scene(path, process=False, skip_materials=True)
    except Exception as error:  # its readers raise bare exceptions of many kinds on broken files
        found = f"cannot be read as {kind} ({first_line(error)})"
        raise AssetError(path, found, "export the mesh again, best as .glb") from error
    texture = _ply_texture(path, header, notes) if kind == "PLY" else None
    parts = []
    for name, mesh in loaded.geometry.items():
        if not isinstance(mesh, trimesh.Trimesh) or not len(mesh.faces):
            notes.add("points without faces are left out; only surfaces are drawn")
            continue
        if mesh.faces.min() < 0 or mesh.faces.max() >= len(mesh.vertices):
            found = f"has a face with corner {int(mesh.faces.max())} of {len(mesh.vertices)}"
            raise AssetError(path, found, "export the mesh again")
        if kind == "STL":
            mesh.merge_vertices()  # every triangle of an STL file brings its own corners
        solid = mesh.metadata.get("name") or name
        part_name = path.stem if kind == "PLY" or solid.startswith(("geometry", path.name)) else solid
        primitive, colored = _plain_primitive(mesh)
        material = default_material
        if colored or (texture is not None and primitive.uv0 is not None):
            material = replace(default_material, base_color=(1.0, 1.0, 1.0, 1.0), base_color_texture=texture)
        parts.append(place_primitive(primitive, stage_from_file, part_name, material, notes, CREASE_DEG))
    return tuple(parts)


def _plain_primitive(mesh: trimesh.Trimesh) -> tuple[Primitive, bool]:
    positions = np.asarray(mesh.vertices, dtype=np.float64)
    triangles = np.asarray(mesh.faces, dtype=np.int64)
    raw = mesh.metadata.get("_ply_raw", {}).get("vertex", {})
    normals = None
    if "nx" in raw.get("properties", {}) and raw["length"] == len(positions):
        normals = np.asarray(mesh.vertex_normals, dtype=np.float64)
    visual, uv0, colors = mesh.visual, None, None
    if visual.kind == "texture" and visual.uv is not None:
        uv0 = np.asarray(visual.uv, dtype=np.float64) * (1, -1) + (0, 1)
    elif visual.kind == "vertex":
        colors = _linear_rgba(visual.vertex_colors)
    elif visual.kind == "face":
        corners = triangles.reshape(-1)
        colors = np.repeat(_linear_rgba(visual.face_colors), 3, axis=0)
        positions = positions[corners]
        normals = None if normals is None else normals[corners]
        triangles = np.arange(len(corners)).reshape(-1, 3)
    primitive = Primitive(positions=positions, triangles=triangles, normals=normals, uv0=uv0, colors=colors)
    return primitive, colors is not None


def _linear_rgba(coded: npt.NDArray[np.uint8]) -> Array:
    """Linear colours of 8-bit ones; alpha is dropped, as many scanners write zeros there."""
    linear = np.ones((len(coded), 4))
    linear[:, :3] = srgb8_to_linear(np.asarray(coded, dtype=np.uint8)[:, :3])
    return linear


def _ply_texture(path: Path, header: bytes, notes: Notes) -> Texture | None:
    """The texture that a header line ``comment TextureFile name`` asks for."""
    for line in header.split(b"end_header")[0].decode("latin-1").splitlines():
        words = line.strip().split(maxsplit=2)
        if len(words) == 3 and words[0] == "comment" and words[1].lower() == "texturefile":
            file = find_beside(path, words[2])
            if file.is_file():
                return Texture(image=read_image(file), srgb=True)
            notes.add(f"texture {words[2]} does not exist; the mesh is drawn without it")
    return None
