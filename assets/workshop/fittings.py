"""What stands and hangs in the glasshouse: benches, doors, caller screens, lamps, shafts of sun."""

from __future__ import annotations

import numpy as np

from .house import BAY, CREAM, DARK_IRON, DOOR_HALF, DOOR_TOP, FAR_Y, RIBS, TIE_Z, roof_height
from .plants import Grown, merge
from .shapes import Shape, bar, box, join, lathe, place, quad, tube


def door_leaf(width: float) -> Shape:
    """One half of the garden door, hinge at the origin, opening along +X: glazed top, boarded bottom."""
    parts = [
        box((0, -0.025, 0.02), (0.10, 0.025, DOOR_TOP - 0.06), CREAM),
        box((width - 0.10, -0.025, 0.02), (width, 0.025, DOOR_TOP - 0.06), CREAM),
        box((0.10, -0.025, 0.02), (width - 0.10, 0.025, 0.22), CREAM),
        box((0.10, -0.025, 1.0), (width - 0.10, 0.025, 1.12), CREAM),
        box((0.10, -0.025, DOOR_TOP - 0.18), (width - 0.10, 0.025, DOOR_TOP - 0.06), CREAM),
        box((0.10, -0.012, 0.22), (width - 0.10, 0.012, 1.0), (0.30, 0.42, 0.37)),
        box((width / 2 - 0.015, -0.015, 1.12), (width / 2 + 0.015, 0.015, DOOR_TOP - 0.18), CREAM),
        box((0.10, -0.015, 1.82), (width - 0.10, 0.015, 1.85), CREAM),
    ]
    return join(parts)


BENCH_X, BENCH_Z = (6.75, 8.65), 0.86


def benches() -> Grown:
    """Slatted staging along both sides, iron legs, a lower shelf."""
    wood, iron = [], []
    for y in RIBS[:-1]:
        for sign in (1.0, -1.0):
            near, far = BENCH_X
            for k in range(8):
                a = near + k * (far - near) / 8
                low, high = sorted((sign * a, sign * (a + 0.205)))
                tone = 0.82 + 0.22 * (((k * 37 + int(y * 10) * 13) % 17) / 17)
                wood.append(
                    box(
                        (low, y + 0.02, BENCH_Z - 0.035),
                        (high, y + BAY - 0.02, BENCH_Z),
                        (tone, tone, tone),
                        "+y-y",
                        grain="y",
                    )
                )
            low, high = sorted((sign * (near - 0.035), sign * near))
            wood.append(
                box(
                    (low, y, BENCH_Z - 0.13),
                    (high, y + BAY, BENCH_Z + 0.015),
                    (0.8, 0.8, 0.8),
                    "+y-y",
                    grain="y",
                )
            )
            low, high = sorted((sign * (near + 0.25), sign * (far - 0.2)))
            wood.append(box((low, y, 0.28), (high, y + BAY, 0.31), (0.75, 0.75, 0.75), "+y-y", grain="y"))
            for leg in (y + 0.15, y + BAY / 2):
                for x in (near + 0.06, far - 0.1):
                    iron.append(
                        bar(
                            (sign * x, leg, 0),
                            (sign * x, leg, BENCH_Z - 0.035),
                            0.05,
                            0.05,
                            DARK_IRON,
                            (1, 0, 0),
                        )
                    )
                iron.append(
                    bar(
                        (sign * near, leg, BENCH_Z - 0.08),
                        (sign * far, leg, BENCH_Z - 0.08),
                        0.04,
                        0.05,
                        DARK_IRON,
                    )
                )
    return {"wood": [join(wood)], "iron": [join(iron)]}


def door() -> Grown:
    """Both leaves folded back outwards, a boarded sill."""
    width = DOOR_HALF - 0.02
    left = door_leaf(width).moved(place((-DOOR_HALF, FAR_Y + 0.10, 0), 101))
    right = door_leaf(width).moved(place((DOOR_HALF, FAR_Y + 0.10, 0), 79))
    return {"paint": [left, right]}


SCREEN_SIZE = (2.56, 1.44)
SCREENS = {"screen_left": ((-3.95, 7.5, 2.95), 18.0), "screen_right": ((3.95, 7.5, 2.95), -18.0)}
"""Middle and pan of each caller screen; 0 faces the cameras, positive turns the face towards +X."""


