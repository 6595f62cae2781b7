"""One picture watched for flashes of light and of saturated red, and what each pixel of a canvas counts."""

from __future__ import annotations

from array import array
from collections.abc import Callable
from fractions import Fraction
from typing import Literal, get_args

import numpy as np

from preview.checks.flash import Limits, LuminanceChanges, RedChanges, luminance_of
from preview.checks.flash_count import Counted, FlashCount
from preview.conventions import Array
from preview.stage.surface import LedSurface

FlashKind = Literal["light", "red"]
"""What changes: luminance, or saturated red to something else."""


class Watched:
    """Flashes of one picture, programme or an LED surface, frame by frame.

    Parameters
    ----------
    name : of the LED surface; "" for programme
    fps : frames per second, exact
    limits : of the picture
    weights : (h, w) what each pixel counts

    Attributes
    ----------
    counts : flashes by kind
    area_percent : a value a frame: how much of the picture has changed together, by kind
    flashes : a value a frame: flashes in the second that ends with it, by kind
    """

    def __init__(self, name: str, fps: Fraction, limits: Limits, weights: Array) -> None:
        self.name = name
        self._light, self._red = LuminanceChanges(limits), RedChanges()
        kinds: tuple[FlashKind, ...] = get_args(FlashKind)
        self.counts = {kind: FlashCount(fps, limits, weights) for kind in kinds}
        self.area_percent = {kind: array("f") for kind in kinds}
        self.flashes = {kind: array("f") for kind in kinds}
        self._latest: tuple[tuple[np.ndarray, ...], tuple[float, ...]] | None = None

    def see(
        self, sources: tuple[np.ndarray, ...], shares: tuple[float, ...], light: Callable[[], Array]
    ) -> None:
        """Take in the next frame.

        Parameters
        ----------
        sources : pictures it is made of; a frame made of the very same ones holds still and costs nothing
        shares : how they are mixed
        light : (h, w, 3) linear R, G, B in cd/m2 of white, made when it is needed
        """
        if self._holds(sources, shares):
            self._note({kind: counted.hold() for kind, counted in self.counts.items()})
            return
        self._latest = sources, shares
        shown = light()
        changes = {"light": self._light.feed(luminance_of(shown)), "red": self._red.feed(shown)}
        self._note({kind: counted.feed(changes[kind]) for kind, counted in self.counts.items()})

    def _holds(self, sources: tuple[np.ndarray, ...], shares: tuple[float, ...]) -> bool:
        if self._latest is None or self._latest[1] != shares or len(self._latest[0]) != len(sources):
            return False
        return all(one is other for one, other in zip(self._latest[0], sources, strict=True))

    def _note(self, frame: dict[FlashKind, Counted]) -> None:
        for kind, counted in frame.items():
            self.area_percent[kind].append(100.0 * counted.share)
            self.flashes[kind].append(counted.flashes)


def canvas_areas_m2(surface: LedSurface, size_px: tuple[int, int]) -> Array:
    """(h, w) area on the stage that each pixel of a drawn canvas stands for; 0 where no facet shows it.

    A pixel belongs to the facet that its middle lies on, the first of two at a joint.

    Parameters
    ----------
    surface : whose canvas
    size_px : width and height it is drawn at
    """
    width, height = size_px
    areas = np.zeros((height, width))
    scale = np.array(size_px) / np.array(surface.canvas_px)
    for corners, stage in zip(
        surface.canvas[surface.triangles] * scale, surface.positions[surface.triangles], strict=True
    ):
        (ax, ay), (bx, by) = corners[1] - corners[0], corners[2] - corners[0]
        double_px = ax * by - ay * bx
        if abs(double_px) < 1e-12:
            continue
        double_m2 = float(np.linalg.norm(np.cross(stage[1] - stage[0], stage[2] - stage[0])))
        left, top = np.clip(np.floor(corners.min(axis=0)), 0, size_px).astype(int)
        right, bottom = np.clip(np.ceil(corners.max(axis=0)), 0, size_px).astype(int)
        x = np.arange(left, right) + 0.5 - corners[0, 0]
        y = (np.arange(top, bottom) + 0.5 - corners[0, 1])[:, None]
        first, second = (x * by - y * bx) / double_px, (y * ax - x * ay) / double_px
        inside = np.minimum(np.minimum(first, second), 1.0 - first - second) >= -1e-9
        patch = areas[top:bottom, left:right]
        patch[inside & (patch == 0.0)] = double_m2 / abs(double_px)
    return areas
