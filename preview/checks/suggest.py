"""Suggestions: the picture delay that makes every cut clean, the least overscan that survives every move.

Both are found by trying. A try is a new show: its file is changed, and everything starts again at the
top with a new timeline. Nothing of the show at hand is touched.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from math import ceil

from preview.checks.coverage import Coverage, uncovered_pixels, worst_of
from preview.checks.cut import cuts_of
from preview.checks.edge_lines import edge_lines
from preview.raster.raster import Raster
from preview.show.load import Show
from preview.stage.surface import LedSurface
from preview.timeline.delay import camera_delay
from preview.timeline.rate import Rate
from preview.timeline.timeline import Timeline

PAST_THE_WALL_FRAMES = 3
"""Delays tried beyond the wall's own, so that the table shows both sides of the best."""
MOST_DELAY_FRAMES = 100
"""The longest picture delay a show file may have (``preview.show.model.Delays``)."""

OVERSCAN_STEP_PERCENT = 0.1
"""Suggested overscan is the needed one rounded up to this."""
MOST_OVERSCAN_PERCENT = 100.0
"""The most a show file may have (``preview.show.model.Camera``)."""
WORST_FRAMES = 3
"""Frames in which a camera's overscan is proved pixel by pixel: those that need the most."""


# -- shows, changed ------------------------------------------------------------------------------------


def with_picture_delay(show: Show, frames: int | Mapping[str, int]) -> Show:
    """A new show whose mixer holds cuts back: every cut alike, or by the camera it goes to.

    One number for all takes each camera's own away; a mapping gives cameras their own.
    """
    file = show.file
    if isinstance(frames, int):
        delays = file.delays.model_copy(update={"picture_frames": frames})
        of_camera: dict[str, int | None] = dict.fromkeys((c.name for c in file.cameras), None)
    else:
        delays, of_camera = file.delays, dict(frames)
    cameras = tuple(
        camera.model_copy(
            update={"delays": camera.delays.model_copy(update={"picture_frames": of_camera[camera.name]})}
        )
        if camera.name in of_camera
        else camera
        for camera in file.cameras
    )
    return replace(show, file=file.model_copy(update={"delays": delays, "cameras": cameras}))


def with_overscan(show: Show, percent: Mapping[str, float]) -> Show:
    """A new show in which the named cameras have other overscan."""
    cameras = tuple(
        camera.model_copy(update={"overscan_percent": percent.get(camera.name, camera.overscan_percent)})
        for camera in show.file.cameras
    )
    return replace(show, file=show.file.model_copy(update={"cameras": cameras}))


# -- picture delay ---------------------------------------------------------------------------------------


@dataclass(frozen=True)
class DelayTry:
    """What one picture delay, the same for every cut, does to the rundown.

    Attributes
    ----------
    picture_frames : the delay tried
    wrong_frames : frames with another camera's background, in the whole rundown
    wrong_by_camera : the same for the cuts to each camera
    switch_off_frames : frames by which the wall's change misses its place, summed over all changes
    """

    picture_frames: int
    wrong_frames: int
    wrong_by_camera: Mapping[str, int]
    switch_off_frames: int


@dataclass(frozen=True)
class DelaySuggestion:
    """The picture delay to set.

    Attributes
    ----------
    tries : every delay tried, from 0
    picture_frames : the best for every cut alike
    by_camera : the best for the cuts to each camera, cameras never cut to left out
    now : each camera's delay in the show at hand
    show : the show with ``picture_frames`` set for all; the show at hand when that changes nothing
    """

    tries: tuple[DelayTry, ...]
    picture_frames: int
    by_camera: Mapping[str, int]
    now: Mapping[str, int]
    show: Show

    @property
    def changes(self) -> bool:
        """Whether the show at hand has another delay."""
        return any(frames != self.picture_frames for frames in self.now.values())

    @property
    def best(self) -> DelayTry:
        return next(one for one in self.tries if one.picture_frames == self.picture_frames)


