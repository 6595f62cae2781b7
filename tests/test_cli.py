"""The command line: exit status, one sentence for every mistake, data on standard output and nothing else."""

import itertools
import json
import os
import shlex
import subprocess
import sys
import warnings

import av
import numpy as np
import pytest
from PIL import Image

from preview import __version__, cli, terminal
from preview.dossier.run import DossierReport
from preview.errors import AssetError, GraphicsError, OutputError, ShowError
from preview.job import DEMO_SIZE_PX
from tests.fake_studio import replace_studio
from tests.starter_show import starter_path


@pytest.fixture
def studio(monkeypatch):
    """Replaces the real studio; ``made`` are those that were opened, ``before`` what they run."""
    return replace_studio(monkeypatch)


def run(capsys, *arguments):
    status = cli.main([str(argument) for argument in arguments])
    said = capsys.readouterr()
    return status, said.out, said.err


def render(capsys, out, *options, show=None):
    return run(capsys, "render", show or starter_path(), "--out", out, "--size", "64x36", *options)


# -- what works --------------------------------------------------------------------------------


def test_version_and_help(capsys):
    assert run(capsys, "--version") == (0, f"preview {__version__}\n", "")
    status, out, _ = run(capsys, "--help")
    assert status == 0
    for command in ("demo", "render", "new", "info", "schema"):
        assert command in out


def test_render_writes_returns_and_programme_of_each_shot_and_lists_them(capsys, tmp_path, studio):
    status, out, err = render(capsys, tmp_path)
    assert status == 0
    written = out.splitlines()
    assert len(written) == 3 * 3 * 3, "three shots, three places, two returns and the programme"
    assert all(os.path.getsize(name) > 0 for name in written)
    assert written[0].endswith("001-start_10-00-00-00_return_CAM1.png")
    assert "27 stills from 9 frames" in err
    assert "note: a note of the show" in err
    assert studio[0].closed
    document = json.loads((tmp_path / "manifest.json").read_text())
    command = f"preview render {starter_path()} --out {tmp_path} --size 64x36"
    assert document["runs"][0]["command"] == command


def test_options_choose_pictures_cameras_frames_and_clips(capsys, tmp_path, studio):
    status, out, _ = render(
        capsys, tmp_path, "--clip", "--from", "10:00:03:20", "--to", "10:00:04:05", "--cameras", "CAM2",
        "--pictures", "return,wall", "--every", "3", "--at", "10:00:09:00", "--burn-in",
    )  # fmt: skip
    assert status == 0
    assert [os.path.basename(line) for line in out.splitlines()] == [
        "003-at_10-00-09-00_wall_Wall.png",
        "003-at_10-00-09-00_wall_Floor.png",
        "003-at_10-00-09-00_return_CAM2.png",
        "10-00-03-20_10-00-04-05_wall_Wall.mp4",
        "10-00-03-20_10-00-04-05_wall_Floor.mp4",
        "10-00-03-20_10-00-04-05_return_CAM2.mp4",
    ]
    assert studio[0].asked == [95, 98, 101, 104, 225]


def test_json_is_one_document_with_every_file(capsys, tmp_path, studio):
    status, out, err = render(capsys, tmp_path, "--json", "--at", "10:00:00:00")
    assert (status, err) == (0, "")
    document = json.loads(out)
    assert [entry["kind"] for entry in document["files"]] == ["return", "return", "programme"]
    assert (document["frame_count"], document["graphics"]) == (1, "a fake")


def test_demo_renders_stills_into_one_manifest_and_ends_with_its_page(capsys, tmp_path, studio, monkeypatch):
    made = []

    def write_dossier(show, folder, asked, kept, mend, on_step):
        made.append((show.file.show.title, folder, asked))
        data = {"notes": [], "verdict": "1 fault", "reuse": "5 of 5 parts made", "seconds": 1.0}
        return DossierReport(folder, folder / "index.html", data)

    monkeypatch.setattr("preview.dossier.run.write_dossier", write_dossier)
    folder = tmp_path / "assets" / "glasshouse"
    cli.main(["new", str(folder)])
    monkeypatch.setattr("preview.show.resources.asset_dir", lambda: tmp_path / "assets")
    capsys.readouterr()
    status, out, err = run(capsys, "demo", "--out", tmp_path / "out")
    assert status == 0
    assert sum(line.endswith(".png") for line in out.splitlines()) == (3 * 2 + 6) + 2 * (2 + 1)
    assert "18 stills from 3 frames" in err and "1 fault" in err
    *files, page = out.splitlines()
    assert page == str(tmp_path / "out" / "review" / "index.html"), "the last line is what to open"
    ((title, folder, asked),) = made
    assert (title, folder) == ("Garden Room", tmp_path / "out" / "review")
    assert asked.frames == (0, 274) and asked.still_px == DEMO_SIZE_PX
    assert {check.name for check in asked.known} - {check.name for check in asked.checks} == {"flashing"}
    document = json.loads((tmp_path / "out" / "manifest.json").read_text())
    assert len(document["files"]) == len(files)
    assert [entry["finished"] for entry in document["runs"]] == [True] * 2


