"""What a person does with jobnotes that changes files, and what must hold after a fault in the middle of it.

Each scenario lies in a folder of its own: `given` holds what was given, `disk` the library and what is
written (this is where faults strike), `told` what the tool had confirmed before the fault.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import shutil
import sqlite3
import sys
import tempfile
import wave
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import docx
import numpy as np
import openpyxl
from lxml import etree
from PIL import Image
from sqlite_utils import Database
from starlette.testclient import TestClient

from jobnotes import record_json
from jobnotes.commands import main
from jobnotes.commands.showing import plain_errors
from jobnotes.hearing import choose
from jobnotes.hearing.recogniser import Samples
from jobnotes.library.backup import back_up as back_up_library
from jobnotes.library.backup import restore as restore_library
from jobnotes.library.database import NAME
from jobnotes.library.decisions import Decision
from jobnotes.library.library import Library
from jobnotes.library.media import MediaStore
from jobnotes.library.migrations import MIGRATIONS
from jobnotes.record import Fact, RecogniserStamp, Statement, Word
from jobnotes.serve import access
from jobnotes.serve.app import create_app
from jobnotes.serve.keeping import BESIDE
from jobnotes.serve.settings import Limits, Settings
from jobnotes.serve.store import Role
from jobnotes.serve.worker import hear_next

ROOT = Path(__file__).parents[2]
WORKSHOP = ROOT / "sample_media" / "workshop"
CLIPS = ROOT / "tests" / "hearing" / "clips"
EARLIER = ROOT / "tests" / "library" / "earlier"
sys.path.insert(0, str(EARLIER))

import make as earlier  # noqa: E402

ALL_STEPS = sorted(step.name for step in MIGRATIONS.pending(Database(memory=True)))
AT = datetime(2031, 4, 7, 16, 0, tzinfo=UTC)
#: a fault may be tried on a small disk
LIMITS = Limits(disk_free=0, retry_s=0.0)

#: what is heard, by the loudness of a recording in tenths of full scale
SAID = (
    "battery at twelve point six volts ignition off",
    "fault code s p n one zero two f m i eighteen active",
    "fitted one new hose clamp",
    "complaint low power on hills",
    "odometer three hundred and twelve thousand kilometres",
)


class StandIn:
    """A recogniser that costs nothing: it hears what SAID has for the loudness of the samples."""

    stamp = RecogniserStamp("stand-in", "faults", "fa" * 32)

    def hear(self, samples: Samples, *, progress: Callable[[float], None] | None = None) -> tuple[Word, ...]:
        said = SAID[round(float(np.abs(samples).max()) * 10) % len(SAID)].split()
        return tuple(Word(text, 0.2 * at, 0.2 * at + 0.15, 0.95) for at, text in enumerate(said))


@contextmanager
def stand_in() -> Iterator[None]:
    """Whatever recogniser a command asks for, it is given the stand-in."""
    before = choose.recogniser
    choose.recogniser = lambda *args, **more: StandIn()  # type: ignore[assignment]
    try:
        yield
    finally:
        choose.recogniser = before


# --- what is given -------------------------------------------------------------------------------


def recording(path: Path, level: int) -> Path:
    """Two seconds of sound whose loudness is `level` tenths of full scale."""
    with wave.open(str(path), "wb") as file:
        file.setparams((1, 2, 16000, 0, "NONE", ""))
        file.writeframes(np.full(32000, int(level * 3276.7), "<i2").tobytes())
    return path


def photo(path: Path, colour: str) -> Path:
    exif = Image.Exif()
    exif.get_ifd(0x8769)[0x9003] = "2031:04:07 09:30:04"
    Image.new("RGB", (160, 120), colour).save(path, exif=exif)
    return path


def a_folder(folder: Path, levels: tuple[int, ...] = (0, 1, 2, 3), customer: str = "Sample Ltd") -> Path:
    """A small job as a technician brings it."""
    folder.mkdir(parents=True, exist_ok=True)
    for level in levels:
        recording(folder / f"20310407_093{level}00.wav", level)
    photo(folder / "IMG_1.jpg", "olive")
    (folder / "job.toml").write_text(
        'format = "jobnotes-job"\nversion = 1\ntechnician = "R. Sample"\n'
        f'[customer]\nname = "{customer}"\n'
        'street = "1 Depot Road"\npostcode = "ZZ2 2ZZ"\ncity = "Sampleton"\ncountry = "GB"\n'
        '[invoice]\nnumber = "2031-7"\nissued_on = 2031-04-09\n[cover]\n',
        "utf-8",
    )
    return folder


# --- scenarios -----------------------------------------------------------------------------------


@dataclass(frozen=True)
class Place:
    """Where one scenario takes place."""

    root: Path

    @property
    def given(self) -> Path:
        return self.root / "given"

    @property
    def disk(self) -> Path:
        return self.root / "disk"

    @property
    def library(self) -> Path:
        return self.disk / "library"

    @property
    def out(self) -> Path:
        return self.disk / "out"

    @property
    def forgotten(self) -> str:
        """The name of a customer of whom nothing may be left in the end, if there is one."""
        path = self.root / "forgotten"
        return path.read_text("utf-8") if path.exists() else ""

    @property
    def told(self) -> tuple[str, ...]:
        path = self.root / "told"
        return tuple(path.read_text("utf-8").splitlines()) if path.exists() else ()

    def tell(self, line: str) -> None:
        """The tool has confirmed this to a person."""
        with (self.root / "told").open("a", encoding="utf-8") as file:
            file.write(line + "\n")

    def copied_to(self, root: Path) -> Place:
        shutil.copytree(self.root, root)
        return Place(root)


@dataclass(frozen=True)
class Scenario:
    """`prepare` makes what was there before; `act` is what a person does, in a process that may die of it,
    and does again afterwards: it goes on where it was. `takes_away`: of what was there before it, only what
    is there after it must never be lost."""

    name: str
    prepare: Callable[[Place], object]
    act: Callable[[Place], object]
    takes_away: bool = False


def _jobnotes(*arguments: object) -> None:
    main([str(argument) for argument in arguments], prog_name="jobnotes")


def _run(place: Place, *more: str, given: Path | None = None) -> None:
    into = ("--out", place.out, "--library", place.library)
    _jobnotes("run", given or place.given, *into, "--workshop", WORKSHOP, "--zone", "Europe/London", *more)


def run(place: Place) -> None:
    with stand_in():
        _run(place)


def run_with_all_files(place: Place) -> None:
    with stand_in():
        _run(place, "--spreadsheet", "--einvoice")


@contextmanager
def quiet() -> Iterator[None]:
    """What a command says goes nowhere, at the level of the system, where a child's would go too."""
    out, err = os.dup(1), os.dup(2)
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 1)
    os.dup2(nowhere, 2)
    try:
        yield
    finally:
        for kept, number in ((out, 1), (err, 2)):
            os.dup2(kept, number)
            os.close(kept)
        os.close(nowhere)


