"""Labour: the hours that were said, those that the clock statements show and those of a table of standard
times, and how they differ."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, tzinfo
from decimal import Decimal
from itertools import pairwise

from jobnotes.checking.clock import Stretch, hours_of, worked_stretches
from jobnotes.office.names import singular_words, words_of
from jobnotes.past import OtherWork
from jobnotes.record import Fact, LabourLine, LabourSaid

# Said and worked hours closer than this agree: labour is claimed in tenths. Common practice, no source.
AGREE_H = Decimal("0.1")
WORKED = "time on the clock"
NO_OPERATION = "labour"


StandardHours = Callable[[str], Decimal | None]
"""What a table allows for an operation, in hours; None where it doesn't know it."""


@dataclass(frozen=True, slots=True)
class Labour:
    """`lines`: each operation said, then the time on the clock. `said` and `worked` are their sums in hours,
    None where nothing certain was said. `uncounted`: what could not be counted, or only with a question;
    `unsure_clock`: those of them that are about the clock.
    `difference`: how said and worked hours differ, None where they agree or can't be compared. `overlaps`:
    a line for each other job on whose clock the same hours are. `standards`: a line for each operation that
    differs from its standard time. `unclocked`: how long the notes took where nothing was clocked.
    """

    lines: tuple[LabourLine, ...]
    said: Decimal | None
    worked: Decimal | None
    difference: str | None
    uncounted: tuple[str, ...]
    overlaps: tuple[str, ...] = ()
    standards: tuple[str, ...] = ()
    unclocked: str | None = None
    unsure_clock: tuple[str, ...] = ()

    @property
    def remarks(self) -> tuple[str, ...]:
        """All of it, a line each."""
        compared = [remark for remark in (self.difference, self.unclocked) if remark]
        return (*self.uncounted, *compared, *self.overlaps, *self.standards)

    def over_standard(self, tolerance_h: Decimal) -> list[tuple[str, Decimal, Decimal]]:
        """Operation, hours said and standard time, where more was said by over `tolerance_h`."""
        return [row for row in _by_operation(self.lines) if row[1] - row[2] > tolerance_h]


def labour(
    facts: Sequence[Fact],
    *,
    standard: StandardHours | None = None,
    meanwhile: Sequence[OtherWork] = (),
    technician: str | None = None,
    first_note: datetime | None = None,
    last_note: datetime | None = None,
    ill_dated: Mapping[str, str] | None = None,
) -> Labour:
    """Labour from the facts that may be used as they stand; those in doubt are named, not counted.

    `meanwhile` are other jobs whose clock may have run at the same time. Two people may well work at once,
    so those of another technician than `technician` don't count; where one isn't named, they do. The notes
    were made between `first_note` and `last_note`; `ill_dated` are the files of those whose time is in doubt.
    """
    said, said_remarks = _said(facts)
    stretches, clock_facts, clock_remarks = worked_stretches(facts, last_note, ill_dated or {})
    total = sum((line.hours for line in said), Decimal(0)) if said else None
    lines = [_with_standard(line, standard) for line in said]
    standards = tuple(
        _standard_remark(*row) for row in _by_operation(lines) if abs(row[1] - row[2]) >= AGREE_H
    )
    worked = None
    if stretches:
        worked = hours_of(sum(s.end_s - s.start_s for s in stretches))
        lines.append(LabourLine(WORKED, worked, "clock", tuple(f.id for f in clock_facts)))
    zone = clock_facts[0].at.tzinfo if clock_facts and clock_facts[0].at else None
    return Labour(
        tuple(lines),
        total,
        worked,
        _difference(total, worked, stretches),
        (*said_remarks, *clock_remarks),
        tuple(_overlaps(stretches, zone, meanwhile, technician)),
        standards,
        None if stretches or clock_remarks else _unclocked(total, first_note, last_note),
        tuple(clock_remarks),
    )


# --- said ----------------------------------------------------------------------------------------


