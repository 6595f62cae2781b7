"""Where a camera stands and which framing it takes, as ladders of changed shows. Aims are kept.

Positions are geometric: whether a pedestal gets there, and past whom, is for the crew to see. Arms move only
under a trained operator, within the mount's limits, local law, site rules and the equipment's manual.
"""

from __future__ import annotations

from collections.abc import Iterator
from math import cos, dist, hypot, radians, sin
from typing import Any

import numpy as np

from preview.show import model
from preview.show.model import CameraCue, Point
from preview.suggest.changed import with_framing_in_shot, with_framings
from preview.suggest.situation import Ladder, Situation, Try, quoted
from preview.timeline.framing import PlacedFraming
from preview.timeline.mount import jib_position_m
from preview.timeline.rundown import ResolvedShot

STEP_M = 0.25
FARTHEST_M = 2.0
"""Cameras are moved this far at most. Own choice."""
DIRECTIONS = {
    "to its left": (-1, 0), "to its right": (1, 0), "back": (0, -1), "forward": (0, 1),
    "back and to its left": (-1, -1), "back and to its right": (1, -1),
    "forward and to its left": (-1, 1), "forward and to its right": (1, 1),
}  # fmt: skip
CLEAR_OF_PEOPLE_M = 1.0
CLEAR_OF_CAMERAS_M = 1.0
"""A camera is not moved nearer to people and other cameras than this, measured on the floor: room for the
body and its operator. No safety distance; own choice."""
AT_A_CUT_M = 0.3
"""A camera that is on air just before or after stands no farther than this from there. Own choice."""
BOOM_STEP_DEG, MOST_BOOM_DEG = 1.0, 10.0
SWING_STEP_DEG, MOST_SWING_DEG = 2.0, 16.0


def _movers(at: Situation) -> tuple[str, ...]:
    """Cameras that may give way: those in the way first, then the one that sees them."""
    return tuple(dict.fromkeys((*at.others, at.seer)))


def position_ladders(at: Situation) -> list[Ladder]:
    """The camera moved over the floor in eight directions, as seen along its view."""
    found = []
    for name in _movers(at):
        if at.plan.camera(name).mount.kind == "jib":
            continue
        for words, (right, forward) in DIRECTIONS.items():
            found.append(tuple(_moved(at, name, words, right, forward)))
    return found


def _moved(at: Situation, name: str, words: str, right: int, forward: int) -> Iterator[Try]:
    pan = radians(at.plan.timeline.at(at.worst_frame).camera(name).view.pose.pan_deg)
    along = np.array([right * cos(pan) - forward * sin(pan), right * sin(pan) + forward * cos(pan)])
    along /= np.linalg.norm(along)
    placed = list(at.placed(name))
    for step in range(1, round(FARTHEST_M / STEP_M) + 1):
        metres = step * STEP_M
        keys: dict[str, dict[str, Any]] = {}
        for framing, now in placed:
            x, y, z = now.pose.position_m
            position = (round(x + metres * along[0], 2), round(y + metres * along[1], 2), z)
            if not _free(at, name, position):
                return
            keys[framing.name] = {"position_m": position, **_same_aim(framing, now, position)}
        told = "; ".join(
            f'cameras {name}, framing "{framing}": position_m = {_list(new["position_m"])}'
            for framing, new in keys.items()
        )
        nearer = _size_change(placed, keys)
        yield Try(
            "position", with_framings(at.show, name, keys),
            f"{name} {metres:g} m {words} in {quoted(tuple(keys))}", told,
            f"its subject gets {100 * abs(nearer):.0f} % {'larger' if nearer > 0 else 'smaller'}"
            if abs(nearer) >= 0.005 else "its angle on the subject changes a little", metres,
        )  # fmt: skip


def _free(at: Situation, name: str, position: Point) -> bool:
    """Whether a camera may stand there: clear of people and cameras, and on no LED floor it was not on."""
    stage, moment = at.show.file.stage, at.plan.timeline.at(at.worst_frame)
    x, y, _ = position
    if any(hypot(x - p.position_m[0], y - p.position_m[1]) < CLEAR_OF_PEOPLE_M for p in stage.people):
        return False
    for camera in moment.cameras:
        there = camera.view.pose.position_m
        if camera.name != name and hypot(x - there[0], y - there[1]) < CLEAR_OF_CAMERAS_M:
            return False
    here = moment.camera(name).view.pose.position_m
    for surface in at.plan.stage.surfaces:
        if surface.kind == "floor":
            low, high = surface.positions[:, :2].min(axis=0), surface.positions[:, :2].max(axis=0)
            now, then = (bool(np.all((low < p) & (p < high))) for p in (here[:2], position[:2]))
            if then and not now:
                return False
    return True


