"""Leaves and blossoms: modelled blades, and cards that carry a cut-out sprig.

Leaf normals lean towards the outside of the plant so that foliage shades softly; they never cross
the leaf's own plane.
"""

from __future__ import annotations

import numpy as np

from .shapes import Array, Shape, Vector, join, unit
from .sprigs import cell as sprig_cell

PETALS = [(0.88, 0.24, 0.34), (0.95, 0.78, 0.26), (0.94, 0.92, 0.88), (0.58, 0.32, 0.72), (0.93, 0.45, 0.20)]

VEINED, STRAP, BROAD, PETAL = (0.0, 0.0), (0.5, 0.0), (0.0, 0.5), (0.5, 0.5)

GREENS = {
    "fern": (0.38, 0.64, 0.15),
    "deep": (0.22, 0.46, 0.15),
    "lime": (0.52, 0.72, 0.18),
    "tomato": (0.32, 0.54, 0.17),
    "silver": (0.48, 0.58, 0.42),
    "palm": (0.30, 0.54, 0.16),
    "banana": (0.40, 0.66, 0.17),
    "ivy": (0.24, 0.46, 0.16),
    "herb": (0.42, 0.62, 0.24),
}


def blades(
    bases: Array,
    directions: Array,
    lengths: Array | float,
    widths: Array | float,
    colors: Array,
    droop: float | Array = 0.3,
    fold: float = 0.25,
    rows: int = 1,
    cell: tuple[float, float] = VEINED,
    center: Vector | None = None,
    soften: float = 0.45,
    widest: float = 0.45,
) -> Shape:
    """Many leaves at once: pointed at both ends, folded along the midrib, drooping.

    bases, directions (n, 3); lengths, widths (n,); colors (n, 3). ``rows`` cross rows of three
    points lie between base and tip; 0 makes a flat leaf of two triangles. ``center`` is what softened
    normals point away from.
    """
    count = len(bases)
    directions = unit(np.asarray(directions, float))
    lengths, widths = np.broadcast_to(lengths, (count,)), np.broadcast_to(widths, (count,))
    fall = np.broadcast_to(droop, (count,))
    side = np.cross(directions, [0.0, 0.0, 1.0])
    short = np.linalg.norm(side, axis=1) < 1e-3
    side[short] = [1.0, 0.0, 0.0]
    side = unit(side)
    times = np.concatenate([[0.0], (np.arange(rows) + 1) / (rows + 1), [1.0]])
    if rows < 2:
        times = np.asarray([0.0, widest, 1.0])

    def spine(t: Array | float) -> Array:
        down = np.zeros((count, 3))
        down[:, 2] = -fall * lengths * np.asarray(t) ** 2
        return np.asarray(bases + directions * lengths[:, None] * t + down)

    points, normals, uv = [], [], []
    for t in times:
        tangent = directions * lengths[:, None]
        tangent = tangent + np.stack([0 * fall, 0 * fall, -2 * fall * lengths * t], axis=1)
        up = unit(np.cross(side, tangent))
        middle = spine(float(t))
        inner = [-1.0, 0.0, 1.0] if rows else [-1.0, 1.0]
        across = [0.0] if t in (0.0, 1.0) else inner
        shape = np.sin(np.pi * t ** (np.log(0.5) / np.log(widest))) ** 0.8 if 0 < t < 1 else 0.0
        for s in across:
            half = widths * 0.5 * shape
            points.append(middle + side * (s * half)[:, None] + up * (abs(s) * fold * half)[:, None])
            normals.append(unit(up - side * s * fold))
            uv.append(
                np.tile([cell[0] + 0.25 + 0.22 * s * shape, cell[1] + 0.02 + 0.46 * (1 - t)], (count, 1))
            )
    stack = np.stack(points, axis=1)
    normal = np.stack(normals, axis=1)
    outward = stack - (np.asarray(center, float) if center is not None else bases.mean(0))
    outward = unit(outward + np.asarray([0, 0, 0.15]))
    facing = np.abs((outward * normal).sum(2, keepdims=True))
    bent = unit(normal * (1 - soften) + outward * np.sign((outward * normal).sum(2, keepdims=True)) * soften)
    bent = np.where(facing > 0.02, bent, normal)
    triangles = [] if rows else [(0, 2, 1), (1, 2, 3)]
    for r in range(rows + 1 if rows else 0):
        if r == 0:
            triangles += [(0, 2, 1), (0, 3, 2)]
        elif r == rows:
            first = 1 + 3 * (rows - 1)
            tip = 1 + 3 * rows
            triangles += [(first, first + 1, tip), (first + 1, first + 2, tip)]
        else:
            a = 1 + 3 * (r - 1)
            b = a + 3
            triangles += [(a, a + 1, b + 1), (a, b + 1, b), (a + 1, a + 2, b + 2), (a + 1, b + 2, b + 1)]
    per = stack.shape[1]
    index = np.arange(count)[:, None, None] * per + np.asarray(triangles)[None]
    shades = np.repeat(np.asarray(colors, float)[:, None], per, axis=1)
    tip_light = np.linspace(0.82, 1.12, per)[None, :, None]
    return Shape(
        stack.reshape(-1, 3),
        bent.reshape(-1, 3),
        np.stack(uv, axis=1).reshape(-1, 2),
        (shades * tip_light).reshape(-1, 3),
        index.reshape(-1, 3),
    )


