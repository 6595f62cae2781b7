"""Writing so that nothing finished is ever lost: a temp name first, then one rename.

A reader of the output folder sees a file either whole or not at all, and an earlier file of the same
name stays until the new one is complete. Every file problem leaves here as one OutputError sentence.
"""

from __future__ import annotations

import errno
import fcntl
import os
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from preview.errors import OutputError

TEMP_PREFIX = ".unfinished-"
"""Head of every temp name. The rest is the final name, so an encoder still sees the ending."""


@contextmanager
def replacing(path: Path) -> Iterator[Path]:
    """A temp path beside ``path``; when the block ends well, the temp file becomes ``path``.

    When the block raises, the temp file is removed and whatever was at ``path`` stays. Errors of the
    block itself pass through as they are: in a long block they may have nothing to do with ``path``.

    Raises
    ------
    OutputError : the finished temp file cannot take its place.
    """
    temp = path.with_name(TEMP_PREFIX + path.name)
    try:
        yield temp
        with writing(path):
            with open(temp, "rb+") as file:
                os.fsync(file.fileno())
            os.replace(temp, path)
    finally:
        temp.unlink(missing_ok=True)


@contextmanager
def writing(path: Path) -> Iterator[None]:
    """Around the statements that write ``path``: an OSError in them leaves as an OutputError."""
    try:
        yield
    except OSError as error:
        raise output_error(path, error) from error


def write_bytes(path: Path, data: bytes) -> None:
    """``data`` becomes the file at ``path``, whole or not at all. Raises OutputError."""
    with replacing(path) as temp, writing(path):
        temp.write_bytes(data)


@contextmanager
def output_folder(folder: Path, needed_bytes: int = 0) -> Iterator[Path]:
    """``folder``, made if missing, proved writable, and ours alone until the block ends.

    What an earlier run that was killed left unfinished is removed first; no other run can own it,
    because this one holds the folder's lock.

    Parameters
    ----------
    folder : where files will go
    needed_bytes : estimate of what will be written; compared with the space free there

    Raises
    ------
    OutputError : not a folder, cannot be made or written, too little room, another run writes there.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.NamedTemporaryFile(prefix=TEMP_PREFIX, dir=folder) as probe:
            probe.write(b"\0")
            probe.flush()
        free = shutil.disk_usage(folder).free
    except (FileExistsError, NotADirectoryError) as error:
        blocking = next((part for part in (folder, *folder.parents) if part.is_file()), folder)
        raise OutputError(
            blocking, "a file stands where the output folder should be", "choose another folder"
        ) from error
    except OSError as error:
        raise output_error(folder, error) from error
    if needed_bytes > free:
        raise OutputError(
            folder,
            f"about {_size(needed_bytes)} will be written, only {_size(free)} are free",
            "make room or choose another folder",
        )
    handle = os.open(folder, os.O_RDONLY)
    try:
        _lock(handle, folder)
        for left_over in folder.glob(TEMP_PREFIX + "*"):
            left_over.unlink(missing_ok=True)
        yield folder
    finally:
        os.close(handle)  # gives the lock back


def check_output_folder(folder: Path) -> None:
    """Make the folder and prove that a run could write there now. Raises OutputError.

    For the moment before slow work starts; the run itself asks again.
    """
    with output_folder(folder):
        pass


def output_error(path: str | Path, error: OSError) -> OutputError:
    """The sentence for an OSError met while writing ``path``."""
    code = error.errno
    if code in (errno.ENOSPC, errno.EDQUOT, errno.EFBIG):
        return OutputError(path, "no room left to write it", "make room or choose another folder")
    if code in (errno.EACCES, errno.EPERM, errno.EROFS):
        return OutputError(path, "may not be written here", "change the permissions or choose another folder")
    if code == errno.EISDIR:
        return OutputError(path, "a folder has this file's name", "move the folder or choose another folder")
    if code == errno.ENAMETOOLONG:
        return OutputError(path, "the name is too long for this disk", "shorten the folder's path")
    reason = os.strerror(code) if code else str(error)
    return OutputError(path, f"cannot be written: {reason}", "check it or choose another folder")


def _size(count: int) -> str:
    """Bytes in a unit that leaves no "0 MB".

    >>> _size(40_000), _size(1_900_000), _size(40_000_000)
    ('40 kB', '1.9 MB', '40 MB')
    """
    if count < 1e6:
        return f"{count / 1e3:.0f} kB"
    return f"{count / 1e6:.1f} MB" if count < 1e7 else f"{count / 1e6:.0f} MB"


def _lock(handle: int, folder: Path) -> None:
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError as error:
        raise OutputError(
            folder, "another run is writing to this folder", "wait for it or choose another folder"
        ) from error
    except OSError:
        # Some network file systems cannot lock; two runs at once are then the user's own care.
        return
