"""Cuts, drawn: programme beside programme as shot round every change of camera, and what needs sightlines."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from preview.checks.coverage import Coverage
from preview.checks.cut import Cut, around, proof_frames, sentence
from preview.checks.edge_lines import EdgeLine, LineFinder, edge_lines
from preview.checks.proof import SAME_CODE, DrawnFrame, FrameProof, draw
from preview.checks.result import count
from preview.errors import of_frame
from preview.frame import Studio
from preview.review.film_strip import Mark, Strip, StripFrame, cell_picture
from preview.show.load import Show
from preview.stage.surface import LedSurface
from preview.suggest.edge_line import LineRemedy, suggest_line_overscan
from preview.suggest.overscan import OverscanSuggestion, prove_overscan
from preview.timeline.timeline import Timeline


@dataclass(frozen=True)
class Rounds:
    """Cuts drawn: proofs by frame, and strips in running order. Empty when nothing is drawn."""

    proofs: Mapping[int, FrameProof]
    strips: tuple[Strip, ...]
    graphics: str = "nothing was drawn"
    wall_name: str = ""


@dataclass(frozen=True)
class OnPixels:
    """What was counted on every pixel's sightline.

    Attributes
    ----------
    overscan : suggestions, with their proofs where they were proved
    lines, remedies : edge lines seen on a shared wall, and what helps
    looked_at : frames in which lines were looked for
    """

    overscan: tuple[OverscanSuggestion, ...]
    lines: tuple[EdgeLine, ...] = ()
    remedies: tuple[LineRemedy, ...] = ()
    looked_at: tuple[int, ...] = ()


def draw_cuts(studio: Studio, cuts: Sequence[Cut], wall_name: str, tell: Callable[[], None]) -> Rounds:
    """Draw the frames around every cut: their proofs, and the strips for the page.

    ``wall_name`` is the LED surface shown in the strip; ``tell`` is called after each frame drawn.
    """
    proofs: dict[int, FrameProof] = {}
    strips = []
    for cut in cuts:
        kept = set(around(cut, studio.timeline.frame_count))
        columns = []
        for frame in proof_frames(cut, studio.timeline.frame_count):
            with of_frame(frame, studio.timeline.timecode(frame)):
                (drawn,) = draw(studio, (frame,), wall=frame in kept, on_frame=tell)
            proofs[frame] = drawn.proof
            if frame in kept:
                columns.append(_column(cut, drawn, wall_name))
        strips.append(_strip(cut, columns, studio.timeline))
    return Rounds(proofs, tuple(strips), studio.graphics, wall_name)


def main_wall(surfaces: Sequence[LedSurface]) -> LedSurface:
    """The largest LED wall; the largest surface where there is no wall."""
    return max(surfaces, key=lambda surface: (surface.kind == "wall", surface.area_m2))


def _column(cut: Cut, drawn: DrawnFrame, wall_name: str) -> StripFrame:
    told, proof = drawn.told, drawn.proof
    incoming, share = told.cameras[-1]
    caption = {
        "own": incoming,
        "wrong": f"{' and '.join(told.strangers)} on {told.wall_camera}'s",
        "mix": f"{incoming} {100 * share:.0f} %",
    }[told.state]
    # Rounded, a small share would read as none.
    differing = f"{100 * proof.differing_share:.0f} %" if proof.differing_share >= 0.01 else "under 1 %"
    return StripFrame(
        timecode=told.timecode,
        place=_place(cut, told.frame),
        mark=told.state,
        as_shot=cell_picture(drawn.as_shot),
        programme=cell_picture(drawn.programme),
        wall=cell_picture(drawn.wall[wall_name]),
        caption=caption,
        compared=f"the same within {SAME_CODE} code" if proof.alike else f"differs in {differing} of pixels",
        wall_caption="every camera in its slot" if told.wall_camera is None else f"for {told.wall_camera}",
    )


def _place(cut: Cut, frame: int) -> str:
    offset = frame - (cut.cue_frame if cut.programme_frame is None else cut.programme_frame)
    if not cut.mix_frames:
        return "cut" if offset == 0 else f"{offset:+d}"
    if offset < 0:
        return f"{offset:+d}"
    if offset >= cut.mix_frames:
        return f"{offset - cut.mix_frames + 1:+d}"
    return f"{offset + 1} of {cut.mix_frames}" if offset else "first"


def _strip(cut: Cut, columns: Sequence[StripFrame], timeline: Timeline) -> Strip:
    mark: Mark = "wrong" if cut.wrong_frames else "mix" if cut.shared_frames else "own"
    verdict = {
        "wrong": count(len(cut.wrong_frames), "wrong frame"),
        "mix": f"{count(len(cut.shared_frames), 'frame')} on one wall",
        "own": "clean",
    }[mark]
    title = f"{cut.shot_index + 1}  {cut.shot}:  {cut.name}  (from {cut.outgoing})"
    return Strip(title, verdict, mark, sentence(cut, timeline), tuple(columns))


def prove_on_pixels(
    studio: Studio,
    suggested: Show,
    cuts: Sequence[Cut],
    overscan: tuple[OverscanSuggestion, ...],
    covered: Sequence[Coverage],
    surfaces: Sequence[LedSurface],
    frames: tuple[int, int],
) -> OnPixels:
    """What needs sightlines of the whole picture size: overscan and edge lines.

    Parameters
    ----------
    studio : the show as set, at its full picture size
    suggested : the show that ``overscan`` and ``covered`` are of
    cuts, surfaces : of the show as set
    frames : first and last frame in which edge lines are looked for
    """
    show = studio.show
    overscan = prove_overscan(suggested, overscan, covered, studio.raster)
    if show.file.drive.mode != "shared":
        return OnPixels(overscan)
    looked_at = _line_frames(studio.timeline, cuts, overscan, frames)
    moments = (studio.timeline.at(frame) for frame in looked_at)
    lines = edge_lines(LineFinder(studio.raster, surfaces), moments, show.file.drive)
    helped = dict.fromkeys(one.camera for one in lines if not one.on_top)
    remedies = [suggest_line_overscan(show, lines, name, studio.raster, surfaces) for name in helped]
    return OnPixels(overscan, lines, tuple(remedies), looked_at)


def _line_frames(
    timeline: Timeline, cuts: Sequence[Cut], overscan: Sequence[OverscanSuggestion], frames: tuple[int, int]
) -> tuple[int, ...]:
    """Frames looked at for edge lines: round every cut, each shot's start, middle and end, and where a
    camera's image lags most."""
    looked_at = {frame for cut in cuts for frame in around(cut, timeline.frame_count)}
    for shot in timeline.shots:
        looked_at |= {shot.start_frame, (shot.start_frame + shot.end_frame - 1) // 2, shot.end_frame - 1}
    looked_at |= {proof.frame for one in overscan for proof in one.proofs}
    return tuple(frame for frame in sorted(looked_at) if frames[0] <= frame <= frames[1])
