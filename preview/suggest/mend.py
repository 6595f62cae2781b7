"""A remedy for one finding: shows with one thing changed, checked again until one is clean.

The same check looks at the changed show: at the finding's worst frame first, then at frames spread over the
whole finding. What a remedy does to other checks is not looked at here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from preview.checks.look import Look, Plan
from preview.checks.registry import Check, Lever
from preview.checks.result import Finding, count
from preview.errors import ShowError
from preview.show.load import Show
from preview.stage.build import Stage, stage_ambient, stage_lights
from preview.suggest.levers import ladders
from preview.suggest.situation import SETTLED_FRAMES, Ladder, Situation, Try
from preview.timeline.timeline import Timeline

MOST_TRIES = 40
"""Changed shows tried for one finding."""
MOST_LOOKS = 120
"""Frames looked at for one finding: a few seconds."""
STEPS_UP = 3
"""Steps a ladder is climbed further when what mends the worst frame does not mend the others."""


@dataclass(frozen=True, eq=False)
class Mended:
    """A change that leaves nothing for the check to say of the finding's frames.

    Attributes
    ----------
    lever, words, key, cost : as of ``preview.suggest.situation.Try``
    show : the changed show
    frames : frames in which the check found nothing any more, worst first
    tries : changed shows tried until then
    failed : levers tried before, in vain
    """

    lever: Lever
    words: str
    key: str
    cost: str
    show: Show
    frames: tuple[int, ...]
    tries: int
    failed: tuple[Lever, ...] = ()

    @property
    def sentence(self) -> str:
        """What to change, what it costs and what was tried, for a table."""
        cost = f"; {self.cost}" if self.cost else ""
        return (
            f"{self.words} ({self.key}){cost} (tried: clean in {count(len(self.frames), 'frame')} looked at)"
        )


@dataclass(frozen=True, eq=False)
class Attempt:
    """What came of trying to mend a finding.

    Attributes
    ----------
    mended : the remedy, None when nothing tried was clean
    levers : levers tried
    tries, looks : changed shows tried, and frames looked at
    exhausted : whether MOST_TRIES or MOST_LOOKS ended it
    """

    mended: Mended | None
    levers: tuple[Lever, ...]
    tries: int
    looks: int
    exhausted: bool

    @property
    def sentence(self) -> str:
        """For a table; "" when there was nothing to try."""
        if self.mended is not None:
            return self.mended.sentence
        if not self.tries:
            return ""
        tried = f"{', '.join(self.levers)}; {count(self.tries, 'changed show')}"
        more = ", not all that there are" if self.exhausted else ""
        return f"nothing tried alone takes it away ({tried}{more})"


def mend(plan: Plan, check: type[Check], finding: Finding) -> Mended | None:
    """The first change, by the check's levers in order, with which the finding is gone; None without one.

    Parameters
    ----------
    plan : the show as it was checked; its sight raster is used again
    check : the check that made the finding
    finding : fault or compromise; None comes back for a fine one and for checks that draw
    """
    return attempt(plan, check, finding).mended


def attempt(plan: Plan, check: type[Check], finding: Finding) -> Attempt:
    """As ``mend``, with what was tried in vain."""
    trial = _Trial(plan, check, Situation(plan, finding))
    if finding.grade == "fine" or check.draws or "worst_frame" not in finding.measures:
        return Attempt(None, (), 0, 0, False)
    done: list[Lever] = []
    for lever in check.levers:
        offered = ladders(lever, trial.at)
        if not offered:
            continue
        found = trial.first_clean(offered)
        if found is not None:
            one, frames = found
            mended = Mended(
                one.lever, one.words, one.key, one.cost, one.show, frames, trial.tries, tuple(done)
            )
            return Attempt(mended, (*done, lever), trial.tries, trial.looks, False)
        done.append(lever)
        if trial.exhausted:
            break
    return Attempt(None, tuple(done), trial.tries, trial.looks, trial.exhausted)


@dataclass(eq=False)
class _Trial:
    """Tries and looks spent on one finding."""

    plan: Plan
    check: type[Check]
    at: Situation
    tries: int = 0
    looks: int = 0
    _known: dict[int, bool] = field(default_factory=dict)

    @property
    def exhausted(self) -> bool:
        return self.tries >= MOST_TRIES or self.looks >= MOST_LOOKS

    def first_clean(self, offered: Sequence[Ladder]) -> tuple[Try, tuple[int, ...]] | None:
        """The smallest try that is clean in all the finding's frames, of all ladders of one lever."""
        promising: list[tuple[float, int, int, Ladder]] = []
        for ladder in offered:
            place = self._lowest(ladder)
            if place is not None:
                promising.append((ladder[place].size, len(promising), place, ladder))
            if self.exhausted:
                break
        for _, _, place, ladder in sorted(promising, key=lambda one: one[:2]):
            for one in ladder[place : place + STEPS_UP + 1]:
                if self.looks >= MOST_LOOKS:
                    return None
                frames = self.frames(one)
                if self._clean(one, frames):
                    return one, frames
        return None

    def _lowest(self, ladder: Ladder) -> int | None:
        """The lowest step that mends the worst frame, found by halving below one that does."""
        high = next((p for p in (len(ladder) - 1, len(ladder) // 2) if self._mends_worst(ladder[p])), None)
        if high is None:
            return None
        low = 0
        while low < high and not self.exhausted:
            middle = (low + high) // 2
            low, high = (low, middle) if self._mends_worst(ladder[middle]) else (middle + 1, high)
        return high

    def _mends_worst(self, one: Try) -> bool:
        if id(one) not in self._known:
            if self.exhausted:
                return False
            self.tries += 1
            self._known[id(one)] = self._clean(one, self.frames(one)[:1])
        return self._known[id(one)]

    def frames(self, one: Try) -> tuple[int, ...]:
        """Frames to be clean: the finding's, and after a change of delay those that follow."""
        frames = self.at.frames
        if one.lever != "picture delay":
            return frames
        last = max(frames)
        end = min(self.plan.timeline.frame_count, last + 1 + SETTLED_FRAMES)
        return (*frames, *range(last + 1, end))

    def _clean(self, one: Try, frames: Sequence[int]) -> bool:
        try:
            plan = changed_plan(self.plan, one.show, tuple(sorted(frames)))
        except ShowError:  # a framing that cannot be placed so is no remedy
            return False
        check = self.check(plan)
        for frame in plan.frames:
            check.see(Look(plan, frame))
        self.looks += len(plan.frames)
        return not any(self._same(found) for found in check.result().findings)

    def _same(self, found: Finding) -> bool:
        """Whether a finding on a changed show is of the same cameras and LED surface."""
        mine = self.at.finding
        if found.grade == "fine" or found.measures.get("surface") != mine.measures.get("surface"):
            return False
        return bool(set(found.cameras) & set(mine.cameras))


def changed_plan(plan: Plan, show: Show, frames: tuple[int, ...]) -> Plan:
    """A plan of a changed show that draws with the same sight raster: surfaces, set and people must be the
    same.

    Raises
    ------
    ShowError : the changed show has framings that cannot be placed.
    ValueError : surfaces, set or people are changed.
    """
    return replace(
        plan, show=show, timeline=Timeline(show), stage=_stage(plan, show), frames=frames, every=1, _kept={}
    )


def _stage(plan: Plan, show: Show) -> Stage:
    """The stage with another light and white; everything solid stays."""
    before, after = plan.show.file.stage, show.file.stage
    if after is before:
        return plan.stage
    if (after.surfaces, after.set, after.people) != (before.surfaces, before.set, before.people):
        raise ValueError("surfaces, set or people are changed: open another plan")
    white = after.white_cd_m2
    if white is None:
        white = min(surface.peak_luminance_cd_m2 for surface in plan.stage.surfaces)
    return replace(
        plan.stage,
        set=replace(plan.stage.set, lights=stage_lights(after.light), sky=stage_ambient(after.light)),
        white_cd_m2=white,
        headroom=tuple(surface.peak_luminance_cd_m2 / white for surface in plan.stage.surfaces),
    )
