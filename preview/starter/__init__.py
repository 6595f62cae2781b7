"""``preview new``: a small show of the user's own that renders at once."""

from __future__ import annotations

from pathlib import Path

from preview.errors import OutputError
from preview.review.atomic import output_folder, write_bytes
from preview.starter.garden_room import garden_room_glb


def write_starter(folder: Path) -> Path:
    """Write a show file and its scene into a folder that is new or empty.

    Returns
    -------
    path of the show file

    Raises
    ------
    OutputError : something stands in the folder already, or it cannot be written.
    """
    if folder.is_dir() and any(folder.iterdir()):
        raise OutputError(folder, "is not empty", "name a new or an empty folder; nothing was changed")
    template = Path(__file__).with_name("show.toml").read_bytes()
    with output_folder(folder), output_folder(folder / "scenes"):
        write_bytes(folder / "scenes" / "garden_room.glb", garden_room_glb())
        # Last: a show file that is there means that all of it is.
        write_bytes(folder / "show.toml", template)
    return folder / "show.toml"
