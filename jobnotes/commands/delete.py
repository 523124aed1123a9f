"""`jobnotes delete`."""

from __future__ import annotations

import json
import sys
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

import click

from jobnotes.commands import options
from jobnotes.commands.showing import plain_errors
from jobnotes.errors import JobnotesError, one_line

if TYPE_CHECKING:
    from jobnotes.library.deletion import Deleted
    from jobnotes.library.library import Library

#: what belongs to no job yet may belong to a run that is at work
_UNFILED_FOR = timedelta(days=1)


@click.command(short_help="Delete what is kept of a job or a customer; the journal says that it was.")
@click.argument("jobs", nargs=-1, metavar="[JOB]...")
@options.own_library
@click.option("--by", "who", required=True, metavar="NAME", help="Who deletes; the journal keeps it.")
@click.option("--customer", metavar="NAME", help="All jobs whose record names this customer.")
@click.option(
    "--unfiled", is_flag=True, help="Originals of no job, such as damaged ones, kept over a day ago."
)
@click.option("--with-backups", is_flag=True, help="Also the copies that upgrades left in the library.")
@click.option("--yes", is_flag=True, help="Don't ask.")
@options.as_json
def delete(
    jobs: tuple[str, ...],
    library: Path,
    who: str,
    customer: str | None,
    unfiled: bool,
    with_backups: bool,
    yes: bool,
    as_json: bool,
) -> None:
    """Delete what is kept of each JOB (its id or number) or of a customer: originals, decisions and records.

    The journal keeps digests of what is gone, who deleted it and when, so that `jobnotes verify` can say so
    and the rest still holds. Documents that were written or sent, phones and backups are not reached.

    Exit status: 0 done; 2 nothing was deleted.
    """
    from jobnotes.library.library import Library

    with plain_errors():
        if not who.strip():
            raise JobnotesError("--by", "names nobody", "give the name of who deletes")
        with Library.open(library, create=False) as kept:
            wanted = _wanted(kept, jobs, customer)
            if not wanted and not unfiled:
                raise JobnotesError("delete", "was told no job", "give a job, --customer or --unfiled")
            _asked(kept, wanted, unfiled, yes)
            done = [_delete(kept, library, job, who) for job in wanted]
            if unfiled:
                done.append(kept.delete_unfiled(who, datetime.now(UTC) - _UNFILED_FOR))
            click.echo("Writing the database anew …", err=True)
            kept.forget_deleted()
        copies = _copies(library, remove=with_backups)
    click.echo(_as_json(done, copies) if as_json else _as_text(done))
    if copies:
        click.echo(
            f"{copies[0].parent}: {len(copies)} copies of the database from before upgrades still hold it; "
            "--with-backups deletes them",
            err=True,
        )


def _wanted(kept: Library, jobs: Sequence[str], customer: str | None) -> list[str]:
    found: dict[str, None] = {}
    for said in jobs:
        ids = (said,) if kept.has_job(said) else kept.jobs_where("number", said)
        if not ids:
            raise JobnotesError(said, "is no job of this library", "give its id, J…, or its number")
        found |= dict.fromkeys(ids)
    if customer is not None:
        ids = kept.jobs_where("customer", customer)
        if not ids:
            raise JobnotesError(customer, "is the customer of no job", "write it as the record does")
        found |= dict.fromkeys(ids)
    return list(found)


def _asked(kept: Library, jobs: Sequence[str], unfiled: bool, yes: bool) -> None:
    """Show what will go, and ask, unless told not to."""
    for job in jobs:
        click.echo(one_line(_told(kept, job)), err=True)
    if unfiled:
        click.echo("All originals that belong to no job.", err=True)
    if yes:
        return
    if not sys.stdin.isatty():
        raise JobnotesError("delete", "nobody is there to be asked", "give --yes if it is to be done")
    click.confirm("Delete this? It can't be taken back.", abort=True, err=True)


def _told(kept: Library, job: str) -> str:
    head = f"Job {job}"
    try:
        short = kept.job_in_short(job)
    except KeyError:
        return f"{head}, {len(kept.originals(job))} originals"
    named = ", ".join(part for part in (short.number, short.registration) if part)
    return f"{head}{f' ({named})' if named else ''}, {len(kept.originals(job))} originals"


def _delete(kept: Library, library: Path, job: str, who: str) -> Deleted:
    from jobnotes.library.deletion import Deleted
    from jobnotes.serve.keeping import forget

    with kept.alone_with(job):
        again = kept.deletion_of(job) is not None
        deleted = Deleted(job, (), 0) if again else kept.delete_job(job, who)
        # again too: the first time may have been broken off
        forget(library, job)
    return deleted


def _copies(library: Path, *, remove: bool) -> list[Path]:
    """The copies that upgrades left; those that stay."""
    from jobnotes.library.database import BACKUPS

    found = sorted((library / BACKUPS).glob("*.db"))
    for path in found if remove else ():
        path.unlink(missing_ok=True)
    return [] if remove else found


def _as_text(done: Sequence[Deleted]) -> str:
    lines = []
    for deleted in done:
        what = f"Job {deleted.job}" if deleted.job else "Originals of no job"
        shared = f"; {deleted.shared} stay, as other jobs have them" if deleted.shared else ""
        lines.append(f"{what}: {len(deleted.originals)} originals deleted{shared}")
    lines.append("Not reached: documents that were written or sent, phones, and backups.")
    return "\n".join(lines)


def _as_json(done: Sequence[Deleted], copies: Sequence[Path]) -> str:
    return json.dumps(
        {
            "deleted": [
                {"originals": list(d.originals), "shared": d.shared} | ({"job": d.job} if d.job else {})
                for d in done
            ],
            "copies": [str(path) for path in copies],
        },
        ensure_ascii=False,
        indent=1,
    )
