"""The library's schema, as the steps that lead to it.

A step that has once been released is never changed: whoever needs another table adds a step at the end.
Steps run in one transaction (see `database`), so none may commit or VACUUM.
"""

from __future__ import annotations

from sqlite_utils import Database, Migrations

from jobnotes.library import history, journal

MIGRATIONS = Migrations("jobnotes")


@MIGRATIONS(name="0001_originals_and_jobs")
def _originals_and_jobs(db: Database) -> None:
    """What was given, and which job it belongs to."""
    db.execute(
        """
        CREATE TABLE originals (
            sha256 TEXT PRIMARY KEY CHECK (length(sha256) = 64),
            kind TEXT NOT NULL CHECK (kind IN ('recording', 'photo')),
            bytes INTEGER NOT NULL,
            file TEXT NOT NULL, -- the name it first came under
            kept_at TEXT NOT NULL
        )
        """
    )
    db.execute("CREATE TABLE jobs (id TEXT PRIMARY KEY, opened_at TEXT NOT NULL)")
    db.execute(
        """
        CREATE TABLE job_originals (
            job TEXT NOT NULL REFERENCES jobs(id),
            original TEXT NOT NULL REFERENCES originals(sha256),
            kind TEXT NOT NULL CHECK (kind IN ('recording', 'photo')),
            file TEXT NOT NULL, -- the name it was last given under
            position INTEGER NOT NULL, -- its place among the files of its kind
            PRIMARY KEY (job, original)
        )
        """
    )
    # a photo may show in two jobs; a recording says which job it is
    db.execute(
        "CREATE UNIQUE INDEX one_job_per_recording ON job_originals (original) WHERE kind = 'recording'"
    )


@MIGRATIONS(name="0002_derived")
def _derived(db: Database) -> None:
    """What was computed from the originals: can be made again at any time, so it may be replaced."""
    db.execute(
        """
        CREATE TABLE heard (
            original TEXT NOT NULL REFERENCES originals(sha256),
            engine TEXT NOT NULL,
            model TEXT NOT NULL,
            model_sha256 TEXT NOT NULL,
            words TEXT NOT NULL, -- JSON
            text TEXT NOT NULL,
            duration_s REAL NOT NULL,
            made_at TEXT NOT NULL,
            PRIMARY KEY (original, engine, model, model_sha256)
        )
        """
    )
    db.execute(
        """
        CREATE TABLE records (
            job TEXT PRIMARY KEY REFERENCES jobs(id),
            json TEXT NOT NULL, -- record.json, to the byte
            sha256 TEXT NOT NULL,
            saved_at TEXT NOT NULL
        )
        """
    )
    db.execute("CREATE INDEX records_by_digest ON records (sha256)")
    db.execute(
        """
        CREATE TABLE facts (
            id INTEGER PRIMARY KEY,
            job TEXT NOT NULL REFERENCES jobs(id),
            fact TEXT NOT NULL, -- the fact's id within its job
            kind TEXT NOT NULL,
            status TEXT NOT NULL,
            quote TEXT NOT NULL,
            text TEXT NOT NULL, -- what the fact says, for searching
            note TEXT,
            start_s REAL,
            json TEXT NOT NULL,
            UNIQUE (job, fact)
        )
        """
    )


@MIGRATIONS(name="0003_decisions")
def _decisions(db: Database) -> None:
    """What people decided: the only thing besides the originals that can't be made again."""
    db.execute(
        """
        CREATE TABLE decisions (
            id INTEGER PRIMARY KEY AUTOINCREMENT,
            job TEXT NOT NULL REFERENCES jobs(id),
            fact TEXT NOT NULL,
            who TEXT NOT NULL CHECK (who <> ''),
            at TEXT NOT NULL,
            action TEXT NOT NULL CHECK (action IN ('accepted', 'edited', 'rejected', 'added', 'undone')),
            before TEXT, -- JSON of the fact as the person saw it
            after TEXT, -- JSON of the fact as the person left it
            undoes INTEGER REFERENCES decisions(id),
            CHECK ((action = 'undone') = (undoes IS NOT NULL)),
            CHECK ((action IN ('edited', 'added')) = (after IS NOT NULL)),
            CHECK ((action IN ('accepted', 'edited', 'rejected')) = (before IS NOT NULL))
        )
        """
    )
    db.execute("CREATE INDEX decisions_by_job ON decisions (job, id)")
    for event in ("UPDATE", "DELETE"):
        db.execute(
            f"""
            CREATE TRIGGER decisions_no_{event.lower()} BEFORE {event} ON decisions
            BEGIN SELECT RAISE(ABORT, 'a decision is never changed'); END
            """
        )
    # INSERT OR REPLACE would delete the old row without asking the trigger above, unless recursive
    # triggers happen to be on
    db.execute(
        """
        CREATE TRIGGER decisions_no_replace BEFORE INSERT ON decisions
        WHEN EXISTS (SELECT 1 FROM decisions WHERE id = NEW.id)
        BEGIN SELECT RAISE(ABORT, 'a decision is never changed'); END
        """
    )


@MIGRATIONS(name="0004_search")
def _search(db: Database) -> None:
    """Full-text search over what was heard and what it was read as, by the stems of English words."""
    db.table("facts").enable_fts(["quote", "text"], create_triggers=True, tokenize="porter")


