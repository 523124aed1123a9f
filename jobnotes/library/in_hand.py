"""A document in hand: was it drawn here, from which record, and is it still as it was drawn?

Known by its bytes, which the journal has; a document that was changed, and be it only saved again by another
program, is no longer those. It still names the record that it was drawn from.
"""

from __future__ import annotations

import hashlib
import zipfile
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from lxml import etree

from jobnotes.errors import JobnotesError
from jobnotes.library import deletion
from jobnotes.library.journal import Entry
from jobnotes.library.library import Library

State = Literal["current", "earlier", "deleted", "altered", "untold", "unknown"]
"""`current`: as drawn from the record that the library keeps. `earlier`: as drawn from one before that.
`deleted`: as drawn, and its job was deleted since. `altered`: names a record of the library, but has other
bytes than what was drawn from it. `untold`: names one from before there was a journal, which can't tell.
`unknown`: the library knows nothing of it.
"""

#: of Dublin Core, in an Office Open XML package (ECMA-376 part 2, core properties)
_CORE, _IDENTIFIER = "docProps/core.xml", "{http://purl.org/dc/elements/1.1/}identifier"
_MOST_BYTES = 1 << 20
_SCHEME = "sha256:"


@dataclass(frozen=True, slots=True)
class Standing:
    """What the library says of one document: `reason` is for a person."""

    file: str
    sha256: str
    state: State
    reason: str
    job: str | None = None

    @property
    def fits(self) -> bool:
        return self.state == "current"


def standing(path: Path, kept: Library) -> Standing:
    """What the library's journal says of the document at `path`. Raises JobnotesError if it can't be read."""
    try:
        with path.open("rb") as file:
            sha256 = hashlib.file_digest(file, "sha256").hexdigest()
    except OSError as error:
        raise JobnotesError(
            str(path), f"can't be read ({error.strerror or type(error).__name__})", "name the document itself"
        ) from error
    drawn = kept.drawn_as(sha256)
    if drawn is not None:
        return _as_drawn(path.name, sha256, drawn, kept)
    try:
        said = identifier_in(path)
    except DamagedError:
        said = None
    record = said.removeprefix(_SCHEME) if said and said.startswith(_SCHEME) else ""
    entry = kept.drew_from(record) or kept.had_record(record)
    if entry is None:
        reason = (
            "was not drawn from this library" if record else "says of no record that it was drawn from it"
        )
        return Standing(path.name, sha256, "unknown", reason)
    job = str(entry.said["job"])
    if entry.said.get("carried_over"):  # a record's: what was drawn is journalled as it is drawn
        reason = (
            f"names a record of job {job} from before there was a journal, which can't tell if it was altered"
        )
        return Standing(path.name, sha256, "untold", reason, job)
    reason = f"was altered: it names a record of job {job} (entry {entry.number}), but wasn't drawn like this"
    return Standing(path.name, sha256, "altered", reason, job)


def _as_drawn(file: str, sha256: str, drawn: Entry, kept: Library) -> Standing:
    job, record = str(drawn.said["job"]), drawn.said["record"]
    at = f"{drawn.at.date().isoformat()} (entry {drawn.number})"
    gone = kept.deletion_of(job)
    if gone is not None:
        reason = f"is as it was drawn on {at}, but its job {job} {deletion.told(gone)}"
        return Standing(file, sha256, "deleted", reason, job)
    now = kept.record(job)
    if now is not None and now.sha256 == record:
        reason = f"is as it was drawn on {at} from the record of job {job} that the library keeps"
        return Standing(file, sha256, "current", reason, job)
    saved = "" if now is None else f", of {now.saved_at.date().isoformat()}"
    reason = f"is as it was drawn on {at}, but the library has a later record of job {job}{saved}"
    return Standing(file, sha256, "earlier", reason, job)


class DamagedError(Exception):
    """A document that can't be opened."""


def identifier_in(path: Path) -> str | None:
    """The core property `identifier` of a document, which names its record; None if it has none.

    Its other parts are only held against their checksums. Raises DamagedError if it is no document, or one
    that is damaged.
    """
    try:
        with zipfile.ZipFile(path) as package:
            damaged = package.testzip()
            with package.open(_CORE) as part:
                content = part.read(_MOST_BYTES + 1)
        if damaged is not None or len(content) > _MOST_BYTES:
            raise DamagedError(damaged or _CORE)
        core = etree.fromstring(content, etree.XMLParser(resolve_entities=False, no_network=True))
    except DamagedError:
        raise
    except Exception as error:  # whatever the zip or XML reader makes of a damaged file, it is damaged
        raise DamagedError(str(path)) from error
    found = core.findtext(_IDENTIFIER)
    return str(found).strip() or None if found else None
