"""glTF 2.0 scenes (.gltf, .glb) as a ``SceneMesh`` in stage coordinates, in the rest pose.

What is read: every mesh instance with its materials and textures, punctual lights, names. Cameras
are counted only: a show has its own. What is approximated or left out becomes a note.

Sources: glTF 2.0 (ISO/IEC 12113:2022); KHR_lights_punctual, EXT_mesh_gpu_instancing,
KHR_node_visibility and the material extensions named in ``gltf_material``.
"""

from __future__ import annotations

import importlib.util
import math
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
from scipy.spatial.transform import Rotation

from preview.conventions import Array
from preview.errors import AssetError
from preview.stage.assetfile import first_line
from preview.stage.gltf_file import REPAIR, GltfFile, Json
from preview.stage.gltf_material import MaterialReader
from preview.stage.gltf_primitive import read_primitive, skin_matrices
from preview.stage.mesh import Light, Material, MeshPart, SceneMesh, Sky
from preview.stage.notes import Notes
from preview.stage.primitive import Primitive, place_primitive

_READ = {
    "KHR_lights_punctual", "KHR_materials_emissive_strength", "KHR_materials_unlit", "KHR_texture_transform",
    "KHR_mesh_quantization", "KHR_materials_pbrSpecularGlossiness", "KHR_materials_transmission",
    "KHR_draco_mesh_compression", "EXT_mesh_gpu_instancing", "EXT_texture_webp", "EXT_texture_avif",
    "KHR_node_visibility",
}  # fmt: skip
_LEFT_OUT = {
    "KHR_materials_clearcoat": "clear coat is left out",
    "KHR_materials_sheen": "sheen is left out",
    "KHR_materials_specular": "specular strength and colour are left out (4 % is reflected head on)",
    "KHR_materials_ior": "the index of refraction is left out (1.5 is used)",
    "KHR_materials_iridescence": "iridescence is left out",
    "KHR_materials_anisotropy": "anisotropy is left out",
    "KHR_materials_volume": "volume absorption is left out",
    "KHR_materials_dispersion": "dispersion is left out",
    "KHR_materials_diffuse_transmission": "light shining through thin surfaces is left out",
    "KHR_materials_variants": "material variants are left out; the first set is drawn",
    "KHR_xmp_json_ld": "its XMP metadata is not used",
    "KHR_animation_pointer": "animated properties stay at rest",
    "MSFT_lod": "coarser levels of detail are not used",
}
_COMPRESSED = {
    "EXT_meshopt_compression": ("its meshes are packed with meshopt", "export them without it"),
    "KHR_meshopt_compression": ("its meshes are packed with meshopt", "export them without it"),
    "KHR_texture_basisu": ("its textures are KTX2/Basis Universal", "export the textures as PNG or JPEG"),
}


def load_gltf(path: Path, stage_from_file: Array, default_material: Material) -> SceneMesh:
    """The file's default scene, one part for each primitive of each node, unmerged.

    Parameters
    ----------
    path : .gltf or .glb (told apart by content)
    stage_from_file : (4, 4), from the file's own metres and Y-up axes
    default_material : for primitives that name none

    Lights keep the look they have in the file when it is scaled: positions and ranges scale, and a
    point or spot light of I candela becomes I times the square of the scale. 1 lux and 1 candela
    are 1 unit of ``Light.intensity``.

    Raises
    ------
    AssetError : unreadable or broken file, or a required extension that cannot be read.
    """
    file = GltfFile(path)
    try:
        return _Scene(file, stage_from_file, default_material).build()
    except AssetError:
        raise
    except (KeyError, IndexError, TypeError, ValueError, AttributeError, OverflowError) as error:
        missing = isinstance(error, KeyError)
        what = f"has no {first_line(error)}" if missing else f"is not valid glTF 2.0 ({first_line(error)})"
        raise file.error(what, REPAIR) from error


