"""A surface's flat facets before it is placed on the stage."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from preview.conventions import Array


@dataclass(frozen=True, eq=False)
class Facets:
    """Unplaced facets: upright, facing -Y, metres; fields are named as in ``LedSurface``."""

    canvas_px: tuple[int, int]
    positions: Array
    canvas: Array
    triangles: npt.NDArray[np.int32]
    tiles: tuple[int, int] | None = None
    tile_px: tuple[int, int] | None = None
    notes: tuple[str, ...] = ()

    @property
    def mean_pixel_m(self) -> float:
        """Mean distance of neighbouring LED pixels, metres."""
        return float(np.mean(pixel_sizes_m(self.positions, self.canvas, self.triangles)))


def pixel_sizes_m(positions: Array, canvas: Array, triangles: npt.NDArray[np.int32]) -> tuple[float, float]:
    """Mean length of one canvas pixel across and down, metres, weighted by area.

    Parameters
    ----------
    positions : (n, 3) metres
    canvas : (n, 2) LED pixels
    triangles : (m, 3)
    """
    corners, pixels = positions[triangles], canvas[triangles]
    edges = corners[:, 1:] - corners[:, :1]
    stage_from_canvas = np.linalg.solve(pixels[:, 1:] - pixels[:, :1], edges)  # (m, uv, xyz)
    areas = np.linalg.norm(np.cross(edges[:, 0], edges[:, 1]), axis=1)
    across, down = np.average(np.linalg.norm(stage_from_canvas, axis=2), axis=0, weights=areas)
    return float(across), float(down)
