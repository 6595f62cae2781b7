"""A store never lies and never stops the work: damage, limits, other runs, full and read-only disks."""

import errno
import multiprocessing
import os
import resource
import signal
import time
from pathlib import Path

import pytest

from preview.kept import store as module
from preview.kept.digest import digest
from preview.kept.store import TEMP_PREFIX, Extent, Store

MANY = 10**9


def key(number):
    return digest(number)


def files(folder):
    return sorted(path for path in Path(folder).rglob("*") if path.is_file())


def used_at(store, number, seconds_ago):
    """Make a file look as if it was used some time ago."""
    then = time.time() - seconds_ago
    os.utime(store._path(key(number)), (then, then))


def test_what_was_put_is_got_in_this_run_and_the_next(tmp_path):
    store = Store(tmp_path / "kept", MANY)
    assert store.get(key(1)) is None
    for number, content in enumerate((b"", b"a", os.urandom(5000))):
        store.put(key(number), content)
        assert store.get(key(number)) == content
        assert Store(tmp_path / "kept", MANY).get(key(number)) == content
    assert store.extent().file_count == 3
    assert store.extent().byte_count == sum(path.stat().st_size for path in files(tmp_path))
    assert store.notes == []


def test_looking_does_not_make_the_folder(tmp_path):
    store = Store(tmp_path / "kept", MANY)
    assert store.get(key(1)) is None and store.extent() == store.clear() == Extent(0, 0)
    assert not (tmp_path / "kept").exists()


def damages(data):
    """Every way to cut these bytes off, a flipped bit in each, more than were written, and nothing."""
    yield from (data[:length] for length in range(len(data)))
    yield from (data[:i] + bytes([data[i] ^ 1 << i % 8]) + data[i + 1 :] for i in range(len(data)))
    yield data + b"\0"
    yield bytes(len(data))


def test_a_damaged_file_is_found_out_removed_and_made_again(tmp_path):
    store = Store(tmp_path, MANY)
    store.put(key(1), b"a picture of some bytes")
    (path,) = files(tmp_path)
    whole = path.read_bytes()
    for damaged in damages(whole):
        path.write_bytes(damaged)
        assert store.get(key(1)) is None, damaged
        assert not path.exists()
        store.put(key(1), b"a picture of some bytes")
        assert path.read_bytes() == whole
    assert len(store.notes) == 1 and "damaged" in store.notes[0] and str(tmp_path) in store.notes[0]


def test_a_whole_file_under_another_name_is_found_out(tmp_path):
    store = Store(tmp_path, MANY)
    store.put(key(1), b"one")
    other = store._path(key(2))
    other.parent.mkdir(exist_ok=True)
    os.rename(store._path(key(1)), other)
    assert store.get(key(2)) is None
    assert "damaged" in store.notes[0]


def test_what_was_not_used_for_longest_goes_first(tmp_path):
    old = Store(tmp_path, MANY)
    for number in range(10):
        old.put(key(number), bytes(1000))
        used_at(old, number, 1000 - number)
    own = tmp_path / "ab" / "letter.txt"
    own.parent.mkdir(exist_ok=True)
    own.write_bytes(bytes(9000))
    each = old.extent().byte_count // 10
    store = Store(tmp_path, 10 * each)
    assert store.get(key(0)) is not None, "used again, so now the youngest"
    for number in (10, 11, 12):
        store.put(key(number), bytes(1000))
    gone = [number for number in range(13) if Store(tmp_path, MANY).get(key(number)) is None]
    assert gone == [1, 2, 3]
    assert store.extent() == Extent(10, 10 * each)
    assert own.stat().st_size == 9000, "not ours: never counted, never removed"
    assert store.notes == []


def test_a_run_larger_than_the_limit_finds_its_first_part_again(tmp_path):
    """Were the oldest dropped for the newest, a run in the same order would find nothing at all."""
    for run in (1, 2):
        store = Store(tmp_path, 20_000)
        found = []
        for number in range(40):
            if store.get(key(number)) is None:
                store.put(key(number), bytes(1000))
            else:
                found.append(number)
        assert found == ([] if run == 1 else list(range(len(found))))
        assert 17 <= len(found) <= 20 or run == 1
        assert store.extent().byte_count <= 20_000
        (note,) = store.notes
        assert "no more pictures are kept" in note and "limit" in note


