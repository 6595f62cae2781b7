"""Flashing: what the check finds in a show's pictures and says of it."""

from types import SimpleNamespace

import numpy as np
import pytest

from preview.checks.flashing import Flashing
from preview.checks.look import Look, Plan
from preview.checks.result import Finding
from preview.checks.walk import open_plan, walk
from preview.frame import Picture
from preview.show import model
from preview.stage.surface import build_surface
from preview.timeline.timeline import Timeline
from tests.checks.shows import changed, whip_show, with_rundown

WALL = "Wall"
SIZE_PX = (32, 18)


class Painted:
    """A studio whose pictures are flat: ``code(moment, camera)`` and ``light(moment)`` say how bright."""

    def __init__(self, timeline, code, light=lambda moment: 0.1, size_px=SIZE_PX):
        self.timeline, self.code, self.light, self.size_px = timeline, code, light, size_px
        self.asked = []

    def pictures(self, frame, wanted):
        self.asked.append((frame, wanted))
        moment = self.timeline.at(frame)
        for name in [camera.name for camera in moment.cameras if camera.name in wanted.cameras]:
            picture = np.zeros((self.size_px[1], self.size_px[0], 3), np.uint8)
            picture[:] = self.code(moment, name)
            yield Picture("as-shot", name, picture, None, 0.0)
        canvas = np.zeros((20, 60, 3), np.float32)
        canvas[:] = self.light(moment)
        yield Picture("wall", WALL, np.zeros((20, 60, 3), np.uint8), canvas, None)


def wall():
    return build_surface(
        model.Surface(
            name=WALL, columns=6, rows=2, tile_size_mm=(500, 500), pixel_pitch_mm=5, peak_luminance_cd_m2=1200
        )
    )


def shots(*durations):
    """Shots of so many frames at 25, the two cameras in turn."""
    return [
        {
            "name": f"Shot {n}",
            "on_air": ("CAM2", "CAM1")[n % 2],
            "duration": f"00:00:{frames // 25:02d}:{frames % 25:02d}",
        }
        for n, frames in enumerate(durations, 1)
    ]


def long_shot(seconds):
    return {"name": "Long", "on_air": "CAM1", "duration": seconds}


