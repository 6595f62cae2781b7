"""Writing the page, and the plain values behind it."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hatchling.builders.wheel import WheelBuilder
from hypothesis import given
from hypothesis import strategies as st

from preview.errors import OutputError
from preview.page import labels, lanes, numbers
from preview.page.model import Line, Plot
from preview.page.moment import moment_of, opening, pictures_of
from preview.page.write import page_html, write_page
from tests.page.site import FRAMES, hostile, label, page_rate


def test_the_same_data_gives_the_same_bytes_and_an_entry(site, tmp_path):
    folder, data = site
    before = (folder / "index.html").read_bytes()
    entry = write_page(data, folder)
    assert (folder / "index.html").read_bytes() == before
    assert (entry.name, entry.media, entry.frame_range) == ("index.html", "page", (0, FRAMES - 1))
    assert (entry.start_timecode, entry.end_timecode) == ("10:00:00:00", "10:00:01:24")


def test_a_missing_empty_or_outside_file_is_told(site, tmp_path):
    _, data = site
    with pytest.raises(OutputError, match="there is no such file"):
        write_page(data, tmp_path)
    assert not list(tmp_path.iterdir())
    for name in ("../secret.png", "/etc/passwd", ""):
        with pytest.raises(OutputError, match="outside its own folder"):
            write_page(replace(data, plans=(replace(data.plans[0], file=name),)), tmp_path)


def test_inline_data_ends_no_element_and_is_what_was_given(site):
    _, data = site
    text = page_html(hostile(data))
    assert "\u2028" not in re.search(r'id="page-data">(.*?)</script>', text).group(1)
    document = json.loads(re.search(r'id="page-data">(.*?)</script>', text).group(1))
    assert document["shots"][0]["name"] == hostile(data).shots[0].name
    assert text.count("</script>") == 5  # theme, data, plot, plot library, script


def test_nothing_on_the_page_is_fetched_from_elsewhere(site):
    _, data = site
    text = page_html(data)
    addresses = re.findall(
        r"""(?:src|href|poster|action)=["']([^"']*)""", re.sub(r"<script>.*?</script>", "", text, flags=re.S)
    )
    assert addresses and not [one for one in addresses if re.match(r"[a-z]+:|//", one)]
    assert "url(" not in text and "@import" not in text


def test_the_wheel_carries_what_the_page_is_made_of():
    root = Path(__file__).resolve().parents[2]
    carried = {file.relative_path for file in WheelBuilder(str(root)).recurse_included_files()}
    made_of = {
        str(path.relative_to(root))
        for path in (root / "preview" / "page").rglob("*")
        if path.suffix in (".j2", ".css", ".js") or path.name == "LICENSE"
    }
    assert len(made_of) > 20 and made_of <= carried


def test_findings_lead_to_pictures_that_there_are(site):
    _, data = site
    by_check = {one.check: one for one in data.findings}
    there = pictures_of(data)
    assert moment_of(by_check["bleed"], there).hash == "#f=33&camera=jib&pair=as-shot:return&view=wipe"
    assert moment_of(by_check["cuts"], there).hash == (
        "#f=26&camera=left&pair=programme-as-shot:programme&view=wipe"
    )
    only = {("programme", "")}
    assert moment_of(by_check["bleed"], only).first == "programme"
    assert moment_of(by_check["bleed"], only).view == "one"
    assert moment_of(by_check["bleed"], {("as-shot", "left"), ("return", "left")}).camera == "left"
    assert opening(data).first == "programme-as-shot"


def test_bars_do_not_hide_each_other(site):
    _, data = site
    many = tuple(replace(data.findings[1], frames=(n, n + 6)) for n in range(0, 30, 3))
    lane = lanes.time_line(replace(data, findings=many)).checks[0]
    assert len(lane.bars) == len(many) and lane.rows == 3
    taken = {
        (bar.row, frame)
        for bar in lane.bars
        for frame in range(bar.finding.frames[0], bar.finding.frames[1] + 1)
    }
    assert len(taken) == 7 * len(many)


def test_labels_are_the_shows():
    rate = page_rate("30000/1001", "00:00:59;28")
    assert [labels.timecode(n, rate) for n in (0, 1, 2)] == ["00:00:59;28", "00:00:59;29", "00:01:00;02"]
    assert labels.timecode(1000, rate) == label(1000, rate)


@given(st.lists(st.sampled_from([0.0, 1.0, 2.5, None]), min_size=1, max_size=40))
def test_thinning_draws_the_same_line(values):
    """Law: linear interpolation of what is kept gives every value back, gaps included."""
    frames, kept = numbers.thinned(Line("", tuple(range(len(values))), tuple(values)))
    known = [np.nan if value is None else value for value in kept]
    again = np.interp(range(len(values)), frames, np.nan_to_num(known, nan=-9.0))
    wanted = np.nan_to_num([np.nan if value is None else value for value in values], nan=-9.0)
    np.testing.assert_allclose(again, wanted)


def test_a_long_plot_is_told_by_least_and_greatest():
    values = tuple(float(n % 50) for n in range(5000))
    table = numbers.number_table(Plot("x", "x", "", (Line("a", tuple(range(5000)), values),), None, ""))
    assert table.stretched and len(table.rows) <= numbers.MOST_ROWS
    assert (table.rows[0][0], table.rows[-1][1]) == (0, 4999)
    assert table.rows[0][2] == ("0 to 24",)
    short = numbers.number_table(
        Plot("x", "x", "", (Line("a", (0, 1, 2, 3), (1.0, 1.0, 2.0, 2.0)),), None, "")
    )
    assert short.rows == ((0, 1, ("1",)), (2, 3, ("2",)))
