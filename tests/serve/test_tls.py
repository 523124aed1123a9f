"""The workshop's own authority: a phone that trusts it trusts this machine, and nothing else."""

from __future__ import annotations

import contextlib
import ipaddress
import os
import socket
import ssl
import stat
import threading
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID
from cryptography.x509.verification import PolicyBuilder, Store, VerificationError

from jobnotes.errors import JobnotesError
from jobnotes.serve import tls

NAMES = ("192.168.7.20", "fd00::7", "workshop-pc", "localhost", "127.0.0.1", "::1")


def load(path: Path) -> list[x509.Certificate]:
    return x509.load_pem_x509_certificates(path.read_bytes())


def handshake(server: tls.Certificate, name: str) -> dict[str, object]:
    """OpenSSL's own judgement: a client that trusts nothing but the authority asks for `name`."""
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(server.server, server.server_key)
    client = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
    client.load_verify_locations(server.authority)
    ours, theirs = socket.socketpair()
    with ours, theirs:
        thread = threading.Thread(target=_answer, args=(context, theirs))
        thread.start()
        try:
            with client.wrap_socket(ours, server_hostname=name) as connection:
                return dict(connection.getpeercert() or {})
        finally:
            ours.close()
            thread.join()


def _answer(context: ssl.SSLContext, connection: socket.socket) -> None:
    with contextlib.suppress(OSError), context.wrap_socket(connection, server_side=True):
        pass


@pytest.mark.parametrize("name", NAMES)
def test_a_client_that_trusts_the_authority_trusts_this_machine(tmp_path: Path, name: str) -> None:
    assert handshake(tls.certificate(tmp_path / "tls", NAMES), name)


@pytest.mark.parametrize("name", ["192.168.7.21", "example.org", "workshop-pc.example.org"])
def test_it_does_not_trust_it_under_another_name(tmp_path: Path, name: str) -> None:
    with pytest.raises(ssl.SSLCertVerificationError):
        handshake(tls.certificate(tmp_path / "tls", NAMES), name)


def test_a_client_that_has_no_authority_of_ours_trusts_nothing(tmp_path: Path) -> None:
    here, other = (tls.certificate(tmp_path / folder, NAMES) for folder in ("here", "other"))
    mixed = tls.Certificate(here.server, here.server_key, other.authority, here.names)
    with pytest.raises(ssl.SSLCertVerificationError):
        handshake(mixed, "localhost")


@pytest.mark.parametrize("name", ["bank.example", "8.8.8.8", "localhost.example"])
def test_a_stolen_authority_speaks_for_nobody_else(tmp_path: Path, name: str) -> None:
    """By the name constraints of RFC 5280, 4.2.1.10, as OpenSSL checks them."""
    ours = tls.certificate(tmp_path / "tls", NAMES)
    authority = load(ours.authority)[0]
    thief = serialization.load_pem_private_key((tmp_path / "tls" / tls.AUTHORITY_KEY).read_bytes(), None)
    assert isinstance(thief, ec.EllipticCurvePrivateKey)
    key = ec.generate_private_key(ec.SECP256R1())
    held: x509.GeneralName = (
        x509.IPAddress(ipaddress.ip_address(name)) if name[0].isdigit() else x509.DNSName(name)
    )
    now = datetime.now(UTC)
    forged = (
        x509.CertificateBuilder()
        .subject_name(x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "forged")]))
        .issuer_name(authority.subject)
        .public_key(key.public_key())
        .serial_number(1)
        .not_valid_before(now - timedelta(days=1))
        .not_valid_after(now + timedelta(days=1))
        .add_extension(x509.SubjectAlternativeName([held]), critical=False)
        .sign(thief, hashes.SHA256())
    )
    pem = serialization.Encoding.PEM
    (tmp_path / "forged.crt").write_bytes(forged.public_bytes(pem) + authority.public_bytes(pem))
    (tmp_path / "forged.key").write_bytes(
        key.private_bytes(pem, serialization.PrivateFormat.PKCS8, serialization.NoEncryption())
    )
    with pytest.raises(ssl.SSLCertVerificationError, match="permitted subtree"):
        handshake(tls.Certificate(tmp_path / "forged.crt", tmp_path / "forged.key", ours.authority, ()), name)


def test_the_chain_is_good_by_the_rules_of_the_web(tmp_path: Path) -> None:
    """As `cryptography` verifies a server's chain: the profile of the CA/Browser Forum's requirements."""
    made = tls.certificate(tmp_path / "tls", ("workshop-pc.local", "192.168.7.20"))
    leaf, authority = load(made.server)
    verifier = (
        PolicyBuilder().store(Store([authority])).build_server_verifier(x509.DNSName("workshop-pc.local"))
    )
    assert verifier.verify(leaf, [])
    elsewhere = PolicyBuilder().store(Store([authority])).build_server_verifier(x509.DNSName("other.local"))
    with pytest.raises(VerificationError):
        elsewhere.verify(leaf, [])


