"""Remote callers: drawn portraits, one as a clip that blinks and talks, one as a still.

Nobody here is real. Pictures are drawn four times too large and scaled down for smooth edges.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import av
import cv2
import numpy as np
import numpy.typing as npt

Picture = npt.NDArray[np.uint8]
Color = tuple[int, int, int]
SIZE = (960, 540)
SCALE = 2
FRAMES = 200
RATE = 25


@dataclass(frozen=True)
class Face:
    """What a caller looks like (colours are RGB)."""

    skin: Color
    hair: Color
    top: Color
    hair_style: str
    glasses: bool
    x: float = 0.5
    scale: float = 1.0
    hat: Color | None = None


class Sheet:
    """A large canvas to draw on; coordinates are shares of the picture's height from its left top."""

    def __init__(self) -> None:
        self.height = SIZE[1] * SCALE
        self.width = SIZE[0] * SCALE
        self.pixels: Picture = np.zeros((self.height, self.width, 3), np.uint8)

    def _at(self, points: list[tuple[float, float]]) -> npt.NDArray[np.int32]:
        return np.round(np.asarray(points) * self.height).astype(np.int32)

    def polygon(self, points: list[tuple[float, float]], color: Color) -> None:
        cv2.fillPoly(self.pixels, [self._at(points)], color, cv2.LINE_AA)

    def ellipse(
        self,
        x: float,
        y: float,
        rx: float,
        ry: float,
        color: Color,
        turn: float = 0.0,
        arc: tuple[float, float] = (0, 360),
        thick: float = 0.0,
    ) -> None:
        middle = tuple(int(v) for v in self._at([(x, y)])[0])
        axes = (max(1, round(rx * self.height)), max(1, round(ry * self.height)))
        width = max(1, round(thick * self.height)) if thick else -1
        cv2.ellipse(self.pixels, middle, axes, turn, arc[0], arc[1], color, width, cv2.LINE_AA)

    def line(self, points: list[tuple[float, float]], color: Color, thick: float) -> None:
        cv2.polylines(
            self.pixels, [self._at(points)], False, color, max(1, round(thick * self.height)), cv2.LINE_AA
        )

    def soften(self, sigma: float) -> None:
        self.pixels = np.asarray(cv2.GaussianBlur(self.pixels, (0, 0), sigma * self.height), np.uint8)

    def gradient(self, top: Color, bottom: Color) -> None:
        t = np.linspace(0, 1, self.height)[:, None, None]
        self.pixels = np.round(np.asarray(top) * (1 - t) + np.asarray(bottom) * t).astype(np.uint8) * np.ones(
            (1, self.width, 1), np.uint8
        )

    def picture(self) -> Picture:
        return np.asarray(cv2.resize(self.pixels, SIZE, interpolation=cv2.INTER_AREA), np.uint8)


def blend(a: Color, b: Color, share: float) -> Color:
    return tuple(int(x * (1 - share) + y * share) for x, y in zip(a, b, strict=True))  # type: ignore[return-value]


def darker(color: Color, share: float) -> Color:
    return tuple(int(np.clip(channel * share, 0, 255)) for channel in color)  # type: ignore[return-value]


def kitchen(sheet: Sheet, sway: float) -> None:
    """A kitchen: window with a hedge outside, tiles, a shelf, herbs on the sill."""
    sheet.gradient((224, 206, 176), (198, 172, 138))
    sheet.polygon([(0.10, 0.08), (0.72, 0.08), (0.72, 0.66), (0.10, 0.66)], (240, 236, 224))
    sheet.polygon([(0.13, 0.11), (0.69, 0.11), (0.69, 0.63), (0.13, 0.63)], (188, 214, 232))
    rng = np.random.default_rng(3)
    for _ in range(60):
        x, y = rng.uniform(0.15, 0.67), rng.uniform(0.36, 0.63)
        sheet.ellipse(
            x, y, 0.035, 0.028, (int(90 + 50 * rng.random()), int(130 + 50 * rng.random()), 74), arc=(0, 360)
        )
    sheet.polygon([(0.13, 0.628), (0.69, 0.628), (0.69, 0.66), (0.13, 0.66)], (240, 236, 224))
    sheet.line([(0.41, 0.10), (0.41, 0.64)], (240, 236, 224), 0.014)
    sheet.line([(0.12, 0.36), (0.70, 0.36)], (240, 236, 224), 0.014)
    sheet.polygon([(0.05, 0.66), (0.78, 0.66), (0.78, 0.70), (0.05, 0.70)], (150, 108, 74))
    for k, x in enumerate((0.17, 0.28, 0.60)):
        sheet.polygon(
            [(x - 0.035, 0.58), (x + 0.035, 0.58), (x + 0.027, 0.66), (x - 0.027, 0.66)], (188, 104, 72)
        )
        for j in range(7):
            a = np.radians(-150 + 20 * j) + 0.05 * sway
            sheet.line(
                [(x, 0.58), (x + 0.07 * np.cos(a), 0.58 + 0.10 * np.sin(a))], (84 + 8 * k, 132, 70), 0.016
            )
    sheet.polygon([(1.28, 0.20), (1.78, 0.20), (1.78, 0.225), (1.28, 0.225)], (150, 108, 74))
    for x, h, color in (
        (1.34, 0.10, (196, 88, 64)),
        (1.42, 0.13, (232, 220, 190)),
        (1.50, 0.09, (94, 130, 128)),
        (1.60, 0.12, (214, 168, 88)),
        (1.69, 0.10, (232, 220, 190)),
    ):
        sheet.polygon(
            [(x - 0.032, 0.20 - h), (x + 0.032, 0.20 - h), (x + 0.032, 0.20), (x - 0.032, 0.20)], color
        )
    for row in range(6):
        for column in range(8):
            x, y = 1.14 + 0.085 * column, 0.42 + 0.085 * row
            tone = 222 - (row * 7 + column * 11) % 13
            sheet.polygon(
                [(x, y), (x + 0.08, y), (x + 0.08, y + 0.08), (x, y + 0.08)], (tone, tone - 4, tone - 20)
            )
    sheet.soften(0.006)


