"""The presenters' desk: a potting bench with a garden's worth of things on it.

Origin on the floor under the middle of the top, X along the bench, -Y towards the cameras.
"""

from __future__ import annotations

import numpy as np

from .leaves import blades, ring, shades
from .plants import Grown, merge, planted, pot, potted
from .shapes import Shape, bar, box, lathe, place, quad, tube

LENGTH, DEPTH, HEIGHT = 2.3, 0.80, 0.76
SAGE = (0.33, 0.45, 0.38)
ZINC = (0.52, 0.55, 0.57)
IRON = (0.09, 0.10, 0.10)


def bench() -> Grown:
    """Plank top, painted turned legs, a slatted front and a low shelf."""
    wood, paint = [], []
    half_x, half_y = LENGTH / 2, DEPTH / 2
    for k in range(5):
        low = -half_y + k * DEPTH / 5
        tone = (0.98, 0.86, 1.05, 0.92, 1.0)[k]
        wood.append(
            box(
                (-half_x, low + 0.002, HEIGHT - 0.042),
                (half_x, low + DEPTH / 5 - 0.002, HEIGHT),
                (tone, tone, tone),
                grain="x",
            )
        )
    for x in (-half_x + 0.12, half_x - 0.12):
        for y in (-half_y + 0.09, half_y - 0.09):
            leg = lathe(
                [
                    (0.030, 0.0),
                    (0.042, 0.03),
                    (0.036, 0.10),
                    (0.046, 0.22),
                    (0.046, 0.28),
                    (0.034, 0.33),
                    (0.048, 0.52),
                    (0.036, 0.57),
                    (0.05, 0.60),
                    (0.05, HEIGHT - 0.042),
                ],
                14,
                SAGE,
            )
            paint.append(leg.moved(place((x, y, 0))))
    rail = HEIGHT - 0.042
    paint += [
        box((-half_x + 0.08, -half_y + 0.05, rail - 0.12), (half_x - 0.08, -half_y + 0.08, rail), SAGE),
        box((-half_x + 0.08, half_y - 0.08, rail - 0.07), (half_x - 0.08, half_y - 0.05, rail), SAGE),
        box((-half_x + 0.10, -half_y + 0.08, rail - 0.10), (-half_x + 0.13, half_y - 0.08, rail), SAGE),
        box((half_x - 0.13, -half_y + 0.08, rail - 0.10), (half_x - 0.10, half_y - 0.08, rail), SAGE),
    ]
    for k in range(3):
        low = 0.20 + k * 0.135
        wood.append(
            box(
                (-half_x + 0.09, -half_y + 0.045, low),
                (half_x - 0.09, -half_y + 0.063, low + 0.118),
                (0.86 + 0.08 * k,) * 3,
                grain="x",
            )
        )
    for k in range(3):
        low = -half_y + 0.10 + k * 0.13
        wood.append(
            box(
                (-half_x + 0.10, low, 0.185),
                (half_x - 0.10, low + 0.11, 0.205),
                (0.85, 0.85, 0.85),
                grain="x",
            )
        )
    return {"wood": wood, "paint": paint}


SIGN = (1.28, 0.16)


def sign_board() -> Grown:
    """The show's name on a board hung over the slats; the face alone carries the painted sheet."""
    w, h = SIGN[0] / 2, SIGN[1] / 2
    front = -DEPTH / 2 + 0.018
    middle = 0.475
    uv = np.asarray([(0, 1), (1, 1), (1, 0), (0, 0)], float)
    face = quad(
        (-w, front, middle - h),
        (w, front, middle - h),
        (w, front, middle + h),
        (-w, front, middle + h),
        uv=uv,
    )
    rim = box((-w, front, middle - h), (w, front + 0.026, middle + h), (0.12, 0.16, 0.13), "-y")
    straps = [
        box((x - 0.012, front + 0.004, middle + h), (x + 0.012, front + 0.012, HEIGHT - 0.16), IRON)
        for x in (-w * 0.8, w * 0.8)
    ]
    return {"sign": [face], "paint": [rim], "iron": straps}


