"""Procedural pictures for the materials: numpy noise and shapes, encoded as JPEG.

Pictures are (h, w, 3) float arrays, encoded sRGB values 0..1, and repeat at their edges.
"""

from __future__ import annotations

import cv2
import numpy as np

from .shapes import Array


def noise(size: int, scale_px: float, rng: np.random.Generator, stretch: float = 1.0) -> Array:
    """(size, size) tileable noise, mean 0, standard deviation 1; ``stretch`` lengthens it along u."""
    white = rng.standard_normal((size, size))
    fy = np.fft.fftfreq(size)[:, None]
    fx = np.fft.fftfreq(size)[None, :] * stretch
    keep = np.exp(-2 * (np.pi * scale_px) ** 2 * (fx * fx + fy * fy) / 4)
    smooth = np.real(np.fft.ifft2(np.fft.fft2(white) * keep))
    smooth -= smooth.mean()
    return smooth / max(float(smooth.std()), 1e-12)


def layered(size: int, rng: np.random.Generator, scales: tuple[float, ...] = (64, 24, 8, 3)) -> Array:
    """Several octaves of noise, standard deviation about 1."""
    total = sum(noise(size, scale, rng) * (scale / scales[0]) ** 0.45 for scale in scales)
    return np.asarray(total / np.std(total))


def mix(a: Array, b: Array | tuple[float, float, float], share: Array) -> Array:
    share = np.clip(share, 0, 1)[..., None]
    return a * (1 - share) + np.asarray(b) * share


def flat(size: int, color: tuple[float, float, float]) -> Array:
    return np.tile(np.asarray(color), (size, size, 1))


def jpeg(picture: Array, quality: int = 86) -> bytes:
    """Encoded JPEG of a (h, w, 3) picture."""
    levels = np.round(np.clip(picture, 0, 1) * 255).astype(np.uint8)
    done, data = cv2.imencode(
        ".jpg", cv2.cvtColor(levels, cv2.COLOR_RGB2BGR), [cv2.IMWRITE_JPEG_QUALITY, quality]
    )
    if not done:
        raise RuntimeError("OpenCV could not encode a JPEG picture")
    return bytes(data)


def normals_from_height(height_m: Array, size_m: float, strength: float = 1.0) -> Array:
    """Tangent-space normal map (glTF: +Y up in the picture) of a repeating height field."""
    step = size_m / height_m.shape[0]
    slope_u = (np.roll(height_m, -1, 1) - np.roll(height_m, 1, 1)) / (2 * step) * strength
    slope_v = (np.roll(height_m, -1, 0) - np.roll(height_m, 1, 0)) / (2 * step) * strength
    normal = np.stack([-slope_u, slope_v, np.ones_like(slope_u)], axis=2)
    normal /= np.linalg.norm(normal, axis=2, keepdims=True)
    return normal * 0.5 + 0.5


def brick(rng: np.random.Generator, size: int = 512) -> tuple[Array, Array]:
    """Old stock bricks in running bond, 0.9 m square: colour and normals."""
    columns, rows = 4, 12
    y, x = np.mgrid[0:size, 0:size] / size
    row = np.floor(y * rows).astype(int)
    shifted = (x * columns + 0.5 * (row % 2)) % columns
    column = np.floor(shifted).astype(int)
    wobble = noise(size, 10, rng) * 0.012
    edge_x = np.minimum(shifted % 1, 1 - shifted % 1) / columns + wobble / 6
    edge_y = np.minimum((y * rows) % 1, 1 - (y * rows) % 1) / rows + wobble / 6
    inside = np.clip((np.minimum(edge_x, edge_y) - 0.0035) / 0.004, 0, 1)
    tone = rng.random((rows, columns))[row, column]
    hue = rng.random((rows, columns))[row, column]
    clay = flat(size, (0.68, 0.41, 0.31)) * (0.80 + 0.36 * tone[..., None])
    clay = mix(clay, (0.45, 0.30, 0.27), (hue > 0.8) * 0.6)
    clay = mix(clay, (0.72, 0.52, 0.38), (hue < 0.18) * 0.6)
    clay *= 1 + 0.07 * layered(size, rng)[..., None]
    mortar = flat(size, (0.68, 0.64, 0.57)) * (1 + 0.06 * noise(size, 3, rng)[..., None])
    picture = mix(mortar, clay, inside)
    picture = mix(picture, (0.42, 0.46, 0.30), np.clip(layered(size, rng) - 1.3, 0, 0.5))
    height = inside * 0.008 + noise(size, 3, rng) * 0.0006
    return picture, normals_from_height(height, 0.9, 0.9)


