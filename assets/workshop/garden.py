"""The garden outside: lawn, gravel walk, hedges, clipped cones, trees, wall, hills fading with distance."""

from __future__ import annotations

import numpy as np

from .house import FAR_Y, HALF_WIDTH, NEAR_Y
from .leaves import cards, ring, shades
from .plants import Grown, merge
from .shapes import Array, Shape, box, dome, grid, join, lathe, place, tube, unit

LAWN_Z = -0.08
HAZE = np.asarray((0.66, 0.75, 0.80))


def faded(shape: Shape, share: float) -> Shape:
    """Colours moved towards the haze, as distance does."""
    return Shape(
        shape.positions, shape.normals, shape.uv, shape.colors * (1 - share) + HAZE * share, shape.triangles
    )


def smooth_normals(points: Array, triangles: np.ndarray) -> Array:
    """Area-weighted vertex normals."""
    corner = points[triangles]
    face = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
    total = np.zeros_like(points)
    for k in range(3):
        np.add.at(total, triangles[:, k], face)
    return unit(total)


def hedge(
    low: tuple[float, float], high: tuple[float, float], height: float, rng: np.random.Generator
) -> Shape:
    """Clipped hedge: a lumpy box. Colour varies along it."""
    along = 0 if high[0] - low[0] > high[1] - low[1] else 1
    length = (high[0] - low[0], high[1] - low[1])[along]
    thick = (high[0] - low[0], high[1] - low[1])[1 - along]
    count = max(3, round(length / 1.2) + 1)
    t = np.linspace(0, length, count)
    rows = np.asarray(
        [
            (-0.5, 0.0),
            (-0.5, 0.55),
            (-0.47, 0.93),
            (-0.36, 1.0),
            (0.36, 1.0),
            (0.47, 0.93),
            (0.5, 0.55),
            (0.5, 0.0),
        ]
    )
    base = np.empty((count, len(rows), 3))
    bump = rng.normal(0, 0.035, (count, len(rows), 1))
    base[..., 0] = t[:, None]
    base[..., 1] = rows[None, :, 0] * thick * (1 + bump[..., 0])
    base[..., 2] = rows[None, :, 1] * height * (1 + bump[..., 0] * 0.6)
    index = np.arange(count * len(rows)).reshape(count, -1)
    a, b = index[:-1, :-1].ravel(), index[1:, :-1].ravel()
    c, d = index[1:, 1:].ravel(), index[:-1, 1:].ravel()
    triangles = np.concatenate([np.stack([a, b, c], 1), np.stack([a, c, d], 1)])
    points = base.reshape(-1, 3)
    normals = smooth_normals(points, triangles)
    length_round = np.concatenate(
        [[0.0], np.cumsum(np.linalg.norm(np.diff(rows * [thick, height], axis=0), axis=1))]
    )
    uv = np.stack(np.broadcast_arrays(t[:, None], length_round[None]), axis=2).reshape(-1, 2) / 1.2
    tone = np.repeat(rng.uniform(0.85, 1.15, (count, 1)), len(rows), 1).reshape(-1, 1)
    low_dark = np.clip(0.55 + 0.5 * points[:, 2:] / height, 0.5, 1.05)
    shape = Shape(points, normals, uv, np.asarray((0.24, 0.38, 0.14)) * tone * low_dark, triangles)
    ends: list[Shape] = []
    for x, ring_points in ((0.0, base[0]), (length, base[-1][::-1])):
        middle = np.asarray([[x, 0.0, height * 0.45]])
        fan = np.concatenate([middle, ring_points])
        n = len(ring_points)
        tri = np.stack([np.zeros(n - 1, int), np.arange(1, n), np.arange(2, n + 1)], 1)
        facing = np.tile([[-1.0 if x == 0 else 1.0, 0.0, 0.0]], (len(fan), 1))
        ends.append(Shape(fan, facing, fan[:, 1:] / 1.2, np.full((len(fan), 3), (0.2, 0.32, 0.12)), tri))
    whole = join([shape, *ends])
    middle_x, middle_y = (low[0] + high[0]) / 2, (low[1] + high[1]) / 2
    if along == 0:
        return whole.moved(place((low[0], middle_y, LAWN_Z)))
    return whole.moved(place((middle_x, low[1], LAWN_Z), 90))


def cone(rng: np.random.Generator, height: float) -> Shape:
    """Clipped cone of yew on a short trunk."""
    profile = [
        (0.30, 0.12),
        (0.52, 0.25),
        (0.50, 0.45),
        (0.32, height * 0.62),
        (0.10, height * 0.95),
        (0.0, height),
    ]
    body = lathe(profile, 12, tuple(np.asarray((0.20, 0.34, 0.13)) * rng.uniform(0.9, 1.15)))
    return body.uv_scaled(1 / 1.2)


