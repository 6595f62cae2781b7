"""The picture map: colour where risk is, the picture where none is, lines that run as stripes would."""

from types import SimpleNamespace

import numpy as np

from preview.moire.page import Panel, moire_page, with_scale
from preview.moire.picture_map import RAMP, enlarged, grid_of, picture_map, ramp

PICTURE = (640, 360)


def moire(risk, orientation=0.0, seen=None):
    shape = risk.shape
    seen = np.ones(shape, dtype=bool) if seen is None else seen
    patterns = SimpleNamespace(orientation_deg=np.full(shape, orientation, dtype=np.float32))
    return SimpleNamespace(risk=np.where(seen, risk, 0).astype(np.float32), seen=seen, patterns=patterns)


def grey(level=128):
    return np.full((PICTURE[1], PICTURE[0], 3), level, dtype=np.uint8)


def test_the_ramp_gets_steadily_lighter():
    """Perceptually even: lightness rises with risk, so that it reads in grey too."""
    colors = ramp(np.linspace(0, 1, 50))
    light = colors @ [0.2126, 0.7152, 0.0722]
    assert (np.diff(light) > 0).all()
    np.testing.assert_allclose(colors[[0, -1]], RAMP[[0, -1]], atol=1e-6)


def test_no_risk_leaves_the_picture_grey_and_risk_colours_it():
    grid = grid_of(PICTURE)
    risk = np.zeros((grid[1], grid[0]))
    risk[:, grid[0] // 2 :] = 0.1
    mapped = picture_map(grey(), moire(risk)).astype(int)
    left, right = mapped[:, :200], mapped[:, 440:]
    assert np.ptp(left, axis=2).max() == 0, "grey"
    assert np.ptp(right, axis=2).min() > 5, "coloured"


def test_lines_run_as_the_stripes_do():
    risk = np.full(grid_of(PICTURE)[::-1], 1.0)
    for angle, longer_axis in ((0.0, 1), (90.0, 0)):
        mapped = picture_map(grey(0), moire(risk, angle)).astype(int)
        white = (mapped.min(axis=2) > 150).astype(int)
        assert white.sum() > 500
        runs = [np.diff(white, axis=axis).astype(bool).sum() for axis in (0, 1)]
        # Fewer changes along a stripe than across it.
        assert runs[longer_axis] < 0.5 * runs[1 - longer_axis]


def test_risk_does_not_fade_towards_the_edge_of_a_person():
    seen = np.ones((90, 160), dtype=bool)
    seen[30:60, 60:100] = False
    large = enlarged(np.full((90, 160), 0.8, dtype=np.float32), seen, PICTURE)
    shown = large[large > 0]
    assert shown.min() > 0.79
    assert (large[130:230, 260:380] == 0).all()


def test_a_band_with_the_scale_is_added_below():
    mapped = with_scale(grey(), "title", ["one line", "another"])
    assert mapped.shape[1] == PICTURE[0] and mapped.shape[0] > PICTURE[1] + 40
    np.testing.assert_array_equal(mapped[: PICTURE[1]], grey())


def test_a_page_enlarges_without_smoothing():
    chess = np.indices((9, 16)).sum(axis=0) % 2 * 255
    panel = Panel(np.repeat(chess.astype(np.uint8)[..., None], 3, axis=2), "title", "below")
    page = moire_page("Title", ["told"], [[panel, panel], [panel, panel]])
    assert page.shape[1] == 1920
    inside = page[120:500, 60:900]
    assert set(np.unique(inside)) == {0, 255}
