"""Moire: which pictures on programme show a pattern of the LED pixels that an observer sees."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from preview.checks.airtime import Airtime, Spell, in_place, percent, shots_told
from preview.checks.look import Look, Plan
from preview.checks.registry import Check, Curve, Mark, register
from preview.checks.result import CheckResult, Finding, Value
from preview.checks.seen_moire import SeenMoire, seen_moire
from preview.checks.where import where
from preview.optics.alias import ALIAS
from preview.optics.lattice import Facets
from preview.raster.sight import Sight


@dataclass(frozen=True)
class _Seen:
    """What one picture shows of the lattice."""

    share: float  # of the picture, with at least the risk that counts
    risk: float
    mean: float  # risk over the LED surfaces seen
    contrast: float
    cycles: float  # to the picture height
    orientation_deg: float
    moire: bool  # an alias; else the LED pixels themselves
    color: bool  # a pattern of colour is the stronger one
    where: str


_NOTHING = _Seen(0.0, 0.0, 0.0, 0.0, 0.0, 0.0, False, False, "")


def runs_words(orientation_deg: float) -> str:
    """How stripes of an orientation run.

    Parameters
    ----------
    orientation_deg : 0 level, 90 upright, 45 rising to the right

    >>> [runs_words(angle) for angle in (0, 45, 92, 150)]
    ['level', 'rising to the right', 'upright', 'falling to the right']
    """
    angle = orientation_deg % 180.0
    if min(angle, 180.0 - angle) < 15.0:
        return "level"
    if abs(angle - 90.0) < 15.0:
        return "upright"
    return "rising to the right" if angle < 90.0 else "falling to the right"


@register
class Moire(Check):
    """Patterns that photosites make of the LED lattice, on every sightline of the pictures on programme."""

    name = "moire"
    question = "Does a picture on programme show moire, or the LED pixels themselves, that people would see?"
    assumptions = (
        "Worked out from pitch, perspective, lens, focus, stop and photosites (preview/optics); the lens is "
        "free of aberrations and the T-stop counts as its f-number, so a real lens shows a little less.",
        "Risk 0: below what an observer sees on an even field from three picture heights (P. G. J. Barten, "
        "Proc. SPIE 5294, 2004); risk 1: fifty times that. Busy pictures hide more than even ones.",
        "The shining part of an LED pixel is emitter_share of its pitch, 0.4 where the show does not say "
        "(value from memory): measure a tile.",
        "Moire is not avoided but managed: a test with tile, lens and camera decides.",
    )
    order = 65
    levers = ("focus", "stop", "focal length", "position")

    def __init__(self, plan: Plan) -> None:
        super().__init__(plan)
        self._limits = plan.thresholds.moire
        self._facets = Facets.of(plan.stage.surfaces)
        self._air: Airtime[_Seen] = Airtime(plan, self._judge)

    def see(self, look: Look) -> None:
        """Take in the pictures on programme in one frame."""
        self._air.see(look)

    def _moire(self, camera: str, sight: Sight) -> SeenMoire:
        size = self.plan.show.file.show.picture_size_px
        return seen_moire(sight, self.plan.camera(camera), self.plan.stage.surfaces, size, self._facets)

    def _judge(self, look: Look, camera: str, sight: Sight) -> _Seen:
        if not sight.wall_seen.any():
            return _NOTHING
        found = self._moire(camera, sight)
        row, column = found.worst
        one, over = found.patterns, found.risk >= max(self._limits.risk, 1e-6)
        return _Seen(
            share=float(over.mean()),
            risk=float(found.risk[row, column]),
            mean=float(found.risk[found.seen].mean()),
            contrast=float(one.contrast[row, column]),
            cycles=float(one.cycles_per_height[row, column]),
            orientation_deg=float(one.orientation_deg[row, column]),
            moire=bool(one.kind[row, column] == ALIAS),
            color=bool(one.color_thresholds[row, column] > one.thresholds[row, column]),
            where=where(over),
        )

    def result(self) -> CheckResult:
        """One finding a shot and camera that shows too much; one fine one a camera else."""
        limit, findings = self._limits.picture_percent / 100.0, []
        for spells in self._air.by_camera().values():
            clear = []
            for spell in spells:
                over = spell.where(lambda seen: seen.share > limit)
                if over.frames:
                    findings.append(self._over(over))
                else:
                    clear.append(spell)
            if clear:
                findings.append(self._clear(clear))
        return self.answer(findings)

    def _over(self, spell: Spell[_Seen]) -> Finding:
        frame, worst = spell.worst(lambda seen: seen.share * seen.risk)
        label = self.plan.timeline.timecode(frame)
        what = "moire" if worst.moire else "the grid of the LED pixels"
        if worst.color:
            what = "coloured moire"
        place = f", {in_place(worst.where)}" if worst.where else ""
        told = (
            f"{spell.camera}'s picture shows {what} on {percent(worst.share)} of it{place}: at its worst "
            f"{worst.cycles:.0f} stripes to the picture height, {runs_words(worst.orientation_deg)}, with "
            f"{percent(worst.contrast)} contrast (risk {worst.risk:.2f}) at {label}; "
            f"{self._air.lasts(spell)}."
        )
        return self._air.finding(spell, "compromise", frame, told, self._measures(worst), where=worst.where)

    def _clear(self, spells: Sequence[Spell[_Seen]]) -> Finding:
        spells = list(spells)
        frame, worst = max(
            (spell.worst(lambda seen: seen.risk) for spell in spells), key=lambda found: found[1].risk
        )
        told = f"{spells[0].camera} shows no pattern of LED pixels that counts {shots_told(spells)}"
        told += f" (risk {worst.risk:.2f} at most)." if worst.risk else "."
        own = next(spell for spell in spells if frame in spell.frames)
        return self._air.finding(own, "fine", frame, told, self._measures(worst), where=worst.where)

    def _measures(self, seen: _Seen) -> dict[str, Value]:
        return {
            "moire_picture_percent": round(100 * seen.share, 3),
            "worst_risk": round(seen.risk, 4),
            "mean_risk": round(seen.mean, 4),
            "worst_contrast_percent": round(100 * seen.contrast, 3),
            "worst_cycles_per_height": round(seen.cycles, 2),
            "worst_orientation_deg": round(seen.orientation_deg, 1),
        }

    def curves(self) -> tuple[Curve, ...]:
        """How much of each picture shows patterns, and how bad the worst is."""
        frames = tuple(self._air.frames)
        shares = self._air.lines(lambda seen: 100.0 * seen.share)
        risks = self._air.lines(lambda seen: seen.risk)
        limits = self._limits
        return (
            Curve("Patterns people would see", "% of the picture", frames, shares, limits.picture_percent),
            Curve("Worst risk", "risk 0 to 1", frames, risks, limits.risk),
        )

    def tables(self) -> Mapping[str, Sequence[Mapping[str, Value]]]:
        """Table "moire": one row a picture on programme in every frame looked at."""
        timecode = self.plan.timeline.timecode
        rows = [
            {"frame": frame, "timecode": timecode(frame), "camera": spell.camera, **self._measures(seen)}
            for spell in self._air
            for frame, seen in zip(spell.frames, spell.noted, strict=True)
        ]
        return {"moire": sorted(rows, key=lambda row: (row["frame"], row["camera"]))}

    def marks(self, look: Look, finding: Finding) -> tuple[Mark, ...]:
        """Where the pattern's risk counts."""
        if finding.grade == "fine":
            return ()
        (camera,) = finding.cameras
        found = self._moire(camera, look.sight(camera))
        mask = np.asarray(found.risk >= max(self._limits.risk, 1e-6))
        return (Mark(camera, mask, "moire"),)
