"""What the command line shows: tables, progress with time left, summaries and error sentences.

Results go to standard output, everything else to standard error. Progress is silent when standard
error is not a terminal.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from typing import Any

from rich import box
from rich.console import Console
from rich.markup import escape
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TaskID, TextColumn, TimeRemainingColumn
from rich.table import Table
from rich.text import Text

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


@contextmanager
def steps() -> Iterator[Callable[[str, int, int], None]]:
    """A progress bar for work in several steps; yields the function to tell what, done and total."""
    console = err()
    bar = Progress(
        TextColumn("{task.description}"),
        BarColumn(),
        MofNCompleteColumn(),
        TimeRemainingColumn(),
        TextColumn("left"),
        console=console,
        transient=True,
        disable=not console.is_terminal,
    )
    tasks: dict[str, TaskID] = {}

    def tell(what: str, done: int, total: int) -> None:
        if what not in tasks:
            for earlier in tasks.values():
                bar.update(earlier, visible=False)
            tasks[what] = bar.add_task(what, total=total)
        bar.update(tasks[what], completed=done, total=total)

    with bar:
        yield tell


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
    for table in (_surfaces(facts), _cameras(facts), _exposures(facts)):
        console.print()
        console.print(table)
    if facts["slots"]:
        console.print()
        console.print(_slots(facts))
        for finding in facts["slot_findings"]:
            console.print("- " + escape(finding), soft_wrap=True)
    console.print()
    console.print(_shots(facts))
    for note in facts["notes"]:
        console.print("note: " + escape(note), soft_wrap=True)


def print_measures(data: Mapping[str, Any]) -> None:
    """A table of one comparison's measures, a row a region; regions without pixels say so."""
    console = out()
    title = f"{data['first']} against {data['second']}, {data['timecode']}"
    console.print(f"[bold]{escape(title)}[/]", soft_wrap=True)
    table = _table("", "region", "share|%", "PSNR|dB", "SSIM| ", "CIEDE2000|mean", "CIEDE2000|95 %")
    for region, found in data["measures"].items():
        if found is None:
            table.add_row(region, "no pixels")
            continue
        ssim = "-" if found["ssim"] is None else f"{found['ssim']:.4f}"
        psnr = "identical" if found["identical"] else f"{found['psnr_db']:.2f}"
        mean, p95 = f"{found['de2000_mean']:.2f}", f"{found['de2000_p95']:.2f}"
        table.add_row(region, f"{100 * found['share']:.1f}", psnr, ssim, mean, p95)
    console.print(table)


def print_cuts(data: Mapping[str, Any]) -> None:
    """Tables of ``preview.cuts.report``, a sentence for all that is not clean, and the suggestions."""
    console, show = out(), data["show"]
    held = sorted(set(show["picture_frames"].values()))
    console.print(f"[bold]{escape(show['title'])}[/]  {escape(show['path'])}", soft_wrap=True)
    console.print(
        f"wall {show['drive']}; after a cue the wall changes {show['wall_switch_frames']} frames later, the "
        f"mixer cuts {' or '.join(map(str, held))} frames later",
        soft_wrap=True,
    )
    for table in (_cuts(data), _delay_tries(data), _overscan(data)):
        if table.row_count:
            console.print()
            console.print(table)
    for check in data["checks"]:
        told = [finding for finding in check["findings"] if finding["grade"] != "fine"]
        if told:
            console.print(f"\n[bold]{escape(check['question'])}[/]", soft_wrap=True)
        for finding in told:
            console.print(f"- {escape(finding['sentence'])}", soft_wrap=True)
            if finding["remedy"] and check["check"] != "cuts":
                console.print(f"  remedy: {escape(finding['remedy'])}", soft_wrap=True)
    console.print("\n[bold]Suggested[/]")
    for line in data["advice"]:
        console.print(f"- {escape(line)}", soft_wrap=True)
    for note in data["notes"]:
        console.print("note: " + escape(note), soft_wrap=True)


