"""A report on checks becomes warnings; one of another show is refused."""

from __future__ import annotations

import copy
import json

import pytest

from preview.checks.clearance import Clearance
from preview.errors import RequestError
from preview.report.run import Asked, report_checks
from preview.sheets.findings import checked_words, read_checks, warnings_of
from tests.sheets.shows import build, shot
from tests.starter_show import starter_show


def finding(grade, shot_name, cameras, worst, sentence, remedy="", **measures):
    return {
        "grade": grade, "shot": shot_name, "cameras": cameras, "frames": [worst, worst], "sentence": sentence,
        "timecodes": ["10:00:00:00"] * 2, "remedy": remedy, "measures": {"worst_frame": worst, **measures},
    }  # fmt: skip


def report():
    return {
        "show": {
            "title": "T", "sha256": "0" * 64, "cameras": [{"name": "left"}, {"name": "hand"}],
            "shots": [
                {"number": 1, "name": "Same", "first_frame": 0, "last_frame": 49},
                {"number": 2, "name": "Same", "first_frame": 50, "last_frame": 99},
            ],
        },
        "looked_at": {"frames": 10, "frames_in_range": 100, "first_timecode": "10:00:00:00",
                      "last_timecode": "10:00:03:24"},
        "not_looked_at": [{"check": "flashing", "question": "", "why": ""}],
        "checks": [
            {"check": "bleed", "findings": [finding("compromise", "", ["left", "hand"], 5, "Seen.", "Do.")]},
            {"check": "crossing", "findings": [
                finding("fault", "Same", ["left"], 60, "In it.", "Move it.", whose="hand"),
                finding("fine", "Same", ["left"], 3, "Nothing."),
            ]},
        ],
    }  # fmt: skip


def test_findings_become_warnings_of_those_they_concern():
    found = [(one.camera, one.shot, one.grade, one.sentence, one.check) for one in warnings_of(report())]
    assert found == [
        ("left", 0, "compromise", "Seen.", "bleed"),
        ("left", 2, "fault", "In it. Remedy: Move it.", "crossing"),
        ("hand", 2, "fault", "In it. Remedy: Move it.", "crossing"),
    ]


def test_what_was_looked_at_is_said_and_what_was_not():
    words = checked_words(report())
    assert "10 of 100 frames" in words and "not looked at: flashing" in words
    whole = report()
    whole["looked_at"]["frames"] = 100
    assert "every frame" in checked_words(whole)


@pytest.mark.parametrize(
    "path", [("show", "shots"), ("show", "cameras"), ("checks",), ("checks", 0, "findings", 0, "grade")]
)
def test_data_of_another_shape_is_refused(path):
    data = copy.deepcopy(report())
    at = data
    for key in path[:-1]:
        at = at[key]
    at[path[-1]] = "nonsense"
    with pytest.raises(ValueError, match="not the data of a report on checks"):
        warnings_of(data)


def test_a_real_report_is_understood_and_one_of_another_show_refused(tmp_path):
    show = starter_show()
    asked = Asked("clearance", (Clearance,), (Clearance,), (0, 20), pictures=False)
    report_checks(show, tmp_path, asked)
    (path,) = [one for one in tmp_path.glob("*.json") if one.name != "manifest.json"]
    warnings, words = read_checks(path, show)
    assert isinstance(warnings, tuple) and "every frame from" in words
    data = json.loads(path.read_text(encoding="utf-8"))
    for title, said in ((data["show"]["title"], "an earlier or later version"), ("Other", "another show")):
        data["show"] |= {"sha256": "f" * 64, "title": title}
        path.write_text(json.dumps(data), encoding="utf-8")
        with pytest.raises(RequestError, match=said):
            read_checks(path, show)


def test_a_file_that_is_none(tmp_path):
    show = build([shot("A", "Crane", 50)])
    with pytest.raises(RequestError, match=r"--checks: .*cannot be read.*preview check"):
        read_checks(tmp_path / "none.json", show)
    for text in ("{", "[]", '{"format": 1}', "\udcff".encode("utf-8", "surrogateescape")):
        path = tmp_path / "some.json"
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        with pytest.raises(RequestError, match="is no report of preview check"):
            read_checks(path, show)
