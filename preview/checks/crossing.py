"""Crossing: another camera, its stand, its operator or a jib's arm in a picture on programme."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from preview.checks.airtime import Airtime, Spell, in_place, percent, shots_told
from preview.checks.look import Look, Plan
from preview.checks.registry import Check, Curve, Mark, register
from preview.checks.result import CheckResult, Finding, Value, capital
from preview.checks.where import where
from preview.raster.sight import Bools, Sight, ThingKind

BODIES: tuple[ThingKind, ...] = ("camera", "arm", "stand", "operator")
"""Equipment, in the order it is told."""


@dataclass(frozen=True)
class _Seen:
    """One camera's equipment in a picture: whose, which bodies, share of the picture, where, how near."""

    whose: str
    bodies: tuple[ThingKind, ...]
    share: float
    where: str
    nearest_m: float


@register
class Crossing(Check):
    """Other cameras and what belongs to them in pictures on programme."""

    name = "crossing"
    question = "Is another camera, its stand, its operator or a jib's arm in a picture on programme?"
    assumptions = (
        "Cameras, stands, arms and operators are simple bodies placed from the show file: their size is "
        "assumed, cables and assistants are left out, and operators stand behind their cameras.",
        "A camera's own equipment is never in its picture.",
        "What set, people or an LED surface hides does not count.",
        "Counted at the middles of the sight's fields (192 x 108 where not said otherwise: one is 0.005 % of "
        "the picture).",
    )
    order = 40
    levers = ("other framing", "position", "arm")

    def __init__(self, plan: Plan) -> None:
        super().__init__(plan)
        self._air: Airtime[tuple[_Seen, ...]] = Airtime(plan, _judge)

    def see(self, look: Look) -> None:
        """Take in one frame."""
        self._air.see(look)

    def result(self) -> CheckResult:
        """One finding a shot, camera and other camera in its picture; one a camera where there is none."""
        limit = self.plan.thresholds.crossing.percent / 100.0
        findings = []
        for spells in self._air.by_camera().values():
            clear = []
            for spell in spells:
                over = spell.where(lambda seen: _total(seen) > limit)
                crossed = list(dict.fromkeys(one.whose for seen in over.noted for one in seen))
                findings += [self._crossed(over, whose) for whose in crossed]
                if not crossed:
                    clear.append(spell)
            if clear:
                findings.append(self._clear(clear))
        return self.answer(findings)

    def _crossed(self, over: Spell[tuple[_Seen, ...]], whose: str) -> Finding:
        spell = over.where(lambda seen: any(one.whose == whose for one in seen))
        frame, seen = spell.worst(lambda seen: _of(seen, whose).share)
        worst = _of(seen, whose)
        shown = {body for seen in spell.noted for body in _of(seen, whose).bodies}
        bodies = [body for body in BODIES if body in shown]
        told = f"{_told(whose, bodies)} in {spell.camera}'s picture {self._air.lasts(spell)}"
        told += f": {in_place(worst.where)}, {percent(worst.share)} of it"
        told += f" at {self.plan.timeline.timecode(frame)}." if len(spell.frames) > 1 else "."
        nearest = min(_of(seen, whose).nearest_m for seen in spell.noted)
        measures: dict[str, Value] = {
            "whose": whose,
            "bodies": " ".join(bodies),
            "crossing_percent": round(100.0 * worst.share, 4),
            "nearest_m": round(nearest, 3),
            "frames_looked_at": len(spell.frames),
        }
        return self._air.finding(spell, "fault", frame, told, measures, where=worst.where)

    def _clear(self, spells: list[Spell[tuple[_Seen, ...]]]) -> Finding:
        told = f"No other camera or crew is in {spells[0].camera}'s picture {shots_told(spells)}"
        frame, seen = max((spell.worst(_total) for spell in spells), key=lambda worst: _total(worst[1]))
        worst = next(spell for spell in spells if frame in spell.frames)
        share = _total(seen)
        told += f" ({percent(share)} of it at most)." if share else "."
        measures = {"crossing_percent": round(100.0 * share, 4), "frames_looked_at": len(worst.frames)}
        return self._air.finding(worst, "fine", frame, told, measures)

    def curves(self) -> tuple[Curve, ...]:
        """How much of each picture on programme other cameras' equipment covers."""
        lines = self._air.lines(lambda seen: 100.0 * _total(seen))
        limit = self.plan.thresholds.crossing.percent
        return (
            Curve("Other cameras in the picture", "% of the picture", tuple(self._air.frames), lines, limit),
        )

    def marks(self, look: Look, finding: Finding) -> tuple[Mark, ...]:
        """The equipment in the picture."""
        if finding.grade == "fine":
            return ()
        (camera,) = finding.cameras
        sight = look.sight(camera)
        whose = str(finding.measures["whose"])
        bodies = str(finding.measures["bodies"]).split()
        shown: list[ThingKind] = [body for body in BODIES if body in bodies]
        return (Mark(camera, _mask(sight, whose), _named(whose, shown)),)


def _judge(look: Look, camera: str, sight: Sight) -> tuple[_Seen, ...]:
    found = []
    for whose in dict.fromkeys(thing.camera for thing in sight.things if thing.kind in BODIES):
        mask = _mask(sight, whose)
        if mask.any():
            shown = {sight.things[number].kind for number in np.unique(sight.thing[mask])}
            bodies = tuple(body for body in BODIES if body in shown)
            nearest = float(sight.thing_m[mask].min())
            found.append(_Seen(whose, bodies, float(mask.mean()), where(mask), nearest))
    return tuple(found)


def _mask(sight: Sight, whose: str) -> Bools:
    """(h, w) fields in which a camera's equipment is seen."""
    numbers = [
        number for number, thing in enumerate(sight.things) if thing.camera == whose and thing.kind in BODIES
    ]
    return np.isin(sight.thing, numbers)


def _total(seen: tuple[_Seen, ...]) -> float:
    return sum(one.share for one in seen)


def _of(seen: tuple[_Seen, ...], whose: str) -> _Seen:
    return next(one for one in seen if one.whose == whose)


def _named(whose: str, bodies: list[ThingKind]) -> str:
    """Bodies of a camera: "camera hand and its operator"."""
    first, *others = bodies
    words = [f"camera {whose}" if first == "camera" else f"{whose}'s {first}"]
    words += [f"its {body}" for body in others]
    *head, last = words
    return f"{', '.join(head)} and {last}" if head else last


def _told(whose: str, bodies: list[ThingKind]) -> str:
    """The same with their verb, to begin a sentence."""
    named = f"{_named(whose, bodies)} {'are' if len(bodies) > 1 else 'is'}"
    return capital(named) if bodies[0] == "camera" else named
