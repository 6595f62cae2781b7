"""What the checks found, as data for files and in sentences."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Mapping, Sequence
from typing import IO, Any

from preview.checks.look import Plan
from preview.checks.registry import Check
from preview.checks.result import CheckResult, Grade, Value, count, span
from preview.show.load import Show
from preview.timeline.timeline import Timeline

CAUTION = (
    "This is a planning aid: it tells what the show file describes. It replaces no rehearsal, no risk "
    "assessment and no licensed judgement; local codes come first."
)
"""Said below every report."""
LIMITS_NOTE = "From where on a check speaks up is set in the show file's [checks] table."


def show_data(show: Show, timeline: Timeline) -> dict[str, Any]:
    """The show, its cameras and its running order, as JSON takes them."""
    return {
        "title": show.file.show.title,
        "path": str(show.path),
        "sha256": show.sha256,
        "frame_rate": str(timeline.rate),
        "frames": timeline.frame_count,
        "first_timecode": timeline.timecode(0),
        "last_timecode": timeline.timecode(timeline.frame_count - 1),
        "drive": show.file.drive.mode,
        "cameras": [{"name": c.name, "number": c.number} for c in show.file.cameras],
        "shots": [
            {
                "number": shot.index + 1,
                "name": shot.name,
                "on_air": shot.on_air,
                "first_frame": shot.start_frame,
                "last_frame": shot.end_frame - 1,
                "first_timecode": timeline.timecode(shot.start_frame),
            }
            for shot in timeline.shots
        ],
    }


def looked_data(plan: Plan, checks: Sequence[type[Check]]) -> dict[str, Any]:
    """Which frames were looked at, on which grid, as JSON takes it.

    Parameters
    ----------
    checks : those that looked
    """
    first, last = plan.frames[0], plan.frames[-1]
    patient = [check.name for check in checks if check.every_frame]
    return {
        "first_frame": first,
        "last_frame": last,
        "first_timecode": plan.timeline.timecode(first),
        "last_timecode": plan.timeline.timecode(last),
        "frames_in_range": last - first + 1,
        "frames": len(plan.frames),
        "every": plan.every,
        "saw_every_frame": patient if plan.every > 1 else [check.name for check in checks],
        "sight_grid": list(plan.sights.size_px),
    }


def check_data(check: Check, result: CheckResult) -> dict[str, Any]:
    """One check's result with its caution and the thresholds it went by, as JSON takes it."""
    return {**result.data(), "caution": check.caution, "thresholds": thresholds_of(check)}


def thresholds_of(check: Check) -> dict[str, Any]:
    """The check's own table of the show file's [checks]; empty for a check without one."""
    table = getattr(check.plan.thresholds, check.name.replace("-", "_"), None)
    return {} if table is None else dict(table.model_dump(mode="json"))


def left_out(
    known: Sequence[type[Check]], asked: Sequence[type[Check]], pictures: bool
) -> list[dict[str, str]]:
    """Checks that did not look, each with why."""
    told = []
    for check in known:
        if check not in asked:
            told.append({"check": check.name, "question": check.question, "why": "not asked for"})
        elif check.draws and not pictures:
            why = "it needs pictures, and none were to be drawn (--no-pictures)"
            told.append({"check": check.name, "question": check.question, "why": why})
    return told


def verdict(results: Sequence[CheckResult], looked: Mapping[str, Any], seconds: float) -> str:
    """The whole report in one sentence: how many findings, in how many checks, over which frames.

    Parameters
    ----------
    looked : of ``looked_data``
    """
    grades = [finding.grade for result in results for finding in result.findings]
    total, seen = looked["frames_in_range"], looked["frames"]
    frames = f"{count(total, 'frame')}, every frame looked at"
    if seen < total:
        step = f"1 in {looked['every']}, and both sides of every cut"
        frames = f"{seen} of {count(total, 'frame')} looked at ({step})"
    found = f"{_number(grades, 'fault')}, {_number(grades, 'compromise')} in {count(len(results), 'check')}"
    return f"{found}; {frames} in {seconds:.0f} s"


def _number(grades: Sequence[Grade], grade: Grade) -> str:
    number = grades.count(grade)
    return count(number, grade) if number else f"no {grade}s"


def summary(result: CheckResult) -> str:
    """How many faults and compromises a check found, in a few words."""
    return grades_told([finding.grade for finding in result.findings])


def grades_told(grades: Sequence[str]) -> str:
    """The same of its findings' grades."""
    told = [count(grades.count(grade), grade) for grade in ("fault", "compromise") if grade in grades]
    return ", ".join(told) or "looked at and right"


def place(cameras: Sequence[str], shot: str, timecodes: tuple[str, str]) -> str:
    """Cameras, shot and stretch of a finding on one line."""
    return "  ·  ".join((", ".join(cameras), shot, span(*timecodes)))


def write_rows(rows: Iterable[Mapping[str, Value]], text: IO[str]) -> None:
    """Rows of equal columns as CSV; lines end in CR LF. No more than one row is held at a time.

    Parameters
    ----------
    text : opened with ``newline=""``

    Raises
    ------
    ValueError : a row has a column that the first has not.

    Source: RFC 4180, "Common Format and MIME Type for CSV Files", section 2 (quoting, line ends).
    """
    writer = None
    for row in rows:
        if writer is None:
            writer = csv.DictWriter(text, list(row))
            writer.writeheader()
        writer.writerow(row)
