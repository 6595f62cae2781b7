"""The picture delay that makes every cut clean, found by trying."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from preview.checks.cut import cuts_of
from preview.show.load import Show
from preview.suggest.changed import with_picture_delay
from preview.timeline.delay import camera_delay
from preview.timeline.rate import Rate

PAST_THE_WALL_FRAMES = 3
"""Delays tried beyond the wall's own, so that the table shows both sides of the best."""
MOST_DELAY_FRAMES = 100
"""The longest picture delay a show file may have (``preview.show.model.Delays``)."""


@dataclass(frozen=True)
class DelayTry:
    """What one picture delay, the same for every cut, does to the rundown.

    Attributes
    ----------
    picture_frames : the delay tried
    wrong_frames : frames with another camera's background, in the whole rundown
    switch_off_frames : frames by which the wall's change misses its place, summed over all changes
    wrong_by_camera, switch_off_by_camera : the same for the changes to each camera
    """

    picture_frames: int
    wrong_frames: int
    switch_off_frames: int
    wrong_by_camera: Mapping[str, int]
    switch_off_by_camera: Mapping[str, int]


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
    by_camera = {name: _best_for(name, tries) for name in best.wrong_by_camera}
    changed = with_picture_delay(show, best.picture_frames)
    suggestion = DelaySuggestion(tries, best.picture_frames, by_camera, now, changed)
    return suggestion if suggestion.changes else replace(suggestion, show=show)


def _best_for(camera: str, tries: Sequence[DelayTry]) -> int:
    """The delay that suits the changes to one camera best."""

    def order(one: DelayTry) -> tuple[int, int, int]:
        return one.wrong_by_camera[camera], one.switch_off_by_camera[camera], one.picture_frames

    return min(tries, key=order).picture_frames


def _try_delay(show: Show, frames: int) -> DelayTry:
    cuts = cuts_of(with_picture_delay(show, frames))
    wrong = dict.fromkeys((cut.incoming for cut in cuts), 0)
    off = dict(wrong)
    for cut in cuts:
        wrong[cut.incoming] += len(cut.wrong_frames)
        off[cut.incoming] += abs(cut.wall_late_frames or 0)
    return DelayTry(frames, sum(wrong.values()), sum(off.values()), wrong, off)
