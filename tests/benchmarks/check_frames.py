"""How long checking takes without drawing colour, and whether memory stays flat.

    python -m tests.benchmarks.check_frames [--frames 1000] [--views 12]

First, all checks that draw nothing walk through the demo's first frames, all four cameras; time and resident
memory are printed every quarter. Then the coarse sightlines of moving views are drawn as the product does
and cast one by one against the same triangles with trimesh and Embree, in turn, on the same views: the
plain baseline. What both meet is compared.
"""

from __future__ import annotations

import argparse
import time
from statistics import median

import numpy as np
import trimesh

from preview.checks.look import Look, Plan
from preview.checks.registry import all_checks
from preview.checks.walk import open_plan
from preview.show.load import load_show
from preview.show.resources import asset_dir


def main() -> None:
    """Run both parts and print them."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("--frames", type=int, default=1000)
    parser.add_argument("--views", type=int, default=12)
    asked = parser.parse_args()
    show = load_show(asset_dir() / "glasshouse" / "show.toml")
    with open_plan(show, last=asked.frames - 1) as plan:
        _walk(plan)
        _compare(plan, asked.views)


def _walk(plan: Plan) -> None:
    checks = [check(plan) for check in all_checks() if not check.draws]
    print(f"{len(checks)} checks, {len(plan.frames)} frames, {len(plan.show.file.cameras)} cameras")
    quarter = max(1, len(plan.frames) // 4)
    spent = dict.fromkeys((check.name for check in checks), 0.0)
    started = time.perf_counter()
    for done, frame in enumerate(plan.frames, start=1):
        look = Look(plan, frame)
        for check in checks:
            before = time.perf_counter()
            check.see(look)
            spent[check.name] += time.perf_counter() - before
        if done % quarter == 0:
            seconds = time.perf_counter() - started
            print(f"  {done:5d} frames  {seconds:6.1f} s  {_resident_mib():5.0f} MiB resident")
    before = time.perf_counter()
    for check in checks:
        check.result()
    print(f"  results {time.perf_counter() - before:.1f} s; {plan.sights.drawn} sights drawn")
    for name, seconds in sorted(spent.items(), key=lambda item: -item[1]):
        print(f"  {name:14s} {seconds:6.1f} s")


def _compare(plan: Plan, views: int) -> None:
    parts = [part for part in plan.stage.set.parts if part.material.alpha_mode != "blend"]
    meshes = [trimesh.Trimesh(part.positions, part.triangles, process=False) for part in parts]
    wall = [trimesh.Trimesh(s.positions, s.triangles, process=False) for s in plan.stage.surfaces]
    things, led = (
        trimesh.ray.ray_pyembree.RayMeshIntersector(trimesh.util.concatenate(made)) for made in (meshes, wall)
    )
    ours, plain, alike = [], [], []
    for number in range(views):
        view = plan.timeline.at(30 + 9 * number).camera("jib").view
        plan.sights._kept.clear()
        started = time.perf_counter()
        sight = plan.sights.look(view)
        ours.append(time.perf_counter() - started)
        started = time.perf_counter()
        thing, met = _cast(view, sight.surface.shape, things, led)
        plain.append(time.perf_counter() - started)
        alike.append(float(((sight.thing >= 0) == thing).mean()))
        alike.append(float(((sight.surface != -1) == met).mean()))
    ratio = median(one / other for one, other in zip(ours, plain, strict=True))
    print(f"a sight of {sight.surface.size} sightlines, {views} moving views: {1000 * median(ours):.1f} ms, ")
    print(
        f"  cast by Embree {1000 * median(plain):.1f} ms, ratio {ratio:.2f}; {100 * min(alike):.2f} % alike"
    )


def _cast(view, shape, things, led):  # type: ignore[no-untyped-def]
    height, width = shape
    x, y = np.meshgrid(np.arange(width) + 0.5, np.arange(height) + 0.5)
    rays, _ = view.sightlines(np.column_stack([x.ravel(), y.ravel()]), (width, height))
    origins = np.broadcast_to(view.pupil_m, rays.shape)
    near, behind = np.full(len(rays), np.inf), np.full(len(rays), np.inf)
    for caster, distance in ((things, near), (led, behind)):
        points, ray, _ = caster.intersects_location(origins, rays, multiple_hits=False)
        distance[ray] = np.linalg.norm(points - view.pupil_m, axis=1)
    return (near < behind).reshape(shape), np.isfinite(behind).reshape(shape)


def _resident_mib() -> float:
    with open("/proc/self/statm", encoding="ascii") as file:
        return int(file.read().split()[1]) * 4096 / 2**20


if __name__ == "__main__":
    main()
