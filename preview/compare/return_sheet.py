"""One operator's page for one frame: what comes down the line beside what ought to be seen.

The words come from the moment alone (``Facts``), so that they can be tested without a picture.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from PIL import Image, ImageDraw

from preview.review.lettering import BAND, INK, PAPER, QUIET, Color, write
from preview.show.model import ShowFile
from preview.timeline.moment import Moment
from preview.timeline.timeline import Timeline

SHEET_PX = 1920
"""Widest sheet; on a laptop of 1366 pixels its text is still 14 pixels high."""
LEAST_PANEL_PX = 560
_TALLY: dict[str, tuple[str, Color]] = {
    "on air": ("ON AIR", (196, 43, 43)),
    "next": ("NEXT", (31, 122, 77)),
    "off": ("OFF", (88, 93, 101)),
}
"""Red on air and green next are common practice, no source; the word says the same."""


@dataclass(frozen=True)
class Facts:
    """What the page says about one camera at one frame.

    Attributes
    ----------
    number, camera, operator : from the show file
    tally : "on air", "next" or "off"
    framing : framing name, or both ends of a move
    timecode, shot : of the frame; shot with its number
    on_air : who programme shows
    wall : what the wall shows, in one sentence
    late_frames : how late the return arrives
    late : the same in a sentence; "" when it is in time
    """

    number: int
    camera: str
    operator: str
    tally: str
    framing: str
    timecode: str
    shot: str
    on_air: str
    wall: str
    late_frames: int
    late: str


def facts_of(file: ShowFile, timeline: Timeline, moment: Moment, camera: str) -> Facts:
    """What to say about a camera at a moment.

    Raises
    ------
    KeyError : the show has no such camera.
    """
    now = moment.camera(camera)
    written = next(c for c in file.cameras if c.name == camera)
    own = written.delays.return_frames
    late = file.delays.return_frames if own is None else own
    numbers = {c.name: f"camera {c.number} {c.name}" for c in file.cameras}
    on_air = numbers[moment.on_air]
    if moment.mix_from:
        on_air = f"mix from {numbers[moment.mix_from]} to {on_air}, {moment.mix_share:.0%} there"
    return Facts(
        number=written.number,
        camera=camera,
        operator=written.operator,
        tally=moment.tally(camera),
        framing=f"{now.framing} (moving)" if now.moving else now.framing,
        timecode=moment.timecode,
        shot=f"shot {moment.shot_index + 1}  {moment.shot}",
        on_air=on_air,
        wall=_wall(file, moment, camera, numbers),
        late_frames=late,
        late=_late(late, timeline, moment.frame),
    )


def _wall(file: ShowFile, moment: Moment, camera: str, numbers: dict[str, str]) -> str:
    shown = numbers[moment.wall_camera]
    match file.drive.mode:
        case "switched":
            own = " (this camera)" if moment.wall_camera == camera else ""
            return f"The wall shows {shown}{own} alone"
        case "shared":
            own = " (this camera)" if moment.wall_camera == camera else ""
            return f"The wall shows every camera, {shown}{own} on top"
        case "interleaved":
            leak = file.drive.crosstalk
            leaks = f"; {leak:.0%} of the light comes from other slots" if leak else ""
            return f"The wall shows this camera alone in its own slot of each frame{leaks}"


def _late(frames: int, timeline: Timeline, frame: int) -> str:
    if not frames:
        return ""
    count = f"{frames} frame{'s' if frames != 1 else ''}"
    milliseconds = float(timeline.rate.seconds(frames)) * 1000
    shown = timeline.timecode(max(0, frame - frames))
    start = "; the rundown begins later than that" if frame < frames else ""
    return f"It arrives {count} ({milliseconds:.0f} ms) late and shows {shown}{start}"


def return_sheet(
    facts: Facts, as_shot: np.ndarray, returned: np.ndarray, off_wall: tuple[float | None, float | None]
) -> np.ndarray:
    """The page.

    Parameters
    ----------
    facts : the words
    as_shot, returned : (h, w, 3) uint8, equal sizes
    off_wall : share of each picture past the LED and the set, if known

    Returns
    -------
    (h', w', 3) uint8, at most SHEET_PX wide
    """
    panels = [_panel(picture) for picture in (as_shot, returned)]
    panel_width, panel_height = panels[0].size
    gap = max(8, panel_width // 60)
    width = 2 * panel_width + 3 * gap
    size = max(12, round(width / 94))
    big = round(1.6 * size)
    head, title, foot = round(5.4 * size), round(2.2 * size), round(4.4 * size)
    sheet = Image.new("RGB", (width, head + title + panel_height + foot), PAPER)
    sheet.paste(BAND, (0, 0, width, head))

    # Who, and are they on air: from the left. When: from the right.
    first, second = round(2.2 * size), round(4.3 * size)
    chip = _chip(sheet, facts.tally, (gap, round(0.7 * size)), big)
    name = f"Camera {facts.number}  {facts.camera}"
    room = width * 0.62 - chip - 2 * gap
    who = write(sheet, name, (2 * gap + chip, first), big, room_px=room, bold=True)
    if facts.operator and room - who > 8 * size:
        write(
            sheet, facts.operator, (3 * gap + chip + who, first), size, room_px=room - who - gap, color=QUIET
        )
    write(sheet, f"Framing: {facts.framing}", (gap, second), size, room_px=width * 0.48)
    write(sheet, facts.timecode, (width - gap, first), big, room_px=width * 0.34, bold=True, anchor="rs")
    write(sheet, facts.shot, (width - gap, second), size, room_px=width * 0.48, anchor="rs")

    top, base = head + title, head + round(1.5 * size)
    titles = (("As shot", "what comes down the line"), ("Return", "as if this camera were on air"))
    below = (
        (f"{facts.wall}.", f"On programme: {facts.on_air}"),
        (
            f"Camera {facts.number}'s own frustum alone.",
            f"{facts.late}." if facts.late else "It arrives in time.",
        ),
    )
    for place, panel in enumerate(panels):
        left = gap + place * (panel_width + gap)
        sheet.paste(panel, (left, top))
        used = write(sheet, titles[place][0], (left, base), round(1.2 * size), room_px=panel_width, bold=True)
        share = off_wall[place]
        beyond = "" if share is None else f"off wall {share:.1%}"
        room = panel_width - used - gap
        told = write(sheet, beyond, (left + panel_width, base), size, room_px=room, color=QUIET, anchor="rs")
        write(
            sheet, titles[place][1], (left + used + gap, base), size, room_px=room - told - gap, color=QUIET
        )
        for line, text in enumerate(below[place]):
            at = (left, top + panel_height + round((1.6 + 1.6 * line) * size))
            late = place == 1 and line == 1 and facts.late_frames > 0
            write(
                sheet,
                text,
                at,
                size,
                room_px=panel_width,
                bold=late,
                color=INK if late or not line else QUIET,
            )
    return np.asarray(sheet)


def _panel(picture: np.ndarray) -> Image.Image:
    """The picture at a width that lets two stand side by side."""
    height, width = picture.shape[:2]
    wide = min(max(width, LEAST_PANEL_PX), round(SHEET_PX * 20 / 41))
    if wide == width:
        return Image.fromarray(picture)
    return Image.fromarray(picture).resize((wide, round(height * wide / width)), Image.Resampling.LANCZOS)


def _chip(sheet: Image.Image, tally: str, at: tuple[int, int], size: int) -> int:
    """The tally in a box, as wide for every state; returns its width."""
    word, color = _TALLY[tally]
    wide, high = 5 * size, round(1.5 * size)
    box = (at[0], at[1], at[0] + wide, at[1] + high)
    ImageDraw.Draw(sheet).rounded_rectangle(box, radius=high // 5, fill=color)
    middle = (at[0] + wide / 2, at[1] + high / 2)
    write(sheet, word, middle, round(0.85 * size), room_px=wide, bold=True, anchor="mm")
    return wide
