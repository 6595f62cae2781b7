"""Plants grown from seeds: palms, shrubs, tomatoes, climbers, and pots to put them in."""

from __future__ import annotations

import numpy as np

from .leaves import BROAD, PETALS, STRAP, blades, blossoms, cards, frond, ring, shades
from .shapes import Array, Shape, Vector, dome, join, lathe, place, tube, unit

Grown = dict[str, list[Shape]]
"""Shapes by material name: leaf, sprig, stem, bark, terracotta, soil, wood, fruit."""


def rosette(
    rng: np.random.Generator,
    green: str,
    count: int,
    length: float,
    width: float,
    lift_deg: tuple[float, float] = (25, 80),
    droop: float = 0.45,
    rows: int = 2,
    cell: tuple[float, float] = STRAP,
    spread: float = 0.02,
    widest: float = 0.45,
) -> Shape:
    """Leaves from one crown: hostas, aspidistras, agaves, grasses."""
    directions = ring(rng, count, lift_deg)
    bases = directions * [spread, spread, 0.0]
    size = rng.uniform(0.75, 1.15, count)
    return blades(
        bases,
        directions,
        length * size,
        width * size,
        shades(rng, green, count),
        droop,
        0.3,
        rows,
        cell,
        center=(0, 0, -0.2 * length),
        widest=widest,
    )


def fern(rng: np.random.Generator, size: float = 0.8, fronds: int = 12, green: str = "fern") -> Shape:
    """Arching fronds from one crown."""
    directions = ring(rng, fronds, (30, 72))
    lengths = size * rng.uniform(0.85, 1.2, fronds)
    return cards(
        rng,
        "fern",
        directions * [0.02, 0.02, 0.0],
        directions,
        lengths,
        shades(rng, green, fronds),
        0.52,
        rng.uniform(0.55, 0.9, fronds),
        4,
        (0, 0, -0.3 * size),
        0.3,
        30,
    )


def palm(
    rng: np.random.Generator, height: float = 2.6, fronds: int = 13, reach: float = 1.7, fine: bool = False
) -> Grown:
    """Feather palm with a ringed trunk. ``fine`` models every leaflet, for palms near the stage."""
    lean = rng.uniform(-0.12, 0.12, 2)
    t = np.linspace(0, 1, 5)
    path = np.stack([lean[0] * t**2, lean[1] * t**2, height * t], axis=1)
    trunk = tube(
        path, np.asarray([1.4, 1.05, 0.95, 0.9, 0.5]) * (0.055 + 0.018 * height), 8, (0.75, 0.66, 0.55)
    )
    top = path[-1]
    directions = ring(rng, fronds, (5, 82))
    lengths = reach * rng.uniform(0.85, 1.1, fronds)
    if fine:
        leaves = [
            frond(rng, direction, length, 15, length * 0.30, "palm", rng.uniform(0.5, 0.8), 0.13, True).moved(
                place(top)
            )
            for direction, length in zip(directions, lengths, strict=True)
        ]
        return {"bark": [trunk], "leaf": leaves}
    crown = cards(
        rng,
        "palm",
        np.tile(top, (fronds, 1)),
        directions,
        lengths,
        shades(rng, "palm", fronds, 0.15),
        0.55,
        rng.uniform(0.5, 0.85, fronds),
        5,
        top - [0, 0, 0.5 * reach],
        0.3,
        24,
    )
    return {"bark": [trunk], "sprig": [crown]}


def banana(rng: np.random.Generator, height: float = 1.5, leaves: int = 8) -> Grown:
    """Broad paddle leaves on a thick stem."""
    directions = ring(rng, leaves, (40, 78))
    bases = np.zeros((leaves, 3))
    bases[:, 2] = height * rng.uniform(0.5, 0.95, leaves)
    size = rng.uniform(0.8, 1.15, leaves) * height * 0.95
    blade = blades(
        bases + directions * 0.25 * height,
        directions,
        size,
        size * 0.34,
        shades(rng, "banana", leaves, 0.15),
        rng.uniform(0.5, 0.9, leaves),
        0.3,
        4,
        BROAD,
        center=(0, 0, height * 0.3),
    )
    stalks = [
        tube(
            np.stack([bases[i] * [1, 1, 0.4], bases[i] + directions[i] * 0.26 * height]),
            0.018,
            4,
            (0.30, 0.45, 0.16),
        )
        for i in range(leaves)
    ]
    stem = tube(
        np.asarray([(0, 0, 0), (0, 0, height * 0.8)]), np.asarray([0.10, 0.05]), 7, (0.34, 0.42, 0.18)
    )
    return {"leaf": [blade], "stem": [stem, *stalks]}


