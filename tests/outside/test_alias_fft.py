"""Predicted aliases against Fourier transforms of brute-force pictures, and against published values.

Agreement asked for: frequency within 1 %, contrast within 10 % where it is above the noise floor of 0.004 (a
window of 96 photosites tells two patterns apart that are six cycles per window from each other).

Pictures are rendered by ``preview.optics.synthesis_core``, in space and by waves; predictions come from
transfer functions and folding.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import pytest

from preview.optics.alias import HARMONICS, fold, patterns
from preview.optics.lattice import harmonic_frequency
from preview.optics.synthesis_core import Patch, render
from preview.optics.transfer import DISC_FIRST_ZERO, Emitter, Optics
from preview.optics.viewing import Viewing
from tests.optics.flat_camera import PHOTOSITES, SITE_MM, FlatPicture, view, wall
from tests.optics.spectrum import contrast_at, off, peak, straight, straight_at

SIDE = 96
NOISE_FLOOR = 0.004
APART = 6.0 / SIDE
VIEWING = Viewing(PHOTOSITES)
BT709 = np.array([0.2126, 0.7152, 0.0722])


# ---- Random set-ups ---------------------------------------------------------------------------------


@dataclass(frozen=True)
class SetUp:
    picture: FlatPicture
    patch: Patch
    optics: Optics
    emitter: Emitter
    blur: np.ndarray
    aliases: np.ndarray
    """(harmonics, 2) predicted alias of each."""
    contrasts: np.ndarray
    frequencies: np.ndarray
    """(harmonics, 2) before folding."""

    @property
    def folded(self) -> bool:
        """Whether the strongest pattern is moire, not the LED pixels' own grid."""
        return not np.allclose(self.aliases[self.strongest], self.frequencies[self.strongest])

    @property
    def strongest(self) -> int:
        return int(np.argmax(self.contrasts))

    @property
    def plain(self) -> bool:
        """Whether one pattern stands alone, evenly over the patch, away from 0."""
        best, length = self.strongest, np.hypot(*self.aliases.T)
        strong = self.contrasts > 0.02 * self.contrasts[best]
        strong[best] = False
        others = np.concatenate([self.aliases[strong], -self.aliases[strong], [-self.aliases[best]]])
        difference = others - self.aliases[best]
        clear = np.hypot(*(difference - np.round(difference)).T).min() > APART
        return bool(clear and length[best] > APART and (length[strong] > APART).all())


def corners_of(patch: Patch) -> np.ndarray:
    x, y = patch.left, patch.top
    ends = [(x, y), (x + patch.width, y), (x, y + patch.height), (x + patch.width, y + patch.height)]
    return np.array(ends, dtype=float)


def set_up(rng: np.random.Generator, lattice: str) -> SetUp | None:
    """One at random, or None where its pattern is not plain."""
    pitch, focal = rng.uniform(1.5, 4.0), rng.uniform(12.0, 60.0)
    spacing = rng.uniform(0.7, 3.5)  # photosites between LED pixels
    distance = pitch * focal / (spacing * SITE_MM[0]) / 1000.0
    if not 2.0 < distance < 25.0:
        return None
    turn, height = np.radians(rng.uniform(-25, 25)), rng.uniform(-0.15, 0.15) * distance
    surface = wall(pitch, columns=40, rows=30)
    middle = np.array([rng.uniform(-1, 1), 0.0, 30 * 0.2 * pitch / 2])
    at = middle + distance * np.array([np.sin(turn), -np.cos(turn), 0.0]) + [0.0, 0.0, height]
    focus = distance * rng.uniform(0.7, 1.6)
    seen = view(tuple(at), tuple(middle), focal, rng.uniform(-12, 12), focus_m=focus)
    picture = FlatPicture(seen, surface)
    left, top = (int(rng.uniform(0.35, 0.6) * side) for side in PHOTOSITES)
    patch = Patch(left, top, SIDE, SIDE)
    x, y = np.meshgrid(left + np.arange(SIDE) + 0.5, top + np.arange(SIDE) + 0.5)
    if not np.isfinite(picture.crossing_at(corners_of(patch)).gradients).all():
        return None
    lens = Optics(SITE_MM, rng.uniform(2.0, 8.0), aperture_share=rng.uniform(0.7, 1.0),
                  lowpass_photosites=rng.choice([0.0, rng.uniform(0.2, 0.8)]))  # fmt: skip
    lamp = Emitter(rng.uniform(0.2, 0.8), str(rng.choice(["square", "round"])))
    gradients, ahead = picture.crossing_at(np.array([[left + SIDE / 2, top + SIDE / 2]]))
    shift = harmonic_frequency(picture.crossing_at(corners_of(patch)).gradients, 1, 1)
    if np.ptp(shift, axis=1).max() > 2.0 / SIDE:  # the pattern would change within the window
        return None
    blur = picture.blur_mm(
        picture.crossing_at(np.column_stack([x.ravel(), y.ravel()])).ahead_m, lens.f_number
    )
    disc = picture.blur_mm(ahead, lens.f_number)
    aliases, contrasts = [], []
    for m, n in HARMONICS:
        f = harmonic_frequency(gradients, m, n)
        alias = fold(*f, lattice)
        left_over = float(2 * lamp.amplitude(m, n) * lens.transfer(*f, disc)[0])
        if lattice == "green":  # bilinear between green sites, at the frequency that the picture shows
            left_over *= 0.5 + 0.25 * float(np.cos(2 * np.pi * alias).sum())
        aliases.append(alias[:, 0])
        contrasts.append(abs(left_over))
    made = SetUp(
        picture, patch, lens, lamp, blur.reshape(SIDE, SIDE), np.array(aliases), np.array(contrasts),
        np.array([harmonic_frequency(gradients, m, n)[:, 0] for m, n in HARMONICS]),
    )  # fmt: skip
    return made if made.plain and max(contrasts) > NOISE_FLOOR else None


