"""What a review page shows, as plain values: it knows no show file, draws nothing and writes nothing.

File names are relative to the page's folder, with "/" between parts. Frames count from the rundown's first;
a stretch of frames includes its last.
"""

from __future__ import annotations

from dataclasses import dataclass

from preview.checks.result import Grade

Frames = tuple[int, int]


@dataclass(frozen=True)
class Rate:
    """How frames are counted: frames a second as a fraction, the first frame's label, and drop-frame or not.

    ``nominal`` is the whole number of frames that a timecode's second counts to; ``first_count`` is the count
    of the first label from 00:00:00:00 on (labels that drop-frame leaves out are not counted).
    """

    numerator: int
    denominator: int
    nominal: int
    drop_frame: bool
    first_timecode: str
    first_count: int


@dataclass(frozen=True)
class Figure:
    """A picture on the page.

    Attributes
    ----------
    file : PNG, JPEG or SVG
    size_px : width and height, so that the page does not jump while it loads
    alt : what it shows and says, for who cannot see it
    caption : the line below it
    """

    file: str
    size_px: tuple[int, int]
    alt: str
    caption: str


@dataclass(frozen=True)
class Clip:
    """A clip of the whole stretch that the page covers, 8-bit H.264, at the show's exact rate.

    Attributes
    ----------
    kind : "as-shot", "return", "programme", "programme-as-shot", "wall" or "multiview"
    subject : camera or surface name, "" otherwise
    label : what a crew calls it
    drawn : frames of it that were drawn, rising; the ones between them hold the one before. None: all
    poster : a still of it
    """

    kind: str
    subject: str
    label: str
    file: str
    size_px: tuple[int, int]
    frames: Frames
    drawn: tuple[int, ...] | None
    poster: str


@dataclass(frozen=True)
class Still:
    """One picture of one frame, at full size. ``kind`` and ``subject`` as of a clip."""

    kind: str
    subject: str
    label: str
    frame: int
    figure: Figure


@dataclass(frozen=True)
class Shot:
    """One shot of the rundown.

    Attributes
    ----------
    number, name : from 1 on
    camera : on air
    frames : first and last
    timecodes : their labels
    start : "cut", or "mix of N frames"
    framing : of the camera on air, "A > B" for a move
    note : words of the rundown, "" for none
    """

    number: int
    name: str
    camera: str
    frames: Frames
    timecodes: tuple[str, str]
    start: str
    framing: str
    note: str


@dataclass(frozen=True)
class Camera:
    """One camera: its number, its name, one line on what it is (lens, sensor, mount), and its shots' numbers.

    ``sheet_pdf`` and ``sheet`` are its shot sheet, None where there is none.
    """

    number: int
    name: str
    told: str
    shots: tuple[int, ...]
    sheet_pdf: str | None
    sheet: tuple[Figure, ...]


@dataclass(frozen=True)
class Finding:
    """What a check says, as ``preview.checks.result.Finding``; ``worst_frame`` is where to look.

    ``figure`` is a still of that frame with what is meant outlined, None for most.
    """

    check: str
    grade: Grade
    shot: str
    cameras: tuple[str, ...]
    frames: Frames
    timecodes: tuple[str, str]
    worst_frame: int
    sentence: str
    remedy: str
    figure: Figure | None


@dataclass(frozen=True)
class Checked:
    """One check: what it asks, how it went, what it takes for granted; why it did not look, "" if it did."""

    name: str
    question: str
    grade: Grade | None
    summary: str
    assumptions: tuple[str, ...]
    not_looked: str


@dataclass(frozen=True)
class Line:
    """One line of a plot: values at frames; None is a gap."""

    label: str
    frames: tuple[int, ...]
    values: tuple[float | None, ...]


@dataclass(frozen=True)
class Plot:
    """Values over the rundown that are read closely: the page lets a reader zoom into it.

    Attributes
    ----------
    check : whose it is
    title, unit : "" for a share without unit
    lines : one a camera mostly
    limit : from where on the check speaks up, None for none
    told : the plot in a sentence, for who cannot see it
    """

    check: str
    title: str
    unit: str
    lines: tuple[Line, ...]
    limit: float | None
    told: str


@dataclass(frozen=True)
class Table:
    """A table of facts: equipment, settings."""

    title: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True)
class Download:
    """A file beside the page that is not shown on it: a CSV, a JSON, a PDF."""

    file: str
    told: str


@dataclass(frozen=True)
class PageData:
    """Everything on the page.

    Attributes
    ----------
    title : the show's
    verdict : the summary in one sentence
    verdict_grade : its worst grade
    told : lines under the verdict: what was looked at, how closely, and what was not
    frames : the stretch of the rundown that the page covers
    frame_count : frames of the whole rundown
    wall_maps, floor_maps, plans : figures, each kind in one section
    tables : equipment and settings
    cautions : what to be careful with; each a sentence
    provenance : lines on what made the page: show file and digest, versions, what was drawn and what reused
    """

    title: str
    rate: Rate
    frames: Frames
    frame_count: int
    verdict: str
    verdict_grade: Grade
    told: tuple[str, ...]
    cameras: tuple[Camera, ...]
    shots: tuple[Shot, ...]
    clips: tuple[Clip, ...]
    stills: tuple[Still, ...]
    checks: tuple[Checked, ...]
    findings: tuple[Finding, ...]
    plots: tuple[Plot, ...]
    wall_maps: tuple[Figure, ...]
    floor_maps: tuple[Figure, ...]
    plans: tuple[Figure, ...]
    tables: tuple[Table, ...]
    downloads: tuple[Download, ...]
    cautions: tuple[str, ...]
    provenance: tuple[str, ...]
