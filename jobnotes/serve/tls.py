"""The workshop's own authority, and the server's certificate under it.

A phone trusts this machine once it has the authority's certificate. The authority can speak for nothing but
this machine's names and private addresses (RFC 5280, 4.2.1.10, name constraints), so that a stolen key is of
no use against other sites. Keys stay on this machine, readable by its user only.
"""

from __future__ import annotations

import ipaddress
import socket
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from jobnotes.errors import JobnotesError
from jobnotes.serve.uploads import write_beside

try:
    from cryptography import x509
    from cryptography.exceptions import InvalidSignature
    from cryptography.hazmat.primitives import hashes, serialization
    from cryptography.hazmat.primitives.asymmetric import ec
    from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID
except ImportError as error:  # pragma: no cover - a platform for which there is no wheel
    raise JobnotesError(
        "TLS", "the package cryptography is missing or broken", "install it: pip install cryptography"
    ) from error

AUTHORITY_DAYS, SERVER_DAYS = 3650, 365
RENEW_DAYS = 60
AUTHORITY, AUTHORITY_KEY, SERVER, SERVER_KEY = "authority.crt", "authority.key", "server.crt", "server.key"

#: private, link-local and loopback addresses (RFC 1918, 3927, 4193, 4291), and names that no public site has
_NETWORKS = ("10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16", "169.254.0.0/16", "127.0.0.0/8")
_NETWORKS_6 = ("fc00::/7", "fe80::/10", "::1/128")
_DOMAINS = ("localhost", "local", "lan", "home.arpa", "internal")  # RFC 6761, 6762, 8375; ICANN for the last

IPAddress = ipaddress.IPv4Address | ipaddress.IPv6Address


@dataclass(frozen=True, slots=True)
class Certificate:
    """Where they lie; `server` has the authority's after its own. `names` are those that it holds for."""

    server: Path
    server_key: Path
    authority: Path
    names: tuple[str, ...]


def private(address: str) -> bool:
    """True for an address that the authority may speak for."""
    try:
        wanted = ipaddress.ip_address(address)
    except ValueError:
        return False
    return any(wanted in ipaddress.ip_network(network) for network in (*_NETWORKS, *_NETWORKS_6))


def certificate(folder: Path, names: Iterable[str], now: datetime | None = None) -> Certificate:
    """The certificate of this machine for those names and addresses, made or renewed in `folder`.

    What the authority may not speak for is left out. Raises JobnotesError if the folder can't be written.
    """
    now = now or datetime.now(UTC)
    wanted = tuple(dict.fromkeys(names))
    try:
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        authority, key = _authority(folder, wanted, now)
        allowed = tuple(name for name in wanted if _may_hold(authority, name))
        if not _still_good(folder, authority, allowed, now):
            _issue(folder, authority, key, allowed, now)
    except (OSError, ValueError, TypeError) as error:
        reason = (error.strerror if isinstance(error, OSError) else None) or "isn't what was written there"
        remedy = "move the folder away to have a new authority made, and install that on the phones"
        raise JobnotesError(str(folder), reason, remedy) from error
    return Certificate(folder / SERVER, folder / SERVER_KEY, folder / AUTHORITY, allowed)


def _authority(
    folder: Path, names: Iterable[str], now: datetime
) -> tuple[x509.Certificate, ec.EllipticCurvePrivateKey]:
    path = folder / AUTHORITY
    if path.exists():
        authority = x509.load_pem_x509_certificate(path.read_bytes())
        key = serialization.load_pem_private_key((folder / AUTHORITY_KEY).read_bytes(), None)
        if not isinstance(key, ec.EllipticCurvePrivateKey) or key.public_key() != authority.public_key():
            raise ValueError("the key isn't the authority's")
        if authority.not_valid_after_utc > now + timedelta(days=SERVER_DAYS):
            return authority, key
    key = ec.generate_private_key(ec.SECP256R1())
    domains = [name for name in names if not _is_address(name)]
    permitted: list[x509.GeneralName] = [x509.DNSName(d) for d in dict.fromkeys((*_DOMAINS, *domains))]
    permitted += [x509.IPAddress(ipaddress.ip_network(n)) for n in (*_NETWORKS, *_NETWORKS_6)]
    subject = x509.Name(
        [x509.NameAttribute(NameOID.COMMON_NAME, f"jobnotes on {socket.gethostname()[:40]}, {now:%Y-%m-%d}")]
    )
    identifier = x509.SubjectKeyIdentifier.from_public_key(key.public_key())
    made = (
        _builder(subject, subject, key, now, AUTHORITY_DAYS)
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(_usage(signs=True), critical=True)
        .add_extension(identifier, critical=False)
        .add_extension(x509.NameConstraints(permitted, None), critical=True)
        .sign(key, hashes.SHA256())
    )
    write_beside(folder / AUTHORITY_KEY, _pem(key))
    write_beside(path, made.public_bytes(serialization.Encoding.PEM), 0o644)
    return made, key


