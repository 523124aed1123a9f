"""`jobnotes run` and `jobnotes demo`."""

from __future__ import annotations

import json
import shlex
import shutil
import sys
from importlib import resources
from itertools import groupby
from pathlib import Path
from typing import TYPE_CHECKING

import click

from jobnotes.commands import options
from jobnotes.commands.showing import plain_errors, problems_as_json, shown_progress, tell_problems
from jobnotes.errors import JobnotesError
from jobnotes.record import Fixable

if TYPE_CHECKING:
    from jobnotes.pipeline import Also, Outcome

NAME = "jobnotes"

_UNTIL: dict[Fixable, str] = {
    "open": "to be put right while the vehicle is still taken apart",
    "here": "to be put right while it is in the workshop",
    "desk": "to be put right at the desk",
}


@click.command(short_help="Turn a folder of voice notes and photos into a record and three documents.")
@click.argument("folder", type=click.Path(path_type=Path))
@options.out
@click.option(
    "--library",
    metavar="DIR",
    type=click.Path(path_type=Path),
    help="The workshop's own library of jobs; else one in the output folder.",
)
@options.hear_with
@options.read_photos
@options.workshop
@options.spreadsheet
@click.option(
    "--einvoice", is_flag=True, help="Write the customer's invoice to invoice.xml too (EN 16931, CII)."
)
@options.zone
@options.as_json
def run(
    folder: Path,
    out: Path,
    library: Path | None,
    hear_with: str | None,
    read_photos: bool,
    workshop: Path | None,
    spreadsheet: bool,
    einvoice: bool,
    zone: str | None,
    as_json: bool,
) -> None:
    """Turn a FOLDER of voice notes and photos into a record, a claim, an invoice and a job sheet.

    The originals are copied to the library first and never changed. A second run hears nothing again and
    gives the same ids. Everything happens on this machine; nothing is sent anywhere.

    Exit status: 0 done; 1 done, but something given could not be used; 2 nothing could be done.
    """
    with plain_errors():
        from jobnotes.pipeline import Also

        also = Also(einvoice, spreadsheet)
        outcome = _run(folder, out, library, hear_with, read_photos, workshop, zone, also)
        _finish(outcome, as_json, serving(library or out / "library", workshop))


@click.command(short_help="Do the same on the sample media that come with jobnotes.")
@options.out
@options.hear_with
@options.read_photos
@options.spreadsheet
@click.option("--einvoice", is_flag=True, help="Write the invoice to invoice.xml too (EN 16931, CII).")
@options.as_json
def demo(
    out: Path, hear_with: str | None, read_photos: bool, spreadsheet: bool, einvoice: bool, as_json: bool
) -> None:
    """Do the same on the sample media that come with the tool: an invented repair of a bus.

    Exit status: 0 done; 1 done, but something given could not be used; 2 nothing could be done.
    """
    with plain_errors():
        from jobnotes.pipeline import Also

        # the sample's clocks stand in the zone of its invented workshop, wherever the demo runs
        sample = sample_folder()
        also = Also(einvoice, spreadsheet)
        own = sample / "workshop"
        outcome = _run(sample / "job", out, None, hear_with, read_photos, own, "Europe/London", also)
        _finish(outcome, as_json, serving(out / "library", own))


def sample_folder() -> Path:
    """The sample job and its workshop: inside the installed package, or beside it in a source checkout."""
    package = Path(str(resources.files("jobnotes")))
    for folder in (package / "sample_media", package.parent / "sample_media"):
        if (folder / "job").is_dir():
            return folder
    raise JobnotesError("sample media", "are not in this installation", "install jobnotes again")


def _run(
    folder: Path,
    out: Path,
    library: Path | None,
    hear_with: str | None,
    read_photos: bool,
    workshop: Path | None,
    zone: str | None,
    also: Also,
) -> Outcome:
    from jobnotes import pipeline
    from jobnotes import workshop as workshops
    from jobnotes.hearing.choose import recogniser
    from jobnotes.intake.folder import scan
    from jobnotes.library.library import Library
    from jobnotes.seeing.choose import photo_reader

    where = options.zone_named(zone)
    # whatever is wrong in the office's files is said before anything is heard or kept
    own = workshops.load(workshop, folder)
    listener = recogniser(hear_with)
    reader = photo_reader() if read_photos else None
    scan(folder)  # a folder that can't be used must not leave an empty library behind
    with shown_progress() as bar, Library.open(library or out / "library") as kept:
        return pipeline.run(
            folder,
            out,
            kept,
            listener,
            where,
            reader=reader,
            workshop=own,
            also=also,
            progress=bar,
        )


