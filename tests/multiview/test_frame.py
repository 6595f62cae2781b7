"""One frame as it is drawn: each picture in its place, words as said, tally by colour and shape."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest

from preview.multiview import frame as drawing
from preview.multiview.frame import BADGE, CARD, NOW_CARD, TALLY_COLORS, WARNING, resized, timecode_plate
from preview.review.lettering import INK, PAPER, QUIET
from preview.review.plate import plate, put
from tests.multiview.fakes import COLORS, CUT, MIX, flat_pictures, starter_view


def at(frame):
    return starter_view().frame(frame, flat_pictures())


def part(picture, box):
    return picture[box.top : box.bottom, box.left : box.right]


def rim(picture, box, away=2):
    """The column of pixels beside a box's left edge, and the corner above it."""
    column = picture[box.top : box.bottom, box.left - away]
    return column[len(column) // 2], picture[box.top - away, box.left - away]


def luminance(color):
    """Relative luminance. Source: W3C, "Web Content Accessibility Guidelines (WCAG) 2.1", 2018, glossary."""
    linear = [c / 255 / 12.92 if c / 255 <= 0.03928 else ((c / 255 + 0.055) / 1.055) ** 2.4 for c in color]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one, other):
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_each_picture_fills_its_own_place():
    picture, layout = at(0), starter_view().layout
    placed = {
        ("programme", ""): layout.programme, ("programme-as-shot", ""): layout.as_shot,
        ("return", "CAM1"): layout.cameras[0], ("return", "CAM2"): layout.cameras[1],
        ("wall", "Wall"): layout.surfaces[0], ("wall", "Floor"): layout.surfaces[1],
    }  # fmt: skip
    for key, tile in placed.items():
        inner = part(picture, tile.picture)[3:-3, 3:-3]
        assert (inner == COLORS[key]).all(), key


def test_a_picture_of_the_tile_s_own_size_is_shown_untouched():
    view = starter_view()
    pictures = flat_pictures(view.tile_px)
    noise = np.random.default_rng(7).integers(0, 256, pictures["programme", ""].shape, dtype=np.uint8)
    shown = view.frame(0, {**pictures, ("programme", ""): noise})
    assert (part(shown, view.layout.programme.picture) == noise).all()


@pytest.mark.parametrize(("frame", "timecode"), [(0, "10:00:00:00"), (112, "10:00:04:12")])
def test_the_timecode_shown_is_the_frame_s(frame, timecode):
    picture, layout = at(frame), starter_view().layout
    alone = timecode_plate(layout, timecode)
    header = part(picture, layout.header)
    top = (header.shape[0] - alone.shape[0]) // 2
    ground = np.full_like(header, PAPER)
    put(ground, alone, 0, top)
    wide = alone.shape[1]
    assert (header[:, :wide] == ground[:, :wide]).all()
    other = timecode_plate(layout, "10:00:04:13")
    assert other.shape == alone.shape and (other != alone).any(), "no digit is wider than another"


def test_tally_is_told_by_colour_shape_and_word():
    layout = starter_view().layout
    on_air, following = (layout.cameras[0].picture, layout.cameras[1].picture)
    before, after = at(CUT - 1), at(CUT)
    middle, corner = rim(before, on_air)
    assert tuple(middle) == tuple(corner) == TALLY_COLORS["on air"], "a frame all round"
    middle, corner = rim(before, following)
    assert tuple(corner) == TALLY_COLORS["next"] and tuple(middle) == PAPER, "corners alone"
    middle, corner = rim(after, following)
    assert tuple(middle) == tuple(corner) == TALLY_COLORS["on air"]
    for frame in (MIX, MIX + 11):
        mixed = at(frame)
        rims = [tuple(color) for tile in layout.cameras for color in rim(mixed, tile.picture)]
        assert set(rims) == {TALLY_COLORS["on air"]}, "both cameras of a mix"
    done = at(MIX + 12)
    middle, corner = rim(done, following)
    assert tuple(middle) == tuple(corner) == PAPER, "off: no frame at all"


