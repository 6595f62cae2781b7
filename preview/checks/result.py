"""What every check hands back: findings in one table, each with when, who, how bad, numbers and remedy.

A check is a function that returns a ``CheckResult``. It decides; it neither prints nor writes.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from math import isfinite
from typing import Any, Literal, get_args

Grade = Literal["fault", "compromise", "fine"]
"""fault: would be seen and can be put right; compromise: is seen, and this set-up cannot avoid it;
fine: looked at and right."""

Value = str | int | float | bool | None
"""A measured value; None where it has no number (nothing reaches far enough, nothing was drawn)."""

COLUMNS = (
    "check", "grade", "shot", "cameras", "first_frame", "last_frame", "first_timecode", "last_timecode",
    "sentence", "remedy",
)  # fmt: skip
"""Columns of every table, in order; each check's own measures follow."""


@dataclass(frozen=True)
class Finding:
    """One thing that a check has to say.

    Attributes
    ----------
    grade : how bad it is
    shot : name of the shot it belongs to, "" for the whole rundown
    cameras : names of the cameras concerned
    frames : first and last frame (both included) of the rundown
    timecodes : their labels
    sentence : what is seen, in words a director understands
    remedy : what to change, or ""
    measures : numbers behind the sentence, by names that carry their unit (``wrong_frames``)

    Raises
    ------
    ValueError : an unknown grade, frames in the wrong order, or a measure that JSON cannot hold.
    """

    grade: Grade
    shot: str
    cameras: tuple[str, ...]
    frames: tuple[int, int]
    timecodes: tuple[str, str]
    sentence: str
    remedy: str = ""
    measures: Mapping[str, Value] = field(default_factory=dict, hash=False)

    def __post_init__(self) -> None:
        if self.grade not in get_args(Grade):
            raise ValueError(f"grade {self.grade!r} is none of {', '.join(get_args(Grade))}")
        if not 0 <= self.frames[0] <= self.frames[1]:
            raise ValueError(f"frames {self.frames} are not a first and a last frame")
        for name, value in self.measures.items():
            if name in COLUMNS:
                raise ValueError(f"measure {name!r} has the name of a column")
            if not isinstance(value, Value) or (isinstance(value, float) and not isfinite(value)):
                raise ValueError(f"measure {name} is {value!r}; a number, a text, True, False or None")


@dataclass(frozen=True)
class CheckResult:
    """All findings of one check over one stretch of a rundown.

    Attributes
    ----------
    check : the check's name, as users write it
    question : what it answers, one sentence
    findings : in running order
    assumptions : what it takes for granted: thresholds with unit and source, what it leaves out
    """

    check: str
    question: str
    findings: tuple[Finding, ...]
    assumptions: tuple[str, ...] = ()

    @property
    def grade(self) -> Grade:
        """The worst grade among the findings; "fine" when there are none."""
        found = {finding.grade for finding in self.findings}
        return next((grade for grade in get_args(Grade) if grade in found), "fine")

    @property
    def faults(self) -> tuple[Finding, ...]:
        return tuple(finding for finding in self.findings if finding.grade == "fault")

    def rows(self) -> list[dict[str, Value]]:
        """One flat row a finding: COLUMNS first, then its measures."""
        return [
            {
                "check": self.check,
                "grade": finding.grade,
                "shot": finding.shot,
                "cameras": " ".join(finding.cameras),
                "first_frame": finding.frames[0],
                "last_frame": finding.frames[1],
                "first_timecode": finding.timecodes[0],
                "last_timecode": finding.timecodes[1],
                "sentence": finding.sentence,
                "remedy": finding.remedy,
                **finding.measures,
            }
            for finding in self.findings
        ]

    def data(self) -> dict[str, Any]:
        """The same as plain data for JSON, nothing flattened."""
        return {
            "check": self.check,
            "question": self.question,
            "grade": self.grade,
            "findings": [
                {
                    "grade": finding.grade,
                    "shot": finding.shot,
                    "cameras": list(finding.cameras),
                    "frames": list(finding.frames),
                    "timecodes": list(finding.timecodes),
                    "sentence": finding.sentence,
                    "remedy": finding.remedy,
                    "measures": dict(finding.measures),
                }
                for finding in self.findings
            ],
            "assumptions": list(self.assumptions),
        }


def table_csv(results: Iterable[CheckResult]) -> str:
    """Findings of several checks as one CSV text: COLUMNS, then every measure in order of appearance.

    A measure that a row does not have is left empty. Lines end in CR LF.

    Source: RFC 4180, "Common Format and MIME Type for CSV Files", section 2 (quoting, line ends).
    """
    rows = [row for result in results for row in result.rows()]
    names = [*COLUMNS, *dict.fromkeys(name for row in rows for name in row if name not in COLUMNS)]
    text = io.StringIO(newline="")
    writer = csv.DictWriter(text, names, restval="")
    writer.writeheader()
    writer.writerows(rows)
    return text.getvalue()


def runs(frames: Sequence[int]) -> list[tuple[int, int]]:
    """First and last of each run of consecutive frames in a rising sequence.

    >>> runs([3, 4, 5, 9])
    [(3, 5), (9, 9)]
    """
    found: list[tuple[int, int]] = []
    for frame in frames:
        if found and frame == found[-1][1] + 1:
            found[-1] = (found[-1][0], frame)
        else:
            found.append((frame, frame))
    return found


def capital(text: str) -> str:
    """Text as it begins a sentence."""
    return text[:1].upper() + text[1:]


def count(number: int, what: str) -> str:
    """A number and its noun, for sentences.

    >>> count(1, "frame"), count(2, "frame")
    ('1 frame', '2 frames')
    """
    return f"{number} {what}" if number == 1 else f"{number} {what}s"


def span(first: str, last: str) -> str:
    """Two timecodes as a sentence says them: one when they are the same."""
    return first if first == last else f"{first} to {last}"
