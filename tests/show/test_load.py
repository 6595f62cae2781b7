"""Loading a whole show: what a good one becomes, and that a bad one says everything at once."""

from __future__ import annotations

import hashlib
import pickle
from collections.abc import Callable
from pathlib import Path

import pytest

from preview.errors import Problem, ShowError
from preview.show import Show, load_show
from preview.show.model import Lens, Sensor
from preview.timeline.timeline import Timeline

Edit = Callable[..., Path]
ProblemsOf = Callable[[Path], list[Problem]]


def test_a_good_show_is_filled_in_from_the_catalogue(booth: Path) -> None:
    show = load_show(booth)
    first, second = show.file.cameras
    assert first.sensor == Sensor(size_mm=(9.59, 5.39), photosites=(1920, 1080))
    assert isinstance(first.lens, Lens) and first.lens.focal_length_mm == (8.0, 160.0)
    assert isinstance(second.lens, Lens) and second.lens.focal_length_mm == (8.0, 40.0)
    wall, floor = show.file.stage.surfaces
    assert (wall.tile_size_mm, wall.pixel_pitch_mm, wall.reflectance) == ((500.0, 500.0), 2.6042, 0.04)
    assert floor.peak_luminance_cd_m2 == 1200.0
    assert show.notes == ()


def test_a_show_knows_its_file_and_folder(booth: Path) -> None:
    show = load_show(str(booth))
    assert (show.path, show.root) == (booth, booth.parent)
    assert show.sha256 == hashlib.sha256(booth.read_bytes()).hexdigest()
    assert show.asset("bench.obj").is_file()


def test_a_show_travels_to_another_process(booth: Path) -> None:
    show = load_show(booth)
    copy: Show = pickle.loads(pickle.dumps(show))
    assert copy == show
    assert str(copy.error("stage.set[0].mesh", "is bad", "mend it")).startswith(
        f"{booth}:30:1: stage.set[0].mesh"
    )


def test_a_later_error_carries_the_keys_place(booth: Path) -> None:
    error = load_show(booth).error("virtual.screens[0].name", "no node has this name", "write another")
    assert error.problems == [
        Problem(str(booth), 41, 1, "virtual.screens[0].name", "no node has this name", "write another")
    ]


def test_keys_written_in_the_show_win_over_the_tile(edit: Edit) -> None:
    show = load_show(edit(("columns = 8", "columns = 8\nreflectance = 0.1\npeak_luminance_cd_m2 = 1000.0")))
    wall = show.file.stage.surfaces[0]
    assert (wall.reflectance, wall.peak_luminance_cd_m2, wall.refresh_hz) == (0.1, 1000.0, 7680.0)


def test_a_surface_without_a_tile_gets_the_usual_values(edit: Edit) -> None:
    own = "tile_size_mm = [500, 500]\npixel_pitch_mm = 2.5"
    wall = load_show(edit(('tile = "tile-500-2.6"', own))).file.stage.surfaces[0]
    assert (wall.pixel_pitch_mm, wall.peak_luminance_cd_m2, wall.refresh_hz) == (2.5, 1500.0, 3840.0)


def test_windows_line_ends_and_a_byte_order_mark_are_read(booth: Path) -> None:
    text = booth.read_text(encoding="utf-8")
    booth.write_bytes(b"\xef\xbb\xbf" + text.replace("\n", "\r\n").encode())
    assert load_show(booth).file.show.title == "Potting Shed Test"


def test_a_missing_show_file_names_one_like_it(booth: Path) -> None:
    with pytest.raises(ShowError) as caught:
        load_show(booth.with_name("both.toml"))
    (problem,) = caught.value.problems
    assert (problem.line, problem.found) == (0, "no such file")
    assert problem.fix == f"did you mean {str(booth)!r}?"


def test_a_folder_is_not_a_show_file(booth: Path, problems_of: ProblemsOf) -> None:
    (problem,) = problems_of(booth.parent)
    assert problem.found == "is a folder"
    assert problem.fix == "give the path of a show file (TOML); there are: booth.toml"


