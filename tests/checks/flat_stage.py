"""A flat LED wall of 4 x 3 m at Y = 4 and cameras whose pictures plane geometry tells."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from typing import Any

from preview.checks.look import Plan
from preview.checks.registry import Check
from preview.checks.walk import open_plan, walk
from preview.show.load import Show
from preview.show.model import Camera, Framing, Person, Shot, Surface
from preview.show.thresholds import Checks
from tests.checks.shows import whip_show

TILES = {"tile_size_mm": (500, 500), "pixel_pitch_mm": 2.5}
WALL = Surface(name="Wall", columns=8, rows=6, position_m=(0.0, 4.0, 0.0), **TILES)
FLOOR = Surface(name="Floor", kind="floor", columns=8, rows=8, position_m=(0.0, 0.0, 0.0), **TILES)
SENSOR_MM = (9.6, 5.4)
RANGE_MM = (4.0, 80.0)


def framing(name: str, focal: float = 20.0, pan: float = 0.0, tilt: float = 0.0, **keys: Any) -> Framing:
    return Framing(name=name, focal_length_mm=focal, pan_deg=pan, tilt_deg=tilt, focus_m=4.0, **keys)


def camera(name: str, *framings: Framing, at=(0.0, 0.0, 1.5), number: int = 1, **keys: Any) -> Camera:
    lens = {"focal_length_mm": keys.pop("range_mm", RANGE_MM), "minimum_focus_m": 0.3}
    sensor = {"size_mm": SENSOR_MM, "photosites": (1920, 1080)}
    return Camera(
        name=name, number=number, sensor=sensor, lens=lens, position_m=at, framings=framings, **keys
    )


def flat_show(
    cameras: Sequence[Camera],
    shots: Sequence[dict[str, Any]],
    surfaces: Sequence[Surface] = (WALL,),
    people: Sequence[Person] = (),
    checks: Checks | None = None,
) -> Show:
    """A show on that wall, at 25 a second."""
    show = whip_show()
    file = show.file.model_copy(
        update={
            "stage": show.file.stage.model_copy(
                update={"surfaces": tuple(surfaces), "people": tuple(people), "set": ()}
            ),
            "cameras": tuple(cameras),
            "rundown": tuple(Shot(**shot) for shot in shots),
            "checks": checks or Checks(),
        }
    )
    return replace(show, file=file)


def shot(
    name: str, on_air: str, framings: dict[str, str], seconds: float = 0.4, **keys: Any
) -> dict[str, Any]:
    cues = {camera: {"framing": framing} for camera, framing in framings.items()}
    return {"name": name, "on_air": on_air, "duration": seconds, "cameras": cues, **keys}


@contextmanager
def seen(check: type[Check], show: Show, **where: Any) -> Iterator[tuple[Check, Plan]]:
    """A check that has seen the show's frames, and its plan."""
    with open_plan(show, **where) as plan:
        made = check(plan)
        walk(plan, [made])
        yield made, plan