def screen_face() -> Shape:
    """16:9 face in the XZ plane facing -Y, middle at the origin, uv 0..1 with v down."""
    w, h = SCREEN_SIZE[0] / 2, SCREEN_SIZE[1] / 2
    uv = np.asarray([(0, 1), (1, 1), (1, 0), (0, 0)], float)
    return quad((-w, 0, -h), (w, 0, -h), (w, 0, h), (-w, 0, h), uv=uv)


def screen_frame() -> Grown:
    """Bevelled timber frame with a dark back, iron straps up to the tie beam."""
    w, h = SCREEN_SIZE[0] / 2, SCREEN_SIZE[1] / 2
    t = 0.11
    wood = [
        box((-w - t, -0.05, h), (w + t, 0.06, h + t), (0.62, 0.52, 0.42), grain="x"),
        box((-w - t, -0.05, -h - t), (w + t, 0.06, -h), (0.62, 0.52, 0.42), grain="x"),
        box((-w - t, -0.05, -h), (-w, 0.06, h), (0.62, 0.52, 0.42), grain="z"),
        box((w, -0.05, -h), (w + t, 0.06, h), (0.62, 0.52, 0.42), grain="z"),
        box(
            (-w - 0.5 * t, 0.06, -h - 0.5 * t), (w + 0.5 * t, 0.08, h + 0.5 * t), (0.35, 0.3, 0.25), grain="x"
        ),
    ]
    iron = [
        box((-w - t - 0.012, -0.062, -h - t - 0.012), (-w - t + 0.16, -0.052, -h - t + 0.04), DARK_IRON),
        box((w + t - 0.16, -0.062, -h - t - 0.012), (w + t + 0.012, -0.052, -h - t + 0.04), DARK_IRON),
    ]
    rise = TIE_Z - SCREENS["screen_left"][0][2]
    for x in (-w * 0.72, w * 0.72):
        iron.append(tube(np.asarray([(x, 0.0, h + t), (x, 0.0, rise)]), 0.016, 5, DARK_IRON))
    return {"wood": wood, "iron": iron}


LAMPS = [(sign * 1.72, y, 3.75) for y in (7.5, 10.5, 13.5, 16.5) for sign in (-1.0, 1.0)]


def lamps() -> Grown:
    """Opal globes under small iron hats, hung from the ties."""
    globes, iron = [], []
    for x, y, z in LAMPS:
        globes.append(
            lathe(
                [(0.0, -0.15), (0.08, -0.13), (0.14, -0.06), (0.15, 0.02), (0.12, 0.10), (0.06, 0.14)], 10
            ).moved(place((x, y, z)))
        )
        hat = lathe([(0.10, 0.10), (0.16, 0.11), (0.06, 0.19), (0.02, 0.24), (0.012, 0.26)], 10, DARK_IRON)
        iron.append(hat.moved(place((x, y, z))))
        iron.append(tube(np.asarray([(x, y, z + 0.24), (x, y, TIE_Z - 0.05)]), 0.009, 4, DARK_IRON))
    return {"globe": globes, "iron": iron}


SUN_TRAVEL = (0.696, 0.370, -0.616)
"""The way sunlight travels in the show (pan 118, height 38 degrees): shafts lie along it."""


def shafts() -> Shape:
    """Sunlight in the damp air: soft sheets from the roof to the floor, behind the stage."""
    parts = []
    travel = np.asarray(SUN_TRAVEL)
    for x, y, width in (
        (-7.4, 6.6, 0.9),
        (-6.4, 8.0, 0.5),
        (-5.2, 9.6, 1.3),
        (-3.6, 11.2, 0.7),
        (-2.2, 9.0, 0.6),
        (-1.0, 12.6, 1.2),
        (1.2, 10.4, 0.8),
        (2.6, 13.4, 1.1),
    ):
        top = np.asarray([x, y, roof_height(x) - 0.3])
        length = top[2] / -travel[2]
        side = np.asarray([width / 2, 0.0, 0.0])
        foot = top + travel * length
        uv = np.asarray([(0, 1), (1, 1), (1, 0), (0, 0)], float)
        parts.append(quad(foot - side, foot + side, top + side, top - side, uv=uv))
    return join(parts)


def fittings() -> Grown:
    """All of it by material name; the screens' faces are apart."""
    frames = [
        {
            name: [shape.moved(place(where, pan)) for shape in shapes]
            for name, shapes in screen_frame().items()
        }
        for where, pan in SCREENS.values()
    ]
    return merge(benches(), door(), lamps(), *frames)
