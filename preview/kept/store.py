"""A folder of small files, each named by the digest of what made it, that no accident can make lie.

A file holds a checksum of its name and of its content, so one that was cut off, changed or renamed is found
out, removed and made again. Files are written under a temporary name and renamed, so several runs may share
the folder, and one that is killed leaves nothing half-written under a digest's name.

Nothing here is needed: whatever goes wrong with the folder becomes a note, and work goes on without it.
"""

from __future__ import annotations

import os
import shutil
import struct
import tempfile
import time
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass
from hashlib import blake2b
from pathlib import Path

from preview.kept.digest import DIGEST_BYTES

MAGIC = b"stage-return-preview kept 1\n"
SUFFIX = ".kept"
TEMP_PREFIX = ".unfinished-"
STALE_TEMP_S = 3600.0
"""A temporary file this old belongs to no run any more: writing one takes less than a second."""
SPARE_BYTES = 1_000_000_000
"""Room left on the disk for what was asked for; below it nothing more is kept."""
LOOK_AGAIN_BYTES = 256_000_000
"""After keeping this much the folder is measured again: other runs add to it too."""

_CHECKSUM_BYTES = 16
_HEAD = struct.Struct(f"<{len(MAGIC)}s{_CHECKSUM_BYTES}sQ")


@dataclass(frozen=True)
class Extent:
    """How much a store holds."""

    file_count: int
    byte_count: int


