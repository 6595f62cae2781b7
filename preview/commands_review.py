"""Commands that put a show before people: multiviews; parts of the command line as ``preview/cli.py`` is."""

from __future__ import annotations

import shlex
from collections.abc import Callable, Sequence
from dataclasses import asdict
from typing import Annotated

import typer

from preview import terminal
from preview.options import AsJson, Debug, OutDir, ShowPath

Start = Annotated[str | None, typer.Option("--from", metavar="TC", help="First frame.")]
End = Annotated[str | None, typer.Option("--to", metavar="TC", help="Last frame.")]


def add_commands(app: typer.Typer, command_line: Callable[[], Sequence[str]]) -> None:
    """Add the commands to the command line.

    Parameters
    ----------
    command_line : the words typed, for manifests
    """

    @app.command()
    def multiview(
        show_path: ShowPath,
        out: OutDir,
        start: Start = None,
        end: End = None,
        every: Annotated[
            str, typer.Option("--every", metavar="N", help="Draw each N-th frame and every cut, and hold it.")
        ] = "1",
        size: Annotated[
            str | None, typer.Option("--size", metavar="WxH", help="Size of the clip; 1920x1080 by default.")
        ] = None,
        as_json: AsJson = False,
        debug: Debug = False,
    ) -> None:
        """A clip with every return, programme, wall and plan in one picture, with tally and coming shots."""
        from preview.frame import Studio
        from preview.job import chosen_every, chosen_range, chosen_size_px
        from preview.multiview.run import CAUTION, SIZE_PX, layout_of, write_multiview
        from preview.review.atomic import check_output_folder
        from preview.review.clips import check_clip_size
        from preview.show.load import load_show
        from preview.timeline.timeline import Timeline

        show = load_show(show_path)
        frames = chosen_range(start, end, Timeline(show))
        held, size_px = chosen_every(every, clip=True), chosen_size_px(size, SIZE_PX)
        check_clip_size(size_px)
        tile_px = layout_of(show.file, size_px).tile_px
        check_output_folder(out)
        with Studio(show, tile_px) as studio, terminal.progress("multiview") as on_frame:
            words = shlex.join(command_line())
            result = write_multiview(studio, out, frames, held, size_px, words, on_frame)
        if as_json:
            data = {"folder": str(result.folder), "files": [asdict(entry) for entry in result.files]}
            told = {"frame_count": len(result.drawn), "seconds": round(result.seconds, 2)}
            notes = {"graphics": result.graphics, "notes": result.notes, "caution": CAUTION}
            terminal.print_json({**data, **told, **notes})
            return
        for entry in result.files:
            terminal.print_line(str(result.folder / entry.name))
        for note in result.notes:
            terminal.print_note("note: " + note)
        terminal.print_note(
            f"{len(result.drawn)} frames drawn in {result.seconds:.0f} s by {result.graphics}; "
            f"{result.folder}/manifest.json lists the clip"
        )
        terminal.print_note(f"note: {CAUTION}")
