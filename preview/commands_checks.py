"""Commands that check the plan; parts of the command line as ``preview/cli.py`` is."""

from __future__ import annotations

import shlex
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from preview import terminal
from preview.options import AsJson, Debug, OutDir, ShowPath

if TYPE_CHECKING:
    from preview.report.run import Asked


StartTimecode = Annotated[str | None, typer.Option("--from", metavar="TC", help="First frame looked at.")]
EndTimecode = Annotated[str | None, typer.Option("--to", metavar="TC", help="Last frame looked at.")]
EveryNth = Annotated[
    str,
    typer.Option("--every", metavar="N", help="Look at each N-th frame, and both sides of every cut."),
]
NoPictures = Annotated[
    bool,
    typer.Option("--no-pictures", metavar="", help="Draw nothing: tables only, and no check of flashing."),
]
NoRemedies = Annotated[bool, typer.Option("--no-remedies", metavar="", help="Try no remedies.")]


def add_commands(app: typer.Typer, command_line: Callable[[], Sequence[str]]) -> None:
    """Add the commands to the command line.

    Parameters
    ----------
    command_line : the words typed, for manifests
    """

    @app.command()
    def check(
        show_path: ShowPath,
        out: OutDir,
        only: Annotated[
            str | None, typer.Option("--only", metavar="A,B", help="Only these checks; all by default.")
        ] = None,
        every: EveryNth = "1",
        start: StartTimecode = None,
        end: EndTimecode = None,
        no_pictures: NoPictures = False,
        no_remedies: NoRemedies = False,
        as_json: AsJson = False,
        debug: Debug = False,
    ) -> None:
        """What would be seen on air and should not be: every check, frame by frame, with remedies tried."""
        from preview.checks.registry import all_checks
        from preview.report.asked import chosen_checks
        from preview.report.run import Asked

        known = all_checks()
        asked = Asked("checks", chosen_checks(only, known), known, pictures=not no_pictures)
        _check(
            show_path, out, asked, (start, end, every), not no_remedies, as_json, shlex.join(command_line())
        )

    @app.command()
    def bleed(
        show_path: ShowPath,
        out: OutDir,
        every: EveryNth = "1",
        start: StartTimecode = None,
        end: EndTimecode = None,
        no_pictures: NoPictures = False,
        no_remedies: NoRemedies = False,
        as_json: AsJson = False,
        debug: Debug = False,
    ) -> None:
        """Which cameras see another camera's background: frame by frame, and where the frustums overlap."""
        from preview.checks.registry import all_checks
        from preview.report.run import Asked

        known = tuple(one for one in all_checks() if one.name == "bleed")
        asked = Asked("bleed", known, known, pictures=not no_pictures)
        _check(
            show_path, out, asked, (start, end, every), not no_remedies, as_json, shlex.join(command_line())
        )


def _check(
    show_path: Path,
    out: Path,
    asked: Asked,
    stretch: tuple[str | None, str | None, str],
    remedies: bool,
    as_json: bool,
    command: str,
) -> None:
    """Run checks over a stretch (--from, --to, --every) of a rundown, and tell what they found."""
    from preview.frame import Studio
    from preview.job import chosen_every, chosen_range
    from preview.report.run import report_checks
    from preview.review.atomic import check_output_folder
    from preview.show.load import load_show
    from preview.suggest.mend import attempt
    from preview.timeline.timeline import Timeline

    show = load_show(show_path)
    start, end, every = stretch
    frames = chosen_range(start, end, Timeline(show))
    asked = replace(asked, frames=frames, every=chosen_every(every, clip=True), command=command)
    check_output_folder(out)
    with terminal.steps() as on_step:
        report = report_checks(show, out, asked, attempt if remedies else None, on_step, Studio)
    if as_json:
        terminal.print_json(report.data)
        return
    terminal.print_checks(report.data)
    for entry in report.files:
        terminal.print_line(str(report.folder / entry.name))
