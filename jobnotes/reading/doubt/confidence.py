"""How far a fact is believed: one confidence, and `sure` or `check` with the reason.

The confidence is the product of how well the words fit the grammar and how sure the recogniser was of the
words that carry the fact. A plain transcript has no recogniser; its words count as heard.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from jobnotes.reading.speech.numbers import TENS, UNITS
from jobnotes.reading.speech.text import Draft, Text
from jobnotes.reading.tokens import COMMA, NO_BREAK
from jobnotes.reading.trade.knowledge import Trade, breached
from jobnotes.record import FaultCode, Identity, LabourSaid, Measurement, Part, Status

#: Below this recogniser confidence a word that carries a number or name is doubted.
WORD_FLOOR = 0.45
#: The same for a word of a number, and for one that differs by its ending alone: "sixteen", "sixty".
NUMBER_FLOOR, ALIKE_FLOOR = 0.5, 0.7
#: The same for a word that names what was measured, where the trade's data know none that does.
NAME_FLOOR = 0.55
#: The same for the letter that opens a trouble code, said by its name: "P" and "B" are told apart by little.
LETTER_FLOOR = 0.85
#: Facts below this confidence are for a person to check.
SURE = 0.6
#: The same for what says which job and vehicle it is, and how far it has gone: one digit too few ("812" for
#: "8812", heard at 0.74) sends the whole claim astray, and nothing else in the job would show it.
SURE_OF_IDENTITY = 0.8
MARKS = " .,;:!?"
_UNSURE = "the recogniser was not sure of these words"
#: Words within a number that are none of its digits.
_JOINTS = frozenset("point double triple dash hundred thousand and oh".split())


def judge(text: Text, draft: Draft) -> tuple[float, Status, str | None]:
    """(confidence, status, why) of a draft."""
    doubts = [d for d in draft.doubts if d]
    heard = _heard(text, draft)
    doubts += _heard_otherwise(text, draft)
    doubts += _weak_words(text, draft)
    doubts += _name_hardly_heard(text, draft)
    doubts += _perhaps_a_decimal(text, draft)
    doubts += _perhaps_too(text, draft)
    doubts += _things_heard_as_volts(text, draft)
    doubts += _letter_by_its_name(text, draft)
    doubts += _repaired_numbers(text, draft)
    doubts += _implausible(text, draft)
    confidence = draft.score * heard
    if doubts:
        confidence = min(confidence, 0.5)
    elif confidence < (SURE_OF_IDENTITY if isinstance(draft.detail, Identity) else SURE):
        doubts.append(_UNSURE)
    return round(confidence, 3), "check" if doubts else "sure", "; ".join(dict.fromkeys(doubts)) or None


#: Doubts that are only about how a value was heard, as they are worded here and by the extractors: where a
#: photo shows the very value, they are answered. What is worded otherwise stays a doubt.
_OF_HEARING = re.compile(
    r"the recogniser was not sure of these words"
    r"|heard as '[^']*' and as '[^']*'|only one hearing has '[^']*'"
    r"|.+: a letter or digit was (?:heard as another word|repaired)"
    r"|(?:the (?:part|serial) number )?[\w/-]+ holds a repaired letter or digit"
    r"|(?:the number )?'[^']*' can be read in more than one way"
    r"|'[^']*': [\d.]+, or [\d.]+(?: said twice)?\?"
    r"|SPN heard as '[^']*'|SPN \d+: a number was heard as a word"
    r"|the FMI was heard as a word, not a number|a digit of the code was heard as a word"
    r"|the failure type was heard as a word|'[A-Z]' was heard as '[^']*'"
    r"|its check digit would be [\dX], not [\dX]|not every maker uses one"
)
_WEAK = re.compile(r"not sure that '([^']*)' was heard right")


def only_of_hearing(why: str, trade: Trade, *, of_numbers: bool = False) -> bool:
    """Whether all that is doubtful is how a value was heard; with `of_numbers`, the words of a number."""
    for doubt in why.split("; "):
        weak = _WEAK.fullmatch(doubt)
        if weak is not None:
            if of_numbers and not all(_of_a_number(word, trade) for word in weak[1].split()):
                return False
        elif not _OF_HEARING.fullmatch(doubt) or (of_numbers and doubt == _UNSURE):
            return False
    return bool(why)


def _of_a_number(word: str, trade: Trade) -> bool:
    norm = word.casefold().strip(".,-")
    pieces = norm.split("-")
    return any(c.isdigit() for c in norm) or all(
        p in trade.digits or p in UNITS or p in TENS or p in _JOINTS or bool(trade.letters.at([p], 0)[1])
        for p in pieces
    )


def _confidences(text: Text, start: int, end: int) -> list[tuple[int, float]]:
    words = sorted({text.tokens[k].word for k in range(start, end)})
    return [(w, c) for w in words if (c := text.words[w].confidence) is not None]


def _heard(text: Text, draft: Draft) -> float:
    spans: Sequence[tuple[int, int]] = draft.keys or ((draft.start, draft.end),)
    values = [c for a, b in spans for _, c in _confidences(text, a, b)]
    return sum(values) / len(values) if values else 1.0


def _weak_words(text: Text, draft: Draft) -> list[str]:
    weak = [
        text.words[w].text.strip(MARKS)
        for a, b in draft.keys
        for w, c in _confidences(text, a, b)
        if c < _floor(text, a, b, w) and not _whole_unit(text, a, b, w)
    ]
    return [f"not sure that '{' '.join(dict.fromkeys(weak))}' was heard right"] if weak else []


def _floor(text: Text, start: int, end: int, word: int) -> float:
    """How sure the recogniser must be of a word that a fact rests on."""
    floor = WORD_FLOOR
    for k in range(start, end):
        if text.tokens[k].word == word and text.numeric[k]:
            alike = text.norm(k) in TENS or 13 <= UNITS.get(text.norm(k), 0) <= 19
            floor = max(floor, ALIKE_FLOOR if alike else NUMBER_FLOOR)
    return floor


def _name_hardly_heard(text: Text, draft: Draft) -> list[str]:
    """What was measured, where words that were hardly heard name it and none that the trade's data know."""
    if not isinstance(draft.detail, Measurement):
        return []
    of_value = {text.tokens[k].word for a, b in draft.keys for k in range(a, b)}
    named = [k for k in range(draft.start, draft.end) if text.tokens[k].word not in of_value]
    confidence = {k: text.words[text.tokens[k].word].confidence for k in named}
    known = any(
        text.norm(k) in text.trade.quantity_words or text.trade.components.at(text.norms, k)[1]
        for k in named
        if (confidence[k] or 1.0) >= WORD_FLOOR
    )
    weak = [
        k
        for k in named
        if (c := confidence[k]) is not None and c < NAME_FLOOR and text.norm(k) not in text.trade.stop
    ]
    if not weak or known:
        return []
    return [f"what was measured was hardly heard: '{text.said(draft.start, weak[-1] + 1)}'"]


