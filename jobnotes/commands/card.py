"""`jobnotes card`."""

from __future__ import annotations

import json
import re
from datetime import UTC, datetime, timedelta, tzinfo
from pathlib import Path

import click

from jobnotes.commands import options
from jobnotes.commands.showing import plain_errors
from jobnotes.errors import JobnotesError
from jobnotes.record import JobCard

_TIME_OF_DAY = re.compile(r"([01]?\d|2[0-3]):([0-5]\d)(?::([0-5]\d))?", re.ASCII)


@click.command(short_help="Make the card that is photographed first: it tells the job and the time.")
@click.argument("number")
@click.option(
    "--out",
    required=True,
    metavar="DIR",
    type=click.Path(path_type=Path),
    help="Where card.docx and card.png go.",
)
@click.option("--registration", metavar="TEXT", help="The vehicle's registration, to stand on it too.")
@click.option("--customer", metavar="TEXT", help="The customer's name, to stand on it too.")
@click.option(
    "--at",
    metavar="TIME",
    help="When it will be photographed, within a minute: 14:05 today, or 2031-04-07T14:05.",
)
@options.workshop
@options.zone
@options.as_json
def card(
    number: str,
    out: Path,
    registration: str | None,
    customer: str | None,
    at: str | None,
    workshop: Path | None,
    zone: str | None,
    as_json: bool,
) -> None:
    """Make the job card of job NUMBER, to print or to show: a QR code with the job's number and a time.

    Photographed first, it begins the job among a camera's photos: those after it belong to the job, until the
    card of another. A printed card says when it was printed, and so leaves the camera's clock alone. With
    --at it is photographed at that time, and the clock is set by it to within a minute. The card on the
    screen of `jobnotes serve` shows the time of that very second, and sets the clock to the second.

    Exit status: 0 done; 2 nothing could be done.
    """
    with plain_errors():
        from jobnotes import workshop as workshops
        from jobnotes.documents.job_card import write_card
        from jobnotes.intake.dates import fixed

        if not number.strip():
            remedy = "give it, as in: jobnotes card 4417 --out DIR"
            raise JobnotesError("card", "was told no job number", remedy)
        where = options.zone_named(zone)
        now = datetime.now(where)
        clock = now if at is None else _stated(at, now, where)
        drawn = JobCard(
            number.strip(),
            fixed(clock, where).replace(microsecond=0),
            "printed" if at is None else "stated",
            registration.strip() if registration else None,
            customer.strip() if customer else None,
        )
        house = workshops.load(workshop).house
        assert house is not None  # what ships, where there is no folder
        try:
            out.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            reason = error.strerror or "can't be written"
            raise JobnotesError(str(out), reason, "name another folder with --out") from error
        docx, png = write_card(drawn, out, house)
    told = {"number": drawn.number, "clock": drawn.clock.isoformat(), "clock_is": drawn.clock_is}
    if as_json:
        files = {"docx": str(docx), "png": str(png)}
        click.echo(json.dumps(told | files, ensure_ascii=False, indent=1))
        return
    click.echo(f"{docx}\n{png}")
    if at is None:
        click.echo("It begins the job among the photos, and leaves the camera's clock alone.")
    else:
        click.echo(f"Photograph it at {drawn.clock:%H:%M} on {drawn.clock:%Y-%m-%d}, within a minute.")


def _stated(text: str, now: datetime, zone: tzinfo) -> datetime:
    """The time that `--at` names; raises JobnotesError where it names none, or one that has passed."""
    try:
        if day_time := _TIME_OF_DAY.fullmatch(text.strip()):
            hour, minute, second = (int(part or 0) for part in day_time.groups())
            at = now.replace(hour=hour, minute=minute, second=second)
        else:
            at = datetime.fromisoformat(text.strip())
            at = at if at.tzinfo else at.replace(tzinfo=zone)
        at = at.astimezone(UTC).astimezone(zone)  # what summer time leaves out becomes what clocks then show
    except (ValueError, OverflowError):
        raise JobnotesError(
            f"--at {text}", "is no time", "write it as in 14:05 or 2031-04-07T14:05"
        ) from None
    if at < now - timedelta(minutes=1):
        raise JobnotesError(f"--at {text}", "has passed", "name a time that is still to come")
    return at
