"""Bleed: another camera's frustum in a picture.

Told twice over: where frustums would meet on the wall and in the pictures if all stood there at once, and
what each picture shows as the wall is driven.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Mapping, Sequence
from itertools import combinations
from typing import ClassVar

import numpy as np

from preview.checks.bleed_rows import NEITHER, OWN_SLOTS, BleedRecord, BleedRows, BleedState
from preview.checks.bleed_words import BleedCase, Cause, bleed_words, whose
from preview.checks.frustums import Frustums, Mask
from preview.checks.look import Look, Plan
from preview.checks.overlap import (
    CellTimes,
    Footprint,
    WallCells,
    WallMap,
    border_lines,
    overlaps,
    wall_maps,
)
from preview.checks.registry import Check, Curve, Lever, Mark, register
from preview.checks.result import CheckResult, Finding, Value
from preview.checks.where import where
from preview.conventions import Array
from preview.timeline.moment import Moment
from preview.wall.drive import WallState

MEET_M2 = 1e-6
"""Frustums that share less than this do not meet."""


@register
class Bleed(Check):
    """Shares of each picture inside another camera's frustum, and areas that frustums share on the wall."""

    name = "bleed"
    question = "Does a picture show another camera's frustum?"
    assumptions = (
        "Counted on the sightlines of each picture, set and people in front of the wall, the other cameras' "
        "equipment taken away.",
        "A frustum is the camera's inner image as it is drawn, overscan included.",
        '"Inside" is what a picture would show if the other frustum stood on the wall; "shown" is what it '
        "shows as the wall is driven, the topmost frustum at each place.",
        "Areas on the wall are exact on every flat facet; they count each place that a frustum falls on, "
        "hidden by set, people or another surface or not.",
        "On an interleaved wall each picture shows its own slot. What leaks from the others is told apart, "
        "as a percentage of light.",
        "In a mix the wall serves one of the two cameras (common practice, no source): a compromise.",
    )
    order = 10
    levers: ClassVar[tuple[Lever, ...]] = ("picture delay", "overscan", "other framing")

    def __init__(self, plan: Plan) -> None:
        super().__init__(plan)
        file = plan.show.file
        self.cameras = tuple(camera.name for camera in file.cameras)
        self.pairs = tuple(combinations(range(len(self.cameras)), 2))
        self._scene = Frustums(plan)
        self._record = BleedRecord(len(self.cameras), len(self.pairs), len(plan.stage.surfaces))
        self._cases: dict[tuple[object, ...], BleedCase] = {}
        self._times = CellTimes(WallCells(plan.stage.surfaces), len(self.cameras))
        self._worst_on = [(0.0, 0, tuple(self._scene.prints)) for _ in plan.stage.surfaces]
        self._most_m2 = np.zeros(len(self.pairs))
        self._most_on_air = 0.0
        self._overlap_m2 = np.zeros((len(self.pairs), len(plan.stage.surfaces)))
        self._measured: list[Footprint | None] = [None] * len(self.cameras)

    def see(self, look: Look) -> None:
        """Take in one frame."""
        scene, state = self._scene, self._record.last
        if scene.arrange(look) or state is None:
            state = self._state(look.wall)
            self._record.change(state)
            self._most_m2 = np.maximum(self._most_m2, state.overlap_m2.sum(axis=1))
            for place, m2 in enumerate(state.overlap_m2.sum(axis=0)):
                if m2 > self._worst_on[place][0] + MEET_M2:
                    self._worst_on[place] = (float(m2), look.frame, tuple(scene.prints))
        on_air = tuple(self.cameras.index(name) for name, _ in look.on_programme)
        self._record.add(look.frame, on_air)
        frames = self._frames(look.frame)
        self._times.add([one.planes for one in scene.prints], frames)
        self._judge(look, state, on_air, frames)

    def _frames(self, frame: int) -> int:
        """Frames of the rundown that a frame looked at stands for: up to the next one."""
        frames = self.plan.frames
        following = bisect_right(frames, frame)
        return frames[following] - frame if following < len(frames) else 1

    def _state(self, wall: WallState) -> BleedState:
        scene, size = self._scene, len(self.cameras)
        inside = np.zeros((size, size), dtype=np.float32)
        shown, ghost = np.zeros_like(inside), np.zeros_like(inside)
        stacks = []
        for viewer, name in enumerate(self.cameras):
            own, ghosts = wall.in_slot_of(name)
            order = scene.order([layer.image for layer in own], viewer)
            stacks.append(order)
            for source in range(size):
                inside[viewer, source] = scene.share(scene.inside[viewer][source])
            for source, mask in scene.shown(viewer, order).items():
                shown[viewer, source] = scene.share(mask)
            for light, stack in ghosts:
                for source in scene.order([layer.image for layer in stack], viewer):
                    ghost[viewer, source] += light
        diagonal = np.arange(size)
        inside[diagonal, diagonal] = shown[diagonal, diagonal] = ghost[diagonal, diagonal] = 0.0
        prints = scene.prints
        return BleedState(
            inside=inside,
            shown=shown,
            ghost=ghost,
            own_m2=np.array([one.areas_m2.sum() for one in prints], dtype=np.float32),
            overlap_m2=self._overlaps().astype(np.float32),
            on_top=np.array([self._on_top(pair, stacks) for pair in self.pairs], dtype=np.float32),
        )

    def _overlaps(self) -> Array:
        """(p, s) square metres that pairs share on each surface, anew where a frustum has moved."""
        prints = self._scene.prints
        moved = [one is not other for one, other in zip(prints, self._measured, strict=True)]
        pairs = [place for place, (one, other) in enumerate(self.pairs) if moved[one] or moved[other]]
        self._overlap_m2, self._measured = self._overlap_m2.copy(), list(prints)
        of_pairs = [(prints[one], prints[other]) for one, other in (self.pairs[place] for place in pairs)]
        self._overlap_m2[pairs] = overlaps(self._scene.facets, of_pairs)
        return self._overlap_m2

    def _on_top(self, pair: tuple[int, int], stacks: Sequence[Sequence[int]]) -> int:
        """Whose frustum covers the other's, by what the two cameras' own pictures are exposed to."""
        tops = {next((place for place in reversed(stacks[one]) if place in pair), None) for one in pair}
        if len(tops) > 1:
            return OWN_SLOTS
        (top,) = tops
        return NEITHER if top is None else top

    # ---- What is worth telling ----------------------------------------------------------------------

    def _judge(self, look: Look, state: BleedState, on_air: tuple[int, ...], frames: int) -> None:
        limits, shot = self.plan.thresholds.bleed, look.moment.shot_index
        for viewer in range(len(self.cameras)):
            shown, ghost = state.shown[viewer], state.ghost[viewer] * state.inside[viewer]
            sources = [int(source) for source in np.argsort(-shown, kind="stable") if shown[source] > 0.0]
            if viewer not in on_air:
                for source in sources:
                    if shown[source] > limits.off_air_percent / 100.0:
                        share = float(shown[source])
                        self._note(look, state, viewer, (source,), "off air", share, frames, source)
                continue
            self._most_on_air = max(self._most_on_air, float(shown.sum()))
            if sources and shown.sum() > limits.on_air_percent / 100.0:
                cause = self._cause(look.moment, viewer)
                self._note(look, state, viewer, tuple(sources), cause, float(shown.sum()), frames, shot)
            if ghost.any():
                leaks = int(ghost.argmax())
                share = float(state.inside[viewer, leaks])
                self._note(look, state, viewer, (leaks,), "crosstalk", share, frames, None)

    def _cause(self, moment: Moment, viewer: int) -> Cause:
        wall = moment.wall_camera
        if wall == self.cameras[viewer]:
            return "own image"
        if wall in (moment.on_air, moment.mix_from):
            return "mix"
        cued = self.plan.timeline.shots[moment.shot_index].on_air
        return "early wall" if wall == cued else "late wall"

    def _note(
        self,
        look: Look,
        state: BleedState,
        viewer: int,
        sources: tuple[int, ...],
        cause: Cause,
        share: float,
        frames: int,
        apart: int | None,
    ) -> None:
        """One frame of a case; cases of one viewer and cause differ in ``apart``."""
        case = self._cases.setdefault((viewer, cause, apart), BleedCase(viewer, cause, look.frame))
        case.last, case.looked_at, case.frames = look.frame, case.looked_at + 1, case.frames + frames
        case.shots.add(look.moment.shot)
        if share > case.share + 1e-6:
            case.share, case.worst, case.shot = share, look.frame, look.moment.shot
            case.sources = sources
            case.where = where(
                self._scene.picture(viewer, _mask(self._scene, look.wall, viewer, sources, cause))
            )
            case.ghost = float(state.ghost[viewer, sources[0]])
            case.wall_camera = look.moment.wall_camera
            case.source_on_air = self.cameras[sources[0]] in dict(look.on_programme)
            pair = min(viewer, sources[0]), max(viewer, sources[0])
            case.overlap_m2 = float(self._overlap_m2[self.pairs.index(pair)].sum())

    def result(self) -> CheckResult:
        """One finding a shot, picture and cause on programme; one a picture and frustum off air."""
        findings = [self._finding(case) for case in self._cases.values()]
        if self._record.frames:
            findings += self._fine()
        return self.answer(findings)

    def _finding(self, case: BleedCase) -> Finding:
        timeline = self.plan.timeline
        viewer, sources = self.cameras[case.viewer], tuple(self.cameras[place] for place in case.sources)
        labels = timeline.timecode(case.first), timeline.timecode(case.last)
        seconds = case.frames / float(timeline.rate.fps)
        told, remedy = bleed_words(
            case, viewer, sources, labels, timeline.timecode(case.worst), seconds, self.plan.every
        )
        fault = case.cause in ("late wall", "early wall", "own image")
        measures: dict[str, Value] = {
            "cause": case.cause,
            "worst_frame": case.worst,
            "worst_timecode": timeline.timecode(case.worst),
            "where": case.where,
            "shown_percent" if case.cause != "crosstalk" else "inside_percent": round(100 * case.share, 3),
            "overlap_m2": round(case.overlap_m2, 4),
            "bleed_s": round(seconds, 3),
            "looked_at_frames": case.looked_at,
            "worst_shot": case.shot,
        }
        if case.cause == "crosstalk":
            measures["ghost_light_percent"] = round(100 * case.ghost, 4)
        return Finding(
            grade="fault" if fault else "compromise",
            shot=case.shot if len(case.shots) == 1 else "",
            cameras=(viewer, *sources),
            frames=(case.first, case.last),
            timecodes=labels,
            sentence=told,
            remedy=remedy,
            measures=measures,
        )

    def _fine(self) -> list[Finding]:
        found = []
        if not any(case.cause not in ("off air", "crosstalk") for case in self._cases.values()):
            number = len(self._record.frames)
            what = "the one frame looked at" if number == 1 else f"the {number} frames looked at"
            limit = self.plan.thresholds.bleed.on_air_percent
            shows = f"more than {limit:g} % of other cameras' frustums"
            shows = shows if self._most_on_air else "another camera's frustum"
            found.append(self._all_fine(f"In {what} no picture on programme shows {shows}.", ()))
        never = [pair for pair, m2 in zip(self.pairs, self._most_m2, strict=True) if m2 < MEET_M2]
        if never:
            named = [f"{self.cameras[one]} and {self.cameras[other]}" for one, other in never]
            listed = "; ".join(named)
            pairs = "These two frustums never meet" if len(never) == 1 else "These frustums never meet"
            apart = sorted({place for pair in never for place in pair})
            found.append(
                self._all_fine(f"{pairs} on the wall: {listed}.", tuple(self.cameras[i] for i in apart))
            )
        return found

    def _all_fine(self, sentence: str, cameras: tuple[str, ...]) -> Finding:
        first, last = self._record.frames[0], self._record.frames[-1]
        timecode = self.plan.timeline.timecode
        return Finding(
            grade="fine",
            shot="",
            cameras=cameras,
            frames=(first, last),
            timecodes=(timecode(first), timecode(last)),
            sentence=sentence,
            measures={"worst_frame": first, "worst_timecode": timecode(first), "where": ""},
        )

    # ---- Numbers behind it --------------------------------------------------------------------------

    def curves(self) -> tuple[Curve, ...]:
        """What pictures on and off programme show of other cameras' frustums, and what pairs share."""
        record, limits = self._record, self.plan.thresholds.bleed
        if not record.frames or not self.pairs:
            return ()
        shown = 100.0 * record.over_frames("shown").sum(axis=2)
        on_air = record.on_programme(len(self.cameras))
        overlap = record.over_frames("overlap_m2").sum(axis=2)
        frames, unit = list(record.frames), "% of the picture"
        by_name = dict(zip(self.cameras, np.where(on_air, shown, np.nan).T.tolist(), strict=True))
        off = dict(zip(self.cameras, np.where(on_air, np.nan, shown).T.tolist(), strict=True))
        shared = {
            f"{self.cameras[one]} and {self.cameras[other]}": values
            for (one, other), values in zip(self.pairs, overlap.T.tolist(), strict=True)
        }
        return (
            Curve("On programme: another camera's frustum", unit, frames, by_name, limits.on_air_percent),
            Curve("Off air: another camera's frustum", unit, frames, off, limits.off_air_percent),
            Curve("Frustums that overlap on the LED surfaces", "m²", frames, shared),
        )

    def tables(self) -> Mapping[str, Sequence[Mapping[str, Value]]]:
        """Table "bleed": one row a frame, viewer and source."""
        return {"bleed": BleedRows(self.cameras, self.pairs, self.plan, self._record)} if self.pairs else {}

    def marks(self, look: Look, finding: Finding) -> tuple[Mark, ...]:
        """The part of the viewer's picture that shows the other camera's frustum."""
        if finding.grade == "fine":
            return ()
        viewer, *sources = (self.cameras.index(name) for name in finding.cameras)
        scene = Frustums(self.plan)
        scene.arrange(look)
        mask = _mask(scene, look.wall, viewer, sources, finding.measures["cause"])
        label = f"{whose(finding.cameras[1:])} background"
        return (Mark(finding.cameras[0], scene.picture(viewer, mask), label),)

    def wall_maps(self) -> tuple[WallMap, ...]:
        """For each LED surface, how long each place of it lies in how many cameras' frustums."""
        surfaces, facets, timeline = self.plan.stage.surfaces, self._scene.facets, self.plan.timeline
        outlines, worst = [], []
        for place, (m2, frame, prints) in enumerate(self._worst_on):
            prints = prints or tuple(self._scene.prints)
            outlines.append(
                {
                    name: border_lines(facets, one, place)
                    for name, one in zip(self.cameras, prints, strict=True)
                }
            )
            worst.append((timeline.timecode(frame) if m2 else "", m2))
        return wall_maps(surfaces, self._times, self.cameras, float(timeline.rate.fps), outlines, worst)


def _mask(scene: Frustums, wall: WallState, viewer: int, sources: Sequence[int], cause: Value) -> Mask:
    """Which of the viewer's sightlines a case is about."""
    if cause == "crosstalk":
        return scene.inside[viewer][sources[0]]
    own, _ = wall.in_slot_of(scene.names[viewer])
    shown = scene.shown(viewer, scene.order([layer.image for layer in own], viewer))
    mask = np.zeros_like(scene.inside[viewer][viewer])
    for source in sources:
        mask |= shown.get(source, False)
    return mask
