"""One cut-out picture of eight sprigs: many leaves for two triangles.

Grey-green levels, tinted by vertex colour. Each cell is 512 px square in a 2048 x 1024 sheet; stems
start at the cell's bottom middle and grow up.
"""

from __future__ import annotations

import cv2
import numpy as np

from .shapes import Array

CELL = 512
OVER = 2
NAMES = (("sprig", "compound", "herb", "ivy"), ("fern", "palm", "blossom", "tuft"))


def cell(name: str) -> tuple[float, float, float, float]:
    """Texture coordinates u0, v0, u1, v1 of a sprig, a little inside its cell."""
    for row, names in enumerate(NAMES):
        if name in names:
            column = names.index(name)
            inset = 0.006
            return (
                column / 4 + inset / 2,
                row / 2 + inset,
                (column + 1) / 4 - inset / 2,
                (row + 1) / 2 - inset,
            )
    raise ValueError(f"no sprig called {name!r}")


class Cell:
    """One sprig being drawn, coordinates 0..1, x right, y up from the stem's foot."""

    def __init__(self, rng: np.random.Generator) -> None:
        self.size = CELL * OVER
        self.color = np.zeros((self.size, self.size, 3), np.float32)
        self.alpha = np.zeros((self.size, self.size), np.uint8)
        self.rng = rng

    def _px(self, points: Array) -> np.ndarray:
        xy = np.stack([points[:, 0] * self.size, (1 - points[:, 1]) * self.size], axis=1)
        return np.round(xy * 16).astype(np.int32)

    def fill(self, points: Array, tone: Array | tuple[float, float, float]) -> None:
        corners = [self._px(np.asarray(points))]
        color = tuple(float(v) for v in np.asarray(tone))
        cv2.fillPoly(self.color, corners, color, cv2.LINE_8, 4)
        cv2.fillPoly(self.alpha, corners, 255, cv2.LINE_8, 4)

    def line(self, points: Array, tone: Array | tuple[float, float, float], thick: float) -> None:
        corners = [self._px(np.asarray(points))]
        width = max(1, round(thick * self.size))
        color = tuple(float(v) for v in np.asarray(tone))
        cv2.polylines(self.color, corners, False, color, width, cv2.LINE_8, 4)
        cv2.polylines(self.alpha, corners, False, 255, width, cv2.LINE_8, 4)

    def leaf(
        self,
        x: float,
        y: float,
        angle_deg: float,
        length: float,
        width: float,
        tone: float = 1.0,
        teeth: int = 0,
        heart: float = 0.0,
        bend: float = 0.0,
    ) -> None:
        """A blade from (x, y) towards ``angle_deg`` (90 is up), its two halves lit differently."""
        rng = self.rng
        t = np.linspace(0, 1, 22)
        half = np.sin(np.pi * np.clip(t, 0, 1) ** 0.72) ** 0.85 * width / 2
        if heart:
            half = half + heart * width * np.exp(-(((t - 0.12) / 0.13) ** 2)) * (t > 0)
        if teeth:
            half = half * (1 + 0.16 * (2 * ((t * teeth) % 1) - 1) * (t > 0.06) * (t < 0.97))
        a = np.radians(angle_deg) + bend * (t - 0.3)
        forward = np.stack([np.cos(a), np.sin(a)], axis=1)
        spine = np.asarray([x, y]) + np.concatenate(
            [[[0.0, 0.0]], np.cumsum(forward[1:] * length / 21, axis=0)]
        )
        normal = np.stack([-forward[:, 1], forward[:, 0]], axis=1)
        left, right = spine + normal * half[:, None], spine - normal * half[:, None]
        hue = np.asarray((1 + rng.normal(0, 0.05), 1.0, 1 + rng.normal(0, 0.08)))
        light = 1.0 if np.cos(a[0]) < 0 else 0.86
        level = 0.80 * tone
        self.fill(np.concatenate([spine, left[::-1]]), hue * level * (0.80 + 0.2 * light))
        self.fill(np.concatenate([spine, right[::-1]]), hue * level * (1.14 - 0.2 * light))
        if length > 0.12:
            for k in range(4, 19, 3):
                for edge in (left, right):
                    self.line(
                        np.stack([spine[k - 2], spine[k] * 0.25 + edge[k] * 0.75]), hue * level * 1.10, 0.0016
                    )
        self.line(spine, hue * level * 1.22, 0.0030 if length > 0.1 else 0.0020)

    def finished(self) -> Array:
        """(CELL, CELL, 4), colours spread outwards so that smaller versions keep no dark rims."""
        size = (CELL, CELL)
        alpha = np.asarray(
            cv2.resize(self.alpha.astype(np.float32) / 255, size, interpolation=cv2.INTER_AREA)
        )
        color = (
            cv2.resize(self.color, size, interpolation=cv2.INTER_AREA) / np.maximum(alpha, 1e-6)[..., None]
        )
        spread = np.asarray(color)
        spread[alpha < 0.02] = 0
        known = alpha >= 0.02
        weight = known.astype(np.float32)
        for sigma in (2, 8):
            share = cv2.GaussianBlur(weight, (0, 0), sigma)
            blurred = (
                cv2.GaussianBlur(spread * weight[..., None], (0, 0), sigma)
                / np.maximum(share, 1e-6)[..., None]
            )
            fresh = ~known & (share > 1e-3)
            spread[fresh] = blurred[fresh]
            known |= fresh
        spread[~known] = self.color[self.alpha > 0].mean(0)
        return np.concatenate([spread, alpha[..., None]], axis=2).astype(np.float64)


