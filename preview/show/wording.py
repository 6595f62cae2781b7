"""What a key expects and what was found there, in words for the person who edits the file."""

from __future__ import annotations

import difflib
import json
import re
from collections.abc import Iterable
from datetime import date, time
from types import NoneType
from typing import Annotated, Any, Literal, get_args, get_origin

import annotated_types
from pydantic import BaseModel
from pydantic.fields import FieldInfo

from preview.stage.placement import METRES_PER_UNIT

UNITS = {
    "cd_m2": "candela per square metre",
    "mm": "millimetres",
    "m": "metres",
    "deg": "degrees",
    "s": "seconds",
    "ms": "milliseconds",
    "hz": "hertz",
    "px": "pixels",
    "percent": "per cent",
    "stops": "stops",
    "frames": "frames",
    "lx": "lux",
}
"""Unit suffix of a key and its name."""

_TIMECODES = ("start", "start_timecode", "duration")

_SUFFIX = re.compile(r"_(cd_m2|cm|mm|in|ft|m|rad|deg|ms|s|k?hz|px|percent|stops|frames|lx|nits?)$")
_NUMBER_TEXT = re.compile(r"\s*([-+]?\d+(?:[.,]\d+)?)\s*([A-Za-z°%/²0-9]*)\s*")
_COUNT = {2: "two", 3: "three"}
_AXES = {2: "[width, height]", 3: "[x, y, z]"}


def stem(key: str) -> str:
    """A key without its unit.

    >>> stem("pixel_pitch_cm"), stem("peak_luminance_cd_m2"), stem("name")
    ('pixel_pitch', 'peak_luminance', 'name')
    """
    return _SUFFIX.sub("", key)


def unit(key: str) -> str | None:
    """Unit that a key's suffix stands for, as a word.

    >>> unit("arm_m"), unit("white_cd_m2"), unit("tile"), unit("iso")
    ('metres', 'candela per square metre', None, None)
    """
    suffix = _SUFFIX.search(key)
    if key == "look_at":
        return "metres"
    return UNITS.get(suffix[1]) if suffix else None


def nearest(word: str, known: Iterable[str]) -> str | None:
    """The known word most like ``word`` (spelling, capitals, unit), if any is like it.

    >>> nearest("pixel_pich_mm", ["pixel_pitch_mm", "position_m"])
    'pixel_pitch_mm'
    """
    candidates = {name.lower(): name for name in known}
    lower = word.lower()
    for name in candidates.values():
        if stem(name.lower()) == stem(lower):
            return name
    close = difflib.get_close_matches(lower, list(candidates), n=1)
    return candidates[close[0]] if close else None


def listed(words: Iterable[str], most: int = 12) -> str:
    """Words in a row, cut short when there are many; "none" for none."""
    words = list(words)
    shown = ", ".join(words[:most])
    return (shown + (f" and {len(words) - most} more" if len(words) > most else "")) or "none"


def suggestion(word: str, known: Iterable[str]) -> str:
    """The fix for a name that does not exist.

    >>> suggestion("CAM3", ["CAM1", "CAM2"])
    "did you mean 'CAM2'? There are: CAM1, CAM2"
    """
    known = list(known)
    if not known:
        return "there is none"
    close = nearest(word, known)
    return (f"did you mean {close!r}? There are: " if close else "write one of: ") + listed(known)


def shown(value: Any) -> str:
    """A value as TOML writes it, cut short when it is long."""
    if isinstance(value, bool):
        text = str(value).lower()
    elif isinstance(value, str):
        text = json.dumps(value, ensure_ascii=False)
    elif isinstance(value, date | time):
        text = value.isoformat()
    elif isinstance(value, list | tuple):
        text = "[" + ", ".join(shown(item) for item in value[:8]) + (", ...]" if len(value) > 8 else "]")
    elif isinstance(value, dict):
        text = "{" + ", ".join(f"{key} = {shown(item)}" for key, item in list(value.items())[:4]) + "}"
    elif isinstance(value, int) and value.bit_length() > 200:
        text = "a number of more than 60 digits"
    else:
        text = str(value)
    return text if len(text) <= 60 else text[:57] + "..."


def kind(value: Any) -> str:
    """What sort of TOML value this is."""
    kinds: list[tuple[Any, str]] = [
        (bool, "true or false"),
        (str, "text"),
        ((int, float), "a number"),
        ((list, tuple), "a list"),
        (dict, "a table"),
        ((date, time), "a time without quotes"),
    ]
    return next((name for types, name in kinds if isinstance(value, types)), "a value")


