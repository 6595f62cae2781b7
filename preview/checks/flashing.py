"""Flashing: programme as shot and every LED surface against published limits for flashing images.

A switched wall changes at each cut, and so do all pictures of it; a camera that sweeps over it carries its
bright and dark parts along. Both are looked at as they would be seen: programme on a 200 cd/m2 monitor, the
surfaces at their own luminance.
"""

from __future__ import annotations

from array import array
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise
from typing import Literal, get_args

import cv2
import numpy as np

from preview.checks.airtime import percent
from preview.checks.flash import BRIGHT_CONTRAST, Bools, Limits, monitor_light, surface_light
from preview.checks.flash_count import Event, FlashCount, Stretch
from preview.checks.flash_watch import FlashKind, Watched, canvas_areas_m2
from preview.checks.flash_words import (
    BECAUSE,
    PROGRAMME,
    SHORTER,
    STEP,
    Cause,
    change,
    place,
    remedy,
    subject,
    times,
    title,
)
from preview.checks.look import Look, Plan
from preview.checks.registry import Check, Curve, Mark, register
from preview.checks.result import CheckResult, Finding, Value, span
from preview.checks.where import where
from preview.conventions import Array
from preview.frame import Wanted, mix
from preview.raster.raster import Drawn

CANVAS_PX = 192
"""Canvases are judged at this width or height at most."""


