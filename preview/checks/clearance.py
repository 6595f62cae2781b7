"""Clearance: how near arms, cameras and operators come to the set, the people and each other."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from itertools import combinations

import numpy as np

from preview.checks.look import Look, Plan, solids_at
from preview.checks.near import AMONG, Among, Bodies, Memory, Near, Pair, Target, stage_targets, ways_m
from preview.checks.registry import Check, Curve, Mark, register
from preview.checks.result import CheckResult, Finding, Value, span
from preview.show.thresholds import ClearanceLimits
from preview.stage.gap import least_gaps_m
from preview.timeline.rundown import Cue
from preview.timeline.timeline import Timeline

STEP_M = 0.25
"""Stands and operators stand on set pieces no higher than this, and are not near them."""

THE_FLOOR = "the studio floor"


@dataclass
class _Span:
    """One camera's time on one cue."""

    camera: str
    cue: Cue
    shot: str
    first: int
    last: int
    nearest: dict[Among, tuple[int, Near]] = field(default_factory=dict)
    below: dict[str, _Below] = field(default_factory=dict)

    @property
    def doing(self) -> str:
        return self.cue.move or self.cue.framing or ""

    def add(self, frame: int, near: Near) -> None:
        have = self.nearest.get(near.among)
        if have is None or near.rank < have[1].rank:
            self.nearest[near.among] = (frame, near)

    def add_below(self, frame: int, near: Near) -> None:
        key = near.owner or near.thing
        have = self.below.get(key)
        if have is None:
            self.below[key] = _Below(frame, frame, 1, frame, near)
            return
        if have.last != frame:
            have.last, have.frames = frame, have.frames + 1
        if near.rank < have.near.rank:
            have.worst, have.near = frame, near

    @property
    def tightest(self) -> tuple[int, Near] | None:
        return min(self.nearest.values(), key=lambda one: one[1].rank, default=None)


@dataclass
class _Below:
    first: int
    last: int
    frames: int
    worst: int
    near: Near


