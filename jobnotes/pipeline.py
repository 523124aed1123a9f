"""The whole flow in one place: a folder of recordings and photos becomes a record and three documents.

Each stage is one function below, in the order in which it runs. The first three touch files and the database,
the last one writes documents; what lies between is pure.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, timedelta, tzinfo
from pathlib import Path
from typing import cast

from PIL import Image

from jobnotes import record_json
from jobnotes.checking.check import check, head
from jobnotes.documents.einvoice import write_einvoice
from jobnotes.documents.files import file_digest
from jobnotes.documents.house import House
from jobnotes.documents.pictures import Pictures
from jobnotes.documents.spreadsheet import write_spreadsheet
from jobnotes.documents.writing import UNFINISHED, write_all
from jobnotes.durable import clear_abandoned, make_folder
from jobnotes.errors import JobnotesError, NothingUsableError, Problem, UnusableInputError
from jobnotes.hearing.piecewise import hear_tape
from jobnotes.hearing.recogniser import Recogniser, ignore
from jobnotes.hearing.tape import Tape
from jobnotes.intake.folder import FolderContents, scan
from jobnotes.intake.originals import file_name, unique
from jobnotes.intake.photos import TakenPhoto, open_photo, shown
from jobnotes.intake.recordings import Recording, StartedAtSource, open_recording
from jobnotes.intake.sound import blocks_16k
from jobnotes.library.database import NAME as LIBRARY_FILE
from jobnotes.library.decisions import TAKEN, Decision, apply
from jobnotes.library.library import GivenFile, Library, OriginalKind
from jobnotes.library.stated import StatedEntry
from jobnotes.linking.confirming import confirm, settled
from jobnotes.linking.job_cards import ON_CARD
from jobnotes.linking.likeness import group_alike
from jobnotes.linking.photos import link
from jobnotes.office import job as job_details
from jobnotes.progress import Progress, Silent
from jobnotes.reading.photos.text import WrittenIn, read_photos
from jobnotes.reading.read import read_notes
from jobnotes.reading.trade.files import Trade
from jobnotes.reading.trade.files import load as load_trade
from jobnotes.record import Details, Fact, Job, Note, Photo, RecogniserStamp, Record, Sight, Word
from jobnotes.seeing.crew import PhotoFile, look
from jobnotes.seeing.reader import PhotoReader, UnreadableError
from jobnotes.stating import ON_STATED, by_hand_in, details_of
from jobnotes.workshop import Workshop

RECORD, SPREADSHEET = "record.json", "lines.xlsx"
EINVOICE, EINVOICE_DRAFT = "invoice.xml", "invoice-draft.xml"
_WRITTEN = (RECORD, SPREADSHEET, EINVOICE, EINVOICE_DRAFT)
#: what a problem with a decision is filed under, with the fact's id behind it
ON_DECISION = "decision on "


@dataclass(frozen=True, slots=True)
class TakenIn:
    """What a folder held that can be used, and what it held that can't."""

    recordings: tuple[Recording, ...]
    photos: tuple[TakenPhoto, ...]
    problems: tuple[Problem, ...]


@dataclass(frozen=True, slots=True)
class Also:
    """What is written beside the record and the three documents: only what was asked for."""

    einvoice: bool = False
    spreadsheet: bool = False


@dataclass(frozen=True, slots=True)
class Derived:
    """The record of the library's `job`; `heard_anew` notes were not in the library yet."""

    record: Record
    job: str
    heard_anew: int


@dataclass(frozen=True, slots=True)
class Outcome:
    """The record of a run and the files that were written; `heard_anew` notes were not in the library yet."""

    record: Record
    job: str
    record_file: Path
    documents: tuple[Path, ...]
    heard_anew: int


@dataclass(frozen=True, slots=True)
class Heard:
    """What a job is concluded from, as far as files and the recogniser tell it: notes and photos in `given`.

    `added` came from the folder of a job that has others already, which are in the library. `anew` notes
    were not in the library yet.
    """

    given: Record
    job: str
    anew: int
    added: bool = False


