"""How long the numbers of a floor map take.

    python -m tests.benchmarks.floor_map [--places 100] [--plain 60]

Pictures of the demo's framings are taken from 100 x 100 places, 576 sightlines each, with moire risk,
structure, viewing angle, share off the wall and other cameras' frustums; then the same for a sensor with
colour filters. The plain way asks the checks' own functions for a sample of these places, one after the
other: the coarse sightlines drawn, then moire, structure and viewing angle of that sight. Both are run in
turn. At last whole maps are made, with their clearance: of as many places, and of the studio floor.

Seconds are those of the clock; processor seconds of all threads tell what a machine without other work takes.
"""

from __future__ import annotations

import argparse
import time
from dataclasses import replace

import numpy as np

from preview.checks.frustums import Frustums
from preview.checks.look import Look, Plan
from preview.checks.seen_moire import seen_moire
from preview.checks.structure import structures
from preview.checks.walk import open_plan
from preview.floor.aim import Aim, LensGrid, Stands
from preview.floor.floor_map import floor_map
from preview.floor.options import FloorOptions
from preview.floor.pictures import Pictures, picture_grid
from preview.floor.polygons import Polygons
from preview.floor.risk import Risk
from preview.optics.lattice import Facets
from preview.raster.sight import Sight
from preview.show import model
from preview.show.load import load_show
from preview.show.resources import asset_dir
from preview.stage.falloff import seen_luminance
from preview.suggest.changed import with_camera
from preview.timeline.framing import sensor_of
from preview.wall.layer import inner_image

FRAMINGS = (("left", "MS guest"), ("hand", "Standby"))
ROUNDS = 3


def main() -> None:
    """Run all parts and print them."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("--places", type=int, default=100, help="along each side")
    parser.add_argument("--plain", type=int, default=60, help="places of the plain way")
    asked = parser.parse_args()
    show = load_show(asset_dir() / "glasshouse" / "show.toml")
    with open_plan(show, size_px=(32, 18)) as plan:
        for name, framing in FRAMINGS:
            aim = Aim.of(show.file, name, framing, FloorOptions())
            _pictures(plan, aim, asked.places, asked.plain)
            filtered = sensor_of(aim.camera).model_copy(update={"color_filter": "bayer"})
            bayer = with_camera(show, name, sensor=filtered)
            aim = Aim.of(bayer.file, name, framing, FloorOptions())
            stands = _stands(aim, asked.places)
            pictures = _taker(plan, aim, stands)
            before, worked = time.perf_counter(), time.process_time()
            pictures.take(stands)
            seconds, worked = time.perf_counter() - before, time.process_time() - worked
            print(f"  with a Bayer filter {seconds:.2f} s, {worked:.2f} processor seconds")
        half = asked.places * FloorOptions().step_m / 2
        square = FloorOptions(area_m=((-half, half - 0.1), (-4.0 - half, -4.1 + half)))
        for name, framing in FRAMINGS:
            for options in (square, FloorOptions()):
                before, worked = time.perf_counter(), time.process_time()
                found = floor_map(show, name, framing, options, plan.stage, plan.timeline)
                seconds, worked = time.perf_counter() - before, time.process_time() - worked
                print(
                    f"{name}, {framing}: whole map {found.reason.size} places, {found.reachable.sum()} in "
                    f"reach, clearance included: {seconds:.2f} s, {worked:.2f} processor seconds"
                )


def _stands(aim: Aim, side: int) -> Stands:
    """Places before the demo's wall that the lens reaches; others are drawn again until there are enough."""
    rng = np.random.default_rng(1)
    stands = aim.stands(rng.uniform(-5.0, 5.0, 3 * side * side), rng.uniform(-9.0, 0.0, 3 * side * side))
    usable = np.flatnonzero(stands.reason == 0)[: side * side]
    return stands.take(usable)


def _taker(plan: Plan, aim: Aim, stands: Stands) -> Pictures:
    size = plan.show.file.show.picture_size_px
    others = [one for one in plan.timeline.at(0).cameras if one.name != aim.camera.name]
    planes = np.array([inner_image(one).border_planes(size) for one in others])
    lens = LensGrid(aim.camera, picture_grid(*aim.options.sightlines), stands.projection_mm)
    risk = Risk(aim.camera, plan.stage.surfaces, size)
    return Pictures(aim, Polygons.of(plan.stage.surfaces), risk, plan.show.file.checks, planes, lens)


def _pictures(plan: Plan, aim: Aim, side: int, plain: int) -> None:
    stands = _stands(aim, side)
    count = len(stands.focal_mm)
    pictures = _taker(plan, aim, stands)
    sample = np.linspace(0, count - 1, plain).astype(int)
    fast, slow, worked = [], [], []
    for _ in range(ROUNDS):
        before, work = time.perf_counter(), time.process_time()
        found = pictures.take(stands)
        fast.append(time.perf_counter() - before)
        worked.append(time.process_time() - work)
        before = time.perf_counter()
        worst = _plain(plan, aim, stands, sample)
        slow.append((time.perf_counter() - before) * count / plain)
    off = float(np.nanmax(np.abs(found.worst[sample] - worst)))
    rounds = ", ".join(f"{one:.2f}" for one in fast)
    print(
        f"{aim.camera.name}, {aim.framing.name}: {count} places, {count * 576 / 1e6:.2f} million sightlines "
        f"{min(fast):.2f} s (of {rounds}; {min(worked):.2f} processor seconds)"
    )
    print(
        f"  plain way {min(slow):.1f} s (from {plain} places), ratio {min(fast) / min(slow):.3f}; "
        f"worst risk differs by {off:.3f} at most"
    )


def _plain(plan: Plan, aim: Aim, stands: Stands, sample: np.ndarray) -> np.ndarray:
    """Worst moire risk of each place, all else worked out too."""
    surfaces, size = plan.stage.surfaces, plan.show.file.show.picture_size_px
    facets = Facets.of(surfaces)
    scene = Frustums(plan)
    scene.arrange(Look(plan, 0))
    worst = []
    plan.sights._kept.clear()
    for place in sample:
        view = aim.view(stands, int(place))
        sight = plan.sights.look(view)
        sight = replace(sight, thing=np.full_like(sight.thing, -1))
        worst.append(_risk(sight, aim.camera, plan, facets, size))
        structures(sight, aim.camera, surfaces, plan.thresholds.structure)
        for number, surface in enumerate(surfaces):
            mask = sight.surface == number
            rays = sight.points[mask] - view.pupil_m
            rays /= np.linalg.norm(rays, axis=1, keepdims=True)
            seen_luminance(surface, sight.facet[mask], rays)
        points = sight.points[sight.lit]
        for print_ in scene.prints:
            (points @ print_.planes[:, :3].T + print_.planes[:, 3] >= -1e-9).all(axis=1).mean()
    return np.array(worst)


def _risk(sight: Sight, camera: model.Camera, plan: Plan, facets: Facets, size: tuple[int, int]) -> float:
    if not sight.lit.any():
        return float("nan")
    return float(seen_moire(sight, camera, plan.stage.surfaces, size, facets).risk.max())


if __name__ == "__main__":
    main()
