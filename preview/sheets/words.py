"""What a shot sheet says, in words that need no legend where that can be had."""

from __future__ import annotations

from collections.abc import Sequence

from preview.checks.result import count
from preview.sheets.values import Neighbour, OffAirCue, Setting, SheetMove, SheetShot, ShotSheet

PLANNING_AID = "Planning aid. Rehearsal, risk assessment and local codes come first."
_CAUTION = (
    "This sheet shows what the show file describes. It replaces no rehearsal, no risk assessment and no "
    "licensed judgement; local codes come first."
)
_JIB = (
    "Jib arm: it moves weight over people. Trained operators only; keep the swing area clear of people, set "
    "and LED. Local law, site rules and the equipment's manual decide."
)
_CARRIED = "Carried camera: look where you walk, and have the path and the cable cleared."
_FLOOR = (
    "LED floor: whoever supplies it says what wheels, feet and weight it bears, and what makes it slippery. "
    "It dazzles from close by."
)
_WALL = (
    "LED walls are bright close by: do not look into them for long. Flashing content can set off seizures."
)
MOUNTS = {"pedestal": "pedestal", "tripod": "tripod", "free": "carried, or free", "jib": "jib"}
_DRIVES = {
    "switched": "The wall follows the camera on air. Off air your picture as shot has a wrong background: "
    "work by the return.",
    "shared": "The wall shows every camera's frustum, the one on air on top. Others may cover yours: work "
    "by the return.",
    "interleaved": "Each camera has its own slot of every frame, so your picture has its own background off "
    "air as well.",
}
HOW_TO_READ = (
    "Timecodes are the first and the last frame on air; lengths are seconds, then frames. "
    "Height is the sensor's above the studio floor; focus is measured from the sensor. "
    "Pan and swing are turned from straight ahead, parallel to the stage's Y axis; left and right are seen "
    "from behind the camera. "
    "Floor is the sensor over the stage's origin: X to the right, Y away from the cameras, metres. "
    "Pictures are returns: what the camera shoots when the wall is its own."
)


def turned(value_deg: float, positive: str, negative: str) -> str:
    """An angle with its sense as a word.

    >>> turned(38.51, "left", "right"), turned(-0.26, "up", "down"), turned(-0.0, "up", "down")
    ('38.5° left', '0.3° down', '0.0°')
    """
    shown = f"{abs(value_deg):.1f}°"
    if shown == "0.0°":
        return shown
    return f"{shown} {positive if value_deg > 0 else negative}"


def length(frames: int, seconds: float) -> str:
    """A length in seconds and frames.

    >>> length(225, 9.0), length(168, 6.72)
    ('9.0 s, 225 frames', '6.7 s, 168 frames')
    """
    return f"{seconds:.1f} s, {count(frames, 'frame')}"


def rows(settings: Sequence[Setting]) -> list[tuple[str, list[str]]]:
    """The table of a shot: what is set, and its values, one a setting. Roll only where there is any."""
    jib = settings[0].swing_deg is not None
    table = [("Height", [f"{one.position_m[2]:.2f} m" for one in settings])]
    if jib:
        table.append(("Swing", [turned(one.swing_deg or 0.0, "left", "right") for one in settings]))
        table.append(("Boom", [turned(one.boom_deg or 0.0, "up", "down") for one in settings]))
    table.append(("Pan", [turned(one.pan_deg, "left", "right") for one in settings]))
    table.append(("Tilt", [turned(one.tilt_deg, "up", "down") for one in settings]))
    if any(abs(one.roll_deg) >= 0.05 for one in settings):
        table.append(("Roll", [turned(one.roll_deg, "right", "left") for one in settings]))
    table.append(("Lens", [f"{one.focal_length_mm:.1f} mm" for one in settings]))
    table.append(("Focus", [f"{one.focus_m:.2f} m" for one in settings]))
    table.append(("Stop", [f"T{one.t_stop:g}" for one in settings]))
    if not jib:
        table.append(("Floor", [floor(one) for one in settings]))
    return table


def floor(setting: Setting) -> str:
    """Where the sensor is over the studio floor."""
    x, y, _ = (round(value, 2) + 0.0 for value in setting.position_m)
    return f"X {x:.2f}  Y {y:.2f}"


def in_one_line(setting: Setting) -> str:
    """A setting off air, short."""
    told = dict((name, values[0]) for name, values in rows((setting,)))
    parts = [f"height {told['Height']}"]
    if "Swing" in told:
        parts += [f"swing {told['Swing']}", f"boom {told['Boom']}"]
    else:
        parts.append(f"floor {told['Floor']}")
    parts += [f"pan {told['Pan']}", f"tilt {told['Tilt']}", told["Lens"], f"focus {told['Focus']}"]
    return ", ".join(parts)


