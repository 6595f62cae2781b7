"""How long a map of moire over a 1920x1080 picture takes, and how blurring by the lens adds to a picture.

    python -m tests.benchmarks.picture_map [--rounds 5]

Of each camera's first framing in the demo show: the sightlines and the risk at every sixth pixel either
way, as the product works them out, and laid over the picture; then the plain way, at every pixel. Both are
run in turn. At last the same return drawn with and without defocus.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Callable
from dataclasses import replace
from statistics import median

import numpy as np

from preview.checks.seen_moire import seen_moire
from preview.checks.walk import sight_raster
from preview.frame import Studio, Wanted
from preview.moire.picture_map import grid_of, picture_map
from preview.optics.lattice import Facets
from preview.show.load import Show, load_show
from preview.show.resources import asset_dir
from preview.stage.build import build_stage
from preview.timeline.timeline import Timeline

SIZE_PX = (1920, 1080)
FRAMES = (0, 260, 400, 1000)


def main() -> None:
    """Run both parts and print them."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("--rounds", type=int, default=5)
    rounds = parser.parse_args().rounds
    show = load_show(asset_dir() / "glasshouse" / "show.toml")
    _maps(show, rounds)
    _defocus(show, rounds)


def _maps(show: Show, rounds: int) -> None:
    stage, timeline = build_stage(show), Timeline(show)
    facets, code = Facets.of(stage.surfaces), np.zeros((SIZE_PX[1], SIZE_PX[0], 3), np.uint8)
    with sight_raster(show, stage, grid_of(SIZE_PX)) as few, sight_raster(show, stage, SIZE_PX) as every:
        for camera in show.file.cameras:
            view = timeline.framing_view(camera.name, camera.framings[0].name)
            parts: dict[str, list[float]] = {"sight": [], "risk": [], "laid over": [], "every pixel": []}
            for number in range(rounds + 1):
                # A little longer each time: a sight is kept while nothing moves.
                view = replace(view, projection_mm=view.projection_mm * (1 + 1e-6 * number))
                sight, seconds = timed(lambda view=view: few.look(view, []))
                parts["sight"].append(seconds)
                found, seconds = timed(
                    lambda sight=sight, camera=camera: seen_moire(
                        sight, camera, stage.surfaces, SIZE_PX, facets
                    )
                )
                parts["risk"].append(seconds)
                parts["laid over"].append(timed(lambda found=found: picture_map(code, found))[1])
                whole = every.look(view, [])
                plain = timed(
                    lambda whole=whole, camera=camera: seen_moire(
                        whole, camera, stage.surfaces, SIZE_PX, facets
                    )
                )
                parts["every pixel"].append(plain[1])
            told = {name: median(values[1:]) for name, values in parts.items()}
            share = told["risk"] / told["every pixel"]
            print(
                f"{camera.name:6} sight {told['sight']:.3f} s, risk {told['risk']:.3f} s, laid over "
                f"{told['laid over']:.3f} s; risk at every pixel {told['every pixel']:.2f} s ({share:.3f})"
            )


def _defocus(show: Show, rounds: int) -> None:
    spent: dict[bool, list[float]] = {True: [], False: []}
    for defocus in spent:
        picture = show.file.picture.model_copy(update={"defocus": defocus})
        with Studio(replace(show, file=show.file.model_copy(update={"picture": picture})), SIZE_PX) as studio:
            for camera, frame in zip(show.file.cameras, FRAMES, strict=True):
                for _ in range(rounds):
                    studio.raster.forget()
                    wanted = Wanted(("return",), (camera.name,))
                    spent[defocus].append(
                        timed(lambda f=frame, w=wanted, s=studio: list(s.pictures(f, w)))[1]
                    )
    blurred, sharp = median(spent[True]), median(spent[False])
    print(
        f"return at 1920x1080: {sharp:.2f} s sharp, {blurred:.2f} s blurred by its lens "
        f"({blurred / sharp:.3f})"
    )


def timed(work: Callable[[], object]) -> tuple:
    """What the work hands back, and its seconds on the clock."""
    started = time.perf_counter()
    found = work()
    return found, time.perf_counter() - started


if __name__ == "__main__":
    main()
