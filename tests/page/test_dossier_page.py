"""The page of a real show in a real browser: on screen is the frame that was drawn for that timecode."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest

from preview.checks.off_wall import OffWall
from preview.dossier.run import write_dossier
from preview.frame import Studio, Wanted
from preview.kept.pictures import chosen_store
from preview.multiview.run import Multiview
from tests.dossier.test_run import ASKED, show
from tests.page.screen import pixels

FIRST, CUT, LAST = 92, 100, 107
CHECKS = (OffWall,)


@pytest.fixture(scope="module")
def dossier(tmp_path_factory):
    """Every frame round the starter's first cut."""
    folder = tmp_path_factory.mktemp("page")
    asked = replace(ASKED, frames=(FIRST, LAST), every=1, check_every=4, checks=CHECKS, known=CHECKS)
    store = chosen_store(folder / "kept", False)
    write_dossier(show(), folder / "out", asked, store)
    with Studio(show(), asked.clip_px, kept=store) as studio:
        view = Multiview(studio, asked.multiview_px)
        drawn = {}
        for frame in range(FIRST, LAST + 1):
            pictures = {(one.kind, one.subject): one.code for one in studio.pictures(frame, view.wanted)}
            returned = list(studio.pictures(frame, Wanted(("return",), ("CAM2",))))
            drawn[frame] = view.frame(frame, pictures), returned[0].code
    return folder / "out", drawn


def shown_at(page, frame, pair):
    page.evaluate(f"location.hash = '#f={frame}&camera=CAM2&pair={pair}&view=one'")
    page.wait_for_selector(f".pane-a[data-shown='{frame}']")
    page.wait_for_timeout(150)  # until what was seeked is painted
    return pixels(page, ".pane-a video").astype(np.uint8)


def on_screen(drawn, found):
    """A drawn picture at the screen's size, without the two pixels of edge that ``pixels`` leaves out."""
    size = found.shape[1] + 4, found.shape[0] + 4
    return cv2.resize(drawn, size, interpolation=cv2.INTER_AREA)[2:-2, 2:-2].astype(int)


def test_the_burnt_in_timecode_on_screen_is_that_of_the_frame_asked_for(dossier, opened):
    folder, drawn = dossier
    with opened(folder, width=1400, height=1000) as page:
        for frame in (FIRST, CUT - 1, CUT, CUT + 3, LAST):
            found = shown_at(page, frame, "multiview:programme")
            head = np.s_[: round(0.05 * found.shape[0]), : round(0.2 * found.shape[1])]
            misses = {
                other: float(np.abs(on_screen(picture[0], found)[head] - found[head]).mean())
                for other, picture in drawn.items()
            }
            assert min(misses, key=misses.get) == frame, misses


def test_a_return_on_screen_is_the_one_that_was_drawn(dossier, opened):
    folder, drawn = dossier
    with opened(folder, width=1400, height=1000) as page:
        for frame in (FIRST, CUT):
            found = shown_at(page, frame, "return:as-shot")
            assert np.abs(on_screen(drawn[frame][1], found) - found).mean() < 4.0


def test_a_finding_lands_on_its_moment_and_its_words_are_there(dossier, opened):
    folder, _ = dossier
    with opened(folder) as page:
        assert "for air" in page.locator("#summary, main").first.inner_text()
        links = page.locator("a.look[href^='#f=']")
        assert links.count() > 0
        target = links.first.get_attribute("href")
        links.first.click()
        frame = target.split("f=")[1].split("&")[0]
        assert page.locator("#frame-number").text_content() == f"frame {frame}"
        assert "local codes" in page.locator("body").inner_text()
