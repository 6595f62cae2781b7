"""A digest of plain values: equal digests mean equal values, on every machine and in every run.

Every value is fed with its type and its length, so no two different values feed the same bytes. What is
not a plain value is refused; nothing is pickled and no ``repr`` is trusted.
"""

from __future__ import annotations

import struct
from collections.abc import Mapping, Set
from dataclasses import fields, is_dataclass
from enum import Enum
from fractions import Fraction
from hashlib import blake2b
from pathlib import Path
from typing import Any

import numpy as np

DIGEST_BYTES = 20
"""160 bits: a chance of 1e-30 that two of a thousand million pictures share a digest (birthday bound)."""

_NAN = b"nan"


def digest(value: Any) -> bytes:
    """Digest of one value; see ``Digester``."""
    return Digester().of(value)


class Digester:
    """Digests of several values that share parts: a shared part is fed once.

    Plain values are None, bool, int, float, str, bytes, enum members, ``Fraction``; tuples, lists, dicts,
    sets; numpy scalars and arrays of numbers or bools; and frozen dataclasses of them, by their fields.

    Numbers of different types differ (1, 1.0, True), and so do 0.0 and -0.0: what was drawn from one is not
    handed out for the other. Every NaN that is a float is alike; in arrays, bits count. The order of a dict
    or a set does not matter; an array's place in memory does not either.

    Parts are remembered by identity and held, so an array must not be changed between two calls.
    """

    def __init__(self) -> None:
        self._known: dict[int, tuple[Any, bytes]] = {}

    def of(self, value: Any) -> bytes:
        """The digest of a value, DIGEST_BYTES long.

        Raises
        ------
        TypeError : a part of it is not a plain value; names its type.
        """
        held = self._known.get(id(value))
        if held is not None:
            return held[1]
        if isinstance(value, np.ndarray):
            found = _of_array(value)
        elif is_dataclass(value) and not isinstance(value, type):
            found = self._of_dataclass(value)
        else:
            return self._of_plain(value)
        self._known[id(value)] = (value, found)
        return found

    def _of_plain(self, value: Any) -> bytes:
        # Members of IntEnum and numpy's float64 are also int and float.
        if value is None:
            return _feed("none")
        if isinstance(value, Enum):
            return _feed("enum", _type(value), value.name.encode())
        if isinstance(value, np.generic) and not isinstance(value, np.float64 | np.str_ | np.bytes_):
            return _of_array(np.asarray(value), "scalar")
        if isinstance(value, bool):
            return _feed("bool", b"1" if value else b"0")
        if isinstance(value, int):
            return _feed("int", str(int(value)).encode())
        if isinstance(value, float):
            return _feed("float", _NAN if value != value else struct.pack("<d", value))
        if isinstance(value, str):
            return _feed("str", str(value).encode("utf-8", "surrogatepass"))
        if isinstance(value, bytes):
            return _feed("bytes", value)
        if isinstance(value, Fraction):
            return _feed("fraction", str(value.numerator).encode(), str(value.denominator).encode())
        if isinstance(value, tuple | list):
            kind = "list" if isinstance(value, list) else "tuple"
            return _feed(kind, *(self.of(part) for part in value))
        if isinstance(value, Mapping):
            return _feed("dict", *sorted(self.of(key) + self.of(part) for key, part in value.items()))
        if isinstance(value, Set):
            return _feed("set", *sorted(self.of(part) for part in value))
        raise TypeError(f"no digest of a {type(value).__name__}: it is not a plain value")

    def _of_dataclass(self, value: Any) -> bytes:
        if not value.__dataclass_params__.frozen:
            raise TypeError(f"no digest of a {type(value).__name__}: it is not frozen")
        parts = [_type(value)]
        for field in fields(value):
            parts += [field.name.encode(), self.of(getattr(value, field.name))]
        return _feed("dataclass", *parts)


def file_digest(path: Path) -> bytes:
    """Digest of a file's bytes."""
    return _feed("file", path.read_bytes())


def _of_array(array: np.ndarray, kind: str = "array") -> bytes:
    if array.dtype.kind not in "biufc":
        raise TypeError(f"no digest of an array of {array.dtype}: it is not of numbers")
    shape = ",".join(str(side) for side in array.shape)
    memory = np.ascontiguousarray(array).reshape(-1).view(np.uint8).data
    return _feed(kind, array.dtype.str.encode(), shape.encode(), memory)


def _type(value: object) -> bytes:
    return f"{type(value).__module__}.{type(value).__qualname__}".encode()


def _feed(kind: str, *parts: bytes | memoryview) -> bytes:
    whole = blake2b(digest_size=DIGEST_BYTES)
    for part in (kind.encode(), *parts):
        whole.update(struct.pack("<Q", memoryview(part).nbytes))
        whole.update(part)
    return whole.digest()
