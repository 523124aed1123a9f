"""The journal: nothing in it, and nothing that it is about, can be changed without showing."""

from __future__ import annotations

import hashlib
import json
import multiprocessing
import signal
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest
import rfc8785
from click.testing import CliRunner, Result
from hypothesis import given, settings
from hypothesis import strategies as st
from library_jobs import AT, FACTS, fact, file_and_save, in_child, kill_self, make_recording

from jobnotes.commands.verify import verify
from jobnotes.library import journal
from jobnotes.library.database import NAME
from jobnotes.library.decisions import Decision
from jobnotes.library.library import GivenFile, Library
from jobnotes.library.stated import StatedEntry

#: RFC 8785 (JSON Canonicalization Scheme), its published examples: section 3.2.2 gives the input and, as
#: section 3.2.4, the UTF-8 bytes of the result; appendix B the serialization of numbers; 3.2.3 sorting
RFC_INPUT = r"""{
  "numbers": [333333333.33333329, 1E30, 4.50, 2e-3, 0.000000000000000000000000001],
  "string": "\u20ac$\u000F\u000aA'\u0042\u0022\u005c\\\"\/",
  "literals": [null, true, false]
}"""
RFC_OUTPUT = bytes.fromhex(
    """
    7b 22 6c 69 74 65 72 61 6c 73 22 3a 5b 6e 75 6c 6c 2c 74 72
    75 65 2c 66 61 6c 73 65 5d 2c 22 6e 75 6d 62 65 72 73 22 3a
    5b 33 33 33 33 33 33 33 33 33 2e 33 33 33 33 33 33 33 2c 31
    65 2b 33 30 2c 34 2e 35 2c 30 2e 30 30 32 2c 31 65 2d 32 37
    5d 2c 22 73 74 72 69 6e 67 22 3a 22 e2 82 ac 24 5c 75 30 30
    30 66 5c 6e 41 27 42 5c 22 5c 5c 5c 5c 5c 22 2f 22 7d
    """
)
RFC_SORTING = r"""{
  "\u20ac": "Euro Sign", "\r": "Carriage Return", "\ufb33": "Hebrew Letter Dalet With Dagesh",
  "1": "One", "\ud83d\ude00": "Emoji: Grinning Face", "\u0080": "Control",
  "\u00f6": "Latin Small Letter O With Diaeresis"
}"""
RFC_SORTED = ["Carriage Return", "One", "Control", "Latin Small Letter O With Diaeresis", "Euro Sign",
              "Emoji: Grinning Face", "Hebrew Letter Dalet With Dagesh"]  # fmt: skip


def test_the_canonical_form_is_that_of_the_standards_own_examples() -> None:
    assert journal.canonical(json.loads(RFC_INPUT)) == RFC_OUTPUT
    ordered = json.loads(journal.canonical(json.loads(RFC_SORTING)))
    assert list(ordered.values()) == RFC_SORTED


@pytest.mark.parametrize(
    ("number", "text"),
    # RFC 8785, appendix B
    [
        (0.0, "0"),
        (-0.0, "0"),
        (5e-324, "5e-324"),
        (1.7976931348623157e308, "1.7976931348623157e+308"),
        (9007199254740992.0, "9007199254740992"),
        (295147905179352830000.0, "295147905179352830000"),
        (9.999999999999997e22, "9.999999999999997e+22"),
        (1e23, "1e+23"),
        (999999999999999900000.0, "999999999999999900000"),
        (1e21, "1e+21"),
        (9.999999999999997e-7, "9.999999999999997e-7"),
        (0.000001, "0.000001"),
        (333333333.3333332, "333333333.3333332"),
    ],
)
def test_numbers_are_written_as_the_standards_table_has_them(number: float, text: str) -> None:
    assert journal.canonical(number).decode() == text


PLAIN = st.recursive(
    st.text(st.characters(exclude_categories=("Cs",))) | st.integers(-(2**53) + 1, 2**53 - 1) | st.booleans(),
    lambda inner: st.lists(inner) | st.dictionaries(st.text(st.characters(max_codepoint=126)), inner),
    max_leaves=20,
)


@settings(deadline=None)
@given(PLAIN)
def test_the_quick_form_of_what_an_entry_holds_is_the_canonical_one(value: object) -> None:
    assert journal.quickly(value).encode() == rfc8785.dumps(value)  # type: ignore[arg-type]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return tmp_path / "library"


