"""A show with a floor map's framing really taken from one of its places."""

from __future__ import annotations

from preview.floor.aim import Aim, Stands
from preview.show.load import Show
from preview.suggest.changed import with_framings


def standing_at(show: Show, aim: Aim, stands: Stands, place: int) -> Show:
    """The show in which the framing is written for that place, in the show file's own keys."""
    keys = {
        "look_at": aim.subject_m,
        "pan_deg": None,
        "tilt_deg": None,
        "focal_length_mm": float(stands.focal_mm[place]),
        "focus_m": float(stands.focus_m[place]),
        "position_m": tuple(float(value) for value in stands.position_m[place]),
    }
    return with_framings(show, aim.camera.name, {aim.framing.name: keys})