class Store:
    """Contents by digest, in a folder of limited size that forgets what was not used for longest.

    Within its limit a run never drops what it has itself used: when that alone fills the folder, it keeps no
    more. So a run that is larger than the limit finds its first part again, and not nothing.

    Parameters
    ----------
    folder : made when first needed
    limit_bytes : of all files together

    Attributes
    ----------
    notes : sentences for the user about what went wrong, each said once
    """

    def __init__(self, folder: Path, limit_bytes: int) -> None:
        self.folder, self.limit_bytes = folder, limit_bytes
        self.notes: list[str] = []
        self._started = time.time()
        self._room_bytes: int | None = None
        self._keeps = True

    def get(self, key: bytes) -> bytes | None:
        """What was kept under a key; None when there is nothing, or nothing whole."""
        path = self._path(key)
        try:
            data = path.read_bytes()
        except (FileNotFoundError, NotADirectoryError):
            return None
        except OSError as error:
            self._note(f"{self.folder}: a kept picture cannot be read, so it is drawn: {_reason(error)}")
            return None
        content = _opened(key, data)
        if content is None:
            self.drop(key)
            return None
        with suppress(OSError):  # a folder that may only be read is used all the same
            os.utime(path)
        return content

    def put(self, key: bytes, content: bytes) -> None:
        """Keep a content, if it can be kept."""
        data = _HEAD.pack(MAGIC, _checksum(key, content), len(content)) + content
        if not self._keeps or not self._has_room(len(data)):
            return
        path = self._path(key)
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            handle, temp = tempfile.mkstemp(prefix=TEMP_PREFIX, dir=path.parent)
            try:
                with os.fdopen(handle, "wb") as file:
                    file.write(data)
                os.replace(temp, path)
            except BaseException:
                Path(temp).unlink(missing_ok=True)
                raise
        except OSError as error:
            self._stop(_reason(error))
        else:
            assert self._room_bytes is not None
            self._room_bytes -= len(data)

    def drop(self, key: bytes) -> None:
        """Remove a damaged content and say so."""
        with suppress(OSError):  # where it may not be removed it is found out again
            self._path(key).unlink(missing_ok=True)
        self._note(f"{self.folder}: a kept picture was damaged; what is damaged is drawn again")

    def extent(self) -> Extent:
        """How much there is. Raises OSError when the folder cannot be read."""
        sizes = [status.st_size for _, status in self._files()]
        return Extent(len(sizes), sum(sizes))

    def clear(self) -> Extent:
        """Remove everything kept, and nothing else; what was removed. Raises OSError.

        Folders stay: another run may be writing there."""
        count = size = 0
        for path, status in list(self._files()):
            path.unlink(missing_ok=True)
            count, size = count + 1, size + status.st_size
        return Extent(count, size)

    def _path(self, key: bytes) -> Path:
        name = key.hex()
        return self.folder / name[:2] / (name[2:] + SUFFIX)

    def _inner_folders(self) -> list[Path]:
        if not self.folder.exists():
            return []
        return [inner for inner in self.folder.iterdir() if _is_start(inner.name) and inner.is_dir()]

    def _files(self) -> Iterator[tuple[Path, os.stat_result]]:
        """Every kept file, and nobody else's; left-over temporary files are removed on the way."""
        for inner in self._inner_folders():
            with os.scandir(inner) as entries:
                for entry in entries:
                    try:
                        status = entry.stat(follow_symlinks=False)
                    except FileNotFoundError:
                        continue  # another run dropped it
                    path = Path(entry.path)
                    if path.suffix == SUFFIX and len(path.stem) == 2 * DIGEST_BYTES - 2:
                        yield path, status
                    elif path.name.startswith(TEMP_PREFIX) and self._is_stale(status):
                        with suppress(OSError):
                            path.unlink(missing_ok=True)

    def _is_stale(self, status: os.stat_result) -> bool:
        return self._started - status.st_mtime > STALE_TEMP_S

    def _has_room(self, size: int) -> bool:
        """Whether ``size`` more bytes may be kept, after dropping what was not used for longest."""
        if self._room_bytes is not None and self._room_bytes >= size:
            return True
        try:
            self._room_bytes = self._make_room(size)
        except OSError as error:
            self._stop(_reason(error))
            return False
        return self._room_bytes >= size

    def _make_room(self, size: int) -> int:
        """Measure the folder and drop the oldest; bytes that may be added until it is measured again."""
        self.folder.mkdir(parents=True, exist_ok=True)
        files = sorted(self._files(), key=lambda one: (one[1].st_mtime, one[0].name))
        total = sum(status.st_size for _, status in files)
        aim = self.limit_bytes - max(size, min(self.limit_bytes // 20, LOOK_AGAIN_BYTES))
        if total + size > self.limit_bytes:
            for path, status in files:
                if total <= aim or status.st_mtime >= self._started:
                    break
                path.unlink(missing_ok=True)
                total -= status.st_size
        spare = shutil.disk_usage(self.folder).free - SPARE_BYTES
        if spare < size:
            self._stop(f"less than {SPARE_BYTES / 1e9:g} GB would stay free on that disk")
            return 0
        if total + size > self.limit_bytes:
            self._stop(f"this run's own pictures fill its limit of {self.limit_bytes / 1e9:g} GB")
            return 0
        return min(self.limit_bytes - total, spare, max(size, LOOK_AGAIN_BYTES))

    def _stop(self, reason: str) -> None:
        self._keeps = False
        self._note(f"{self.folder}: no more pictures are kept in this run: {reason}")

    def _note(self, sentence: str) -> None:
        if sentence not in self.notes:
            self.notes.append(sentence)


def _opened(key: bytes, data: bytes) -> bytes | None:
    """A file's content; None when the file is not what was kept under that key."""
    if len(data) < _HEAD.size:
        return None
    magic, checksum, length = _HEAD.unpack_from(data)
    content = data[_HEAD.size :]
    if magic != MAGIC or length != len(content) or checksum != _checksum(key, content):
        return None
    return content


def _checksum(key: bytes, content: bytes) -> bytes:
    return blake2b(content, digest_size=_CHECKSUM_BYTES, key=key).digest()


def _is_start(name: str) -> bool:
    return len(name) == 2 and set(name) <= set("0123456789abcdef")


def _reason(error: OSError) -> str:
    return os.strerror(error.errno).lower() if error.errno else str(error)
