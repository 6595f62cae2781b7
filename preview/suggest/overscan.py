"""The least overscan that survives every move on programme, and its proof pixel by pixel."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from math import ceil

from preview.checks.coverage import Coverage, uncovered_pixels, worst_of
from preview.raster.raster import Raster
from preview.show.load import Show
from preview.suggest.changed import with_overscan
from preview.timeline.timeline import Timeline

OVERSCAN_STEP_PERCENT = 0.1
"""Suggested overscan is the needed one rounded up to this."""
MOST_OVERSCAN_PERCENT = 100.0
"""The most a show file may have (``preview.show.model.Camera``)."""
WORST_FRAMES = 3
"""Frames in which a camera's overscan is proved pixel by pixel: those that need the most."""


@dataclass(frozen=True)
class OverscanProof:
    """Pixels of one picture whose wall point the camera's image does not reach, at two overscans.

    Attributes
    ----------
    frame, timecode : which picture
    with_suggestion : pixels with the suggested overscan
    less_percent : one percent less than suggested, at least 0
    with_less : pixels with that
    """

    frame: int
    timecode: str
    with_suggestion: int
    less_percent: float
    with_less: int


@dataclass(frozen=True)
class OverscanSuggestion:
    """The least overscan of one camera that covers its picture in every move on programme.

    Attributes
    ----------
    camera : its name
    given_percent : what it has
    needed_percent : the most that any frame needs; 0 when its image never lags; None when no overscan
        reaches
    suggested_percent : that rounded up to OVERSCAN_STEP_PERCENT; None when no overscan a show file may
        have reaches
    worst_frame, worst_timecode : where it is needed; None when it never is
    proofs : its worst frames, pixel by pixel; empty until proved, or when nothing is needed
    """

    camera: str
    given_percent: float
    needed_percent: float | None
    suggested_percent: float | None
    worst_frame: int | None
    worst_timecode: str | None
    proofs: tuple[OverscanProof, ...] = ()

    @property
    def enough(self) -> bool:
        """Whether the overscan it has is enough."""
        return self.suggested_percent is not None and self.given_percent >= self.suggested_percent


def suggest_overscan(show: Show, covered: Sequence[Coverage]) -> tuple[OverscanSuggestion, ...]:
    """Least overscan for every camera.

    Parameters
    ----------
    show : the show at hand
    covered : from ``preview.checks.coverage.coverage_over``
    """
    found = []
    for camera in show.file.cameras:
        worst = worst_of(one for one in covered if one.camera == camera.name)
        needed = 0.0 if worst is None else worst.needed_percent
        suggested = None if needed is None else rounded_up(needed)
        if suggested is not None and suggested > MOST_OVERSCAN_PERCENT:
            suggested = None
        at = worst if worst is not None and needed != 0.0 else None
        found.append(
            OverscanSuggestion(
                camera.name,
                camera.overscan_percent,
                needed,
                suggested,
                None if at is None else at.frame,
                None if at is None else at.timecode,
            )
        )
    return tuple(found)


def rounded_up(percent: float) -> float:
    """A percentage rounded up to OVERSCAN_STEP_PERCENT.

    >>> rounded_up(4.21), rounded_up(4.2), rounded_up(0.0)
    (4.3, 4.2, 0.0)
    """
    steps = ceil(percent / OVERSCAN_STEP_PERCENT - 1e-9)
    return round(steps * OVERSCAN_STEP_PERCENT, 6)


def prove_overscan(
    show: Show,
    suggestions: Sequence[OverscanSuggestion],
    covered: Sequence[Coverage],
    raster: Raster,
    on_camera: Callable[[], None] = lambda: None,
) -> tuple[OverscanSuggestion, ...]:
    """Count uncovered pixels of each camera's worst frames with the suggestion, and with 1 percent less.

    Geometry looks between pixels and at the picture's very edge, so the suggestion holds as it is; were a
    pixel left over all the same, the suggestion goes up a step and is tried again.

    Parameters
    ----------
    show : the show at hand
    suggestions, covered : what is to be proved, and where it came from
    raster : of the same stage; its picture size is the one proved
    on_camera : told after each camera
    """
    proved = []
    for suggestion in suggestions:
        proved.append(_proved(show, suggestion, _worst_frames(suggestion.camera, covered), raster))
        on_camera()
    return tuple(proved)


def _proved(
    show: Show, suggestion: OverscanSuggestion, frames: Sequence[int], raster: Raster
) -> OverscanSuggestion:
    percent = suggestion.suggested_percent
    while percent is not None and frames:
        proofs = tuple(_prove(show, suggestion.camera, percent, frame, raster) for frame in frames)
        suggestion = replace(suggestion, suggested_percent=percent, proofs=proofs)
        if not any(proof.with_suggestion for proof in proofs):
            return suggestion
        percent = rounded_up(percent + OVERSCAN_STEP_PERCENT)
        if percent > MOST_OVERSCAN_PERCENT:
            percent = None
    return replace(suggestion, suggested_percent=percent)


def _worst_frames(camera: str, covered: Sequence[Coverage]) -> list[int]:
    own = [one for one in covered if one.camera == camera and one.needed_percent]
    own.sort(key=lambda one: -(one.needed_percent or 0.0))
    return [one.frame for one in own[:WORST_FRAMES]]


def _prove(show: Show, camera: str, percent: float, frame: int, raster: Raster) -> OverscanProof:
    less = round(max(0.0, percent - 1.0), 6)
    return OverscanProof(
        frame,
        Timeline(show).timecode(frame),
        _uncovered(show, camera, percent, frame, raster),
        less,
        _uncovered(show, camera, less, frame, raster),
    )


def _uncovered(show: Show, camera: str, percent: float, frame: int, raster: Raster) -> int:
    moment = Timeline(with_overscan(show, {camera: percent})).at(frame)
    return uncovered_pixels(raster, moment.camera(camera))
