"""How long a multiview frame of the demo show takes beyond its pictures.

    python -m tests.benchmarks.multiview_frame

Pictures are noise of the sizes that the studio would draw. OpenCV is kept to one thread. Processor time tells
what a machine without other work takes.
"""

from __future__ import annotations

import time

import cv2
import numpy as np

from preview.multiview.run import Multiview
from preview.show.load import load_show
from preview.show.resources import asset_dir
from preview.stage.build import build_stage
from tests.fake_studio import FakeStudio

STRETCHES = {"one shot, jib moving": (240, 60), "mix": (1425, 18), "all held": (1600, 60)}


def main() -> None:
    cv2.setNumThreads(1)
    show = load_show(asset_dir() / "glasshouse" / "show.toml")
    studio = FakeStudio(show)
    studio.stage = build_stage(show)
    started = time.perf_counter()
    view = Multiview(studio)
    print(
        f"getting ready: {time.perf_counter() - started:.2f} s; tiles {view.tile_px[0]} x {view.tile_px[1]}"
    )
    noise, (width, height) = np.random.default_rng(1), view.tile_px
    sizes = {("programme", ""): (width, height), ("programme-as-shot", ""): (width, height)}
    sizes |= {("return", camera.name): (width, height) for camera in show.file.cameras}
    for surface in studio.stage.surfaces:
        across, down = surface.canvas_px
        sizes["wall", surface.name] = (2 * width, round(2 * width * down / across))
    pictures = {
        key: noise.integers(0, 256, (high, wide, 3), dtype=np.uint8) for key, (wide, high) in sizes.items()
    }
    for name, (first, count) in STRETCHES.items():
        view.frame(first, pictures)
        spent, passed = [], []
        for frame in range(first, first + count):
            processor, clock = time.process_time(), time.perf_counter()
            view.frame(frame, pictures)
            spent.append(time.process_time() - processor)
            passed.append(time.perf_counter() - clock)
        print(
            f"{name}: {1000 * np.median(spent):.1f} ms of processor a frame (least {1000 * min(spent):.1f}), "
            f"{1000 * np.median(passed):.1f} ms on the clock"
        )


if __name__ == "__main__":
    main()
