"""Notes of pictures on programme: which shot they belong to, how often they are judged, when they were."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from preview.checks.airtime import Airtime, Spell
from preview.checks.look import Look
from preview.checks.walk import open_plan
from tests.checks.flat_stage import camera, flat_show, framing, shot


@pytest.fixture(scope="module")
def plan():
    cameras = (
        camera("A", framing("f", 20.0)),
        camera("B", framing("g", 30.0), number=2, at=(0.3, -0.2, 1.4)),
    )
    mix = {"transition": "mix", "mix_frames": 4}
    shots = [
        shot("One", "A", {"A": "f", "B": "g"}),
        shot("Two", "B", {}, **mix),
        shot("Three", "A", {}),
    ]
    with open_plan(flat_show(cameras, shots)) as made:
        yield made


def watched(plan, frames, equipment=False):
    asked = []

    def judge(look, name, sight):
        asked.append((look.frame, name))
        return look.frame

    air = Airtime(plan, judge, equipment)
    for frame in frames:
        air.see(Look(plan, frame))
    return air, asked


def test_the_outgoing_camera_of_a_mix_stays_in_its_own_shot(plan):
    air, _ = watched(plan, range(30))
    found = [(spell.shot, spell.camera, spell.frames[0], spell.frames[-1]) for spell in air]
    assert found == [("One", "A", 0, 13), ("Two", "B", 10, 19), ("Three", "A", 20, 29)]
    assert [len(spells) for spells in air.by_camera().values()] == [2, 1]


def test_a_picture_that_holds_still_is_judged_once(plan):
    _, asked = watched(plan, range(30))
    assert asked == [(0, "A"), (10, "B")]


def test_lines_have_gaps_where_a_camera_is_not_on_programme(plan):
    air, _ = watched(plan, range(8, 16))
    lines = air.lines(lambda noted: 7.0)
    np.testing.assert_array_equal(lines["A"], [7.0] * 6 + [np.nan] * 2)
    np.testing.assert_array_equal(lines["B"], [np.nan] * 2 + [7.0] * 6)


def test_the_worst_is_the_first_of_equals_and_parts_keep_their_frames():
    spell = Spell(0, "One", "A", [3, 5, 7, 9], [1.0, 4.0, 4.0, 2.0])
    assert spell.worst(lambda noted: noted) == (5, 4.0)
    assert spell.where(lambda noted: noted < 3).frames == [3, 9]


@pytest.mark.parametrize(
    ("frames", "told"),
    [
        ([10], "at 10"),
        ([5, 10, 15], "from 5 to 15"),
        ([0, 10, 15], "2 times from 0 to 15"),
        ([0, 10, 20], "3 times from 0 to 20"),
    ],
)
def test_gaps_between_frames_looked_at_are_told(frames, told):
    air = Airtime(SimpleNamespace(timeline=SimpleNamespace(timecode=str)), lambda *_: None)
    air.frames = [0, 5, 10, 15, 20]
    assert air.lasts(Spell(0, "One", "A", frames, [None] * len(frames))) == told
