"""Flashes on arrays: changes of single pixels, areas and counts against plain per-pixel references."""

from fractions import Fraction
from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from preview.checks.flash import (
    RED_STEP_UV,
    RED_UV,
    Changes,
    Limits,
    LuminanceChanges,
    RedChanges,
    counts,
    luminance_of,
    monitor_light,
    red_share_of,
    surface_light,
    uv_of,
)
from preview.checks.flash_count import Event, FlashCount, opposing
from preview.checks.flash_watch import Watched, canvas_areas_m2
from preview.show import model
from preview.stage.surface import LedSurface, build_surface

SDR, HDR = Limits(), Limits(contrast=1 / 17)
LEVELS = st.integers(0, 300).map(float)

# ---- Changes of single pixels ---------------------------------------------------------------------------


def changes_of(levels, limits):
    """The plain reading: a change is complete once any level since the last one is far enough away."""
    found, since, last = [], [], 0
    for level in levels:
        up = last <= 0 and any(then < level and counts(then, level, limits) for then in since)
        down = last >= 0 and any(then > level and counts(level, then, limits) for then in since)
        assert not (up and down)
        if up or down:
            since, last = [], 1 if up else -1
        since.append(level)
        found.append((up, down))
    return found


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.lists(LEVELS, min_size=6, max_size=6), min_size=1, max_size=14), st.sampled_from([SDR, HDR])
)
def test_changes_of_luminance_are_those_of_the_plain_reading(frames, limits):
    pictures = np.array(frames).reshape(len(frames), 2, 3)
    finder = LuminanceChanges(limits)
    found = [finder.feed(picture) for picture in pictures]
    for row, column in np.ndindex(2, 3):
        plain = changes_of(pictures[:, row, column].tolist(), limits)
        assert [(bool(one.up[row, column]), bool(one.down[row, column])) for one in found] == plain


@pytest.mark.parametrize(
    ("levels", "up", "down"),
    [
        ([100, 108, 116, 124, 132], [3], []),  # a ramp is one change, complete once it has come far enough
        ([100, 110, 106, 116, 112, 122], [5], []),  # ripples do not break it
        ([100, 120, 140, 160, 141, 140], [1], [5]),  # back by 20 from the brightest, not from the first step
        ([150, 300, 165, 300], [1], []),  # dark and bright both above 160 on the way back: not in SDR
    ],
)
def test_changes_go_from_extreme_to_extreme(levels, up, down):
    finder = LuminanceChanges(SDR)
    found = [finder.feed(np.full((1, 1), float(level))) for level in levels]
    assert [at for at, one in enumerate(found) if one.up.any()] == up
    assert [at for at, one in enumerate(found) if one.down.any()] == down


def test_a_change_says_how_far_it_has_come():
    finder = LuminanceChanges(SDR)
    swings = [float(finder.feed(np.full((1, 1), level)).swing[0, 0]) for level in (100.0, 110.0, 145.0, 90.0)]
    assert swings == [0.0, 0.0, 45.0, 55.0]


def red_changes_of(colors):
    """A pixel's changes to and from red, from its whole history."""
    found, since, last = [], [], 0
    for color in colors:
        uv, red = uv_of(color), bool(red_share_of(color) >= 0.8)
        away = float(np.hypot(*(uv - RED_UV)))
        reds = [(off, then) for is_red, off, then in since if is_red]
        others = [(off, then) for is_red, off, then in since if not is_red]
        farthest, reddest = (
            max(others, default=None, key=lambda at: at[0]),
            min(reds, default=None, key=lambda at: at[0]),
        )
        up = last <= 0 and red and farthest is not None and np.hypot(*(uv - farthest[1])) > RED_STEP_UV
        down = last >= 0 and reddest is not None and np.hypot(*(uv - reddest[1])) > RED_STEP_UV
        if up or down:
            since, last = [], 1 if up else -1
        since.append((red, away, uv))
        found.append((bool(up), bool(down)))
    return found


