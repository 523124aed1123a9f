"""What is still off, open, drained, unplugged, connected for a test, lost or unfinished.

Facts are taken in the order in which they were said. Whatever opens something is held until a later fact
undoes it. A fact that is itself in doubt closes nothing: one loose end too many is a nuisance, one too few
drives out of the workshop.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal

from jobnotes.checking.pairs import Pairs
from jobnotes.chronology import as_said
from jobnotes.office.names import is_plural, singular_words, words_of
from jobnotes.record import Fact, LooseEnd, Measurement, Part, Statement, Step

# A fastener said this soon before or after a component came off with it. Common practice, no source.
TOGETHER_S = 10.0
UNFINISHED = "unfinished"
# So many words may stand between "lost" and where it was: "lost one of the clips behind". Common practice.
_BEFORE_A_PLACE = 6

# What a part's action amounts to as a step; these are the record's own words, not the trade's.
_REMOVED, _REFITTED, _FILLED = "removed", "refitted", "filled"
_STEP_OF_PART = {"removed": _REMOVED, "fitted": _REFITTED, "reused": _REFITTED, "consumed": _FILLED}


def loose_ends(facts: Sequence[Fact], pairs: Pairs) -> tuple[LooseEnd, ...]:
    """The loose ends that the standing facts leave, in the order in which they were opened."""
    ledger = _Ledger(pairs)
    order: dict[str, int] = {}
    for event in _events(facts, pairs):
        order.setdefault(event.fact.id, len(order))
        ledger.take(event)
    return tuple(sorted(ledger.loose_ends(), key=lambda end: order[end.fact_id]))


def in_full(end: LooseEnd) -> str:
    """The loose end in words, with what is doubtful about it."""
    return f"{end.text} ({end.doubt})" if end.doubt else end.text


def certain_first(ends: Iterable[LooseEnd]) -> list[LooseEnd]:
    """Those that are loose for certain, then those that may not be."""
    return sorted(ends, key=lambda end: end.doubt is not None)


def where_lost(text: str, pairs: Pairs) -> str | None:
    """What tells in a remark where something was lost: "down behind the axle" of "one screw is lost. It fell
    down behind the axle"; None where nothing does."""
    words = [*re.finditer(r"[^\W_]+(?:[-'’][^\W_]+)*", text)]
    plain = [word.group().casefold().replace("’", "'") for word in words]
    phrases = {tuple(phrase.split()) for phrase in pairs.lost_words | pairs.went}
    soon = 0
    for n, word in enumerate(plain):
        if n < soon and word in pairs.places:
            told = text[words[n].start() :]
            return re.split(r"[.;!?]", told, maxsplit=1)[0].strip(" ,")
        if any(tuple(plain[n + 1 - len(phrase) : n + 1]) == phrase for phrase in phrases):
            soon = n + 1 + _BEFORE_A_PLACE
    return None


# --- what happened -------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Event:
    """Something done to a thing, the `number`th of the job, in the `breath`th; for a remark, its text."""

    fact: Fact
    breath: int
    number: int
    action: str
    object: str
    quantity: Decimal | None = None
    unit: str | None = None


def _events(facts: Sequence[Fact], pairs: Pairs) -> Iterator[_Event]:
    standing = as_said(fact for fact in facts if fact.stands)
    for fact, breath, number in _numbered(_breaths(standing)):
        match fact.detail:
            case Step(action, thing, quantity, unit):
                yield _Event(fact, breath, number, action, thing, quantity, unit)
            case Part(name, action, quantity, unit) if action in _STEP_OF_PART:
                yield _Event(fact, breath, number, _STEP_OF_PART[action], name, quantity, unit)
            case Measurement(quantity=quantity, subject=str(subject)) if quantity in pairs.done_by_reading:
                yield _Event(fact, breath, number, pairs.done_by_reading[quantity], subject)
            case Statement(kind="loose_end", text=text):
                yield _Event(fact, breath, number, "", text)


def _breaths(facts: Sequence[Fact]) -> list[list[Fact]]:
    """Facts that were read from the same words, which may tell one thing twice."""
    breaths: list[list[Fact]] = []
    for fact in facts:
        if breaths and any(_share_words(fact, other) for other in breaths[-1]):
            breaths[-1].append(fact)
        else:
            breaths.append([fact])
    return breaths