def test_words_stand_out_and_tallies_part_without_colour():
    """Source: W3C, "Web Content Accessibility Guidelines (WCAG) 2.1", 2018, 1.4.3: 4.5 to 1 for text."""
    on_ground = [
        (INK, PAPER), (QUIET, PAPER), (INK, CARD), (QUIET, CARD), (INK, NOW_CARD), (QUIET, NOW_CARD),
        (INK, BADGE), (INK, TALLY_COLORS["on air"]), (TALLY_COLORS["next"], PAPER),
        (TALLY_COLORS["off"], PAPER),
        (WARNING, PAPER), (WARNING, CARD), (WARNING, NOW_CARD),
    ]  # fmt: skip
    for ink, ground in on_ground:
        assert contrast(ink, ground) >= 4.5, (ink, ground)
    assert contrast(TALLY_COLORS["on air"], TALLY_COLORS["next"]) > 2.0


def test_a_wrong_wall_is_marked(monkeypatch):
    view = starter_view()
    right = view.frame(CUT, flat_pictures())
    monkeypatch.setattr(
        "preview.multiview.words.wall_words", lambda file, moment: ("WRONG WALL: 1 CAM1", True)
    )
    wrong = view.frame(CUT, flat_pictures())
    box = view.layout.as_shot.picture
    assert tuple(rim(right, box)[0]) == PAPER and tuple(rim(wrong, box)[0]) == WARNING


def test_the_bar_of_the_present_shot_grows_and_starts_again():
    card = starter_view().layout.cards[0]

    def share(frame):
        bottom = at(frame)[card.bottom - 1, card.left : card.right]
        return float((bottom == TALLY_COLORS["on air"]).all(axis=1).mean())

    assert share(0) == 0.0
    assert share(50) == pytest.approx(0.5, abs=0.01)
    assert share(CUT) == 0.0


def test_frames_do_not_leave_anything_behind():
    """Drawing other frames in between changes nothing."""
    first = at(30)
    for frame in (CUT, MIX + 3, 274):
        at(frame)
    assert (at(30) == first).all()


def test_the_plan_follows_cameras_and_tally():
    box = starter_view().layout.plan.picture
    plans = {frame: part(at(frame), box) for frame in (CUT - 1, CUT, MIX + 3)}
    for one, other in combinations(plans, 2):
        assert (plans[one] != plans[other]).any()
    red = {
        frame: int((np.abs(plan.astype(int) - TALLY_COLORS["on air"]).max(axis=2) < 6).sum())
        for frame, plan in plans.items()
    }
    assert 0 < red[CUT] < red[MIX + 3], "two cameras are on air in a mix"
    moving = part(at(CUT + 40), box)
    assert (moving != part(at(CUT + 60), box)).any(), "the push in narrows the wedge"


def test_a_missing_picture_is_no_empty_box():
    pictures = flat_pictures()
    del pictures["return", "CAM2"]
    with pytest.raises(KeyError):
        starter_view().frame(0, pictures)


@pytest.mark.parametrize("size", [(53, 31), (100, 60), (199, 119), (300, 180)])
def test_a_resized_picture_keeps_its_light(size):
    """A smooth picture's mean stays, within rounding; a ramp stays a ramp."""
    ramp = np.linspace(0, 250, 200, dtype=np.float32)
    code = np.repeat(np.round(np.tile(ramp, (120, 1)))[..., None], 3, axis=2).astype(np.uint8)
    small = resized(code, size)
    assert small.shape == (size[1], size[0], 3)
    assert float(small.mean()) == pytest.approx(float(code.mean()), abs=0.75)
    expected = (np.arange(size[0]) + 0.5) / size[0] * 200 - 0.5
    inner = slice(2, -2)
    assert np.abs(small[0, inner, 0] - expected[inner] * 250 / 199).max() < 2.0


def test_plates_fit_their_room_and_frames_cut_them_off():
    wide = plate("Three-shot with caller", 21)
    narrow = plate("Three-shot with caller", 21, room_px=90)
    assert narrow.shape[1] <= 90 < wide.shape[1] and narrow.shape[0] == wide.shape[0]
    ground = np.zeros((20, 20, 3), np.uint8)
    put(ground, np.full((10, 10, 3), 9, np.uint8), 15, -5)
    assert int((ground == 9).all(axis=2).sum()) == 25
    put(ground, np.full((10, 10, 3), 7, np.uint8), 40, 0)
    assert not (ground == 7).any()
    assert drawing.TALLY_COLORS.keys() == {"on air", "next", "off"}
