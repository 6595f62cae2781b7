"""The sky's numpy truth, and reading it from files."""

from __future__ import annotations

import cv2
import numpy as np
import OpenEXR
import pytest
from PIL import Image

from preview.colour import hex_to_linear
from preview.errors import AssetError
from preview.show.model import SkySettings
from preview.stage.mesh import Sky
from preview.stage.sky import load_sky, read_radiance, sky_radiance

GRADIENT = Sky(zenith=(0.1, 0.2, 0.8), horizon=(1.0, 0.9, 0.8), ground=(0.3, 0.2, 0.1))


def towards(pan_deg, height_deg):
    """Stage direction: pan 0 along +Y, positive to the left (-X)."""
    pan, height = np.radians(pan_deg), np.radians(height_deg)
    return np.array([[-np.sin(pan) * np.cos(height), np.cos(pan) * np.cos(height), np.sin(height)]])


@pytest.mark.parametrize(
    ("direction", "expected"),
    [
        ((0, 0, 5), (0.1, 0.2, 0.8)),
        ((3, -4, 0), (1.0, 0.9, 0.8)),
        ((0, 1, -0.2), (0.3, 0.2, 0.1)),
        ((0, 0, -1), (0.3, 0.2, 0.1)),
        ((0, np.sqrt(1 - 0.25**2), 0.25), (0.55, 0.55, 0.8)),  # square root of 0.25: half way up
        ((0, np.sqrt(1 - 0.06**2), -0.06), (0.65, 0.55, 0.45)),  # half the edge: half way down
    ],
)
def test_gradient(direction, expected):
    np.testing.assert_allclose(sky_radiance(GRADIENT, [direction]), [expected], atol=1e-12)


def test_picture_directions():
    """Centre column along the sky's pan; to its right in the picture is to the right on the stage."""
    image = np.zeros((180, 360, 3), dtype=np.float32)
    image[:, :, 0] = np.arange(360)
    image[:, :, 1] = np.arange(180)[:, None]
    sky = Sky(image=image, pan_deg=20.0)
    # Pixel centres: column 179.5 is the middle; row 89.5 is the horizon.
    np.testing.assert_allclose(sky_radiance(sky, towards(20, 0))[0], [179.5, 89.5, 0], atol=1e-4)
    np.testing.assert_allclose(sky_radiance(sky, towards(-70, 0))[0], [269.5, 89.5, 0], atol=1e-4)
    np.testing.assert_allclose(sky_radiance(sky, towards(50, 30))[0], [149.5, 59.5, 0], atol=1e-4)
    np.testing.assert_allclose(sky_radiance(sky, towards(0, 90))[0, 1], 0, atol=1e-6)
    np.testing.assert_allclose(sky_radiance(sky, towards(0, -90))[0, 1], 179, atol=1e-6)


def test_picture_is_seamless_behind():
    image = np.zeros((2, 4, 3), dtype=np.float32)
    image[:, 0], image[:, 3] = 1.0, 3.0
    just_left, just_right = (
        sky_radiance(Sky(image=image), towards(pan, 0))[0, 0] for pan in (179.99, -179.99)
    )
    assert just_left == pytest.approx(2.0, abs=1e-3) and just_right == pytest.approx(2.0, abs=1e-3)


def test_settings_become_linear_light(tmp_path):
    settings = SkySettings(zenith_color="#808080", level=2.0, ambient_level=0.25, pan_deg=9)
    sky = load_sky(settings, tmp_path, exposure=4.0)
    np.testing.assert_allclose(sky.zenith, np.multiply(hex_to_linear("#808080"), 8))
    assert (sky.ambient, sky.pan_deg, sky.image) == (0.25, 9, None)


LIGHT = np.linspace(0, 8, 4 * 8 * 3, dtype=np.float32).reshape(4, 8, 3)


def write_exr(path, light, half=False):
    pixels = light.astype(np.float16 if half else np.float32)
    header = {"compression": OpenEXR.ZIP_COMPRESSION, "type": OpenEXR.scanlineimage}
    with OpenEXR.File(header, {"RGB": pixels}) as file:
        file.write(str(path))


@pytest.mark.parametrize("half", [False, True])
def test_exr_agrees_with_the_formats_own_library(tmp_path, half):
    write_exr(tmp_path / "sky.exr", LIGHT, half)
    np.testing.assert_allclose(read_radiance(tmp_path / "sky.exr"), LIGHT, rtol=1e-3 if half else 1e-6)


def test_grey_exr(tmp_path):
    header = {"compression": OpenEXR.ZIP_COMPRESSION, "type": OpenEXR.scanlineimage}
    with OpenEXR.File(header, {"Y": LIGHT[..., 0].copy()}) as file:
        file.write(str(tmp_path / "sky.exr"))
    np.testing.assert_allclose(
        read_radiance(tmp_path / "sky.exr"), LIGHT[..., :1].repeat(3, axis=2), rtol=1e-6
    )


def test_exr_with_alpha(tmp_path):
    rgba = np.concatenate([LIGHT, np.ones((4, 8, 1), dtype=np.float32)], axis=2)
    header = {"compression": OpenEXR.NO_COMPRESSION, "type": OpenEXR.scanlineimage}
    with OpenEXR.File(header, {"RGBA": rgba}) as file:
        file.write(str(tmp_path / "sky.exr"))
    np.testing.assert_allclose(read_radiance(tmp_path / "sky.exr"), LIGHT, rtol=1e-6)


def test_hdr_and_coded_pictures(tmp_path):
    cv2.imwrite(str(tmp_path / "sky.hdr"), LIGHT[..., ::-1])
    # Radiance shares one exponent between three 8-bit mantissas: 1/128 of the brightest of the three.
    np.testing.assert_allclose(read_radiance(tmp_path / "sky.hdr"), LIGHT, atol=8 / 128)
    Image.fromarray(np.full((2, 4, 3), (188, 0, 255), dtype=np.uint8)).save(tmp_path / "sky.png")
    np.testing.assert_allclose(read_radiance(tmp_path / "sky.png")[0, 0], [0.5029, 0, 1], atol=1e-4)


def test_picture_level_and_the_brightest_allowed(tmp_path):
    bright = LIGHT.copy()
    bright[0, 0] = 1e6
    write_exr(tmp_path / "sky.exr", bright)
    sky = load_sky(SkySettings(image="sky.exr", level=0.5), tmp_path)
    assert sky.image.max() == 6e4
    np.testing.assert_allclose(sky.image[1], LIGHT[1] / 2, rtol=1e-6)


def test_refusals(tmp_path):
    with pytest.raises(AssetError, match=r"sky.exr: does not exist"):
        read_radiance(tmp_path / "sky.exr")
    for name in ("sky.exr", "sky.hdr", "sky.png"):
        (tmp_path / name).write_bytes(b"not a picture" * 9)
        with pytest.raises(
            AssetError, match=r"sky\.(exr: cannot be read as EXR|hdr: is not a Rad|png: is not a pic)"
        ):
            read_radiance(tmp_path / name)
    with pytest.raises(AssetError, match=r"is a .bmp file, not one of .png, .jpg, .jpeg, .hdr, .exr"):
        read_radiance(tmp_path / "sky.bmp")
    write_exr(tmp_path / "nan.exr", np.where(LIGHT > 7.9, np.nan, LIGHT))
    with pytest.raises(AssetError, match="has 1 pixels that are not finite"):
        read_radiance(tmp_path / "nan.exr")
