"""Keys that the model does not know, and which known key was meant.

A misspelt key is set right in a copy before the values are checked. So the missing key it stands
for is not reported as well, and its value is checked in the same round.
"""

from __future__ import annotations

from types import UnionType
from typing import Annotated, Any, Union, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from preview.errors import Problem
from preview.show.document import Document
from preview.show.positions import KeyPath, KeyPositions
from preview.show.wording import listed, nearest, stem, unit


def known_keys_only(document: Document, model: type[BaseModel]) -> tuple[Document, list[Problem]]:
    """Take unknown keys out of a document; a misspelt one takes its right name.

    Returns
    -------
    document : with known keys only; positions of renamed keys follow them
    problems : one for each unknown key
    """
    problems: list[Problem] = []
    offsets = dict(document.positions.offsets)
    places = table_places(model)

    def rename(path: KeyPath, new: str) -> None:
        below = len(path)
        for known, offset in list(offsets.items()):
            if known[:below] == path:
                offsets[(*path[:-1], new, *known[below:])] = offset

    def visit(value: Any, annotation: Any, path: KeyPath) -> Any:
        annotation = _fitting(annotation, value)
        origin, arguments = get_origin(annotation), get_args(annotation)
        if isinstance(value, list) and origin is tuple:
            return [visit(item, arguments[0], (*path, index)) for index, item in enumerate(value)]
        if isinstance(value, dict) and origin is dict:
            return {key: visit(item, arguments[1], (*path, key)) for key, item in value.items()}
        if isinstance(value, dict) and _is_table(annotation):
            return visit_table(value, annotation, path)
        return value

    def visit_table(table: dict[str, Any], known: type[BaseModel], path: KeyPath) -> dict[str, Any]:
        fields = known.model_fields
        kept = {key: value for key, value in table.items() if key in fields}
        for key, value in table.items():
            if key in fields:
                continue
            meant = nearest(key, fields)
            problems.append(
                document.problem((*path, key), "unknown key", _fix(key, meant, kept, fields, places))
            )
            if meant and meant not in kept:
                kept[meant] = value
                rename((*path, key), meant)
        return {key: visit(value, _annotation(fields[key]), (*path, key)) for key, value in kept.items()}

    data = visit(document.data, model, ())
    positions = KeyPositions(document.positions.text, offsets)
    return Document(document.path, document.sha256, data, positions), problems


def field_at(model: type[BaseModel], path: KeyPath) -> FieldInfo | None:
    """The model's field that a key path (list positions included) ends in, if there is one."""
    annotation: Any = model
    field = None
    for part in path:
        shape: Any = [] if isinstance(part, int) else {}
        annotation = _fitting(annotation, shape)
        if isinstance(part, int):
            if get_origin(annotation) is not tuple:
                return None
            annotation = get_args(annotation)[0]
        elif get_origin(annotation) is dict:
            annotation = get_args(annotation)[1]
        elif _is_table(annotation) and part in annotation.model_fields:
            field = annotation.model_fields[part]
            annotation = _annotation(field)
        else:
            return None
    return field


def table_places(model: type[BaseModel], header: str = "") -> dict[str, list[str]]:
    """Each key name and the headers of the tables that know it, e.g. ``mode`` -> ``[drive]``."""
    places: dict[str, list[str]] = {}
    for key, field in model.model_fields.items():
        places.setdefault(key, []).append(header or "the top of the file")
        below = f"{header.strip('[]')}.{key}" if header else key
        inside, mark = _fitting(_annotation(field), {}), f"[{below}]"
        if get_origin(inside) is tuple:
            inside, mark = get_args(inside)[0], f"[[{below}]]"
        elif get_origin(inside) is dict:
            inside, mark = get_args(inside)[1], f"[{below}.NAME]"
        if _is_table(inside):
            for name, found in table_places(inside, mark).items():
                places.setdefault(name, []).extend(found)
    return places


def _fix(
    key: str,
    meant: str | None,
    written: dict[str, Any],
    fields: dict[str, FieldInfo],
    places: dict[str, list[str]],
) -> str:
    if meant and meant in written:
        return f"{meant!r} is written here too; delete {key!r}"
    if meant and stem(meant) == stem(key) and unit(meant):
        return f"did you mean {meant!r}? Its value is in {unit(meant)}"
    if meant:
        return f"did you mean {meant!r}?"
    if key in places:
        return f"this key belongs in {listed(places[key], 3)}; move it there"
    return f"known keys here: {listed(fields, 30)}"


def _annotation(field: FieldInfo) -> Any:
    return field.annotation


def _fitting(annotation: Any, value: Any) -> Any:
    """The member of a union that a table or a list is meant for; other types unchanged."""
    if get_origin(annotation) is Annotated:
        return _fitting(get_args(annotation)[0], value)
    if get_origin(annotation) not in (Union, UnionType):
        return annotation
    for member in get_args(annotation):
        if isinstance(value, dict) and (_is_table(member) or get_origin(member) is dict):
            return member
        if isinstance(value, list) and get_origin(member) is tuple:
            return member
    return annotation


def _is_table(annotation: Any) -> bool:
    return isinstance(annotation, type) and issubclass(annotation, BaseModel)
