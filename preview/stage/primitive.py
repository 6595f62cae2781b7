"""One mesh with one material as a file gives it, and its placing on the stage."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from preview.conventions import Array
from preview.stage.mesh import Material, MeshPart
from preview.stage.normals import corner_normals, weld_corners
from preview.stage.notes import Notes

Whole = npt.NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class Primitive:
    """One mesh with one material, in the file's (or the mesh's) own coordinates.

    Attributes
    ----------
    positions, normals : (n, 3)
    uv0, uv1 : (n, 2) texture coordinates, v down from the top
    colors : (n, 4) linear vertex colours
    joints, weights : (n, k) joints each vertex follows and how much, for a skinned mesh
    triangles : (m, 3) counter-clockwise seen from the front
    material : number of the material in the file
    """

    positions: Array
    triangles: Whole
    normals: Array | None = None
    uv0: Array | None = None
    uv1: Array | None = None
    colors: Array | None = None
    joints: Whole | None = None
    weights: Array | None = None
    material: int | None = None


def place_primitive(
    primitive: Primitive,
    stage_from_mesh: Array,
    name: str,
    material: Material,
    notes: Notes,
    crease_deg: float = 0.0,
) -> MeshPart:
    """The primitive as a part in stage coordinates.

    Parameters
    ----------
    stage_from_mesh : (4, 4), or (n, 4, 4) with one matrix for each vertex (a skinned mesh). A
        mirroring matrix turns the triangles round so that their fronts stay fronts.
    name : of the part
    notes : told when the file's normals cannot be used
    crease_deg : see ``corner_normals``; used only when the primitive brings no normals
    """
    linear, offset = stage_from_mesh[..., :3, :3], stage_from_mesh[..., :3, 3]
    positions = np.einsum("...ij,...j->...i", linear, primitive.positions) + offset
    cofactor = np.stack(
        [
            np.cross(linear[..., :, 1], linear[..., :, 2]),
            np.cross(linear[..., :, 2], linear[..., :, 0]),
            np.cross(linear[..., :, 0], linear[..., :, 1]),
        ],
        axis=-1,
    )
    volume = np.sum(linear[..., :, 0] * cofactor[..., :, 0], axis=-1)
    mirrored = bool(np.mean(volume < 0) > 0.5)
    triangles = primitive.triangles[:, ::-1] if mirrored else primitive.triangles
    arrays = {"uv0": primitive.uv0, "uv1": primitive.uv1, "colors": primitive.colors}
    normals = None
    if primitive.normals is not None:
        turned = np.einsum("...ij,...j->...i", cofactor, primitive.normals) * (-1.0 if mirrored else 1.0)
        length = np.linalg.norm(turned, axis=1, keepdims=True)
        if np.all(np.isfinite(length)) and np.all(length > 0):
            normals = turned / length
        else:
            notes.add("parts whose normals have no length get new ones")
    if normals is None:
        normals = corner_normals(positions, triangles, crease_deg)
        corners = triangles.reshape(-1)
        kept, became = weld_corners(corners, normals)
        normals, vertices = normals[kept], corners[kept]
        positions = positions[vertices]
        arrays = {key: None if array is None else array[vertices] for key, array in arrays.items()}
        triangles = became.reshape(-1, 3)
    return MeshPart(
        name=name,
        positions=positions.astype(np.float32),
        normals=normals.astype(np.float32),
        uv0=_single(arrays["uv0"]),
        uv1=_single(arrays["uv1"]),
        colors=_single(arrays["colors"]),
        triangles=np.ascontiguousarray(triangles, dtype=np.int32),
        material=material,
    )


def _single(array: Array | None) -> npt.NDArray[np.float32] | None:
    return None if array is None else array.astype(np.float32)