def shrub(
    rng: np.random.Generator,
    green: str,
    radius: float,
    height: float,
    count: int,
    sprig: str = "sprig",
    flowers: int = 0,
    petal: Vector = (0.9, 0.3, 0.4),
    size: float = 0.0,
) -> Shape:
    """Mound of sprigs pointing outwards, with blossom if asked."""
    directions = ring(rng, count, (-5, 88))
    middle = np.asarray([0, 0, height * 0.34])
    reach = size or 0.75 * (radius + 0.5 * height) / 1.5 + 0.06
    shell = rng.uniform(0.15, 0.62, (count, 1))
    bases = directions * shell * [radius, radius, height * 0.6] + middle
    pointing = unit(directions + rng.normal(0, 0.22, (count, 3)) + [0, 0, 0.3])
    tone = 0.70 + 0.5 * (shell - 0.15) / 0.47
    parts = [
        cards(
            rng,
            sprig,
            bases,
            pointing,
            reach * rng.uniform(0.8, 1.2, count),
            shades(rng, green, count) * tone,
            0.9,
            0.3,
            2,
            (0, 0, 0.1 * height),
        )
    ]
    if flowers:
        spots = ring(rng, flowers, (28, 86))
        where = spots * [radius, radius, height * 0.62] * 0.95 + middle
        parts.append(blossoms(rng, where, spots, 0.11 + 0.10 * reach, petal))
    return join(parts)


def tomato(rng: np.random.Generator, height: float = 1.7, ripe: float = 0.6) -> Grown:
    """Cordon tomato tied to a cane: compound leaves, trusses of fruit."""
    cane = tube(np.asarray([(0.03, 0, 0), (0.0, 0.02, height + 0.25)]), 0.011, 4, (0.85, 0.72, 0.45))
    stem = tube(
        np.asarray([(0, 0, 0), (0.02, 0.02, height * 0.35), (-0.01, 0.01, height * 0.7), (0.01, 0, height)]),
        np.asarray([0.016, 0.013, 0.01, 0.006]),
        4,
        (0.30, 0.42, 0.16),
    )
    fruit = []
    count = int(height * 14)
    step = np.arange(count)
    rise = height * (0.10 + 0.90 * step / count)
    around = step * np.pi * (3 - np.sqrt(5)) + rng.uniform(-0.4, 0.4, count)
    directions = np.stack([np.cos(around), np.sin(around), rng.uniform(0.05, 0.5, count)], axis=1)
    lengths = rng.uniform(0.32, 0.46, count) * np.where(rise < height * 0.75, 1.0, 0.7)
    bases = np.stack([0 * rise, 0 * rise, rise], axis=1)
    leaves = cards(
        rng,
        "compound",
        bases,
        directions,
        lengths,
        shades(rng, "tomato", count),
        0.9,
        rng.uniform(0.3, 0.7, count),
        2,
        (0, 0, height * 0.4),
        0.4,
        70,
    )
    for _ in range(int(height * 2.4)):
        z = height * rng.uniform(0.18, 0.75)
        turn = rng.uniform(0, 2 * np.pi)
        for j in range(rng.integers(2, 5)):
            spot = np.asarray([np.cos(turn), np.sin(turn), 0]) * (0.07 + 0.03 * j) + [0, 0, z - 0.055 * j]
            red = rng.random() < ripe * (1.25 - z / height)
            color = (
                (0.72, 0.07, 0.03)
                if red
                else ((0.85, 0.36, 0.05) if rng.random() < 0.4 else (0.36, 0.50, 0.12))
            )
            fruit.append(dome(rng.uniform(0.032, 0.044), color, 5, 3, 0.9).moved(place(spot)))
    return {"sprig": [leaves], "stem": [stem], "wood": [cane], "fruit": fruit}


def climber(
    rng: np.random.Generator,
    path: Array,
    radius: float,
    count: int,
    leaf: float,
    green: str = "ivy",
    flowers: int = 0,
    petal: Vector = (0.8, 0.7, 0.9),
    sprig: str = "ivy",
) -> Shape:
    """Sprigs along a path, as up a column or along a wire; they follow it and stand off it a little."""
    where = np.sort(rng.random(count))
    along = np.linspace(0, 1, len(path))
    spots = np.stack([np.interp(where, along, path[:, i]) for i in range(3)], axis=1)
    tangents = unit(np.gradient(path, axis=0))
    way = np.stack([np.interp(where, along, tangents[:, i]) for i in range(3)], axis=1)
    turn = rng.uniform(0, 2 * np.pi, count)
    first = unit(np.cross(way, [0.3, 0.9, 0.31]))
    second = np.cross(way, first)
    out = np.cos(turn)[:, None] * first + np.sin(turn)[:, None] * second
    bases = spots + out * radius * 0.5
    pointing = unit(out * rng.uniform(0.5, 1.1, (count, 1)) + way * rng.uniform(-0.2, 0.9, (count, 1)))
    shape = cards(
        rng,
        sprig,
        bases,
        pointing,
        leaf * rng.uniform(0.7, 1.3, count),
        shades(rng, green, count, 0.25),
        0.85,
        0.35,
        2,
        path.mean(0),
        0.3,
        120,
    )
    parts = [shape]
    if flowers:
        k = rng.integers(0, count, flowers)
        parts.append(blossoms(rng, spots[k] + out[k] * radius * 1.6, out[k], leaf * 0.62, petal))
    return join(parts)


