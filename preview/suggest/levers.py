"""What can be turned on lenses, light, wall and mixer, each as a ladder of changed shows.

Where a camera stands and which framing it takes is in ``preview.suggest.places``.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from math import ceil, log2

from preview.camera.focus import blur_disc_mm
from preview.checks.registry import Lever
from preview.checks.result import count
from preview.checks.structure import photosite_mm, stop_of
from preview.show.catalogue import catalogue_for
from preview.show.load import Show
from preview.show.model import Lens
from preview.suggest.changed import (
    with_camera,
    with_edge_line,
    with_framings,
    with_overscan,
    with_stage_light,
    with_wall_white,
)
from preview.suggest.overscan import rounded_up
from preview.suggest.picture_delay import suggest_picture_delay
from preview.suggest.places import arm_ladders, framing_ladders, position_ladders
from preview.suggest.situation import Ladder, Situation, Try, quoted
from preview.timeline.framing import lens_of

LONGER_STEP = 1.03
LONGEST = 1.6
"""A lens goes this many times longer at most: beyond it is another shot. Own choice."""
OVERSCAN_STEP_PERCENT = 0.5
MOST_OVERSCAN_PERCENT = 30.0
"""The most overscan tried: pictures grow by 60 % a side. Own choice."""
FOCUS_STEP = 1.02
FOCUS_STEPS = 15
SOFT_PHOTOSITES = 2.0
"""Focus leaves a subject no softer than this: a blur disc two photosites wide is hard to see. Common
practice, no source."""
LIGHT_STEP_STOPS = 1.0 / 3.0
MOST_LIGHT_STOPS = 3.0


def ladders(lever: Lever, at: Situation) -> tuple[Ladder, ...]:
    """What can be tried with one lever; none where there is nothing to turn."""
    return tuple(ladder for ladder in _LADDERS[lever](at) if ladder)


def focal_length(at: Situation) -> list[Ladder]:
    """Longer lenses for every framing of the finding, alike."""
    lens = lens_of(at.plan.camera(at.seer))
    framings = {framing.name: framing.focal_length_mm for framing, _ in at.placed(at.seer)}
    longest = lens.focal_length_mm[1]
    ladder, step = [], 1
    while LONGER_STEP**step <= LONGEST:
        factor = LONGER_STEP**step
        longer = {name: round(length * factor, 1) for name, length in framings.items()}
        if any(length > longest for length in longer.values()):
            break
        keys = {name: {"focal_length_mm": length} for name, length in longer.items()}
        told = " and ".join(f'{length:g} mm in "{name}"' for name, length in longer.items())
        ladder.append(
            Try(
                "focal length", with_framings(at.show, at.seer, keys), f"lens of {at.seer} to {told}",
                _framing_keys(at.seer, {n: f"focal_length_mm = {v:g}" for n, v in longer.items()}),
                f"the picture gets tighter by {100 * (factor - 1):.0f} %", factor,
            )
        )  # fmt: skip
        step += 1
    return [tuple(ladder)]


def overscan(at: Situation) -> list[Ladder]:
    """More overscan for the camera, from the needed one where the finding tells it; less for those in the
    way of it."""
    given = at.plan.camera(at.seer).overscan_percent
    steps = range(int(given / OVERSCAN_STEP_PERCENT) + 1, round(MOST_OVERSCAN_PERCENT / 0.5) + 1)
    more = {OVERSCAN_STEP_PERCENT * step for step in steps}
    needed = at.finding.measures.get("needed_overscan_percent")
    if isinstance(needed, float) and given < needed <= MOST_OVERSCAN_PERCENT:
        more = {rounded_up(needed), *(percent for percent in more if percent > needed)}
    found = [tuple(_overscanned(at, at.seer, sorted(more)))]
    for name in at.others:
        given = at.plan.camera(name).overscan_percent
        less = [OVERSCAN_STEP_PERCENT * step for step in range(ceil(given / OVERSCAN_STEP_PERCENT))]
        found.append(tuple(_overscanned(at, name, less[::-1])))
    return found


def _overscanned(at: Situation, name: str, percents: Sequence[float]) -> Iterator[Try]:
    given = at.plan.camera(name).overscan_percent
    for percent in percents:
        grown = 100 * (((1 + percent / 50) / (1 + given / 50)) ** 2 - 1)
        cost = f"its frustum takes {abs(grown):.0f} % {'more' if grown > 0 else 'less'} of the wall"
        yield Try(
            "overscan",
            with_overscan(at.show, {name: percent}),
            f"overscan of {name} to {percent:g} %",
            f"cameras {name}: overscan_percent = {percent:g}",
            cost if grown > 0 else f"{cost}: look at its coverage again",
            abs(percent - given),
        )


def focus(at: Situation) -> list[Ladder]:
    """Focus pulled nearer or farther, as far as the subject stays sharp and the lens goes."""
    return [tuple(_focused(at, 1.0 / FOCUS_STEP)), tuple(_focused(at, FOCUS_STEP))]


def _focused(at: Situation, factor: float) -> Iterator[Try]:
    camera = at.plan.camera(at.seer)
    lens, site = lens_of(camera), photosite_mm(camera)
    placed = list(at.placed(at.seer))
    for step in range(1, FOCUS_STEPS + 1):
        other = {framing.name: round(one.focus_m * factor**step, 2) for framing, one in placed}
        softest = 0.0
        for framing, one in placed:
            offset_m = lens.entrance_pupil_offset_m
            focus_mm, subject_mm = (1000.0 * (m - offset_m) for m in (other[framing.name], one.focus_m))
            if focus_mm <= framing.focal_length_mm or other[framing.name] < lens.minimum_focus_m:
                return
            blur = float(blur_disc_mm(framing.focal_length_mm, stop_of(camera), focus_mm, subject_mm))
            softest = max(softest, blur / site)
        if softest > SOFT_PHOTOSITES:
            return
        keys = {name: {"focus_m": metres} for name, metres in other.items()}
        told = " and ".join(f'{metres:g} m in "{name}"' for name, metres in other.items())
        yield Try(
            "focus",
            with_framings(at.show, at.seer, keys),
            f"focus of {at.seer} to {told}",
            _framing_keys(at.seer, {n: f"focus_m = {v:g}" for n, v in other.items()}),
            f"what was in focus is blurred over {softest:.1f} photosites",
            float(step),
        )


def stop(at: Situation) -> list[Ladder]:
    """The lens opened in thirds of a stop, down to its widest."""
    camera = at.plan.camera(at.seer)
    now, widest = stop_of(camera), widest_stop(at.show, at.seer)
    ladder: list[Try] = []
    wider = now
    while wider > widest:
        wider = max(widest, round(now * 2 ** (-(len(ladder) + 1) / 6), 1))
        stops = 2 * log2(now / wider)
        lens = lens_of(camera).model_copy(update={"t_stop": wider})
        one = Try(
            "stop",
            with_camera(at.show, at.seer, t_stop=wider, lens=lens),
            f"stop of {at.seer} to T{wider:g}",
            f"cameras {at.seer}: t_stop = {wider:g}",
            f"{stops:.1f} stops more light, to be taken off with an ND filter or gain, and less depth of "
            "field in all its shots",
            stops,
        )
        ladder.append(one)
    return [tuple(ladder)]


def widest_stop(show: Show, camera: str) -> float:
    """A lens's widest opening: a show that is read holds the stop it is set to in its place."""
    written = next((one for one in show.document.data["cameras"] if one.get("name") == camera), None)
    lens = None if written is None else written["lens"]
    if isinstance(lens, str):
        own = show.file.catalogue
        catalogue, _ = catalogue_for(None if own is None else show.root / own)
        return catalogue.lenses[lens].t_stop
    default = Lens.model_fields["t_stop"].default
    return float(default if lens is None else lens.get("t_stop", default))


