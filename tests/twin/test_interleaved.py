"""An interleaved wall against switched ones: a slot shows what a wall that follows that camera shows.

Nothing here reads stacks or shares. Each picture of the interleaved show is predicted from whole pictures
of three other shows, which differ in their drive and in who is on air, added up in linear light.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from PIL import Image

from preview.frame import Studio, Wanted
from preview.show.load import Show, load_show
from tests.twin.test_frame import write_cards

SIZE = (192, 108)
CAMERAS = ("left", "middle", "right")
CROSSTALK = 0.05
ROUNDING = 2e-4
"""Light is added in float32 from images held in half floats, in another order than here; 1.0 is white."""

CAMERA = """
[[cameras]]
name = "{name}"
number = {number}
sensor = {{ size_mm = [9.6, 5.4], photosites = [1920, 1080] }}
lens = {{ focal_length_mm = [6.0, 60.0], k1 = {k1} }}
position_m = {position}
[[cameras.framings]]
name = "cards"
look_at = [0.0, 4.0, 1.2]
focal_length_mm = {focal}
[[cameras.framings]]
name = "aside"
look_at = [1.5, 4.0, 0.9]
focal_length_mm = {focal}
[[cameras.moves]]
name = "drift"
start = "cards"
end = "aside"
duration_s = 4.0
"""

STAGE = """
format = 1
[show]
title = "The Glasshouse Hour"
frame_rate = "25"
picture_size_px = [192, 108]
[picture]
exposure_stops = -0.5
[stage]
white_cd_m2 = 600.0
[stage.house]
position_m = [1.0, -7.0, 1.7]
look_at_m = [0.0, 4.0, 1.8]
horizontal_angle_deg = 70
[[stage.surfaces]]
name = "Wall"
tile_size_mm = [500, 500]
pixel_pitch_mm = 10.0
peak_luminance_cd_m2 = 1500.0
columns = 16
rows = 9
joint_angle_deg = 4.0
position_m = [0.0, 4.0, 0.0]
[[stage.surfaces]]
name = "Floor"
kind = "floor"
tile_size_mm = [500, 500]
pixel_pitch_mm = 10.0
peak_luminance_cd_m2 = 900.0
columns = 12
rows = 8
position_m = [0.0, 0.0, 0.0]
[[stage.people]]
name = "Presenter"
position_m = [-0.6, 1.5, 0.0]
[stage.light]
key_level = 0.0
fill_level = 0.6
[virtual]
mesh = "cards.gltf"
[virtual.sky]
image = "clouds.png"
"""

RUNDOWN = """
[[rundown]]
name = "one"
on_air = "left"
duration = 0.4
[rundown.cameras]
left = { move = "drift" }
[[rundown]]
name = "two"
on_air = "middle"
duration = 0.4
[[rundown]]
name = "three"
on_air = "right"
duration = 0.4
transition = "mix"
mix_frames = 4
"""


@pytest.fixture(scope="module")
def show(tmp_path_factory: pytest.TempPathFactory) -> Show:
    folder = tmp_path_factory.mktemp("interleaved")
    write_cards(folder / "cards.gltf")
    # Patches of colour all round, so that every surface shows parallax from one camera to the next.
    patches = np.random.default_rng(7).integers(0, 256, (16, 32, 3), dtype=np.uint8)
    Image.fromarray(patches).resize((512, 256), Image.Resampling.BICUBIC).save(folder / "clouds.png")
    places = (("left", [-2.2, -3.0, 1.5], 9.0, -0.03), ("middle", [0.3, -5.0, 1.9], 14.0, 0.0),
              ("right", [2.4, -2.5, 1.2], 8.0, 0.0))  # fmt: skip
    cameras = "".join(
        CAMERA.format(name=name, number=n + 1, position=position, focal=focal, k1=k1)
        for n, (name, position, focal, k1) in enumerate(places)
    )
    (folder / "show.toml").write_text(STAGE + cameras + '[drive]\nmode = "interleaved"\n' + RUNDOWN)
    return load_show(folder / "show.toml")


class Walls:
    """Studios of one show under several drives, made once each."""

    def __init__(self, show: Show) -> None:
        self.show = show
        self.studio = cache(self._studio)
        self.open: list[Studio] = []

    def _studio(self, mode: str, crosstalk: float = 0.0, follows: str | None = None) -> Studio:
        file = self.show.file
        drive = file.drive.model_copy(update={"mode": mode, "crosstalk": crosstalk})
        rundown = file.rundown
        if follows is not None:  # one camera on air all through; what the others do stays
            changes = {"on_air": follows, "transition": "cut", "mix_frames": None}
            rundown = tuple(shot.model_copy(update=changes) for shot in rundown)
        made = Studio(replace(self.show, file=file.model_copy(update={"drive": drive, "rundown": rundown})))
        self.open.append(made)
        return made

    def interleaved(self, frame: int, crosstalk: float = 0.0) -> dict[str, Any]:
        return pictures(self.studio("interleaved", crosstalk), frame)

    def following(self, camera: str, frame: int) -> dict[str, Any]:
        return pictures(self.studio("switched", follows=camera), frame)


def pictures(studio: Studio, frame: int, *kinds: str) -> dict[str, Any]:
    kinds = kinds or ("wall", "as-shot", "return", "programme", "programme-as-shot", "house")
    return {picture.label: picture for picture in studio.pictures(frame, Wanted(kinds, linear=True))}


@pytest.fixture(scope="module")
def walls(show: Show):
    made = Walls(show)
    yield made
    for studio in made.open:
        studio.close()


def apart(one: np.ndarray, other: np.ndarray) -> float:
    """Share of pixels that differ visibly."""
    return float((np.abs(one.astype(np.float64) - other).max(axis=2) > 0.02).mean())


@pytest.mark.parametrize("label", ["house", "wall Wall", "wall Floor"])
@pytest.mark.parametrize("frame", [0, 7])
def test_slow_eyes_see_the_mean_over_the_slots(walls: Walls, frame: int, label: str) -> None:
    """House and canvases: the mean of three walls, clipped at the LED's peak before it is taken."""
    seen = [walls.following(camera, frame)[label].linear.astype(np.float64) for camera in CAMERAS]
    assert min(apart(a, b) for a, b in pairwise(seen)) > 0.02, "the slots do differ"
    shown = walls.interleaved(frame)[label]
    np.testing.assert_allclose(shown.linear, np.mean(seen, axis=0), atol=ROUNDING)
    # The mean of light is coded, not the mean of codes.
    code = walls.studio("interleaved", 0.0).display.code(np.mean(seen, axis=0))
    assert np.abs(shown.code.astype(int) - code).max() <= 1


