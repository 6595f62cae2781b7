"""``preview return`` and ``preview compare``: files, manifest, numbers and sentences, with flat pictures."""

import csv
import json
import os
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from preview import cli
from preview.errors import OutputError
from tests.fake_studio import replace_studio
from tests.starter_show import starter_path


@pytest.fixture(autouse=True)
def studio(monkeypatch):
    """Replaces the real studio; ``made`` are those that were opened, ``before`` what they run."""
    return replace_studio(monkeypatch)


def run(capsys, command, out, *options):
    words = [command, starter_path(), "--out", out, "--size", "64x36", *options]
    status = cli.main([str(word) for word in words])
    said = capsys.readouterr()
    return status, said.out, said.err


def manifest(folder):
    return json.loads((folder / "manifest.json").read_text())


def test_return_writes_both_stills_a_page_and_a_manifest(capsys, tmp_path, studio):
    status, out, err = run(capsys, "return", tmp_path, "--camera", "CAM2", "--at", "10:00:05:00")
    assert (status, err) == (0, "")
    assert [os.path.basename(line) for line in out.splitlines()] == [
        "002-at_10-00-05-00_as-shot_CAM2.png",
        "002-at_10-00-05-00_return_CAM2.png",
        "002-at_10-00-05-00_return-beside-as-shot_CAM2.png",
    ]
    still = np.asarray(Image.open(tmp_path / "002-at_10-00-05-00_return_CAM2.png"))
    assert still.shape == (36, 64, 3) and (still == 125).all()
    entries = sorted(manifest(tmp_path)["files"], key=lambda entry: entry["kind"])
    assert [(e["kind"], e["subject"], e["start_timecode"]) for e in entries] == [
        ("as-shot", "CAM2", "10:00:05:00"),
        ("return", "CAM2", "10:00:05:00"),
        ("return-beside-as-shot", "CAM2", "10:00:05:00"),
    ]
    assert entries[1]["off_wall"] == 0.125
    assert manifest(tmp_path)["runs"][0]["finished"]
    assert manifest(tmp_path)["runs"][0]["command"].startswith("preview return ")
    assert studio[0].closed


def test_return_as_json_has_the_pages_facts(capsys, tmp_path):
    status, out, _ = run(capsys, "return", tmp_path, "--camera", "CAM1", "--at", "10:00:05:00", "--json")
    assert status == 0
    data = json.loads(out)
    assert (data["camera"], data["number"], data["tally"], data["wall_camera"]) == ("CAM1", 1, "next", "CAM2")
    assert data["return_late_frames"] == 0
    assert len(data["files"]) == 3


def test_compare_one_frame_writes_differences_a_wipe_and_numbers(capsys, tmp_path):
    status, out, err = run(
        capsys, "compare", tmp_path, "--against", "return:as-shot", "--camera", "CAM1", "--at", "10:00:05:00"
    )
    assert (status, err) == (0, "")
    names = [os.path.basename(line) for line in out.splitlines() if "/" in line]
    start = "002-at_10-00-05-00_return-against-as-shot-"
    assert names == [
        f"{start}{what}"
        for what in ("difference-absolute_CAM1.png", "difference-signed_CAM1.png", "wipe_CAM1.png",
                     "measures_CAM1.json")
    ]  # fmt: skip
    assert "return of camera 1 CAM1 against as-shot of camera 1 CAM1, 10:00:05:00" in out
    assert "identical" in out and "no pixels" in out
    data = json.loads((tmp_path / names[-1]).read_text())
    assert data["measures"]["whole"]["identical"] is True
    assert data["measures"]["set"] is None
    assert (data["offset"], data["remarks"]) == (None, [])
    assert {e["media"] for e in manifest(tmp_path)["files"]} == {"still", "data"}


def test_compare_a_return_with_the_programme_looks_for_its_delay(capsys, tmp_path):
    """The fake's pictures are as bright as their frame's number: only the same frame is the same picture."""
    status, out, err = run(
        capsys, "compare", tmp_path, "--against", "return:programme", "--at", "10:00:06:00", "--window", "2"
    )
    assert status == 0
    assert "note: the return is in time with the programme" in err
    (name,) = [line for line in out.splitlines() if line.endswith(".json")]
    offset = json.loads(Path(name).read_text())["offset"]
    assert offset["late_frames"] == 0
    assert [(t["late_frames"], t["identical"]) for t in offset["tried"]] == [
        (-2, False), (-1, False), (0, True), (1, False), (2, False),
    ]  # fmt: skip
    assert offset["tried"][1]["psnr_db"] == pytest.approx(48.1308)


def test_compare_off_air_says_that_two_views_are_compared(capsys, tmp_path):
    status, _, err = run(
        capsys,
        "compare",
        tmp_path,
        "--against",
        "return:programme",
        "--camera",
        "CAM1",
        "--at",
        "10:00:06:00",
    )
    assert status == 0
    assert "note: CAM1 is off air" in err


def test_compare_a_run_writes_a_table_and_a_plot(capsys, tmp_path, studio):
    status, out, _ = run(
        capsys, "compare", tmp_path, "--against", "programme:programme-as-shot",
        "--from", "10:00:03:20", "--to", "10:00:04:05", "--every", "3",
    )  # fmt: skip
    assert status == 0
    table, plot = out.splitlines()
    assert os.path.basename(table) == "10-00-03-20_10-00-04-04_programme-against-programme-as-shot.csv"
    with open(table, newline="") as file:
        rows = list(csv.DictReader(file))
    assert [row["frame"] for row in rows] == ["95", "98", "101", "104"]
    assert [row["on_air"] for row in rows] == ["CAM1", "CAM1", "CAM2", "CAM2"]
    assert {row["whole_psnr_db"] for row in rows} == {"inf"}
    assert {row["set_psnr_db"] for row in rows} == {""}
    assert Image.open(plot).size == (1366, 820)
    assert studio[0].asked == [95, 98, 101, 104]
    assert [e["media"] for e in manifest(tmp_path)["files"]] == ["table", "plot"]
    assert {e["every"] for e in manifest(tmp_path)["files"]} == {3}


