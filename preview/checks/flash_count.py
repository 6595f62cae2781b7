"""Flashes, counted: how much of a picture changes together, and how often in any one second.

Source of the counting rule: Recommendation ITU-R BT.1702-3 (11/2023), read only through texts that quote it.
A flash is a pair of opposing changes; more than three in any one second over more than a quarter of the
picture are not allowed. Its rule that flashes whose leading edges lie 360 ms (50 Hz) or 334 ms (60 Hz) apart
are acceptable follows from the count: four of them do not fit in one second. Where the count alone decides,
edges that lie between the two apart at 50 Hz pass too.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from typing import NamedTuple

import numpy as np

from preview.checks.flash import Bools, Changes, Limits
from preview.conventions import Array

TOGETHER_S = 0.08
"""Changes of one direction within this time are concurrent: two frames at 25. Own choice: a flicker over a
structured background comes to its full swing a frame earlier where the background is bright."""
PAUSE_S = 0.5
"""Flashing has stopped when nothing has changed back for so long: slower is less than one flash a second.
Own choice."""

_SLACK = 1e-9  # of a share: a quarter of the pixels must not be more than a quarter by rounding


class Event(NamedTuple):
    """A frame in which more of the picture than allowed has changed together.

    Attributes
    ----------
    frame : counted from the first picture
    up, down : whether it has changed up, down (both when different parts did)
    share : of the picture (0..1), of the larger change
    swing : its mean swing at least, cd/m2 or u'v'
    mask : (h, w) where the larger change was
    """

    frame: int
    up: bool
    down: bool
    share: float
    swing: float
    mask: Bools


class Counted(NamedTuple):
    """What one frame adds.

    Attributes
    ----------
    share : of the picture (0..1) that has changed together, the larger of both directions
    changes : opposing changes in the second that ends with this frame
    """

    share: float
    changes: int

    @property
    def flashes(self) -> float:
        """Flashes in that second: pairs of opposing changes."""
        return self.changes / 2


@dataclass
class Stretch:
    """Flashing that goes on: above the limits, or sustained.

    Attributes
    ----------
    first, last : frames of its first and last change
    frames : of all its changes, rising
    most : opposing changes in its worst second
    worst : the event with which that second ends
    share, swing : of its largest change
    """

    first: int
    last: int
    frames: list[int]
    most: int
    worst: Event
    share: float
    swing: float

    @property
    def flashes(self) -> float:
        """Flashes in its worst second."""
        return self.most / 2


def opposing(events: Sequence[Event]) -> int:
    """Longest row of changes that go up and down in turn, at most one a frame.

    Where both directions occur in a frame, in different parts of the picture, either may be the next of the
    row: a picture whose halves take turns flashes as often as one of them.
    """
    longest = 0
    for first_up in (True, False):
        up, length = first_up, 0
        for event in events:
            if event.up if up else event.down:
                up, length = not up, length + 1
        longest = max(longest, length)
    return longest


class FlashCount:
    """Counts the flashes of one picture.

    Parameters
    ----------
    fps : frames per second, exact
    limits : of the picture
    weights : (h, w) what each pixel counts; divided by their sum here

    Attributes
    ----------
    above : stretches with more flashes in a second than allowed
    sustained : stretches of flashing that last longer than ``limits.sustained_s``, above the limits or not
    most : opposing changes in the worst second so far, and ``most_event`` with which it ends
    largest : largest share of the picture that has changed together so far, first in ``largest_frame``

    Raises
    ------
    ValueError : the weights add up to nothing.
    """

    def __init__(self, fps: Fraction, limits: Limits, weights: Array) -> None:
        total = float(weights.sum())
        if not total > 0.0:
            raise ValueError("no pixel of the picture counts: its weights add up to 0")
        self._fps, self._limits, self._weights = fps, limits, weights / total
        self._together = max(1, round(TOGETHER_S * fps))
        self._pause = float(PAUSE_S * fps)
        self._frame = -1
        never = np.iinfo(np.int64).min // 2
        self._waiting = {up: np.full(weights.shape, never, dtype=np.int64) for up in (True, False)}
        self._swing = np.zeros(weights.shape)
        self._second: deque[Event] = deque()
        self._going: _Going | None = None
        self.above: list[Stretch] = []
        self._long: list[Stretch] = []
        self.most = 0
        self.most_event: Event | None = None
        self.largest, self.largest_frame = 0.0, 0

    def feed(self, changes: Changes) -> Counted:
        """Count the next frame's changes."""
        self._frame += 1
        self._forget()
        changed = changes.up | changes.down
        if not changed.any():
            return self._rest()
        self._swing[changed] = changes.swing[changed]
        found: dict[bool, tuple[float, Bools]] = {}
        for up, now in ((True, changes.up), (False, changes.down)):
            waiting = self._waiting[up]
            waiting[now] = self._frame
            mask = waiting > self._frame - self._together
            found[up] = (float(self._weights[mask].sum()), mask)
        over = {up: share > self._limits.area_share + _SLACK for up, (share, _) in found.items()}
        larger = max(found, key=lambda up: (over[up], found[up][0]))
        share, mask = found[larger]
        if any(over.values()):
            weights = self._weights[mask]
            swing = float((weights * self._swing[mask]).sum() / weights.sum())
            self._happened(Event(self._frame, over[True], over[False], share, swing, mask))
            for up in (True, False):
                if over[up]:
                    self._waiting[up][found[up][1]] -= self._together  # each change counts once
        share = max(share for share, _ in found.values())
        if share > self.largest:
            self.largest, self.largest_frame = share, self._frame
        return Counted(share, opposing(self._second))

    def hold(self) -> Counted:
        """Count a frame that shows the same picture as the one before."""
        self._frame += 1
        self._forget()
        return self._rest()

    @property
    def together_frames(self) -> int:
        """Frames within which changes of one direction are concurrent."""
        return self._together

    @property
    def sustained(self) -> tuple[Stretch, ...]:
        """Stretches of flashing that last longer than the limits' ``sustained_s``."""
        going = self._going
        last = [going.stretch] if going is not None and self._is_long(going.stretch) else []
        return (*self._long, *last)

    def _rest(self) -> Counted:
        return Counted(0.0, opposing(self._second))

    def _forget(self) -> None:
        """Events a whole second old are of another second."""
        while self._second and self._frame - self._second[0].frame >= self._fps:
            self._second.popleft()

    def _happened(self, event: Event) -> None:
        self._second.append(event)
        number = opposing(self._second)
        if number > self.most or self.most_event is None:
            self.most, self.most_event = number, event
        if number > 2 * self._limits.flashes:
            self._above(event, number)
        self._go_on(event, number)

    def _above(self, event: Event, number: int) -> None:
        first = self._second[0].frame
        if not self.above or first > self.above[-1].last:
            self.above.append(Stretch(first, event.frame, [], number, event, 0.0, 0.0))
        stretch = self.above[-1]
        known = stretch.frames[-1] if stretch.frames else -1
        for one in self._second:
            if one.frame > known:
                _extend(stretch, one, 0)
        _extend(stretch, event, number, seen=True)

    def _go_on(self, event: Event, number: int) -> None:
        """Keep the row of opposing changes that is under way; one ends where nothing has changed back."""
        going = self._going
        if going is not None and event.frame - going.stretch.last > self._pause:
            if self._is_long(going.stretch):
                self._long.append(going.stretch)
            going = None
        if going is None:
            stretch = Stretch(event.frame, event.frame, [], number, event, 0.0, 0.0)
            self._going = going = _Going(stretch)
        elif not (event.down if going.up else event.up):
            if not going.open_start:
                return
            # The same way again; nothing has changed back yet, so the row starts here.
            going.stretch.first, going.stretch.frames = event.frame, []
        else:
            going.open_start = False
        going.up = event.up if going.open_start else not going.up
        _extend(going.stretch, event, number)

    def _is_long(self, stretch: Stretch) -> bool:
        return Fraction(stretch.last - stretch.first) / self._fps > Fraction(self._limits.sustained_s)


@dataclass
class _Going:
    """A row of opposing changes that is under way, and which way the last one went."""

    stretch: Stretch
    up: bool = True
    open_start: bool = field(default=True)


def _extend(stretch: Stretch, event: Event, number: int, seen: bool = False) -> None:
    if not seen:
        stretch.frames.append(event.frame)
    stretch.last = max(stretch.last, event.frame)
    if event.share > stretch.share:
        stretch.share, stretch.swing = event.share, event.swing
    if (number, event.share) > (stretch.most, stretch.worst.share):
        stretch.most, stretch.worst = number, event
