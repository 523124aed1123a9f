"""The writing in a photo, put into lines that the grammar of speech can read.

A label's word and its number often stand apart, side by side or one above the other: they are joined here,
and what is printed is put into the words that the grammar knows (labels.toml).
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

from jobnotes.reading.speech.text import Text
from jobnotes.reading.tokens import tokenise
from jobnotes.reading.trade.knowledge import Labels, Trade
from jobnotes.reading.utterances import Utterances
from jobnotes.record import Corners, PhotoText

#: Of two pieces of writing that belong together: the most that may lie between them side by side, and one
#: above the other, in heights of the first. Common practice, no source.
BESIDE, BELOW = 6.0, 1.2
#: So many numbers may stand alone on a display.
MOST_ALONE = 3


@dataclass(frozen=True, slots=True)
class Line:
    """Writing that is read as one; `said` is what the grammar gets. `corners` are those of its number."""

    written: str
    said: str
    corners: Corners
    confidence: float
    symbology: str | None = None


def lines_of(texts: Sequence[PhotoText], labels: Labels, aspect: float) -> list[Line]:
    """The lines to read, in order. `aspect` is the photo's width by its height."""
    out: list[Line] = []
    plain = _upright([t for t in texts if t.symbology is None])
    taken: set[int] = set()
    # many numbers alone are those of a scale: which of them the pointer shows, nobody reads
    scale = sum(bool(_FIGURES.fullmatch(t.text.strip())) for t in plain) > MOST_ALONE
    for at, text in enumerate(plain):
        if at in taken:
            continue
        said = as_said(text.text, labels)
        if said is None:
            continue
        value = None
        if _names_only(said, labels) or (_FIGURES.fullmatch(text.text.strip()) and not scale):
            value = _neighbour(at, plain, taken, labels, aspect)
        if value is None:
            out.append(Line(text.text, said, text.corners, text.confidence))
            continue
        other = plain[value]
        pieces = [text, other]
        taken.add(value)
        if _FIGURES.fullmatch(other.text.strip()) and not scale:
            unit = _neighbour(value, plain, taken, labels, aspect)
            pieces += [plain[unit]] if unit is not None else []
            taken |= {unit} if unit is not None else set()
        whole = " ".join(filter(None, (as_said(piece.text, labels) for piece in pieces)))
        corners = other.corners if _names_only(said, labels) else text.corners
        sure = min(piece.confidence for piece in pieces)
        out.append(Line(" ".join(piece.text for piece in pieces), whole, corners, sure))
        out[:] = [line for line in out if not (line.written == other.text and line.corners == other.corners)]
    out = _codes_whole(_under_headings(out, labels), aspect)
    out += [
        Line(t.text, _identified(t.text, labels), t.corners, t.confidence, t.symbology)
        for t in texts
        if t.symbology is not None
    ]
    return out


def _upright(texts: Sequence[PhotoText]) -> list[PhotoText]:
    """Without the numbers that stand on their heads against most of the writing: read the wrong way round,
    418206 is a number too. Letters tell which way is up."""
    ways = [(t.corners[1][0] - t.corners[0][0], t.corners[1][1] - t.corners[0][1]) for t in texts]
    letters = [sum(c.isalpha() for c in t.text) for t in texts]
    weights = letters if any(letters) else [len(t.text) for t in texts]
    up = tuple(sum(w * way[k] for w, way in zip(weights, ways, strict=True)) for k in (0, 1))
    return [
        text
        for text, way, lettered in zip(texts, ways, letters, strict=True)
        if lettered > len(text.text) / 2 or way[0] * up[0] + way[1] * up[1] >= 0
    ]


def as_text(said: str, trade: Trade) -> Text:
    """One line as the extractors read it."""
    words = Utterances.of_text(said)
    return Text(words.words, tokenise(words.words, words.line_starts), trade, {})


def as_said(written: str, labels: Labels) -> str | None:
    """What is printed in the grammar's own words; None where it is about something else: a price, a date."""
    plain = " ".join(written.split())
    if any(sign in plain for sign in labels.signs) or _pattern(labels.other).search(plain):
        return None
    said = _forms(labels).sub(lambda m: f" {_meaning(m[1], labels) or m[0]} ", plain)
    if labels.dropped and any(c.isdigit() for c in said):
        said = _pattern(labels.dropped).sub(" ", said)
    return " ".join(said.split())


#: Numbers and nothing else.
_FIGURES = re.compile(r"[+-]?\d[\d .,]*")


def _identified(text: str, labels: Labels) -> str:
    """A barcode's text with what its data identifier says before it, where it has one."""
    head = re.match(r"(\d{0,3}[A-Za-z])(?=[A-Za-z0-9])", text)
    meaning = labels.barcode.get(head[1].casefold()) if head else None
    return f"{meaning} {text[head.end() :]}" if head and meaning else text


def _under_headings(lines: list[Line], labels: Labels) -> list[Line]:
    """A row of numbers under a row of names ("SPN FMI OC"), each with its name."""
    meanings = {meaning for _, meaning in labels.read_as}
    out: list[Line] = []
    heads: list[str] = []
    for line in lines:
        names = _names_in(line.said, meanings)
        cells = line.said.split()
        if len(names) > 1:
            heads = names
            continue
        if heads and len(cells) == len(heads) and all(c.isdigit() for c in cells):
            said = " ".join(f"{name} {cell}" for name, cell in zip(heads, cells, strict=True))
            out.append(replace(line, said=said))
            continue
        out.append(line)
    return out


