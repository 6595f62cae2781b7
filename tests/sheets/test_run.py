"""Sheets as files: PDF pages of the right size with text that can be searched, PNG, and the list of both."""

from __future__ import annotations

import json
import re
from itertools import combinations

import numpy as np
import pytest
import typer
from matplotlib import rc_context
from PIL import Image
from pypdf import PdfReader
from typer.testing import CliRunner

from preview import commands_sheets
from preview.errors import FrameFailed, RequestError
from preview.sheets.findings import SheetWarning
from preview.sheets.page import sheet_pages
from preview.sheets.resolve import shot_sheet
from preview.sheets.run import write_sheets
from preview.timeline.timeline import Timeline
from tests.fake_studio import FakeStudio, replace_studio
from tests.sheets.shows import build, cameras, shot
from tests.starter_show import starter_path

LONG = "W" * 40
SENTENCE = (
    "The camera's picture shows something that nobody wants on air, from 10:00:00:00 to 10:00:01:24. " * 3
)


def full_show():
    """Long names, accents, a move that is under way at both ends, late returns, a note with dollars."""
    made = cameras()
    made[1]["name"] = LONG
    made[1]["framings"][0]["name"] = made[1]["moves"][0]["start"] = LONG
    made[1]["operator"] = "Très long nom d'opérateur " * 4
    made[1]["delays"] = {"return_frames": 4}
    rundown = [
        shot("Before", "Studio 1", 100, cameras={LONG: {"move": "drop", "after_s": 2.0}}),
        shot(LONG, LONG, 100, note="Où est l'été ? It costs $5 or $6, čtyři žluté, пять.\n" * 3),
        shot("After", "Studio 1", 100, transition="mix", mix_frames=18),
    ]
    return build(rundown, made, show={"title": "A title that goes on and on, as titles do, for ever " * 2})


def write(show, folder, **keys):
    opened = []

    def open_studio(show, size_px):
        opened.append(FakeStudio(show, size_px))
        return opened[-1]

    return write_sheets(show, folder, open_studio=open_studio, **keys), opened


def pages_of(show, camera, paper="a4", **keys):
    made = shot_sheet(show, Timeline(show), camera, **keys)
    stills = {one.frame: np.full((36, 64, 3), 90, np.uint8) for of in made.shots for one in of.stills}
    return sheet_pages(made, stills, paper)


def warnings(camera):
    return [SheetWarning(camera, number, grade, SENTENCE, "moire")
            for number in (0, 1, 2) for grade in ("fault", "compromise")]  # fmt: skip


@pytest.fixture(scope="module")
def written(tmp_path_factory):
    """The full show on A4."""
    folder = tmp_path_factory.mktemp("sheets")
    return write(full_show(), folder, warnings=warnings("Studio 1"), command="preview sheets x")[0]


def text_of(path):
    return "\n".join(page.extract_text() for page in PdfReader(path).pages)


def sizes_pt(path):
    return {(float(page.mediabox.width), float(page.mediabox.height)) for page in PdfReader(path).pages}


def test_the_pdf_is_pages_of_text(written):
    path = written.folder / "sheet-Studio-1.pdf"
    reader, made = PdfReader(path), written.data["sheets"][0]
    assert len(reader.pages) == made["pages"] > 1
    assert len(list(written.folder.glob("sheet-Studio-1-*.png"))) == made["pages"]
    # ISO 216, A4: 210 mm x 297 mm; 72 points an inch.
    (size,) = sizes_pt(path)
    assert size == pytest.approx((210 / 25.4 * 72, 297 / 25.4 * 72), abs=0.1)
    for number, page in enumerate(reader.pages, start=1):
        text = page.extract_text()
        assert f"page {number} of {made['pages']}" in text and "Studio 1" in text
        fonts = page["/Resources"]["/Font"]
        assert len(fonts) >= 2
        for font in fonts.values():
            inside = font.get_object()["/DescendantFonts"][0].get_object()["/FontDescriptor"].get_object()
            assert inside["/FontFile2"].get_object().get_data(), "an embedded TrueType font"
    text = text_of(path)
    # By hand: see tests/sheets/test_resolve.py.
    for word in (
        "36.9° right",
        "4.6° down",
        "5.02 m",
        "25.0 mm",
        "T4",
        "1.50 m",
        "10:00:08:00",
        "Zoë Ångström",
    ):
        assert word in text, word
    assert text.count("FAULT") == 3
    assert not {"/CreationDate", "/ModDate"} & set(reader.metadata)


