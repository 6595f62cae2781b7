"""Pictures of flat colour, one for each that a multiview shows, on the starter show."""

from __future__ import annotations

from functools import cache

import numpy as np

from preview.multiview.run import Multiview
from preview.stage.build import build_stage
from tests.fake_studio import FakeStudio
from tests.starter_show import starter_show

CUT, MIX = 100, 200
"""Frames of the starter show: CAM2 is cut to after 4 s, CAM1 mixed to after 8 s, over 12 frames."""


@cache
def starter_stage():
    return build_stage(starter_show())


def fake_studio(**how):
    studio = FakeStudio(starter_show(), **how)
    studio.stage = starter_stage()
    return studio


@cache
def starter_view():
    return Multiview(fake_studio())


def flat(size_px, color):
    return np.full((size_px[1], size_px[0], 3), color, dtype=np.uint8)


COLORS = {
    ("wall", "Wall"): (10, 60, 110), ("wall", "Floor"): (110, 60, 10), ("return", "CAM1"): (200, 10, 10),
    ("return", "CAM2"): (10, 200, 10), ("programme", ""): (10, 10, 200),
    ("programme-as-shot", ""): (200, 200, 10),
}  # fmt: skip


def flat_pictures(size_px=(160, 90)):
    sizes = {("wall", "Wall"): (280, 140), ("wall", "Floor"): (120, 100)}
    return {key: flat(sizes.get(key, size_px), color) for key, color in COLORS.items()}
