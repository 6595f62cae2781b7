"""Whole frames, from a show file and a glTF scene on disk to code values, checked without the twin.

Three flat cards of known colour stand behind the LED wall. What a camera must show of them follows
from its pose alone: their colour through the display transform, where their corners project.
"""

from __future__ import annotations

import base64
import json

import cv2
import numpy as np
import pytest

from preview.frame import Studio, Wanted
from preview.show.load import load_show

SIZE = (384, 216)
CARDS = {
    # name: (linear colour, middle (x, z), half width and half height), all on stage metres at Y = 7
    "amber": ((0.62, 0.31, 0.05), (-1.1, 2.2), (0.7, 0.45)),
    "teal": ((0.04, 0.35, 0.42), (0.7, 1.9), (0.5, 0.7)),
    "lamp": ((4.0, 3.0, 0.5), (0.1, 3.2), (0.35, 0.15)),
}
CARD_Y_M = 7.0
HEADROOM = 1500.0 / 600.0
SHOW = """
format = 1
[show]
title = "The Glasshouse Hour"
frame_rate = "25"
picture_size_px = [384, 216]
[picture]
exposure_stops = -0.5
knee_point = 0.8
knee_range_stops = 2.0
[stage]
eye_point_m = [0.5, -1.0, 1.4]
white_cd_m2 = 600.0
[[stage.surfaces]]
name = "Wall"
tile_size_mm = [500, 500]
pixel_pitch_mm = 5.0
peak_luminance_cd_m2 = 1500.0
columns = 16
rows = 9
joint_angle_deg = 3.0
position_m = [0.0, 4.0, 0.0]
[virtual]
mesh = "cards.gltf"
[virtual.sky]
zenith_color = "#203040"
horizon_color = "#203040"
ground_color = "#203040"
[[cameras]]
name = "near"
number = 1
sensor = { size_mm = [9.6, 5.4], photosites = [1920, 1080] }
lens = { focal_length_mm = [6.0, 40.0], k1 = -0.03 }
[[cameras.framings]]
name = "cards"
position_m = [-1.4, -2.5, 1.6]
look_at = [-0.1, 4.0, 2.1]
focal_length_mm = 11.0
[[cameras]]
name = "far"
number = 2
sensor = { size_mm = [9.6, 5.4], photosites = [1920, 1080] }
lens = { focal_length_mm = [6.0, 40.0] }
[[cameras.framings]]
name = "cards"
position_m = [2.2, -4.0, 1.2]
look_at = [0.2, 4.0, 2.0]
roll_deg = 3.0
focal_length_mm = 15.0
[drive]
mode = "shared"
edge_line = true
edge_width_mm = 60.0
[[rundown]]
name = "open"
on_air = "near"
duration = 1.0
[rundown.cameras]
near = { framing = "cards" }
far = { framing = "cards" }
[[rundown]]
name = "over"
on_air = "far"
duration = 1.0
transition = "mix"
mix_frames = 10
"""


def write_cards(path) -> None:
    """A glTF 2.0 file of unlit cards: Y up, -Z away, so a stage Y of 7 m is a file Z of -7."""
    corners = np.concatenate(
        [
            [
                (x - w, z + h, -CARD_Y_M),
                (x - w, z - h, -CARD_Y_M),
                (x + w, z - h, -CARD_Y_M),
                (x + w, z + h, -CARD_Y_M),
            ]
            for _, (x, z), (w, h) in CARDS.values()
        ]
    ).astype(np.float32)
    indices = np.array([0, 1, 2, 0, 2, 3], dtype=np.uint16)
    data = corners.tobytes() + indices.tobytes()
    views = [
        {"buffer": 0, "byteOffset": 0, "byteLength": corners.nbytes},
        {"buffer": 0, "byteOffset": corners.nbytes, "byteLength": indices.nbytes},
    ]
    index = len(CARDS)
    accessors = [
        {
            "bufferView": 0,
            "byteOffset": 48 * i,
            "componentType": 5126,
            "count": 4,
            "type": "VEC3",
            "min": corners[4 * i : 4 * i + 4].min(axis=0).tolist(),
            "max": corners[4 * i : 4 * i + 4].max(axis=0).tolist(),
        }
        for i in range(index)
    ] + [{"bufferView": 1, "componentType": 5123, "count": 6, "type": "SCALAR"}]
    materials = []
    for color, _, _ in CARDS.values():
        base = np.minimum(color, 1.0)
        material = {
            "pbrMetallicRoughness": {"baseColorFactor": [*base.tolist(), 1.0]},
            "extensions": {"KHR_materials_unlit": {}},
        }
        if max(color) > 1:  # a lamp brighter than white: black, and glowing
            strength = max(color)
            material = {
                "pbrMetallicRoughness": {"baseColorFactor": [0, 0, 0, 1], "metallicFactor": 1.0},
                "emissiveFactor": (np.array(color) / strength).tolist(),
                "extensions": {"KHR_materials_emissive_strength": {"emissiveStrength": strength}},
            }
        materials.append(material)
    document = {
        "asset": {"version": "2.0"},
        "extensionsUsed": ["KHR_materials_unlit", "KHR_materials_emissive_strength"],
        "scene": 0,
        "scenes": [{"nodes": list(range(index))}],
        "nodes": [{"name": name, "mesh": i} for i, name in enumerate(CARDS)],
        "meshes": [
            {"primitives": [{"attributes": {"POSITION": i}, "indices": index, "material": i}]}
            for i in range(index)
        ],
        "materials": materials,
        "accessors": accessors,
        "bufferViews": views,
        "buffers": [
            {
                "byteLength": len(data),
                "uri": "data:application/octet-stream;base64," + base64.b64encode(data).decode(),
            }
        ],
    }
    path.write_text(json.dumps(document))


