"""The viewer, proved by the pixels on screen: which frame, which picture, where the wipe's line is."""

from __future__ import annotations

import pytest

from tests.page.screen import at, near, pixels
from tests.page.site import BLUE, FRAMES, color, label


def wait_for(page, frame, slots="a"):
    for slot in slots:
        page.wait_for_selector(f".pane-{slot}[data-shown='{frame}']")
    page.wait_for_timeout(120)  # until what was seeked is painted


def address(frame, camera, pair, view):
    return f"#f={frame}&camera={camera}&pair={pair}&view={view}"


@pytest.mark.parametrize("which", ["site", "drop_site"])
def test_both_videos_show_the_frame_asked_for(which, request, opened):
    folder, data = request.getfixturevalue(which)
    with opened(folder, address(0, "jib", "as-shot:return", "side")) as page:
        for frame in (0, 1, 24, 25, 38, FRAMES - 1):
            page.locator("#timecode").fill(label(frame, data.rate))
            page.locator("#go button").click()
            wait_for(page, frame, "ab")
            picture = pixels(page, "#stage")
            assert near(at(picture, 0.25), color(frame, BLUE["as-shot", "jib"])), frame
            assert near(at(picture, 0.75), color(frame, BLUE["return", "jib"])), frame
            assert page.locator("#timecode").input_value() == label(frame, data.rate)
            assert page.locator("#frame").get_attribute("aria-valuetext").startswith(label(frame, data.rate))


def test_buttons_keys_and_slider_step(site, opened):
    folder, _ = site
    with opened(folder) as page:
        frame = page.locator("#frame-number")
        page.click("#forth")
        page.click("#forth")
        page.click("#back")
        assert frame.text_content() == "frame 1"
        page.click("#shot-forth")
        assert frame.text_content() == "frame 25"
        page.click("#forth")
        page.click("#shot-back")
        assert frame.text_content() == "frame 25", "back goes to this shot's own start first"
        page.click("#shot-back")
        assert frame.text_content() == "frame 0"
        page.focus("#stage")
        for key, to in ((".", 1), (".", 2), (",", 1), ("ArrowRight", 2), (">", 12), ("]", 25), ("[", 0)):
            page.keyboard.press(key)
            assert frame.text_content() == f"frame {to}", key
        page.focus("#frame")
        page.keyboard.press("ArrowRight")
        page.keyboard.press("End")
        assert frame.text_content() == f"frame {FRAMES - 1}"
        wait_for(page, FRAMES - 1)
        assert near(at(pixels(page), 0.5), color(FRAMES - 1, BLUE["programme-as-shot", ""]))
        page.keyboard.press("Home")
        page.locator("#findings-title").click()
        page.keyboard.press(".")
        assert frame.text_content() == "frame 0", "single keys act in the viewer only"


def test_the_wipe_by_mouse_touch_and_keyboard(site, opened):
    folder, _ = site
    left, right = color(30, BLUE["as-shot", "jib"]), color(30, BLUE["return", "jib"])
    with opened(folder, address(30, "jib", "as-shot:return", "wipe"), has_touch=True) as page:
        wait_for(page, 30, "ab")

        def line_is_at(share):
            picture = pixels(page)
            assert near(at(picture, share - 0.06), left) and near(at(picture, share + 0.06), right), share

        line_is_at(0.5)
        box = page.locator("#stage .pair").bounding_box()
        page.mouse.move(box["x"] + box["width"] / 2, box["y"] + 40)
        page.mouse.down()
        page.mouse.move(box["x"] + box["width"] * 0.25, box["y"] + 60, steps=4)
        page.mouse.up()
        line_is_at(0.25)
        page.touchscreen.tap(box["x"] + box["width"] * 0.7, box["y"] + 50)
        line_is_at(0.7)
        wipe = page.locator("#wipe")
        assert wipe.get_attribute("role") == "slider" and wipe.get_attribute("aria-valuenow") == "70"
        wipe.focus()
        for _ in range(3):
            page.keyboard.press("PageDown")
        page.keyboard.press("ArrowRight")
        assert wipe.get_attribute("aria-valuenow") == "41"
        assert "41 per cent" in wipe.get_attribute("aria-valuetext")
        line_is_at(0.41)
        page.keyboard.press("End")
        assert near(at(pixels(page), 0.9), left)
        page.keyboard.press("Home")
        assert near(at(pixels(page), 0.1), right)


