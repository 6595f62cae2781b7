"""Interleaved slots: their times, what they cost in light, and what stands in their way."""

from __future__ import annotations

from math import log2
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from preview.show.model import Camera, ShowFile
from preview.wall.slots import SlotFinding, pulse_ripple, slot_findings, slots
from tests.timeline.conftest import cameras, document

RUNDOWN = [{"name": "one", "on_air": "Cam 1", "duration": 1.0}]


def show(count: int = 3, rate: str = "25", angle_deg: float = 360.0, **drive: Any) -> ShowFile:
    tables = []
    for n in range(1, count + 1):
        table = {**cameras()[1], "name": f"Cam {n}", "number": n, "shutter_angle_deg": angle_deg}
        tables.append(table)
    settings = {"mode": "interleaved", **drive}
    return ShowFile(**document(RUNDOWN, cameras=tables, drive=settings, show={"frame_rate": rate}))


def with_angles(file: ShowFile, *angles_deg: float) -> ShowFile:
    made: list[Camera] = [
        camera.model_copy(update={"shutter_angle_deg": angle})
        for camera, angle in zip(file.cameras, angles_deg, strict=True)
    ]
    return file.model_copy(update={"cameras": tuple(made)})


def about(file: ShowFile, what: str, **refresh_hz: float) -> list[SlotFinding]:
    return [found for found in slot_findings(file, refresh_hz) if found.about == what]


# ---- Times ---------------------------------------------------------------------------------------


def test_slots_divide_the_frame_evenly_and_in_order() -> None:
    made = slots(show(4, "50", order=("Cam 3", "Cam 1", "Cam 4", "Cam 2")))
    assert [slot.camera for slot in made] == ["Cam 3", "Cam 1", "Cam 4", "Cam 2"]
    assert [slot.start_s for slot in made] == pytest.approx([0.0, 0.005, 0.010, 0.015])
    assert [slot.length_s for slot in made] == pytest.approx([0.005] * 4)
    assert {slot.frame_s for slot in made} == {0.02}


@given(st.integers(1, 12), st.sampled_from(["24000/1001", "25", "30000/1001", "60"]))
def test_slots_fill_the_frame_without_gap_or_overlap(count: int, rate: str) -> None:
    made = slots(show(count, rate))
    ends = [slot.start_s + slot.length_s for slot in made]
    assert [slot.start_s for slot in made[1:]] == pytest.approx(ends[:-1])
    assert (made[0].start_s, ends[-1]) == (0.0, pytest.approx(made[0].frame_s))


# ---- Light ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("count", "stops"),
    [(1, 0.0), (2, 1.0), (3, 1.584963), (4, 2.0), (5, 2.321928), (6, 2.584963), (8, 3.0)],
)
def test_an_open_slot_costs_log2_of_the_count(count: int, stops: float) -> None:
    """A shutter open for 1/N of the time gathers 1/N of the light: log2 N stops, tabulated."""
    for slot in slots(show(count)):
        assert slot.loss_stops == pytest.approx(stops, abs=1e-6)
        assert slot.loss_stops == pytest.approx(log2(count), abs=1e-9)


@pytest.mark.parametrize(
    ("count", "rate", "blank_ms", "stops"),
    # log2(T / (T/N - b)) with b ms of every slot closed, computed apart from this project.
    [(2, "50", 0.5, 1.074001), (4, "50", 0.5, 2.152003), (3, "50", 1.0, 1.819428)],
)
def test_time_closed_in_the_slot_costs_more(count: int, rate: str, blank_ms: float, stops: float) -> None:
    slot_ms = 1000 / int(rate) / count
    made = slots(show(count, rate, slot_shutter_percent=100 * (1 - blank_ms / slot_ms)))
    assert made[0].open_s == pytest.approx((slot_ms - blank_ms) / 1000)
    assert made[0].loss_stops == pytest.approx(stops, abs=1e-6)