def _names_in(said: str, meanings: set[str]) -> list[str]:
    """The names that a line consists of; none if there is anything else in it."""
    found, words = [], said.split()
    while words:
        length = next((n for n in (2, 1) if " ".join(words[:n]) in meanings), 0)
        if not length:
            return []
        found.append(" ".join(words[:length]))
        del words[:length]
    return found


def _codes_whole(lines: list[Line], aspect: float) -> list[Line]:
    """ "SPN 102" and "FMI 18" that stand apart, as one line."""
    out = list(lines)
    for line in lines:
        if not re.fullmatch(r"spn \d+", line.said):
            continue
        near = []
        for other in out:
            place = _placed(line.corners, other.corners, aspect) if other.said.startswith("fmi ") else None
            if place is None:
                continue
            if (place.level and 0 <= place.right <= 2 * BESIDE) or place.is_below:
                near.append((abs(place.right) + abs(place.below), other))
        if near:
            other = min(near, key=lambda found: found[0])[1]
            sure = min(line.confidence, other.confidence)
            whole = Line(f"{line.written} {other.written}", f"{line.said} {other.said}", line.corners, sure)
            out[out.index(line)] = whole
            out.remove(other)
    return out


def _names_only(said: str, labels: Labels) -> bool:
    """Whether a line only tells what the number beside it or below it is."""
    return said in {meaning for _, meaning in labels.read_as}


def _neighbour(
    at: int, texts: Sequence[PhotoText], taken: set[int], labels: Labels, aspect: float
) -> int | None:
    """The piece of writing that stands right of this one, or below it: its number, or its unit."""
    one = texts[at]
    names = not _FIGURES.fullmatch(one.text.strip())
    best: tuple[float, int] | None = None
    for other, text in enumerate(texts):
        if other == at or other in taken:
            continue
        said = as_said(text.text, labels)
        if said is None or _names_only(said, labels):
            continue
        figures = any(c.isdigit() for c in text.text)
        if figures != names or (not names and len(text.text.strip()) > 5):
            continue
        place = _placed(one.corners, text.corners, aspect)
        if place is None:
            continue
        if place.level and 0 <= place.right <= (BESIDE if names else BESIDE / 3):
            distance = place.right
        elif names and place.is_below:
            distance = BESIDE + place.below
        else:
            continue
        if best is None or distance < best[0]:
            best = (distance, other)
    return best[1] if best else None


@dataclass(frozen=True, slots=True)
class _Place:
    """Where another piece of writing stands, as one reads the first and in its heights: from this one's end
    to its beginning (`right`, below zero where it begins before), from this one's foot to its top (`below`),
    and whether both stand `level`."""

    right: float
    below: float
    level: bool

    @property
    def is_below(self) -> bool:
        return -0.7 <= self.below <= BELOW and self.right < 0.5 and not self.level


def _placed(one: Corners, other: Corners, aspect: float) -> _Place | None:
    """None where neither is the case: it stands before it, or above it."""
    a, b = ([(x * aspect, y) for x, y in corners] for corners in (one, other))
    along = (a[1][0] - a[0][0], a[1][1] - a[0][1])
    down = (a[3][0] - a[0][0], a[3][1] - a[0][1])
    width, height = (along[0] ** 2 + along[1] ** 2) ** 0.5, (down[0] ** 2 + down[1] ** 2) ** 0.5
    if width == 0 or height == 0:
        return None

    def of(point: tuple[float, float]) -> tuple[float, float]:
        x, y = point[0] - a[0][0], point[1] - a[0][1]
        return (
            (x * along[0] + y * along[1]) / width / height,
            (x * down[0] + y * down[1]) / height / height,
        )

    points = [of(p) for p in b]
    begins, ends = min(p[0] for p in points), max(p[0] for p in points)
    top, foot = (points[0][1] + points[1][1]) / 2, (points[2][1] + points[3][1]) / 2
    middle = (top + foot) / 2
    if middle < -0.1 or (ends < 0 and middle > 1):
        return None
    # the higher of the two may reach above and below the other
    level = abs(middle - 0.5) <= 0.6 * max(1.0, abs(foot - top) / 2)
    if level and begins < width / height - 1:
        level = False
    return _Place(begins - width / height, top - 1, level)


@lru_cache(maxsize=8)
def _pattern(words: frozenset[str]) -> re.Pattern[str]:
    listed = "|".join(re.escape(w).replace(r"\ ", r"[\s.\-]*") for w in sorted(words, key=len, reverse=True))
    return re.compile(rf"(?<![^\W_])(?:{listed})(?![^\W_])\.?", re.IGNORECASE)


@lru_cache(maxsize=8)
def _forms_of(forms: tuple[str, ...]) -> re.Pattern[str]:
    listed = "|".join(_printed(form) for form in forms)
    # a number may follow at once ("P/N1874552"), a letter may not
    return re.compile(rf"(?<![^\W_])({listed})(?![^\W\d_])\s*[:.=#]*", re.IGNORECASE)


def _forms(labels: Labels) -> re.Pattern[str]:
    return _forms_of(tuple(form for form, _ in labels.read_as))


def _printed(form: str) -> str:
    """How a form may be printed: with full stops, spaces or hyphens between its words, or without any."""
    pieces = re.split(r"[\s.\-]+", form.strip(" .-"))
    return r"[\s.\-]*".join(re.escape(p).replace("/", r"\s*/\s*") for p in pieces if p)


def _meaning(found: str, labels: Labels) -> str | None:
    bare = _bare(found)
    return next((meaning for form, meaning in labels.read_as if _bare(form) == bare), None)


def _bare(form: str) -> str:
    return re.sub(r"[\s.\-]+", "", form.casefold())
