"""Each check finds the one fault planted for it, and the clean show has no finding at all."""

from __future__ import annotations

from functools import cache

import pytest

from preview.checks.registry import all_checks
from preview.checks.result import CheckResult
from preview.checks.walk import open_plan, walk
from preview.frame import Studio
from preview.show.load import Show
from tests.checks.planted import FAULTS, Planted, show_of


def results_of(show: Show, *names: str) -> dict[str, CheckResult]:
    with open_plan(show) as plan:
        checks = [check(plan) for check in all_checks() if not names or check.name in names]
        if any(check.draws for check in checks):
            with Studio(show, (192, 108)) as studio:
                walk(plan, checks, studio)
        else:
            walk(plan, checks)
        return {check.name: check.result() for check in checks}


@cache
def clean() -> dict[str, CheckResult]:
    return results_of(show_of())


def test_every_check_has_its_planted_fault():
    assert {fault.check for fault in FAULTS} == {check.name for check in all_checks()}


@pytest.mark.parametrize("name", [check.name for check in all_checks()])
def test_the_clean_show_has_no_finding(name):
    found = [f.sentence for f in clean()[name].findings if f.grade != "fine"]
    assert found == []


@pytest.mark.parametrize("name", [check.name for check in all_checks() if check.name != "edge-lines"])
def test_the_clean_show_says_what_was_looked_at(name):
    """Edge lines exist on a shared wall only."""
    assert [f.grade for f in clean()[name].findings if f.grade == "fine"]


@pytest.mark.parametrize("planted", FAULTS, ids=lambda fault: fault.check)
def test_a_planted_fault_is_found(planted: Planted):
    result = results_of(planted.show(), planted.check)[planted.check]
    found = [finding for finding in result.findings if finding.grade != "fine"]
    assert found, "nothing was found"
    assert {finding.grade for finding in found} & set(planted.grades)
    told = [f for f in found if planted.camera in ("", *f.cameras) and planted.shot in ("", f.shot)]
    assert told, [(f.shot, f.cameras, f.sentence) for f in found]
    worst = told[0].measures
    assert isinstance(worst["worst_frame"], int) and worst["worst_timecode"] and "where" in worst
