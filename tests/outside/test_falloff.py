"""Luminance of tiles by angle against closed forms.

Sources: Lambert's cosine law and the half-value angle as of the CIE's International Lighting Vocabulary
(CIE S 017, term 17-24-097, read through texts that quote it); luminous flux of a source with I = I0 cos^m,
2 pi I0 / (m + 1), by integration over the hemisphere (textbook formula, from memory).
"""

from __future__ import annotations

from math import cos, pi, radians

import numpy as np
import pytest

from preview.show.model import Surface
from preview.stage.falloff import Falloff, cosine_power, seen_luminance, tile_axes
from preview.stage.surface import build_surface
from tests.twin.stages import faceted_wall, led_floor

TILES = {"tile_size_mm": (500, 500), "pixel_pitch_mm": 2.5, "columns": 4, "rows": 3}


def wall(viewing_angle_deg=(160.0, 140.0), of="luminance", **where):
    return build_surface(
        Surface(name="W", viewing_angle_deg=viewing_angle_deg, viewing_angle_of=of, **TILES, **where)
    )


def sightline(surface, across_deg, down_deg=0.0, triangle=0):
    """Towards the first triangle, so many degrees off its normal in one of its two planes."""
    normal, row = tile_axes(surface)[triangle]
    aside = row if across_deg else np.cross(row, normal)
    angle = radians(across_deg or down_deg)
    return -(normal * np.cos(angle) + aside * np.sin(angle))


def seen(surface, across_deg, down_deg=0.0, triangle=0):
    ray = sightline(surface, across_deg, down_deg, triangle)
    return float(seen_luminance(surface, np.array([triangle]), ray[None])[0])


@pytest.mark.parametrize(
    ("half_value_deg", "power"), [(60.0, 1.0), (45.0, 2.0), (70.0, 0.64606), (80.0, 0.39592)]
)
def test_powers_of_half_value_angles(half_value_deg, power):
    """cos 60 = 1/2 and cos^2 45 = 1/2; the two others by hand from ln 0.5 / ln cos."""
    assert cosine_power(half_value_deg) == pytest.approx(power, abs=5e-6)


@pytest.mark.parametrize("angle", [0.0, 90.0, -5.0, 120.0])
def test_no_power_without_a_half_value_angle(angle):
    with pytest.raises(ValueError, match="half-value angle"):
        cosine_power(angle)


@pytest.mark.parametrize("off_deg", [0.0, 30.0, 60.0, 85.0])
def test_a_lambertian_tile_is_as_bright_from_everywhere(off_deg):
    """Lambert: half the intensity at 60 degrees, the same luminance at all."""
    assert seen(wall((120.0, 120.0), "intensity"), off_deg) == pytest.approx(1.0, abs=1e-12)


@pytest.mark.parametrize("place", [{}, {"yaw_deg": 35.0, "position_m": (1.0, 4.0, 0.5)}, {"tilt_deg": 90.0}])
def test_half_the_luminance_at_the_half_value_angles(place):
    surface = wall((160.0, 140.0), **place)
    assert seen(surface, 80.0) == pytest.approx(0.5, abs=1e-9)
    assert seen(surface, -80.0) == pytest.approx(0.5, abs=1e-9)
    assert seen(surface, 0.0, 70.0) == pytest.approx(0.5, abs=1e-9)
    assert seen(surface, 0.0, -70.0) == pytest.approx(0.5, abs=1e-9)
    assert seen(surface, 0.0, 80.0) < 0.4 < 0.6 < seen(surface, 70.0), "the planes are not mixed up"
    assert seen(surface, 1e-9) == pytest.approx(1.0, abs=1e-12)


@pytest.mark.parametrize("half_value_deg", [45.0, 60.0, 70.0])
def test_half_the_intensity_at_the_half_value_angle(half_value_deg):
    """Intensity is luminance times the area seen: I / I0 = L / L0 cos h = 1/2."""
    luminance = seen(wall((2 * half_value_deg, 150.0), "intensity"), half_value_deg)
    assert luminance * cos(radians(half_value_deg)) == pytest.approx(0.5, abs=1e-9)


@pytest.mark.parametrize("half_value_deg", [30.0, 60.0, 70.0])
def test_flux_of_a_power_of_the_cosine(half_value_deg):
    """Flux of luminance x cosine over the hemisphere is 2 pi I0 / (m + 1)."""
    falloff = Falloff.of((2 * half_value_deg,) * 2, "intensity")
    polar = (np.arange(20000) + 0.5) / 20000 * pi / 2
    luminance = falloff.luminance(np.cos(polar), np.zeros_like(polar))
    flux = float((luminance * np.cos(polar) * 2 * pi * np.sin(polar)).sum() * (pi / 2 / 20000))
    assert flux == pytest.approx(2 * pi / (cosine_power(half_value_deg) + 1), rel=1e-5)


def test_between_the_planes_it_runs_smoothly_and_stays_between():
    falloff = Falloff.of((160.0, 120.0), "luminance")
    share = np.cos(np.linspace(0, pi / 2, 91)) ** 2
    values = falloff.luminance(np.full(91, cos(radians(70.0))), share)
    assert (np.diff(values) < 0).all() and np.abs(np.diff(values, 2)).max() < 1e-3
    middle = falloff.luminance(np.array([cos(radians(70.0))]), np.array([0.5]))[0]
    assert middle == pytest.approx(np.sqrt(values[0] * values[-1]), rel=1e-12)


def test_axes_follow_the_canvas_on_every_facet():
    """Rows of a wall lie level in each of its columns; those of a floor run across the stage."""
    for surface in (faceted_wall(columns=5, joint_deg=15.0), led_floor()):
        normal, row = tile_axes(surface).transpose(1, 0, 2)
        np.testing.assert_allclose(np.linalg.norm(row, axis=1), 1.0, atol=1e-12)
        np.testing.assert_allclose(np.einsum("mx,mx->m", normal, row), 0.0, atol=1e-12)
        assert np.abs(row[:, 2]).max() < 1e-9
    turned = tile_axes(faceted_wall(columns=5, joint_deg=15.0))[::2, 1]
    headings = np.degrees(np.arctan2(turned[:, 1], turned[:, 0]))
    np.testing.assert_allclose(np.diff(headings), -15.0, atol=1e-6)
