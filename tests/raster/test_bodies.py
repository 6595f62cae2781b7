"""Equipment in pictures: where the sightlines say it is, and nowhere else."""

from dataclasses import replace

import numpy as np
import pytest

from preview.checks.look import Look
from preview.checks.walk import open_plan
from preview.frame import Studio, Wanted
from preview.show.load import Show
from tests.checks.shows import changed, whip_show

SIZE = (192, 108)


def with_equipment(show: Show, drawn: bool) -> Show:
    stage = show.file.stage.model_copy(update={"equipment": drawn})
    return replace(show, file=show.file.model_copy(update={"stage": stage}))


def in_the_way() -> Show:
    """CAM2 stands in front of CAM1, to the right of the middle of its picture."""
    show = whip_show()
    first, second = show.file.cameras
    x, y, z = first.position_m
    return changed(
        show, {second.name: {"position_m": (x + 0.6, y + 2.2, z), "framings": tuple(
            framing.model_copy(update={"position_m": None}) for framing in second.framings
        )}}
    )  # fmt: skip


@pytest.fixture(scope="module")
def drawn():
    """Pictures of CAM1 with and without equipment, and its sight."""
    show = in_the_way()
    name = show.file.cameras[0].name
    wanted = Wanted(kinds=("as-shot", "return", "house", "wall"), cameras=(name,))
    pictures = []
    for equipment in (True, False):
        with Studio(with_equipment(show, equipment), SIZE) as studio:
            pictures.append({p.label: p.code.astype(int) for p in studio.pictures(0, wanted)})
    with open_plan(show, size_px=SIZE) as plan:
        sight = Look(plan, 0).sight(name)
    return (*pictures, sight, name)


@pytest.mark.parametrize("kind", ["as-shot", "return"])
def test_equipment_is_where_the_sightlines_say(drawn, kind):
    with_it, without, sight, name = drawn
    differs = np.abs(with_it[f"{kind} {name}"] - without[f"{kind} {name}"]).max(axis=2) > 3
    body = sight.of_kind("camera", "stand")  # an operator is a capsule there and a person here
    assert body.mean() > 0.01
    everything = sight.of_kind("camera", "stand", "arm", "operator")
    assert (differs & body).sum() / body.sum() > 0.9
    # Antialiased edges reach one pixel past a middle's sightline.
    near = everything.copy()
    for axis in (0, 1):
        near |= np.roll(near, 1, axis) | np.roll(near, -1, axis)
    assert (differs & ~near).sum() <= 0.002 * differs.size


def test_a_camera_does_not_see_itself(drawn):
    *_, sight, name = drawn
    assert all(thing.camera != name for thing in sight.things)


def test_the_wall_is_the_same_whoever_stands_before_it(drawn):
    with_it, without, *_ = drawn
    walls = [label for label in with_it if label.startswith("wall")]
    assert walls
    for label in walls:
        np.testing.assert_array_equal(with_it[label], without[label])


def test_a_camera_out_of_the_picture_costs_nothing():
    """The request for a picture nobody stands in is the same, so it is kept from frame to frame."""
    with Studio(whip_show(), SIZE) as studio:
        moments = [studio.timeline.at(frame) for frame in (0, 1)]
        plans = [studio._plan(moment, Wanted(kinds=("as-shot",), cameras=("CAM1",))) for moment in moments]
    assert plans[0][0][2][0].bodies == ()
    assert plans[0][0][2] == plans[1][0][2]


def test_the_house_sees_a_dark_hall_and_a_camera_sees_stripes():
    show = whip_show()
    with Studio(show, SIZE) as studio:
        away = studio.timeline.at(0).cameras[0].view
        away = replace(away, pose=replace(away.pose, pan_deg=180.0))
        from preview.picture import kinds
        from preview.wall.drive import drive

        driven = drive(studio.timeline.at(0), show.file.drive)
        hall = kinds.house(away, driven)
        marked = replace(hall, marked=True)
        dark, striped = (one.pixels for one in studio.raster.draw([hall, marked]))
    assert dark.max() < 60 and dark.std(axis=(0, 1)).max() < 15
    assert np.unique(striped.reshape(-1, 3), axis=0).shape[0] > 10
    assert int(striped.max()) - int(striped.min()) > 40
