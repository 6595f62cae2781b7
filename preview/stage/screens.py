"""Pictures on the virtual scene's named screens: stills, and clips that play in a loop.

Frames are 8-bit R, G, B, sRGB-coded. A clip's R'G'B' code values are shown as if they were
sRGB-coded, as computer displays do with BT.709 video (common practice, no source).
"""

from __future__ import annotations

import bisect
from collections import OrderedDict
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, Any

import av
import av.error
import numpy as np
import numpy.typing as npt
from av.video.frame import VideoFrame
from av.video.reformatter import ColorRange, Colorspace

from preview.errors import AssetError
from preview.stage.assetfile import cannot_open, first_line
from preview.stage.image import read_image

if TYPE_CHECKING:
    from preview.show.load import Show

Frame = npt.NDArray[np.uint8]

KEPT_FRAMES = 8
"""Decoded frames kept for each clip; a 1920 x 1080 frame takes 6 MB."""

LONGEST_ROLL_S = 2.0
"""A jump further ahead than this seeks to a key frame instead of decoding all that lies between."""

_HDR_TRANSFERS = {16: "PQ (HDR)", 18: "HLG (HDR)"}
"""Transfer characteristics, Recommendation ITU-T H.273, table 3."""

_MATRICES = {
    1: Colorspace.ITU709, 4: Colorspace.FCC, 5: Colorspace.ITU601, 6: Colorspace.ITU601,
    7: Colorspace.SMPTE240M, 9: Colorspace.BT2020, 10: Colorspace.BT2020,
}  # fmt: skip
"""Matrix coefficients by their code in Recommendation ITU-T H.273, table 4."""

_HD_HEIGHT = 720