def _share_words(one: Fact, other: Fact) -> bool:
    if one.note != other.note:
        return False
    if one.start_s is not None and other.start_s is not None:
        ends = (one.end_s or one.start_s, other.end_s or other.start_s)
        return one.start_s == other.start_s or (one.start_s < ends[1] and other.start_s < ends[0])
    a, b = " ".join(words_of(one.quote)), " ".join(words_of(other.quote))
    return a in b or b in a


def _numbered(breaths: Sequence[Sequence[Fact]]) -> Iterator[tuple[Fact, int, int]]:
    """Each fact with the number of its breath and its own number."""
    number = 0
    for n, breath in enumerate(breaths):
        for fact in sorted(breath, key=_first_in_a_breath):
            yield fact, n, number
            number += 1


def _first_in_a_breath(fact: Fact) -> tuple[bool, bool]:
    # "replaced the pump": the old one came off first; and what is told with its number is told in full
    removed = isinstance(fact.detail, Part) and fact.detail.action == _REMOVED
    return not removed, getattr(fact.detail, "quantity", None) is None


# --- what is open --------------------------------------------------------------------------------


@dataclass(slots=True)
class _Opening:
    """One way in which a thing is open.

    `count` is the number of pieces, or with `unit` an amount; None for a plural without a number. `back` is
    how many or how much of it has been put back; `maybe_back`: by a fact that is in doubt. `place` is where
    it was lost.
    """

    event: _Event
    state: str
    count: Decimal | None
    back: Decimal = Decimal(0)
    closed: bool = False
    maybe_back: bool = False
    evidence: list[str] = field(default_factory=list)
    place: str | None = None

    def bears_on(self, event: _Event) -> None:
        """What this event tells belongs to it, besides what opened it."""
        if event.fact.id not in (self.event.fact.id, *self.evidence):
            self.evidence.append(event.fact.id)

    def put_back(self, pieces: Decimal | None) -> Decimal:
        """Put so many pieces back, all for None; returns how many it took."""
        # two or more of an unknown number are taken for all of them, one is not
        left = Decimal(2) if self.count is None else self.count - self.back
        taken = left if pieces is None else min(left, pieces)
        self.back += taken
        self.closed = taken == left
        return taken

    def fill(self, amount: Decimal, share: Decimal) -> None:
        self.back += amount
        self.closed = self.count is None or self.back >= self.count * share


@dataclass(slots=True, eq=False)
class _Thing:
    """One thing, in all the ways in which it is open: a hose may be unplugged and then taken off."""

    object: str
    openings: list[_Opening] = field(default_factory=list)
    came_off_with: _Thing | None = None
    spoken_of: bool = False

    def open(self) -> bool:
        return any(not o.closed for o in self.openings)


@dataclass(slots=True)
class _Remark:
    """A loose end in the technician's own words; `undone_by` are the actions that would settle it."""

    event: _Event
    statement: Statement
    state: str
    undone_by: frozenset[str]
    closed: bool = False
    maybe_back: bool = False
    evidence: list[str] = field(default_factory=list)


