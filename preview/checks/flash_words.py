"""What is said of flashes: whose they are, what does it, what helps."""

from __future__ import annotations

from typing import Literal

from preview.checks.airtime import in_place, percent
from preview.checks.flash import Bools
from preview.checks.flash_count import Stretch
from preview.checks.flash_watch import FlashKind
from preview.checks.result import count
from preview.checks.where import where

Cause = Literal["wall switch", "cuts", "camera move", "moving pictures"]
"""What changes a picture, in the order in which it is put right. wall switch: a switched wall changes beside
the cut of programme. cuts: programme, or the wall with it, goes to another camera, also in a mix. camera
move: a camera that is seen, or whose frustum is, moves. moving pictures: anything else in the scene."""

PROGRAMME = ""
"""Name of programme among what is watched; LED surfaces have names of their own."""

STEP = {"light": "step_cd_m2", "red": "step_uv"}
"""Names of the measure of a change, by what changes."""

BECAUSE: dict[Cause, str] = {
    "wall switch": "the wall's switches beside the cuts do it",
    "cuts": "the cuts do it",
    "camera move": "a camera's move does it",
    "moving pictures": "moving pictures in the virtual scene do it",
}
"""End of a sentence about a stretch of flashing."""

_SLOWER = "{times} there and back in any one second at most"
_REMEDIES: dict[Cause, str] = {
    "wall switch": "bring the wall's switch onto the cut first (see the cuts): one that is late or early "
    f"adds two changes to a cut; then cut less often here, {_SLOWER}",
    "cuts": f"cut less often here, {_SLOWER}, or hold a shot",
    "camera move": "slow the move down or take a wider framing: bright and dark parts then pass more slowly",
    "moving pictures": f"calm those pictures, {_SLOWER}, or show them smaller or darker",
}
_NOT_TRIED = "; none of this has been tried here"

SHORTER = "interrupt it or make it shorter, and give notice of it in advance" + _NOT_TRIED
"""What helps where flashing within the limits goes on for long."""


def remedy(cause: Cause, most_flashes: int) -> str:
    """What helps against too many flashes; it says that it has not been tried.

    Parameters
    ----------
    most_flashes : allowed in any second
    """
    return _REMEDIES[cause].format(times=count(most_flashes, "time")) + _NOT_TRIED


def title(name: str) -> str:
    """What is watched, for columns and curves."""
    return f"surface {name}" if name != PROGRAMME else "programme"


def subject(name: str) -> str:
    """What is watched, as a sentence begins."""
    return f"LED surface {name}" if name != PROGRAMME else "Programme"


def times(flashes: float) -> str:
    """How often, in words; half a flash is one change that has not been undone.

    >>> times(1.0), times(3.5)
    ('once', '3.5 times')
    """
    return "once" if flashes == 1.0 else f"{flashes:g} times"


def place(name: str, mask: Bools) -> str:
    """Where in the picture, or on the LED surface as seen from the front."""
    words = in_place(where(mask))
    return words if name == PROGRAMME else words.replace("picture", "surface")


def change(name: str, kind: FlashKind, stretch: Stretch) -> str:
    """How much changes at once in a stretch, and by how much light at least."""
    what = "picture" if name == PROGRAMME else "surface"
    much = f"up to {percent(stretch.share)} of the {what} changes at once"
    if kind == "red":
        return f"{much}, to or from saturated red"
    return f"{much}, by {stretch.swing:.0f} cd/m2 or more"
