"""Spoken text made fit for a page: what XML can't hold is shown as lost; writing direction and language are
told."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator

# XML 1.0, production [2] Char, leaves these out; C1 controls and the bidirectional overrides and
# isolates (UAX #9, 2.1-2.3) it allows, but they would hide or turn round what stands on the page.
_UNFIT = re.compile(
    "[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x84\x86-\x9f\ud800-\udfff\ufffe\uffff\u202a-\u202e\u2066-\u2069\ufeff]"
)
_LOST = "\ufffd"

# What is spoken is English: the recognisers and the reading know no other language.
SPEECH = "en-GB"
# Around words that are in the language of speech where the document is in another: two of the noncharacters
# that Unicode sets apart for a program's own use. They never reach a file.
_BEGIN, _END = "\ufdd0", "\ufdd1"
_MARKS = re.compile("[\ufdd0\ufdd1]")


def marked(text: str) -> str:
    """`text` marked as words in the language of speech; "" stays so."""
    return f"{_BEGIN}{unmarked(text)}{_END}" if text else text


def unmarked(text: str) -> str:
    """`text` without such marks."""
    return text if text.isascii() else _MARKS.sub("", text)


def by_language(text: str) -> Iterator[tuple[str, bool]]:
    """Pieces of `text` in order, each with True where it is marked; a mark without its other end goes on to
    the end of the text."""
    if text.isascii():
        yield text, False
        return
    for number, piece in enumerate(text.split(_BEGIN)):
        inside, _, after = piece.partition(_END)
        if number:
            yield inside, True
            yield after, False
        else:
            yield inside + after, False


def sentence_case(text: str) -> str:
    """`text` with a capital first letter."""
    first = 1 if text.startswith(_BEGIN) else 0
    return text[:first] + text[first : first + 1].upper() + text[first + 1 :]


def without_stop(text: str) -> str:
    """`text` without full stops at its end."""
    return f"{text[:-1].rstrip('.')}{_END}" if text.endswith(_END) else text.rstrip(".")


def fit(text: str) -> str:
    """`text` with line ends as "\\n", tabs as spaces, and what can't be printed as U+FFFD."""
    if text.isascii() and text.isprintable():
        return text
    return _UNFIT.sub(_LOST, text.replace("\r\n", "\n").replace("\r", "\n").replace("\t", " "))


def is_rtl(text: str) -> bool:
    """True where the first strong character runs from right to left (UAX #9, rules P2 and P3)."""
    if text.isascii():
        return False
    for char in text:
        direction = unicodedata.bidirectional(char)
        if direction in ("L", "R", "AL"):
            return direction != "L"
    return False


def by_direction(text: str) -> Iterator[tuple[str, bool]]:
    """Pieces of `text` in order, each with True where it is written from right to left.

    Neutral characters go with the right-to-left piece only between two of its strong characters.
    """
    if text.isascii():
        yield text, False
        return
    start = 0
    first = last = -1  # the right-to-left piece that is open: its first and last strong characters
    for index, char in enumerate(text):
        direction = unicodedata.bidirectional(char)
        if direction in ("R", "AL"):
            if first < 0:
                first = index
            last = index
        elif direction == "L" and first >= 0:
            if first > start:
                yield text[start:first], False
            yield text[first : last + 1], True
            start, first = last + 1, -1
    if first >= 0:
        if first > start:
            yield text[start:first], False
        yield text[first : last + 1], True
        start = last + 1
    if start < len(text):
        yield text[start:], False


def shortened(text: str, limit: int) -> str:
    """`text` on one line, cut at a word to at most `limit` characters, with an ellipsis where cut."""
    line = " ".join(text.split())
    if len(line) <= limit:
        return line
    cut = line[: limit - 1]
    head, space, _ = cut.rpartition(" ")
    kept = head if space and len(head) > limit // 2 else cut
    shown = kept.rstrip(" ,;:(–") + "…"
    return shown + _END if shown.count(_BEGIN) > shown.count(_END) else shown
