"""This machine on its networks: the names and private addresses under which phones reach it."""

from __future__ import annotations

import re
import socket

import ifaddr

from jobnotes.serve.tls import private

_HOST_NAME = re.compile(r"[a-z0-9]([a-z0-9-]{0,61}[a-z0-9])?(\.[a-z0-9]([a-z0-9-]{0,61}[a-z0-9])?)*")


def private_addresses() -> tuple[str, ...]:
    """The private addresses of all networks that this machine is in, the likeliest to be reached first.

    Addresses that the whole internet may reach are left out, and so are this machine's own (loopback).
    """
    found: list[str] = []
    for adapter in ifaddr.get_adapters():
        for ip in adapter.ips:
            # an IPv6 address of one link only needs the link's name beside it, which no other machine knows
            address = ip.ip if isinstance(ip.ip, str) else ip.ip[0]
            if private(address) and not address.startswith(("127.", "169.254.", "fe80", "::1")):
                found.append(address)
    return tuple(sorted(dict.fromkeys(found), key=_likely))


def host_names() -> tuple[str, ...]:
    """This machine's name, if it is one that a certificate can hold; and as it may be found without a server
    of names (RFC 6762)."""
    name = socket.gethostname().lower()
    if not _HOST_NAME.fullmatch(name) or len(name) > 63:
        return ()
    return (name, f"{name}.local") if "." not in name else (name,)


def _likely(address: str) -> tuple[int, str]:
    order = ("192.168.", "10.", "172.")
    return next((at for at, start in enumerate(order) if address.startswith(start)), len(order)), address