class ScreenPictures:
    """What every named screen shows at a time. Use as a context manager, or call ``close``.

    Raises
    ------
    AssetError : a picture or clip cannot be used.
    """

    def __init__(self, show: Show):
        self._sources: dict[str, StillPicture | Clip] = {}
        self._shown: dict[str, int] = {}
        try:
            for screen in show.file.virtual.screens:
                if screen.clip is not None:
                    self._sources[screen.name] = Clip(show.asset(screen.clip))
                elif screen.picture is not None:
                    self._sources[screen.name] = StillPicture(show.asset(screen.picture))
        except BaseException:
            self.close()
            raise

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the screens that show something, in show order."""
        return tuple(self._sources)

    def frame(self, name: str, seconds: float) -> Frame:
        """(h, w, 3) uint8 picture of screen ``name``, read-only.

        Parameters
        ----------
        name : of a screen in the show file
        seconds : since the rundown's start; clips start there and loop

        Raises
        ------
        KeyError : no screen of that name.
        AssetError : the clip is damaged at this place.
        """
        source = self._sources[name]
        return source.frame(source.index(seconds))

    def changed(self, seconds: float) -> dict[str, Frame]:
        """Pictures that differ from those of the call before, by screen name; all on the first."""
        pictures = {}
        for name, source in self._sources.items():
            index = source.index(seconds)
            if self._shown.get(name) != index:
                pictures[name] = source.frame(index)
                self._shown[name] = index
        return pictures

    def close(self) -> None:
        """Close all clips."""
        for source in self._sources.values():
            source.close()

    def __enter__(self) -> ScreenPictures:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()


class StillPicture:
    """One picture for all times; see-through pixels are laid over black."""

    def __init__(self, path: Path):
        picture = read_image(path)
        alpha = picture[..., 3:].astype(np.uint16)
        self._frame: Frame = ((picture[..., :3] * alpha + 127) // 255).astype(np.uint8)
        self._frame.setflags(write=False)

    def index(self, seconds: float) -> int:
        """Always 0."""
        return 0

    def frame(self, index: int) -> Frame:
        """(h, w, 3) uint8, read-only."""
        return self._frame

    def close(self) -> None:
        """Nothing to close."""


class Clip:
    """A video file, decoded as it is needed.

    Times of all frames are read once when it is opened (without decoding), so the frame for a time
    is exact, with variable frame rates too. Going back seeks to the key frame before.

    Attributes
    ----------
    frame_count : number of frames
    duration_s : length, the last frame's own time included

    Raises
    ------
    AssetError : no such file, no video in it, damaged, or HDR.
    """

    def __init__(self, path: Path):
        self.path = path
        self._kept: OrderedDict[int, Frame] = OrderedDict()
        self._container: Any = None
        try:
            with path.open("rb"):
                pass
        except OSError as error:
            raise AssetError(path, cannot_open(error), "check the name and the folder") from error
        try:
            self._open()
            self._pts, last = self._times()
        except AssetError:
            self.close()
            raise
        except (av.error.FFmpegError, IndexError, ValueError) as error:
            self.close()
            raise self._broken(error) from error
        if not self._pts:
            self.close()
            raise AssetError(path, "has no video frames", "choose a clip with a picture, e.g. an H.264 .mp4")
        self._last_ticks = last
        self.frame_count = len(self._pts)
        self.duration_s = float((self._pts[-1] + last - self._pts[0]) * self._tick)
        self._frames: Iterator[VideoFrame] = iter(())
        self._ahead: VideoFrame | None = None
        self._current: VideoFrame | None = None

    def index(self, seconds: float) -> int:
        """Number of the frame shown ``seconds`` after the start, looping at the end."""
        # Half a tick of slack: containers round frame times to their ticks, up or down.
        into = (seconds % self.duration_s) / float(self._tick) + 0.5
        if into >= self._pts[-1] + self._last_ticks - self._pts[0]:
            into = 0.5
        return max(bisect.bisect_right(self._pts, self._pts[0] + into) - 1, 0)

    def frame(self, index: int) -> Frame:
        """(h, w, 3) uint8 R, G, B of frame ``index``, read-only.

        Raises
        ------
        AssetError : the file is damaged at this frame.
        """
        if index not in self._kept:
            try:
                picture = self._rgb(self._decode(self._pts[index]))
            except (av.error.FFmpegError, ValueError) as error:
                raise self._broken(error) from error
            picture.setflags(write=False)
            self._kept[index] = picture
            if len(self._kept) > KEPT_FRAMES:
                self._kept.popitem(last=False)
        self._kept.move_to_end(index)
        return self._kept[index]

    def close(self) -> None:
        """Close the file."""
        if self._container is not None:
            self._container.close()
            self._container = None

    def _open(self) -> None:
        self.close()
        self._container = av.open(str(self.path))
        if not self._container.streams.video:
            return
        self._stream = self._container.streams.video[0]
        self._stream.thread_type = "AUTO"
        context = self._stream.codec_context
        transfer = getattr(context, "color_trc", None)
        if transfer in _HDR_TRANSFERS:
            found = f"is coded as {_HDR_TRANSFERS[transfer]}"
            raise AssetError(self.path, found, "convert the clip to BT.709")
        self._tick: Fraction = self._stream.time_base

    def _times(self) -> tuple[list[int], int]:
        """Presentation times of all frames in ticks, in order, and the last one's length."""
        if not self._container.streams.video:
            return [], 0
        times, lengths = [], []
        for packet in self._container.demux(self._stream):
            if packet.size == 0 or getattr(packet, "is_discard", False):
                continue
            times.append(packet.pts)
            lengths.append(packet.duration or 0)
        if any(time is None for time in times):
            # Some old containers carry no presentation times; the decoder works them out.
            self._open()
            times = [frame.pts for frame in self._container.decode(self._stream) if frame.pts is not None]
            lengths = [0] * len(times)
        order = sorted(set(times))
        if not order:
            return [], 0
        last = lengths[times.index(order[-1])]
        if last <= 0:
            steps = np.diff(order)
            rate = self._stream.average_rate or Fraction(25)
            last = int(np.median(steps)) if len(steps) else max(int(1 / rate / self._tick), 1)
        return order, last

    def _decode(self, pts: int) -> VideoFrame:
        """The frame shown at ``pts``: the last one that starts there or before."""
        current = self._current
        roll = LONGEST_ROLL_S / float(self._tick)
        if current is None or current.pts is None or not current.pts <= pts <= current.pts + roll:
            self._seek(pts)
        for _ in range(2):
            found = self._roll_to(pts)
            if found is not None:
                return found
            # The container's index led past the frame: decode from the very start.
            self._open()
            self._start(self._container.decode(self._stream))
        raise ValueError(f"no frame at {float((pts - self._pts[0]) * self._tick):.3f} s")

    def _seek(self, pts: int) -> None:
        self._container.seek(pts, stream=self._stream, backward=True)
        self._start(self._container.decode(self._stream))

    def _start(self, frames: Iterator[VideoFrame]) -> None:
        self._frames, self._current = frames, None
        self._ahead = next(frames, None)

    def _roll_to(self, pts: int) -> VideoFrame | None:
        while self._ahead is not None and self._ahead.pts is not None and self._ahead.pts <= pts:
            self._current, self._ahead = self._ahead, next(self._frames, None)
        return self._current

    def _rgb(self, frame: VideoFrame) -> Frame:
        full = frame.format.name.startswith("yuvj") or int(frame.color_range) == int(ColorRange.JPEG)
        # Unmarked video: BT.709 for HD, BT.601 below. Common practice, no source.
        unmarked = Colorspace.ITU709 if frame.height >= _HD_HEIGHT else Colorspace.ITU601
        matrix = int(_MATRICES.get(int(frame.colorspace), unmarked))
        if frame.format.is_rgb:
            converted = frame.reformat(format="rgb24")
        else:
            converted = frame.reformat(
                format="rgb24",
                src_colorspace=matrix,
                dst_colorspace=matrix,
                src_color_range=ColorRange.JPEG if full else ColorRange.MPEG,
                dst_color_range=ColorRange.JPEG,
            )
        rgb = converted.to_ndarray()
        turns = round(getattr(frame, "rotation", 0) / 90) % 4
        return np.ascontiguousarray(np.rot90(rgb, turns), dtype=np.uint8)

    def _broken(self, error: BaseException) -> AssetError:
        fix = "convert the clip again, e.g. to an H.264 .mp4"
        return AssetError(self.path, f"cannot be decoded as a clip ({first_line(error)})", fix)
