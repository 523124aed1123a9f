"""`jobnotes verify`: do originals, record and documents still fit each other?"""

from __future__ import annotations

import json
import sys
from pathlib import Path

import click

from jobnotes.errors import JobnotesError, one_line
from jobnotes.library.verification import Verification, verify_folder

_SHOW_PROGRESS_ABOVE = 200


@click.command(short_help="Check originals, record and documents against each other.")
@click.option(
    "--out",
    required=True,
    type=click.Path(path_type=Path),
    metavar="DIR",
    help="The folder that `jobnotes run` wrote: record.json and the documents.",
)
@click.option(
    "--library",
    type=click.Path(path_type=Path),
    metavar="DIR",
    help="The workshop's own library; else the one in the folder itself.",
)
@click.option("--everything", is_flag=True, help="Read every original of the library, not only this job's.")
@click.option("--json", "as_json", is_flag=True, help="Print the result as JSON.")
def verify(out: Path, library: Path | None, everything: bool, as_json: bool) -> None:
    """Check originals, record and documents against each other.

    Originals must still have the digest they were taken in with, record.json must be the one that the
    library keeps, and each document must have been drawn from it. The first thing that doesn't fit is named
    on standard error.

    Exit status: 0 everything fits, 1 something doesn't, 2 there was nothing to check.
    """
    try:
        # a folder's own library holds little else than this job
        found = verify_folder(
            out, library or out / "library", everything=everything or library is None, progress=_progress
        )
    except JobnotesError as error:
        click.echo(str(error), err=True)
        sys.exit(2)
    click.echo(_as_json(found) if as_json else _as_text(found))
    if not found.fits:
        first = found.misfits[0]
        click.echo(one_line(f"{first.subject}: {first.reason}"), err=True)
        sys.exit(1)


def _as_text(found: Verification) -> str:
    lines = [
        f"Checked: {_count(found.originals, 'original')}, {_count(found.records, 'record')}, "
        f"{_count(found.documents, 'document')}.",
        *(one_line(f"Doesn't fit: {m.subject}: {m.reason}") for m in found.misfits),
    ]
    if found.fits:
        lines.append("Everything fits.")
    if not found.documents:
        lines.append("There are no documents in the folder.")
    return "\n".join(lines)


def _as_json(found: Verification) -> str:
    return json.dumps(
        {
            "fits": found.fits,
            "checked": {
                "originals": found.originals,
                "records": found.records,
                "documents": found.documents,
            },
            "misfits": [{"subject": m.subject, "reason": m.reason} for m in found.misfits],
        },
        ensure_ascii=False,
        indent=1,
    )


def _count(number: int, thing: str) -> str:
    return f"{number} {thing}{'' if number == 1 else 's'}"


def _progress(done: int, of: int) -> None:
    if of > _SHOW_PROGRESS_ABOVE and done % _SHOW_PROGRESS_ABOVE == 0:
        click.echo(f"{done} of {of} originals read", err=True)