def serving(library: Path, workshop: Path | None) -> str:
    """The command that shows this job in a browser, with the same prices, words and rules."""
    own = ["--workshop", str(workshop)] if workshop else []
    return shlex.join([_called(), "serve", "--library", str(library), *own])


def _called() -> str:
    """This program as a shell finds it: by its name, or by the path that it was called by."""
    called = Path(sys.argv[0])
    if called.stem != NAME or shutil.which(NAME):
        return NAME
    return str(called)


def _finish(outcome: Outcome, as_json: bool, serving: str) -> None:
    problems = outcome.record.problems
    tell_problems(problems)
    click.echo(_as_json(outcome) if as_json else _as_text(outcome, serving))
    sys.exit(1 if problems else 0)


def _as_json(outcome: Outcome) -> str:
    from jobnotes.checking.loose_ends import certain_first, in_full

    record = outcome.record
    return json.dumps(
        {
            "job": outcome.job,
            "record": str(outcome.record_file),
            "documents": [str(d) for d in outcome.documents],
            "notes": len(record.notes),
            "heard_anew": outcome.heard_anew,
            "photos": len(record.photos),
            "facts": sum(f.stands for f in record.facts),
            "to_check": sum(f.status == "check" for f in record.facts),
            "loose_ends": [in_full(end) for end in certain_first(record.loose_ends)],
            "claim_gaps": [gap.message for gap in record.claim_gaps],
            "problems": problems_as_json(record.problems),
        },
        ensure_ascii=False,
        indent=1,
    )


def _as_text(outcome: Outcome, serving: str) -> str:
    """What there is, then what is loose and what is lacking, then where it is."""
    from jobnotes.checking.loose_ends import in_full
    from jobnotes.checking.policy import while_there_is_time
    from jobnotes.checking.sights import to_take_again
    from jobnotes.seeing.quality import remark

    record = outcome.record
    standing = [f for f in record.facts if f.stands]
    check = [f for f in standing if f.status == "check"]
    lines = [
        f"{len(record.notes)} notes, {len(record.photos)} photos, {len(standing)} facts, "
        f"{len(check)} of them for a person to check.",
        "",
    ]
    for heading, ends in (
        ("Loose ends, before the vehicle goes:", [e for e in record.loose_ends if e.doubt is None]),
        ("Perhaps loose too: listen, or look:", [e for e in record.loose_ends if e.doubt is not None]),
    ):
        if ends:
            lines += [heading, *dict.fromkeys(f"  - {in_full(end)}" for end in ends), ""]
    for until, gaps in groupby(while_there_is_time(record.claim_gaps), key=lambda gap: gap.fixable):
        lines += [f"What the claim still lacks, {_UNTIL[until]}:"]
        lines += [f"  - {gap.message} {gap.remedy}" for gap in gaps] + [""]
    if poor := to_take_again(record):
        lines += [
            "Photos to take again, while it can still be seen:",
            *(f"  - {photo.file}: {remark(photo.sight.flaws)}" for photo in poor if photo.sight),
            "",
        ]
    other = [stated for stated in record.stated if stated.file is not None]
    if other and record.details:
        lines += [f"Stated at the desk, which counts before {record.details.file}:"]
        lines += [
            f"  - {stated.key}: {stated.value or 'none'} instead of {stated.file} ({stated.by})"
            for stated in other
        ] + [""]
    unlinked = sum(not photo.fact_ids for photo in record.photos)
    if unlinked:
        belong, them = ("belongs", "it") if unlinked == 1 else ("belong", "them")
        lines += [
            f"{unlinked} of the photos {belong} to no statement yet: the job sheet shows {them}, and how the "
            "cameras' clocks were judged.",
            "",
        ]
    lines += ["To listen, correct and accept in a browser:", f"  {serving}", ""]
    lines += [str(outcome.record_file), *(str(d) for d in outcome.documents)]
    return "\n".join(lines)
