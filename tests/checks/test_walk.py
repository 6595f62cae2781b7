"""Walking through a rundown: which frames which check sees, and what is said when one fails."""

import pytest

from preview.checks import registry
from preview.checks.registry import Check, all_checks, register, stretches
from preview.checks.walk import chosen_frames, open_plan, walk
from preview.errors import FrameFailed, PreviewError
from preview.timeline.timeline import Timeline
from tests.checks.shows import whip_show


class Watcher(Check):
    name, question, order = "watcher", "Which frames are seen?", 1

    def __init__(self, plan):
        super().__init__(plan)
        self.seen = []

    def see(self, look):
        self.seen.append(look.frame)

    def result(self):
        return self.answer(())


class Patient(Watcher):
    every_frame = True


class Painter(Watcher):
    draws = True


@pytest.fixture(scope="module")
def plan():
    with open_plan(whip_show(), every=10) as made:
        yield made


def test_each_nth_frame_both_sides_of_cuts_and_the_last_are_chosen():
    # 100 frames, shots from 0, 25 and 75
    frames = chosen_frames(Timeline(whip_show()), 0, None, 10)
    assert set(range(0, 100, 10)) < set(frames)
    assert set(frames) - set(range(0, 100, 10)) == {24, 25, 74, 75, 99}


def test_a_range_keeps_to_itself():
    frames = chosen_frames(Timeline(whip_show()), 30, 76, 40)
    assert frames == (30, 70, 74, 75, 76)


@pytest.mark.parametrize(("first", "last", "every"), [(0, 10, 0), (5, 4, 1), (0, 100, 1), (-1, 5, 1)])
def test_a_range_outside_the_rundown_is_refused(first, last, every):
    with pytest.raises(ValueError, match="frames"):
        chosen_frames(Timeline(whip_show()), first, last, every)


def test_patient_checks_see_every_frame_and_the_others_the_chosen(plan):
    plain, patient = Watcher(plan), Patient(plan)
    walk(plan, [plain, patient])
    assert plain.seen == list(plan.frames)
    assert patient.seen == list(range(100))


def test_checks_that_draw_see_nothing_without_a_studio(plan):
    painter = Painter(plan)
    walk(plan, [painter, Watcher(plan)])
    assert painter.seen == []


def test_progress_runs_from_nothing_to_all(plan):
    told = []
    walk(plan, [Watcher(plan)], on_frame=lambda done, total: told.append((done, total)))
    count = len(plan.frames)
    assert told == [(done, count) for done in range(count + 1)]


def test_a_failing_check_names_its_frame(plan):
    class Broken(Watcher):
        def see(self, look):
            raise ZeroDivisionError

    with pytest.raises(FrameFailed) as caught:
        walk(plan, [Broken(plan)])
    assert caught.value.frame == plan.frames[0]


def test_an_error_of_the_show_stays_what_it_is_and_gets_the_timecode(plan):
    class Refusing(Watcher):
        def see(self, look):
            raise PreviewError("the file is gone")

    with pytest.raises(PreviewError, match="the file is gone") as caught:
        walk(plan, [Refusing(plan)])
    assert caught.value.__notes__ == [f"while checking {plan.timeline.timecode(0)}"]


def test_two_checks_of_one_name_are_refused(monkeypatch):
    monkeypatch.setattr(registry._REGISTRY, "found", {})
    register(Watcher)
    other = type("Watcher", (Watcher,), {"__module__": "elsewhere"})
    with pytest.raises(ValueError, match="two checks are called 'watcher'"):
        register(other)


def test_every_registered_check_says_what_it_is():
    checks = all_checks()
    assert len({check.name for check in checks}) == len(checks)
    assert [check.order for check in checks] == sorted(check.order for check in checks)
    for check in checks:
        assert check.question.endswith("?"), check.name
        assert check.__doc__


def test_stretches_bridge_gaps_of_the_step_only():
    assert stretches([0, 5, 10, 16, 17], every=5) == [(0, 10), (16, 17)]
    assert stretches([], every=3) == []


def test_kept_values_are_made_once_and_the_oldest_are_dropped(plan):
    made = []
    for key in [0, 0, *range(1, 200), 0]:
        plan.once("test", key, lambda key=key: made.append(key))
    assert made[:2] == [0, 1]
    assert made.count(0) == 2, "dropped after many others, then made again"
    assert len(plan._kept["test"]) <= 64
