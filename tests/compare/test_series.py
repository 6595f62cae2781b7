"""Rows as CSV and JSON: equal pictures and empty regions are said as what they are; the plot shows both."""

import csv
import io
import json
import warnings
from math import inf

import numpy as np
import pytest
from PIL import Image

from preview.compare.measures import Measures
from preview.compare.plot import Cut, plot_png
from preview.compare.series import Row, csv_text, measures_data

NOISY = Measures(share=0.6, psnr_db=31.25, ssim=0.912345678, de2000_mean=2.5, de2000_p95=7.0)
EQUAL = Measures(share=0.3, psnr_db=inf, ssim=1.0, de2000_mean=0.0, de2000_p95=0.0)
NO_SSIM = Measures(share=0.1, psnr_db=20.0, ssim=None, de2000_mean=9.0, de2000_p95=9.5)


def row(frame, **measures):
    found = {"whole": NOISY, "wall": NOISY, "set": EQUAL, "off-wall": None, **measures}
    return Row(f"10:00:00:{frame:02d}", frame, 1, 'Opening, "wide"', "CAM1", "", "CAM2", "CAM1", found)


def read(rows):
    return list(csv.DictReader(io.StringIO(csv_text(rows))))


# -- data --------------------------------------------------------------------------------------


def test_csv_has_one_row_a_frame_with_facts_and_measures_of_each_region():
    (first, second) = read([row(3), row(4, set=NO_SSIM)])
    assert (first["timecode"], first["frame"], first["on_air"], first["wall_camera"]) == (
        "10:00:00:03", "3", "CAM1", "CAM2",
    )  # fmt: skip
    assert first["shot"] == 'Opening, "wide"', "commas and quotes survive"
    assert float(first["wall_psnr_db"]) == 31.25
    assert float(first["wall_ssim"]) == pytest.approx(0.912346)
    assert second["frame"] == "4"
    regions = ("whole", "wall", "set", "off_wall")
    for region in regions:
        assert {f"{region}_{m}" for m in ("share", "psnr_db", "ssim", "de2000_mean", "de2000_p95")} <= set(
            first
        )


def test_equal_is_inf_and_empty_is_empty_in_csv():
    (first, second) = read([row(0), row(1, set=NO_SSIM)])
    assert float(first["set_psnr_db"]) == inf
    assert {first[f"off_wall_{name}"] for name in ("share", "psnr_db", "ssim", "de2000_mean")} == {""}
    assert second["set_ssim"] == "" and second["set_psnr_db"] != ""
    assert "nan" not in csv_text([row(0)]).lower()


def test_json_has_no_number_that_json_does_not_know():
    data = row(0).as_data()
    text = json.dumps(data, allow_nan=False)
    assert json.loads(text) == data
    assert data["measures"]["set"] == {
        "share": 0.3, "psnr_db": None, "ssim": 1.0, "de2000_mean": 0.0, "de2000_p95": 0.0, "identical": True,
    }  # fmt: skip
    assert data["measures"]["off-wall"] is None
    assert measures_data(NOISY)["identical"] is False


# -- plot --------------------------------------------------------------------------------------

WALL_BLUE, SET_ORANGE, SHADE_PINK = (0, 114, 178), (213, 94, 0), (242, 221, 233)


FIRST = (Cut(0, "CAM1"),)


def plotted(rows, cuts=FIRST, elsewhere=(), every=1):
    """The plot's pixels; any warning of the plotting library is an error here."""
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        png = plot_png(rows, list(cuts), list(elsewhere), "A show: return against as-shot", every)
    return np.asarray(Image.open(io.BytesIO(png)).convert("RGB")).astype(int)


def near(pixels, color):
    return np.abs(pixels - color).max(axis=2) < 30


def test_identical_frames_stand_on_a_line_of_their_own_above_the_curves():
    pixels = plotted([row(frame) for frame in range(30)])
    upper = pixels[: len(pixels) // 3]
    orange, blue = (np.flatnonzero(near(upper, c).any(axis=1)) for c in (SET_ORANGE, WALL_BLUE))
    assert orange.size and blue.size
    assert orange.max() < blue.min(), "the set is identical, the wall has a curve"


def test_without_a_finite_psnr_there_is_no_scale_to_read():
    equal = {"whole": EQUAL, "wall": EQUAL, "set": EQUAL}
    pixels = plotted([row(frame, **equal) for frame in range(30)])
    noisy = plotted([row(frame) for frame in range(30)])
    beside = slice(60, len(pixels) // 3 - 40), slice(40, 68)  # where the scale's numbers stand
    assert (pixels[beside] < 128).sum() < (noisy[beside] < 128).sum()


def test_one_frame_between_identical_ones_is_seen():
    """In a long run of identical frames a single one that is not must not vanish for want of a neighbour."""
    rows = [row(f, whole=EQUAL, wall=NOISY if f == 70 else EQUAL, set=EQUAL) for f in range(140)]
    upper = plotted(rows)[:270]
    without = plotted([row(f, whole=EQUAL, wall=EQUAL, set=EQUAL) for f in range(140)])[:270]
    curve = slice(110, 270)
    assert near(upper[curve], WALL_BLUE).sum() > near(without[curve], WALL_BLUE).sum()


def test_cuts_and_wrong_walls_are_marked():
    rows = [row(frame) for frame in range(40)]
    plain = plotted(rows)
    marked = plotted(rows, [Cut(0, "CAM1"), Cut(20, "CAM2")], [(20, 23)])
    middle = slice(600, 760)
    assert near(marked[:, middle], SHADE_PINK).sum() > 10 * near(plain[:, middle], SHADE_PINK).sum() + 1000
    dark = (np.abs(marked - (75, 80, 88)).max(axis=2) < 40).sum(axis=0)
    assert dark[middle].max() > 200, "a line from top to bottom"


@pytest.mark.parametrize("count", [1, 2, 400])
def test_any_number_of_rows_can_be_plotted(count):
    rows = [row(0, **{"off-wall": NO_SSIM if count == 2 else None}) for _ in range(1)]
    rows += [row(frame) for frame in range(1, count)]
    pixels = plotted(rows, every=2)
    assert pixels.shape == (820, 1366, 3)
