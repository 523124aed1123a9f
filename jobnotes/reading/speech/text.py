"""The text that the extractors read: tokens, their clauses and the sense of these; the drafts they make."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise
from typing import TYPE_CHECKING

from jobnotes.reading.speech.clauses import borders
from jobnotes.reading.speech.lookup import Lookup
from jobnotes.reading.tokens import NO_BREAK, STOP, Token
from jobnotes.reading.trade.knowledge import Trade
from jobnotes.record import Detail, Repair, Word

if TYPE_CHECKING:
    from jobnotes.reading.speech.names import Name


@dataclass(frozen=True, slots=True)
class Draft:
    """A fact in the making: the tokens that say it, and what speaks against it.

    `start` … `end` are the tokens of the quote; `doubts` are reasons for `check`, in words that a clerk can
    act on; `score` is how well the words fit the grammar (0–1); `keys` are the token spans that carry the
    numbers and names that would be wrong if misheard; `shown` are the tokens to quote where a number was told
    far from its part, so that the quote doesn't hold all that lies between. `unnamed`: what it tells of was
    named before, and isn't named in these tokens.
    """

    detail: Detail
    start: int
    end: int
    score: float = 0.95
    doubts: tuple[str, ...] = ()
    repairs: tuple[Repair, ...] = ()
    keys: tuple[tuple[int, int], ...] = ()
    shown: tuple[int, int] | None = None
    unnamed: bool = False

    def doubted(self, *doubts: str) -> Draft:
        """The same draft with these reasons for `check` besides its own."""
        return replace(self, doubts=(*self.doubts, *doubts)) if doubts else self


class Text(Lookup):
    """One note's tokens (or a whole transcript's), prepared once and read by every extractor.

    `repairs` gives, for each token that was put right, what was heard. `claimed` marks the tokens that a fact
    has used up; it is all that extractors change.
    """

    def __init__(
        self,
        words: Sequence[Word],
        tokens: list[Token],
        trade: Trade,
        repairs: Mapping[int, Repair] | None = None,
    ) -> None:
        super().__init__(tokens, trade)
        self.words = words
        self.repairs = repairs or {}
        self.claimed = [False] * len(tokens)
        self.names: dict[tuple[int, int], Name | None] = {}  # by where they start and must end
        self._breaks = [i for i, t in enumerate(tokens) if t.gap > NO_BREAK]
        self.stops = [i for i, t in enumerate(tokens) if t.gap == STOP or i == 0]

    def claim(self, start: int, end: int) -> None:
        """Mark tokens as used up by one fact, so that no other reads them as something else."""
        for i in range(start, end):
            self.claimed[i] = True

    def free(self, start: int, end: int) -> bool:
        return True not in self.claimed[start:end]

    # --- clauses -----------------------------------------------------------------------------------

    @cached_property
    def _borders(self) -> tuple[list[int], list[int]]:
        return borders(self)

    @cached_property
    def _clauses(self) -> list[tuple[int, int]]:
        return _stretches(self.starts, len(self.tokens))

    @cached_property
    def _sentences(self) -> list[tuple[int, int]]:
        return _stretches(self.sentences, len(self.tokens))

    @cached_property
    def _breaths(self) -> list[tuple[int, int]]:
        return _stretches(self.stops, len(self.tokens))

    @property
    def starts(self) -> list[int]:
        """Where clauses begin."""
        return self._borders[0]

    @property
    def sentences(self) -> list[int]:
        """Where sentences begin."""
        return self._borders[1]

    def clause(self, i: int) -> tuple[int, int]:
        """(start, end) of the clause that token `i` is in."""
        return _at(self._clauses, i)

    def opens_clause(self, i: int) -> bool:
        """Whether a clause begins at token `i`."""
        return _holds(self.starts, i)

    def opens_sentence(self, i: int) -> bool:
        """Whether a sentence begins at token `i`."""
        return _holds(self.sentences, i)

    def sentence(self, i: int) -> tuple[int, int]:
        """(start, end) of the sentence: from one full stop, line end or new heading to the next."""
        return _at(self._sentences, i)

    def breath(self, i: int) -> tuple[int, int]:
        """(start, end) of what is said between two full stops, line ends or pauses."""
        return _at(self._breaths, i)

    def unbroken(self, start: int, end: int) -> int:
        """How far what is said at `start` goes on without a comma, a stop or a pause, up to `end`."""
        at = bisect_right(self._breaks, start)
        return min(end, self._breaks[at]) if at < len(self._breaks) else end

    def sense(
        self,
        i: int,
        kinds: Sequence[str] = ("plan", "condition", "question", "others"),
        *,
        measured: bool = False,
    ) -> str | None:
        """What makes token `i` no report of work done, of `kinds`: "plan", "condition" …; else None.

        `measured`: it is a reading, which may be taken "before fitting".
        """
        if "question" in kinds and self.tokens[self.sentence(i)[1] - 1].asked:
            return "question"
        if measured and self.seen_to_move(i):
            return None  # "when I hit up it drops to 8.1 volts", "drops to 19.6 if I wiggle the loom"
        if "condition" in kinds and self.find(
            self.trade.cue["unsure.after"], i, min(self.breath(i)[1], i + 12)
        ):
            return "condition"
        start, _ = self.clause(i)
        if "others" in kinds and self.find(
            self.trade.cue["unsure.earlier"], i, min(self.sentence(i)[1], i + 9)
        ):
            return "others"
        found = self._sense_between(start, i, kinds, measured)
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
            found = self._sense_between(start, end, kinds, measured)
        return found

    def seen_to_move(self, i: int) -> bool:
        """Whether a value at `i` is what something was seen to drop or rise to, each time and now."""
        moves = self.trade.words["moves_to"]
        k = i - 1
        while k > 0 and self.norm(k) in ("to", "about", "around", "only", "down", "up", "back", "straight"):
            k -= 1
        lead = self.norms[max(self.clause(i)[0], k - 1) : k]
        may_be = {"should", "must", "may", "would", "could", "might", "to"} & set(lead)
        supposed = {"if", "unless", "case"} & set(self.norms[self.clause(i)[0] : i])
        return self.norm(k) in moves and k < i - 1 and not may_be and not supposed

    def _ambiguous(self, start: int) -> bool:
        """A clause that may hang on the one before: its verb has no tense of its own."""
        for i in range(start + 1, min(start + 4, len(self.norms))):
            tenses = [m[1] for m in self.steps_at(i)[1]] or [m[1] for m in self.fittings_at(i)[1]]
            if tenses:
                return "base" in tenses or self.norms[i] in ("fit", "put", "cut", "set")
        return False

    def _sense_between(
        self, start: int, end: int, kinds: Sequence[str], measured: bool = False
    ) -> str | None:
        i = start
        not_done = self.trade.cue["not_done"]
        while i < min(end, len(self.norms)):
            if not measured and self.norms[i] not in not_done.first_words:
                i += 1  # most often
                continue
            held = self.trade.conditions.at(self.norms, i)[0] if measured else i
            if held > i + 1:
                i = held
                continue
            stop, meanings = not_done.at(self.norms, i)
            if meanings and stop <= end + 1:
                if (
                    " ".join(self.norms[i:stop]) in self.trade.words["plans_unless_a_number_follows"]
                    and self.number(stop) is not None
                ):
                    i = stop  # "got to 560 degrees" is no plan
                    continue
                if self._only_why(i, stop, end) or self._only_when(i, stop, end, measured):
                    i = stop
                    continue
                for meaning in meanings:
                    if meaning in kinds and not (meaning == "question" and i > start + 1):
                        return str(meaning)
                i = stop
            else:
                i += 1
        return None

    def _only_why(self, i: int, stop: int, end: int) -> bool:
        """ "alternator off to get at the pump, pump off": why the one was done says nothing of the other."""
        if " ".join(self.norms[i:stop]) not in self.trade.words["purposes"]:
            return False
        reached = self.norm(stop) in self.trade.words["tells_where"]
        return reached and any(
            self.tokens[k].gap > NO_BREAK for k in range(stop, min(end + 1, len(self.tokens)))
        )

    def _only_when(self, i: int, stop: int, end: int, measured: bool) -> bool:
        """ "before I started it made 2.1 bar", "before I stripped it, I marked it": what was to come says
        nothing of what was read before, or of what else is told."""
        if " ".join(self.norms[i:stop]) not in self.trade.words["before_doing"]:
            return False
        return measured or any(
            self.tokens[k].gap > NO_BREAK or self.norms[k] in ("i", "we", "i've", "we've")
            for k in range(stop + 1, min(end + 1, len(self.tokens)))
        )

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
                glue = "" if plain == "-" or self.norms[i - 1] in "-°" or plain in "/." else "-"
                if out[-1].replace(".", "").isdigit() and plain.isalpha():
                    glue = " "
                out[-1] += glue + plain
            else:
                out.append(plain)
        return " ".join(out)

    def told(self, start: int, end: int) -> str:
        """Tokens as sentences for a person: as `said`, with the commas and full stops between them."""
        pieces: list[str] = []
        begin = start
        for i in range(start + 1, end + 1):
            if i < end and (self.tokens[i].gap == NO_BREAK or self.tokens[i].joined):
                continue
            piece = self.said(begin, i)
            if piece and pieces:
                pieces.append(". " if self.tokens[begin].gap == STOP else ", ")
                piece = piece[0].upper() + piece[1:] if pieces[-1] == ". " else piece
            if piece:
                pieces.append(piece)
            begin = i
        return "".join(pieces)


def _holds(starts: list[int], i: int) -> bool:
    at = bisect_left(starts, i)
    return at < len(starts) and starts[at] == i


def _stretches(starts: list[int], last: int) -> list[tuple[int, int]]:
    """For each token the (start, end) of the stretch that it is in; the first begins at token 0."""
    out: list[tuple[int, int]] = []
    for start, end in pairwise([*starts, last]):
        out += [(start, end)] * (end - start)
    return out


def _at(stretches: list[tuple[int, int]], i: int) -> tuple[int, int]:
    """That of token `i`; behind the last token the last, before the first none of any length."""
    if 0 <= i < len(stretches):
        return stretches[i]
    return stretches[-1] if stretches and i > 0 else (0, 0)