def flagstones(rng: np.random.Generator, size: int = 1024) -> tuple[Array, Array]:
    """Buff sandstone slabs of mixed sizes, 2.4 m square: colour and normals."""
    cells = 8
    owner = -np.ones((cells, cells), int)
    sizes = [(3, 2), (2, 3), (2, 2), (2, 1), (1, 2), (1, 1)]
    count = 0
    for j in range(cells):
        for i in range(cells):
            if owner[j, i] >= 0:
                continue
            order = rng.permutation(3).tolist() + [3 + k for k in rng.permutation(2).tolist()] + [5]
            for k in order:
                w, h = sizes[k]
                block = np.ix_([(j + b) % cells for b in range(h)], [(i + a) % cells for a in range(w)])
                if j + h <= cells and i + w <= cells and (owner[block] < 0).all():
                    owner[block] = count
                    count += 1
                    break
    y, x = np.mgrid[0:size, 0:size] * (cells / size)
    index = owner[y.astype(int), x.astype(int)]
    pad = 3
    joint = np.zeros((size, size), bool)
    for dy, dx in ((0, pad), (pad, 0), (0, -pad), (-pad, 0), (pad, pad), (-pad, pad)):
        joint |= np.roll(index, (dy, dx), (0, 1)) != index
    inside = cv2.GaussianBlur(np.tile(1 - joint.astype(np.float64), (3, 3)), (0, 0), 1.6)
    inside = np.clip(inside[size : 2 * size, size : 2 * size] * 1.4 - 0.3, 0, 1)
    tone = rng.random(count)[index]
    hue = rng.random(count)[index]
    stone = flat(size, (0.66, 0.61, 0.53)) * (0.86 + 0.2 * tone[..., None])
    stone = mix(stone, (0.60, 0.60, 0.58), (hue > 0.62) * 0.55)
    stone = mix(stone, (0.72, 0.60, 0.47), (hue < 0.25) * 0.5)
    grain = layered(size, rng, (90, 30, 10, 4))
    stone *= 1 + 0.055 * grain[..., None] + 0.02 * rng.standard_normal((size, size, 1))
    stone = mix(stone, (0.47, 0.44, 0.38), np.clip(layered(size, rng, (120, 50)) - 0.9, 0, 0.5) * 0.6)
    gap = mix(flat(size, (0.33, 0.31, 0.25)), (0.36, 0.43, 0.22), np.clip(noise(size, 30, rng), 0, 1))
    picture = mix(gap, stone, inside)
    height = inside * 0.006 + grain * 0.0006 + (tone - 0.5) * 0.002
    return picture, normals_from_height(height, 2.4, 0.8)


def encaustic(rng: np.random.Generator, size: int = 512) -> tuple[Array, Array]:
    """Geometric clay tiles in buff, red, slate and cream, 0.8 m square (four 0.4 m repeats)."""
    y, x = np.mgrid[0:size, 0:size] / size
    u, v = (x * 2) % 1 - 0.5, (y * 2) % 1 - 0.5
    au, av = np.abs(u), np.abs(v)
    buff, red, slate, cream = (0.74, 0.63, 0.47), (0.58, 0.28, 0.20), (0.24, 0.29, 0.31), (0.86, 0.81, 0.70)
    tone = 1 + 0.05 * layered(size, rng, (50, 12, 4))[..., None]
    picture = flat(size, buff)
    joints = np.full((size, size), 1.0)

    def cover(distance: Array, color: tuple[float, float, float]) -> None:
        nonlocal picture, joints
        picture = mix(picture, color, np.clip(distance * 180, 0, 1))
        joints = np.minimum(joints, np.abs(distance))

    cover(0.5 - (au + av), cream)
    cover(0.5 - (au + av) - 0.07, red)
    cover(0.27 - np.maximum(au, av), buff)
    cover(0.27 - np.maximum(au, av) - 0.045, slate)
    cover(0.20 - (au + av), cream)
    cover(0.085 - np.maximum(au, av), red)
    corner = np.minimum(0.5 - au, 0.5 - av)
    cover(0.14 - ((0.5 - au) + (0.5 - av)), slate)
    joints = np.minimum(joints, corner)
    picture = picture * tone
    line = np.clip((joints - 0.004) / 0.004, 0, 1)
    picture = mix(flat(size, (0.50, 0.46, 0.40)), picture, line)
    picture = mix(picture, (0.52, 0.46, 0.38), np.clip(layered(size, rng, (140, 60)) - 0.6, 0, 0.6) * 0.4)
    height = line * 0.002 + noise(size, 5, rng) * 0.0001
    return picture, normals_from_height(height, 0.8, 0.7)


