"""`preview plan` and `preview floor` on the starter show: files, lists, and sentences for what is wrong."""

from __future__ import annotations

import csv
import json
import xml.etree.ElementTree as ET

import pytest
from PIL import Image

from preview import cli
from tests.starter_show import starter_path


def run(capsys, *words):
    status = cli.main([*map(str, words)])
    return status, *capsys.readouterr()


def test_plan_writes_a_sheet_twice_over_and_lists_it(capsys, tmp_path):
    status, out, _ = run(capsys, "plan", starter_path(), "--out", tmp_path, "--at", "10:00:04:12")
    assert status == 0
    assert out.splitlines()[0] == "On programme: 2 CAM2 (mid shot)."
    names = {path.name for path in tmp_path.iterdir()}
    assert names == {"plan_10-00-04-12.png", "plan_10-00-04-12.svg", "manifest.json"}
    assert [line.rsplit("/", 1)[1] for line in out.splitlines()[1:]] == sorted(names - {"manifest.json"})
    listed = json.loads((tmp_path / "manifest.json").read_text(encoding="utf-8"))
    size = Image.open(tmp_path / "plan_10-00-04-12.png").size
    assert {tuple(one["size_px"]) for one in listed["files"]} == {size}
    assert listed["runs"][0]["finished"] and listed["runs"][0]["command"].startswith("preview plan ")
    ET.parse(tmp_path / "plan_10-00-04-12.svg")


def test_floor_writes_the_layer_asked_for_and_all_numbers(capsys, tmp_path):
    status, out, err = run(
        capsys, "floor", starter_path(), "--camera", "CAM2", "--step", "0.5", "--layer", "off-wall",
        "--out", tmp_path, "--json",
    )  # fmt: skip
    assert status == 0, err
    data = json.loads(out)
    assert [one["name"] for one in data["files"]] == [
        "floor-CAM2-mid-shot-off-wall.png", "floor-CAM2-mid-shot-off-wall.svg", "floor-CAM2-mid-shot.csv",
        "floor-CAM2-mid-shot.json",
    ]  # fmt: skip
    assert data["framing"] == "mid shot", "its first on programme"
    with (tmp_path / "floor-CAM2-mid-shot.csv").open(newline="", encoding="utf-8") as file:
        found = list(csv.DictReader(file))
    assert len(found) == data["places"]
    clear = sum(row["clear"] == "1" for row in found)
    assert clear * 0.25 == pytest.approx(data["clear_m2"])
    written = json.loads((tmp_path / "floor-CAM2-mid-shot.json").read_text(encoding="utf-8"))
    assert {name: data[name] for name in written} == written
    assert "trained operators" in data["caution"]


@pytest.mark.parametrize(
    "options, parts",
    [
        (["--camera", "CAM"], ["--camera: 'CAM' is no camera", "CAM1, CAM2"]),
        (
            ["--camera", "CAM2", "--framing", "mid"],
            ["--framing: 'mid' is no framing of CAM2", "mid shot, close-up"],
        ),
        (["--camera", "CAM2", "--layer", "moir"], ["--layer: 'moir' is no layer", "clearance"]),
        (["--camera", "CAM2", "--layer", ","], ["--layer: no layer is named", "clearance"]),
        (["--camera", "CAM2", "--hold", "focus"], ["--hold: 'focus' is no thing to hold", "size, lens"]),
        (["--camera", "CAM2", "--step", "0"], ["--step: a step of 0 m", "from 0.01 to 5"]),
        (["--camera", "CAM2", "--height", "-1"], ["--height: a height of -1 m"]),
    ],
)
def test_a_wrong_name_or_number_is_a_sentence_with_the_list(capsys, tmp_path, options, parts):
    status, out, err = run(capsys, "floor", starter_path(), "--out", tmp_path / "out", *options)
    assert (status, out) == (2, "")
    for part in parts:
        assert part in " ".join(err.split())
    assert not (tmp_path / "out").exists()


def test_a_frame_that_is_not_of_the_rundown(capsys, tmp_path):
    status, _, err = run(capsys, "plan", starter_path(), "--out", tmp_path / "out", "--at", "11:00:00:00")
    assert status == 2
    assert '--at: "11:00:00:00" is outside the rundown' in err