def pot(radius: float, height: float, sides: int = 10, tone: float = 1.0) -> Grown:
    """Terracotta pot with a rolled rim, filled with soil."""
    clay = (tone, tone, tone)
    outline = [
        (radius * 0.70, 0.0),
        (radius * 0.92, height * 0.78),
        (radius * 1.04, height * 0.80),
        (radius * 1.06, height),
        (radius * 0.90, height * 0.985),
    ]
    if sides > 12:
        outline = [*outline, (radius * 0.86, height * 0.88)]
    if sides < 9:
        outline = [outline[0], *outline[2:]]
    outside = lathe(outline, sides, clay)
    soil = lathe([(radius * 0.88, height * 0.89), (0.0, height * 0.92)], sides, (0.8, 0.8, 0.8))
    return {"terracotta": [outside], "soil": [soil]}


def merge(*grown: Grown) -> Grown:
    total: Grown = {}
    for part in grown:
        for name, shapes in part.items():
            total.setdefault(name, []).extend(shapes)
    return total


def planted(grown: Grown, matrix: Array) -> Grown:
    """The whole plant placed."""
    return {name: [shape.moved(matrix) for shape in shapes] for name, shapes in grown.items()}


def potted(rng: np.random.Generator, kind: str, size: float = 1.0, sides: int = 14) -> Grown:
    """A pot with a plant of a named kind; ``size`` 1 is a 0.15 m pot."""
    radius, height = 0.11 * size, 0.20 * size
    base = pot(radius, height, sides, float(rng.uniform(0.8, 1.1)))
    if kind == "herb":
        plant: Grown = {"sprig": [shrub(rng, "herb", 0.13 * size, 0.26 * size, 13, "herb", size=0.22 * size)]}
    elif kind == "flower":
        petal = PETALS[rng.integers(len(PETALS))]
        plant = {"sprig": [shrub(rng, "deep", 0.15 * size, 0.28 * size, 12, "sprig", 6, petal, 0.19 * size)]}
    elif kind == "strap":
        plant = {"leaf": [rosette(rng, "deep", 11, 0.48 * size, 0.07 * size)]}
    elif kind == "hosta":
        plant = {"leaf": [rosette(rng, "lime", 10, 0.32 * size, 0.15 * size, (20, 70), 0.5, 2, BROAD)]}
    elif kind == "fern":
        plant = {"sprig": [fern(rng, 0.42 * size, 9)]}
    elif kind == "succulent":
        plant = {"leaf": [rosette(rng, "silver", 16, 0.20 * size, 0.07 * size, (15, 85), 0.05, 1, BROAD)]}
    else:
        raise ValueError(f"no plant of kind {kind!r}")
    return merge(base, planted(plant, place((0, 0, height * 0.9))))


def basket(rng: np.random.Generator, hook_height: float, petal: Vector) -> Grown:
    """Hanging basket: half ball of moss, trailing leaves, blossom, chains up to ``hook_height`` above it."""
    bowl = lathe(
        [(0.02, -0.24), (0.14, -0.21), (0.23, -0.12), (0.27, 0.0), (0.22, 0.02), (0.0, 0.04)],
        10,
        (0.42, 0.40, 0.26),
    )
    chains = [
        tube(
            np.asarray([(0.26 * np.cos(a), 0.26 * np.sin(a), 0.0), (0.0, 0.0, 0.55)]),
            0.006,
            3,
            (0.25, 0.25, 0.24),
        )
        for a in (0.3, 2.4, 4.5)
    ]
    chains.append(tube(np.asarray([(0, 0, 0.55), (0, 0, hook_height)]), 0.008, 3, (0.25, 0.25, 0.24)))
    crown = shrub(rng, "lime", 0.34, 0.44, 22, "herb", 9, petal, 0.30)
    trails = []
    for direction in ring(rng, 9, (-10, 20)):
        reach = rng.uniform(0.45, 0.8)
        t = np.linspace(0, 1, 6)
        path = direction[None] * 0.24 + direction[None] * [1, 1, 0] * (0.16 * np.sin(t * np.pi / 2))[:, None]
        path[:, 2] += -reach * t**1.6 + 0.05
        trails.append(climber(rng, path, 0.02, 6, 0.20, "herb", 1, petal))
    return {"stem": [bowl, *chains], "sprig": [crown, *trails]}