GRADE_LOOKS = {
    "fault": ("×", "bold red", "Faults: would be seen and can be put right"),
    "compromise": ("◐", "bold cyan", "Compromises: are seen, and this set-up cannot avoid them"),
    "fine": ("○", "green", "Looked at and right"),
}


def print_checks(data: Mapping[str, Any]) -> None:
    """What ``preview.report`` found: a verdict, faults, compromises, what is right, and cautions."""
    console = out()
    console.print(f"[bold]{escape(data['verdict'])}[/]")
    show, looked = data["show"], data["looked_at"]
    line = f"{show['title']}, {looked['first_timecode']} to {looked['last_timecode']}, wall {show['drive']}"
    console.print(escape(f"{line}  {show['path']}"), soft_wrap=True)
    if looked["every"] > 1 and looked["saw_every_frame"]:
        console.print(escape(f"every frame all the same: {', '.join(looked['saw_every_frame'])}"))
    numbers = {shot["name"]: shot["number"] for shot in show["shots"]}
    for grade in ("fault", "compromise"):
        told = [(check["check"], one) for check in data["checks"] for one in check["findings"]]
        told = sorted((item for item in told if item[1]["grade"] == grade), key=lambda i: i[1]["frames"])
        if told:
            console.print()
            console.print(_findings(grade, told, numbers))
    fine = [check for check in data["checks"] if check["grade"] == "fine"]
    if fine:
        mark, style, words = GRADE_LOOKS["fine"]
        console.print(f"\n[bold]{words}[/]")
        for check in fine:
            console.print(f"[{style}]{mark}[/] {escape(check['check'])}: {escape(check['question'])}")
    if data["not_looked_at"]:
        console.print("\n[bold]Not looked at[/]")
        for why in dict.fromkeys(one["why"] for one in data["not_looked_at"]):
            names = [one["check"] for one in data["not_looked_at"] if one["why"] == why]
            console.print(escape(f"- {', '.join(names)}: {why}"))
    console.print("\n[bold]Before you rely on it[/]")
    for line in (*data["cautions"], data["limits"]):
        console.print("- " + escape(line))
    for note in data["notes"]:
        console.print("note: " + escape(note), soft_wrap=True)


def _findings(grade: str, told: Sequence[tuple[str, Mapping[str, Any]]], numbers: Mapping[str, int]) -> Table:
    mark, style, words = GRADE_LOOKS[grade]
    table = _table(words, "", "check", "when", "camera")
    table.add_column("what is seen, and the remedy", overflow="fold", ratio=1)
    table.expand = True
    for check, finding in told:
        first, last = finding["timecodes"]
        stretch = first if first == last else f"{first}\n{last}"
        shot = finding["shot"]
        when = f"{stretch}\n{numbers[shot]} {shot}" if shot in numbers else stretch
        seen = escape(finding["sentence"])
        if finding["remedy"]:
            seen += f"\n[bold]remedy:[/] {escape(finding['remedy'])}"
        cameras = escape("\n".join(finding["cameras"]))
        table.add_row(f"[{style}]{mark}[/]", escape(check), Text(when), cameras, seen)
        table.add_row()
    return table


def _cuts(data: Mapping[str, Any]) -> Table:
    columns = ("shot", "transition", "on programme", "wall changes", "wrong|frames", "mixed on|one wall")
    table = _table("Changes of camera", *columns, "drawn|as told")
    for finding in data["checks"][0]["findings"]:
        found = finding["measures"]
        mix = f", {found['mix_frames']} frames" if found["mix_frames"] else ""
        drawn = f"{found['as_told_frames']} of {found['drawn_frames']}" if found["drawn_frames"] else "-"
        wrong = str(found["wrong_frames"])
        table.add_row(
            escape(f"{found['shot_number']} {finding['shot']}"),
            escape(f"{found['transition']} to {finding['cameras'][1]}{mix}"),
            found["programme_timecode"] or "never",
            found["wall_timecode"] or "-",
            f"[bold red]{wrong}[/]" if found["wrong_frames"] else wrong,
            str(found["shared_mix_frames"]) if found["mix_frames"] else "-",
            drawn,
        )
    return table


