"""One server over one library: its port, its lock, its certificate, and its end."""

from __future__ import annotations

import contextlib
import errno
import socket
from collections.abc import Callable, Iterator
from pathlib import Path

import uvicorn
from filelock import FileLock, Timeout

from jobnotes.errors import JobnotesError
from jobnotes.library.library import Library
from jobnotes.serve.app import create_app
from jobnotes.serve.settings import Settings

LOCK = "lock"


@contextlib.contextmanager
def only_one(settings: Settings) -> Iterator[None]:
    """Held while the server runs. Raises JobnotesError if another one runs over the same library."""
    Library.open(settings.library).close()  # it says what is wrong with it, if anything is
    lock = FileLock(settings.folder / LOCK)
    try:
        settings.folder.mkdir(exist_ok=True, mode=0o700)
        lock.acquire(timeout=0)
    except Timeout:
        raise JobnotesError(
            str(settings.library), "is being served by another `jobnotes serve`", "stop that one first"
        ) from None
    except OSError as error:
        reason = error.strerror or "can't be written"
        raise JobnotesError(str(settings.folder), reason, "choose another --library, or make room") from error
    try:
        yield
    finally:
        lock.release()


def runs(settings: Settings) -> bool:
    """Whether a server runs over that library just now."""
    if not settings.database.is_file():
        return False
    lock = FileLock(settings.folder / LOCK)
    try:
        lock.acquire(timeout=0)
    except Timeout:
        return True
    lock.release()
    return False


def listen(network: bool, port: int) -> socket.socket:
    """A socket for this machine or for its networks; port 0 is any that is free. Raises JobnotesError."""
    dual = network and socket.has_dualstack_ipv6()
    family = socket.AF_INET6 if dual else socket.AF_INET
    host = "::" if dual else "0.0.0.0" if network else "127.0.0.1"
    try:
        return socket.create_server((host, port), family=family, dualstack_ipv6=dual, backlog=128)
    except OSError as error:
        if error.errno == errno.EADDRINUSE:
            reason, remedy = "is in use by another program", "choose another one with --port"
        elif error.errno == errno.EACCES:
            reason, remedy = "may not be used by you", "choose one above 1023 with --port"
        else:
            reason, remedy = f"can't be used ({error.strerror})", "choose another one with --port"
        raise JobnotesError(f"port {port}", reason, remedy) from error


def serve(
    settings: Settings,
    listening: socket.socket,
    *,
    certificate: Path | None = None,
    key: Path | None = None,
    ready: Callable[[], None] | None = None,
) -> None:
    """Serve until Ctrl-C. `ready` is called when it answers. Requests are never logged."""

    class Server(uvicorn.Server):
        async def startup(self, sockets: list[socket.socket] | None = None) -> None:
            await super().startup(sockets)
            if self.started and ready is not None:
                ready()

    config = uvicorn.Config(
        create_app(settings),
        access_log=False,
        log_level="warning",
        server_header=False,
        proxy_headers=False,  # nobody stands before it, so nobody may say who asks
        ws="none",
        timeout_keep_alive=30,
        timeout_graceful_shutdown=5,
        limit_concurrency=400,
        h11_max_incomplete_event_size=64 * 1024,
        ssl_certfile=certificate,
        ssl_keyfile=key,
    )
    server = Server(config)
    with contextlib.suppress(KeyboardInterrupt):  # Ctrl-C is how it is meant to end
        server.run(sockets=[listening])
    if not server.started:
        raise JobnotesError("the server", "didn't start", "see the message above")
