"""What grows where inside the glasshouse, and the odds and ends between the plants."""

from __future__ import annotations

import numpy as np

from .fittings import BENCH_Z
from .house import COLUMN_X, FAR_Y, NEAR_Y, RIBS, TANK, TIE_Z
from .leaves import BROAD, PETALS, shades
from .plants import (
    Grown,
    banana,
    basket,
    climber,
    fern,
    merge,
    palm,
    planted,
    pot,
    potted,
    rosette,
    shrub,
    tomato,
)
from .shapes import Shape, bar, box, join, lathe, place

SOIL_Z = 0.34


def _at(grown: Grown, x: float, y: float, z: float, turn: float = 0.0, size: float = 1.0) -> Grown:
    return planted(grown, place((x, y, z), turn, 0, size))


def bed_planting(rng: np.random.Generator) -> Grown:
    """Four beds: low ferns and flowers in front, tomatoes on canes, palms and bananas behind."""
    total: list[Grown] = []
    for sign in (-1.0, 1.0):
        # Front edge of the near bed: low, so that the screens above stay clear.
        for k, x in enumerate(np.linspace(2.05, 4.75, 7)):
            kind = (k + (sign > 0)) % 3
            y = 6.84 + rng.uniform(-0.1, 0.12)
            if kind == 0:
                grown: Grown = {"sprig": [fern(rng, 0.66, 13)]}
            elif kind == 1:
                grown = {
                    "sprig": [shrub(rng, "lime", 0.34, 0.5, 22, "herb", 8, PETALS[(k + int(sign > 0)) % 5])]
                }
            else:
                grown = {
                    "leaf": [
                        rosette(rng, "lime" if k % 2 else "silver", 15, 0.50, 0.20, (38, 80), 0.30, 2, BROAD)
                    ]
                }
            total.append(_at(grown, sign * x, y, SOIL_Z, rng.uniform(0, 360)))
        # Aisle edge: ferns and bright flowers all the way down.
        for y in [*np.arange(7.5, 10.9, 0.5), *np.arange(14.0, 18.3, 0.56)]:
            pick = rng.integers(4)
            if pick == 0:
                grown = {"sprig": [fern(rng, 0.62, 12)]}
            elif pick == 1:
                grown = {"leaf": [rosette(rng, "lime", 12, 0.42, 0.17, (38, 80), 0.30, 2, BROAD)]}
            else:
                grown = {
                    "sprig": [
                        shrub(
                            rng,
                            "herb",
                            0.30,
                            0.44,
                            18,
                            "herb" if pick == 2 else "sprig",
                            7,
                            PETALS[rng.integers(5)],
                        )
                    ]
                }
            total.append(
                _at(grown, sign * (2.15 + rng.uniform(-0.08, 0.1)), float(y), SOIL_Z, rng.uniform(0, 360))
            )
        # Outer edge of both beds.
        for y in [*np.arange(7.3, 10.9, 0.8), *np.arange(14.0, 18.3, 0.9)]:
            grown = {
                "sprig": [
                    shrub(
                        rng,
                        "herb" if rng.random() < 0.5 else "deep",
                        0.34,
                        0.6,
                        18,
                        "sprig",
                        5,
                        PETALS[rng.integers(5)],
                    )
                ]
            }
            total.append(_at(grown, sign * 4.72, float(y), SOIL_Z, rng.uniform(0, 360)))
        # Middle of the near bed: shrubs under the screens, then two rows of tomatoes.
        for x, y in ((2.6, 7.3), (3.15, 7.55), (3.7, 7.35), (4.25, 7.6)):
            total.append(
                _at(
                    {"sprig": [shrub(rng, "deep", 0.40, 0.85, 26, "sprig", 4, PETALS[rng.integers(5)])]},
                    sign * x,
                    y,
                    SOIL_Z,
                )
            )
        for y in (8.5, 9.2, 9.9, 10.5):
            for x in (2.75, 3.35, 3.95):
                total.append(
                    _at(
                        tomato(rng, rng.uniform(1.5, 1.95)),
                        sign * x,
                        y + rng.uniform(-0.1, 0.1),
                        SOIL_Z,
                        rng.uniform(0, 360),
                    )
                )
        # Palms and bananas: low in front of and under the screens, tall behind them.
        total.append(_at(palm(rng, 0.7, 12, 1.05), sign * 4.45, 8.4, SOIL_Z, rng.uniform(0, 360)))
        total.append(_at(palm(rng, 3.6, 15, 2.0), sign * 2.55, 14.5, SOIL_Z, rng.uniform(0, 360)))
        total.append(_at(palm(rng, 2.7, 14, 1.8), sign * 4.3, 17.3, SOIL_Z, rng.uniform(0, 360)))
        total.append(_at(palm(rng, 4.2, 14, 1.9), sign * 4.6, 13.9, SOIL_Z, rng.uniform(0, 360)))
        total.append(_at(banana(rng, 2.0, 9), sign * 2.75, 16.2, SOIL_Z, rng.uniform(0, 360)))
        total.append(_at(banana(rng, 1.6, 8), sign * 4.5, 10.4, SOIL_Z, rng.uniform(0, 360)))
        total.append(_at(banana(rng, 1.6, 8), sign * 3.3, 17.7, SOIL_Z, rng.uniform(0, 360)))
        for x, y in ((3.3, 14.2), (3.9, 15.2), (3.5, 15.9), (3.9, 16.6), (3.0, 17.0), (2.7, 15.2)):
            total.append(
                _at(
                    {"sprig": [shrub(rng, "deep", 0.5, 1.0, 22, "sprig", 5, PETALS[rng.integers(5)])]},
                    sign * x,
                    y,
                    SOIL_Z,
                )
            )
    return merge(*total)