def done(call: Callable[[Place], object], place: Place) -> None:
    """Let a command go through, which ends the process that it runs in by itself."""
    code: object = None
    try:
        call(place)
    except SystemExit as end:
        code = end.code
    assert code in (0, None), code


def _to_be_heard(place: Place) -> None:
    _nothing_yet(place)
    for path in place.given.glob("*.wav"):
        path.unlink()
    shutil.copy(CLIPS / "readings.opus", place.given / "20310407_093000.opus")


def _nothing_yet(place: Place) -> None:
    place.disk.mkdir(parents=True)
    a_folder(place.given, (0, 1))


def _decided(place: Place) -> None:
    """A job that was run and looked at, to whose folder a recording is added."""
    place.disk.mkdir(parents=True)
    a_folder(place.given, (0, 1, 2))
    done(run, place)
    job, facts = _job_in(place)
    with Library.open(place.library) as library:
        library.decide(job, Decision(facts[0].id, "clerk", AT, "accepted", facts[0]))
        library.decide(job, Decision(facts[1].id, "clerk", AT, "rejected", facts[1]))
        added = Fact("H1", Statement("advisory", "check the belt soon"), "", 1.0, "accepted")
        library.decide(job, Decision("H1", "clerk", AT, "added", after=added))
    recording(place.given / "20310407_093300.wav", 3)


