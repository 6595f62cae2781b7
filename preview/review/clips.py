"""Clips: H.264 in MP4 with every colour tag written, at the show's exact rate, with its timecode.

Pictures arrive as full-range R'G'B' code values and leave as 8-bit 4:2:0 Y'CbCr in video range. A file
without tags is decoded with the wrong matrix by some players (27 code values off at worst), so matrix,
primaries, transfer and range are all written, and tests read them back.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
from av.container import OutputContainer
from av.video.reformatter import ColorRange, Colorspace
from av.video.stream import VideoStream

from preview.errors import RequestError
from preview.review.atomic import replacing, writing

BT709 = 1
"""Code point of BT.709 for primaries, transfer and matrix alike. Source: Rec. ITU-T H.273, tables 2 to 4."""

CRF = 18
"""x264 quality: visually clean for review, and not so large that a page of clips will not load."""

FRUGAL = "rc-lookahead=2:bframes=0:ref=1"
"""Few pictures held back: a dozen clips are written at once. A 1080-line clip takes 76 MB instead of 160,
for files 9 % larger (measured on the demo show)."""

BITS_PER_PIXEL = 0.4
"""Size guess for a moving stage picture at this CRF; measured on the demo show (see DEVELOPERS.md)."""

LARGEST_SIDE_PX = 16384
"""x264 writes nothing wider or taller."""


class Clip:
    """One MP4 being written; ``open_clip`` makes it."""

    def __init__(
        self, path: Path, container: OutputContainer, stream: VideoStream, long_frames: bool = False
    ) -> None:
        self.path, self.frame_count = path, 0
        self._container, self._stream = container, stream
        self._long_frames, self._lasts = long_frames, dict[int, int]()

    def write(self, code: np.ndarray, frames: int = 1) -> None:
        """Append one picture that lasts ``frames`` frames.

        Parameters
        ----------
        code : (h, w, 3) uint8, BT.709-coded R'G'B', full range, of the clip's size

        Raises
        ------
        OutputError : the disk is full or refuses.
        """
        height, width = code.shape[:2]
        if (width, height) != (self._stream.width, self._stream.height):
            clip_size = f"{self._stream.width}x{self._stream.height}"
            raise ValueError(f"{self.path.name} is {clip_size}, this picture {width}x{height}")
        frame = av.VideoFrame.from_ndarray(np.ascontiguousarray(code), format="rgb24").reformat(
            format="yuv420p", dst_colorspace=Colorspace.ITU709, dst_color_range=ColorRange.MPEG
        )
        frame.color_primaries = frame.color_trc = BT709
        frame.time_base = 1 / self._rate
        with writing(self.path):
            for last in [frames] if self._long_frames else [1] * frames:
                frame.pts = self.frame_count
                self._lasts[self.frame_count] = last
                self.frame_count += last
                self._mux(frame)

    def finish(self) -> None:
        """Write what the encoder still holds, and the index. Raises OutputError."""
        with writing(self.path):
            self._mux(None)
            self._container.close()

    @property
    def _rate(self) -> Fraction:
        return Fraction(self._stream.codec_context.framerate)

    def _mux(self, frame: av.VideoFrame | None) -> None:
        for packet in self._stream.encode(frame):
            assert packet.pts is not None and packet.time_base is not None
            first = round(packet.pts * packet.time_base * self._rate)
            packet.duration = round(self._lasts.pop(first) / (self._rate * packet.time_base))
            self._container.mux(packet)


@contextmanager
def open_clip(
    path: Path,
    size_px: tuple[int, int],
    rate: Fraction,
    start_timecode: str,
    text: Mapping[str, str] | None = None,
    long_frames: bool = False,
    crf: int = CRF,
) -> Iterator[Clip]:
    """A clip to write pictures into; it appears under its own name when the block ends well.

    When the block raises, nothing of it is left and an earlier clip of the same name stays. Pictures
    are encoded as they come: memory does not grow with length.

    Parameters
    ----------
    path : the MP4 to write
    size_px : width and height of every picture; both even (see ``check_clip_size``)
    rate : frames per second, exact
    start_timecode : label of the first picture, ``;`` before the frames when drop-frame
    text : container metadata, such as ``title`` and ``comment``
    long_frames : a held picture is one long frame of the file instead of many alike: for pages that seek by
        time, quicker to write by far; an editor may want every frame there
    crf : x264 quality; 6 more halve the file about

    Raises
    ------
    RequestError : the size cannot be a clip's.
    OutputError : it cannot be written.
    """
    check_clip_size(size_px)
    with replacing(path) as temp:
        with writing(path):
            container = av.open(str(temp), "w", format="mp4", options={"movflags": "+faststart+write_colr"})
        try:
            container.metadata.update(text or {})
            stream = container.add_stream("libx264", rate=rate)
            stream.width, stream.height = size_px
            stream.pix_fmt = "yuv420p"
            stream.time_base = 1 / rate
            # A key frame a second keeps a review page's scrubbing quick.
            stream.options = {
                "preset": "veryfast",
                "profile": "high",
                "crf": str(crf),
                "g": str(round(rate)),
                "threads": "1",
                "x264-params": FRUGAL,
            }
            stream.metadata["timecode"] = start_timecode
            codec = stream.codec_context
            codec.color_primaries = codec.color_trc = codec.colorspace = BT709
            codec.color_range = ColorRange.MPEG
            clip = Clip(path, container, stream, long_frames)
            yield clip
            clip.finish()
        finally:
            # A second close does nothing; after an error it may fail again, which says nothing new.
            with suppress(OSError):
                container.close()


def check_clip_size(size_px: tuple[int, int]) -> None:
    """Refuse a picture size that 4:2:0 video cannot have.

    Raises
    ------
    RequestError : a side is odd (names the nearest even size) or too long for the encoder.
    """
    width, height = size_px
    if width % 2 or height % 2:
        raise RequestError(
            f"a clip cannot be {width}x{height}: 4:2:0 video needs an even width and height; "
            f"ask for {width + width % 2}x{height + height % 2}"
        )
    if max(size_px) > LARGEST_SIDE_PX:
        raise RequestError(
            f"a clip cannot be {width}x{height}: the encoder stops at {LARGEST_SIDE_PX} a side; ask for less"
        )


def even_sides(code: np.ndarray) -> np.ndarray:
    """The picture with its last column and row repeated where a side is odd.

    A wall's canvas has the size its tiles give it; nobody can ask for another.
    """
    height, width = code.shape[:2]
    if not (height % 2 or width % 2):
        return code
    return np.pad(code, ((0, height % 2), (0, width % 2), (0, 0)), mode="edge")