def run(
    folder: Path,
    out: Path,
    library: Library,
    recogniser: Recogniser,
    zone: tzinfo,
    *,
    reader: PhotoReader | None = None,
    workshop: Workshop | None = None,
    also: Also | None = None,
    progress: Progress | None = None,
) -> Outcome:
    """Do the main job: everything in `folder` to a record and three documents in `out`. As `listen`."""
    progress = progress or Silent()
    workshop = workshop or Workshop()
    _writable(out)
    heard = listen(folder, library, recogniser, zone, reader=reader, workshop=workshop, progress=progress)
    # whoever decides something at the desk meanwhile finds it in what is saved here, or saves after it
    with library.alone_with(heard.job):
        derived = concluded(heard, library, workshop)
        derived, digest = _filed(derived, out, library, also or Also())
    return _drawn(derived, digest, out, library, progress, house=workshop.house, also=also or Also())


def listen(
    folder: Path,
    library: Library,
    recogniser: Recogniser,
    zone: tzinfo,
    *,
    reader: PhotoReader | None = None,
    workshop: Workshop | None = None,
    progress: Progress | None = None,
    job: str | None = None,
) -> Heard:
    """Take in everything in `folder`, hear it, and read the photos. `job` is whose it is, if that is known.

    `zone` is where clocks without an offset stand. Without `reader` nobody looks for writing in
    the photos. What can't be used is named in the problems; raises JobnotesError where nothing can be done,
    and where what the office states of the job is wrong.
    """
    progress = progress or Silent()
    taken = take_in(folder, library, zone, progress)
    if not taken.recordings:
        raise NothingUsableError(folder, taken.problems)
    kept = _keep_details(folder, library)
    # what is wrong with it is said before anything is heard
    details_of(kept, library, workshop or Workshop())
    filed = library.file_job(
        [GivenFile(r.sha256, r.file) for r in taken.recordings],
        [GivenFile(p.sha256, p.file) for p in taken.photos],
        [GivenFile(d.sha256, d.file) for d in (kept,) if d],
        job=job,
    )
    notes, anew = hear(taken.recordings, library, recogniser, progress)
    added = _added(library, filed.job)
    for note in added.notes:
        if note.recogniser != recogniser.stamp:
            hear([_again(note, library)], library, recogniser, progress)
    own = _photos(taken.photos)
    photos, unread = see((*own, *added.photos), library, reader, progress)
    given = Record(
        Job(),
        notes,
        photos[: len(own)],
        details=kept,
        problems=(*taken.problems, *filed.problems, *unread),
    )
    return Heard(given, filed.job, anew)


def listen_to_more(
    folder: Path,
    job: str,
    who: str,
    library: Library,
    recogniser: Recogniser,
    zone: tzinfo,
    *,
    reader: PhotoReader | None = None,
    progress: Progress | None = None,
) -> Heard:
    """Take in, hear and read what `who` adds to a job of the library: what is in `folder` comes on top."""
    progress = progress or Silent()
    taken = take_in(folder, library, zone, progress, photos_alone=True)
    elsewhere = library.add_to_job(
        job,
        [GivenFile(r.sha256, r.file) for r in taken.recordings],
        [GivenFile(p.sha256, p.file) for p in taken.photos],
        who,
    )
    added = library.added(job)
    recordings = [r for r in taken.recordings if r.sha256 in added]
    notes, anew = hear(recordings, library, recogniser, progress)
    photos, unread = see(_photos(taken.photos), library, reader, progress)
    given = Record(Job(), notes, photos, problems=(*taken.problems, *elsewhere, *unread))
    return Heard(given, job, anew, added=True)


def concluded(heard: Heard, library: Library, workshop: Workshop) -> Derived:
    """The record of what was heard, with all that the library knows of its job: what was added by hand, what
    people decided and what they stated. Where others may decide meanwhile, `library.alone_with` is held.
    """
    given = _with_more(heard, library)
    record = conclude(
        given,
        read_notes(given.notes, workshop.trade),
        read_photos(given.photos, workshop.trade),
        library.decisions(heard.job),
        library.stated(heard.job),
        library,
        heard.job,
        workshop,
    )
    return Derived(record, heard.job, heard.anew)