def _perhaps_too(text: Text, draft: Draft) -> list[str]:
    """ "put a new feed pipe on two, five one one …": the digit before the comma may be the word "too"."""
    if not isinstance(draft.detail, Part) or draft.detail.number is None:
        return []
    for a, b in draft.keys:
        apart = b - a > 2 and text.tokens[a + 1].gap == COMMA and text.tokens[a].gap == NO_BREAK
        if (
            apart
            and text.norm(a) in ("two", "to", "too")
            and text.norm(a - 1) in text.trade.words["before_too"]
        ):
            return [f"'{text.said(a, b)}': a number, or 'too' and a number?"]
    return []


def _things_heard_as_volts(text: Text, draft: Draft) -> list[str]:
    """ "took the cover off fourteen volts", "two volts, then": bolts or faults, where nothing is measured."""
    d = draft.detail
    if not isinstance(d, Measurement) or d.unit != "V" or d.value != d.value.to_integral_value():
        return []
    for a, b in draft.keys:
        unit = next((k for k in range(a, b) if text.norm(k) in ("volts", "volt")), None)
        if unit is None:
            continue
        confidence = text.words[text.tokens[unit].word].confidence
        after_work = (
            text.norm(a - 1) in text.trade.words["before_fasteners"] and text.tokens[a].gap == NO_BREAK
        )
        if after_work or (d.subject is None and confidence is not None and confidence < ALIKE_FLOOR):
            return [f"'{text.said(a, b)}': volts, bolts or faults?"]
    return []


