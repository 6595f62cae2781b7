"""Framings: where the aim is, what is filled in, what is refused."""

from __future__ import annotations

from collections.abc import Callable
from math import dist
from typing import Any

import numpy as np
import pytest

from preview.show.model import Camera, Person
from preview.stage.people_dims import eye_height_m, eye_point_m, top_height_m
from preview.timeline.framing import (
    FramingError,
    PlacedFraming,
    aim_points_m,
    lens_of,
    place_framing,
    sensor_of,
)

Build = Callable[..., Any]
POINTS = {"Ada": (0.5, 1.0, 1.7), "bench": (1.0, 2.0, 0.0)}


def camera(**changes: Any) -> Camera:
    table = {
        "name": "One",
        "number": 1,
        "sensor": {"size_mm": (9.59, 5.39), "photosites": (1920, 1080)},
        "lens": {"focal_length_mm": (8, 160), "minimum_focus_m": 0.9, "breathing": 1.0},
        "position_m": (0.0, -5.0, 1.5),
        "framings": [{"name": "a", "focal_length_mm": 20.0, **changes.pop("framing", {})}],
        **changes,
    }
    return Camera(**table)


def placed(**changes: Any) -> PlacedFraming:
    one = camera(**changes)
    return place_framing(one, one.framings[0], POINTS)


def test_look_at_a_person_aims_at_the_eyes(build_show: Build) -> None:
    # Ada stands 1.6 m tall on a 0.2 m riser: eyes at 0.2 + 0.935 * 1.6.
    points = aim_points_m(build_show([{"name": "s", "on_air": "Path", "duration": 1.0}]).file)
    assert points["Ada"] == pytest.approx((0.5, 1.0, 1.696))
    assert points["potting bench"] == (1.5, 0.5, 0.0)


def test_eye_and_top_heights() -> None:
    standing = Person(name="a", height_m=1.8)
    seated = Person(name="b", posture="seated", height_m=1.8, seat_height_m=0.5, position_m=(1, 2, 0.3))
    assert eye_height_m(standing) == pytest.approx(1.683)
    assert top_height_m(standing) == pytest.approx(1.8)
    assert eye_height_m(seated) == pytest.approx(0.5 + 0.42 * 1.8)
    assert top_height_m(seated) - eye_height_m(seated) == pytest.approx(1.8 - 1.683)
    assert eye_point_m(seated) == pytest.approx((1, 2, 0.3 + 0.5 + 0.42 * 1.8))


@pytest.mark.parametrize("aim", ["Ada", "bench", (2.0, 0.0, 1.0)])
def test_an_aim_is_in_the_middle_and_in_focus(aim: Any) -> None:
    framing = placed(framing={"look_at": aim, "roll_deg": 7.0})
    point = POINTS.get(aim, aim) if isinstance(aim, str) else aim
    assert framing.aim_m == point
    assert framing.focus_m == pytest.approx(dist((0, -5, 1.5), point))
    assert framing.focus_on_aim
    toward = np.subtract(point, (0, -5, 1.5))
    np.testing.assert_allclose(framing.pose.rotation[:, 1], toward / np.linalg.norm(toward), atol=1e-12)
    assert framing.pose.roll_deg == 7.0


def test_pan_tilt_roll_and_focus_as_written() -> None:
    framing = placed(framing={"pan_deg": 12, "tilt_deg": -3, "roll_deg": 2, "focus_m": 3.5})
    assert (framing.pose.pan_deg, framing.pose.tilt_deg, framing.pose.roll_deg) == (12, -3, 2)
    assert (framing.focus_m, framing.focus_on_aim, framing.aim_m) == (3.5, False, None)


def test_focus_without_an_aim_is_five_metres() -> None:
    assert placed().focus_m == 5.0


def test_an_aim_nearer_than_the_lens_can_focus_gets_the_nearest_focus() -> None:
    assert placed(framing={"look_at": (0.0, -4.5, 1.5)}).focus_m == 0.9


def test_a_framing_has_its_own_place_or_the_cameras() -> None:
    assert placed().pose.position_m == (0.0, -5.0, 1.5)
    assert placed(framing={"position_m": (1, 1, 1)}).pose.position_m == (1, 1, 1)


def test_a_jib_framing_is_placed_by_its_arm() -> None:
    mount = {"kind": "jib", "pivot_m": (0, -9, 1), "arm_m": 5.0, "head_offset_m": (0, 0, -0.5)}
    framing = placed(mount=mount, framing={"swing_deg": 0, "boom_deg": 30, "pan_deg": 10, "tilt_deg": 0})
    assert framing.pose.position_m == pytest.approx((0, -9 + 5 * 3**0.5 / 2, 3.0))
    assert (framing.pose.pan_deg, framing.pose.tilt_deg) == (10, 0)  # the head stays level
    assert framing.arm_deg == (0, 30)


@pytest.mark.parametrize(
    ("changes", "key", "found"),
    [
        ({"framing": {"look_at": "Bob"}}, "look_at", "write a stage point in metres, or one of: Ada, bench"),
        ({"framing": {"look_at": (0, -5, 1.5)}}, "look_at", "is where the camera stands"),
        ({"framing": {"tilt_deg": 91}}, "tilt_deg", "past vertical"),
        ({"framing": {"focus_m": 0.02}}, "focus_m", "focus farther than 0.02 m"),
        ({"position_m": None}, "position_m", "there is no position"),
        ({"mount": {"kind": "jib"}}, "swing_deg", "write swing_deg and boom_deg"),
        (
            {"mount": {"kind": "jib"}, "framing": {"swing_deg": 0, "boom_deg": 0}},
            "swing_deg",
            "a jib needs pivot_m and arm_m",
        ),
    ],
)
def test_what_cannot_be_placed_is_refused(changes: dict[str, Any], key: str, found: str) -> None:
    with pytest.raises(FramingError) as caught:
        placed(**changes)
    assert caught.value.key == key
    assert found in str(caught.value)


def test_catalogue_names_must_be_looked_up_first() -> None:
    with pytest.raises(TypeError, match="studio zoom"):
        lens_of(camera(lens="studio zoom"))
    with pytest.raises(TypeError, match="two-thirds"):
        sensor_of(camera(sensor="two-thirds"))
