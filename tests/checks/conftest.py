"""One raster for all tests of this folder: the whip show's stage, at its full picture size."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from preview.frame import Studio
from tests.checks.shows import whip_show


@pytest.fixture(scope="package")
def studio() -> Iterator[Studio]:
    with Studio(whip_show()) as made:
        yield made