def allotment(sheet: Sheet, sway: float) -> None:
    """An allotment in low sun: sky, trees, a shed, bean rows."""
    sheet.gradient((172, 208, 232), (240, 228, 200))
    rng = np.random.default_rng(8)
    for _ in range(160):
        x, y = rng.uniform(0, 1.78), rng.uniform(0.30, 0.52)
        g = int(104 + 60 * rng.random())
        sheet.ellipse(x, y, 0.07, 0.05, (int(g * 0.75), g, int(g * 0.5)))
    sheet.polygon([(0.0, 0.50), (1.78, 0.50), (1.78, 1.0), (0.0, 1.0)], (128, 148, 76))
    sheet.polygon([(1.26, 0.24), (1.66, 0.24), (1.66, 0.66), (1.26, 0.66)], (112, 126, 112))
    for k in range(8):
        sheet.line([(1.27 + 0.05 * k, 0.24), (1.27 + 0.05 * k, 0.66)], (94, 108, 96), 0.005)
    sheet.polygon([(1.22, 0.25), (1.46, 0.12), (1.70, 0.25)], (140, 86, 66))
    sheet.polygon([(1.40, 0.36), (1.54, 0.36), (1.54, 0.66), (1.40, 0.66)], (84, 96, 88))
    for row in range(4):
        y = 0.60 + 0.10 * row
        for x in np.arange(0.02 + 0.03 * row, 1.78, 0.085 + 0.02 * row):
            h = 0.17 + 0.05 * row
            sheet.line([(x, y), (x + 0.012, y - h)], (170, 140, 90), 0.006)
            for j in range(5):
                a = rng.uniform(0, 6.28) + 0.04 * sway
                sheet.ellipse(
                    x + 0.03 * np.cos(a),
                    y - h * j / 5 - 0.02,
                    0.020,
                    0.015,
                    (84, int(124 + 40 * rng.random()), 58),
                )
    sheet.soften(0.006)