def test_compare_a_run_as_json_has_every_row(capsys, tmp_path):
    status, out, err = run(
        capsys, "compare", tmp_path, "--against", "return:programme", "--from", "10:00:05:00",
        "--to", "10:00:05:08", "--window", "2", "--json",
    )  # fmt: skip
    assert (status, err) == (0, "")
    data = json.loads(out)
    assert [row["frame"] for row in data["rows"]] == list(range(125, 134))
    assert (data["offset"]["late_frames"], data["offset"]["frames"]) == (0, 5)


def test_memory_does_not_grow_with_a_run(capsys, tmp_path, studio):
    pair = ("--against", "return:as-shot")
    assert run(capsys, "compare", tmp_path, *pair, "--from", "10:00:01:00", "--to", "10:00:02:00")[0] == 0
    assert studio[0].most_alive <= 3


@pytest.mark.parametrize(
    "options, part",
    [
        (("--against", "return:programe", "--at", "10:00:01:00"), "did you mean 'return:programme'"),
        (("--against", "return:as-shot"), "Name one with --at"),
        (("--against", "return:as-shot", "--at", "10:00:01:00", "--to", "10:00:02:00"), "--at is one frame"),
        (("--against", "return:as-shot", "--at", "10:00:01:00", "--every", "2"), "--at is one frame"),
        (("--against", "return:as-shot", "--at", "10:00:59:00"), "outside the rundown"),
        (
            ("--against", "return:as-shot", "--camera", "CAM9", "--at", "10:00:01:00"),
            "no camera of this show",
        ),
        (("--against", "return:as-shot", "--from", "10:00:02:00", "--to", "10:00:01:00"), "exchange them"),
        (("--against", "return:as-shot", "--at", "10:00:01:00", "--amplify", "0"), "--amplify 0"),
        (("--against", "return:as-shot", "--at", "10:00:01:00", "--amplify", "nan"), "--amplify nan"),
        (("--against", "return:as-shot", "--at", "10:00:01:00", "--wipe-at", "1.5"), "--wipe-at 1.5"),
        (("--against", "return:programme", "--at", "10:00:01:00", "--window", "0"), "--window 0"),
        (("--against", "return:as-shot", "--from", "10:00:01:00", "--every", "0"), "--every"),
    ],
)
def test_a_wrong_option_is_one_sentence_and_nothing_is_drawn(capsys, tmp_path, studio, options, part):
    status, out, err = run(capsys, "compare", tmp_path / "new", *options)
    assert (status, out) == (2, "")
    assert part in err and len(err.splitlines()) == 1
    assert not studio and not (tmp_path / "new").exists()


def test_return_asks_for_a_camera_and_a_frame(capsys, tmp_path):
    status, _, err = run(capsys, "return", tmp_path, "--at", "10:00:01:00")
    assert status == 2 and "--camera" in err
    status, _, err = run(capsys, "return", tmp_path, "--camera", "CAM3", "--at", "10:00:01:00")
    assert status == 2 and "no camera of this show" in err


def test_an_error_in_a_frame_names_it_and_loses_no_finished_file(capsys, tmp_path, studio):
    arguments = ("--against", "return:as-shot", "--at", "10:00:05:00")
    assert run(capsys, "compare", tmp_path, *arguments)[0] == 0
    before = {path.name: path.read_bytes() for path in tmp_path.iterdir() if path.suffix != ".json"}

    def fail(frame, kind):
        raise ZeroDivisionError("a fault")

    studio.before = staticmethod(fail)
    status, _, err = run(capsys, "compare", tmp_path, *arguments)
    assert status == 1
    assert "internal error in frame 125 (10:00:05:00): ZeroDivisionError: a fault" in err
    assert {p.name: p.read_bytes() for p in tmp_path.iterdir() if p.suffix != ".json"} == before
    assert not list(tmp_path.glob(".unfinished*"))


def test_a_folder_that_cannot_be_written_is_a_sentence(capsys, tmp_path):
    blocked = tmp_path / "file"
    blocked.write_text("")
    status, _, err = run(capsys, "return", blocked, "--camera", "CAM1", "--at", "10:00:01:00")
    assert status == 1 and "choose another" in err


def test_a_user_error_in_a_frame_says_where(capsys, tmp_path, studio):
    def fail(frame, kind):
        raise OutputError("disk", "is full", "make room")

    studio.before = staticmethod(fail)
    status, _, err = run(capsys, "compare", tmp_path, "--against", "return:as-shot", "--at", "10:00:05:00")
    assert status == 1
    assert "while drawing 10:00:05:00" in err


def test_two_runs_share_one_manifest(capsys, tmp_path):
    pair = ("--against", "return:as-shot")
    run(capsys, "return", tmp_path, "--camera", "CAM1", "--at", "10:00:01:00")
    run(capsys, "compare", tmp_path, *pair, "--at", "10:00:01:00")
    document = manifest(tmp_path)
    assert len(document["files"]) == 3 + 4
    assert {entry["run"] for entry in document["files"]} == {1, 2}
