"""What a user sees of kept pictures: counts after a run, and the command that shows and clears them."""

import json

import pytest

from preview import cli
from preview.kept.pictures import FOLDER_VARIABLE, LIMIT_VARIABLE
from tests.kept.small_show import write_show

STILLS = ["--at", "10:00:00:03", "--at", "10:00:00:17", "--pictures", "return", "--cameras", "far,side"]


@pytest.fixture(scope="module")
def show(tmp_path_factory):
    return str(write_show(tmp_path_factory.mktemp("show")))


def told(capsys):
    return json.loads(capsys.readouterr().out)


def test_runs_say_what_they_reused(show, tmp_path, capsys, monkeypatch):
    monkeypatch.setenv(FOLDER_VARIABLE, str(tmp_path / "kept"))
    run = ["render", show, "--out", str(tmp_path / "out"), *STILLS]
    assert cli.main([*run, "--json"]) == 0
    first = told(capsys)
    assert (first["picture_count"], first["reused_count"]) == (4, 0)
    stills = {
        name: (tmp_path / "out" / name).read_bytes() for name in (one["name"] for one in first["files"])
    }

    assert cli.main([*run, "--json"]) == 0
    second = told(capsys)
    assert (second["picture_count"], second["reused_count"]) == (4, 4)
    assert {name: (tmp_path / "out" / name).read_bytes() for name in stills} == stills
    (entry,) = json.loads((tmp_path / "out" / "manifest.json").read_text())["runs"]
    assert "4 of 4 pictures were kept ones, not drawn again" in entry["notes"]

    assert cli.main(["kept", "--json"]) == 0
    kept = told(capsys)
    assert (kept["folder"], kept["pictures"], kept["removed"]) == (str(tmp_path / "kept"), 4, False)
    assert kept["bytes"] == sum(path.stat().st_size for path in (tmp_path / "kept").rglob("*.kept"))

    assert cli.main([*run, "--no-kept"]) == 0
    assert "0 of 4 pictures reused" in " ".join(capsys.readouterr().err.split())

    assert cli.main(["kept", "--clear"]) == 0
    assert capsys.readouterr().out.splitlines()[-1].startswith("4 pictures removed")
    assert cli.main(["kept"]) == 0
    assert capsys.readouterr().out == f"{tmp_path / 'kept'}\n0 pictures kept, 0 MB; at most 8 GB are kept\n"


def test_what_goes_wrong_with_the_folder_is_a_note_and_no_failure(show, tmp_path, capsys):
    """A folder in which nothing can be made, for root either."""
    run = [
        "render",
        show,
        "--out",
        str(tmp_path / "out"),
        "--kept",
        "/proc/kept",
        *STILLS[:2],
        *STILLS[4:],
        "--json",
    ]
    assert cli.main(run) == 0
    result = told(capsys)
    assert (result["picture_count"], result["reused_count"]) == (2, 0)
    assert [note for note in result["notes"] if note.startswith("/proc/kept: no more pictures are kept")]


@pytest.mark.parametrize(
    "words, variables, sentence",
    [
        (["--kept", "a", "--no-kept"], {}, "--kept and --no-kept exclude each other"),
        ([], {LIMIT_VARIABLE: "big"}, f"{LIMIT_VARIABLE}: 'big' is no size in gigabytes; write such as 8"),
        (["--kept", "show.toml"], {}, "a file stands where kept pictures should go"),
    ],
)
def test_wrong_options_are_told_before_anything_is_drawn(
    show, tmp_path, capsys, monkeypatch, words, variables, sentence
):
    monkeypatch.chdir(show.rsplit("/", 1)[0])
    for name, value in variables.items():
        monkeypatch.setenv(name, value)
    assert cli.main(["render", show, "--out", str(tmp_path / "out"), *words]) == 2
    assert sentence in " ".join(capsys.readouterr().err.split())
    assert not (tmp_path / "out").exists()