def test_what_the_certificates_say(tmp_path: Path) -> None:
    made = tls.certificate(tmp_path / "tls", NAMES)
    leaf, authority = load(made.server)
    assert isinstance(leaf.public_key(), ec.EllipticCurvePublicKey)
    assert leaf.public_key().curve.name == authority.public_key().curve.name == "secp256r1"  # type: ignore[union-attr]
    # phones refuse a server's certificate that holds for longer than 825 days, whoever issued it
    assert leaf.not_valid_after_utc - leaf.not_valid_before_utc == timedelta(days=365)
    usage = leaf.extensions.get_extension_for_class(x509.ExtendedKeyUsage).value
    assert list(usage) == [ExtendedKeyUsageOID.SERVER_AUTH]
    assert not leaf.extensions.get_extension_for_class(x509.BasicConstraints).value.ca
    limits = authority.extensions.get_extension_for_class(x509.BasicConstraints)
    assert (limits.critical, limits.value.ca, limits.value.path_length) == (True, True, 0)
    assert authority.extensions.get_extension_for_class(x509.NameConstraints).critical


def test_a_public_address_is_never_spoken_for(tmp_path: Path) -> None:
    made = tls.certificate(tmp_path / "tls", ("192.168.7.20", "198.51.100.7", "8.8.8.8", "2001:db8::1"))
    assert made.names == ("192.168.7.20",)
    assert not any(map(tls.private, ("198.51.100.7", "172.32.0.1", "192.169.0.1", "::", "nonsense", "")))
    assert all(
        map(tls.private, ("10.1.2.3", "172.16.0.1", "172.31.255.255", "192.168.0.1", "fd12::1", "::1"))
    )


# --- over the years ------------------------------------------------------------------------------


def test_the_same_certificate_is_used_again(tmp_path: Path) -> None:
    first = tls.certificate(tmp_path / "tls", NAMES)
    before = {p.name: p.read_bytes() for p in (tmp_path / "tls").iterdir()}
    assert tls.certificate(tmp_path / "tls", reversed(NAMES)).authority == first.authority
    assert {p.name: p.read_bytes() for p in (tmp_path / "tls").iterdir()} == before


@pytest.mark.parametrize(("days", "renewed"), [(200, False), (310, True), (400, True)])
def test_it_is_renewed_in_time_and_the_phones_go_on_trusting_it(
    tmp_path: Path, days: int, renewed: bool
) -> None:
    now = datetime.now(UTC)
    tls.certificate(tmp_path / "tls", NAMES, now - timedelta(days=days))
    kept = {p.name: p.read_bytes() for p in (tmp_path / "tls").iterdir()}
    made = tls.certificate(tmp_path / "tls", NAMES, now)
    assert (made.server.read_bytes() != kept[tls.SERVER]) is renewed
    assert made.authority.read_bytes() == kept[tls.AUTHORITY]
    assert handshake(made, "192.168.7.20")


def test_a_machine_that_moves_has_a_certificate_for_where_it_is(tmp_path: Path) -> None:
    before = tls.certificate(tmp_path / "tls", NAMES).authority.read_bytes()
    moved = tls.certificate(tmp_path / "tls", ("10.9.8.7", "localhost"))
    assert moved.authority.read_bytes() == before
    assert handshake(moved, "10.9.8.7")
    with pytest.raises(ssl.SSLCertVerificationError):
        handshake(moved, "192.168.7.20")


def test_an_authority_that_ends_soon_is_made_anew(tmp_path: Path) -> None:
    now = datetime.now(UTC)
    old = tls.certificate(tmp_path / "tls", NAMES, now - timedelta(days=tls.AUTHORITY_DAYS - 100))
    before = old.authority.read_bytes()
    new = tls.certificate(tmp_path / "tls", NAMES, now)
    assert new.authority.read_bytes() != before
    assert handshake(new, "localhost")


@pytest.mark.parametrize("file", [tls.SERVER, tls.SERVER_KEY])
@pytest.mark.parametrize("content", [None, b"", b"nonsense"])
def test_a_lost_or_damaged_certificate_is_made_anew(tmp_path: Path, file: str, content: bytes | None) -> None:
    made = tls.certificate(tmp_path / "tls", NAMES)
    (tmp_path / "tls" / file).unlink()
    if content is not None:
        (tmp_path / "tls" / file).write_bytes(content)
    before = made.authority.read_bytes()
    again = tls.certificate(tmp_path / "tls", NAMES)
    assert again.authority.read_bytes() == before
    assert handshake(again, "localhost")


@pytest.mark.parametrize("file", [tls.AUTHORITY, tls.AUTHORITY_KEY])
def test_a_damaged_authority_is_said_and_never_replaced_in_silence(tmp_path: Path, file: str) -> None:
    tls.certificate(tmp_path / "tls", NAMES)
    (tmp_path / "tls" / file).write_bytes(b"nonsense")
    with pytest.raises(JobnotesError, match="phones"):
        tls.certificate(tmp_path / "tls", NAMES)


@pytest.fixture
def loose_umask() -> Iterator[None]:
    before = os.umask(0)
    yield
    os.umask(before)


@pytest.mark.skipif(os.name == "nt", reason="permissions are kept in another way there")
@pytest.mark.usefixtures("loose_umask")
def test_keys_are_their_owners_only(tmp_path: Path) -> None:
    tls.certificate(tmp_path / "tls", NAMES)
    modes = {p.name: stat.S_IMODE(p.stat().st_mode) for p in (tmp_path / "tls").iterdir()}
    assert modes[tls.AUTHORITY_KEY] == modes[tls.SERVER_KEY] == 0o600
    assert stat.S_IMODE((tmp_path / "tls").stat().st_mode) == 0o700
    assert not any(name.startswith(".") for name in modes)