def test_letter_paper(tmp_path):
    write(build([shot("A", "Crane", 50)]), tmp_path, cameras=["Studio 1"], paper="letter")
    # ASME Y14.1, size A: 8.5 in x 11 in, from memory.
    assert sizes_pt(tmp_path / "sheet-Studio-1.pdf") == {(612.0, 792.0)}
    assert Image.open(tmp_path / "sheet-Studio-1-01.png").size == (1275, 1650)


def test_a_jibs_sheet_holds_its_arm_and_its_caution(written):
    text = text_of(written.folder / f"sheet-{LONG}.pdf")
    for word in ("30.0° left", "20.0° up", "20.0° left", "12.5° up", "10.0° right", "10.0° down", "2.72 m"):
        assert word in text, word
    assert "Trained operators only" in text and "4 frames (160 ms) late" in text
    assert "no warnings here does not mean" in " ".join(text.split())
    assert "It costs $5 or $6, čtyři žluté, пять." in text
    assert "MOVE STARTS" in text and "ON AIR UNTIL" in text


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_nothing_leaves_the_page_and_no_words_lie_on_others(paper):
    show = full_show()
    for camera in ("Studio 1", LONG) if paper == "a4" else (LONG,):
        for page in pages_of(show, camera, paper, warnings=warnings(camera)):
            renderer, mm = page.figure.canvas.get_renderer(), 25.4 / page.figure.dpi
            with rc_context({"text.hinting": "none"}):  # as the page is drawn
                boxes = [(one.get_text(), one.get_window_extent(renderer)) for one in page.figure.texts]
            for words, box in boxes:
                assert box.x0 * mm >= 10 and box.x1 * mm <= page.width_mm - 10, words
                assert box.y0 * mm >= 5 and box.y1 * mm <= page.height_mm - 5, words
            for (words, a), (others, b) in combinations(boxes, 2):
                across = min(a.x1, b.x1) - max(a.x0, b.x0)
                down = min(a.y1, b.y1) - max(a.y0, b.y0)
                assert across * mm < 0.2 or down * mm < 0.6, (words, others)


def test_forty_shots_come_each_once_and_in_order():
    rundown = [shot(f"Shot {n}", ("Studio 1", "Crane")[n % 2], 30) for n in range(80)]
    made = pages_of(build(rundown), "Studio 1")
    large = [
        one.get_text()
        for page in made
        for one in page.figure.texts
        if one.get_fontsize() == 38 and one.get_ha() == "left"
    ]
    assert large == [str(number) for number in range(1, 80, 2)]
    places = [
        one.get_text()
        for page in made
        for one in page.figure.texts
        if re.fullmatch(r"page \d+ of \d+", one.get_text())
    ]
    assert places == [f"page {n} of {len(made)}" for n in range(1, len(made) + 1)]
    assert 13 < len(made) < 41


def test_a_camera_without_shots_has_a_page_that_says_so_and_draws_nothing(tmp_path):
    report, opened = write(build([shot("A", "Crane", 50)]), tmp_path, cameras=["Studio 1"])
    (page,) = PdfReader(tmp_path / "sheet-Studio-1.pdf").pages
    assert "No shots" in page.extract_text()
    assert report.data["sheets"][0]["pages"] == 1 and not opened
    listed = json.loads((tmp_path / "manifest.json").read_text(encoding="utf-8"))
    assert listed["runs"][0]["finished"] and listed["runs"][0]["graphics"] == "no pictures drawn"