def test_new_then_info(capsys, tmp_path):
    status, out, err = run(capsys, "new", tmp_path / "mine")
    assert (status, out) == (0, f"{tmp_path}/mine/show.toml\n")
    assert err.startswith("now try: preview render ")
    status, out, _ = run(capsys, "info", tmp_path / "mine" / "show.toml")
    assert status == 0
    for part in ("Garden Room", "7.00 x 3.50", "2800 x 1400", "65.0", "1 CAM1, Wide", "40.5", "2 Presenter",
                 "10:00:04:00", "10:00:07:24", "mix, 12 fr", "CAM2: push in after 0.5 s"):  # fmt: skip
        assert part in out
    assert max(map(len, out.splitlines())) <= 120


def test_info_as_json_and_schema_are_data(capsys):
    status, out, err = run(capsys, "info", starter_path(), "--json")
    assert (status, err) == (0, "")
    assert json.loads(out)["show"]["title"] == "Garden Room"
    status, out, err = run(capsys, "schema")
    assert (status, err) == (0, "")
    assert "cameras" in json.loads(out)["properties"]


# -- what does not -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    "options, part",
    [
        (["--size", "big"], "--size: 'big' is not a picture size"),
        (["--clip", "--size", "961x541"], "ask for 962x542"),
        (["--pictures", "programm"], "did you mean 'programme'?"),
        (["--cameras", "CAM9"], "'CAM9' is no camera of this show"),
        (["--at", "10:00:59:00"], '--at: "10:00:59:00" is outside the rundown'),
        (["--from", "soon"], '--from: "soon" is not a timecode'),
        (["--from", "10:00:05:00", "--to", "10:00:04:00"], "is before --from"),
        (["--from", "10:00:00:01", "--to", "10:00:00:02"], "no shot has its start, middle or end between"),
        (["--every", "0"], "--every"),
        (["--colour", "red"], "--colour"),
    ],
)
def test_a_wrong_option_is_one_sentence_and_status_2(capsys, tmp_path, studio, options, part):
    status, out, err = render(capsys, tmp_path / "out", *options)
    assert (status, out) == (2, "")
    assert part in err
    assert err.startswith("error: ")
    assert len(err.splitlines()) == 1
    assert not studio, "nothing is opened for a job that cannot be done"
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize("arguments", [["rendr"], ["render"], ["render", "show.toml"], ["info"]])
def test_a_wrong_command_is_one_sentence_and_status_2(capsys, arguments):
    status, out, err = run(capsys, *arguments)
    assert (status, out) == (2, "")
    assert err.startswith("error: ")
    assert "Traceback" not in err


def test_every_mistake_of_a_show_file_is_told_at_once(capsys, tmp_path):
    cli.main(["new", str(tmp_path / "mine")])
    path = tmp_path / "mine" / "show.toml"
    text = (
        path.read_text().replace("columns = 14", "colums = 14").replace('on_air = "CAM2"', 'on_air = "CAM7"')
    )
    path.write_text(text)
    capsys.readouterr()
    status, out, err = run(capsys, "info", path)
    assert (status, out) == (2, "")
    lines = err.splitlines()
    assert all(line.startswith(f"error: {path}:") for line in lines)
    assert any("colums" in line for line in lines)
    assert any("CAM7" in line for line in lines)
    status, out, err = run(capsys, "info", path, "--json")
    assert (status, err) == (2, "")
    error = json.loads(out)["error"]
    assert error["kind"] == "ShowError"
    assert {"path", "line", "column", "key", "found", "fix"} == set(error["problems"][0])


