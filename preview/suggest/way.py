"""The way over the floor between two places, in a camera crew's words."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np


def way(from_m: Sequence[float], subject_m: Sequence[float], to_m: Sequence[float]) -> str:
    """The way between two stage points, left and right as seen looking at a subject.

    >>> way((0, 0, 1), (0, 5, 1), (-0.5, 0.25))
    '0.50 m to its left, 0.25 m forward'
    >>> way((0, 0, 1), (0, 5, 1), (0.0, 0.0, 1.0))
    'where it stands'
    """
    ahead = np.subtract(subject_m[:2], from_m[:2])
    ahead = ahead / (np.linalg.norm(ahead) or 1.0)
    moved = np.subtract(to_m[:2], from_m[:2])
    right, forward = float(moved @ [ahead[1], -ahead[0]]), float(moved @ ahead)
    rise = to_m[2] - from_m[2] if len(to_m) > 2 and len(from_m) > 2 else 0.0
    parts = [
        f"{abs(metres):.2f} m {words[0] if metres > 0 else words[1]}"
        for metres, words in (
            (right, ("to its right", "to its left")),
            (forward, ("forward", "back")),
            (rise, ("up", "down")),
        )
        if abs(metres) >= 0.005
    ]
    return ", ".join(parts) or "where it stands"
