"""From a show file's path to a ``Show``: every problem at once, or everything filled in."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from preview.errors import PreviewError, ShowError
from preview.show import model
from preview.show.cameras import check_cameras
from preview.show.catalogue import Catalogue, catalogue_for
from preview.show.delays import check_delays
from preview.show.document import Document, key_path, read_document
from preview.show.entry import Findings
from preview.show.files import check_files
from preview.show.keys import known_keys_only
from preview.show.names import check_names
from preview.show.notes import show_notes
from preview.show.rundown import check_rundown
from preview.show.surfaces import check_layouts, check_standpoints, check_surfaces, with_tile
from preview.show.values import check_values

if TYPE_CHECKING:
    from preview.timeline.timeline import Timeline


@dataclass(frozen=True)
class Show:
    """A show file, read, checked and filled in from the equipment catalogue.

    Attributes
    ----------
    path : the show file, as given
    root : its folder; files it names are relative to it
    sha256 : hexadecimal digest of the show file
    file : its values; surfaces hold their tile's values, ``sensor`` and ``lens`` are tables
    notes : sentences about things that are allowed but may not be meant
    document : the file as written, for the place of a key
    """

    path: Path
    root: Path
    sha256: str
    file: model.ShowFile
    notes: tuple[str, ...]
    document: Document = field(repr=False, compare=False)

    def asset(self, relative: str) -> Path:
        """Path of a file that the show names."""
        return self.root / relative

    def error(self, key: str, found: str, fix: str) -> ShowError:
        """A problem found later, e.g. while a mesh is read, at the place of ``key`` in the file."""
        return ShowError([self.document.problem(key_path(key), found, fix)])


def load_show(path: str | Path) -> Show:
    """Read a show file.

    Parameters
    ----------
    path : a TOML file laid out as ``preview.show.model.ShowFile`` says

    Raises
    ------
    ShowError : all the problems that could be found, from the file's top to its bottom
    """
    path = Path(path)
    document, problems = read_document(path)
    document, unknown = known_keys_only(document, model.ShowFile)
    findings = Findings(document, problems + unknown)
    check_layouts(findings)
    file = check_values(findings, model.ShowFile)
    check_files(findings, path.parent)
    own = findings.top.text("catalogue")
    usable = own is not None and findings.clean(("catalogue",))
    catalogue, own_problems = catalogue_for(path.parent / own if own is not None and usable else None)
    findings.problems.extend(own_problems)
    unreadable = own_problems or (own is not None and not usable)
    check_names(findings, None if unreadable else catalogue)
    standpoints = check_cameras(findings, catalogue)
    check_standpoints(findings, standpoints, check_surfaces(findings, catalogue))
    check_rundown(findings)
    check_delays(findings)
    if findings.problems or file is None:
        raise ShowError(findings.ordered())
    file = _filled_in(file, catalogue)
    notes = (*findings.notes, *show_notes(file))
    show = Show(path, path.parent, document.sha256, file, notes, document)
    _check_timeline(show)
    return show


def _filled_in(file: model.ShowFile, catalogue: Catalogue) -> model.ShowFile:
    """The show with catalogue names replaced by what the catalogue says."""
    surfaces = tuple(with_tile(surface, catalogue) for surface in file.stage.surfaces)
    cameras = []
    for camera in file.cameras:
        sensor, lens = camera.sensor, camera.lens
        values = {
            "sensor": catalogue.sensors[sensor] if isinstance(sensor, str) else sensor,
            "lens": _as_set(catalogue.lenses[lens] if isinstance(lens, str) else lens, camera),
        }
        cameras.append(camera.model_copy(update=values))
    stage = file.stage.model_copy(update={"surfaces": surfaces})
    return file.model_copy(update={"stage": stage, "cameras": tuple(cameras)})


def _as_set(lens: model.Lens, camera: model.Camera) -> model.Lens:
    """The lens at the camera's T-stop, which is what everything downstream works with."""
    return lens if camera.t_stop is None else lens.model_copy(update={"t_stop": camera.t_stop})


def _check_timeline(show: Show) -> None:
    """Work the whole rundown out once: what no rule above foresaw still gets its line and key."""
    # The timeline imports the show's model, so it is imported where it is asked.
    from preview.timeline.timeline import Timeline

    try:
        timeline = Timeline(show)
    except ShowError as error:
        raise ShowError(
            [show.document.problem(key_path(p.key), p.found, p.fix) for p in error.problems]
        ) from error
    _check_lenses(show, timeline)
    _check_held_cuts(show, timeline)


def _check_held_cuts(show: Show, timeline: Timeline) -> None:
    """A mixer that holds its cut back has to have left the shot before the next cue."""
    problems = []
    for shot in timeline.shots[1:]:
        held = timeline.held_back(shot.on_air)
        length = shot.end_frame - shot.start_frame
        if held + shot.mix_frames > length:
            key = key_path(f"rundown[{shot.index}]")
            found = f'"{shot.name}" lasts {length} frames, and the mixer holds its cut back {held}'
            found += f" and mixes for {shot.mix_frames}" if shot.mix_frames else ""
            problems.append(show.document.problem(key, found, "lengthen the shot, or hold back less"))
    if problems:
        raise ShowError(problems)


def _check_lenses(show: Show, timeline: Timeline) -> None:
    """Every framing's distortion has to have an inverse all over the picture."""
    from preview.camera.extent import undistorted_extent

    problems = []
    for i, camera in enumerate(show.file.cameras):
        for j, framing in enumerate(camera.framings):
            try:
                undistorted_extent(timeline.framing_view(camera.name, framing.name))
            except PreviewError as error:
                found, _, fix = str(error).partition("; ")
                key = key_path(f"cameras[{i}].framings[{j}].focal_length_mm")
                problems.append(show.document.problem(key, found, fix))
    if problems:
        raise ShowError(problems)