@pytest.fixture(scope="module")
def studio(tmp_path_factory):
    folder = tmp_path_factory.mktemp("cards")
    write_cards(folder / "cards.gltf")
    (folder / "show.toml").write_text(SHOW)
    with Studio(load_show(folder / "show.toml")) as made:
        yield made


def pictures(studio, frame: int) -> dict:
    wanted = Wanted(kinds=("inner", "as-shot", "return", "programme", "programme-as-shot"), linear=True)
    return {picture.label: picture for picture in studio.pictures(frame, wanted)}


def card_outline(name: str, view) -> np.ndarray:
    """(4, 2) picture points of a card's corners, straight from the camera."""
    _, (x, z), (w, h) = CARDS[name]
    corners = [
        (x - w, CARD_Y_M, z + h),
        (x - w, CARD_Y_M, z - h),
        (x + w, CARD_Y_M, z - h),
        (x + w, CARD_Y_M, z + h),
    ]
    pixels, valid = view.project(np.array(corners), SIZE)
    assert valid.all() and (pixels > 4).all() and (pixels < np.array(SIZE) - 4).all()
    return pixels


def inside_card(name: str, view, shrink_px: int) -> np.ndarray:
    """(h, w) bool: pixels well inside the projected card."""
    mask = np.zeros((SIZE[1], SIZE[0]), dtype=np.uint8)
    outline = np.round((card_outline(name, view) - 0.5) * 16).astype(np.int32)
    cv2.fillPoly(mask, [outline], 1, shift=4)
    return cv2.erode(mask, np.ones((2 * shrink_px + 1,) * 2, np.uint8)) > 0


@pytest.mark.parametrize("camera", ["near", "far"])
@pytest.mark.parametrize("name", CARDS)
def test_known_colours_pass_from_file_through_wall_to_every_return(studio, camera, name):
    """Colour and place, with headroom: the wall cannot show the lamp brighter than its peak."""
    view = studio.timeline.at(0).camera(camera).view
    picture = pictures(studio, 0)[f"return {camera}"]
    color = np.minimum(CARDS[name][0], HEADROOM)
    inside = inside_card(name, view, 2)
    assert inside.sum() > 60
    np.testing.assert_allclose(picture.linear[inside], np.broadcast_to(color, (inside.sum(), 3)), rtol=2e-3)
    expected = studio.display.code(color)
    assert np.abs(picture.code[inside].astype(int) - expected).max() <= 1
    # As many pixels have the colour as the outline holds, give or take half its edge.
    alike = (np.abs(picture.linear - color) < 0.02 + 0.02 * color).all(axis=2).sum()
    area = cv2.contourArea(card_outline(name, view).astype(np.float32))
    edge = cv2.arcLength(card_outline(name, view).astype(np.float32), True)
    assert abs(alike - area) < 0.6 * edge


def test_on_air_the_camera_sees_its_own_return_even_on_a_shared_wall(studio):
    shown = pictures(studio, 0)
    for on_air, alike in (("near", "return near"), ("near", "programme")):
        difference = np.abs(shown[f"as-shot {on_air}"].code.astype(int) - shown[alike].code)
        assert difference.max() <= 1
    np.testing.assert_array_equal(shown["programme"].code, shown["return near"].code)
    np.testing.assert_array_equal(shown["programme-as-shot"].code, shown["as-shot near"].code)


def test_off_air_the_return_is_not_what_the_camera_sees(studio):
    """The on-air frustum lies over the other's on the wall; the return takes it away."""
    shown = pictures(studio, 0)
    difference = np.abs(shown["as-shot far"].code.astype(int) - shown["return far"].code)
    assert (difference.max(axis=2) > 20).mean() > 0.05
    line = (0x37, 0xD6, 0x7A)  # the edge line's default colour is sRGB; it is on the wall, so exposed
    near_line = np.abs(shown["as-shot far"].linear - srgb_to_linear(line)).max(axis=2) < 0.02
    assert 20 < near_line.sum() < 4000
    assert not (np.abs(shown["return far"].linear - srgb_to_linear(line)).max(axis=2) < 0.02).any()


def srgb_to_linear(code: tuple[int, int, int]) -> np.ndarray:
    """Source: IEC 61966-2-1:1999, 5.2."""
    signal = np.array(code) / 255
    return np.where(signal <= 0.04045, signal / 12.92, ((signal + 0.055) / 1.055) ** 2.4)


def test_mix_is_the_two_returns_mixed_as_signals(studio):
    frame = 25 + 3
    moment = studio.timeline.at(frame)
    assert moment.mix_from == "near" and moment.on_air == "far" and 0.1 < moment.mix_share < 0.9
    shown = pictures(studio, frame)
    near, far = (shown[f"return {name}"].code.astype(float) for name in ("near", "far"))
    mixed = near * (1 - moment.mix_share) + far * moment.mix_share
    assert np.abs(shown["programme"].code - mixed).max() <= 0.5001
    assert np.abs(shown["programme"].code - far).max() > 20
    # Mixed in light instead, mid-tones would come out brighter: the signal is what a mixer adds.
    light = studio.display.code(
        shown["return near"].linear * (1 - moment.mix_share) + shown["return far"].linear * moment.mix_share
    )
    assert np.abs(shown["programme"].code.astype(int) - light).max() > 10
