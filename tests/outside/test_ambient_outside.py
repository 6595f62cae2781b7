"""Reflected stage light and contrast against closed forms: a Lambertian surface, L = E rho / pi, and
(Lw + Lr) / (Lb + Lr). Values worked apart from this project.
"""

from __future__ import annotations

from math import cos, inf, pi, radians, sin

import numpy as np
import pytest

from preview.camera.exposure import card_luminance_cd_m2
from preview.checks.ambient import card_levels, contrast_left, key_card_level, reflected_cd_m2
from preview.show.model import StageLight


@pytest.mark.parametrize(
    ("lux", "reflectance", "reflected", "contrast"),
    [(300, 0.04, 3.8197, 259.4), (500, 0.05, 7.9577, 125.9), (100, 0.05, 1.5915, 610.2)],
)
def test_reflected_light_and_what_it_leaves(
    lux: float, reflectance: float, reflected: float, contrast: float
) -> None:
    """White 1000 cd/m2, black 0.05 cd/m2."""
    lifted = reflected_cd_m2(lux, reflectance)
    assert lifted == pytest.approx(reflected, abs=5e-5)
    assert contrast_left(1000.0, lifted, 0.05) == pytest.approx(contrast, abs=0.05)
    assert lifted == pytest.approx(card_luminance_cd_m2(lux, 100 * reflectance), rel=1e-12)


def test_no_black_and_no_light() -> None:
    assert contrast_left(600.0, 0.0) == inf
    assert contrast_left(600.0, 30.0) == pytest.approx(21.0)


@pytest.mark.parametrize("height_deg", [0.0, 30.0, 70.0])
def test_a_card_follows_the_cosine(height_deg: float) -> None:
    """A card that faces the key reads its level; upright ones the cosine of its height, level ones the sine
    (Lambert's cosine law)."""
    light = StageLight(
        key_level=0.8, fill_level=0.0, ambient_level=0.1, key_pan_deg=0.0, key_height_deg=height_deg,
        key_color="#ffffff",
    )  # fmt: skip
    normals = np.array([(0.0, -1.0, 0.0), (0.0, 0.0, 1.0), (0.0, 1.0, 0.0)])
    upright, level, away = card_levels(light, normals)
    assert upright == pytest.approx(0.1 + 0.8 * cos(radians(height_deg)))
    assert level == pytest.approx(0.1 + 0.8 * sin(radians(height_deg)), abs=1e-9)
    assert away == pytest.approx(0.1), "only the ambient light comes from behind"
    assert key_card_level(light) == pytest.approx(0.9)


def test_a_coloured_key_counts_by_its_luminance() -> None:
    """Pure BT.709 green has 0.7152 of white's luminance (Rec. ITU-R BT.709-6, item 3.2)."""
    light = StageLight(
        key_level=1.0, fill_level=0.0, ambient_level=0.0, key_pan_deg=0.0, key_height_deg=0.0,
        key_color="#00ff00",
    )  # fmt: skip
    assert card_levels(light, np.array([(0.0, -1.0, 0.0)]))[0] == pytest.approx(0.7152)
    assert key_card_level(StageLight(key_level=0.0)) == 0.0


def test_an_even_light_from_all_around_gives_a_facet_pi_times_its_luminance() -> None:
    """E = pi L for a hemisphere of luminance L: a white matt card in it reads L, whichever way it faces."""
    light = StageLight(key_level=0.0, fill_level=0.0, ambient_level=0.25)
    around = np.random.default_rng(3).normal(size=(50, 3))
    around /= np.linalg.norm(around, axis=1, keepdims=True)
    assert card_levels(light, around) == pytest.approx(0.25)
    assert card_luminance_cd_m2(pi * 0.25 * 600, 100) == pytest.approx(150.0)
