"""Laws of the brute-force picture: light is kept, tiles join, colours stand where they belong."""

import cv2
import numpy as np
import pytest

from preview.optics.synthesis_core import Patch, demosaic, mosaic, render
from preview.optics.transfer import Emitter, Optics
from tests.optics.flat_camera import PHOTOSITES, SITE_MM, FlatPicture, view, wall
from tests.optics.spectrum import contrast_at, straight, straight_at

LENS, LAMP = Optics(SITE_MM, 4.0), Emitter(0.4)


@pytest.mark.parametrize("shape", ["square", "round"])
@pytest.mark.parametrize("share", [0.25, 1.0])
def test_the_mean_is_the_light_of_the_led_pixels(share, shape):
    found = render(straight_at(straight(1.7, 11)), Patch(0, 0, 51, 51), 0.7, LENS, Emitter(share, shape))
    assert found.mean() == pytest.approx(1.0, abs=0.01)


def test_full_square_emitters_leave_no_lattice():
    found = render(straight_at(straight(2.0, 20)), Patch(0, 0, 32, 32), 0.0, LENS, Emitter(1.0))
    assert np.ptp(found) < 1e-3


def test_tiles_join(monkeypatch):
    """A patch in one piece and in four, with a blur that changes over it."""
    blur = np.linspace(0.2, 2.0, 60)[None, :] * np.ones((50, 1))
    at, patch = straight_at(straight(1.4, 9)), Patch(10, 20, 60, 50)
    whole = render(at, patch, blur, LENS, LAMP, samples=10)
    monkeypatch.setattr("preview.optics.synthesis_core._TILE", 32)
    pieces = render(at, patch, blur, LENS, LAMP, samples=10)
    assert pieces == pytest.approx(whole, abs=0.01)


def test_blur_that_changes_is_each_of_its_blurs():
    at, patch = straight_at(straight(2.4, 9)), Patch(0, 0, 48, 32)
    blur = np.where(np.arange(48) < 24, 0.0, 3.0)[None, :] * np.ones((32, 1))
    both = render(at, patch, blur, LENS, LAMP)
    for disc, part in ((0.0, slice(0, 24)), (3.0, slice(24, 48))):
        assert both[:, part] == pytest.approx(render(at, patch, disc, LENS, LAMP)[:, part], abs=0.01)


def test_a_patch_is_the_same_wherever_its_corner_lies():
    at = straight_at(straight(1.4, 9))
    large = render(at, Patch(0, 0, 40, 40), 0.3, LENS, LAMP, "bayer", samples=12)
    part = render(at, Patch(13, 8, 20, 20), 0.3, LENS, LAMP, "bayer", samples=12)
    assert part == pytest.approx(large[8:28, 13:33], abs=0.01)


def test_bayer_colours_against_another_library():
    """OpenCV's bilinear demosaicing (it names a pattern by its second row and column: BG is red first)."""
    rng = np.random.default_rng(4)
    picture = rng.uniform(0, 1, (24, 32, 3)).astype(np.float32)
    raw = np.round(mosaic(picture) * 65535).astype(np.uint16)
    library = cv2.cvtColor(raw, cv2.COLOR_BayerBG2RGB)[2:-2, 2:-2] / 65535
    assert demosaic(raw.astype(np.float32) / 65535)[2:-2, 2:-2] == pytest.approx(library, abs=3e-5)


def test_a_mosaic_keeps_to_the_sensors_columns_and_rows():
    picture = np.random.default_rng(5).uniform(0, 1, (12, 12, 3)).astype(np.float32)
    assert np.array_equal(mosaic(picture)[3:, 5:], mosaic(picture[3:, 5:], (5, 3)))


def test_the_light_of_the_led_pixels_is_shown():
    """Red columns left of pixel 20, green from there on."""

    def light(column, row):
        return np.where((column < 20)[..., None], [0.8, 0.0, 0.0], [0.0, 0.5, 0.0])

    found = render(straight_at(straight(2.0)), Patch(0, 0, 80, 30), 6.0, LENS, LAMP, light=light)
    assert found[5:-5, 5:30].mean((0, 1)) == pytest.approx([0.8, 0, 0], abs=0.02)
    assert found[5:-5, 50:75].mean((0, 1)) == pytest.approx([0, 0.5, 0], abs=0.02)


def test_red_light_spreads_more_than_blue():
    """A wavelength a colour: diffraction leaves red the least contrast."""
    lenses = tuple(Optics(SITE_MM, 8.0, wavelength) for wavelength in (630.0, 530.0, 465.0))
    found = render(straight_at(straight(2.2)), Patch(0, 0, 64, 64), 0.0, lenses, LAMP)
    red, green, blue = (contrast_at(found[..., c], np.array([1 / 2.2, 0.0])) for c in range(3))
    assert red < green < blue


def test_beside_the_surface_is_dark():
    picture = FlatPicture(view((0.0, -6.0, 3.0), (0.0, 0.0, 3.0), 10.0), wall(2.5, columns=4, rows=12))
    width = picture.surface.canvas_px[0]

    def at(x, y):
        u, v = picture.canvas_at(x, y)
        outside = (u < 0) | (u > width)
        return np.where(outside, np.nan, u), v

    edge, _ = picture.view.project(
        picture.surface.canvas_to_stage(np.array([[width - 1e-6, 1200.0]]))[0], PHOTOSITES
    )
    patch = Patch(int(edge[0, 0]) - 30, 500, 60, 40)
    blur = np.where(np.arange(60) < 30, 0.5, np.nan)[None, :] * np.ones((40, 1))
    found = render(at, patch, blur, LENS, LAMP)
    assert found[:, -20:].max() < 0.05
    assert found[:, :20].mean() == pytest.approx(1.0, abs=0.05)


def test_an_empty_patch_is_refused():
    with pytest.raises(ValueError, match="0 x 5 photosites"):
        render(straight_at(straight(2.0)), Patch(0, 0, 0, 5), 0.0, LENS, LAMP)
