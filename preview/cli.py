"""The ``preview`` command: one function a command; each parses, calls and prints.

Exit status: 0 everything asked for is written; 2 the show file, an asset or an option is wrong;
1 drawing or writing failed; 130 stopped by the user.
"""

from __future__ import annotations

import shlex
import signal
import sys
import traceback
import warnings
from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from preview import (
    __version__,
    commands_checks,
    commands_dossier,
    commands_floor,
    commands_kept,
    commands_optics,
    commands_render,
    commands_review,
    commands_sheets,
    terminal,
)
from preview.errors import (
    AssetError,
    FrameFailed,
    GraphicsError,
    PreviewError,
    RequestError,
    ShowError,
)
from preview.options import AsJson, Debug, OutDir, PictureSize, ShowPath

# Everything else is imported inside the commands: `preview --help` answers at once, and on a machine
# without graphics libraries the reason reaches the user as a sentence.
if TYPE_CHECKING:
    from preview.compare.run import Result

DONE, FAILED, BAD_INPUT, STOPPED, TERMINATED = 0, 1, 2, 130, 143
SYSTEM_PACKAGES = "libegl1 libgl1 libgl1-mesa-dri libglib2.0-0"

_command_line: list[str] = []
"""The command being run, as typed; noted in manifests."""

app = typer.Typer(
    name="preview",
    help="Preview the operators' returns and the programme of a multi-camera show on an LED stage.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
)


def _print_version(asked: bool) -> None:
    if asked:
        terminal.print_line(f"preview {__version__}")
        raise typer.Exit()


@app.callback()
def preview(
    version: Annotated[
        bool,
        typer.Option(
            "--version", metavar="", callback=_print_version, is_eager=True, help="Print the version."
        ),
    ] = False,
) -> None:
    """Preview the operators' returns and the programme of a multi-camera show on an LED stage."""


commands_render.add_commands(app, lambda: _command_line)


@app.command("return")
def operator_return(
    show_path: ShowPath,
    out: OutDir,
    camera: Annotated[str, typer.Option("--camera", metavar="C", help="Whose return.")],
    at: Annotated[str, typer.Option("--at", metavar="TC", help="Which frame.")],
    size: PictureSize = None,
    as_json: AsJson = False,
    debug: Debug = False,
) -> None:
    """One camera's return beside what it shoots, with tally, wall and delay, on one page."""
    from preview.compare.pairs import RETURN_AS_SHOT, chosen_camera
    from preview.compare.run import write_return
    from preview.frame import Studio
    from preview.job import chosen_frame, chosen_size_px
    from preview.review.atomic import check_output_folder
    from preview.show.load import load_show
    from preview.timeline.timeline import Timeline

    show = load_show(show_path)
    frame = chosen_frame("--at", at, 0, Timeline(show))
    name = chosen_camera(camera, RETURN_AS_SHOT, tuple(camera.name for camera in show.file.cameras))
    size_px = chosen_size_px(size, show.file.show.picture_size_px)
    check_output_folder(out)
    with Studio(show, size_px) as studio:
        result = write_return(studio, name, frame, out, shlex.join(_command_line))
    _tell(result, as_json)


