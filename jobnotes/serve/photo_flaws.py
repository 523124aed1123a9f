"""What is wrong with a photo, told while it can be taken again: measured as soon as a page asks."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from jobnotes.errors import UnusableInputError
from jobnotes.record import Flaw
from jobnotes.seeing import quality
from jobnotes.serve.kept import Kept

_MOST_KEPT = 4096
#: by the digest of the original, which never changes
_measured: Kept[str, tuple[Flaw, ...]] = Kept(_MOST_KEPT)


def measured(path: Path, sha256: str) -> tuple[Flaw, ...]:
    """The flaws of the photo there; none where it can't be opened, which is said elsewhere."""
    return _measured.once(sha256, lambda: _measure(path))


def _measure(path: Path) -> tuple[Flaw, ...]:
    try:
        return quality.flaws_of_file(path)
    except (UnusableInputError, OSError, MemoryError):
        return ()


def told(flaws: Sequence[Flaw]) -> dict[str, Any]:
    """The keys of the state that say so; none where nothing is wrong."""
    return {"flaws": list(flaws), "remark": quality.remark(flaws)} if flaws else {}
