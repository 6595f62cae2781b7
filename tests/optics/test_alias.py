"""What ``patterns`` answers: laws, edges of its input, and the ways a picture is scaled and looked at."""

import numpy as np
import pytest

from preview.optics.alias import HARMONICS, NONE, fold, patterns
from preview.optics.lattice import harmonic_frequency
from preview.optics.transfer import Emitter, Optics
from preview.optics.viewing import Viewing, risk_of
from tests.optics.flat_camera import PHOTOSITES, SITE_MM
from tests.optics.spectrum import straight

LENS, LAMP, VIEWING = Optics(SITE_MM, 4.0), Emitter(0.4), Viewing(PHOTOSITES)


def many(count=3000, seed=1):
    rng = np.random.default_rng(seed)
    return np.stack([straight(*pair) for pair in rng.uniform([0.6, -40], [4, 40], (count, 2))], 1)


@pytest.mark.parametrize("color_filter", ["three-chip", "bayer"])
def test_the_fast_answer_is_the_slow_one(color_filter):
    """Tables and float32 against exact transfer functions, harmonic by harmonic, in thresholds."""
    gradients = many(400)
    blur = np.random.default_rng(2).uniform(0, 0.02, 400)
    found = patterns(gradients, blur, LENS, LAMP, VIEWING, PHOTOSITES, color_filter)
    best = np.zeros(400)
    for m, n in HARMONICS:
        f = harmonic_frequency(gradients, m, n)
        contrast = np.abs(2 * LAMP.amplitude(m, n) * LENS.transfer(*f, blur))
        cosets = [(0, 0)] if color_filter == "three-chip" else [(0, 0), (0.5, 0.5), (0.5, 0), (0, 0.5)]
        for x, y in cosets:
            shift = np.array([[x], [y]])
            a = f - shift - np.round(f - shift)
            kept = np.ones(400)
            if color_filter == "bayer":
                cos_x, cos_y = np.cos(2 * np.pi * a)
                green, rest = 0.5 + 0.25 * (cos_x + cos_y), 0.25 * (1 + cos_x) * (1 + cos_y)
                sites = {(0, 0): (1, 1, 1), (0.5, 0.5): (-1, 1, -1)}.get((x, y), (1, 0, -1))
                kept = np.abs(0.2126 * sites[0] * rest + 0.7152 * sites[1] * green + 0.0722 * sites[2] * rest)
            seen = VIEWING.sensitivity(np.hypot(*a) * VIEWING.degree_cycles[0])
            best = np.maximum(best, contrast * kept * np.sinc(a[0]) * np.sinc(a[1]) * seen)
    assert found.thresholds == pytest.approx(best, rel=0.02, abs=0.4)
    assert best.max() > 20


def test_blocks_and_shapes_make_no_difference():
    gradients = np.tile(many(1000), (1, 80)).reshape(4, 200, 400)
    found = patterns(gradients, 0.0, LENS, LAMP, VIEWING, PHOTOSITES)
    alone = patterns(gradients[:, 0, :5], 0.0, LENS, LAMP, VIEWING, PHOTOSITES)
    assert found.risk.shape == (200, 400) and found.frequency.shape == (2, 200, 400)
    assert np.array_equal(found.thresholds[0, :5], alone.thresholds)
    assert np.array_equal(found.risk.ravel()[:1000], found.risk.ravel()[1000:2000])


def test_nothing_met_is_no_risk():
    gradients = many(4)
    gradients[:, 1] = np.nan
    found = patterns(gradients, np.array([0.0, np.nan, 0.0, 0.0]), LENS, LAMP, VIEWING, PHOTOSITES)
    assert found.risk[1] == 0.0 and found.kind[1] == NONE and found.harmonic[1] == -1
    assert (found.risk[[0, 2, 3]] > 0).all()


@pytest.mark.parametrize(
    ("turn_deg", "stripes_deg"), [(0.0, 90.0), (90.0, 0.0), (30.0, 60.0), (-30.0, 120.0)]
)
def test_stripes_run_across_their_frequency(turn_deg, stripes_deg):
    """A lattice of 2.5 photosites is no alias. y is down: a positive turn is clockwise."""
    gradients = straight(2.5, turn_deg)[:, None]
    found = patterns(gradients, 0.0, LENS, LAMP, VIEWING, PHOTOSITES, harmonics=((1, 0),))
    assert float(found.orientation_deg[0]) % 180 == pytest.approx(stripes_deg, abs=1e-3)


