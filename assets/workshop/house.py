"""The glasshouse itself: floor, brick, iron, glass, benches, screens. Stage axes, metres."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from .plants import Grown, merge
from .shapes import Array, Shape, bar, box, grid, join, lathe, place, plane_curve, quad, sweep

NEAR_Y, FAR_Y, BAY = -13.5, 19.5, 3.0
HALF_WIDTH = 9.0
SILL, EAVES, RIDGE = 0.9, 3.3, 7.5
LANTERN_HALF, LANTERN_EAVES, LANTERN_RIDGE = 1.7, 8.15, 9.0
COLUMN_X = 6.0
TIE_Z = 5.1
DOOR_HALF, DOOR_TOP = 1.25, 2.75

SAGE = (0.62, 0.69, 0.62)
CREAM = (0.80, 0.77, 0.68)
DARK_IRON = (0.10, 0.12, 0.115)
RIBS = np.arange(NEAR_Y, FAR_Y + 0.01, BAY)


def roof_curve(points: int = 12) -> Array:
    """(n, 2) x, z of the right roof, eaves to lantern: a quarter ellipse."""
    angle = np.linspace(0, np.pi / 2, points)
    x = LANTERN_HALF + (HALF_WIDTH - LANTERN_HALF) * np.cos(angle)
    z = EAVES + (RIDGE - EAVES) * np.sin(angle)
    return np.stack([x, z], axis=1)


def roof_height(x: float) -> float:
    """Height of the roof's inside at ``x``."""
    reach = (abs(x) - LANTERN_HALF) / (HALF_WIDTH - LANTERN_HALF)
    return RIDGE if reach <= 0 else EAVES + (RIDGE - EAVES) * float(np.sqrt(max(0.0, 1 - reach**2)))


def _roof_bar(
    y: float, width: float, depth: float, color: tuple[float, float, float], points: int, inset: float
) -> Shape:
    parts = []
    curve = roof_curve(points)
    normal = np.stack(
        [np.cos(np.linspace(0, np.pi / 2, points)), np.sin(np.linspace(0, np.pi / 2, points))], 1
    )
    curve = curve - normal * inset
    for sign in (1.0, -1.0):
        path = plane_curve(list(zip(curve[:, 0] * sign, curve[:, 1], strict=True)), y)
        ups = np.stack([normal[:, 0] * sign, np.zeros(points), normal[:, 1]], axis=1)
        parts.append(sweep(path, width, depth, color, ups))
    return join(parts)


