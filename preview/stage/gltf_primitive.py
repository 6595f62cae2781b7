"""Reading glTF mesh primitives: vertex data and triangles in the mesh's own coordinates.

Source: glTF 2.0 (ISO/IEC 12113:2022), clauses 3.7.2 (meshes, morph targets) and 3.7.3 (skins).
"""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from preview.conventions import Array
from preview.stage.gltf_file import GltfFile, Json, as_numbers
from preview.stage.notes import Notes
from preview.stage.primitive import Primitive, Whole

TRIANGLES, STRIP, FAN = 4, 5, 6
_MODE_NAMES = {0: "points", 1: "lines", 2: "lines", 3: "lines"}


def read_primitive(file: GltfFile, entry: Json, morph: list[float], notes: Notes) -> Primitive | None:
    """The primitive as numbers, or None (and a note) for points, lines and empty ones.

    Parameters
    ----------
    morph : weights of the morph targets in the rest pose
    """
    mode = entry.get("mode", TRIANGLES)
    if mode in _MODE_NAMES:
        notes.add(f"{_MODE_NAMES[mode]} are left out; only surfaces are drawn")
        return None
    if mode not in (TRIANGLES, STRIP, FAN):
        raise file.error(f"primitive mode {mode!r} is none of 0 to 6")
    attributes: Json = entry["attributes"]
    if "POSITION" not in attributes:
        notes.add("primitives without positions are left out")
        return None
    values, triangles = _attributes(file, entry, notes)
    positions = values["POSITION"]
    if triangles is None:
        order = np.arange(len(positions))
        if "indices" in entry:
            order = file.accessor(entry["indices"], whole=True)[:, 0]
        triangles = _triangles(order, mode)
    if len(triangles) == 0:
        notes.add("primitives without triangles are left out")
        return None
    if triangles.min() < 0 or triangles.max() >= len(positions):
        raise file.error(f"a triangle uses vertex {int(triangles.max())} of {len(positions)}")
    for name, array in values.items():
        if len(array) != len(positions):
            raise file.error(f"{name} has {len(array)} values for {len(positions)} vertices")
    normals = values.get("NORMAL")
    for target, weight in zip(entry.get("targets", []), morph, strict=False):
        if weight:
            if "POSITION" in target:
                positions = positions + weight * file.accessor(target["POSITION"])
            if normals is not None and "NORMAL" in target:
                normals = normals + weight * file.accessor(target["NORMAL"])
    joints, weights = _influences(values)
    return Primitive(
        positions=positions,
        normals=normals,
        uv0=values.get("TEXCOORD_0"),
        uv1=values.get("TEXCOORD_1"),
        colors=_rgba(values.get("COLOR_0")),
        joints=joints,
        weights=weights,
        triangles=triangles,
        material=entry.get("material"),
    )


def skin_matrices(primitive: Primitive, joint_matrices: Array) -> Array:
    """(n, 4, 4) matrix of each vertex: its joints' matrices mixed by weight (clause 3.7.3.3).

    Parameters
    ----------
    joint_matrices : (j, 4, 4), each stage_from_joint @ inverse bind matrix

    Raises
    ------
    ValueError : a vertex names a joint that the skin does not have, or the primitive has no weights.
    """
    joints, weights = primitive.joints, primitive.weights
    if joints is None or weights is None:
        raise ValueError("a skinned mesh has no JOINTS_0 or WEIGHTS_0")
    if joints.max() >= len(joint_matrices):
        raise ValueError(f"a vertex follows joint {int(joints.max())} of {len(joint_matrices)}")
    total = weights.sum(axis=1, keepdims=True)
    share = np.where(total > 0, weights / np.where(total > 0, total, 1.0), 0.0)
    share[total[:, 0] <= 0, 0] = 1.0
    mixed: Array = np.einsum("nk,nkij->nij", share, joint_matrices[joints])
    return mixed


def _attributes(
    file: GltfFile, entry: Json, notes: Notes
) -> tuple[dict[str, npt.NDArray[Any]], Whole | None]:
    """Vertex data by name, and the triangles if they come compressed with it."""
    wanted = {
        name: index
        for name, index in entry["attributes"].items()
        if name in ("POSITION", "NORMAL", "TEXCOORD_0", "TEXCOORD_1", "COLOR_0")
        or name.startswith(("JOINTS_", "WEIGHTS_"))
    }
    compressed = entry.get("extensions", {}).get("KHR_draco_mesh_compression")
    unpacked: dict[str, npt.NDArray[Any]] = {}
    triangles: Whole | None = None
    if compressed is not None:
        try:
            faces, unpacked = file.draco(compressed)
            triangles = faces.astype(np.int64)
        except ImportError as error:
            if "bufferView" not in file.item("accessors", wanted["POSITION"]):
                raise file.error(
                    "is compressed with Draco (KHR_draco_mesh_compression), and DracoPy is not installed",
                    "pip install DracoPy, or export the scene without Draco",
                ) from error
            notes.add("its Draco data is passed over in favour of the plain copy (DracoPy is not installed)")
    values = {}
    for name, index in wanted.items():
        whole = name.startswith("JOINTS_")
        accessor = file.item("accessors", index)
        # Colours without the normalised flag are an exporter's slip: no other reading makes sense.
        scaled = bool(accessor.get("normalized", False)) or name == "COLOR_0"
        if name in unpacked:
            values[name] = as_numbers(unpacked[name], scaled, whole)
        else:
            values[name] = file.accessor(index, whole=whole, normalized=scaled)
    return values, triangles


def _triangles(order: Whole, mode: int) -> Whole:
    """(m, 3) vertices of each triangle from a list, strip or fan (clause 3.7.2.1)."""
    if mode == TRIANGLES:
        return order[: len(order) // 3 * 3].reshape(-1, 3)
    count = max(len(order) - 2, 0)
    first = np.arange(count)
    if mode == STRIP:
        odd = first % 2
        return order[np.stack([first, first + 1 + odd, first + 2 - odd], axis=1)]
    return order[np.stack([first + 1, first + 2, np.zeros_like(first)], axis=1)]


def _influences(values: dict[str, npt.NDArray[Any]]) -> tuple[Whole | None, Array | None]:
    sets = [n for n in range(8) if f"JOINTS_{n}" in values and f"WEIGHTS_{n}" in values]
    if not sets:
        return None, None
    joints = np.concatenate([values[f"JOINTS_{n}"] for n in sets], axis=1)
    weights = np.concatenate([values[f"WEIGHTS_{n}"] for n in sets], axis=1)
    return joints, weights


def _rgba(colors: Array | None) -> Array | None:
    if colors is None:
        return None
    alpha = colors[:, 3:4] if colors.shape[1] == 4 else np.ones((len(colors), 1))
    return np.maximum(np.concatenate([colors[:, :3], alpha], axis=1), 0.0)
