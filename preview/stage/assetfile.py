"""Files that a mesh, material or show names: finding them, and saying why one cannot be opened."""

from __future__ import annotations

from pathlib import Path
from urllib.parse import unquote


def cannot_open(error: OSError) -> str:
    """Why a file cannot be opened, as a clause."""
    if isinstance(error, FileNotFoundError):
        return "does not exist"
    if isinstance(error, IsADirectoryError):
        return "is a folder, not a file"
    if isinstance(error, PermissionError):
        return "may not be read (permission denied)"
    return f"cannot be opened ({error.strerror or error})"


def first_line(error: BaseException) -> str:
    """The first line of an exception's text, for use inside a sentence."""
    lines = str(error).strip().splitlines()
    return lines[0].rstrip(".") if lines else type(error).__name__


def find_beside(path: Path, reference: str) -> Path:
    """The file a reference in ``path`` means: relative to its folder, percent-encoded or not, and
    with backslashes from other systems. Returns the percent-decoded name if none exists."""
    plain = unquote(reference)
    candidates = [plain, reference, plain.replace("\\", "/")]
    for candidate in candidates:
        if (path.parent / candidate).is_file():
            return path.parent / candidate
    return path.parent / plain
