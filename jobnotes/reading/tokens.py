"""Words as heard, cut into tokens that the grammar can work on.

A recogniser writes "60.2", "24V", "SPN5246", "twenty-four", "10–14", "can't"; the grammar sees one token for
each number, unit, letter and word, and how strong a break stands before it. Every token keeps the index of
the word it came from, so that a fact can be led back to its second of audio.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Container, Iterable, Sequence
from dataclasses import dataclass, replace

from jobnotes.record import Word

NO_BREAK, COMMA, STOP = 0, 1, 2

#: A gap between two words, in seconds, that is as good as a full stop.
PAUSE_S = 1.2


@dataclass(frozen=True, slots=True)
class Token:
    """`norm` is lower case without punctuation; `gap` the break before it: NO_BREAK, COMMA or STOP.

    `asked` marks the last word of a written question. `joined` is True where no space stood between it and
    the token before ("24" "-" "7").
    """

    text: str
    norm: str
    word: int
    gap: int = NO_BREAK
    joined: bool = False
    asked: bool = False


_SPLIT = re.compile(
    r"""
    [pcbu][0-3][0-9a-f]{3}(?![a-z0-9])          # a trouble code in one piece
    | \d{1,3}(?:,\d{3})+(?:\.\d+)?(?!\d)        # 312,000
    | \d+(?:\.\d+)?                             # 60.2
    | \.\d+                                     # .5
    | [a-z](?:\.[a-z])+(?![a-z])                # s.p.n
    | [^\W\d_]+(?:['’][^\W\d_]+)*               # words, can't
    | [%°Ωω±/+]                                 # signs that are said
    | [-–—−]
    | [,;:.!?…]+
    """,
    re.VERBOSE,
)
_ALNUM = re.compile(r"(?=[a-z0-9]*\d)(?=[a-z0-9]*[a-z])[a-z0-9]+")
_UNIT_GLUED = re.compile(
    r"(\d+(?:\.\d+)?)(v|vdc|mv|a|ma|ohms?|ω|kω|mω|k|bar|mbar|psi|kpa|mpa|nm|mm|cm|m|km|kms|l|ml|h|hrs?|"
    r"mins?|secs?|s|rpm|hz|khz|kg|g|w|kw|t|c|f|kph|mph|ppm|mil|kohms?|mohms?|um|cc|thou|deg|degrees?|"
    r"volts?|amps?|litres?|liters?|x|kn|st|nd|rd|th|in)"
)
_TIMES = re.compile(r"x([2-9]|1\d?)")
_CODE_GLUED = re.compile(r"(spn|fmi|oc)(\d+)")
_SIGNS = {"Ω": "ω", "–": "-", "—": "-", "−": "-", "’": "'"}
_WRITTEN = {
    "½": " and a half",
    "¼": " and a quarter",
    "¾": " and three quarters",
    "µ": "u",
    "μ": "u",
    "×": "x",
}


def _pieces(text: str) -> list[str]:
    """The tokens of one written word, lower case, in order; separators included."""
    if text.isascii():
        if text.isalpha():
            return [text.casefold()]  # most often
        if text[:-1].isalpha() and text[-1] in ",.;:!?":
            return [text[:-1].casefold(), text[-1]]
    for sign, spoken in _WRITTEN.items():
        if sign in text:
            text = text.replace(sign, spoken)
    text = unicodedata.normalize("NFKC", text).casefold()
    for sign, plain in _SIGNS.items():
        text = text.replace(sign, plain)
    text = (
        text.replace("+/-", "±")
        .replace("+-", "±")
        .replace("ω", "Ω".casefold())
        .replace("n·m", "nm")
        .replace("n.m", "nm")
        .replace("n⋅m", "nm")
    )
    text = text.replace("km/h", "kmh").replace("l/min", "litres per minute").replace("ft·lb", "ft lb")
    found: list[str] = []
    for chunk in re.split(r"(\s+)", text):
        if not chunk.strip():
            continue
        position = 0
        while position < len(chunk):
            glued = _ALNUM.match(chunk, position)
            if glued and not re.match(r"[pcbu][0-3][0-9a-f]{3}$", glued.group()):
                whole = glued.group()
                # "60.2ohms": the number before the point belongs to it
                unit = _UNIT_GLUED.match(chunk, position)
                code = _CODE_GLUED.fullmatch(whole)
                if unit and (unit.end() == len(chunk) or not chunk[unit.end()].isalnum()):
                    found += [unit.group(1), unit.group(2)]
                    position = unit.end()
                    continue
                if times := _TIMES.fullmatch(whole):
                    found += ["x", times.group(1)]
                    position = glued.end()
                    continue
                if code:
                    found += [code.group(1), code.group(2)]
                    position = glued.end()
                    continue
                found.append(whole)
                position = glued.end()
                continue
            match = _SPLIT.match(chunk, position)
            if match is None:
                position += 1
                continue
            unit = _UNIT_GLUED.match(chunk, position)
            if (
                unit
                and unit.end() > match.end()
                and (unit.end() == len(chunk) or not chunk[unit.end()].isalnum())
            ):
                found += [unit.group(1), unit.group(2)]
                position = unit.end()
                continue
            found.append(match.group())
            position = match.end()
    return found


_WHOLE = frozenset(
    "it's that's he's she's there's what's who's here's let's where's how's i's one's spec's limit's".split()
)


def without_is(word: str) -> tuple[str, bool]:
    """ "actuator's" is "actuator is"; "it's" and its like stay whole, as the trade data have them."""
    if word.endswith("'s") and len(word) > 3 and word not in _WHOLE:
        return word[:-2], True
    return word, False


_IS_NUMBER = re.compile(r"[\d.,]*\d")


_LETTERED = re.compile(r"(?![PCBU][0-3][0-9A-F]{3})[A-Z]{1,4}[-/]?\d[\w/-]*")
_LETTERS = re.compile(r"[A-Z]{1,4}-?")


def _number_next(words: Sequence[Word], index: int) -> bool:
    """ "no. 118", "no. RK-38", "no. AS 6612": an abbreviation, not the end of a sentence."""
    after = [word.text.strip().rstrip(",.;") for word in words[index + 1 : index + 3]]
    if not after:
        return False
    if after[0][:1].isdigit() or _LETTERED.fullmatch(after[0]):
        return True
    return len(after) > 1 and _LETTERS.fullmatch(after[0]) is not None and after[1][:1].isdigit()


_DECIMAL_COMMA = re.compile(r"(?<![\d.,])(\d{1,4}),(\d{1,2})(?![\d,])")


def _with_point(words: Sequence[Word], index: int) -> str:
    """The word with "7,9" written "7.9", where what follows shows that it is one number: its unit."""
    text = words[index].text
    if "," not in text or _DECIMAL_COMMA.search(text) is None:
        return text
    glued = _DECIMAL_COMMA.fullmatch(text.rstrip(",.;:!?")) is None
    after = words[index + 1].text.casefold() if index + 1 < len(words) else ""
    names_it = after[:1].isalpha() and after not in ("and", "or", "to") and not text.endswith((",", ";"))
    return _DECIMAL_COMMA.sub(r"\1.\2", text) if glued or names_it else text


def tokenise(words: Sequence[Word], line_starts: Iterable[int] = ()) -> list[Token]:
    """Tokens of `words`; `line_starts` are indices of words that begin a new line or note."""
    starts = frozenset(line_starts)
    tokens: list[Token] = []
    gap = STOP
    last_end: float | None = None
    for index, word in enumerate(words):
        if index in starts or (
            last_end is not None and word.start_s is not None and word.start_s - last_end >= PAUSE_S
        ):
            gap = STOP
        last_end = word.end_s if word.end_s is not None else last_end
        joined = False
        pieces = _pieces(_with_point(words, index))
        for at, piece in enumerate(pieces):
            if piece == ":":
                joined = False
                if (
                    at == len(pieces) - 1
                    and tokens
                    and tokens[-1].norm.isdigit()
                    and _number_next(words, index)
                ):
                    gap = max(gap, COMMA)  # "axle 1: 22 kN"
                continue  # "On order: suction hose" goes on
            if piece == "." and joined and tokens[-1].norm == "no" and _number_next(words, index):
                tokens[-1] = replace(tokens[-1], norm="number")
                joined = False
                continue
            if piece[0] in ",;:.!?…" and not _IS_NUMBER.fullmatch(piece):
                gap = max(gap, STOP if piece[0] in ".!?…" else COMMA)
                if "?" in piece and tokens:
                    tokens[-1] = replace(tokens[-1], asked=True)
                joined = False
                continue
            if piece == "-":
                after = pieces[at + 1] if at + 1 < len(pieces) else ""
                before = tokens[-1].norm if tokens and joined else ""
                coded = any(c.isdigit() for c in before) or any(c.isdigit() for c in after[:1])
                digits = bool(before) and coded and after[:1].isalnum()
                if digits or (not before and after[:1].isdigit()):
                    tokens.append(Token(piece, "-", index, gap, joined))
                    gap, joined = NO_BREAK, True
                    continue
                if not before or not after:  # a dash between words parts them as a comma does
                    gap = max(gap, COMMA)
                    joined = False
                    continue
                joined = True
                continue
            if piece.startswith("."):
                piece = "0" + piece
            if "." in piece and piece.replace(".", "").isalpha():
                piece = piece.replace(".", "")
            owner, contracted = without_is(piece)
            if contracted:
                tokens.append(Token(word.text, owner, index, gap, joined))
                tokens.append(Token(word.text, "is", index, NO_BREAK, True))
                gap, joined = NO_BREAK, True
                continue
            if "," in piece and _IS_NUMBER.fullmatch(piece):
                piece = piece.replace(",", "")
            tokens.append(Token(word.text, piece, index, gap, joined))
            gap, joined = NO_BREAK, True
    return tokens


def shouted(tokens: Sequence[Token], j: int) -> bool:
    """Everything around is in capitals, so that capitals tell no letter group."""
    around = [t.text.strip(".,-/:;") for t in tokens[max(0, j - 5) : j + 6]]
    return any(len(w) >= 4 and w.isalpha() and w.isupper() for w in around)


def with_written_inches(tokens: Sequence[Token], lengths: Container[str]) -> list[Token]:
    """`tokens` with "in" as inches after a printed decimal number, where a break or what is measured follows:
    ".140 in, limit .060", "1.5 in sag". `lengths` are words of lengths."""
    out = list(tokens)
    for index in range(1, len(tokens)):
        token = tokens[index]
        before = tokens[index - 1].norm
        if (
            token.norm != "in"
            or token.gap > NO_BREAK
            or "." not in before
            or not _IS_NUMBER.fullmatch(before)
        ):
            continue
        after = tokens[index + 1] if index + 1 < len(tokens) else None
        if after is None or after.gap > NO_BREAK or after.norm in lengths:
            out[index] = replace(token, norm="inches")
    return out


def quote(words: Sequence[Word], tokens: Sequence[Token], start: int, end: int) -> str:
    """The words as heard under tokens `start` … `end` (end excluded)."""
    if end <= start:
        return ""
    first, last = tokens[start].word, tokens[end - 1].word
    return " ".join(w.text.strip() for w in words[first : last + 1])
