"""The commands' work: draw, compare, and write pictures and numbers into one folder with its manifest."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import isfinite
from pathlib import Path
from typing import Any

from preview.compare.delivery import Delivery
from preview.compare.measures import measure
from preview.compare.offset import SHORTEST_WINDOW, Offset, OffsetSearch, search_at, unrelated
from preview.compare.pairs import RETURN_AS_SHOT, RETURN_PROGRAMME, Compared, Pair, draw_pair
from preview.compare.pictures import difference_sheet, wipe_sheet
from preview.compare.plot import Cut, plot_png
from preview.compare.regions import REGIONS, RegionFinder
from preview.compare.return_sheet import facts_of, return_sheet
from preview.compare.series import Row, csv_text
from preview.errors import RequestError, of_frame
from preview.frame import Studio, Wanted
from preview.review.manifest import FileEntry

DEFAULT_AMPLIFY = 4.0
DEFAULT_WIPE_AT = 0.5


@dataclass(frozen=True)
class Result:
    """What was written, and the numbers.

    Attributes
    ----------
    folder, files : the files, in the order they were written
    data : everything found, as JSON types
    remarks : sentences that a reader of the numbers has to know
    """

    folder: Path
    files: tuple[FileEntry, ...]
    data: dict[str, Any]
    remarks: tuple[str, ...]


@dataclass(frozen=True)
class Looks:
    """How the pictures of a comparison are made.

    Attributes
    ----------
    amplify : factor of the difference pictures, > 0
    wipe_at : where the wipe's line stands, as a share of the width

    Raises
    ------
    RequestError : a value that cannot be drawn.
    """

    amplify: float = DEFAULT_AMPLIFY
    wipe_at: float = DEFAULT_WIPE_AT

    def __post_init__(self) -> None:
        if not (isfinite(self.amplify) and 0 < self.amplify <= 255):
            raise RequestError(f"--amplify {self.amplify:g}: write a factor above 0, 255 at most")
        if not 0 <= self.wipe_at <= 1:
            raise RequestError(f"--wipe-at {self.wipe_at:g}: write a share of the width from 0 to 1")


def write_return(studio: Studio, camera: str | None, frame: int, folder: Path, command: str = "") -> Result:
    """One operator's return beside what the camera shoots: two stills, and a page with both.

    Parameters
    ----------
    studio : the show, ready to draw
    camera : whose return; None for the camera on air
    frame : from the rundown's start
    folder : where files go
    command : noted in the manifest

    Raises
    ------
    OutputError : something cannot be written.
    FrameFailed : the frame hit an error that is not the user's.
    """
    timeline = studio.timeline
    moment = timeline.at(frame)
    camera = camera or moment.on_air
    with Delivery(studio, folder, command, (frame, frame), pictures=4) as outputs:
        with of_frame(frame, studio.timeline.timecode(frame)):
            drawn = {p.kind: p for p in studio.pictures(frame, Wanted(("as-shot", "return"), (camera,)))}
            as_shot, returned = drawn["as-shot"], drawn["return"]
            facts = facts_of(studio.show.file, timeline, moment, camera)
            shares = (as_shot.off_wall, returned.off_wall)
            sheet = return_sheet(facts, as_shot.code, returned.code, shares)
        for picture in (as_shot, returned):
            outputs.still(frame, picture.kind, camera, picture.code, picture.off_wall)
        outputs.still(frame, "return-beside-as-shot", camera, sheet)
    data = {
        "camera": camera,
        "number": facts.number,
        "operator": facts.operator,
        "tally": facts.tally,
        "framing": facts.framing,
        "timecode": facts.timecode,
        "frame": frame,
        "shot_number": moment.shot_index + 1,
        "shot": moment.shot,
        "on_air": moment.on_air,
        "mix_from": moment.mix_from,
        "wall_camera": moment.wall_camera,
        "wall": facts.wall,
        "return_late_frames": facts.late_frames,
        "off_wall": {"as-shot": as_shot.off_wall, "return": returned.off_wall},
    }
    remarks = (f"the return is late: {facts.late[0].lower()}{facts.late[1:]}",) if facts.late else ()
    return Result(folder, tuple(outputs.entries), data, remarks)


def compare_frame(
    studio: Studio,
    pair: Pair,
    camera: str | None,
    frame: int,
    folder: Path,
    looks: Looks = Looks(),
    window: int = SHORTEST_WINDOW,
    command: str = "",
) -> Result:
    """Compare one frame: two difference pictures, a wipe, and the numbers as JSON.

    Parameters
    ----------
    studio : the show, ready to draw
    pair : what to compare
    camera : whose return; None for the camera on air
    frame : from the rundown's start
    folder : where files go
    looks : amplification and place of the wipe
    window : frames searched either side for the return's delay
    command : noted in the manifest

    Raises
    ------
    OutputError : something cannot be written.
    FrameFailed : a frame hit an error that is not the user's.
    """
    with Delivery(studio, folder, command, (frame, frame), pictures=4) as outputs:
        with of_frame(frame, studio.timeline.timecode(frame)):
            compared = draw_pair(studio, frame, pair, camera)
            row = row_of(compared, RegionFinder(studio.raster))
            offset = search_at(studio, compared, window) if pair == RETURN_PROGRAMME else None
        labels, caption = compared.labels, f"{row.timecode}  shot {row.shot_number} {row.shot}"
        sheets = {
            form: difference_sheet(compared.first, compared.second, labels, form, looks.amplify, caption)
            for form in ("absolute", "signed")
        }
        for form, sheet in sheets.items():
            outputs.still(frame, f"{pair.file_name}-difference-{form}", row.camera, sheet)
        wiped = wipe_sheet(compared.first, compared.second, labels, looks.wipe_at, caption)
        outputs.still(frame, f"{pair.file_name}-wipe", row.camera, wiped)
        remarks = _remarks(compared, row, offset)
        data: dict[str, Any] = {
            "against": pair.name,
            "first": labels[0],
            "second": labels[1],
            **row.as_data(),
            "amplify": looks.amplify,
            "offset": _offset_data(offset),
            "remarks": list(remarks),
        }
        outputs.numbers(frame, f"{pair.file_name}-measures", row.camera, data)
    return Result(folder, tuple(outputs.entries), data, remarks)


def compare_range(
    studio: Studio,
    pair: Pair,
    camera: str | None,
    frames: range,
    folder: Path,
    window: int = SHORTEST_WINDOW,
    command: str = "",
    on_frame: Callable[[int, int], None] = lambda done, total: None,
) -> Result:
    """Compare a run of frames: a CSV with one row a frame, and a plot over time.

    Parameters
    ----------
    studio, pair, camera, folder, window, command : as ``compare_frame``
    frames : which frames, from the rundown's start; not empty
    on_frame : told frames done and frames in all

    Raises
    ------
    OutputError, FrameFailed : as ``compare_frame``.
    """
    search = None
    if pair == RETURN_PROGRAMME and frames.step == 1:
        search = OffsetSearch(window)
    rows: list[Row] = []
    remarks: dict[str, None] = {}
    with Delivery(studio, folder, command, (frames[0], frames[-1]), pictures=1) as outputs:
        finder = RegionFinder(studio.raster)
        on_frame(0, len(frames))
        for done, frame in enumerate(frames, start=1):
            with of_frame(frame, studio.timeline.timecode(frame)):
                compared = draw_pair(studio, frame, pair, camera)
                rows.append(row_of(compared, finder))
            if search:
                search.add(compared)
            if remark := unrelated(compared):
                remarks.setdefault(remark)
            on_frame(done, len(frames))
        offset = search.result() if search else None
        if offset:
            remarks[offset.said] = None
        if pair == RETURN_PROGRAMME and not search:
            remarks["the return's delay is looked for only where every frame is compared (--every 1)"] = None
        who = camera or ("the camera on air" if pair.of_camera else "")
        kind, subject = pair.file_name, camera or ""
        title = f"{pair.first} against {pair.second}{', ' + who if who else ''}"
        title = f"{studio.show.file.show.title}: {title}"
        png = plot_png(rows, cuts_of(studio, frames), elsewhere_of(studio, frames), title, frames.step)
        outputs.series(frames, kind, subject, csv_text(rows).encode(), ".csv", "table")
        outputs.series(frames, kind, subject, png, ".png", "plot")
    data = {
        "against": pair.name,
        "camera": camera,
        "every": frames.step,
        "rows": [row.as_data() for row in rows],
        "offset": _offset_data(offset),
        "remarks": list(remarks),
    }
    return Result(folder, tuple(outputs.entries), data, tuple(remarks))


def row_of(compared: Compared, finder: RegionFinder) -> Row:
    """One frame's facts and measures."""
    moment = compared.moment
    return Row(
        timecode=moment.timecode,
        frame=moment.frame,
        shot_number=moment.shot_index + 1,
        shot=moment.shot,
        on_air=moment.on_air,
        mix_from=moment.mix_from or "",
        wall_camera=moment.wall_camera,
        camera=compared.camera,
        measures=measure(compared.first, compared.second, finder.shared(compared.views)),
    )


