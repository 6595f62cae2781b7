"""Commands on the studio floor: plans, floor maps, suggestions; parts of the command line."""

from __future__ import annotations

import shlex
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Annotated

import typer

from preview import terminal
from preview.options import AsJson, Debug, OutDir, ShowPath

if TYPE_CHECKING:
    from preview.plan.run import PlanReport

CameraName = Annotated[str, typer.Option("--camera", metavar="C", help="Whose framing.")]
StepM = Annotated[float, typer.Option("--step", metavar="M", help="Distance of neighbouring places, metres.")]
HeightM = Annotated[
    float | None,
    typer.Option("--height", metavar="M", help="Height of the sensor, metres; the framing's own by default."),
]


def add_commands(app: typer.Typer, command_line: Callable[[], Sequence[str]]) -> None:
    """Add the commands to the command line.

    Parameters
    ----------
    command_line : the words typed, for manifests
    """

    @app.command()
    def plan(
        show_path: ShowPath,
        out: OutDir,
        at: Annotated[
            str | None,
            typer.Option("--at", metavar="TC", help="Which frame; the rundown's first by default."),
        ] = None,
        as_json: AsJson = False,
        debug: Debug = False,
    ) -> None:
        """The studio from above at one frame, to scale: cameras, what they see, set, people, LED surfaces."""
        from preview.job import chosen_frame
        from preview.plan.run import write_plan
        from preview.show.load import load_show
        from preview.timeline.timeline import Timeline

        show = load_show(show_path)
        frame = chosen_frame("--at", at, 0, Timeline(show))
        report = write_plan(show, frame, out, shlex.join(command_line()))
        _tell(report, [report.data["told"]], as_json)

    @app.command()
    def floor(
        show_path: ShowPath,
        out: OutDir,
        camera: CameraName,
        framing: Annotated[
            str | None,
            typer.Option("--framing", metavar="F", help="Which framing; its first on programme by default."),
        ] = None,
        step: StepM = 0.1,
        height: HeightM = None,
        hold: Annotated[
            str,
            typer.Option(
                "--hold",
                metavar="WHAT",
                help="size: the subject's, by the focal length; lens: as in the framing.",
            ),
        ] = "size",
        layer: Annotated[
            str | None, typer.Option("--layer", metavar="A,B", help="Draw only these layers; all by default.")
        ] = None,
        as_json: AsJson = False,
        debug: Debug = False,
    ) -> None:
        """Where on the floor a framing would be all right: moire, wall's edge, angles, clearance, as maps."""
        from preview.job import chosen_camera
        from preview.plan.asked import chosen_framing, chosen_hold, chosen_options, layers_of
        from preview.plan.run import write_floor
        from preview.review.atomic import check_output_folder
        from preview.show.load import load_show
        from preview.timeline.timeline import Timeline

        show = load_show(show_path)
        name = chosen_camera(camera, [one.name for one in show.file.cameras])
        taken = chosen_framing(show, name, framing, Timeline(show))
        options, shown = chosen_options(step, height, chosen_hold(hold)), layers_of(layer)
        check_output_folder(out)
        command = shlex.join(command_line())
        with terminal.steps() as on_step:
            tell = lambda done, total: on_step("places", done, total)  # noqa: E731
            report = write_floor(show, name, taken, out, options, shown, command, tell)
        _tell(report, [f"{name}, {taken}: {report.data['told']}"], as_json)

    @app.command()
    def suggest(
        show_path: ShowPath,
        out: OutDir,
        camera: CameraName,
        framing: Annotated[str, typer.Option("--framing", metavar="F", help="Which framing.")],
        step: StepM = 0.1,
        as_json: AsJson = False,
        debug: Debug = False,
    ) -> None:
        """The smallest change of place, lens, focus or stop that clears a framing of findings, tried."""
        from preview.job import chosen_camera
        from preview.plan.asked import chosen_framing, chosen_options
        from preview.plan.suggestion import write_suggestion
        from preview.review.atomic import check_output_folder
        from preview.show.load import load_show
        from preview.timeline.timeline import Timeline

        show = load_show(show_path)
        name = chosen_camera(camera, [one.name for one in show.file.cameras])
        taken = chosen_framing(show, name, framing, Timeline(show))
        options = chosen_options(step, None, "hold")
        check_output_folder(out)
        with terminal.steps() as on_step:
            report = write_suggestion(show, name, taken, out, options, shlex.join(command_line()), on_step)
        change = report.data["change"]
        lines = [report.data["sentence"]]
        if change is not None:
            lines += ["In the show file:", *(f"  {line}" for line in change["show_file"])]
        _tell(report, lines, as_json)


def _tell(report: PlanReport, lines: Sequence[str], as_json: bool) -> None:
    """Sentences, then a line a file, then the caution; or everything as one JSON document."""
    if as_json:
        terminal.print_json(report.data)
        return
    for line in lines:
        terminal.print_line(line)
    for entry in report.files:
        terminal.print_line(str(report.folder / entry.name))
    if report.data.get("caution"):
        terminal.print_note(f"note: {report.data['caution']}")
