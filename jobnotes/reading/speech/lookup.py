"""Tokens with the trade's phrases, numbers and spelled strings looked up in them."""

from __future__ import annotations

from typing import TypeVar

from jobnotes.reading.speech import numbers, spelling
from jobnotes.reading.tokens import NO_BREAK, STOP, Token
from jobnotes.reading.trade.knowledge import PartAction, Trade
from jobnotes.reading.trade.phrases import Phrases

M = TypeVar("M")


class Lookup:
    """Looks up what starts or ends at a token. Positions are indices of tokens; ends are excluded."""

    def __init__(self, tokens: list[Token], trade: Trade) -> None:
        self.tokens = tokens
        self.trade = trade
        self.norms = [t.norm for t in tokens]
        #: For each token whether a quantity can begin there, where no number is due.
        self.numeric = [numbers.may_begin(norm) for norm in self.norms]
        for i, norm in enumerate(self.norms):
            if norm in ("hundred", "thousand") and numbers.heard_before_many(tokens, i - 1, trade):
                self.numeric[i - 1] = True  # "too hundred amps"
        self._numbers: dict[int, numbers.Number | None] = {}
        self._steps: dict[int, tuple[int, tuple[tuple[str, str], ...]]] = {}
        self._components: dict[int, tuple[int, tuple[tuple[str, str], ...]]] = {}
        self._reports: dict[int, bool] = {}
        self._fittings: dict[int, tuple[int, tuple[tuple[PartAction, str, str], ...]]] = {}

    def norm(self, i: int) -> str:
        return self.norms[i] if 0 <= i < len(self.norms) else ""

    def cue(self, name: str, i: int) -> tuple[int, str] | None:
        """(end, meaning) of the longest phrase of that cue table at `i`."""
        if not 0 <= i < len(self.norms) or self.norms[i] not in (phrases := self.trade.cue[name]).first_words:
            return None  # most often
        end, meanings = phrases.at(self.norms, i)
        if not meanings or (end > i + 1 and any(t.gap == STOP for t in self.tokens[i + 1 : end])):
            return None
        return end, meanings[0]

    def where(self, *names: str) -> list[int]:
        """The tokens at which a phrase of one of those cue tables can begin: the others hold none."""
        words = self.trade.first_words(*names)
        return [i for i, norm in enumerate(self.norms) if norm in words]

    def steps_at(self, i: int) -> tuple[int, tuple[tuple[str, str], ...]]:
        """(end, [(action, tense)]) of the longest verb of taking apart or putting back that starts at `i`."""
        if i not in self._steps:
            none = self.norm(i) not in self.trade.action_forms.first_words  # most often
            none = none or self._in_word(i) or self.counted_kind(i)
            self._steps[i] = (i, ()) if none else self._before_a_name(i)
        return self._steps[i]

    def _before_a_name(self, i: int) -> tuple[int, tuple[tuple[str, str], ...]]:
        """The verb at `i`, shorter where its last word begins a longer name: "dropped the oil | cooler"."""
        end, meanings = self._unbroken(self.trade.action_forms, i)
        while end > i + 1 and self.component_at(end - 1)[0] > end:
            shorter, meanings = self.trade.action_forms.at(self.norms[i : end - 1], 0)
            end = i + shorter
        return end, meanings

    def fittings_at(self, i: int) -> tuple[int, tuple[tuple[PartAction, str, str], ...]]:
        """(end, [(action, tense, form)]) of the longest verb of parts that starts at `i`."""
        if i not in self._fittings:
            none = self.norm(i) not in self.trade.part_forms.first_words or self._in_word(i)
            self._fittings[i] = (i, ()) if none else self._unbroken(self.trade.part_forms, i)
        return self._fittings[i]

    def component_at(self, i: int) -> tuple[int, tuple[tuple[str, str], ...]]:
        """(end, [(kind, name)]) of the longest component that starts at `i`: "hose, clips" are two."""
        if i not in self._components:
            none = self.norm(i) not in self.trade.components.first_words
            self._components[i] = (i, ()) if none else self._unbroken(self.trade.components, i)
        return self._components[i]

    def reports(self, i: int) -> bool:
        """Whether a verb in a form that reports work starts at `i`."""
        if i not in self._reports:
            self._reports[i] = self.may_be_verb(i) and any(
                m[1] in ("past", "doing") for m in (*self.steps_at(i)[1], *self.fittings_at(i)[1])
            )
        return self._reports[i]

    def may_be_verb(self, i: int) -> bool:
        """Whether a verb of work, in any form, can begin with the word at `i`."""
        return 0 <= i < len(self.norms) and self.norms[i] in self.trade.verb_words

    def _in_word(self, i: int) -> bool:
        """Whether token `i` is the later part of a word with a hyphen: "push-fit", but not "re-fitted"."""
        if not 0 < i < len(self.tokens):
            return False
        token, before = self.tokens[i], self.norms[i - 1]
        return token.joined and "-" in token.text and before.isalpha() and len(before) > 2

    def counted_kind(self, i: int) -> bool:
        """Whether the word at `i` only tells what kind of things are counted: "two bonded washers"."""
        if not 0 < i < len(self.norms) - 1 or not self.norms[i].endswith("ed"):
            return False  # most often
        if not self.norms[i + 1].endswith("s") or any(t.gap > NO_BREAK for t in self.tokens[i : i + 2]):
            return False
        number = next((n for back in (1, 2) if (n := self.number(i - back)) and n.end == i), None)
        if number is None or number.value < 2 or not self.component_at(i + 1)[1]:
            return False
        before = self.norm(number.start - 1)
        if before in ("and", "to") and self.number(number.start - 2) is not None:
            before = self.norm(number.start - 3)  # "injectors one and two removed pipes refitted"
        return before not in self.trade.words["numbered"]

    def _unbroken(self, phrases: Phrases[M], i: int) -> tuple[int, tuple[M, ...]]:
        """The longest phrase at `i` that no break cuts: "is split. The …" isn't "split the"."""
        end, meanings = phrases.at(self.norms, i)
        if end <= i + 1 or not any(t.gap > NO_BREAK for t in self.tokens[i + 1 : end]):
            return end, meanings
        first = next(k for k in range(i + 1, end) if self.tokens[k].gap > NO_BREAK)
        whole = [(stop, meaning) for stop, meaning in phrases.all_at(self.norms, i) if stop <= first]
        longest = max((stop for stop, _ in whole), default=i)
        return longest, tuple(meaning for stop, meaning in whole if stop == longest)

    def ends_at(self, phrases: Phrases[M], end: int, back: int = 6) -> tuple[int, M] | None:
        """(start, meaning) of the longest phrase that ends just before token `end`."""
        if not 0 < end <= len(self.norms) or self.norms[end - 1] not in phrases.last_words:
            return None  # most often
        for start in range(max(0, end - back), end):
            for stop, meaning in phrases.all_at(self.norms, start):
                if stop == end:
                    return start, meaning
        return None

    def find(self, phrases: Phrases[M], start: int, end: int) -> list[tuple[int, int, M]]:
        """Non-overlapping longest matches in `start` … `end`."""
        found: list[tuple[int, int, M]] = []
        norms, first_words = self.norms, phrases.first_words
        if start < 0:
            start = 0
        if end <= start or first_words.isdisjoint(norms[start:end]):
            return found  # most often
        free = start
        for i in range(start, min(end, len(norms))):
            if i < free or norms[i] not in first_words:
                continue  # most often
            stop, meanings = phrases.at(norms, i)
            if meanings and stop <= end:
                found.append((i, stop, meanings[0]))
                free = stop
        return found

    def number(self, i: int, *, due: bool = False) -> numbers.Number | None:
        """The quantity at `i`; each is parsed once."""
        if due:
            return numbers.number(self.tokens, i, self.trade, due=True)
        if not 0 <= i < len(self.numeric) or not self.numeric[i]:
            return None  # most often
        if i not in self._numbers:
            self._numbers[i] = numbers.number(self.tokens, i, self.trade)
        return self._numbers[i]

    def unit_follows(self, i: int) -> bool:
        """Whether a unit, in any of its forms, stands at `i`."""
        return bool(self.trade.unit_forms.at(self.norms, i)[1])

    def quantity_at(self, i: int) -> str | None:
        """What the unit at `i` measures: "pressure", "volume" …; None where no unit stands."""
        meanings = self.trade.unit_forms.at(self.norms, i)[1]
        return meanings[0][0].quantity if meanings else None

    def goes_on(self, i: int) -> bool:
        """Whether token `i` follows the one before it without a comma, a stop or a pause."""
        return i < len(self.tokens) and self.tokens[i].gap == NO_BREAK

    def number_end(self, i: int) -> int:
        """The end of the quantity at `i`, or of that one token."""
        number = self.number(i)
        return number.end if number else i + 1

    def spelled(self, i: int, longest: int = 40, *, due: bool = False) -> spelling.Spelled | None:
        return spelling.spelled(self.tokens, self.norms, i, self.trade, longest=longest, due=due)
