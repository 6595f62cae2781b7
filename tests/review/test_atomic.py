"""Nothing finished is lost, nothing half-written stays, and every refusal is one sentence."""

import errno
import os
import signal
import subprocess
import sys
import textwrap
from pathlib import Path

import pytest

from preview.errors import OutputError
from preview.review.atomic import TEMP_PREFIX, output_error, output_folder, replacing, write_bytes


def names(folder):
    return sorted(path.name for path in folder.iterdir())


def test_the_final_name_appears_only_when_the_block_has_ended(tmp_path):
    path = tmp_path / "a.png"
    with replacing(path) as temp:
        temp.write_bytes(b"new")
        assert not path.exists()
        assert temp.suffix == ".png"
    assert path.read_bytes() == b"new"
    assert names(tmp_path) == ["a.png"]


@pytest.mark.parametrize(
    "problem", [RuntimeError("drawing failed"), KeyboardInterrupt(), FileNotFoundError("x")]
)
def test_a_block_that_raises_leaves_the_earlier_file_and_its_own_error(tmp_path, problem):
    path = tmp_path / "a.png"
    path.write_bytes(b"earlier")
    with pytest.raises(type(problem)), replacing(path) as temp:
        temp.write_bytes(b"half")
        raise problem
    assert path.read_bytes() == b"earlier"
    assert names(tmp_path) == ["a.png"]


def test_a_full_disk_is_a_sentence_and_the_earlier_file_stays(tmp_path):
    """A file size limit stands for the full disk: the kernel refuses the bytes in the same place."""
    path = tmp_path / "a.png"
    path.write_bytes(b"earlier")
    program = textwrap.dedent(
        """
        import resource, signal, sys
        from pathlib import Path
        from preview.errors import OutputError
        from preview.review.atomic import write_bytes
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (1000, 1000))
        try:
            write_bytes(Path(sys.argv[1]), bytes(5000))
        except OutputError as error:
            print(error)
        """
    )
    said = subprocess.run(
        [sys.executable, "-c", program, str(path)], capture_output=True, text=True, check=True
    )
    assert said.stdout.strip() == f"{path}: no room left to write it; make room or choose another folder"
    assert path.read_bytes() == b"earlier"
    assert names(tmp_path) == ["a.png"]


@pytest.mark.parametrize(
    "code, part",
    [
        (errno.ENOSPC, "no room left"),
        (errno.EDQUOT, "no room left"),
        (errno.EFBIG, "no room left"),
        (errno.EACCES, "may not be written"),
        (errno.EROFS, "may not be written"),
        (errno.EISDIR, "a folder has this file's name"),
        (errno.ENAMETOOLONG, "too long"),
        (errno.EIO, os.strerror(errno.EIO)),
    ],
)
def test_each_reason_has_its_sentence_with_a_fix(code, part):
    text = str(output_error("out/a.png", OSError(code, os.strerror(code))))
    assert text.startswith("out/a.png: ")
    assert part in text
    assert "; " in text
    assert "\n" not in text


def test_a_folder_under_the_final_name_is_told(tmp_path):
    (tmp_path / "a.png").mkdir()
    with pytest.raises(OutputError, match="a folder has this file's name"):
        write_bytes(tmp_path / "a.png", b"x")
    assert names(tmp_path) == ["a.png"]


def test_a_file_where_the_folder_should_be_is_named(tmp_path):
    (tmp_path / "out").write_text("mine")
    for folder in (tmp_path / "out", tmp_path / "out" / "deeper"):
        with pytest.raises(OutputError, match="a file stands where") as caught, output_folder(folder):
            pass
        assert caught.value.path == str(tmp_path / "out")
    assert (tmp_path / "out").read_text() == "mine"


@pytest.mark.skipif(os.geteuid() != 0, reason="only root may write where nobody may")
def test_a_place_that_refuses_folders_is_told():
    with (
        pytest.raises(OutputError, match="/proc"),
        output_folder(Path("/proc/previews")),
    ):
        pass


@pytest.mark.skipif(os.geteuid() == 0, reason="root may write anywhere")
def test_a_folder_without_write_permission_is_told(tmp_path):
    tmp_path.chmod(0o500)
    try:
        with pytest.raises(OutputError, match="may not be written"), output_folder(tmp_path):
            pass
    finally:
        tmp_path.chmod(0o700)


def test_too_little_room_is_told_before_anything_is_drawn(tmp_path):
    told = r"about 1000000000000 MB will be written, only \d+ MB are free"
    with pytest.raises(OutputError, match=told), output_folder(tmp_path, needed_bytes=10**18):
        pytest.fail("the block must not run")


def test_two_runs_never_share_a_folder(tmp_path):
    told = "another run is writing to this folder"
    with output_folder(tmp_path), pytest.raises(OutputError, match=told), output_folder(tmp_path):
        pytest.fail("the block must not run")
    with output_folder(tmp_path):
        pass


def test_what_a_killed_run_left_is_removed_and_finished_files_stay(tmp_path):
    program = textwrap.dedent(
        """
        import os, signal, sys
        from pathlib import Path
        from preview.review.atomic import output_folder, replacing, write_bytes
        with output_folder(Path(sys.argv[1])) as folder:
            write_bytes(folder / "finished.png", b"whole")
            with replacing(folder / "clip.mp4") as temp:
                temp.write_bytes(b"half")
                os.kill(os.getpid(), signal.SIGKILL)
        """
    )
    killed = subprocess.run([sys.executable, "-c", program, str(tmp_path)], check=False)
    assert killed.returncode == -signal.SIGKILL
    assert names(tmp_path) == [f"{TEMP_PREFIX}clip.mp4", "finished.png"]
    with output_folder(tmp_path):
        assert names(tmp_path) == ["finished.png"]
