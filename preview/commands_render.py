"""Commands that draw: the demo, stills and clips; parts of the command line as ``preview/cli.py`` is."""

from __future__ import annotations

import shlex
from collections.abc import Callable, Sequence
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from preview import terminal
from preview.commands_dossier import tell_review
from preview.errors import FrameFailed, RequestError
from preview.options import AsJson, Debug, Kept, NoKept, OutDir, PictureSize, ShowPath

if TYPE_CHECKING:
    from preview.dossier.run import DossierReport
    from preview.frame import Studio
    from preview.job import Job
    from preview.run import Summary


DEFAULT_PICTURES = "return,programme"


def add_commands(app: typer.Typer, command_line: Callable[[], Sequence[str]]) -> None:
    """Add the commands to the command line.

    Parameters
    ----------
    command_line : the words typed, for manifests
    """

    @app.command()
    def demo(
        out: Annotated[Path, typer.Option("--out", metavar="DIR", help="Where files go.")] = Path(
            "renders/demo"
        ),
        kept: Kept = None,
        no_kept: NoKept = False,
        as_json: AsJson = False,
        debug: Debug = False,
    ) -> None:
        """Render the demo show: stills of every shot, and its review page to open in a browser."""
        from preview.dossier.asked import demo_asked
        from preview.dossier.run import write_dossier
        from preview.frame import Studio
        from preview.job import DEMO_SIZE_PX, demo_jobs
        from preview.kept.pictures import chosen_store
        from preview.review.atomic import check_output_folder
        from preview.show.load import load_show
        from preview.show.resources import asset_dir
        from preview.suggest.mend import attempt

        show = load_show(asset_dir() / "glasshouse" / "show.toml")
        store, command = chosen_store(kept, no_kept), shlex.join(command_line())
        check_output_folder(out)
        with Studio(show, DEMO_SIZE_PX) as studio:
            studio.kept = store
            summaries = [_render(studio, job, show.path, out, command) for job in demo_jobs(studio.timeline)]
            asked = demo_asked(studio.timeline, DEMO_SIZE_PX, command)
        with terminal.steps() as on_step:
            page = write_dossier(show, out / "review", asked, store, attempt, on_step)
        _report(summaries, as_json, page)

    @app.command()
    def render(
        show_path: ShowPath,
        out: OutDir,
        stills: Annotated[
            bool,
            typer.Option(
                "--stills", metavar="", help="Stills of each shot's start, middle and end (the default)."
            ),
        ] = False,
        clip: Annotated[
            bool, typer.Option("--clip", metavar="", help="One clip (MP4) of each picture.")
        ] = False,
        at: Annotated[
            list[str] | None,
            typer.Option("--at", metavar="TC", help="Stills of this frame; may be repeated."),
        ] = None,
        start: Annotated[str | None, typer.Option("--from", metavar="TC", help="First frame.")] = None,
        end: Annotated[str | None, typer.Option("--to", metavar="TC", help="Last frame.")] = None,
        cameras: Annotated[
            str | None, typer.Option("--cameras", metavar="A,B", help="Only these cameras' pictures.")
        ] = None,
        pictures: Annotated[
            str,
            typer.Option(
                "--pictures",
                metavar="A,B",
                help="inner, outer, wall, as-shot, return, programme, programme-as-shot, house; or all.",
            ),
        ] = DEFAULT_PICTURES,
        size: PictureSize = None,
        every: Annotated[
            str, typer.Option("--every", metavar="N", help="In clips, draw each N-th frame and hold it.")
        ] = "1",
        burn_in: Annotated[
            bool,
            typer.Option("--burn-in", metavar="", help="Burn timecode, shot and camera into the pictures."),
        ] = False,
        kept: Kept = None,
        no_kept: NoKept = False,
        as_json: AsJson = False,
        debug: Debug = False,
    ) -> None:
        """Render stills and clips of a show."""
        from preview.frame import Studio, Wanted
        from preview.job import (
            Job,
            chosen_cameras,
            chosen_every,
            chosen_frame,
            chosen_kinds,
            chosen_range,
            chosen_size_px,
            shot_stills,
            stills_at,
        )
        from preview.kept.pictures import chosen_store
        from preview.review.atomic import check_output_folder
        from preview.show.load import load_show
        from preview.timeline.timeline import Timeline

        show = load_show(show_path)
        timeline = Timeline(show)
        wanted = Wanted(
            kinds=chosen_kinds(pictures),
            cameras=chosen_cameras(cameras, [camera.name for camera in show.file.cameras]),
        )
        size_px = chosen_size_px(size, show.file.show.picture_size_px)
        held = chosen_every(every, clip)
        if (start or end) and at and not (clip or stills):
            raise RequestError(
                "--from and --to are for clips and shots' stills; add --clip or --stills to --at"
            )
        first, last = chosen_range(start, end, timeline)
        frames = stills_at(timeline, [chosen_frame("--at", label, 0, timeline) for label in at or ()])
        if stills or not (clip or at):
            frames += shot_stills(timeline, first, last)
        job = Job(wanted, size_px, frames, (first, last) if clip else None, held, burn_in)
        store = chosen_store(kept, no_kept)
        check_output_folder(out)
        with Studio(show, job.size_px) as studio:
            studio.kept = store
            summary = _render(studio, job, show_path, out, shlex.join(command_line()))
        _report([summary], as_json)


