"""Transfer functions against published values, sampled apertures and a sampled pupil.

Sources, by test: values of the closed forms worked apart from this project and equal to another optics
library's diffraction-limited transfer function; J. W. Goodman, "Introduction to Fourier Optics", and G. D.
Boreman, "Modulation Transfer Function in Optical and Electro-Optical Systems" (from memory) for the forms;
the ``colour`` library's contrast sensitivity of Barten's 1999 book for the observer.
"""

from __future__ import annotations

import numpy as np
import pytest
from colour.contrast import contrast_sensitivity_function_Barten1999, sigma_Barten1999
from scipy import fft, optimize, special

from preview.optics.synthesis_core import point_image
from preview.optics.transfer import (
    DISC_FIRST_ZERO,
    Emitter,
    LensLookup,
    Optics,
    aperture_transfer,
    cutoff_cycles_mm,
    disc_transfer,
    lens_transfer,
    lowpass_transfer,
    pupil_transfer,
)
from preview.optics.viewing import color_difference, sensitivity


@pytest.mark.parametrize(
    ("cycles", "left"),
    [(0.25, 0.924850), (0.5, 0.721703), (1.0, 0.181192), (1.5, -0.119539), (2.0, -0.067603)],
)
def test_a_blur_discs_published_values(cycles: float, left: float) -> None:
    """2 J1(x) / x; below 0 bright and dark change places."""
    assert float(disc_transfer(cycles)) == pytest.approx(left, abs=5e-7)
    assert float(disc_transfer(-cycles)) == pytest.approx(left, abs=5e-7)


def test_a_blur_discs_zeros_and_lowest_value() -> None:
    zeros = special.jn_zeros(1, 2) / np.pi
    assert zeros == pytest.approx([1.219670, 2.233131], abs=5e-7)
    assert pytest.approx(zeros[0], abs=1e-12) == DISC_FIRST_ZERO
    assert disc_transfer(zeros) == pytest.approx([0.0, 0.0], abs=1e-15)
    lowest = optimize.minimize_scalar(lambda c: float(disc_transfer(c)), bounds=(1.3, 2.0), method="bounded")
    assert lowest.x == pytest.approx(1.634722, abs=1e-4)
    assert lowest.fun == pytest.approx(-0.132279, abs=1e-6)


@pytest.mark.parametrize(
    ("share", "left"),
    [
        (0.0, 1.0),
        (0.1, 0.872889),
        (0.25, 0.685038),
        (0.5, 0.391002),
        (0.75, 0.144294),
        (1.0, 0.0),
        (2.0, 0.0),
    ],
)
def test_published_values_of_a_round_pupil(share: float, left: float) -> None:
    assert float(pupil_transfer(share)) == pytest.approx(left, abs=5e-7)


@pytest.mark.parametrize(
    ("stop", "cutoff"), [(2.8, 649.351), (4, 454.545), (5.6, 324.675), (8, 227.273), (11, 165.289)]
)
def test_published_cutoffs_in_green_light(stop: float, cutoff: float) -> None:
    """550 nm, cycles per millimetre."""
    assert cutoff_cycles_mm(stop, 550.0) == pytest.approx(cutoff, abs=5e-4)


@pytest.mark.parametrize(
    ("cycles", "left"),
    [(0.25, 0.900316), (0.5, 0.636620), (0.75, 0.300105), (0.9, 0.109292), (1.0, 0.0), (1.25, -0.180063),
     (1.5, -0.212207)],
)  # fmt: skip
def test_published_values_of_a_photosite(cycles: float, left: float) -> None:
    assert float(aperture_transfer(cycles, 0.0)) == pytest.approx(left, abs=5e-7)
    assert float(aperture_transfer(0.0, cycles)) == pytest.approx(left, abs=5e-7)
    assert float(aperture_transfer(cycles / 0.8, 0.0, 0.8)) == pytest.approx(left, abs=5e-7)


