"""The commands `preview check` and `preview bleed`: tables on a terminal, one JSON document, sentences."""

from __future__ import annotations

import json

import pytest
from rich.console import Console

from preview import cli, terminal
from preview.report.run import Asked, report_checks
from tests.checks.shows import whip_show
from tests.fake_studio import FakeStudio, replace_studio
from tests.report.checks import ALL


@pytest.fixture(autouse=True)
def own_checks(monkeypatch):
    monkeypatch.setattr("preview.checks.registry.all_checks", lambda: ALL)


@pytest.fixture
def studio(monkeypatch):
    return replace_studio(monkeypatch)


def run(capsys, *words):
    status = cli.main([*map(str, words)])
    return status, *capsys.readouterr()


def check(capsys, out, *options):
    return run(capsys, "check", whip_show().path, "--out", out, "--no-remedies", *options)


def test_a_verdict_then_faults_then_compromises_then_files(capsys, tmp_path, studio):
    status, out, err = check(capsys, tmp_path, "--every", "20")
    assert (status, err) == (0, "")
    lines = out.splitlines()
    assert lines[0].startswith("1 fault, 2 compromises in 3 checks; 10 of 100 frames looked at (1 in 20")
    order = [
        "Faults: would be seen", "×  stripe", "2 Whip pan", "Compromises: are seen",
        "CAM2 shows a stripe off air.", "◐  drawn", "Looked at and right", "○ clean: Is all well?",
        "Before you rely on it",
        "- Stripes can be tripped over", "[checks]", f"{tmp_path}/check-stripe-02.png",
    ]  # fmt: skip
    at = [out.index(part) for part in order]
    assert at == sorted(at)
    for line in lines:
        if line.startswith(str(tmp_path)):
            assert (tmp_path / line.rsplit("/", 1)[1]).stat().st_size > 0
    manifest = json.loads((tmp_path / "manifest.json").read_text(encoding="utf-8"))
    assert manifest["runs"][0]["command"].startswith("preview check ")


@pytest.mark.parametrize("width", [80, 100, 120])
def test_lines_fit_the_terminal(capsys, tmp_path, monkeypatch, width):
    data = report_checks(
        whip_show(), tmp_path, Asked("checks", ALL, ALL, every=50), open_studio=FakeStudio
    ).data
    long = "The arm of the jib crosses the picture from the left edge to the middle while the move runs. " * 3
    for finding in data["checks"][0]["findings"]:
        finding["sentence"], finding["remedy"] = long, long
    data["show"]["path"] = "show.toml"
    monkeypatch.setattr(terminal, "out", lambda: Console(highlight=False, width=width))
    terminal.print_checks(data)
    out = capsys.readouterr().out
    assert max(map(len, out.splitlines())) <= width
    assert out.count("crosses") == 2 * 2 * 3, "every word of both sentences and remedies is there, whole"
    assert out.count("10:00:01:05") == 1 and "remedy:" in out


def test_json_is_one_document_equal_to_the_file(capsys, tmp_path, studio):
    status, out, err = check(capsys, tmp_path, "--json", "--only", "clean,stripe", "--every", "50")
    assert (status, err) == (0, "")
    data = json.loads(out)
    written = json.loads((tmp_path / "checks.json").read_text(encoding="utf-8"))
    assert {name: data[name] for name in written} == written
    assert set(data) - set(written) == {"folder", "files"}
    assert [one["check"] for one in data["checks"]] == ["stripe", "clean"]
    assert data["not_looked_at"][0]["why"] == "not asked for"


def test_without_pictures_no_studio_is_opened(capsys, tmp_path, studio):
    status, out, _ = check(capsys, tmp_path, "--no-pictures", "--from", "10:00:00:00", "--to", "10:00:00:10")
    assert status == 0 and not studio
    assert "- drawn: it needs pictures" in out
    assert not list(tmp_path.glob("*.png"))


@pytest.mark.parametrize(
    "options, part",
    [
        (["--only", "strip"], "did you mean 'stripe'?"),
        (["--only", "zebra"], "'zebra' is no check; there are stripe, clean, drawn"),
        (["--only", "drawn", "--no-pictures"], "--no-pictures leaves nothing to look at: drawn needs"),
        (["--every", "0"], "--every: '0' is not a whole number of at least 1"),
        (["--from", "10:00:59:00"], '--from: "10:00:59:00" is outside the rundown'),
        (["--from", "10:00:02:00", "--to", "10:00:01:00"], "is before --from"),
    ],
)
def test_a_wrong_option_is_one_sentence(capsys, tmp_path, studio, options, part):
    status, out, err = check(capsys, tmp_path / "out", *options)
    assert (status, out) == (2, "")
    assert part in err and len(err.splitlines()) == 1
    assert not studio
    assert not list((tmp_path / "out").glob("*")), "nothing is written"


def test_a_folder_that_cannot_be_is_told_before_looking(capsys, tmp_path, studio):
    (tmp_path / "taken").write_text("mine")
    status, out, err = check(capsys, tmp_path / "taken")
    assert (status, out) == (1, "") and "a file stands where" in err
    assert not studio


def test_bleed_is_a_report_of_its_own(capsys, tmp_path, studio, monkeypatch):
    class Bleed(ALL[0]):
        name = "bleed"

    monkeypatch.setattr("preview.checks.registry.all_checks", lambda: (Bleed, *ALL))
    status, out, err = run(
        capsys, "bleed", whip_show().path, "--out", tmp_path, "--every", "50", "--no-remedies", "--json"
    )
    assert (status, err) == (0, "")
    data = json.loads(out)
    names = [entry["name"] for entry in data["files"]]
    assert {"bleed.json", "bleed-timeline.png", "check-bleed.png", "bleed.csv"} <= set(names)
    assert data["not_looked_at"] == []


def test_an_internal_error_names_the_frame_and_how_to_see_it(capsys, tmp_path, studio, monkeypatch):
    class Broken(ALL[0]):
        def see(self, look):
            raise RuntimeError("no sight")

    monkeypatch.setattr("preview.checks.registry.all_checks", lambda: (Broken,))
    status, out, err = check(capsys, tmp_path)
    assert (status, out) == (1, "")
    assert "internal error in frame 0 (10:00:00:00): RuntimeError: no sight" in err and "--debug" in err
