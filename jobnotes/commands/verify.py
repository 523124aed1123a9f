"""`jobnotes verify`: do originals, journal, record and documents still fit each other?"""

from __future__ import annotations

import json
import sys
from pathlib import Path

import click

from jobnotes.commands import options
from jobnotes.commands.showing import fail
from jobnotes.errors import JobnotesError, one_line
from jobnotes.library.signing import public_key_in
from jobnotes.library.verification import (
    Asked,
    JournalState,
    Verification,
    noted,
    verify_folder,
    verify_library,
)

#: also how many of them lie between two reports
_SHOW_PROGRESS_ABOVE = {"originals": 200, "entries": 50_000}


@click.command(short_help="Check originals, journal, record and documents against each other.")
@click.argument("documents", nargs=-1, type=click.Path(path_type=Path), metavar="[DOCUMENT]...")
@click.option(
    "--out",
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
@click.option(
    "--public-key",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="The workshop's public key, with which the journal must be signed.",
)
@click.option(
    "--known",
    metavar="ENTRY",
    help="An entry that you noted earlier, NUMBER:SHA256, which must still be in the journal.",
)
@options.as_json
def verify(
    documents: tuple[Path, ...],
    out: Path | None,
    library: Path | None,
    everything: bool,
    public_key: Path | None,
    known: str | None,
    as_json: bool,
) -> None:
    """Check originals, journal, record and documents against each other.

    With --out, a folder that was written: originals must still have the digest they were taken in with,
    record.json must be the one that the library keeps, and each document must be as it was drawn from it.
    With --library alone, the whole library. With a DOCUMENT, a claim that came from anywhere: is it as it was
    drawn, from the job as it is kept now, or was it altered? The first thing that doesn't fit is named on
    standard error; standard output says of each why.

    Exit status: 0 everything fits, 1 something doesn't, 2 there was nothing to check.
    """
    try:
        asked = Asked(
            # a folder's own library holds little else than this job
            everything or (library is None and not documents),
            None if public_key is None else public_key_in(public_key),
            None if known is None else noted(known),
        )
        found = _checked(documents, out, library, asked)
    except JobnotesError as error:
        fail(error)
    click.echo(_as_json(found) if as_json else _as_text(found))
    if not found.fits:
        click.echo(one_line(f"jobnotes: {_first(found, with_reason=as_json)}"), err=True)
        sys.exit(1)


def _first(found: Verification, *, with_reason: bool) -> str:
    """The first thing that doesn't fit; the text on standard output has the reasons already."""
    first, more = found.misfits[0], len(found.misfits) - 1
    if with_reason:
        return f"{first.subject}: {first.reason}"
    besides = f", and {more} more {'doesn' if more == 1 else 'don'}'t" if more else ""
    return f"{first.subject} doesn't fit{besides}"


def _checked(
    documents: tuple[Path, ...], out: Path | None, library: Path | None, asked: Asked
) -> Verification:
    if library is None and out is None:
        raise JobnotesError(
            "verify", "was told neither a folder nor a library", "name one with --out or --library"
        )
    if out is None or documents:
        kept = library or (out or Path()) / "library"
        return verify_library(kept, documents, asked, progress=_progress)
    return verify_folder(out, library or out / "library", asked, progress=_progress)


def _as_text(found: Verification) -> str:
    checked = [
        *([_count(found.originals, "original")] if found.originals or not found.in_hand else []),
        *([_count(found.records, "record")] if not found.in_hand else []),
        _count(found.documents, "document"),
    ]
    lines = [f"Checked: {', '.join(checked)}."]
    if found.journal is not None:
        lines.append(_journal(found.journal))
    lines += [one_line(f"Fits: {d.file}: {d.reason}") for d in found.in_hand if d.fits]
    lines += [one_line(f"Doesn't fit: {m.subject}: {m.reason}") for m in found.misfits]
    lines += [one_line(f"Note: {remark}.") for remark in found.remarks]
    if found.fits:
        lines.append("Everything fits.")
    if not found.documents and found.records:
        lines.append("There are no documents in the folder.")
    return "\n".join(lines)


def _journal(state: JournalState) -> str:
    if not state.head.number:
        return "The journal is empty."
    signed = f", signed up to {state.signed}" if state.signed else ", not signed"
    return f"Journal: {_count(state.head.number, 'entry', 'entries')}{signed}; the last is {state.head}"


def _as_json(found: Verification) -> str:
    journal = found.journal
    told: dict[str, object] = {
        "fits": found.fits,
        "checked": {
            "originals": found.originals,
            "records": found.records,
            "documents": found.documents,
        },
        "misfits": [{"subject": m.subject, "reason": m.reason} for m in found.misfits],
        "remarks": list(found.remarks),
    }
    if journal is not None:
        told["journal"] = {
            "entries": journal.head.number,
            "last": str(journal.head),
            "signed": journal.signed,
        }
    if found.in_hand:
        told["in_hand"] = [
            {"file": d.file, "sha256": d.sha256, "state": d.state, "reason": d.reason}
            | ({} if d.job is None else {"job": d.job})
            for d in found.in_hand
        ]
    return json.dumps(told, ensure_ascii=False, indent=1)


def _count(number: int, thing: str, things: str | None = None) -> str:
    return f"{number} {thing if number == 1 else things or f'{thing}s'}"


def _progress(what: str, done: int, of: int) -> None:
    if of > _SHOW_PROGRESS_ABOVE[what] and done % _SHOW_PROGRESS_ABOVE[what] == 0:
        click.echo(f"{done} of {of} {what} read", err=True)