def planks(rng: np.random.Generator, size: int = 512) -> Array:
    """Weathered softwood, grain along u; one picture is 1 m long and 0.5 m across."""
    grain = noise(size, 5, rng, stretch=26) + 0.6 * noise(size, 2, rng, stretch=40)
    broad = noise(size, 40, rng, stretch=6)
    y = np.mgrid[0:size, 0:size][0] / size
    rings = np.sin((y * 26 + broad * 0.6 + grain * 0.12) * 2 * np.pi)
    wood = flat(size, (0.61, 0.46, 0.31))
    wood *= 1 + 0.075 * grain[..., None] + 0.05 * rings[..., None] + 0.05 * broad[..., None]
    return mix(wood, (0.60, 0.56, 0.48), np.clip(noise(size, 60, rng, 4) * 0.25 + 0.2, 0, 0.5))


def terracotta(rng: np.random.Generator, size: int = 256) -> Array:
    """Fired clay with a little lime bloom and damp, 0.5 m square."""
    clay = flat(size, (0.79, 0.52, 0.39)) * (1 + 0.035 * layered(size, rng)[..., None])
    clay = mix(clay, (0.86, 0.74, 0.65), np.clip(layered(size, rng, (60, 25, 6)) * 0.22, 0, 0.35))
    return mix(clay, (0.58, 0.42, 0.33), np.clip(layered(size, rng, (60, 25, 6)) * 0.20, 0, 0.35))


def trunk(rng: np.random.Generator, size: int = 256) -> Array:
    """Fibrous trunk with leaf scars: u runs up the trunk, one picture is 1 m."""
    x = np.mgrid[0:size, 0:size][1] / size
    wander = noise(size, 20, rng) * 0.10
    scar = (x * 9 + wander) % 1
    bark = flat(size, (0.56, 0.46, 0.35)) * (0.78 + 0.34 * scar[..., None])
    bark *= 1 + 0.10 * noise(size, 3, rng, 6)[..., None] + 0.05 * noise(size, 12, rng)[..., None]
    return mix(bark, (0.24, 0.18, 0.13), np.clip(1 - scar / 0.10, 0, 1) * 0.7)


def bark_chips(rng: np.random.Generator, size: int = 512) -> tuple[Array, Array]:
    """Dark soil under chipped bark, 1 m square: colour and normals."""
    height = np.zeros((size, size))
    picture = flat(size, (0.20, 0.15, 0.11)) * (1 + 0.2 * noise(size, 3, rng)[..., None])
    for _ in range(1500):
        cx, cy = rng.random(2) * size
        long, wide = rng.uniform(6, 17), rng.uniform(2.5, 6)
        angle = rng.uniform(0, np.pi)
        tone = rng.uniform(0.65, 1.5)
        color = np.asarray((0.33, 0.23, 0.15)) * tone
        reach = int(long) + 2
        ys, xs = np.mgrid[-reach : reach + 1, -reach : reach + 1]
        px, py = xs * np.cos(angle) + ys * np.sin(angle), -xs * np.sin(angle) + ys * np.cos(angle)
        inside = (np.abs(px) < long) & (np.abs(py) < wide)
        rows, cols = (ys[inside] + int(cy)) % size, (xs[inside] + int(cx)) % size
        picture[rows, cols] = color * (1 + 0.12 * np.sin(py[inside] * 1.9))[:, None]
        height[rows, cols] += 0.006 + 0.002 * tone
    height = np.minimum(height, 0.03)
    return picture, normals_from_height(height, 1.0, 0.35)


