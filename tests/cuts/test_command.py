"""The command `preview cuts`, drawn for real on a small show."""

from __future__ import annotations

import json
import shutil

import pytest

from preview import cli
from tests.checks.shows import whip_show

DELAYS = "\n[delays]\nwall_switch_frames = 2\n"


@pytest.fixture(scope="module")
def show_path(tmp_path_factory):
    folder = tmp_path_factory.mktemp("show") / "whip"
    shutil.copytree(whip_show().root, folder)
    path = folder / "show.toml"
    path.write_text(path.read_text(encoding="utf-8") + DELAYS, encoding="utf-8")
    return path


def run(capsys, *words):
    status = cli.main(["cuts", *map(str, words)])
    return status, *capsys.readouterr()


def test_tables_sentences_and_files(capsys, tmp_path, show_path):
    status, out, err = run(capsys, show_path, "--out", tmp_path, "--size", "96x54", "--to", "10:00:02:00")
    assert (status, err) == (0, "")
    for part in ("Changes of camera", "2 Whip pan", "cut to CAM2", "10:00:01:02", "7 of 7", "suggested",
                 "for 2 frames (10:00:01:00 to 10:00:01:01) CAM2 is on programme with CAM1's background",
                 "hold every cut back 2 frames", "all as told", f"{tmp_path}/cuts-01.png"):  # fmt: skip
        assert part in out
    assert "Wide again" not in out, "its cue lies past --to"
    for line in out.splitlines():
        if line.startswith(str(tmp_path)):
            assert (tmp_path / line.rsplit("/", 1)[1]).stat().st_size > 0
    manifest = json.loads((tmp_path / "manifest.json").read_text(encoding="utf-8"))
    assert manifest["runs"][0]["command"].startswith("preview cuts ")


def test_json_without_pictures(capsys, tmp_path, show_path):
    status, out, err = run(capsys, show_path, "--out", tmp_path, "--no-pictures", "--json")
    assert (status, err) == (0, "")
    data = json.loads(out)
    assert [one["measures"]["wrong_frames"] for one in data["checks"][0]["findings"]] == [2, 0]
    assert [entry["name"] for entry in data["files"]] == ["cuts.csv", "cuts.json"]
    assert not list(tmp_path.glob("*.png"))


@pytest.mark.parametrize(
    "options, part",
    [
        (["--size", "big"], "--size: 'big' is not a picture size"),
        (["--from", "10:00:59:00"], '--from: "10:00:59:00" is outside the rundown'),
    ],
)
def test_a_wrong_option_is_one_sentence(capsys, tmp_path, show_path, options, part):
    status, out, err = run(capsys, show_path, "--out", tmp_path / "out", *options)
    assert (status, out) == (2, "")
    assert part in err
    assert not (tmp_path / "out").exists()
