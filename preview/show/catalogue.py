"""The equipment catalogue: LED tiles, sensors and lenses by name.

The shared catalogue travels with the program; a show may name its own file beside the show file,
whose entries win over shared ones of the same name.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

from pydantic import Field

from preview.errors import Problem, ShowError
from preview.show import model
from preview.show.document import read_document
from preview.show.entry import Entry, Findings
from preview.show.keys import known_keys_only
from preview.show.resources import shared_dir
from preview.show.values import check_values


class Catalogue(model.Table):
    """Equipment by name."""

    tiles: dict[str, model.Tile] = Field(default_factory=dict)
    """LED tiles."""
    sensors: dict[str, model.Sensor] = Field(default_factory=dict)
    """Camera sensors."""
    lenses: dict[str, model.Lens] = Field(default_factory=dict)
    """Lenses."""

    def over(self, other: Catalogue) -> Catalogue:
        """Both catalogues' entries; this one's win."""
        return Catalogue(
            tiles=other.tiles | self.tiles,
            sensors=other.sensors | self.sensors,
            lenses=other.lenses | self.lenses,
        )


def read_catalogue(path: str | Path) -> Catalogue:
    """Read one catalogue file.

    Raises
    ------
    ShowError : all its problems
    """
    document, problems = read_document(path)
    document, unknown = known_keys_only(document, Catalogue)
    findings = Findings(document, problems + unknown)
    catalogue = check_values(findings, Catalogue)
    for _, lens in findings.top.named_tables("lenses"):
        check_focal_range(findings, lens)
    if findings.problems or catalogue is None:
        raise ShowError(findings.ordered())
    return catalogue


@cache
def shared_catalogue() -> Catalogue:
    """The catalogue that travels with the program."""
    return read_catalogue(shared_dir() / "catalogue.toml")


def catalogue_for(own: Path | None) -> tuple[Catalogue, list[Problem]]:
    """The shared catalogue under the show's own one, and what is wrong with the latter."""
    if own is None:
        return shared_catalogue(), []
    try:
        return read_catalogue(own).over(shared_catalogue()), []
    except ShowError as error:
        return shared_catalogue(), error.problems


def check_focal_range(findings: Findings, lens: Entry) -> None:
    """A lens's shortest focal length comes first."""
    lengths = lens.numbers("focal_length_mm")
    if lengths and len(lengths) == 2 and lengths[0] > lengths[1]:
        findings.add(
            lens.at("focal_length_mm"),
            f"[{lengths[0]:g}, {lengths[1]:g}] runs downwards",
            f"write the shortest first: [{lengths[1]:g}, {lengths[0]:g}]",
        )
