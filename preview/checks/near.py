"""Which bodies are near which things, measured only where it can matter."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from math import inf
from typing import Literal

import numpy as np

from preview.conventions import Array
from preview.show import model
from preview.show.model import Point
from preview.stage.build import Stage
from preview.stage.equipment import Solid
from preview.stage.gap import Extent, gap_m

Among = Literal["people", "set", "surface", "equipment", "floor"]
AMONG: tuple[Among, ...] = ("people", "set", "surface", "equipment", "floor")
"""What a body may be near; "floor" are LED floors and the studio floor."""


@dataclass(frozen=True)
class Near:
    """One body near one thing, at one frame.

    Attributes
    ----------
    body : name of a camera's solid
    thing, owner : what it is near, and the camera whose equipment that is ("" for what is on the stage)
    among : which kind of thing
    distance_m : between them at the frame
    between_m : before the next frame or after the last one they may be nearer by this much
    limit_m : the least distance asked for; 0 where only touching matters
    at_m : nearest point of the thing, stage metres; None where they touch, or not known
    """

    body: str
    thing: str
    owner: str
    among: Among
    distance_m: float
    between_m: float
    limit_m: float
    at_m: Point | None = None

    @property
    def surely_m(self) -> float:
        """A distance that they keep in any case, also between frames."""
        return max(self.distance_m - self.between_m, 0.0)

    @property
    def room_m(self) -> float:
        """What is left over the least distance; negative where it is not kept."""
        return self.surely_m - self.limit_m

    @property
    def rank(self) -> tuple[float, float]:
        """What decides which of two is tighter: the room, then the distance at the frame."""
        return self.room_m, self.distance_m

    @property
    def below(self) -> bool:
        """Whether the least distance is not kept, or they touch."""
        return self.room_m < 0.0 or self.distance_m <= 0.0

    def turned(self, camera: str) -> Near:
        """The same two as the other camera has them; ``camera`` is whose body this was."""
        return replace(self, body=self.thing, thing=self.body, owner=camera, at_m=None)


@dataclass(frozen=True, eq=False)
class Target:
    """Something on the stage that stands still.

    Attributes
    ----------
    name : as in the show file
    among : which kind
    extent : its body
    """

    name: str
    among: Among
    extent: Extent


@dataclass(frozen=True, eq=False)
class Bodies:
    """One camera's equipment at one frame.

    Attributes
    ----------
    camera : whose it is
    solids : where they are
    half_steps_m : for each, half the longest way of any of its points to the frame before or after
    """

    camera: model.Camera
    solids: tuple[Solid, ...]
    half_steps_m: tuple[float, ...]

    @cached_property
    def key(self) -> tuple[object, ...]:
        """Equal for equal bodies."""
        return self.camera.name, self.solids, self.half_steps_m

    @cached_property
    def bounds_m(self) -> Array:
        """(n, 2, 3) lowest and highest stage coordinates of each."""
        return np.array([solid.bounds_m for solid in self.solids])

    @cached_property
    def extents(self) -> list[Extent]:
        """Each as a body to measure with."""
        return [Extent.of(solid) for solid in self.solids]

    @property
    def moves(self) -> bool:
        """Whether anything of it does."""
        return any(self.half_steps_m)


@dataclass(frozen=True)
class Pair:
    """Two bodies whose distance may matter.

    Attributes
    ----------
    one, other : their places in their lists
    thing, among, between_m, limit_m : as of ``Near``
    least_m : a distance that they keep at least, from their bounds
    """

    one: int
    other: int
    thing: str
    among: Among
    between_m: float
    limit_m: float
    least_m: float

    def rank(self, distance_m: float) -> tuple[float, float]:
        """As ``Near.rank`` at a distance."""
        return max(distance_m - self.between_m, 0.0) - self.limit_m, distance_m


class Memory:
    """Distances measured before: two bodies come nearer by no more than they have moved since."""

    def __init__(self) -> None:
        self._known: dict[tuple[str, int, str, int], tuple[float, Array, Array | None]] = {}

    def nearest(
        self, pairs: Sequence[Pair], one: Bodies, others: Sequence[Extent], other: Bodies | None = None
    ) -> list[Near]:
        """For each thing the body with the least room: all that are too near, and the tightest of each kind.

        Only pairs that can be one of them are measured.

        Parameters
        ----------
        pairs : what to look at
        one : whose bodies ``Pair.one`` counts
        others : bodies that ``Pair.other`` counts
        other : the camera whose equipment those are; None where they stand still for ever
        """
        best: dict[str, Near] = {}
        tightest: dict[Among, tuple[float, float]] = dict.fromkeys(AMONG, (inf, inf))

        def matters(pair: Pair, least_m: float) -> bool:
            rank = pair.rank(least_m)
            if pair.thing in best and rank >= best[pair.thing].rank:
                return False
            return rank[0] < 0.0 or least_m <= 0.0 or rank < tightest[pair.among]

        for pair in sorted(pairs, key=lambda pair: pair.rank(pair.least_m)):
            if not matters(pair, pair.least_m):
                continue
            key = (one.camera.name, pair.one, other.camera.name if other else "", pair.other)
            here = one.solids[pair.one].corners_m
            there = other.solids[pair.other].corners_m if other else None
            if key in self._known:
                distance, was_here, was_there = self._known[key]
                moved = _way_m(was_here, here)
                if there is not None and was_there is not None:
                    moved += _way_m(was_there, there)
                if not matters(pair, max(pair.least_m, distance - moved)):
                    continue
            distance, at = gap_m(one.extents[pair.one], others[pair.other])
            self._known[key] = distance, here, there
            near = Near(
                one.solids[pair.one].name, pair.thing, other.camera.name if other else "", pair.among,
                distance, pair.between_m, pair.limit_m, at,
            )  # fmt: skip
            tightest[pair.among] = min(tightest[pair.among], near.rank)
            if pair.thing not in best or near.rank < best[pair.thing].rank:
                best[pair.thing] = near
        return [near for near in best.values() if near.below or near.rank == tightest[near.among]]


def _way_m(before: Array, after: Array) -> float:
    way = after - before
    return float(np.einsum("ij,ij->i", way, way).max() ** 0.5)


def ways_m(before: Sequence[Solid], after: Sequence[Solid]) -> list[float]:
    """Longest way (metres) that any point of each solid makes, in a straight line.

    A rigid body's points are carried in proportion, so none of them goes farther than its farthest corner.
    The arc of a turn by 5 degrees is 0.03 % longer than the straight way.
    """
    return [_way_m(here.corners_m, there.corners_m) for here, there in zip(before, after, strict=True)]


def stage_targets(stage: Stage, people: set[str]) -> list[Target]:
    """LED surfaces, set pieces and people, each one body. See-through parts count.

    Parameters
    ----------
    people : names of the parts that are people
    """
    found = [
        Target(
            surface.name,
            "floor" if surface.kind == "floor" else "surface",
            Extent.of_mesh(surface.positions, surface.triangles),
        )
        for surface in stage.surfaces
    ]
    for name in dict.fromkeys(part.name for part in stage.set.parts):
        parts = [part for part in stage.set.parts if part.name == name and len(part.triangles)]
        if not parts:
            continue
        starts = np.cumsum([0] + [len(part.positions) for part in parts[:-1]])
        positions = np.concatenate([part.positions for part in parts]).astype(np.float64)
        triangles = np.concatenate(
            [part.triangles + start for part, start in zip(parts, starts, strict=True)]
        )
        found.append(
            Target(name, "people" if name in people else "set", Extent.of_mesh(positions, triangles))
        )
    return found
