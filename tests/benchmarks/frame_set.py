"""How long one frame set takes: the product against the plain baseline, in one run on one machine.

    python -m tests.benchmarks.frame_set [--repetitions 7] [--outer-face-px 2048]

A frame set is every picture of one frame: outer, and for each of three cameras inner, as-shot and
return, 1920x1080, four-fold multisampling, read back as arrays. Each side runs in a process of its own
(each needs its own OpenGL context) and they take turns, A B A B, on the same frames; the other waits
idle. Cameras move on every frame, so no camera picture can be kept. The outer image is redrawn by both,
then, on a second line, kept by both.

Speed is only worth comparing between equal pictures: the run ends with the PSNR between the two sides'
pictures. They differ by design in rounding (8-bit against half float), edges and specular model.
"""

from __future__ import annotations

import argparse
import multiprocessing
import os
import statistics
import time
from collections.abc import Callable
from multiprocessing.connection import Connection
from typing import Any

import numpy as np

from tests.benchmarks import workload

Pictures = dict[str, np.ndarray]
SIDES = ("product", "baseline")
LIKE_NAMES = ["outer"] + [
    f"{kind} camera {number}" for kind in ("inner", "as-shot", "return") for number in (1, 2, 3)
]


def _start_product() -> tuple[Callable[[int, bool], Pictures], str]:
    from tests.benchmarks.product import ProductRenderer

    product = ProductRenderer()
    return lambda frame, keep: product.frame_set(workload.moment(frame), keep), product.graphics


def _start_baseline() -> tuple[Callable[[int, bool], Pictures], str]:
    from tests.benchmarks.baseline_pyrender import PlainRenderer

    plain = PlainRenderer()
    return lambda frame, keep: plain.frame_set(workload.moment(frame), keep), plain.graphics


def _serve(side: str, outer_face_px: int, pipe: Connection) -> None:
    """Child process: draw frames as asked, answer with seconds and, if asked, the pictures."""
    workload.OUTER_FACE_PX = outer_face_px
    draw, graphics = _start_product() if side == "product" else _start_baseline()
    pipe.send(graphics)
    while (order := pipe.recv()) is not None:
        frame, keep_outer, want_pictures = order
        start = time.perf_counter()
        pictures = draw(frame, keep_outer)
        seconds = time.perf_counter() - start
        answer = {name: pictures[name] for name in LIKE_NAMES} if want_pictures else sorted(pictures)
        pipe.send((seconds, answer))


def psnr_db(a: np.ndarray, b: np.ndarray) -> float:
    """Peak signal to noise ratio of two uint8 pictures. Source: its definition, 10 log10(255^2 / MSE)."""
    error = np.mean((a[..., :3].astype(np.float64) - b[..., :3].astype(np.float64)) ** 2)
    return float("inf") if error == 0 else float(10 * np.log10(255**2 / error))


def main() -> None:
    """Run both sides, print medians, ratios and the agreement of the pictures."""
    parser = argparse.ArgumentParser(description="Time a frame set, product against plain baseline.")
    parser.add_argument("--repetitions", type=int, default=7, help="timed frames a side and line")
    parser.add_argument(
        "--outer-face-px", type=int, default=workload.OUTER_FACE_PX, help="both sides' cube faces"
    )
    options = parser.parse_args()
    repetitions = options.repetitions
    spawn = multiprocessing.get_context("spawn")
    pipes: dict[str, Any] = {}
    for side in SIDES:
        pipes[side], far_end = spawn.Pipe()
        spawn.Process(target=_serve, args=(side, options.outer_face_px, far_end), daemon=True).start()
        far_end.close()
    triangles = [workload.triangle_count(mesh) for mesh in (workload.virtual_scene(), workload.stage_set())]
    print(
        f"virtual scene {triangles[0]} triangles, set {triangles[1]}, outer faces {options.outer_face_px} px, {os.cpu_count()} CPU cores"
    )
    for side in SIDES:
        print(f"  {side}: {pipes[side].recv()}")

    def draw(side: str, frame: int, keep_outer: bool, want_pictures: bool = False) -> tuple[float, Any]:
        pipes[side].send((frame, keep_outer, want_pictures))
        answer: tuple[float, Any] = pipes[side].recv()
        return answer

    frame = 0
    for keep_outer, title in ((False, "outer redrawn each frame"), (True, "outer kept (static scene)")):
        names = [draw(side, frame, keep_outer)[1] for side in SIDES]  # warm-up: compile, upload
        if not all(set(LIKE_NAMES) == set(each) for each in names):
            raise SystemExit(f"the sides made different pictures: {names}")
        seconds: dict[str, list[float]] = {side: [] for side in SIDES}
        for _ in range(repetitions):
            frame += 1
            for side in SIDES:
                seconds[side].append(draw(side, frame, keep_outer)[0])
        print(f"{title}, {repetitions} repetitions, median (least to most):")
        for side in SIDES:
            taken = seconds[side]
            print(f"  {side:9}{statistics.median(taken):7.3f} s  ({min(taken):.3f} to {max(taken):.3f})")
        ratio = statistics.median(seconds["baseline"]) / statistics.median(seconds["product"])
        print(f"  baseline / product = {ratio:.2f}")
    ours, plain = (draw(side, frame, False, True)[1] for side in SIDES)
    print(
        "agreement, PSNR: "
        + ", ".join(f"{name} {psnr_db(ours[name], plain[name]):.1f} dB" for name in LIKE_NAMES)
    )
    for side in SIDES:
        pipes[side].send(None)


if __name__ == "__main__":
    main()
