"""The command that writes shot sheets; a part of the command line."""

from __future__ import annotations

import shlex
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Annotated

import typer

from preview import terminal
from preview.options import AsJson, Debug, OutDir, ShowPath


def add_commands(app: typer.Typer, command_line: Callable[[], Sequence[str]]) -> None:
    """Add the command to the command line.

    Parameters
    ----------
    command_line : the words typed, for manifests
    """

    @app.command()
    def sheets(
        show_path: ShowPath,
        out: OutDir,
        camera: Annotated[
            str | None,
            typer.Option(
                "--camera", metavar="C", help="Whose sheet, or several as A,B; every camera's by default."
            ),
        ] = None,
        paper: Annotated[str, typer.Option("--paper", metavar="SIZE", help="a4 or letter.")] = "a4",
        checks: Annotated[
            Path | None,
            typer.Option(
                "--checks",
                metavar="FILE",
                help="A checks.json of this show, from `preview check`: its warnings come onto the sheets.",
            ),
        ] = None,
        as_json: AsJson = False,
        debug: Debug = False,
    ) -> None:
        """Shot sheets to print, one set a camera: returns, framings, moves, tally, timecodes, notes."""
        from preview.checks.result import count
        from preview.frame import Studio
        from preview.job import chosen_camera
        from preview.review.atomic import check_output_folder
        from preview.sheets.asked import chosen_paper
        from preview.sheets.findings import read_checks
        from preview.sheets.run import write_sheets
        from preview.show.load import load_show

        show = load_show(show_path)
        known = [one.name for one in show.file.cameras]
        names = [chosen_camera(one, known) for one in camera.split(",")] if camera is not None else known
        size = chosen_paper(paper)
        warnings, checked = ((), "") if checks is None else read_checks(checks, show)
        check_output_folder(out)
        command = shlex.join(command_line())
        with terminal.steps() as on_step:
            report = write_sheets(
                show, out, list(dict.fromkeys(names)), size, command, warnings, checked, Studio, on_step
            )
        if as_json:
            terminal.print_json(report.data)
            return
        for sheet in report.data["sheets"]:
            shots = sum("place" in part for part in sheet["parts"])
            told = (
                f"{count(shots, 'shot')} on {count(sheet['pages'], 'page')}"
                if shots
                else "no shots; a page says so"
            )
            terminal.print_line(f"{sheet['number']} {sheet['camera']}: {told}")
        for entry in report.files:
            terminal.print_line(str(report.folder / entry.name))
        for note in (*report.data["notes"], report.data["sheets"][0]["cautions"][-1]):
            terminal.print_note(f"note: {note}")
