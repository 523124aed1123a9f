"""The whole flow in one place: a folder of recordings and photos becomes a record and three documents.

Each stage is one function below, in the order in which it runs. The first two touch files and the database,
the last one writes documents; what lies between is pure.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import tzinfo
from pathlib import Path

from PIL import Image

from jobnotes import record_json
from jobnotes.checking.check import check, head
from jobnotes.documents.einvoice import write_einvoice
from jobnotes.documents.house import House
from jobnotes.documents.pictures import Pictures
from jobnotes.documents.spreadsheet import write_spreadsheet
from jobnotes.documents.writing import write_all
from jobnotes.errors import JobnotesError, Problem, UnusableInputError
from jobnotes.hearing.recogniser import Recogniser, ignore
from jobnotes.intake.folder import FolderContents, scan
from jobnotes.intake.originals import file_name, unique
from jobnotes.intake.photos import TakenPhoto, open_photo, shown
from jobnotes.intake.recordings import Recording, open_recording
from jobnotes.intake.sound import mono_16k
from jobnotes.library.database import NAME as LIBRARY_FILE
from jobnotes.library.decisions import Decision, apply
from jobnotes.library.library import GivenFile, Library, OriginalKind
from jobnotes.linking.photos import link
from jobnotes.office import job as job_details
from jobnotes.office.job import JobDetails
from jobnotes.progress import Progress, Silent
from jobnotes.reading.read import read_notes
from jobnotes.record import Details, Fact, Job, Note, Photo, Record, Word
from jobnotes.workshop import Workshop

RECORD, SPREADSHEET = "record.json", "lines.xlsx"
EINVOICE, EINVOICE_DRAFT = "invoice.xml", "invoice-draft.xml"
#: what a problem with a decision is filed under, with the fact's id behind it
ON_DECISION = "decision on "


@dataclass(frozen=True, slots=True)
class TakenIn:
    """What a folder held that can be used, and what it held that can't."""

    recordings: tuple[Recording, ...]
    photos: tuple[TakenPhoto, ...]
    problems: tuple[Problem, ...]
    details: Details | None = None


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


def run(
    folder: Path,
    out: Path,
    library: Library,
    recogniser: Recogniser,
    zone: tzinfo,
    *,
    workshop: Workshop | None = None,
    also: Also | None = None,
    progress: Progress | None = None,
) -> Outcome:
    """Do the main job: everything in `folder` to a record and three documents in `out`. As `derive`."""
    progress = progress or Silent()
    workshop = workshop or Workshop()
    _writable(out)
    derived = derive(folder, library, recogniser, zone, workshop=workshop, progress=progress)
    return write(derived, out, library, progress, house=workshop.house, also=also)


def derive(
    folder: Path,
    library: Library,
    recogniser: Recogniser,
    zone: tzinfo,
    *,
    workshop: Workshop | None = None,
    progress: Progress | None = None,
) -> Derived:
    """Take in everything in `folder`, and conclude the record of its job; no document is written.

    `zone` is where clocks without an offset stand. What can't be used is named in the record's problems;
    raises JobnotesError where nothing can be done, and where what the office states of the job is wrong.
    """
    progress = progress or Silent()
    workshop = workshop or Workshop()
    taken = take_in(folder, library, zone, progress)
    details = details_of(taken.details, library, workshop)
    filed = library.file_job(
        [GivenFile(r.sha256, r.file) for r in taken.recordings],
        [GivenFile(p.sha256, p.file) for p in taken.photos],
        [GivenFile(d.sha256, d.file) for d in (taken.details,) if d],
    )
    notes, anew = hear(taken.recordings, library, recogniser, progress)
    record = conclude(
        Record(
            Job(),
            notes,
            _photos(taken.photos),
            details=taken.details,
            problems=(*taken.problems, *filed.problems),
        ),
        read_notes(notes, workshop.trade),
        library.decisions(filed.job),
        library,
        filed.job,
        workshop,
        details,
    )
    return Derived(record, filed.job, anew)


