"""Finished pictures kept on disk: code values bit for bit, and the share that looks past the wall.

Pictures are packed as QOI, lossless, 8 bits a channel. Source: D. Szablewski, "The Quite OK Image Format",
specification version 1.0, 2022. Processor time for one 1920x1080 picture of the demo: 50 ms to pack and
write, 43 to read and unpack, 2 s to draw; PNG at its quickest takes 244 and 84, and 0.7 times the bytes.
"""

from __future__ import annotations

import os
import struct
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import numpy.typing as npt
from av.error import FFmpegError
from av.video.codeccontext import VideoCodecContext
from platformdirs import user_cache_path

from preview.errors import RequestError
from preview.kept.store import Store

APPLICATION = "stage-return-preview"
FOLDER_VARIABLE = "PREVIEW_KEPT"
LIMIT_VARIABLE = "PREVIEW_KEPT_GB"
DEFAULT_LIMIT_GB = 8.0
"""About 18,000 different pictures in 640x360, or 2,600 in 1920x1080."""

_HEAD = struct.Struct("<d")


@dataclass(frozen=True, eq=False)
class KeptPicture:
    """One picture as it was drawn.

    Attributes
    ----------
    pixels : (h, w, 3) uint8 code values, read-only
    off_wall : share of the picture that sees neither LED surface nor set
    """

    pixels: npt.NDArray[np.uint8]
    off_wall: float


class PictureStore:
    """Pictures by key, in a folder of their own.

    Parameters
    ----------
    store : where they lie
    """

    def __init__(self, store: Store) -> None:
        self._store = store

    @property
    def folder(self) -> Path:
        """Where they lie."""
        return self._store.folder

    @property
    def notes(self) -> tuple[str, ...]:
        """Sentences for the user about what went wrong with the folder."""
        return tuple(self._store.notes)

    def get(self, key: bytes) -> KeptPicture | None:
        """The picture kept under a key, or None."""
        content = self._store.get(key)
        if content is None:
            return None
        try:
            return KeptPicture(unpacked(content[_HEAD.size :]), *_HEAD.unpack_from(content))
        except (FFmpegError, ValueError, struct.error):
            self._store.drop(key)
            return None

    def put(self, key: bytes, picture: KeptPicture) -> None:
        """Keep a picture, if there is room."""
        self._store.put(key, _HEAD.pack(picture.off_wall) + packed(picture.pixels))


def packed(pixels: npt.NDArray[np.uint8]) -> bytes:
    """A picture, (h, w, 3) uint8, as a QOI file's bytes."""
    encoder = av.CodecContext.create("qoi", "w")
    assert isinstance(encoder, VideoCodecContext)
    encoder.height, encoder.width = pixels.shape[:2]
    encoder.pix_fmt, encoder.time_base, encoder.thread_count = "rgb24", Fraction(1, 25), 1
    frame = av.VideoFrame.from_ndarray(pixels, format="rgb24")
    frame.pts = 0
    return b"".join(bytes(packet) for packet in (*encoder.encode(frame), *encoder.encode(None)))


def unpacked(data: bytes) -> npt.NDArray[np.uint8]:
    """The picture in a QOI file's bytes; FFmpegError or ValueError when there is none."""
    decoder = av.CodecContext.create("qoi", "r")
    assert isinstance(decoder, VideoCodecContext)
    decoder.thread_count = 1
    frames = (*decoder.decode(av.Packet(data)), *decoder.decode(None))
    if len(frames) != 1:
        raise ValueError(f"{len(frames)} pictures in one QOI file")
    pixels: npt.NDArray[np.uint8] = np.asarray(frames[0].to_ndarray(format="rgb24"), dtype=np.uint8)
    pixels.flags.writeable = False
    return pixels


def chosen_store(folder: Path | None, none: bool) -> PictureStore | None:
    """Where pictures are kept, from ``--kept`` and ``--no-kept``; None for nowhere.

    Raises
    ------
    RequestError : both are given, the folder is a file, or $PREVIEW_KEPT_GB is no number of gigabytes.
    """
    if none and folder is not None:
        raise RequestError("--kept and --no-kept exclude each other; leave one of them out")
    return None if none else PictureStore(kept_store(folder))


def kept_store(folder: Path | None = None) -> Store:
    """The folder of kept pictures: ``folder``, or $PREVIEW_KEPT, or where the system keeps caches.

    Raises
    ------
    RequestError : it is a file, or $PREVIEW_KEPT_GB is no number of gigabytes.
    """
    named = os.environ.get(FOLDER_VARIABLE)
    place = folder or (Path(named) if named else user_cache_path(APPLICATION) / "pictures")
    if place.is_file():
        raise RequestError(f"{place}: a file stands where kept pictures should go; choose another folder")
    return Store(place, _limit_bytes())


def _limit_bytes() -> int:
    asked = os.environ.get(LIMIT_VARIABLE, "").strip() or str(DEFAULT_LIMIT_GB)
    try:
        limit = float(asked)
        if not 0 < limit < 1e6:
            raise ValueError(asked)
    except ValueError as error:
        raise RequestError(
            f"{LIMIT_VARIABLE}: {asked!r} is no size in gigabytes; write such as {DEFAULT_LIMIT_GB:g}"
        ) from error
    return int(limit * 1e9)