def test_the_difference_is_black_for_equal_clips_and_the_known_one_for_others(site, opened):
    folder, _ = site
    with opened(folder, address(30, "jib", "as-shot:as-shot", "difference")) as page:
        wait_for(page, 30, "ab")
        assert pixels(page).max() <= 2
        page.evaluate("location.hash = '#f=30&camera=left&pair=as-shot:return&view=difference'")
        wait_for(page, 30, "ab")
        apart = BLUE["return", "left"] - BLUE["as-shot", "left"]
        page.select_option("#amplify", "1")
        assert near(at(pixels(page), 0.5), (0, 0, apart), 5)
        page.select_option("#amplify", "4")
        assert near(at(pixels(page), 0.5), (0, 0, 4 * apart), 20)
        assert page.locator("#difference-note").is_visible()


def test_playing_keeps_both_clips_together_and_says_nothing(site, opened):
    folder, _ = site
    with opened(folder, address(0, "jib", "as-shot:return", "side")) as page:
        wait_for(page, 0, "ab")
        assert page.evaluate(
            "[...document.querySelectorAll('video')].every((v) => v.paused && !v.autoplay && v.muted)"
        )
        spoken = page.locator("#announce").text_content()
        page.click("#play")
        page.wait_for_function("Number(document.getElementById('frame').value) > 6")
        page.click("#play")
        frame = int(page.locator("#frame").input_value())
        wait_for(page, frame, "ab")
        for slot, kind in (("a", "as-shot"), ("b", "return")):
            assert near(at(pixels(page, f".pane-{slot}"), 0.5), color(frame, BLUE[kind, "jib"]))
        assert page.locator("#announce").text_content() == spoken
        page.click("#shot-forth")
        assert label(25, site[1].rate) in page.locator("#announce").text_content()


def test_playing_stops_at_the_end(site, opened):
    folder, _ = site
    with opened(folder, address(FRAMES - 8, "jib", "return:as-shot", "one")) as page:
        wait_for(page, FRAMES - 8)
        page.click("#play")
        page.wait_for_function("document.getElementById('play').getAttribute('aria-pressed') === 'false'")
        assert page.locator("#frame").input_value() == str(FRAMES - 1)


def test_the_address_holds_the_moment(site, opened):
    folder, _ = site
    with opened(folder, address(33, "left", "return:as-shot", "side")) as page:
        wait_for(page, 33, "ab")
        page.check("input[value=wipe]", force=True)
        page.select_option("#camera", "jib")
        page.click("#swap")
        page.click("#forth")
        page.wait_for_function("location.hash.includes('f=34')")
        link = page.url
        assert link.endswith(address(34, "jib", "as-shot:return", "wipe"))
        assert page.locator("#link").get_attribute("href") == link[link.index("#") :]
    with opened(folder, link[link.index("#") :]) as page:
        wait_for(page, 34, "ab")
        assert page.locator("#stage").get_attribute("data-view") == "wipe"
        assert near(at(pixels(page), 0.2), color(34, BLUE["as-shot", "jib"]))


def test_nonsense_in_the_address_is_told_not_obeyed(site, opened):
    folder, _ = site
    with opened(folder, "#f=99999&camera=nobody&pair=x:y&view=upside-down") as page:
        assert page.locator("#frame").input_value() == str(FRAMES - 1)
        assert page.locator(".name-a").text_content() == "No such picture, not in this folder"
        page.locator("#timecode").fill("99:00")
        page.locator("#go button").click()
        assert "Write a timecode from" in page.locator("#timecode-note").text_content()


def test_other_cameras_and_everybodys_pictures_can_be_chosen(site, opened):
    folder, _ = site
    with opened(folder, address(5, "jib", "return:as-shot", "side")) as page:
        page.select_option("#first", "return@left")
        page.select_option("#second", "multiview")
        wait_for(page, 5, "ab")
        assert near(at(pixels(page, ".pane-a"), 0.5), color(5, BLUE["return", "left"]))
        assert near(at(pixels(page, ".pane-b"), 0.5), color(5, BLUE["multiview", ""]))
