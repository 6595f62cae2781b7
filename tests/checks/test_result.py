"""The table that every check hands back."""

from __future__ import annotations

import csv
import io
import json

import pytest

from preview.checks.result import COLUMNS, CheckResult, Finding, runs, table_csv


def finding(grade="fine", **measures):
    return Finding(
        grade, "Welcome", ("CAM1", "CAM2"), (3, 5), ("10:00:00:03", "10:00:00:05"),
        'Says "so", in\ntwo lines.', "do this", measures,
    )  # fmt: skip


def test_the_worst_grade_counts():
    assert CheckResult("c", "q", ()).grade == "fine"
    assert CheckResult("c", "q", (finding(), finding("compromise"))).grade == "compromise"
    result = CheckResult("c", "q", (finding("fault"), finding("compromise"), finding()))
    assert result.grade == "fault"
    assert result.faults == (result.findings[0],)


def test_csv_reads_back_as_written():
    """RFC 4180: every row has the header's cells, quotes and line breaks inside cells survive."""
    results = (
        CheckResult("first", "q", (finding(wrong_frames=2, edge="left"),)),
        CheckResult("second", "q", (finding(share_percent=1.5), finding(share_percent=None))),
    )
    text = table_csv(results)
    rows = list(csv.DictReader(io.StringIO(text, newline="")))
    assert list(rows[0]) == [*COLUMNS, "wrong_frames", "edge", "share_percent"]
    assert [row["check"] for row in rows] == ["first", "second", "second"]
    assert rows[0]["sentence"] == 'Says "so", in\ntwo lines.'
    assert (rows[0]["wrong_frames"], rows[0]["share_percent"]) == ("2", "")
    assert (rows[1]["share_percent"], rows[2]["share_percent"]) == ("1.5", "")
    assert text.endswith("\r\n")


def test_data_is_json():
    data = CheckResult("first", "q", (finding(wrong_frames=2, needed=None),), ("takes for granted",)).data()
    assert json.loads(json.dumps(data, allow_nan=False)) == data
    assert data["findings"][0]["measures"] == {"wrong_frames": 2, "needed": None}


@pytest.mark.parametrize(
    "change, words",
    [
        ({"grade": "bad"}, "grade 'bad'"),
        ({"frames": (5, 3)}, r"frames \(5, 3\)"),
        ({"frames": (-1, 3)}, "frames"),
        ({"measures": {"check": 1}}, "name of a column"),
        ({"measures": {"share": float("inf")}}, "share is inf"),
        ({"measures": {"share": [1]}}, r"share is \[1\]"),
    ],
)
def test_a_finding_that_tables_cannot_hold_is_refused(change, words):
    from dataclasses import replace

    with pytest.raises(ValueError, match=words):
        replace(finding(), **change)


def test_runs():
    assert runs([]) == []
    assert runs([1, 2, 3, 7, 9, 10]) == [(1, 3), (7, 7), (9, 10)]
