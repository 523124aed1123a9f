"""Two hearings of the same speech, word by word: where they say the same, and what the other says instead.

Numbers, codes and spelling are compared by how they may have been said, whichever way they are written:
"P0299" is "papa zero two nine nine", "60.2" is "sixty point two". All else is compared as written.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from difflib import SequenceMatcher

from jobnotes.hearing.spoken_forms import SpokenForms, Way, Ways, bare, carrying
from jobnotes.record import Word

_WINDOW_S = 15.0
_GAP_S = 0.5
_RUN = "#"
_MOST_STATES = 20_000  # of one comparison: more are never needed, but by a recogniser that counts without end


@dataclass(frozen=True, slots=True)
class Compared:
    """Of a word of the first hearing: whether it `carries` a number, code or spelling, and the other's view.

    `otherwise` None: the other heard the same; else what it heard in its place, "" for nothing. Of a number
    that is the whole number, for every word of it that differs. `instead` parts the other's words among those
    of the first hearing: put in their places, one after the other, they are the other's hearing.
    """

    carries: bool
    otherwise: str | None
    instead: str | None


@dataclass(frozen=True, slots=True)
class _Part:
    """A plain word, or a run of words that carry a number: `start` … `end` of the hearing, end excluded."""

    key: str
    start: int
    end: int


def compared(first: Sequence[Word], second: Sequence[Word], forms: SpokenForms) -> tuple[Compared, ...]:
    """For each word of `first`, what `second` says to it. Both need times; they may differ by a little.

    They are compared in windows of at least fifteen seconds, from pause to pause, so that a minute of three
    hours takes as long as a minute alone.
    """
    found: list[Compared] = []
    here, there = _marked(first, forms), _marked(second, forms)
    at = 0
    for low, high, until in _windows(first):
        begin = at
        while at < len(second) and _middle(second[at]) < until:
            at += 1
        window = _Window(first[low:high], here[low:high], second[begin:at], there[begin:at], forms)
        found += window.compared()
    return tuple(found)


def said_alike(first: Sequence[Word], second: Sequence[Word], forms: SpokenForms) -> bool:
    """Whether both are ways to write what may be the same words: "twelve litres" and "12 liters"."""
    window = _Window(first, _marked(first, forms), second, _marked(second, forms), forms)
    return window.alike()


def _marked(words: Sequence[Word], forms: SpokenForms) -> list[bool]:
    """Which words carry something: also "SPN", an "I" that is one letter of several, "a" in "a hundred"."""
    found = carrying(words, forms)
    texts = [bare(word.text) for word in words]
    for at, text in enumerate(texts):
        spelled = at > 0 and found[at - 1] and len(texts[at - 1]) == 1 and texts[at - 1].isalpha()
        found[at] |= text in forms.known.letters.codes or (spelled and text in ("a", "i"))
        counted = at + 1 < len(texts) and found[at + 1] and text == forms.known.numbers.one_of
        found[at] |= counted and texts[at + 1].isalpha()
    return found


def _windows(words: Sequence[Word]) -> list[tuple[int, int, float]]:
    """(first word, last word + 1, the second at which the next one begins)."""
    made: list[tuple[int, int, float]] = []
    low = 0
    for at in range(1, len(words)):
        end, start = words[at - 1].end_s or 0.0, words[at].start_s or 0.0
        if start - end >= _GAP_S and end - (words[low].start_s or 0.0) >= _WINDOW_S:
            made.append((low, at, (end + start) / 2))
            low = at
    return [*made, (low, len(words), float("inf"))] if words else []


def _middle(word: Word) -> float:
    return ((word.start_s or 0.0) + (word.end_s or 0.0)) / 2


class _Window:
    """A stretch of both hearings, with the words that carry something marked."""

    def __init__(
        self,
        first: Sequence[Word],
        here: Sequence[bool],
        second: Sequence[Word],
        there: Sequence[bool],
        forms: SpokenForms,
    ) -> None:
        self.first, self.second, self.forms = first, second, forms
        self.here = here
        self.ours, self.theirs = self._parts(first, here), self._parts(second, there)
        self.otherwise: list[str | None] = [None] * len(first)

    def compared(self) -> list[Compared]:
        matcher = SequenceMatcher(
            None, [p.key for p in self.ours], [p.key for p in self.theirs], autojunk=False
        )
        for what, a, b, c, d in matcher.get_opcodes():
            if what == "equal":
                for one, other in zip(self.ours[a:b], self.theirs[c:d], strict=True):
                    if one.key == _RUN:
                        self._runs(one, other)
            elif what == "insert":
                self._only_there(a, c, d)
            elif _letters(self.ours[a:b], self.first) != _letters(self.theirs[c:d], self.second):
                said = self._text(c, d)
                for part in self.ours[a:b]:
                    self._mark(part.start, part.end, said)
        parted = _parted(self.first, self.second)
        return [Compared(*views) for views in zip(self.here, self.otherwise, parted, strict=True)]

    def alike(self) -> bool:
        """Whether the one may be said as the other, word for word."""
        if [p.key for p in self.ours] != [p.key for p in self.theirs]:
            return False
        for one, other in zip(self.ours, self.theirs, strict=True):
            if one.key == _RUN:
                ours = [self._ways(w) for w in self.first[one.start : one.end]]
                theirs = [self._ways(w) for w in self.second[other.start : other.end]]
                if (len(ours), len(theirs)) not in _level(ours, theirs):
                    return False
        return True

    def _parts(self, words: Sequence[Word], marked: Sequence[bool]) -> list[_Part]:
        parts: list[_Part] = []
        for at, word in enumerate(words):
            if not marked[at]:
                parts.append(_Part(_plain(word.text), at, at + 1))
                continue
            if parts and parts[-1].key == _RUN and parts[-1].end == at:
                parts[-1] = _Part(_RUN, parts[-1].start, at + 1)
            else:
                parts.append(_Part(_RUN, at, at + 1))
            parts += [_Part(_plain(unit), at, at + 1) for unit in self.forms.parted(word.text)[1]]
        return parts

    def _mark(self, start: int, end: int, said: str) -> None:
        for at in range(start, end):
            if self.otherwise[at] is None:
                self.otherwise[at] = said

    def _text(self, start: int, end: int) -> str:
        """What the other says in its parts `start` … `end`."""
        parts = self.theirs[start:end]
        if not parts:
            return ""
        return " ".join(w.text for w in self.second[parts[0].start : parts[-1].end])

    def _only_there(self, at: int, start: int, end: int) -> None:
        """A number that only the other heard: it may be the rest of one beside it."""
        if all(part.key != _RUN for part in self.theirs[start:end]):
            return
        for beside in (at - 1, at):
            if 0 <= beside < len(self.ours) and self.ours[beside].key == _RUN:
                part = self.ours[beside]
                self._mark(part.start, part.end, self._text(start, end))

    def _runs(self, one: _Part, other: _Part) -> None:
        """Marks the words of a run that the other's run doesn't say, from the first to the last of them."""
        ours = [self._ways(w) for w in self.first[one.start : one.end]]
        theirs = [self._ways(w) for w in self.second[other.start : other.end]]
        level = _level(ours, theirs)
        if (len(ours), len(theirs)) in level:
            return
        head = min(max(at for at, _ in level), len(ours) - 1)
        backwards = _level(_turned(ours), _turned(theirs))
        tail = min(max(at for at, _ in backwards), len(ours) - 1 - head)
        said = " ".join(w.text for w in self.second[other.start : other.end])
        self._mark(one.start + head, one.end - tail, said)

    def _ways(self, word: Word) -> Ways:
        """How a word of a run may be said, a letter's name and its spelling word being one and the same."""
        n = self.forms.known.numbers
        text = bare(word.text)
        if text in (n.link, n.one_of):
            return ((), (text,), (f"{text}.",))
        number, _ = self.forms.parted(word.text)
        ways = self.forms.ways(number) or ((text,),)
        return tuple(dict.fromkeys(tuple(self._symbol(s) for s in way if s != n.link) for way in ways))

    def _symbol(self, said: str) -> str:
        digits = self.forms.known.numbers.digits
        if letter := self.forms.spelling.get(said):
            return f"{letter}."
        return next((names[0] for names in digits if said in names), said)


