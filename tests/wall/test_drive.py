"""What the wall is told to show: which frustums, in which order, with which light and edge."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from preview.raster.request import CameraPicture, shares_of
from preview.show.model import Drive, ShowFile
from preview.timeline.moment import Moment
from preview.timeline.timeline import Timeline
from preview.wall.drive import WallState, drive, in_order
from preview.wall.layer import frustum_layer
from tests.timeline.conftest import Show, cameras, document

ORDERS = [(), ("Arm", "Path", "Bench"), ("Bench",), ("Arm", "Path")]


def moments(**changes: Any) -> Timeline:
    """Path on air for ten frames while it pushes in, then ten of a mix to Bench and thirty of Bench."""
    rundown = [
        {"name": "one", "on_air": "Path", "duration": 0.4, "cameras": {"Path": {"move": "push"}}},
        {"name": "two", "on_air": "Bench", "duration": 1.6, "transition": "mix", "mix_frames": 10},
    ]
    return Timeline(Show(ShowFile(**document(rundown, **changes))))


@pytest.fixture(scope="module")
def moment() -> Moment:
    return moments().at(5)


def cameras_of(state: WallState, moment: Moment) -> list[list[str]]:
    """Camera names of every slot's layers, from bottom to top."""
    names = {camera.layer_view: camera.name for camera in moment.cameras}
    return [[names[layer.image.view] for layer in stack] for _, stack in state.slots]


# ---- Switched ------------------------------------------------------------------------------------


def test_switched_shows_the_camera_that_the_wall_follows_alone() -> None:
    line = moments(delays={"wall_switch_frames": 2}, drive={"mix_switch": "start"})
    for frame, camera in ((0, "Path"), (11, "Path"), (12, "Bench"), (49, "Bench")):
        now = line.at(frame)
        state = drive(now, Drive(mode="switched", crosstalk=0.3))
        assert state == WallState((("", (frustum_layer(now.camera(camera)),)),))


def test_a_switched_wall_is_the_same_to_every_camera_and_to_the_eye(moment: Moment) -> None:
    state = drive(moment, Drive(mode="switched"))
    seen = [state.in_slot_of(camera.name) for camera in moment.cameras]
    assert [*seen, state.by_eye()] == [((frustum_layer(moment.camera("Path")),), ())] * 4


def test_a_layer_is_drawn_from_where_the_camera_was() -> None:
    now = moments(delays={"tracking_frames": 3}).at(8)
    (layer,) = drive(now, Drive()).slots[0][1]
    assert layer.image.view == now.camera("Path").layer_view != now.camera("Path").view


# ---- Shared --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("order", "expected"),
    [
        ((), ["Bench", "Arm", "Path"]),
        (("Arm", "Path", "Bench"), ["Arm", "Bench", "Path"]),
        (("Path", "Bench", "Arm"), ["Bench", "Arm", "Path"]),
        (("Bench",), ["Arm", "Bench", "Path"]),  # what is not named lies at the bottom
    ],
)
def test_shared_stacks_off_air_in_order_and_the_walls_camera_on_top(
    moment: Moment, order: tuple[str, ...], expected: list[str]
) -> None:
    state = drive(moment, Drive(mode="shared", order=order))
    assert cameras_of(state, moment) == [expected]


def test_shared_dims_and_edges_tell_on_air_from_off() -> None:
    now = moments().at(5)
    settings = Drive(mode="shared", off_air_dim=0.4, edge_width_mm=30.0)
    *others, top = drive(now, settings).slots[0][1]
    assert (top.dim, [layer.dim for layer in others]) == (1.0, [0.4, 0.4])
    assert [layer.edge_width_m for layer in (*others, top)] == [0.03] * 3
    # sRGB decoded by IEC 61966-2-1, 5.2: 0x37 is 55/255, over the knee of 0.04045.
    assert top.edge_rgb[0] == pytest.approx(((0x37 / 255 + 0.055) / 1.055) ** 2.4)
    assert others[0].edge_rgb == others[1].edge_rgb != top.edge_rgb
    assert others[0].edge_rgb[0] == pytest.approx(((0xF2 / 255 + 0.055) / 1.055) ** 2.4)


@pytest.mark.parametrize("without", [{"edge_line": False}, {"edge_width_mm": 0.0}])
def test_a_show_may_do_without_edges(moment: Moment, without: dict[str, Any]) -> None:
    stack = drive(moment, Drive(mode="shared", **without)).slots[0][1]
    assert [(layer.edge_rgb, layer.edge_width_m) for layer in stack] == [(None, 0.0)] * 3


def test_shared_frustums_differ_in_nothing_else_from_what_stands_alone(moment: Moment) -> None:
    stack = drive(moment, Drive(mode="shared", edge_line=False, off_air_dim=1.0)).slots[0][1]
    assert set(stack) == {frustum_layer(camera) for camera in moment.cameras}


