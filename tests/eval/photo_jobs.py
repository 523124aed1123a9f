"""Jobs with photos: the sessions of this folder, misheard, and drawn labels that show what was meant.

Each session becomes a note whose numbers a recogniser got wrong here and there: a digit for another that
sounds like it, one left out, two changed over. For facts that a photo can show there is one that shows the
truth (label, plate, display, screen of a code reader), in the writing of such things, read with the slips of
a photo reader; and there are photos that show something else: another vehicle, a page of a price list, the
label of a sibling part, a scale. All of it is invented and follows from the seed. No real workshop photos
were at hand.
"""

from __future__ import annotations

import random
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

from jobnotes.record import Job, Note, Photo, PhotoText, RecogniserStamp, Record, Sight, Word

START = datetime(2031, 4, 7, 8, 0, tzinfo=UTC)
STAMP = RecogniserStamp("made up", "none", "0" * 64)
#: seconds that a word takes, and that lie between two lines
WORD_S, PAUSE_S = 0.4, 4.0
#: the share of lines with a number in which it is misheard
MISHEARD = 0.5
#: what is spoken with a photo, where anything is
CUES = ("taking a photo of that", "photo of the label", "picture of the display")
_SOUNDS_LIKE = {
    "five": "nine", "nine": "five", "two": "three", "three": "two", "one": "nine", "six": "seven",
    "seven": "six", "four": "five", "eight": "three", "fifteen": "fifty", "fifty": "fifteen",
    "thirteen": "thirty", "thirty": "thirteen", "sixty": "sixteen", "sixteen": "sixty", "forty": "fourteen",
    "fourteen": "forty", "seventeen": "seventy", "seventy": "seventeen", "twenty": "twelve", "ten": "two",
    "eighteen": "eighty", "eighty": "eighteen", "eleven": "seven", "twelve": "twenty", "zero": "four",
}  # fmt: skip
_DIGITS = re.compile(r"\d")
_SHAPES = {"0": "O", "1": "I", "5": "S", "8": "B"}
_UNITS = {
    "Ohm": "Ω", "kOhm": "kΩ", "MOhm": "MΩ", "V": "V", "A": "A", "bar": "bar", "mbar": "mbar", "kPa": "kPa",
    "[psi]": "psi", "Cel": "°C", "N.m": "Nm", "mm": "mm", "/min": "rpm", "%": "%", "Hz": "Hz", "mV": "mV",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class PhotoJob:
    """A session as it was heard, with its photos. `shown` are the indices of its facts that a photo shows."""

    session: dict[str, Any]
    given: Record
    starts: tuple[tuple[float, int], ...]
    shown: frozenset[int]

    def line_at(self, start_s: float) -> int:
        """The line of the session in which something was said."""
        return max((s, line) for s, line in self.starts if s <= start_s + 1e-6)[1]


def jobs(sessions: Sequence[dict[str, Any]], seed: int) -> Iterator[PhotoJob]:
    """A job for each session in which there is something to show."""
    for at, session in enumerate(sessions):
        rng = random.Random(f"{seed}|{session['id']}")
        drawn = {
            w: text
            for w, want in enumerate(session["facts"])
            if not want.get("optional") and want.get("status") != "rejected" and (text := label(want, rng))
        }
        if drawn:
            yield _job(session, drawn, sessions[(at + 7) % len(sessions)], rng)


def label(want: dict[str, Any], rng: random.Random) -> str | None:
    """How what a fact says would stand in a photo; None where nothing of it could."""
    kind = want["kind"]
    if kind == "part" and want.get("number"):
        return rng.choice(("P/N {}", "PART NO. {}", "P/N: {}")).format(_grouped(want["number"], rng))
    if kind == "part" and want.get("serial"):
        return f"S/N {want['serial']}"
    if kind == "fault_code" and "code" in want:
        code = str(want["code"])
        if code.startswith("SPN") and "FMI" in code:
            return rng.choice((f"{code} OC 4", code.replace("SPN ", "SPN: ").replace("FMI ", "FMI: ")))
        return f"{code} {rng.choice(('STORED', 'ACTIVE'))}" if re.fullmatch(r"[PCBU]\w{4}.*", code) else None
    if kind == "measurement" and "value" in want and want.get("unit") in _UNITS:
        return f"{want['value']} {_UNITS[want['unit']]}"
    if kind == "odometer":
        return f"ODO {want['value']} {'mi' if want.get('unit') == '[mi_i]' else 'km'}"
    if kind == "engine_hours":
        return f"HOURS {want['value']} h"
    if kind == "vin":
        return f"VIN {want['value']}"
    if kind == "registration":
        return str(want["value"])
    if kind == "job_number":
        return f"JOB NO {want['value']}"
    return None


def _grouped(number: str, rng: random.Random) -> str:
    if number.isdigit() and len(number) > 5 and rng.random() < 0.5:
        return f"{number[:-6]} {number[-6:-3]} {number[-3:]}".strip()
    return number


def misheard(line: str, rng: random.Random) -> str:
    """The line with one of its digits heard wrongly; as it is where it holds none."""
    words = line.split()
    spoken = [k for k, w in enumerate(words) if w.casefold().strip(".,") in _SOUNDS_LIKE]
    figures = [k for k, w in enumerate(words) if _DIGITS.search(w)]
    if not spoken and not figures:
        return line
    at = rng.choice(spoken + figures)
    way = rng.random()
    if at in spoken:
        beside = [k for k in spoken if k == at + 1]
        if way < 0.6:
            words[at] = _SOUNDS_LIKE[words[at].casefold().strip(".,")]
        elif way < 0.8 and beside:
            words[at], words[at + 1] = words[at + 1], words[at]
        else:
            del words[at]
        return " ".join(words)
    places = [m.start() for m in _DIGITS.finditer(words[at])]
    place, word = rng.choice(places), words[at]
    if way < 0.6:
        other = str((int(word[place]) + rng.randint(1, 9)) % 10)
        words[at] = word[:place] + other + word[place + 1 :]
    elif way < 0.8 and place + 1 in places:
        words[at] = word[:place] + word[place + 1] + word[place] + word[place + 2 :]
    elif len(places) > 1:
        words[at] = word[:place] + word[place + 1 :]
    return " ".join(words)


def _job(
    session: dict[str, Any], drawn: dict[int, str], other: dict[str, Any], rng: random.Random
) -> PhotoJob:
    shown_on: dict[int, list[str]] = {}
    for w, text in drawn.items():
        shown_on.setdefault(session["facts"][w]["line"], []).append(text)
    words: list[Word] = []
    starts: list[tuple[float, int]] = []
    photos: list[tuple[float, list[str]]] = []
    clock = 1.0
    for n, line in enumerate(session["lines"]):
        said = misheard(line, rng) if rng.random() < MISHEARD else line
        cued = n in shown_on and rng.random() < 0.4
        for text in (said, rng.choice(CUES)) if cued else (said,):
            starts.append((clock, n))
            for word in text.split():
                words.append(Word(word, round(clock, 3), round(clock + 0.9 * WORD_S, 3), 0.92))
                clock += WORD_S
            clock += PAUSE_S / 2
        for text in shown_on.get(n, ()):
            photos.append((clock + rng.uniform(-2, 6), [text]))
        clock += PAUSE_S
    photos += [(rng.uniform(0, clock), texts) for texts in _others(session, drawn, other, rng)]
    photos.sort(key=lambda p: p[0])
    note = Note("N1", "note.wav", "a" * 64, START, "bext", clock, STAMP, "", tuple(words))
    taken = tuple(
        Photo(
            f"P{k}",
            f"IMG_{k:04}.jpg",
            f"{rng.getrandbits(256):064x}",
            START + timedelta(seconds=at),
            "exif",
            4000,
            3000,
            sight=_sight(texts, rng),
        )
        for k, (at, texts) in enumerate(photos, 1)
    )
    return PhotoJob(session, Record(Job(), (note,), taken), tuple(starts), frozenset(drawn))


def _others(
    session: dict[str, Any], drawn: dict[int, str], other: dict[str, Any], rng: random.Random
) -> Iterator[list[str]]:
    """Photos that show something else than what was said."""
    for want in other["facts"]:
        # of another vehicle, or of a job on the bench beside this one
        if rng.random() < 0.3 and (text := label(want, rng)):
            yield [text]
    numbers = [str(f["number"]) for f in session["facts"] if f.get("number")]
    if numbers:
        sibling = _other_digit(rng.choice(numbers), rng)
        if rng.random() < 0.3:
            yield [f"P/N {sibling}"]
        yield [*(f"P/N {_other_digit(rng.choice(numbers), rng)}" for _ in range(12)), *numbers]
    yield [str(n) for n in range(0, 12, 2)] + ["bar"]
    yield ["24V 70A", "MADE FOR 24 V", "Tel. 0123 456789"]


def _other_digit(number: str, rng: random.Random) -> str:
    places = [m.start() for m in _DIGITS.finditer(number)]
    place = rng.choice(places)
    return number[:place] + str((int(number[place]) + rng.randint(1, 9)) % 10) + number[place + 1 :]


def _sight(texts: Sequence[str], rng: random.Random) -> Sight:
    """The writing as a photo reader gives it: mostly right, now and then a shape or a digit for another."""
    seen = []
    for row, text in enumerate(texts):
        sure = rng.uniform(0.9, 1.0)
        if rng.random() < 0.08:
            text = re.sub(r"(?<=\d)[0158]", lambda m: _SHAPES[m.group()], text, count=1)
        elif rng.random() < 0.03 and _DIGITS.search(text):
            text, sure = _other_digit(text, rng), rng.uniform(0.5, 0.85)
        top = 0.05 + 0.9 * row / max(len(texts), 4)
        corners = ((0.1, top), (0.7, top), (0.7, top + 0.05), (0.1, top + 0.05))
        seen.append(PhotoText(text, round(sure, 3), corners))
    return Sight(STAMP, tuple(seen))
