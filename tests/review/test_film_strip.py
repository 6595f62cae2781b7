"""Film strips: every frame has its picture, its timecode and a mark that is a shape, a word and a colour."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from preview.review import film_strip
from preview.review.film_strip import (
    MARK_COLOR,
    MARK_WORD,
    STRIPS_PER_PAGE,
    WIDTH_PX,
    Strip,
    StripFrame,
    cell_picture,
    film_strip_pages,
)


def flat(level, shape=(90, 160)):
    return np.full((*shape, 3), level, np.uint8)


def column(number, mark="own", wall=True):
    return StripFrame(
        timecode=f"10:00:00:{number:02d}", place="cut" if number == 3 else f"{number - 3:+d}", mark=mark,
        as_shot=cell_picture(flat(60 + number)), programme=cell_picture(flat(100 + number)),
        wall=cell_picture(flat(140 + number, (60, 200))) if wall else None,
        caption="CAM1", compared="the same", wall_caption="for CAM1",
    )  # fmt: skip


def strip(marks="ooowooo", **changes):
    names = {"o": "own", "w": "wrong", "m": "mix"}
    frames = tuple(column(number, names[letter]) for number, letter in enumerate(marks))
    return replace(
        Strip("2  Welcome: cut to CAM2", "1 wrong frame", "wrong", "A sentence.", frames), **changes
    )


@pytest.fixture
def written(monkeypatch):
    """Every line of text that goes on a page."""
    lines = []
    write = film_strip.write

    def note(sheet, text, *args, **kwargs):
        lines.append(text)
        return write(sheet, text, *args, **kwargs)

    monkeypatch.setattr(film_strip, "write", note)
    return lines


def test_every_picture_is_there_once_and_in_order():
    (page,) = film_strip_pages([strip()], "heading", "Wall")
    assert page.shape[1] == WIDTH_PX
    for first in (60, 100, 140):
        lefts = []
        for number in range(7):
            rows, columns = np.nonzero((page == first + number).all(axis=2))
            assert len(rows) > 5000, first + number
            lefts.append(int(np.median(columns)))
        assert lefts == sorted(lefts)


def test_wrong_frames_have_a_word_a_shape_and_a_colour(written):
    (right,) = film_strip_pages([strip("ooooooo", mark="own", verdict="clean")], "heading", "Wall")
    legend_only = [line for line in written if line == "WRONG"]
    assert not legend_only
    written.clear()
    (wrong,) = film_strip_pages([strip("ooowooo")], "heading", "Wall")
    assert written.count(MARK_WORD["wrong"]) == 1
    color = np.array(MARK_COLOR["wrong"])
    seen = [(page == color).all(axis=2).sum() for page in (right, wrong)]
    assert seen[1] > seen[0] + 2000, "a border round the picture"


def test_shapes_differ_without_colour():
    """Drawn in one colour, the three marks are still three different drawings."""
    from PIL import Image

    drawn = []
    for mark in ("own", "wrong", "mix"):
        sheet = Image.new("RGB", (40, 40), film_strip.PAPER)
        film_strip._shape(sheet, mark, (10, 20), 20)
        drawn.append((np.asarray(sheet) == np.array(MARK_COLOR[mark])).all(axis=2))
    for one, other in ((0, 1), (0, 2), (1, 2)):
        assert (drawn[one] ^ drawn[other]).sum() > 60


def test_timecode_place_and_sentence_are_under_the_pictures(written):
    film_strip_pages([strip(sentence="word " * 60)], "heading", "Back wall")
    for number in range(7):
        assert f"10:00:00:{number:02d}" in written
    assert {"-3", "cut", "+3", "as shot", "programme", "wall", "Back wall", "2  Welcome: cut to CAM2"} <= set(
        written
    )
    told = [line for line in written if line.startswith("word")]
    assert len(told) > 1, "a long sentence takes more lines"
    assert " ".join(told) == ("word " * 60).strip()


def test_long_rundowns_take_more_pages(written):
    pages = film_strip_pages([strip()] * (2 * STRIPS_PER_PAGE + 1), "Show", "Wall")
    assert len(pages) == 3
    assert pages[0].shape[0] > 2 * pages[2].shape[0]
    assert [line for line in written if "page" in line] == [f"Show   page {n} of 3" for n in (1, 2, 3)]
    assert film_strip_pages([], "Show", "Wall") == []


def test_a_strip_with_fewer_frames_or_no_wall_still_fits():
    short = Strip("t", "clean", "own", "s", (column(0, wall=False), column(1, wall=False)))
    (page,) = film_strip_pages([short], "heading", "Wall")
    (full,) = film_strip_pages([strip()], "heading", "Wall")
    assert page.shape[0] < full.shape[0]


def test_cells_keep_the_pictures_shape():
    for size in ((90, 160), (360, 640), (300, 300), (40, 400)):
        cell = cell_picture(flat(9, size))
        assert cell.shape[1] == film_strip._CELL
        assert cell.shape[0] == pytest.approx(film_strip._CELL * size[0] / size[1], abs=0.51)
