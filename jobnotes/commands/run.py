"""`jobnotes run` and `jobnotes demo`."""

from __future__ import annotations

import json
import sys
from datetime import tzinfo
from importlib import resources
from pathlib import Path
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import click

from jobnotes.commands.showing import Bar, plain_errors, problem_line
from jobnotes.errors import JobnotesError
from jobnotes.pipeline import Outcome


@click.command(short_help="Turn a folder of voice notes and photos into a record and three documents.")
@click.argument("folder", type=click.Path(path_type=Path))
@click.option(
    "--out",
    required=True,
    metavar="DIR",
    type=click.Path(path_type=Path),
    help="Where the record and the documents go.",
)
@click.option(
    "--library",
    metavar="DIR",
    type=click.Path(path_type=Path),
    help="The workshop's own library of jobs; else one in the output folder.",
)
@click.option(
    "--hear-with",
    metavar="NAME",
    help="The recogniser: a name that `jobnotes models` lists, or a model folder.",
)
@click.option(
    "--workshop",
    metavar="DIR",
    type=click.Path(path_type=Path),
    help="The workshop's own trade data, added to what ships.",
)
@click.option(
    "--zone", metavar="NAME", help="Where the clocks stand, such as Europe/London; else as this machine's."
)
@click.option("--json", "as_json", is_flag=True, help="Print the result as JSON.")
def run(
    folder: Path,
    out: Path,
    library: Path | None,
    hear_with: str | None,
    workshop: Path | None,
    zone: str | None,
    as_json: bool,
) -> None:
    """Turn a FOLDER of voice notes and photos into a record, a claim, an invoice and a job sheet.

    The originals are copied to the library first and never changed. A second run hears nothing again and
    gives the same ids. Everything happens on this machine; nothing is sent anywhere.

    Exit status: 0 done; 1 done, but something given could not be used; 2 nothing could be done.
    """
    with plain_errors():
        _finish(_run(folder, out, library, hear_with, workshop, zone), as_json)


@click.command(short_help="Do the same on the sample media that come with jobnotes.")
@click.option(
    "--out",
    required=True,
    metavar="DIR",
    type=click.Path(path_type=Path),
    help="Where the record and the documents go.",
)
@click.option(
    "--hear-with",
    metavar="NAME",
    help="The recogniser: a name that `jobnotes models` lists, or a model folder.",
)
@click.option("--json", "as_json", is_flag=True, help="Print the result as JSON.")
def demo(out: Path, hear_with: str | None, as_json: bool) -> None:
    """Do the same on the sample media that come with the tool: an invented repair of a bus."""
    with plain_errors():
        # the sample's clocks stand in the zone of its invented workshop, wherever the demo runs
        _finish(_run(sample_folder(), out, None, hear_with, None, "Europe/London"), as_json)


def sample_folder() -> Path:
    """The sample job: inside the installed package, or beside it in a source checkout."""
    inside = Path(str(resources.files("jobnotes"))) / "sample_media" / "job"
    beside = Path(str(resources.files("jobnotes"))).parent / "sample_media" / "job"
    for folder in (inside, beside):
        if folder.is_dir():
            return folder
    raise JobnotesError("sample media", "are not in this installation", "install jobnotes again")


def zone_named(name: str | None) -> tzinfo:
    """The zone of that name, or this machine's."""
    if name is None:
        import tzlocal

        return tzlocal.get_localzone()
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        raise JobnotesError(name, "is no time zone", "give a name such as Europe/London") from None


def _run(
    folder: Path, out: Path, library: Path | None, hear_with: str | None, trade: Path | None, zone: str | None
) -> Outcome:
    from jobnotes import pipeline
    from jobnotes.checking import policy as policies
    from jobnotes.documents import house as houses
    from jobnotes.hearing.choose import recogniser
    from jobnotes.intake.folder import scan
    from jobnotes.library.library import Library
    from jobnotes.reading.trade import load

    where = zone_named(zone)
    if trade is not None and not trade.is_dir():
        raise JobnotesError(str(trade), "is no folder", "give the folder that holds the trade data")
    known, house = load(trade), houses.load(trade)
    policy = policies.load(_own_policy(trade))
    listener = recogniser(hear_with)
    scan(folder)  # a folder that can't be used must not leave an empty library behind
    bar = Bar()
    try:
        with Library.open(library or out / "library") as kept:
            return pipeline.run(
                folder, out, kept, listener, where, trade=known, policy=policy, house=house, progress=bar
            )
    finally:
        bar.done()


def _own_policy(trade: Path | None) -> Path | None:
    own = trade / "claim_policy.toml" if trade is not None else None
    return own if own is not None and own.exists() else None


def _finish(outcome: Outcome, as_json: bool) -> None:
    problems = outcome.record.problems
    for problem in problems:
        click.echo(problem_line(problem), err=True)
    click.echo(_as_json(outcome) if as_json else _as_text(outcome))
    sys.exit(1 if problems else 0)


def _as_json(outcome: Outcome) -> str:
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
            "loose_ends": [end.text for end in record.loose_ends],
            "claim_gaps": [gap.message for gap in record.claim_gaps],
            "problems": [{"file": p.file, "message": p.message} for p in record.problems],
        },
        ensure_ascii=False,
        indent=1,
    )


def _as_text(outcome: Outcome) -> str:
    record = outcome.record
    lines: list[str] = []
    if record.loose_ends:
        lines += [
            "Loose ends, before the vehicle goes:",
            *(f"  - {end.text}" for end in record.loose_ends),
            "",
        ]
    if record.claim_gaps:
        lines += ["What the claim still lacks:"]
        lines += [f"  - {gap.message} {gap.remedy}" for gap in record.claim_gaps] + [""]
    standing = [f for f in record.facts if f.stands]
    check = [f for f in standing if f.status == "check"]
    lines.append(
        f"{len(record.notes)} notes, {len(record.photos)} photos, {len(standing)} facts, "
        f"{len(check)} of them for a person to check."
    )
    lines += [str(outcome.record_file), *(str(d) for d in outcome.documents)]
    return "\n".join(lines)