def conclude(
    given: Record,
    facts: Sequence[Fact],
    decisions: Sequence[Decision],
    library: Library,
    job: str,
    workshop: Workshop,
    details: JobDetails | None,
) -> Record:
    """The record of the library's `job`: `facts` as read, with the decisions on them, linked and checked.

    Of `given` the notes, the photos without their links, the details and the problems count; `details` is
    what these details state.
    """
    reviewed = apply(decisions, facts)
    linked = link(reviewed.facts, given.photos, given.notes)
    heard = Record(
        Job(),
        given.notes,
        linked.photos,
        linked.facts,
        camera_clocks=linked.camera_clocks,
        details=given.details,
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
    return replace(record, problems=(*given.problems, *unplaced))


# --- intake --------------------------------------------------------------------------------------


def take_in(folder: Path, library: Library, zone: tzinfo, progress: Progress) -> TakenIn:
    """Keep every original, then open it; what is damaged is kept too, and named."""
    contents = _without_libraries(scan(folder))
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
    if not recordings:
        raise NothingUsableError(folder, tuple(problems))
    kept, _ = unique(recordings)
    pictures, _ = unique(photos)
    return TakenIn(
        tuple(sorted(kept, key=lambda r: (r.started_at, r.file))),
        tuple(sorted(pictures, key=lambda p: (p.taken_at, p.file))),
        tuple(problems),
        _keep_details(folder, library),
    )


def _keep_details(folder: Path, library: Library) -> Details | None:
    """Keep what the office states of the job, where a file of it lies beside the recordings."""
    path = folder / job_details.NAME
    if not path.is_file():
        return None
    return Details(path.name, library.keep(path, "details", path.name).sha256)


def details_of(kept: Details | None, library: Library, workshop: Workshop) -> JobDetails | None:
    """What the office states of the job, in the file that was kept; None where it states nothing."""
    if kept is None:
        return None
    own = workshop.office.workshop if workshop.office else None
    return job_details.load(library.path_of(kept.sha256), kept.file, own)


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


class NothingUsableError(JobnotesError):
    """No recording of the folder can be used; `problems` says what is wrong with each."""

    def __init__(self, folder: Path, problems: tuple[Problem, ...]) -> None:
        super().__init__(str(folder), "holds no recording that can be used", "see what is said of each file")
        self.problems = problems


def _photos(taken: Sequence[TakenPhoto]) -> tuple[Photo, ...]:
    return tuple(
        Photo(f"P{at}", p.file, p.sha256, p.taken_at, p.taken_at_source, p.width, p.height, camera=p.camera)
        for at, p in enumerate(taken, 1)
    )


# --- hearing -------------------------------------------------------------------------------------


def hear(
    recordings: Sequence[Recording], library: Library, recogniser: Recogniser, progress: Progress
) -> tuple[tuple[Note, ...], int]:
    """The words of each recording, from the library where this recogniser has heard it before.

    Each note is stored as soon as it has been heard, so that a run that is broken off goes on from there.
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
            )
        )
    return tuple(notes), len(new)


def _part(tick: Callable[[float], None], start: float, length: float) -> Callable[[float], None]:
    """Turns the share of one part that is done, 0–1, into how much of the whole step is."""
    return lambda share: tick(start + share * length)


def _listen(
    recording: Recording, library: Library, recogniser: Recogniser, progress: Callable[[float], None]
) -> tuple[Word, ...]:
    samples = mono_16k(library.path_of(recording.sha256), recording.file)
    words = recogniser.hear(samples, progress=progress)
    library.store_heard(recording.sha256, recogniser.stamp, words, recording.duration_s)
    return words


# --- documents -----------------------------------------------------------------------------------


def write(
    derived: Derived,
    out: Path,
    library: Library,
    progress: Progress,
    *,
    house: House | None = None,
    also: Also | None = None,
) -> Outcome:
    """Store the record and draw the documents from it."""
    tick = progress.step("Writing", 1)
    also = also or Also()
    record = derived.record
    record = replace(record, problems=(*record.problems, *_bill(record, out, also)))
    digest = library.save(record, derived.job)
    text = record_json.dumps(record)
    documents: tuple[Path, ...] = write_all(record, digest, picture_of(library), out, house=house)
    if also.spreadsheet and _any_priced(record):
        write_spreadsheet(record, out / SPREADSHEET, record_sha256=digest)
    documents += tuple(path for path in _bill_files(out) if path.exists())
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
        out.mkdir(parents=True, exist_ok=True)
        probe = out / ".jobnotes-probe"
        probe.write_bytes(b"")
        probe.unlink()
    except OSError as error:
        raise _unwritable(out, error) from error


def _unwritable(out: Path, error: OSError) -> JobnotesError:
    return JobnotesError(
        str(out), error.strerror or "can't be written", "name another folder with --out, or make room in it"
    )