def _render(studio: Studio, job: Job, show_path: Path, out: Path, command: str) -> Summary:
    from preview.run import render

    with terminal.progress("clips" if job.clip else "stills") as on_frame:
        try:
            return render(studio, job, out, command, on_frame)
        except FrameFailed as error:
            error.add_note(_replay(error, job, show_path, out))
            raise


def _replay(error: FrameFailed, job: Job, show_path: Path, out: Path) -> str:
    """The command that draws one frame again, with the traceback."""
    size = "{}x{}".format(*job.size_px)
    kinds, cameras = ",".join(job.wanted.kinds), ",".join(job.wanted.cameras)
    words = ["preview", "render", str(show_path), "--out", str(out), "--at", error.timecode, "--size", size]
    words += ["--pictures", kinds, "--cameras", cameras, *(["--burn-in"] if job.burn_in else []), "--debug"]
    return shlex.join(words)


def _report(summaries: Sequence[Summary], as_json: bool, review: DossierReport | None = None) -> None:
    """What was written: one line a file on standard output, the review page last; or one JSON document."""
    first = summaries[0]
    files = [entry for summary in summaries for entry in summary.files]
    frames = sum(summary.frame_count for summary in summaries)
    pictures = sum(summary.picture_count for summary in summaries)
    reused = sum(summary.reused_count for summary in summaries)
    seconds = sum(summary.seconds for summary in summaries)
    notes = dict.fromkeys(note for summary in summaries for note in summary.notes)
    if as_json:
        terminal.print_json(
            {
                "folder": str(first.folder),
                "files": [asdict(entry) for entry in files],
                "frame_count": frames,
                "picture_count": pictures,
                "reused_count": reused,
                "seconds": round(seconds, 2),
                "graphics": first.graphics,
                "notes": list(notes),
                **({} if review is None else {"review": review.data}),
            }
        )
        return
    for entry in files:
        terminal.print_line(str(first.folder / entry.name))
    for note in notes:
        terminal.print_note("note: " + note)
    clips = sum(entry.media == "clip" for entry in files)
    counted = f"{len(files) - clips} stills" + (f" and {clips} clips" if clips else "")
    terminal.print_note(
        f"{counted} from {frames} frames in {seconds:.0f} s, "
        f"{reused} of {pictures} pictures reused, the rest drawn by {first.graphics}; "
        f"{first.folder}/manifest.json lists them"
    )
    if review is not None:
        tell_review(review)