def portrait(sheet: Sheet, face: Face, turn: float, mouth: float, lids: float, lift: float) -> None:
    """Head and shoulders. ``turn`` -1..1 looks aside, ``mouth`` 0..1 opens, ``lids`` 0..1 closes."""
    s = face.scale
    cx = face.x * 16 / 9 + 0.012 * turn
    cy = 0.47 + 0.05 * (1 - s) + lift
    skin, shade = face.skin, darker(face.skin, 0.82)

    def at(x: float, y: float) -> tuple[float, float]:
        return (cx + x * s, cy + y * s)

    def oval(x: float, y: float, rx: float, ry: float, color: Color, **more: object) -> None:
        sheet.ellipse(*at(x, y), rx * s, ry * s, color, **more)  # type: ignore[arg-type]

    if face.hair_style == "bob":
        oval(0, -0.01, 0.225, 0.27, darker(face.hair, 0.8))
        sheet.polygon(
            [at(-0.225, 0.0), at(0.225, 0.0), at(0.20, 0.25), at(-0.20, 0.25)], darker(face.hair, 0.8)
        )
    if face.hair_style == "bun":
        oval(0.03, -0.30, 0.095, 0.085, darker(face.hair, 0.9))
        oval(0, -0.05, 0.205, 0.235, darker(face.hair, 0.85))
    # Shoulders, neck, collar
    shoulder = [
        at(-0.46, 0.68),
        at(-0.40, 0.42),
        at(-0.24, 0.335),
        at(-0.09, 0.29),
        at(0.09, 0.29),
        at(0.24, 0.335),
        at(0.40, 0.42),
        at(0.46, 0.68),
    ]
    sheet.polygon(shoulder, face.top)
    sheet.polygon(
        [at(0.05, 0.31), at(0.24, 0.335), at(0.40, 0.42), at(0.46, 0.68), at(0.12, 0.68)],
        darker(face.top, 0.88),
    )
    sheet.polygon([at(-0.085, 0.14), at(0.085, 0.14), at(0.095, 0.31), at(0, 0.37), at(-0.095, 0.31)], shade)
    sheet.polygon(
        [at(-0.10, 0.28), at(-0.02, 0.385), at(-0.10, 0.41), at(-0.17, 0.31)], darker(face.top, 1.18)
    )
    sheet.polygon([at(0.10, 0.28), at(0.02, 0.385), at(0.10, 0.41), at(0.17, 0.31)], darker(face.top, 1.08))
    # Ears, head
    oval(-0.172, 0.01, 0.028, 0.05, shade)
    oval(0.172, 0.01, 0.028, 0.05, shade)
    oval(0, -0.02, 0.17, 0.20, skin)
    oval(0, 0.07, 0.142, 0.145, skin)
    oval(0.085, 0.05, 0.085, 0.14, darker(skin, 0.94))
    oval(0.03, 0.045, 0.105, 0.15, skin)
    t = 0.018 * turn
    oval(
        -0.092 + t,
        0.075,
        0.038,
        0.028,
        blend(skin, (214, 96, 84), 0.2),
    )
    oval(
        0.092 + t,
        0.075,
        0.038,
        0.028,
        blend(skin, (214, 96, 84), 0.18),
    )
    # Eyes
    for x in (-0.068 + t, 0.068 + t):
        oval(x, -0.008, 0.030, 0.020 * (1 - lids) + 0.002, (246, 242, 236))
        if lids < 0.6:
            oval(x + 0.5 * t, -0.007, 0.014, 0.0155, (70, 58, 44))
            oval(x + 0.5 * t + 0.004, -0.012, 0.004, 0.004, (250, 250, 250))
        oval(x, -0.008, 0.032, 0.022 * (1 - lids) + 0.003, darker(skin, 0.55), arc=(190, 350), thick=0.007)
        oval(x, -0.030 - 0.004 * mouth, 0.040, 0.022, darker(face.hair, 0.75), arc=(205, 335), thick=0.011)
    # Nose, mouth
    sheet.line(
        [at(t * 1.5 + 0.004, -0.005), at(t * 2 + 0.018, 0.062), at(t * 2 - 0.004, 0.070)],
        darker(skin, 0.78),
        0.008 * s,
    )
    oval(t * 1.4, 0.118, 0.052, 0.010 + 0.026 * mouth, (120, 48, 44))
    if mouth > 0.2:
        oval(t * 1.4, 0.112 - 0.010 * mouth, 0.040, 0.006, (240, 232, 224))
    oval(t * 1.4, 0.108, 0.055, 0.022 + 0.02 * mouth, darker(skin, 0.70), arc=(20, 160), thick=0.008)
    # Hair in front
    if face.hair_style in ("bob", "bun"):
        points = [
            at(0.18 * np.cos(a), -0.02 + 0.215 * np.sin(a)) for a in np.radians(np.arange(180, 361, 10))
        ]
        points += [
            at(0.165, -0.06),
            at(0.08, -0.125),
            at(-0.02, -0.145),
            at(-0.10, -0.115),
            at(-0.168, -0.04),
        ]
        sheet.polygon(points, face.hair)
        sheet.line([at(-0.03, -0.23), at(-0.06, -0.14)], darker(face.hair, 1.18), 0.006)
    else:
        points = [
            at(0.178 * np.cos(a), -0.03 + 0.20 * np.sin(a)) for a in np.radians(np.arange(185, 356, 10))
        ]
        points += [at(0.160, -0.10), at(0.10, -0.145), at(0, -0.152), at(-0.10, -0.145), at(-0.160, -0.10)]
        sheet.polygon(points, face.hair)
    if face.hair_style == "beard":
        ring = [at(0.165 * np.cos(a), 0.03 + 0.205 * np.sin(a)) for a in np.radians(np.arange(0, 181, 10))]
        ring += [at(-0.13, 0.08), at(-0.07, 0.092), at(0.0, 0.085), at(0.07, 0.092), at(0.13, 0.08)]
        sheet.polygon(ring, face.hair)
        oval(t * 1.4, 0.122, 0.046, 0.010 + 0.024 * mouth, (120, 48, 44))
    if face.hat:
        sheet.polygon(
            [
                at(-0.30, -0.13),
                at(-0.20, -0.165),
                at(0.20, -0.165),
                at(0.30, -0.13),
                at(0.20, -0.105),
                at(-0.20, -0.105),
            ],
            darker(face.hat, 0.85),
        )
        sheet.polygon(
            [
                at(-0.185, -0.15),
                at(-0.165, -0.27),
                at(-0.06, -0.305),
                at(0.06, -0.305),
                at(0.165, -0.27),
                at(0.185, -0.15),
            ],
            face.hat,
        )
        sheet.polygon(
            [at(-0.183, -0.15), at(-0.178, -0.185), at(0.178, -0.185), at(0.183, -0.15)], (120, 66, 52)
        )
    if face.glasses:
        for x in (-0.068 + t, 0.068 + t):
            oval(x, -0.005, 0.048, 0.042, (96, 60, 44), thick=0.009)
        sheet.line([at(-0.022 + t, -0.012), at(0.022 + t, -0.012)], (96, 60, 44), 0.009)


