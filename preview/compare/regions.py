"""Which pixels of a picture see the wall, which the set, and which neither.

Read from what each pixel's sightline meets, never from colours. A pixel belongs to the set (people and set
pieces) when they cover half of it or more; otherwise to the wall (any LED surface, from its lit side) or to
what lies off the wall. Along the wall's own border one sample of the pixel decides.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

import numpy as np

from preview.camera.view import CameraView

MAJORITY = 0.5
WHOLE = "whole"
REGIONS = ("wall", "set", "off-wall")
"""Parts of a picture, in the order of every table. No pixel is in two of them."""


class SeenByPixels(Protocol):
    """What a raster's sightlines say about each pixel."""

    @property
    def surface(self) -> np.ndarray: ...

    @property
    def set_cover(self) -> np.ndarray: ...


class CanSee(Protocol):
    """A raster, as far as regions need one."""

    def sightlines(self, view: CameraView, /) -> SeenByPixels: ...


def masks_of(seen: SeenByPixels) -> dict[str, np.ndarray]:
    """(h, w) bool mask of each of REGIONS in one picture; every pixel is in exactly one."""
    on_set = seen.set_cover >= MAJORITY
    on_wall = (seen.surface >= 0) & ~on_set
    return {"wall": on_wall, "set": on_set, "off-wall": ~on_wall & ~on_set}


class RegionFinder:
    """Region masks of pictures taken from one or more views; remembers views that stand still.

    Parameters
    ----------
    raster : answers ``sightlines(view)``
    """

    REMEMBERED = 8

    def __init__(self, raster: CanSee) -> None:
        self._raster = raster
        self._known: dict[CameraView, dict[str, np.ndarray]] = {}

    def shared(self, views: Sequence[CameraView]) -> dict[str, np.ndarray]:
        """Masks of the whole picture, then of REGIONS: pixels that are in a region from every view.

        Two pictures from different views, or a mix of two cameras, show different things at some pixels;
        those are in no region, only in the whole.

        Returns
        -------
        name to (h, w) bool: WHOLE and each of REGIONS
        """
        found = [self._masks(view) for view in dict.fromkeys(views)]
        masks = {name: np.logical_and.reduce([each[name] for each in found]) for name in REGIONS}
        return {WHOLE: np.ones_like(masks[REGIONS[0]]), **masks}

    def _masks(self, view: CameraView) -> dict[str, np.ndarray]:
        if view not in self._known:
            while len(self._known) >= self.REMEMBERED:
                del self._known[next(iter(self._known))]
            self._known[view] = masks_of(self._raster.sightlines(view))
        return self._known[view]