def test_cycles_per_height_and_picture():
    """One pattern over a picture of half the size: the same cycles, twice the frequency per pixel."""
    gradients = straight(1.1, 3)[:, None]
    full = patterns(gradients, 0.0, LENS, LAMP, VIEWING, PHOTOSITES, harmonics=((1, 0),))
    half = patterns(gradients, 0.0, LENS, LAMP, Viewing((960, 540)), PHOTOSITES, harmonics=((1, 0),))
    large = patterns(gradients, 0.0, LENS, LAMP, Viewing((3840, 2160)), PHOTOSITES, harmonics=((1, 0),))
    assert half.frequency == pytest.approx(2 * full.frequency, rel=1e-5)
    assert half.cycles_per_height == pytest.approx(full.cycles_per_height, rel=1e-5)
    assert full.cycles_per_height[0] == pytest.approx(1080 * np.hypot(*full.frequency[:, 0]), rel=1e-3)
    assert np.array_equal(large.thresholds, full.thresholds), "enlarging adds nothing"


def test_what_a_smaller_picture_cannot_show_is_gone():
    gradients = straight(2.6)[:, None]  # 0.38 cycles per photosite, 0.77 per pixel of half as many
    small = patterns(gradients, 0.0, LENS, LAMP, Viewing((960, 540)), PHOTOSITES, harmonics=((1, 0),))
    assert small.risk[0] == 0.0
    assert patterns(gradients, 0.0, LENS, LAMP, VIEWING, PHOTOSITES, harmonics=((1, 0),)).risk[0] > 0.5


def test_looking_from_farther_away_shows_less_of_a_fine_pattern():
    gradients = straight(2.2)[:, None]
    near, far = (
        patterns(gradients, 0.0, LENS, LAMP, Viewing(PHOTOSITES, heights=h), PHOTOSITES).risk[0]
        for h in (2, 8)
    )
    assert near > far


def test_a_low_pass_filter_takes_away_what_folds():
    gradients = straight(1.2, 7)[:, None]
    filtered = Optics(SITE_MM, 4.0, lowpass_photosites=0.6)
    plain = patterns(gradients, 0.0, LENS, LAMP, VIEWING, PHOTOSITES)
    assert patterns(gradients, 0.0, filtered, LAMP, VIEWING, PHOTOSITES).contrast[0] < 0.5 * plain.contrast[0]


def test_risk_means_what_it_says():
    """0 up to once the threshold, 1 from fifty times on, half at the root of fifty."""
    found = risk_of(np.array([0.0, 0.5, 1.0, 50**0.5, 50.0, 500.0], dtype=np.float32))
    assert found == pytest.approx([0, 0, 0, 0.5, 1, 1], abs=1e-6)
    line = risk_of(np.linspace(0, 80, 500, dtype=np.float32))
    assert (np.diff(line) >= 0).all()


def test_folded_frequencies_lie_in_the_first_zone():
    f = np.random.default_rng(3).uniform(-4, 4, (2, 2000))
    assert np.abs(fold(*f, "full")).max() <= 0.5
    assert np.abs(fold(*f, "green")).sum(axis=0).max() <= 0.5 + 1e-12
    assert np.abs(fold(*f, "red-blue")).max() <= 0.25
    moved = fold(*f, "full") - f
    assert np.abs(moved - np.round(moved)).max() < 1e-9
    moved = fold(*f, "green") - f
    assert np.abs(2 * moved - np.round(2 * moved)).max() < 1e-9
    assert (np.round(2 * moved).sum(axis=0) % 2 == 0).all(), "half steps in both directions, or in none"


@pytest.mark.parametrize("values", [{"f_number": 0.0}, {"aperture_share": 1.2}, {"lowpass_photosites": -1.0},
                                    {"wavelength_nm": -5.0}, {"photosite_mm": (0.0, 0.005)}])  # fmt: skip
def test_values_out_of_range_are_named(values):
    with pytest.raises(ValueError, match="write"):
        Optics(**{"photosite_mm": SITE_MM, "f_number": 4.0, **values})


def test_an_emitter_has_some_size():
    with pytest.raises(ValueError, match="emitter share 0"):
        Emitter(0.0)