def cards(
    rng: np.random.Generator,
    sprig: str,
    bases: Array,
    directions: Array,
    lengths: Array | float,
    colors: Array,
    width: float = 1.0,
    droop: Array | float = 0.25,
    rows: int = 2,
    center: Vector | None = None,
    soften: float = 0.6,
    roll_deg: float = 180.0,
) -> Shape:
    """Cut-out sprigs: bent strips that carry one cell of the sprig sheet each, foot at the base.

    bases, directions (n, 3); colors (n, 3). ``width`` is relative to the length. Each strip is rolled
    about its own axis by up to ``roll_deg`` so that no view meets all of them edge on.
    """
    count = len(bases)
    directions = unit(np.asarray(directions, float))
    size = np.broadcast_to(lengths, (count,))
    fall = np.broadcast_to(droop, (count,))
    side = np.cross(directions, [0.0, 0.0, 1.0])
    side[np.linalg.norm(side, axis=1) < 1e-3] = [1.0, 0.0, 0.0]
    side = unit(side)
    up = np.cross(side, directions)
    roll = np.radians(rng.uniform(-roll_deg, roll_deg, count))[:, None] / 2
    side = side * np.cos(roll) + up * np.sin(roll)
    u0, v0, u1, v1 = sprig_cell(sprig)
    points, normals, uv = [], [], []
    for t in np.linspace(0, 1, rows + 1):
        middle = bases + directions * (size * t)[:, None]
        middle[:, 2] -= fall * size * t**2
        tangent = directions * size[:, None]
        tangent[:, 2] -= 2 * fall * size * t
        facing = unit(np.cross(side, tangent))
        for s in (-1.0, 1.0):
            points.append(middle + side * (s * size * width / 2)[:, None])
            normals.append(facing)
            uv.append(np.tile([u0 if s < 0 else u1, v1 + (v0 - v1) * t], (count, 1)))
    stack, normal = np.stack(points, axis=1), np.stack(normals, axis=1)
    outward = unit(
        stack
        - (np.asarray(center, float) if center is not None else bases.mean(0))
        + [0, 0, 0.1 * size.mean()]
    )
    along = (outward * normal).sum(2, keepdims=True)
    flip = along.mean(axis=1, keepdims=True) < 0
    bent = unit(np.where(flip, -normal, normal) * (1 - soften) + outward * soften)
    keep = (bent * np.where(flip, -normal, normal)).sum(2, keepdims=True) > 0.05
    bent = np.where(keep, bent, np.where(flip, -normal, normal))
    per = 2 * (rows + 1)
    front = np.asarray(
        [t for r in range(rows) for t in ((2 * r, 2 * r + 1, 2 * r + 3), (2 * r, 2 * r + 3, 2 * r + 2))]
    )
    order = np.where(flip[:, :, 0][:, :, None], front[None, :, ::-1], front[None])
    index = np.arange(count)[:, None, None] * per + order
    tone = (
        np.repeat(np.asarray(colors, float)[:, None], per, axis=1)
        * np.repeat(np.linspace(0.78, 1.1, rows + 1), 2)[None, :, None]
    )
    return Shape(
        stack.reshape(-1, 3),
        bent.reshape(-1, 3),
        np.stack(uv, axis=1).reshape(-1, 2),
        tone.reshape(-1, 3),
        index.reshape(-1, 3),
    )