def tree(rng: np.random.Generator, height: float, spread: float, green: str) -> tuple[Shape, Shape, Shape]:
    """Trunk, solid lumps of crown, and the leafy cards that break their outline."""
    trunk = tube(
        np.asarray([(0, 0, LAWN_Z), (0.1, 0, height * 0.25), (0.0, 0.1, height * 0.6)]),
        np.asarray([0.28, 0.2, 0.1]) * height / 8,
        6,
        (0.5, 0.42, 0.36),
    )
    lumps: list[Shape] = []
    leaves: list[Shape] = []
    heart = np.asarray([0, 0, height * 0.5])
    for k, direction in enumerate(ring(rng, 4, (-20, 80))):
        middle = direction * [spread * 0.5, spread * 0.5, height * 0.26] + [0, 0, height * 0.60]
        radius = spread * rng.uniform(0.50, 0.64)
        tint = shades(rng, green, 1, 0.14)[0]
        lump = dome(radius, tuple(tint * 0.8), 6, 4, 0.85).moved(place(middle, 40.0 * k))
        light = 0.62 + 0.38 * np.clip(lump.normals[:, 2:] * 0.6 + 0.5, 0, 1)
        lumps.append(Shape(lump.positions, lump.normals, lump.uv / 1.6, lump.colors * light, lump.triangles))
        facing = ring(rng, 12, (-45, 85))
        colors = shades(rng, green, 12, 0.16) * (0.70 + 0.45 * np.clip(facing[:, 2:] * 0.5 + 0.5, 0, 1))
        size = radius * rng.uniform(0.85, 1.15, 12)
        leaves.append(
            cards(
                rng,
                "tuft",
                facing * radius * 0.62 + middle,
                unit(facing + rng.normal(0, 0.3, (12, 3))),
                size,
                colors,
                1.1,
                0.15,
                1,
                heart,
                0.75,
            )
        )
    return trunk, join(lumps), join(leaves)