STEM = (0.62, 0.58, 0.40)


def _sprig(rng: np.random.Generator) -> Array:
    """Oval leaves in turn up a stem."""
    c = Cell(rng)
    c.line(np.asarray([(0.5, 0.0), (0.49, 0.4), (0.51, 0.8)]), STEM, 0.012)
    for k, y in enumerate(np.linspace(0.05, 0.78, 13)):
        side = 1 if k % 2 else -1
        c.leaf(
            0.5,
            y,
            90 - side * rng.uniform(42, 74),
            rng.uniform(0.36, 0.46) * (1 - 0.35 * y),
            0.175 * (1 - 0.25 * y),
            rng.uniform(0.8, 1.1),
            bend=side * 0.5,
        )
    for side in (-1, 1):
        c.leaf(0.5, 0.74, 90 - side * 28, 0.23, 0.12, rng.uniform(0.95, 1.1))
    c.leaf(0.51, 0.74, 90, 0.25, 0.125, 1.12)
    return c.finished()


def _compound(rng: np.random.Generator) -> Array:
    """Toothed leaflets in pairs: tomato."""
    c = Cell(rng)
    c.line(np.asarray([(0.5, 0.0), (0.5, 0.85)]), STEM, 0.012)
    for k, y in enumerate(np.linspace(0.18, 0.70, 4)):
        for side in (-1, 1):
            c.leaf(
                0.5,
                y,
                90 - side * rng.uniform(52, 66),
                0.37 - 0.045 * k,
                0.20 - 0.02 * k,
                rng.uniform(0.82, 1.05),
                7,
                bend=side * 0.4,
            )
            if k < 3:
                c.leaf(0.5, y + 0.09, 90 - side * 68, 0.13, 0.075, rng.uniform(0.8, 1.0), 4)
    c.leaf(0.5, 0.68, 90, 0.31, 0.22, 1.08, 8)
    return c.finished()


def _herb(rng: np.random.Generator) -> Array:
    """Three wiry stems with many small leaves."""
    c = Cell(rng)
    for lean in (-24, 23, 0):
        a = np.radians(90 - lean)
        reach = 0.93 if lean == 0 else 0.84
        tip = np.asarray([0.5 + reach * np.cos(a), reach * np.sin(a)])
        c.line(np.asarray([(0.5, 0.0), tip]), STEM, 0.008)
        for t in np.linspace(0.16, 1.0, 15):
            x, y = np.asarray([0.5, 0.0]) * (1 - t) + tip * t
            for side in (-1, 1):
                c.leaf(
                    x,
                    y,
                    90 - lean - side * rng.uniform(40, 75),
                    rng.uniform(0.10, 0.135) * (1.1 - 0.4 * t),
                    0.062,
                    rng.uniform(0.78, 1.12),
                )
    return c.finished()


def _ivy(rng: np.random.Generator) -> Array:
    """A trail of heart-shaped leaves on both sides of a thin stem."""
    c = Cell(rng)
    c.line(np.asarray([(0.5, 0.0), (0.47, 0.3), (0.53, 0.65), (0.5, 0.95)]), STEM, 0.010)
    for k, y in enumerate(np.linspace(0.16, 0.84, 9)):
        side = 1 if k % 2 else -1
        angle = 90 - side * rng.uniform(50, 105)
        start = np.asarray([0.5, y]) + 0.09 * np.asarray(
            [np.cos(np.radians(angle)), np.sin(np.radians(angle))]
        )
        c.line(np.asarray([(0.5, y), start]), STEM, 0.006)
        c.leaf(
            start[0],
            start[1],
            angle - side * rng.uniform(-15, 25),
            rng.uniform(0.20, 0.27),
            0.19,
            rng.uniform(0.75, 1.12),
            heart=0.20,
        )
    c.leaf(0.5, 0.80, 92, 0.19, 0.13, 1.1, heart=0.2)
    return c.finished()