def test_the_eyes_mean_does_not_depend_on_crosstalk(walls: Walls) -> None:
    clean, leaking = walls.interleaved(0), walls.interleaved(0, CROSSTALK)
    for label in ("house", "wall Wall"):
        np.testing.assert_array_equal(clean[label].linear, leaking[label].linear)


@pytest.mark.parametrize("camera", CAMERAS)
def test_without_crosstalk_every_camera_shoots_clean_at_once(walls: Walls, camera: str) -> None:
    for frame in (0, 7):
        shown = walls.interleaved(frame)
        np.testing.assert_array_equal(shown[f"as-shot {camera}"].linear, shown[f"return {camera}"].linear)
        np.testing.assert_array_equal(shown[f"as-shot {camera}"].code, shown[f"return {camera}"].code)
        alone = walls.following(camera, frame)[f"as-shot {camera}"]
        np.testing.assert_allclose(shown[f"as-shot {camera}"].linear, alone.linear, atol=ROUNDING)


@pytest.mark.parametrize("camera", CAMERAS)
def test_crosstalk_ghosts_by_exactly_its_share(walls: Walls, camera: str) -> None:
    """1 - c of the camera's own wall, and c/2 of it with the wall as each of the other two has it."""
    label = f"as-shot {camera}"
    seen = {name: walls.following(name, 0)[label].linear.astype(np.float64) for name in CAMERAS}
    ghosts = sum(CROSSTALK / 2 * light for name, light in seen.items() if name != camera)
    shown = walls.interleaved(0, CROSSTALK)[label]
    np.testing.assert_allclose(shown.linear, (1 - CROSSTALK) * seen[camera] + ghosts, atol=ROUNDING)
    ghosted = np.abs(shown.linear - walls.interleaved(0)[label].linear).max()
    largest = max(np.abs(light - seen[camera]).max() for light in seen.values())
    assert 0.005 < ghosted <= CROSSTALK * largest + ROUNDING, (
        "there is a ghost, and no stronger than its share"
    )
    # What no wall lights (the presenter, what lies past the LED) has no ghost.
    assert shown.off_wall == walls.interleaved(0)[label].off_wall
    # A return is what it ought to be, not what leaks.
    clean = walls.interleaved(0)[f"return {camera}"]
    np.testing.assert_array_equal(walls.interleaved(0, CROSSTALK)[f"return {camera}"].linear, clean.linear)


