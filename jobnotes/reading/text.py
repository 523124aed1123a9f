"""The text that the extractors read: tokens, the trade's phrases found in them, clauses and their sense.

A clause is the stretch within which words belong together. Its borders come from punctuation, pauses and line
ends where there are any, and from the words themselves where there are none, so that a run-on transcript reads
the same.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from jobnotes.reading import numbers
from jobnotes.reading.tokens import NO_BREAK, STOP, Token
from jobnotes.reading.trade import Phrases, Trade
from jobnotes.record import Detail, Repair, Word


@dataclass(frozen=True, slots=True)
class Draft:
    """A fact in the making: the tokens that say it, and what speaks against it.

    `start` … `end` are the tokens of the quote; `doubts` are reasons for `check`, in words that a clerk can
    act on; `score` is how well the words fit the grammar (0–1); `keys` are the token spans that carry the
    numbers and names that would be wrong if misheard.
    """

    detail: Detail
    start: int
    end: int
    score: float = 0.95
    doubts: tuple[str, ...] = ()
    repairs: tuple[Repair, ...] = ()
    keys: tuple[tuple[int, int], ...] = ()


@dataclass
class Text:
    """One note's tokens (or a whole transcript's), prepared once and read by every extractor."""

    words: Sequence[Word]
    tokens: list[Token]
    trade: Trade
    repairs: dict[int, Repair] = field(default_factory=dict)
    norms: list[str] = field(init=False)
    starts: list[int] = field(init=False)
    sentences: list[int] = field(init=False)
    stops: list[int] = field(init=False)
    claimed: list[bool] = field(init=False)
    _numbers: dict[int, numbers.Number | None] = field(init=False, default_factory=dict)

    def __post_init__(self) -> None:
        self.norms = [t.norm for t in self.tokens]
        self.claimed = [False] * len(self.tokens)
        self.stops = [i for i, t in enumerate(self.tokens) if t.gap == STOP or i == 0]
        self.starts, self.sentences = _borders(self)

    # --- looking ---------------------------------------------------------------------------------

    def norm(self, i: int) -> str:
        return self.norms[i] if 0 <= i < len(self.norms) else ""

    def cue(self, name: str, i: int) -> tuple[int, str] | None:
        """(end, meaning) of the longest phrase of that cue table at `i`."""
        end, meanings = self.trade.cue[name].at(self.norms, i)
        if not meanings or (end > i + 1 and any(t.gap == STOP for t in self.tokens[i + 1 : end])):
            return None
        return end, meanings[0]

    def ends_at(self, phrases: Phrases, end: int, back: int = 6) -> tuple[int, Any] | None:
        """(start, meaning) of the longest phrase that ends just before token `end`."""
        for start in range(max(0, end - back), end):
            for stop, meaning in phrases.all_at(self.norms, start):
                if stop == end:
                    return start, meaning
        return None

    def find(self, phrases: Phrases, start: int, end: int) -> list[tuple[int, int, Any]]:
        """Non-overlapping longest matches in `start` … `end`."""
        found = []
        i = start
        while i < end:
            stop, meanings = phrases.at(self.norms, i)
            if meanings and stop <= end:
                found.append((i, stop, meanings[0]))
                i = stop
            else:
                i += 1
        return found

    def claim(self, start: int, end: int) -> None:
        """Mark tokens as used up by one fact, so that no other reads them as something else."""
        for i in range(start, end):
            self.claimed[i] = True

    def free(self, start: int, end: int) -> bool:
        return not any(self.claimed[start:end])

    # --- clauses -----------------------------------------------------------------------------------

    def clause(self, i: int) -> tuple[int, int]:
        """(start, end) of the clause that token `i` is in."""
        return _stretch(self.starts, i, len(self.tokens))

    def sentence(self, i: int) -> tuple[int, int]:
        """(start, end) of the sentence: from one full stop, line end or new heading to the next."""
        return _stretch(self.sentences, i, len(self.tokens))

    def breath(self, i: int) -> tuple[int, int]:
        """(start, end) of what is said between two full stops, line ends or pauses."""
        return _stretch(self.stops, i, len(self.tokens))

    def sense(self, i: int, kinds: Sequence[str] = ("plan", "condition", "question", "others")) -> str | None:
        """What makes token `i` no report of work done: "plan", "condition", "question", "others"; else None."""
        if "question" in kinds and self.tokens[self.sentence(i)[1] - 1].asked:
            return "question"
        start, _ = self.clause(i)
        found = self._sense_between(start, i, kinds)
        if found is None and "condition" in kinds and start > 0 and self.tokens[start].gap < STOP:
            before = self.clause(start - 1)[0]
            if self.norms[before] in ("if", "unless") or self.norms[before : before + 2] == ["in", "case"]:
                return "condition"  # "if it's cracked take a photo"
        while (
            found is None
            and start > 0
            and self.norm(start) in ("and", "or", "then")
            and self._ambiguous(start)
        ):
            start, end = self.clause(start - 1)
            found = self._sense_between(start, end, kinds)
        return found

    def _ambiguous(self, start: int) -> bool:
        """A clause that may hang on the one before: its verb has no tense of its own."""
        for i in range(start + 1, min(start + 4, len(self.norms))):
            for phrases in (self.trade.action_forms, self.trade.part_forms):
                _, meanings = phrases.at(self.norms, i)
                if meanings:
                    return any(m[1] == "base" for m in meanings) or self.norms[i] in (
                        "fit",
                        "put",
                        "cut",
                        "set",
                    )
        return False

    def _sense_between(self, start: int, end: int, kinds: Sequence[str]) -> str | None:
        i = start
        while i < end:
            stop, meanings = self.trade.cue["not_done"].at(self.norms, i)
            if meanings and stop <= end + 1:
                if (
                    " ".join(self.norms[i:stop]) in self.trade.words["plans_unless_a_number_follows"]
                    and self.number(stop) is not None
                ):
                    i = stop  # "got to 560 degrees" is no plan
                    continue
                for meaning in meanings:
                    if meaning in kinds and not (meaning == "question" and i > start + 1):
                        return str(meaning)
                i = stop
            else:
                i += 1
        return None

    def negated(self, start: int, end: int) -> bool:
        """Whether a negation stands in `start` … `end`."""
        return any(m == "negation" for _, _, m in self.find(self.trade.cue["not_done"], start, end))

    def negated_before(self, i: int, reach: int = 3) -> bool:
        first = max(self.clause(i)[0], i - reach)
        return self.negated(first, i)

    # --- words back --------------------------------------------------------------------------------

    def said(self, start: int, end: int) -> str:
        """Tokens as text for a person: as written, without the punctuation around them."""
        out: list[str] = []
        for i in range(start, end):
            token = self.tokens[i]
            repair = self.repairs.get(i)
            raw = token.text.strip(" .,;:!?…\"'()[]") if not repair else token.norm
            plain = raw if raw.casefold() == token.norm else token.norm
            if token.norm == "is" and token.joined and out:
                out[-1] += "'s"
                continue
            if token.joined and out and i > start and self.tokens[i - 1].word == token.word and plain != "%":
                glue = "" if plain == "-" or self.norms[i - 1] == "-" or plain in "/." else "-"
                if out[-1].replace(".", "").isdigit() and plain.isalpha():
                    glue = " "
                out[-1] += glue + plain
            else:
                out.append(plain)
        return " ".join(out)

    def number(self, i: int, *, due: bool = False) -> numbers.Number | None:
        """The quantity at `i`; each is parsed once."""
        if due:
            return numbers.number(self.tokens, i, self.trade, due=True)
        if i not in self._numbers:
            self._numbers[i] = (
                numbers.number(self.tokens, i, self.trade) if 0 <= i < len(self.tokens) else None
            )
        return self._numbers[i]

    def spelled(self, i: int, longest: int = 40) -> numbers.Spelled | None:
        return numbers.spelled(self.tokens, self.norms, i, self.trade, longest=longest)


def _stretch(starts: list[int], i: int, last: int) -> tuple[int, int]:
    at = bisect_right(starts, i) - 1
    start = starts[at] if at >= 0 else 0
    end = starts[at + 1] if at + 1 < len(starts) else last
    return start, end


_IDENTITY = (
    "identity.job_number",
    "identity.registration",
    "identity.vin",
    "identity.odometer",
    "identity.engine_hours",
    "identity.part_number",
    "identity.serial",
)


def _borders(text: Text) -> tuple[list[int], list[int]]:
    """Indices at which clauses, and the longer sentences, begin."""
    tokens, norms, trade = text.tokens, text.norms, text.trade
    clauses: list[int] = []
    sentences: list[int] = []
    had_action = False
    spelt = (trade.cue["codes.spn"], trade.cue["codes.fmi"], trade.unit_forms)
    hard = ("headings", "photo.cues", *_IDENTITY, "clock", "private.open", "private.close", "labour.strong")
    first_words = frozenset().union(*(trade.cue[name].first_words for name in hard))
    i = 0
    covered = 0  # tokens of a cue that has opened a clause can't open another
    while i < len(tokens):
        if len(norms[i]) <= 3:  # "f m i", "p s i": their letters open nothing
            for phrases in spelt:
                end = phrases.at(norms, i)[0]
                if end > i + 1:
                    covered = max(covered, end)
        gap, norm, prev = tokens[i].gap, norms[i], norms[i - 1] if i else ""
        clause = sentence = i == 0 or gap == STOP
        opened = i
        if i >= covered and norm in first_words:
            for name in hard:
                found = text.cue(name, i)
                if found and (sentence or _opens(text, name, i, found[0])):
                    opened = max(opened, found[0])
            if opened > i:
                clause = sentence = True
                covered = max(covered, opened)
        if not clause and i >= covered:
            starter = trade.cue["starters"].at(norms, i)
            if (
                starter[1]
                and prev not in text.trade.words["holds_starter"]
                and norm not in ("well", "later", "first", "plus")
                and not (norm == "so" and norms[i + 1 : i + 2] in (["far"], ["that"], ["much"], ["it"]))
            ):
                clause = True
                sentence = norm in text.trade.words["sentence_starters"]
            elif norm in text.trade.words["speakers"] and prev not in text.trade.words["binders"]:
                clause = sentence = True if norm not in ("it's", "that's", "there's") else gap > NO_BREAK
                clause = True
            elif norm in ("but", "which", "because"):
                clause = True
            elif norm == "and" and (
                _starts_verb(text, i + 1)
                or norms[i + 1 : i + 2]
                and norms[i + 1] in text.trade.words["speakers"]
            ):
                clause = True
            elif had_action and _starts_verb(text, i) and prev not in text.trade.words["holds_verb"]:
                clause = not _passive_ahead(text, i)
        if clause:
            clauses.append(i)
            had_action = False
        if sentence:
            sentences.append(i)
        if _starts_verb(text, i):
            had_action = True
        i += 1
    return clauses, sentences


def _opens(text: Text, name: str, i: int, end: int) -> bool:
    """Whether a cue at `i` really opens something new, rather than standing inside a clause."""
    norms, tokens = text.norms, text.tokens
    prev = norms[i - 1] if i else ""
    if prev in text.trade.words["holds_cue"] and tokens[i].gap == NO_BREAK:
        return False
    if (
        i
        and text.trade.cue["not_done"].at(norms, i - 1)[1]
        and tokens[i].gap == NO_BREAK
        and name in ("photo.cues", "clock")
    ):
        return False  # "don't stop the clock"
    if name in _IDENTITY:
        return _value_follows(text, end)
    if name == "labour.strong":
        return text.number(end) is not None or norms[i] in ("labour", "labor")
    if name == "headings":
        phrase = norms[i:end]
        if " ".join(phrase) in text.trade.words["correction_headings_inside"] and tokens[i].gap == NO_BREAK:
            return norms[end : end + 1] in (["is"], ["was"]) or _starts_verb(text, end)
        if phrase in (["found"], ["noticed"], ["there", "is"], ["there's"]):
            return prev not in text.trade.words["holds_found"]
        if " ".join(phrase) in text.trade.words["headings_inside"]:
            return False
        return phrase[0] not in text.trade.words["headings_inside_by_word"]
    return True


def _value_follows(text: Text, i: int) -> bool:
    """A number or spelled string within a few words from `i`."""
    for j in range(i, min(i + 4, len(text.norms))):
        if text.trade.cue["identity.is_words"].at(text.norms, j)[1]:
            continue
        return text.spelled(j) is not None or text.number(j) is not None
    return False


def _starts_verb(text: Text, i: int) -> bool:
    for phrases in (text.trade.action_forms, text.trade.part_forms):
        _, meanings = phrases.at(text.norms, i)
        if any(m[1] in ("past", "doing") for m in meanings):
            return True
    split = text.trade.splits.get(text.norm(i), ()) or text.trade.part_splits.get(text.norm(i), ())
    return any(s.tense in ("past", "doing") for s in split) and text.norm(i) not in ("had", "have", "got")


def _passive_ahead(text: Text, i: int) -> bool:
    """The verb at `i` closes what stands before it ("… hose removed"): nothing that it could take follows."""
    end = max(text.trade.action_forms.at(text.norms, i)[0], text.trade.part_forms.at(text.norms, i)[0], i + 1)
    if end >= len(text.norms) or text.tokens[end].gap > NO_BREAK:
        return True
    return text.norms[end] in text.trade.stop or text.norms[end - 1] == "to" or text.number(end) is not None