def bench_planting(rng: np.random.Generator) -> Grown:
    """Rows of pots along both benches, bigger where the side cameras look."""
    total: list[Grown] = []
    kinds = ["herb", "flower", "strap", "hosta", "fern", "succulent", "flower", "herb"]
    for sign in (-1.0, 1.0):
        y = NEAR_Y + 0.8
        while y < FAR_Y - 0.6:
            dense = -3.0 < y < 14.0
            for x in (7.02, 7.6, 8.2) if dense else (7.4,):
                size = rng.uniform(0.9, 1.5) if x < 7.5 else rng.uniform(1.2, 2.1)
                kind = kinds[rng.integers(len(kinds))]
                total.append(
                    _at(
                        potted(rng, kind, size, 10 if 1.0 < y < 10.0 else 7),
                        sign * (x + rng.uniform(-0.08, 0.08)),
                        y + rng.uniform(-0.12, 0.12),
                        BENCH_Z,
                        rng.uniform(0, 360),
                    )
                )
            y += rng.uniform(0.52, 0.72) if dense else rng.uniform(1.1, 1.6)
        for y in np.arange(-2.0, 12.5, 2.1):
            stack = [
                planted(pot(0.13, 0.22, 7, float(rng.uniform(0.8, 1.1))), place((0, 0, 0.06 * k)))
                for k in range(rng.integers(1, 4))
            ]
            total.append(_at(merge(*stack), sign * rng.uniform(7.3, 7.9), float(y), 0.31))
    return merge(*total)


def standing_pots(rng: np.random.Generator) -> Grown:
    """Large planted pots at the foot of columns and beside the door."""
    total: list[Grown] = []
    for sign in (-1.0, 1.0):
        for y, kind in ((6.0, "palm"), (12.3, "banana"), (18.8, "palm")):
            x = sign * (6.2 if y < 18 else 1.95)
            base = pot(0.34, 0.55, 14, 0.95)
            plant = palm(rng, 0.9, 13, 1.2, y < 8) if kind == "palm" else banana(rng, 1.25, 8)
            total.append(_at(merge(base, planted(plant, place((0, 0, 0.5)))), x, y, 0.0, rng.uniform(0, 360)))
        for x, y in ((1.45, 11.35), (1.5, 13.2)):
            total.append(
                _at(
                    merge(
                        pot(0.24, 0.38, 12),
                        planted(
                            {"sprig": [shrub(rng, "lime", 0.34, 0.62, 26, "herb", 12, PETALS[2])]},
                            place((0, 0, 0.34)),
                        ),
                    ),
                    sign * x,
                    y,
                    0.0,
                )
            )
        for y in (-1.6, 1.6, 4.6):
            base = pot(0.26, 0.42, 12, 0.9)
            plant = {"sprig": [shrub(rng, "deep", 0.36, 0.95, 30, "sprig", 9, PETALS[int(y) % 5])]}
            total.append(_at(merge(base, planted(plant, place((0, 0, 0.38)))), sign * 6.45, y, 0.0))
    return merge(*total)


