"""Boxes of a multiview: nothing overlaps, all is in frame, pictures keep their shape, words can be read."""

from __future__ import annotations

from itertools import combinations

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from preview.errors import RequestError
from preview.multiview.layout import LEAST_PX, Box, lay_out, pack, text_sizes
from preview.review.lettering import font

SIZES = [(1920, 1080), (1280, 720), (960, 540), (3840, 2160), (1440, 1080), (2560, 1080)]
aspects = st.lists(st.floats(0.4, 6.0), min_size=1, max_size=4)


@settings(max_examples=30)
@given(st.integers(1, 8), aspects, st.sampled_from(SIZES), st.sampled_from([16 / 9, 4 / 3, 9 / 16, 2.39]))
@example(4, [2.8, 1.6], (1920, 1080), 16 / 9)
@example(8, [2.8, 1.6], (1920, 1080), 16 / 9)
@example(1, [20.0], (960, 540), 16 / 9)
def test_boxes_lie_in_the_frame_and_none_on_another(cameras, surfaces, size_px, picture_aspect):
    layout = lay_out(cameras, surfaces, size_px, picture_aspect)
    assert len(layout.cameras) == cameras and len(layout.surfaces) == len(surfaces)
    whole = Box(0, 0, *size_px)
    boxes = list(layout.boxes())
    assert all(box.width > 0 and box.height > 0 and whole.holds(box) for box in boxes)
    assert not [pair for pair in combinations(boxes, 2) if pair[0].overlaps(pair[1])]

    shapes = [(tile, picture_aspect) for tile in (layout.programme, layout.as_shot, *layout.cameras)]
    shapes += list(zip(layout.surfaces, surfaces, strict=True))
    for tile, aspect in shapes:
        # Half a pixel either way is all that whole pixels can miss; surfaces are rounded down.
        wide, high = tile.picture.width, tile.picture.height
        assert abs(wide - high * aspect) <= max(1.0, aspect)
    assert layout.programme.picture.width == layout.as_shot.picture.width
    assert layout.programme.picture.height >= max(tile.picture.height for tile in layout.cameras)


@pytest.mark.parametrize("size_px", SIZES)
def test_words_are_as_tall_as_their_lines_allow_and_never_below_the_floor(size_px):
    layout = lay_out(8, [2.8, 1.6], size_px)
    text = layout.text
    assert text.small >= 12 and text.small <= text.name <= text.timecode
    for size, room in ((text.small, text.small_line), (text.name, text.name_line)):
        rise, drop = font(size).getmetrics()
        assert rise + drop <= room
    two_lines = text.name_line + text.small_line
    assert all(tile.caption.height >= two_lines for tile in layout.cameras)
    tag = font(text.small, True).getlength("NEXT in 88.8 s") + 2.5 * text.small
    assert all(tile.caption.width - tag >= 3 * text.name for tile in layout.cameras), "room for a name"


def test_words_stay_readable_when_the_default_frame_is_shown_on_a_laptop():
    """9 pixels of capital height at 1280 x 720: common practice for screens, no source."""
    text = text_sizes((1920, 1080))
    box = font(text.small).getbbox("H", anchor="ls")
    assert (box[3] - box[1]) * 720 / 1080 >= 9


def test_more_cameras_mean_smaller_returns_but_never_none_legible():
    heights = [lay_out(n, [2.8, 1.6], (1920, 1080)).cameras[0].picture.height for n in (1, 2, 4, 6, 8)]
    assert heights == sorted(heights, reverse=True)
    assert heights[-1] >= 160


def test_the_largest_surface_arrangement_is_taken():
    region = Box(0, 0, 400, 1000)
    one_row = sum(t.picture.width * t.picture.height for t in pack([2.0, 2.0], Box(0, 0, 400, 130), 30, 10))
    stacked = pack([2.0, 2.0], region, 30, 10)
    assert [tile.picture.width for tile in stacked] == [400, 400]
    assert sum(t.picture.width * t.picture.height for t in stacked) > one_row
    assert pack([1.0] * 9, Box(0, 0, 9, 20), 30, 10) is None


@pytest.mark.parametrize(
    ("size_px", "told"),
    [((640, 360), "{}x{}".format(*LEAST_PX)), ((1000, 1000), "4:3"), ((4000, 1080), "1920x1080")],
)
def test_a_frame_that_cannot_be_read_is_refused_with_what_to_ask_for(size_px, told):
    with pytest.raises(RequestError, match="--size") as caught:
        lay_out(4, [2.8], size_px)
    assert told in str(caught.value)


def test_too_many_cameras_for_a_frame_are_refused():
    with pytest.raises(RequestError, match=r"40 cameras.*ask for more"):
        lay_out(40, [2.8], (960, 540))
    with pytest.raises(ValueError):
        lay_out(0, [2.8], (1920, 1080))