def caption(sheet: Sheet, name: str, place: str) -> None:
    """Name strap in the lower left."""
    u = sheet.height
    sheet.polygon([(0.0, 0.845), (0.74, 0.845), (0.70, 0.955), (0.0, 0.955)], (38, 62, 50))
    sheet.polygon([(0.0, 0.955), (0.70, 0.955), (0.695, 0.967), (0.0, 0.967)], (222, 178, 82))
    font = cv2.FONT_HERSHEY_DUPLEX
    cv2.putText(
        sheet.pixels,
        name,
        (int(0.045 * u), int(0.905 * u)),
        font,
        u / 640,
        (250, 246, 232),
        max(1, u // 420),
        cv2.LINE_AA,
    )
    cv2.putText(
        sheet.pixels,
        place,
        (int(0.047 * u), int(0.942 * u)),
        font,
        u / 1250,
        (206, 218, 196),
        max(1, u // 700),
        cv2.LINE_AA,
    )


MAUD = Face((226, 178, 150), (196, 192, 188), (96, 112, 150), "bun", True, 0.54)
CAI = Face((172, 122, 90), (58, 42, 34), (188, 148, 70), "beard", False, 0.46, 1.02, (206, 186, 138))


def maud(frame: int) -> Picture:
    """Frame of the first caller's clip; the clip's end joins its start."""
    turn = frame / FRAMES * 2 * np.pi
    sheet = Sheet()
    kitchen(sheet, float(np.sin(turn)))
    talk = max(0.0, np.sin(turn * 23) * 0.5 + np.sin(turn * 31 + 1) * 0.5) * (
        0.35 + 0.65 * (np.sin(turn * 2) > -0.35)
    )
    lids = max((max(0.0, 1 - abs(frame - at) / 2.5) for at in (38, 96, 160)), default=0.0)
    portrait(
        sheet,
        MAUD,
        float(0.6 * np.sin(turn) + 0.25 * np.sin(turn * 3)),
        float(talk),
        lids,
        float(0.006 * np.sin(turn * 2)),
    )
    caption(sheet, "Maud, line 1", "Wilting tomatoes")
    return sheet.picture()


def cai() -> Picture:
    sheet = Sheet()
    allotment(sheet, 0.0)
    portrait(sheet, CAI, -0.4, 0.35, 0.0, 0.0)
    caption(sheet, "Cai, line 2", "Beans on the allotment")
    return sheet.picture()


def frames() -> Iterator[Picture]:
    for frame in range(FRAMES):
        yield maud(frame)


def write_clip(path: Path) -> None:
    """H.264, 25 frames a second, one thread so that the bytes repeat."""
    temporary = path.with_suffix(".part.mp4")
    with av.open(str(temporary), "w", options={"movflags": "faststart"}) as box:
        stream = box.add_stream(
            "libx264", rate=RATE, options={"crf": "23", "preset": "slow", "threads": "1", "tune": "animation"}
        )
        stream.width, stream.height, stream.pix_fmt = SIZE[0], SIZE[1], "yuv420p"
        stream.codec_context.thread_count = 1
        for picture in frames():
            for packet in stream.encode(av.VideoFrame.from_ndarray(picture, format="rgb24")):
                box.mux(packet)
        for packet in stream.encode():
            box.mux(packet)
    temporary.replace(path)


def write_still(path: Path, picture: Picture) -> None:
    temporary = path.with_suffix(".part.png")
    if not cv2.imwrite(
        str(temporary), cv2.cvtColor(picture, cv2.COLOR_RGB2BGR), [cv2.IMWRITE_PNG_COMPRESSION, 9]
    ):
        raise OSError(f"could not write {temporary}")
    temporary.replace(path)