def move_words(move: SheetMove, shot: SheetShot | None = None) -> str:
    """When a move starts and ends, how long it is, and what is unusual about it.

    Parameters
    ----------
    shot : in which it is seen; None off air
    """
    said = (
        f"{move.name}: {move.start} to {move.end}, {move.duration_s:g} s, {move.ease.replace('-', ' ')}. "
        f"Starts {move.timecodes[0]}, ends {move.timecodes[1]}."
    )
    if shot is not None:
        first, last = shot.frames
        if move.frames[0] > last:
            said += " It starts after you are off air."
        elif move.frames[0] < first:
            said += " It is under way when you come on air."
        if move.frames[0] <= last < move.frames[1] and shot.after is not None:
            said += " It goes on when you are off air."
        if shot.after is None and move.frames[1] > last + 1:
            said += " The rundown ends before it does."
    if move.broken_off is not None:
        said += " Another cue breaks it off before its end."
    return said


def transition(kind: str | None, frames: int) -> str:
    """How one camera takes over from another.

    >>> transition("mix", 18), transition("cut", 0)
    ('mix, 18 frames', 'cut')
    """
    return f"mix, {count(frames, 'frame')}" if kind == "mix" else str(kind)


def who(neighbour: Neighbour) -> str:
    """A camera on programme."""
    return f"{neighbour.camera_number} {neighbour.camera}"


def before_words(shot: SheetShot, fps: float) -> tuple[str, str]:
    """Who is on air before, and the tally meanwhile; two short lines."""
    if shot.before is None:
        return "Rundown starts", "on air from its first frame"
    if shot.before.camera == shot.of_camera:
        return f"Already on air, shot {shot.before.shot_number}", "tally stays"
    head = f"{who(shot.before)}, shot {shot.before.shot_number}"
    if shot.next_lead_frames is None:
        return head, "no NEXT tally before this"
    return head, f"NEXT from {shot.next_timecode}, {shot.next_lead_frames / fps:.1f} s"


def after_words(shot: SheetShot) -> tuple[str, str]:
    """Who is on air after, and how; two short lines."""
    if shot.after is None:
        return "Rundown ends", ""
    if shot.after.camera == shot.of_camera:
        return f"Stay on air, shot {shot.after.shot_number}", "tally stays"
    told = transition(shot.after_transition, shot.after_mix_frames)
    return f"{who(shot.after)}, shot {shot.after.shot_number}", f"takes over by {told}"


def come_on_air(shot: SheetShot) -> str:
    """How a shot starts, in one line."""
    told = f"shot {shot.place} of {shot.of} on this camera"
    if shot.before is not None and shot.before.camera != shot.of_camera:
        told += f"  ·  {transition(shot.transition, shot.mix_frames)}"
    if shot.held_back_frames:
        told += f"  ·  cue {shot.cue_timecode}, held back {count(shot.held_back_frames, 'frame')}"
    return told


def off_air_words(cue: OffAirCue) -> str:
    """What to do at a cue off air."""
    if cue.move is not None:
        return move_words(cue.move)
    return f"{cue.setting.framing}: {in_one_line(cue.setting)}"


def camera_facts(sheet: ShotSheet) -> list[str]:
    """Lines about the camera and its chain, for the first page."""
    shortest, longest = sheet.focal_range_mm
    lens = f"{shortest:g} mm" if shortest == longest else f"{shortest:g} to {longest:g} mm"
    late = "Your return arrives in time."
    if sheet.return_late_frames:
        frames = count(sheet.return_late_frames, "frame")
        late = f"Your return arrives {frames} ({sheet.return_late_ms:.0f} ms) late."
    first, last = sheet.timecodes
    return [
        f"Mount: {MOUNTS[sheet.mount]}.  Lens: {lens}, T{sheet.t_stop:g}.  Rundown {first} to {last}, "
        f"{sheet.frame_rate} frames a second.",
        f"{late}  {_DRIVES[sheet.drive]}",
        sheet.checked or "Made without the checks: no warnings here does not mean that nothing was found.",
    ]


def cautions(sheet: ShotSheet) -> list[str]:
    """What to be careful with at this camera, each a sentence or two."""
    found = []
    if sheet.mount == "jib":
        found.append(_JIB)
    if sheet.mount == "free":
        found.append(_CARRIED)
    if sheet.led_floor:
        found.append(_FLOOR)
    return [*found, _WALL, _CAUTION]
