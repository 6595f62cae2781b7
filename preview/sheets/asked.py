"""What a user asks of shot sheets."""

from __future__ import annotations

from preview.errors import RequestError
from preview.sheets.paper import PAPERS


def chosen_paper(asked: str) -> str:
    """A paper's name; RequestError when there is none of that name.

    >>> chosen_paper("A4")
    'a4'
    """
    name = asked.strip().casefold()
    if name not in PAPERS:
        raise RequestError(f"--paper: {asked!r} is no paper; there are {', '.join(PAPERS)}")
    return name
