"""Arguments and options that several commands share, with the words that `--help` says of them."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

ShowPath = Annotated[Path, typer.Argument(metavar="SHOW", help="The show file (TOML).")]
OutDir = Annotated[Path, typer.Option("--out", metavar="DIR", help="Where files go; earlier files stay.")]
PictureSize = Annotated[
    str | None, typer.Option("--size", metavar="WxH", help="Picture size; the show's by default.")
]
AsJson = Annotated[
    bool, typer.Option("--json", metavar="", help="Print the result, or the error, as one JSON document.")
]
Debug = Annotated[bool, typer.Option("--debug", metavar="", help="Show the traceback of an internal error.")]
Kept = Annotated[
    Path | None,
    typer.Option("--kept", metavar="DIR", help="Where drawn pictures are kept for later runs."),
]
NoKept = Annotated[
    bool, typer.Option("--no-kept", metavar="", help="Draw every picture, and keep none for later runs.")
]
