"""The show file's JSON Schema, for editors that complete and check while typing."""

from __future__ import annotations

import json
import os
from pathlib import Path
from typing import Any

from preview.show.model import ShowFile
from preview.show.resources import shared_dir

SCHEMA_NAME = "show.schema.json"


def show_schema() -> dict[str, Any]:
    """JSON Schema (draft 2020-12) of a show file.

    It knows types, bounds and key names. Names that refer to each other, files and timecodes are
    checked by ``preview.show.load`` only.
    """
    return {"$schema": "https://json-schema.org/draft/2020-12/schema"} | ShowFile.model_json_schema()


def schema_text() -> str:
    """The schema as the file holds it."""
    return json.dumps(show_schema(), indent=2, ensure_ascii=False) + "\n"


def write_schema(path: Path | None = None) -> Path:
    """Write the schema, by default over the shared one; returns where it is."""
    path = shared_dir() / SCHEMA_NAME if path is None else path
    part = path.with_name(f".{path.name}.{os.getpid()}.part")
    part.write_text(schema_text(), encoding="utf-8")
    os.replace(part, path)
    return path
