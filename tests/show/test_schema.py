"""The JSON Schema that editors use is the model's, and means what JSON Schema says."""

from __future__ import annotations

import tomllib
from pathlib import Path

import jsonschema
import pytest

from preview.show.resources import shared_dir
from preview.show.schema import SCHEMA_NAME, schema_text, show_schema, write_schema


def test_the_shared_schema_is_up_to_date() -> None:
    """If this fails: ``python -c "from preview.show.schema import write_schema; write_schema()"``."""
    assert (shared_dir() / SCHEMA_NAME).read_text(encoding="utf-8") == schema_text()


def test_writing_replaces_the_file_whole(tmp_path: Path) -> None:
    path = tmp_path / SCHEMA_NAME
    path.write_text("old", encoding="utf-8")
    assert write_schema(path) == path
    assert path.read_text(encoding="utf-8") == schema_text()
    assert [item.name for item in tmp_path.iterdir()] == [SCHEMA_NAME]


# Outside check: python-jsonschema, an implementation of JSON Schema draft 2020-12.
VALIDATOR = jsonschema.Draft202012Validator(show_schema())


def test_it_is_a_schema_of_the_draft_it_names() -> None:
    VALIDATOR.check_schema(show_schema())
    assert show_schema()["$schema"] == jsonschema.Draft202012Validator.META_SCHEMA["$id"]


def test_it_accepts_the_valid_show(booth: Path) -> None:
    VALIDATOR.validate(tomllib.loads(booth.read_text(encoding="utf-8")))


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("columns = 8", "colums = 8"),
        ("columns = 8", "columns = 0"),
        ("arm_m = 2.0", "arm_m = -2.0"),
        ("arm_m = 2.0", 'arm_m = "2 m"'),
        ('frame_rate = "25"', 'frame_rate = "26"'),
        ("pivot_m = [2.0, -5.0, 1.2]", "pivot_m = [2.0, -5.0]"),
        ('title = "Potting Shed Test"\n', ""),
        ("format = 1", "format = 2"),
    ],
)
def test_it_refuses_what_the_loader_refuses(old: str, new: str, booth: Path) -> None:
    data = tomllib.loads(booth.read_text(encoding="utf-8").replace(old, new, 1))
    with pytest.raises(jsonschema.ValidationError):
        VALIDATOR.validate(data)


def test_every_field_with_a_unit_in_its_name_is_a_number() -> None:
    """A key that carries a unit holds numbers only; text would bring a second unit along."""
    for table in show_schema()["$defs"].values():
        for key, field in table["properties"].items():
            if key.endswith(("_m", "_mm", "_deg", "_s", "_hz", "_cd_m2", "_percent", "_px", "_stops")):
                assert "string" not in str(field), key