def hanging(rng: np.random.Generator) -> Grown:
    """Baskets from the ties, climbers up the columns and along the ties."""
    total: list[Grown] = []
    for y, x in ((10.5, 2.7), (10.5, 4.4), (13.5, 2.9), (16.5, 2.7), (16.5, 4.4)):
        for sign in (-1.0, 1.0):
            z = 3.55
            total.append(_at(basket(rng, TIE_Z - z, PETALS[rng.integers(5)]), sign * x, y, z))
    for sign in (-1.0, 1.0):
        for y in RIBS[(RIBS > 1) & (RIBS < 17)]:
            x = sign * COLUMN_X
            path = np.asarray([(x, y, 0.3), (x, y, 1.8), (x, y, 3.2), (x, y, 4.7)])
            total.append({"sprig": [climber(rng, path, 0.16, 44, 0.42, "ivy", 7 if y > 5 else 3, PETALS[3])]})
        for y in (10.5, 16.5):
            across = np.asarray([(sign * 5.6, y, 4.95), (sign * 4.4, y, 5.1), (sign * 2.6, y, 5.15)])
            total.append({"sprig": [climber(rng, across, 0.12, 34, 0.42, "herb", 12, PETALS[2], "sprig")]})
    turn = np.linspace(0.1, np.pi - 0.1, 9)
    arch = np.stack([1.45 * np.cos(turn), np.full(9, FAR_Y - 0.12), 2.75 + 1.45 * np.sin(turn)], axis=1)
    total.append({"sprig": [climber(rng, arch, 0.14, 64, 0.40, "herb", 40, PETALS[0], "sprig")]})
    for sign in (-1.0, 1.0):
        post = np.asarray(
            [
                (sign * 1.5, FAR_Y - 0.15, 0.3),
                (sign * 1.48, FAR_Y - 0.15, 1.6),
                (sign * 1.45, FAR_Y - 0.15, 2.8),
            ]
        )
        total.append({"sprig": [climber(rng, post, 0.14, 28, 0.42, "herb", 14, PETALS[0], "sprig")]})
    return merge(*total)


def tank_planting(rng: np.random.Generator) -> Grown:
    """Lily pads on the dipping tank and a spill of fern from its bowl."""
    angle = rng.uniform(0, 2 * np.pi, 9)
    radius = rng.uniform(0.35, 0.66, 9)
    pads: list[Shape] = []
    for a, r in zip(angle, radius, strict=True):
        pad = lathe([(rng.uniform(0.10, 0.15), 0.0), (0.0, 0.004)], 8, tuple(shades(rng, "banana", 1)[0]))
        pads.append(pad.moved(place((TANK[0] + r * np.cos(a), TANK[1] + r * np.sin(a), 0.552))))
    top = fern(rng, 0.6, 13).moved(place((TANK[0], TANK[1], 1.24)))
    return {"sprig": [top], "stem": pads}


def tools() -> Grown:
    """A wheelbarrow's worth of honest clutter: watering cans, crates and a ladder."""
    zinc = (0.52, 0.55, 0.56)
    can = join(
        [
            lathe([(0.13, 0.0), (0.13, 0.26), (0.11, 0.28), (0.07, 0.28)], 12, zinc),
            bar((0.12, 0, 0.06), (0.42, 0, 0.34), 0.03, 0.03, zinc),
            lathe([(0.015, 0.0), (0.05, 0.05), (0.0, 0.06)], 8, zinc).moved(place((0.43, 0, 0.33), -90, 0)),
            bar((-0.12, 0, 0.05), (-0.24, 0, 0.20), 0.02, 0.02, zinc),
            bar((-0.24, 0, 0.20), (-0.08, 0, 0.33), 0.02, 0.02, zinc),
            bar((-0.08, 0, 0.33), (0.10, 0, 0.29), 0.02, 0.02, zinc),
        ]
    )
    cans = [
        can.moved(place(where, turn))
        for where, turn in (((-1.35, 6.0, 0.0), 40), ((5.5, 13.0, 0.0), 150), ((7.3, 5.2, BENCH_Z), 60))
    ]
    crate: list[Shape] = []
    for z in (0.0, 0.09, 0.18):
        for side in (-1, 1):
            crate.append(
                box((-0.3, side * 0.2 - 0.01, z + 0.01), (0.3, side * 0.2 + 0.01, z + 0.075), grain="x")
            )
            crate.append(
                box((side * 0.3 - 0.01, -0.19, z + 0.01), (side * 0.3 + 0.01, 0.19, z + 0.075), grain="y")
            )
    crate.append(box((-0.29, -0.19, 0.01), (0.29, 0.19, 0.03), grain="x"))
    crates = [
        shape.moved(place(where, turn))
        for where, turn in (
            ((5.75, 8.6, 0), 80),
            ((5.8, 8.55, 0.27), 96),
            ((-5.8, 10.9, 0), 92),
            ((-7.4, -1.0, BENCH_Z), 85),
            ((7.5, 0.2, BENCH_Z), 95),
        )
        for shape in crate
    ]
    return {"zinc": cans, "wood": crates}


def planting(seed: int) -> Grown:
    """Everything that grows, one seed for all."""
    rng = np.random.default_rng(seed)
    return merge(
        bed_planting(rng), bench_planting(rng), standing_pots(rng), hanging(rng), tank_planting(rng), tools()
    )