@MIGRATIONS(name="0005_details")
def _details(db: Database) -> None:
    """What the office states of a job is an original too. SQLite can't change a CHECK, so the tables are
    made anew; what refers to them goes on doing so (https://www.sqlite.org/lang_altertable.html#otheralter).
    """
    db.execute(
        """
        CREATE TABLE new_originals (
            sha256 TEXT PRIMARY KEY CHECK (length(sha256) = 64),
            kind TEXT NOT NULL CHECK (kind IN ('recording', 'photo', 'details')),
            bytes INTEGER NOT NULL,
            file TEXT NOT NULL, -- the name it first came under
            kept_at TEXT NOT NULL
        )
        """
    )
    db.execute(
        """
        CREATE TABLE new_job_originals (
            job TEXT NOT NULL REFERENCES jobs(id),
            original TEXT NOT NULL REFERENCES originals(sha256),
            kind TEXT NOT NULL CHECK (kind IN ('recording', 'photo', 'details')),
            file TEXT NOT NULL, -- the name it was last given under
            position INTEGER NOT NULL, -- its place among the files of its kind
            PRIMARY KEY (job, original)
        )
        """
    )
    for table in ("originals", "job_originals"):
        columns = ", ".join(c.name for c in db.table(table).columns)
        db.execute(f"INSERT INTO new_{table} ({columns}) SELECT {columns} FROM {table}")
    for table in ("job_originals", "originals"):
        db.execute(f"DROP TABLE {table}")
        db.execute(f"ALTER TABLE new_{table} RENAME TO {table}")
    db.execute(
        "CREATE UNIQUE INDEX one_job_per_recording ON job_originals (original) WHERE kind = 'recording'"
    )


@MIGRATIONS(name="0006_history")
def _history(db: Database) -> None:
    """Which vehicle each job was about, when, and what was wrong: derived from the records."""
    history.make_anew(db)


@MIGRATIONS(name="0007_by_hand")
def _by_hand(db: Database) -> None:
    """What a person adds to a job that was made from a folder, and what they state of any job: like
    decisions, it can't be made again, so it is only ever added to.
    """
    db.execute(
        """
        CREATE TABLE additions (
            job TEXT NOT NULL,
            original TEXT NOT NULL,
            who TEXT NOT NULL CHECK (who <> ''),
            at TEXT NOT NULL,
            PRIMARY KEY (job, original),
            FOREIGN KEY (job, original) REFERENCES job_originals(job, original)
        ) WITHOUT ROWID
        """
    )
    db.execute(
        """
        CREATE TABLE stated (
            id INTEGER PRIMARY KEY AUTOINCREMENT,
            job TEXT NOT NULL REFERENCES jobs(id),
            key TEXT NOT NULL CHECK (key <> ''), -- as in job.toml, with its table before it
            who TEXT NOT NULL CHECK (who <> ''),
            at TEXT NOT NULL,
            action TEXT NOT NULL CHECK (action IN ('stated', 'withdrawn')),
            before TEXT, -- JSON of what counted when it was stated
            after TEXT, -- JSON of what was stated; NULL: that there is none
            file TEXT, -- JSON of what the office's file said then
            CHECK (action = 'stated' OR after IS NULL)
        )
        """
    )
    db.execute("CREATE INDEX stated_by_job ON stated (job, id)")
    for event in ("UPDATE", "DELETE"):
        db.execute(
            f"""
            CREATE TRIGGER stated_no_{event.lower()} BEFORE {event} ON stated
            BEGIN SELECT RAISE(ABORT, 'what was stated is never changed'); END
            """
        )
    db.execute(
        """
        CREATE TRIGGER stated_no_replace BEFORE INSERT ON stated
        WHEN EXISTS (SELECT 1 FROM stated WHERE id = NEW.id)
        BEGIN SELECT RAISE(ABORT, 'what was stated is never changed'); END
        """
    )


@MIGRATIONS(name="0008_seen")
def _seen(db: Database) -> None:
    """What was seen in each photo, by which reader: derived, kept to spare looking again."""
    db.execute(
        """
        CREATE TABLE seen (
            original TEXT NOT NULL REFERENCES originals(sha256),
            engine TEXT NOT NULL,
            model TEXT NOT NULL,
            model_sha256 TEXT NOT NULL,
            sight TEXT NOT NULL, -- JSON, as in record.json
            made_at TEXT NOT NULL,
            PRIMARY KEY (original, engine, model, model_sha256)
        ) WITHOUT ROWID
        """
    )


@MIGRATIONS(name="0009_journal")
def _journal(db: Database) -> None:
    """One chain of all that was taken in and decided, from now on; what is there already is carried over."""
    journal.make(db)
    journal.carry_over(db)


@MIGRATIONS(name="0010_pieces")
def _pieces(db: Database) -> None:
    """What was heard in pieces of a recording, until it is heard to its end: derived, and gone then."""
    db.execute(
        """
        CREATE TABLE heard_pieces (
            original TEXT NOT NULL REFERENCES originals(sha256),
            engine TEXT NOT NULL,
            model TEXT NOT NULL,
            model_sha256 TEXT NOT NULL,
            piece TEXT NOT NULL, -- its name, as the recogniser gives it
            words TEXT NOT NULL, -- JSON
            made_at TEXT NOT NULL,
            PRIMARY KEY (original, engine, model, model_sha256, piece)
        ) WITHOUT ROWID
        """
    )
