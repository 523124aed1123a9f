"""`jobnotes key`."""

from __future__ import annotations

from pathlib import Path

import click

from jobnotes.commands import options
from jobnotes.commands.showing import plain_errors


@click.command(short_help="Print the workshop's public key, and make the key if there is none.")
@options.own_library
def key(library: Path) -> None:
    """Print the workshop's public key, and make the key if there is none.

    From then on the journal is signed whenever documents are drawn or something is deleted. The key lies in
    the library's folder, for its owner alone; the public one, on standard output, is for whoever is to check
    with `jobnotes verify --public-key`. Whoever has the key can sign: keep a copy apart, and nowhere else.

    Exit status: 0 done; 2 nothing could be done.
    """
    from jobnotes.library import signing
    from jobnotes.library.library import Library

    with plain_errors():
        with Library.open(library, create=False):
            own = signing.key_in(library)
            public = signing.make_key(library) if own is None else signing.public_pem(own.public_key())
        if own is None:
            click.echo(f"Made {library / signing.KEY}, for its owner alone.", err=True)
        click.echo(public, nl=False)