class _Ledger:
    """What is open so far; takes events in their order."""

    def __init__(self, pairs: Pairs) -> None:
        self._pairs = pairs
        self._things: list[_Thing] = []
        self._remarks: list[_Remark] = []
        self._opened: list[tuple[_Thing, _Event]] = []
        self._closers: list[_Event] = []
        self._fitted: list[_Event] = []
        self._connecting = frozenset(a for a, state in pairs.states.items() if state == "connected")
        self._losing = frozenset(a for a, state in pairs.states.items() if state == pairs.lost_state)
        self._undoing = frozenset[str]().union(*pairs.opposites.values())

    def take(self, event: _Event) -> None:
        if isinstance(event.fact.detail, Statement):
            self._note(event, event.fact.detail)
            return
        self._settle_remarks(event)
        if self._is_the_old_one(event):
            return
        closed = self._close(event)
        if not closed and isinstance(event.fact.detail, Part) and event.fact.detail.action == "fitted":
            self._fitted.append(event)
        if self._is_test_gear(event.object):
            if closed:
                return
            if event.action not in self._pairs.states and self._goes_on_for_a_test(event):
                event = replace(event, action=min(self._connecting))
        elif event.action in self._connecting or (closed and self._is_everything(event.object)):
            return
        if event.action in self._pairs.states:
            self._open(event)

    def loose_ends(self) -> list[LooseEnd]:
        still = [
            (thing, opening)
            for thing in self._things
            if not self._went_back_along(thing)
            for opening in thing.openings
            if not opening.closed
        ]
        remarks = []
        for remark in self._remarks:
            if remark.closed:
                continue
            told = self._told_by_steps(remark, [thing for thing, _ in still])
            if told is None:
                remarks.append(remark)
            for opening in told.openings if told else ():
                opening.bears_on(remark.event)
                opening.place = opening.place or self._where_lost(opening, remark)
        lost_of = self._lost_pieces(still)
        lost = {id(opening) for opening in lost_of.values()}
        return [
            *(self._loose_end(o, lost_of.get(id(o))) for _, o in still if id(o) not in lost),
            *(
                LooseEnd(
                    r.statement.text,
                    r.event.fact.id,
                    r.state,
                    tuple(r.evidence),
                    _doubt(r.event, r.maybe_back),
                    where_lost(r.statement.text, self._pairs) if r.state == self._pairs.lost_state else None,
                )
                for r in remarks
            ),
        ]

    def _loose_end(self, opening: _Opening, lost: _Opening | None) -> LooseEnd:
        """What is open; `lost` is the piece of it that was lost, which is why it isn't back."""
        text, state = _text(opening, self._pairs.lost_state), opening.state
        evidence, place = [*opening.evidence], opening.place
        if lost is not None:
            text, state, place = f"{text}: {lost.state}", lost.state, lost.place
            evidence += [lost.event.fact.id, *lost.evidence]
        if place is not None:
            text = f"{text}, {place}"
        evidence = [i for i in dict.fromkeys(evidence) if i != opening.event.fact.id]
        surely_off = bool(opening.back) and not opening.maybe_back
        doubt = None if surely_off else _doubt(opening.event, opening.maybe_back)
        return LooseEnd(text, opening.event.fact.id, state, tuple(evidence), doubt, place)

    def _where_lost(self, opening: _Opening, remark: _Remark) -> str | None:
        """Where a lost piece went, as the remark tells; nothing of one that is for the workshop alone."""
        if opening.state != self._pairs.lost_state or remark.event.fact.audience != "all":
            return None
        place = where_lost(remark.statement.text, self._pairs)
        return place if place is None or remark.event.fact.usable else f"perhaps {place}"

    def _lost_pieces(self, still: list[tuple[_Thing, _Opening]]) -> dict[int, _Opening]:
        """By what is off but for so many pieces: the loss of just so many of them that was told afterwards.

        "nine screws off, eight back on, one screw lost" is one loose end, and not two.
        """
        found: dict[int, _Opening] = {}
        for thing, lost in still:
            if lost.state != self._pairs.lost_state or lost.count is None:
                continue
            short = [
                off
                for other, off in still
                if off.state != self._pairs.lost_state
                and off.back
                and off.event.unit is None
                and off.count is not None
                and off.count - off.back == lost.count
                and off.event.number < lost.event.number
                and self._pairs.same_object(other.object, thing.object)
            ]
            if len(short) == 1 and id(short[0]) not in found:
                found[id(short[0])] = lost
        return found

    # opening

    def _open(self, event: _Event) -> None:
        count = event.quantity
        if count is None and not is_plural(event.object):
            count = Decimal(1)
        holds = self._what_it_held(event)
        thing = self._already_open(event, holds)
        if thing is None:
            thing = _Thing(event.object, came_off_with=holds)
            self._things.append(thing)
        for opening in thing.openings:
            if opening.closed or opening.event.action != event.action:
                continue
            opening.bears_on(event)
            if (
                event.quantity is None
                or opening.event.quantity is None
                or opening.event.breath == event.breath
            ):
                # the same thing told again, perhaps with its number this time
                if event.quantity is not None:
                    opening.count = max(event.quantity, opening.event.quantity or event.quantity)
                    opening.event = replace(opening.event, quantity=opening.count)
                return
            opening.count = event.quantity + (opening.count or 0)
            return
        thing.openings.append(_Opening(event, self._pairs.states[event.action], count))
        if self._opened and not self._is_fastener(event.object):
            before, earlier = self._opened[-1]
            if (
                self._is_fastener(before.object)
                and before.came_off_with is None
                and _together(earlier, event)
            ):
                before.came_off_with = thing
        self._opened.append((thing, event))

    def _already_open(self, event: _Event, holds: _Thing | None) -> _Thing | None:
        lost = event.action in self._losing
        for thing in reversed(self._things):
            # a lost bolt isn't one of those that lie on the bench, nor are the cover's those of the bracket
            is_lost = any(o.event.action in self._losing for o in thing.openings)
            if not thing.open() or is_lost != lost or thing.came_off_with is not holds:
                continue
            if _words(thing.object) == _words(event.object):
                return thing
            told_twice = any(
                o.event.breath == event.breath and o.event.action == event.action for o in thing.openings
            )
            if told_twice and self._pairs.same_object(thing.object, event.object):
                return thing
        return None

    def _what_it_held(self, event: _Event) -> _Thing | None:
        """The component that a fastener was taken off with, if it was named just before."""
        if not self._opened or not self._is_fastener(event.object) or event.action in self._losing:
            return None
        before, earlier = self._opened[-1]
        if not _together(earlier, event):
            return None
        return before.came_off_with if self._is_fastener(before.object) else before

    # closing

    def _is_the_old_one(self, event: _Event) -> bool:
        """True for an old part told of after its successor: "fitted a new tyre, old tyre scrapped"."""
        detail = event.fact.detail
        if not isinstance(detail, Part) or detail.action != _REMOVED or detail.condition != "used":
            return False
        for fitted in self._fitted:
            if fitted.fact.usable and self._pairs.same_object(fitted.object, event.object):
                self._fitted.remove(fitted)
                return True
        return False

    def _close(self, event: _Event) -> bool:
        """Close what this event undoes; True if there was anything."""
        if event.action not in self._undoing:
            return False
        told = [
            e
            for e in self._closers
            if e.breath == event.breath and self._pairs.same_object(e.object, event.object)
        ]
        if told and (event.quantity is None or any((e.quantity or 0) >= event.quantity for e in told)):
            return True
        ranked = self._undone_things(event)
        if not ranked:
            return False
        self._closers.append(event)
        all_of_it = self._is_everything(event.object) or event.quantity is None
        if all_of_it and not self._is_everything(event.object):
            if _words(ranked[0].object) == _words(event.object) or not is_plural(event.object):
                ranked = ranked[:1]
            # "the line is back on" isn't four lines
            all_of_it = is_plural(event.object) or ranked[0].object.casefold() == event.object.casefold()
        pieces = None if all_of_it else (event.quantity or Decimal(1))
        for thing in ranked:
            thing.spoken_of = thing.spoken_of or not self._is_everything(event.object)
            openings = [o for o in thing.openings if not o.closed and self._undoes(event, o)]
            for opening in openings:
                opening.bears_on(event)
            if not event.fact.usable:
                for opening in openings:
                    opening.maybe_back = True
                continue
            pieces = self._put_back(openings, event, pieces)
            if pieces == 0:
                break
        return True

    def _put_back(self, openings: list[_Opening], event: _Event, pieces: Decimal | None) -> Decimal | None:
        taken = Decimal(0)
        for opening in openings:
            if opening.event.unit is None and event.unit is None:
                taken = max(taken, opening.put_back(pieces))
            elif opening.event.unit == event.unit and event.quantity is not None:
                opening.fill(event.quantity, self._pairs.filled_share)
            else:
                # amounts that can't be compared: that it was filled is all that is known
                opening.closed = True
        return None if pieces is None else pieces - taken

    def _undone_things(self, event: _Event) -> list[_Thing]:
        """The things that this event may be about, likeliest first: the same words, then the last opened."""
        wanted = _words(event.object)
        found = [
            (_words(thing.object) == wanted, len(_words(thing.object) & wanted), n, thing)
            for n, thing in enumerate(self._things)
            if any(not o.closed and self._undoes(event, o) for o in thing.openings)
            and (
                self._is_everything(event.object)
                or self._pairs.same_object(thing.object, event.object)
                or self._is_its_plug(thing, event)
            )
        ]
        return [thing for *_, thing in sorted(found, key=lambda f: f[:3], reverse=True)]

    def _is_its_plug(self, thing: _Thing, event: _Event) -> bool:
        """ "unplugged the sensor" and "sensor plug back on" tell of one thing."""
        one, other = sorted((_words(thing.object), _words(event.object)), key=len)
        plugs = {word for word in other - one if self._pairs.kind_of(word) in self._pairs.plugs}
        unplugged = any(not o.closed and o.event.action in self._pairs.unplugging for o in thing.openings)
        return unplugged and bool(one & other) and one < other and other - one == plugs

    def _undoes(self, event: _Event, opening: _Opening) -> bool:
        return event.action in self._pairs.opposites.get(opening.event.action, frozenset())

    def _went_back_along(self, thing: _Thing) -> bool:
        held = thing.came_off_with
        return held is not None and not held.open() and not thing.spoken_of

    # remarks

    def _note(self, event: _Event, statement: Statement) -> None:
        text = statement.text.casefold()
        actions = self._pairs.actions_in(statement.text)
        opening = [a for a in sorted(actions) if a in self._pairs.states]
        if actions & self._losing or any(w in text for w in self._pairs.lost_words):
            state, undone_by = self._pairs.lost_state, self._undone_by(self._losing)
        elif opening:
            state, undone_by = (
                self._pairs.states[opening[0]],
                self._undone_by(opening) | (actions - {*opening}),
            )
        else:
            state, undone_by = UNFINISHED, actions or self._undoing
        self._remarks.append(_Remark(event, statement, state, undone_by))

    def _undone_by(self, actions: Iterable[str]) -> frozenset[str]:
        return frozenset[str]().union(*(self._pairs.opposites.get(a, frozenset()) for a in actions))

    def _settle_remarks(self, event: _Event) -> None:
        for remark in self._remarks:
            if remark.closed or event.action not in remark.undone_by:
                continue
            everything = self._is_everything(event.object) and remark.state != self._pairs.lost_state
            if everything or self._speaks_of(remark.statement, event.object):
                remark.closed = event.fact.usable
                remark.maybe_back = not event.fact.usable
                remark.evidence.append(event.fact.id)

    def _speaks_of(self, statement: Statement, thing: str) -> bool:
        if statement.component and self._pairs.same_object(statement.component, thing):
            return True
        words = _words(thing)
        return bool(words) and words <= _words(statement.text)

    def _told_by_steps(self, remark: _Remark, still: list[_Thing]) -> _Thing | None:
        """The thing of which the steps say what the remark says as well."""
        for thing in self._things:
            if self._speaks_of(remark.statement, thing.object):
                if any(o.event.breath == remark.event.breath for o in thing.openings):
                    return thing
                if thing in still and remark.state != self._pairs.lost_state:
                    return thing
        return None

    # what things are

    def _is_everything(self, name: str) -> bool:
        return name.casefold() in self._pairs.everything

    def _is_fastener(self, name: str) -> bool:
        return self._pairs.kind_of(name) in self._pairs.fasteners

    def _is_test_gear(self, name: str) -> bool:
        return self._pairs.kind_of(name) in self._pairs.test_gear

    def _goes_on_for_a_test(self, event: _Event) -> bool:
        of_the_vehicle = set(singular_words(event.object)) & self._pairs.vehicle_too
        return bool(self._connecting) and event.action == _REFITTED and not of_the_vehicle


