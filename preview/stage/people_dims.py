"""Heights of a stand-in person, shared by the body's mesh and by cameras that aim at its eyes."""

from __future__ import annotations

from preview.show.model import Person

EYE_SHARE = 0.935
"""Eye height over body height, standing. Common practice; value from memory, no source."""

SEATED_EYE_SHARE = 0.42
"""Eye height above the seat over body height, sitting relaxed. Value from memory, no source."""

CROWN_SHARE = 1.0 - EYE_SHARE
"""Eyes to crown over body height, the same for either posture."""


def eye_height_m(person: Person) -> float:
    """Height of the eyes above the floor point ``person.position_m``, metres."""
    if person.posture == "seated":
        return person.seat_height_m + SEATED_EYE_SHARE * person.height_m
    return EYE_SHARE * person.height_m


def top_height_m(person: Person) -> float:
    """Height of the crown above the floor point ``person.position_m``, metres."""
    return eye_height_m(person) + CROWN_SHARE * person.height_m


def eye_point_m(person: Person) -> tuple[float, float, float]:
    """Stage position (metres) at eye height, straight above the person's floor point."""
    x, y, z = person.position_m
    return (x, y, z + eye_height_m(person))
