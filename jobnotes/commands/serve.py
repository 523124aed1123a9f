"""`jobnotes serve`."""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from jobnotes.commands import options
from jobnotes.commands.showing import plain_errors
from jobnotes.errors import JobnotesError

if TYPE_CHECKING:
    from jobnotes.serve.settings import Settings
    from jobnotes.serve.store import Role, Store
    from jobnotes.serve.tls import Certificate

PORT = 8420
WITHOUT_WORKSHOP = (
    "Served without --workshop: nothing is priced, also what a run with it has priced, and the documents "
    "have no head of yours. With your prices, words and claim rules: add --workshop and their folder."
)
READY = (
    "Ready. Each code is good once, for ten minutes; jobnotes serve --library … --pair ROLE prints another. "
    "End with Ctrl-C."
)


@click.command(short_help="Serve the web pages: capture by phone, review on the desk.")
@click.option(
    "--library",
    required=True,
    metavar="DIR",
    type=click.Path(path_type=Path),
    help="The workshop's own library of jobs; made where there is none.",
)
@options.workshop
@click.option(
    "--port", type=click.IntRange(0, 65535), default=PORT, show_default=True, help="0: any that is free."
)
@click.option("--network", is_flag=True, help="Let the network's phones in, by TLS; else only this machine.")
@options.hear_with
@options.read_photos
@click.option(
    "--live/--no-live",
    default=True,
    help="Show words while a phone still records, by a process of its own that hears them; on by default.",
)
@options.zone
@click.option(
    "--pair",
    "role",
    type=click.Choice(["technician", "clerk"]),
    help="Print a pairing code for the server that runs over this library, and end.",
)
def serve(
    library: Path,
    workshop: Path | None,
    port: int,
    network: bool,
    hear_with: str | None,
    read_photos: bool,
    live: bool,
    zone: str | None,
    role: Role | None,
) -> None:
    """Serve the web pages to this machine, or with --network to the phones of the workshop.

    Each device is paired once, by a code that this command prints: it is good once, for ten minutes.
    Ctrl-C ends the server; what is still unheard is heard after the next start.

    Exit status: 0 ended by Ctrl-C, or the code was printed; 2 nothing could be done.
    """
    with plain_errors():
        if role is not None:
            _print_code(library, role)
        else:
            settings = _settings(library, workshop, hear_with, read_photos, zone)
            _serve(replace(settings, live=live), port, network)


def _settings(
    library: Path, workshop: Path | None, hear_with: str | None, read_photos: bool, zone: str | None
) -> Settings:
    from jobnotes.serve.settings import Settings

    return Settings(
        library.absolute(), workshop and workshop.absolute(), hear_with, _zone(zone), read_photos=read_photos
    )


def _serve(settings: Settings, port: int, network: bool) -> None:
    from jobnotes import workshop as workshops
    from jobnotes.hearing.choose import recogniser
    from jobnotes.serve import server
    from jobnotes.serve.store import Store

    # whatever is wrong with the workshop's files or the recogniser is said before a phone is let in
    workshops.load(settings.workshop)
    recogniser(settings.hear_with)
    with server.only_one(settings), server.listen(network, port) as listening:
        settings = replace(settings, address=f"http://127.0.0.1:{listening.getsockname()[1]}")
        certificate = None
        if network:
            settings, certificate = _on_network(settings, listening.getsockname()[1])
        store = Store(settings.database)
        store.tell("address", settings.address)
        roles: tuple[Role, ...] = ("technician", "clerk") if network else ("clerk",)

        def ready() -> None:
            for role in roles:
                _show_code(store, settings, role)
            others = (
                [host for host in certificate.names if host not in settings.address] if certificate else []
            )
            if others:
                click.echo(f"This machine is known here as {', '.join(others)} too.")
            if settings.workshop is None:
                click.echo(WITHOUT_WORKSHOP)
            click.echo(READY)

        try:
            server.serve(
                settings,
                listening,
                certificate=certificate.server if certificate else None,
                key=certificate.server_key if certificate else None,
                ready=ready,
            )
        finally:
            store.close()
    click.echo("jobnotes: ended; what is still unheard is heard after the next start", err=True)


def _on_network(settings: Settings, port: int) -> tuple[Settings, Certificate]:
    """Settings for the phones of this network, and the certificate of this machine on it."""
    from jobnotes.serve import access, addresses, tls

    found = addresses.private_addresses()
    if not found:
        raise JobnotesError(
            "network", "this machine has no private address on one", "join the workshop's network first"
        )
    names = [*found, *addresses.host_names(), "localhost", "127.0.0.1", "::1"]
    certificate = tls.certificate(settings.tls_folder, names)
    return (
        replace(
            settings,
            address=f"https://{access.in_address(found[0])}:{port}",
            hosts=access.hosts(certificate.names),
            tls=True,
        ),
        certificate,
    )


def _print_code(library: Path, role: Role) -> None:
    from jobnotes.serve import server
    from jobnotes.serve.settings import Settings
    from jobnotes.serve.store import Store

    settings = Settings(library.absolute())
    if not server.runs(settings):
        raise JobnotesError(str(library), "isn't being served", "start it with: jobnotes serve --library …")
    store = Store(settings.database)
    try:
        _show_code(store, replace(settings, address=store.told("address") or settings.address), role)
    finally:
        store.close()


def _show_code(store: Store, settings: Settings, role: Role) -> None:
    """The address with the code, and its QR code where a phone can come by."""
    import segno

    from jobnotes.serve import access

    code = access.new_code(store, settings, role)
    click.echo(f"{role}: {code.address}")
    if settings.address.startswith("https") and _draws_blocks():
        segno.make(code.address, error="m").terminal(compact=True)


def _draws_blocks() -> bool:
    """Whether what the terminal shows can be a QR code."""
    try:
        "▀▄█".encode(sys.stdout.encoding or "ascii")
    except UnicodeEncodeError:
        return False
    return True


def _zone(name: str | None) -> str:
    """The name of the zone: the workers are told it."""
    if name is not None:
        options.zone_named(name)
        return name
    import tzlocal

    local = tzlocal.get_localzone_name()
    if not local:
        raise JobnotesError("time zone", "this machine doesn't name its own", "give it with --zone")
    options.zone_named(local)
    return str(local)