@pytest.mark.parametrize(
    "problem, status",
    [
        (ShowError([]), 2),
        (AssetError("a.glb", "is empty", "export it again"), 2),
        (OutputError("out/a.png", "no room left", "make room"), 1),
        (GraphicsError("no OpenGL; install a driver"), 1),
    ],
)
def test_status_says_whether_to_mend_the_input_or_the_machine(capsys, tmp_path, studio, problem, status):
    def before(frame, kind):
        raise problem

    studio.before = before
    found, out, err = render(capsys, tmp_path)
    assert (found, out) == (status, "")
    assert "error: while drawing 10:00:00:00" in err


def test_an_internal_error_names_the_frame_and_the_command_that_draws_it_again(capsys, tmp_path, studio):
    def before(frame, kind):
        if frame == 149:
            raise ZeroDivisionError("a fault")

    studio.before = before
    status, out, err = render(capsys, tmp_path / "an out", "--cameras", "CAM2", "--burn-in")
    assert (status, out) == (1, "")
    first, second = err.splitlines()
    assert "internal error in frame 149 (10:00:05:24): ZeroDivisionError: a fault" in first
    again = (
        f"preview render {starter_path()} --out '{tmp_path}/an out' --at 10:00:05:24 --size 64x36 "
        "--pictures return,programme --cameras CAM2 --burn-in --debug"
    )
    assert second.endswith(again)

    status, out, err = run(capsys, *shlex.split(again)[1:])
    assert status == 1
    assert "Traceback" in err
    assert "ZeroDivisionError: a fault" in err
    assert studio[-1].asked == [149]


def test_ctrl_c_leaves_quietly(capsys, tmp_path, studio):
    def before(frame, kind):
        raise KeyboardInterrupt

    studio.before = before
    status, out, err = render(capsys, tmp_path, "--clip")
    assert (status, out) == (130, "")
    assert err == "stopped; finished files are kept, unfinished ones are removed\n"
    assert sorted(os.listdir(tmp_path)) == ["manifest.json"]


@pytest.mark.parametrize("library", ["libGL.so.1", "libxcb.so.1", "libgthread-2.0.so.0"])
def test_a_missing_system_library_is_named_with_the_packages(capsys, tmp_path, monkeypatch, library):
    def fail(*_):
        raise ImportError(f"{library}: cannot open shared object file: No such file or directory")

    monkeypatch.setattr("preview.frame.Studio", fail)
    status, _, err = render(capsys, tmp_path)
    assert status == 1
    assert err == (
        f"error: the system library {library} is missing; on Debian: "
        "apt-get install libegl1 libgl1 libgl1-mesa-dri libglib2.0-0\n"
    )


def test_an_output_folder_that_is_a_file_is_told_and_kept(capsys, tmp_path, studio):
    (tmp_path / "out").write_text("mine")
    status, out, err = render(capsys, tmp_path / "out")
    assert (status, out) == (1, "")
    assert "a file stands where the output folder should be" in err
    assert not studio, "told before the show is made ready to draw"
    assert (tmp_path / "out").read_text() == "mine"


# -- as a process ------------------------------------------------------------------------------


def process(*arguments, **options):
    command = [sys.executable, "-m", "preview", *map(str, arguments)]
    return subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, encoding="utf-8", **options
    )


def test_piped_tables_have_no_colour_and_a_closed_reader_is_no_error():
    info = process("info", starter_path())
    out, err = info.communicate()
    assert (info.returncode, err) == (0, "")
    assert "\x1b" not in out
    info = process("info", starter_path())
    info.stdout.close()
    assert "Traceback" not in info.stderr.read()
    info.stderr.close()
    info.wait()


def test_help_does_not_wait_for_the_graphics_side():
    program = "import sys, preview.cli; sys.exit('numpy' in sys.modules or 'OpenGL' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", program], check=False).returncode == 0


# -- for real ----------------------------------------------------------------------------------


