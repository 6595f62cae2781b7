"""Which framing and layer a user asks for."""

from __future__ import annotations

from collections.abc import Sequence
from difflib import get_close_matches
from typing import get_args

from preview.errors import RequestError
from preview.floor.options import FloorOptions
from preview.floor.result import LayerName
from preview.show.load import Show
from preview.timeline.timeline import Timeline

ZOOMS = ("hold", "fixed")
"""What the lens does from elsewhere: hold the subject's size in the picture, or stay at its focal length."""

HOLDS = ("size", "lens")
"""The same in the words of the command line."""


def chosen_framing(show: Show, camera: str, framing: str | None, timeline: Timeline) -> str:
    """A camera's framing by name; when nothing is asked, its first one on programme, else its first.

    Raises
    ------
    RequestError : it has no framing of that name; names those it has.
    """
    own = next(one for one in show.file.cameras if one.name == camera)
    names = [one.name for one in own.framings]
    if framing is not None:
        return known_framing(show, camera, framing)
    for shot in timeline.shots:
        for frame in (shot.start_frame, shot.end_frame - 1):
            held = timeline.at(frame).camera(camera).framing
            if shot.on_air == camera and held in names:
                return held
    return names[0]


def known_framing(show: Show, camera: str, framing: str) -> str:
    """A camera's framing by name.

    Raises
    ------
    RequestError : it has no framing of that name; names those it has.
    """
    own = next(one for one in show.file.cameras if one.name == camera)
    return _one_of(framing, [one.name for one in own.framings], "--framing", f"framing of {camera}")


def layers_of(layers: str | None) -> tuple[str, ...] | None:
    """Layers from a list such as ``off-wall,clearance``, in order and each once; None for all.

    Raises
    ------
    RequestError : there is none of a name; names those there are.
    """
    if layers is None:
        return None
    words = [word.strip() for word in layers.split(",") if word.strip()]
    if not words:
        raise RequestError(f"--layer: no layer is named; write some of {', '.join(get_args(LayerName))}")
    named = {_one_of(word, get_args(LayerName), "--layer", "layer of a floor map") for word in words}
    return tuple(name for name in get_args(LayerName) if name in named)


def chosen_hold(hold: str) -> str:
    """How the lens follows, of ZOOMS, from what is to be held: "size" of the subject, or "lens".

    Raises
    ------
    RequestError : neither of them.
    """
    return dict(zip(HOLDS, ZOOMS, strict=True))[_one_of(hold, HOLDS, "--hold", "thing to hold")]


def chosen_options(step_m: float, height_m: float | None, zoom: str) -> FloorOptions:
    """Options of a floor map.

    Raises
    ------
    RequestError : a number is out of range, or ``zoom`` is neither "hold" nor "fixed".
    """
    kept = _one_of(zoom, ZOOMS, "--zoom", "way to zoom")
    for option, keys in (("--step", {"step_m": step_m}), ("--height", {"height_m": height_m})):
        try:
            FloorOptions(**keys)  # type: ignore[arg-type]
        except ValueError as error:
            raise RequestError(f"{option}: {error}") from error
    return FloorOptions(step_m=step_m, height_m=height_m, zoom="hold" if kept == "hold" else "fixed")


def _one_of(asked: str, known: Sequence[str], option: str, what: str) -> str:
    if asked in known:
        return asked
    near = get_close_matches(asked, known, n=1, cutoff=0.5)
    hint = f"did you mean {near[0]!r}? There are" if near else "there are"
    raise RequestError(f"{option}: {asked!r} is no {what}; {hint} {', '.join(known)}")