def test_the_top_of_a_shared_stack_changes_when_the_wall_does() -> None:
    line = moments(delays={"wall_switch_frames": 2}, drive={"mix_switch": "start"})
    tops = [cameras_of(drive(line.at(f), Drive(mode="shared")), line.at(f))[0][-1] for f in (11, 12)]
    assert tops == ["Path", "Bench"]


# ---- Interleaved ---------------------------------------------------------------------------------


@pytest.mark.parametrize("order", ORDERS)
def test_interleaved_gives_each_camera_a_slot_with_its_own_frustum(
    moment: Moment, order: tuple[str, ...]
) -> None:
    settings = Drive(mode="interleaved", order=order, crosstalk=0.1)
    state = drive(moment, settings)
    names = [name for name, _ in state.slots]
    assert sorted(names) == ["Arm", "Bench", "Path"]
    assert names == [camera.name for camera in in_order(moment.cameras, settings)]
    assert cameras_of(state, moment) == [[name] for name in names]
    assert state.crosstalk == 0.1
    for name, stack in state.slots:
        assert stack == (frustum_layer(moment.camera(name)),), "no dim and no edge line"


def test_unnamed_cameras_come_first_in_show_order(moment: Moment) -> None:
    names = [camera.name for camera in in_order(moment.cameras, Drive(order=("Path",)))]
    assert names == ["Bench", "Arm", "Path"]


def test_interleaved_follows_nobody(moment: Moment) -> None:
    """Its slots are the same whoever is on air, so its cuts cannot be wrong."""
    line = moments(delays={"wall_switch_frames": 3})
    for frame in (12, 25, 49):
        now = line.at(frame)
        assert [name for name, _ in drive(now, Drive(mode="interleaved")).slots] == ["Path", "Bench", "Arm"]


def test_without_crosstalk_a_camera_exposes_its_own_slot_alone(moment: Moment) -> None:
    state = drive(moment, Drive(mode="interleaved"))
    for camera in moment.cameras:
        assert state.in_slot_of(camera.name) == ((frustum_layer(camera),), ())


def test_crosstalk_is_shared_out_evenly_over_the_other_slots(moment: Moment) -> None:
    state = drive(moment, Drive(mode="interleaved", crosstalk=0.05))
    own, ghosts = state.in_slot_of("Bench")
    assert own == (frustum_layer(moment.camera("Bench")),)
    assert {stack for _, stack in ghosts} == {(frustum_layer(moment.camera(n)),) for n in ("Path", "Arm")}
    assert [share for share, _ in ghosts] == [0.025, 0.025]


def test_the_eye_sees_every_slot_alike_whatever_the_crosstalk(moment: Moment) -> None:
    """Light that leaks into one slot is missing from another: the mean stays."""
    plain, leaking = (drive(moment, Drive(mode="interleaved", crosstalk=c)) for c in (0.0, 0.4))
    assert plain.by_eye() == leaking.by_eye()
    first, ghosts = plain.by_eye()
    assert [first, *(stack for _, stack in ghosts)] == [stack for _, stack in plain.slots]
    assert [share for share, _ in ghosts] == [pytest.approx(1 / 3)] * 2


def test_nobody_has_the_slot_of_a_stranger(moment: Moment) -> None:
    with pytest.raises(KeyError, match="Crane"):
        drive(moment, Drive(mode="interleaved")).in_slot_of("Crane")


@given(count=st.integers(1, 12), crosstalk=st.floats(0, 1))
def test_light_is_neither_made_nor_lost(count: int, crosstalk: float) -> None:
    """Shares of every camera's picture, and of the eye's, add up to 1; each slot's light goes somewhere."""
    tables = [{**cameras()[1], "name": f"Cam {n}", "number": n + 1} for n in range(count)]
    for n, table in enumerate(tables):
        table["position_m"] = (n / 2, -4.0, 1.5)
    rundown = [{"name": "one", "on_air": "Cam 0", "duration": 1.0}]
    now = Timeline(Show(ShowFile(**document(rundown, cameras=tables)))).at(0)
    state = drive(now, Drive(mode="interleaved", crosstalk=crosstalk))
    view = now.cameras[0].view
    given_out: dict[Any, float] = {}
    for camera in now.cameras:
        picture = CameraPicture(view, *state.in_slot_of(camera.name))
        shares = shares_of(picture)
        assert sum(shares) == pytest.approx(1.0)
        assert shares[0] == pytest.approx(1.0 - (crosstalk if count > 1 else 0.0))
        for share, stack in zip(shares, [picture.stack, *(s for _, s in picture.ghosts)], strict=True):
            assert share >= -1e-12
            given_out[stack] = given_out.get(stack, 0.0) + share
    assert list(given_out.values()) == pytest.approx([1.0] * count)
    eye = shares_of(CameraPicture(view, *state.by_eye()))
    assert eye == pytest.approx([1 / count] * count)