def _delay_tries(data: Mapping[str, Any]) -> Table:
    delay = data["picture_delay"]
    cameras = list(delay["by_camera_frames"])
    columns = [f"cuts to {camera}|wrong" for camera in cameras]
    table = _table(
        "Picture delays tried", "held back|frames", "all|wrong", *columns, "wall off its|place, frames", ""
    )
    for one in delay["tries"] if cameras else ():
        frames = one["picture_frames"]
        words = ["in use"] if set(delay["now_frames"].values()) == {frames} else []
        words += ["suggested"] if frames == delay["suggested_frames"] else []
        by_camera = [str(one["wrong_by_camera"][camera]) for camera in cameras]
        off = str(one["switch_off_frames"])
        table.add_row(str(frames), str(one["wrong_frames"]), *by_camera, off, ", ".join(words))
    return table


def _overscan(data: Mapping[str, Any]) -> Table:
    table = _table(
        "Overscan a side", "camera", "has|%", "needs|%", "suggested|%", "where", "pixels missed|with it",
        "pixels missed|with less",
    )  # fmt: skip
    for one in data["overscan"]:
        proof = one["proofs"][0] if one["proofs"] else None
        table.add_row(
            escape(one["camera"]),
            f"{one['given_percent']:g}",
            "out of reach" if one["needed_percent"] is None else f"{one['needed_percent']:.2f}",
            "none helps" if one["suggested_percent"] is None else f"{one['suggested_percent']:.1f}",
            one["worst_timecode"] or "never late on programme",
            "-" if proof is None else str(proof["with_suggestion"]),
            "-" if proof is None else f"{proof['with_less']} with {proof['less_percent']:g} %",
        )
    return table


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


_OVER = ("white_over_key_stops", "white_over_full_video_stops", "over_preview_stops")


def _exposures(facts: Mapping[str, Any]) -> Table:
    table = _table(
        f"Exposure of the wall's white, {facts['white_cd_m2']:g} cd/m2; key is a card of "
        f"{facts['key_percent']:g} %",
        *(
            "camera",
            "T-stop| ",
            "shutter|s",
            "ISO| ",
            "key|cd/m2",
            "over key|stops",
            "over 100 % video|stops",
        ),
        "over preview|stops",
    )
    for row in facts["exposures"]:
        stated = "*" if row["iso_from"] == "sensitivity" else ""
        table.add_row(
            escape(f"{row['number']} {row['camera']}"),
            f"{row['t_stop']:g}",
            f"1/{1000 / row['exposure_ms']:.4g}",
            f"{row['iso']:.0f}{stated}",
            f"{row['key_cd_m2']:.3g}",
            *(f"{row[key]:+.1f}" for key in _OVER),
        )
    stated = (
        " * from its stated sensitivity." if any(r["iso_from"] != "iso" for r in facts["exposures"]) else ""
    )
    table.caption = (
        "Over preview: how much brighter the camera would be than the pictures drawn here, without ND."
        + stated
    )
    table.caption_justify = "left"
    return table


def _slots(facts: Mapping[str, Any]) -> Table:
    table = _table(
        "Slots of every frame",
        *("slot", "camera", "from|ms", "length|ms", "open|ms"),
        *("loss to full frame|stops", "loss to own shutter|stops", "each ghost|stops"),
    )
    for place, slot in enumerate(facts["slots"], 1):
        ghost = slot["ghost_stops"]
        table.add_row(
            str(place),
            escape(slot["camera"]),
            *(f"{slot[key]:.2f}" for key in ("start_ms", "length_ms", "open_ms")),
            *(f"{slot[key]:.2f}" for key in ("loss_stops", "lost_of_own_stops")),
            "none" if ghost is None else f"{ghost:+.1f}",
        )
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