def test_a_disk_with_little_room_is_left_alone(tmp_path, monkeypatch):
    usage, free = module.shutil.disk_usage, module.SPARE_BYTES + 1500

    def nearly_full(path):
        taken = sum(one.stat().st_size for one in files(path))
        return usage(path)._replace(free=free - taken)

    monkeypatch.setattr(module.shutil, "disk_usage", nearly_full)
    store = Store(tmp_path, MANY)
    for number in range(3):
        store.put(key(number), bytes(1000))
    assert [store.get(key(number)) is not None for number in range(3)] == [True, False, False]
    assert "would stay free" in store.notes[0]


def test_a_write_that_the_system_refuses_leaves_nothing_and_is_said(tmp_path):
    """A real refusal: the process may not write files larger than that."""
    store = Store(tmp_path, MANY)
    store.put(key(1), b"small")
    limits = resource.getrlimit(resource.RLIMIT_FSIZE)
    ignored = signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (4096, limits[1]))
    try:
        store.put(key(2), bytes(20_000))
        store.put(key(3), b"small, and no longer tried")
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, limits)
        signal.signal(signal.SIGXFSZ, ignored)
    assert store.get(key(2)) is None and store.get(key(3)) is None
    assert store.get(key(1)) == b"small", "what is there is still used"
    assert len(files(tmp_path)) == 1
    assert store.notes == [f"{tmp_path}: no more pictures are kept in this run: file too large"]


@pytest.mark.parametrize("code", [errno.ENOSPC, errno.EROFS, errno.EACCES, errno.EDQUOT])
def test_a_full_or_read_only_disk_is_said_once(tmp_path, monkeypatch, code):
    def refuse(*args, **kwargs):
        raise OSError(code, os.strerror(code))

    Store(tmp_path, MANY).put(key(1), b"earlier")
    monkeypatch.setattr(module.tempfile, "mkstemp", refuse)
    monkeypatch.setattr(module.os, "utime", refuse)
    store = Store(tmp_path, MANY)
    assert store.get(key(1)) == b"earlier"
    for number in (2, 3):
        store.put(key(number), b"new")
        assert store.get(key(number)) is None
    assert store.notes == [f"{tmp_path}: no more pictures are kept in this run: {os.strerror(code).lower()}"]


def test_a_folder_that_cannot_be_made_is_said(tmp_path):
    (tmp_path / "file").write_bytes(b"")
    store = Store(tmp_path / "file" / "kept", MANY)
    assert store.get(key(1)) is None
    store.put(key(1), b"a")
    assert store.get(key(1)) is None
    assert "no more pictures are kept" in store.notes[0]


def test_what_a_killed_run_left_is_removed_when_it_is_old(tmp_path):
    store = Store(tmp_path, MANY)
    store.put(key(1), b"one")
    folder = store._path(key(1)).parent
    for name, age in (("old", 2 * module.STALE_TEMP_S), ("young", 5)):
        path = folder / (TEMP_PREFIX + name)
        path.write_bytes(b"half")
        os.utime(path, (time.time() - age,) * 2)
    assert store.extent().file_count == 1
    assert [path.name for path in folder.iterdir() if path.name.startswith(TEMP_PREFIX)] == [
        TEMP_PREFIX + "young"
    ]


def test_clearing_removes_kept_files_and_nothing_else(tmp_path):
    store = Store(tmp_path, MANY)
    for number in range(5):
        store.put(key(number), bytes(100))
    letter, note = tmp_path / "letter.txt", store._path(key(1)).parent / "note.kept"
    letter.write_text("mine")
    note.write_text("mine")
    assert store.clear().file_count == 5
    assert files(tmp_path) == sorted([letter, note])
    assert store.extent() == Extent(0, 0)
    store.put(key(1), b"again")
    assert store.get(key(1)) == b"again"


def busy(folder, seed, wrong):
    """Put and get many contents in a folder that is too small for them."""
    store = Store(Path(folder), 40_000)
    for step in range(400):
        number = (step * 7 + seed * 13) % 60
        content = str(number).encode() * 400
        found = store.get(key(number))
        if found is None:
            store.put(key(number), content)
        elif found != content:
            wrong.put(f"content of {number}")
    for note in store.notes:
        if "fill its limit" not in note:
            wrong.put(note)


def test_several_runs_share_a_folder(tmp_path):
    context = multiprocessing.get_context("fork")
    wrong = context.Queue()
    runs = [context.Process(target=busy, args=(tmp_path, seed, wrong)) for seed in range(3)]
    for run in runs:
        run.start()
    for run in runs:
        run.join(60)
        assert run.exitcode == 0
    assert wrong.empty(), wrong.get()
    for path in files(tmp_path):
        assert path.suffix == ".kept"
    store = Store(tmp_path, 40_000)
    assert any(store.get(key(number)) for number in range(60))
    assert store.notes == []