def check(show, code, light=lambda moment: 0.1, off_wall=None, last=None):
    timeline = Timeline(show)
    nothing = np.zeros((SIZE_PX[1] // 2, SIZE_PX[0] // 2), dtype=bool)
    sight = SimpleNamespace(off_wall=nothing if off_wall is None else off_wall)
    sights = SimpleNamespace(look=lambda view, solids=(): sight, size_px=(SIZE_PX[0] // 2, SIZE_PX[1] // 2))
    stage = SimpleNamespace(surfaces=(wall(),), white_cd_m2=600.0)
    frames = tuple(range(timeline.frame_count if last is None else last + 1))
    plan = Plan(show, timeline, stage, sights, frames)
    made = Flashing(plan)
    walk(plan, [made], Painted(timeline, code, light))
    return made


def of(result, whose, grade) -> list[Finding]:
    return [one for one in result.findings if (one.measures["flashing_of"], one.grade) == (whose, grade)]


def test_a_show_that_stands_still_says_what_was_looked_at():
    result = check(with_rundown(whip_show(), long_shot(1)), lambda moment, camera: 120).result()
    assert [(one.grade, one.measures["flashing_of"]) for one in result.findings] == [
        ("fine", "surface Wall"),
        ("fine", "programme"),
    ]
    assert all("does not flash (limit 3)" in one.sentence for one in result.findings)
    assert result.check == "flashing"


def flashing_code(moment, camera):
    """5 Hz at 25 in the left third, from second 1 to 2."""
    picture = np.full((*SIZE_PX[::-1], 3), 180, np.uint8)
    if 25 <= moment.frame < 50 and moment.frame % 5 < 2:
        picture[:, : SIZE_PX[0] // 3 + 1] = 230
    return picture


def test_flashing_of_programme_is_a_fault_with_its_numbers():
    """Codes 180 and 230 are 86.7 and 156 cd/m2 on the monitor."""
    made = check(with_rundown(whip_show(), long_shot(3)), flashing_code)
    result = made.result()
    (fault,) = of(result, "programme", "fault")
    assert fault.frames == (25, 47)
    assert fault.shot == "Long"
    assert fault.cameras == ("CAM1",)
    assert fault.measures["flashes_in_a_second"] == 5.0
    assert fault.measures["area_percent"] == pytest.approx(100 * 11 / 32, abs=0.01)
    assert fault.measures["step_cd_m2"] == pytest.approx(
        200 * ((230 / 255) ** 2.4 - (180 / 255) ** 2.4), abs=0.1
    )
    assert fault.measures["where"] == "the left side"
    assert fault.measures["worst_frame"] == 47
    assert fault.measures["worst_timecode"] == "10:00:01:22" == fault.timecodes[1]
    assert fault.measures["cause"] == "moving pictures"
    assert "flashes 5 times in the second up to 10:00:01:22 (limit 3)" in fault.sentence
    assert "not been tried" not in fault.sentence and "none of this has been tried" in fault.remedy
    assert of(result, "surface Wall", "fine") and not of(result, "programme", "fine")


def test_curves_and_marks_show_the_same():
    made = check(with_rundown(whip_show(), long_shot(3)), flashing_code)
    area, flashes = made.curves()
    assert list(area.frames) == list(range(75))
    assert (area.limit, flashes.limit) == (25.0, 3.0)
    assert [at for at, value in enumerate(area.values["programme"]) if value > 25] == [
        frame for frame in range(25, 48) if frame % 5 in (0, 2)
    ]
    assert max(flashes.values["programme"]) == 5.0 and max(flashes.values["surface Wall"]) == 0.0
    (fault,) = of(made.result(), "programme", "fault")
    (mark,) = made.marks(Look(made.plan, 47), fault)
    assert mark.camera == "CAM1"
    assert mark.mask.shape == (9, 16)
    assert mark.mask[:, :5].all() and not mark.mask[:, 6:].any()


def test_quick_cuts_between_bright_and_dark_are_a_fault_of_the_cuts():
    show = with_rundown(whip_show(), *shots(25, *[3] * 8, 25))
    made = check(
        show,
        code=lambda moment, camera: {"CAM1": 60, "CAM2": 200}[camera],
        light=lambda moment: {"CAM1": 0.1, "CAM2": 0.9}[moment.wall_camera],
    )
    result = made.result()
    for whose in ("programme", "surface Wall"):
        (fault,) = of(result, whose, "fault")
        assert fault.measures["cause"] == "cuts"
        assert fault.frames == (25, 49)
        assert set(fault.cameras) == {"CAM1", "CAM2"}
        assert fault.measures["flashes_in_a_second"] == 4.5
        assert fault.remedy.startswith(
            "cut less often here, 3 times there and back in any one second at most"
        )
    (wall,) = of(result, "surface Wall", "fault")
    assert wall.measures["step_cd_m2"] == pytest.approx(0.8 * 600, abs=0.1)
    assert made.marks(Look(made.plan, wall.measures["worst_frame"]), wall) == ()


def test_cuts_at_ease_are_fine():
    show = with_rundown(whip_show(), *shots(20, 20, 20, 20))
    result = check(show, lambda moment, camera: {"CAM1": 60, "CAM2": 200}[camera]).result()
    (fine,) = of(result, "programme", "fine")
    assert fine.measures["flashes_in_a_second"] == 1.0
    assert "flashes at most once in any one second (limit 3); at most 100 % of it" in fine.sentence


def test_a_late_wall_adds_changes_and_is_put_right_first():
    """Both pictures are dark; for two frames a cut the wall still has the other, bright, background."""
    show = changed(with_rundown(whip_show(), *shots(25, 6, 6, 6, 6, 25)), delays={"wall_switch_frames": 2})
    made = check(show, lambda moment, camera: 60 if moment.wall_camera == camera else 200)
    (fault,) = of(made.result(), "programme", "fault")
    assert fault.measures["cause"] == "wall switch"
    assert fault.measures["flashes_in_a_second"] == 4.5  # five cuts and four late switches in 25 frames
    assert "bring the wall's switch onto the cut first" in fault.remedy


def test_a_mix_is_mixed_before_it_is_judged():
    """From black to white in 6 frames: 20 cd/m2 of 200 are code 98, reached in the third (5/12)."""
    mixed = {"name": "Shot 2", "on_air": "CAM2", "duration": 1, "transition": "mix", "mix_frames": 6}
    made = check(
        with_rundown(whip_show(), *shots(10), mixed), lambda moment, camera: {"CAM1": 0, "CAM2": 255}[camera]
    )
    area, _ = made.curves()
    assert [at for at, value in enumerate(area.values["programme"]) if value] == [12]


def test_what_is_past_the_wall_is_black_whatever_its_stripes_do():
    past = np.zeros((9, 16), dtype=bool)
    past[:, :6] = True
    show = with_rundown(whip_show(), long_shot(3))
    (fine,) = of(check(show, flashing_code, off_wall=past).result(), "programme", "fine")
    assert fine.measures["area_percent"] == 0.0


def test_changes_too_small_to_count_are_told_with_their_frame():
    def small(moment, camera):
        picture = np.full((*SIZE_PX[::-1], 3), 60, np.uint8)
        picture[:4] = 200 if moment.frame == 13 else 60
        return picture

    (fine,) = of(check(with_rundown(whip_show(), long_shot(1)), small).result(), "programme", "fine")
    assert (fine.measures["worst_frame"], fine.measures["area_percent"]) == (13, 22.22)
    assert fine.sentence == "Programme does not flash (limit 3); at most 22 % of it changes at once."


def test_a_wall_flashes_in_its_own_light():
    """400 to 460 cd/m2 counts on the wall though no SDR picture has it; 400 to 450 does not."""
    show = with_rundown(whip_show(), long_shot(2))

    def flickering(bright):
        return lambda moment: (bright if moment.frame % 5 < 2 else 400) / 600

    (fault,) = of(check(show, lambda m, c: 0, flickering(460)).result(), "surface Wall", "fault")
    assert fault.measures["where"] == "the whole picture"
    assert "in the whole surface" in fault.sentence
    assert of(check(show, lambda m, c: 0, flickering(450)).result(), "surface Wall", "fine")


def test_saturated_red_is_told_apart():
    """Red and grey of nearly equal luminance."""
    show = with_rundown(whip_show(), long_shot(2))
    made = check(show, lambda moment, camera: (255, 0, 0) if moment.frame % 5 < 2 else (134, 134, 134))
    (fault,) = of(made.result(), "programme", "fault")
    assert fault.measures["flashing_in"] == "red"
    assert fault.measures["step_uv"] == pytest.approx(0.2587, abs=1e-3)
    assert "to or from saturated red" in fault.sentence


def test_long_flashing_within_the_limits_is_a_compromise():
    show = with_rundown(whip_show(), long_shot(8))
    made = check(
        show, lambda moment, camera: 230 if 9 <= moment.frame < 153 and moment.frame % 9 < 4 else 180
    )
    (finding,) = of(made.result(), "programme", "compromise")
    assert finding.frames == (9, 148)
    assert finding.measures["lasts_s"] == pytest.approx(139 / 25)
    assert finding.measures["flashes_in_a_second"] == 3.0
    assert "flashes within the limits for 5.6 s" in finding.sentence
    assert "may be a risk" in finding.sentence
    assert not of(made.result(), "programme", "fault")


def test_a_shows_own_limits_win():
    own = whip_show().file.checks.model_copy(
        update={"flashing": whip_show().file.checks.flashing.model_copy(update={"area_percent": 40.0})}
    )
    show = with_rundown(whip_show(), long_shot(3))
    lenient = check(
        type(show)(**{**vars(show), "file": show.file.model_copy(update={"checks": own})}), flashing_code
    )
    assert of(lenient.result(), "programme", "fine")
    assert lenient.curves()[0].limit == 40.0


def test_only_what_is_needed_is_drawn():
    show = with_rundown(whip_show(), *shots(5, 5))
    timeline = Timeline(show)
    made = check(show, lambda moment, camera: 60)
    studio = Painted(timeline, lambda moment, camera: 60)
    walk(made.plan, [Flashing(made.plan)], studio)
    assert {wanted.cameras for _, wanted in studio.asked} == {("CAM1",), ("CAM2",)}
    assert all(wanted.kinds == ("as-shot", "wall") and wanted.linear for _, wanted in studio.asked)


def test_it_needs_pictures_of_every_frame():
    made = check(with_rundown(whip_show(), long_shot(1)), lambda moment, camera: 60, last=3)
    with pytest.raises(ValueError, match="studio"):
        made.see(Look(made.plan, 4))
    with pytest.raises(ValueError, match="every one is needed"):
        made.see(Look(made.plan, 6, Painted(made.plan.timeline, lambda moment, camera: 60)))


def test_nothing_is_called_harmless():
    words = " ".join([Flashing.question, Flashing.caution, *Flashing.assumptions]).lower()
    assert "safe" not in words
    assert "not a certified test" in Flashing.caution


def test_real_pictures_change_where_the_show_cuts(studio):
    """The whip show's first cut, at frame 25: the wall's frustum and the picture change, the floor hardly."""
    with open_plan(studio.show, 22, 28) as plan:
        made = Flashing(plan)
        walk(plan, [made], studio)
        area, flashes = made.curves()
        assert list(area.frames) == list(range(22, 29))
        for whose in ("programme", "surface Wall"):
            assert int(np.argmax(area.values[whose])) == 25 - 22
            assert max(area.values[whose][:3]) < 1.0 < 25.0 < max(area.values[whose])
        assert max(max(values) for values in flashes.values.values()) <= 0.5
        assert {one.grade for one in made.result().findings} == {"fine"}