@pytest.mark.parametrize(
    ("angle_deg", "count", "percent", "open_ms", "own_stops"),
    [
        (180.0, 2, 100.0, 20.0, 0.0),  # half of a 40 ms frame either way: nothing is lost
        (180.0, 4, 100.0, 10.0, 1.0),
        (180.0, 4, 50.0, 5.0, 2.0),
        (360.0, 3, 100.0, 40 / 3, 1.584963),
        (90.0, 4, 100.0, 10.0, 0.0),
        (45.0, 2, 100.0, 5.0, 0.0),  # a shorter shutter than the slot stays as short
        (45.0, 2, 50.0, 5.0, 0.0),
        (45.0, 2, 10.0, 2.0, 1.321928),
    ],
)
def test_the_cameras_own_shutter_counts_where_it_fits(
    angle_deg: float, count: int, percent: float, open_ms: float, own_stops: float
) -> None:
    slot = slots(show(count, angle_deg=angle_deg, slot_shutter_percent=percent))[0]
    assert 1000 * slot.open_s == pytest.approx(open_ms)
    assert slot.lost_of_own_stops == pytest.approx(own_stops, abs=1e-6)


# ---- Pulses of light -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("refresh_hz", "exposure_s", "duty", "ripple"),
    # Computed apart from this project by formula, each confirmed there by a numerical sweep to 1e-6.
    [
        (3840, 1 / 50, 0.5, 0.005208),
        (1920, 1 / 50, 0.25, 0.026042),
        (240, 1 / 50, 0.5, 0.083333),
        (240, 1 / 48, 0.5, 0.0),
        (3840, 1 / 1000, 0.1, 0.260417),
    ],
)
def test_ripple_of_tabulated_exposures(
    refresh_hz: float, exposure_s: float, duty: float, ripple: float
) -> None:
    assert pulse_ripple(refresh_hz * exposure_s, duty) == pytest.approx(ripple, abs=1e-6)


@given(cycles=st.floats(0.3, 20), duty=st.floats(0.05, 1))
def test_ripple_is_what_a_shutter_really_gathers(cycles: float, duty: float) -> None:
    """A pulse train, lit for ``duty`` of each cycle, integrated exactly from 2000 starting phases."""

    def lit_until(time: np.ndarray) -> np.ndarray:
        return np.floor(time) * duty + np.minimum(time % 1.0, duty)

    phases = np.linspace(0, 1, 2000, endpoint=False)
    gathered = lit_until(phases + cycles) - lit_until(phases)
    measured = (gathered.max() - gathered.min()) / (cycles * duty)
    # The sweep may miss both extremes by half a step each.
    assert pulse_ripple(cycles, duty) == pytest.approx(measured, abs=2 / 2000 / (cycles * duty))


# ---- Refresh -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("refresh_hz", "rate", "count"),
    [(3840, "30", 4), (3840, "24", 2), (100, "25", 4), (75, "25", 3), (3836.16, "30000/1001", 2)],
)
def test_whole_refreshes_a_slot_are_fine(refresh_hz: float, rate: str, count: int) -> None:
    """3840 / (30 x 4) = 32; 100 / (25 x 4) = 1; 3836.16 is 3840 / 1.001, 64 in a slot of 1/59.94 s."""
    file = show(count, rate)
    assert not about(file, "refresh", Wall=refresh_hz) and not about(file, "flicker", Wall=refresh_hz)


def test_a_part_refresh_is_named_with_its_numbers_and_a_better_one() -> None:
    """3840 / (25 x 3) = 51.2; 51 x 75 = 3825 Hz; a part refresh is at most 1/51.2 = 1.95 % of the light."""
    (found,) = about(show(3), "flicker", Wall=3840.0)
    assert found.subject == "Wall"
    assert found.text == (
        "Wall refreshes 51.2 times in each slot (3840 / (25 x 3)): not a whole number, so exposures may "
        "differ by up to 2 % and flicker; 3825 Hz would give 51"
    )


def test_a_better_frame_rate_is_named_where_there_is_one() -> None:
    """3840 / (25 x 2) = 76.8. Of the rates to choose, 24 (80 refreshes) is nearer to 25 than 30 (64)."""
    (found,) = about(show(2), "flicker", Wall=3840.0)
    assert found.text.endswith("; 3850 Hz would give 77, or 24 frames per second")