def ironwork() -> Shape:
    """Ribs, glazing bars, purlins, columns, ties, lantern: everything painted sage."""
    parts: list[Shape] = []
    fine = np.arange(NEAR_Y, FAR_Y + 0.01, BAY / 4)
    for y in RIBS:
        parts.append(_roof_bar(y, 0.07, 0.20, SAGE, 14, 0.10))
        for sign in (1.0, -1.0):
            parts.append(
                bar((sign * HALF_WIDTH, y, SILL), (sign * HALF_WIDTH, y, EAVES), 0.10, 0.16, SAGE, (1, 0, 0))
            )
            parts.append(
                bar(
                    (sign * LANTERN_HALF, y, RIDGE),
                    (sign * LANTERN_HALF, y, LANTERN_EAVES),
                    0.08,
                    0.10,
                    SAGE,
                    (1, 0, 0),
                )
            )
            parts.append(
                bar(
                    (sign * LANTERN_HALF, y, LANTERN_EAVES),
                    (0, y, LANTERN_RIDGE),
                    0.06,
                    0.10,
                    SAGE,
                    (0.3 * sign, 0, 1),
                )
            )
    for y in fine[~np.isclose(fine % BAY, RIBS[0] % BAY)]:
        if y > -5.0:  # behind the cameras the ribs alone are enough
            parts.append(_roof_bar(y, 0.028, 0.05, CREAM, 9, 0.03))
        for sign in (1.0, -1.0):
            parts.append(
                bar((sign * HALF_WIDTH, y, SILL), (sign * HALF_WIDTH, y, EAVES), 0.04, 0.06, CREAM, (1, 0, 0))
            )
            parts.append(
                bar(
                    (sign * LANTERN_HALF, y, RIDGE),
                    (sign * LANTERN_HALF, y, LANTERN_EAVES),
                    0.03,
                    0.04,
                    CREAM,
                    (1, 0, 0),
                )
            )
    curve = roof_curve(49)
    for k, (width, depth) in {
        0: (0.18, 0.22),
        10: (0.06, 0.10),
        22: (0.06, 0.10),
        35: (0.06, 0.10),
        48: (0.12, 0.20),
    }.items():
        x, z = curve[k]
        for sign in (1.0, -1.0):
            parts.append(bar((sign * x, NEAR_Y, z), (sign * x, FAR_Y, z), width, depth, SAGE))
    for sign in (1.0, -1.0):
        parts.append(
            bar((sign * HALF_WIDTH, NEAR_Y, 2.35), (sign * HALF_WIDTH, FAR_Y, 2.35), 0.05, 0.07, CREAM)
        )
        parts.append(
            bar(
                (sign * LANTERN_HALF, NEAR_Y, LANTERN_EAVES),
                (sign * LANTERN_HALF, FAR_Y, LANTERN_EAVES),
                0.10,
                0.12,
                SAGE,
            )
        )
    parts.append(bar((0, NEAR_Y, LANTERN_RIDGE), (0, FAR_Y, LANTERN_RIDGE), 0.10, 0.16, SAGE))
    for y in RIBS[1:-1]:
        sides = 13 if 1.0 < y < 11.0 else 7
        parts += [column(sides).moved(place((sign * COLUMN_X, y, 0))) for sign in (1.0, -1.0)]
        parts.append(truss(float(y), y > 0))
    for sign in (1.0, -1.0):
        x = sign * COLUMN_X
        parts.append(bar((x, NEAR_Y, TIE_Z + 0.12), (x, FAR_Y, TIE_Z + 0.12), 0.09, 0.24, SAGE))
        for y in RIBS[(RIBS > 0) & (RIBS < FAR_Y)]:
            for way in (1.0, -1.0):
                angle = np.linspace(0, np.pi / 2, 6)
                path = np.stack(
                    [
                        np.full(6, x),
                        y + way * (1.1 - 1.0 * np.cos(angle)),
                        TIE_Z - 1.1 + 1.05 * np.sin(angle),
                    ],
                    1,
                )
                parts.append(sweep(path, 0.05, 0.05, SAGE, (1, 0, 0)))
    return join(parts)


def column(sides: int) -> Shape:
    """Slender cast column on a moulded foot, plain capital, up to the roof."""
    top = roof_height(COLUMN_X) - 0.15
    return lathe(
        [
            (0.20, 0.0),
            (0.20, 0.10),
            (0.15, 0.16),
            (0.15, 0.42),
            (0.085, 0.54),
            (0.075, 4.1),
            (0.11, 4.16),
            (0.11, 4.24),
            (0.075, 4.30),
            (0.075, 4.62),
            (0.17, 4.95),
            (0.07, 5.02),
            (0.07, top),
        ],
        sides,
        SAGE,
    )