def _said(facts: Sequence[Fact]) -> tuple[list[LabourLine], list[str]]:
    """A line for each operation; the same said twice is one line, and a total isn't added to its parts."""
    lines: dict[tuple[str, Decimal], LabourLine] = {}
    remarks = []
    for fact in facts:
        if not isinstance(fact.detail, LabourSaid) or not fact.stands:
            continue
        hours, operation = fact.detail.hours, fact.detail.operation or NO_OPERATION
        if not fact.usable:
            remarks.append(f"{hours} h for {operation} needs checking and isn't counted")
            continue
        key = operation.casefold(), hours.normalize()
        if known := lines.get(key):
            lines[key] = LabourLine(known.operation, known.hours, "said", (*known.fact_ids, fact.id))
            remarks.append(f"{hours} h for {operation} was said more than once and is counted once")
        else:
            lines[key] = LabourLine(operation, hours, "said", (fact.id,))
    for operation in dict.fromkeys(name for name, _ in lines):
        same = [str(line.hours) for (name, _), line in lines.items() if name == operation]
        if len(same) > 1:
            remarks.append(
                f"different hours were said for {operation} ({' and '.join(same)} h); all are counted"
            )
    parts = [line for (name, _), line in lines.items() if name != NO_OPERATION]
    for key, line in list(lines.items()):
        if key[0] == NO_OPERATION and len(parts) > 1 and line.hours == sum(p.hours for p in parts):
            del lines[key]
            remarks.append(f"{line.hours} h is the sum of the operations and isn't added")
    return list(lines.values()), remarks


# --- compared ------------------------------------------------------------------------------------


def _difference(said: Decimal | None, worked: Decimal | None, stretches: Sequence[Stretch]) -> str | None:
    if said is None or worked is None or abs(said - worked) < AGREE_H:
        return None
    less_more = "more" if said > worked else "less"
    text = f"{said} h said, {worked} h on the clock: {abs(said - worked)} h {less_more} said than worked"
    pauses = []
    for one, then in pairwise(stretches):
        if one.ended == "pause":
            length = f"{hours_of(then.start_s - one.end_s)} h"
            pauses.append(f"{length} ({one.reason})" if one.reason else length)
    return f"{text}; paused for {', '.join(pauses)}" if pauses else text


def _unclocked(said: Decimal | None, first: datetime | None, last: datetime | None) -> str | None:
    if said is None or first is None or last is None:
        return None
    took = hours_of(last.timestamp() - first.timestamp())
    return f"{said} h said, nothing on the clock; the notes were made within {took} h"


def _with_standard(line: LabourLine, standard: StandardHours | None) -> LabourLine:
    if standard is None or line.operation == NO_OPERATION:
        return line
    return replace(line, standard=standard(line.operation))


def _by_operation(lines: Sequence[LabourLine]) -> list[tuple[str, Decimal, Decimal]]:
    """Operation, hours said and standard time, for each operation that has one."""
    said: dict[tuple[str, ...], tuple[str, Decimal, Decimal]] = {}
    for line in lines:
        if line.standard is not None:
            key = singular_words(line.operation)  # as the standard time is charged: once
            name, hours, _ = said.get(key, (line.operation, Decimal(0), line.standard))
            said[key] = name, hours + line.hours, line.standard
    return list(said.values())


def _standard_remark(operation: str, hours: Decimal, standard: Decimal) -> str:
    less_more = "more" if hours > standard else "less"
    return (
        f"{operation}: {hours} h said, standard time {standard} h: "
        f"{abs(hours - standard)} h {less_more} than standard"
    )


def _overlaps(
    stretches: Sequence[Stretch], zone: tzinfo | None, meanwhile: Sequence[OtherWork], technician: str | None
) -> list[str]:
    """A line for each other job on whose clock hours of `stretches` are too; times are told in `zone`."""
    remarks = []
    for other in meanwhile:
        if technician and other.technician and words_of(technician) != words_of(other.technician):
            continue
        theirs, _, _ = worked_stretches(other.clock)
        both = [
            (max(a.start_s, b.start_s), min(a.end_s, b.end_s))
            for a in stretches
            for b in theirs
            if min(a.end_s, b.end_s) > max(a.start_s, b.start_s)
        ]
        hours = hours_of(sum(end - start for start, end in both))
        if not hours:
            continue
        since, until = (datetime.fromtimestamp(at, zone) for at in (min(both)[0], max(e for _, e in both)))
        same_day = since.date() == until.date()
        who = "" if technician and other.technician else "; no technician is named for both"
        remarks.append(
            f"{hours} h of this clock are on that of job {other.number or other.job} too "
            f"({since:%Y-%m-%d %H:%M} to {until:{'%H:%M' if same_day else '%Y-%m-%d %H:%M'}}){who}"
        )
    return remarks
