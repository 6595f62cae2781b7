"""Key positions: the same keys that tomllib reads, each where it is written."""

from __future__ import annotations

import tomllib
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from preview.show.document import dotted, key_path
from preview.show.positions import KeyPath, scan_positions

# Forms from the specification's own sections: TOML 1.0.0 (toml.io/en/v1.0.0), Keys, String, Array,
# Table, Inline Table, Array of Tables, Local Date-Time.
TEXTS = [
    "title = \"TOML\"\n[owner]\nname = 'T'  # comment = 1\ndob = 1979-05-27 07:32:00-08:00\n",
    'a.b.c = 1\na.b.d = [ [1, 2], [\'x\', "y"] ]\n\'quoted key\'."other \\"key\\"" = true\n',
    "points = [ { x = 1, y = 2 },\n  { x = 7, z = [ { deep = 1 } ] }, # last\n]\n",
    "[[fruits]]\nname = 'apple'\n[fruits.physical]\ncolor = 'red'\n[[fruits.varieties]]\nname = 'red d'\n"
    "[[fruits.varieties]]\nname = 'granny'\n[[fruits]]\nname = 'banana'\n[[fruits.varieties]]\nname = 'p'\n",
    's = """\nnot = "a key"\n\\"""  still """""\nt = \'\'\'\n[no.table]\n\'\'\'\nu = """a"""\n',
    "[ x . 'y z' ]\r\nk=1\r\n[ x ]\r\nm = {}\r\nempty = []\r\n",
    "[a]\n[a.b]\nx = 07:32:00\n[a.c.d]\ny = inf\n# end without newline",
    "x = { a.b = 1, a.c = { d = [1,2] } }",
    '"größe" = 1\n\n\n  indented = 2',
]


def paths_in(value: Any, path: KeyPath = ()) -> set[KeyPath]:
    """Every key path and list position in parsed data."""
    items = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    found = {path} if path else set()
    for key, item in items:
        found |= paths_in(item, (*path, key))
    return found


@pytest.mark.parametrize("text", TEXTS)
def test_finds_exactly_the_keys_that_tomllib_reads(text: str) -> None:
    text = text.replace("\r\n", "\n")
    positions = scan_positions(text)
    assert set(positions.offsets) == paths_in(tomllib.loads(text))
    assert not positions.repeats


@pytest.mark.parametrize("text", TEXTS)
def test_points_at_the_keys_own_letters(text: str) -> None:
    text = text.replace("\r\n", "\n")
    for path, offset in scan_positions(text).offsets.items():
        key = next(part for part in reversed(path) if isinstance(part, str))
        if isinstance(path[-1], str):
            written = text[offset:].lstrip("\"'").replace('\\"', '"')
            assert written.startswith(key)


def test_line_and_column_count_from_one() -> None:
    text = "[[cameras]]\nname = 'a'\nlens = {k1 = 1,  k2 = 2}\n\n[[cameras]]\n  name = 'b'\n"
    positions = scan_positions(text)
    assert positions.nearest(("cameras", 0, "name")) == (2, 1)
    assert positions.nearest(("cameras", 0, "lens", "k2")) == (3, 18)
    assert positions.nearest(("cameras", 1)) == (5, 3)
    assert positions.nearest(("cameras", 1, "name")) == (6, 3)


def test_an_unwritten_key_is_placed_at_its_table_and_at_last_at_the_top() -> None:
    positions = scan_positions("\n[stage.light]\nkey_level = 1\n")
    assert positions.nearest(("stage", "light", "fill_level")) == (2, 8)
    assert positions.nearest(("stage", "surfaces")) == (2, 2)
    assert positions.nearest(("virtual", "mesh")) == (1, 1)


keys = st.text("abcXYZ019_-", min_size=1, max_size=6) | st.text(min_size=1, max_size=4).filter(
    lambda text: text.isprintable() and not set(text) & set("\"'\\")
)
scalars = st.integers(-99, 99) | st.booleans() | st.sampled_from(["text", "a # b", "[x]", "{y = 1}", "p.q"])
values = st.recursive(
    scalars,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(keys, inner, max_size=3),
    max_leaves=8,
)


def written(value: Any, spaces: str) -> str:
    """A value in TOML's inline forms, with ``spaces`` where spaces are free."""
    if isinstance(value, dict):
        inside = f",{spaces}".join(
            f'"{key}"{spaces}={spaces}{written(v, spaces)}' for key, v in value.items()
        )
        return f"{{{spaces}{inside}{spaces}}}"
    if isinstance(value, list):
        return "[" + f",{spaces}".join(written(item, spaces) for item in value) + "]"
    if isinstance(value, bool):
        return str(value).lower()
    return f'"{value}"' if isinstance(value, str) else str(value)


@given(
    tables=st.dictionaries(keys, st.dictionaries(keys, values, max_size=3), max_size=3),
    lists=st.dictionaries(keys, st.lists(st.dictionaries(keys, values, max_size=2), min_size=1, max_size=3)),
    spaces=st.sampled_from(["", " ", "\t "]),
)
def test_any_document_gives_the_keys_that_tomllib_reads(
    tables: dict[str, Any], lists: dict[str, Any], spaces: str
) -> None:
    lines = []
    for name, table in tables.items():
        lines.append(f'[{spaces}"{name}"{spaces}] # [not]')
        lines += [f'"{key}"{spaces}={spaces}{written(value, spaces)}' for key, value in table.items()]
    for name, items in lists.items():
        for item in items if name not in tables else ():
            lines.append(f'[["{name}"]]')
            lines += [f'"{key}" = {written(value, spaces)}' for key, value in item.items()]
    text = "\n".join(lines)
    assert set(scan_positions(text).offsets) == paths_in(tomllib.loads(text))


@given(st.text("ab=.[]{}\"'#,\n 1", max_size=40))
def test_no_text_stops_the_scan_with_an_error(text: str) -> None:
    found = set(scan_positions(text).offsets)
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        return
    assert found == paths_in(data)


@given(st.lists(st.integers(0, 99) | keys.filter(lambda key: "[" not in key and "]" not in key), max_size=5))
def test_a_dotted_key_reads_back(path: list[str | int]) -> None:
    assert key_path(dotted(tuple(path))) == tuple(path)
