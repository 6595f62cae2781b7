"""A comparison over a run of frames: one row a frame, as plain data and as CSV.

A region without pixels in a frame has empty cells. Equal pictures have the PSNR ``inf``, as numbers are read
by most tools; in JSON, which has no such number, ``psnr_db`` is null and ``identical`` is true.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from math import inf
from typing import Any

from preview.compare.measures import Measures
from preview.compare.regions import REGIONS, WHOLE

_FACTS = ("timecode", "frame", "shot_number", "shot", "on_air", "mix_from", "wall_camera", "camera")
_MEASURES = ("share", "psnr_db", "ssim", "de2000_mean", "de2000_p95")
_DIGITS = {"share": 6, "psnr_db": 4, "ssim": 6, "de2000_mean": 4, "de2000_p95": 4}


@dataclass(frozen=True)
class Row:
    """One frame of a comparison.

    Attributes
    ----------
    timecode, frame : label, and number from the rundown's start
    shot_number, shot : the shot cued last
    on_air, mix_from : who programme shows; ``mix_from`` is "" outside a mix
    wall_camera : whose frustum a switched wall shows, or is on top of a shared one
    camera : whose pictures are compared
    measures : region name to its Measures; None for a region without pixels
    """

    timecode: str
    frame: int
    shot_number: int
    shot: str
    on_air: str
    mix_from: str
    wall_camera: str
    camera: str
    measures: Mapping[str, Measures | None]

    def as_data(self) -> dict[str, Any]:
        """The row as JSON types."""
        data: dict[str, Any] = {name: getattr(self, name) for name in _FACTS}
        data["measures"] = {name: measures_data(found) for name, found in self.measures.items()}
        return data


def measures_data(found: Measures | None) -> dict[str, Any] | None:
    """Measures as JSON types; None for a region without pixels."""
    if found is None:
        return None
    data: dict[str, Any] = {}
    for name in _MEASURES:
        value = getattr(found, name)
        data[name] = None if value is None or value == inf else round(value, _DIGITS[name])
    return {**data, "identical": found.identical}


def csv_text(rows: Iterable[Row]) -> str:
    """The rows as CSV with a head line; measures of each region as ``wall_psnr_db`` and so on."""
    regions = (WHOLE, *REGIONS)
    columns = [f"{region.replace('-', '_')}_{name}" for region in regions for name in _MEASURES]
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow([*_FACTS, *columns])
    for row in rows:
        cells = [_cell(name, row.measures[region]) for region in regions for name in _MEASURES]
        writer.writerow([*(getattr(row, name) for name in _FACTS), *cells])
    return text.getvalue()


def _cell(name: str, found: Measures | None) -> str:
    value = None if found is None else getattr(found, name)
    if value is None:
        return ""
    return "inf" if value == inf else f"{value:.{_DIGITS[name]}f}"
