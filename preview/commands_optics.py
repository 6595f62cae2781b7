"""Commands on lenses and moire; parts of the command line as ``preview/cli.py`` is."""

from __future__ import annotations

import shlex
from collections.abc import Callable, Sequence
from dataclasses import asdict
from pathlib import Path
from typing import Annotated, Any

import typer

from preview import terminal
from preview.errors import RequestError
from preview.options import AsJson, Debug, OutDir, ShowPath

Told = Callable[[], Sequence[str]]


def add_commands(app: typer.Typer, command_line: Told) -> None:
    """Add the commands to the command line.

    Parameters
    ----------
    command_line : the words typed, for manifests
    """

    @app.command()
    def moire(
        show_path: ShowPath,
        out: OutDir,
        camera: Annotated[str, typer.Option("--camera", metavar="C", help="Whose return.")],
        at: Annotated[str | None, typer.Option("--at", metavar="TC", help="Map this frame.")] = None,
        focus: Annotated[
            float | None,
            typer.Option(
                "--focus", metavar="M", help="Compare with the lens focused so far from the sensor."
            ),
        ] = None,
        start: Annotated[
            str | None, typer.Option("--from", metavar="TC", help="First frame of a clip.")
        ] = None,
        end: Annotated[str | None, typer.Option("--to", metavar="TC", help="Last frame of a clip.")] = None,
        every: Annotated[
            str | None,
            typer.Option("--every", metavar="N", help="In a clip, map each N-th frame and hold it."),
        ] = None,
        as_json: AsJson = False,
        debug: Debug = False,
    ) -> None:
        """Where moire strikes in a camera's return: a map, and its worst place drawn pixel by pixel."""
        from preview.compare.asked import asked_frames
        from preview.frame import Studio
        from preview.job import chosen_camera
        from preview.moire.run import write_moire, write_moire_clip
        from preview.review.atomic import check_output_folder
        from preview.show.load import load_show
        from preview.timeline.timeline import Timeline

        show = load_show(show_path)
        frames = asked_frames(at, start, end, every, Timeline(show))
        name = chosen_camera(camera, [one.name for one in show.file.cameras])
        if focus is not None and at is None:
            raise RequestError("--focus compares one frame: write --at TC")
        check_output_folder(out)
        words = shlex.join(command_line())
        with Studio(show) as studio, terminal.progress("moire") as on_frame:
            if at is not None:
                result = write_moire(studio, name, frames[0], out, focus, words)
            else:
                step = frames[1] - frames[0] if len(frames) > 1 else 1
                result = write_moire_clip(studio, name, frames, step, out, words, on_frame)
        _report(result.data, result.folder, result.files, as_json)


def _report(data: dict[str, Any], folder: Path, files: Sequence[Any], as_json: bool) -> None:
    """The numbers and files as one JSON document; or what is worst in a line, and a line a file."""
    if as_json:
        terminal.print_json({"folder": str(folder), "files": [asdict(one) for one in files], **data})
        return
    rows = data.get("frames", [data])
    worst = max(rows, key=lambda row: (row["worst"]["risk"], row["worst"]["contrast_percent"]))
    told = worst["worst"]
    terminal.print_note(
        f"{data['camera']} at {worst['timecode']}: worst risk {told['risk']:g}, contrast "
        f"{told['contrast_percent']:g} %, {told['cycles_per_picture_height']:g} stripes to the picture height"
        f"; risk over 0.5 on {worst['risk_over_half_percent']:g} % of the picture"
    )
    for entry in files:
        terminal.print_line(str(folder / entry.name))