def _perhaps_a_decimal(text: Text, draft: Draft) -> list[str]:
    """ "long boy two bar": a word that sounds like "point" right beside a number."""
    if not isinstance(draft.detail, Measurement | LabourSaid | Identity):
        return []
    near = text.trade.words["sounds_like_point"]
    for a, b in draft.keys:
        for k in (a - 1, b):
            beside = text.norm(k) in near and (k < a or text.number(k + 1) is not None)
            if beside and (text.numeric[a] if k < a else text.numeric[b - 1]):
                return [f"'{text.norm(k)}' beside the number: was 'point' said?"]
    return []


def _letter_by_its_name(text: Text, draft: Draft) -> list[str]:
    """The letter of a trouble code that was said as a letter, not by the spelling alphabet."""
    if not isinstance(draft.detail, FaultCode) or not draft.detail.code[:1].isalpha():
        return []
    first = draft.detail.code[0]
    for k in range(draft.start, draft.end):
        confidence = text.words[text.tokens[k].word].confidence
        if text.norm(k) == first.casefold() and first in "PB" and confidence is not None:
            other = "B" if first == "P" else "P"
            return [f"'{first}' or '{other}'?"] if confidence < LETTER_FLOOR else []
    return []


def _repaired_numbers(text: Text, draft: Draft) -> list[str]:
    """A number, or the word that makes it a limit, that was put right: always for a person."""
    if not isinstance(draft.detail, Measurement | LabourSaid | Identity | FaultCode):
        return []
    repairs = {text.repairs[k] for a, b in draft.keys for k in range(a, b) if k in text.repairs}
    return sorted(
        f"'{one.heard}' was taken for '{one.read_as}'"
        for one in repairs
        if isinstance(draft.detail, LabourSaid)
        or _counts(set(one.read_as.split()) - set(one.heard.split()), text.trade)
    )


def _counts(words: set[str], trade: Trade) -> bool:
    return any(w in UNITS or w in TENS or bool(trade.cue["limits"].at([w], 0)[1]) for w in words)


def _heard_otherwise(text: Text, draft: Draft) -> list[str]:
    """Both readings, where two listeners heard what the fact rests on in two ways."""
    words = sorted({text.tokens[k].word for a, b in draft.keys for k in range(a, b)})
    runs: dict[str, list[str]] = {}
    for w in words:
        other = text.words[w].otherwise
        if other is not None:
            runs.setdefault(other.strip(MARKS), []).append(text.words[w].text.strip(MARKS))
    return [
        f"heard as '{' '.join(said)}' and as '{other}'"
        if other
        else f"only one hearing has '{' '.join(said)}'"
        for other, said in runs.items()
    ]


def _whole_unit(text: Text, start: int, end: int, word: int) -> bool:
    """A long word of a unit: recognisers are unsure of "metres" for its spelling, not for what was said."""
    return any(
        text.tokens[k].word == word
        and len(text.norms[k]) >= 5
        and k > start
        and text.trade.unit_forms.at(text.norms, j)[0] > k
        for j in range(start, end)
        for k in range(j, min(end, j + 4))
    )


def _implausible(text: Text, draft: Draft) -> list[str]:
    if not isinstance(draft.detail, Measurement):
        return []
    m = draft.detail
    said = (m.subject or "").casefold().split()
    for at, word in enumerate(said):
        named = text.trade.quantity_words.get(word, m.quantity)
        # "travel pressure" is a pressure, and "draw key nuts" are nuts
        otherwise = any(text.trade.quantity_words.get(later) == m.quantity for later in said[at + 1 :])
        of_a_thing = otherwise or any(text.trade.components.at(said, k)[1] for k in range(at, len(said)))
        if m.quantity == "time":
            break  # "pressure builds in three minutes"
        if named != m.quantity and not of_a_thing:
            return [f"'{word}' is no {m.quantity}: was the unit heard right?"]
    r = breached(text.trade, float(m.value), m.unit, m.subject or "")
    if r is None:
        return []
    plausible = f"{r.min:g} to {r.max:g} {r.unit}: {r.source}"
    return [f"{m.value} {m.unit} is outside what is plausible ({plausible})"]
