"""Everything that can go wrong for a user, sorted by what the user does next.

PreviewError                 base of all of them; the command line catches this one
|- ShowError                 edit the show file (holds every Problem found, in one round)
|- AssetError                fix or replace a mesh, picture or clip file
|- RequestError              ask for something else: a size, a camera, a timecode
|- OutputError               make room, or choose another output place
`- GraphicsError             install a GL driver, or ask for a smaller picture

A sentence says where, what was found, what was expected and the fix. No traceback reaches a user.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path


class PreviewError(Exception):
    """Base class; ``str(error)`` is text a user can act on."""


@dataclass(frozen=True)
class Problem:
    """One thing wrong in a show file.

    Attributes
    ----------
    path : file the problem is in
    line, column : 1-based position of the nearest written key; 0 when unknown
    key : dotted key with list positions, e.g. ``cameras[0].framings[2].look_at``
    found : what is wrong, in one clause, with the value found
    fix : what to write instead
    """

    path: str
    line: int
    column: int
    key: str
    found: str
    fix: str

    def __str__(self) -> str:
        where = f"{self.path}:{self.line}:{self.column}" if self.line else self.path
        key = f" {self.key}:" if self.key else ""
        return f"{where}:{key} {self.found}; {self.fix}"


class ShowError(PreviewError):
    """The show file has problems; all that could be found are listed."""

    def __init__(self, problems: list[Problem]):
        self.problems = list(problems)
        super().__init__("\n".join(str(problem) for problem in self.problems))


class AssetError(PreviewError):
    """A mesh, picture or clip cannot be used: ``path`` names the file."""

    def __init__(self, path: str | Path, found: str, fix: str):
        self.path, self.found, self.fix = str(path), found, fix
        super().__init__(f"{path}: {found}; {fix}")


class RequestError(PreviewError):
    """What was asked for cannot be had from this show: an option's value, not the show file, is wrong."""


class OutputError(PreviewError):
    """A file cannot be written: ``path`` names it."""

    def __init__(self, path: str | Path, found: str, fix: str):
        self.path, self.found, self.fix = str(path), found, fix
        super().__init__(f"{path}: {found}; {fix}")


class GraphicsError(PreviewError):
    """No usable OpenGL, or it refused what was asked."""


class FrameFailed(Exception):
    """A frame could not be drawn for a reason that is the program's own fault; ``__cause__`` tells it.

    Not a PreviewError: no user can act on it, except by drawing the frame again for a report.
    """

    def __init__(self, frame: int, timecode: str):
        self.frame, self.timecode = frame, timecode
        super().__init__(f"frame {frame} ({timecode})")


@contextmanager
def of_frame(frame: int, timecode: str, doing: str = "drawing") -> Iterator[None]:
    """Errors inside say which frame they belong to; one that is not the user's becomes a FrameFailed."""
    try:
        yield
    except PreviewError as error:
        error.add_note(f"while {doing} {timecode}")
        raise
    except Exception as error:
        raise FrameFailed(frame, timecode) from error
