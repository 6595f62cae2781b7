"""Remedies that were tried on a changed show; a check's own advice stands where nothing tried helps."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from typing import Any

from preview.checks.look import Plan
from preview.checks.registry import Check
from preview.checks.result import CheckResult, Finding
from preview.errors import PreviewError
from preview.suggest.mend import Attempt

COMPROMISES_TRIED = 12
"""Trying costs seconds a finding: all faults are tried, and the first compromises in running order."""

Mender = Callable[[Plan, type[Check], Finding], Attempt]
"""Tries what may mend a finding: ``preview.suggest.mend.attempt``."""


@dataclass(frozen=True)
class Tried:
    """What came of trying to mend one finding.

    Attributes
    ----------
    check, first_timecode, cameras : the finding's
    cleared : whether a change was found with which the check has nothing more to say
    lever, key, cost : what is changed, where it is written in the show file, and what it costs; "" for none
    levers : what was turned
    changed_shows, frames : shows tried, and frames looked at
    """

    check: str
    first_timecode: str
    cameras: tuple[str, ...]
    cleared: bool
    lever: str
    key: str
    cost: str
    levers: tuple[str, ...]
    changed_shows: int
    frames: int

    def data(self) -> dict[str, Any]:
        """The same as JSON takes it."""
        return {**asdict(self), "cameras": list(self.cameras), "levers": list(self.levers)}


def wants_remedy(results: Sequence[CheckResult], checks: Mapping[str, type[Check]]) -> list[tuple[int, int]]:
    """Places (result, finding) of the findings to try remedies for: faults first.

    Compromises with advice of their own, and checks that know nothing to turn, are left out.
    """
    places = [
        (number, place)
        for number, result in enumerate(results)
        for place, finding in enumerate(result.findings)
        if (finding.grade == "fault" or (finding.grade == "compromise" and not finding.remedy))
        and checks[result.check].levers
    ]
    graded = {
        grade: [at for at in places if results[at[0]].findings[at[1]].grade == grade]
        for grade in ("fault", "compromise")
    }
    first = sorted(graded["compromise"], key=lambda at: results[at[0]].findings[at[1]].frames)
    return graded["fault"] + first[:COMPROMISES_TRIED]


def with_remedies(
    plan: Plan,
    results: Sequence[CheckResult],
    checks: Mapping[str, type[Check]],
    mend: Mender,
    on_step: Callable[[int, int], None] = lambda done, total: None,
) -> tuple[list[CheckResult], list[Tried]]:
    """The results with a remedy in every finding that something could be tried for, and what was tried.

    Where nothing helps, that stands in the remedy's place.

    Parameters
    ----------
    checks : by name
    on_step : told findings done and findings to do
    """
    findings = [list(result.findings) for result in results]
    wanted, told = wants_remedy(results, checks), []
    on_step(0, len(wanted))
    for done, (number, place) in enumerate(wanted, start=1):
        finding, check = findings[number][place], checks[results[number].check]
        try:
            attempt = mend(plan, check, finding)
        except PreviewError as error:
            error.add_note(f"while trying remedies for {check.name} at {finding.timecodes[0]}")
            raise
        if attempt.sentence:
            words = attempt.sentence
            if not attempt.mended:
                own = finding.remedy.rstrip(".")
                words = f"{own}; {words}" if own else f"none; {words}"
            findings[number][place] = replace(finding, remedy=words)
            told.append(_tried(finding, check, attempt))
        on_step(done, len(wanted))
    mended = [replace(result, findings=tuple(own)) for result, own in zip(results, findings, strict=True)]
    return mended, told


def _tried(finding: Finding, check: type[Check], attempt: Attempt) -> Tried:
    found = attempt.mended
    return Tried(
        check=check.name,
        first_timecode=finding.timecodes[0],
        cameras=finding.cameras,
        cleared=found is not None,
        lever=found.lever if found else "",
        key=found.key if found else "",
        cost=found.cost if found else "",
        levers=tuple(attempt.levers),
        changed_shows=attempt.tries,
        frames=attempt.looks,
    )
