"""What the office states of a job: in its file beside the recordings, and by hand, which counts before it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from jobnotes.errors import Problem
from jobnotes.library.library import Library
from jobnotes.library.stated import Entry, StatedEntry, in_force, said_otherwise
from jobnotes.office import job as job_details
from jobnotes.office.job import JobDetails
from jobnotes.office.stated import Table
from jobnotes.record import Details, Stated
from jobnotes.workshop import Workshop

#: what a problem with what was stated by hand is filed under, with the entry's name behind it
ON_STATED = "stated at the desk: "
#: what is stated by hand is called in errors
_AT_DESK = "what is stated at the desk"


def details_of(
    kept: Details | None, library: Library, workshop: Workshop, stated: Sequence[StatedEntry] = ()
) -> JobDetails | None:
    """What the office states of the job: in the file that was kept, and by hand, which counts before it.

    None where nothing is stated. Raises JobnotesError where it makes no sense.
    """
    file = file_of(kept, library)
    # a mistake in the file is told as such, with its line
    in_file = job_details.details_of(file, workshop.own) if file else None
    return together(file, stated, workshop) if in_force(stated) else in_file


def together(file: Table | None, stated: Iterable[StatedEntry], workshop: Workshop) -> JobDetails:
    """What the file and what was stated by hand say in one. Raises JobnotesError where it makes no sense."""
    entries = {key: entry.after for key, entry in in_force(stated).items()}
    return job_details.details_of(job_details.overlaid(file, entries, _AT_DESK), workshop.own)


def entries_of(kept: Details | None, library: Library) -> dict[str, Entry]:
    """What the office's file says, entry by entry."""
    file = file_of(kept, library)
    return job_details.entries_of(file) if file else {}


def file_of(kept: Details | None, library: Library) -> Table | None:
    return job_details.read(library.path_of(kept.sha256), kept.file) if kept else None


def by_hand_in(
    kept: Details | None, library: Library, stated: Sequence[StatedEntry]
) -> tuple[tuple[Stated, ...], list[Problem]]:
    """What was stated by hand, as the record shows it; and where the file has come to say something else.

    Who stated it has seen what the file said then, so only what it says otherwise since is a problem.
    """
    file = entries_of(kept, library) if stated else {}
    shown, problems = [], []
    for key, entry in in_force(stated).items():
        other, value = said_otherwise(entry, file), entry_said(entry.after)
        shown.append(Stated(key, entry.who, entry.at, value, entry_said(other)))
        if other is not None and other != entry.file and kept is not None:
            counts = f"“{value}”" if value is not None else "that there is none"
            reason = (
                f"{kept.file} says “{entry_said(other)}” now, but at the desk {entry.who} stated {counts} "
                f"({entry.at:%Y-%m-%d}), which counts; correct the file, or take back what was stated"
            )
            problems.append(Problem(f"{ON_STATED}{key}", reason))
    return tuple(shown), problems


def entry_said(entry: Entry | None) -> str | None:
    """An entry in one line; the rows of a list are parted by semicolons."""
    if entry is None or isinstance(entry, str):
        return entry
    return "; ".join(", ".join(row.values()) for row in entry)
