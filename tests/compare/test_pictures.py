"""Difference pictures and wipes: what a colour on them means, and that no pixel is moved or lost."""

import numpy as np
import pytest

from preview.compare.pictures import (
    LEAST_WIDTH_PX,
    difference_codes,
    difference_colors,
    difference_sheet,
    enlarged,
    wipe,
    wipe_sheet,
)

LABELS = ("return of camera 2 CAM2", "as-shot of camera 2 CAM2")


def picture(seed, size=(90, 640)):
    return np.random.default_rng(seed).integers(0, 256, (*size, 3), dtype=np.uint8)


def lightness(color):
    """CIELAB L* of sRGB colours, by scikit-image."""
    from skimage.color import rgb2lab

    return rgb2lab(np.asarray(color)[None] / 255.0)[0, :, 0]


# -- differences -------------------------------------------------------------------------------


def test_absolute_is_the_largest_channel_and_signed_the_luma():
    first = np.array([[[10, 200, 30], [0, 0, 0], [255, 255, 255]]], np.uint8)
    second = np.array([[[13, 180, 30], [255, 255, 255], [0, 0, 0]]], np.uint8)
    assert difference_codes(first, second, "absolute").tolist() == [[20, 255, 255]]
    expected = [3 * 0.2126 - 20 * 0.7152, 255, -255]
    np.testing.assert_allclose(difference_codes(first, second, "signed"), [expected], atol=1e-9)


def test_exchanging_the_pictures_turns_the_sign_and_nothing_else():
    first, second = picture(0), picture(1)
    there, back = (difference_codes(*pair, "signed") for pair in ((first, second), (second, first)))
    np.testing.assert_allclose(there, -back, atol=1e-9)
    there, back = (difference_codes(*pair, "absolute") for pair in ((first, second), (second, first)))
    np.testing.assert_array_equal(there, back)


@pytest.mark.parametrize("amplify", [1.0, 4.0, 10.0])
def test_the_scale_ends_at_255_over_the_factor(amplify):
    limit = 255 / amplify
    codes = np.array([[0.0, limit, limit + 1, 255.0]])
    none, end, past, most = difference_colors(codes, "absolute", amplify)[0]
    assert (end == past).all() and (end == most).all(), "what is larger is drawn as the end"
    assert (none != end).any()
    almost = difference_colors(np.array([[limit * 0.97]]), "absolute", amplify)[0, 0]
    assert (almost != end).any(), "and nothing smaller is"


def test_lighter_is_always_more_and_both_ways_alike():
    codes = np.linspace(0, 255, 60)[None]
    up = lightness(difference_colors(codes, "absolute", 1.0)[0])
    assert (np.diff(up) > 0).all()
    above = lightness(difference_colors(codes, "signed", 1.0)[0])
    below = lightness(difference_colors(-codes, "signed", 1.0)[0])
    assert (np.diff(above[::6]) > 0).all() and (np.diff(below[::6]) > 0).all()
    np.testing.assert_allclose(above, below, atol=12)
    blue, orange = difference_colors(np.array([[-255.0, 255.0]]), "signed", 1.0)[0].astype(int)
    assert blue[2] > blue[0] and orange[0] > orange[2]


def test_a_sheet_holds_the_difference_itself_and_a_scale_below():
    first, second = picture(0), picture(1)
    sheet = difference_sheet(first, second, LABELS, "absolute", 2.0, "10:00:00:00")
    inside = difference_colors(difference_codes(first, second, "absolute"), "absolute", 2.0)
    assert sheet.shape[1] == 640
    places = [row for row in range(len(sheet) - 90) if (sheet[row : row + 90] == inside).all()]
    assert len(places) == 1
    below = sheet[places[0] + 90 :]
    along = difference_colors(np.linspace(0, 127.5, 560)[None], "absolute", 2.0)[0]
    line = next(row for row in below if (row != row[0]).any())
    for share in (0.25, 0.5, 0.75):
        near = np.abs(line.astype(int) - along[int(share * 559)]).sum(axis=1)
        assert abs(near.argmin() / 639 - share) < 0.05


def test_equal_pictures_give_one_colour():
    code = picture(3)
    for form in ("absolute", "signed"):
        colors = difference_colors(difference_codes(code, code, form), form, 255.0)
        assert len(np.unique(colors.reshape(-1, 3), axis=0)) == 1


def test_the_sheet_says_when_something_is_past_the_scale():
    first = np.zeros((90, 640, 3), np.uint8)
    within, past = first.copy(), first.copy()
    within[:45] = 100
    past[:45] = 150
    sheets = [difference_sheet(first, second, LABELS, "absolute", 2.0, "") for second in (within, past)]
    assert (sheets[0][-20:] != sheets[1][-20:]).any(), "the line below the scale differs"


# -- wipes -------------------------------------------------------------------------------------


@pytest.mark.parametrize("position", [0.0, 0.25, 0.5, 0.999, 1.0])
def test_left_is_the_first_and_right_the_second_up_to_the_line(position):
    first, second = picture(0), picture(1)
    joined = wipe(first, second, position)
    assert joined.shape == first.shape
    at = round(position * 640)
    line = [column for column in range(640) if (joined[:, column] == joined[0, column]).all()]
    assert len(line) == 3, "black, white, black"
    assert min(line) <= max(1, at) <= max(line) + 2
    assert (joined[:, line[1]] == 255).all() and (joined[:, line[0]] == 0).all()
    np.testing.assert_array_equal(joined[:, : line[0]], first[:, : line[0]])
    np.testing.assert_array_equal(joined[:, line[-1] + 1 :], second[:, line[-1] + 1 :])


def test_neither_picture_is_written_over():
    first, second = picture(0), picture(1)
    first.flags.writeable = second.flags.writeable = False
    kept = first.copy(), second.copy()
    wipe(first, second, 0.5)
    assert (first == kept[0]).all() and (second == kept[1]).all()


def test_a_wipes_sheet_has_both_halves_and_their_names():
    first, second = np.full((90, 640, 3), 90, np.uint8), np.full((90, 640, 3), 160, np.uint8)
    sheet = wipe_sheet(first, second, LABELS, 0.5, "10:00:00:00")
    rows = [row for row in sheet if (row[2] == 90).all() and (row[-2] == 160).all()]
    assert len(rows) == 90
    foot = sheet[-20:].astype(int)
    assert foot[:, :300].std() > 5 and foot[:, 340:].std() > 5, "text on either side"


@pytest.mark.parametrize("width, times", [(64, 8), (240, 2), (479, 2), (480, 1), (1920, 1)])
def test_small_pictures_are_enlarged_pixel_by_pixel(width, times):
    code = picture(0, (6, width))
    large = enlarged(code)
    assert large.shape == (6 * times, width * times, 3)
    assert large.shape[1] >= LEAST_WIDTH_PX
    np.testing.assert_array_equal(large[::times, ::times], code)