def _with_more(heard: Heard, library: Library) -> Record:
    """What was heard together with the rest of its job, each note and photo once, numbered by time."""
    if heard.added:
        whole, more = _stored(library, heard.job), heard.given
    else:
        whole, more = heard.given, _added(library, heard.job)
    known = {n.sha256 for n in whole.notes} | {p.sha256 for p in whole.photos}
    fresh = [n for n in more.notes if n.sha256 not in known]
    notes = sorted(
        (*whole.notes, *(_as_heard_now(n, whole, library) for n in fresh)),
        key=lambda n: (n.started_at, n.file),
    )
    photos = sorted(
        map(
            as_taken,
            (
                *whole.photos,
                *(_as_seen_now(p, whole, library) for p in more.photos if p.sha256 not in known),
            ),
        ),
        key=lambda p: (p.taken_at, p.file),
    )
    again = {problem.file for problem in more.problems}
    return replace(
        whole,
        notes=tuple(replace(n, id=f"N{at}") for at, n in enumerate(notes, 1)),
        photos=tuple(replace(p, id=f"P{at}") for at, p in enumerate(photos, 1)),
        problems=(*(p for p in lasting(whole.problems) if p.file not in again), *more.problems),
    )


def as_taken(photo: Photo) -> Photo:
    """The photo by its camera's own time, without its links: as it was taken in."""
    at = photo.taken_at.astimezone(UTC) - timedelta(seconds=photo.clock_offset_s)
    taken_at = at.astimezone(photo.taken_at.tzinfo)
    return replace(
        photo,
        taken_at=taken_at,
        clock_offset_s=0.0,
        fact_ids=(),
        linked_by=None,
        like=None,
        card=None,
        job=None,
    )


def _as_seen_now(photo: Photo, whole: Record, library: Library) -> Photo:
    """A photo that was added, as the reader sees it that has seen the others."""
    stamp = next((p.sight.reader for p in whole.photos if p.sight), None)
    sight = library.seen(photo.sha256, stamp) if stamp else None
    return replace(photo, sight=sight) if sight else photo


def _as_heard_now(note: Note, whole: Record, library: Library) -> Note:
    """A note that was added, in the words of the recogniser that has heard the others."""
    stamp = whole.notes[0].recogniser if whole.notes else note.recogniser
    words = None if stamp is None or stamp == note.recogniser else library.heard(note.sha256, stamp)
    if words is None:
        return note
    return replace(note, recogniser=stamp, text=" ".join(w.text for w in words), words=words)


def _stored(library: Library, job: str) -> Record:
    stored = library.record(job)
    return record_json.from_json(json.loads(stored.text)) if stored else Record(Job())


def _added(library: Library, job: str) -> Record:
    """The notes and photos of the job that were added by hand, as its record has them."""
    added = library.added(job)
    whole = _stored(library, job) if added else Record(Job())
    notes = tuple(n for n in whole.notes if n.sha256 in added)
    photos = tuple(p for p in whole.photos if p.sha256 in added)
    files = {n.file for n in notes} | {p.file for p in photos}
    problems = tuple(p for p in lasting(whole.problems) if p.file in files)
    return Record(Job(), notes, photos, problems=problems)


def _again(note: Note, library: Library) -> Recording:
    """The recording of a note that was heard before."""
    path, source = library.path_of(note.sha256), cast(StartedAtSource, note.started_at_source)
    return Recording(
        path,
        note.file,
        note.sha256,
        note.started_at,
        source,
        note.duration_s,
        "",
        "",
        0,
        0,
        started_at_doubt=note.started_at_doubt,
    )


