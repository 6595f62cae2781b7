"""Which frames a comparison is asked for: one, or a run."""

from __future__ import annotations

from preview.errors import RequestError
from preview.job import chosen_every, chosen_frame, chosen_range
from preview.timeline.timeline import Timeline


def asked_frames(
    at: str | None, start: str | None, end: str | None, every: str | None, timeline: Timeline
) -> range:
    """The frames between two timecodes, both included, each N-th of them; or the one frame of ``--at``.

    Raises
    ------
    RequestError : neither or both are asked, a label that the rundown has not, or a count that is none.
    """
    if at is not None:
        if start is not None or end is not None or every is not None:
            raise RequestError(
                "--at is one frame, --from, --to and --every are a run; leave one of the two out"
            )
        frame = chosen_frame("--at", at, 0, timeline)
        return range(frame, frame + 1)
    if start is None and end is None:
        raise RequestError("which frame? Name one with --at, or a run with --from, --to or both")
    first, last = chosen_range(start, end, timeline)
    return range(first, last + 1, chosen_every(every or "1", clip=True))