def spectrum_of(mask: np.ndarray) -> np.ndarray:
    """Its discrete Fourier transform over the mean, phase taken out for a mask centred on sample 0."""
    return fft.fft2(fft.ifftshift(mask)) / mask.sum()


def grid(count: int) -> tuple[np.ndarray, np.ndarray]:
    line = np.arange(count) - count // 2
    return np.meshgrid(line, line)


def soft_disc(count: int, radius: float) -> np.ndarray:
    return np.clip(radius - np.hypot(*grid(count)) + 0.5, 0.0, 1.0)


def test_a_disc_against_the_transform_of_a_sampled_disc() -> None:
    count, radius = 1024, 100.3
    found = spectrum_of(soft_disc(count, radius))[0, :25]
    assert np.abs(found.imag).max() < 1e-9
    assert found.real == pytest.approx(disc_transfer(2 * radius * np.arange(25) / count), abs=2e-4)


def test_a_photosite_against_the_transform_of_a_sampled_square() -> None:
    """At 45 degrees, where the square's two sides multiply."""
    count, width = 1024, 101
    x, y = grid(count)
    square = ((np.abs(x) <= width // 2) & (np.abs(y) <= width // 2)).astype(float)
    found = np.diag(spectrum_of(square))[:20].real
    f = width * np.arange(20) / count  # cycles per width
    assert found == pytest.approx(aperture_transfer(f, f), abs=2e-3)


def test_four_spots_against_their_transform() -> None:
    count, apart = 512, 32
    spots = np.zeros((count, count))
    middle = count // 2
    for across in (-1, 1):
        for down in (-1, 1):
            spots[middle + down * apart // 2, middle + across * apart // 2] = 0.25
    found = spectrum_of(spots)[3, :12].real
    f = apart * np.arange(12) / count
    assert found == pytest.approx(lowpass_transfer(f, apart * 3 / count, 1.0), abs=1e-12)
    assert float(lowpass_transfer(0.5, 0.0, 1.0)) == pytest.approx(0.0, abs=1e-15)
    assert lowpass_transfer([0.3, 0.7], 0.2, 0.0) == pytest.approx([1.0, 1.0])


def test_a_round_pupil_against_its_numerical_autocorrelation() -> None:
    """The transfer function of a perfect lens is its pupil's autocorrelation (Goodman)."""
    count, radius = 1024, 200.0
    pupil = soft_disc(count, radius)
    overlap = fft.ifft2(np.abs(fft.fft2(pupil)) ** 2).real
    shift = np.arange(25, 400, 25)
    assert overlap[0, shift] / pupil.sum() == pytest.approx(pupil_transfer(shift / (2 * radius)), abs=2e-4)


@pytest.mark.parametrize("waves", [0.1, 0.25, 0.5, 1.0, 2.0])
def test_a_lens_out_of_focus_against_the_autocorrelation_of_its_wavefront(waves: float) -> None:
    """Hopkins: the pupil with so many waves of defocus at its edge. The blur disc is 8 times as many wide,
    counted in wavelength * f-number. A disc's times a sharp lens's transfer misses by over 0.2."""
    count, radius = 1024, 200.0
    pupil = soft_disc(count, radius) * np.exp(2j * np.pi * waves * (np.hypot(*grid(count)) / radius) ** 2)
    wave = fft.fft2(pupil)
    overlap = fft.ifft2(wave * np.conj(wave))
    shift = np.arange(10, 390, 20)
    share = shift / (2 * radius)
    found = overlap[0, shift].real / soft_disc(count, radius).sum()
    assert found == pytest.approx(lens_transfer(share, 8 * waves * share), abs=1e-3)
    if waves == 0.25:
        assert np.abs(disc_transfer(8 * waves * share) * pupil_transfer(share) - found).max() > 0.2


def test_a_lens_in_its_two_limits() -> None:
    """Rays alone: the blur disc. In focus: the round pupil."""
    line = np.linspace(0, 1, 41)
    assert lens_transfer(line, 0.0) == pytest.approx(pupil_transfer(line), abs=1e-12)
    assert lens_transfer(0.0, 40 * line) == pytest.approx(disc_transfer(40 * line), abs=1e-10)


def test_the_fast_table_is_the_lens() -> None:
    """To 1.5 thousandths, from in focus to a blur that leaves nothing."""
    rng = np.random.default_rng(3)
    share, cycles = rng.uniform(0, 1.1, 20000), 60 * rng.uniform(0, 1, 20000) ** 3
    found = LensLookup()(share.astype(np.float32), cycles.astype(np.float32))
    assert found == pytest.approx(lens_transfer(share, cycles), abs=1.5e-3)
    far = LensLookup()(np.float32([0.01]), np.float32([1e4]))
    assert far == pytest.approx(0.0)


def test_a_points_image_in_focus_is_the_airy_pattern() -> None:
    """(2 J1(v) / v)^2, first dark ring at 3.8317; 83.8 % of the light lies within it (Born and Wolf, 8.5)."""
    reach = special.jn_zeros(1, 1)[0]
    found = point_image(0.0, reach)
    v = np.linspace(0, reach, len(found))
    assert found[1:] == pytest.approx((2 * special.j1(v[1:]) / v[1:]) ** 2, abs=1e-10)
    assert np.trapezoid(found * v, v) / 2 == pytest.approx(0.838, abs=1e-3)


def test_a_points_image_out_of_focus_is_nearly_its_disc() -> None:
    """Twenty waves, 8 * 20 wavelengths * f-number wide: light spreads evenly over it, but for ripples."""
    edge = np.pi * 8 * 20 / 2
    found = point_image(2 * np.pi * 20, 1.5 * edge)
    v = np.linspace(0, 1.5 * edge, len(found))
    held = np.concatenate([[0.0], np.cumsum((found * v)[1:] * np.diff(v))]) / 2
    within = np.interp([0.5 * edge, 0.8 * edge, 1.1 * edge], v, held)
    assert within == pytest.approx([0.25, 0.64, 1.0], abs=0.03)


@pytest.mark.parametrize("shape", ["square", "round"])
def test_an_emitter_against_the_transform_of_a_lattice_of_them(shape: str) -> None:
    """Eight by eight LED pixels, each of 64 by 64 samples."""
    side, share = 64, 0.5
    x, y = (line - side / 2 + 0.5 for line in np.meshgrid(np.arange(side), np.arange(side)))
    width = side * share
    one = (
        ((np.abs(x) < width / 2) & (np.abs(y) < width / 2)).astype(float)
        if shape == "square"
        else np.clip(width / 2 - np.hypot(x, y) + 0.5, 0, 1)
    )
    spectrum = np.abs(fft.fft2(np.tile(one, (8, 8)))) / (one.sum() * 64)
    for m, n in ((1, 0), (0, 1), (1, 1), (2, 1), (3, 0)):
        assert spectrum[8 * n, 8 * m] == pytest.approx(abs(Emitter(share, shape).amplitude(m, n)), abs=2e-3)
    between = spectrum[:9, :9].copy()
    between[::8, ::8] = 0.0
    assert between.max() < 1e-12, "a lattice has nothing between its harmonics"


def test_the_worked_product() -> None:
    """2/3 inch, 1920 photosites of 4.9934 micrometres, f/4, square emitters of 0.4: 0.031409 of contrast."""
    lens = Optics((0.0049934, 0.0049934), 4.0)
    assert float(aperture_transfer(0.95835, 0)) == pytest.approx(0.043337, abs=2e-6)
    assert float(pupil_transfer(0.95835 / 0.0049934 / cutoff_cycles_mm(4, 550))) == pytest.approx(
        0.47883, abs=1e-5
    )
    assert 2 * Emitter(0.4).amplitude(1, 0) == pytest.approx(1.513653, abs=5e-7)
    found = 2 * Emitter(0.4).amplitude(1, 0) * float(lens.transfer(0.95835, 0.0))
    assert found == pytest.approx(0.031409, abs=2e-6)


def test_the_parts_multiply_on_photosites_that_are_not_square() -> None:
    lens = Optics((0.004, 0.006), 4.0, 600.0, 0.9, 0.5)
    fx, fy = np.array([0.3, -1.2]), np.array([0.4, 0.1])
    share = np.sqrt((fx / 0.004) ** 2 + (fy / 0.006) ** 2) * 600e-6 * 4.0
    by_hand = (
        2 / np.pi * (np.arccos(share) - share * np.sqrt(1 - share**2))
        * np.cos(np.pi * fx * 0.5) * np.cos(np.pi * fy * 0.5)
        * np.sinc(0.9 * fx) * np.sinc(0.9 * fy)
    )  # fmt: skip
    assert lens.transfer(fx, fy) == pytest.approx(by_hand, rel=1e-12)
    blurred = by_hand * lens_transfer(share, share / (600e-6 * 4.0) * 0.01) / pupil_transfer(share)
    assert lens.transfer(fx, fy, 0.01) == pytest.approx(blurred, rel=1e-12)


def test_diffraction_is_what_the_airy_pattern_does() -> None:
    """A line pattern spread by a sampled Airy pattern keeps the contrast that the pupil says."""
    count, radians = 1024, 0.15  # of v a sample: the cutoff is radians / pi cycles a sample
    v = radians * np.hypot(*grid(count))
    v[count // 2, count // 2] = 1.0
    airy = (2 * special.j1(v) / v) ** 2
    airy[count // 2, count // 2] = 1.0
    found = np.abs(spectrum_of(airy)[0])
    kept = 1 - special.j0(radians * count / 2) ** 2 - special.j1(radians * count / 2) ** 2
    places = np.arange(8, 44, 4)
    share = places / count / (radians / np.pi)
    assert found[places] * kept == pytest.approx(pupil_transfer(share), abs=6e-3)


def test_sensitivity_against_the_full_model_of_the_same_author() -> None:
    """Barten's short formula (2004) against his book's full model (1999), 10 by 10 degrees, a pupil
    of 3 mm. They are two fits of one set of data: within a quarter from 0.5 to 16 cycles per degree."""
    cycles = np.array([0.5, 1.0, 2.0, 4.0, 8.0, 16.0])
    light, pupil = 50.0, 3.0
    trolands = np.pi * pupil**2 / 4 * light * (1 - (pupil / 9.7) ** 2 + (pupil / 12.4) ** 4)
    full = contrast_sensitivity_function_Barten1999(
        cycles, sigma=sigma_Barten1999(0.5 / 60, 0.08 / 60, pupil), E=trolands, X_0=10.0
    )
    assert sensitivity(cycles, light, 100.0) == pytest.approx(full, rel=0.25)


def test_colour_differences_against_cielab_itself() -> None:
    """The ``colour`` library's CIELAB of a grey of half white's luminance, and of small changes to it."""
    colour = pytest.importorskip("colour")
    white = colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"]["D65"]
    matrix = colour.RGB_COLOURSPACES["ITU-R BT.709"].matrix_RGB_to_XYZ

    def lab(rgb: np.ndarray) -> np.ndarray:
        return colour.XYZ_to_Lab(matrix @ rgb, white)

    for change in ([0.001, 0.0, -0.001], [0.0, 0.001, 0.0], [0.001, 0.001, 0.001]):
        away = lab(0.5 * (1 + np.array(change))) - lab(np.full(3, 0.5))
        assert float(color_difference(change)) == pytest.approx(np.hypot(*away[1:]), rel=5e-3, abs=1e-5)
