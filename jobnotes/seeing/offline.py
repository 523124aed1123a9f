"""Keeps the libraries that read photos off the network, of which nothing is asked here."""

from __future__ import annotations

import contextlib
import socket
from collections.abc import Iterator


@contextlib.contextmanager
def no_socket_opened() -> Iterator[None]:
    """To import rapidocr in: what it would fetch weights with opens a socket to see if there is IPv6."""
    before = socket.has_ipv6
    socket.has_ipv6 = False
    try:
        yield
    finally:
        socket.has_ipv6 = before
