"""Stills: what is meant is outlined where it is, labels and captions stay inside the page."""

from __future__ import annotations

import numpy as np
import pytest

from preview.checks.registry import Mark
from preview.report import annotated, caption
from preview.report.annotated import WIDTH_PX, annotated_page, drawn_size, enlarged, outlined
from preview.report.caption import GRADE_COLOR, GRADE_WORD, Caption
from preview.review.lettering import font, wrapped

SIZE = (960, 540)
COLOR = GRADE_COLOR["fault"]


def picture(level=90):
    return np.full((SIZE[1], SIZE[0], 3), level, np.uint8)


def field(rows, columns):
    mask = np.zeros((108, 192), dtype=bool)
    mask[rows, columns] = True
    return mask


def told(**changes):
    words = {
        "grade": "fault", "check": "off-wall", "timecode": "10:00:04:12", "place": "CAM2, shot 3",
        "sentence": "CAM2 sees past the wall.", "remedy": "longer lens", "foot": "worst frame",
    }  # fmt: skip
    return Caption(**{**words, **changes})


@pytest.mark.parametrize("place", [(0, 0), (50, 100), (107, 191)])
def test_a_single_sightline_stays_to_be_seen_where_it_is(place):
    row, column = place
    big = enlarged(field(row, column), SIZE)
    rows, columns = np.nonzero(big)
    assert 4 <= len(rows) <= 60, "about one field of 5 x 5"
    assert abs(rows.mean() + 0.5 - 5 * (row + 0.5)) < 2.0
    assert abs(columns.mean() + 0.5 - 5 * (column + 0.5)) < 2.0


def test_a_large_mark_keeps_its_area_and_its_borders():
    mask = field(slice(20, 60), slice(30, 130))
    big = enlarged(mask, SIZE)
    assert big.mean() == pytest.approx(mask.mean(), rel=0.02)
    rows, columns = np.nonzero(big)
    assert (columns.min(), columns.max() + 1) == pytest.approx((150, 650), abs=2)
    assert (rows.min(), rows.max() + 1) == pytest.approx((100, 300), abs=2)
    assert enlarged(np.ones((108, 192), dtype=bool), SIZE).all()
    assert not enlarged(np.zeros((108, 192), dtype=bool), SIZE).any()


def test_the_mark_is_hatched_and_the_rest_of_the_picture_untouched():
    mask = field(slice(20, 60), slice(30, 130))
    drawn = outlined(picture(), [Mark("CAM2", mask, "")], COLOR)
    touched = (drawn != 90).any(axis=2)
    assert not touched[:, :140].any() and not touched[:90].any() and not touched[310:].any()
    inside = touched[110:290, 160:640].mean()
    assert 0.1 < inside < 0.4, "hatched: the picture can still be judged below"
    assert (drawn == np.array(COLOR)).all(axis=2).sum() > 1000, "outlined in full colour"


def test_small_marks_are_ringed_and_large_ones_are_not():
    small = outlined(picture(), [Mark("CAM2", field(50, 100), "")], COLOR)
    rows, columns = np.nonzero((small == np.array(COLOR)).all(axis=2))
    assert columns.max() - columns.min() >= 45, "a ring to be found at a glance"
    assert (rows.mean(), columns.mean()) == pytest.approx((252, 502), abs=4)


def test_nothing_to_outline_leaves_the_picture_alone():
    code = picture()
    assert (outlined(code, [Mark("CAM2", field(slice(0, 0), 0), "label")], COLOR) == code).all()
    assert (code == 90).all(), "the studio's picture is not drawn into"


@pytest.mark.parametrize(
    "rows, columns",
    [(slice(0, 3), slice(0, 3)), (slice(100, 108), slice(180, 192)), (slice(0, 108), slice(0, 192))],
)
def test_labels_stay_inside_the_picture(rows, columns):
    from PIL import Image

    sheet = Image.fromarray(picture())
    big = enlarged(field(rows, columns), SIZE)
    for text in ("arm of the jib", "word " * 60):
        left, top, right, bottom = annotated._label(sheet, text, big, COLOR, [])
        assert 0 <= left < right <= SIZE[0] and 0 <= top < bottom <= SIZE[1]


def test_labels_do_not_lie_on_each_other(monkeypatch):
    boxes = []
    label = annotated._label

    def note(*args):
        boxes.append(label(*args))
        return boxes[-1]

    monkeypatch.setattr(annotated, "_label", note)
    mask = field(slice(40, 60), slice(80, 110))
    outlined(picture(), [Mark("CAM2", mask, f"thing {n}") for n in range(4)], COLOR)
    assert len(boxes) == 4
    for place, one in enumerate(boxes):
        assert not any(annotated._overlap(one, other) for other in boxes[:place])


@pytest.fixture
def lines(monkeypatch):
    """Every line that goes into a caption: text, room it has, room it takes."""
    found = []
    write = caption.write

    def note(sheet, text, at, size_px, *, room_px, bold=False, **kwargs):
        found.append((text, room_px, font(size_px, bold).getlength(text), at, sheet.height))
        return write(sheet, text, at, size_px, room_px=room_px, bold=bold, **kwargs)

    monkeypatch.setattr(caption, "write", note)
    return found


LONG = (
    "The arm of the jib crosses the picture of CAM2 from the left edge to the middle while the move runs. "
    * 4
)


def test_captions_do_not_overflow_however_long(lines):
    page = annotated_page(picture(), [], told(sentence=LONG, remedy=LONG, foot=LONG))
    assert page.shape[1] == WIDTH_PX
    for text, room, taken, at, height in lines:
        assert taken <= room, text
        assert at[1] < height - 6, text
    said = " ".join(text for text, *_ in lines)
    assert said.count("crosses the picture") == 12, "every word of sentence, remedy and foot is there"
    assert "…" not in said


def test_a_grade_is_a_shape_a_word_and_a_colour(lines):
    from PIL import Image

    shapes = []
    for grade, word in GRADE_WORD.items():
        lines.clear()
        page = annotated_page(picture(), [], told(grade=grade))
        assert word in [text for text, *_ in lines]
        assert (page[540:] == np.array(GRADE_COLOR[grade])).all(axis=2).sum() > 300
        sheet = Image.new("RGB", (40, 40))
        caption.draw_grade(sheet, grade, (10, 20), 20)
        shapes.append((np.asarray(sheet) == np.array(GRADE_COLOR[grade])).all(axis=2))
    for one, other in ((0, 1), (0, 2), (1, 2)):
        assert (shapes[one] ^ shapes[other]).sum() > 60, "told apart without colour"


def test_no_remedy_takes_no_room(lines):
    without = annotated_page(picture(), [], told(remedy=""))
    assert not [text for text, *_ in lines if text.startswith("Remedy")]
    assert without.shape[0] < annotated_page(picture(), [], told()).shape[0]


def test_one_long_word_is_cut_off_and_marked():
    cut = wrapped("x" * 400 + " end", 300, 19)
    assert cut[0].endswith("…") and cut[1] == "end"


@pytest.mark.parametrize(
    "picture_px, drawn",
    [
        ((1920, 1080), (960, 540)),
        ((2048, 858), (960, 402)),
        ((1080, 1920), (540, 960)),
        ((128, 72), (960, 540)),
    ],
)
def test_stills_keep_the_shows_shape(picture_px, drawn):
    assert drawn_size(picture_px) == drawn
    page = annotated_page(np.zeros((drawn[1], drawn[0], 3), np.uint8), [], told())
    assert page.shape[1] == WIDTH_PX and page.shape[0] > drawn[1]