def expected(field: FieldInfo, key: str) -> str:
    """What a field wants, with unit and bounds.

    >>> from preview.show.model import Surface
    >>> expected(Surface.model_fields["pixel_pitch_mm"], "pixel_pitch_mm")
    'a number in millimetres above 0'
    """
    annotation = field.annotation
    if field.metadata:
        annotation = Annotated[(annotation, *field.metadata)]  # type: ignore[assignment]
    return _describe(annotation, key)


def number_meant(text: str, key: str) -> float | None:
    """The number a text with a unit stands for, in the unit of ``key``; None when that is unclear.

    >>> number_meant("2.6mm", "pixel_pitch_mm"), number_meant("20 cm", "arm_m"), number_meant("x", "arm_m")
    (2.6, 0.2, None)
    """
    match = _NUMBER_TEXT.fullmatch(text)
    if not match:
        return None
    number, written = float(match[1].replace(",", ".")), match[2].lower()
    suffix = _SUFFIX.search(key)
    wanted = suffix[1] if suffix else ""
    if written in ("", wanted) or (written, wanted) in {("°", "deg"), ("%", "percent"), ("cd/m2", "cd_m2")}:
        return number
    if written in METRES_PER_UNIT and wanted in METRES_PER_UNIT:
        return float(f"{number * METRES_PER_UNIT[written] / METRES_PER_UNIT[wanted]:.9g}")
    return None


def _describe(annotation: Any, key: str) -> str:
    origin, arguments = get_origin(annotation), get_args(annotation)
    if origin is Annotated:
        return _describe_limits(arguments[0], arguments[1:], key)
    if origin is Literal:
        return " or ".join(shown(choice) for choice in arguments)
    if origin is tuple:
        return _describe_list(arguments, key)
    if origin is dict:
        return "a table of tables"
    if arguments:  # a union
        return " or ".join(_describe(part, key) for part in arguments if part is not NoneType)
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return f"a table with {listed(_required(annotation)) if _required(annotation) else 'its keys'}"
    return _describe_limits(annotation, (), key)


def _describe_list(arguments: tuple[Any, ...], key: str) -> str:
    item = arguments[0]
    if isinstance(item, type) and issubclass(item, BaseModel):
        return f"one or more tables ([[...{key}]])"
    if arguments[-1] is Ellipsis:
        return f"a list of {_describe(item, key).removeprefix('a ').replace('number', 'numbers', 1)}"
    name = unit(key)
    whole = "whole " if _base(item) is int else ""
    return (
        f"{_COUNT.get(len(arguments), len(arguments))} {whole}numbers"
        f"{f' in {name}' if name else ''} as {_pair(key, len(arguments))}"
    )


def _pair(key: str, count: int) -> str:
    return "[lowest, highest]" if "range" in key or key == "focal_length_mm" else _AXES.get(count, "[...]")


def _describe_limits(base: Any, metadata: tuple[Any, ...], key: str) -> str:
    above = below = pattern = None
    for item in _flat(metadata):
        if isinstance(item, annotated_types.Gt):
            above = f"above {item.gt:g}"  # type: ignore[str-format]
        elif isinstance(item, annotated_types.Ge):
            above = f"of at least {item.ge:g}"  # type: ignore[str-format]
        elif isinstance(item, annotated_types.Lt):
            below = f"below {item.lt:g}"  # type: ignore[str-format]
        elif isinstance(item, annotated_types.Le):
            below = f"up to {item.le:g}"  # type: ignore[str-format]
        pattern = getattr(item, "pattern", None) or pattern
    if base is str and pattern:
        if pattern.startswith("^#"):
            return 'a colour as "#rrggbb"'
        return 'a name in quotes: up to 40 letters, digits, spaces, "_", "." or "-"'
    if base is str:
        return 'a timecode in quotes ("HH:MM:SS:FF")' if key in _TIMECODES else "text in quotes"
    if base is bool:
        return "true or false"
    if above and below and above.startswith("of at") and below.startswith("up"):
        above, below = f"from {above.split()[-1]} to {below.split()[-1]}", None
    name = "seconds" if key == "duration" else unit(key)
    text = ("a whole number" if base is int else "a number") + (f" in {name}" if name else "")
    return text + "".join(f" {limit}" for limit in (above, below) if limit).replace(" below", " and below")


def _flat(metadata: tuple[Any, ...]) -> list[Any]:
    """Constraints, with those that pydantic wraps in a ``Field`` taken out of it."""
    found: list[Any] = []
    for item in metadata:
        found.extend(item.metadata if isinstance(item, FieldInfo) else [item])
    return found


def _base(annotation: Any) -> Any:
    return get_args(annotation)[0] if get_origin(annotation) is Annotated else annotation


def _required(table: type[BaseModel]) -> list[str]:
    return [name for name, field in table.model_fields.items() if field.is_required()]
