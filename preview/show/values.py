"""Types, signs and bounds of written values: the model's complaints in a user's words."""

from __future__ import annotations

import math
from collections.abc import Iterator
from datetime import time
from typing import Any, TypeVar, get_args

from pydantic import BaseModel, ValidationError

from preview.show.document import dotted
from preview.show.entry import Findings
from preview.show.keys import field_at
from preview.show.positions import KeyPath
from preview.show.wording import expected, kind, listed, nearest, number_meant, shown, unit

Model = TypeVar("Model", bound=BaseModel)

_RATES = {
    "23.976": "24000/1001",
    "23.98": "24000/1001",
    "29.97": "30000/1001",
    "47.95": "48000/1001",
    "47.952": "48000/1001",
    "59.94": "60000/1001",
}
_BOUNDS = {
    "greater_than": ("gt", "not above"),
    "greater_than_equal": ("ge", "below"),
    "less_than": ("lt", "not below"),
    "less_than_equal": ("le", "above"),
}
_WRONG_TYPE = ("_type", "_parsing", "int_from_float")


def validated(data: dict[str, Any], model: type[Model]) -> Model:
    """``data`` as the model, strictly: text is not taken for a number.

    Raises
    ------
    pydantic.ValidationError
    """
    return model.model_validate(_with_tuples(data), strict=True)


def check_values(findings: Findings, model: type[Model]) -> Model | None:
    """Note a problem for each value the model refuses; the model when it refuses none."""
    data = findings.document.data
    errors: list[Any] = []
    valid = None
    try:
        valid = validated(data, model)
    except ValidationError as failure:
        errors = failure.errors(include_url=False)
    for error in errors:
        written, rest, value = _written(data, error["loc"])
        if error["type"] == "missing":
            path = written if isinstance(rest[-1], int) else (*written, rest[-1])
        else:
            path = written
        if rest and isinstance(rest[0], str) and not _fits(rest[0], value):
            continue
        if error["type"] == "too_short" and isinstance(value, list) and value:
            continue  # its items were refused, and each has its own problem
        _add(findings, model, path, error, value)
    # A value that fits no member of its union was passed over above.
    for error in errors:
        written, _, value = _written(data, error["loc"])
        if findings.clean(written):
            _add_wrong_type(findings, model, written, value)
    # Not every type of number in the model refuses these.
    for path, number in _not_finite(data):
        findings.add(path, f"{number} is not a finite number", "write an ordinary number")
    return valid


def _add(findings: Findings, model: type[BaseModel], path: KeyPath, error: Any, value: Any) -> None:
    key = _name(path)
    field = field_at(model, path)
    want = expected(field, key) if field else "another value"
    context = error.get("ctx", {})
    problem = error["type"]
    if problem == "missing" and isinstance(value, list):
        _add_count(findings, path, value, want)
    elif problem == "missing":
        _add_missing(findings, path, want)
    elif problem == "too_short":
        _add_missing(findings, path, want, empty=True)
    elif problem == "too_long":
        _add_count(findings, path, value, want)
    elif problem in _BOUNDS:
        bound, relation = _BOUNDS[problem]
        findings.add(path, f"{shown(value)} is {relation} {context[bound]:g}", f"write {want}")
    elif problem == "finite_number":
        findings.add(path, f"{shown(value)} is not a finite number", f"write {want}")
    elif problem == "literal_error":
        _add_choice(findings, path, value, [*get_args(field.annotation)] if field else [])
    elif problem == "string_pattern_mismatch":
        findings.add(path, f"{shown(value)} cannot be used here", f"write {want}")
    elif problem == "string_too_short":
        findings.add(path, "text is empty", f"write {want}")
    elif problem == "string_too_long":
        findings.add(path, f"{shown(value)} is longer than {context['max_length']} letters", f"write {want}")
    elif problem.endswith(_WRONG_TYPE):
        _add_wrong_type(findings, model, path, value)
    else:
        findings.add(path, f"{shown(value)}: {error['msg']}", f"write {want}")


def _add_count(findings: Findings, path: KeyPath, value: list[Any], want: str) -> None:
    count = f"{len(value)} item" + ("" if len(value) == 1 else "s")
    findings.add(path, f"{shown(value)} has {count}", f"write {want}")