def _job_in(place: Place) -> tuple[str, tuple[Fact, ...]]:
    with Library.open(place.library, create=False) as library:
        (told,) = library.in_short()
        stored = library.record(told.job)
        assert stored is not None
        return told.job, record_json.from_json(json.loads(stored.text)).facts


def job_in(place: Place) -> str:
    """The id of the only job there is."""
    return _job_in(place)[0]


def _to_review(place: Place) -> None:
    place.disk.mkdir(parents=True)
    a_folder(place.given, (0, 1))
    done(run, place)
    Browser(place, "clerk")


class Browser:
    """A browser that was paired once with the server over the library, and stays so."""

    def __init__(self, place: Place, role: Role, name: str = "") -> None:
        self.settings = Settings(
            library=place.library, workers=0, make_recogniser=StandIn, workshop=WORKSHOP, limits=LIMITS
        )
        with plain_errors():
            self.app = create_app(self.settings)
        self._client = TestClient(self.app, base_url=self.settings.address, follow_redirects=False)
        name = name or role
        kept = place.root / f"{name}.json"
        if kept.exists():
            self._client.cookies.update(json.loads(kept.read_text("utf-8")))
        else:
            code = access.new_code(self.app.state.store, self.settings, role).code
            self.answer("POST", "/api/pair", json={"code": code, "name": name})
            kept.write_text(json.dumps(dict(self._client.cookies)), "utf-8")
        self.csrf = self.answer("GET", "/api/me")["csrf"]

    def answer(self, method: str, path: str, *, ok: tuple[int, ...] = (), **more: Any) -> Any:
        """What was answered with success, or a status of `ok`; else the visit ends with what was said."""
        headers = {access.CSRF_HEADER: getattr(self, "csrf", ""), **more.pop("headers", {})}
        answer = self._client.request(method, path, headers=headers, **more)
        said = answer.json() if "json" in answer.headers.get("content-type", "") else answer
        if answer.status_code >= 400 and answer.status_code not in ok:
            print("jobnotes:", said["error"] if isinstance(said, dict) else answer.text[:200])
            raise SystemExit(2)
        return said


def review(place: Place) -> None:
    """The clerk looks at a job, decides on two statements, and asks for the claim."""
    browser = Browser(place, "clerk")
    browser.answer("GET", "/desk")
    browser.answer("GET", "/desk/search?q=clamp")
    (row,) = browser.app.state.store.jobs()
    job = f"/api/jobs/{row.id}"
    facts = sorted(browser.answer("GET", f"{job}/state")["facts"], key=lambda fact: str(fact["id"]))
    for fact, action in zip(facts, ("accept", "reject"), strict=False):
        if fact["status"] in ("sure", "check"):  # else it was decided before the fault
            asked = {"action": action, "fact": fact["id"], "seen": fact["seen"]}
            browser.answer("POST", f"{job}/decisions", json=asked)
            place.tell(f"decision {action}ed {fact['id']}")
    browser.answer("GET", f"{job}/documents/claim.docx")


def _opened(place: Place) -> None:
    place.disk.mkdir(parents=True)
    place.given.mkdir()
    recording(place.given / "note.wav", 1)
    photo(place.given / "photo.jpg", "olive")
    opened = Browser(place, "technician").answer("POST", "/api/jobs", json={"number": "4417"})
    (place.root / "job").write_text(opened["id"], "utf-8")


def upload(place: Place) -> None:
    """A phone sends a recording in pieces and a photo; then they are heard."""
    browser = Browser(place, "technician")
    job = (place.root / "job").read_text("utf-8")
    for path, kind in ((place.given / "note.wav", "recording"), (place.given / "photo.jpg", "photo")):
        _send(browser, place, job, path, kind)
    for queued in browser.app.state.store.queue():
        if queued.problem:  # it was tried several times: the desk shows why, and a person asks for it again
            Browser(place, "clerk").answer("POST", f"/api/jobs/{queued.job}/again")
    with plain_errors():
        while hear_next(browser.settings, browser.app.state.store, StandIn()):
            pass
    for queued in browser.app.state.store.queue():
        if queued.is_waiting or queued.problem:
            print("jobnotes:", queued.problem or "not heard yet; it is tried again")
            raise SystemExit(2)


