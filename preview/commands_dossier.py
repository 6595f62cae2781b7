"""The command that makes a show's review page; a part of the command line."""

from __future__ import annotations

import shlex
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from preview import terminal
from preview.options import AsJson, Debug, Kept, NoKept, ShowPath

if TYPE_CHECKING:
    from preview.dossier.run import DossierReport


def add_commands(app: typer.Typer, command_line: Callable[[], Sequence[str]]) -> None:
    """Add the command to the command line.

    Parameters
    ----------
    command_line : the words typed, for manifests
    """

    @app.command()
    def review(
        show_path: ShowPath,
        out: Annotated[
            Path, typer.Option("--out", metavar="DIR", help="Where the page goes with all that it shows.")
        ],
        every: Annotated[
            str,
            typer.Option(
                "--every", metavar="N", help="Draw and check each N-th frame, and all near a cut: quicker."
            ),
        ] = "1",
        start: Annotated[str | None, typer.Option("--from", metavar="TC", help="First frame.")] = None,
        end: Annotated[str | None, typer.Option("--to", metavar="TC", help="Last frame.")] = None,
        only: Annotated[
            str | None, typer.Option("--only", metavar="A,B", help="Only these checks; all by default.")
        ] = None,
        no_remedies: Annotated[
            bool, typer.Option("--no-remedies", metavar="", help="Try no remedies.")
        ] = False,
        floor_step: Annotated[
            float,
            typer.Option("--floor-step", metavar="M", help="Distance of neighbouring places of floor maps."),
        ] = 0.25,
        no_floor: Annotated[bool, typer.Option("--no-floor", metavar="", help="No floor maps.")] = False,
        paper: Annotated[
            str, typer.Option("--paper", metavar="SIZE", help="Of the shot sheets: a4 or letter.")
        ] = "a4",
        kept: Kept = None,
        no_kept: NoKept = False,
        as_json: AsJson = False,
        debug: Debug = False,
    ) -> None:
        """A page that the whole crew opens from disk: verdict, clips, findings, maps, shot sheets."""
        from preview.checks.registry import all_checks
        from preview.dossier.asked import Asked
        from preview.dossier.run import write_dossier
        from preview.job import chosen_every, chosen_range
        from preview.kept.pictures import chosen_store
        from preview.plan.asked import chosen_options
        from preview.report.asked import chosen_checks
        from preview.review.atomic import check_output_folder
        from preview.sheets.asked import chosen_paper
        from preview.show.load import load_show
        from preview.suggest.mend import attempt
        from preview.timeline.timeline import Timeline

        show, known = load_show(show_path), all_checks()
        step = chosen_every(every, clip=True)
        asked = Asked(
            chosen_range(start, end, Timeline(show)),
            chosen_checks(only, known),
            known,
            every=step,
            check_every=step,
            floor_step_m=None if no_floor else chosen_options(floor_step, None, "hold").step_m,
            paper=chosen_paper(paper),
            command=shlex.join(command_line()),
        )
        store = chosen_store(kept, no_kept)
        check_output_folder(out)
        with terminal.steps() as on_step:
            report = write_dossier(show, out, asked, store, None if no_remedies else attempt, on_step)
        if as_json:
            terminal.print_json(report.data)
        else:
            tell_review(report)


def tell_review(report: DossierReport) -> None:
    """What was found and reused, and the page's path as the last line."""
    for note in report.data["notes"]:
        terminal.print_note("note: " + note)
    terminal.print_note(f"{report.data['verdict']}.")
    terminal.print_note(f"{report.data['reuse']}; {report.data['seconds']:.0f} s in all.")
    terminal.print_note("Open this page in a browser:")
    terminal.print_line(str(report.page))