def _words(name: str) -> frozenset[str]:
    return frozenset(singular_words(name))


def _together(one: _Event, other: _Event) -> bool:
    """Said one right after the other."""
    if one.fact.at is None or other.fact.at is None:
        return one.breath == other.breath or one.number + 1 == other.number
    return abs(one.fact.at.timestamp() - other.fact.at.timestamp()) <= TOGETHER_S


def _text(opening: _Opening, lost_state: str) -> str:
    event, count = opening.event, opening.count
    state = opening.state if opening.state == lost_state else f"still {opening.state}"
    if event.unit is not None and count is not None and opening.back:
        was, now = f"{_number(count)} {event.unit}", f"{_number(opening.back)} {event.unit}"
        text = f"{event.object}: {was} {opening.state}, {now} back"
    elif event.unit is not None:
        text = f"{event.object} {state}"
    elif count is None:
        text = f"{event.object} {state}" + (f", {_number(opening.back)} back" if opening.back else "")
    elif opening.back:
        text = f"{_number(count - opening.back)} of {_number(count)} {event.object} {state}"
    else:
        text = f"{_number(count)} {event.object} {state}" if count != 1 else f"{event.object} {state}"
    return text


def _doubt(event: _Event, maybe_back: bool) -> str | None:
    """Why it may not be loose: it was perhaps put back, or perhaps never came off."""
    if maybe_back:
        return "its putting back was heard, but not for certain"
    return None if event.fact.usable else "heard, but not for certain"


def _number(value: Decimal) -> str:
    return format(value.normalize(), "f")