def shades(rng: np.random.Generator, name: str, count: int, spread: float = 0.22) -> Array:
    """(count, 3) leaf colours around a named green, some yellower, some darker."""
    base = np.asarray(GREENS[name])
    tone = np.exp(rng.normal(0, spread, (count, 1)))
    warm = rng.normal(0, 0.10, (count, 1)) * [1.0, 0.15, -0.6]
    return np.clip(base * tone * (1 + warm), 0.01, 0.95)


def ring(rng: np.random.Generator, count: int, lift_deg: tuple[float, float]) -> Array:
    """(count, 3) unit directions spread evenly around Z with a random lift above level."""
    golden = np.pi * (3 - np.sqrt(5))
    turn = np.arange(count) * golden + rng.uniform(0, 2 * np.pi)
    lift = np.radians(rng.uniform(*lift_deg, count))
    return np.stack([np.cos(turn) * np.cos(lift), np.sin(turn) * np.cos(lift), np.sin(lift)], axis=1)


def frond(
    rng: np.random.Generator,
    direction: Array,
    length: float,
    pairs: int,
    leaflet: float,
    green: str,
    droop: float,
    width: float = 0.34,
    even: bool = False,
) -> Shape:
    """One compound leaf: leaflets in pairs along a drooping rib (one triangle pair each)."""
    t = np.linspace(0.12, 1.0, pairs)
    direction = unit(direction)
    spine = direction * length * t[:, None]
    spine[:, 2] -= droop * length * t**2
    tangent = direction * length + np.stack([0 * t, 0 * t, -2 * droop * length * t], axis=1)
    tangent = unit(tangent)
    side = unit(np.cross(direction, [0, 0, 1.0]))
    up = unit(np.cross(side[None], tangent))
    envelope = (
        np.maximum(np.sin(np.pi * np.clip(t * 0.9 + 0.1, 0, 1)), 0.04) ** 0.7
        if not even
        else 1.0 - 0.55 * t**3
    )
    shapes = []
    for sign in (-1.0, 1.0):
        reach = unit(side * sign + tangent * 0.55 - up * 0.22)
        shapes.append(
            blades(
                spine,
                reach,
                leaflet * envelope,
                leaflet * width * np.maximum(envelope, 0.5),
                np.repeat(shades(rng, green, 1, 0.2), pairs, 0) * rng.uniform(0.9, 1.1, (pairs, 1)),
                0.25,
                0.2,
                1,
                STRAP,
                center=(0, 0, -length * 0.5),
                soften=0.3,
                widest=0.34,
            )
        )
    return join(shapes)


def blossoms(rng: np.random.Generator, where: Array, facing: Array, size: float, petal: Vector) -> Shape:
    """Flower clusters, each a flat card that looks along ``facing``."""
    count = len(where)
    facing = unit(np.asarray(facing, float) + rng.normal(0, 0.2, (count, 3)) + [0, 0, 0.15])
    along = unit(np.cross(facing, unit(rng.normal(0, 1, (count, 3)))))
    side = np.cross(along, facing)
    half = size * rng.uniform(0.75, 1.2, (count, 1)) / 2
    u0, v0, u1, v1 = sprig_cell("blossom")
    stack = np.stack(
        [where + half * (a * side + b * along) for a, b in ((-1, -1), (1, -1), (1, 1), (-1, 1))], axis=1
    )
    uv = np.tile([[u0, v1], [u1, v1], [u1, v0], [u0, v0]], (count, 1))
    colors = np.clip(np.asarray(petal) * rng.uniform(0.85, 1.15, (count, 1)), 0, 1)
    index = np.arange(count)[:, None, None] * 4 + np.asarray([(0, 1, 2), (0, 2, 3)])[None]
    normals = np.repeat(np.cross(side, along), 4, axis=0)
    return Shape(stack.reshape(-1, 3), normals, uv, np.repeat(colors, 4, axis=0), index.reshape(-1, 3))
