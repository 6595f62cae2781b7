"""Small LED stages for the twin tests, built from corners so that nothing is shared with the loader."""

from __future__ import annotations

import numpy as np
import trimesh

from preview.stage.mesh import Material, MeshPart, SceneMesh
from preview.stage.surface import LedSurface
from tests.twin.oracle import OracleStage, Solid

EYE_POINT_M = (0.0, 0.0, 1.6)


def faceted_wall(
    columns: int = 7,
    tile_m: tuple[float, float] = (1.0, 3.5),
    joint_deg: float = 9.0,
    distance_m: float = 4.0,
    bottom_m: float = 0.0,
    lean: float = 0.0,
    px_per_m: int = 100,
    peak: float = 1500.0,
    name: str = "wall",
) -> LedSurface:
    """Flat columns standing around the stage; the middle one faces -Y at ``distance_m``.

    ``lean`` shears the top towards the viewer by that many metres a metre of height. Columns are
    left to right; the canvas has ``px_per_m`` LED pixels a metre.
    """
    width, height = tile_m
    turns = np.radians((np.arange(columns) - (columns - 1) / 2) * joint_deg)
    steps = width * np.column_stack([np.cos(turns), -np.sin(turns)])
    edges = np.vstack([np.zeros(2), np.cumsum(steps, axis=0)])
    middle = (edges[columns // 2] + edges[(columns + 1) // 2]) / 2
    edges += np.array([0.0, distance_m]) - middle
    positions: list[tuple[float, ...]] = []
    canvas: list[tuple[float, float]] = []
    triangles: list[tuple[int, int, int]] = []
    for column in range(columns):
        first = len(positions)
        inward = np.array([-np.sin(turns[column]), -np.cos(turns[column])]) * lean
        for edge in (column, column + 1):
            for up, v in ((height, 0.0), (0.0, height * px_per_m)):
                x, y = edges[edge] + inward * up
                positions.append((x, y, bottom_m + up))
                canvas.append((edge * width * px_per_m, v))
        triangles += [(first, first + 1, first + 3), (first, first + 3, first + 2)]
    return LedSurface(
        name=name,
        kind="wall",
        canvas_px=(round(columns * width * px_per_m), round(height * px_per_m)),
        positions=np.array(positions, dtype=np.float64),
        canvas=np.array(canvas, dtype=np.float64),
        triangles=np.array(triangles, dtype=np.int32),
        peak_luminance_cd_m2=peak,
        refresh_hz=3840.0,
        reflectance=0.04,
        pixel_pitch_mm=1000 / px_per_m,
    )


def led_floor(
    width_m: float = 6.0, depth_m: float = 4.0, px_per_m: int = 100, peak: float = 1500.0
) -> LedSurface:
    """A floor at Z = 0 from Y = 0 to ``depth_m``, lit side up; canvas v runs towards the viewer."""
    x, far = width_m / 2, depth_m
    return LedSurface(
        name="floor",
        kind="floor",
        canvas_px=(round(width_m * px_per_m), round(depth_m * px_per_m)),
        positions=np.array([(-x, far, 0.0), (-x, 0.0, 0.0), (x, far, 0.0), (x, 0.0, 0.0)]),
        canvas=np.array([(0.0, 0.0), (0.0, depth_m), (width_m, 0.0), (width_m, depth_m)]) * px_per_m,
        triangles=np.array([(0, 1, 3), (0, 3, 2)], dtype=np.int32),
        peak_luminance_cd_m2=peak,
        refresh_hz=3840.0,
        reflectance=0.04,
        pixel_pitch_mm=1000 / px_per_m,
    )


def box_solid(
    size_m: tuple[float, float, float], centre_m: tuple[float, float, float], rgb: tuple[float, float, float]
) -> Solid:
    """A box in front of the wall, one flat colour."""
    mesh = trimesh.creation.box(extents=size_m)
    mesh.apply_translation(centre_m)
    return Solid(np.asarray(mesh.triangles), rgb)


def set_mesh(stage: OracleStage) -> SceneMesh:
    """The oracle's solids as an unlit set."""
    parts = []
    for index, solid in enumerate(stage.solids):
        corners = solid.corners.reshape(-1, 3)
        normals = np.repeat(
            np.cross(solid.corners[:, 1] - solid.corners[:, 0], solid.corners[:, 2] - solid.corners[:, 0]),
            3,
            axis=0,
        )
        normals /= np.linalg.norm(normals, axis=1, keepdims=True)
        parts.append(
            MeshPart(
                f"solid {index}",
                corners.astype(np.float32),
                normals.astype(np.float32),
                None,
                None,
                None,
                np.arange(len(corners), dtype=np.int32).reshape(-1, 3),
                Material(base_color=(*solid.rgb, 1.0), unlit=True),
            )
        )
    return SceneMesh(tuple(parts))