def hills() -> Shape:
    """Three ridges at 85 to 210 m, each paler than the one before, hedgerows drawn across them.

    Shown without lighting: colours hold the light and the haze.
    """
    rng = np.random.default_rng(77)
    parts: list[Shape] = []
    for k, (distance, height, color, share) in enumerate(
        (
            (85.0, 5.0, (0.24, 0.33, 0.12), 0.22),
            (130.0, 11.0, (0.30, 0.38, 0.18), 0.48),
            (210.0, 25.0, (0.28, 0.38, 0.30), 0.72),
        )
    ):
        count, rows = 127, 5
        turn = np.linspace(0, 2 * np.pi, count)
        wave = sum(
            np.sin(turn * n + phase) / n**0.7
            for n, phase in ((3, 0.4 + k), (5, 2.1 * k + 1), (8, 0.7 - k), (13, 3.3 + 2 * k), (21, 1.0 + k))
        )
        top = height * (0.62 + 0.20 * np.asarray(wave))
        if k < 2:
            top = top + np.repeat(rng.uniform(0, 0.09 * height, count // 2 + 1), 2)[:count]  # tree tops
        rise = np.asarray([-0.4, 0.25, 0.60, 0.90, 1.0])
        around = np.stack([np.sin(turn), np.cos(turn)], axis=1)
        points = np.concatenate([np.column_stack([around * (distance + 6 * r), top * r]) for r in rise])
        fields = rng.uniform(0.85, 1.2, (rows, count // 9 + 1)).repeat(9, axis=1)[:, :count]
        warm = rng.uniform(-0.12, 0.2, (rows, count // 9 + 1)).repeat(9, axis=1)[:, :count]
        tone = np.asarray(color) * fields[..., None] * (1 + warm[..., None] * [1.0, 0.3, -0.6])
        tone[-2:] *= 0.62  # the wood along the ridge
        colors = (tone * (1 - share) + HAZE * 0.92 * share).reshape(-1, 3)
        i = np.arange(count - 1)
        triangles = np.concatenate(
            [
                np.concatenate(
                    [np.stack([i, i + 1, i + count + 1], 1), np.stack([i, i + count + 1, i + count], 1)]
                )
                + r * count
                for r in range(rows - 1)
            ]
        )
        normals = np.tile(np.column_stack([-around, np.zeros(count)]), (rows, 1))
        parts.append(Shape(points, normals, np.zeros((rows * count, 2)), colors, triangles))
    return join(parts)


def ground() -> Grown:
    """Lawn all round (a hole under the house is not needed: it lies lower) and a gravel walk."""
    near = grid(np.linspace(-90, 90, 21), np.linspace(-90, 90, 21), LAWN_Z - 0.06, (1, 1, 1)).uv_scaled(1 / 6)
    far = np.linalg.norm(near.positions[:, :2], axis=1)
    lawn = Shape(near.positions, near.normals, near.uv, np.ones_like(near.colors), near.triangles)
    share = np.clip((far - 25) / 110, 0, 0.6)[:, None]
    lawn = Shape(
        lawn.positions,
        lawn.normals,
        lawn.uv,
        lawn.colors * (1 - share) + share * np.asarray((0.9, 1.0, 1.0)),
        lawn.triangles,
    )
    walk = grid(np.linspace(-1.5, 1.5, 3), np.linspace(FAR_Y + 0.2, FAR_Y + 27, 12), LAWN_Z + 0.02)
    apron = []
    for low, high in ((HALF_WIDTH + 0.2, HALF_WIDTH + 1.4), (-HALF_WIDTH - 1.4, -HALF_WIDTH - 0.2)):
        apron.append(grid(np.asarray([low, high]), np.linspace(NEAR_Y, FAR_Y, 12), LAWN_Z + 0.02))
    sill = box((-1.3, FAR_Y, LAWN_Z - 0.02), (1.3, FAR_Y + 0.5, 0.0), grain="x")
    return {"turf": [lawn], "shingle": [walk, *apron], "stone": [sill.uv_scaled(1 / 2.4)]}


def garden(seed: int) -> Grown:
    rng = np.random.default_rng(seed)
    hedges: list[Shape] = []
    for sign in (-1.0, 1.0):
        low, high = sorted((sign * 2.3, sign * 9.5))
        hedges.append(hedge((low, 30.0), (high, 31.2), 1.9, rng))
        low, high = sorted((sign * 2.1, sign * 2.9))
        hedges.append(hedge((low, 21.5), (high, 28.5), 0.62, rng))
        low, high = sorted((sign * 14.0, sign * 15.4))
        hedges.append(hedge((low, -18.0), (high, 30.0), 2.5, rng))
        low, high = sorted((sign * 1.6, sign * 12.0))
        hedges.append(hedge((low, 49.0), (high, 50.6), 2.4, rng))
        low, high = sorted((sign * 9.5, sign * 24.0))
        hedges.append(hedge((low, 33.0), (high, 34.5), 2.6, rng))
        for y in (22.2, 25.0, 27.8):
            hedges.append(cone(rng, 2.3).moved(place((sign * 3.7, y, LAWN_Z))))
    trunks: list[Shape] = []
    crowns: list[Shape] = []
    where: list[tuple[float, float, float, float, str]] = []

    def plant(x: float, y: float, height: float, spread: float) -> None:
        green = ("herb", "deep", "tomato", "lime")[rng.integers(4)] if rng.random() < 0.8 else "silver"
        where.append(
            (
                x + rng.uniform(-0.8, 0.8),
                y + rng.uniform(-1, 1),
                height * rng.uniform(0.85, 1.15),
                spread * rng.uniform(0.85, 1.15),
                green,
            )
        )

    for sign in (-1.0, 1.0):
        for y in (35.0, 41.0, 47.5, 55.0):  # the avenue seen through the door
            plant(sign * 3.9, y, 5.6, 2.1)
        for x in (9.0, 14.5, 21.0, 28.5):
            plant(sign * x, 39.0 + x * 0.2, 8.5, 3.6)
        for x in (11.5, 19.0, 26.0):
            plant(sign * x, 27.0, 5.0, 2.4)
        for y in (-14.0, -8.0, -2.0, 4.0, 9.5, 15.0, 21.0):
            plant(sign * 19.0, y, 6.6, 2.9)
        for y in (-9.0, 1.5, 12.0, 23.0):
            plant(sign * 29.0, y, 9.5, 4.0)
    for x in (-7.0, -2.6, 2.4, 7.0):  # the avenue's end
        plant(x, 57.0, 6.4, 3.0)
    for x in (-13.0, -4.0, 6.0, 15.0):
        plant(x, -27.0, 8.5, 3.6)
    for x, y, height, spread, green in where:
        trunk, lumps, leaves = tree(rng, height, spread, green)
        share = float(np.clip((np.hypot(x, y) - 15) / 120, 0, 0.4))
        turn = place((x, y, 0), rng.uniform(0, 360))
        trunks.append(trunk.moved(turn))
        hedges.append(faded(lumps.moved(turn), share))
        crowns.append(faded(leaves.moved(turn), share))
    urn = lathe(
        [
            (0.30, 0),
            (0.30, 0.5),
            (0.24, 0.55),
            (0.10, 0.7),
            (0.14, 0.85),
            (0.36, 1.15),
            (0.38, 1.2),
            (0.0, 1.2),
        ],
        12,
        (0.95, 0.93, 0.88),
    )
    urns = [urn.moved(place((sign * 1.95, 29.4, LAWN_Z))) for sign in (-1.0, 1.0)]
    plinth = lathe(
        [
            (0.9, 0),
            (0.9, 0.25),
            (0.6, 0.3),
            (0.5, 0.35),
            (0.5, 1.3),
            (0.62, 1.4),
            (0.62, 1.5),
            (0.2, 1.6),
            (0.55, 2.3),
            (0.6, 2.4),
            (0.0, 2.4),
        ],
        12,
        (0.95, 0.93, 0.88),
    )
    urns.append(plinth.moved(place((0, 44.0, LAWN_Z))))
    return merge(
        ground(),
        {
            "hedge": hedges,
            "crown": crowns,
            "bark": trunks,
            "stone": [shape.uv_scaled(1 / 2.4) for shape in urns],
            "hills": [hills()],
        },
    )
