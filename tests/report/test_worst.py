"""Which findings get stills: faults first, then what covers most, one a camera and shot."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from preview.checks.registry import Mark
from preview.checks.result import CheckResult
from preview.report.worst import STILLS_A_CHECK, drawn_order, shown_findings, tally_words, worst_frame
from preview.timeline.timeline import Timeline
from tests.checks.shows import whip_show
from tests.report.checks import finding

PLAN = SimpleNamespace(timeline=Timeline(whip_show()), show=whip_show())


class Marked:
    """Outlines, in the picture of a finding's first camera, as many rows as its measures say."""

    name = "marked"

    def marks(self, look, finding):
        mask = np.zeros((100, 10), dtype=bool)
        mask[: finding.measures.get("rows", 0)] = True
        return tuple(Mark(name, mask, "") for name in finding.measures.get("seen_by", "CAM2").split())


def shown(*findings):
    return shown_findings(PLAN, Marked(), CheckResult("marked", "?", findings), None)


def one(grade, first, rows, shot="Wide", camera="CAM2", last=None, **measures):
    return finding(PLAN, grade, first, last or first, (camera,), shot, rows=rows, **measures)


def test_faults_first_then_the_largest():
    told = shown(
        one("compromise", 1, 90), one("fault", 2, 10, "Whip pan"), one("fine", 3, 99, "Wide again"),
        one("fault", 4, 30, "Wide again"), one("compromise", 5, 50, "Whip pan", "CAM1"),
    )  # fmt: skip
    assert [(one.number, one.frame) for one in told] == [(1, 4), (2, 2), (3, 1)]
    assert len(told) == STILLS_A_CHECK
    assert [one.frame for one in drawn_order(told)] == [1, 2, 4]


def test_one_for_each_camera_and_shot():
    told = shown(one("fault", 1, 10), one("fault", 5, 40, last=9), one("fault", 12, 20, camera="CAM1"))
    assert {(one.frame) for one in told} == {5, 12}


def test_the_worst_frame_is_the_checks_own():
    assert worst_frame(one("fault", 3, 1, last=9, worst_frame=7)) == 7
    plain = one("fault", 3, 1, last=9)
    assert worst_frame(SimpleNamespace(measures={}, frames=plain.frames)) == 3


def test_without_marks_who_is_on_programme_is_shown():
    (told,) = shown(one("compromise", 30, 0, "Whip pan"))
    assert (told.camera, told.marks) == ("CAM2", ())
    (off,) = shown(one("compromise", 3, 0))
    assert off.camera == "CAM2", "the finding's own camera, though off air"


def test_marks_in_another_cameras_picture_are_shown_there():
    (told,) = shown(one("fault", 3, 20, seen_by="CAM1"))
    assert (told.camera, [mark.camera for mark in told.marks]) == ("CAM1", ["CAM1"])


@pytest.mark.parametrize(
    "frame, camera, words",
    [(3, "CAM1", "on air"), (3, "CAM2", "off air"), (77, "CAM1", "on air, 42 % of a mix")],
)
def test_tally_in_words(frame, camera, words):
    from preview.checks.look import Look

    assert tally_words(Look(PLAN, frame), camera) == words