def seed_tray(rng: np.random.Generator) -> Grown:
    """Wooden tray of seedlings in rows."""
    w, d, h = 0.44, 0.28, 0.065
    wood = [
        box((-w / 2, -d / 2, 0), (w / 2, -d / 2 + 0.012, h), grain="x"),
        box((-w / 2, d / 2 - 0.012, 0), (w / 2, d / 2, h), grain="x"),
        box((-w / 2, -d / 2 + 0.012, 0), (-w / 2 + 0.012, d / 2 - 0.012, h), grain="y"),
        box((w / 2 - 0.012, -d / 2 + 0.012, 0), (w / 2, d / 2 - 0.012, h), grain="y"),
    ]
    soil = [
        box(
            (-w / 2 + 0.012, -d / 2 + 0.012, 0.005),
            (w / 2 - 0.012, d / 2 - 0.012, h - 0.014),
            (0.9, 0.9, 0.9),
            "-z",
        )
    ]
    leaves, stems = [], []
    for x in np.linspace(-w / 2 + 0.05, w / 2 - 0.05, 8):
        for y in np.linspace(-d / 2 + 0.05, d / 2 - 0.05, 5):
            height = rng.uniform(0.05, 0.095)
            at = np.asarray([x + rng.normal(0, 0.004), y + rng.normal(0, 0.004), h - 0.016])
            lean = rng.normal(0, 0.012, 2)
            tip = at + np.asarray([lean[0], lean[1], height])
            stems.append(tube(np.asarray([at, tip]), 0.0022, 4, (0.42, 0.52, 0.24)))
            directions = ring(rng, 4, (5, 50))
            bases = np.tile(tip, (4, 1)) - [0, 0, 0.004]
            leaves.append(
                blades(
                    bases,
                    directions,
                    rng.uniform(0.025, 0.042, 4),
                    0.017,
                    shades(rng, "lime", 4, 0.12),
                    0.3,
                    0.25,
                    2,
                )
            )
    return {"wood": wood, "soil": soil, "leaf": leaves, "stem": stems}


def trowel() -> Grown:
    """Hand trowel lying on its side along X."""
    t = np.linspace(0, 1, 7)
    blade: list[Shape] = []
    for sign in (-1.0, 1.0):
        path = np.stack(
            [0.16 * t, sign * 0.030 * np.sin(np.pi * (0.15 + 0.85 * t)), 0.008 + 0.010 * np.sin(np.pi * t)], 1
        )
        middle = np.stack([0.16 * t, 0 * t, 0.004 + 0 * t], 1)
        for k in range(6):
            a, b, c, d = middle[k], middle[k + 1], path[k + 1], path[k]
            corners = [a, b, c, d] if sign > 0 else [d, c, b, a]
            blade.append(_strip(*corners))
    neck = tube(np.asarray([(0.0, 0, 0.008), (-0.05, 0, 0.030), (-0.08, 0, 0.022)]), 0.006, 6, ZINC)
    handle = lathe(
        [(0.010, 0.0), (0.014, 0.02), (0.011, 0.05), (0.015, 0.10), (0.009, 0.125), (0.0, 0.128)],
        10,
        (0.75, 0.55, 0.42),
    )
    return {"zinc": [*blade, neck], "wood": [handle.moved(place((-0.08, 0, 0.022)) @ _lay_down())]}


def _lay_down() -> np.ndarray:
    """4x4 that turns +Z to -X."""
    matrix = np.eye(4)
    matrix[:3, :3] = [[0, 0, -1], [0, 1, 0], [1, 0, 0]]
    return matrix


def _strip(a: np.ndarray, b: np.ndarray, c: np.ndarray, d: np.ndarray) -> Shape:
    if np.linalg.norm(np.cross(c - a, d - b)) < 1e-9:
        raise ValueError("flat strip")
    return quad(a, b, c, d, ZINC)


def watering_can() -> Grown:
    """Zinc can with a long spout and a rose, spout along +X."""
    body = lathe(
        [
            (0.0, 0.002),
            (0.098, 0.0),
            (0.100, 0.012),
            (0.096, 0.02),
            (0.096, 0.20),
            (0.100, 0.206),
            (0.096, 0.215),
            (0.055, 0.235),
            (0.050, 0.23),
        ],
        22,
        ZINC,
        30,
    )
    spout = tube(
        np.asarray([(0.085, 0, 0.045), (0.16, 0, 0.09), (0.26, 0, 0.19), (0.34, 0, 0.275)]),
        np.asarray([0.020, 0.016, 0.013, 0.011]),
        10,
        ZINC,
    )
    rose = lathe([(0.011, 0.0), (0.036, 0.035), (0.038, 0.042), (0.0, 0.048)], 14, ZINC).moved(
        place((0.335, 0, 0.27)) @ _tip(48)
    )
    turn = np.linspace(-0.35, np.pi * 0.72, 12)
    grip = np.stack([-0.095 - 0.085 * np.sin(turn) * 1.0, 0 * turn, 0.125 + 0.095 * -np.cos(turn)], axis=1)
    top = np.linspace(0, np.pi, 10)
    carry = np.stack([0.075 * np.cos(top) * 1.0, 0 * top, 0.215 + 0.095 * np.sin(top)], axis=1)
    strut = tube(np.asarray([(0.06, 0, 0.222), (0.215, 0, 0.155)]), 0.005, 6, ZINC)
    return {"zinc": [body, spout, rose, tube(grip, 0.008, 7, ZINC), tube(carry, 0.008, 7, ZINC), strut]}


