"""How much darker an LED tile looks from the side than straight on.

Data sheets give two full angles, in the horizontal and the vertical plane of a tile, at whose edges it
still gives half of what it gives straight on: half its luminous intensity or half its luminance, which are
not the same. Between and beyond them a power of the cosine is taken:

- intensity I = I0 cos^m, with m = ln 0.5 / ln cos h at the half-value angle h from straight on. The area
  seen shrinks with the cosine, so luminance goes with cos^(m - 1);
- luminance L = L0 cos^k, with k = ln 0.5 / ln cos h.

A Lambertian tile keeps its luminance and has half its intensity at 60 degrees. A sheet that states half the
intensity farther out than that says that luminance grows to the side; it is taken at its word.

Sources: the half-value angle as of the CIE's International Lighting Vocabulary (CIE S 017, term 17-24-097,
read through texts that quote it); the cosine power as a model of LED packages: common practice. Directions
between the two planes: this project's own interpolation, since sheets say nothing about them. The exponent
runs from one plane's to the other's with the square of the cosine of the azimuth, which is exact in both
planes and smooth between them.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from math import cos, log, radians
from typing import Literal

import numpy as np
import numpy.typing as npt

from preview.conventions import Array
from preview.stage.surface import LedSurface

GRAZING = 1e-4
"""Least cosine worked with: past 89.99 degrees nothing of a surface is seen."""


def cosine_power(half_value_deg: float) -> float:
    """Power of the cosine that is a half at this angle from straight on.

    Raises
    ------
    ValueError : the angle is not between 0 and 90 degrees.

    >>> round(cosine_power(60), 9), round(cosine_power(80), 5)
    (1.0, 0.39592)
    """
    if not 0.0 < half_value_deg < 90.0:
        raise ValueError(f"half-value angle {half_value_deg:g} degrees: write one between 0 and 90")
    return log(0.5) / log(cos(radians(half_value_deg)))


@dataclass(frozen=True)
class Falloff:
    """Luminance of a kind of tile by direction: cos^k, k by the plane the direction lies in.

    Attributes
    ----------
    across, down : k in the plane along the canvas rows, and along its columns
    """

    across: float
    down: float

    @classmethod
    def of(cls, viewing_angle_deg: tuple[float, float], stated: Literal["luminance", "intensity"]) -> Falloff:
        """From full half-value angles, across and down, and what is half at them."""
        across, down = (cosine_power(full / 2.0) for full in viewing_angle_deg)
        less = 1.0 if stated == "intensity" else 0.0
        return cls(across - less, down - less)

    def luminance(self, cosine: Array, across_share: Array) -> Array:
        """(n,) luminance over that straight on.

        Parameters
        ----------
        cosine : (n,) of the angle between the direction and the tile's normal
        across_share : (n,) squared cosine of the azimuth: 1 in the plane along the rows, 0 along the columns
        """
        power = self.across * across_share + self.down * (1.0 - across_share)
        return np.maximum(cosine, GRAZING) ** power


@lru_cache(maxsize=64)
def tile_axes(surface: LedSurface) -> Array:
    """(m, 2, 3) for each triangle its unit normal and the unit direction of its canvas rows, stage axes.

    A mesh may map the canvas askew: rows are then taken at right angles to lines of equal u.
    """
    rows = surface.canvas_from_stage[:, 0, :3]
    return np.stack([surface.normals, rows / np.linalg.norm(rows, axis=1, keepdims=True)], axis=1)


def seen_luminance(surface: LedSurface, triangle: npt.NDArray[np.int32], sightlines: Array) -> Array:
    """Luminance of points of an LED surface against straight on.

    Parameters
    ----------
    triangle : (n,) on which of the surface's triangles each lies
    sightlines : (n, 3) unit directions from the eye to the points, stage axes

    Returns
    -------
    (n,) 1 straight on
    """
    axes = tile_axes(surface)[triangle]
    cosine, across = np.einsum("nax,nx->an", axes, sightlines)
    level = np.maximum(1.0 - cosine**2, 1e-18)
    # Straight on there is no azimuth, and cos^k is 1 whatever k: any share does.
    share = np.minimum(across**2 / level, 1.0)
    falloff = Falloff.of(surface.viewing_angle_deg, surface.viewing_angle_of)
    return falloff.luminance(np.abs(cosine), share)
