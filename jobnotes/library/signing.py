"""The workshop's own signature under the journal: Ed25519 (RFC 8032), by a key that never leaves its folder.

What is signed is the journal's last entry, and with it all before it. It shows that whoever held the key knew
exactly this journal. It doesn't show when, and whoever holds the key can sign another one.
"""

from __future__ import annotations

import os
import tempfile
from dataclasses import dataclass
from pathlib import Path

from cryptography.exceptions import InvalidSignature, UnsupportedAlgorithm
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey
from cryptography.hazmat.primitives.serialization import (
    Encoding,
    NoEncryption,
    PrivateFormat,
    PublicFormat,
    load_pem_private_key,
    load_pem_public_key,
)
from sqlite_utils import Database

from jobnotes.durable import place_new
from jobnotes.errors import JobnotesError
from jobnotes.library.journal import Head, canonical

KEY = "signing-key.pem"


@dataclass(frozen=True, slots=True)
class Signature:
    """A signature under the entry of that number; key and signature in hexadecimal."""

    number: int
    public_key: str
    signature: str


def make_key(folder: Path) -> str:
    """A new key in the library's folder, which only its owner may read; the public one, as PEM.

    Raises JobnotesError if there is one already: who loses it can't sign with it any more.
    """
    path = folder / KEY
    key = Ed25519PrivateKey.generate()
    content = key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())
    try:
        handle, name = tempfile.mkstemp(dir=folder, prefix=f".{KEY}.")  # with 0600
        try:
            with os.fdopen(handle, "wb") as file:
                file.write(content)
                file.flush()
                os.fsync(file.fileno())
            place_new(Path(name), path)
        finally:
            Path(name).unlink(missing_ok=True)
    except FileExistsError:
        raise JobnotesError(str(path), "there is a key already", "move it away to have a new one") from None
    except OSError as error:
        raise JobnotesError(str(path), error.strerror or "can't be written", "check the folder") from error
    return public_pem(key.public_key())


def key_in(folder: Path) -> Ed25519PrivateKey | None:
    """The workshop's key; None where it never made one. Raises JobnotesError if it can't be used."""
    path = folder / KEY
    try:
        key = load_pem_private_key(path.read_bytes(), password=None)
    except FileNotFoundError:
        return None
    except OSError as error:
        raise _unusable(path, error.strerror or "can't be read") from error
    except (ValueError, TypeError, UnsupportedAlgorithm) as error:
        raise _unusable(path, "is not a private key") from error
    if not isinstance(key, Ed25519PrivateKey):
        raise _unusable(path, "is not an Ed25519 key")
    return key


def public_key_in(path: Path) -> Ed25519PublicKey:
    """A public key from its PEM file. Raises JobnotesError if there is none in it."""
    try:
        key = load_pem_public_key(path.read_bytes())
    except OSError as error:
        raise JobnotesError(
            str(path), error.strerror or "can't be read", "name the file of the public key"
        ) from error
    except (ValueError, UnsupportedAlgorithm):
        key = None
    if not isinstance(key, Ed25519PublicKey):
        raise JobnotesError(str(path), "is not an Ed25519 public key", "give what `jobnotes key` printed")
    return key


def public_pem(key: Ed25519PublicKey) -> str:
    return key.public_bytes(Encoding.PEM, PublicFormat.SubjectPublicKeyInfo).decode("ascii")


def public_hex(key: Ed25519PublicKey) -> str:
    """The key's 32 bytes, in hexadecimal."""
    return key.public_bytes(Encoding.Raw, PublicFormat.Raw).hex()


def signed(head: Head) -> bytes:
    """The bytes that are signed for an entry."""
    return canonical(
        {"format": "jobnotes-journal-head", "version": 1, "number": head.number, "sha256": head.sha256}
    )


def sign(db: Database, key: Ed25519PrivateKey, head: Head) -> None:
    """Within a transaction: sign that entry, unless this key has signed it before."""
    public = public_hex(key.public_key())
    about = [head.number, public]
    known = "SELECT 1 FROM journal_signatures WHERE number = ? AND public_key = ?"
    if db.execute(known, about).fetchone() is None:
        db.execute(
            "INSERT INTO journal_signatures (number, public_key, signature) VALUES (?, ?, ?)",
            [*about, key.sign(signed(head)).hex()],
        )


def signatures(db: Database) -> tuple[Signature, ...]:
    rows = db.execute(
        "SELECT number, public_key, signature FROM journal_signatures ORDER BY number, public_key"
    )
    return tuple(Signature(*row) for row in rows.fetchall())


def is_good(signature: Signature, head: Head) -> bool:
    """True if the signature is of that entry, by the key that it names."""
    try:
        key = Ed25519PublicKey.from_public_bytes(bytes.fromhex(signature.public_key))
        key.verify(bytes.fromhex(signature.signature), signed(head))
    except (ValueError, InvalidSignature):
        return False
    return True


def _unusable(path: Path, reason: str) -> JobnotesError:
    return JobnotesError(str(path), reason, "put the right one back, or move it away to go on unsigned")
