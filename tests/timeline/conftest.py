"""A small invented show to put rundowns in: three cameras, one of them on a jib."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import pytest

from preview.show.model import ShowFile

SENSOR = {"size_mm": (9.59, 5.39), "photosites": (1920, 1080)}
ZOOM = {
    "focal_length_mm": (8.0, 160.0),
    "t_stop": 2.8,
    "minimum_focus_m": 0.6,
    "entrance_pupil_offset_m": 0.11,
    "breathing": 0.5,
    "k1": -0.02,
}


@dataclass(frozen=True)
class Show:
    file: ShowFile
    path: str = "test-show.toml"


def cameras() -> list[dict[str, Any]]:
    return [
        {
            "name": "Path",
            "number": 1,
            "sensor": SENSOR,
            "lens": ZOOM,
            "mount": {"kind": "pedestal"},
            "position_m": (-2.0, -5.0, 1.6),
            "framings": [
                {"name": "wide", "look_at": (0.0, 0.0, 1.2), "focal_length_mm": 10.0},
                {
                    "name": "close",
                    "position_m": (-1.0, -4.0, 1.5),
                    "look_at": "Ada",
                    "focal_length_mm": 40.0,
                },
                {
                    "name": "beds",
                    "pan_deg": 30.0,
                    "tilt_deg": -12.0,
                    "focal_length_mm": 20.0,
                    "focus_m": 6.0,
                },
            ],
            "moves": [
                {"name": "push", "start": "wide", "end": "close", "duration_s": 4.0},
                {"name": "look away", "start": "close", "end": "beds", "duration_s": 2.0, "ease": "linear"},
            ],
        },
        {
            "name": "Bench",
            "number": 2,
            "sensor": SENSOR,
            "lens": ZOOM,
            "position_m": (2.0, -4.0, 1.5),
            "framings": [
                {"name": "single", "look_at": "Ada", "focal_length_mm": 30.0},
                {"name": "pot", "look_at": "potting bench", "focal_length_mm": 60.0, "focus_m": 4.2},
            ],
        },
        {
            "name": "Arm",
            "number": 3,
            "sensor": SENSOR,
            "lens": ZOOM,
            "mount": {
                "kind": "jib",
                "pivot_m": (0.5, -8.0, 1.4),
                "arm_m": 4.0,
                "head_offset_m": (0.0, 0.25, -0.3),
            },
            "framings": [
                {
                    "name": "low",
                    "swing_deg": -20.0,
                    "boom_deg": -5.0,
                    "look_at": "Ada",
                    "focal_length_mm": 9.0,
                },
                {
                    "name": "high",
                    "swing_deg": 25.0,
                    "boom_deg": 40.0,
                    "look_at": "Ada",
                    "focal_length_mm": 12.0,
                },
            ],
            "moves": [{"name": "rise", "start": "low", "end": "high", "duration_s": 6.0}],
        },
    ]


def document(rundown: list[dict[str, Any]], **changes: Any) -> dict[str, Any]:
    show = {"title": "Timeline check", "frame_rate": "25", "start_timecode": "10:00:00:00"}
    show.update(changes.pop("show", {}))
    return {
        "format": 1,
        "show": show,
        "stage": {
            "surfaces": [{"name": "Back wall", "tile": "any"}],
            "people": [{"name": "Ada", "position_m": (0.5, 1.0, 0.2), "height_m": 1.6}],
            "set": [{"name": "potting bench", "mesh": "bench.obj", "position_m": (1.5, 0.5, 0.0)}],
        },
        "virtual": {"mesh": "glasshouse.glb"},
        "cameras": changes.pop("cameras", cameras()),
        "rundown": rundown,
        **changes,
    }


BuildShow = Callable[..., Show]


@pytest.fixture
def build_show() -> BuildShow:
    """``build_show(rundown, show={...}, cameras=[...], drive={...})`` to a Show."""
    return lambda rundown, **changes: Show(ShowFile(**document(rundown, **changes)))


@pytest.fixture(scope="session")
def build_show_once() -> BuildShow:
    """As ``build_show``, for property tests, which run many examples in one test."""
    return lambda rundown, **changes: Show(ShowFile(**document(rundown, **changes)))


@pytest.fixture
def camera_tables() -> list[dict[str, Any]]:
    """The three cameras as tables, to change in a test."""
    return cameras()
