"""A browser, and pages opened in it from disk that may neither complain nor ask the network."""

from __future__ import annotations

import shutil
from contextlib import contextmanager

import pytest
from playwright.sync_api import sync_playwright

from preview.page.write import write_page
from tests.page.site import make_site, page_rate

QUIET = [
    "--no-sandbox",
    "--disable-gpu",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]


@pytest.fixture(scope="session")
def browser():
    program = next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None)
    if program is None:
        pytest.fail("Chromium is missing, and the review page is tested in it: run bash .ci/install test")
    with (
        sync_playwright() as playwright,
        playwright.chromium.launch(executable_path=program, args=QUIET) as one,
    ):
        yield one


@pytest.fixture(scope="session")
def site(tmp_path_factory):
    """Folder and data of the small page at 25 frames a second."""
    folder = tmp_path_factory.mktemp("site")
    data = make_site(folder)
    write_page(data, folder)
    return folder, data


@pytest.fixture(scope="session")
def drop_site(tmp_path_factory):
    """The same at 29.97 with drop-frame timecode, across a minute."""
    folder = tmp_path_factory.mktemp("drop-site")
    data = make_site(folder, page_rate("30000/1001", "00:00:59;10"))
    write_page(data, folder)
    return folder, data


@pytest.fixture(scope="session")
def opened(browser):
    """``with opened(folder, hash) as page``: fails on any complaint and on any request but for a file."""

    @contextmanager
    def opened(folder, hash="", name="index.html", width=800, height=600, **context):
        tab = browser.new_context(viewport={"width": width, "height": height}, **context)
        page = tab.new_page()
        wrong = []
        page.on("console", lambda message: wrong.append(f"{message.type}: {message.text}"))
        page.on("pageerror", lambda error: wrong.append(f"error: {error}"))
        page.on(
            "requestfailed",
            lambda request: (
                wrong.append(f"failed: {request.url} {request.failure}")
                if "ERR_ABORTED" not in (request.failure or "")
                else None
            ),
        )
        page.on(
            "request", lambda request: request.url.startswith(("file:", "data:")) or wrong.append(request.url)
        )
        page.set_default_timeout(8000)
        try:
            page.goto((folder / name).as_uri() + hash)
            yield page
            assert not wrong, wrong
        finally:
            tab.close()

    return opened
