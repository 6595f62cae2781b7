"""Suggestions for a framing: what is suggested is clean when looked at anew, and costs what it says."""

from __future__ import annotations

from math import dist
from typing import ClassVar

import pytest

from preview.camera.exposure import camera_exposure
from preview.checks.off_wall import OffWall
from preview.checks.registry import Check
from preview.checks.result import Finding
from preview.checks.viewing_angle import ViewingAngle
from preview.checks.walk import open_plan, walk
from preview.floor.floor_map import floor_map
from preview.floor.options import FloorOptions
from preview.show.model import Framing
from preview.suggest.elsewhere import FARTHEST_M, TIGHTEST, Change, Subject, focus_ladders, stop_ladder
from preview.suggest.levers import SOFT_PHOTOSITES
from preview.suggest.search import suggest
from preview.suggest.trial import LOOKED_AT, open_trial, spread, with_made_up_shot
from preview.timeline.timeline import Timeline
from tests.checks.flat_stage import FLOOR, WALL, camera, flat_show, shot

SUBJECT = (0.8, 2.0, 1.5)
AT = {"look_at": SUBJECT, "focal_length_mm": 20.0}


def past_the_wall(on_programme="aside", t_stop=5.6, seconds=0.4):
    """Camera A at the origin sees a subject 2 m away and 0.8 m to the right, and behind it the wall's end.

    The wall is 4 m wide at Y = 4: on 20 mm (9.6 mm wide sensor) the picture is 0.48 m wide a metre away.
    """
    framings = (
        Framing(name="aside", **AT),
        Framing(name="ahead", look_at=(0.0, 4.0, 1.5), focal_length_mm=20.0),
    )
    cameras = [
        camera("A", *framings, t_stop=t_stop),
        camera("B", framings[1], at=(-6.0, -6.0, 1.5), number=2),
    ]
    shots = [
        shot("One", "A", {"A": on_programme, "B": "ahead"}, seconds),
        shot("Two", "B", {"A": "ahead"}, seconds),
    ]
    return flat_show(cameras, shots)


def searched(show, framing, *checks, step_m=0.1):
    with open_trial(show, "A", framing, checks) as trial:
        found = suggest(
            Subject.of(show, "A", framing), trial,
            lambda: floor_map(show, "A", framing, FloorOptions(step_m=step_m)),
        )  # fmt: skip
    return found, trial


def complaints(show, check):
    with open_plan(show) as plan:
        made = check(plan)
        walk(plan, [made])
        return [one for one in made.result().findings if one.grade != "fine" and one.cameras[0] == "A"]


def test_the_camera_moves_until_the_wall_fills_the_picture():
    show = past_the_wall()
    assert complaints(show, OffWall)
    found, trial = searched(show, "aside", OffWall)
    assert found.outcome == "clear" and found.change.levers == ("position",)
    assert complaints(found.show, OffWall) == [], "opened from the start, in every frame"
    view = Timeline(found.show).framing_view("A", "aside")
    assert view.pose.position_m == pytest.approx(found.change.position_m, abs=1e-3)
    assert view.project([SUBJECT], (100, 100))[0][0] == pytest.approx([50, 50], abs=0.2), "aim is kept"
    # The subject is as large: focal length over distance.
    size = view.focal_length_mm / dist(view.pupil_m, SUBJECT)
    assert size == pytest.approx(20.0 / dist((0, 0, 1.5), SUBJECT), rel=1e-3)
    costs = found.at.costs(found.change)
    assert costs["subject_size_percent"] == pytest.approx(100.0, abs=0.1)
    assert costs["moved_m"] == pytest.approx(dist(found.change.position_m, (0, 0, 1.5)), abs=1e-3)
    assert costs["moved_m"] <= FARTHEST_M
    x, y, _ = found.change.position_m
    assert x + (SUBJECT[0] - x) / (2.0 - y) * (4.0 - y) < 2.0, "the axis ends on the wall"
    assert "to its right" in found.sentence and "nothing found" in found.sentence
    assert found.sentence.count("10 frames on programme") == 1
    assert trial.elsewhere == ()
    assert any("position_m = [" in line for line in found.at.toml(found.change))


def test_what_is_right_is_left_alone():
    found, _ = searched(past_the_wall("ahead"), "ahead", OffWall)
    assert found.outcome == "needless" and found.change is None and found.tried == ()
    assert found.show is found.at.show
    assert "nothing to mend" in found.sentence


def test_a_framing_never_on_programme_is_tried_in_a_shot_made_up():
    show = past_the_wall("ahead")
    found, trial = searched(show, "aside", OffWall)
    assert found.synthetic and found.outcome == "clear"
    assert "a shot made up, as it is never held on programme" in found.sentence
    assert found.show.file.rundown == show.file.rundown, "the suggestion is for the show as it runs"
    moment = Timeline(with_made_up_shot(show, "A", "aside", 3)).at(0)
    assert (moment.on_air, moment.wall_camera, moment.camera("A").framing) == ("A", "A", "aside")
    assert moment.camera("B").framing == Timeline(show).at(3).camera("B").framing
    assert trial.plan.show.file.rundown[0].name == "Made up"


class _Always(Check):
    """Says something about A whatever is done; ``wrong`` decides."""

    name: ClassVar[str] = "always"
    question: ClassVar[str] = "Is it?"
    order: ClassVar[int] = 998
    levers = ("position",)

    def __init__(self, plan):
        super().__init__(plan)
        self._wrong = []

    def wrong(self, moment):
        return moment.on_air == "A"

    def see(self, look):
        if self.wrong(look.moment):
            self._wrong.append(look.frame)

    def result(self):
        frames = self._wrong
        if not frames:
            return self.answer(())
        labels = tuple(self.plan.timeline.timecode(frame) for frame in (frames[0], frames[-1]))
        measures = {"worst_frame": frames[0], "worst_timecode": labels[0], "where": ""}
        return self.answer(
            [Finding("fault", "One", ("A",), (frames[0], frames[-1]), labels, "It is.", measures=measures)]
        )


