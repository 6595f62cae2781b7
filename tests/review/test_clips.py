"""A clip decodes anywhere to the colours, size, rate and timecode it was given."""

import json
import shutil
import subprocess
import sys
import textwrap
from fractions import Fraction
from itertools import pairwise

import av
import colour
import numpy as np
import pytest

from preview.errors import OutputError, RequestError
from preview.review.clips import check_clip_size, even_sides, open_clip

PAL = Fraction(25)
COLORS = {
    "white": (255, 255, 255),
    "black": (0, 0, 0),
    "grey": (104, 104, 104),
    "75 % yellow": (191, 191, 0),
    "75 % cyan": (0, 191, 191),
    "75 % green": (0, 191, 0),
    "75 % magenta": (191, 0, 191),
    "75 % red": (191, 0, 0),
    "75 % blue": (0, 0, 191),
    "skin": (200, 150, 125),
    "leaf": (52, 96, 40),
}


def flat(rgb, size=(64, 48)):
    return np.full((size[1], size[0], 3), rgb, np.uint8)


def write(path, pictures, size=(64, 48), rate=PAL, start="10:00:00:00", **options):
    with open_clip(path, size, rate, start, **options) as clip:
        for picture in pictures:
            clip.write(picture)
    return path


def decoded(path):
    with av.open(str(path)) as container:
        return [frame.to_ndarray(format="yuv420p") for frame in container.decode(video=0)]


def test_every_tag_is_there_when_read_back(tmp_path):
    """Code point 1 is BT.709 for primaries, transfer and matrix, and video range is 1 in FFmpeg's count.

    Source: Recommendation ITU-T H.273 (2021), tables 2, 3, 4.
    """
    path = write(tmp_path / "a.mp4", [flat((90, 90, 90))] * 3)
    with av.open(str(path)) as container:
        (video,) = container.streams.video
        codec = video.codec_context
        tags = (codec.color_primaries, codec.color_trc, codec.colorspace, codec.color_range)
        assert tags == (1, 1, 1, 1)
        assert (codec.name, video.profile, codec.pix_fmt) == ("h264", "High", "yuv420p")


@pytest.mark.skipif(shutil.which("ffprobe") is None, reason="ffprobe is not installed")
def test_another_reader_finds_the_same_tags(tmp_path):
    path = write(
        tmp_path / "a.mp4", [flat((90, 90, 90))] * 3, rate=Fraction(30000, 1001), start="10:00:00;02"
    )
    command = ["ffprobe", "-v", "error", "-show_streams", "-of", "json", str(path)]
    said = subprocess.run(command, capture_output=True, text=True, check=True).stdout
    video, timecode = json.loads(said)["streams"]
    assert video["color_range"] == "tv"
    assert {video["color_space"], video["color_transfer"], video["color_primaries"]} == {"bt709"}
    assert (video["profile"], video["avg_frame_rate"]) == ("High", "30000/1001")
    assert timecode["codec_tag_string"] == "tmcd"
    assert timecode["tags"]["timecode"] == "10:00:00;02"


@pytest.mark.parametrize("name", COLORS)
def test_known_colours_have_their_video_levels(tmp_path, name):
    """Against another library's BT.709 Y'CbCr; one code of rounding and one of compression allowed.

    Source: colour-science, RGB_to_YCbCr with the weights of Rec. ITU-R BT.709-6, item 3.2, quantised to
    8-bit narrow range as its item 4 says. A BT.601 matrix would miss 75 % green's Y' by 22 codes.
    """
    rgb = np.array(COLORS[name])
    expected = colour.RGB_to_YCbCr(
        rgb, K=colour.WEIGHTS_YCBCR["ITU-R BT.709"],
        in_bits=8, in_int=True, in_legal=False, out_bits=8, out_int=True, out_legal=True,
    )  # fmt: skip
    frame = decoded(write(tmp_path / "a.mp4", [flat(rgb)] * 5))[2]
    luma, chroma = frame[:48], frame[48:].reshape(2, 24, 32)
    found = [luma.mean(), chroma[0].mean(), chroma[1].mean()]
    np.testing.assert_allclose(found, expected, atol=2)


def test_white_and_black_are_exact(tmp_path):
    """Rec. ITU-R BT.709-6, item 4.6: black is 16 and peak 235, colour differences rest at 128."""
    for rgb, level in (((255, 255, 255), 235), ((0, 0, 0), 16)):
        frame = decoded(write(tmp_path / "a.mp4", [flat(rgb)] * 3))[1]
        assert set(np.unique(frame[:48])) == {level}
        assert set(np.unique(frame[48:])) == {128}