def _same_aim(framing: model.Framing, now: PlacedFraming, position: Point) -> dict[str, Any]:
    """What keeps a framing on the stage point it looks at, and in focus there, from another position."""
    if now.aim_m is not None:
        if framing.focus_m is None:
            return {}
        farther = dist(position, now.aim_m) - dist(now.pose.position_m, now.aim_m)
        return {"focus_m": round(max(0.1, framing.focus_m + farther), 3)}
    ahead = np.asarray(now.pose.position_m) + now.pose.rotation[:, 1] * now.focus_m
    aim = tuple(round(float(value), 3) for value in ahead)
    focus_m = round(dist(position, aim), 3)
    return {"look_at": aim, "pan_deg": None, "tilt_deg": None, "focus_m": focus_m}


def _size_change(placed: list[tuple[model.Framing, PlacedFraming]], keys: dict[str, dict[str, Any]]) -> float:
    """How much larger the point in focus gets, as a share; of the framing that changes most."""
    changes = []
    for framing, now in placed:
        ahead = np.asarray(now.pose.position_m) + now.pose.rotation[:, 1] * now.focus_m
        changes.append(now.focus_m / dist(keys[framing.name]["position_m"], ahead) - 1.0)
    return max(changes, key=abs)


def arm_ladders(at: Situation) -> list[Ladder]:
    """A jib's boom raised or lowered within its range, and its arm swung either way."""
    found = []
    for name in _movers(at):
        if at.plan.camera(name).mount.kind != "jib":
            continue
        for key, step, most, words in (
            ("boom_deg", BOOM_STEP_DEG, MOST_BOOM_DEG, ("raised", "lowered")),
            ("swing_deg", SWING_STEP_DEG, MOST_SWING_DEG, ("swung left", "swung right")),
        ):
            for sign, word in zip((1, -1), words, strict=True):
                found.append(tuple(_turned(at, name, key, sign * step, round(most / step), word)))
    return found


def _turned(at: Situation, name: str, key: str, step_deg: float, steps: int, word: str) -> Iterator[Try]:
    mount, placed = at.plan.camera(name).mount, list(at.placed(name))
    low, high = mount.boom_range_deg or (-90.0, 90.0)
    for step in range(1, steps + 1):
        keys: dict[str, dict[str, Any]] = {}
        for framing, now in placed:
            swing, boom = now.arm_deg or (0.0, 0.0)
            swing, boom = (
                (swing + step * step_deg, boom) if key == "swing_deg" else (swing, boom + step * step_deg)
            )
            if not low <= boom <= high:
                return
            position = jib_position_m(mount, swing, boom)
            turned = {"swing_deg": round(swing, 3), "boom_deg": round(boom, 3)}
            keys[framing.name] = {**turned, **_same_aim(framing, now, position)}
        told = "; ".join(
            f'cameras {name}, framing "{framing}": {key} = {new[key]:g}' for framing, new in keys.items()
        )
        yield Try(
            "arm", with_framings(at.show, name, keys),
            f"arm of {name} {word} by {abs(step * step_deg):g} degrees in {quoted(tuple(keys))}", told,
            "the arm sweeps elsewhere: check its clearance and walk the move with its operator",
            abs(step * step_deg),
        )  # fmt: skip


def framing_ladders(at: Situation) -> list[Ladder]:
    """Another framing of its own for the camera in the way, or else for the one that sees, in that shot."""
    name = (*at.others, at.seer)[0]
    moment = at.plan.timeline.at(at.worst_frame)
    shot = at.plan.timeline.shots[moment.shot_index]
    if name != at.seer and name in (moment.on_air, moment.mix_from):
        return []  # it is on programme itself
    held = at.framings(name)
    found: list[Ladder] = []
    for place, framing in enumerate(at.plan.camera(name).framings):
        if framing.name in held or not _reached(at, name, framing.name, shot):
            continue
        show = with_framing_in_shot(at.show, shot.index, name, framing.name, _as_before(at, name, shot))
        one = Try(
            "other framing", show, f'{name} on "{framing.name}" in "{shot.name}"',
            f'rundown "{shot.name}": cameras.{name} = {{ framing = "{framing.name}" }}',
            "that is another shot" if name == at.seer else "it has to be back for its next shot",
            1.0 + place / 100,
        )  # fmt: skip
        found.append((one,))
    return found


def _reached(at: Situation, name: str, framing: str, shot: ResolvedShot) -> bool:
    """Whether a camera that is on air in the shot before or after is near enough to change at the cut."""
    timeline = at.plan.timeline
    there = timeline.framing_view(name, framing).pose.position_m
    for neighbour, frame in ((shot.index - 1, shot.start_frame - 1), (shot.index + 1, shot.end_frame)):
        on_air = 0 <= neighbour < len(timeline.shots) and timeline.shots[neighbour].on_air == name
        if on_air and dist(there, timeline.view_at(name, frame).pose.position_m) > AT_A_CUT_M:
            return False
    return True


def _as_before(at: Situation, name: str, shot: ResolvedShot) -> CameraCue:
    """What the camera does after the shot, as if it had not been cued elsewhere: a move counts as made."""
    cue = shot.cue(name)
    if cue.move is None:
        return CameraCue(framing=cue.framing)
    moves = {move.name: move for move in at.plan.camera(name).moves}
    return CameraCue(framing=moves[cue.move].end)


def _list(point: Point) -> str:
    return "[" + ", ".join(f"{value:g}" for value in point) + "]"
