"""`jobnotes facts`: what the reader makes of a plain transcript."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import click

from jobnotes.commands.showing import plain_errors
from jobnotes.errors import JobnotesError, one_line


@click.command(short_help="Print the facts of a plain transcript as JSON.")
@click.option(
    "--text",
    "source",
    required=True,
    metavar="FILE",
    help="A transcript, one utterance a line; - for standard input.",
)
@click.option(
    "--workshop",
    metavar="DIR",
    type=click.Path(path_type=Path),
    help="The workshop's own folder: its words, units and limits are added to what ships.",
)
def facts(source: str, workshop: Path | None) -> None:
    """Read a plain transcript and print the facts in it as JSON: {"facts": [...]}.

    A transcript without a word has no facts; standard error says that it was empty.

    Exit status: 0 done; 2 nothing could be done.
    """
    with plain_errors():
        from jobnotes import record_json
        from jobnotes.reading.read import read_text
        from jobnotes.reading.trade.files import load

        if workshop is not None and not workshop.is_dir():
            raise JobnotesError(str(workshop), "is no folder", "give the folder of its files")
        text = _text(source)
        if not text.strip():
            what = "standard input" if source == "-" else one_line(source)
            click.echo(f"jobnotes: {what}: is empty; give a transcript, one utterance a line", err=True)
        found = read_text(text, load(workshop))
        click.echo(
            json.dumps({"facts": [record_json.to_json(f) for f in found]}, ensure_ascii=False, indent=1)
        )


def _text(source: str) -> str:
    try:
        raw = sys.stdin.buffer.read() if source == "-" else Path(source).read_bytes()
    except OSError as error:
        raise JobnotesError(source, error.strerror or "can't be read", "give a text file") from error
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise JobnotesError(source, "is not UTF-8 text", "save it as UTF-8") from None
