"""A suggestion for a framing, from a show to files: tried, told, and drawn on the plan."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from preview.checks.registry import all_checks
from preview.checks.result import capital
from preview.floor.floor_map import CAUTION, floor_map, others_frame
from preview.floor.options import FloorOptions
from preview.floor.result import FloorMap
from preview.moire.proof import Proof, prove
from preview.plan.run import PlanReport, PlanWriter, framing_plan, stem_of
from preview.plan.studio import camera_plan, wall_lines
from preview.review.atomic import output_folder
from preview.review.move_sheet import move_sheet
from preview.review.plan_sheet import drawn
from preview.show.load import Show
from preview.stage.build import build_stage
from preview.suggest.elsewhere import Subject
from preview.suggest.search import suggest
from preview.suggest.trial import open_trial
from preview.timeline.timeline import Timeline

HEADS = {
    "needless": "nothing to mend",
    "clear": "a change that clears what can be mended",
    "no faults": "a change that leaves no faults",
    "nothing helps": "nothing tried clears it",
}
CREW = "By geometry: reach, people's ways and safe working are the crew's to see."


def write_suggestion(
    show: Show,
    camera: str,
    framing: str,
    folder: Path,
    options: FloorOptions | None = None,
    command: str = "",
    on_try: Callable[[str, int, int], None] = lambda what, done, total: None,
) -> PlanReport:
    """Look for the smallest change that clears a framing of all findings, and write what was found.

    Parameters
    ----------
    camera, framing : names of the show
    options : of the floor map that places come from
    on_try : told what is done, how much of it, and how much there may be

    Raises
    ------
    ShowError, AssetError, GraphicsError, OutputError, RequestError : as the commands say.
    """
    options, timeline, stage = options or FloorOptions(), Timeline(show), build_stage(show)
    frame = others_frame(timeline, camera, framing, options)
    made: list[FloorMap] = []

    def floor() -> FloorMap:
        tell = lambda done, total: on_try("floor map", done, total)  # noqa: E731
        made.append(floor_map(show, camera, framing, options, stage, timeline, tell))
        return made[0]

    with output_folder(folder):
        at = Subject.of(show, camera, framing)
        with open_trial(show, camera, framing, all_checks()) as trial:
            found = suggest(at, trial, floor, lambda done, total: on_try("changed shows", done, total))
        writer = PlanWriter(folder, show, timeline, (frame, frame), command, "suggest", camera)
        stem = stem_of(show, camera, framing, "suggest")
        plan = framing_plan(show, stage, timeline, camera, framing, frame, at.subject_m)
        after = None
        if found.change is not None:
            own = next(one for one in found.show.file.cameras if one.name == camera)
            view = Timeline(found.show).framing_view(camera, framing)
            after = camera_plan(own, view, wall_lines(plan.walls))
        proof = None if after is None else prove(
            show, found.show, stage, camera, framing,
            f"{show.file.show.title}: {camera}, {framing}: LED pixels as it is, and as suggested",
        )  # fmt: skip
        title = f"{show.file.show.title}: {camera}, {framing}: {HEADS[found.outcome]}"
        told = f"{found.words}." if found.change is not None else found.sentence
        figure = drawn(
            lambda: move_sheet(plan, camera, after, title, told, (*found.facts, *_proved(proof), CREW))
        )
        writer.sheet(stem, figure, title, f"Plan of the studio from above, wall at the top. {found.sentence}")
        if proof is not None:
            writer.picture(f"{stem}_synthesis.png", proof.page, proof.sentence)
        data = {
            **found.data(),
            "synthesis": None if proof is None else proof.data(),
            "others_at": timeline.timecode(frame),
            "caution": CAUTION,
        }
        if made:
            data["clear_m2"] = round(made[0].clear_m2, 4)
        writer.json(f"{stem}.json", data)
        writer.finish()
    return writer.report(data)


def _proved(proof: Proof | None) -> tuple[str, ...]:
    return () if proof is None else (f"{capital(proof.sentence)}.",)