def gravel(rng: np.random.Generator, size: int = 512) -> Array:
    """Pea shingle, 1 m square."""
    stones = noise(size, 5, rng)
    picture = flat(size, (0.62, 0.57, 0.49)) * (1 + 0.16 * stones[..., None])
    picture *= 1 + 0.10 * noise(size, 2.2, rng)[..., None]
    picture = mix(picture, (0.48, 0.42, 0.36), np.clip(noise(size, 7, rng) - 0.6, 0, 0.8))
    return mix(picture, (0.80, 0.76, 0.68), np.clip(noise(size, 6, rng) - 1.2, 0, 0.7))


def turf(rng: np.random.Generator, size: int = 512) -> Array:
    """Mown grass, 6 m square, light and dark mowing bands across u."""
    x = np.mgrid[0:size, 0:size][1] / size
    band = np.clip(np.sin(x * 2 * np.pi * 4) * 6, -1, 1)
    grass = flat(size, (0.38, 0.51, 0.22)) * (1 + 0.055 * band[..., None])
    grass *= 1 + 0.10 * layered(size, rng, (60, 20, 6, 2))[..., None]
    return mix(grass, (0.52, 0.55, 0.28), np.clip(layered(size, rng, (80, 30)) - 0.8, 0, 0.5))


def foliage(rng: np.random.Generator, size: int = 512) -> tuple[Array, Array]:
    """Clipped hedge: many small overlapping leaves, 1.2 m square; near grey, tinted by vertex colour."""
    picture = flat(size, (0.28, 0.28, 0.28))
    height = np.zeros((size, size))
    ys, xs = np.mgrid[-14:15, -14:15]
    for k in range(2600):
        cx, cy = rng.random(2) * size
        angle = rng.uniform(0, 2 * np.pi)
        long, wide = rng.uniform(6, 12), rng.uniform(3, 5.5)
        px, py = xs * np.cos(angle) + ys * np.sin(angle), -xs * np.sin(angle) + ys * np.cos(angle)
        inside = (px / long) ** 2 + (py / wide) ** 2 < 1
        level = 0.40 + 0.55 * (k / 2600) * rng.uniform(0.7, 1.1)
        shade = level * (1 + 0.25 * py[inside] / wide)
        rows, cols = (ys[inside] + int(cy)) % size, (xs[inside] + int(cx)) % size
        tint = np.asarray((rng.uniform(0.85, 1.12), 1.0, rng.uniform(0.75, 1.0)))
        picture[rows, cols] = shade[:, None] * tint
        height[rows, cols] = 0.03 * k / 2600 + 0.006 * py[inside] / wide
    return picture, normals_from_height(height, 1.2, 0.5)


def shaft(size: int = 64) -> Array:
    """(size, size, 4) a soft beam along v, fading out at all edges."""
    v, u = (np.mgrid[0:size, 0:size] + 0.5) / size
    across = np.clip(np.sin(np.pi * u), 0, 1) ** 1.6
    along = np.clip(v / 0.25, 0, 1) * np.clip((1 - v) / 0.5, 0, 1)
    return np.dstack([np.ones((size, size, 3)), across * along])


