"""Options that several commands have, and what they stand for."""

from __future__ import annotations

from datetime import tzinfo
from pathlib import Path
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import click

from jobnotes.errors import JobnotesError

out = click.option(
    "--out",
    required=True,
    metavar="DIR",
    type=click.Path(path_type=Path),
    help="Where the record and the documents go.",
)
own_library = click.option(
    "--library",
    required=True,
    metavar="DIR",
    type=click.Path(path_type=Path),
    help="The workshop's library.",
)
hear_with = click.option(
    "--hear-with",
    metavar="NAME",
    help="How to hear: quick, careful, another name that `jobnotes models` lists, or a model folder.",
)
workshop = click.option(
    "--workshop",
    metavar="DIR",
    type=click.Path(path_type=Path),
    help="The workshop's own folder: words, limits, claim policy, prices, letterhead.",
)
read_photos = click.option(
    "--read-photos/--no-read-photos",
    default=True,
    show_default=True,
    help="Read labels, displays and barcodes in the photos: about two seconds a photo and core, once.",
)
spreadsheet = click.option("--spreadsheet", is_flag=True, help="Write the priced lines to lines.xlsx too.")
zone = click.option(
    "--zone", metavar="NAME", help="Where the clocks stand, such as Europe/London; else as this machine's."
)
as_json = click.option("--json", "as_json", is_flag=True, help="Print the result as JSON.")


def zone_named(name: str | None) -> tzinfo:
    """The zone of that name, or this machine's. Raises JobnotesError if there is none."""
    if name is None:
        import tzlocal

        return tzlocal.get_localzone()
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        raise JobnotesError(name, "is no time zone", "give a name such as Europe/London") from None