def _send(browser: Browser, place: Place, job: str, path: Path, kind: str) -> None:
    content, address = path.read_bytes(), f"/api/jobs/{job}/uploads/upload-{kind}"
    there = browser.answer("HEAD", address)
    offset = int(there.headers["Upload-Offset"])
    while offset < len(content) and there.headers["Upload-Complete"] != "?1":
        piece = content[offset : offset + len(content) // 3 + 1]
        browser.answer("PUT", address, content=piece, headers={"Upload-Offset": str(offset)}, ok=(409,))
        offset = int(browser.answer("HEAD", address).headers["Upload-Offset"])
    sha256 = hashlib.sha256(content).hexdigest()
    told = {"name": path.name, "kind": kind, "sha256": sha256, "bytes": len(content)}
    told |= {"started_at": "2031-04-07T09:31:00+01:00", "clock_difference_s": 0.0}
    assert browser.answer("POST", f"{address}/complete", json=told)["sha256"] == sha256
    place.tell(f"sent {sha256}")


def back_up(place: Place) -> None:
    """A file that is there is whole (`misfits` restores it), so that nobody need make it again."""
    target = place.out / "all.zip"
    if not target.exists():
        _jobnotes("backup", "--library", place.library, "--to", target)


def _in_use(place: Place) -> None:
    """What was run and decided, and is looked at in a browser."""
    _decided(place)
    clerk = Browser(place, "clerk")
    clerk.answer("GET", "/desk")
    (row,) = clerk.app.state.store.jobs()
    clerk.answer("GET", f"/api/jobs/{row.id}/documents/claim.docx")
    clerk.app.state.store.close()


def _backed_up(place: Place) -> None:
    was = Place(place.root / "was")
    _in_use(was)
    place.disk.mkdir()
    place.given.mkdir()
    back_up_library(was.library, place.given / "all.zip", [BESIDE])
    shutil.rmtree(was.root)


def restore(place: Place) -> None:
    """A library that is there is whole, as `misfits` sees."""
    if not (place.library.exists() and any(place.library.iterdir())):
        _jobnotes("restore", place.given / "all.zip", "--library", place.library)


def _two_jobs(place: Place) -> None:
    """Two customers' jobs that have a photo in common; the first one's is to be deleted."""
    _in_use(place)
    (place.root / "job").write_text(_job_in(place)[0], "utf-8")
    (place.root / "forgotten").write_text("Sample Ltd", "utf-8")
    other = a_folder(place.root / "other", (4,), "Other Customer Ltd")
    with stand_in():
        done(lambda _: _run(place, given=other), place)
    shutil.rmtree(place.out)


def delete(place: Place) -> None:
    job = (place.root / "job").read_text("utf-8")
    _jobnotes("delete", job, "--library", place.library, "--by", "clerk", "--yes", "--with-backups")


def _of_an_earlier_version(place: Place) -> None:
    """The oldest library that an earlier version left (tests/library/earlier)."""
    place.library.mkdir(parents=True)
    oldest = sorted(EARLIER.glob("*.sql"))[0]
    with contextlib.closing(sqlite3.connect(place.library / NAME)) as db:
        db.executescript(oldest.read_text("utf-8"))
        db.execute("PRAGMA journal_mode = WAL")
        kept = {row[0] for row in db.execute("SELECT sha256 FROM originals")}
    store = MediaStore(place.library / "media")
    for level in range(1, len(kept) + 1):
        assert store.keep(earlier.recording(place.root / f"{level}.wav", level)) in kept
    (place.root / "steps").write_text("\n".join(_steps(place)), "utf-8")


def _steps(place: Place) -> list[str]:
    """The steps of the schema that the database has, without opening it as a library."""
    with contextlib.closing(sqlite3.connect(place.library / NAME)) as db:
        return [row[0] for row in db.execute("SELECT name FROM _sqlite_migrations ORDER BY 1")]


def migrate(place: Place) -> None:
    _jobnotes("verify", "--library", place.library)


SCENARIOS = {
    scenario.name: scenario
    for scenario in (
        Scenario("first run", _nothing_yet, run),
        Scenario("run with decisions", _decided, run_with_all_files),
        Scenario("first run, real recogniser", _to_be_heard, _run),
        Scenario("review", _to_review, review),
        Scenario("upload and hearing", _opened, upload),
        Scenario("backup", _in_use, back_up),
        Scenario("restore", _backed_up, restore),
        Scenario("delete", _two_jobs, delete, takes_away=True),
        Scenario("upgrade", _of_an_earlier_version, migrate),
    )
}


# --- what is there -------------------------------------------------------------------------------


def kept(place: Place) -> set[str]:
    """What must never be lost, in the words of `Place.tell`: decisions, and files that were sent or given."""
    found = set()
    sent = [*place.library.glob("serve/jobs/*/given/*"), *place.library.glob("media/??/*")]
    found |= {f"sent {hashlib.sha256(path.read_bytes()).hexdigest()}" for path in sent}
    if (place.library / "jobnotes.db").exists():
        with Library.open(place.library, create=False) as library:
            for job in _jobs(library):
                found |= {f"decision {d.action} {d.fact_id}" for d in library.decisions(job)}
                found |= {f"stated {entry.key}" for entry in library.stated(job)}
    return found


def _jobs(library: Library) -> list[str]:
    return [row["id"] for row in library._db.query("SELECT id FROM jobs ORDER BY id")]


def outcome(place: Place) -> dict[str, Any]:
    """What a person has in the end: each job's notes, photos, and facts with their ids."""
    found: dict[str, Any] = {}
    with Library.open(place.library, create=False) as library:
        for job in _jobs(library):
            stored = library.record(job)
            record = json.loads(stored.text) if stored else {}
            found[job] = {
                "notes": [(n["id"], n["file"], n["sha256"], n["text"]) for n in record.get("notes", ())],
                "photos": [(p["id"], p["sha256"]) for p in record.get("photos", ())],
                "facts": sorted((f["id"], f["status"], f["quote"]) for f in record.get("facts", ())),
            }
    written = sorted(path.name for path in place.out.glob("[!.]*"))
    return {"jobs": found, "written": written, "of the forgotten": sorted(_traces(place))}


def _traces(place: Place) -> Iterator[str]:
    """Where the name of a customer still stands whose job was deleted, and what was written of the job."""
    if place.forgotten:
        for path in place.library.rglob("*"):
            if path.is_file() and place.forgotten.encode() in path.read_bytes():
                yield path.relative_to(place.library).as_posix()
        yield from (path.name for path in place.library.glob("serve/jobs/*"))


def misfits(place: Place) -> list[str]:
    """What is wrong with what lies on the disk, after whatever has happened: nothing ever may be."""
    found = []
    if (place.root / "steps").exists():
        had = (place.root / "steps").read_text("utf-8").split()
        if (has := _steps(place)) not in (had, ALL_STEPS):
            found.append(f"library: an upgrade stopped half-way, at {has[-1]}")
    if (place.library / "jobnotes.db").exists():
        with Library.open(place.library, create=False) as library:
            wrong = (*library.verify(), *library.verify_journal())
            found += [f"library: {m.subject} {m.reason}" for m in wrong]
    for database in place.library.glob("serve/serve.db"):
        connection = sqlite3.connect(database)
        (said,) = connection.execute("PRAGMA integrity_check").fetchone()
        connection.close()
        found += [f"serve.db: {said}"] if said != "ok" else []
    for folder in (place.out, *place.library.glob("serve/jobs/*/out")):
        for path in sorted(folder.glob("[!.]*")):
            try:
                _WHOLE[path.suffix](path)
            except Exception as error:
                found.append(f"half-written: {path.name} ({error!r})")
    return found


def _restorable(backup: Path) -> None:
    with tempfile.TemporaryDirectory() as folder:
        made = restore_library(backup, Path(folder) / "library")
    assert made.problems == ()


_WHOLE: dict[str, Callable[[Path], object]] = {
    ".zip": _restorable,
    ".docx": lambda path: docx.Document(str(path)),
    ".xlsx": openpyxl.load_workbook,
    ".xml": lambda path: etree.parse(str(path)),
    ".json": lambda path: record_json.from_json(json.loads(path.read_text("utf-8"))),
}
