"""Transfer functions against published values and against the colour-science library (0.4.7).

Sources: IEC 61966-2-1:1999 + A1:2003; Recommendation ITU-R BT.709-6 (06/2015), item 1.2. Numbers in
the tables are computed by that library and agree with the standards' formulas to the digits shown.
"""

import colour
import numpy as np
import pytest

from preview.colour import bt709_oetf, bt709_oetf_inverse, linear_to_srgb, srgb_to_linear
from preview.conventions import BT709_LUMINANCE

GRID = np.concatenate([np.linspace(0, 0.1, 401), np.linspace(0.1, 1, 181)])


@pytest.mark.parametrize(
    ("linear", "coded"), [(0.01, 0.045), (0.018, 0.081248), (0.18, 0.409008), (0.5, 0.705515), (1.0, 1.0)]
)
def test_bt709_table(linear, coded):
    assert float(bt709_oetf(linear)) == pytest.approx(coded, abs=1e-6)
    assert float(bt709_oetf_inverse(coded)) == pytest.approx(linear, abs=2e-6)


@pytest.mark.parametrize(("coded", "linear"), [(0.5, 0.214041), (0.04045, 0.0031308), (1.0, 1.0)])
def test_srgb_table(coded, linear):
    assert float(srgb_to_linear(coded)) == pytest.approx(linear, abs=1e-6)


@pytest.mark.parametrize(("linear", "coded"), [(0.18, 0.461356), (0.5, 0.735357)])
def test_srgb_inverse_table(linear, coded):
    assert float(linear_to_srgb(linear)) == pytest.approx(coded, abs=1e-6)


def test_srgb_against_library():
    np.testing.assert_allclose(srgb_to_linear(GRID), colour.models.eotf_sRGB(GRID), atol=1e-9)
    np.testing.assert_allclose(linear_to_srgb(GRID), colour.models.eotf_inverse_sRGB(GRID), atol=1e-9)


def test_bt709_against_library():
    np.testing.assert_allclose(bt709_oetf(GRID), colour.models.oetf_BT709(GRID), atol=1e-9)
    # 6e-5: only inside the knee's step, where the library follows the straight part past the knee.
    ours, theirs = bt709_oetf_inverse(GRID), colour.models.oetf_inverse_BT709(GRID)
    np.testing.assert_allclose(ours, theirs, atol=6e-5)
    outside_step = (GRID < 0.081) | (GRID > 0.0813)
    np.testing.assert_allclose(ours[outside_step], theirs[outside_step], atol=1e-9)


def test_luminance_weights_against_primaries():
    derived = colour.RGB_COLOURSPACES["ITU-R BT.709"].matrix_RGB_to_XYZ[1]
    np.testing.assert_allclose(derived, BT709_LUMINANCE, atol=5e-5)  # the standard rounds to 4 digits
