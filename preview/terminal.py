"""What the command line shows: tables, progress with time left, summaries and error sentences.

Results go to standard output, everything else to standard error. Progress is silent when standard
error is not a terminal.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from typing import Any

from rich import box
from rich.console import Console
from rich.markup import escape
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn
from rich.table import Table

from preview.errors import PreviewError, ShowError

PIPED_WIDTH = 120
WRAPPED = ("name", "camera", "framing", "shot", "on air", "cues")
"""Columns that give way on a narrow screen: numbers and timecodes stay whole."""


def out() -> Console:
    """Standard output as it is now (tests swap it), without colour when it is not a terminal."""
    console = Console(highlight=False)
    # A file or a pipe has no edge: tables keep their lines whole there.
    return console if console.is_terminal else Console(highlight=False, width=PIPED_WIDTH)


def err() -> Console:
    """Standard error as it is now."""
    return Console(stderr=True, highlight=False)


@contextmanager
def progress(what: str) -> Iterator[Callable[[int, int], None]]:
    """A progress bar with time left; yields the function to tell done and total."""
    console = err()
    bar = Progress(
        TextColumn("{task.description}"),
        BarColumn(),
        MofNCompleteColumn(),
        TextColumn("frames,"),
        TimeRemainingColumn(),
        TextColumn("left"),
        console=console,
        transient=True,
        disable=not console.is_terminal,
    )
    with bar:
        task = bar.add_task(what, total=None)
        yield lambda done, total: bar.update(task, completed=done, total=total)


def print_json(data: Mapping[str, Any]) -> None:
    """One JSON document on standard output."""
    print(json.dumps(data, indent=2, ensure_ascii=False))


def print_line(text: str) -> None:
    """One line of result on standard output, never wrapped."""
    print(text)


def print_note(text: str) -> None:
    """A sentence beside the result, on standard error."""
    err().print(escape(text), soft_wrap=True)


def print_error(error: PreviewError) -> None:
    """A user's error: its sentences, one a line, and nothing of the program's inside."""
    for line in (*str(error).splitlines(), *getattr(error, "__notes__", ())):
        err().print("[bold red]error:[/] " + escape(line), soft_wrap=True)


def error_data(error: PreviewError) -> dict[str, Any]:
    """The same for ``--json``."""
    data: dict[str, Any] = {"kind": type(error).__name__, "message": str(error)}
    if isinstance(error, ShowError):
        data["problems"] = [vars(problem) for problem in error.problems]
    notes = getattr(error, "__notes__", None)
    if notes:
        data["notes"] = list(notes)
    return {"error": data}


def print_facts(facts: Mapping[str, Any]) -> None:
    """Tables of ``preview.facts.show_facts``."""
    console, show = out(), facts["show"]
    width, height = show["picture_size_px"]
    console.print(f"[bold]{escape(show['title'])}[/]  {escape(show['path'])}", soft_wrap=True)
    console.print(
        f"{show['first_timecode']} to {show['last_timecode']}, {show['frames']} frames "
        f"({show['seconds']} s) at {show['frame_rate']} frames per second, {width} x {height}, "
        f"wall {show['drive']}",
        soft_wrap=True,
    )
    for table in (_surfaces(facts), _cameras(facts), _shots(facts)):
        console.print()
        console.print(table)
    for note in facts["notes"]:
        console.print("note: " + escape(note), soft_wrap=True)


def _table(title: str, *columns: str) -> Table:
    table = Table(
        title=title,
        title_justify="left",
        title_style="bold",
        box=box.SIMPLE_HEAD,
        padding=(0, 1, 0, 0),
        pad_edge=False,
        show_edge=False,
    )
    for column in columns:
        name, _, unit = column.partition("|")
        heading = f"{name}\n{unit}" if unit else name
        table.add_column(heading, justify="right" if unit else "left", no_wrap=name not in WRAPPED)
    return table


def _surfaces(facts: Mapping[str, Any]) -> Table:
    table = _table(
        "LED surfaces", "name", "kind", "size|m", "canvas|px", "pitch|mm", "wrap|deg", "area|m2", "peak|cd/m2"
    )
    for surface in facts["surfaces"]:
        width, height = surface["size_m"]
        table.add_row(
            escape(surface["name"]),
            surface["kind"],
            f"{width:.2f} x {height:.2f}",
            "{} x {}".format(*surface["canvas_px"]),
            f"{surface['pixel_pitch_mm']:g}",
            "mesh" if surface["wrap_deg"] is None else f"{surface['wrap_deg']:.1f}",
            f"{surface['area_m2']:.1f}",
            f"{surface['peak_luminance_cd_m2']:.0f}",
        )
    return table


def _cameras(facts: Mapping[str, Any]) -> Table:
    table = _table(
        "Cameras", "camera", "mount", "sensor|mm", "lens|mm", "framing", "focal|mm", "HFOV|deg", "focus|m"
    )
    for camera in facts["cameras"]:
        low, high = camera["lens_mm"]
        name = f"{camera['number']} {camera['name']}"
        first = [
            escape(f"{name}, {camera['operator']}" if camera["operator"] else name),
            camera["mount"],
            "{:g} x {:g}".format(*camera["sensor_mm"]),
            f"{low:g}" if low == high else f"{low:g} to {high:g}",
        ]
        for framing in camera["framings"]:
            table.add_row(
                *first,
                escape(framing["name"]),
                f"{framing['focal_length_mm']:g}",
                f"{framing['horizontal_angle_deg']:.1f}",
                f"{framing['focus_m']:.2f}",
            )
            first = [""] * 4
        table.add_section()
    return table


def _shots(facts: Mapping[str, Any]) -> Table:
    table = _table("Running order", "shot", "from", "to", "length|s", "on air", "transition", "cues")
    for shot in facts["shots"]:
        mix = f"mix, {shot['mix_frames']} fr" if shot["transition"] == "mix" else "cut"
        cues = []
        for cue in shot["cues"]:
            if not cue["inherited"]:
                after = f" after {cue['after_s']:g} s" if cue["after_s"] else ""
                cues.append(f"{cue['camera']}: {cue['move'] or cue['framing']}{after}")
        table.add_row(
            escape(f"{shot['number']} {shot['name']}"),
            shot["first_timecode"],
            shot["last_timecode"],
            f"{shot['seconds']:.2f}",
            escape(shot["on_air"]),
            mix,
            escape("\n".join(cues)),
        )
    return table