def truss(y: float, full: bool) -> Shape:
    """Tie rod between the columns and an arch over it; where cameras look also a ring at each haunch."""
    parts = [bar((-COLUMN_X, y, TIE_Z), (COLUMN_X, y, TIE_Z), 0.06, 0.10, SAGE)]
    angle = np.linspace(0, np.pi, 15)
    arch = np.stack([COLUMN_X * np.cos(angle), np.full(15, y), TIE_Z + 1.85 * np.sin(angle)], axis=1)
    inward = np.stack([np.cos(angle), 0 * angle, np.sin(angle)], axis=1)
    parts.append(sweep(arch, 0.05, 0.09, SAGE, inward))
    for x in (-3.4, -1.7, 1.7, 3.4):
        height = TIE_Z + 1.85 * np.sqrt(1 - (x / COLUMN_X) ** 2)
        parts.append(bar((x, y, TIE_Z), (x, y, height), 0.035, 0.035, SAGE, (0, 1, 0)))
    for sign in (1.0, -1.0) if full else ():
        turn = np.linspace(0, 2 * np.pi, 13)
        ring = np.stack(
            [
                sign * (COLUMN_X - 0.52) + 0.34 * np.cos(turn),
                np.full(13, y),
                TIE_Z + 0.47 + 0.34 * np.sin(turn),
            ],
            axis=1,
        )
        parts.append(sweep(ring, 0.035, 0.045, SAGE, np.stack([np.cos(turn), 0 * turn, np.sin(turn)], 1)))
        bracket = np.linspace(0, np.pi / 2, 6)
        path = np.stack(
            [
                sign * (COLUMN_X - 1.15 + 1.07 * np.cos(bracket)),
                np.full(6, y),
                TIE_Z - 1.15 + 1.1 * np.sin(bracket),
            ],
            1,
        )
        parts.append(sweep(path, 0.045, 0.05, SAGE, (0, 1, 0)))
    return join(parts)


def gable(y: float, door: bool) -> Shape:
    """Glazed end wall above the brick: mullions, transoms, a fan over the door."""
    parts: list[Shape] = []
    for x in np.arange(-8.25, 8.26, 0.75):
        low = SILL
        if door and abs(x) < DOOR_HALF + 0.1:
            low = DOOR_TOP + 1.3
        top = (
            roof_height(x)
            if abs(x) > LANTERN_HALF
            else LANTERN_EAVES + (LANTERN_RIDGE - LANTERN_EAVES) * (1 - abs(x) / LANTERN_HALF)
        )
        heavy = np.isclose(abs(x) % 2.25, 0) and abs(x) > 0.1
        parts.append(
            bar(
                (x, y, low),
                (x, y, top),
                0.09 if heavy else 0.04,
                0.12 if heavy else 0.06,
                SAGE if heavy else CREAM,
                (0, 1, 0),
            )
        )
    for z in (2.35, EAVES, 4.6, 5.9, 7.1):
        reach = HALF_WIDTH
        if z > EAVES:
            reach = LANTERN_HALF + (HALF_WIDTH - LANTERN_HALF) * float(
                np.sqrt(1 - ((z - EAVES) / (RIDGE - EAVES)) ** 2)
            )
        spans = [(-reach, reach)]
        if door and z < DOOR_TOP + 1.3:
            spans = [(-reach, -DOOR_HALF - 0.12), (DOOR_HALF + 0.12, reach)]
        for low, high in spans:
            heavy = z in (EAVES, 5.9)
            parts.append(
                bar((low, y, z), (high, y, z), 0.08 if heavy else 0.05, 0.11 if heavy else 0.06, SAGE)
            )
    if door:
        for sign in (1.0, -1.0):
            x = sign * (DOOR_HALF + 0.06)
            parts.append(bar((x, y, 0), (x, y, DOOR_TOP), 0.14, 0.16, CREAM, (0, 1, 0)))
        turn = np.linspace(0, np.pi, 15)
        for radius, size in ((DOOR_HALF + 0.06, 0.12), (0.5, 0.05)):
            arc = np.stack([radius * np.cos(turn), np.full(15, y), DOOR_TOP + radius * np.sin(turn)], axis=1)
            parts.append(
                sweep(
                    arc,
                    0.14 if radius > 1 else 0.05,
                    size,
                    CREAM,
                    np.stack([np.cos(turn), 0 * turn, np.sin(turn)], 1),
                )
            )
        parts.append(bar((-DOOR_HALF, y, DOOR_TOP), (DOOR_HALF, y, DOOR_TOP), 0.12, 0.12, CREAM))
        for a in np.radians([36, 72, 108, 144]):
            inner, outer = 0.5, DOOR_HALF
            parts.append(
                bar(
                    (inner * np.cos(a), y, DOOR_TOP + inner * np.sin(a)),
                    (outer * np.cos(a), y, DOOR_TOP + outer * np.sin(a)),
                    0.04,
                    0.05,
                    CREAM,
                    (0, 1, 0),
                )
            )
    return join(parts)


