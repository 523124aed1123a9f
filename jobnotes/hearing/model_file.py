"""A CTranslate2 model file (`model.bin`, format version 6): named arrays, read and written.

Its layout is that of ctranslate2's own converter (`ctranslate2.specs.model_spec`, package ctranslate2 4.8):
numbers little endian, strings with their length before and a zero after them; what follows the arrays (names
for the same array) is kept as it is. A file that is read and written again is the same byte for byte.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

_VERSION = 6
# the file's numbers for kinds of array
_KINDS: dict[int, np.dtype[Any]] = {
    0: np.dtype("<f4"),
    1: np.dtype("i1"),
    2: np.dtype("<i2"),
    3: np.dtype("<i4"),
    4: np.dtype("<f2"),
}
_NUMBERS = {kind: number for number, kind in _KINDS.items()}

Arrays = Mapping[str, NDArray[Any]]


@dataclass(frozen=True, slots=True)
class ModelFile:
    """The model's kind and revision, its arrays by name, and the rest of the file."""

    spec: str
    revision: int
    arrays: Arrays
    rest: bytes


def read(content: bytes) -> ModelFile:
    """The arrays in `content`, as views of it; raises ValueError where it isn't such a file."""
    at = 0

    def number(kind: str) -> int:
        nonlocal at
        (value,) = struct.unpack_from(f"<{kind}", content, at)
        at += struct.calcsize(kind)
        return int(value)

    def name() -> str:
        nonlocal at
        length = number("H")
        at += length
        return content[at - length : at].rstrip(b"\0").decode()

    try:
        if number("I") != _VERSION:
            raise ValueError("this version of the format isn't known")
        spec, revision, count = name(), number("I"), number("I")
        arrays: dict[str, NDArray[Any]] = {}
        for _ in range(count):
            called = name()
            shape = [number("I") for _ in range(number("B"))]
            kind, size = _KINDS[number("B")], number("I")
            arrays[called] = np.frombuffer(content, kind, size // kind.itemsize, at).reshape(shape)
            at += size
    except (struct.error, KeyError, UnicodeDecodeError) as error:
        raise ValueError(f"not a model file ({error})") from None
    return ModelFile(spec, revision, arrays, content[at:])


def written(file: ModelFile) -> Iterator[bytes]:
    """The file's content, in pieces."""
    yield struct.pack("<I", _VERSION) + _string(file.spec)
    yield struct.pack("<II", file.revision, len(file.arrays))
    for name, array in file.arrays.items():
        shape = b"".join(struct.pack("<I", length) for length in array.shape)
        kind = struct.pack("<BI", _NUMBERS[array.dtype.newbyteorder("<")], array.nbytes)
        yield _string(name) + struct.pack("<B", array.ndim) + shape + kind
        yield array.tobytes()
    yield file.rest


def _string(text: str) -> bytes:
    raw = text.encode() + b"\0"
    return struct.pack("<H", len(raw)) + raw
