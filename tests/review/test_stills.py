"""A still holds exactly the code values it was given, and says what it is."""

import cv2
import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from preview.review.stills import names_for_files, still_name, write_still

NAMES = st.from_regex(r"\A[A-Za-z0-9][A-Za-z0-9 _.-]{0,11}\Z")  # as preview.show.model.Name


def test_every_code_value_comes_back_through_two_other_readers(tmp_path):
    """Law: writing and reading is the identity, in Pillow's and in OpenCV's decoder."""
    ramp = np.arange(256, dtype=np.uint8)
    picture = np.stack(np.meshgrid(ramp, ramp[::-1]), axis=2)
    picture = np.dstack([picture, picture[..., 0] ^ picture[..., 1]])
    write_still(tmp_path / "a.png", picture, {})
    np.testing.assert_array_equal(np.asarray(Image.open(tmp_path / "a.png")), picture)
    read = cv2.imread(str(tmp_path / "a.png"), cv2.IMREAD_UNCHANGED)
    np.testing.assert_array_equal(cv2.cvtColor(read, cv2.COLOR_BGR2RGB), picture)


def test_the_file_says_what_it_is(tmp_path):
    text = {"Title": "Early Beans: return CAM2", "Timecode": "10:00:04;12"}
    write_still(tmp_path / "a.png", np.zeros((20, 30, 3), np.uint8), text)
    with Image.open(tmp_path / "a.png") as still:
        assert (still.mode, still.size) == ("RGB", (30, 20))
        assert {key: still.info[key] for key in text} == text


def test_no_colour_chunk_is_written(tmp_path):
    """A browser shows an untagged PNG and a BT.709 clip of the same code values alike, and one with a
    gAMA or cICP chunk darker (measured in one browser, see DEVELOPERS.md)."""
    write_still(tmp_path / "a.png", np.zeros((20, 30, 3), np.uint8), {"Title": "x"})
    data = (tmp_path / "a.png").read_bytes()
    for chunk in (b"gAMA", b"cICP", b"sRGB", b"iCCP", b"cHRM"):
        assert chunk not in data


def test_names_sort_in_running_order():
    in_order = [
        still_name(2, "start", "09:59:59:24", "programme"),
        still_name(10, "end", "10:00:00:00", "return", "CAM1"),
        still_name(10, "start", "10:00:01:00", "return", "CAM1"),
    ]
    assert in_order == sorted(in_order)
    assert still_name(7, "at", "10:00:00;02", "wall", "Floor") == "007-at_10-00-00-02_wall_Floor.png"


@given(st.lists(NAMES, max_size=12))
def test_no_two_names_share_a_file_even_where_case_does_not_count(subjects):
    made = names_for_files(subjects)
    assert set(made) == set(subjects)
    assert len({name.casefold() for name in made.values()}) == len(set(subjects))
    assert all(" " not in name and "/" not in name for name in made.values())
