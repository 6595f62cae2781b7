"""What a floor map is made of: numbers over a grid of the studio floor, seen from above.

Rows of all arrays run along +Y (row 0 is nearest to -Y), columns along +X.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np
import numpy.typing as npt

from preview.conventions import Array
from preview.show.model import Point

Bools = npt.NDArray[np.bool_]
Floats = npt.NDArray[np.float32]
LayerName = Literal[
    "moire-share", "moire-worst", "moire-mean", "structure", "off-wall", "viewing-loss", "viewing-angle",
    "overlap", "clearance",
]  # fmt: skip

REACHABLE, BEHIND_WALL, ON_LED_FLOOR, ARM, HEIGHT, LENS_RANGE, NEAREST_FOCUS, FOLDS = range(8)
REASONS: tuple[str, ...] = (
    "",
    "behind an LED wall",
    "on the LED floor",
    "out of the arm's reach",
    "outside the mount's heights",
    "out of the lens's range",
    "nearer than the lens focuses",
    "the lens's distortion has no inverse there",
)
"""Why a camera cannot take the framing from somewhere; ``FloorMap.reason`` counts them."""


@dataclass(frozen=True, eq=False)
class Layer:
    """One number for each place on the floor.

    Attributes
    ----------
    name : short, for files: "off-wall"
    title : for people: "Off the wall"
    unit : "" for a share 0..1, "%", "deg" or "m"
    values : (ny, nx) float32; NaN where the framing cannot be taken from, or where nothing is there to judge
    limit : where the show draws the line; None for none
    limit_is : "below": values up to the limit pass; "above": values over it do
    judged : whether the clear zone asks for it
    note : what it is, in a sentence: for captions
    """

    name: LayerName
    title: str
    unit: str
    values: Floats
    limit: float | None
    limit_is: Literal["below", "above"]
    judged: bool
    note: str

    @cached_property
    def passes(self) -> Bools:
        """(ny, nx) where the limit is kept; NaN, nothing to judge, keeps it, and all do without a limit."""
        if self.limit is None:
            return np.ones(self.values.shape, dtype=bool)
        with np.errstate(invalid="ignore"):
            fails = self.values > self.limit if self.limit_is == "below" else self.values <= self.limit
        return ~fails


@dataclass(frozen=True, eq=False)
class FloorMap:
    """A framing of one camera, taken from everywhere.

    Attributes
    ----------
    camera, framing : their names
    x_m, y_m : (nx,) and (ny,) places of the sensor, stage metres, rising, evenly spaced
    height_m : (ny, nx) height of the sensor there: one number everywhere, but on a jib what the arm gives
        (NaN out of its reach)
    subject_m : stage point that the camera is aimed at, and by which its size in the picture is held
    here_m : where the sensor stands in the framing as written; its height may be another than the map's
    layers : by name, as ``Layer``
    reason : (ny, nx) int8, place in REASONS of why the framing cannot be taken from there; 0 where it can
    focal_length_mm : (ny, nx) what the lens is set to; NaN where ``reason`` says why not
    focus_m : (ny, nx) focus distance from the sensor; NaN likewise
    zoom : "hold" the subject's size in the picture by the focal length, or "fixed"
    focus : on the "subject", or "fixed"
    sightlines : across and down a picture
    assumptions : sentences on how it was worked out
    """

    camera: str
    framing: str
    x_m: Array
    y_m: Array
    height_m: Floats
    subject_m: Point
    here_m: Point
    layers: Mapping[LayerName, Layer]
    reason: npt.NDArray[np.int8]
    focal_length_mm: Floats
    focus_m: Floats
    zoom: Literal["hold", "fixed"]
    focus: Literal["subject", "fixed"]
    sightlines: tuple[int, int]
    assumptions: tuple[str, ...]

    @property
    def step_m(self) -> float:
        """Distance of neighbouring places."""
        return float(self.x_m[1] - self.x_m[0]) if len(self.x_m) > 1 else float(self.y_m[1] - self.y_m[0])

    @property
    def reachable(self) -> Bools:
        """(ny, nx) places from which the framing can be taken at all."""
        return self.reason == REACHABLE

    @cached_property
    def clear(self) -> Bools:
        """(ny, nx) the clear zone: reachable, and every judged layer keeps its limit."""
        clear = self.reachable.copy()
        for layer in self.layers.values():
            if layer.judged:
                clear &= layer.passes
        return clear

    @property
    def clear_m2(self) -> float:
        """Area of the clear zone, square metres."""
        return float(self.clear.sum()) * self.step_m**2

    def at(self, x_m: float, y_m: float) -> tuple[int, int] | None:
        """Row and column of the place nearest to a stage point; None outside the map."""
        row = round((y_m - float(self.y_m[0])) / self.step_m)
        column = round((x_m - float(self.x_m[0])) / self.step_m)
        inside = 0 <= row < len(self.y_m) and 0 <= column < len(self.x_m)
        return (row, column) if inside else None

    def nearest_clear_m(self, x_m: float, y_m: float) -> Point | None:
        """Place in the clear zone that is nearest to a stage point, sensor height included; None if there is
        none."""
        if not self.clear.any():
            return None
        rows, columns = np.nonzero(self.clear)
        away = np.hypot(self.x_m[columns] - x_m, self.y_m[rows] - y_m)
        row, column = rows[away.argmin()], columns[away.argmin()]
        return float(self.x_m[column]), float(self.y_m[row]), float(self.height_m[row, column])

    def told(self, row: int, column: int) -> tuple[str, ...]:
        """Why a place is not clear, as in "off-wall 3.1 %, limit 0 %"; nothing for a clear one."""
        if self.reason[row, column] != REACHABLE:
            return (REASONS[self.reason[row, column]],)
        return tuple(
            f"{layer.name} {layer.values[row, column]:.3g}{_unit(layer)}, limit {layer.limit:g}{_unit(layer)}"
            for layer in self.layers.values()
            if layer.judged and not layer.passes[row, column]
        )


def _unit(layer: Layer) -> str:
    return f" {layer.unit}" if layer.unit else ""
