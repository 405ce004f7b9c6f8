"""Results as bytes and back, to the last bit: no code in them, and none run to read them.

What can be written is plain data (None, truth values, numbers, text, lists, tuples, dicts), numpy
arrays and numbers, and the package's own dataclasses, named tuples and enumerations of such; of a
dataclass its fields, and not what it has worked out on the way. Reading makes these and nothing
else: a class is looked up in this package, and its fields are set without running its checks, as
it had passed them when it was written.

The bytes are a line of JSON and the content of the arrays behind it. An object that stands in
several places is written once, and is one object again.
"""

from __future__ import annotations

import dataclasses
import hashlib
import json
from enum import Enum
from functools import cache
from importlib import import_module
from typing import Any

_PACKAGE = __name__.partition(".")[0]
_AS_IT_IS = (bool, int, float, str)
_NUMBERS = "biufU"  # kinds of arrays: no objects


class NotPlain(TypeError):
    """Something that cannot be written."""


class Unreadable(ValueError):
    """Bytes that were not written here."""


def to_bytes(value: object) -> bytes:
    """Return a result as bytes.

    Parameters
    ----------
    value : object

    Raises
    ------
    NotPlain
        If it holds something else than what can be written.

    Examples
    --------
    >>> from_bytes(to_bytes({"speed": (1.5, None)}))
    {'speed': (1.5, None)}
    """
    writer = _Writer(share=True)
    return writer.whole(value)


def digest(*values: object) -> str:
    """Return a hexadecimal digest of everything that values hold.

    Parameters
    ----------
    *values : object

    Raises
    ------
    NotPlain
        As `to_bytes`.
    """
    return hashlib.sha256(_Writer(share=False).whole(values)).hexdigest()


def from_bytes(raw: bytes) -> Any:
    """Return what `to_bytes` was given.

    Parameters
    ----------
    raw : bytes

    Raises
    ------
    Unreadable
        If they were not written by it.
    """
    line, _, arrays = raw.partition(b"\n")
    try:
        records, top = json.loads(line)
        reader = _Reader(arrays)
        for name, values in records:
            reader.records.append(reader.record(name, values))
        return reader.made(top)
    except (ValueError, TypeError, LookupError, AttributeError, ImportError) as error:
        raise Unreadable(f"not a result that was kept: {error}") from None


@dataclasses.dataclass
class _Writer:
    """What was written so far."""

    share: bool
    records: list[Any] = dataclasses.field(default_factory=list)
    arrays: bytearray = dataclasses.field(default_factory=bytearray)
    # Of what is shared: where it stands, and the object, so that no other takes its place.
    places: dict[int, tuple[Any, object]] = dataclasses.field(default_factory=dict)

    def whole(self, value: object) -> bytes:
        top = self.flat(value)
        line = json.dumps([self.records, top], separators=(",", ":"))
        return line.encode() + b"\n" + bytes(self.arrays)

    def flat(self, value: Any) -> Any:
        """Return a value as JSON carries it; whatever JSON has no form for is marked."""
        kind = type(value)
        if value is None or kind in _AS_IT_IS:
            return value
        if kind is list:
            return [self.flat(item) for item in value]
        if kind is tuple:
            return {"tuple": [self.flat(item) for item in value]}
        if kind is dict:
            return {"dict": [[self.flat(key), self.flat(item)] for key, item in value.items()]}
        if isinstance(value, Enum):
            return {"one of": [_name(kind), value.name]}
        if self.share and id(value) in self.places:
            return self.places[id(value)][0]
        written = self._marked(value, kind)
        if self.share:
            self.places[id(value)] = written, value
        return written

    def _marked(self, value: Any, kind: type) -> dict[str, Any]:
        import numpy as np

        if kind is np.ndarray:
            return {"array": self._array(value)}
        if isinstance(value, np.generic):
            return {"number": self._array(np.asarray(value))}
        if dataclasses.is_dataclass(kind):
            fields = [getattr(value, item.name) for item in dataclasses.fields(kind)]
        elif isinstance(value, tuple) and hasattr(kind, "_fields"):
            fields = list(value)
        else:
            raise NotPlain(f"{kind.__module__}.{kind.__qualname__} cannot be kept")
        record = [_name(kind), [self.flat(item) for item in fields]]
        if not self.share:
            return {"of": record}
        self.records.append(record)
        return {"record": len(self.records) - 1}

    def _array(self, value: Any) -> list[Any]:
        if value.dtype.kind not in _NUMBERS:
            raise NotPlain(f"an array of {value.dtype} cannot be kept")
        begin = len(self.arrays)
        self.arrays += value.tobytes(order="A")  # by columns, where it stands so
        by_column = value.flags.f_contiguous and not value.flags.c_contiguous
        order = "F" if by_column else "C"
        return [value.dtype.str, list(value.shape), order, bool(value.flags.writeable), begin]


@dataclasses.dataclass
class _Reader:
    """What was read so far."""

    arrays: bytes
    records: list[Any] = dataclasses.field(default_factory=list)
    known: dict[int, Any] = dataclasses.field(default_factory=dict)  # arrays, by where they begin

    def made(self, value: Any) -> Any:
        if isinstance(value, list):
            return [self.made(item) for item in value]
        if not isinstance(value, dict):
            return value
        [(mark, content)] = value.items()
        if mark == "tuple":
            return tuple(self.made(item) for item in content)
        if mark == "dict":
            return {self.made(key): self.made(item) for key, item in content}
        if mark == "record":
            return self.records[content]
        if mark == "one of":
            return _class(content[0])[content[1]]
        if mark == "array":
            return self._array(*content)
        if mark == "number":
            return self._array(*content)[()]
        raise Unreadable(f"no such mark: {mark}")

    def record(self, name: str, values: list[Any]) -> Any:
        kind, content = _class(name), [self.made(item) for item in values]
        if issubclass(kind, tuple):
            return kind(*content)
        made: Any = object.__new__(kind)
        for item, value in zip(dataclasses.fields(kind), content, strict=True):
            object.__setattr__(made, item.name, value)
        return made

    def _array(self, kind: str, shape: list[int], order: Any, writable: bool, begin: int) -> Any:
        import numpy as np

        dtype = np.dtype(kind)
        if dtype.kind not in _NUMBERS:
            raise Unreadable(f"an array of {kind}")
        if begin in self.known:
            return self.known[begin]
        count = int(np.prod(shape, dtype=np.int64))
        flat = np.frombuffer(self.arrays, dtype, count, begin) if count else np.empty(0, dtype)
        made = flat.reshape(shape, order=order).copy(order="K")
        made.setflags(write=writable)
        if count:  # an empty one begins where the next one does
            self.known[begin] = made
        return made


def _name(kind: type) -> str:
    if kind.__module__.partition(".")[0] != _PACKAGE:
        raise NotPlain(f"{kind.__module__}.{kind.__qualname__} cannot be kept")
    return f"{kind.__module__}:{kind.__qualname__}"


@cache
def _class(name: str) -> Any:
    """Return a class of this package by its name: one that holds fields, or an enumeration."""
    module, _, path = name.partition(":")
    if module.partition(".")[0] != _PACKAGE or module.endswith("__main__"):
        raise Unreadable(f"{name} is not of this package")
    found: Any = import_module(module)
    for part in path.split("."):
        found = getattr(found, part)
    named = isinstance(found, type) and issubclass(found, tuple) and hasattr(found, "_fields")
    if not isinstance(found, type) or not (
        named or dataclasses.is_dataclass(found) or issubclass(found, Enum)
    ):
        raise Unreadable(f"{name} holds no fields")
    return found