def _parted(first: Sequence[Word], second: Sequence[Word]) -> list[str | None]:
    """What to put in the place of each word of `first` to have `second`; None to leave the word."""
    keys = [_plain(w.text) for w in first], [_plain(w.text) for w in second]
    instead: list[str | None] = [None] * len(first)
    before = ""
    for what, a, b, c, d in SequenceMatcher(None, *keys, autojunk=False).get_opcodes():
        theirs = " ".join(w.text for w in second[c:d])
        if what == "insert" and a == 0:
            before = theirs
        elif what == "insert":
            kept = instead[a - 1]
            instead[a - 1] = f"{first[a - 1].text if kept is None else kept} {theirs}".strip()
        elif what != "equal":
            instead[a:b] = [theirs, *([""] * (b - a - 1))]
    if before and first:
        kept = instead[0]
        instead[0] = f"{before} {first[0].text if kept is None else kept}".strip()
    return instead


def _level(ours: Sequence[Ways], theirs: Sequence[Ways]) -> set[tuple[int, int]]:
    """How many words of ours may be said as how many of theirs: at the least none as none."""
    # how far each has come, who is ahead, and what the other has still to say
    ahead: list[tuple[int, int, bool, Way]] = [(0, 0, True, ())]
    seen = set(ahead)
    while ahead:
        i, j, we_lead, rest = ahead.pop()
        steps: list[tuple[int, int, bool, Way]] = []
        if i < len(ours) and not (rest and we_lead):
            steps += [(i + 1, j, *left) for way in ours[i] if (left := _left(way, rest, True)) is not None]
        if j < len(theirs) and (we_lead or not rest):
            steps += [(i, j + 1, *left) for way in theirs[j] if (left := _left(way, rest, False)) is not None]
        for step in steps:
            if step not in seen and len(seen) < _MOST_STATES:
                seen.add(step)
                ahead.append(step)
    return {(i, j) for i, j, _, rest in seen if not rest}


def _left(way: Way, rest: Way, we_say: bool) -> tuple[bool, Way] | None:
    """Who is ahead by what, when one says `way` where `rest` is still to be said; None if it isn't that."""
    common = min(len(way), len(rest))
    if way[:common] != rest[:common]:
        return None
    if len(way) > len(rest):
        return we_say, way[common:]
    return not we_say, rest[common:]


def _turned(run: Sequence[Ways]) -> list[Ways]:
    return [tuple(way[::-1] for way in ways) for ways in reversed(run)]


def _plain(text: str) -> str:
    """A word without marks, and as one side of the Atlantic spells it ("metres", "meters")."""
    letters = "".join(c for c in text.casefold() if c.isalnum())
    for ending in ("tre", "tres"):
        if letters.endswith(ending):
            return letters.removesuffix(ending) + ending.replace("re", "er")
    return letters


def _letters(parts: Sequence[_Part], words: Sequence[Word]) -> str:
    """All letters and digits in a row: "re used" is "reused"."""
    if not parts:
        return ""
    return "".join(_plain(w.text) for w in words[parts[0].start : parts[-1].end])
