"""`preview suggest` from the command line: a sentence, keys to write, files; status 0 all the same."""

from __future__ import annotations

import json
import xml.etree.ElementTree as ET
from functools import partial

import pytest

from preview import cli
from preview.checks.off_wall import OffWall
from preview.moire.proof import prove
from tests.starter_show import starter_path
from tests.suggest.test_search import past_the_wall


@pytest.fixture(autouse=True)
def one_check(monkeypatch):
    monkeypatch.setattr("preview.plan.suggestion.all_checks", lambda: (OffWall,))


def run(capsys, *words):
    status = cli.main(["suggest", *map(str, words)])
    return status, *capsys.readouterr()


def test_a_suggestion_is_printed_with_its_keys_and_written(capsys, tmp_path, monkeypatch):
    monkeypatch.setattr("preview.show.load.load_show", lambda path: past_the_wall())
    monkeypatch.setattr("preview.plan.suggestion.prove", partial(prove, samples=6))
    status, out, err = run(
        capsys, "show.toml", "--camera", "A", "--framing", "aside", "--out", tmp_path, "--step", "0.2"
    )
    assert status == 0, err
    lines = out.splitlines()
    assert lines[0].startswith("Move camera 1 (A) ") and lines[0].endswith("nothing found.")
    assert lines[1] == "In the show file:"
    assert lines[2].startswith('  cameras "A", framing "aside": position_m = [')
    data = json.loads((tmp_path / "suggest-A-aside.json").read_text(encoding="utf-8"))
    assert data["outcome"] == "clear" and data["sentence"] == lines[0]
    assert [f"  {line}" for line in data["change"]["show_file"]] == lines[2:-4]
    assert data["before"]["faults"] or data["before"]["compromises"]
    assert not data["after"]["faults"] and not data["after"]["compromises"]
    words = "".join(ET.parse(tmp_path / "suggest-A-aside.svg").getroot().itertext())
    assert "1 A now" in words and "1 A suggested" in words
    assert "trained operators" in err
    names = {one["name"] for one in json.loads((tmp_path / "manifest.json").read_text("utf-8"))["files"]}
    assert names == {f"suggest-A-aside{ending}" for ending in (".png", ".svg", ".json", "_synthesis.png")}


def test_nothing_to_mend_is_status_0_too(capsys, tmp_path):
    status, out, err = run(
        capsys, starter_path(), "--camera", "CAM2", "--framing", "mid shot", "--out", tmp_path, "--json"
    )
    assert status == 0, err
    data = json.loads(out)
    assert data["outcome"] == "needless" and data["change"] is None
    assert [one["name"] for one in data["files"]] == [
        f"suggest-CAM2-mid-shot.{ending}" for ending in ("png", "svg", "json")
    ]


@pytest.mark.parametrize(
    "names, part",
    [
        (("CAM3", "wide"), "--camera: 'CAM3' is no camera"),
        (("CAM1", "mid shot"), "--framing: 'mid shot' is no framing of CAM1; there are wide"),
    ],
)
def test_wrong_names_are_sentences(capsys, tmp_path, names, part):
    status, out, err = run(
        capsys, starter_path(), "--camera", names[0], "--framing", names[1], "--out", tmp_path / "out"
    )
    assert (status, out) == (2, "")
    assert part in " ".join(err.split())
    assert not (tmp_path / "out").exists()