def conclude(
    given: Record,
    facts: Sequence[Fact],
    writing: WrittenIn,
    decisions: Sequence[Decision],
    stated: Sequence[StatedEntry],
    library: Library,
    job: str,
    workshop: Workshop,
) -> Record:
    """The record of the library's `job`: `facts` and the photos' `writing` as read, with the decisions on
    them, linked and checked.

    Of `given` the notes, the photos without their links, the office's file and the problems count; `stated`
    is what people stated of the job by hand, which counts before that file.
    """
    details = details_of(given.details, library, workshop, stated)
    by_hand, surprises = by_hand_in(given.details, library, stated)
    workshop = workshop.under(details)
    number = details.number if details else None
    reviewed = apply(decisions, confirmed(facts, given, decisions, number, workshop.trade, writing))
    linked = link(reviewed.facts, group_alike(given.photos), given.notes, number=number)
    heard = Record(
        Job(),
        given.notes,
        linked.photos,
        settled(linked.facts, workshop.trade or load_trade()),
        camera_clocks=linked.camera_clocks,
        details=given.details,
        stated=by_hand,
    )
    record = check(
        heard,
        policy=workshop.policy,
        pairs=workshop.house.pairs if workshop.house else None,
        office=workshop.office,
        details=details,
        past=library.past(job, replace(heard, job=head(heard, details))),
    )
    unplaced = (Problem(f"{ON_DECISION}{u.decision.fact_id}", u.reason) for u in reviewed.unplaced)
    return replace(record, problems=(*given.problems, *linked.problems, *unplaced, *surprises))


def confirmed(
    facts: Sequence[Fact],
    given: Record,
    decisions: Sequence[Decision],
    number: str | None,
    trade: Trade | None,
    writing: WrittenIn | None = None,
) -> tuple[Fact, ...]:
    """`facts` as read, with what the photos show of them, and what only photos show; not linked yet.

    `number` is the job's by the office; `writing` what stands in the photos, where it has been read.
    """
    if not any(photo.sight and photo.sight.texts for photo in given.photos):
        return tuple(facts)
    # a photo goes by its cue, its time, or where a person put it, before what it shows is held against that
    moved = apply(decisions, facts).facts
    denied = {(f.id, mark[1:]) for f in moved for mark in f.photos if mark.startswith(TAKEN)}
    first = link(moved, given.photos, given.notes, number=number)
    photos_of = {fact.id: fact.photos for fact in first.facts}
    by_photos = [replace(fact, photos=photos_of.get(fact.id, ())) for fact in facts]
    shown = confirm(by_photos, first.photos, trade or load_trade(), denied, read=writing)
    return tuple(replace(fact, photos=()) for fact in shown)


def lasting(problems: Sequence[Problem]) -> tuple[Problem, ...]:
    """Those that aren't found anew whenever the record is concluded."""
    return tuple(p for p in problems if not p.file.startswith((ON_CARD, ON_DECISION, ON_STATED)))


# --- intake --------------------------------------------------------------------------------------


def take_in(
    folder: Path, library: Library, zone: tzinfo, progress: Progress, *, photos_alone: bool = False
) -> TakenIn:
    """Keep every original, then open it; what is damaged is kept too, and named."""
    contents = _without_libraries(scan(folder, photos_alone=photos_alone))
    problems: list[Problem] = list(contents.problems)
    tick = progress.step("Taking in", len(contents.recordings) + len(contents.photos))
    done = 0
    recordings: list[Recording] = []
    photos: list[TakenPhoto] = []
    kinds: tuple[tuple[Sequence[Path], OriginalKind], ...] = (
        (contents.recordings, "recording"),
        (contents.photos, "photo"),
    )
    for paths, kind in kinds:
        for path in paths:
            try:
                library.keep(path, kind, file_name(path, folder))
                if kind == "recording":
                    recording = open_recording(path, zone, folder)
                    recordings.append(recording)
                    problems += [recording.problem] if recording.problem else []
                else:
                    photo = open_photo(path, zone, folder)
                    photos.append(photo)
                    problems += [photo.problem] if photo.problem else []
            except UnusableInputError as error:
                problems.append(Problem.of(error))
            done += 1
            tick(done)
    kept, _ = unique(recordings)
    pictures, _ = unique(photos)
    return TakenIn(
        tuple(sorted(kept, key=lambda r: (r.started_at, r.file))),
        tuple(sorted(pictures, key=lambda p: (p.taken_at, p.file))),
        tuple(problems),
    )


def _keep_details(folder: Path, library: Library) -> Details | None:
    """Keep what the office states of the job, where a file of it lies beside the recordings."""
    path = folder / job_details.NAME
    if not path.is_file():
        return None
    return Details(path.name, library.keep(path, "details", path.name).sha256)


