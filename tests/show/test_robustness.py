"""Whatever is in a show file, the answer is a show or a ShowError, never anything else."""

from __future__ import annotations

import random
import re
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from preview.errors import ShowError
from preview.show import Show, load_show

FIXTURES = Path(__file__).parent / "fixtures"
TEXT = (FIXTURES / "booth.toml").read_text(encoding="utf-8")
LINES = TEXT.splitlines(keepends=True)
KEYS = sorted(set(re.findall(r"[a-z_0-9]{3,}(?= = )", TEXT)))
VALUES = sorted(set(re.findall(r"(?<= = )(?!\{)[^\n,}]+", TEXT)))
SPOILT = [
    "0", "-1", "1e300", "-1e300", "1e-300", "nan", "inf", "true", '""', '"x"', "[]", "{}", "[[]]", "[1, 2]",
    "[1, 2, 3]", '["a", 1, {}]', "{name = 1}", "10:00:00", "1979-05-27", '"10:00:00:00"', "9" * 400,
    "[1e300, -1e300, 1e300]", '"../"', '"\\u0000"', '"' + "a/" * 3000 + '"', "[[1, 2, 3]]", '{str = "a"}',
]  # fmt: skip


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """The valid show's folder, written over again and again."""
    place = tmp_path_factory.mktemp("booth")
    for name in ("bench.obj", "glasshouse.obj"):
        shutil.copy(FIXTURES / name, place)
    (place / "caller.png").write_bytes(b"not opened here")
    yield place


def outcome(folder: Path, text: str) -> Show | ShowError:
    """Load ``text`` as a show; any other error passes through and fails the test."""
    path = folder / "booth.toml"
    path.write_text(text, encoding="utf-8")
    try:
        return load_show(path)
    except ShowError as error:
        assert error.problems
        for problem in error.problems:
            assert problem.found and problem.fix
            assert 0 <= problem.line <= text.count("\n") + 1
            assert "\n" not in str(problem)
        return error


quick = settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture])


@quick
@given(gone=st.sets(st.integers(0, len(LINES) - 1), min_size=1, max_size=6))
def test_lines_taken_out(folder: Path, gone: set[int]) -> None:
    outcome(folder, "".join(line for number, line in enumerate(LINES) if number not in gone))


@quick
@given(
    wrong=st.lists(
        st.tuples(st.sampled_from(KEYS), st.integers(0, 30), st.sampled_from("abmz_0")),
        min_size=1,
        max_size=4,
    )
)
def test_misspelt_keys(folder: Path, wrong: list[tuple[str, int, str]]) -> None:
    text = TEXT
    for key, place, letter in wrong:
        place %= len(key)
        text = text.replace(f"{key} = ", f"{key[:place]}{letter}{key[place + 1 :]} = ", 1)
    outcome(folder, text)


@quick
@given(changes=st.dictionaries(st.sampled_from(VALUES), st.sampled_from(SPOILT), min_size=1, max_size=4))
def test_values_of_any_sort(folder: Path, changes: dict[str, str]) -> None:
    text = TEXT
    for old, new in changes.items():
        text = text.replace(f" = {old}", f" = {new}", 1)
    outcome(folder, text)


@quick
@given(seed=st.integers(0, 2**32), count=st.integers(1, 5))
def test_letters_changed_anywhere(folder: Path, seed: int, count: int) -> None:
    letters = list(TEXT)
    chance = random.Random(seed)
    for _ in range(count):
        letters[chance.randrange(len(letters))] = chance.choice('=[]{}".,#-0a\n')
    outcome(folder, "".join(letters))


@pytest.mark.parametrize("value", SPOILT)
def test_each_sort_of_value_in_each_place(folder: Path, value: str) -> None:
    for match in re.finditer(r"(?<= = )(?!\{)[^\n,}]+", TEXT):
        outcome(folder, TEXT[: match.start()] + value + TEXT[match.end() :])


def test_the_fixture_itself_is_a_show(folder: Path) -> None:
    assert isinstance(outcome(folder, TEXT), Show)


@pytest.mark.parametrize(
    "text", ["[" * 3000, "a = " + "[" * 3000, "\x00", "a = 1 = 2", "[[a]]\n[a]", "=", "a.b", '"""']
)
def test_text_that_is_hardly_toml(folder: Path, text: str) -> None:
    assert isinstance(outcome(folder, text), ShowError)