def test_another_encoding_is_named_with_its_line(booth: Path, problems_of: ProblemsOf) -> None:
    text = booth.read_text(encoding="utf-8").replace("Potting Shed", "Gewächshaus")
    booth.write_bytes(text.encode("latin-1"))
    (problem,) = problems_of(booth)
    assert (problem.line, problem.found) == (4, "byte 0xe4 is not UTF-8 text")
    assert problem.fix == "save the file as UTF-8"


@pytest.mark.parametrize("text", ["rundown = []\n", ""])
def test_an_empty_rundown_says_so(text: str, booth: Path, problems_of: ProblemsOf) -> None:
    whole = booth.read_text(encoding="utf-8")
    start = whole.index("[[rundown]]")
    booth.write_text(whole[:start].replace("format = 1\n", f"format = 1\n{text}"), encoding="utf-8")
    (problem,) = problems_of(booth)
    assert problem.key == "rundown"
    assert problem.line == (2 if text else 1)
    assert problem.found == "the rundown is empty: there is no shot to draw"
    assert problem.fix == "add a [[rundown]] table with name, on_air and duration for each shot"


def test_an_empty_file_names_every_missing_part(booth: Path, problems_of: ProblemsOf) -> None:
    booth.write_text("", encoding="utf-8")
    assert {problem.key for problem in problems_of(booth)} == {
        "format", "show", "stage", "virtual", "cameras", "rundown"
    }  # fmt: skip


def test_a_drop_frame_label_that_does_not_exist(edit: Edit, problems_of: ProblemsOf) -> None:
    path = edit(
        ('frame_rate = "25"', 'frame_rate = "30000/1001"'),
        ('start_timecode = "10:00:00:00"', 'start_timecode = "10:00:58;00"'),
        ('start = "10:00:02:00"', 'start = "10:01:00;00"'),
    )
    (problem,) = problems_of(path)
    assert (problem.line, problem.column, problem.key) == (102, 1, "rundown[1].start")
    assert (
        problem.found == '"10:01:00;00" does not exist: drop-frame counting leaves out frames 00 to 01 here'
    )
    assert problem.fix == 'write "10:01:00;02" for the first frame of this minute'


def test_a_label_of_the_other_way_of_counting(edit: Edit, problems_of: ProblemsOf) -> None:
    path = edit(
        ('frame_rate = "25"', 'frame_rate = "30000/1001"'),
        ('start = "10:00:02:00"', 'start = "10:00:02;00"'),
    )
    (problem,) = problems_of(path)
    assert problem.found == '"10:00:02;00" has ";" before its frames, and show.start_timecode has ":"'
    assert problem.fix == 'write "10:00:02:00"'


def test_a_rundown_may_run_past_midnight(edit: Edit) -> None:
    path = edit(
        ('start_timecode = "10:00:00:00"', 'start_timecode = "23:59:59:00"'),
        ('start = "10:00:02:00"', 'start = "00:00:01:00"'),
    )
    assert len(load_show(path).file.rundown) == 2


def test_a_length_left_to_the_next_shots_start_limits_a_mix(edit: Edit, problems_of: ProblemsOf) -> None:
    third = '\n[[rundown]]\nname = "close"\non_air = "CAM1"\nstart = "10:00:02:10"\nduration = 1\n'
    path = edit(
        ("duration = 1.5\n", ""), ('CAM2 = {framing = "high"}\n', f'CAM2 = {{framing = "high"}}\n{third}')
    )
    (problem,) = problems_of(path)
    assert problem.key == "rundown[1].mix_frames"
    assert problem.found == 'a mix of 12 frames is longer than shot "the bench", 10 frames'


def test_times_after_a_bad_label_are_still_checked(edit: Edit, problems_of: ProblemsOf) -> None:
    more = "".join(
        f'\n[[rundown]]\nname = "{name}"\non_air = "CAM1"\nstart = "{start}"\nduration = 1\n'
        for name, start in (("a", "10:00:10:00"), ("b", "10:00:11:05"))
    )
    path = edit(
        ("duration = 1.5", 'duration = ""'), ('{framing = "high"}\n', f'{{framing = "high"}}\n{more}')
    )
    label, gap = problems_of(path)
    assert (label.key, label.found) == ("rundown[1].duration", '"" is not a length')
    assert (gap.key, gap.found) == (
        "rundown[3].start",
        '"10:00:11:05" is 5 frames after shot "a" ends (10:00:11:00): there is a gap',
    )


