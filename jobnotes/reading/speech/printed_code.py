"""A trouble code as it is printed, in one word: no name of a thing, no heading and no number of a part."""

from __future__ import annotations

import re

#: A letter, a digit 0–3 and three hexadecimal digits (ISO 15031-6 / SAE J2012).
_TROUBLE_CODE = re.compile(r"[pcbu][0-3][0-9a-f]{3}")
_LENGTH = 5


def written_as_code(norm: str) -> bool:
    """Whether one token is a trouble code as it is printed: "p0401"."""
    return len(norm) == _LENGTH and _TROUBLE_CODE.fullmatch(norm) is not None