@app.command()
def compare(
    show_path: ShowPath,
    out: OutDir,
    against: Annotated[
        str,
        typer.Option(
            "--against",
            metavar="PAIR",
            help="Which two pictures: return:as-shot, return:programme or programme:programme-as-shot.",
        ),
    ],
    camera: Annotated[
        str | None, typer.Option("--camera", metavar="C", help="Whose return; the camera on air by default.")
    ] = None,
    at: Annotated[str | None, typer.Option("--at", metavar="TC", help="Compare this frame.")] = None,
    start: Annotated[str | None, typer.Option("--from", metavar="TC", help="First frame of a run.")] = None,
    end: Annotated[str | None, typer.Option("--to", metavar="TC", help="Last frame of a run.")] = None,
    every: Annotated[
        str | None, typer.Option("--every", metavar="N", help="In a run, compare each N-th frame.")
    ] = None,
    amplify: Annotated[
        float, typer.Option("--amplify", metavar="X", help="Factor of the difference pictures.")
    ] = 4.0,
    wipe_at: Annotated[
        float, typer.Option("--wipe-at", metavar="SHARE", help="Where the wipe's line stands, 0 to 1.")
    ] = 0.5,
    window: Annotated[
        int | None,
        typer.Option(
            "--window",
            metavar="N",
            help="Frames searched either side for a return's delay against programme.",
        ),
    ] = None,
    size: PictureSize = None,
    as_json: AsJson = False,
    debug: Debug = False,
) -> None:
    """Compare two pictures: a frame as differences, a wipe and numbers; a run as a table and a plot."""
    from preview.compare.asked import asked_frames
    from preview.compare.offset import chosen_window
    from preview.compare.pairs import chosen_camera, chosen_pair
    from preview.compare.run import Looks, compare_frame, compare_range
    from preview.frame import Studio
    from preview.job import chosen_size_px
    from preview.review.atomic import check_output_folder
    from preview.show.load import load_show
    from preview.timeline.timeline import Timeline

    show = load_show(show_path)
    pair = chosen_pair(against)
    name = chosen_camera(camera, pair, tuple(camera.name for camera in show.file.cameras))
    frames = asked_frames(at, start, end, every, Timeline(show))
    looks, searched = Looks(amplify, wipe_at), chosen_window(window, show.file)
    size_px = chosen_size_px(size, show.file.show.picture_size_px)
    check_output_folder(out)
    command = shlex.join(_command_line)
    with Studio(show, size_px) as studio, terminal.progress("comparison") as on_frame:
        if at is not None:
            result = compare_frame(studio, pair, name, frames[0], out, looks, searched, command)
        else:
            result = compare_range(studio, pair, name, frames, out, searched, command, on_frame)
    _tell(result, as_json)


@app.command()
def cuts(
    show_path: ShowPath,
    out: OutDir,
    start: Annotated[str | None, typer.Option("--from", metavar="TC", help="First cue to look at.")] = None,
    end: Annotated[str | None, typer.Option("--to", metavar="TC", help="Last cue to look at.")] = None,
    size: Annotated[
        str | None,
        typer.Option("--size", metavar="WxH", help="Size of the pictures compared; 320 wide by default."),
    ] = None,
    no_pictures: Annotated[
        bool, typer.Option("--no-pictures", metavar="", help="Draw nothing: tables only, nothing proved.")
    ] = False,
    as_json: AsJson = False,
    debug: Debug = False,
) -> None:
    """Frames on which programme carries another camera's background; delay and overscan that mend it."""
    from preview.cuts.report import drawn_size, report_cuts
    from preview.frame import Studio
    from preview.job import chosen_range, chosen_size_px
    from preview.review.atomic import check_output_folder
    from preview.show.load import load_show
    from preview.timeline.timeline import Timeline

    show = load_show(show_path)
    frames = chosen_range(start, end, Timeline(show))
    size_px = chosen_size_px(size, drawn_size(show))
    check_output_folder(out)
    with terminal.progress("cuts") as on_frame:
        command = shlex.join(_command_line)
        report = report_cuts(show, out, size_px, frames, not no_pictures, command, on_frame, Studio)
    if as_json:
        terminal.print_json(report.data)
        return
    terminal.print_cuts(report.data)
    for entry in report.files:
        terminal.print_line(str(report.folder / entry.name))


@app.command()
def new(
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="Folder to make; must be new or empty.")],
    as_json: AsJson = False,
    debug: Debug = False,
) -> None:
    """Write a small show of your own to start from; it renders at once."""
    from preview.starter import write_starter

    path = write_starter(folder)
    if as_json:
        terminal.print_json({"show": str(path)})
        return
    terminal.print_line(str(path))
    words = ["preview", "render", str(path), "--out", str(folder / "out")]
    terminal.print_note(f"now try: {shlex.join(words)}")


@app.command()
def info(show_path: ShowPath, as_json: AsJson = False, debug: Debug = False) -> None:
    """Tables of a show's LED surfaces, cameras and running order."""
    from preview.facts import show_facts
    from preview.show.load import load_show

    facts = show_facts(load_show(show_path))
    if as_json:
        terminal.print_json(facts)
    else:
        terminal.print_facts(facts)


