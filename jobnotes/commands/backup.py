"""`jobnotes backup` and `jobnotes restore`."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import click

from jobnotes.commands import options
from jobnotes.commands.showing import plain_errors, problems_as_json, shown_progress, tell_problems


@click.command(short_help="Write a whole library to one file, while it is in use.")
@options.own_library
@click.option(
    "--to",
    required=True,
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="The new file; or a folder, for a name with the time.",
)
@options.as_json
def backup(library: Path, to: Path, as_json: bool) -> None:
    """Write a whole library to one file, while it is in use.

    Originals, decisions, statements, records and the journal, and what phones have sent. The file is read
    back before it gets its name. The signing key is not in it: keep a copy of that apart.

    Exit status: 0 done; 1 done, but an original is missing or damaged, which is named; 2 nothing was written.
    """
    from jobnotes.library.backup import back_up
    from jobnotes.serve.keeping import BESIDE

    with plain_errors(), shown_progress() as bar:
        made = back_up(library, to, [BESIDE], bar)
    tell_problems(made.problems)
    if as_json:
        told = {
            "file": str(made.path),
            "bytes": made.bytes,
            "files": made.files,
            "journal": str(made.journal),
            "problems": problems_as_json(made.problems),
        }
        click.echo(json.dumps(told, ensure_ascii=False, indent=1))
    else:
        click.echo(f"{made.path}: {made.files} files, {made.bytes} bytes, read back. Journal: {made.journal}")
    sys.exit(1 if made.problems else 0)


@click.command(short_help="Make a library again from a file that backup wrote.")
@click.argument("file", type=click.Path(path_type=Path))
@click.option(
    "--library",
    required=True,
    type=click.Path(path_type=Path),
    metavar="DIR",
    help="The new library's folder, which must not be there yet, or be empty.",
)
@options.as_json
def restore(file: Path, library: Path, as_json: bool) -> None:
    """Make a library again from a FILE that `jobnotes backup` wrote.

    Nothing is overwritten. Every file is checked as it is restored, then originals, records and journal
    against each other.

    Exit status: 0 done; 1 done, but something was wrong when it was backed up, which is named; 2 nothing was
    restored.
    """
    from jobnotes.library import backup as backups

    with plain_errors(), shown_progress() as bar:
        made = backups.restore(file, library, bar)
    tell_problems(made.problems)
    if as_json:
        told = {
            "library": str(made.folder),
            "made_at": made.made_at,
            "files": made.files,
            "journal": str(made.journal),
            "problems": problems_as_json(made.problems),
        }
        click.echo(json.dumps(told, ensure_ascii=False, indent=1))
    else:
        click.echo(
            f"{made.folder}: {made.files} files, as backed up at {made.made_at}. Journal: {made.journal}"
        )
    sys.exit(1 if made.problems else 0)
