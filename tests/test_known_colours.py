"""Known colours, the whole way: a textured glTF card, the wall, a camera, a clip on disk, read back.

The colours expected are worked out here from the standards' own equations, and where each patch must
appear follows from a pinhole camera's similar triangles; nothing of the program is asked.
"""

from __future__ import annotations

import io

import av
import numpy as np
import pytest
from PIL import Image

from preview.frame import Studio, Wanted
from preview.job import Job, StillFrame
from preview.run import render
from preview.show.load import load_show
from tests.stage.gltf_builder import QUAD_UV, Gltf

PATCHES = np.array(
    [
        [(255, 255, 255), (128, 128, 128), (24, 24, 24), (200, 150, 120)],
        [(180, 40, 40), (60, 150, 70), (50, 60, 160), (220, 190, 40)],
    ],
    dtype=np.uint8,
)
"""sRGB codes of the card's patches: greys, a skin tone and strong colours."""

PATCH_M, CARD_Y_M, CARD_Z_M = 1.5, 9.0, 2.0  # side of a patch, distance and middle height of the card
CAMERA_Y_M, FOCAL_MM, SENSOR_MM = -4.0, 16.0, (9.6, 5.4)
SIZE_PX, FRAMES = (640, 360), 10

STILL_CODES = 1
"""How far a still may be from the equations: half a code of rounding in the texture's and in the
picture's 8 bits."""

CLIP_CODES = 2
"""How far a clip may be, beyond a still: luma has 219 steps for 255 codes and blue-difference chroma
1.856 * 255 / 224 codes a step, so half a step of each is 0.6 + 1.1 codes, and the encoder's quantiser
has little to do on flat patches. 1.4 codes in all were measured."""

SHOW = f"""
format = 1
[show]
title = "The Glasshouse Hour"
frame_rate = "25"
picture_size_px = [{SIZE_PX[0]}, {SIZE_PX[1]}]
[picture]
exposure_stops = 0.0
knee_point = 1.0
[stage]
[[stage.surfaces]]
name = "Wall"
tile_size_mm = [500, 500]
pixel_pitch_mm = 2.5
columns = 14
rows = 9
joint_angle_deg = 4
position_m = [0, 3, 0]
[virtual]
mesh = "card.glb"
[virtual.sun]
level = 0.0
[[cameras]]
name = "CAM1"
number = 1
sensor = {{ size_mm = [{SENSOR_MM[0]}, {SENSOR_MM[1]}], photosites = [1920, 1080] }}
lens = {{ focal_length_mm = [6, 40] }}
position_m = [0, {CAMERA_Y_M}, {CARD_Z_M}]
[[cameras.framings]]
name = "card"
look_at = [0, {CARD_Y_M}, {CARD_Z_M}]
focal_length_mm = {FOCAL_MM}
[[rundown]]
name = "Colours"
on_air = "CAM1"
duration = 1
cameras.CAM1 = {{ framing = "card" }}
"""


def card_glb(path):
    """An unlit card of two rows of four patches, 32 texels each; glTF has Y up and looks along -Z."""
    texels = io.BytesIO()
    Image.fromarray(PATCHES.repeat(32, axis=0).repeat(32, axis=1)).save(texels, "PNG")
    file = Gltf()
    image = file.append("images", {"bufferView": file.view(texels.getvalue()), "mimeType": "image/png"})
    texture = file.append("textures", {"source": image})
    file.document["extensionsUsed"] = ["KHR_materials_unlit"]
    material = file.append(
        "materials",
        {"pbrMetallicRoughness": {"baseColorTexture": {"index": texture}}}
        | {"extensions": {"KHR_materials_unlit": {}}},
    )
    half_w, half_h = 2 * PATCH_M, PATCH_M
    corners = [(-half_w, -half_h), (half_w, -half_h), (half_w, half_h), (-half_w, half_h)]
    positions = np.array([(x, CARD_Z_M + y, -CARD_Y_M) for x, y in corners], np.float32)
    mesh = file.mesh(file.primitive(material, POSITION=positions, TEXCOORD_0=QUAD_UV))
    file.node(mesh=mesh)
    return file.save(path)