@app.command()
def schema(
    as_json: Annotated[
        bool, typer.Option("--json", metavar="", hidden=True, help="Changes nothing: it is JSON.")
    ] = False,
    debug: Debug = False,
) -> None:
    """Print the show file's JSON Schema, for editors that complete and check TOML."""
    from preview.show.schema import show_schema

    terminal.print_json(show_schema())


commands_checks.add_commands(app, lambda: _command_line)
commands_optics.add_commands(app, lambda: _command_line)
commands_floor.add_commands(app, lambda: _command_line)
commands_review.add_commands(app, lambda: _command_line)
commands_sheets.add_commands(app, lambda: _command_line)
commands_dossier.add_commands(app, lambda: _command_line)
commands_kept.add_commands(app)


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command line; returns the exit status. Errors leave as sentences, never as tracebacks."""
    arguments = list(sys.argv[1:] if arguments is None else arguments)
    _command_line[:] = ["preview", *arguments]
    # A terminated run cleans up its unfinished files as an interrupted one does.
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(TERMINATED))
    try:
        with warnings.catch_warnings():
            # A library's doubts about a file are no sentence for a user; --debug shows them.
            if "--debug" not in arguments and not sys.warnoptions:
                warnings.simplefilter("ignore")
            status = app(args=arguments, prog_name="preview", standalone_mode=False)
    except PreviewError as error:
        return _fail(error, arguments)
    except typer.TyperException as error:
        return _fail(RequestError(error.format_message()), arguments)
    except (KeyboardInterrupt, typer.Abort):
        status = STOPPED
    except BrokenPipeError:
        # The reader of our output left (`preview info ... | head`); nothing more can be said to it.
        sys.stdout = None  # type: ignore[assignment]
        return FAILED
    except Exception as error:
        return _fail_unexpectedly(error, arguments)
    if status == STOPPED:  # typer, too, turns an interrupt into this status
        terminal.print_note("stopped; finished files are kept, unfinished ones are removed")
    return status if isinstance(status, int) else DONE


def _tell(result: Result, as_json: bool) -> None:
    """A comparison's numbers and files, or one JSON document; what a reader must know beside them."""
    if as_json:
        files = [asdict(entry) for entry in result.files]
        terminal.print_json({"folder": str(result.folder), "files": files, **result.data})
        return
    if result.data.get("measures"):
        terminal.print_measures(result.data)
    for entry in result.files:
        terminal.print_line(str(result.folder / entry.name))
    for remark in result.remarks:
        terminal.print_note("note: " + remark)


def _fail(error: PreviewError, arguments: Sequence[str]) -> int:
    if isinstance(error, GraphicsError) and "--debug" in arguments:
        traceback.print_exception(error)
    if "--json" in arguments:
        terminal.print_json(terminal.error_data(error))
    else:
        terminal.print_error(error)
    return BAD_INPUT if isinstance(error, (ShowError, AssetError, RequestError)) else FAILED


def _fail_unexpectedly(error: Exception, arguments: Sequence[str]) -> int:
    """An error that is not the user's: one sentence, and what to run to see it again."""
    if isinstance(error, ImportError) and ".so" in str(error):
        library = str(error).split(":")[0]
        sentence = f"the system library {library} is missing; on Debian: apt-get install {SYSTEM_PACKAGES}"
        return _fail(GraphicsError(sentence), arguments)
    cause = error.__cause__ if isinstance(error, FrameFailed) and error.__cause__ else error
    where = f" in {error}" if isinstance(error, FrameFailed) else ""
    reason = " ".join(f"{type(cause).__name__}: {cause}".split())
    notes = getattr(error, "__notes__", ())
    command = ["preview", *(word for word in arguments if word != "--debug"), "--debug"]
    again = notes[0] if notes else shlex.join(command)
    internal = PreviewError(f"internal error{where}: {reason}; the program is at fault, please report it")
    internal.add_note(f"this shows it again, with the traceback: {again}")
    if "--debug" in arguments:
        traceback.print_exception(error)
    return _fail(internal, arguments)


if __name__ == "__main__":
    sys.exit(main())
