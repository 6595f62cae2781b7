"""Shows with numbers that can be worked out by hand, on the starter show's stage."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from preview.show.load import Show
from preview.show.model import ShowFile
from tests.starter_show import starter_show

SENSOR = {"size_mm": (9.59, 5.39), "photosites": (1920, 1080)}
LENS = {"focal_length_mm": (4.0, 160.0), "t_stop": 2.8}


def cameras() -> list[dict[str, Any]]:
    """A pedestal and a jib."""
    return [
        {
            "name": "Studio 1",
            "number": 1,
            "operator": "Zoë Ångström",
            "sensor": SENSOR,
            "lens": LENS | {"t_stop": 4.0},
            "mount": {"kind": "pedestal"},
            "position_m": (-3.0, -4.0, 1.5),
            "framings": [
                {"name": "desk", "look_at": (0.0, 0.0, 1.1), "focal_length_mm": 25.0},
                {"name": "window", "pan_deg": 20.0, "tilt_deg": 5.0, "focal_length_mm": 50.0, "focus_m": 6.0},
            ],
            "moves": [
                {"name": "push", "start": "desk", "end": "window", "duration_s": 4.0, "ease": "linear"},
            ],
        },
        {
            "name": "Crane",
            "number": 2,
            "sensor": SENSOR,
            "lens": LENS,
            "mount": {
                "kind": "jib", "pivot_m": (0.0, -8.0, 1.5), "arm_m": 4.0, "head_offset_m": (0.0, 0.25, -0.15),
            },
            "framings": [
                {"name": "high", "swing_deg": 30.0, "boom_deg": 20.0, "look_at": (0.0, 0.0, 1.0),
                 "focal_length_mm": 9.0},
                {"name": "low", "swing_deg": -10.0, "boom_deg": -10.0, "look_at": (0.0, 0.0, 1.0),
                 "focal_length_mm": 9.0},
            ],
            "moves": [
                {"name": "drop", "start": "high", "end": "low", "duration_s": 8.0, "ease": "linear"},
            ],
        },
    ]  # fmt: skip


def shot(name: str, on_air: str, frames: int, **keys: Any) -> dict[str, Any]:
    """A shot of so many frames, below 25 of them or whole seconds at 25 a second."""
    return {"name": name, "on_air": on_air, "duration": f"00:00:{frames // 25:02d}:{frames % 25:02d}", **keys}


def build(rundown: list[dict[str, Any]], made: list[dict[str, Any]] | None = None, **changes: Any) -> Show:
    """A show with this rundown; ``changes`` replace whole tables, ``show`` some of its keys."""
    started = starter_show()
    tables = started.file.model_dump()
    tables["show"].update({"frame_rate": "25", "start_timecode": "10:00:00:00", **changes.pop("show", {})})
    tables.update({"cameras": made or cameras(), "rundown": rundown, **changes})
    return replace(started, file=ShowFile.model_validate(tables))