def test_a_misspelt_key_is_told_once_and_its_value_is_checked(edit: Edit, problems_of: ProblemsOf) -> None:
    """No missing twin appears beside it."""
    path = edit(("focal_length_mm = 60.0", 'focal_lenght_mm = "60mm"'))
    unknown, value = problems_of(path)
    assert (unknown.key, unknown.fix) == (
        "cameras[0].framings[1].focal_lenght_mm",
        "did you mean 'focal_length_mm'?",
    )
    assert value.found == '"60mm" is text, not a number in millimetres above 0'
    assert (value.line, value.column) == (unknown.line, unknown.column)


def test_a_misspelt_table_is_read_under_its_right_name(edit: Edit, problems_of: ProblemsOf) -> None:
    path = edit(("[[virtual.screens]]", "[[virtual.screen]]"), ('picture = "caller.png"', 'picture = "x"'))
    unknown, inside = problems_of(path)
    assert (unknown.key, unknown.line) == ("virtual.screen", 40)
    assert (inside.key, inside.line) == ("virtual.screens[0].picture", 42)


def test_a_misspelt_camera_name_key_does_not_make_its_camera_unknown(
    edit: Edit, problems_of: ProblemsOf
) -> None:
    (problem,) = problems_of(edit(('name = "CAM2"', 'nam = "CAM2"')))
    assert problem.key == "cameras[1].nam"
    (problem,) = problems_of(edit(('nam = "CAM2"\n', "")))
    assert problem.key == "cameras[1].name"


MANY = [
    ('title = "Potting Shed Test"', 'title = ""'),
    ('start_timecode = "10:00:00:00"', 'start_timcode = "10:00:00:00"'),
    ("columns = 8", "columns = 0"),
    ('tile = "floor-500-3.9"', 'tile = "flor-500-3.9"'),
    ('mesh = "bench.obj"', 'mesh = "bnch.obj"'),
    ('picture = "caller.png"', 'picture = "caller.png"\nclip = "caller.mp4"'),
    ('lens = "box-zoom-8-160"', 'lens = "box-zoom-8-610"'),
    ("position_m = [-1.0, -4.0, 1.6]", "position_m = [-1.0, -4.0, -1.6]"),
    ("focal_length_mm = 9.0", 'focal_length_mm = "9mm"'),
    ('look_at = "gardener"', 'look_at = "gardner"\npan_deg = 3'),
    ('end = "close"', 'end = "cloose"'),
    ("number = 2", "number = 1"),
    ("photosites = [1920, 1080]", "photosites = [1920]"),
    ("boom_deg = 30.0", "boom_deg = 60.0"),
    ("focal_length_mm = 12.0", "focal_length_mm = 41.0"),
    ('order = ["CAM2", "CAM1"]', 'order = ["CAM2", "CAM3"]'),
    ('duration = "00:00:02:00"', 'duration = "00:00:02:30"'),
    ('on_air = "CAM2"', 'on_air = "CAM9"'),
    ("duration = 1.5", "duration = -1.5"),
    ("mix_frames = 12", "mix_frames = 0"),
    ('framing = "high"', 'framing = "hihg"'),
]


