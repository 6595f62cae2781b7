"""Access: an audit of the page as it is opened, the keyboard's way through it, and light and dark."""

from __future__ import annotations

import pytest
from axe_playwright_python.sync_playwright import Axe


@pytest.mark.parametrize(("width", "scheme"), [(360, "light"), (1200, "dark")])
def test_an_audit_finds_nothing(site, opened, scheme, width):
    """axe-core 4.12's rules of WCAG 2.2 level A and AA, and its best practices."""
    folder, _ = site
    address = "#f=17&camera=left&pair=as-shot:return&view=wipe"
    with opened(folder, address, width=width, color_scheme=scheme) as page:
        page.wait_for_selector(".pane-b[data-shown='17']")
        for details in page.locator("details").all():
            details.evaluate("one => { one.open = true; }")
        page.locator("figure.plot").scroll_into_view_if_needed()
        page.wait_for_selector("figure.plot[data-from='0']")
        found = Axe().run(page).response
        assert len(found["passes"]) > 30, "the audit looked"
        assert [(one["id"], one["impact"], one["nodes"][0]["html"]) for one in found["violations"]] == []


def test_the_theme_is_chosen_and_remembered(site, opened):
    folder, _ = site
    paper = "getComputedStyle(document.body).backgroundColor"
    with opened(folder, color_scheme="light") as page:
        light = page.evaluate(paper)
        page.select_option("#theme", "dark")
        dark = page.evaluate(paper)
        assert dark != light
        page.reload()
        assert page.evaluate(paper) == dark and page.locator("#theme").input_value() == "dark"
        page.select_option("#theme", "")
        assert page.evaluate(paper) == light
        page.emulate_media(color_scheme="dark")
        assert page.evaluate(paper) == dark


def test_the_keyboards_way_in(site, opened):
    folder, _ = site
    with opened(folder, width=1200) as page:
        page.keyboard.press("Tab")
        assert page.evaluate("document.activeElement.className") == "skip"
        outline = page.evaluate("getComputedStyle(document.activeElement).outlineStyle")
        assert outline != "none", "focus can be seen"
        page.keyboard.press("Enter")
        assert page.evaluate("document.activeElement.id") == "main"
        assert page.locator("html").get_attribute("lang") == "en"
        assert page.locator("h1").count() == 1
        headings = "[...document.querySelectorAll('section')].map((one) => one.querySelectorAll('h2').length)"
        assert set(page.evaluate(headings)) == {1}
        assert page.locator("[aria-live]").count() == 2


def test_motion_is_reduced_where_asked(site, opened):
    folder, _ = site
    with opened(folder, reduced_motion="reduce") as page:
        page.locator("#findings-table .look").first.click()
        assert abs(page.evaluate("document.getElementById('viewer').getBoundingClientRect().top")) < 40, (
            "at once"
        )