@register
class Flashing(Check):
    """Compares programme and LED surfaces with published limits for flashes."""

    name = "flashing"
    question = "Does programme, or an LED surface, flash more than published limits allow?"
    order = 90
    draws = True
    every_frame = True
    assumptions = (
        "Recommendation ITU-R BT.1702-3 (11/2023), its clauses read only through texts that quote it: a "
        "flash is a pair of opposing changes of 20 cd/m2 or more, the darker image below 160 cd/m2; more "
        "than 3 in any one second, over more than 25 % of the picture, are too many. The show's "
        "checks.flashing table can say otherwise.",
        "Above 160 cd/m2 only LED surfaces count: a contrast of more than 1/17, BT.1702's rule for HDR "
        "(secondary source).",
        "Saturated red, at any luminance: R / (R + G + B) of 0.8 or more, and more than 0.2 away in the "
        "CIE 1976 u'v' diagram (WCAG 2.2, after ISO 9241-391). Light and red are counted apart.",
        "A change is from one extreme to the next, also over several frames. Changes of one direction within "
        "0.08 s count together (own choice).",
        "Programme is taken as shot, on an SDR monitor of 200 cd/m2 after BT.1886 with a black of 0. What is "
        "past the LED surfaces and the set is taken to be black.",
        "LED surfaces are taken straight on, without stage light, at the mean of interleaved slots; their "
        "pixels count by their area on the stage. Flicker within a frame, from slots or refresh, is not "
        "seen.",
        "Regular patterns, such as stripes, are not looked at.",
        "Pictures are drawn small: details finer than a pixel of them are averaged.",
    )
    caution = (
        "This preview compares pictures with published flash limits. It is not a certified test and does not "
        "show that material is harmless. Some people are affected below these limits, and by the wall itself "
        "on set, close to it and by flicker that this preview does not see. Use the test that the "
        "broadcaster requires before transmission, follow local rules, and give notice of flashing in "
        "advance."
    )

    def __init__(self, plan: Plan) -> None:
        super().__init__(plan)
        self._watched: dict[str, Watched] = {}
        self._first: int | None = None
        self._seen = 0

    def see(self, look: Look) -> None:
        """Take in the next frame's pictures; ``look.studio`` draws them.

        Raises
        ------
        ValueError : no studio, a frame was left out, or a surface's picture has no linear light.
        """
        if look.studio is None:
            raise ValueError("flashing is found in pictures; give the walk a studio")
        if self._first is None:
            self._first = look.frame
        if look.frame != self._first + self._seen:
            raise ValueError(f"frame {look.frame} after {self._first + self._seen - 1}: every one is needed")
        self._seen += 1
        cameras = tuple(dict.fromkeys(name for name, _ in look.on_programme))
        wanted = Wanted(("as-shot", "wall"), cameras, linear=True)
        codes: dict[str, np.ndarray] = {}
        for picture in look.studio.pictures(look.frame, wanted):
            if picture.kind == "as-shot":
                codes[picture.subject] = picture.code
            elif picture.linear is None:
                raise ValueError(f"the studio gives no linear light of {picture.label}")
            else:
                self._see_surface(picture.subject, picture.linear)
        self._see_programme(look, codes)

    def _see_programme(self, look: Look, codes: dict[str, np.ndarray]) -> None:
        parts = [(codes[name], share, name) for name, share in look.on_programme]

        def light() -> Array:
            seen = [_past_is_black(code, look.bare(name).off_wall) for code, _, name in parts]
            if len(seen) == 1:
                return monitor_light(seen[0])
            return monitor_light(mix(Drawn(seen[0], 0.0), Drawn(seen[1], 0.0), parts[1][1]).pixels)

        if PROGRAMME not in self._watched:
            self._watch(PROGRAMME, None, np.ones(parts[0][0].shape[:2]))
        shares = tuple(share for _, share, _ in parts)
        self._watched[PROGRAMME].see(tuple(code for code, _, _ in parts), shares, light)

    def _see_surface(self, name: str, linear: np.ndarray) -> None:
        stage = self.plan.stage
        surface = next(one for one in stage.surfaces if one.name == name)
        size_px = _smaller((linear.shape[1], linear.shape[0]))
        if name not in self._watched:
            self._watch(name, BRIGHT_CONTRAST, canvas_areas_m2(surface, size_px))

        def light() -> Array:
            shown = cv2.resize(linear, size_px, interpolation=cv2.INTER_AREA)
            return surface_light(shown, stage.white_cd_m2, surface.peak_luminance_cd_m2)

        self._watched[name].see((linear,), (), light)

    def _watch(self, name: str, contrast: float | None, weights: Array) -> None:
        own = self.plan.thresholds.flashing
        limits = Limits(
            step_cd_m2=own.step_cd_m2,
            dark_cd_m2=own.dark_cd_m2,
            contrast=contrast,
            area_share=own.area_percent / 100.0,
            flashes=own.flashes,
            sustained_s=own.sustained_s,
        )
        self._watched[name] = Watched(name, self.plan.timeline.rate.fps, limits, weights)

    # ---- What is told -------------------------------------------------------------------------------

    def result(self) -> CheckResult:
        """Stretches above the limits, flashing within them that goes on, and what was looked at."""
        findings: list[Finding] = []
        for watched in self._watched.values():
            found = [
                finding
                for kind, counted in watched.counts.items()
                for finding in (
                    *self._above(watched, kind, counted),
                    *self._sustained(watched, kind, counted),
                )
            ]
            findings += found or [self._fine(watched)]
        return self.answer(findings)

    def curves(self) -> tuple[Curve, ...]:
        """How much of each picture changes together, and the flashes in the last second."""
        own, frames = self.plan.thresholds.flashing, self._frames

        def worse(values: Mapping[FlashKind, array[float]]) -> list[float]:
            found: list[float] = np.max(list(values.values()), axis=0).tolist()
            return found

        area = {title(watched.name): worse(watched.area_percent) for watched in self._watched.values()}
        flashes = {title(watched.name): worse(watched.flashes) for watched in self._watched.values()}
        return (
            Curve("Part of the picture that changes together", "%", frames, area, own.area_percent),
            Curve("Flashes in the second before", "a second", frames, flashes, float(own.flashes)),
        )

    def marks(self, look: Look, finding: Finding) -> tuple[Mark, ...]:
        """Where programme has changed in the worst frame; surfaces are in no camera's picture as such."""
        if finding.grade == "fine" or finding.measures["flashing_of"] != title(PROGRAMME):
            return ()
        counted = self._watched[PROGRAMME].counts[
            "red" if finding.measures["flashing_in"] == "red" else "light"
        ]
        worst = [
            stretch.worst
            for stretch in (*counted.above, *counted.sustained)
            if self._at(stretch.worst.frame) == look.frame
        ]
        size = self.plan.sights.size_px
        return tuple(Mark(look.moment.on_air, _resized(event.mask, size), "flashes") for event in worst[:1])

    @property
    def _frames(self) -> tuple[int, ...]:
        return tuple(range(self._first, self._first + self._seen)) if self._first is not None else ()

    def _at(self, frame: int) -> int:
        """The rundown's number of a frame counted from the first one seen."""
        return frame + (self._first or 0)

    def _above(self, watched: Watched, kind: FlashKind, counted: FlashCount) -> Iterator[Finding]:
        groups: dict[tuple[str, Cause], list[Stretch]] = {}
        for stretch in counted.above:
            shot = self.plan.timeline.shot_at(self._at(stretch.worst.frame)).name
            groups.setdefault((shot, self._cause(watched, stretch, counted)), []).append(stretch)
        limit = self.plan.thresholds.flashing.flashes
        for (_, cause), stretches in groups.items():
            worst = max(stretches, key=lambda one: (one.most, one.share))
            sentence = (
                f"{subject(watched.name)} flashes {times(worst.flashes)} in the second up to "
                f"{self.plan.timeline.timecode(self._at(worst.worst.frame))} (limit {limit}), last "
                f"{place(watched.name, worst.worst.mask)}: {change(watched.name, kind, worst)}; "
                f"{BECAUSE[cause]}."
            )
            yield self._finding(
                "fault", watched, kind, stretches, worst, cause, sentence, remedy(cause, limit)
            )

    def _sustained(self, watched: Watched, kind: FlashKind, counted: FlashCount) -> Iterator[Finding]:
        timeline, limit_s = self.plan.timeline, self.plan.thresholds.flashing.sustained_s
        for stretch in counted.sustained:
            if any(one.first <= stretch.last and stretch.first <= one.last for one in counted.above):
                continue
            lasts_s = float(timeline.rate.seconds(stretch.last - stretch.first))
            first, last = (timeline.timecode(self._at(frame)) for frame in (stretch.first, stretch.last))
            cause = self._cause(watched, stretch, counted)
            sentence = (
                f"{subject(watched.name)} flashes within the limits for {lasts_s:.1f} s "
                f"({span(first, last)}), up to {times(stretch.flashes)} in one second: "
                f"{change(watched.name, kind, stretch)}; {BECAUSE[cause]}. Flashing for longer than "
                f"{limit_s:g} s may be a risk even within the limits."
            )
            yield self._finding("compromise", watched, kind, [stretch], stretch, cause, sentence, SHORTER)

    def _finding(
        self,
        grade: Literal["fault", "compromise"],
        watched: Watched,
        kind: FlashKind,
        stretches: Sequence[Stretch],
        worst: Stretch,
        cause: Cause,
        sentence: str,
        remedy: str,
    ) -> Finding:
        timeline = self.plan.timeline
        first = self._at(min(stretch.first for stretch in stretches))
        last = self._at(max(stretch.last for stretch in stretches))
        at = self._at(worst.worst.frame)
        changes = [frame for stretch in stretches for frame in stretch.frames]
        return Finding(
            grade=grade,
            shot=timeline.shot_at(at).name,
            cameras=self._cameras(watched, changes),
            frames=(first, last),
            timecodes=(timeline.timecode(first), timeline.timecode(last)),
            sentence=sentence,
            remedy=remedy,
            measures=self._measures(watched, kind, worst.most, worst.worst)
            | {
                "area_percent": round(100.0 * worst.share, 2),
                STEP[kind]: round(worst.swing, 4 if kind == "red" else 1),
                "cause": cause,
                "stretches": len(stretches),
                "lasts_s": round(float(timeline.rate.seconds(last - first)), 3),
            },
        )

    def _fine(self, watched: Watched) -> Finding:
        timeline, frames, limit = self.plan.timeline, self._frames, self.plan.thresholds.flashing.flashes
        kind, counted = max(watched.counts.items(), key=lambda one: (one[1].most, one[1].largest))
        most = counted.most_event
        often = f"flashes at most {times(counted.most / 2)} in any one second" if counted.most > 1 else ""
        return Finding(
            grade="fine",
            shot="",
            cameras=(),
            frames=(frames[0], frames[-1]),
            timecodes=(timeline.timecode(frames[0]), timeline.timecode(frames[-1])),
            sentence=f"{subject(watched.name)} {often or 'does not flash'} (limit {limit}); at most "
            f"{percent(counted.largest)} of it changes at once.",
            measures=self._measures(watched, kind, counted.most, most, counted.largest_frame)
            | {"area_percent": round(100.0 * counted.largest, 2)},
        )

    def _measures(
        self, watched: Watched, kind: FlashKind, changes: int, event: Event | None, otherwise: int = 0
    ) -> dict[str, Value]:
        frame = self._at(event.frame if event is not None else otherwise)
        return {
            "worst_frame": frame,
            "worst_timecode": self.plan.timeline.timecode(frame),
            "where": where(event.mask) if event is not None else "",
            "flashing_of": title(watched.name),
            "flashing_in": kind,
            "flashes_in_a_second": changes / 2,
        }

    def _cause(self, watched: Watched, stretch: Stretch, counted: FlashCount) -> Cause:
        """What does most of a stretch's changes; of equals, what is put right first."""
        found = Counter(self._cause_at(watched, frame, counted.together_frames) for frame in stretch.frames)
        return max(get_args(Cause), key=lambda cause: found[cause])

    def _cause_at(self, watched: Watched, frame: int, together: int) -> Cause:
        timeline, file = self.plan.timeline, self.plan.show.file
        frames = range(max(0, self._at(frame) - together), self._at(frame) + 1)
        moments = [timeline.at(at) for at in frames]
        pairs = tuple(pairwise(moments))
        now = moments[-1]
        cut = now.mix_from is not None or any(one.on_air != then.on_air for then, one in pairs)
        switch = file.drive.mode != "interleaved" and any(
            one.wall_camera != then.wall_camera for then, one in pairs
        )
        if watched.name != PROGRAMME:
            cut, switch = switch, False
        if cut or switch:
            return "cuts" if cut else "wall switch"
        shown = (now.on_air,) if watched.name == PROGRAMME else [camera.name for camera in now.cameras]
        return "camera move" if any(now.camera(name).moving for name in shown) else "moving pictures"

    def _cameras(self, watched: Watched, changes: Sequence[int]) -> tuple[str, ...]:
        """Cameras seen on programme, or whose frustums are on the wall, at these changes."""
        timeline, names = self.plan.timeline, dict[str, None]()
        switched = self.plan.show.file.drive.mode == "switched"
        for frame in changes:
            for at in (self._at(frame) - 1, self._at(frame)):
                moment = timeline.at(max(0, at))
                if watched.name == PROGRAMME:
                    shown = [name for name in (moment.mix_from, moment.on_air) if name]
                else:
                    shown = [moment.wall_camera] if switched else [one.name for one in moment.cameras]
                names |= dict.fromkeys(shown)
        return tuple(names)


def _past_is_black(code: np.ndarray, off_wall: Bools) -> np.ndarray:
    """The picture, what is past LED surfaces and set made black: the stripes there are never on air."""
    height, width = code.shape[:2]
    past = _resized(off_wall, (width, height))
    return np.where(past[..., None], np.uint8(0), code) if past.any() else code


def _smaller(size_px: tuple[int, int]) -> tuple[int, int]:
    shrink = max(1.0, max(size_px) / CANVAS_PX)
    width, height = (max(1, round(side / shrink)) for side in size_px)
    return width, height


def _resized(mask: Bools, size_px: tuple[int, int]) -> Bools:
    """A mask on a grid of another size over the same picture."""
    if mask.shape == (size_px[1], size_px[0]):
        return mask
    found: Bools = cv2.resize(mask.astype(np.uint8), size_px, interpolation=cv2.INTER_NEAREST) > 0
    return found