def glass() -> Shape:
    """A few thin panes: side walls and end wall. The roof stays open to keep blending sparing."""
    panes: list[Shape] = []
    for y in RIBS[:-1]:
        for sign in (1.0, -1.0):
            x = sign * (HALF_WIDTH + 0.02)
            a, b = (x, y, SILL), (x, y + BAY, SILL)
            c, d = (x, y + BAY, EAVES), (x, y, EAVES)
            panes.append(quad(b, a, d, c) if sign > 0 else quad(a, b, c, d))
    y = FAR_Y + 0.03
    for low, high in ((-HALF_WIDTH, -DOOR_HALF - 0.1), (DOOR_HALF + 0.1, HALF_WIDTH)):
        panes.append(quad((low, y, SILL), (high, y, SILL), (high, y, EAVES), (low, y, EAVES)))
    return join(panes)


def brickwork() -> Shape:
    """Dwarf walls with a plinth, bed edgings and the potting-shed wall behind the cameras."""
    parts: list[Shape] = []
    white = (1.0, 1.0, 1.0)
    for y in RIBS[:-1]:
        for sign in (1.0, -1.0):
            low, high = sorted((sign * (HALF_WIDTH - 0.16), sign * (HALF_WIDTH + 0.16)))
            parts.append(box((low, y, -0.05), (high, y + BAY, SILL - 0.06), white, "-z+y-y"))
    for low, high in ((-9.16, -DOOR_HALF - 0.13), (DOOR_HALF + 0.13, 9.16)):
        edges = np.linspace(low, high, 5)
        for a, b in pairwise(edges):
            parts.append(box((a, FAR_Y - 0.16, -0.05), (b, FAR_Y + 0.16, SILL - 0.06), white, "-z"))
    for x in np.linspace(-9.16, 9.16, 7)[:-1]:
        parts.append(box((x, NEAR_Y - 0.3, -0.05), (x + 18.32 / 6, NEAR_Y, EAVES - 0.1), white, "-z"))
    for corner, far in beds():
        thick = 0.20
        parts += [
            box((corner[0], corner[1], -0.02), (far[0], corner[1] + thick, 0.38), white, "-z"),
            box((corner[0], far[1] - thick, -0.02), (far[0], far[1], 0.38), white, "-z"),
        ]
        for y in np.linspace(corner[1] + thick, far[1] - thick, 4)[:-1]:
            step = (far[1] - corner[1] - 2 * thick) / 3
            parts += [
                box((corner[0], y, -0.02), (corner[0] + thick, y + step, 0.38), white, "-z+y-y"),
                box((far[0] - thick, y, -0.02), (far[0], y + step, 0.38), white, "-z+y-y"),
            ]
    return join(parts).uv_scaled(1 / 0.9)


