"""Viewing angle: how much darker LED tiles look for being seen from the side, and where colours shift."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from math import cos, radians

import numpy as np

from preview.checks.airtime import Airtime, Spell, in_place, percent, shots_told
from preview.checks.look import Look, Plan
from preview.checks.registry import Check, Curve, Mark, register
from preview.checks.result import CheckResult, Finding, Value
from preview.checks.where import where
from preview.raster.sight import Bools, Sight
from preview.show.thresholds import ViewingAngleLimits
from preview.stage.falloff import seen_luminance
from preview.stage.surface import LedSurface

BALANCE = (
    "balance this {kind} against the wall for this framing, by eye or by meter from the camera's place "
    "(lighting, engineering); do not take its colour from a wall seen straight on"
)


@dataclass(frozen=True)
class _Seen:
    """One LED surface in a picture.

    Attributes
    ----------
    surface : its place in the stage's list
    share : of the picture that shows it, 0..1
    loss : greatest loss of luminance against straight on, 0..1; below 0 where all of it looks brighter
    angle_deg : greatest angle between sightline and normal
    shifted : share of the picture in which it is seen from the colour-shift angle on
    stops : difference between its brightest and darkest place
    where : place in the picture of what is over a limit, else of the darkest
    """

    surface: int
    share: float
    loss: float
    angle_deg: float
    shifted: float
    stops: float
    where: str


_Noted = tuple[_Seen, ...]


@register
class ViewingAngle(Check):
    """LED surfaces on programme, seen from the side."""

    name = "viewing-angle"
    question = (
        "Does an LED surface on programme look darker, uneven or off colour for being seen from the side?"
    )
    assumptions = (
        "Luminance falls with a power of the cosine, so that it is (or luminous intensity is) half at the "
        "tile's half-value angle; in between its two planes the power runs smoothly (own interpolation). "
        "Tiles, their shaders and louvres differ: a look through the camera decides.",
        "Where colours begin to shift is not in data sheets; the show's colour_shift_deg says it.",
        "Each surface is compared with itself straight on and across one picture; a step between wall and "
        "floor is no matter of this check.",
        "A floor or ceiling is always seen from the side. That it looks darker is no mistake of the framing, "
        "so it is a compromise, told once a camera, for its worst shot.",
        "Seen at the middles of the sight's fields; equipment in front does not hide it.",
    )
    order = 50
    levers = ("other framing", "position", "arm")

    def __init__(self, plan: Plan) -> None:
        super().__init__(plan)
        self._surfaces = plan.stage.surfaces
        self._limits = plan.thresholds.viewing_angle
        self._air: Airtime[_Noted] = Airtime(plan, self._judge, equipment=False)

    def see(self, look: Look) -> None:
        """Take in one frame."""
        self._air.see(look)

    def _judge(self, look: Look, camera: str, sight: Sight) -> _Noted:
        found = []
        for number in np.unique(sight.surface[sight.wall_seen]):
            surface = self._surfaces[number]
            mask = sight.wall_seen & (sight.surface == number)
            level = _level(sight, mask, surface)
            facing = sight.facing[mask].astype(np.float64)
            over = _over(level, facing, self._limits)
            place = np.zeros_like(mask)
            place[mask] = over if over.any() else level == level.min()
            found.append(
                _Seen(
                    surface=int(number),
                    share=float(mask.mean()),
                    loss=float(1.0 - level.min()),
                    angle_deg=float(np.degrees(np.arccos(np.clip(facing.min(), 0.0, 1.0)))),
                    shifted=float(_shifted(facing, self._limits).sum() / mask.size),
                    stops=float(np.log2(level.max() / level.min())),
                    where=where(place),
                )
            )
        return tuple(found)

    def result(self) -> CheckResult:
        """One finding a shot, camera and wall over a limit; one a camera and floor or ceiling, for its worst
        shot; one a camera for the shots in which walls are within them."""
        findings = []
        for spells in self._air.by_camera().values():
            for number, surface in enumerate(self._surfaces):
                over = [part for part in (self._over(spell, number) for spell in spells) if part.frames]
                if not over:
                    continue
                if surface.kind == "wall":
                    findings += [self._wall(part, number) for part in over]
                else:
                    findings.append(self._level_surface(over, number))
            right = [spell for spell in spells if not any(self._bad_walls(noted) for noted in spell.noted)]
            if right:
                findings.append(self._right(right))
        return self.answer(findings)

    def _over(self, spell: Spell[_Noted], number: int) -> Spell[_Noted]:
        def over(noted: _Noted) -> bool:
            one = _of(noted, number)
            return one is not None and self._badness(one) > 1.0

        return spell.where(over)

    def _bad_walls(self, noted: _Noted) -> bool:
        return any(self._surfaces[one.surface].kind == "wall" and self._badness(one) > 1.0 for one in noted)

    def _badness(self, one: _Seen) -> float:
        """How many times the nearest limit; over 1 is over a limit."""
        limits = self._limits
        ratios = (
            _ratio(100.0 * one.loss, limits.loss_percent),
            _ratio(one.stops, limits.difference_stops),
            one.angle_deg / limits.colour_shift_deg,
        )
        return max(ratios)

    def _worst(self, spell: Spell[_Noted], number: int) -> tuple[int, _Seen]:
        def badness(noted: _Noted) -> float:
            one = _of(noted, number)
            return -1.0 if one is None else self._badness(one)

        frame, noted = spell.worst(badness)
        worst = _of(noted, number)
        assert worst is not None
        return frame, worst

    def _wall(self, spell: Spell[_Noted], number: int) -> Finding:
        frame, worst = self._worst(spell, number)
        # An even loss or a slow fall can be lived with; colour and a loss over the limit have to be mended.
        fault = worst.shifted > 0.0 or 100.0 * worst.loss > self._limits.loss_percent
        told = (
            f"{spell.camera} sees {_named(self._surfaces[number])} from up to {worst.angle_deg:.0f} degrees"
        )
        told += f" off straight on {self._air.lasts(spell)}: {self._told(worst)}."
        return self._air.finding(
            spell,
            "fault" if fault else "compromise",
            frame,
            told,
            self._measures(worst, spell),
            where=worst.where,
        )

    def _level_surface(self, over: list[Spell[_Noted]], number: int) -> Finding:
        surface = self._surfaces[number]
        spell = max(over, key=lambda spell: self._badness(self._worst(spell, number)[1]))
        frame, worst = self._worst(spell, number)
        told = (
            f"{spell.camera} sees {_named(surface)} from up to {worst.angle_deg:.0f} degrees off straight on"
        )
        told += f" ({spell.shot}, {self.plan.timeline.timecode(frame)}), and no camera sees a {surface.kind}"
        told += f" straight on: {self._told(worst)}"
        if len(over) > 1:
            told += f"; over a limit {shots_told(over)}"
        return self._air.finding(
            spell,
            "compromise",
            frame,
            told + ".",
            {**self._measures(worst, spell), "shots_over": len(over)},
            remedy=BALANCE.format(kind=surface.kind),
            where=worst.where,
        )

    def _right(self, spells: list[Spell[_Noted]]) -> Finding:
        walls = [
            (frame, spell, one)
            for spell in spells
            for frame, noted in zip(spell.frames, spell.noted, strict=True)
            for one in noted
            if self._surfaces[one.surface].kind == "wall"
        ]
        told = f"{spells[0].camera} "
        if not walls:
            told += f"sees no LED wall {shots_told(spells)}."
            return self._air.finding(spells[0], "fine", spells[0].frames[0], told, {})
        frame, spell, worst = max(walls, key=lambda wall: self._badness(wall[2]))
        told += (
            f"sees the wall straight enough {shots_told(spells)}: at most {worst.angle_deg:.0f} degrees off,"
        )
        told += f" {self._told(worst)}."
        return self._air.finding(spell, "fine", frame, told, self._measures(worst, spell), where=worst.where)

    def _told(self, one: _Seen) -> str:
        if one.loss > 0.005:
            told = f"at its darkest, {in_place(one.where)}, it gives {100 * one.loss:.0f} % less light than"
            told += " straight on"
        else:
            told = "it loses no light by that"
        told += f" and differs by {one.stops:.1f} stops across the picture"
        if one.shifted > 0.0:
            limit = self._limits.colour_shift_deg
            told += (
                f"; past {limit:g} degrees, in {percent(one.shifted)} of the picture, its colours may shift"
            )
        return told

    def _measures(self, one: _Seen, spell: Spell[_Noted]) -> dict[str, Value]:
        return {
            "surface": self._surfaces[one.surface].name,
            "surface_percent": round(100.0 * one.share, 3),
            "loss_percent": round(100.0 * one.loss, 2),
            "angle_deg": round(one.angle_deg, 2),
            "colour_shift_percent": round(100.0 * one.shifted, 3),
            "difference_stops": round(one.stops, 3),
            "frames_looked_at": len(spell.frames),
        }

    def curves(self) -> tuple[Curve, ...]:
        """Loss at the worst seen point of walls, and their greatest difference in one picture."""
        frames, limits = tuple(self._air.frames), self._limits

        def of_walls(noted: _Noted, name: str) -> float:
            values = [getattr(one, name) for one in noted if self._surfaces[one.surface].kind == "wall"]
            return max(values, default=float("nan"))

        loss = self._air.lines(lambda noted: 100.0 * of_walls(noted, "loss"))
        stops = self._air.lines(lambda noted: of_walls(noted, "stops"))
        return (
            Curve("Walls darker than straight on", "% of luminance", frames, loss, limits.loss_percent),
            Curve("Difference across a wall", "stops", frames, stops, limits.difference_stops),
        )

    def tables(self) -> Mapping[str, Sequence[Mapping[str, Value]]]:
        """Every LED surface in every shot and camera on programme, at its worst."""
        rows: list[dict[str, Value]] = []
        for spell in self._air:
            for number in range(len(self._surfaces)):
                seen = spell.where(partial(_shows, number))
                if seen.frames:
                    frame, worst = self._worst(seen, number)
                    row: dict[str, Value] = {
                        "shot": spell.shot,
                        "camera": spell.camera,
                        "worst_timecode": self.plan.timeline.timecode(frame),
                    }
                    rows.append({**row, **self._measures(worst, seen), "where": worst.where})
        return {"viewing-angle": rows}

    def marks(self, look: Look, finding: Finding) -> tuple[Mark, ...]:
        """What of the surface is over a limit of loss or angle."""
        if finding.grade == "fine":
            return ()
        (camera,) = finding.cameras
        sight = look.bare(camera)
        name = finding.measures["surface"]
        number = next(at for at, surface in enumerate(self._surfaces) if surface.name == name)
        mask = sight.wall_seen & (sight.surface == number)
        level = _level(sight, mask, self._surfaces[number])
        over = _over(level, sight.facing[mask].astype(np.float64), self._limits)
        if not over.any():  # it is the difference alone: show its darker half
            over = level <= np.sqrt(level.min() * level.max())
        mask[mask] = over
        return (Mark(camera, mask, f"{name} from the side"),)


def _named(surface: LedSurface) -> str:
    return f'the LED {surface.kind} "{surface.name}"'


def _level(sight: Sight, mask: Bools, surface: LedSurface) -> np.ndarray:
    """(n,) luminance against straight on where ``mask`` shows the surface."""
    rays = sight.points[mask] - sight.view.pupil_m
    rays /= np.linalg.norm(rays, axis=1, keepdims=True)
    return seen_luminance(surface, sight.facet[mask], rays)


def _shifted(facing: np.ndarray, limits: ViewingAngleLimits) -> Bools:
    return facing < cos(radians(limits.colour_shift_deg))


def _over(level: np.ndarray, facing: np.ndarray, limits: ViewingAngleLimits) -> Bools:
    return _shifted(facing, limits) | (1.0 - level > limits.loss_percent / 100.0)


def _ratio(value: float, limit: float) -> float:
    if limit > 0.0:
        return value / limit
    return float("inf") if value > 0.0 else 0.0


def _shows(number: int, noted: _Noted) -> bool:
    return _of(noted, number) is not None


def _of(noted: _Noted, number: int) -> _Seen | None:
    return next((one for one in noted if one.surface == number), None)