def picture_delay(at: Situation) -> list[Ladder]:
    """The mixer's delay that makes cuts clean (``preview.suggest.picture_delay``)."""
    found = suggest_picture_delay(at.show)
    if not found.changes:
        return []
    frames = found.picture_frames
    late_ms = 1000.0 * frames / float(at.plan.timeline.rate.fps)
    one = Try(
        "picture delay", found.show, f"mixer held back {count(frames, 'frame')} on every cut",
        f"delays: picture_frames = {frames}", f"cuts come {late_ms:.0f} ms after the cue", float(frames),
    )  # fmt: skip
    return [(one,)]


def edge_line(at: Situation) -> list[Ladder]:
    """No lines along frustums' edges."""
    drive = at.show.file.drive
    if drive.mode != "shared" or not drive.edge_line:
        return []
    one = Try(
        "edge line", with_edge_line(at.show, False), "edge lines switched off", "drive: edge_line = false",
        "operators no longer see on the wall where their frustums end", 1.0,
    )  # fmt: skip
    return [(one,)]


def stage_light(at: Situation) -> list[Ladder]:
    """Less stage light, in thirds of a stop."""
    ladder = []
    for step in range(1, round(MOST_LIGHT_STOPS / LIGHT_STEP_STOPS) + 1):
        stops = step * LIGHT_STEP_STOPS
        show = with_stage_light(at.show, 2**-stops)
        light = show.file.stage.light
        ladder.append(
            Try(
                "stage light", show, f"stage light on the LED surfaces down by {stops:.1f} stops: "
                "flags, or less of it",
                f"stage.light: key_level = {light.key_level:.3g}, fill_level = {light.fill_level:.3g}, "
                f"ambient_level = {light.ambient_level:.3g}",
                "dimmed instead of flagged, people get darker against the wall by as much", stops,
            )
        )  # fmt: skip
    return [tuple(ladder)]


def wall_level(at: Situation) -> list[Ladder]:
    """The walls lined up to another white, brighter up to the dimmest surface's peak or darker."""
    now = at.plan.stage.white_cd_m2
    peak = now * min(at.plan.stage.headroom)
    found = []
    for sign in (1, -1):
        ladder = []
        for step in range(1, ceil(MOST_LIGHT_STOPS / LIGHT_STEP_STOPS) + 1):
            white = now * 2 ** (sign * step * LIGHT_STEP_STOPS)
            if white > peak:
                break
            stops = step * LIGHT_STEP_STOPS
            change = f"{stops:.1f} stops {'more' if sign > 0 else 'less'}"
            ladder.append(
                Try(
                    "wall level", with_wall_white(at.show, now, white),
                    f"white of the LED surfaces to {white:.0f} cd/m2",
                    f"stage: white_cd_m2 = {white:.0f}, with all levels of stage.light times "
                    f"{now / white:.3g}",
                    f"{change} wall against the people, and in every camera's exposure", stops,
                )
            )  # fmt: skip
        found.append(tuple(ladder))
    return found


def _framing_keys(camera: str, keys: dict[str, str]) -> str:
    return "; ".join(f"cameras {camera}, framing {quoted((name,))}: {key}" for name, key in keys.items())


_LADDERS: dict[Lever, Callable[[Situation], list[Ladder]]] = {
    "focal length": focal_length,
    "overscan": overscan,
    "position": position_ladders,
    "arm": arm_ladders,
    "other framing": framing_ladders,
    "picture delay": picture_delay,
    "focus": focus,
    "stop": stop,
    "edge line": edge_line,
    "stage light": stage_light,
    "wall level": wall_level,
}