def test_a_picture_comes_back_as_rgb_within_a_few_codes(tmp_path):
    """Round trip of a smooth picture through the tags alone: the decoder is told nothing else."""
    y, x = np.mgrid[0:96, 0:128]
    picture = np.stack([x * 2, y * 2.5, 255 - x - y], axis=2).clip(0, 255).astype(np.uint8)
    path = write(tmp_path / "a.mp4", [picture] * 8, size=(128, 96))
    with av.open(str(path)) as container:
        back = list(container.decode(video=0))[4].to_ndarray(format="rgb24")
    assert np.abs(back.astype(int) - picture).mean() < 2


@pytest.mark.parametrize("size", [(1920, 1080), (1280, 720), (962, 542)])
def test_the_size_is_kept_to_the_line(tmp_path, size):
    """1080 lines stay 1080: H.264 codes 1088 and crops, a careless writer pads instead."""
    path = write(tmp_path / "a.mp4", [flat((40, 80, 120), size)] * 2, size=size)
    with av.open(str(path)) as container:
        codec = container.streams.video[0].codec_context
        assert (codec.width, codec.height) == size


@pytest.mark.parametrize(
    "rate, start",
    [
        (Fraction(24000, 1001), "10:00:00:00"),
        (Fraction(25), "09:59:58:24"),
        (Fraction(30000, 1001), "10:00:00;00"),
        (Fraction(30000, 1001), "10:00:00:00"),
        (Fraction(50), "10:00:00:49"),
        (Fraction(60000, 1001), "10:09:59;58"),
    ],
)
def test_rate_and_timecode_are_exact(tmp_path, rate, start):
    count = 33
    path = write(tmp_path / "a.mp4", [flat((i, i, i)) for i in range(count)], rate=rate, start=start)
    with av.open(str(path)) as container:
        (video,) = container.streams.video
        assert video.average_rate == rate
        assert video.metadata["timecode"] == start
        assert any(stream.type == "data" for stream in container.streams), "no timecode track"
        stamps = sorted(frame.pts * frame.time_base for frame in container.decode(video))
    assert len(stamps) == count
    assert {b - a for a, b in pairwise(stamps)} == {1 / rate}


def test_a_held_picture_fills_its_frames(tmp_path):
    with open_clip(tmp_path / "a.mp4", (64, 48), PAL, "10:00:00:00") as clip:
        clip.write(flat((200, 200, 200)), frames=3)
        clip.write(flat((20, 20, 20)), frames=2)
        assert clip.frame_count == 5
    levels = [frame[:48].mean() for frame in decoded(tmp_path / "a.mp4")]
    assert [level > 100 for level in levels] == [True, True, True, False, False]


@pytest.mark.parametrize("rate", [PAL, Fraction(30000, 1001)])
def test_a_long_frame_stands_for_the_ones_it_holds(tmp_path, rate):
    path, held = tmp_path / "long.mp4", (12, 5, 1, 1, 30)
    with open_clip(path, (64, 48), rate, "10:00:00:00", long_frames=True) as clip:
        for number, frames in enumerate(held):
            clip.write(flat((40 + 40 * number,) * 3), frames)
        assert clip.frame_count == sum(held)
    with av.open(str(path)) as container:
        (video,) = container.streams.video
        frames = [
            (round(frame.pts * frame.time_base * rate), int(frame.to_ndarray(format="rgb24")[24, 32, 0]))
            for frame in container.decode(video)
        ]
        assert video.duration * video.time_base * rate == sum(held), "the last one is held too"
    assert [start for start, _ in frames] == [0, 12, 17, 18, 19]
    assert [level for _, level in frames] == pytest.approx([40, 80, 120, 160, 200], abs=2)


def test_the_file_says_what_it_is(tmp_path):
    path = write(tmp_path / "a.mp4", [flat((0, 0, 0))], text={"title": "Early Beans: programme"})
    with av.open(str(path)) as container:
        assert container.metadata["title"] == "Early Beans: programme"


def test_playback_can_start_before_the_whole_file_is_there(tmp_path):
    """The index stands before the pictures, as a page's video element wants it."""
    data = write(tmp_path / "a.mp4", [flat((i * 8, 0, 0)) for i in range(30)]).read_bytes()
    assert 0 < data.index(b"moov") < data.index(b"mdat")


