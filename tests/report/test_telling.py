"""What is said in sentences and rows."""

from __future__ import annotations

import csv
import io
from types import SimpleNamespace

import pytest

from preview.checks.result import CheckResult, Finding
from preview.errors import RequestError
from preview.report.asked import chosen_checks
from preview.report.telling import left_out, summary, thresholds_of, verdict, write_rows
from preview.show.thresholds import Checks
from tests.report.checks import ALL, Clean, Drawn, Stripe


def result(*grades):
    labels = ("10:00:00:00", "10:00:00:00")
    return CheckResult("stripe", "?", tuple(Finding(g, "", (), (0, 0), labels, "s") for g in grades))


EVERY = {"frames_in_range": 3075, "frames": 3075, "every": 1}


def test_verdicts_count_and_say_what_was_looked_at():
    told = [result("fault", "fault", "compromise", "fine"), result("fine")]
    assert verdict(told, EVERY, 48.3) == (
        "2 faults, 1 compromise in 2 checks; 3075 frames, every frame looked at in 48 s"
    )
    some = {"frames_in_range": 100, "frames": 14, "every": 10}
    assert verdict([result()], some, 1.0) == (
        "no faults, no compromises in 1 check; 14 of 100 frames looked at (1 in 10, and both sides of every "
        "cut) in 1 s"
    )
    assert summary(told[0]) == "2 faults, 1 compromise"
    assert summary(told[1]) == "looked at and right"


def test_left_out_says_why():
    told = left_out(ALL, (Stripe, Drawn), pictures=False)
    assert [(one["check"], one["why"][:8]) for one in told] == [("clean", "not aske"), ("drawn", "it needs")]
    assert left_out(ALL, ALL, pictures=True) == []


def test_a_checks_thresholds_are_its_own_table():
    plan = SimpleNamespace(thresholds=Checks())

    class Angle(Clean):
        name = "viewing-angle"

    assert thresholds_of(Angle(plan))["loss_percent"] == 25.0
    assert thresholds_of(Clean(plan)) == {}


def test_rows_are_written_one_at_a_time_and_read_again():
    made = []

    def rows():
        for number in range(3):
            made.append(number)
            yield {"frame": number, "what": 'a "quoted", comma'}

    text = io.StringIO(newline="")
    write_rows(rows(), text)
    assert list(csv.DictReader(io.StringIO(text.getvalue(), newline="")))[2]["what"] == 'a "quoted", comma'
    with pytest.raises(ValueError, match="fields not in fieldnames"):
        write_rows([{"a": 1}, {"b": 2}], io.StringIO())


@pytest.mark.parametrize(
    "asked, names", [(None, ["stripe", "clean", "drawn"]), ("drawn, stripe,", ["stripe", "drawn"])]
)
def test_checks_are_chosen_in_their_own_order(asked, names):
    assert [check.name for check in chosen_checks(asked, ALL)] == names


@pytest.mark.parametrize(
    "asked, part",
    [
        ("strip", "--only: 'strip' is no check; did you mean 'stripe'? There are stripe, clean, drawn"),
        ("clean,zebra", "'zebra' is no check; there are stripe, clean, drawn"),
        (" , ", "--only: nothing is named; write one or more of stripe, clean, drawn"),
    ],
)
def test_a_name_that_is_none_is_one_sentence(asked, part):
    with pytest.raises(RequestError) as error:
        chosen_checks(asked, ALL)
    assert part in str(error.value)
