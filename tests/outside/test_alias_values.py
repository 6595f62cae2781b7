"""Aliases of the LED lattice against published and separately worked values.

Sources, by test: folding by square and quincunx photosites after D. P. Petersen and D. Middleton (1962);
worked values of sampled lattices (2/3-inch sensor, 1920 photosites, 2.6 mm pitch, 20 mm) reckoned apart from
this project with a simulator of their own; two gratings after the encyclopaedic article "Moire pattern";
beats below half a cycle after I. Amidror, Royal Society Open Science, 2015.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy import fft

from preview.optics.alias import ALIAS, GRID, fold, patterns
from preview.optics.lattice import Facets, harmonic_frequency, view_crossing
from preview.optics.synthesis_core import Patch, render
from preview.optics.transfer import Emitter, Optics
from preview.optics.viewing import Viewing
from tests.optics.flat_camera import PHOTOSITES, SITE_MM, FlatPicture, view, wall
from tests.optics.spectrum import contrast_at, straight, straight_at

VIEWING = Viewing(PHOTOSITES)


@pytest.mark.parametrize(
    ("frequency", "full", "green", "red_blue"),
    [
        ((0.95835, 0.0), (-0.04165, 0.0), (-0.04165, 0.0), (-0.04165, 0.0)),
        ((0.45, 0.0), (0.45, 0.0), (0.45, 0.0), (-0.05, 0.0)),
        ((0.45, 0.45), (0.45, 0.45), (-0.05, -0.05), (-0.05, -0.05)),
        ((0.30, 0.30), (0.30, 0.30), (-0.20, -0.20), (-0.20, -0.20)),
        ((1.2, 0.7), (0.2, -0.3), (0.2, -0.3), (0.2, 0.2)),
        ((0.6, 0.4), (-0.4, 0.4), (0.1, -0.1), (0.1, -0.1)),
    ],
)
def test_folding(frequency, full, green, red_blue) -> None:
    """Table of aliases on square, quincunx and every-second photosites."""
    assert fold(*frequency, "full") == pytest.approx(full, abs=1e-12)
    assert fold(*frequency, "green") == pytest.approx(green, abs=1e-12)
    assert fold(*frequency, "red-blue") == pytest.approx(red_blue, abs=1e-12)


@pytest.mark.parametrize(
    ("distance_mm", "spacing", "frequency", "alias"),
    [
        (5000, 2.0911, 0.47821, None),
        (8000, 1.3050, 0.76630, 0.23370),
        (10000, 1.0435, 0.95835, 0.04165),
        (12000, 0.8693, 1.15040, 0.15040),
        (20000, 0.5212, 1.91862, 0.08138),
    ],
)
def test_a_studios_worked_distances(distance_mm, spacing, frequency, alias) -> None:
    """2.6 mm pitch, 20 mm, wall in focus: the projection distance is f S / (S - f)."""
    extended = 20.0 * distance_mm / (distance_mm - 20.0)
    seen = view((0.0, -distance_mm / 1000, 3.0), (0.0, 0.0, 3.0), extended)
    gradients, _ = FlatPicture(seen, wall(2.6)).crossing_at(np.array([[960.0, 540.0]]))
    assert 1 / gradients[0, 0] == pytest.approx(spacing, abs=1e-4)
    found = patterns(gradients, 0.0, Optics(SITE_MM, 4.0), Emitter(0.4), VIEWING, PHOTOSITES,
                     harmonics=((1, 0),))  # fmt: skip
    assert gradients[0, 0] == pytest.approx(frequency, abs=1e-4)
    assert abs(found.frequency[0, 0]) == pytest.approx(frequency if alias is None else alias, abs=1e-4)
    assert found.kind[0] == (GRID if alias is None else ALIAS)


@pytest.mark.parametrize(
    ("place", "harmonic", "alias"),
    [
        ((300, 200), (1, 0), (-0.09025, 0.0)),
        ((300, 200), (0, 1), (-0.02642, -0.09383)),
        ((1600, 900), (1, 0), (0.15236, 0.0)),
        ((1600, 900), (0, 1), (0.03543, 0.01987)),
        ((960, 540), (0, 1), (0.0, -0.03946)),
        ((960, 540), (1, 0), (0.02218, 0.0)),
    ],
)
def test_a_worked_oblique_wall(place, harmonic, alias) -> None:
    """2.6 mm, 20 mm, 9.59 mm over 1920, 10 m on axis, the wall turned by 20 degrees, right side farther."""
    at = (-10 * np.sin(np.radians(20)), -10 * np.cos(np.radians(20)), 3.0)
    seen = replace(view(at, (0.0, 0.0, 3.0)), sensor_mm=(9.59, 9.59 * 9 / 16))
    site = 9.59 / 1920
    tangents = (np.array([place]) - [960.0, 540.0]) * site / 20.0
    gradients = view_crossing(seen, Facets.of([wall(2.6)]), np.zeros(1, int), tangents, PHOTOSITES).gradients
    assert fold(*harmonic_frequency(gradients, *harmonic), "full")[:, 0] == pytest.approx(alias, abs=2e-5)


@pytest.mark.parametrize(
    ("spacing", "turn_deg", "share", "alias", "by_formula", "by_transform"),
    [
        (1.0435, 3.0, 0.4, (-0.0430, 0.0502), 0.06752, 0.06757),
        (1.305, 2.0, 0.4, (-0.2342, 0.0267), 0.42173, 0.42018),
        (0.8693, 1.5, 0.3, (0.1500, 0.0301), 0.21536, 0.21529),
    ],
)
def test_worked_lattices_without_a_lens(spacing, turn_deg, share, alias, by_formula, by_transform) -> None:
    """Another simulator's values, diffraction left out (here: f/0.001, far beyond a real lens)."""
    gradients, lens = straight(spacing, turn_deg), Optics(SITE_MM, 0.001)
    found = patterns(gradients[:, None], 0.0, lens, Emitter(share), VIEWING, PHOTOSITES, harmonics=((1, 0),))
    assert found.frequency[:, 0] == pytest.approx(alias, abs=1e-4)
    assert float(found.contrast[0]) == pytest.approx(by_formula, rel=6e-3)
    picture = render(straight_at(gradients), Patch(0, 0, 128, 128), 0.0, lens, Emitter(share), samples=32)
    assert contrast_at(picture[..., 0], found.frequency[:, 0]) == pytest.approx(by_transform, rel=2e-2)


