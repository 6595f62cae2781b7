"""Where everything stands in a multiview: pure geometry, from counts and shapes to named boxes.

Three columns between a header and a strip of coming shots: the programme above the programme as shot, the
same size so that they can be compared; every camera's return; the studio from above. The LED surfaces stand
below the returns or below the plan, wherever the pictures come out larger.

Pixel coordinates, origin at the upper left. All boxes are whole pixels.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import ceil, log

from preview.errors import RequestError

TEXT_SHARE = 21 / 1080
"""Smallest text as a share of the frame's height: 14 pixels when a frame is shown 720 pixels high."""
LEAST_TEXT_PX = 12
"""No text is smaller, whatever the frame: below it words have to be guessed on a monitor. Common practice."""
LEAST_PX = (960, 540)
"""No frame is smaller: at least text then takes more room than pictures do."""
WIDEST = 3.0
"""Widest frame, as its width over its height."""

_STEPS = 20
_WEIGHTS = {"programme": 1.0, "camera": 2.0, "surface": 0.7, "plan": 0.58}
"""How much a picture's size counts against the others'. Own choice, from looking at 1 to 8 cameras."""


@dataclass(frozen=True)
class Box:
    """A rectangle of whole pixels."""

    left: int
    top: int
    width: int
    height: int

    @property
    def right(self) -> int:
        """First column past it."""
        return self.left + self.width

    @property
    def bottom(self) -> int:
        """First row past it."""
        return self.top + self.height

    def overlaps(self, other: Box) -> bool:
        """Whether they share a pixel."""
        return (
            self.left < other.right
            and other.left < self.right
            and self.top < other.bottom
            and other.top < self.bottom
        )

    def holds(self, other: Box) -> bool:
        """Whether the other lies inside."""
        return (
            self.left <= other.left
            and self.top <= other.top
            and other.right <= self.right
            and other.bottom <= self.bottom
        )


@dataclass(frozen=True)
class Tile:
    """A picture and the words above it."""

    caption: Box
    picture: Box


@dataclass(frozen=True)
class TextSizes:
    """Font sizes in pixels: notes, names, and the timecode."""

    small: int
    name: int
    timecode: int

    @property
    def small_line(self) -> int:
        """Height of a line of notes."""
        return ceil(self.small * 1.35)

    @property
    def name_line(self) -> int:
        """Height of a line of names."""
        return ceil(self.name * 1.4)


@dataclass(frozen=True)
class Layout:
    """A multiview's boxes.

    Attributes
    ----------
    size_px : width and height of the frame
    text : font sizes
    header : timecode, shot and title
    programme, as_shot : the two programme pictures, the same size
    cameras : returns, in show order
    surfaces : LED surfaces, in show order
    plan : the studio from above
    cards : the present shot and the coming ones, from left to right
    """

    size_px: tuple[int, int]
    text: TextSizes
    header: Box
    programme: Tile
    as_shot: Tile
    cameras: tuple[Tile, ...]
    surfaces: tuple[Tile, ...]
    plan: Tile
    cards: tuple[Box, ...]

    @property
    def tile_px(self) -> tuple[int, int]:
        """Width and height of the largest camera picture."""
        return self.programme.picture.width, self.programme.picture.height

    def boxes(self) -> Iterator[Box]:
        """Every box; none overlaps another."""
        yield self.header
        for tile in (self.programme, self.as_shot, *self.cameras, *self.surfaces, self.plan):
            yield tile.caption
            yield tile.picture
        yield from self.cards


def text_sizes(size_px: tuple[int, int]) -> TextSizes:
    """Font sizes for a frame; they follow its shorter side, seen as one of 16:9.

    >>> text_sizes((1920, 1080))
    TextSizes(small=21, name=25, timecode=42)
    """
    tall = min(size_px[1], size_px[0] * 9 / 16)
    small = max(LEAST_TEXT_PX, round(tall * TEXT_SHARE))
    return TextSizes(small, round(small * 1.2), small * 2)


def lay_out(
    cameras: int,
    surface_aspects: Sequence[float],
    size_px: tuple[int, int],
    picture_aspect: float = 16 / 9,
) -> Layout:
    """The boxes of a multiview.

    Parameters
    ----------
    cameras : how many
    surface_aspects : width over height of each LED surface's canvas
    size_px : width and height of the frame
    picture_aspect : width over height of camera pictures

    Raises
    ------
    RequestError : the frame is too small, or not all of it fits legibly; says what to ask for.
    ValueError : no camera or no surface.
    """
    if cameras < 1 or not surface_aspects:
        raise ValueError(f"{cameras} cameras and {len(surface_aspects)} surfaces: one of each is needed")
    _check_size(size_px)
    room = _Room(size_px)
    best: tuple[float, _Place] | None = None
    for place in _tries(cameras, picture_aspect, room):
        score = _score(place, surface_aspects, room, 0.0 if best is None else best[0])
        if score is not None:
            best = score, place
    if best is None:
        raise RequestError(
            f"--size: {cameras} cameras and {len(surface_aspects)} LED surfaces cannot be read in a "
            "multiview of {}x{}; ask for more, such as 3840x2160".format(*size_px)
        )
    return _placed(best[1], cameras, surface_aspects, room)


