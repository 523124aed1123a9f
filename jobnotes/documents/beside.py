"""A finished file to its place: written beside its name and renamed, so that none is ever half there."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

from jobnotes.errors import JobnotesError


def put(content: bytes, path: Path) -> None:
    """Write `content` to `path`; raises JobnotesError where it can't be written, and then leaves nothing."""
    try:
        handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
        try:
            with os.fdopen(handle, "wb") as file:
                file.write(content)
            os.chmod(name, 0o644)
            os.replace(name, path)
        except BaseException:
            Path(name).unlink(missing_ok=True)
            raise
    except OSError as error:
        raise JobnotesError(
            str(path), error.strerror or "can't be written", "check the folder, its rights and its space"
        ) from error
