"""The smallest change of a framing with which no check speaks up any more, found by trying.

Focus first, then stop, then a place on the floor (focal length chosen to hold the subject's size), then a
longer lens; then two and three of them together. Every try is a changed show, looked at by all checks that do
not draw: at the worst frames first, and what is clean there at all frames.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field

from preview.floor.result import FloorMap
from preview.suggest.elsewhere import (
    Change,
    Subject,
    focus_ladders,
    lens_ladder,
    place_changes,
    stop_ladder,
)
from preview.suggest.levers import SOFT_PHOTOSITES
from preview.suggest.suggestion import Outcome, Suggestion, Tried
from preview.suggest.trial import Trial, Verdict

MOST_TRIES = 90
"""Changed shows looked at for one framing: a minute or two."""
MOST_WHOLE = 6
"""Of them at all frames."""
WORST_FRAMES = 2
PLACES_COMBINED = 3
"""Places that are tried together with a wider stop: the best of those tried alone."""


def suggest(
    at: Subject,
    trial: Trial,
    floor: Callable[[], FloorMap],
    on_try: Callable[[int, int], None] = lambda done, total: None,
) -> Suggestion:
    """Look for the smallest change with which no check speaks up about a framing.

    Parameters
    ----------
    at : the framing
    trial : what it is tried on
    floor : makes the framing's floor map, when it comes to places
    on_try : told changed shows tried and the most there may be
    """
    before = trial.before()
    search = _Search(at, trial, before, on_try)
    if before.clean:
        return search.answer("needless")
    stops, focuses = stop_ladder(at), focus_ladders(at)
    widest = stops[-1:]
    search.ladders("focus", focuses)
    search.ladders("stop", [stops])
    search.ladders("focus and stop", [_all(widest, ladder) for ladder in focuses], unless_clear=True)
    places: tuple[Change, ...] = ()
    if not search.clear:
        places = tuple(place_changes(at, floor()))
        search.each("position", places)
    search.ladders("focal length", [lens_ladder(at)], unless_clear=True)
    if places and not search.clear:
        nearest = search.best_first(places)[:PLACES_COMBINED]
        search.ladders("position and stop", [tuple(place.also(one) for one in stops) for place in nearest])
    if places and not search.clear:
        pulled = [_pulled(nearest[0], ladder, at) for ladder in focuses]
        search.ladders("position and focus", pulled)
        search.ladders(
            "position, focus and stop", [_all(widest, ladder) for ladder in pulled], unless_clear=True
        )
    return search.answer()


def _all(first: Iterable[Change], ladder: Iterable[Change]) -> tuple[Change, ...]:
    """Each change of a ladder, together with the last of others."""
    fixed = tuple(first)
    return tuple(fixed[-1].also(change) for change in ladder) if fixed else ()


def _pulled(place: Change, ladder: Sequence[Change], at: Subject) -> tuple[Change, ...]:
    """A place with focus pulled from there by the same shares as a ladder pulls it from here."""
    sharp = place.focus_m or at.placed.focus_m
    shares = [change.focus_m / at.placed.focus_m for change in ladder if change.focus_m]
    return tuple(place.also(Change(("focus",), focus_m=round(sharp * share, 2))) for share in shares)


@dataclass(eq=False)
class _Search:
    """Tries spent, and the best found."""

    at: Subject
    trial: Trial
    before: Verdict
    on_try: Callable[[int, int], None]
    tries: int = 0
    whole: int = 0
    tried: list[Tried] = field(default_factory=list)
    found: list[tuple[tuple[int, int], int, Change, Verdict]] = field(default_factory=list)
    _seen: dict[int, Verdict | None] = field(default_factory=dict)
    _best: dict[str, tuple[tuple[int, int], Change]] = field(default_factory=dict)
    _kept: list[Change] = field(default_factory=list)

    @property
    def clear(self) -> bool:
        """Whether a change was found with which nothing speaks up."""
        return any(verdict.clean for *_, verdict in self.found)

    @property
    def exhausted(self) -> bool:
        return self.tries >= MOST_TRIES

    def worst_frames(self) -> tuple[int, ...]:
        """Frames where it is worst as it is: a try has to be clean there first."""
        findings = [one for _, one in (*self.before.faults, *self.before.compromises)]
        frames = dict.fromkeys(
            int(one.measures["worst_frame"] or 0) for one in findings if "worst_frame" in one.measures
        )
        inside = [frame for frame in frames if frame in self.trial.frames]
        return tuple(sorted(inside[:WORST_FRAMES])) or self.trial.frames[:1]

    def ladders(self, what: str, ladders: Sequence[Sequence[Change]], unless_clear: bool = False) -> None:
        """Try ladders, the smallest step that helps of each; larger steps are taken to help too."""
        if unless_clear and self.clear:
            return
        before = self.tries
        for steps in ladders:
            ladder = [one for one in steps if self.at.blur_photosites(one) <= SOFT_PHOTOSITES]
            place = self._lowest(what, ladder) if ladder else None
            if place is not None and any(self._whole(one) for one in ladder[place : place + 3]):
                break
        self._note(what, before)

    def each(self, what: str, changes: Sequence[Change]) -> None:
        """Try changes one after the other until one helps."""
        before = self.tries
        for change in changes:
            if self.exhausted or (self._first(what, change) and self._whole(change)):
                break
        self._note(what, before)

    def best_first(self, changes: Sequence[Change]) -> list[Change]:
        """Changes that were tried, those that left least to say first, else in their own order."""
        seen = [(self._seen[id(one)], one) for one in changes if id(one) in self._seen]
        known = [(verdict.order, one) for verdict, one in seen if verdict is not None]
        return [one for _, one in sorted(known, key=lambda item: item[0])]

    def best_of(self, what: str) -> Change | None:
        """The change of a kind that left least to say; None without any."""
        return self._best[what][1] if what in self._best else None

    def answer(self, outcome: Outcome | None = None) -> Suggestion:
        """The best that was found."""
        rest = (tuple(self.tried), self.trial.synthetic, self.exhausted)
        none = (self.before, None, None, self.at.show)
        if outcome == "needless":
            return Suggestion(self.at, outcome, *none, *rest)
        if not self.clear:
            self._look_at_the_best()
        better = [one for one in self.found if one[0] < self.before.order and one[0][0] == 0]
        if not better:
            return Suggestion(self.at, "nothing helps", *none, *rest)
        _, _, change, verdict = min(better, key=lambda one: one[:2])
        show = self.at.changed(change, self.at.show)
        told: Outcome = "clear" if verdict.clean else "no faults"
        return Suggestion(self.at, told, self.before, verdict, change, show, *rest)

    def _look_at_the_best(self) -> None:
        """With nothing clean: the kinds of change that left least, at all frames, fewest levers first."""
        ranked = sorted(self._best.values(), key=lambda one: (one[0], len(one[1].levers)))
        for order, change in ranked[:2]:
            if order < self.before.order:
                self._whole(change)

    def _note(self, what: str, before: int) -> None:
        if self.tries == before:
            return
        leaves: tuple[str, ...] = self.before.checks()
        best = self.best_of(what)
        if best is not None and (verdict := self._seen.get(id(best))) is not None:
            leaves = verdict.checks()
        self.tried.append(Tried(what, self.tries - before, leaves))

    def _lowest(self, what: str, ladder: Sequence[Change]) -> int | None:
        high = next((p for p in (len(ladder) - 1, len(ladder) // 2) if self._first(what, ladder[p])), None)
        if high is None:
            return None
        low = 0
        while low < high and not self.exhausted:
            middle = (low + high) // 2
            low, high = (low, middle) if self._first(what, ladder[middle]) else (middle + 1, high)
        return high

    def _first(self, what: str, change: Change) -> bool:
        """Whether nothing speaks up at the worst frames."""
        if id(change) not in self._seen:
            if self.exhausted:
                return False
            self.tries += 1
            self.on_try(self.tries, MOST_TRIES)
            self._kept.append(change)
            verdict = self.trial.judge(self.at.changed(change, self.trial.plan.show), self.worst_frames())
            self._seen[id(change)] = verdict
            if verdict is not None and verdict.order < self._best.get(what, ((10**9, 0), change))[0]:
                self._best[what] = (verdict.order, change)
        verdict = self._seen[id(change)]
        return verdict is not None and verdict.clean

    def _whole(self, change: Change) -> bool:
        """Whether nothing speaks up at any frame; kept either way."""
        if self.whole >= MOST_WHOLE:
            return False
        self.whole += 1
        verdict = self.trial.judge(self.at.changed(change, self.trial.plan.show))
        if verdict is None:
            return False
        self.found.append((verdict.order, len(self.found), change, verdict))
        return verdict.clean
