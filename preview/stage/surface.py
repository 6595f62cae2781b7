"""LED surfaces on the stage: flat facets, each with its part of the canvas.

A surface made of tiles is a chain of flat facets, one per column, as walls are built: every tile is
flat and the wall turns at the joints between columns. A surface drawn in a modelling programme
comes in as a UV-mapped mesh (``preview.stage.uvmesh``). Both end up as the same ``LedSurface``.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any, Literal, NamedTuple

import numpy as np
import numpy.typing as npt
import trimesh

from preview.conventions import Array
from preview.errors import Problem, ShowError
from preview.show import model
from preview.stage.facets import pixel_sizes_m
from preview.stage.placement import turn_about_x, turn_about_z
from preview.stage.tiles import tile_faults, tile_shape
from preview.stage.uvmesh import UvMesh, load_uv_mesh, mesh_faults, mesh_shape

_TILT_DEG = {"wall": 0.0, "floor": 90.0, "ceiling": -90.0}
_PAIRS_AT_ONCE = 400_000  # bounds the memory of point x triangle tables to some tens of MB
_EDGE_SLACK = 1e-9  # barycentric; a ray or point on a joint must not slip between two facets


class Hits(NamedTuple):
    """Where rays meet a surface first.

    Attributes
    ----------
    distance_m : (n,) along the ray; inf where it misses
    canvas : (n, 2) canvas coordinates; NaN where it misses
    triangle : (n,) index of the triangle; -1 where it misses
    front : (n,) True where the lit side was met, False from behind or on a miss
    """

    distance_m: Array
    canvas: Array
    triangle: npt.NDArray[np.int64]
    front: npt.NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class LedSurface:
    """One LED wall, floor or ceiling, placed on the stage.

    Attributes
    ----------
    name, kind : as in the show file
    canvas_px : canvas width and height in LED pixels
    positions : (n, 3) stage metres; not shared between facets, so facets stay flat
    canvas : (n, 2) canvas coordinates of the same vertices (u right, v down, LED pixels)
    triangles : (m, 3), counter-clockwise seen from the front (the lit side)
    peak_luminance_cd_m2, refresh_hz, reflectance : of the tiles
    pixel_pitch_mm : as written for tiles; the mean distance of pixels for a mesh without one
    tiles, tile_px : columns and rows, and pixels across and down a tile; None for a mesh
    notes : sentences for the user about what was assumed
    viewing_angle_deg, viewing_angle_of : full half-value angles across and down the canvas, and of what
    emitter_share, emitter_shape : shining part of an LED pixel: its side over the pitch, and its shape
    """

    name: str
    kind: Literal["wall", "floor", "ceiling"]
    canvas_px: tuple[int, int]
    positions: Array
    canvas: Array
    triangles: npt.NDArray[np.int32]
    peak_luminance_cd_m2: float
    refresh_hz: float
    reflectance: float
    pixel_pitch_mm: float
    tiles: tuple[int, int] | None = None
    tile_px: tuple[int, int] | None = None
    notes: tuple[str, ...] = ()
    viewing_angle_deg: tuple[float, float] = (160.0, 140.0)
    viewing_angle_of: Literal["luminance", "intensity"] = "luminance"
    emitter_share: float = 0.4
    emitter_shape: Literal["square", "round"] = "square"

    @cached_property
    def area_m2(self) -> float:
        """Area of all facets, square metres."""
        return float(self._double_areas.sum() / 2)

    @cached_property
    def size_m(self) -> tuple[float, float]:
        """Width and height of the unrolled canvas, metres (at the mean pixel size of a mesh)."""
        across, down = self._pixel_sizes_m
        return (across * self.canvas_px[0], down * self.canvas_px[1])

    @cached_property
    def normals(self) -> Array:
        """(m, 3) unit normals of the triangles, towards the viewer."""
        cross = np.cross(self._edges[:, 0], self._edges[:, 1])
        return cross / np.linalg.norm(cross, axis=1, keepdims=True)

    @cached_property
    def planes(self) -> Array:
        """(m, 4) unit normal (towards the viewer) and offset: n . x + d = 0 on the triangle, stage
        metres; positive in front."""
        offsets = -np.einsum("ij,ij->i", self.normals, self._corners[:, 0])
        return np.column_stack([self.normals, offsets])

    @cached_property
    def canvas_from_stage(self) -> Array:
        """(m, 2, 4) per triangle: ``canvas_from_stage[t] @ (x, y, z, 1)`` is (u, v) in LED pixels
        for a stage point on triangle t; it does not change along the triangle's normal."""
        corners = self.canvas[self.triangles]
        canvas_edges = corners[:, 1:] - corners[:, :1]  # (m, edge, uv)
        gradient = np.einsum("mec,mex->mcx", canvas_edges, self._edge_duals)
        offset = corners[:, 0] - np.einsum("mcx,mx->mc", gradient, self._corners[:, 0])
        return np.concatenate([gradient, offset[:, :, None]], axis=2)

    def canvas_to_stage(self, points: Array) -> tuple[Array, npt.NDArray[np.bool_]]:
        """Stage positions of canvas points.

        Parameters
        ----------
        points : (n, 2) canvas coordinates, LED pixels

        Returns
        -------
        positions : (n, 3) stage metres, NaN where no facet shows that part of the canvas
        valid : (n,)
        """
        points = np.atleast_2d(np.asarray(points, dtype=np.float64))
        positions = np.full((len(points), 3), np.nan)
        corners = self.canvas[self.triangles]
        edges = corners[:, 1:] - corners[:, :1]
        inverse = np.linalg.inv(edges)  # (m, 2, 2): (point - corner 0) @ inverse = weights of edges
        for rows in self._chunks(len(points)):
            weights = np.einsum("kmc,mce->kme", points[rows, None] - corners[:, 0], inverse)
            depth = np.minimum(weights.min(axis=2), 1.0 - weights.sum(axis=2))
            best = depth.argmax(axis=1)
            chosen = weights[np.arange(len(best)), best]
            found = self._corners[best, 0] + np.einsum("ke,kex->kx", chosen, self._edges[best])
            found[depth.max(axis=1) < -_EDGE_SLACK] = np.nan
            positions[rows] = found
        return positions, ~np.isnan(positions[:, 0])

    def stage_to_canvas(
        self, points: Array, tolerance_m: float = 0.005
    ) -> tuple[Array, npt.NDArray[np.bool_]]:
        """Canvas coordinates of stage points on (or very near) the surface.

        Parameters
        ----------
        points : (n, 3) stage metres
        tolerance_m : farthest a point may be from its nearest facet

        Returns
        -------
        canvas : (n, 2) LED pixels of the nearest point of the surface, NaN where farther away
        valid : (n,)
        """
        points = np.atleast_2d(np.asarray(points, dtype=np.float64))
        canvas = np.full((len(points), 2), np.nan)
        count = len(self.triangles)
        for rows in self._chunks(len(points)):
            chunk = points[rows]
            near = trimesh.triangles.closest_point(
                np.tile(self._corners, (len(chunk), 1, 1)), np.repeat(chunk, count, axis=0)
            ).reshape(len(chunk), count, 3)
            distance = np.linalg.norm(near - chunk[:, None], axis=2)
            best = distance.argmin(axis=1)
            chosen = np.column_stack([near[np.arange(len(best)), best], np.ones(len(best))])
            found = np.einsum("kcx,kx->kc", self.canvas_from_stage[best], chosen)
            found[distance.min(axis=1) > tolerance_m] = np.nan
            canvas[rows] = found
        return canvas, ~np.isnan(canvas[:, 0])

    def intersect(self, origins: Array, directions: Array) -> Hits:
        """First meeting of each ray with the surface, from either side.

        Parameters
        ----------
        origins : (n, 3) stage metres
        directions : (n, 3) any length but zero

        Source: T. Moeller, B. Trumbore, "Fast, Minimum Storage Ray/Triangle Intersection", Journal
        of Graphics Tools 2(1), 1997.
        """
        origins, directions = np.broadcast_arrays(np.atleast_2d(origins), np.atleast_2d(directions))
        directions = directions / np.linalg.norm(directions, axis=1, keepdims=True)
        total = len(directions)
        distance = np.full(total, np.inf)
        canvas = np.full((total, 2), np.nan)
        triangle = np.full(total, -1, dtype=np.int64)
        edge1, edge2 = self._edges[:, 0], self._edges[:, 1]
        for rows in self._chunks(total):
            ray = directions[rows, None]
            across = np.cross(ray, edge2)
            determinant = np.einsum("mx,kmx->km", edge1, across)
            with np.errstate(divide="ignore", invalid="ignore"):
                from_corner = origins[rows, None] - self._corners[:, 0]
                weight1 = np.einsum("kmx,kmx->km", from_corner, across) / determinant
                lifted = np.cross(from_corner, edge1)
                weight2 = np.einsum("kx,kmx->km", directions[rows], lifted) / determinant
                along = np.einsum("mx,kmx->km", edge2, lifted) / determinant
                inside = (np.minimum(weight1, weight2) >= -_EDGE_SLACK) & (
                    weight1 + weight2 <= 1.0 + _EDGE_SLACK
                )
                # An edge-on facet shows nothing of its canvas: compared with its own size, not zero.
                met = inside & (along > 0.0) & (np.abs(determinant) > 1e-12 * self._double_areas)
            along = np.where(met, along, np.inf)
            best = along.argmin(axis=1)
            pick = (np.arange(len(best)), best)
            hit = met[pick]
            index = np.arange(rows.start, rows.stop)[hit]
            weights = np.column_stack([weight1[pick], weight2[pick]])[hit]
            corners = self.canvas[self.triangles[best[hit]]]
            edges = corners[:, 1:] - corners[:, :1]
            distance[index] = along[pick][hit]
            canvas[index] = corners[:, 0] + np.einsum("ke,kec->kc", weights, edges)
            triangle[index] = best[hit]
        facing = np.einsum("ij,ij->i", self.normals[triangle], directions) < 0.0
        return Hits(distance, canvas, triangle, facing & (triangle >= 0))

    @cached_property
    def _corners(self) -> Array:
        """(m, 3, 3) stage positions of the triangles' corners."""
        return self.positions[self.triangles]

    @cached_property
    def _edges(self) -> Array:
        """(m, 2, 3) from each triangle's first corner to the two others."""
        return self._corners[:, 1:] - self._corners[:, :1]

    @cached_property
    def _edge_duals(self) -> Array:
        """(m, 2, 3) in-plane vectors whose dot product with an offset is its weight on each edge."""
        gram = np.einsum("mex,mfx->mef", self._edges, self._edges)
        return np.linalg.solve(gram, self._edges)

    @cached_property
    def _double_areas(self) -> Array:
        return np.linalg.norm(np.cross(self._edges[:, 0], self._edges[:, 1]), axis=1)

    @cached_property
    def _pixel_sizes_m(self) -> tuple[float, float]:
        """Mean stage length of one canvas pixel across and down, weighted by area."""
        return pixel_sizes_m(self.positions, self.canvas, self.triangles)

    def _chunks(self, count: int) -> Iterator[slice]:
        step = max(1, _PAIRS_AT_ONCE // len(self.triangles))
        for start in range(0, count, step):
            yield slice(start, min(start + step, count))


def build_surface(
    surface: model.Surface,
    load_mesh: Callable[[str], UvMesh] = load_uv_mesh,
    show_path: str | Path = "show file",
    key: str = "stage.surfaces[0]",
) -> LedSurface:
    """Place one surface of the show file on the stage.

    A mesh surface is drawn standing where it belongs: its tilt defaults to 0 for every kind. Values
    of the tiles that neither the surface nor its tile names are those of ``model.Tile``.

    Parameters
    ----------
    surface : with the catalogue's values already filled in
    load_mesh : reads the file named by ``surface.mesh``; texture coordinates with v up
    show_path, key : where the surface is written, for error sentences

    Raises
    ------
    ShowError : the table cannot be built as written; holds all its problems
    AssetError : the mesh file cannot be used
    """
    faults = tile_faults(surface) if surface.mesh is None else mesh_faults(surface)
    if faults:
        raise ShowError(
            [Problem(str(show_path), 0, 0, f"{key}.{name}", found, fix) for name, found, fix in faults]
        )
    tilt_deg = surface.tilt_deg
    if surface.mesh is None:
        shape = tile_shape(surface)
        tilt_deg = _TILT_DEG[surface.kind] if tilt_deg is None else tilt_deg
    else:
        shape = mesh_shape(surface, load_mesh(surface.mesh))
    turn = turn_about_z(surface.yaw_deg) @ turn_about_x(-(tilt_deg or 0.0))
    defaults = model.Tile.model_fields

    def of_tile(name: str) -> Any:
        value = getattr(surface, name)
        return defaults[name].default if value is None else value

    return LedSurface(
        name=surface.name,
        kind=surface.kind,
        canvas_px=shape.canvas_px,
        positions=shape.positions @ turn.T + np.asarray(surface.position_m),
        canvas=shape.canvas,
        triangles=shape.triangles,
        peak_luminance_cd_m2=float(of_tile("peak_luminance_cd_m2")),
        refresh_hz=float(of_tile("refresh_hz")),
        reflectance=float(of_tile("reflectance")),
        pixel_pitch_mm=surface.pixel_pitch_mm or 1000.0 * shape.mean_pixel_m,
        tiles=shape.tiles,
        tile_px=shape.tile_px,
        notes=shape.notes,
        viewing_angle_deg=of_tile("viewing_angle_deg"),
        viewing_angle_of=of_tile("viewing_angle_of"),
        emitter_share=float(of_tile("emitter_share")),
        emitter_shape=of_tile("emitter_shape"),
    )
