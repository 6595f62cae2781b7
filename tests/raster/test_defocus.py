"""Defocus in pictures against what a lens really does: pinhole pictures from all over its pupil, averaged.

Sources: the thin lens of the encyclopaedic article "Circle of confusion"; the profile of a straight edge
behind an even disc is the disc's area up to a chord (closed form of a circular segment).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import cv2
import numpy as np
import pytest

from preview.camera.pose import Pose
from preview.camera.view import CameraView
from preview.conventions import Array
from preview.raster.blur import SHARP_PX, blur_of
from preview.raster.request import CameraPicture, Layer, SceneImage
from tests.raster.lens_stage import (
    EYE,
    SIZE,
    WALL_M,
    Board,
    draw,
    lens,
    lens_blur,
    own,
    quad,
    stage,
    through_the_pupil,
    window,
)
from tests.twin.drawing import raster_of
from tests.twin.test_compositing import BENT, CROSS, ROOM, STAGE, WIDE

DARK, BRIGHT, RED, GREEN = (0.05, 0.05, 0.05), (1.0, 0.8, 0.6), (0.8, 0.2, 0.2), (0.2, 0.7, 0.2)
CHART = [((-9.0, 9.0), (-9.0, 9.0), DARK), ((0.0, 9.0), (-9.0, 9.0), BRIGHT)]
"""Dark on the left, bright on the right, the edge upright in the picture's middle column."""


def segment_share(x: Array, radius: float) -> Array:
    """Share of a disc's area to the left of x (from its centre)."""
    t = np.clip(np.asarray(x) / radius, -1, 1)
    return 0.5 + (t * np.sqrt(1 - t * t) + np.arcsin(t)) / np.pi


def inside(picture: Array, view: CameraView) -> Array:
    """The picture without the border that discs from past it would reach."""
    reach = int(lens_blur(view).at_infinity_px / 2) + 2
    return picture[reach:-reach, reach:-reach]


