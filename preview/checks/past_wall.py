"""How much of a picture lies past the LED surfaces, also where that is a strip thinner than the grid.

The sight's grid counts. What it may miss is looked for by exact sightlines: all round the picture's border,
and close on both sides of every outline of an LED surface, where a gap would be.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import trimesh
from scipy.ndimage import binary_dilation

from preview.camera.view import CameraView
from preview.conventions import Array
from preview.raster.sight import Bools, Sight
from preview.stage.surface import LedSurface

PIECE_M = 0.5
"""Outlines are taken as straight in the picture over so much of them."""
ASIDE = 2e-4
"""How far from an outline, as a share of the picture's width: the narrowest gap that is surely found."""
FINER = 8
"""Sightlines across and down a field that something thin runs through."""

SHORT = 0.1
"""A side is not told when less of it is off than this share of what is off along the worst side."""
_PAIRS_AT_ONCE = 1_000_000  # bounds the memory of ray x facet tables to some tens of MB
EDGES = ("left", "right", "top", "bottom")


class LedRays:
    """Which sightlines end on the lit side of an LED surface; exact, set and people taken away.

    Parameters
    ----------
    surfaces : LED surfaces of the stage
    """

    def __init__(self, surfaces: Sequence[LedSurface]) -> None:
        self._corners = np.concatenate([s.positions[s.triangles] for s in surfaces])
        self._planes = np.concatenate([surface.planes for surface in surfaces])
        self.outline_m = np.concatenate([_outline(surface) for surface in surfaces])

    def lit(self, pupil_m: Array, rays: Array) -> Bools:
        """(n,) whether each ray's first meeting with an LED surface is with its lit side.

        Parameters
        ----------
        pupil_m : (3,) where all rays start
        rays : (n, 3) directions, unit length

        A ray passes through a triangle when it lies on the same side of the three planes that its sides
        make with the pupil.
        """
        corners = self._corners - pupil_m
        sides = np.cross(corners, np.roll(corners, -1, axis=1))
        height = self._planes[:, :3] @ pupil_m + self._planes[:, 3]
        # Seen from the lit side corners run counter-clockwise, and all three planes face away.
        sides *= -np.sign(height)[:, None, None]
        sides /= np.maximum(np.linalg.norm(sides, axis=2, keepdims=True), 1e-12)
        across, behind = sides.transpose(1, 2, 0), height < 0.0
        lit = np.zeros(len(rays), dtype=bool)
        step = max(1, _PAIRS_AT_ONCE // len(height))
        for first in range(0, len(rays), step):
            some = rays[first : first + step]
            met = np.broadcast_to(np.abs(height) > 1e-9, (len(some), len(height)))
            for side in across:
                met = met & (some @ side >= -1e-9)
            meets = np.any(met, axis=1)
            if met[:, behind].any():
                with np.errstate(divide="ignore", invalid="ignore"):
                    reach = np.where(met, -height / (some @ self._planes[:, :3].T), np.inf)
                meets &= ~behind[reach.argmin(axis=1)]
            lit[first : first + step] = meets
        return lit


def _outline(surface: LedSurface) -> Array:
    """(n, 2, 3) ends of short pieces of the edges that only one facet has, stage metres."""
    mesh = trimesh.Trimesh(surface.positions, surface.triangles, process=False)
    mesh.merge_vertices(merge_tex=True, merge_norm=True, digits_vertex=6)
    alone = trimesh.grouping.group_rows(mesh.edges_sorted, require_count=1)
    pieces = [np.zeros((0, 2, 3))]
    for start, end in mesh.vertices[mesh.edges[alone]]:
        count = max(1, int(np.ceil(np.linalg.norm(end - start) / PIECE_M)))
        cuts = start + np.linspace(0.0, 1.0, count + 1)[:, None] * (end - start)
        pieces.append(np.stack([cuts[:-1], cuts[1:]], axis=1))
    return np.concatenate(pieces)


@dataclass(frozen=True, eq=False)
class PastWall:
    """What of a picture lies past the LED surfaces and is not hidden by set, people or equipment.

    Attributes
    ----------
    share : of the picture, 0..1
    back_share : of the picture, the backs of LED surfaces in it
    edges : sides of the picture at which it lies, those it touches but with its ends left out; none when it
        is a gap inside
    mask : (h, w) fields of the sight's grid that hold some of it
    """

    share: float
    back_share: float
    edges: tuple[str, ...]
    mask: Bools


def past_wall(sight: Sight, rays: LedRays) -> PastWall:
    """Look past the LED surfaces in one picture.

    Fields whose middle lies past them count whole. Thinner strips count by FINER x FINER sightlines in the
    fields they run through, and for something even where those miss it.
    """
    height, width = sight.surface.shape
    mask = sight.off_wall.copy()
    places, sides = _border(width, height)
    off = _off(sight, rays, places)
    edges = _edges_off(sight, [off[sides == number] for number in range(len(EDGES))])
    near_outline = _near_outline(sight, rays)
    probed = np.concatenate([places[off], near_outline[_off(sight, rays, near_outline)]])
    thin = np.zeros_like(mask)
    thin[_fields(probed, width, height)] = True
    thin &= ~binary_dilation(mask, np.ones((3, 3)))
    share = (float(mask.sum()) + _thin_fields(sight, rays, thin)) / mask.size
    back = float((mask & (sight.surface == -2)).sum() / mask.size)
    return PastWall(share, back, edges, mask | thin)


def _edges_off(sight: Sight, sides: Sequence[Bools]) -> tuple[str, ...]:
    """Which of EDGES are off, from what is off along each, left to right and top to bottom.

    A strip along a whole side ends on its two neighbours: rows and columns of the picture that show no wall
    at all belong to it and not to them.
    """
    down, across = sight.wall_seen.any(axis=1), sight.wall_seen.any(axis=0)
    own = [side[1:-1] & seen for side, seen in zip(sides, (down, down, across, across), strict=True)]
    if not any(side.any() for side in own):  # corners alone, or no wall anywhere
        own = list(sides)
    extents = np.array([side.mean() for side in own])
    return tuple(edge for edge, extent in zip(EDGES, extents, strict=True) if extent > SHORT * extents.max())


def _border(width: int, height: int) -> tuple[Array, npt.NDArray[np.int64]]:
    """Places (0..1) all round the picture's border, over the middles of its fields and in the corners, and
    which of EDGES each is on."""
    across = np.concatenate([[0.0], (np.arange(width) + 0.5) / width, [1.0]])
    down = np.concatenate([[0.0], (np.arange(height) + 0.5) / height, [1.0]])
    places = [
        np.column_stack([np.full_like(down, 0.0), down]),
        np.column_stack([np.full_like(down, 1.0), down]),
        np.column_stack([across, np.full_like(across, 0.0)]),
        np.column_stack([across, np.full_like(across, 1.0)]),
    ]
    counts = [len(side) for side in places]
    return np.concatenate(places), np.repeat(np.arange(4), counts)


def _near_outline(sight: Sight, rays: LedRays) -> Array:
    """(n, 2) places in the picture (0..1) on both sides of the outlines in it, one each field.

    Pieces of outline that reach behind the pupil are left out.
    """
    size = np.array([sight.surface.shape[1], sight.surface.shape[0]])
    pixels, _ = sight.view.project(rays.outline_m.reshape(-1, 3), (int(size[0]), int(size[1])))
    ends = pixels.reshape(-1, 2, 2)
    with np.errstate(invalid="ignore"):
        seen = (ends.max(axis=1) > 0.0).all(axis=1) & (ends.min(axis=1) < size).all(axis=1)
    start, way = ends[seen, 0], ends[seen, 1] - ends[seen, 0]
    length = np.maximum(np.linalg.norm(way, axis=1), 1e-9)
    counts = np.minimum(np.ceil(length), size.sum()).astype(np.int64)
    piece = np.repeat(np.arange(len(counts)), counts)
    along = (np.arange(len(piece)) - np.repeat(np.cumsum(counts) - counts, counts) + 0.5) / counts[piece]
    points = start[piece] + along[:, None] * way[piece]
    aside = (way[:, ::-1] * (-1.0, 1.0) / length[:, None])[piece] * ASIDE * size[0]
    places = np.concatenate([points - aside, points + aside]) / size
    return places[((places >= 0.0) & (places <= 1.0)).all(axis=1)]


def _off(sight: Sight, rays: LedRays, places: Array) -> Bools:
    """(n,) which places (0..1) see past the wall, where no thing stands in their field's middle."""
    height, width = sight.surface.shape
    in_the_open = sight.thing[_fields(places, width, height)] < 0
    found = np.zeros(len(places), dtype=bool)
    directions, _ = sight.view.sightlines(places[in_the_open] * (width, height), (width, height))
    found[in_the_open] = ~rays.lit(sight.view.pupil_m, directions)
    return found


def _fields(places: Array, width: int, height: int) -> tuple[npt.NDArray[np.int64], npt.NDArray[np.int64]]:
    """Row and column of the field each place (0..1) lies in."""
    column = np.clip((places[:, 0] * width).astype(np.int64), 0, width - 1)
    row = np.clip((places[:, 1] * height).astype(np.int64), 0, height - 1)
    return row, column


def _thin_fields(sight: Sight, rays: LedRays, thin: Bools) -> float:
    """How many fields' worth of picture lie past the wall in the fields that something thin runs through."""
    rows, columns = np.nonzero(thin)
    if not len(rows):
        return 0.0
    step = (np.arange(FINER) + 0.5) / FINER
    x = np.broadcast_to(columns[:, None, None] + step, (len(rows), FINER, FINER))
    y = np.broadcast_to(rows[:, None, None] + step[:, None], (len(rows), FINER, FINER))
    height, width = thin.shape
    pixels = np.column_stack([x.ravel(), y.ravel()])
    directions, _ = sight.view.sightlines(pixels, (width, height))
    off = ~rays.lit(sight.view.pupil_m, directions)
    per_field = off.reshape(len(rows), -1).mean(axis=1)
    return float(np.maximum(per_field, 0.5 / FINER**2).sum())


def widest_place(view: CameraView, wide: Sight) -> float | None:
    """How many times as wide ``view`` could be before it met what ``wide`` sees past the LED surfaces.

    Parameters
    ----------
    view : the picture
    wide : what a picture from the same place in the same direction with a shorter lens sees

    Returns
    -------
    The nearest such place, from the picture's middle (1: on its border), less half a field; None where
    ``wide`` sees nothing past them.
    """
    height, width = wide.surface.shape
    rows, columns = np.nonzero(wide.off_wall)
    if not len(rows):
        return None
    x = np.abs((columns + 0.5) / width * 2 - 1) - 1.0 / width
    y = np.abs((rows + 0.5) / height * 2 - 1) - 1.0 / height
    # A place in the picture is the bent direction times the projection distance: it scales with the zoom.
    return float(np.maximum(x, y).min()) * view.projection_mm / wide.view.projection_mm
