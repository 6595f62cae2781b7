"""The command on kept pictures: how many, where, and away with them; part of the command line."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from preview import terminal
from preview.options import AsJson, Debug


def add_commands(app: typer.Typer) -> None:
    """Add the command to the command line."""

    @app.command()
    def kept(
        folder: Annotated[
            Path | None,
            typer.Option("--kept", metavar="DIR", help="Which folder; the one runs use by default."),
        ] = None,
        clear: Annotated[bool, typer.Option("--clear", metavar="", help="Remove them all.")] = False,
        as_json: AsJson = False,
        debug: Debug = False,
    ) -> None:
        """Pictures kept from earlier runs, which later runs need not draw again: how many, and where."""
        from preview.kept.pictures import kept_store
        from preview.review.atomic import output_error

        store = kept_store(folder)
        try:
            found = store.clear() if clear else store.extent()
        except OSError as error:
            raise output_error(store.folder, error) from error
        if as_json:
            terminal.print_json(
                {
                    "folder": str(store.folder),
                    "limit_bytes": store.limit_bytes,
                    "pictures": found.file_count,
                    "bytes": found.byte_count,
                    "removed": clear,
                }
            )
            return
        size, limit = found.byte_count / 1e6, store.limit_bytes / 1e9
        told = f"{size / 1e3:.1f} GB" if size >= 1e3 else f"{size:.0f} MB"
        word = "removed" if clear else "kept"
        terminal.print_line(str(store.folder))
        terminal.print_line(f"{found.file_count} pictures {word}, {told}; at most {limit:g} GB are kept")