@pytest.mark.parametrize("disc_px", [2.0, 4.0, 7.5, 9.0, 12.0, 20.0, 45.0, 80.0])
def test_an_edge_on_the_wall_takes_the_discs_profile(disc_px: float) -> None:
    view = lens(4.0, disc_px * 2)  # twice as far as focus: half the disc at infinity
    assert float(lens_blur(view).signed_px(WALL_M)) == pytest.approx(disc_px)
    with stage(window(CHART)) as raster:
        row = draw(raster, view)[SIZE[1] // 2, :, 0]
    # Pixels are as wide as a pixel: average the profile over one.
    fine = np.linspace(-0.5, 0.5, 41)
    x = np.arange(SIZE[0]) + 0.5 - SIZE[0] / 2
    share = segment_share(x[:, None] + fine, disc_px / 2).mean(axis=1)
    expected = DARK[0] + (BRIGHT[0] - DARK[0]) * share
    middle = slice(48, -48)
    # An edge between two pixels is sharper than pixels can hold: the smallest disc comes out smaller there.
    assert np.abs(row - expected)[middle].max() < (0.035 if disc_px > 2 else 0.1)
    assert np.abs(row - expected)[middle].mean() < 0.002
    # The tolerance has teeth: a disc a fifth larger is another profile.
    other = DARK[0] + (BRIGHT[0] - DARK[0]) * segment_share(x[:, None] + fine, 0.6 * disc_px).mean(axis=1)
    if disc_px >= 4:
        assert np.abs(row - other)[middle].max() > 0.05


@pytest.mark.parametrize(
    ("view", "boards", "least_gain"),
    [
        (lens(4.0, 24.0), (), 15),
        (lens(2.0, 40.0), (), 15),
        (lens(4.0, 24.0), (((-0.6, 0.6), (-0.5, 0.5), 4.0, RED),), 15),
        (lens(8.0, 8.0), (((-0.3, 0.3), (-0.25, 0.25), 3.0, RED),), 7),
        (lens(8.0, 8.0), (((-0.3, 0.3), (-0.25, 0.25), 2.0, RED),), 5),
        (lens(3.0, 20.0), (((-0.3, 0.3), (-0.5, 0.5), 3.0, RED), ((-0.2, 1.2), (-0.6, 0.8), 6.0, GREEN)), 10),
        (
            lens(4.0, 16.0),
            (((-0.3, 0.1), (-0.3, 0.25), 2.0, RED), ((-0.2, 0.9), (-0.6, 0.6), 4.0, GREEN)),
            10,
        ),
    ],
    ids=[
        "wall 12 px",
        "wall 30 px",
        "sharp board, wall 12 px",
        "board 13 px, sharp wall",
        "board 24 px, sharp wall",
        "sharp board, board 10 px, wall 12 px",
        "board 16 px, sharp board, wall 8 px",
    ],
)
def test_a_picture_is_the_mean_over_the_pupil(
    view: CameraView, boards: tuple[Board, ...], least_gain: float
) -> None:
    """The mean difference left is a small part of what blur changes. Where one board is blurred before
    another's edge, what it hides has to be guessed: a few pixels stay."""
    with stage(window(CHART), boards) as raster:
        drawn, sharp, truth = draw(raster, view), draw(raster, view, False), through_the_pupil(raster, view)
    error, change = (np.abs(inside(one - truth, view)) for one in (drawn, sharp))
    assert change.max() > 0.2
    # The pupil's lattice leaves steps of up to three pixels in what is near; they are not the lens's.
    smooth = cv2.blur(inside(drawn - truth, view), (3, 3))
    assert np.percentile(np.abs(smooth), 99) < 0.03
    assert error.mean() < change.mean() / least_gain
    # No light is lost or made.
    assert inside(drawn, view).mean() == pytest.approx(inside(truth, view).mean(), rel=1e-3)


def test_what_is_in_focus_stays_sharp_before_a_blurred_wall() -> None:
    """No halo on either side: the board's own pixels are what they were, and the wall's right beside it are
    what they are without the board."""
    view = lens(4.0, 24.0)
    board: Board = ((-0.6, 0.6), (-0.5, 0.5), 4.0, RED)
    with stage(window(CHART), (board,)) as raster:
        drawn = draw(raster, view)
    with stage(window(CHART)) as raster:
        bare = draw(raster, view)
    per_m = SIZE[0] / 2 / EYE.half_tangents[0] / 4.0
    left, right = SIZE[0] / 2 - 0.6 * per_m, SIZE[0] / 2 + 0.6 * per_m
    top, bottom = SIZE[1] / 2 - 0.5 * per_m, SIZE[1] / 2 + 0.5 * per_m
    x, y = np.arange(SIZE[0]) + 0.5, np.arange(SIZE[1]) + 0.5
    within = ((y > top + 1) & (y < bottom - 1))[:, None] & ((x > left + 1) & (x < right - 1))
    near = ((y > top - 1) & (y < bottom + 1))[:, None] & ((x > left - 1) & (x < right + 1))
    np.testing.assert_allclose(drawn[within], np.broadcast_to(RED, (within.sum(), 3)), atol=1e-3)
    np.testing.assert_array_equal(drawn[~near], bare[~near])


def test_what_is_before_focus_is_half_transparent_at_its_edge() -> None:
    """On the board's geometric edge half of the pupil sees past it, to a wall that stays sharp."""
    view = lens(8.0, 8.0)
    board: Board = ((-0.5, 0.0), (-0.9, 0.9), 3.0, RED)
    stripes = [((-9.0, 9.0), (-9.0, 9.0), DARK)] + [
        ((-9.0, 9.0), (z, z + 0.2), BRIGHT) for z in np.arange(-4, 4, 0.4)
    ]
    with stage(window(stripes), (board,)) as raster:
        drawn, sharp = draw(raster, view), draw(raster, view, False)
    middle = SIZE[0] // 2
    edge = drawn[60:120, middle - 1 : middle + 1].mean(axis=1)
    wall = sharp[60:120, middle + 20]
    np.testing.assert_allclose(edge, (wall + RED) / 2, atol=0.02)
    reach = int(-float(lens_blur(view).signed_px(3.0)) / 2) + 3
    np.testing.assert_array_equal(drawn[60:120, middle + reach], sharp[60:120, middle + reach])
    np.testing.assert_allclose(drawn[60:120, middle - reach], np.broadcast_to(RED, (60, 3)), atol=1e-3)


def test_the_wall_blurs_by_its_own_distance_whatever_it_shows() -> None:
    """The same wall pixels, shown by scenes at the wall, five times as far and half as far: one picture."""
    view = lens(4.0, 24.0)
    pictures = []
    for depth in (1.0, 5.0, 0.5):
        with stage(window(CHART, depth)) as raster:
            assert draw(raster, view, False).std() > 0.1
            pictures.append(draw(raster, view))
    for other in pictures[1:]:
        np.testing.assert_allclose(other, pictures[0], atol=2e-3)


def test_a_highlight_on_the_wall_becomes_an_even_disc_of_the_same_light() -> None:
    view = lens(4.0, 48.0)
    spot = [((-9.0, 9.0), (-9.0, 9.0), (0.0, 0.0, 0.0)), ((-0.1, 0.1), (-0.1, 0.1), (40.0, 40.0, 40.0))]
    with stage(window(spot)) as raster:
        drawn, sharp = draw(raster, view)[..., 1], draw(raster, view, False)[..., 1]
    assert drawn.sum() == pytest.approx(sharp.sum(), rel=2e-3)
    y, x = np.mgrid[: SIZE[1], : SIZE[0]] + 0.5
    away = np.hypot(x - SIZE[0] / 2, y - SIZE[1] / 2)
    disc = float(lens_blur(view).signed_px(WALL_M)) / 2
    assert disc == pytest.approx(12.0)
    core = drawn[away < disc - 5]
    assert core.std() < 0.04 * core.mean()
    np.testing.assert_allclose(core.mean(), sharp.sum() / (np.pi * disc**2), rtol=0.03)
    assert drawn[away > disc + 7].max() < 0.01 * core.mean()
    # Spread as far as a disc's: its second moment along each axis is a quarter of the radius squared.
    extra = (((x - SIZE[0] / 2) ** 2) * sharp).sum() / sharp.sum()
    spread = (((x - SIZE[0] / 2) ** 2) * drawn).sum() / drawn.sum() - extra
    assert 2 * np.sqrt(spread) == pytest.approx(disc, rel=0.03)


def test_within_depth_of_field_nothing_changes() -> None:
    boards: tuple[Board, ...] = (((-0.6, 0.6), (-0.5, 0.5), 6.0, RED),)
    view = lens(
        7.0, 0.9 * SHARP_PX * 6
    )  # the board's disc is 0.9 of what counts as sharp, the wall's smaller
    widest = max(abs(float(lens_blur(view).signed_px(at))) for at in (6.0, WALL_M))
    assert 1.0 < widest < SHARP_PX
    with stage(window(CHART), boards) as raster:
        for linear in (False, True):
            on, off = (
                raster.draw([CameraPicture(view, own(), defocus=defocus)], linear=linear)[0]
                for defocus in (True, False)
            )
            np.testing.assert_array_equal(on.pixels, off.pixels)
            assert on.off_wall == off.off_wall
        wider = replace(view, t_stop=view.t_stop / 4)
        assert np.abs(draw(raster, wider) - draw(raster, wider, False)).max() > 0.05


def test_an_eye_has_no_lens_to_be_out_of_focus() -> None:
    assert blur_of(EYE, SIZE) is None
    with stage(window(CHART)) as raster:
        np.testing.assert_array_equal(draw(raster, EYE), draw(raster, EYE, False))


def test_past_the_wall_the_marker_stays_sharp() -> None:
    """It is no picture. And the wall keeps its full light up to its own border."""
    view = replace(lens(4.0, 24.0), pose=Pose((6.5, 0.0, 1.6)))
    with stage(window([((-99.0, 99.0), (-99.0, 99.0), BRIGHT)])) as raster:
        requests = [CameraPicture(view, own(), defocus=defocus) for defocus in (True, False)]
        on, off = raster.draw(requests, linear=True)
        border = int(SIZE[0] / 2 + 0.5 / WALL_M * SIZE[0] / 2 / EYE.half_tangents[0])
        assert 0.2 < on.off_wall < 0.6
        assert on.off_wall == pytest.approx(off.off_wall, abs=1e-6)
        np.testing.assert_array_equal(on.pixels[:, border + 2 :], off.pixels[:, border + 2 :])
        np.testing.assert_allclose(on.pixels[:, : border - 1], off.pixels[:, : border - 1], atol=3e-3)


def test_kept_views_and_changed_focus_do_not_mix() -> None:
    boards: tuple[Board, ...] = (((-0.6, 0.6), (-0.5, 0.5), 4.0, RED),)
    with stage(window(CHART), boards) as raster:
        views = [lens(focus, 24.0) for focus in (4.0, 8.0, 3.0, 5.0, 6.0, 7.0)]
        first = [draw(raster, view) for view in views]
        again = [draw(raster, view) for view in reversed(views)][::-1]
        sharp = draw(raster, views[0], False)
        np.testing.assert_array_equal(sharp, draw(raster, views[1], False))
    for one, other in zip(first, again, strict=True):
        np.testing.assert_array_equal(one, other)
    assert np.abs(first[0] - first[1]).max() > 0.1


@pytest.mark.parametrize("disc_px", [3.0, 12.0])
def test_through_a_distorting_lens(disc_px: float) -> None:
    """The disc is as large on the sensor; only where things lie on it changes."""
    straight = lens(4.0, 2 * disc_px)
    bent = replace(straight, distortion=replace(straight.distortion, k1=-0.05))
    with stage(window(CHART)) as raster:
        rows = [draw(raster, view)[SIZE[1] // 2, 100:220, 0] for view in (straight, bent)]
    # The upright edge through the middle stays where it is.
    np.testing.assert_allclose(rows[1], rows[0], atol=0.02)


def test_interleaved_slots_are_mixed_before_they_are_blurred() -> None:
    """Blur is linear: mixing the blurred pictures of both stacks gives the same."""
    view, other = lens(4.0, 24.0), (Layer(SceneImage(EYE, 0.2), dim=0.25),)
    with stage(window(CHART)) as raster:
        asked = [
            CameraPicture(view, own(), defocus=True),
            CameraPicture(view, other, defocus=True),
            CameraPicture(view, own(), ((0.3, other),), defocus=True),
        ]
        first, second, mixed = (drawn.pixels for drawn in raster.draw(asked, linear=True))
    assert np.abs(first - second).max() > 0.5
    np.testing.assert_allclose(mixed, 0.7 * first + 0.3 * second, atol=1e-5)


@dataclass(frozen=True)
class Stand:
    """A board that moves about: between two places across, from the floor up, at a distance (metres)."""

    across: tuple[float, float]
    distance_m: float

    def vertices(self) -> np.ndarray:
        corners = quad(self.across, (-2.0, 2.0), self.distance_m)[[0, 1, 2, 0, 2, 3]]
        rest = np.tile([0.0, -1.0, 0.0, 0.9, 0.9, 0.9, 1.0], (6, 1))
        return np.concatenate([corners, rest], axis=1).astype(np.float32)


def test_equipment_is_blurred_by_its_own_distance() -> None:
    view = lens(8.0, 8.0)
    with stage(window(CHART)) as raster:
        rows = []
        for distance_m in (3.0, 7.9):
            bodies = (Stand((-0.2 * distance_m, -0.1 * distance_m), distance_m),)
            request = CameraPicture(view, own(), bodies=bodies, defocus=True)
            rows.append(raster.draw([request], linear=True)[0].pixels[SIZE[1] // 2, :, 1])
    for row, disc_px in zip(rows, (abs(float(lens_blur(view).signed_px(3.0))), 0.0), strict=True):
        edge = row[SIZE[0] // 2 - 60 : SIZE[0] // 2 - 4]  # the stand's right side is at -0.1 of the distance
        low, high = sorted((float(edge[0]), float(edge[-1])))
        assert high - low > 0.02
        between = (edge > low + 0.03 * (high - low)) & (edge < high - 0.03 * (high - low))
        assert disc_px * 0.7 - 1 <= between.sum() <= disc_px + 2


@pytest.mark.parametrize("view", [WIDE, CROSS, BENT], ids=["wide", "cross", "bent"])
def test_nothing_is_nearer_than_the_bound_that_spares_sharp_pictures(view: CameraView) -> None:
    with raster_of(STAGE, ROOM) as raster:
        eye, _, _ = raster._eye(view)
        ahead = view.pose.rotation[:, 1]
        bound = raster._stage.nearest_m(eye, ahead)
        lines = raster.sightlines(view)
    height, width = lines.surface.shape
    x, y = np.meshgrid(np.arange(width) + 0.5, np.arange(height) + 0.5)
    ways, _ = view.sightlines(np.column_stack([x.ravel(), y.ravel()]), (width, height))
    axial = (lines.distance_m.reshape(-1) * (ways @ ahead))[lines.surface.ravel() >= 0]
    corners = np.concatenate([solid.corners.reshape(-1, 3) for solid in STAGE.solids])
    nearest_corner = ((corners - view.pupil_m) @ ahead).min()
    assert bound <= axial.min() * (1 + 1e-3)
    assert bound > min(0.5 * axial.min(), nearest_corner - 2.0)