def suggest_picture_delay(show: Show) -> DelaySuggestion:
    """Try every picture delay from 0 past the wall's own, and take the one with the fewest wrong frames.

    Among equals the one whose mixes change the wall where ``drive.mix_switch`` says, then the one in use,
    then the shortest.
    """
    rate = Rate(show.file.show.frame_rate)
    now = {camera.name: camera_delay(show.file, camera, rate).picture for camera in show.file.cameras}
    wall = show.file.delays.wall_switch_frames
    most = min(MOST_DELAY_FRAMES, max(wall, *now.values()) + PAST_THE_WALL_FRAMES)
    tries = tuple(_try_delay(show, frames) for frames in range(most + 1))

    def order(one: DelayTry) -> tuple[int, int, bool, int]:
        in_use = set(now.values()) == {one.picture_frames}
        return one.wrong_frames, one.switch_off_frames, not in_use, one.picture_frames

    best = min(tries, key=order)
    names = dict.fromkeys(name for one in tries for name in one.wrong_by_camera)
    by_camera = {
        name: min(tries, key=lambda one: (one.wrong_by_camera[name], one.picture_frames)).picture_frames
        for name in names
    }
    changed = with_picture_delay(show, best.picture_frames)
    suggestion = DelaySuggestion(tries, best.picture_frames, by_camera, now, changed)
    return suggestion if suggestion.changes else replace(suggestion, show=show)


def _try_delay(show: Show, frames: int) -> DelayTry:
    cuts = cuts_of(with_picture_delay(show, frames))
    by_camera = dict.fromkeys((cut.incoming for cut in cuts), 0)
    for cut in cuts:
        by_camera[cut.incoming] += len(cut.wrong_frames)
    off = sum(abs(cut.wall_late_frames or 0) for cut in cuts)
    return DelayTry(frames, sum(by_camera.values()), by_camera, off)


# -- overscan ----------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class OverscanProof:
    """Pixels of one picture whose wall point the camera's image does not reach, at two overscans."""

    frame: int
    timecode: str
    with_suggestion: int
    with_one_percent_less: int | None


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
    less = percent - 1.0
    return OverscanProof(
        frame,
        Timeline(show).timecode(frame),
        _uncovered(show, camera, percent, frame, raster),
        None if less < 0.0 else _uncovered(show, camera, less, frame, raster),
    )


def _uncovered(show: Show, camera: str, percent: float, frame: int, raster: Raster) -> int:
    moment = Timeline(with_overscan(show, {camera: percent})).at(frame)
    return uncovered_pixels(raster, moment.camera(camera))


# -- edge lines ----------------------------------------------------------------------------------------------


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
    show: Show, camera: str, frames: Sequence[int], raster: Raster, surfaces: Sequence[LedSurface]
) -> LineRemedy:
    """Try wider overscan for one camera until none of its pictures shows a line that overscan can move.

    Once a camera's frustum covers its picture and its own line lies outside, more overscan changes
    nothing there: the least is found by halving.
    """

    def clean(steps: int) -> bool:
        tried = with_overscan(show, {camera: round(steps * OVERSCAN_STEP_PERCENT, 6)})
        timeline = Timeline(tried)
        moments = (timeline.at(frame) for frame in frames)
        found = edge_lines(raster, surfaces, moments, tried.file.drive)
        return not any(one.camera == camera and not one.on_top for one in found)

    given = next(c.overscan_percent for c in show.file.cameras if c.name == camera)
    low = ceil(given / OVERSCAN_STEP_PERCENT - 1e-9)
    high = round(MOST_OVERSCAN_PERCENT / OVERSCAN_STEP_PERCENT)
    if not clean(high):
        return LineRemedy(camera, given, None, len(frames))
    while low < high:
        middle = (low + high) // 2
        low, high = (low, middle) if clean(middle) else (middle + 1, high)
    return LineRemedy(camera, given, round(high * OVERSCAN_STEP_PERCENT, 6), len(frames))