def expected_codes():
    """(2, 4, 3) BT.709 codes of the patches, not rounded.

    sRGB to linear: IEC 61966-2-1:1999, clause 5.2. Linear to signal: Rec. ITU-R BT.709-6, item 1.2.
    """
    srgb = PATCHES / 255
    linear = np.where(srgb <= 0.04045, srgb / 12.92, ((srgb + 0.055) / 1.055) ** 2.4)
    return 255 * np.where(linear < 0.018, 4.5 * linear, 1.099 * linear**0.45 - 0.099)


def patch_windows():
    """Row, column and pixel window (left, top, right, bottom) of the middle half of each patch."""
    px_per_m = FOCAL_MM / (CARD_Y_M - CAMERA_Y_M) / SENSOR_MM[0] * SIZE_PX[0]
    for row in range(2):
        for column in range(4):
            x = SIZE_PX[0] / 2 + (column - 1.5) * PATCH_M * px_per_m
            y = SIZE_PX[1] / 2 + (row - 0.5) * PATCH_M * px_per_m
            reach = PATCH_M * px_per_m / 4
            yield row, column, tuple(round(v) for v in (x - reach, y - reach, x + reach, y + reach))


def decoded(frame):
    """(h, w, 3) codes, not rounded, of a limited-range 4:2:0 frame, chroma samples held.

    Rec. ITU-R BT.709-6, items 3.2 to 3.4, solved for R'G'B'.
    """
    assert frame.format.name == "yuv420p"
    planes = frame.to_ndarray().astype(np.float64)
    height, width = frame.height, frame.width
    luma = (planes[:height] - 16) / 219
    chroma = planes[height:].reshape(2, height // 2, width // 2).repeat(2, axis=1).repeat(2, axis=2)
    blue_difference, red_difference = (chroma - 128) / 224
    red = luma + 1.5748 * red_difference
    blue = luma + 1.8556 * blue_difference
    green = (luma - 0.2126 * red - 0.0722 * blue) / 0.7152
    return 255 * np.stack([red, green, blue], axis=-1)


@pytest.fixture(scope="module")
def written(tmp_path_factory):
    """Folder with a still and a ten-frame clip of the return and the programme."""
    folder = tmp_path_factory.mktemp("colours")
    card_glb(folder / "card.glb")
    (folder / "show.toml").write_text(SHOW)
    job = Job(Wanted(("return", "programme")), SIZE_PX, (StillFrame(0, 1, "start"),), clip=(0, FRAMES - 1))
    with Studio(load_show(folder / "show.toml"), SIZE_PX) as studio:
        summary = render(studio, job, folder / "out")
    assert len(summary.files) == 4
    return folder / "out"


@pytest.mark.parametrize("picture", ["return_CAM1", "programme"])
def test_a_textured_card_keeps_its_colours_into_a_still(written, picture):
    (path,) = written.glob(f"*_{picture}.png")
    code = np.asarray(Image.open(path)).astype(np.float64)
    for row, column, (left, top, right, bottom) in patch_windows():
        error = np.abs(code[top:bottom, left:right] - expected_codes()[row, column]).max()
        assert error <= STILL_CODES, f"patch {row}, {column} is {error:.2f} codes off"


@pytest.mark.parametrize("picture", ["return_CAM1", "programme"])
def test_a_textured_card_keeps_its_colours_into_every_frame_of_a_clip(written, picture):
    (path,) = written.glob(f"*_{picture}.mp4")
    with av.open(str(path)) as container:
        frames = list(container.decode(video=0))
    assert len(frames) == FRAMES
    for number, frame in enumerate(frames):
        assert (frame.colorspace, frame.color_range) == (1, 1), "tagged BT.709, limited range"
        code = decoded(frame)
        for row, column, (left, top, right, bottom) in patch_windows():
            error = np.abs(code[top:bottom, left:right] - expected_codes()[row, column]).max()
            assert error <= STILL_CODES + CLIP_CODES, (
                f"frame {number}: patch {row}, {column} is {error:.2f} codes off"
            )