def cuts_of(studio: Studio, frames: range) -> list[Cut]:
    """Every change of the camera on programme between the first and last frame; the first frame's too."""
    cuts: list[Cut] = []
    for frame in range(frames[0], frames[-1] + 1):
        on_air = studio.timeline.at(frame).on_air
        if not cuts or on_air != cuts[-1].on_air:
            cuts.append(Cut(frame, on_air))
    return cuts


def elsewhere_of(studio: Studio, frames: range) -> list[tuple[int, int]]:
    """First and last frame of each stretch in which the wall follows a camera that is not on programme."""
    if studio.show.file.drive.mode == "interleaved":
        return []
    stretches: list[tuple[int, int]] = []
    for frame in range(frames[0], frames[-1] + 1):
        moment = studio.timeline.at(frame)
        if moment.wall_camera in (moment.on_air, moment.mix_from):
            continue
        if stretches and stretches[-1][1] == frame - 1:
            stretches[-1] = (stretches[-1][0], frame)
        else:
            stretches.append((frame, frame))
    return stretches


def _remarks(compared: Compared, row: Row, offset: Offset | None) -> tuple[str, ...]:
    found = [unrelated(compared), offset.said if offset else None]
    late = compared.moment.camera(compared.camera)
    if compared.pair == RETURN_AS_SHOT and late.returned.view != late.view:
        found.append(
            "the return is delayed and the camera has moved since: the two pictures are apart in time too"
        )
    elsewhere = 1.0 - sum(part.share for region in REGIONS if (part := row.measures[region]))
    if elsewhere > 1e-9:
        found.append(
            f"{elsewhere:.1%} of the picture is in no region: the two pictures show different things there"
        )
    return tuple(remark for remark in found if remark)


def _offset_data(offset: Offset | None) -> dict[str, Any] | None:
    if offset is None:
        return None
    tried = [
        {"late_frames": late, "psnr_db": round(ratio, 4) if isfinite(ratio) else None,
         "identical": not isfinite(ratio)}
        for late, ratio in offset.psnr_db.items()
    ]  # fmt: skip
    return {"late_frames": offset.late_frames, "said": offset.said, "frames": offset.frames, "tried": tried}
