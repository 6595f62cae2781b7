"""A floor map's numbers and words: read back as they were, and true of the map."""

from __future__ import annotations

import csv
import io
import json
from math import dist

import numpy as np
import pytest

from preview.floor.result import REASONS, FloorMap, Layer
from preview.plan.floor import (
    column,
    facts,
    floor_csv,
    floor_data,
    floor_sheet,
    here_is_clear,
    told,
)
from preview.review.plan import PlanWall, StudioPlan
from tests.starter_show import starter_show


def floor_map(here=(3.0, -4.0, 1.4), limit=1.0):
    """Off the wall grows with the distance from X = 0; the row nearest to the wall is out of reach."""
    x, y = np.round(np.arange(-3.0, 3.01, 0.5), 9), np.round(np.arange(-6.0, -2.99, 0.5), 9)
    shape = (len(y), len(x))
    reason = np.zeros(shape, dtype=np.int8)
    reason[-1] = 2
    off = np.tile(np.abs(x), (len(y), 1)).astype(np.float32) * np.float32(1.1)
    near = np.full(shape, 2.5, dtype=np.float32)
    focal = np.linspace(8, 90, off.size, dtype=np.float32).reshape(shape)
    for values in (off, near, focal):
        values[reason != 0] = np.nan
    layers = (
        Layer("off-wall", "Off the wall", "%", off, limit, "below", True, "Past the wall."),
        Layer("clearance", "Clearance", "m", near, 1.0, "above", True, "Room."),
        Layer("moire-mean", "Mean moire risk", "", off / 10, None, "below", False, "Risk."),
    )
    height = np.full(shape, 1.4, dtype=np.float32)
    return FloorMap(
        "CAM1", "wide", x, y, height, (0.0, 1.0, 1.2), here, {one.name: one for one in layers}, reason,
        focal, focal / np.float32(7), "hold", "subject", (32, 18), ("As it is.",),
    )  # fmt: skip


def rows(floor):
    return list(csv.DictReader(io.StringIO(floor_csv(floor))))


def read(floor, name):
    return np.array([np.float32(row[name] or "nan") for row in rows(floor)]).reshape(floor.reason.shape)


def test_the_csv_reads_back_as_the_arrays_bit_by_bit():
    floor = floor_map()
    for name, layer in (
        ("off_wall_percent", "off-wall"),
        ("clearance_m", "clearance"),
        ("moire_mean", "moire-mean"),
    ):
        assert column(floor.layers[layer]) == name
        assert np.array_equal(read(floor, name), floor.layers[layer].values, equal_nan=True)
    assert np.array_equal(read(floor, "focal_length_mm"), floor.focal_length_mm, equal_nan=True)
    assert np.array_equal(read(floor, "focus_m"), floor.focus_m, equal_nan=True)
    found = rows(floor)
    assert [float(row["x_m"]) for row in found[: len(floor.x_m)]] == list(floor.x_m)
    assert [float(row["y_m"]) for row in found[:: len(floor.x_m)]] == list(floor.y_m)
    assert [row["reason"] for row in found] == [REASONS[code] for code in floor.reason.ravel()]
    assert [row["clear"] == "1" for row in found] == list(floor.clear.ravel())


def test_the_sheet_holds_the_map():
    floor = floor_map()
    plan = StudioPlan((PlanWall("Wall", np.array([[[-4, 4], [4, 4.0]]]), np.array([[0, 1.0]])),))
    sheet = floor_sheet(floor, plan, starter_show(), ("Noted.",))
    assert sheet.clear is floor.clear
    assert np.array_equal(sheet.out_of_reach, floor.reason != 0)
    assert sheet.now_m == (3.0, -4.0)
    assert sheet.nearest_m == (0.5, -4.0)
    assert [one.unit for one in sheet.layers] == ["%", "m", "0 to 1"]
    assert np.array_equal(sheet.layers[0].passes, floor.layers["off-wall"].passes)
    assert sheet.layers[2].top == 1.0
    assert "Noted." in sheet.facts


def test_words_of_a_place_outside_the_clear_zone():
    floor = floor_map()
    assert not here_is_clear(floor)
    words = told(floor)
    # 3 columns of 13 and 6 rows of 7 are clear, 13 x 6 are reached; a place is 0.25 m2.
    assert words.startswith("4.5 m² of 19.5 m² pass all of off-wall, clearance.")
    assert f"{dist((3.0, -4.0), (0.5, -4.0)):.2f} m from where the camera stands" in words
    assert "to its left" in words and "back" not in words.split("stands:")[1].split(",")[0]
    assert any(line.startswith("There: off-wall 3.3 %, limit 1 %") for line in facts(floor))
    assert any(line.startswith("Nearest clear: x 0.50, y -4.00") for line in facts(floor))


def test_words_inside_it_and_without_any():
    inside = floor_map(here=(0.0, -4.0, 1.4))
    assert here_is_clear(inside)
    assert told(inside).endswith("The camera stands in the clear zone.")
    assert "There: all pass." in facts(inside)
    nothing = floor_map(limit=-1.0)
    assert told(nothing) == "None of 19.5 m² passes all of off-wall, clearance."
    assert floor_data(nothing)["nearest_clear"] is None


def test_data_is_json_and_true():
    floor = floor_map()
    data = json.loads(json.dumps(floor_data(floor), allow_nan=False))
    assert data["clear_m2"] == 4.5
    assert data["places"] == 7 * 13
    assert data["out_of_reach"] == {"on the LED floor": 13}
    assert data["nearest_clear"]["away_m"] == pytest.approx(2.5)
    assert data["now"] == {
        "position_m": [3.0, -4.0, 1.4],
        "clear": False,
        "wrong": ["off-wall 3.3 %, limit 1 %"],
    }
    assert [one["passes_m2"] for one in data["layers"]] == [4.5, 19.5, 19.5]
    assert data["layers"][0]["most"] == pytest.approx(3.3)