def _add_missing(findings: Findings, path: KeyPath, want: str, empty: bool = False) -> None:
    key = _name(path)
    if path == ("rundown",):
        fix = "add a [[rundown]] table with name, on_air and duration for each shot"
        findings.add(path, "the rundown is empty: there is no shot to draw", fix)
    elif path == ("cameras",) or path == ("stage", "surfaces"):
        header = ".".join(map(str, path))
        what = "camera" if path == ("cameras",) else "LED surface"
        findings.add(path, f"there is no {what}", f"add a [[{header}]] table for each")
    elif "[[" in want:
        header = ".".join(str(part) for part in path if isinstance(part, str))
        findings.add(path, "there is none", f"add at least one [[{header}]] table")
    elif empty:
        findings.add(path, "the list is empty", f"write {want}")
    elif want.startswith("a table"):
        findings.add(path, "required table is missing", f"add {want.replace('a table', f'[{key}]', 1)}")
    else:
        fix = f"add {key} = {want}" if " " not in want else f"add {key}: {want}"
        findings.add(path, "required key is missing", fix)


def _add_choice(findings: Findings, path: KeyPath, value: Any, choices: list[Any]) -> None:
    key = _name(path)
    if key == "format":
        fix = f"write format = {choices[0]}"
        findings.add(path, f"this program reads format {choices[0]}, not {shown(value)}", fix)
    elif key == "frame_rate":
        rate = _RATES.get(str(value), str(value) if str(value) in choices else None)
        fix = f'write "{rate}"' if rate else f"write one of: {listed(shown(choice) for choice in choices)}"
        findings.add(path, f"{shown(value)} is not a frame rate", fix)
    else:
        close = nearest(value, choices) if isinstance(value, str) else None
        fix = (f"did you mean {shown(close)}? Choices: " if close else "write one of: ") + listed(
            shown(choice) for choice in choices
        )
        findings.add(path, f"{shown(value)} is not a choice here", fix)


def _add_wrong_type(findings: Findings, model: type[BaseModel], path: KeyPath, value: Any) -> None:
    key = _name(path)
    field = field_at(model, path)
    want = expected(field, key) if field else "another value"
    if isinstance(path[-1], int) and want.startswith(("two", "three", "a list")):
        want = f"{want}; every item is a number"
    fix = f"write {want}"
    meant = number_meant(value, key) if isinstance(value, str) else None
    if meant is not None and ("number" in want):
        name = unit(key)
        fix = f"write {meant:g} without quotes{f' (the key is in {name})' if name else ''}"
    elif want.startswith("a timecode") and isinstance(value, time):
        fix = f'write it in quotes and with frames: "{shown(value)}:00"'
    elif want == "text in quotes" and not isinstance(value, str | list | dict):
        fix = f'put it in quotes: "{shown(value)}"'
    findings.add(path, f"{shown(value)} is {kind(value)}, not {want.split(';')[0]}", fix)


def _written(data: Any, location: tuple[int | str, ...]) -> tuple[KeyPath, KeyPath, Any]:
    """Follow a validation error's location through the data as far as it is written.

    Returns the written path, the rest of the location (a missing key, or names of union members,
    which no file contains) and the value at the path.
    """
    path: KeyPath = ()
    rest: KeyPath = ()
    value = data
    for part in location:
        inside = (isinstance(value, dict) and part in value) or (
            isinstance(value, list) and isinstance(part, int) and part < len(value)
        )
        if inside:
            value, path, rest = value[part], (*path, part), ()
        else:
            rest = (*rest, part)
    return path, rest, value


def _not_finite(value: Any, path: KeyPath = ()) -> Iterator[tuple[KeyPath, float]]:
    """Every ``nan`` and ``inf``: TOML can write them, no key can mean them."""
    if isinstance(value, float) and not math.isfinite(value):
        yield path, value
    items = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, item in items:
        yield from _not_finite(item, (*path, key))


def _fits(member: str, value: Any) -> bool:
    """Whether a value is of the sort that a union member (or nothing but a missing key) takes."""
    if member == "str":
        return isinstance(value, str)
    if member in ("float", "constrained-float", "int", "constrained-int"):
        return isinstance(value, int | float) and not isinstance(value, bool)
    if member.startswith("tuple["):
        return isinstance(value, list)
    return not member[:1].isupper() or isinstance(value, dict)


def _with_tuples(value: Any) -> Any:
    """Lists as tuples: strict validation tells the two apart, TOML has only one."""
    if isinstance(value, dict):
        return {key: _with_tuples(item) for key, item in value.items()}
    return tuple(_with_tuples(item) for item in value) if isinstance(value, list) else value


def _name(path: KeyPath) -> str:
    """The last key of a path, list positions left out."""
    return next((part for part in reversed(path) if isinstance(part, str)), dotted(path))
