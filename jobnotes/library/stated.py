"""What people state of a job by hand, entry by entry, as `job.toml` has them. Pure: no file, no clock.

As with decisions, nothing is ever changed, only added to; the last word on an entry counts. It may also be
that the entry is nobody's any more ("withdrawn"): then what the office's file says counts again.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Literal

#: One entry's value: text, or the rows of a list, each with its own entries
Entry = str | list[dict[str, str]]


@dataclass(frozen=True, slots=True)
class StatedEntry:
    """What one person stated of one entry, at one time.

    `key` is the entry's name in `job.toml` with its table before it ("customer.name"). `before` is what
    counted when they stated it, `after` what they stated: None that there is none. `file` is what the
    office's file said then. `id` is given by the library and rises in the order in which it was stated.
    """

    key: str
    who: str
    at: datetime
    before: Entry | None = None
    after: Entry | None = None
    file: Entry | None = None
    action: Literal["stated", "withdrawn"] = "stated"
    id: int | None = None

    def __post_init__(self) -> None:
        if not self.who.strip():
            raise ValueError("a statement needs the person who made it")
        if self.at.tzinfo is None:
            raise ValueError("the time of a statement needs its offset")
        if self.action == "withdrawn" and self.after is not None:
            raise ValueError("what is withdrawn states nothing")


def in_force(entries: Iterable[StatedEntry]) -> dict[str, StatedEntry]:
    """By key, the word that counts; what was withdrawn isn't there."""
    last = {entry.key: entry for entry in entries}
    return {key: entry for key, entry in last.items() if entry.action == "stated"}


def laid_over(file: Mapping[str, Entry], entries: Iterable[StatedEntry]) -> dict[str, Entry]:
    """The entries of the office's file with what was stated by hand in their place."""
    now = dict(file)
    for key, entry in in_force(entries).items():
        if entry.after is None:
            now.pop(key, None)
        else:
            now[key] = entry.after
    return now


def said_otherwise(entry: StatedEntry, file: Mapping[str, Entry]) -> Entry | None:
    """What the office's file says instead of what was stated; None where it says nothing else."""
    there = file.get(entry.key)
    return there if there != entry.after else None


def taken_back(
    entries: Sequence[StatedEntry], about: StatedEntry, file: Mapping[str, Entry], who: str, at: datetime
) -> list[StatedEntry]:
    """What takes back all that was stated in one go with `about`: each entry is as it was before that.

    Raises ValueError where a later word on one of them builds on it.
    """
    gone = [e for e in entries if (e.who, e.at) == (about.who, about.at)]
    made = []
    for entry in gone:
        said = [e for e in entries if e.key == entry.key]
        if said[-1] is not entry:
            raise ValueError("a later statement builds on that one; take that back first")
        now = laid_over(file, entries).get(entry.key)
        earlier = said[-2] if len(said) > 1 else None
        restored = earlier.after if earlier is not None else None
        action: Literal["stated", "withdrawn"] = earlier.action if earlier is not None else "withdrawn"
        made.append(StatedEntry(entry.key, who, at, now, restored, file.get(entry.key), action))
    return made
