"""Weights tuned to the trade's speech: a small addition to those that a package carries.

Some matrices W of the model (n by m) become W + B·A, with A (r by m) and B (n by r) of a small r: low-rank
adaptation (Hu et al. 2021, arXiv:2106.09685). A and B are 16-bit whole numbers times a power of two, so their
product is exact in double precision, whatever the order of its sums, and the tuned file is the same byte for
byte on every machine. How a tuning is made: models/tuning.
"""

from __future__ import annotations

import io
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any, Self

import numpy as np
from numpy.typing import NDArray

from jobnotes.hearing import model_file

_LARGEST = 32767


@dataclass(frozen=True, slots=True)
class Addition:
    """What is added to a matrix: `b` (n, r) times `a` (r, m), both int16, times 2 to the power `exponent`."""

    a: NDArray[np.int16]
    b: NDArray[np.int16]
    exponent: int

    @classmethod
    def nearest(cls, a: NDArray[Any], b: NDArray[Any]) -> Self:
        """The addition that comes nearest to `b` times `a`."""
        (whole_a, power_a), (whole_b, power_b) = _whole(a), _whole(b)
        return cls(whole_a, whole_b, power_a + power_b)

    def product(self) -> NDArray[np.float64]:
        """`b` times `a`, exact: (n, m)."""
        return np.ldexp(self.b.astype(np.float64) @ self.a.astype(np.float64), self.exponent)


def _whole(values: NDArray[Any]) -> tuple[NDArray[np.int16], int]:
    largest = float(np.abs(values).max(initial=0.0))
    power = int(np.ceil(np.log2(largest / _LARGEST))) if largest else 0
    return np.rint(np.ldexp(np.asarray(values, np.float64), -power)).astype(np.int16), power


def dumped(additions: Mapping[str, Addition]) -> bytes:
    """The additions, by the name of the array that each is for, as a file."""
    arrays: dict[str, Any] = {}
    for name, one in sorted(additions.items()):
        arrays |= {f"{name} a": one.a, f"{name} b": one.b, f"{name} exponent": np.int16(one.exponent)}
    out = io.BytesIO()
    np.savez_compressed(out, **arrays)
    return out.getvalue()


def loaded(content: bytes) -> dict[str, Addition]:
    """What `dumped` made a file of; raises ValueError where it isn't one."""
    with np.load(io.BytesIO(content), allow_pickle=False) as arrays:
        names = [name.removesuffix(" a") for name in arrays if name.endswith(" a")]
        return {
            name: Addition(arrays[f"{name} a"], arrays[f"{name} b"], int(arrays[f"{name} exponent"]))
            for name in names
        }


def tuned(model: bytes, additions: Mapping[str, Addition]) -> Iterator[bytes]:
    """The model file with the additions, in pieces; raises ValueError where they are not for this model."""
    file = model_file.read(model)
    arrays = dict(file.arrays)
    for name, addition in additions.items():
        if name not in arrays:
            raise ValueError(f"the model has no {name}")
        # one rounding of each number, to what the model holds
        arrays[name] = (arrays[name] + addition.product()).astype(arrays[name].dtype)
    return model_file.written(replace(file, arrays=arrays))
