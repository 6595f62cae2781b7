"""The shared equipment catalogue, and a show's own one."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from preview.camera.distortion import Distortion
from preview.errors import Problem, ShowError
from preview.show import load_show
from preview.show.catalogue import read_catalogue, shared_catalogue

CATALOGUE = shared_catalogue()

COVERS = {
    "wide-zoom-4-58": "two-thirds-inch-hd",
    "portable-zoom-8-128": "two-thirds-inch-hd",
    "box-zoom-8-160": "two-thirds-inch-hd",
    "box-zoom-9-810": "two-thirds-inch-hd",
    "servo-zoom-18-110": "super-35-16x9",
    "cine-zoom-20-120": "super-35-open-gate",
    "prime-18": "full-frame-open-gate",
    "prime-25": "full-frame-open-gate",
    "prime-35": "full-frame-open-gate",
    "prime-50": "full-frame-open-gate",
    "prime-85": "full-frame-open-gate",
}
"""Largest sensor that each lens is made for."""


def test_there_is_enough_to_build_a_studio_from() -> None:
    assert len(CATALOGUE.tiles) >= 6 and len(CATALOGUE.sensors) >= 5 and len(CATALOGUE.lenses) >= 8
    pitches = sorted(tile.pixel_pitch_mm for tile in CATALOGUE.tiles.values())
    assert pitches[0] < 1.6 and pitches[-1] > 5.5


@pytest.mark.parametrize("name", CATALOGUE.tiles)
def test_a_tile_is_a_whole_number_of_pixels_and_named_after_its_size(name: str) -> None:
    tile = CATALOGUE.tiles[name]
    for size_mm in tile.tile_size_mm:
        pixels = size_mm / tile.pixel_pitch_mm
        assert abs(pixels - round(pixels)) < 0.01
    size, pitch = name.split("-")[1:]
    width, height = (*size.split("x"), size)[:2]
    assert tile.tile_size_mm == (float(width), float(height))
    assert abs(tile.pixel_pitch_mm - float(pitch)) < 0.1


def test_a_two_thirds_inch_sensor_has_the_trades_size() -> None:
    """9.59 x 5.39 mm, an 11 mm diagonal at 16:9: common practice, value from memory."""
    width, height = CATALOGUE.sensors["two-thirds-inch-hd"].size_mm
    assert (width, height) == (9.59, 5.39)
    assert abs(np.hypot(width, height) - 11.0) < 0.01
    assert abs(width / height - 16 / 9) < 0.003


@pytest.mark.parametrize("name", CATALOGUE.sensors)
def test_photosites_are_square(name: str) -> None:
    """On single-chip sensors and in 16:9 three-chip ones alike."""
    sensor = CATALOGUE.sensors[name]
    across, down = (size / count for size, count in zip(sensor.size_mm, sensor.photosites, strict=True))
    assert abs(across / down - 1) < 0.002


@pytest.mark.parametrize("name", CATALOGUE.lenses)
def test_distortion_stays_plausible_and_can_be_undone_to_the_corner(name: str) -> None:
    """Worst at the short end. Up to some 4 % in the corner is usual for such lenses (common practice,
    no source); a model that folds over inside the picture would leave corners without sightlines."""
    lens = CATALOGUE.lenses[name]
    sensor = CATALOGUE.sensors[COVERS[name]]
    corner = np.array([sensor.size_mm]) / (2 * lens.focal_length_mm[0])
    distortion = Distortion(lens.k1, lens.k2, lens.p1, lens.p2, lens.k3)
    ideal, valid = distortion.undistort(corner)
    assert valid.all()
    assert 0 < abs(np.linalg.norm(ideal) / np.linalg.norm(corner) - 1) < 0.04
    np.testing.assert_allclose(distortion.distort(ideal), corner, atol=1e-6)


@pytest.mark.parametrize("name", CATALOGUE.lenses)
def test_a_lens_is_named_after_its_range_and_focuses_in_front_of_itself(name: str) -> None:
    lens = CATALOGUE.lenses[name]
    shortest, longest = lens.focal_length_mm
    numbers = [int(part) for part in name.split("-") if part.isdigit()]
    assert numbers == ([int(shortest)] if shortest == longest else [int(shortest), int(longest)])
    assert lens.minimum_focus_m > lens.entrance_pupil_offset_m > 0
    assert lens.minimum_focus_m > longest / 1000


OWN = """
[tiles.house-tile]
tile_size_mm = [400, 400]
pixel_pitch_mm = 4.0

[lenses.box-zoom-8-160]
focal_length_mm = [8.5, 170.0]
minimum_focus_m = 2.0
"""


def test_a_shows_own_catalogue_wins_over_the_shared_one(booth: Path, edit: Callable[..., Path]) -> None:
    (booth.parent / "own.toml").write_text(OWN, encoding="utf-8")
    edit(
        ("format = 1", 'format = 1\ncatalogue = "own.toml"'),
        ('tile = "tile-500-2.6"', 'tile = "house-tile"'),
    )
    file = load_show(booth).file
    assert file.stage.surfaces[0].tile_size_mm == (400.0, 400.0)
    assert file.stage.surfaces[1].tile_size_mm == (500.0, 500.0)
    assert getattr(file.cameras[0].lens, "focal_length_mm", None) == (8.5, 170.0)


def test_mistakes_in_the_own_catalogue_name_that_file(
    booth: Path, edit: Callable[..., Path], problems_of: Callable[[Path], list[Problem]]
) -> None:
    own = booth.parent / "own.toml"
    own.write_text(
        OWN.replace("= 4.0", "= -4.0").replace("minimum_focus_m", "minimum_focs_m"), encoding="utf-8"
    )
    edit(
        ("format = 1", 'format = 1\ncatalogue = "own.toml"'),
        ('tile = "tile-500-2.6"', 'tile = "house-tile"'),
        ("boom_deg = 30.0", "boom_deg = 60.0"),
    )
    problems = problems_of(booth)
    assert {(Path(problem.path).name, problem.line, problem.key) for problem in problems} == {
        ("own.toml", 4, "tiles.house-tile.pixel_pitch_mm"),
        ("own.toml", 8, "lenses.box-zoom-8-160.minimum_focs_m"),
        ("booth.toml", 85, "cameras[1].framings[0].boom_deg"),
    }


def test_a_catalogue_lens_that_runs_downwards_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "own.toml"
    path.write_text("[lenses.odd]\nfocal_length_mm = [50, 20]\n", encoding="utf-8")
    with pytest.raises(
        ShowError, match=r"own.toml:2:1: lenses.odd.focal_length_mm: \[50, 20\] runs downwards"
    ):
        read_catalogue(path)