@register
class Clearance(Check):
    """The shortest distance of every camera's equipment to everything else, frame by frame."""

    name = "clearance"
    question = "How near do arms, cameras and operators come to the set, the people, the LED and each other?"
    assumptions = (
        "Cameras, stands, arms and operators are boxes and capsules of the sizes in the show file, typical "
        "ones where it has none (values from memory): measure what stands on the floor. Cables, monitors, "
        "zoom handles and assistants are left out.",
        "People sit or stand as modelled and do not move. Operators follow their cameras.",
        "Between two frames a body is taken to be nearer by half the way that its fastest corner makes; that "
        "is taken off before a distance is held against the least one.",
        "How a camera gets to a framing that a cue puts it on is not looked at.",
        "From a camera that is carried and from operators on the move people are to be carried_m away, from "
        "all else people_m: carried cameras work at arm's length (common practice, no source).",
        "Stands and operators may stand on LED floors and on set pieces up to "
        f"{STEP_M:g} m high; where they stand still, only touching counts.",
    )
    caution = (
        "A planning aid. Distances are geometric and say nothing of load, balance, wind, stopping distance, "
        "overhead clearance or exclusion zones. Rigging and operation are for trained operators under local "
        "law, site rules and the equipment's manual; they decide."
    )
    order = 80
    every_frame = True
    levers = ("arm", "position", "other framing")

    def __init__(self, plan: Plan) -> None:
        super().__init__(plan)
        people = {person.name for person in plan.show.file.stage.people}
        self._targets = stage_targets(plan.stage, people)
        self._target_bounds = np.array([target.extent.bounds_m for target in self._targets])
        self._memory = Memory()
        self._spans: dict[tuple[str, int], _Span] = {}
        self._frames: list[int] = []
        self._room: dict[str, list[float]] = {camera.name: [] for camera in plan.show.file.cameras}
        self._last: tuple[object, dict[str, list[Near]], dict[str, list[Near]]] | None = None

    def see(self, look: Look) -> None:
        """Measure the distances of one frame, or take them over where nothing moved."""
        bodies = self._bodies(look)
        key = tuple(each.key for each in bodies)
        if self._last is None or self._last[0] != key:
            self._last = (key, *self._measured(bodies))
        _, seen, below = self._last
        self._frames.append(look.frame)
        for each in bodies:
            name = each.camera.name
            where = self._span(look, name)
            for near in seen[name]:
                where.add(look.frame, near)
            for near in below[name]:
                where.add_below(look.frame, near)
            self._room[name].append(min((near.room_m for near in seen[name]), default=float("nan")))

    def result(self) -> CheckResult:
        """What comes too near, by camera and cue; and for each move and each camera what came nearest."""
        findings = [
            self._fault(where, found) for where in self._spans.values() for found in where.below.values()
        ]
        for name in self._room:
            spans = [where for where in self._spans.values() if where.camera == name]
            if spans:
                findings += self._fine(name, spans)
        return self.answer(findings)

    def curves(self) -> tuple[Curve, ...]:
        """Room left over the least distance, one line a camera."""
        return (Curve("Room over the least distance", "m", self._frames, self._room, 0.0, "above"),)

    def tables(self) -> Mapping[str, Sequence[Mapping[str, Value]]]:
        """Each camera's nearest thing of every kind, one row a cue."""
        rows = []
        for where in sorted(self._spans.values(), key=lambda one: (one.first, one.camera)):
            row: dict[str, Value] = {
                "camera": where.camera,
                "shot": where.shot,
                "doing": where.doing,
                "move": where.cue.move is not None,
                "first_timecode": self._timecode(where.first),
                "last_timecode": self._timecode(where.last),
            }
            for among in AMONG:
                frame, near = where.nearest.get(among, (None, None))
                row |= {
                    f"{among}_m": _rounded(near.distance_m) if near else None,
                    f"{among}_least_m": near.limit_m if near else None,
                    f"{among}_body": near.body if near else None,
                    f"{among}_thing": near.thing if near else None,
                    f"{among}_timecode": None if frame is None else self._timecode(frame),
                }
            rows.append(row)
        return {"clearance": rows}

    def marks(self, look: Look, finding: Finding) -> tuple[Mark, ...]:
        """In pictures on programme: the body that comes near or, where it is not seen, what it is near."""
        marks = []
        for camera, _ in look.on_programme:
            sight = look.sight(camera)
            for name in (finding.measures.get("body"), finding.measures.get("thing")):
                numbers = [number for number, thing in enumerate(sight.things) if thing.name == name]
                mask = np.isin(sight.thing, numbers)
                if mask.any():
                    marks.append(Mark(camera, mask, str(name)))
                    break
        return tuple(marks)

    # Frames

    def _bodies(self, look: Look) -> list[Bodies]:
        timeline, frame = self.plan.timeline, look.frame
        beside = [at for at in (frame - 1, frame + 1) if 0 <= at < timeline.frame_count]
        found = []
        for camera in look.moment.cameras:
            solids = look.solids(camera.name)
            steps = [0.0] * len(solids)
            for at in beside:
                view = timeline.view_at(camera.name, at)
                if view == camera.view:
                    continue
                if cue_at(timeline, camera.name, at) == cue_at(timeline, camera.name, frame):
                    ways = ways_m(solids, solids_at(self.plan, replace(camera, view=view)))
                    steps = [max(step, way / 2) for step, way in zip(steps, ways, strict=True)]
            found.append(Bodies(self.plan.camera(camera.name), solids, tuple(steps)))
        return found

    def _span(self, look: Look, camera: str) -> _Span:
        cue = cue_at(self.plan.timeline, camera, look.frame)
        where = self._spans.get((camera, cue.since_frame))
        if where is None:
            where = _Span(camera, cue, look.moment.shot, look.frame, look.frame)
            self._spans[camera, cue.since_frame] = where
        where.last = look.frame
        return where

    # Distances

    def _measured(self, bodies: Sequence[Bodies]) -> tuple[dict[str, list[Near]], dict[str, list[Near]]]:
        """By camera: its nearest of each kind, and all that is too near (a pair of cameras' once)."""
        seen: dict[str, list[Near]] = {each.camera.name: [] for each in bodies}
        below: dict[str, list[Near]] = {each.camera.name: [] for each in bodies}
        for each in bodies:
            near = self.plan.once("clearance of the stage", each.key, partial(self._to_stage, each))
            seen[each.camera.name] += near
            below[each.camera.name] += [found for found in near if found.below]
        for one, other in combinations(bodies, 2):
            # What comes too near is told of the camera that moves.
            a, b = (other, one) if other.moves and not one.moves else (one, other)
            key = (a.key, b.key)
            near = self.plan.once("clearance of cameras", key, partial(self._to_each_other, a, b))
            seen[a.camera.name] += near
            seen[b.camera.name] += [found.turned(a.camera.name) for found in near]
            below[a.camera.name] += [found for found in near if found.below]
        return seen, below

    def _to_stage(self, each: Bodies) -> list[Near]:
        least = least_gaps_m(each.bounds_m, self._target_bounds)
        pairs = []
        for number, step in enumerate(each.half_steps_m):
            for at, target in enumerate(self._targets):
                limit = self._stage_limit_m(each, number, target)
                if limit is not None:
                    gap = float(least[number, at])
                    pairs.append(Pair(number, at, target.name, target.among, step, limit, gap))
        found = self._memory.nearest(pairs, each, [target.extent for target in self._targets])
        return found + self._to_floor(each)

    def _to_floor(self, each: Bodies) -> list[Near]:
        if each.camera.mount.kind != "jib":
            return []
        hanging = [number for number, solid in enumerate(each.solids) if solid.kind in ("arm", "camera")]
        number = min(hanging, key=lambda one: each.bounds_m[one, 0, 2] - each.half_steps_m[one])
        low, solid = float(each.bounds_m[number, 0, 2]), each.solids[number]
        step, limit = each.half_steps_m[number], self._limits.floor_m
        return [Near(solid.name, THE_FLOOR, "", "floor", max(low, 0.0), step, limit)]

    def _to_each_other(self, one: Bodies, other: Bodies) -> list[Near]:
        least = least_gaps_m(one.bounds_m, other.bounds_m)
        pairs = []
        for a, mine in enumerate(one.solids):
            for b, theirs in enumerate(other.solids):
                step = one.half_steps_m[a] + other.half_steps_m[b]
                counts = step > 0.0 or "arm" in (mine.kind, theirs.kind)
                limit = self._limits.equipment_m if counts else 0.0
                pairs.append(Pair(a, b, theirs.name, "equipment", step, limit, float(least[a, b])))
        return self._memory.nearest(pairs, one, other.extents, other)

    def _stage_limit_m(self, each: Bodies, number: int, target: Target) -> float | None:
        """The least distance asked of a solid; None where it does not matter at all."""
        solid, limits = each.solids[number], self._limits
        carried = each.camera.mount.kind == "free"
        if solid.kind in ("stand", "operator"):
            if target.among == "floor":
                return None
            if target.among == "set" and target.extent.bounds_m[1, 2] <= STEP_M:
                return None
            if not each.half_steps_m[number]:
                return 0.0
        if target.among == "people" and (carried or solid.kind == "operator"):
            return limits.carried_m
        by_kind = {
            "people": limits.people_m,
            "set": limits.set_m,
            "surface": limits.surface_m,
            "floor": limits.floor_m,
        }
        return by_kind[target.among]

    @property
    def _limits(self) -> ClearanceLimits:
        return self.plan.thresholds.clearance

    # Findings

    def _timecode(self, frame: int) -> str:
        return self.plan.timeline.timecode(frame)

    def _fault(self, where: _Span, found: _Below) -> Finding:
        near, frames = found.near, (found.first, found.last)
        first, last = (self._timecode(frame) for frame in frames)
        if near.distance_m <= 0.0:
            how = f"touches {near.thing}"
        else:
            how = f"comes to {near.distance_m:.2f} m from {near.thing}"
            if near.distance_m >= near.limit_m:
                how += f", and between two frames perhaps to {near.surely_m:.2f} m"
        asked = f", where {near.limit_m:g} m is asked for" if near.limit_m else ""
        cameras = (where.camera, near.owner) if near.owner else (where.camera,)
        return Finding(
            grade="fault",
            shot=self.plan.timeline.shot_at(found.worst).name,
            cameras=cameras,
            frames=frames,
            timecodes=(first, last),
            sentence=f"{_what(where)}: {near.body} {how}{asked}, at {self._timecode(found.worst)} "
            f"(too near at {span(first, last)}).",
            measures=self._measures(found.worst, near) | {"frames_too_near": found.frames},
        )

    def _fine(self, camera: str, spans: Sequence[_Span]) -> Iterable[Finding]:
        """One finding for each move without a fault, and one for the camera's whole time if it has none."""
        for where in spans:
            if where.cue.move and not self._faults(where) and where.tightest:
                yield self._looked_at([where], where.shot, _what(where))
        if not any(self._faults(where) for where in spans) and any(where.tightest for where in spans):
            yield self._looked_at(spans, "", f"{camera} in {len(spans)} framings and moves")

    def _faults(self, where: _Span) -> bool:
        """Whether this camera has a fault on this cue, its own or another camera's with it."""
        return any(near.below for _, near in where.nearest.values())

    def _looked_at(self, spans: Sequence[_Span], shot: str, what: str) -> Finding:
        tightest = [where.tightest for where in spans if where.tightest is not None]
        frame, near = min(tightest, key=lambda one: one[1].rank)
        frames = (min(where.first for where in spans), max(where.last for where in spans))
        asked = f", {near.limit_m:g} m is asked for" if near.limit_m else ""
        return Finding(
            grade="fine",
            shot=shot,
            cameras=(spans[0].camera,),
            frames=frames,
            timecodes=(self._timecode(frames[0]), self._timecode(frames[1])),
            sentence=f"{what}: nothing comes nearer than asked for; the tightest is {near.body} at "
            f"{near.distance_m:.2f} m from {near.thing}{asked}, at {self._timecode(frame)}.",
            measures=self._measures(frame, near),
        )

    def _measures(self, frame: int, near: Near) -> dict[str, Value]:
        x, y, z = near.at_m or (None, None, None)
        return {
            "worst_frame": frame,
            "worst_timecode": self._timecode(frame),
            "where": "",
            "body": near.body,
            "thing": near.thing,
            "distance_m": _rounded(near.distance_m),
            "between_frames_m": _rounded(near.surely_m),
            "least_m": near.limit_m,
            "missing_m": _rounded(max(-near.room_m, 0.0)),
            "thing_x_m": None if x is None else _rounded(x),
            "thing_y_m": None if y is None else _rounded(y),
            "thing_z_m": None if z is None else _rounded(z),
        }


def cue_at(timeline: Timeline, camera: str, frame: int) -> Cue:
    """The cue that a camera follows at a frame; KeyError if the show has none of that name."""
    shot = timeline.shot_at(frame)
    cue = shot.cue(camera)
    while frame < cue.since_frame:  # the outgoing camera of a mix takes its cue when it is over
        shot = timeline.shots[shot.index - 1]
        cue = shot.cue(camera)
    return cue


def _what(where: _Span) -> str:
    return f"{where.camera}, {where.doing}"


def _rounded(metres: float) -> float:
    return round(metres, 3)