def test_many_mistakes_are_all_reported_in_one_round(edit: Edit, problems_of: ProblemsOf) -> None:
    problems = problems_of(edit(*MANY))
    assert [problem.key for problem in problems] == [
        "show.title",
        "show.start_timcode",
        "stage.surfaces[0].columns",
        "stage.surfaces[1].tile",
        "stage.set[0].mesh",
        "virtual.screens[0].clip",
        "cameras[0].lens",
        "cameras[0].position_m",
        "cameras[0].framings[0].focal_length_mm",
        "cameras[0].framings[1].look_at",
        "cameras[0].moves[0].end",
        "cameras[1].number",
        "cameras[1].sensor.photosites",
        "cameras[1].framings[0].boom_deg",
        "cameras[1].framings[0].focal_length_mm",
        "drive.order[1]",
        "rundown[0].duration",
        "rundown[1].on_air",
        "rundown[1].duration",
        "rundown[1].mix_frames",
        "rundown[1].cameras.CAM2.framing",
    ]
    assert [problem.line for problem in problems] == sorted(problem.line for problem in problems)


def test_a_key_written_twice_does_not_hide_other_mistakes(edit: Edit, problems_of: ProblemsOf) -> None:
    twice, other = problems_of(
        edit(("columns = 8", "columns = 8\ncolumns = 9"), ("boom_deg = 30.0", "boom_deg = 60.0"))
    )
    assert (twice.key, twice.line) == ("stage.surfaces[0].columns", 16)
    assert (other.key, other.line) == ("cameras[1].framings[0].boom_deg", 85)


def test_every_sentence_names_file_place_key_found_and_fix(edit: Edit) -> None:
    path = edit(("mix_frames = 12", "mix_frames = 0"))
    with pytest.raises(ShowError) as caught:
        load_show(path)
    assert str(caught.value) == (
        f"{path}:105:1: rundown[1].mix_frames: 0 is below 1; write a whole number in frames of at least 1"
    )


def test_notes_tell_what_is_allowed_but_odd(edit: Edit) -> None:
    show = load_show(
        edit(
            ('sensor = "two-thirds-inch-hd"', 'sensor = "full-frame-open-gate"'),
            ("white_cd_m2 = 900.0", "white_cd_m2 = 1300.0"),
            ('on_air = "CAM2"\n', ""),
            ('transition = "mix"\nmix_frames = 12\n', ""),
            ('[rundown.cameras]\nCAM2 = {framing = "high"}\n', ""),
            ('cameras.CAM1 = {move = "push"}\n', ""),
        )
    )
    assert show.notes == (
        "CAM1: the sensor's shape (1.500) is not the picture's (1.778); the picture is stretched by 15.6 %",
        "CAM1: move 'push' is never used",
        "CAM2 is never on air and never cued",
        "stage.white_cd_m2 is 1300, but floor 'floor' reaches 1200 cd/m2 only: its highlights clip early",
    )


def test_a_sensor_shape_within_two_per_cent_is_not_worth_a_note(booth: Path) -> None:
    assert load_show(booth).notes == ()  # 9.59 / 5.39 = 1.779 against 1920 / 1080 = 1.778


def test_an_aim_nearer_than_the_lens_can_focus_is_a_note(edit: Edit) -> None:
    show = load_show(edit(("look_at = [0.0, 2.0, 1.2]", "look_at = [-1.0, -3.0, 1.6]")))
    assert show.notes == (
        "CAM1 in framing 'wide' looks at a point 1.00 m away, nearer than 'box-zoom-8-160' can focus: "
        "focus stays at 1.2 m",
    )


def test_a_camera_within_the_curve_of_a_wall_is_fine(edit: Edit) -> None:
    """Inside the curve but in front of the facets is where cameras belong."""
    curved = ("joint_angle_deg = 4.0", "joint_angle_deg = 20.0")
    assert load_show(edit(curved, ("position_m = [-1.0, -4.0, 1.6]", "position_m = [0.3, 1.6, 1.6]")))


def test_a_camera_name_written_twice_is_not_repeated_for_every_shot(
    edit: Edit, problems_of: ProblemsOf
) -> None:
    (problem,) = problems_of(edit(('name = "CAM2"', 'name = "CAM1"')))
    assert problem.key == "cameras[1].name"


def test_a_show_without_cameras_is_one_problem(booth: Path, problems_of: ProblemsOf) -> None:
    text = booth.read_text(encoding="utf-8")
    first, last = text.index("[[cameras]]"), text.index("[[rundown]]")
    kept = text[text.index("[drive]") : last] if first < text.index("[drive]") < last else ""
    booth.write_text(text[:first] + kept + text[last:], encoding="utf-8")
    (problem,) = problems_of(booth)
    assert (problem.key, problem.found) == ("cameras", "there is no camera")
    assert problem.fix == "add a [[cameras]] table for each"


