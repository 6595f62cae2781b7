"""The page around the viewer: links, filters, time line, plots, paper, names, and no script at all."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from preview.page.write import write_page
from tests.page.screen import pixels
from tests.page.site import FRAMES, HOSTILE, Many, hostile


def shown_rows(page):
    return page.locator("#findings-table tbody tr:visible").count()


def test_a_finding_leads_to_its_moment(site, opened):
    folder, _ = site
    with opened(folder) as page:
        page.locator("#findings-table tr[data-check=bleed] .look").click()
        page.wait_for_selector(".pane-b[data-shown='33']")
        assert page.url.endswith("#f=33&camera=jib&pair=as-shot:return&view=wipe")
        assert page.locator("#camera").input_value() == "jib"
        assert page.locator("#first").input_value() == "as-shot"
        assert page.locator("#second").input_value() == "return"
        assert page.locator("input[value=wipe]").is_checked()
        assert page.evaluate("document.activeElement.id") == "stage"
        page.wait_for_function("Math.abs(document.getElementById('viewer').getBoundingClientRect().top) < 40")
        assert "jib shows left's frustum." in page.locator("#here").text_content()
        page.go_back()
        page.locator("#summary .look").first.click()
        assert "f=17&camera=left&pair=return:as-shot&view=one" in page.url, "the fault is told first"
        assert page.locator("#here a").get_attribute("href").endswith("/outlined.png")
        page.locator("#shots a.look").nth(1).click()
        assert page.locator("#frame-number").text_content() == "frame 25"
        assert page.locator("#shot-now").text_content() == "2 Answer"
        assert page.locator("#on-air").text_content() == "2 jib"


def test_findings_are_filtered_and_sorted(site, opened):
    folder, _ = site
    with opened(folder, width=1200) as page:
        first = page.locator("#findings-table tbody tr:visible").first
        assert shown_rows(page) == 3 and first.get_attribute("data-grade") == "fault", (
            "what is fine comes on demand"
        )
        page.select_option("#filter-grade", "")
        assert shown_rows(page) == 4
        page.select_option("#filter-grade", "compromise")
        assert shown_rows(page) == 2
        page.select_option("#filter-check", "cuts")
        assert shown_rows(page) == 1 and first.get_attribute("data-check") == "cuts"
        assert page.locator("#findings-count").text_content() == "1 of 4 shown."
        page.select_option("#filter-check", "crossing")
        assert page.locator("#findings-count").text_content() == "None of 4 findings is like that."
        page.select_option("#filter-grade", "")
        page.select_option("#filter-check", "")
        page.select_option("#filter-camera", "jib")
        assert shown_rows(page) == 2
        page.select_option("#filter-camera", "")
        page.click("button[data-sort=check]")
        checks = [row.get_attribute("data-check") for row in page.locator("#findings-table tbody tr").all()]
        assert checks == sorted(checks)
        page.click("button[data-sort=check]")
        assert page.locator("th[aria-sort]").get_attribute("aria-sort") == "descending"
        page.click("button[data-sort=when]")
        starts = [
            int(row.get_attribute("data-first")) for row in page.locator("#findings-table tbody tr").all()
        ]
        assert starts == sorted(starts)


def test_the_time_line_zooms_scrubs_and_links(site, opened):
    folder, _ = site
    with opened(folder, width=1200) as page:
        ruler = page.locator("#ruler")
        page.locator("#timeline").evaluate("one => one.scrollIntoView()")
        box = ruler.bounding_box()
        page.mouse.click(box["x"] + box["width"] * (30.5 / FRAMES), box["y"] + 8)
        assert page.locator("#frame").input_value() == "30"
        playhead = page.locator("#playhead").bounding_box()
        assert abs(playhead["x"] - (box["x"] + box["width"] * 30 / FRAMES)) < 2
        page.locator(".lane-camera .track").first.click(position={"x": 3, "y": 5})
        assert page.locator("#frame").input_value() == "0"
        bars = page.locator(".bar")
        assert bars.count() == 3 and "bar-fault" in bars.first.get_attribute("class"), (
            "fine findings have no bar"
        )
        wide = ruler.bounding_box()["width"]
        page.click("#zoom-in")
        assert ruler.bounding_box()["width"] == pytest.approx(2 * wide, rel=0.01)
        page.locator("#timeline-box").focus()
        page.keyboard.press("0")
        assert ruler.bounding_box()["width"] == pytest.approx(wide, rel=0.01)
        page.keyboard.press("ArrowRight")
        assert page.locator("#frame").input_value() == "1"
        page.locator(".bar-fault").click()
        assert "f=17&camera=left" in page.url


def test_a_plot_zooms(site, opened):
    folder, _ = site
    with opened(folder, width=1000) as page:
        plot = page.locator("figure.plot")
        plot.scroll_into_view_if_needed()
        page.wait_for_selector("figure.plot[data-from='0']")
        assert plot.get_attribute("data-to") == str(FRAMES)
        over = page.locator(".u-over").bounding_box()
        red = np.abs(pixels(page, ".u-over") - (0xA8, 0x32, 0x09)).max(axis=2) < 40
        columns = [red[:, int(red.shape[1] * share)].any() for share in np.linspace(0.05, 0.35, 40)]
        gap = [red[:, int(red.shape[1] * share)].any() for share in np.linspace(0.42, 0.56, 40)]
        assert sum(columns) > 15 and not any(gap), (
            "the second line is dashed, and missing where it has no values"
        )
        page.mouse.move(over["x"] + over["width"] * 0.2, over["y"] + 50)
        page.mouse.down()
        page.mouse.move(over["x"] + over["width"] * 0.6, over["y"] + 50, steps=5)
        page.mouse.up()
        page.wait_for_function("Number(document.querySelector('figure.plot').dataset.from) > 5")
        assert int(plot.get_attribute("data-from")) == pytest.approx(FRAMES * 0.2, abs=1)
        assert int(plot.get_attribute("data-to")) == pytest.approx(FRAMES * 0.6, abs=1)
        plot.locator("[data-zoom=all]").click()
        page.wait_for_selector("figure.plot[data-from='0']")
        plot.locator("[data-zoom=in]").click()
        page.wait_for_function("Number(document.querySelector('figure.plot').dataset.to) < 30")
        plot.locator("summary").click()
        assert plot.locator("details tbody tr").count() == FRAMES
        assert plot.locator("details tbody tr").nth(3).locator("td").nth(1).text_content() == "3"
        assert plot.locator("details tbody tr").nth(22).locator("td").nth(2).text_content() == "none"


def test_paper_has_what_is_read_and_no_controls(site, opened):
    folder, _ = site
    with opened(folder) as page:
        page.emulate_media(media="print")
        for gone in (
            "#viewer",
            ".contents",
            ".filters",
            ".timeline-tools .buttons",
            "#theme",
            "#plots",
            "#multiview",
            "thead button",
        ):
            assert not page.locator(gone).first.is_visible(), gone
        for there in ("#summary", "#cautions", "#timeline", "#findings-table", "#shots table", "#checks"):
            assert page.locator(there).is_visible(), there
        assert page.locator("#findings-table thead").inner_text().split()[0] == "Grade"


@pytest.mark.parametrize("width", [320, 1920])
def test_the_page_never_scrolls_sideways(site, opened, width):
    folder, _ = site
    with opened(folder, "#f=30&camera=jib&pair=as-shot:return&view=side", width=width, height=700) as page:
        for details in page.locator("details").all():
            details.evaluate("one => { one.open = true; }")
        page.wait_for_selector(".pane-b[data-shown='30']")
        for view in ("side", "wipe", "difference", "one"):
            page.check(f"input[value={view}]", force=True)
            assert page.evaluate("document.documentElement.scrollWidth") <= width, view


def test_names_are_text_whatever_they_hold(site, opened):
    folder, data = site
    write_page(hostile(data), folder, "hostile.html")
    with opened(folder, name="hostile.html", width=360) as page:
        assert page.title().startswith(HOSTILE[:20])
        assert page.locator("h1").text_content() == HOSTILE
        assert page.locator("img[src=x]").count() == 0
        assert page.evaluate("document.documentElement.scrollWidth") <= 360
        page.locator("#findings-table tr[data-check=bleed] .look").click()
        page.wait_for_selector(".pane-b[data-shown='33']")
        assert page.locator("#camera").input_value() == f"jib{HOSTILE}"
        assert HOSTILE in page.locator("#here").text_content()
        page.select_option("#first", f"return@left{HOSTILE}")
        page.wait_for_function("location.hash.includes('return@left')")
        link = page.url[page.url.index("#") :]
    with opened(folder, link, name="hostile.html") as page:
        assert page.locator("#first").input_value() == f"return@left{HOSTILE}"


def test_without_scripts_tables_stills_and_clips_are_there(site, opened):
    folder, data = site
    with opened(folder, width=1200, java_script_enabled=False) as page:
        assert page.locator("video[controls]:visible").count() == len(data.clips) + 1
        assert shown_rows(page) == len(data.findings)
        assert page.locator("#timeline .bar").count() == 3
        assert page.locator("#stills img").is_visible()
        assert not page.locator("#stage").is_visible() and not page.locator("#filter-grade").is_visible()
        assert page.locator("#findings-table thead").inner_text().split()[0] == "Grade"


def test_stills_stand_in_where_there_is_no_clip(site, opened):
    folder, data = site
    write_page(replace(data, clips=()), folder, "stills.html")
    with opened(folder, "#f=20&camera=left&pair=programme:return&view=side", name="stills.html") as page:
        page.wait_for_selector(".pane-a[data-shown='20'] img:visible")
        assert page.locator(".name-a").text_content() == "Programme, still of 10:00:00:12"
        assert page.locator(".name-b").text_content() == "No such picture, not in this folder"
        assert page.locator("#play").is_disabled()
        assert page.locator(".pane-a img").evaluate("one => one.decode().then(() => one.naturalWidth)") == 320


def test_held_frames_say_so(site, opened):
    folder, data = site
    clips = tuple(replace(clip, drawn=(0, 10, 20, 30, 40)) for clip in data.clips)
    write_page(replace(data, clips=clips), folder, "held.html")
    with opened(folder, "#f=33&camera=jib&pair=return:as-shot&view=one", name="held.html") as page:
        assert page.locator(".name-a").text_content() == "return, jib, held from 10:00:01:05"
        page.click("#back")
        page.click("#back")
        page.click("#back")
        assert page.locator(".name-a").text_content() == "return, jib"


def test_a_page_with_nothing_on_it_says_so(site, opened, tmp_path):
    _, data = site
    bare = replace(
        data,
        clips=(),
        stills=(),
        findings=(),
        checks=(),
        plots=(),
        wall_maps=(),
        floor_maps=(),
        plans=(),
        tables=(),
        downloads=(),
        cautions=(),
        told=(),
        cameras=(),
        shots=(),
    )
    write_page(bare, tmp_path)
    with opened(tmp_path) as page:
        text = page.locator("main").text_content()
        assert "There is no clip and no still in this folder." in text
        assert "no check was run" in text
        assert page.locator("#plots, #stills, #multiview, #cautions").count() == 0


def test_many_shots_and_findings(opened, tmp_path):
    many = Many()
    write_page(many.data(), tmp_path)
    with opened(tmp_path, width=1200) as page:
        assert page.locator("#findings-table tbody tr").count() == many.findings
        assert shown_rows(page) == 100
        page.click("#findings-more")
        assert shown_rows(page) == 500
        page.select_option("#filter-grade", "fine")
        assert page.locator("#findings-count").text_content() == "100 of 500 shown (2000 in all)."
        assert page.locator(".shot-box").count() == many.shots
        page.evaluate("for (let n = 0; n < 6; n++) document.getElementById('zoom-in').click()")
        page.wait_for_function("document.querySelectorAll('#ruler .tick').length < 60")
        inner = page.locator("#timeline-inner").bounding_box()["width"]
        assert inner > 40_000, "64 times, and ticks are drawn in sight only"
        page.locator("#timecode").fill("10:59:59:24")
        page.locator("#go button").click()
        box, playhead = page.locator("#timeline-box").bounding_box(), page.locator("#playhead").bounding_box()
        assert box["x"] <= playhead["x"] <= box["x"] + box["width"]
