"""Stills and clips on screens: right frame for every time, right colours, bounded memory."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from types import SimpleNamespace

import av
import numpy as np
import pytest
from PIL import Image

from preview.errors import AssetError
from preview.show.model import Screen
from preview.stage.screens import KEPT_FRAMES, Clip, ScreenPictures, StillPicture

SIZE = 64
RATE = 25


def show_with(folder: Path, *screens: Screen):
    file = SimpleNamespace(virtual=SimpleNamespace(screens=screens))
    return SimpleNamespace(file=file, root=folder, asset=lambda relative: folder / relative)


def grey(number: int) -> int:
    """Luma code of frame ``number``; far enough apart to tell frames."""
    return 16 + 4 * number


def write_clip(path: Path, count=40, *, times=None, b_frames=2, group=12, **color) -> Path:
    """A clip whose frame n has the luma ``grey(n)``; ``times`` in 1/1000 s instead of a steady rate."""
    with av.open(str(path), "w") as container:
        stream = container.add_stream("libx264", rate=RATE)
        stream.width = stream.height = SIZE
        stream.pix_fmt = "yuv420p"
        stream.options = {"qp": "0", "bf": str(b_frames), "g": str(group)}
        tick = Fraction(1, RATE) if times is None else Fraction(1, 1000)
        stream.codec_context.time_base = tick
        for number in range(count):
            frame = av.VideoFrame(SIZE, SIZE, "yuv420p")
            for plane, value in zip(frame.planes, (grey(number), 128, 128), strict=True):
                plane.update(bytes([value]) * plane.buffer_size)
            frame.pts, frame.time_base = (number if times is None else times[number]), tick
            container.mux(stream.encode(frame))
        container.mux(stream.encode(None))
    return path


def number_of(picture) -> int:
    """Which frame a picture is, from its grey (narrow range: 219 luma codes span 255)."""
    assert picture.shape == (SIZE, SIZE, 3) and picture.dtype == np.uint8
    return round((float(picture.mean()) * 219 / 255) / 4)


@pytest.fixture(scope="module")
def clip_path(tmp_path_factory):
    return write_clip(tmp_path_factory.mktemp("clips") / "guest.mp4")


def test_every_frame_at_its_own_time(clip_path):
    clip = Clip(clip_path)
    assert clip.frame_count == 40 and clip.duration_s == pytest.approx(40 / RATE)
    for number in range(40):
        for seconds in (number / RATE, (number + 0.5) / RATE, (number + 0.99) / RATE - 0.02 / RATE):
            index = clip.index(seconds)
            assert index == number or seconds > (number + 0.9) / RATE
            assert number_of(clip.frame(clip.index(number / RATE))) == number
    clip.close()


def test_any_order_gives_the_same_frames(clip_path):
    clip = Clip(clip_path)
    for number in [39, 0, 20, 19, 18, 5, 30, 1, 0, 39, 12, 11, 13]:
        assert number_of(clip.frame(number)) == number
    clip.close()


def test_clips_loop(clip_path):
    clip = Clip(clip_path)
    assert [clip.index(t) for t in (1.6, 1.64, 3.2, 16.04, 1.599999999)] == [0, 1, 0, 1, 0]
    assert number_of(clip.frame(clip.index(1.6 * 1000 + 0.4))) == 10
    clip.close()


def test_film_rate_times_find_each_frame_in_a_millisecond_container(tmp_path):
    """Matroska rounds times to milliseconds; frame n of 29.97 must still be frame n."""
    times = [round(n * 1001 / 30) for n in range(30)]
    clip = Clip(write_clip(tmp_path / "a.mkv", 30, times=times))
    assert [clip.index(n * 1001 / 30000) for n in range(30)] == list(range(30))
    clip.close()


def test_variable_frame_rate(tmp_path):
    clip = Clip(write_clip(tmp_path / "a.mkv", 4, times=[0, 100, 700, 800], b_frames=0))
    assert [clip.index(t) for t in (0.05, 0.1, 0.5, 0.69, 0.7, 0.83)] == [0, 1, 1, 1, 2, 3]
    assert [number_of(clip.frame(n)) for n in (3, 1, 2, 0)] == [3, 1, 2, 0]
    clip.close()


def test_a_clip_that_does_not_start_at_zero(tmp_path):
    clip = Clip(write_clip(tmp_path / "a.mkv", 5, times=[5000, 5040, 5080, 5120, 5160], b_frames=0))
    assert [number_of(clip.frame(clip.index(n / RATE))) for n in (0, 4, 2)] == [0, 4, 2]
    clip.close()


def test_memory_is_bounded(clip_path):
    clip = Clip(clip_path)
    for number in range(40):
        clip.frame(number)
    assert len(clip._kept) == KEPT_FRAMES
    with pytest.raises(ValueError):
        clip.frame(39)[0, 0] = 0  # pictures are read-only: they may be shown again
    clip.close()


def one_color_clip(path, rgb, red_blue, code, full, trc=None, size=SIZE):
    """Lossless 4:4:4 clip of one R'G'B' colour, coded with the given luma weights and range.

    Source of the formulas: ITU-R BT.709-6, items 3.2 to 3.5; full range after H.273, 8.3.
    """
    red_weight, blue_weight = red_blue
    r, g, b = (value / 255 for value in rgb)
    y = red_weight * r + (1 - red_weight - blue_weight) * g + blue_weight * b
    cb, cr = (b - y) / (2 * (1 - blue_weight)), (r - y) / (2 * (1 - red_weight))
    codes = (
        (255 * y, 128 + 255 * cb, 128 + 255 * cr) if full else (16 + 219 * y, 128 + 224 * cb, 128 + 224 * cr)
    )
    with av.open(str(path), "w") as container:
        stream = container.add_stream("libx264", rate=RATE)
        stream.width = stream.height = size
        stream.pix_fmt = "yuv444p"
        stream.options = {"qp": "0"}
        if code is not None:
            stream.codec_context.colorspace = code
        stream.codec_context.color_range = 2 if full else 1
        if trc is not None:
            stream.codec_context.color_trc = trc
        frame = av.VideoFrame(size, size, "yuv444p")
        for plane, value in zip(frame.planes, codes, strict=True):
            plane.update(bytes([round(value)]) * plane.buffer_size)
        frame.pts = 0
        if code is not None:
            frame.colorspace = code
        frame.color_range = 2 if full else 1
        container.mux(stream.encode(frame))
        container.mux(stream.encode(None))
    return path


@pytest.mark.parametrize("full", [False, True])
@pytest.mark.parametrize(
    ("code", "red_blue", "size"),
    [
        (1, (0.2126, 0.0722), 64),
        (6, (0.299, 0.114), 64),
        (5, (0.299, 0.114), 64),
        (9, (0.2627, 0.0593), 64),
        (None, (0.299, 0.114), 64),
        (None, (0.2126, 0.0722), 720),
    ],
    ids=["BT.709", "BT.601-525", "BT.601-625", "BT.2020", "unmarked small", "unmarked HD"],
)
def test_matrix_and_range(tmp_path, code, red_blue, size, full):
    clip = Clip(one_color_clip(tmp_path / "a.mp4", (200, 50, 100), red_blue, code, full, size=size))
    np.testing.assert_allclose(clip.frame(0)[size // 2, size // 2].astype(int), (200, 50, 100), atol=2)
    clip.close()


@pytest.mark.parametrize(("trc", "name"), [(16, "PQ"), (18, "HLG")])
def test_hdr_clips_are_refused(tmp_path, trc, name):
    path = one_color_clip(tmp_path / "a.mp4", (9, 9, 9), (0.2627, 0.0593), 9, False, trc=trc)
    with pytest.raises(AssetError, match=rf"is coded as {name} .*; convert the clip to BT.709"):
        Clip(path)


def test_stills(tmp_path):
    pixels = np.array([[[10, 20, 30, 255], [200, 100, 50, 128]]], dtype=np.uint8)
    Image.fromarray(pixels).save(tmp_path / "a.png")
    still = StillPicture(tmp_path / "a.png")
    np.testing.assert_array_equal(still.frame(still.index(7.0)), [[[10, 20, 30], [100, 50, 25]]])
    deep = np.array([[0, 257 * 100, 65535]], dtype=np.uint16)
    Image.fromarray(deep).save(tmp_path / "deep.png")
    np.testing.assert_array_equal(StillPicture(tmp_path / "deep.png").frame(0)[0, :, 1], [0, 100, 255])


def test_photographs_are_turned_upright(tmp_path):
    exif = Image.Exif()
    exif[0x0112] = 6  # turn 90 degrees clockwise to see it upright (Exif 2.3, Orientation)
    Image.fromarray(np.zeros((4, 8, 3), dtype=np.uint8)).save(tmp_path / "a.jpg", exif=exif)
    assert StillPicture(tmp_path / "a.jpg").frame(0).shape == (8, 4, 3)


def test_screens_of_a_show(tmp_path, clip_path):
    Image.fromarray(np.full((2, 3, 3), 77, dtype=np.uint8)).save(tmp_path / "still.png")
    (tmp_path / "guest.mp4").write_bytes(clip_path.read_bytes())
    show = show_with(
        tmp_path, Screen(name="Left", picture="still.png"), Screen(name="Right", clip="guest.mp4")
    )
    with ScreenPictures(show) as pictures:
        assert pictures.names == ("Left", "Right")
        assert pictures.frame("Left", 99.0).shape == (2, 3, 3)
        assert number_of(pictures.frame("Right", 0.4)) == 10
        assert set(pictures.changed(0.0)) == {"Left", "Right"}
        assert pictures.changed(0.01) == {}
        assert [number_of(p) for p in pictures.changed(0.2).values()] == [5]
        with pytest.raises(KeyError):
            pictures.frame("Nowhere", 0.0)


@pytest.mark.parametrize(
    ("name", "data", "sentence"),
    [
        ("a.mp4", None, "a.mp4: does not exist"),
        ("a.mp4", b"", "cannot be decoded as a clip"),
        ("a.mp4", b"leaves and stems" * 99, "cannot be decoded as a clip"),
    ],
)
def test_unusable_clips(tmp_path, name, data, sentence):
    if data is not None:
        (tmp_path / name).write_bytes(data)
    with pytest.raises(AssetError) as caught:
        ScreenPictures(show_with(tmp_path, Screen(name="Left", clip=name)))
    assert sentence in str(caught.value)


def test_sound_only(tmp_path):
    with av.open(str(tmp_path / "a.wav"), "w") as container:
        stream = container.add_stream("pcm_s16le", rate=48000)
        frame = av.AudioFrame.from_ndarray(np.zeros((1, 4800), dtype=np.int16), layout="mono")
        frame.sample_rate = 48000
        container.mux(stream.encode(frame))
    with pytest.raises(AssetError, match="has no video frames"):
        Clip(tmp_path / "a.wav")


def test_a_clip_cut_short_tells_or_plays_what_is_there(tmp_path, clip_path):
    data = clip_path.read_bytes()
    (tmp_path / "a.mp4").write_bytes(data[: len(data) // 2])
    try:
        clip = Clip(tmp_path / "a.mp4")
        clip.frame(clip.frame_count - 1)
    except AssetError as error:
        assert "a.mp4: cannot be decoded" in str(error)