@lru_cache(maxsize=2)
def set_ups(lattice: str, count: int) -> tuple[SetUp, ...]:
    rng = np.random.default_rng(20 if lattice == "full" else 21)
    found: list[SetUp] = []
    while len(found) < count:
        one = set_up(rng, lattice)
        if one is not None:
            found.append(one)
    return tuple(found)


def drawn(one: SetUp, color_filter: str = "three-chip") -> np.ndarray:
    blur = one.blur / SITE_MM[0]
    return render(one.picture.canvas_at, one.patch, blur, one.optics, one.emitter, color_filter)


@pytest.mark.parametrize("number", range(10))
def test_a_three_chip_camera_shows_what_is_predicted(number: int) -> None:
    one = set_ups("full", 10)[number]
    frequency, contrast = peak(drawn(one)[..., 0])
    assert off(frequency, one.aliases[one.strongest]) < 0.01
    assert contrast == pytest.approx(one.contrasts[one.strongest], rel=0.10, abs=NOISE_FLOOR / 2)


@pytest.mark.parametrize("number", range(6))
def test_bayer_green_shows_what_is_predicted(number: int) -> None:
    one = set_ups("green", 6)[number]
    frequency, contrast = peak(drawn(one, "bayer")[..., 1])
    assert off(frequency, one.aliases[one.strongest]) < 0.01
    assert contrast == pytest.approx(one.contrasts[one.strongest], rel=0.10, abs=NOISE_FLOOR / 2)


def test_the_set_ups_are_not_all_alike() -> None:
    """Folded and not, in focus and not, weak and strong."""
    chosen = [*set_ups("full", 10), *set_ups("green", 6)]
    blur = [float(one.blur.mean() / SITE_MM[0]) for one in chosen]
    contrast = [one.contrasts.max() for one in chosen]
    assert {one.folded for one in chosen} == {True, False}
    assert min(blur) < 0.3 and max(blur) > 0.8
    assert min(contrast) < 0.1 and max(contrast) > 0.4
    assert {one.emitter.shape for one in chosen} == {"square", "round"}


# ---- Whole answers of ``patterns`` ------------------------------------------------------------------


@pytest.mark.parametrize(("spacing", "turn_deg", "blur"), [(1.62, 9, 0.0), (1.31, 21, 0.6), (2.21, 40, 0.0)])
def test_luminance_and_colour_of_a_bayer_picture(spacing: float, turn_deg: float, blur: float) -> None:
    """What ``patterns`` calls best seen is in the brute-force picture, in luminance and in colour."""
    lens, lamp, gradients = Optics(SITE_MM, 4.0), Emitter(0.4), straight(spacing, turn_deg)
    found = patterns(gradients[:, None], blur * SITE_MM[0], lens, lamp, VIEWING, PHOTOSITES, "bayer")
    picture = render(straight_at(gradients), Patch(0, 0, 128, 128), blur, lens, lamp, "bayer")
    frequency, contrast = peak(picture @ BT709, found.frequency[:, 0].astype(float))
    assert off(frequency, found.frequency[:, 0].astype(float)) < 0.01
    assert contrast == pytest.approx(float(found.contrast[0]), rel=0.10, abs=NOISE_FLOOR / 2)
    colored = found.color_frequency[:, 0].astype(float)
    pairs = [(0, 1), (1, 2), (0, 2)]
    spread = max(contrast_at(1.0 + picture[..., a] - picture[..., b], colored) for a, b in pairs)
    assert spread == pytest.approx(float(found.color_contrast[0]), rel=0.10, abs=NOISE_FLOOR / 2)
    assert found.color_thresholds[0] > 0.0