def sign(rng: np.random.Generator, text: str, width: int = 1024, height: int = 128) -> Array:
    """Painted board, 8 to 1: cream letters on deep green with a thin gold line."""
    board = np.tile(np.asarray((0.17, 0.29, 0.23)), (height, width, 1))
    y, x = np.mgrid[0:height, 0:width]
    streak = cv2.GaussianBlur(rng.standard_normal((height, width)), (0, 0), 1.2)
    streak = cv2.blur(streak, (61, 1)) * 0.6
    board *= 1 + streak[..., None]
    letters = np.zeros((height * 2, width * 2), np.uint8)
    font, thick = cv2.FONT_HERSHEY_TRIPLEX, 3
    size = 1.0
    (wide, tall), _ = cv2.getTextSize(text, font, size, thick)
    size = min(1.72 * width / wide, 1.0 * height / tall)
    (wide, tall), _ = cv2.getTextSize(text, font, size, thick)
    cv2.putText(letters, text, (width - wide // 2, height + tall // 2), font, size, 255, thick, cv2.LINE_AA)
    cover = cv2.resize(letters, (width, height), interpolation=cv2.INTER_AREA) / 255
    worn = np.clip(1 - 0.25 * np.clip(rng.standard_normal((height, width)) - 1, 0, 1), 0, 1)
    board = mix(board, (0.90, 0.86, 0.74), cover * worn)
    rim = np.minimum(np.minimum(x, width - 1 - x), np.minimum(y, height - 1 - y))
    return mix(board, (0.78, 0.62, 0.30), np.clip(1.6 - np.abs(rim - 9), 0, 1))


def sky(rng: np.random.Generator, width: int = 1024) -> Array:
    """Equirectangular summer sky with soft cloud, haze at the horizon, meadow below; sRGB-coded."""
    height = width // 2
    y, x = np.mgrid[0:height, 0:width]
    lift = (0.5 - (y + 0.5) / height) * np.pi
    turn = (x + 0.5) / width * 2 * np.pi
    up = np.clip(np.sin(lift), 0, 1)[..., None]
    blue = np.asarray((0.86, 0.915, 0.95)) * (1 - up**0.42) + np.asarray((0.36, 0.56, 0.80)) * up**0.42
    # Clouds lie on a flat layer: sample repeating noise where each sightline meets it.
    far = np.clip(np.cos(lift) / np.maximum(np.sin(lift), 0.03), 0, 26)
    px, py = far * np.cos(turn), far * np.sin(turn)
    size = 512
    billow = 0.62 * layered(size, rng, (70, 36, 18, 9, 4))
    rows, columns = ((py * 46) % size).astype(np.float32), ((px * 46) % size).astype(np.float32)
    tiled = np.pad(billow, ((0, 1), (0, 1)), mode="wrap").astype(np.float32)
    level = cv2.remap(tiled, columns, rows, cv2.INTER_LINEAR)
    level = cv2.GaussianBlur(level, (0, 0), 1.2)
    body = np.clip((level - 0.12) / 0.55, 0, 1) ** 0.8 * np.clip((lift - 0.03) / 0.12, 0, 1)
    bright = np.clip((level - 0.2) / 0.9, 0, 1)[..., None]
    cloud = np.asarray((0.985, 0.98, 0.97)) * (1 - 0.16 * bright) + np.asarray((0.0, 0.005, 0.02)) * bright
    picture = blue * (1 - 0.85 * body[..., None]) + cloud * 0.85 * body[..., None]
    ground = np.asarray((0.60, 0.57, 0.46))
    below = np.clip(-lift / 0.06, 0, 1)[..., None]
    return np.clip(picture * (1 - below) + ground * below, 0, 1)


def leaf_sheet(size: int = 512) -> Array:
    """Four leaf skins in one picture, tinted by vertex colour; u across the blade, v from tip to base.

    Cells: (0, 0) side veins, (1, 0) parallel veins, (0, 1) broad pale midrib, (1, 1) petal.
    """
    half = size // 2
    v, u = np.mgrid[0:half, 0:half] / half
    x = np.abs(u - 0.5) * 2
    edge = 1 - 0.16 * x**2
    vein = np.abs(((v * 7 + x * 1.6) % 1) - 0.5) * 2
    veined = edge * (0.84 + 0.16 * np.clip(vein * 1.3, 0, 1)) + 0.16 * np.exp(-((x / 0.05) ** 2))
    stripes = edge * (0.9 + 0.09 * np.cos(u * 2 * np.pi * 11)) + 0.08 * np.exp(-((x / 0.06) ** 2))
    rib = np.abs(((v * 12 + x * 2.2) % 1) - 0.5) * 2
    broad = edge * (0.90 + 0.05 * rib) + 0.24 * np.exp(-((x / 0.07) ** 2))
    petal = 0.82 + 0.18 * v + 0.04 * np.cos(u * 2 * np.pi * 9)
    sheet = np.zeros((size, size, 3))
    yellow = np.asarray((1.02, 1.0, 0.9))
    sheet[:half, :half] = veined[..., None] * yellow
    sheet[:half, half:] = stripes[..., None] * yellow
    sheet[half:, :half] = broad[..., None] * yellow
    sheet[half:, half:] = petal[..., None]
    return np.clip(sheet, 0, 1)