def _fern(rng: np.random.Generator) -> Array:
    """One frond: leaflets, each cut into lobes."""
    c = Cell(rng)
    c.line(np.asarray([(0.5, 0.0), (0.5, 0.95)]), STEM, 0.010)
    for t in np.linspace(0.10, 0.955, 26):
        reach = 0.43 * np.minimum(1.0, (t + 0.10) / 0.32) * (1.0 - t**1.6) ** 0.8 + 0.012
        for side in (-1, 1):
            tone = rng.uniform(0.84, 1.06)
            angle = 90 - side * (76 - 22 * t)
            a = np.radians(angle)
            lobes = max(3, round(reach * 34))
            for s in np.linspace(0.08, 0.92, lobes):
                x, y = 0.5 + reach * s * np.cos(a), t + reach * s * np.sin(a)
                for edge in (-1, 1):
                    c.leaf(x, y, angle + edge * 52, 0.036 * (1.15 - 0.7 * s), 0.019, tone)
            c.leaf(0.5, t, angle, reach, 0.020, tone * 1.05)
    return c.finished()


def _palm(rng: np.random.Generator) -> Array:
    """Feather frond: long narrow leaflets."""
    c = Cell(rng)
    for t in np.linspace(0.08, 0.89, 30):
        reach = 0.50 * (1 - 0.80 * t**1.8) * (0.45 + 0.55 * min(1.0, t / 0.25))
        for side in (-1, 1):
            c.leaf(
                0.5,
                t,
                90 - side * (66 - 38 * t) + rng.normal(0, 2.5),
                min(reach, 0.49),
                0.030,
                rng.uniform(0.8, 1.08),
                bend=-side * 0.35,
            )
    c.line(np.asarray([(0.5, 0.0), (0.5, 0.92)]), (0.86, 0.82, 0.5), 0.012)
    return c.finished()


def _blossom(rng: np.random.Generator) -> Array:
    """A cluster of five flowers, white for tinting, golden middles."""
    c = Cell(rng)
    for x, y, size in (
        (0.27, 0.30, 0.26),
        (0.72, 0.27, 0.25),
        (0.5, 0.55, 0.28),
        (0.26, 0.76, 0.22),
        (0.76, 0.75, 0.23),
    ):
        turn = rng.uniform(0, 72)
        for k in range(6):
            a = turn + 60 * k
            c.leaf(
                x + 0.02 * np.cos(np.radians(a)),
                y + 0.02 * np.sin(np.radians(a)),
                a,
                size * 0.82,
                size * 0.58,
                rng.uniform(1.05, 1.22),
            )
        ring = np.radians(np.arange(0, 360, 30))
        c.fill(
            np.stack([x + 0.2 * size * np.cos(ring), y + 0.2 * size * np.sin(ring)], 1), (0.98, 0.80, 0.35)
        )
    return c.finished()


def _tuft(rng: np.random.Generator) -> Array:
    """A dense cushion of leaves for bushes and tree crowns far away."""
    c = Cell(rng)
    for k in range(150):
        t = k / 150
        radius = 0.33 * np.sqrt(rng.random())
        turn = rng.uniform(0, 2 * np.pi)
        x, y = 0.5 + radius * np.cos(turn), 0.5 + radius * np.sin(turn)
        c.leaf(
            x,
            y,
            np.degrees(turn) + rng.normal(0, 45),
            rng.uniform(0.10, 0.16),
            0.075,
            (0.55 + 0.5 * t) * rng.uniform(0.9, 1.1),
        )
    return c.finished()


def sheet(rng: np.random.Generator) -> Array:
    """(1024, 2048, 4) encoded colour and coverage."""
    makers = {
        "sprig": _sprig,
        "compound": _compound,
        "herb": _herb,
        "ivy": _ivy,
        "fern": _fern,
        "palm": _palm,
        "blossom": _blossom,
        "tuft": _tuft,
    }
    rows = [np.concatenate([makers[name](rng) for name in names], axis=1) for names in NAMES]
    return np.clip(np.concatenate(rows, axis=0), 0, 1)


def png(picture: Array, shrink: int = 1) -> bytes:
    """Encoded PNG; colours in steps of 4 and no shading where nothing shows, which packs well."""
    if shrink > 1:
        size = (picture.shape[1] // shrink, picture.shape[0] // shrink)
        picture = np.asarray(cv2.resize(picture, size, interpolation=cv2.INTER_AREA))
    levels = np.round(np.clip(picture, 0, 1) * 255)
    levels[..., :3] = np.round(levels[..., :3] / 4) * 4
    levels = np.clip(levels, 0, 255).astype(np.uint8)
    done, data = cv2.imencode(".png", levels[..., [2, 1, 0, 3]], [cv2.IMWRITE_PNG_COMPRESSION, 9])
    if not done:
        raise RuntimeError("OpenCV could not encode a PNG picture")
    return bytes(data)