def test_at_29_97_a_round_refresh_is_not_whole() -> None:
    """3840 / (30000/1001 x 2) = 64.064; 64 x 59.94006 = 3836.1638 Hz."""
    (found,) = about(show(2, "30000/1001"), "flicker", Wall=3840.0)
    assert "64.06 times in each slot (3840 / (29.97 x 2))" in found.text
    assert "3836.1638 Hz would give 64, or 30 frames per second" in found.text


def test_less_than_one_refresh_a_slot_cannot_work() -> None:
    (found,) = about(show(4), "refresh", Wall=60.0)
    assert found.text == (
        "Wall refreshes 0.6 times in each slot (60 / (25 x 4)), and needs a whole one to change its picture; "
        "100 Hz would give 1"
    )
    assert not about(show(4), "flicker", Wall=60.0)


def test_a_shutter_too_short_for_one_refresh_may_see_nothing() -> None:
    """100 Hz fits one refresh into a slot of 10 ms; a shutter open for 4 ms of it holds 0.4."""
    (found,) = about(show(4, slot_shutter_percent=40.0), "refresh", Wall=100.0)
    assert "refreshes 0.4 times while the shutter of Cam 1 is open" in found.text
    assert "250 Hz" in found.text


def test_an_exposure_of_whole_refreshes_does_not_flicker_in_a_slot_that_is_not() -> None:
    """12.5 refreshes in a slot, ten of them in a shutter open for 80 % of it."""
    assert not about(show(4, slot_shutter_percent=80.0), "flicker", Wall=1250.0)
    assert about(show(4), "flicker", Wall=1250.0)


def test_every_surface_is_looked_at() -> None:
    found = slot_findings(show(3), {"Wall": 3840.0, "Floor": 3750.0, "Sky": 60.0})
    assert [(f.about, f.subject) for f in found[:2]] == [("flicker", "Wall"), ("refresh", "Sky")]


@given(refresh=st.floats(20, 10_000), count=st.integers(1, 8), rate=st.sampled_from(["25", "60000/1001"]))
def test_taking_the_advice_ends_the_finding(refresh: float, count: int, rate: str) -> None:
    file = show(count, rate)
    for found in (*about(file, "refresh", Wall=refresh), *about(file, "flicker", Wall=refresh)):
        better = float(found.text.split("; ")[1].split(" Hz")[0])
        again = show(count, rate)
        assert not about(again, "refresh", Wall=better) and not about(again, "flicker", Wall=better)


# ---- Shutters, sensors, eyes ---------------------------------------------------------------------


def test_a_shutter_that_does_not_fit_says_what_it_becomes() -> None:
    """180 degrees at 25 fps are 20 ms; a third of a frame is 13.33 ms, 120 degrees; log2 1.5 = 0.58."""
    file = with_angles(show(3), 180.0, 90.0, 120.0)
    (found,) = about(file, "shutter")
    assert found.subject == "Cam 1"
    assert found.text == (
        "Cam 1 asks for a shutter of 180 degrees (20 ms), longer than its slot allows: it becomes "
        "120 degrees (13.33 ms), 0.58 stops less light"
    )


def test_the_published_example_of_a_shutter_that_does_not_fit() -> None:
    """1/100 s does not fit the 9.5 ms left of a slot of 10 ms (50 fps, N = 2, 0.5 ms closed)."""
    file = with_angles(show(2, "50", slot_shutter_percent=95.0), 180.0, 171.0)
    assert [found.subject for found in about(file, "shutter")] == ["Cam 1"]
    assert "becomes 171 degrees (9.5 ms)" in about(file, "shutter")[0].text


def test_sensors_and_eyes_are_mentioned_where_there_is_more_than_one_slot() -> None:
    assert "global shutter" in about(show(2), "sensor")[0].text
    assert about(show(1), "sensor") == about(show(1), "eye") == []


@pytest.mark.parametrize(("rate", "seen"), [("25", True), ("50", True), ("60000/1001", False), ("60", False)])
def test_slots_that_come_round_slowly_are_seen_on_the_floor(rate: str, seen: bool) -> None:
    found = about(show(3, rate), "eye")
    assert bool(found) is seen
    assert not seen or f"round {rate} times a second" in found[0].text
