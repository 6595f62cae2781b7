"""LED surfaces drawn as UV-mapped meshes: the texture coordinates span the canvas."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt
import trimesh

from preview.conventions import Array
from preview.errors import AssetError
from preview.show import model
from preview.stage.facets import Facets
from preview.stage.placement import default_up, placement_matrix
from preview.stage.tiles import Fault

_FORMATS = (".obj", ".gltf", ".glb", ".ply")
_UV_SLACK = 1e-5  # files write about six figures


@dataclass(frozen=True, eq=False)
class UvMesh:
    """Triangles with texture coordinates, in the file's own units and axes.

    Attributes
    ----------
    path : the file
    positions : (n, 3)
    uv : (n, 2), u right, v up (0, 0 is the picture's bottom left corner)
    triangles : (m, 3)
    """

    path: str
    positions: Array
    uv: Array
    triangles: npt.NDArray[np.int64]


def load_uv_mesh(path: str | Path) -> UvMesh:
    """Read an OBJ, glTF or PLY file; all its meshes together, in its scene's arrangement.

    trimesh turns glTF's texture coordinates (v down, glTF 2.0, 3.7.2.1) to OBJ's (v up) as it reads.

    Raises
    ------
    AssetError : no such file, not a mesh, or a part without texture coordinates.
    """
    file = Path(path)
    if file.suffix.lower() not in _FORMATS:
        raise AssetError(path, f"{file.suffix or 'no suffix'} is not a mesh with texture coordinates",
                         "export the LED surface as OBJ, glTF or PLY")  # fmt: skip
    if not file.is_file():
        raise AssetError(path, "there is no such file", "correct the surface's mesh, or put the file there")
    try:
        scene = trimesh.load_scene(file, process=False)
        parts = [part for part in scene.dump() if isinstance(part, trimesh.Trimesh) and len(part.faces)]
    except Exception as error:  # the readers raise whatever their parsing meets
        found = f"it cannot be read ({type(error).__name__}: {error})"
        raise AssetError(path, found, "export it again") from error
    if not parts:
        raise AssetError(path, "it holds no triangles", "export the LED surface as a mesh")
    positions, texture, triangles, first = [], [], [], 0
    for part in parts:
        uv = getattr(part.visual, "uv", None)
        if uv is None or len(uv) != len(part.vertices):
            name = part.metadata.get("name", "")
            raise AssetError(path, f"mesh {name!r} has no texture coordinates" if name else
                             "it has no texture coordinates",
                             "unwrap it so that the canvas fills the texture square")  # fmt: skip
        positions.append(np.asarray(part.vertices, dtype=np.float64))
        texture.append(np.asarray(uv, dtype=np.float64)[:, :2])
        triangles.append(np.asarray(part.faces, dtype=np.int64) + first)
        first += len(part.vertices)
    return UvMesh(str(path), np.concatenate(positions), np.concatenate(texture), np.concatenate(triangles))


def mesh_faults(surface: model.Surface) -> list[Fault]:
    """All that keeps ``surface`` from being built from its mesh file, short of reading it."""
    faults: list[Fault] = []
    if surface.canvas_px is None:
        faults.append(
            ("canvas_px", "is missing for a mesh surface", "write canvas_px = [width, height] in LED pixels")
        )
    for key in ("columns", "rows", "joint_angle_deg", "radius_m"):
        if getattr(surface, key) is not None:
            faults.append((key, "does not apply to a mesh surface", f"remove {key}, or remove mesh"))
    return faults


def mesh_shape(surface: model.Surface, mesh: UvMesh) -> Facets:
    """Facets of a mesh surface in stage axes and metres, not yet tilted, turned or moved.

    The front is the side from which the texture reads the right way round (u right, v up); triangles
    wound the other way are turned, with a note. The mesh must agree with itself in this.

    Raises
    ------
    AssetError : degenerate triangles, texture coordinates outside 0..1, or some triangles mirrored.
    """
    assert surface.canvas_px and surface.mesh is not None
    up = surface.up or default_up(mesh.path)
    matrix = placement_matrix(scale=surface.scale, units=surface.units, up=up)
    corners = mesh.positions[mesh.triangles] @ matrix[:3, :3].T  # (m, 3, 3)
    uv = mesh.uv[mesh.triangles]
    _refuse_bad_triangles(mesh.path, corners, uv)
    signed = _double_area_2d(uv)
    turned = signed < 0.0
    notes: tuple[str, ...] = ()
    if turned.all():
        corners, uv = corners[:, ::-1], uv[:, ::-1]
        notes = (f"{surface.name}: the mesh is wound backwards; its front was taken from its texture.",)
    elif turned.any():
        found = f"{turned.sum()} of {len(turned)} triangles show the canvas mirrored from their front"
        raise AssetError(mesh.path, found, "turn those faces, or mirror their texture coordinates back")
    uv = np.clip(uv, 0.0, 1.0)
    across, down = surface.canvas_px
    return Facets(
        canvas_px=(across, down),
        positions=corners.reshape(-1, 3),
        canvas=np.stack([uv[..., 0] * across, (1.0 - uv[..., 1]) * down], axis=-1).reshape(-1, 2),
        triangles=np.arange(3 * len(corners), dtype=np.int32).reshape(-1, 3),
        notes=notes,
    )


def _refuse_bad_triangles(path: str, corners: Array, uv: Array) -> None:
    if not (np.isfinite(corners).all() and np.isfinite(uv).all()):
        raise AssetError(path, "some positions or texture coordinates are not numbers", "export it again")
    edges = corners[:, 1:] - corners[:, :1]
    areas = np.linalg.norm(np.cross(edges[:, 0], edges[:, 1]), axis=1)
    longest = np.linalg.norm(edges, axis=2).max(axis=1)
    flat = areas <= 1e-9 * np.maximum(longest, 1e-12) ** 2
    if flat.any():
        found = f"{flat.sum()} of {len(flat)} triangles have no area (first: number {int(flat.argmax()) + 1})"
        raise AssetError(path, found, "merge double points and remove empty faces")
    if uv.min() < -_UV_SLACK or uv.max() > 1.0 + _UV_SLACK:
        found = f"texture coordinates run from {uv.min():.4g} to {uv.max():.4g}"
        raise AssetError(path, found, "keep them between 0 and 1, which is the whole canvas")
    unmapped = np.abs(_double_area_2d(uv)) <= 1e-12
    if unmapped.any():
        found = f"{unmapped.sum()} of {len(unmapped)} triangles have no area on the texture"
        raise AssetError(path, found, "unwrap every face of the LED surface")


def _double_area_2d(uv: Array) -> Array:
    edges = uv[:, 1:] - uv[:, :1]
    return edges[:, 0, 0] * edges[:, 1, 1] - edges[:, 0, 1] * edges[:, 1, 0]