class _Scene:
    """The walk over one file's nodes."""

    def __init__(self, file: GltfFile, stage_from_file: Array, default_material: Material):
        self.file = file
        self.stage_from_file = np.asarray(stage_from_file, dtype=np.float64)
        self.nodes: list[Json] = file.document.get("nodes", [])
        self.notes = Notes(file.path.name)
        self.materials = MaterialReader(file, self.notes, default_material)
        self.world: dict[int, Array] = {}
        self.primitives: dict[tuple[int, int, tuple[float, ...]], Primitive | None] = {}
        # Vertex colours multiply the material, so parts that bring only colours need a white one.
        self.white = replace(default_material, base_color=(1.0, 1.0, 1.0, 1.0))

    def build(self) -> SceneMesh:
        self._check_extensions()
        drawn = self._walk()
        parts: list[MeshPart] = []
        lights: list[Light] = []
        cameras = 0
        for index in drawn:
            node = self.nodes[index]
            name = self._name(index)
            self.file.where = f"nodes[{index}] {name!r}"
            if "mesh" in node:
                parts.extend(self._mesh(index, node, name))
            light = node.get("extensions", {}).get("KHR_lights_punctual", {}).get("light")
            if light is not None:
                lights.append(self._light(light, self.world[index], name))
            cameras += "camera" in node
        self.file.where = ""
        self._note_unused(cameras)
        return SceneMesh(tuple(parts), tuple(lights), Sky(), self.notes.sentences())

    def _check_extensions(self) -> None:
        document, path = self.file.document, self.file.path
        for name in document.get("extensionsRequired", []):
            if name in _COMPRESSED:
                what, fix = _COMPRESSED[name]
                raise AssetError(path, f"{what} ({name}), which cannot be read", fix)
            if name == "KHR_draco_mesh_compression" and importlib.util.find_spec("DracoPy") is None:
                found = "is compressed with Draco (KHR_draco_mesh_compression), and DracoPy is not installed"
                raise AssetError(path, found, "pip install DracoPy, or export the scene without Draco")
            if name not in _READ and name not in _LEFT_OUT:
                found = f"cannot be shown without the glTF extension {name}, which this program does not read"
                raise AssetError(path, found, "export the scene without it")
        for name in document.get("extensionsUsed", []):
            if name in _LEFT_OUT:
                self.notes.add(_LEFT_OUT[name])
            elif name in _COMPRESSED:
                self.notes.add(f"{name} is passed over in favour of the plain copy in the file")
            elif name not in _READ:
                self.notes.add(f"the glTF extension {name} is not read")

    def _walk(self) -> list[int]:
        """Nodes of the default scene, parents first; fills in the world matrix of every node."""
        scenes = self.file.document.get("scenes", [])
        children = {child for node in self.nodes for child in node.get("children", [])}
        roots = [index for index in range(len(self.nodes)) if index not in children]
        shown = set(roots)
        if scenes:
            shown = set(self.file.item("scenes", self.file.document.get("scene", 0)).get("nodes", []))
            for index in shown:
                self.file.item("nodes", index)
            if len(scenes) > 1:
                self.notes.add(f"one of its {len(scenes)} scenes is shown, the default one")
        drawn: list[int] = []
        stack = [(index, np.eye(4), index in shown) for index in reversed(roots)]
        while stack:
            index, parent, visible = stack.pop()
            self.file.where = "nodes"
            node = self.file.item("nodes", index)
            self.file.where = f"nodes[{index}]"
            if index in self.world:
                raise self.file.error(f"{self._name(index)!r} is its own ancestor or has two parents")
            self.world[index] = parent @ local_matrix(node)
            visible &= bool(node.get("extensions", {}).get("KHR_node_visibility", {}).get("visible", True))
            if visible:
                drawn.append(index)
            for child in reversed(node.get("children", [])):
                stack.append((child, self.world[index], visible or child in shown))
        if len(self.world) < len(self.nodes):
            lost = next(index for index in range(len(self.nodes)) if index not in self.world)
            self.file.where = f"nodes[{lost}]"
            raise self.file.error(f"{self._name(lost)!r} is its own ancestor")
        return drawn

    def _name(self, index: int) -> str:
        node = self.nodes[index]
        mesh = self.file.item("meshes", node["mesh"]) if "mesh" in node else {}
        return str(node.get("name") or mesh.get("name") or f"node {index}")

    def _mesh(self, index: int, node: Json, name: str) -> list[MeshPart]:
        mesh = self.file.item("meshes", node["mesh"])
        weights: list[float] = node["weights"] if "weights" in node else mesh.get("weights", [])
        morph = tuple(float(weight) for weight in weights)
        instances = [self.stage_from_file @ self.world[index] @ each for each in self._instances(node)]
        parts = []
        for number, entry in enumerate(mesh["primitives"]):
            self.file.where = f"meshes[{node['mesh']}].primitives[{number}] of {name!r}"
            key = (node["mesh"], number, morph)
            if key not in self.primitives:
                self.primitives[key] = read_primitive(self.file, entry, list(morph), self.notes)
            primitive = self.primitives[key]
            if primitive is None:
                continue
            material = self.materials.material(primitive.material)
            if primitive.material is None and primitive.colors is not None:
                material = self.white
            placings = instances
            if "skin" in node:
                placings = [skin_matrices(primitive, self._joints(node["skin"]))]
            parts += [place_primitive(primitive, each, name, material, self.notes) for each in placings]
        return parts

    def _instances(self, node: Json) -> list[Array]:
        """Matrices of EXT_mesh_gpu_instancing, or the identity alone."""
        attributes = node.get("extensions", {}).get("EXT_mesh_gpu_instancing", {}).get("attributes", {})
        columns = {key: self.file.accessor(attributes[key]) for key in _TRS if key in attributes}
        if not columns:
            return [np.eye(4)]
        count = len(next(iter(columns.values())))
        return [
            local_matrix({_TRS[key]: values[row] for key, values in columns.items()}) for row in range(count)
        ]

    def _joints(self, index: Any) -> Array:
        """(j, 4, 4) stage_from_mesh of each joint in the rest pose (clause 3.7.3)."""
        skin = self.file.item("skins", index)
        joints = skin["joints"]
        inverse_bind = np.tile(np.eye(4), (len(joints), 1, 1))
        if "inverseBindMatrices" in skin:
            stored = self.file.accessor(skin["inverseBindMatrices"])
            inverse_bind = stored.reshape(-1, 4, 4).transpose(0, 2, 1)[: len(joints)]
        world = np.stack([self.world[joint] for joint in joints])
        matrices: Array = self.stage_from_file @ world @ inverse_bind
        return matrices

    def _light(self, index: Any, world: Array, name: str) -> Light:
        extension = self.file.document.get("extensions", {}).get("KHR_lights_punctual", {})
        lights = extension.get("lights", [])
        if not isinstance(index, int) or not 0 <= index < len(lights):
            raise self.file.error(f"refers to light {index!r}, but the file has {len(lights)}")
        entry: Json = lights[index]
        kind = entry.get("type")
        if kind not in ("directional", "point", "spot"):
            raise self.file.error(f"light type {kind!r} is none of directional, point, spot")
        stage = self.stage_from_file @ world
        axis = stage[:3, :3] @ np.array([0.0, 0.0, -1.0])
        length = float(np.linalg.norm(axis))
        if kind != "point" and length == 0:
            raise self.file.error("a light on a node of zero scale shines nowhere", "remove it or its scale")
        direction = axis / length if length else np.array([0.0, 0.0, -1.0])
        scale = float(abs(np.linalg.det(self.stage_from_file[:3, :3])) ** (1 / 3))
        intensity = float(entry.get("intensity", 1.0))
        cone: Json = entry.get("spot", {})
        reach = entry.get("range")
        color: list[float] = entry.get("color", [1.0, 1.0, 1.0])
        red, green, blue = (float(value) for value in color)
        return Light(
            kind=kind,
            color=(red, green, blue),
            intensity=intensity if kind == "directional" else intensity * scale**2,
            position=(float(stage[0, 3]), float(stage[1, 3]), float(stage[2, 3])),
            direction=(float(direction[0]), float(direction[1]), float(direction[2])),
            range_m=None if reach is None else float(reach) * scale,
            inner_cone_deg=math.degrees(float(cone.get("innerConeAngle", 0.0))),
            outer_cone_deg=math.degrees(float(cone.get("outerConeAngle", math.pi / 4))),
            casts_shadow=kind == "directional",
            name=name,
        )

    def _note_unused(self, cameras: int) -> None:
        document = self.file.document
        if cameras:
            self.notes.add(f"its {_count(cameras, 'camera')} not used; the show file's cameras are")
        still = [_count(len(document.get(key, [])), key[:-1], "") for key in ("skins", "animations")]
        morphs = sum("targets" in p for mesh in document.get("meshes", []) for p in mesh["primitives"])
        if morphs:
            still.append(_count(morphs, "morphing mesh", "", "morphing meshes"))
        still = [text for text in still if not text.startswith("0 ")]
        if still:
            self.notes.add(f"has {' and '.join(still)}; the rest pose is drawn")


_TRS = {"TRANSLATION": "translation", "ROTATION": "rotation", "SCALE": "scale"}


def local_matrix(node: Json) -> Array:
    """(4, 4) parent_from_node from a node's matrix, or its translation, rotation and scale (3.6.3.2)."""
    if "matrix" in node:
        return np.array(node["matrix"], dtype=np.float64).reshape(4, 4).T
    matrix = np.eye(4)
    turn = np.eye(3)
    if "rotation" in node:
        quaternion = np.asarray(node["rotation"], dtype=np.float64)
        if np.any(quaternion != 0):
            turn = Rotation.from_quat(quaternion).as_matrix()
    matrix[:3, :3] = turn * np.asarray(node.get("scale", (1.0, 1.0, 1.0)), dtype=np.float64)
    matrix[:3, 3] = node.get("translation", (0.0, 0.0, 0.0))
    return matrix


def _count(number: int, noun: str, verb: str | None = None, plural: str = "") -> str:
    """``"1 camera is"``, ``"2 cameras are"``; an empty ``verb`` leaves the verb out."""
    words = noun if number == 1 else plural or f"{noun}s"
    verb = ("is" if number == 1 else "are") if verb is None else verb
    return f"{number} {words} {verb}".strip()
