"""Makes the README's picture, ``assets/pictures/demo.jpg``, from renders of the demo show.

    .venv/bin/python assets/build_picture.py

Run it again when the demo show or the look of a picture changes.
"""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
from PIL import Image, ImageDraw, ImageFont

from preview import Studio, Wanted, load_show

ASSETS = Path(__file__).parent
OUT = ASSETS / "pictures" / "demo.jpg"
MOMENT = "10:00:06:00"
"""The jib is on air in its sweep; camera 1 waits on its two-shot."""
SHARED_MOMENT = "10:00:19:00"
"""Four frustums, none of which covers the others."""
DRAWN_PX = (1600, 900)
WIDTH, EDGE, GAP, CAPTION = 1600, 24, 20, 40
PAPER, INK = (247, 246, 242), (34, 38, 36)


def drawn(show: str, timecode: str, kinds: tuple[str, ...]) -> dict[tuple[str, str], np.ndarray]:
    """(h, w, 3) uint8 pictures of one frame by kind and subject."""
    with Studio(load_show(ASSETS / "glasshouse" / show), size_px=DRAWN_PX) as studio:
        frame = studio.timeline.frame_of(timecode)
        return {(p.kind, p.subject): p.code for p in studio.pictures(frame, Wanted(kinds=kinds))}


def sheet(rows: list[list[tuple[str, np.ndarray]]]) -> Image.Image:
    """Captioned pictures in rows as wide as the sheet, each at its own shape."""
    placed: list[tuple[int, int, int, int, str, np.ndarray]] = []
    top = EDGE
    for row in rows:
        shapes = [picture.shape[1] / picture.shape[0] for _, picture in row]
        room = WIDTH - 2 * EDGE - GAP * (len(row) - 1)
        height = round(room / sum(shapes))
        left = float(EDGE)
        for (caption, picture), shape in zip(row, shapes, strict=True):
            width = room * shape / sum(shapes)
            placed.append((round(left), top, round(width), height, caption, picture))
            left += width + GAP
        top += height + CAPTION + GAP // 2
    page = Image.new("RGB", (WIDTH, top - GAP // 2 + EDGE // 2), PAPER)
    pen = ImageDraw.Draw(page)
    font = ImageFont.load_default(20)
    for left, top, width, height, caption, picture in placed:
        small = cv2.resize(picture, (width, height), interpolation=cv2.INTER_AREA)
        page.paste(Image.fromarray(small), (left, top))
        if pen.textlength(caption, font) > width:
            raise SystemExit(f"{caption!r} is wider than its picture")
        pen.text((left, top + height + CAPTION // 2), caption, INK, font, anchor="lm")
    return page


def main() -> None:
    kinds = ("as-shot", "return", "programme")
    switched = drawn("show.toml", MOMENT, kinds)
    shared = drawn("show-shared.toml", SHARED_MOMENT, ("wall",))
    page = sheet(
        [
            [
                ("Camera 1 as shot: the wall is right for the jib", switched["as-shot", "left"]),
                ("Camera 1's return: what its operator ought to see", switched["return", "left"]),
            ],
            [
                ("Programme: the jib is on air", switched["programme", ""]),
                ("Another moment, shared drive: every camera's frustum on the wall", shared["wall", "Wall"]),
            ],
        ]
    )
    OUT.parent.mkdir(exist_ok=True)
    temporary = OUT.with_suffix(".part")
    page.save(temporary, "JPEG", quality=86, optimize=True)
    temporary.replace(OUT)
    print(f"{OUT.name}: {page.width} x {page.height}, {OUT.stat().st_size / 1000:.0f} kB")


if __name__ == "__main__":
    main()
