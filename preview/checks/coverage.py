"""Coverage: does a camera's own inner frustum image reach every wall point of its picture?

The image is drawn from where tracking last saw the camera. While the camera moves, its picture runs out
of that image on the side it moves to, and the shared outer image shows there; overscan is what covers
the difference. Here it is worked out from geometry alone; ``uncovered_pixels`` counts the same from the
raster's sightlines, pixel by pixel.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from math import inf, nan

import numpy as np

from preview.camera.view import CameraView
from preview.checks.look import Look, Plan
from preview.checks.registry import Check, Curve, Mark, register
from preview.checks.result import CheckResult, Finding, Value, capital, count, runs, span
from preview.checks.seen_wall import (
    fields,
    outermost_points,
    pinhole_place,
    reaches,
    seen_wall,
    wall_points,
)
from preview.conventions import Array
from preview.raster.raster import Raster
from preview.raster.request import SceneImage
from preview.show.load import Show
from preview.stage.build import build_stage
from preview.stage.surface import LedSurface
from preview.timeline.moment import CameraMoment
from preview.timeline.timeline import Timeline
from preview.wall.layer import inner_image

NAME = "coverage"
QUESTION = "Does each camera's own frustum image cover its whole picture while it is on programme?"
ASSUMPTIONS = (
    "Set and people are taken away: the wall behind them has to be right too, since they may move.",
    "The needed overscan is that of the outermost wall point of the picture, looked for where facet edges "
    "cross the picture's border, at facet corners, along the border and on a grid inside it.",
    "The missing share is counted at the middles of 96 x 54 fields of the picture.",
)

FIELDS = (96, 54)


@dataclass(frozen=True)
class Coverage:
    """How a camera's frustum image covers its picture in one frame.

    Attributes
    ----------
    camera, frame, timecode, framing : which picture
    needed_percent : overscan a side that would just cover it; 0 when the bare image does; None when a
        wall point lies behind the view the image was drawn from, which no overscan reaches
    given_percent : overscan that the camera has
    covered : the image as drawn, rounded up to whole pixels, reaches every wall point looked at
    missing_share : share of the picture, 0..1, whose wall point the image does not reach
    edge : "left", "right", "top" or "bottom", the side of the picture that needs the most; "" for none
    """

    camera: str
    frame: int
    timecode: str
    framing: str
    needed_percent: float | None
    given_percent: float
    covered: bool
    missing_share: float
    edge: str


def coverage(
    surfaces: Sequence[LedSurface],
    camera: CameraMoment,
    picture_px: tuple[int, int],
    frame: int = 0,
    timecode: str = "",
) -> Coverage:
    """One camera's picture at one moment.

    Parameters
    ----------
    surfaces : LED surfaces of the stage
    camera : its view now, and the view its layer was drawn from
    picture_px : width and height of the picture
    frame, timecode : noted in the result
    """
    image = inner_image(camera)
    given = camera.overscan * 100.0
    sure = Coverage(camera.name, frame, timecode, camera.framing, 0.0, given, True, 0.0, "")
    if camera.layer_view == camera.view:
        return sure  # the image holds every sightline of the picture, by its making
    points = outermost_points(surfaces, camera.view, picture_px)
    if not len(points):
        return sure
    place, in_front = pinhole_place(image.view, points)
    worst = int(np.abs(place).max(axis=1).argmax())
    reach = float(np.abs(place[worst]).max())
    needed = _overscan_percent(reach, camera) if in_front.all() else None
    drawn = np.divide(image.drawn_size(picture_px), picture_px)
    covered = bool(in_front.all() and (np.abs(place) <= drawn + 1e-9).all())
    edge = _edge(place[worst] if in_front.all() else place[~in_front][0])
    return Coverage(
        camera.name,
        frame,
        timecode,
        camera.framing,
        needed,
        given,
        covered,
        0.0 if covered else _missing_share(surfaces, camera.view, image, picture_px),
        edge if needed is None or needed > 0.0 else "",
    )


def coverage_over(
    show: Show,
    timeline: Timeline | None = None,
    surfaces: Sequence[LedSurface] | None = None,
    picture_px: tuple[int, int] | None = None,
    frames: Iterable[int] | None = None,
    on_programme: bool = True,
) -> tuple[Coverage, ...]:
    """Every frame of the rundown in which a camera's frustum image lags behind its picture.

    Frames in which a camera stands as it was tracked are left out: its image fits by its making.

    Parameters
    ----------
    show, timeline, surfaces : the show; what was already made of it
    picture_px : width and height of the picture; the show's own when None
    frames : which to look at; all when None
    on_programme : only cameras on programme, both in a mix; every camera when False
    """
    timeline = timeline or Timeline(show)
    surfaces = build_stage(show).surfaces if surfaces is None else surfaces
    picture_px = picture_px or show.file.show.picture_size_px
    found = []
    for frame in range(timeline.frame_count) if frames is None else frames:
        moment = timeline.at(frame)
        for camera in moment.cameras:
            seen = not on_programme or camera.name in (moment.on_air, moment.mix_from)
            if seen and camera.layer_view != camera.view:
                found.append(coverage(surfaces, camera, picture_px, frame, moment.timecode))
    return tuple(found)


def worst_of(covered: Iterable[Coverage]) -> Coverage | None:
    """The one that needs the most overscan; one that no overscan reaches before all."""

    def need(one: Coverage) -> float:
        return float("inf") if one.needed_percent is None else one.needed_percent

    return max(covered, key=need, default=None)


def coverage_result(covered: Sequence[Coverage], timeline: Timeline) -> CheckResult:
    """One finding a camera and stretch of frames that its image does not cover, or one fine one a camera."""
    findings = []
    for name in dict.fromkeys(one.camera for one in covered):
        own = [one for one in covered if one.camera == name]
        stretches = runs([one.frame for one in own if not one.covered])
        for first, last in stretches or [(own[0].frame, own[-1].frame)]:
            within = [one for one in own if first <= one.frame <= last]
            findings.append(_finding(within, (first, last), bool(stretches), timeline))
    findings.sort(key=lambda finding: finding.frames)
    return CheckResult(NAME, QUESTION, tuple(findings), ASSUMPTIONS)


def _finding(within: Sequence[Coverage], frames: tuple[int, int], fault: bool, timeline: Timeline) -> Finding:
    worst = worst_of(within)
    assert worst is not None
    labels = timeline.timecode(frames[0]), timeline.timecode(frames[1])
    missing = max(one.missing_share for one in within)
    if not fault:
        needed = f"needs {worst.needed_percent:.1f} % overscan at most, at {worst.timecode}"
        told = f"{worst.camera} moves on programme and its image keeps up: it {needed}, and has"
        told += f" {worst.given_percent:g} %."
    else:
        lasts = f"for {count(len(within), 'frame')} ({span(*labels)})"
        told = f"{lasts} the {worst.edge} of {worst.camera}'s picture runs out of its own image"
        told += f", by up to {100 * missing:.2g} % of the picture, and shows the outer image"
        needed = "more than any" if worst.needed_percent is None else f"{worst.needed_percent:.1f} %"
        told += f"; at {worst.timecode} it needs {needed} overscan and has {worst.given_percent:g} %."
    return Finding(
        grade="fault" if fault else "fine",
        shot=timeline.shot_at(frames[0]).name,
        cameras=(worst.camera,),
        frames=frames,
        timecodes=labels,
        sentence=capital(told) if fault else told,
        measures={
            "framing": worst.framing,
            "needed_overscan_percent": worst.needed_percent,
            "given_overscan_percent": worst.given_percent,
            "missing_picture_percent": 100 * missing,
            "worst_timecode": worst.timecode,
            "edge": worst.edge,
        },
    )


def _overscan_percent(reach: float, camera: CameraMoment) -> float:
    """Overscan a side whose image reaches ``reach`` (1 = the pinhole picture's edge); at least 0."""
    bare = 1.0 + 2.0 * inner_image(replace(camera, overscan=0.0)).margin  # what the lens alone makes it
    return max(0.0, (reach / bare - 1.0) / 2.0 * 100.0)


def _edge(place: Array) -> str:
    x, y = place
    if abs(x) >= abs(y):
        return "left" if x < 0 else "right"
    return "top" if y < 0 else "bottom"


def _missing_share(
    surfaces: Sequence[LedSurface], view: CameraView, image: SceneImage, picture_px: tuple[int, int]
) -> float:
    points, _ = wall_points(surfaces, view, fields(*FIELDS) * picture_px, picture_px)
    return float((~reaches(image, points, picture_px)).sum() / (FIELDS[0] * FIELDS[1]))


def uncovered_pixels(raster: Raster, camera: CameraMoment) -> int:
    """Pixels of a camera's picture whose wall point its own image, as drawn, does not reach."""
    wall = seen_wall(raster, camera.view)
    return int((~reaches(inner_image(camera), wall.points, raster.picture_px)).sum())


@dataclass
class _Shown:
    """One camera on programme in one shot."""

    shot: str
    camera: str
    framing: str
    frames: tuple[int, int]
    worst: Coverage | None = None  # the frame with the largest part missing, else the most needed
    short: tuple[int, int, int] | None = None  # first and last frame that is not covered, and how many


@register
class CoverageCheck(Check):
    """Own frustum images against the pictures on programme."""

    name = NAME
    question = QUESTION
    assumptions = (
        *ASSUMPTIONS,
        "While a camera stands as it was tracked, its image fits by its making.",
        "checks.coverage.missing_percent of the picture may be missing; at 0 nothing may.",
    )
    order = 20
    levers = ("overscan", "focal length")

    def __init__(self, plan: Plan) -> None:
        super().__init__(plan)
        self._limit = plan.thresholds.coverage.missing_percent
        self._picture_px = plan.show.file.show.picture_size_px
        self._shown: dict[tuple[int, str], _Shown] = {}
        self._frames: list[int] = []
        self._missing: dict[str, list[float]] = {camera.name: [] for camera in plan.show.file.cameras}

    def see(self, look: Look) -> None:
        """Take in the cameras on programme in one frame."""
        self._frames.append(look.frame)
        for line in self._missing.values():
            line.append(nan)
        for name, _ in look.on_programme:
            camera, shot = look.moment.camera(name), look.shot_of(name)
            shown = self._shown.setdefault(
                (shot.index, name), _Shown(shot.name, name, camera.framing, (look.frame, look.frame))
            )
            shown.frames = shown.frames[0], look.frame
            one = self._coverage(camera, look)
            self._missing[name][-1] = 100 * one.missing_share
            if shown.worst is None or _badness(one) > _badness(shown.worst):
                shown.worst, shown.framing = one, camera.framing
            if not one.covered and (self._limit == 0 or 100 * one.missing_share > self._limit):
                first, _, frames = shown.short or (look.frame, look.frame, 0)
                shown.short = first, look.frame, frames + 1

    def _coverage(self, camera: CameraMoment, look: Look) -> Coverage:
        def make() -> Coverage:
            return coverage(self.plan.stage.surfaces, camera, self._picture_px)

        key = camera.name, camera.view, camera.layer_view, camera.overscan
        one = self.plan.once("coverage", key, make)
        return replace(one, frame=look.frame, timecode=look.moment.timecode, framing=camera.framing)

    def result(self) -> CheckResult:
        """One finding a shot and camera whose image falls short; one fine one a camera for the others."""
        findings = [self._short(shown) for shown in self._shown.values() if shown.short]
        for name in dict.fromkeys(shown.camera for shown in self._shown.values()):
            fits = [shown for shown in self._shown.values() if shown.camera == name and not shown.short]
            if fits:
                findings.append(self._fits(name, fits))
        return self.answer(findings)

    def _short(self, shown: _Shown) -> Finding:
        worst = shown.worst
        assert worst is not None and shown.short is not None
        first, last, frames = shown.short
        labels = self.plan.timeline.timecode(first), self.plan.timeline.timecode(last)
        needed = "more than any" if worst.needed_percent is None else f"{worst.needed_percent:.1f} %"
        return Finding(
            grade="fault",
            shot=shown.shot,
            cameras=(shown.camera,),
            frames=(first, last),
            timecodes=labels,
            sentence=f"The {worst.edge} of {shown.camera}'s picture runs out of its own image and shows the "
            f"outer one: up to {100 * worst.missing_share:.2g} % of the picture, at {worst.timecode}, where "
            f"it needs {needed} overscan and has {worst.given_percent:g} %; in {count(frames, 'frame')} "
            f"looked at ({span(*labels)}).",
            measures={**_measures(worst), "looked_at_frames": frames, "where": f"the {worst.edge} edge"},
        )

    def _fits(self, name: str, fits: Sequence[_Shown]) -> Finding:
        worst = max((shown.worst for shown in fits if shown.worst), key=_badness)
        frames = min(shown.frames[0] for shown in fits), max(shown.frames[1] for shown in fits)
        if not worst.needed_percent:
            told = f"{name}'s image is drawn from where the camera stands: it needs no overscan."
        else:
            told = f"{name}'s image covers its picture: it needs {worst.needed_percent:.1f} % overscan at "
            told += f"most, at {worst.timecode}, and has {worst.given_percent:g} %."
        return Finding(
            grade="fine",
            shot=fits[0].shot if len(fits) == 1 else "",
            cameras=(name,),
            frames=frames,
            timecodes=(self.plan.timeline.timecode(frames[0]), self.plan.timeline.timecode(frames[1])),
            sentence=told,
            measures={**_measures(worst), "where": ""},
        )

    def curves(self) -> tuple[Curve, ...]:
        """Share of each picture on programme that its own image does not reach."""
        seen = {name: line for name, line in self._missing.items() if not np.isnan(line).all()}
        return (Curve("Picture not covered", "%", self._frames, seen, self._limit),)

    def marks(self, look: Look, finding: Finding) -> tuple[Mark, ...]:
        """The part of the picture whose wall points the camera's image does not reach."""
        (name,) = finding.cameras
        sight = look.bare(name)
        mask = sight.lit.copy()
        image = inner_image(look.moment.camera(name))
        mask[sight.lit] = ~reaches(image, sight.points[sight.lit], self._picture_px)
        return (Mark(name, mask, "outer image"),) if mask.any() else ()


def _badness(one: Coverage) -> tuple[float, float]:
    return one.missing_share, inf if one.needed_percent is None else one.needed_percent


def _measures(worst: Coverage) -> dict[str, Value]:
    return {
        "framing": worst.framing,
        "needed_overscan_percent": worst.needed_percent,
        "given_overscan_percent": worst.given_percent,
        "missing_picture_percent": 100 * worst.missing_share,
        "edge": worst.edge,
        "worst_frame": worst.frame,
        "worst_timecode": worst.timecode,
    }