def test_content_of_another_slot_contributes_nothing(walls: Walls) -> None:
    """Camera "left" drifts from frame 0 to 9; "right" holds. Its picture is the same to the last bit, though
    on a wall that followed "left" it would not be, and through crosstalk it is not."""
    clean = [walls.interleaved(frame)["as-shot right"].linear for frame in (0, 9)]
    np.testing.assert_array_equal(*clean)
    followed = [walls.following("left", frame)["as-shot right"].linear for frame in (0, 9)]
    assert apart(*followed) > 0.01
    leaking = [walls.interleaved(frame, CROSSTALK)["as-shot right"].linear for frame in (0, 9)]
    change = np.abs(np.subtract(*leaking))
    assert 0.0 < change.max() <= CROSSTALK / 2 * np.abs(np.subtract(*followed)).max() + ROUNDING


@pytest.mark.parametrize("frame", [9, 10, 20, 22, 29])
def test_programme_goes_to_air_as_it_ought_to(walls: Walls, frame: int) -> None:
    """Across a cut (frame 10) and through a mix (20 to 23): every camera always has its own background."""
    shown = walls.interleaved(frame)
    np.testing.assert_array_equal(shown["programme-as-shot"].code, shown["programme"].code)
    moment = walls.studio("interleaved", 0.0).timeline.at(frame)
    if moment.mix_from is None:
        np.testing.assert_array_equal(shown["programme"].code, shown[f"as-shot {moment.on_air}"].code)
    else:
        parts = [shown[f"as-shot {name}"].code.astype(float) for name in (moment.mix_from, moment.on_air)]
        mixed = parts[0] * (1 - moment.mix_share) + parts[1] * moment.mix_share
        assert np.abs(shown["programme"].code - mixed).max() <= 0.5001


def test_crosstalk_reaches_programme_as_shot_but_not_programme(walls: Walls) -> None:
    clean, leaking = walls.interleaved(9), walls.interleaved(9, CROSSTALK)
    np.testing.assert_array_equal(leaking["programme"].linear, clean["programme"].linear)
    np.testing.assert_array_equal(leaking["programme-as-shot"].linear, leaking["as-shot left"].linear)
    assert np.abs(leaking["programme-as-shot"].linear - clean["programme-as-shot"].linear).max() > 0.005


def test_a_late_wall_harms_no_cut(show: Show) -> None:
    """There is nothing to switch: at the cut of frame 10 a wall three frames late has every slot right."""
    late = {"delays": show.file.delays.model_copy(update={"wall_switch_frames": 3})}
    kinds = ("programme", "programme-as-shot")
    with Studio(replace(show, file=show.file.model_copy(update=late))) as studio:
        shown = pictures(studio, 11, *kinds)
        np.testing.assert_array_equal(shown["programme"].code, shown["programme-as-shot"].code)
    switched = show.file.drive.model_copy(update={"mode": "switched"})
    with Studio(replace(show, file=show.file.model_copy(update={**late, "drive": switched}))) as studio:
        wrong = pictures(studio, 11, *kinds)
        assert apart(wrong["programme"].linear, wrong["programme-as-shot"].linear) > 0.02