def coping() -> Shape:
    """Stone caps on the dwarf walls and bed edgings, and the tank's rim."""
    parts: list[Shape] = []
    stone = (0.95, 0.93, 0.88)
    for y in RIBS[:-1]:
        for sign in (1.0, -1.0):
            low, high = sorted((sign * (HALF_WIDTH - 0.22), sign * (HALF_WIDTH + 0.22)))
            parts.append(box((low, y, SILL - 0.06), (high, y + BAY, SILL), stone, "+y-y"))
    for low, high in ((-9.2, -DOOR_HALF - 0.13), (DOOR_HALF + 0.13, 9.2)):
        parts.append(box((low, FAR_Y - 0.22, SILL - 0.06), (high, FAR_Y + 0.22, SILL), stone))
    for corner, far in beds():
        for a, b in (
            ((corner[0] - 0.03, corner[1] - 0.03), (far[0] + 0.03, corner[1] + 0.23)),
            ((corner[0] - 0.03, far[1] - 0.23), (far[0] + 0.03, far[1] + 0.03)),
        ):
            parts.append(box((*a, 0.38), (*b, 0.43), stone))
        for x in (corner[0] - 0.03, far[0] - 0.23):
            for y in np.linspace(corner[1] + 0.23, far[1] - 0.23, 4)[:-1]:
                step = (far[1] - corner[1] - 0.46) / 3
                parts.append(box((x, y, 0.38), (x + 0.26, y + step, 0.43), stone, "+y-y"))
    tank = [
        (1.0, 0.0),
        (1.0, 0.08),
        (0.90, 0.12),
        (0.86, 0.50),
        (0.98, 0.56),
        (0.98, 0.63),
        (0.82, 0.63),
        (0.80, 0.5),
    ]
    parts.append(lathe(tank, 16, stone).moved(place(TANK)))
    foot = [
        (0.22, 0.42),
        (0.16, 0.60),
        (0.09, 0.75),
        (0.08, 1.05),
        (0.16, 1.12),
        (0.42, 1.24),
        (0.44, 1.28),
        (0.38, 1.28),
        (0.05, 1.20),
        (0.04, 1.42),
        (0.07, 1.5),
        (0.0, 1.56),
    ]
    parts.append(lathe(foot, 12, stone).moved(place(TANK)))
    return join(parts).uv_scaled(1 / 2.4)


TANK = (0.0, 12.3, 0.0)


def water() -> Shape:
    return lathe([(0.82, 0.54), (0.0, 0.54)], 16).moved(place(TANK))


def beds() -> list[tuple[tuple[float, float], tuple[float, float]]]:
    """Low and high (x, y) corners of the four raised beds."""
    return [
        ((sign_low, y0), (sign_high, y1))
        for sign_low, sign_high in ((-5.0, -1.75), (1.75, 5.0))
        for y0, y1 in ((6.2, 11.0), (13.6, 18.4))
    ]


def bed_soil() -> Shape:
    parts = []
    for corner, far in beds():
        xs = np.linspace(corner[0] + 0.2, far[0] - 0.2, 8)
        ys = np.linspace(corner[1] + 0.2, far[1] - 0.2, 11)
        sheet = grid(xs, ys, 0.34)
        parts.append(sheet)
    return join(parts)


def _steps(points: list[float], step: float) -> Array:
    values: list[float] = []
    for a, b in pairwise(points):
        values += np.linspace(a, b, max(1, round((b - a) / step)) + 1)[:-1].tolist()
    return np.asarray([*values, points[-1]])


def floor() -> Grown:
    """Tiled walk down the middle, flagstones beside it, shingle under the benches."""
    ys = _steps([NEAR_Y, 6.2, 11.0, 13.6, 18.4, FAR_Y], 0.75)
    tiles = grid(_steps([-1.6, 1.6], 0.8), ys, 0.0).uv_scaled(1 / 0.8)
    flags, edges, shingle = [], [], []
    for sign in (1.0, -1.0):
        flags.append(grid(_steps(sorted((sign * 1.72, sign * 5.0)), 0.7), ys, 0.0))
        flags.append(grid(_steps(sorted((sign * 5.0, sign * 6.5)), 0.7), ys, 0.0))
        edges.append(grid(np.asarray(sorted((sign * 1.6, sign * 1.72))), ys, 0.0))
        shingle.append(grid(_steps(sorted((sign * 6.5, sign * 8.9)), 0.6), ys, -0.01))
    return {
        "tiles": [tiles],
        "flags": [shape.uv_scaled(1 / 2.4) for shape in flags],
        "edging": [shape.uv_scaled(1 / 0.9) for shape in edges],
        "shingle": shingle,
    }


def house() -> Grown:
    """All fixed parts by material name; the glass is apart."""
    paint = [ironwork(), gable(FAR_Y, True), gable(NEAR_Y, False)]
    fixed = {
        "paint": paint,
        "brick": [brickwork()],
        "stone": [coping()],
        "soil": [bed_soil()],
        "water": [water()],
    }
    return merge(fixed, floor())