@settings(max_examples=60, deadline=None)
@given(st.lists(st.sampled_from([0, 40, 80, 160, 255]), min_size=9, max_size=45))
def test_changes_of_red_are_those_of_the_plain_reading(values):
    codes = np.array(values[: len(values) // 3 * 3], dtype=np.uint8).reshape(-1, 1, 1, 3)
    finder = RedChanges()
    found = [finder.feed(monitor_light(code)) for code in codes]
    lights = [monitor_light(code)[0, 0] for code in codes]
    lights = [light if luminance_of(light) >= 0.2 else 0 * light for light in lights]
    assert [(bool(one.up.any()), bool(one.down.any())) for one in found] == red_changes_of(lights)


def test_black_has_the_colour_of_white_and_is_no_red():
    black = np.zeros((2, 3))
    np.testing.assert_allclose(uv_of(black), uv_of(np.ones((2, 3))), atol=1e-12)
    assert red_share_of(black).tolist() == [0.0, 0.0]


def test_light_of_a_surface_ends_at_its_peak():
    light = surface_light(np.array([[[0.5, 2.0, -0.1]]], dtype=np.float32), white_cd_m2=600, peak_cd_m2=900)
    assert light.tolist() == [[[300.0, 900.0, 0.0]]]


def test_monitor_light_refuses_what_is_no_8_bit_picture():
    with pytest.raises(TypeError, match="8-bit"):
        monitor_light(np.zeros((1, 1, 3)))


# ---- Counting -------------------------------------------------------------------------------------------


def event(frame, up, down):
    return Event(frame, up, down, 1.0, 20.0, np.ones((1, 1), dtype=bool))


@given(st.lists(st.sampled_from([(True, False), (False, True), (True, True)]), max_size=8))
def test_opposing_changes_are_the_longest_row_there_is(directions):
    def turns(chosen):
        return any(
            all(directions[at][(place + start) % 2] for place, at in enumerate(chosen)) for start in (0, 1)
        )

    longest = max(
        length
        for length in range(len(directions) + 1)
        if any(turns(chosen) for chosen in combinations(range(len(directions)), length))
    )
    assert opposing([event(at, *one) for at, one in enumerate(directions)]) == longest


def counted_plainly(frames, fps, limits, together):
    """Opposing changes in the second before each frame, from lists of pixels."""
    waiting = {True: {}, False: {}}
    events, found = [], []
    for frame, (up, down) in enumerate(frames):
        happened = []
        for way, now in ((True, up), (False, down)):
            waiting[way] |= dict.fromkeys(np.flatnonzero(now), frame)
            together_now = [pixel for pixel, at in waiting[way].items() if frame - at < together]
            happened.append(len(together_now) > limits.area_share * up.size)
            if happened[-1]:
                waiting[way].clear()
        if any(happened):
            events.append(event(frame, *happened))
        found.append(opposing([one for one in events if (frame - one.frame) / fps < 1]))
    return found


@settings(max_examples=40, deadline=None)
@given(
    st.integers(0, 10**6), st.sampled_from([Fraction(24), Fraction(25), Fraction(30000, 1001), Fraction(50)])
)
def test_counts_are_those_of_the_plain_reading(seed, fps):
    rng = np.random.default_rng(seed)
    state = rng.integers(-1, 2, (3, 4))
    frames = []
    for _ in range(70):
        busy = rng.random(state.shape) < rng.choice([0.0, 0.15, 0.4, 1.0])
        up, down = busy & (state <= 0), busy & (state > 0)
        state = np.where(up, 1, np.where(down, -1, state))
        frames.append((up, down))
    counted = FlashCount(fps, SDR, np.ones(state.shape))
    found = [counted.feed(Changes(up, down, 1.0 * (up | down))).changes for up, down in frames]
    plain = counted_plainly(frames, fps, SDR, counted.together_frames)
    assert found == plain
    assert counted.most == max(plain)
    over = [
        frame for frame, number in enumerate(plain) if number > 6 and number >= max(plain[:frame], default=0)
    ]
    assert bool(counted.above) is bool(over)
    if over:
        assert counted.above[0].first < over[0] == min(f for f, n in enumerate(plain) if n > 6)
        assert any(stretch.most == max(plain) for stretch in counted.above)


def steps(*frames):
    """Changes from rows of pixels: "+" up, "-" down, "." none."""
    rows = [np.array([list(row)]) for row in frames]
    return [Changes(row == "+", row == "-", np.where(row == ".", 0.0, 30.0)) for row in rows]


def count_steps(*frames, fps=25, weights=None):
    made = steps(*frames)
    counted = FlashCount(Fraction(fps), SDR, np.ones(made[0].up.shape) if weights is None else weights)
    for one in made:
        counted.feed(one)
    return counted


def test_neighbouring_frames_count_together_and_others_do_not():
    assert count_steps("+.........", ".++.......").most == 1
    assert count_steps("+.........", "..........", ".++.......").most == 0
    assert count_steps("++........", ".+........").most == 0, "a pixel counts once"


def test_halves_that_take_turns_flash_as_often_as_one_of_them():
    assert count_steps("++--", "--++", "++--").most == 3


def test_pixels_count_by_their_weight():
    weights = np.array([[9.0, 1.0, 1.0, 1.0]])
    assert count_steps("+...", "-...", weights=weights).most == 2
    assert count_steps(".+++", ".---", weights=weights).most == 0


def test_a_stretch_above_the_limits_has_all_its_changes_and_its_worst_frame():
    quick = ["++++", "----"] * 5
    counted = count_steps(*["...."] * 10, *quick, *["...."] * 30, "++..", "--..")
    (stretch,) = counted.above
    assert (stretch.first, stretch.last, stretch.most) == (10, 19, 10)
    assert stretch.frames == list(range(10, 20))
    assert (stretch.worst.frame, stretch.share, stretch.swing) == (19, 1.0, 30.0)


def test_two_bursts_are_two_stretches():
    quick = ["++++", "----"] * 4
    assert len(count_steps(*quick, *["...."] * 30, *quick).above) == 2


def test_one_way_changes_are_no_flashing():
    rows = []
    for _ in range(20):
        rows += ["++++", *["...."] * 9]
    assert count_steps(*rows).sustained == ()


def test_weights_that_add_up_to_nothing_are_refused():
    with pytest.raises(ValueError, match="no pixel"):
        FlashCount(Fraction(25), SDR, np.zeros((2, 2)))


def test_the_same_pictures_again_cost_nothing_and_age_what_was():
    watched = Watched("", Fraction(25), SDR, np.ones((2, 2)))
    dark, bright = np.zeros((2, 2, 3)), np.full((2, 2, 3), 100.0)
    made = []

    def show(picture):
        def light():
            made.append(picture)
            return picture

        watched.see((picture,), (), light)

    for picture in [dark] * 5 + [bright] * 30:
        show(picture)
    assert len(made) == 2
    assert list(watched.flashes["light"]) == [0.0] * 5 + [0.5] * 25 + [0.0] * 5
    assert list(watched.area_percent["light"]) == [0.0] * 5 + [100.0] + [0.0] * 29


# ---- Areas of canvases ----------------------------------------------------------------------------------


def test_areas_of_a_tiled_wall_add_up():
    tiles = model.Surface(
        name="Bend", columns=6, rows=2, tile_size_mm=(500, 500), pixel_pitch_mm=5, joint_angle_deg=8.0
    )
    surface = build_surface(tiles)
    areas = canvas_areas_m2(surface, (120, 40))
    assert areas.sum() == pytest.approx(surface.area_m2) == pytest.approx(3.0)
    assert np.ptp(areas) < 1e-9


def test_areas_follow_the_facets_and_leave_the_rest_of_the_canvas_out():
    """A canvas whose left half is a metre wide, the next quarter three, and the last shows nothing."""
    x = np.array([0.0, 1.0, 1.0, 0.0, 1.0, 4.0, 4.0, 1.0])
    z = np.array([1.0, 1.0, 0.0, 0.0] * 2)
    u = np.array([0.0, 40.0, 40.0, 0.0, 40.0, 60.0, 60.0, 40.0])
    v = np.array([0.0, 0.0, 10.0, 10.0] * 2)
    surface = LedSurface(
        name="Odd", kind="wall", canvas_px=(80, 10), positions=np.column_stack([x, 0 * x, z]),
        canvas=np.column_stack([u, v]),
        triangles=np.array([[0, 3, 2], [0, 2, 1], [4, 7, 6], [4, 6, 5]], np.int32),
        peak_luminance_cd_m2=1500, refresh_hz=3840, reflectance=0.04, pixel_pitch_mm=10,
    )  # fmt: skip
    areas = canvas_areas_m2(surface, (40, 4))
    np.testing.assert_allclose(areas[:, :20], 1.0 / 80)
    np.testing.assert_allclose(areas[:, 20:30], 3.0 / 40)
    assert not areas[:, 30:].any()
    assert areas.sum() == pytest.approx(surface.area_m2)
