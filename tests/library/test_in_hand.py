"""A claim in hand: as it was drawn, from the record as it is now or an earlier one, altered, or unknown."""

from __future__ import annotations

import json
import shutil
import sqlite3
from contextlib import closing
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import docx
import pytest
from click.testing import CliRunner, Result
from library_jobs import FACTS, file_and_save, make_recording

from jobnotes.commands.delete import delete
from jobnotes.commands.key import key
from jobnotes.commands.verify import verify
from jobnotes.documents.writing import write_all
from jobnotes.library import signing
from jobnotes.library.database import NAME
from jobnotes.library.library import Library
from jobnotes.record import Record


@dataclass
class Drawn:
    """A job whose documents were drawn; `claim` has gone out."""

    library: Path
    job: str
    record: Record
    claim: Path

    def draw(self, record: Record, out: Path) -> Path:
        out.mkdir(exist_ok=True)
        with Library.open(self.library) as library:
            sha256 = library.save(record, self.job)
            paths = write_all(
                record,
                sha256,
                lambda *_: None,
                out,
                finished=lambda drawn: library.documents_drawn(self.job, sha256, drawn),
            )
        return paths[0]

    def told(self, path: Path, *more: object) -> tuple[int, Any]:
        result = self.verify(path, *more, "--json")
        (said,) = json.loads(result.stdout)["in_hand"]
        return result.exit_code, said

    def verify(self, *args: object) -> Result:
        return CliRunner().invoke(verify, ["--library", str(self.library), *map(str, args)])


@pytest.fixture
def drawn(tmp_path: Path, recording: Path) -> Drawn:
    with Library.open(tmp_path / "library") as library:
        job, record = file_and_save(library, recording)
    made = Drawn(tmp_path / "library", job, record, tmp_path / "sent.docx")
    shutil.copy(made.draw(record, tmp_path / "out"), made.claim)
    return made


def test_a_claim_as_it_was_drawn_is_current_under_any_name(drawn: Drawn) -> None:
    status, said = drawn.told(drawn.claim)
    assert (status, said["state"], said["job"]) == (0, "current", drawn.job)
    result = drawn.verify(drawn.claim)
    assert "Fits: sent.docx: is as it was drawn on" in result.stdout


def test_a_claim_from_before_the_record_changed_is_an_earlier_one(drawn: Drawn, tmp_path: Path) -> None:
    newer = drawn.draw(replace(drawn.record, facts=FACTS[:1]), tmp_path / "out")
    assert drawn.told(newer)[1]["state"] == "current"
    status, said = drawn.told(drawn.claim)
    assert (status, said["state"]) == (1, "earlier")
    assert "a later record" in said["reason"]


def test_a_value_improved_in_a_word_processor_is_seen(drawn: Drawn) -> None:
    document = docx.Document(str(drawn.claim))
    changed = 0
    for cell in (c for table in document.tables for row in table.rows for c in row.cells):
        for run in (r for p in cell.paragraphs for r in p.runs):
            if "12.6" in run.text:
                run.text = run.text.replace("12.6", "10.6")
                changed += 1
    assert changed
    document.save(str(drawn.claim))
    # it still names the record that it was drawn from
    status, said = drawn.told(drawn.claim)
    assert (status, said["state"], said["job"]) == (1, "altered", drawn.job)
    result = drawn.verify(drawn.claim)
    # why it doesn't fit is said once
    assert result.output.count("was altered") == 1
    assert "Doesn't fit: sent.docx: was altered" in result.stdout
    assert result.stderr == "jobnotes: sent.docx doesn't fit\n"
    assert drawn.verify(drawn.claim, "--json").stderr.startswith("jobnotes: sent.docx: was altered")


def test_saving_it_again_unchanged_is_seen_too(drawn: Drawn) -> None:
    docx.Document(str(drawn.claim)).save(str(drawn.claim))
    assert drawn.told(drawn.claim)[1]["state"] == "altered"


def test_an_altered_claim_in_the_jobs_own_folder_is_named(drawn: Drawn, tmp_path: Path) -> None:
    from jobnotes import record_json

    record_json.write(drawn.record, tmp_path / "out" / "record.json")
    args = ["--out", str(tmp_path / "out"), "--library", str(drawn.library)]
    assert CliRunner().invoke(verify, args).exit_code == 0
    docx.Document(str(tmp_path / "out" / "claim.docx")).save(str(tmp_path / "out" / "claim.docx"))
    result = CliRunner().invoke(verify, args)
    assert result.exit_code == 1
    assert result.stderr == "jobnotes: claim.docx doesn't fit\n"
    assert "Doesn't fit: claim.docx: was altered" in result.stdout


def test_a_claim_from_elsewhere_is_unknown(drawn: Drawn, tmp_path: Path) -> None:
    with Library.open(tmp_path / "other") as library:
        job, record = file_and_save(library, make_recording(tmp_path / "given" / "o.wav", 7))
    other = Drawn(tmp_path / "other", job, record, tmp_path / "other.docx")
    status, said = drawn.told(other.draw(record, tmp_path / "elsewhere"))
    assert (status, said["state"]) == (1, "unknown")
    assert "job" not in said


@pytest.mark.parametrize("content", [b"", b"PK\x03\x04", b"\0" * 4096])
def test_what_is_no_document_is_unknown(drawn: Drawn, tmp_path: Path, content: bytes) -> None:
    (tmp_path / "x.docx").write_bytes(content)
    assert drawn.told(tmp_path / "x.docx")[1]["state"] == "unknown"


