"""Letters stay in their room, what belongs together stays together, and a PDF's bytes do not change."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest
from hypothesis import given
from hypothesis import strategies as st

from preview.sheets.asked import chosen_paper
from preview.sheets.lettering import fitted, missing_letters, width_mm, wrapped
from preview.sheets.paper import MOST_WASTE, PAPERS, Group, Item, Paper, over_pages

TEXT = st.text(st.sampled_from("aWi mé0:.-\n"), max_size=60)


@pytest.mark.parametrize("text", ["10:00:00:00", "Façade – Žižkov, Wall", "WWW iii"])
@pytest.mark.parametrize("bold", [False, True])
def test_widths_are_those_that_the_drawing_library_draws(text, bold):
    paper = Paper(PAPERS["a4"])
    paper.text(20, 40, text, 20, bold)
    paper.png("")
    (drawn,) = paper.figure.texts
    extent = drawn.get_window_extent(paper.figure.canvas.get_renderer())
    # Ink ends a little inside of the pen's way.
    assert width_mm(text, 20, bold) == pytest.approx(extent.width / paper.figure.dpi * 25.4, abs=1.0)


@given(TEXT, st.floats(8, 200))
def test_wrapped_lines_fit_and_lose_no_letter(text, room):
    lines = wrapped(text, room, 10)
    assert all(width_mm(line, 10) <= room for line in lines)
    assert "".join("".join(lines).split()) == "".join(text.split())


@given(TEXT.filter(lambda text: "\n" not in text), st.floats(8, 200))
def test_a_fitted_line_fits_and_is_whole_where_it_can_be(text, room):
    told, size = fitted(text, room, 12, 8)
    assert width_mm(told, size) <= room + 1e-3
    if width_mm(text, 8) <= room:
        assert told == text


def item(high):
    return Item(high, lambda page, top: None)


@given(st.lists(st.lists(st.floats(1, 60), min_size=1, max_size=6), max_size=12))
def test_pages_hold_everything_in_order(heights):
    room = 100.0
    groups = [Group(tuple(item(high) for high in one), lambda: item(5.0)) for one in heights]
    pages = over_pages(groups, room)
    own = [one for group in groups for one in group.items]
    laid = [one for page in pages for one in page]
    assert [one for one in laid if any(one is other for other in own)] == own
    assert all(sum(one.height_mm for one in page) <= room + 1e-9 for page in pages)
    of_page = {id(one): number for number, page in enumerate(pages) for one in page}
    for group in groups:
        where = [of_page[id(one)] for one in group.items]
        if group.height_mm <= MOST_WASTE * room:
            assert len(set(where)) == 1
        if len(where) > 1 and group.items[0].height_mm + group.items[1].height_mm <= room:
            assert where[0] == where[1], "a heading does not stand alone"


def test_what_no_page_can_hold_is_an_error():
    with pytest.raises(ValueError, match="does not fit"):
        over_pages([Group((item(101.0),))], 100.0)


def test_letters_that_the_font_has_not_are_marked_and_told():
    assert missing_letters("Ünïcode žluťoučký кот Ω · – °") == set()
    paper = Paper(PAPERS["a4"])
    paper.text(20, 20, "ab\u4e2dc", 10)
    assert paper.missing == {"\u4e2d"}
    assert paper.figure.texts[0].get_text() == "ab\ufffdc"


def test_paper_names():
    assert chosen_paper(" A4 ") == "a4"
    with pytest.raises(Exception, match=r"--paper: 'a3' is no paper; there are a4, letter"):
        chosen_paper("a3")


def test_a_pdf_has_the_same_bytes_in_every_process():
    """Sets of text come in another order in each process; nothing in the file may depend on it."""
    code = (
        "import sys, numpy as np; from preview.sheets.paper import *; p = Paper(PAPERS['letter'])\n"
        "p.text(20, 20, 'Shot 1 ž Ω $5$', 12); p.text(20, 40, '10:00', 30, bold=True)\n"
        "p.picture(20, 60, 50, 30, np.zeros((9, 16, 3), np.uint8))\n"
        "made = as_pdf([p, p], 'T', 'S') + p.png('T')"
    )
    here: dict[str, bytes] = {}
    exec(code, here)
    seed = "1" if os.environ.get("PYTHONHASHSEED") != "1" else "2"
    there = subprocess.run(
        [sys.executable, "-c", code + "; sys.stdout.buffer.write(made)"],
        env={**os.environ, "PYTHONHASHSEED": seed}, check=True, capture_output=True,
    ).stdout  # fmt: skip
    assert there == here["made"]
