"""What is far too large, or says so, is refused or read within bounds of memory and time."""

from __future__ import annotations

import sys

import pytest
from oversized import CASES

pytestmark = pytest.mark.skipif(not sys.platform.startswith("linux"), reason="bounds by the limits of Linux")

#: what is made and read in no time; what must be said of it
QUICK = {
    "a wave of a second that claims 4 GiB": "read: 0.0 minutes and a problem",
    "a wave of one sample a second, for six days": (
        "refused: has only 1 samples a second, in which no speech can be heard"
    ),
    "a photo of 200 megapixels in 25 kB": "refused: has more than 120 million pixels",
    "a jpeg that claims 4.3 gigapixels": "refused: has more than 120 million pixels",
    "a zip that holds a thousandfold of its size": "refused: holds far more than a model would",
}
LONG = {
    "a recording of three hours": ("read: 180.0 minutes", 900),
    "a photo of just as many pixels as are taken": ("read: 120 megapixels, shown at 1600 × 1333", 900),
    "5,000 files in a folder": ("taken in: 100 recordings, 4,900 photos", 300),
    "a price list of 200,000 lines": ("read", 600),
}


@pytest.mark.parametrize("name", QUICK)
def test_what_claims_too_much_costs_nothing(name: str) -> None:
    told = CASES[name]()
    assert (told.happened, told.broken) == (QUICK[name], ())
    assert told.most_mb < 100


@pytest.mark.slow
@pytest.mark.parametrize("name", LONG)
def test_what_is_large_is_read_within_bounds(name: str) -> None:
    told = CASES[name]()
    assert (told.happened, told.broken) == (LONG[name][0], ())
    assert told.most_mb < LONG[name][1]


def test_every_case_is_tried() -> None:
    assert QUICK.keys() | LONG.keys() == CASES.keys()
