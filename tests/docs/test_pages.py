"""What README.md and DEVELOPERS.md say is so: commands run, lists are complete, files exist."""

import re
import shlex
import tomllib
from functools import partial
from pathlib import Path

import pytest
import typer

from preview import cli
from preview.checks.registry import all_checks
from preview.frame import KINDS, Studio
from preview.moire.proof import prove
from preview.show.model import ShowFile
from preview.show.thresholds import Checks
from tests.fake_studio import FakeStudio

ROOT = Path(__file__).resolve().parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
INSTALL_AND_DEMO = "bash .ci/install && .venv/bin/preview demo"
INSTALL_AND_TEST = "bash .ci/install test && .venv/bin/python -m pytest -n 2"


def blocks(page, language):
    return re.findall(rf"^```{language}\n(.*?)^```", page, re.MULTILINE | re.DOTALL)


def section(page, title):
    return re.search(rf"^## {re.escape(title)}\n(.*?)(?=^## |\Z)", page, re.MULTILINE | re.DOTALL)[1]


def rows(text):
    """Cells of each table row below its head."""
    return [
        [cell.strip() for cell in line.strip("| ").split(" | ")]
        for line in re.findall(r"^\|(?! ---).*$", text, re.MULTILINE)
    ]


def in_code(text):
    return re.findall(r"`([^`\n]+)`", text)


def command_lines():
    """Every ``preview ...`` line of the README, comments cut off."""
    for block in blocks(README, "sh"):
        for line in block.splitlines():
            words = shlex.split(line, comments=True)
            if words and words[0] == "preview":
                yield words[1:]


def parameters(name):
    return {option for p in commands()[name].params for option in p.opts if option.startswith("--")} - {
        "--help"
    }


def commands():
    return typer.main.get_command(cli.app).commands


def test_the_job_comes_first_then_exactly_two_commands():
    title, first, *_ = [part for part in README.split("\n\n") if part.strip()]
    assert title.startswith("# ")
    assert len(first.split()) > 60
    assert "```" not in first
    assert [block.strip() for block in blocks(README, "sh")[:2]] == [INSTALL_AND_DEMO, INSTALL_AND_TEST]


def test_what_a_change_must_pass_is_the_readmes_own_test_command():
    lines = (ROOT / ".ci" / "run").read_text(encoding="utf-8").splitlines()
    assert INSTALL_AND_TEST in lines
    assert "set -euo pipefail" in lines
    assert not any("||" in line for line in lines), "no step may be let off"


def test_every_command_line_runs(capsys, tmp_path, monkeypatch):
    """In order, in an empty folder, with a studio that draws flat pictures: what they ask for is there."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("preview.frame.Studio", lambda show, size_px: FakeStudio(show, size_px))
    monkeypatch.setattr("preview.plan.suggestion.prove", partial(prove, samples=4))
    lines = list(command_lines())
    assert {words[0] for words in lines} == set(commands()), "one example of each command at least"
    for words in lines:
        if words[0] == "demo":
            assert words == ["demo"]  # run for real elsewhere
            continue
        if words[0] in ("moire", "multiview", "review"):  # need real pictures; tests of that name run them
            continue
        assert cli.main(words) == 0, (words, capsys.readouterr().err)
    assert (tmp_path / "out" / "manifest.json").is_file()
    assert len(list((tmp_path / "out").glob("*.mp4"))) == 3 + 2


def test_the_python_example_runs_as_printed(tmp_path, monkeypatch, capsys):
    (example,) = blocks(README, "python")
    monkeypatch.chdir(tmp_path)
    assert cli.main(["new", "my-show"]) == 0
    capsys.readouterr()
    exec(compile(example, "README.md", "exec"), {})
    printed = [line.split() for line in capsys.readouterr().out.splitlines()]
    assert [words[0] for words in printed] == ["return", "return", "programme"]
    assert all("(540," in words and "960," in words for words in printed)


def test_the_table_of_kinds_is_complete_and_in_order():
    table = [in_code(row[0]) for row in rows(section(README, "What you get"))]
    assert [kind for cell in table for kind in cell] == list(KINDS)
    assert all(kind in parameters_help("render", "--pictures") for kind in KINDS)


def parameters_help(command, option):
    return next(p.help for p in commands()[command].params if option in p.opts)


def test_the_table_of_options_is_complete():
    named = {
        word for row in rows(section(README, "Commands")) for code in in_code(row[0]) for word in code.split()
    }
    assert {word for word in named if word.startswith("--")} == parameters("render") - {"--out"}


def test_the_table_of_checks_is_complete_and_in_order():
    told = [row for row in rows(section(README, "Checks")) if len(row) == 2]
    own = [(check.name, check.question) for check in all_checks()]
    table = [(in_code(row[0])[0], row[1]) for row in told if in_code(row[0])]
    assert table[: len(own)] == own
    assert own, "there are checks"


def test_the_thresholds_shown_are_the_defaults():
    (example,) = blocks(section(README, "Checks"), "toml")
    defaults = Checks().model_dump()
    for table, keys in tomllib.loads(example)["checks"].items():
        assert keys.items() <= defaults[table].items()


def test_options_of_check_are_told():
    said = section(README, "Checks")
    for option in parameters("check") - {"--out", "--json", "--debug"}:
        assert f"`{option}" in said, option
    assert parameters("check") - parameters("bleed") == {"--only"}


def test_every_option_says_what_it_does():
    for name, command in commands().items():
        assert command.help, name
        for parameter in command.params:
            assert parameter.help, (name, parameter.name)


def test_the_show_files_tables_are_those_of_the_model():
    named = {
        table.strip("[]").split(".")[0]
        for row in rows(section(README, "The show file"))
        for table in in_code(row[0])
    }
    assert named <= set(ShowFile.model_fields)
    required = {name for name, field in ShowFile.model_fields.items() if field.is_required()}
    assert required - {"format"} <= named


@pytest.mark.parametrize("page", ["README.md", "DEVELOPERS.md", "renders/README.md"])
def test_files_that_a_page_names_exist(page):
    text = (ROOT / page).read_text(encoding="utf-8")
    named = {
        code
        for code in in_code(text)
        if re.fullmatch(r"(preview|tests|assets|shared|\.ci)/[\w./-]+|[A-Z]+\.md", code)
    }
    named |= set(re.findall(r"\]\(([^)#:]+)\)", text))
    missing = [name for name in sorted(named) if not (ROOT / name).exists()]
    assert not missing


def test_the_map_has_every_part():
    named = set(re.findall(r"`preview/(\w+)", section(DEVELOPERS, "The map")))
    parts = {path.stem for path in (ROOT / "preview").iterdir() if path.suffix == ".py" or path.is_dir()}
    parts -= {"__init__", "__main__", "__pycache__", "_assets", "_shared"}
    assert parts - named == set()


def test_names_that_the_developers_page_uses_exist():
    assert hasattr(Studio, "_plan")
    for name in re.findall(r"`(OWN_SIZE_KINDS|CAMERA_KINDS|KINDS)`", DEVELOPERS):
        import preview.job

        assert hasattr(preview.job, name)
