"""The manifest lists what is there, whoever wrote it, and never loses an earlier run's files."""

import hashlib
import json

import pytest

from preview.errors import OutputError
from preview.review.manifest import NAME, FileEntry, Manifest, RunEntry


def run_entry(command="preview render a"):
    return RunEntry("show.toml", "ab" * 32, "Early Beans", command, "25", (64, 36), (0, 9), "a driver")


def write(folder, name, data=b"x"):
    (folder / name).write_bytes(data)
    return FileEntry(
        name, "still", "return", "CAM1", (64, 36), "10:00:00:00", "10:00:00:00", (0, 0), ("Opening",)
    )


def read(folder):
    return json.loads((folder / NAME).read_text())


def run(folder, *names, command="preview render a", finish=True):
    manifest = Manifest(folder, run_entry(command))
    for name in names:
        manifest.add(write(folder, name, name.encode() + command.encode()))
    if finish:
        manifest.finish()


def listed(folder):
    return {entry["name"]: entry["run"] for entry in read(folder)["files"]}


def test_a_file_is_listed_with_its_size_and_digest(tmp_path):
    run(tmp_path, "a.png")
    (entry,) = read(tmp_path)["files"]
    data = (tmp_path / "a.png").read_bytes()
    assert entry["bytes"] == len(data)
    assert entry["sha256"] == hashlib.sha256(data).hexdigest()
    assert (entry["kind"], entry["subject"], entry["shots"]) == ("return", "CAM1", ["Opening"])


def test_a_second_run_adds_and_the_first_runs_files_stay(tmp_path):
    run(tmp_path, "a.png", command="first")
    run(tmp_path, "b.png", command="second")
    assert listed(tmp_path) == {"a.png": 1, "b.png": 2}
    assert {entry["run"]: entry["command"] for entry in read(tmp_path)["runs"]} == {1: "first", 2: "second"}


def test_a_file_made_again_belongs_to_the_newer_run(tmp_path):
    run(tmp_path, "a.png", "b.png", command="first")
    run(tmp_path, "b.png", command="second")
    assert listed(tmp_path) == {"a.png": 1, "b.png": 2}
    data = (tmp_path / "b.png").read_bytes()
    (entry,) = [entry for entry in read(tmp_path)["files"] if entry["name"] == "b.png"]
    assert entry["sha256"] == hashlib.sha256(data).hexdigest()
    run(tmp_path, "a.png", command="third")
    assert [entry["run"] for entry in read(tmp_path)["runs"]] == [2, 3], "a run without files is dropped"


def test_a_file_that_is_gone_is_no_longer_listed(tmp_path):
    run(tmp_path, "a.png", "b.png")
    (tmp_path / "a.png").unlink()
    run(tmp_path, "c.png")
    assert set(listed(tmp_path)) == {"b.png", "c.png"}


def test_a_run_that_stops_is_seen_as_unfinished_with_what_it_made(tmp_path):
    run(tmp_path, "a.png", command="first")
    run(tmp_path, "b.png", command="second", finish=False)
    assert [entry["finished"] for entry in read(tmp_path)["runs"]] == [True, False]
    assert listed(tmp_path) == {"a.png": 1, "b.png": 2}


def test_a_run_is_noted_before_its_first_file(tmp_path):
    Manifest(tmp_path, run_entry())
    (only,) = read(tmp_path)["runs"]
    assert (only["finished"], only["ended"]) == (False, None)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "{",
        "[]",
        "{}",
        "\xff",
        '{"format": 2, "runs": [], "files": []}',
        '{"format": 1, "runs": [{}], "files": []}',
        '{"format": 1, "runs": [], "files": [{"name": "../a.png", "run": 1}]}',
    ],
)
def test_a_manifest_of_something_else_is_left_alone_and_told(tmp_path, text):
    (tmp_path / NAME).write_bytes(text.encode("latin-1"))
    with pytest.raises(OutputError, match=r"manifest.*; move it away or choose another"):
        Manifest(tmp_path, run_entry())
    assert (tmp_path / NAME).read_bytes() == text.encode("latin-1")
