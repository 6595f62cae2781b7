"""Kept pictures are the drawn ones, bit for bit, in a published format; and where they are kept."""

import io
import struct

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from PIL import Image

from preview.errors import RequestError
from preview.kept.digest import digest
from preview.kept.pictures import (
    FOLDER_VARIABLE,
    LIMIT_VARIABLE,
    KeptPicture,
    PictureStore,
    chosen_store,
    kept_store,
    packed,
    unpacked,
)
from preview.kept.store import Store

PIXELS = arrays(np.uint8, st.tuples(st.integers(1, 24), st.integers(1, 24), st.just(3)))


@given(PIXELS)
def test_packing_loses_nothing(pixels):
    np.testing.assert_array_equal(unpacked(packed(pixels)), pixels)


@pytest.mark.parametrize("shape", [(1, 1, 3), (33, 75, 3), (540, 960, 3)])
def test_packed_pictures_are_qoi_files_that_other_programs_read(shape):
    """D. Szablewski, "The Quite OK Image Format", specification version 1.0, 2022: header of 14 bytes and
    end marker; and Pillow reads it as it was."""
    rows = np.random.default_rng(1).integers(0, 256, shape, dtype=np.uint8)
    rows[:, : shape[1] // 2] = 90  # runs, as in drawn pictures
    data = packed(rows)
    assert struct.unpack(">4sII", data[:12]) == (b"qoif", shape[1], shape[0])
    assert data[12] == 3 and data[-8:] == b"\0\0\0\0\0\0\0\1"
    np.testing.assert_array_equal(np.asarray(Image.open(io.BytesIO(data))), rows)


@given(PIXELS, st.floats(0, 1))
def test_a_picture_comes_back_with_its_share_off_the_wall(tmp_path_factory, pixels, off_wall):
    store = PictureStore(Store(tmp_path_factory.getbasetemp() / "pictures", 10**9))
    key = digest((pixels, off_wall))
    store.put(key, KeptPicture(pixels, off_wall))
    found = store.get(key)
    assert found.off_wall == off_wall
    np.testing.assert_array_equal(found.pixels, pixels)
    with pytest.raises(ValueError, match="read-only"):
        found.pixels[:] = 0


@pytest.mark.parametrize("content", [b"", b"12345678", b"12345678qoif", bytes(100)])
def test_whole_files_that_are_no_pictures_are_dropped(tmp_path, content):
    store = Store(tmp_path, 10**9)
    store.put(digest(1), content)
    assert PictureStore(store).get(digest(1)) is None
    assert store.extent().file_count == 0 and "damaged" in store.notes[0]


def test_the_place_is_the_option_the_variable_or_the_systems_cache(tmp_path, monkeypatch):
    monkeypatch.delenv(FOLDER_VARIABLE, raising=False)
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    # XDG Base Directory Specification, version 0.8: caches go to $XDG_CACHE_HOME.
    assert kept_store().folder == tmp_path / "cache" / "stage-return-preview" / "pictures"
    monkeypatch.setenv(FOLDER_VARIABLE, str(tmp_path / "variable"))
    assert kept_store().folder == tmp_path / "variable"
    assert chosen_store(tmp_path / "option", none=False).folder == tmp_path / "option"
    assert chosen_store(None, none=True) is None
    assert not list(tmp_path.iterdir()), "nothing is made before something is kept"


def test_wrong_places_and_limits_are_told(tmp_path, monkeypatch):
    with pytest.raises(RequestError, match="--kept and --no-kept"):
        chosen_store(tmp_path, none=True)
    (tmp_path / "file").write_bytes(b"")
    with pytest.raises(RequestError, match="a file stands"):
        chosen_store(tmp_path / "file", none=False)
    for wrong in ("much", "0", "-1", "nan", "inf"):
        monkeypatch.setenv(LIMIT_VARIABLE, wrong)
        with pytest.raises(RequestError, match=f"{LIMIT_VARIABLE}: '{wrong}'"):
            kept_store(tmp_path)
    monkeypatch.setenv(LIMIT_VARIABLE, "0.5")
    assert kept_store(tmp_path).limit_bytes == 500_000_000