def _check_size(size_px: tuple[int, int]) -> None:
    width, height = size_px
    asked = f"--size: a multiview cannot be {width}x{height}"
    if width < LEAST_PX[0] or height < LEAST_PX[1]:
        raise RequestError(
            f"{asked}: its words would not be legible; ask for at least {LEAST_PX[0]}x{LEAST_PX[1]}"
        )
    if not 4 / 3 - 0.01 <= width / height <= WIDEST:
        raise RequestError(
            f"{asked}: it is laid out for frames from 4:3 to {WIDEST:g}:1; ask for 1920x1080 or such"
        )


class _Room:
    """What a frame's size alone decides: fonts, gaps, header, cards, and the body between them."""

    def __init__(self, size_px: tuple[int, int]) -> None:
        self.size_px = width, height = size_px
        self.text = text = text_sizes(size_px)
        self.gap = gap = max(6, round(text.small * 0.62))
        self.one_line = text.name_line + 4
        self.two_lines = text.name_line + text.small_line + 6
        self.least_cell = 13 * text.name  # a name beside the longest tally
        self.header = Box(gap, gap // 2, width - 2 * gap, round(text.timecode * 1.3))
        tall = text.name_line + 2 * text.small_line + round(text.small * 0.9)
        top, across = height - gap - tall, width - 2 * gap
        count = max(3, min(7, (across + gap) // (13 * text.name + gap)))
        edges = [gap + round(i * (across + gap) / count) for i in range(count + 1)]
        self.cards = tuple(Box(one, top, other - gap - one, tall) for one, other in pairwise(edges))
        body_top = self.header.bottom + gap // 2
        self.body = Box(gap, body_top, across, top - gap - body_top)


@dataclass(frozen=True)
class _Place:
    """One try: column widths, the returns' size and grid, and where the surfaces go."""

    programme_px: tuple[int, int]
    camera_px: tuple[int, int]
    columns: int
    widths: tuple[int, int, int]
    surfaces_below_plan: bool
    surfaces: Box
    plan: Box


def _tries(cameras: int, aspect: float, room: _Room) -> Iterator[_Place]:
    body, gap = room.body, room.gap
    highest = (body.height - gap) // 2 - room.one_line
    for i in range(_STEPS):
        tall = round(highest * (1 - 0.6 * i / _STEPS))
        programme = max(1, round(tall * aspect)), tall
        left = max(programme[0], room.least_cell)
        for columns in range(1, min(cameras, 4) + 1):
            rows = ceil(cameras / columns)
            top_px = min(tall, (body.height - (rows - 1) * gap) // rows - room.two_lines)
            for j in range(_STEPS):
                high = round(top_px * (1 - 0.75 * j / _STEPS))
                if high < 3 * room.text.small:
                    break
                camera = max(1, round(high * aspect)), high
                middle = columns * max(camera[0], room.least_cell) + (columns - 1) * gap
                right = body.width - left - middle - 2 * gap
                if right < room.least_cell:
                    continue
                widths = (left, middle, right)
                below = rows * (room.two_lines + high + gap)
                x = body.left + left + gap
                beside = Box(x, body.top + below, middle, body.height - below)
                whole = Box(body.right - right, body.top, right, body.height)
                yield _Place(programme, camera, columns, widths, False, beside, whole)
                for share in (0.4, 0.5, 0.6, 0.7):
                    high_px = round(body.height * share)
                    upper = Box(whole.left, body.top, right, high_px)
                    lower_top = upper.bottom + gap
                    lower = Box(whole.left, lower_top, right, body.bottom - lower_top)
                    yield _Place(programme, camera, columns, widths, True, lower, upper)


def _score(place: _Place, aspects: Sequence[float], room: _Room, beaten: float) -> float | None:
    """How good a try is; None when something would be too small, or it does not beat what was found."""
    plan_px = min(place.plan.width, (place.plan.height - room.one_line) * 0.8)
    region = place.surfaces
    if plan_px < room.least_cell * 0.8 or region.height < room.one_line + 2 * room.text.small:
        return None
    score = (
        _WEIGHTS["programme"] * log(place.programme_px[1])
        + _WEIGHTS["camera"] * log(place.camera_px[1])
        + _WEIGHTS["plan"] * log(plan_px)
    )
    # No picture can be larger than its region: most tries need no packing.
    if score + _WEIGHTS["surface"] * log(region.width * region.height) / 2 <= beaten:
        return None
    packed = pack(aspects, region, room.one_line, room.gap)
    if packed is None or min(tile.picture.height for tile in packed) < 2 * room.text.small:
        return None
    area = sum(tile.picture.width * tile.picture.height for tile in packed)
    score += _WEIGHTS["surface"] * log(area) / 2
    return score if score > beaten else None


def _placed(place: _Place, cameras: int, aspects: Sequence[float], room: _Room) -> Layout:
    body, gap = room.body, room.gap
    left, middle, _ = place.widths
    lower_top = body.top + room.one_line + place.programme_px[1] + gap
    programme, as_shot = (
        _tile(body.left, top, left, place.programme_px, room.one_line) for top in (body.top, lower_top)
    )
    cell = (middle - (place.columns - 1) * gap) // place.columns
    x = body.left + left + gap
    pitch = room.two_lines + place.camera_px[1] + gap
    if place.surfaces_below_plan:
        rows = ceil(cameras / place.columns)
        spare = body.height - rows * pitch + gap
        pitch += spare // max(rows, 2) if rows > 1 else 0
    returns = tuple(
        _tile(
            x + (i % place.columns) * (cell + gap),
            body.top + (i // place.columns) * pitch,
            cell,
            place.camera_px,
            room.two_lines,
        )
        for i in range(cameras)
    )
    surfaces = pack(aspects, place.surfaces, room.one_line, gap)
    assert surfaces is not None
    whole = place.plan
    plan = Tile(
        Box(whole.left, whole.top, whole.width, room.one_line),
        Box(whole.left, whole.top + room.one_line, whole.width, whole.height - room.one_line),
    )
    return Layout(
        room.size_px, room.text, room.header, programme, as_shot, returns, surfaces, plan, room.cards
    )


def _tile(left: int, top: int, width: int, picture_px: tuple[int, int], caption: int) -> Tile:
    """A tile in a column; its picture in the middle."""
    wide, tall = picture_px
    return Tile(Box(left, top, width, caption), Box(left + (width - wide) // 2, top + caption, wide, tall))


def pack(aspects: Sequence[float], region: Box, caption: int, gap: int) -> tuple[Tile, ...] | None:
    """Pictures of these shapes in rows, in order, as large as the region allows; None where nothing fits.

    Every row is as high as its pictures; all are made smaller together until the rows fit.

    >>> [tile.picture.width for tile in pack([2.0, 1.0], Box(0, 0, 310, 130), 30, 10)]
    [200, 100]
    """
    best: tuple[int, tuple[Tile, ...]] | None = None
    for rows in range(1, len(aspects) + 1):
        tiles = _rows(_split(aspects, rows), region, caption, gap)
        if tiles is None:
            continue
        area = sum(tile.picture.width * tile.picture.height for tile in tiles)
        if best is None or area > best[0]:
            best = area, tiles
    return None if best is None else best[1]


def _split(aspects: Sequence[float], rows: int) -> list[list[float]]:
    """In order, into rows of about the same width."""
    groups: list[list[float]] = [[]]
    target, gone = sum(aspects) / rows, 0.0
    for place, aspect in enumerate(aspects):
        left = len(aspects) - place
        full = gone + aspect / 2 > target * len(groups)
        if groups[-1] and len(groups) < rows and (full or left <= rows - len(groups)):
            groups.append([])
        groups[-1].append(aspect)
        gone += aspect
    return groups


def _rows(groups: list[list[float]], region: Box, caption: int, gap: int) -> tuple[Tile, ...] | None:
    heights = [(region.width - (len(group) - 1) * gap) / sum(group) for group in groups]
    room = region.height - len(groups) * caption - (len(groups) - 1) * gap
    if room < len(groups) or min(heights) < 1:
        return None
    shrink = min(1.0, room / sum(heights))
    tiles: list[Tile] = []
    top = region.top
    for group, height in zip(groups, heights, strict=True):
        tall = max(1, int(height * shrink))
        widths = [max(1, int(tall * aspect)) for aspect in group]
        left = region.left
        for wide in widths:
            tiles.append(Tile(Box(left, top, wide, caption), Box(left, top + caption, wide, tall)))
            left += wide + gap
        top += caption + tall + gap
    return tuple(tiles)
