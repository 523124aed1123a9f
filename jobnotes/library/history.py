"""What the library tells of other jobs: earlier ones of a vehicle, and those worked on at the same time.

Derived from the saved records, for a quick answer among many jobs. Whoever changes these tables adds a
migration that calls `make_anew`, which fills them from what is saved.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Any

from sqlite_utils import Database

from jobnotes import record_json
from jobnotes.past import OtherWork, Past, PastCause, PastJob, PastPart, letters_and_digits
from jobnotes.record import Clock, Fact, Odometer, Record

_MAY_STAND_IN_A_CLAIM = ("sure", "accepted", "edited")


def make_anew(db: Database) -> None:
    """The tables, empty or filled from the records that are saved; one that can't be read is left out."""
    db.execute("DROP TABLE IF EXISTS history_points")
    db.execute("DROP TABLE IF EXISTS history")
    db.execute(
        """
        CREATE TABLE history (
            job TEXT PRIMARY KEY REFERENCES jobs(id),
            number TEXT,
            registration TEXT, -- as letters_and_digits compares it
            vin TEXT, -- likewise
            technician TEXT,
            odometer TEXT,
            odometer_unit TEXT,
            began_s REAL, -- POSIX time of the first note
            ended_at TEXT, -- ISO 8601, the end of the last note
            clock_from_s REAL, -- POSIX time of the first and the last clock statement
            clock_to_s REAL
        )
        """
    )
    db.execute(
        """
        CREATE TABLE history_points (
            job TEXT NOT NULL REFERENCES jobs(id),
            position INTEGER NOT NULL,
            kind TEXT NOT NULL CHECK (kind IN ('code', 'cause', 'part')),
            name TEXT, -- code, component or part
            detail TEXT, -- the component's failure, the part's number
            PRIMARY KEY (job, position)
        ) WITHOUT ROWID
        """
    )
    for column in ("vin", "registration"):
        db.execute(
            f"CREATE INDEX history_by_{column} ON history ({column}, began_s) WHERE {column} IS NOT NULL"
        )
    db.execute("CREATE INDEX history_by_clock ON history (clock_to_s) WHERE clock_to_s IS NOT NULL")
    for (job,) in db.execute("SELECT job FROM records").fetchall():
        # one at a time: all of them may be more than fits in memory
        (text,) = db.execute("SELECT json FROM records WHERE job = ?", [job]).fetchone()
        try:
            store(db, job, json.loads(text))
        except (ValueError, TypeError, AttributeError, KeyError):
            continue  # what can't be read now is stored when it is saved again


def store(db: Database, job: str, record: Mapping[str, Any]) -> None:
    """Store the history of one job from its record.json, as parsed; what was stored before is replaced."""
    row, points = _row(record), tuple(_points(record))
    db.execute("DELETE FROM history_points WHERE job = ?", [job])
    db.table("history").upsert({"job": job, **row}, pk="job")
    db.conn.executemany(
        "INSERT INTO history_points (job, position, kind, name, detail) VALUES (?, ?, ?, ?, ?)",
        [(job, position, *point) for position, point in enumerate(points)],
    )


def past(db: Database, job: str, record: Record) -> Past:
    """What the other jobs tell about the job with that id, of which `record` is what is known so far."""
    return Past(tuple(_earlier(db, job, record)), tuple(_meanwhile(db, job, record.facts)))


# --- stored --------------------------------------------------------------------------------------


def _row(record: Mapping[str, Any]) -> dict[str, Any]:
    head = record["job"]
    odometer = head.get("odometer") or {}
    clock = [_posix(f["at"]) for f in record["facts"] if f["kind"] == "clock" and f.get("at")]
    return {
        "number": head.get("number"),
        "registration": letters_and_digits(head.get("registration") or "") or None,
        "vin": letters_and_digits(head.get("vin") or "") or None,
        "technician": head.get("technician"),
        "odometer": odometer.get("value"),
        "odometer_unit": odometer.get("unit"),
        "began_s": _posix(head["opened_at"]) if head.get("opened_at") else None,
        "ended_at": head.get("closed_at"),
        "clock_from_s": min(clock, default=None),
        "clock_to_s": max(clock, default=None),
    }


def _points(record: Mapping[str, Any]) -> Iterable[tuple[str, str | None, str | None]]:
    """Kind, name and detail of what a later job may have in common with this one, each once."""
    found: dict[tuple[str, str | None, str | None], None] = {}
    for fact in record["facts"]:
        if fact["status"] not in _MAY_STAND_IN_A_CLAIM or fact.get("audience", "all") != "all":
            continue
        match fact["kind"]:
            case "fault_code":
                found["code", fact["code"], None] = None
            case "cause" if fact.get("component") or fact.get("failure"):
                found["cause", fact.get("component"), fact.get("failure")] = None
            case "part" if fact["action"] == "fitted":
                found["part", fact["name"], fact.get("number")] = None
    return found


def _posix(iso: str) -> float:
    return datetime.fromisoformat(iso).timestamp()


# --- found ---------------------------------------------------------------------------------------


def _earlier(db: Database, job: str, record: Record) -> Iterable[PastJob]:
    head = record.job
    if head.opened_at is None:
        return
    vin, registration = letters_and_digits(head.vin or ""), letters_and_digits(head.registration or "")
    # each half by its own index; "" stands for what isn't known and is never stored
    rows = db.query(
        "SELECT * FROM history WHERE vin = :vin AND began_s < :began "
        # a registration may pass to another vehicle, the identification number doesn't
        "UNION SELECT * FROM history WHERE registration = :registration AND began_s < :began "
        "AND (vin IS NULL OR :vin IN ('', vin)) ORDER BY began_s DESC, job",
        {"vin": vin, "registration": registration, "began": head.opened_at.timestamp()},
    )
    for row in list(rows):
        if row["job"] == job or row["ended_at"] is None:
            continue
        points = db.execute(
            "SELECT kind, name, detail FROM history_points WHERE job = ? ORDER BY position", [row["job"]]
        ).fetchall()
        yield PastJob(
            row["job"],
            datetime.fromisoformat(row["ended_at"]).date(),
            row["number"],
            Odometer(row["odometer"], row["odometer_unit"]) if row["odometer"] else None,
            tuple(name for kind, name, _ in points if kind == "code"),
            tuple(PastCause(name, detail) for kind, name, detail in points if kind == "cause"),
            tuple(PastPart(name, detail) for kind, name, detail in points if kind == "part"),
        )


def _meanwhile(db: Database, job: str, facts: Iterable[Fact]) -> Iterable[OtherWork]:
    clock = [f.at.timestamp() for f in facts if isinstance(f.detail, Clock) and f.stands and f.at]
    if not clock:
        return
    rows = db.query(
        "SELECT job, number, technician FROM history "
        "WHERE clock_to_s > ? AND clock_from_s < ? AND job <> ? ORDER BY clock_from_s, job",
        [min(clock), max(clock), job],
    )
    for row in list(rows):
        texts = db.execute(
            "SELECT json FROM facts WHERE job = ? AND kind = 'clock' ORDER BY id", [row["job"]]
        ).fetchall()
        statements = record_json.facts_from_json([json.loads(text) for (text,) in texts])
        yield OtherWork(row["job"], statements, row["number"], row["technician"])
