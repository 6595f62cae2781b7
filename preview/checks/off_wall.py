"""Off the wall: does a picture on programme look past the LED surfaces, and how wide may its lens go?"""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass
from functools import cache
from math import ceil, floor

from preview.camera.lens import projection_mm, view_through
from preview.camera.view import CameraView
from preview.checks.airtime import Airtime, Spell, in_place, percent, shots_told
from preview.checks.look import Look, Plan
from preview.checks.past_wall import LedRays, PastWall, past_wall, widest_place
from preview.checks.registry import Check, Curve, Mark, register
from preview.checks.result import CheckResult, Finding, Value
from preview.checks.where import where
from preview.errors import PreviewError
from preview.raster.sight import Sight
from preview.timeline.framing import lens_of, sensor_of

NEAR_WIDENING = 1.5
FAR_WIDENING = 2.5
"""Where a lens could widen the picture by more than the second, margins up to the first are looked for on a
finer grid."""

ALIKE = 0.02
"""Margins so close together are not told apart by the grid."""


@dataclass(frozen=True, eq=False)
class _Noted:
    """What is kept of a picture: how much is past the wall, and how many times as wide it could be: below 1
    when it is past already, at least so many when nothing is met at the lens's widest."""

    share: float
    widening: float


@register
class OffWall(Check):
    """Pictures on programme that show neither LED surface nor set, people or equipment."""

    name = "off-wall"
    question = "Does a picture on programme look past the LED surfaces?"
    assumptions = (
        "The lit side of an LED surface, set, people and equipment are right in a picture; backs of LED "
        "surfaces and everything else are off the wall. Focal lengths are found with equipment taken away, "
        "since it may move on.",
        "See-through set pieces hide nothing.",
        "Counted at the middles of the sight's fields (192 x 108 where not said otherwise: one is 0.005 % of "
        "the picture). Thinner strips are followed by exact sightlines on the picture's border and 0.02 % of "
        "its width beside every outline of an LED surface, one a field; what stands in front of them is "
        "known to half a field.",
        "The shortest focal length on the wall is tried in the worst frame, in steps of 0.1 mm, pose and "
        "focus held. In which frame a lens has least room is read from a grid; of frames alike on it within "
        "2 % the first, the middle and the last are tried.",
    )
    order = 30
    levers = ("focal length", "other framing", "arm", "position")

    def __init__(self, plan: Plan) -> None:
        super().__init__(plan)
        self._rays = LedRays(plan.stage.surfaces)
        self._air: Airtime[_Noted] = Airtime(plan, self._judge)

    def see(self, look: Look) -> None:
        """Take in one frame."""
        self._air.see(look)

    def _judge(self, look: Look, camera: str, sight: Sight) -> _Noted:
        found = past_wall(sight, self._rays)
        return _Noted(found.share, self._widening(camera, sight, found.share))

    def _widening(self, camera: str, sight: Sight, share: float) -> float:
        if share > 0.0:
            already = widest_place(sight.view, sight)
            return 1.0 if already is None else min(1.0, already)
        bare = self.plan.sights.look(sight.view)
        if bare.off_wall.any():  # equipment hides it
            return min(1.0, widest_place(sight.view, bare) or 1.0)
        shortest_mm = lens_of(self.plan.camera(camera)).focal_length_mm[0]
        focal_mm = sight.view.focal_length_mm
        near_mm = focal_mm / NEAR_WIDENING if focal_mm > FAR_WIDENING * shortest_mm else shortest_mm
        looked = 1.0
        for wide_mm in dict.fromkeys((near_mm, shortest_mm)):
            wide = self._zoomed(camera, sight.view, wide_mm)
            if wide is None:
                break
            place = widest_place(sight.view, wide)
            if place is not None:
                return max(1.0, place)
            looked = max(looked, sight.view.projection_mm / wide.view.projection_mm)
        return looked

    def _zoomed(self, camera: str, view: CameraView, focal_mm: float) -> Sight | None:
        """What a picture sees at another focal length, equipment taken away; None where the lens forms none:
        its distortion folds over in the picture, or it is focused nearer than that."""
        settings = self.plan.camera(camera)
        try:
            zoomed = view_through(sensor_of(settings), lens_of(settings), view.pose, focal_mm, view.focus_m)
            return self.plan.sights.look(zoomed)
        except (PreviewError, ValueError):
            return None

    def result(self) -> CheckResult:
        """One finding a shot and camera that is off the wall, one a camera for the shots that are not."""
        limit = self.plan.thresholds.off_wall.percent / 100.0
        findings = []
        for spells in self._air.by_camera().values():
            right = []
            for spell in spells:
                off = spell.where(lambda noted: noted.share > limit)
                if off.frames:
                    findings.append(self._off(off, limit))
                else:
                    right.append(spell)
            if right:
                findings.append(self._on(right, limit))
        return self.answer(findings)

    def _off(self, spell: Spell[_Noted], limit: float) -> Finding:
        frame, worst = spell.worst(lambda noted: noted.share)
        look = Look(self.plan, frame)
        sight = look.sight(spell.camera)
        found = past_wall(sight, self._rays)
        focal_mm = sight.view.focal_length_mm
        shortest_mm = self.shortest_on_wall_mm(
            look, spell.camera, limit, focal_mm / max(worst.widening, 0.05)
        )
        place = where(found.mask)
        told = f"{spell.camera} looks past the LED surfaces {_sides_told(found.edges, place)}"
        told += f" {self._air.lasts(spell)}: {percent(worst.share)} of its picture"
        told += f" at {self.plan.timeline.timecode(frame)}" if len(spell.frames) > 1 else ""
        if found.back_share > 0.0:
            told += f", of it {percent(found.back_share)} the back of one"
        if shortest_mm is None:
            longest = lens_of(self.plan.camera(spell.camera)).focal_length_mm[1]
            told += f". No focal length of its lens keeps this framing on the wall, not even {longest:g} mm."
        else:
            told += f". The lens is at {focal_mm:.4g} mm; from {shortest_mm:g} mm on this framing stays on"
            told += " the wall."
        measures = self._measures(worst, found, look, spell, shortest_mm)
        return self._air.finding(spell, "fault", frame, told, measures, where=place)

    def _on(self, spells: list[Spell[_Noted]], limit: float) -> Finding:
        spell, frame, noted, shortest_mm = self._tightest(spells, limit)
        look = Look(self.plan, frame)
        focal_mm = look.moment.camera(spell.camera).view.focal_length_mm
        found = past_wall(look.sight(spell.camera), self._rays)
        measures = self._measures(noted, found, look, spell, shortest_mm)
        told = f"{spell.camera} stays on the wall {shots_told(spells)}"
        if shortest_mm is None or shortest_mm > focal_mm:
            told += f", but at {self.plan.timeline.timecode(frame)} only because other cameras stand before"
            told += (
                f" what is past it; its lens is at {focal_mm:.4g} mm there and without them would have to be"
            )
            told += " longer than it goes." if shortest_mm is None else f" at {shortest_mm:.4g} mm."
        elif shortest_mm <= lens_of(self.plan.camera(spell.camera)).focal_length_mm[0]:
            told += f", and would with its lens at its widest, {shortest_mm:g} mm, as well."
        else:
            shot = f"{spell.shot}, " if len(spells) > 1 else ""
            told += f"; where there is least room ({shot}{self.plan.timeline.timecode(frame)}) its lens, at"
            told += f" {focal_mm:.4g} mm, may go as wide as {shortest_mm:.4g} mm, a picture"
            told += f" {measures['times_as_wide']:.2f} times as wide."
        return self._air.finding(spell, "fine", frame, told, measures)

    def _tightest(
        self, spells: list[Spell[_Noted]], limit: float
    ) -> tuple[Spell[_Noted], int, _Noted, float | None]:
        """The spell and frame in which the lens has least room, and the shortest focal length there.

        What the grid cannot tell apart is tried: the first, the middle and the last such frame.
        """
        pictures = [
            (noted.widening, spell, frame, noted)
            for spell in spells
            for frame, noted in zip(spell.frames, spell.noted, strict=True)
        ]
        least = min(picture[0] for picture in pictures)
        alike = [picture for picture in pictures if picture[0] <= (1.0 + ALIKE) * least]
        tried: dict[CameraView, tuple[float, tuple[Spell[_Noted], int, _Noted, float | None]]] = {}
        for _, spell, frame, noted in (alike[0], alike[len(alike) // 2], alike[-1]):
            look = Look(self.plan, frame)
            view = look.moment.camera(spell.camera).view
            if view in tried:
                continue
            focal_mm = view.focal_length_mm
            shortest_mm = self.shortest_on_wall_mm(look, spell.camera, limit, focal_mm / noted.widening)
            bare = past_wall(self.plan.sights.look(view), self._rays)
            if bare.share <= limit:
                # Between two tenths of a millimetre the picture's own focal length is the one that was tried.
                shortest_mm = min(shortest_mm or focal_mm, focal_mm)
            times = 0.0 if shortest_mm is None else focal_mm / shortest_mm
            tried[view] = times, (spell, frame, noted, shortest_mm)
        return min(tried.values(), key=lambda found: found[0])[1]

    def _measures(
        self,
        noted: _Noted,
        found: PastWall,
        look: Look,
        spell: Spell[_Noted],
        shortest_mm: float | None,
    ) -> dict[str, Value]:
        view = look.moment.camera(spell.camera).view
        times = None
        if shortest_mm is not None:
            breathing = lens_of(self.plan.camera(spell.camera)).breathing
            times = view.projection_mm / projection_mm(shortest_mm, view.focus_m, breathing)
        return {
            "off_wall_percent": round(100.0 * noted.share, 4),
            "back_percent": round(100.0 * found.back_share, 4),
            "edges": " ".join(found.edges),
            "frames_looked_at": len(spell.frames),
            "focal_length_mm": round(view.focal_length_mm, 3),
            "shortest_focal_length_mm": None if shortest_mm is None else round(shortest_mm, 3),
            "times_as_wide": None if times is None else round(times, 4),
        }

    def shortest_on_wall_mm(
        self, look: Look, camera: str, limit: float = 0.0, guess_mm: float = 0.0
    ) -> float | None:
        """Shortest focal length at which a camera's picture stays on the wall, pose and focus held
        and equipment, which may move on, taken away.

        Every answer was tried: ``past_wall`` of the picture at that focal length is at most ``limit``, and
        of that at the next shorter one it is more.

        Parameters
        ----------
        look : the frame
        limit : share of the picture (0..1) that may be off the wall
        guess_mm : where to look first

        Returns
        -------
        A whole number of tenths of a millimetre, or an end of the lens's range; None when not even the
        lens's longest keeps the picture on the wall.
        """
        view = look.moment.camera(camera).view
        shortest, longest = lens_of(self.plan.camera(camera)).focal_length_mm
        tenths = range(floor(10 * shortest) + 1, ceil(10 * longest))
        steps = [shortest, *(tenth / 10 for tenth in tenths), longest]

        @cache
        def on_wall(step: int) -> bool:
            sight = self._zoomed(camera, view, steps[step])
            return sight is not None and past_wall(sight, self._rays).share <= limit

        last = len(steps) - 1
        if on_wall(0):
            return steps[0]
        low, high = 0, last
        first = min(max(bisect_left(steps, guess_mm), 1), last)
        stride = max(1, first // 50)
        if on_wall(first):
            high = first
            while high - stride > 0 and on_wall(high - stride):
                high, stride = high - stride, 2 * stride
            low = max(0, high - stride)
        else:
            low = first
            while low + stride < last and not on_wall(low + stride):
                low, stride = low + stride, 2 * stride
            high = min(last, low + stride)
            if not on_wall(high):
                return None
        while high - low > 1:
            middle = (low + high) // 2
            low, high = (low, middle) if on_wall(middle) else (middle, high)
        return steps[high]

    def curves(self) -> tuple[Curve, ...]:
        """What is past the wall, and how many times as wide pictures could be."""
        frames = tuple(self._air.frames)
        share = self._air.lines(lambda noted: 100.0 * noted.share)
        room = self._air.lines(lambda noted: noted.widening)
        limit = self.plan.thresholds.off_wall.percent
        return (
            Curve("Past the LED surfaces", "% of the picture", frames, share, limit),
            Curve("As wide as the picture could be", "times its width", frames, room, 1.0, "above"),
        )

    def marks(self, look: Look, finding: Finding) -> tuple[Mark, ...]:
        """What of the picture is past the LED surfaces."""
        if finding.grade == "fine":
            return ()
        (camera,) = finding.cameras
        return (Mark(camera, past_wall(look.sight(camera), self._rays).mask, "past the wall"),)


def _sides_told(edges: tuple[str, ...], place: str) -> str:
    if not edges:
        return f"inside its picture, {in_place(place)}"
    if len(edges) == 4:
        return "all round"
    *others, last = edges
    listed = f"{', '.join(others)} and {last}" if others else last
    return f"at the {listed}" + (" edges" if others else " edge")
