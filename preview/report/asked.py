"""Which checks a user asks for."""

from __future__ import annotations

from collections.abc import Sequence
from difflib import get_close_matches

from preview.checks.registry import Check
from preview.errors import RequestError


def chosen_checks(asked: str | None, known: Sequence[type[Check]]) -> tuple[type[Check], ...]:
    """Checks from a list such as ``bleed,off-wall``, in their own order; all when nothing is asked.

    Raises
    ------
    RequestError : nothing is named, or a check that does not exist; names those that do.
    """
    if asked is None:
        return tuple(known)
    names = [check.name for check in known]
    wanted = [name.strip() for name in asked.split(",") if name.strip()]
    if not wanted:
        raise RequestError(f"--only: nothing is named; write one or more of {', '.join(names)}")
    for name in wanted:
        if name not in names:
            near = get_close_matches(name, names, n=1, cutoff=0.5)
            hint = f"did you mean {near[0]!r}? There are" if near else "there are"
            raise RequestError(f"--only: {name!r} is no check; {hint} {', '.join(names)}")
    return tuple(check for check in known if check.name in wanted)