def _without_libraries(contents: FolderContents) -> FolderContents:
    """What was given, without what a run has kept: its output may lie within the folder that is given."""

    def given(path: Path) -> bool:
        within = path.relative_to(contents.folder).parents
        return not any((contents.folder / parent / LIBRARY_FILE).is_file() for parent in within)

    return replace(
        contents,
        recordings=tuple(filter(given, contents.recordings)),
        photos=tuple(filter(given, contents.photos)),
    )


def _photos(taken: Sequence[TakenPhoto]) -> tuple[Photo, ...]:
    return tuple(
        Photo(
            f"P{at}",
            p.file,
            p.sha256,
            p.taken_at,
            p.taken_at_source,
            p.width,
            p.height,
            camera=p.camera,
            taken_at_doubt=p.taken_at_doubt,
        )
        for at, p in enumerate(taken, 1)
    )


# --- hearing -------------------------------------------------------------------------------------


def hear(
    recordings: Sequence[Recording], library: Library, recogniser: Recogniser, progress: Progress
) -> tuple[tuple[Note, ...], int]:
    """The words of each recording, from the library where this recogniser has heard it before.

    Each note is stored as soon as it has been heard, and of a long one each piece, so that a run that is
    broken off goes on from there.
    """
    stamp = recogniser.stamp
    known = {r.sha256: library.heard(r.sha256, stamp) for r in recordings}
    new = [r for r in recordings if known[r.sha256] is None]
    tick = progress.step("Listening", sum(r.duration_s for r in new)) if new else ignore
    done_s = 0.0
    notes: list[Note] = []
    for at, recording in enumerate(recordings, 1):
        words = known[recording.sha256]
        if words is None:
            part = _part(tick, done_s, recording.duration_s)
            words = _listen(recording, library, recogniser, part)
            done_s += recording.duration_s
        notes.append(
            Note(
                f"N{at}",
                recording.file,
                recording.sha256,
                recording.started_at,
                recording.started_at_source,
                round(recording.duration_s, 3),
                stamp,
                " ".join(w.text for w in words),
                words,
                recording.started_at_doubt,
            )
        )
    return tuple(notes), len(new)


def _part(tick: Callable[[float], None], start: float, length: float) -> Callable[[float], None]:
    """Turns the share of one part that is done, 0–1, into how much of the whole step is."""
    return lambda share: tick(start + share * length)


def _listen(
    recording: Recording, library: Library, recogniser: Recogniser, progress: Callable[[float], None]
) -> tuple[Word, ...]:
    path = library.path_of(recording.sha256)
    tape = Tape(lambda: blocks_16k(path, file=recording.file), recording.duration_s)
    words = hear_tape(recogniser, tape, progress=progress, kept=_Pieces(library, recording.sha256))
    library.store_heard(recording.sha256, recogniser.stamp, words, recording.duration_s)
    return words


@dataclass(frozen=True, slots=True)
class _Pieces:
    """The library's pieces of one recording."""

    library: Library
    original: str

    def heard(self, stamp: RecogniserStamp) -> Mapping[str, tuple[Word, ...]]:
        return self.library.heard_pieces(self.original, stamp)

    def keep(self, stamp: RecogniserStamp, piece: str, words: tuple[Word, ...]) -> None:
        self.library.keep_heard_piece(self.original, stamp, piece, words)


# --- seeing --------------------------------------------------------------------------------------


def see(
    photos: Sequence[Photo], library: Library, reader: PhotoReader | None, progress: Progress
) -> tuple[tuple[Photo, ...], tuple[Problem, ...]]:
    """The photos with what is seen in each, and which couldn't be read; as they are, if there is no `reader`.

    From the library where this reader has seen it before. Each is stored as soon as it has been seen, so that
    a run that is broken off goes on from there.
    """
    if reader is None:
        return tuple(photos), ()
    problems: list[Problem] = []
    try:
        stamp = reader.stamp
        known = {p.sha256: library.seen(p.sha256, stamp) for p in photos}
        new = {p.sha256: p for p in photos if known[p.sha256] is None}
        tick = progress.step("Looking at photos", len(new)) if new else ignore
        files = [PhotoFile(library.path_of(p.sha256), p.sha256, p.file) for p in new.values()]
        for done, (photo, result) in enumerate(look(files, reader), 1):
            if isinstance(result, Sight):
                library.store_seen(photo.sha256, result)
                known[photo.sha256] = result
            else:
                problems.append(Problem.of(result))
            tick(done)
    except UnreadableError as error:  # without its weights the rest of the job is still done
        return tuple(photos), (*problems, Problem.of(error))
    return tuple(replace(p, sight=known[p.sha256]) for p in photos), tuple(problems)


