"""Where in a picture, in words: "the lower left", "the right edge", "most of the picture"."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

MOST = 0.5
"""Above this share of the picture a place is no place any more."""
EDGE = 0.08
"""A mark wholly within this share of a side lies at that edge."""


def where(mask: npt.NDArray[np.bool_]) -> str:
    """Words for the place of a mask in the picture; "" when it is empty.

    Parameters
    ----------
    mask : (h, w) over the whole picture, row 0 at the top

    >>> import numpy as np
    >>> field = np.zeros((90, 160), dtype=bool)
    >>> field[70:85, 5:30] = True
    >>> where(field), where(np.ones((9, 16), dtype=bool)), where(field & False)
    ('the lower left', 'the whole picture', '')
    """
    share = float(mask.mean())
    if share == 0.0:
        return ""
    if share == 1.0:
        return "the whole picture"
    if share > MOST:
        return "most of the picture"
    height, width = mask.shape
    rows, columns = np.nonzero(mask)
    top, bottom = rows.min() / height, (rows.max() + 1) / height
    left, right = columns.min() / width, (columns.max() + 1) / width
    edges = {
        "left": right <= EDGE,
        "right": left >= 1 - EDGE,
        "top": bottom <= EDGE,
        "bottom": top >= 1 - EDGE,
    }
    side = next((name for name, at in edges.items() if at), "")
    across = _third(float(columns.mean() + 0.5) / width, ("left", "middle", "right"))
    down = _third(float(rows.mean() + 0.5) / height, ("upper", "middle", "lower"))
    if side:
        more = across if side in ("top", "bottom") else down
        spread = right - left if side in ("top", "bottom") else bottom - top
        return f"the {side} edge" if spread > MOST or more == "middle" else f"the {side} edge, {more}"
    if right - left > 0.9 and bottom - top < MOST:
        return {"upper": "the upper part", "middle": "the middle, all across", "lower": "the lower part"}[
            down
        ]
    if bottom - top > 0.9 and right - left < MOST:
        return {"left": "the left side", "middle": "the middle, top to bottom", "right": "the right side"}[
            across
        ]
    if across == down == "middle":
        return "the middle"
    if down == "middle":
        return f"the {across}"
    return f"the {down} {across}"


def _third(share: float, names: tuple[str, str, str]) -> str:
    return names[0] if share < 1 / 3 - 1e-9 else names[2] if share > 2 / 3 + 1e-9 else names[1]