def test_a_three_chip_camera_has_no_colour_pattern() -> None:
    found = patterns(straight(1.62, 9)[:, None], 0.0, Optics(SITE_MM, 4.0), Emitter(), VIEWING, PHOTOSITES)
    assert found.color_contrast[0] == 0.0
    picture = render(
        straight_at(straight(1.62, 9)), Patch(0, 0, 32, 32), 0.0, Optics(SITE_MM, 4.0), Emitter()
    )
    assert np.ptp(picture, axis=2).max() == 0.0


# ---- Limits -----------------------------------------------------------------------------------------


def test_a_large_blur_leaves_nothing() -> None:
    """In prediction and in picture."""
    lens, lamp, gradients = Optics(SITE_MM, 2.8), Emitter(0.3), straight(1.3, 5)
    blur = np.array([0.0, 1.0, 4.0, 16.0, 60.0])
    found = patterns(np.repeat(gradients[:, None], 5, 1), blur * SITE_MM[0], lens, lamp, VIEWING, PHOTOSITES)
    assert found.contrast[0] > 0.2
    assert (found.contrast[2:] <= [0.05, 0.01, 0.002]).all()
    assert found.risk[0] == 1.0 and found.risk[4] == 0.0
    picture = render(straight_at(gradients), Patch(0, 0, 48, 48), 16.0, lens, lamp)
    assert np.ptp(picture) < 0.02


@pytest.mark.parametrize("spacing", [1.31, 2.3])
def test_a_harmonic_vanishes_at_the_discs_first_zero(spacing: float) -> None:
    """Without diffraction (light of 5 nm) blur of 1.2197 LED pixels, a radius of 0.61, takes a harmonic.

    With it, at f/4 in green light, a good deal is left: prediction and picture agree on how much.
    """
    lamp, gradients, blur = Emitter(0.4), straight(spacing), DISC_FIRST_ZERO * spacing
    alias = fold(1 / spacing, 0.0, "full")
    for lens, at_most in ((Optics(SITE_MM, 2.0, 5.0), 0.02), (Optics(SITE_MM, 4.0), 1.0)):
        sharp, spread = patterns(
            np.repeat(gradients[:, None], 2, 1), [0.0, blur * SITE_MM[0]], lens, lamp, VIEWING, PHOTOSITES,
            harmonics=((1, 0),),
        ).contrast  # fmt: skip
        picture = render(straight_at(gradients), Patch(0, 0, SIDE, SIDE), blur, lens, lamp)[..., 0]
        assert spread < at_most * sharp
        assert contrast_at(picture, alias) < at_most * sharp
        assert contrast_at(picture, alias) == pytest.approx(spread, rel=0.05, abs=NOISE_FLOOR / 2)
    assert spread > 0.2 * sharp


def test_whole_cycles_per_photosite_beat_at_zero() -> None:
    """With the distance, the alias comes back to 0 wherever LED pixels are a whole fraction of a photosite
    apart (1, 1/2, 1/3), and a picture of it is even; an eye sees nothing of it."""
    frequency = np.array([1.0, 2.0, 3.0])
    gradients = np.zeros((4, 3))
    gradients[0] = gradients[3] = frequency
    lens = Optics(SITE_MM, 0.5, aperture_share=0.6)
    found = patterns(gradients, 0.0, lens, Emitter(0.3), VIEWING, PHOTOSITES)
    assert found.risk == pytest.approx(0.0)
    picture = render(straight_at(gradients[:, 0]), Patch(0, 0, 24, 24), 0.0, lens, Emitter(0.3))
    assert np.ptp(picture) < 2e-3 * picture.mean()


def test_the_alias_is_periodic_in_cycles_per_photosite() -> None:
    """Frequencies a whole cycle apart fold alike, so between two distances whose LED pixels are f and f + 1 a
    photosite the risk falls and rises again."""
    f = np.linspace(0.05, 0.45, 9)
    for whole in (1, 2, 5):
        assert fold(f + whole, -f, "full") == pytest.approx(fold(f, -f, "full"), abs=1e-12)
        assert fold(f + whole, whole - f, "green") == pytest.approx(fold(f, -f, "green"), abs=1e-12)
    line = np.linspace(1.02, 2.98, 400)
    gradients = np.zeros((4, 400))
    gradients[0] = gradients[3] = line
    lens = Optics(SITE_MM, 2.0, aperture_share=0.5)
    seen = patterns(gradients, 0.0, lens, Emitter(0.3), VIEWING, PHOTOSITES, harmonics=((1, 0),)).thresholds
    middle = int(np.argmin(np.abs(line - 2.0)))
    assert seen[middle] < 0.05 * seen[:middle].max() and seen[middle] < 0.05 * seen[middle + 5 :].max()