# --- documents -----------------------------------------------------------------------------------


def _filed(derived: Derived, out: Path, library: Library, also: Also) -> tuple[Derived, str]:
    """Save the record, with what can't be written of the bill; the digest of its record.json."""
    record = derived.record
    record = replace(record, problems=(*record.problems, *_bill(record, out, also)))
    return replace(derived, record=record), library.save(record, derived.job)


def _drawn(
    derived: Derived,
    digest: str,
    out: Path,
    library: Library,
    progress: Progress,
    *,
    house: House | None,
    also: Also,
) -> Outcome:
    """Draw the documents from the record that was saved."""
    tick = progress.step("Writing", 1)
    record = derived.record
    text = record_json.dumps(record)
    if also.spreadsheet and _any_priced(record):
        write_spreadsheet(record, out / SPREADSHEET, record_sha256=digest)
    bill = tuple(path for path in _bill_files(out) if path.exists())

    def journal(drawn: Mapping[str, str]) -> None:
        billed = {path.name: file_digest(path) for path in bill}
        library.documents_drawn(derived.job, digest, {**drawn, **billed})

    documents: tuple[Path, ...] = write_all(
        record, digest, picture_of(library), out, house=house, finished=journal
    )
    documents += bill
    try:
        record_json.write_text(out / RECORD, text)
    except OSError as error:
        raise _unwritable(out, error) from error
    tick(1)
    progress.done()
    return Outcome(record, derived.job, out / RECORD, documents, derived.heard_anew)


def _bill(record: Record, out: Path, also: Also) -> list[Problem]:
    """Write the e-invoice if it was asked for; what can't be written, and why.

    What an earlier run has left is taken away first: it belongs to another record. An e-invoice can't say
    that it is a draft, so its name does while anything of the job is unchecked.
    """
    problems = []
    try:
        for path in _bill_files(out):
            path.unlink(missing_ok=True)
    except OSError as error:
        raise _unwritable(out, error) from error
    if also.einvoice:
        try:
            write_einvoice(record, out / (EINVOICE_DRAFT if is_draft(record) else EINVOICE))
        except JobnotesError as error:
            problems.append(Problem(EINVOICE, f"not written: {error}"))
    if also.spreadsheet and not _any_priced(record):
        reason = "not written: nothing is priced; give the workshop's prices with --workshop"
        problems.append(Problem(SPREADSHEET, reason))
    return problems


def is_draft(record: Record) -> bool:
    """True while anything of the job is unchecked: its documents say so."""
    return bool(record.charge_remarks) or any(fact.status == "check" for fact in record.facts)


def _any_priced(record: Record) -> bool:
    return any(charge.net is not None for charge in record.charges)


def _bill_files(out: Path) -> tuple[Path, ...]:
    return out / SPREADSHEET, out / EINVOICE, out / EINVOICE_DRAFT


def picture_of(library: Library) -> Pictures:
    """A function that gives a photo as it is shown, no larger than asked, or None where it can't be."""

    def picture(photo: Photo, side: int) -> Image.Image | None:
        try:
            return shown(library.path_of(photo.sha256), side, photo.file)
        except (JobnotesError, KeyError):
            return None

    return picture


def _writable(out: Path) -> None:
    try:
        make_folder(out)
        clear_abandoned(out, [f"{UNFINISHED}*", *(f".{name}.*" for name in _WRITTEN)])
        probe = out / ".jobnotes-probe"
        probe.write_bytes(b"")
        probe.unlink()
    except OSError as error:
        raise _unwritable(out, error) from error


def _unwritable(out: Path, error: OSError) -> JobnotesError:
    return JobnotesError(
        str(out), error.strerror or "can't be written", "name another folder with --out, or make room in it"
    )