@pytest.mark.parametrize(
    "size, nearest", [((961, 540), "962x540"), ((960, 541), "960x542"), ((17, 19), "18x20")]
)
def test_an_odd_size_is_refused_with_the_nearest_even_one(tmp_path, size, nearest):
    with pytest.raises(RequestError, match=f"{size[0]}x{size[1]}.* even .*{nearest}"):
        write(tmp_path / "a.mp4", [], size=size)
    assert list(tmp_path.iterdir()) == []


def test_a_picture_too_wide_for_the_encoder_is_refused():
    check_clip_size((16384, 2160))
    with pytest.raises(RequestError, match="16384 a side"):
        check_clip_size((16386, 2160))


def test_an_odd_canvas_gains_a_repeated_column_and_row():
    picture = np.random.default_rng(1).integers(0, 256, (5, 7, 3), dtype=np.uint8)
    even = even_sides(picture)
    assert even.shape == (6, 8, 3)
    np.testing.assert_array_equal(even[:5, :7], picture)
    np.testing.assert_array_equal(even[:5, 7], picture[:, 6])
    np.testing.assert_array_equal(even[5], even[4])
    assert even_sides(even) is even


def test_a_picture_of_another_size_is_refused(tmp_path):
    with pytest.raises(ValueError, match=r"a\.mp4 is 64x48, this picture 48x64"):
        write(tmp_path / "a.mp4", [flat((0, 0, 0), (48, 64))])


@pytest.mark.parametrize("problem", [RuntimeError("drawing failed"), KeyboardInterrupt()])
def test_a_failure_leaves_the_earlier_clip_and_nothing_half_written(tmp_path, problem):
    path = write(tmp_path / "a.mp4", [flat((9, 9, 9))] * 4)
    earlier = path.read_bytes()
    with pytest.raises(type(problem)), open_clip(path, (64, 48), PAL, "10:00:00:00") as clip:
        for _ in range(60):
            clip.write(flat((200, 0, 0)))
        raise problem
    assert path.read_bytes() == earlier
    assert list(tmp_path.iterdir()) == [path]


def test_a_missing_folder_is_a_sentence(tmp_path):
    with pytest.raises(OutputError, match="gone"):
        write(tmp_path / "gone" / "a.mp4", [])


def run(program, *arguments):
    command = [sys.executable, "-c", textwrap.dedent(program), *map(str, arguments)]
    return subprocess.run(command, capture_output=True, text=True, check=True).stdout.strip()


def test_a_disk_that_fills_up_is_a_sentence_and_the_earlier_clip_stays(tmp_path):
    """A file size limit stands for the full disk: the kernel refuses the bytes in the same place."""
    path = write(tmp_path / "a.mp4", [flat((9, 9, 9))])
    earlier = path.read_bytes()
    said = run(
        """
        import resource, signal, sys
        import numpy as np
        from fractions import Fraction
        from pathlib import Path
        from preview.errors import OutputError
        from preview.review.clips import open_clip
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (100_000, 100_000))
        noise = np.random.default_rng(0)
        try:
            with open_clip(Path(sys.argv[1]), (320, 180), Fraction(25), "10:00:00:00") as clip:
                for _ in range(100):
                    clip.write(noise.integers(0, 256, (180, 320, 3), dtype=np.uint8))
        except OutputError as error:
            print(error)
        """,
        path,
    )
    assert said == f"{path}: no room left to write it; make room or choose another folder"
    assert path.read_bytes() == earlier
    assert list(tmp_path.iterdir()) == [path]


def test_memory_does_not_grow_with_length(tmp_path):
    """300 frames more than fill the encoder's queues; the next 600, 140 MB of pictures, add next to none."""
    grown_mb = run(
        """
        import resource, sys
        import numpy as np
        from fractions import Fraction
        from pathlib import Path
        from preview.review.clips import open_clip
        peak = lambda: resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        picture = np.random.default_rng(0).integers(0, 256, (270, 288, 3), dtype=np.uint8)
        with open_clip(Path(sys.argv[1]), (288, 270), Fraction(25), "10:00:00:00") as clip:
            for i in range(300):
                clip.write(np.roll(picture, i, axis=1))
            before = peak()
            for i in range(600):
                clip.write(np.roll(picture, i, axis=1))
            print(peak() - before)
        """,
        tmp_path / "a.mp4",
    )
    assert float(grown_mb) < 15