def test_a_file_that_is_not_there_is_told_in_one_line(drawn: Drawn, tmp_path: Path) -> None:
    result = drawn.verify(tmp_path / "nowhere.docx")
    assert (result.exit_code, result.stdout, result.stderr.count("\n")) == (2, "", 1)


def test_a_claim_of_a_deleted_job_says_who_deleted_it(drawn: Drawn) -> None:
    args = [drawn.job, "--library", str(drawn.library), "--by", "Dee", "--yes"]
    assert CliRunner().invoke(delete, args).exit_code == 0
    status, said = drawn.told(drawn.claim)
    assert (status, said["state"]) == (1, "deleted")
    assert "by Dee" in said["reason"]


def test_every_document_of_a_run_can_be_told(drawn: Drawn, tmp_path: Path) -> None:
    result = drawn.verify(*sorted((tmp_path / "out").glob("*.docx")), "--json")
    assert [said["state"] for said in json.loads(result.stdout)["in_hand"]] == ["current"] * 3
    assert result.exit_code == 0


# --- the signature ---------------------------------------------------------------------------------


@pytest.fixture
def public(drawn: Drawn, tmp_path: Path) -> Path:
    """The public key, made on request; the documents were drawn again since."""
    made = CliRunner().invoke(key, ["--library", str(drawn.library)])
    assert made.exit_code == 0
    (tmp_path / "public.pem").write_text(made.stdout)
    drawn.draw(replace(drawn.record, facts=FACTS[:2]), tmp_path / "out")
    return tmp_path / "public.pem"


def test_the_key_is_its_owners_alone_and_asking_again_gives_the_same(drawn: Drawn, public: Path) -> None:
    path = drawn.library / signing.KEY
    assert path.stat().st_mode & 0o777 == 0o600
    before = path.read_bytes()
    again = CliRunner().invoke(key, ["--library", str(drawn.library)])
    assert again.stdout == public.read_text()
    assert path.read_bytes() == before


def test_the_journal_is_signed_when_documents_are_drawn(drawn: Drawn, public: Path) -> None:
    result = drawn.verify("--public-key", public, "--json")
    assert result.exit_code == 0
    said = json.loads(result.stdout)["journal"]
    assert said["signed"] == said["entries"]


def test_what_is_signed_is_plain_ed25519_over_canonical_json(drawn: Drawn, public: Path) -> None:
    """RFC 8032 through the public key's file alone, as anybody else would check it."""
    from cryptography.hazmat.primitives.serialization import load_pem_public_key

    with Library.open(drawn.library) as library:
        head, (signature,) = library.journal_head(), library.signatures()
    message = (
        f'{{"format":"jobnotes-journal-head","number":{head.number},"sha256":"{head.sha256}","version":1}}'
    )
    load_pem_public_key(public.read_bytes()).verify(bytes.fromhex(signature.signature), message.encode())  # type: ignore[union-attr, call-arg]


def test_a_chain_made_anew_without_the_key_is_seen_by_who_has_the_public_one(
    drawn: Drawn, public: Path
) -> None:
    """Somebody with the database, but not the key, changes a decision-free journal as a whole."""
    from jobnotes.library import journal

    with closing(sqlite3.connect(drawn.library / NAME)) as db, db:
        for (name,) in db.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
            if "facts" not in name:
                db.execute(f'DROP TRIGGER "{name}"')
        previous = "0" * 64
        for number, text in db.execute("SELECT number, entry FROM journal ORDER BY number").fetchall():
            said = {**json.loads(text), "previous": previous, "at": "2030-01-01T00:00:00+00:00"}
            changed = journal.canonical(said)
            previous = journal.digest(changed)
            sql = "UPDATE journal SET entry = ?, sha256 = ? WHERE number = ?"
            db.execute(sql, [changed.decode(), previous, number])
    assert drawn.verify("--public-key", public).exit_code == 1
    with closing(sqlite3.connect(drawn.library / NAME)) as db, db:
        db.execute("DELETE FROM journal_signatures")
    # without the key the new chain looks whole, as docs/evidence.md says
    assert drawn.verify().exit_code == 0
    result = drawn.verify("--public-key", public)
    assert result.exit_code == 1
    assert "is not signed with the key that was given" in result.stdout


def test_a_signature_that_was_changed_is_named(drawn: Drawn, public: Path) -> None:
    with closing(sqlite3.connect(drawn.library / NAME)) as db, db:
        db.execute("DROP TRIGGER journal_signatures_no_update")
        db.execute("UPDATE journal_signatures SET signature = replace(signature, 'a', 'b')")
    result = drawn.verify()
    assert result.exit_code == 1
    assert result.stderr.startswith("jobnotes: signature of entry")


def test_another_workshops_key_does_not_fit(drawn: Drawn, public: Path, tmp_path: Path) -> None:
    with Library.open(tmp_path / "other"):
        other = signing.make_key(tmp_path / "other")
    public.write_text(other)
    assert drawn.verify("--public-key", public).exit_code == 1


@pytest.mark.parametrize("content", [b"", b"-----BEGIN PUBLIC KEY-----\n", b"\xff" * 100])
def test_what_is_no_key_is_told_in_one_line(
    drawn: Drawn, public: Path, tmp_path: Path, content: bytes
) -> None:
    public.write_bytes(content)
    result = drawn.verify("--public-key", public)
    assert (result.exit_code, result.stdout, result.stderr.count("\n")) == (2, "", 1)
    (drawn.library / signing.KEY).write_bytes(content)
    result = CliRunner().invoke(key, ["--library", str(drawn.library)])
    assert (result.exit_code, result.stdout, result.stderr.count("\n")) == (2, "", 1)
