"""Room that a camera's equipment would have where it stands, over the least distances the show asks for.

Bodies, targets and least distances are those of ``preview.checks.clearance``, of a camera that stands still.
Distances are exact where places are measured. A place is not measured where the room its neighbours have,
less the way that equipment makes from there, leaves no doubt whether the least distances are kept; it then
gets the mean of its neighbours, inside the bounds that they leave.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import product
from math import inf

import numpy as np

from preview.checks.clearance import STEP_M
from preview.checks.near import Among, Bodies, Target
from preview.conventions import Array
from preview.floor.aim import Aim, Stands
from preview.floor.polygons import Polygons
from preview.floor.result import Bools, Floats
from preview.show.thresholds import ClearanceLimits
from preview.stage.appearance import equipment_at
from preview.stage.build import Stage
from preview.stage.equipment import Solid
from preview.stage.gap import Extent, gap_m, least_gaps_m

STRIDES = (8, 4, 2, 1)
"""Places between those that are looked at first, then between them."""
PIECE = 400
"""Triangles of a set piece or person that are measured together, at most."""
ENOUGH_M = 3.0
"""Room over this is told as this."""


class Room:
    """The room of one camera's equipment.

    Parameters
    ----------
    aim : the camera and its framing
    targets : LED surfaces, set and people of the stage, as of ``floor_targets``
    bodies : set and people whole, to know what lies wholly inside one
    others : other cameras' equipment
    limits : least distances
    """

    def __init__(
        self,
        aim: Aim,
        targets: Sequence[Target],
        bodies: Sequence[Target],
        others: Sequence[Solid],
        limits: ClearanceLimits,
    ) -> None:
        self._aim, self._targets, self._limits = aim, list(targets), limits
        self._others, self._whole = list(others), [one for one in bodies if one.among in ("people", "set")]
        self._extents = [target.extent for target in targets] + [Extent.of(solid) for solid in others]
        self._bounds = np.array([extent.bounds_m for extent in self._extents]).reshape(-1, 2, 3)
        self._asked: Array | None = None
        self.measured = 0

    def over(self, stands: Stands, shape: tuple[int, int], wanted: Bools) -> Floats:
        """(ny, nx) room in metres, up to ENOUGH_M: negative by how much a least distance is not kept, 0 where
        something that may be near is touched; NaN where not wanted.

        Parameters
        ----------
        stands : the places of the map, row by row
        shape : ny, nx
        wanted : (ny, nx) places from which the framing can be taken
        """
        low, high, value = (np.full(shape, np.nan) for _ in range(3))
        moves = None if self._aim.camera.mount.kind == "jib" else _Ways(self._aim, stands, shape)
        for stride in STRIDES:
            level = (slice(None, None, stride), slice(None, None, stride))
            if moves is not None and stride < STRIDES[0]:
                moves.settle(level, low, high, value, wanted)
            rows, columns = np.nonzero(wanted[level] & np.isnan(value[level]))
            for row, column in zip(rows * stride, columns * stride, strict=True):
                room = self.at(stands, int(row) * shape[1] + int(column))
                low[row, column] = high[row, column] = value[row, column] = room
        return value.astype(np.float32)

    def at(self, stands: Stands, place: int) -> float:
        """Room in one place, metres."""
        self.measured += 1
        camera = self._aim.camera
        bodies = Bodies(camera, equipment_at(camera, self._aim.view(stands, place)), ())
        if self._asked is None:
            self._asked = np.array([self._limits_of(solid) for solid in bodies.solids])
        room = ENOUGH_M
        if camera.mount.kind == "jib":
            hanging = [n for n, solid in enumerate(bodies.solids) if solid.kind in ("arm", "camera")]
            lowest = max(float(bodies.bounds_m[hanging, 0, 2].min()), 0.0)
            room = min(room, lowest - self._limits.floor_m if lowest > 0.0 else -self._limits.floor_m)
        for solid in bodies.solids:
            for target in self._whole:
                if target.extent.holds(solid.corners_m[0]):
                    room = min(room, -self._stage_limit_m(solid, target))
        least = least_gaps_m(bodies.bounds_m, self._bounds) - self._asked
        extents: dict[int, Extent] = {}
        for pair in np.argsort(least, axis=None):
            number, at = divmod(int(pair), least.shape[1])
            if not least[number, at] < room:
                break
            if number not in extents:
                extents[number] = Extent.of(bodies.solids[number])
            distance, _ = gap_m(extents[number], self._extents[at])
            room = min(room, distance - float(self._asked[number, at]))
        return room

    def _limits_of(self, solid: Solid) -> list[float]:
        """Least distance from a solid to each target and each other solid; -inf where it does not matter."""
        stage = [self._stage_limit_m(solid, target) for target in self._targets]
        arms = [self._limits.equipment_m if "arm" in (solid.kind, one.kind) else 0.0 for one in self._others]
        return stage + arms

    def _stage_limit_m(self, solid: Solid, target: Target) -> float:
        limits = self._limits
        if solid.kind in ("stand", "operator"):
            low = target.among == "set" and target.extent.bounds_m[1, 2] <= STEP_M
            return -inf if low or target.among == "floor" else 0.0  # where they stand only touching counts
        if target.among == "people":
            carried = self._aim.camera.mount.kind == "free"
            return limits.carried_m if carried else limits.people_m
        return {"set": limits.set_m, "surface": limits.surface_m, "floor": limits.floor_m}[target.among]


class _Ways:
    """How far a camera's equipment gets, at most, from one place of the map to another.

    All of it is carried along; the body turns about the sensor, and whoever operates it with its pan.
    """

    def __init__(self, aim: Aim, stands: Stands, shape: tuple[int, int]) -> None:
        self._position = stands.position_m.reshape(*shape, 3)
        self._rotation = stands.rotation.reshape(*shape, 3, 3)
        ahead = self._rotation[..., :2, 1]
        self._pan = ahead / np.maximum(np.linalg.norm(ahead, axis=-1, keepdims=True), 1e-12)
        usable = np.flatnonzero(stands.reason == 0)
        self._body = self._operator = 0.0
        if len(usable):
            solids = equipment_at(aim.camera, aim.view(stands, int(usable[0])))
            sensor = stands.position_m[usable[0]]
            for solid in solids:
                away = solid.corners_m - sensor
                if solid.kind == "camera":
                    self._body = max(self._body, float(np.linalg.norm(away, axis=1).max()))
                elif solid.kind == "operator":
                    self._operator = max(self._operator, float(np.hypot(away[:, 0], away[:, 1]).max()))

    def settle(
        self, level: tuple[slice, slice], low: Array, high: Array, value: Array, wanted: Bools
    ) -> None:
        """Fill in the places of a level that their neighbours in it leave no doubt about.

        ``low`` and ``high`` are the least and the largest room that places known so far can have.
        """
        position, rotation, pan = self._position[level], self._rotation[level], self._pan[level]
        lowest, highest, known = low[level], high[level], value[level]
        least, most = np.full(known.shape, -inf), np.full(known.shape, inf)
        total, number = np.zeros(known.shape), np.zeros(known.shape)
        for down, across in product((-1, 0, 1), repeat=2):
            if not down and not across:
                continue
            here, there = _beside(down, across)
            carried = np.linalg.norm(position[here] - position[there], axis=-1)
            # A rotation's chord, 2 sin(angle / 2), is the Frobenius norm of the difference over root 2.
            turned = np.linalg.norm(rotation[here] - rotation[there], axis=(-2, -1)) / np.sqrt(2.0)
            panned = np.linalg.norm(pan[here] - pan[there], axis=-1)
            way = carried + np.maximum(self._body * turned, self._operator * panned)
            least[here] = np.fmax(least[here], lowest[there] - way)
            most[here] = np.fmin(most[here], highest[there] + way)
            total[here] += np.nan_to_num(known[there])
            number[here] += ~np.isnan(known[there])
        sure = wanted[level] & np.isnan(known) & (number > 0) & ((least > 0.0) | (most <= 0.0))
        mean = np.clip(total / np.maximum(number, 1.0), least, most)
        for values, found in ((low, least), (high, most), (value, mean)):
            values[level] = np.where(sure, found, values[level])


def _beside(down: int, across: int) -> tuple[tuple[slice, slice], tuple[slice, slice]]:
    """Places that have a neighbour so many rows and columns on, and those neighbours."""

    def pair(step: int) -> tuple[slice, slice]:
        if step == 0:
            return slice(None), slice(None)
        return (slice(None, -1), slice(1, None)) if step > 0 else (slice(1, None), slice(None, -1))

    (rows, other_rows), (columns, other_columns) = pair(down), pair(across)
    return (rows, columns), (other_rows, other_columns)


def floor_targets(stage: Stage, polygons: Polygons, bodies: Sequence[Target]) -> list[Target]:
    """``bodies``, as of ``preview.checks.near.stage_targets``, in pieces, whose bounds say more: LED surfaces
    polygon by polygon, set and people PIECE triangles at a time."""
    found = []
    for target in bodies:
        if target.among in ("people", "set"):
            for corners in _pieces(target.extent.corners_m):
                triangles = np.arange(3 * len(corners)).reshape(-1, 3)
                piece = Extent.of_mesh(corners.reshape(-1, 3), triangles)
                found.append(Target(target.name, target.among, piece))
    for corners, place in zip(polygons.corners_m, polygons.surface, strict=True):
        surface = stage.surfaces[place]
        fan = np.array([(0, i, i + 1) for i in range(1, len(corners) - 1)])
        among: Among = "floor" if surface.kind == "floor" else "surface"
        found.append(Target(surface.name, among, Extent.of_mesh(corners, fan)))
    return found


def _pieces(corners: Array) -> list[Array]:
    """Triangles (m, 3, 3) in pieces, halved along the longest side of their bounds until they are small."""
    if len(corners) <= PIECE:
        return [corners]
    middles = corners.mean(axis=1)
    axis = int(np.ptp(middles, axis=0).argmax())
    order, half = np.argsort(middles[:, axis], kind="stable"), len(corners) // 2
    return _pieces(corners[order[:half]]) + _pieces(corners[order[half:]])