def test_a_file_that_is_no_text_is_not_taken_for_a_wrong_encoding(
    booth: Path, problems_of: ProblemsOf
) -> None:
    booth.write_bytes(b"glTF\2\0\0\0\xa0\xff")
    (problem,) = problems_of(booth)
    assert (problem.line, problem.found) == (0, "is not a text file")


def test_a_lens_that_folds_over_is_found_at_its_framing(edit, problems_of):
    """k1 = -0.9 turns back at r = 1 / sqrt(3 x 0.9) = 0.61, inside the corner at 8 mm (0.69)."""
    path = edit(
        ("lens = {focal_length_mm = [8.0, 40.0],", "lens = {k1 = -0.9, focal_length_mm = [8.0, 40.0],"),
    )
    problem = problems_of(path)[0]
    assert problem.line > 0 and problem.key.endswith("focal_length_mm")
    assert "folds over inside the picture" in problem.found
    assert "check the lens's coefficients" in problem.fix


@pytest.mark.parametrize(
    ("drive", "notes"),
    [
        ('mode = "switched"', ()),
        ('mode = "interleaved"\ncrosstalk = 0.05\nslot_shutter_percent = 90', ()),
        (
            'mode = "switched"\ncrosstalk = 0.05',
            ('drive.crosstalk is for drive.mode "interleaved"; in "switched" it does nothing',),
        ),
        (
            'mode = "shared"\nslot_shutter_percent = 100',
            ('drive.slot_shutter_percent is for drive.mode "interleaved"; in "shared" it does nothing',),
        ),
    ],
)
def test_keys_of_slots_on_a_wall_without_slots_are_a_note(
    edit: Edit, drive: str, notes: tuple[str, ...]
) -> None:
    assert load_show(edit(('mode = "switched"', drive))).notes == notes


def test_an_interleaved_wall_that_switches_late_is_a_note(edit: Edit) -> None:
    late = "[delays]\nwall_switch_frames = 2\n\n[drive]"
    assert load_show(edit(("[drive]", late))).notes == ()
    assert load_show(edit(('mode = "switched"', 'mode = "interleaved"'))).notes == (
        'delays.wall_switch_frames does nothing while drive.mode is "interleaved": such a wall never '
        "switches",
    )


def test_a_camera_may_count_its_tracking_in_the_other_unit(edit: Edit) -> None:
    show = load_show(
        edit(
            ("[drive]", "[delays]\ntracking_frames = 2\n\n[drive]"),
            (
                '[[cameras.framings]]\nname = "high"',
                '[cameras.delays]\ntracking_ms = 30\n\n[[cameras.framings]]\nname = "high"',
            ),
        )
    )
    assert (show.file.delays.tracking_frames, show.file.cameras[1].delays.tracking_ms) == (2, 30)


def test_a_cameras_stop_is_its_lenses_from_then_on(edit: Edit) -> None:
    at = "position_m = [-1.0, -4.0, 1.6]"
    show = load_show(edit((at, f"{at}\nt_stop = 5.6")))
    assert show.file.cameras[0].lens.t_stop == 5.6
    assert Timeline(show).at(0).camera("CAM1").view.t_stop == 5.6
    assert Timeline(show).at(0).camera("CAM2").view.t_stop == 2.8  # a lens that says nothing


def test_a_shot_shorter_than_the_mixers_hold_is_refused(booth, problems_of):
    text = booth.read_text(encoding="utf-8")
    booth.write_text(text.replace("[[rundown]]", "[delays]\npicture_frames = 100\n\n[[rundown]]", 1), "utf-8")
    problems = problems_of(booth)
    assert problems and all(problem.line > 0 for problem in problems)
    assert "and the mixer holds its cut back 100" in problems[0].found
    assert problems[0].fix == "lengthen the shot, or hold back less"
