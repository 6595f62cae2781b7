"""What a multiview says at a frame, as plain words: nothing is drawn here."""

from __future__ import annotations

from dataclasses import dataclass

from preview.multiview.upcoming import Coming, Running, time_left
from preview.show.model import ShowFile
from preview.timeline.delay import camera_delay
from preview.timeline.moment import Moment
from preview.timeline.rate import Rate

TALLY_WORDS = {"on air": "ON AIR", "next": "NEXT", "off": "off"}


@dataclass(frozen=True)
class CameraWords:
    """One camera's caption.

    Attributes
    ----------
    number, name : from the show file
    tally : "on air", "next" or "off"
    tag : the tally's word; for the next camera with how long till
    framing : framing, or both ends of a move
    lens, late : focal length, and how late its return is; "" when it is in time
    """

    number: int
    name: str
    tally: str
    tag: str
    framing: str
    lens: str
    late: str


@dataclass(frozen=True)
class CardWords:
    """One card of the strip.

    Attributes
    ----------
    number, camera : who takes the shot
    when : "now", or how long till
    transition : "", "mix 18 fr", or "stays" where the camera does not change
    shot, framing : number and name of the shot, and the framing
    """

    number: int
    camera: str
    when: str
    transition: str
    shot: str
    framing: str


@dataclass(frozen=True)
class FrameWords:
    """Everything a frame says.

    Attributes
    ----------
    timecode : of the frame
    shot : number and name of the shot that programme is in
    left : how long it lasts yet
    gone : share of it that is over
    programme : camera and framing on programme, or both cameras of a mix
    wall, wall_wrong : whose background the wall shows, and whether another's is on programme
    cameras : in show order
    cards : the present shot, then the coming ones; the end of the rundown is a card without camera
    """

    timecode: str
    shot: str
    left: str
    gone: float
    programme: str
    wall: str
    wall_wrong: bool
    cameras: tuple[CameraWords, ...]
    cards: tuple[CardWords, ...]


def words_at(file: ShowFile, moment: Moment, running: Running) -> FrameWords:
    """What to say of a moment.

    Parameters
    ----------
    running : the rundown as programme stands in it at the moment's frame
    """
    rate = Rate(file.show.frame_rate)
    wall, wrong = wall_words(file, moment)
    return FrameWords(
        timecode=moment.timecode,
        shot=_shot(running.now),
        left=time_left(running.left, rate.fps),
        gone=running.gone / running.length,
        programme=_programme(moment),
        wall=wall,
        wall_wrong=wrong,
        cameras=tuple(_camera(file, moment, running, i, rate) for i in range(len(file.cameras))),
        cards=_cards(file, running, rate),
    )


def arrowed(framing: str) -> str:
    """A framing as people read it.

    >>> arrowed("MS guest > MCU guest")
    'MS guest → MCU guest'
    """
    return framing.replace(" > ", " → ")


def wall_words(file: ShowFile, moment: Moment) -> tuple[str, bool]:
    """Whose background the wall shows, and whether that is not the background of who is on programme.

    In a mix a switched or shared wall can be right for one of two cameras; that is no mistake of timing.
    """
    if file.drive.mode == "interleaved":
        return "wall: a slot for each camera", False
    who = f"{moment.camera(moment.wall_camera).number} {moment.wall_camera}"
    wrong = moment.tally(moment.wall_camera) != "on air"
    if file.drive.mode == "shared":
        return (f"WRONG ON TOP: {who}" if wrong else f"wall: {who} on top"), wrong
    return (f"WRONG WALL: {who}" if wrong else f"wall: {who}"), wrong


def drive_words(file: ShowFile) -> str:
    """How the wall is driven, in two words and more."""
    return {
        "switched": "wall switched: one frustum at a time",
        "shared": "wall shared: every frustum at once",
        "interleaved": "wall interleaved: a slot for each camera",
    }[file.drive.mode]


def surface_words(file: ShowFile) -> str:
    """What the picture of an LED surface is."""
    return f"mean of {len(file.cameras)} slots" if file.drive.mode == "interleaved" else "as driven"


def _camera(file: ShowFile, moment: Moment, running: Running, place: int, rate: Rate) -> CameraWords:
    settings = file.cameras[place]
    now, tally = moment.camera(settings.name), moment.tally(settings.name)
    tag = TALLY_WORDS[tally]
    if tally == "next" and running.following:
        tag += " in " + time_left(running.following[0].frames, rate.fps)
    focal = now.view.focal_length_mm
    lens = f"{focal:.1f} mm" if focal < 10 else f"{focal:.0f} mm"
    frames = camera_delay(file, settings, rate).returned
    late = f"{frames} fr late" if frames else ""
    return CameraWords(settings.number, settings.name, tally, tag, arrowed(now.framing), lens, late)


def _programme(moment: Moment) -> str:
    now = moment.camera(moment.on_air)
    if moment.mix_from is None:
        return f"{now.number} {now.name}, {arrowed(now.framing)}"
    before = moment.camera(moment.mix_from)
    return f"mix {before.number} → {now.number} {now.name}, {moment.mix_share:.0%}"


def _shot(coming: Coming) -> str:
    return f"{coming.shot.index + 1}  {coming.shot.name}"


def _cards(file: ShowFile, running: Running, rate: Rate) -> tuple[CardWords, ...]:
    numbers = {camera.name: camera.number for camera in file.cameras}
    cards, before = [], ""
    for coming in (running.now, *running.following):
        shot = coming.shot
        transition = f"mix {shot.mix_frames} fr" if shot.transition == "mix" else ""
        if shot.on_air == before:
            transition = "stays"
        before = shot.on_air
        when = "in " + time_left(coming.frames, rate.fps) if coming.frames else "now"
        cards.append(
            CardWords(
                numbers[shot.on_air], shot.on_air, when, transition, _shot(coming), arrowed(coming.framing)
            )
        )
    end = running.left if not running.following else None
    if end is not None:
        cards.append(CardWords(0, "", "in " + time_left(end, rate.fps), "", "end of the rundown", ""))
    return tuple(cards)