def test_what_is_written_is_what_the_trade_words_promise(capsys, tmp_path):
    """Drawn for real: on air, the operator's return is the programme, pixel for pixel; off air it is not,
    and what the camera shoots of a switched wall differs from what its operator ought to see."""
    status, out, err = render(
        capsys, tmp_path, "--size", "160x90", "--at", "10:00:01:00", "--pictures", "as-shot,return,programme",
        "--clip", "--from", "10:00:03:23", "--to", "10:00:04:01",
    )  # fmt: skip
    assert status == 0, err

    def still(name):
        return np.asarray(Image.open(tmp_path / f"001-at_10-00-01-00_{name}.png")).astype(int)

    np.testing.assert_array_equal(still("return_CAM1"), still("programme"))
    np.testing.assert_array_equal(still("as-shot_CAM1"), still("programme"))
    assert np.abs(still("return_CAM2") - still("programme")).mean() > 5
    assert np.abs(still("return_CAM2") - still("as-shot_CAM2")).mean() > 1

    with av.open(str(tmp_path / "10-00-03-23_10-00-04-01_programme.mp4")) as container:
        frames = [f.to_ndarray(format="rgb24").astype(int) for f in container.decode(video=0)]
    changes = [np.abs(b - a).mean() for a, b in itertools.pairwise(frames)]
    assert len(frames) == 4
    assert changes[1] > 5 > 4 * max(changes[0], changes[2]), "one cut, between the second and third frame"

    entries = json.loads((tmp_path / "manifest.json").read_text())["files"]
    assert len(entries) == len(out.splitlines()) == 5 + 5
    assert all(0 <= entry["off_wall"] < 0.5 for entry in entries)


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (("--every", "0", "--clip"), "--every: '0' is not a whole number of at least 1"),
        (("--every", "often", "--clip"), "--every: 'often' is not a whole number"),
        (("--every", "2"), "--every is for clips; add --clip"),
        (("--at", "10:00:01:00", "--from", "10:00:02:00"), "--from and --to are for clips and shots' stills"),
        (("--size", "9000x9000"), "a picture cannot be 9000x9000: at most 8192 a side"),
    ],
)
def test_an_option_without_effect_or_past_the_limit_is_refused(capsys, tmp_path, studio, options, said):
    status, out, err = render(capsys, tmp_path / "out", *options)
    assert (status, out) == (2, "")
    assert err.startswith(f"error: {said}"), err
    assert err.count("\n") == 1
    assert not (tmp_path / "out").exists()
    assert not studio


def test_new_answers_in_json(capsys, tmp_path):
    status, out, err = run(capsys, "new", tmp_path / "mine", "--json")
    assert (status, err) == (0, "")
    assert json.loads(out) == {"show": str(tmp_path / "mine" / "show.toml")}


def test_a_library_that_warns_is_not_heard(capsys, tmp_path, studio):
    def warn(frame, kind):
        warnings.warn("divide by zero", RuntimeWarning, stacklevel=1)

    studio.before = warn
    status, _, err = render(capsys, tmp_path, "--at", "10:00:01:00")
    assert (status, "divide by zero" in err) == (0, False)
    with pytest.warns(RuntimeWarning, match="divide by zero"):
        render(capsys, tmp_path, "--at", "10:00:01:00", "--debug")


def test_without_a_driver_the_sentence_has_no_words_of_the_libraries(tmp_path):
    """The loader of drivers is pointed at a file that is not there."""
    words = [sys.executable, "-m", "preview", "render", str(starter_path()), "--out", str(tmp_path / "out")]
    environment = os.environ | {"__EGL_VENDOR_LIBRARY_FILENAMES": "/nonexistent.json"}
    done = subprocess.run(words, env=environment, capture_output=True, text=True, check=False)
    assert (done.returncode, done.stdout) == (1, "")
    assert done.stderr.startswith("error: no OpenGL 4.1 can be started here; install a driver: on Debian, ")
    assert "Error" not in done.stderr
    assert done.stderr.count("\n") == 1


@pytest.mark.parametrize("columns", [80, 120])
def test_tables_keep_numbers_and_timecodes_whole_on_a_narrow_screen(capsys, monkeypatch, columns):
    monkeypatch.setattr(terminal, "PIPED_WIDTH", columns)
    status, out, _ = run(capsys, "info", starter_path())
    assert status == 0
    assert max(map(len, out.splitlines()[2:])) <= columns
    assert "…" not in out
    for whole in ("9.59 x 5.39", "7.6 to 152", "2800 x 1400", "10:00:08:00  10:00:10:24", "mix, 12 fr"):
        assert whole in out, whole