def fill(folder: Path, recording: Path, photo: Path) -> str:
    """A library with something of every kind in its journal: the job's id."""
    with Library.open(folder) as library:
        job, _ = file_and_save(library, recording, photo)
        library.decide(job, Decision("F1", "Ann", AT, "accepted", FACTS[0]))
        library.decide(job, Decision("F1", "Ann", AT, "edited", FACTS[0], fact(value="12.4")))
        library.state(job, [StatedEntry("customer.name", "Bea", AT, None, "Quayside Buses")])
        more = make_recording(recording.with_name("more.wav"), 3)
        sent = library.keep(more, "recording")
        library.add_to_job(job, [GivenFile(sent.sha256, "more.wav")], [], "Cy")
        saved = library.record(job)
        assert saved is not None
        library.documents_drawn(job, saved.sha256, {"claim.docx": "cd" * 32})
    return job


@pytest.fixture
def job(folder: Path, recording: Path, photo: Path) -> str:
    return fill(folder, recording, photo)


def told(folder: Path, *more: object) -> Result:
    return CliRunner().invoke(verify, ["--library", str(folder), *map(str, more)])


def by_hand(folder: Path, sql: str, *, unguarded: bool = False) -> int:
    """Change the database as somebody with a general-purpose tool would; the number of rows changed."""
    with closing(sqlite3.connect(folder / NAME)) as db, db:
        if unguarded:
            for (name,) in db.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
                if "facts" not in name:
                    db.execute(f'DROP TRIGGER "{name}"')
        return db.execute(sql).rowcount


def test_everything_taken_in_decided_stated_and_drawn_has_one_entry(folder: Path, job: str) -> None:
    with Library.open(folder) as library:
        entries = library.journal_entries()
        originals = {given.sha256 for given in library.originals(job)}
    assert [e.kind for e in entries] == [
        *("original", "original", "filed", "filed", "record", "decision", "decision", "statement"),
        *("original", "filed", "added", "documents"),
    ]
    assert {e.said["original"] for e in entries if e.kind == "original"} == originals
    assert [e.number for e in entries] == list(range(1, 13))
    result = told(folder)
    assert (result.exit_code, result.stderr) == (0, "")
    assert "12 entries, not signed" in result.stdout


def test_each_entry_is_canonical_and_holds_the_digest_of_the_one_before(folder: Path, job: str) -> None:
    previous = "0" * 64
    with closing(sqlite3.connect(folder / NAME)) as db:
        rows = db.execute("SELECT entry, sha256 FROM journal ORDER BY number").fetchall()
    for text, sha256 in rows:
        assert rfc8785.dumps(json.loads(text)) == text.encode()
        assert json.loads(text)["previous"] == previous
        assert hashlib.sha256(text.encode()).hexdigest() == sha256
        previous = sha256


def test_doing_the_same_again_adds_nothing(folder: Path, job: str, recording: Path, photo: Path) -> None:
    with Library.open(folder) as library:
        before = library.journal_head()
        file_and_save(library, recording, photo)
        saved = library.record(job)
        assert saved is not None
        library.documents_drawn(job, saved.sha256, {"claim.docx": "cd" * 32})
        assert library.journal_head() == before


def test_what_people_said_is_not_in_the_entries_themselves(folder: Path, job: str) -> None:
    with Library.open(folder) as library:
        whole = "".join(e.text for e in library.journal_entries())
    for said in ("Quayside", "Ann", "Note 1", "12.4", "battery"):
        assert said not in whole


@pytest.mark.parametrize(
    "sql",
    [
        "UPDATE journal SET entry = replace(entry, 'decision', 'revision')",
        "UPDATE journal SET sha256 = sha256",
        "DELETE FROM journal WHERE number = 12",
        "DELETE FROM journal",
        "INSERT OR REPLACE INTO journal (number, entry, sha256) SELECT 12, entry, sha256 FROM journal "
        "WHERE number = 12",
        # a second branch, a gap, an entry that follows nothing
        "INSERT INTO journal (number, entry, sha256) SELECT 13, entry, sha256 FROM journal WHERE number = 12",
        "INSERT INTO journal (number, entry, sha256) SELECT 14, json_set(entry, '$.number', 14), sha256 "
        "FROM journal WHERE number = 12",
        "INSERT INTO journal (number, entry, sha256) VALUES (13, '{\"number\":13}', printf('%064d', 1))",
        "UPDATE journal_salts SET salt = ''",
        "DELETE FROM journal_salts",
        "INSERT OR REPLACE INTO journal_salts VALUES (1, '')",
        "DELETE FROM decisions",
        "DELETE FROM stated",
    ],
)
def test_the_database_itself_refuses_to_change_it(folder: Path, job: str, sql: str) -> None:
    with pytest.raises(sqlite3.IntegrityError):
        by_hand(folder, sql)
    assert told(folder).exit_code == 0


