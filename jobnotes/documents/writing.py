"""Records to files. Each file is written beside its name and renamed, so that none is ever half there."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Callable, Mapping
from pathlib import Path

from jobnotes import record as r
from jobnotes.documents.claim import draw_claim
from jobnotes.documents.customer import draw_customer
from jobnotes.documents.files import digest, file_digest, made, unwritable
from jobnotes.documents.house import House, load
from jobnotes.documents.pictures import Pictures, Shelf
from jobnotes.documents.sheet import Properties, Sheet
from jobnotes.documents.view import view
from jobnotes.documents.workshop import draw_workshop
from jobnotes.durable import sync_folder

CLAIM, CUSTOMER, WORKSHOP = "claim.docx", "customer.docx", "workshop.docx"
UNFINISHED = ".documents."
"""With what the name of a folder begins in which documents are drawn."""

Draw = Callable[[r.Record, Shelf, House], tuple[Sheet, str]]
_DRAW: dict[str, Draw] = {CLAIM: draw_claim, CUSTOMER: draw_customer, WORKSHOP: draw_workshop}


def write_claim(
    record: r.Record,
    pictures: Pictures,
    path: Path,
    *,
    record_sha256: str | None = None,
    house: House | None = None,
) -> None:
    """Write the warranty claim report.

    `record_sha256` is of the bytes of `record.json`; without it, it is worked out from the record.
    Raises JobnotesError where the file can't be written.
    """
    _write_one(draw_claim, record, pictures, path, record_sha256, house)


def write_customer(
    record: r.Record,
    pictures: Pictures,
    path: Path,
    *,
    record_sha256: str | None = None,
    house: House | None = None,
) -> None:
    """Write the customer's invoice, or report where it is not priced yet. As `write_claim`."""
    _write_one(draw_customer, record, pictures, path, record_sha256, house)


def write_workshop(
    record: r.Record,
    pictures: Pictures,
    path: Path,
    *,
    record_sha256: str | None = None,
    house: House | None = None,
) -> None:
    """Write the job sheet. As `write_claim`."""
    _write_one(draw_workshop, record, pictures, path, record_sha256, house)


def write_all(
    record: r.Record,
    record_sha256: str | None,
    pictures: Pictures,
    out_dir: Path,
    *,
    house: House | None = None,
    finished: Callable[[Mapping[str, str]], object] = dict,
) -> tuple[Path, Path, Path]:
    """Write `claim.docx`, `customer.docx` and `workshop.docx` to `out_dir`; returns their paths.

    The three are put in place only when all of them are ready, and after `finished` was told their digests
    (SHA-256, by name) and has returned. Raises JobnotesError where they can't be
    written.
    """
    sha256 = record_sha256 or digest(record)
    style = house or load()
    paths = (out_dir / CLAIM, out_dir / CUSTOMER, out_dir / WORKSHOP)
    try:
        with tempfile.TemporaryDirectory(dir=out_dir, prefix=UNFINISHED) as folder:
            shelf = Shelf(pictures, Path(folder))
            # claim and customer show the same photos, if not at the same size
            both = view(record, style, private=False, doubt="check").photos
            shelf.prepare(both, (style.picture_budget["claim"], style.picture_budget["customer"]))
            for name, draw in _DRAW.items():
                sheet, title = draw(record, shelf, style)
                sheet.save(Path(folder) / name, _properties(record, sha256, title))
            finished({path.name: file_digest(Path(folder) / path.name) for path in paths})
            for path in paths:
                os.replace(Path(folder) / path.name, path)
            sync_folder(out_dir)
    except OSError as error:
        raise unwritable(out_dir, error) from error
    return paths


def _write_one(
    draw: Draw,
    record: r.Record,
    pictures: Pictures,
    path: Path,
    record_sha256: str | None,
    house: House | None,
) -> None:
    try:
        with tempfile.TemporaryDirectory(prefix="jobnotes-documents.") as folder:
            sheet, title = draw(record, Shelf(pictures, Path(folder)), house or load())
            sheet.save(path, _properties(record, record_sha256 or digest(record), title))
    except OSError as error:
        raise unwritable(path, error) from error


def _properties(record: r.Record, sha256: str, title: str) -> Properties:
    return Properties(title=title, identifier=f"sha256:{sha256}", made=made(record))