def _tip(angle_deg: float) -> np.ndarray:
    """4x4 that tips +Z towards +X."""
    a = np.radians(angle_deg)
    matrix = np.eye(4)
    matrix[:3, :3] = [[np.cos(a), 0, np.sin(a)], [0, 1, 0], [-np.sin(a), 0, np.cos(a)]]
    return matrix


def notebook() -> Grown:
    """Call sheet: an open book with ruled lines, and a pencil."""
    paper = [
        box((-0.15, -0.10, 0.0), (-0.003, 0.10, 0.012), (0.88, 0.85, 0.76)),
        box((0.003, -0.10, 0.0), (0.15, 0.10, 0.012), (0.90, 0.87, 0.79)),
    ]
    lines = [
        box((x - 0.055, y, 0.012), (x + 0.055, y + 0.003, 0.0135), (0.35, 0.42, 0.5))
        for x in (-0.077, 0.077)
        for y in np.linspace(-0.075, 0.07, 7)
    ]
    pencil = bar((-0.09, -0.13, 0.006), (0.09, -0.12, 0.006), 0.008, 0.008, (0.70, 0.42, 0.10))
    return {"paint": [*paper, *lines, pencil]}


def twine() -> Grown:
    ball = lathe(
        [(0.0, 0.0), (0.03, 0.004), (0.045, 0.03), (0.045, 0.05), (0.03, 0.076), (0.0, 0.08)],
        14,
        (0.62, 0.50, 0.30),
    )
    t = np.linspace(0, 1, 8)
    tail = np.stack([0.045 + 0.12 * t, 0.03 * np.sin(t * 7), 0.003 + 0 * t], 1)
    return {"stem": [ball, tube(tail, 0.0025, 4, (0.62, 0.50, 0.30))]}


def mug(color: tuple[float, float, float]) -> Grown:
    cup = lathe(
        [(0.0, 0.001), (0.034, 0.0), (0.040, 0.01), (0.041, 0.092), (0.038, 0.094), (0.037, 0.08)], 18, color
    )
    tea = lathe([(0.037, 0.08), (0.0, 0.0805)], 18, (0.18, 0.08, 0.03))
    turn = np.linspace(-np.pi / 2, np.pi / 2, 8)
    handle = tube(
        np.stack([0.038 + 0.026 * np.cos(turn), 0 * turn, 0.048 + 0.028 * np.sin(turn)], 1), 0.005, 6, color
    )
    return {"paint": [cup, tea, handle]}


def microphone() -> Grown:
    """Low boundary microphone: a small dark puck."""
    return {"iron": [lathe([(0.036, 0.0), (0.036, 0.010), (0.028, 0.016), (0.0, 0.017)], 16, IRON)]}


def desk(rng: np.random.Generator) -> Grown:
    """Everything on and under the bench. The middle stays low so that hands and faces are seen."""

    def on(grown: Grown, x: float, y: float, turn: float = 0.0, z: float = HEIGHT) -> Grown:
        return planted(grown, place((x, y, z), turn))

    stack = merge(
        *[planted(pot(0.062, 0.105, 16, 1.0 - 0.05 * k), place((0, 0, 0.030 * k), 40 * k)) for k in range(3)]
    )
    fallen = planted(pot(0.05, 0.09, 16), place((0, 0, 0.052), 25, 0) @ _tip(97))
    empty = {"terracotta": fallen["terracotta"]}
    return merge(
        bench(),
        sign_board(),
        on(seed_tray(rng), 0.02, -0.17, 3),
        on(watering_can(), -0.80, -0.23, 172),
        on(trowel(), 0.36, -0.27, 158),
        on(notebook(), -0.56, 0.05, 6),
        on(mug((0.60, 0.64, 0.58)), -0.27, 0.14, 200),
        on(mug((0.55, 0.28, 0.20)), 0.36, 0.16, -30),
        on(stack, 1.02, -0.15, 20),
        on(empty, 0.78, -0.28, 0),
        on(twine(), 0.58, -0.20, -60),
        on(potted(rng, "flower", 0.66, 16), 0.86, 0.16, 80),
        on(microphone(), -0.46, 0.24),
        on(microphone(), 0.52, 0.20),
        on(
            merge(*[planted(pot(0.085, 0.15, 14), place((0.2 * k, 0, 0.0))) for k in range(4)]),
            -0.78,
            -0.10,
            4,
            0.205,
        ),
        on(
            merge(*[planted(pot(0.10, 0.17, 14), place((0.23 * k, 0, 0.0))) for k in range(3)]),
            0.30,
            -0.10,
            -3,
            0.205,
        ),
    )