@pytest.fixture
def no_pdf(monkeypatch):
    """Leaves out what takes longest where a test is not about it."""
    monkeypatch.setattr("preview.sheets.run.as_pdf", lambda pages, title, subject: b"%PDF")


def test_a_late_return_is_drawn_when_it_arrives(tmp_path, no_pdf):
    made = cameras()
    made[0]["delays"] = {"return_frames": 4}
    show = build([shot("A", "Studio 1", 50), shot("B", "Crane", 50), shot("C", "Studio 1", 5)], made)
    _, (studio,) = write(show, tmp_path, cameras=["Studio 1"])
    assert studio.asked == [24 + 4, 104], "the rundown ends before the last one arrives"
    assert studio.closed and studio.size_px == (640, 360)


def test_files_are_listed_and_the_same_again(written, tmp_path):
    listed = json.loads((written.folder / "manifest.json").read_text(encoding="utf-8"))
    names = {path.name for path in written.folder.iterdir()} - {"manifest.json"}
    assert {one["name"] for one in listed["files"]} == names == {one.name for one in written.files}
    assert {one["kind"] for one in listed["files"]} == {"shot-sheet"}
    assert listed["runs"][0]["command"] == "preview sheets x"
    for name in names:
        if name.endswith(".png"):
            assert list(Image.open(written.folder / name).size) == listed["files"][0]["size_px"]
    write(full_show(), tmp_path, cameras=[LONG])
    for path in tmp_path.glob("sheet-*"):
        assert path.read_bytes() == (written.folder / path.name).read_bytes(), path.name
    json.dumps(written.data, allow_nan=False)


def test_a_frame_that_fails_is_named_and_leaves_no_sheet(tmp_path):
    def breaks(frame, kind):
        raise RuntimeError("broken")

    show = build([shot("A", "Crane", 50)])
    with pytest.raises(FrameFailed, match="10:00:00:24"):
        write_sheets(show, tmp_path, open_studio=lambda show, size: FakeStudio(show, size, breaks))
    assert not list(tmp_path.glob("sheet-*"))


@pytest.fixture
def run(monkeypatch):
    replace_studio(monkeypatch)
    app = typer.Typer()
    app.command("other")(lambda: None)
    commands_sheets.add_commands(app, lambda: ["preview", "sheets"])
    return lambda *words: CliRunner().invoke(app, ["sheets", *map(str, words)])


def test_the_command_writes_and_tells(run, tmp_path, no_pdf):
    result = run(starter_path(), "--out", tmp_path, "--camera", "CAM2", "--paper", "letter")
    assert result.exit_code == 0, result.exception
    lines = result.stdout.splitlines()
    assert lines[0].startswith("2 CAM2: 1 shot on ")
    assert {line.rsplit("/", 1)[1] for line in lines[1:]} == {path.name for path in tmp_path.glob("sheet-*")}
    data = json.loads(run(starter_path(), "--out", tmp_path, "--camera", "CAM1,CAM1", "--json").stdout)
    assert [one["camera"] for one in data["sheets"]] == ["CAM1"]
    listed = json.loads((tmp_path / "manifest.json").read_text(encoding="utf-8"))
    assert {one["subject"] for one in listed["files"]} == {"CAM1", "CAM2"}, "earlier sheets stay"


@pytest.mark.parametrize(
    "options, said",
    [
        (["--camera", "CAM9"], "--camera: 'CAM9' is no camera"),
        (["--paper", "A5"], "--paper: 'A5' is no paper"),
        (["--checks", "none.json"], "--checks: none.json cannot be read"),
    ],
)
def test_wrong_options_are_sentences_and_write_nothing(run, tmp_path, options, said):
    result = run(starter_path(), "--out", tmp_path / "out", *options)
    assert isinstance(result.exception, RequestError) and said in str(result.exception)
    assert not (tmp_path / "out").exists()