class _WhenMoved(_Always):
    """Says something off air as soon as A is not at the origin: trouble that the move makes."""

    name: ClassVar[str] = "when-moved"

    def wrong(self, moment):
        own = moment.camera("A")
        return (
            moment.on_air != "A"
            and own.framing == "aside"
            and dist(own.view.pose.position_m, (0, 0, 1.5)) > 0.01
        )


def test_when_nothing_helps_that_is_said_with_what_was_tried():
    found, _ = searched(past_the_wall(), "aside", _Always, step_m=0.5)
    assert found.outcome == "nothing helps" and found.change is None and found.after is None
    kinds = [one.what for one in found.tried]
    assert {"focus", "position", "focal length"} <= set(kinds)
    assert all(one.leaves == ("always",) and one.shows > 0 for one in found.tried)
    total = sum(one.shows for one in found.tried)
    assert f"{total} changed shows" in found.sentence and "always" in found.sentence
    assert found.data()["change"] is None


class _Lit(_Always):
    """Says something that light alone mends."""

    name: ClassVar[str] = "lit"
    levers = ("stage light",)


def test_what_nothing_here_mends_is_left_alone_and_said():
    found, _ = searched(past_the_wall("ahead"), "ahead", OffWall, _Lit)
    assert found.outcome == "needless" and not found.before.faults
    assert "nothing found but what none of this mends (lit)" in found.sentence
    moved, _ = searched(past_the_wall(), "aside", OffWall, _Lit)
    assert moved.outcome == "clear"
    assert [name for name, _ in moved.after.left_alone] == ["lit"]


def test_an_led_floor_seen_from_the_side_is_left_alone_and_said():
    """Every camera sees a floor so; a wall seen so is not let off."""

    def told(surfaces, **at):
        aimed = Framing(name="aside", focal_length_mm=20.0, **at)
        show = flat_show([camera("A", aimed)], [shot("One", "A", {"A": "aside"})], surfaces)
        assert complaints(show, ViewingAngle), "the check itself does speak up"
        return searched(show, "aside", ViewingAngle, step_m=0.5)[0]

    floor = FLOOR.model_copy(update={"columns": 16, "rows": 12})
    over_the_floor = told((WALL, floor), look_at=(0.0, 5.0, 0.3))
    assert over_the_floor.outcome == "needless"
    assert [name for name, _ in over_the_floor.before.left_alone] == ["viewing-angle"]
    assert "none of this mends (viewing-angle)" in over_the_floor.sentence
    assert "Left alone, as none of this mends it: viewing-angle." in over_the_floor.facts
    along_the_wall = told((WALL,), position_m=(-4.5, 3.0, 1.5), look_at=(0.0, 4.0, 1.5))
    assert along_the_wall.before.checks() == ("viewing-angle",)
    assert along_the_wall.before.left_alone == ()


def test_trouble_made_in_other_frames_is_not_suggested():
    show = past_the_wall()
    rundown = [
        shot("One", "A", {"A": "aside", "B": "ahead"}),
        shot("Two", "B", {"A": "aside"}),
    ]
    show = flat_show(show.file.cameras, rundown)
    plain, trial = searched(show, "aside", OffWall, step_m=0.5)
    assert plain.outcome == "clear" and trial.elsewhere
    found, _ = searched(show, "aside", OffWall, _WhenMoved, step_m=0.5)
    assert found.outcome == "nothing helps"


def test_ladders_stay_in_what_the_lens_and_the_shot_allow():
    show = past_the_wall(t_stop=8.0)
    at = Subject.of(show, "A", "aside")
    stops = [change.t_stop for change in stop_ladder(at)]
    assert stops == sorted(stops, reverse=True) and stops[-1] >= 2.8 and stops[0] < 8.0
    for ladder, sign in zip(focus_ladders(at), (-1, 1), strict=True):
        pulls = [sign * (change.focus_m - at.placed.focus_m) for change in ladder]
        assert pulls == sorted(pulls) and pulls[0] > 0
        assert all(at.blur_photosites(change) <= SOFT_PHOTOSITES for change in ladder)
    tighter = Change(("focal length",), focal_length_mm=20.0 * TIGHTEST)
    assert at.costs(tighter)["subject_size_percent"] == pytest.approx(110.0)


def test_an_opened_stop_comes_with_a_filter_that_keeps_the_exposure():
    show = past_the_wall(t_stop=8.0)
    at = Subject.of(show, "A", "aside")
    change = stop_ladder(at)[-1]
    before, after = show.file.cameras[0], at.changed(change, show).file.cameras[0]
    assert after.t_stop == change.t_stop and after.lens.t_stop == change.t_stop
    level = [camera_exposure(one, 25).full_video_cd_m2 for one in (before, after)]
    assert level[1] == pytest.approx(level[0], rel=2e-3)
    assert at.costs(change)["light_stops"] > 0
    assert f'cameras "A": t_stop = {change.t_stop:g}' in at.toml(change)


def test_frames_are_spread_with_both_ends():
    assert spread(range(100), LOOKED_AT)[0] == 0 and spread(range(100), LOOKED_AT)[-1] == 99
    assert len(spread(range(100), LOOKED_AT)) == LOOKED_AT
    assert spread((4, 9), LOOKED_AT) == (4, 9)