def test_two_gratings_of_the_encyclopaedia() -> None:
    """Periods 1 and 1.05: 21. Equal periods at 3 degrees: 19.1008."""
    found = fold(1 / 1.05, 0.0, "full")
    assert 1 / np.hypot(*found) == pytest.approx(21.0)
    turned = straight(1.0, 3.0)
    assert 1 / np.hypot(*fold(turned[0], turned[1], "full")) == pytest.approx(19.1008, abs=1e-4)


def test_beats_below_half_a_cycle() -> None:
    """0.47821 cycles per photosite is no alias, and swells 0.0436 times per photosite: |2 f - 1|."""
    found = patterns(
        straight(1 / 0.47821)[:, None], 0.0, Optics(SITE_MM, 4.0), Emitter(), VIEWING, PHOTOSITES,
        harmonics=((1, 0),),
    )  # fmt: skip
    beats = found.beats()
    assert abs(beats.frequency[0, 0]) == pytest.approx(0.0436, abs=5e-5)
    assert beats.thresholds[0] > 1.0
    picture = render(
        straight_at(straight(1 / 0.47821)), Patch(0, 0, 128, 128), 0.0, Optics(SITE_MM, 4.0), Emitter()
    )
    swelling = picture[:, 2:-2, 0].mean(0)
    local = np.ptp(
        np.stack([swelling[:-1], swelling[1:]]), axis=0
    )  # neighbours' difference: the carrier's swing
    height = np.abs(fft.rfft(local - local.mean(), 4096))
    assert fft.rfftfreq(4096)[np.argmax(height)] == pytest.approx(abs(beats.frequency[0, 0]), rel=0.03)


def test_common_practice_of_metres_and_millimetres() -> None:
    """Common practice, no source: structure begins to vanish about as many metres away as the pitch has
    millimetres. It knows neither lens nor focus: at 20 mm in focus LED pixels are then still a photosite wide
    four times over, and 2.6 m are no clear distance."""
    seen = view((0.0, -2.6, 3.0), (0.0, 0.0, 3.0), 20.0)
    gradients, _ = FlatPicture(seen, wall(2.6)).crossing_at(np.array([[960.0, 540.0]]))
    found = patterns(gradients, 0.0, Optics(SITE_MM, 4.0), Emitter(), VIEWING, PHOTOSITES)
    assert 1 / gradients[0, 0] == pytest.approx(4.0, abs=0.05)
    assert found.kind[0] == GRID and found.risk[0] == 1.0