TAMPERING = {
    "a decision is edited": (
        "UPDATE decisions SET after = replace(after, '12.4', '13.4') WHERE id = 2",
        "decision 2",
    ),
    "a decision is put under another name": ("UPDATE decisions SET who = 'Dan' WHERE id = 1", "decision 1"),
    "a decision is dated back": ("UPDATE decisions SET at = '2030-01-01T00:00:00+00:00'", "decision 1"),
    "a decision is taken out": ("DELETE FROM decisions WHERE id = 1", "decision 1"),
    "a decision is slipped in": (
        "INSERT INTO decisions (job, fact, who, at, action, before) "
        "SELECT job, fact, 'Dan', at, action, before FROM decisions WHERE id = 1",
        "decision 3",
    ),
    "a statement is edited": ("UPDATE stated SET after = '\"Others\"'", "statement 1"),
    "who added a recording": ("UPDATE additions SET who = 'Dan'", "added to job"),
    "when an original was kept": ("UPDATE originals SET kept_at = '2030-01-01T00:00:00+00:00'", "original "),
    "a photo is taken out of a job": ("DELETE FROM job_originals WHERE kind = 'photo'", "in job J"),
    "a record is put back": ("UPDATE records SET sha256 = printf('%064d', 7)", "record of J"),
    "an entry is edited": (
        "UPDATE journal SET entry = replace(entry, 'statement', 'assertion') WHERE number = 8",
        "journal entry 8",
    ),
    "an entry is edited, and its digest": (
        "UPDATE journal SET entry = json_set(entry, '$.at', '2030-01-01T00:00:00+00:00') WHERE number = 8",
        "journal entry 8",
    ),
    "an entry is taken out": ("DELETE FROM journal WHERE number = 3", "journal entry 4"),
    "an entry that is no JSON any more": (
        "UPDATE journal SET entry = '[]' WHERE number = 2",
        "journal entry 2",
    ),
    "a salt is taken out": ("DELETE FROM journal_salts WHERE number = 6", "decision 1"),
}


@pytest.mark.parametrize("what", TAMPERING)
def test_what_was_changed_in_the_database_is_named(folder: Path, job: str, what: str) -> None:
    sql, named = TAMPERING[what]
    assert by_hand(folder, sql, unguarded=True) > 0
    if "digest" in what:
        with closing(sqlite3.connect(folder / NAME)) as db, db:
            (text,) = db.execute("SELECT entry FROM journal WHERE number = 8").fetchone()
            db.execute(
                "UPDATE journal SET sha256 = ? WHERE number = 8", [hashlib.sha256(text.encode()).hexdigest()]
            )
        named = "journal entry 9"
    result = told(folder)
    assert result.exit_code == 1
    assert result.stderr.count("\n") == 1
    assert named in result.stderr


def test_a_journal_that_was_cut_short_is_seen_by_who_noted_its_last_entry(folder: Path, job: str) -> None:
    with Library.open(folder) as library:
        noted = library.journal_head()
    assert told(folder, "--known", noted).exit_code == 0
    by_hand(folder, "DELETE FROM journal WHERE number = 12", unguarded=True)
    assert told(folder).exit_code == 0  # which the chain alone can't show: docs/evidence.md
    result = told(folder, "--known", noted)
    assert result.exit_code == 1
    assert "entry 12" in result.stdout


def test_a_noted_entry_that_is_none_is_told_plainly(folder: Path, job: str) -> None:
    result = told(folder, "--known", "12:zz")
    assert (result.exit_code, result.stdout, result.stderr.count("\n")) == (2, "", 1)


def _decides(folder: Path, job: str, who: str) -> None:
    with Library.open(folder) as library:
        for _ in range(25):
            library.decide(job, Decision("F1", who, AT, "accepted", FACTS[0]))


def test_processes_that_write_at_once_do_not_fork_the_chain(folder: Path, job: str) -> None:
    fork = multiprocessing.get_context("fork")
    workers = [
        fork.Process(target=_decides, args=(folder, job, name)) for name in ("Ann", "Bea", "Cy", "Dan")
    ]
    for worker in workers:
        worker.start()
    for worker in workers:
        worker.join()
    assert [w.exitcode for w in workers] == [0] * 4
    with Library.open(folder) as library:
        assert library.journal_head().number == 12 + 100
        assert library.verify_journal() == ()
        assert len(library.decisions(job)) == 2 + 100


def test_an_entry_is_there_exactly_when_what_it_journals_is(
    folder: Path, job: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    appended: Callable[..., object] = journal.append

    def killed(*args: object, **rest: object) -> None:
        appended(*args, **rest)
        kill_self()

    def decide() -> None:
        monkeypatch.setattr(journal, "append", killed)
        with Library.open(folder) as library:
            library.decide(job, Decision("F1", "Ann", AT, "accepted", FACTS[0]))

    assert in_child(decide) == -signal.SIGKILL
    with Library.open(folder) as library:
        assert len(library.decisions(job)) == 2
        assert library.journal_head().number == 12
        assert library.verify_journal() == ()
