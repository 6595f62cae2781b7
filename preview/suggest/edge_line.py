"""The least overscan that takes edge lines out of a camera's picture, found by trying."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil

from preview.checks.edge_lines import EdgeLine, LineFinder
from preview.raster.raster import Raster
from preview.show.load import Show
from preview.stage.surface import LedSurface
from preview.suggest.changed import with_overscan
from preview.suggest.overscan import MOST_OVERSCAN_PERCENT, OVERSCAN_STEP_PERCENT
from preview.timeline.timeline import Timeline

WORST_FRAMES = 3
"""Frames on which overscan is tried first: those with the most pixels of line."""


@dataclass(frozen=True)
class LineRemedy:
    """What overscan does for the edge lines in one camera's picture.

    Attributes
    ----------
    camera, given_percent : whose picture, and what it has
    clean_percent : the least overscan, in steps of OVERSCAN_STEP_PERCENT, with which none of the frames
        tried shows a line; None when the most a show file may have still does
    frames : how many frames were tried
    """

    camera: str
    given_percent: float
    clean_percent: float | None
    frames: int

    @property
    def sentence(self) -> str:
        if self.clean_percent is None:
            return f"no overscan up to {MOST_OVERSCAN_PERCENT:g} % takes the line out of the picture (tried)"
        return (
            f"give {self.camera} {self.clean_percent:g} % overscan instead of {self.given_percent:g} % "
            f"(tried: no line left in {self.frames} frames)"
        )


def suggest_line_overscan(
    show: Show,
    found: Sequence[EdgeLine],
    camera: str,
    raster: Raster,
    surfaces: Sequence[LedSurface],
) -> LineRemedy:
    """Try wider overscan for one camera until none of its pictures shows a line that overscan can move.

    Once a camera's frustum covers its picture and its own line lies outside, more overscan changes
    nothing there: the least is found by halving, on the frames with the most line, and then tried on all;
    a frame that is not clean then joins them.

    Parameters
    ----------
    show : the show at hand
    found : lines from ``preview.checks.edge_lines.edge_lines``
    camera : whose picture
    raster, surfaces : of the stage
    """
    own = sorted(
        (one for one in found if one.camera == camera and not one.on_top), key=lambda one: -one.pixels
    )
    frames = list(dict.fromkeys(one.frame for one in own))
    tried = frames[:WORST_FRAMES]
    given = next(c.overscan_percent for c in show.file.cameras if c.name == camera)
    low = ceil(given / OVERSCAN_STEP_PERCENT - 1e-9)
    while True:
        finder = LineFinder(raster, surfaces, kept=len(tried))
        high = round(MOST_OVERSCAN_PERCENT / OVERSCAN_STEP_PERCENT)
        if _unclean(show, camera, high, tried, finder) is not None:
            return LineRemedy(camera, given, None, len(frames))
        while low < high:
            middle = (low + high) // 2
            clean = _unclean(show, camera, middle, tried, finder) is None
            low, high = (low, middle) if clean else (middle + 1, high)
        missed = _unclean(show, camera, high, frames, LineFinder(raster, surfaces))
        if missed is None:
            return LineRemedy(camera, given, round(high * OVERSCAN_STEP_PERCENT, 6), len(frames))
        tried = [missed]


def _unclean(show: Show, camera: str, steps: int, frames: Sequence[int], finder: LineFinder) -> int | None:
    """The first of the frames in which a camera with so much overscan shows a line; None when none does."""
    changed = with_overscan(show, {camera: round(steps * OVERSCAN_STEP_PERCENT, 6)})
    timeline, looked_at = Timeline(changed), set()
    for frame in frames:
        moment = timeline.at(frame)
        state = moment.camera(camera), moment.wall_camera, moment.cameras
        if state in looked_at:
            continue
        looked_at.add(state)
        if any(not one.on_top for one in finder.lines(moment, camera, changed.file.drive)):
            return frame
    return None
