"""How long one frame set takes: the product against the plain baseline, in one run on one machine.

    python -m tests.benchmarks.frame_set [--repetitions 7] [--outer-face-px 1536]

A frame set is every picture of one frame: outer, and for each of three cameras inner, as-shot and
return, 1920x1080, four-fold multisampling, read back as arrays. Each side runs in a process of its own
(each needs its own OpenGL context) and they take turns, A B A B, on the same frames; the other waits
idle. Cameras move on every frame, so no camera picture can be kept. The outer image is redrawn by both,
then, on a second line, kept by both.

Beside the time on the clock stands the processor time of all threads, which says more on a busy machine.

Speed is only worth comparing between equal pictures: the run ends with the PSNR between the two sides'
pictures. They differ by design in rounding (8-bit against half float), edges and specular model.
"""

from __future__ import annotations

import argparse
import multiprocessing
import os
import time
from collections.abc import Callable
from multiprocessing.connection import Connection
from statistics import median
from typing import Any

import numpy as np

from preview.timeline.moment import Moment
from tests.benchmarks import workload

Pictures = dict[str, np.ndarray]
SIDES = ("product", "baseline")
NAMES = ["outer"] + [
    f"{kind} {camera}"
    for kind in ("inner", "as-shot", "return")
    for camera in (f"camera {number}" for number in (1, 2, 3))
]


def _start(side: str) -> tuple[Callable[[Moment, bool], Pictures], str]:
    """The side's frame-set function and the graphics driver's name."""
    if side == "product":
        from tests.benchmarks.product import ProductRenderer

        product = ProductRenderer()
        return product.frame_set, product.graphics
    from tests.benchmarks.baseline_pyrender import PlainRenderer

    plain = PlainRenderer()
    return plain.frame_set, plain.graphics


def _serve(side: str, outer_face_px: int, picture_px: tuple[int, int], pipe: Connection) -> None:
    """Child process: draw frames as asked; answer with seconds, processor seconds and the pictures."""
    workload.OUTER_FACE_PX, workload.PICTURE_PX = outer_face_px, picture_px
    workload.OUTER_PX = (picture_px[0], picture_px[0] // 2)
    frame_set, graphics = _start(side)
    pipe.send(graphics)
    while (order := pipe.recv()) is not None:
        frame, keep_outer, want_pictures = order
        moment = workload.moment(frame)
        clock, work = time.perf_counter(), time.process_time()
        pictures = frame_set(moment, keep_outer)
        taken = time.perf_counter() - clock, time.process_time() - work
        pipe.send((taken, pictures if want_pictures else sorted(pictures)))


class Side:
    """One side in its own process."""

    def __init__(
        self, name: str, outer_face_px: int, picture_px: tuple[int, int] = workload.PICTURE_PX
    ) -> None:
        spawn = multiprocessing.get_context("spawn")
        self.name = name
        self._pipe, far_end = spawn.Pipe()
        spawn.Process(target=_serve, args=(name, outer_face_px, picture_px, far_end), daemon=True).start()
        far_end.close()
        self.graphics = self._pipe.recv()

    def draw(
        self, frame: int, keep_outer: bool, want_pictures: bool = False
    ) -> tuple[tuple[float, float], Any]:
        """(seconds, processor seconds), and the pictures by name or only their names."""
        self._pipe.send((frame, keep_outer, want_pictures))
        answer: tuple[tuple[float, float], Any] = self._pipe.recv()
        return answer

    def stop(self) -> None:
        self._pipe.send(None)


def psnr_db(a: np.ndarray, b: np.ndarray) -> float:
    """Peak signal to noise ratio of two uint8 pictures. Source: its definition, 10 log10(255^2 / MSE)."""
    error = np.mean((a.astype(np.float64) - b.astype(np.float64)) ** 2)
    return float("inf") if error == 0 else float(10 * np.log10(255**2 / error))


def time_sides(sides: list[Side], first_frame: int, repetitions: int, keep_outer: bool) -> None:
    """Draw frames in turn and print each side's median and the ratio."""
    for side in sides:  # warm-up: shaders compile, meshes upload
        names = side.draw(first_frame, keep_outer)[1]
        if names != sorted(NAMES):
            raise SystemExit(f"{side.name} made other pictures than agreed: {names}")
    taken: dict[str, list[tuple[float, float]]] = {side.name: [] for side in sides}
    for frame in range(first_frame + 1, first_frame + 1 + repetitions):
        for side in sides:
            taken[side.name].append(side.draw(frame, keep_outer)[0])
    medians = {}
    for name, pairs in taken.items():
        clock, work = zip(*pairs, strict=True)
        medians[name] = median(clock), median(work)
        print(
            f"  {name:9}{median(clock):8.3f} s ({min(clock):.3f} to {max(clock):.3f}),"
            f" processor {median(work):.3f} s"
        )
    ratios = [medians["baseline"][i] / medians["product"][i] for i in (0, 1)]
    print(f"  baseline / product: {ratios[0]:.2f} on the clock, {ratios[1]:.2f} in processor time")


def main() -> None:
    """Run both sides, print medians, ratios and the agreement of the pictures."""
    parser = argparse.ArgumentParser(description="Time a frame set, product against plain baseline.")
    parser.add_argument("--repetitions", type=int, default=7, help="timed frames a side and line")
    parser.add_argument(
        "--outer-face-px", type=int, default=workload.OUTER_FACE_PX, help="outer cube faces, both sides"
    )
    options = parser.parse_args()
    counts = [workload.triangle_count(mesh) for mesh in (workload.virtual_scene(), workload.stage_set())]
    print(f"virtual scene {counts[0]} triangles, set {counts[1]}, outer faces {options.outer_face_px} px")
    sides = [Side(name, options.outer_face_px) for name in SIDES]
    for side in sides:
        print(f"  {side.name}: {side.graphics}, {os.cpu_count()} processor cores")
    for keep_outer, title in ((False, "outer redrawn on every frame"), (True, "outer kept (static scene)")):
        print(f"{title}, {options.repetitions} frames, median (least to most) a frame set:")
        time_sides(sides, 100 * keep_outer, options.repetitions, keep_outer)
    ours, plain = (side.draw(50, False, True)[1] for side in sides)
    print("agreement (PSNR):")
    for name in NAMES:
        print(f"  {name:18} {psnr_db(ours[name], plain[name]):.1f} dB")
    for side in sides:
        side.stop()


if __name__ == "__main__":
    main()