def _issue(
    folder: Path,
    authority: x509.Certificate,
    authority_key: ec.EllipticCurvePrivateKey,
    names: tuple[str, ...],
    now: datetime,
) -> None:
    key = ec.generate_private_key(ec.SECP256R1())
    alternatives: list[x509.GeneralName] = [
        x509.IPAddress(ipaddress.ip_address(n)) if _is_address(n) else x509.DNSName(n) for n in names
    ]
    subject = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "jobnotes server")])
    made = (
        _builder(subject, authority.subject, key, now, SERVER_DAYS)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(_usage(signs=False), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(x509.SubjectAlternativeName(alternatives), critical=False)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
        .add_extension(
            x509.AuthorityKeyIdentifier.from_issuer_subject_key_identifier(
                authority.extensions.get_extension_for_class(x509.SubjectKeyIdentifier).value
            ),
            critical=False,
        )
        .sign(authority_key, hashes.SHA256())
    )
    # the key first: a new key beside the old certificate doesn't fit, which the next start sees and repairs
    write_beside(folder / SERVER_KEY, _pem(key))
    chain = b"".join(c.public_bytes(serialization.Encoding.PEM) for c in (made, authority))
    write_beside(folder / SERVER, chain, 0o644)


def _still_good(folder: Path, authority: x509.Certificate, names: tuple[str, ...], now: datetime) -> bool:
    try:
        made = x509.load_pem_x509_certificate((folder / SERVER).read_bytes())
        key = serialization.load_pem_private_key((folder / SERVER_KEY).read_bytes(), None)
        made.verify_directly_issued_by(authority)
        held = made.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    except (OSError, ValueError, TypeError, InvalidSignature, x509.ExtensionNotFound):
        return False
    return (
        key.public_key() == made.public_key()
        and {str(name.value) for name in held} == set(names)
        and made.not_valid_before_utc <= now < made.not_valid_after_utc - timedelta(days=RENEW_DAYS)
    )


def _builder(
    subject: x509.Name, issuer: x509.Name, key: ec.EllipticCurvePrivateKey, now: datetime, days: int
) -> x509.CertificateBuilder:
    return (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(issuer)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - timedelta(days=1))  # a phone's clock may be behind
        .not_valid_after(now + timedelta(days=days - 1))
    )


def _usage(*, signs: bool) -> x509.KeyUsage:
    return x509.KeyUsage(
        digital_signature=not signs,
        content_commitment=False,
        key_encipherment=False,
        data_encipherment=False,
        key_agreement=False,
        key_cert_sign=signs,
        crl_sign=signs,
        encipher_only=False,
        decipher_only=False,
    )


def _may_hold(authority: x509.Certificate, name: str) -> bool:
    """Whether the authority's constraints let it speak for that name or address."""
    permitted = authority.extensions.get_extension_for_class(x509.NameConstraints).value.permitted_subtrees
    for allowed in permitted or ():
        if isinstance(allowed, x509.DNSName) and not _is_address(name):
            if name == allowed.value or name.endswith(f".{allowed.value}"):
                return True
        elif (
            isinstance(allowed, x509.IPAddress)
            and _is_address(name)
            and isinstance(allowed.value, ipaddress.IPv4Network | ipaddress.IPv6Network)
            and ipaddress.ip_address(name) in allowed.value
        ):
            return True
    return False


def _is_address(name: str) -> bool:
    try:
        ipaddress.ip_address(name)
    except ValueError:
        return False
    return True


def _pem(key: ec.EllipticCurvePrivateKey) -> bytes:
    return key.private_bytes(
        serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    )
