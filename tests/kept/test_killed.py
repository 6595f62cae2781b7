"""A run that is killed outright goes on where it was, and nobody can tell from its files."""

import json
import os
import signal
import subprocess
import sys
import time

import av
import numpy as np

from preview import cli
from preview.kept.store import Store
from preview.review.atomic import TEMP_PREFIX
from tests.kept.small_show import write_show

RENDER = ["--clip", "--from", "10:00:00:00", "--to", "10:00:01:14", "--size", "192x108", "--json"]
ENOUGH = 12
"""Kept pictures after which the run is killed; all frames together have about 120 different ones."""


def kept_files(folder):
    return sorted(folder.rglob("*.kept"))


def kill_in_the_middle(path, out, kept):
    """Start a render as a user does and kill it once it has kept some pictures. It cannot clean up."""
    command = [sys.executable, "-m", "preview", "render", str(path), "--out", str(out), "--kept", str(kept)]
    run = subprocess.Popen(
        [*command, *RENDER],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
        env=os.environ | {"PREVIEW_KEPT": ""},
    )
    end = time.monotonic() + 120
    while len(kept_files(kept)) < ENOUGH:
        assert run.poll() is None and time.monotonic() < end, run.stderr.read().decode()
        time.sleep(0.005)
    run.send_signal(signal.SIGKILL)
    run.wait()
    run.stderr.close()
    assert run.returncode == -signal.SIGKILL


def frames_of(path):
    with av.open(str(path)) as container:
        return np.stack([frame.to_ndarray(format="yuv420p") for frame in container.decode(video=0)])


def test_a_killed_run_goes_on_where_it_was(tmp_path, capsys):
    path, out, kept = write_show(tmp_path / "show"), tmp_path / "out", tmp_path / "kept"
    kill_in_the_middle(path, out, kept)
    assert not [one for one in out.glob("*.mp4") if not one.name.startswith(TEMP_PREFIX)], "no clip was whole"
    finished = kept_files(kept)
    for one in finished:
        assert Store(kept, 10**9).get(bytes.fromhex(one.parent.name + one.stem)) is not None

    assert cli.main(["render", str(path), "--out", str(out), "--kept", str(kept), *RENDER]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["reused_count"] >= len(finished) >= ENOUGH
    assert told["reused_count"] < told["picture_count"] == 4 * 40
    assert not [note for note in told["notes"] if "kept" in note]

    whole = tmp_path / "whole"
    assert cli.main(["render", str(path), "--out", str(whole), "--no-kept", *RENDER]) == 0
    assert json.loads(capsys.readouterr().out)["reused_count"] == 0
    names = sorted(one.name for one in whole.iterdir())
    assert sorted(one.name for one in out.iterdir()) == names
    clips = [name for name in names if name.endswith(".mp4")]
    assert len(clips) == 4
    for name in clips:
        resumed, uninterrupted = frames_of(out / name), frames_of(whole / name)
        assert len(uninterrupted) == 40
        np.testing.assert_array_equal(resumed, uninterrupted)
