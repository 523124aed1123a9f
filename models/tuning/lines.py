"""What is said in training: sessions of evaluation sets that no hearing is measured on, made-up lines, and
general English (Debian's fortunes, fortunes-min and debian-handbook), so that it isn't forgotten.

A session is its name and its lines in words, as a voice is given them.
"""

from __future__ import annotations

import html
import random
import re
import sys
import tomllib
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

from num2words import num2words

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "tests" / "eval"))  # before the modules from there

from saying import said
from score import sessions

#: tests/bench/hearing.py measures on the sets before these, tests/eval/spoken.py on those and on `aside`
SETS = (
    "ninth", "tenth", "eleventh", "twelfth", "thirteenth", "fourteenth", "fifteenth", "sixteenth",
)  # fmt: skip

Session = tuple[str, list[str]]

DIGITS = "zero one two three four five six seven eight nine".split()
TEENS = "ten eleven twelve thirteen fourteen fifteen sixteen seventeen eighteen nineteen".split()
TENS = "twenty thirty forty fifty sixty seventy eighty ninety".split()
ICAO = (
    "alfa bravo charlie delta echo foxtrot golf hotel india juliett kilo lima mike november oscar papa "
    "quebec romeo sierra tango uniform victor whiskey x-ray yankee zulu"
).split()
LETTERS = list("ABCDEFGHJKLMNPQRSTUVWXYZ")
_BESIDE = ("point", "hundred", "thousand", "double", "triple", "spn", "fmi", "number")


def of_the_sets() -> Iterator[Session]:
    for name in SETS:
        for session in sessions(name):
            if session.get("speakable"):
                yield session["id"], [said(line) for line in session["lines"]]


# --- other numbers --------------------------------------------------------------------------------


def varied(line: str, chance: random.Random) -> str:
    """The line with other digits and other spelling words where they come in runs: so no number is learnt."""
    tokens = line.split(" ")
    words = [re.sub(r"[^\w-]", "", token).casefold() for token in tokens]
    out = list(tokens)
    for at, word in enumerate(words):
        alike = _alike(word)
        if alike is None:
            continue
        near = [words[k] for k in (at - 1, at + 1) if 0 <= k < len(words)]
        in_a_run = word not in DIGITS or any(_alike(n) or n in _BESIDE for n in near)
        if in_a_run and chance.random() < 0.75:
            out[at] = re.sub(re.escape(word), _another(word, alike, chance), tokens[at], flags=re.IGNORECASE)
    return " ".join(out)


def _alike(word: str) -> list[str] | None:
    if word in DIGITS or word in ("oh", "nought"):
        return DIGITS
    if word in ICAO or word == "alpha":
        return ICAO
    return next((kind for kind in (TEENS, TENS) if word in kind), None)


def _another(word: str, alike: list[str], chance: random.Random) -> str:
    other = chance.choice(alike)
    if word in ("oh", "nought") and chance.random() < 0.8:
        other = word
    if other == "zero" and chance.random() < 0.4:
        other = chance.choice(["oh", "nought"])
    return "alpha" if word == "alpha" and other == "alfa" else other


# --- made-up lines --------------------------------------------------------------------------------


def _data(name: str) -> dict[str, Any]:
    return tomllib.loads((ROOT / "jobnotes" / "data" / name).read_text("utf-8"))


def _plain(word: str) -> bool:
    return all(c.isalpha() or c in " -'" for c in word)


_LEXICON, _UNITS = _data("lexicon.toml"), _data("units.toml")["unit"]
_NAMES = [w for names in _LEXICON["components"].values() for w in names if _plain(w)]
_FAILURES = [w for words in _LEXICON["failures"].values() for w in words if "(" not in w and "|" not in w]
_USUAL_UNITS = (
    "volts,bar,ohms,kilo ohms,newton metres,millimetres,degrees,amps,percent,R P M,litres,millivolts,"
    "millibar,kilopascals,P S I,hertz,seconds,minutes"
).split(",")
_SPELT_UNITS = {"rpm": "R P M", "psi": "P S I", "ppm": "P P M"}
_SIDES = (
    "left,right,near side,off side,front,rear,left front,right rear,upper,lower,number {},bank one,inner,"
    "outer,top,bottom,third axle,second axle"
).split(",")
_STATES = "active,stored,present,inactive,intermittent,active now,stored only,pending,confirmed".split(",")
_DONE = (
    "removed,fitted,refitted,unplugged,plugged back in,disconnected,reconnected,drained,refilled,cleaned,"
    "checked,replaced,tightened,slackened off,torqued,greased,inspected,bled,topped up,reset,calibrated,"
    "stripped,measured,pressure tested,swapped over,reused"
).split(",")
_LIMITS = (
    "limit is {},should be {},spec is {},maximum {},minimum {},no more than {},at least {},expected {},"
    "and the book says {},it wants {}"
).split(",")
_COMPLAINTS = (
    "no start,low power,warning lamp on,noise from the {},leak at the {},pulls to the left,overheats on "
    "hills,air loss overnight,smoke under load"
).split(",")
_FLUIDS = "coolant,oil,diesel,hydraulic oil,fuel".split(",")


class Maker:
    """Makes lines dense in numbers, codes and the lexicon's names. It needn't be true or likely."""

    def __init__(self, seed: int) -> None:
        self._chance = random.Random(seed)
        self._pick = self._chance.choice

    def session(self) -> list[str]:
        lines = [self._line() for _ in range(self._chance.randint(10, 16))]
        if self._chance.random() < 0.3:  # as those speak who make no pauses
            lines = [line if re.search(r"\b[A-Z] [A-Z]\b", line) else _unmarked(line) for line in lines]
        return lines

    # numbers

    def _number(self, low: int, high: int) -> str:
        words = num2words(self._chance.randint(low, high)).replace("-", " ").replace(",", "")
        return words if self._chance.random() < 0.8 else words.replace(" and ", " ")

    def _digits(self, count: int) -> str:
        zero = self._pick(["zero", "zero", "oh", "nought"])
        out: list[str] = []
        while len(out) < count:
            if self._chance.random() < 0.06 and count - len(out) >= 2:
                out.append(f"double {self._pick(DIGITS[1:])}")
                count -= 1
            else:
                out.append(self._pick(DIGITS))
        return " ".join(zero if digit == "zero" else digit for digit in out)

    def _group(self) -> str:
        if self._chance.random() < 0.25:
            return f"{self._number(10, 99)} {self._number(10, 99)}"
        return self._digits(4)

    def _letters(self, count: int) -> str:
        spelling = ICAO if self._chance.random() < 0.6 else LETTERS
        return " ".join(self._pick(spelling) for _ in range(count))

    def _decimal(self) -> str:
        whole = self._pick([self._number(0, 9), self._number(0, 60), "nought", "zero", "oh"])
        return f"{whole} point " + " ".join(self._pick(DIGITS) for _ in range(self._pick([1, 1, 1, 2])))

    def _value(self) -> str:
        n = self._number
        return self._pick(
            (self._decimal, self._decimal, lambda: n(2, 99), lambda: n(2, 99), lambda: n(100, 999),
             self._thousands, lambda: f"{n(1, 20)} and a half")
        )()  # fmt: skip

    def _thousands(self) -> str:
        if self._chance.random() < 0.3:
            return f"{self._number(10, 99)} hundred"
        return self._number(1000, 3000)

    def _unit(self) -> str:
        if self._chance.random() < 0.7:
            return self._pick(_USUAL_UNITS)
        unit = self._pick(_UNITS)
        forms = [
            form
            for form in unit["forms"]
            if form not in unit.get("misheard", []) and len(form) > 2 and form.isascii() and _plain(form)
        ]
        form = self._pick(forms) if forms else "volts"
        return _SPELT_UNITS.get(form, form)

    # what carries them

    def _name(self) -> str:
        name = self._pick(_NAMES)
        if self._chance.random() < 0.3:
            name = self._pick(_SIDES).format(self._pick(DIGITS[1:])) + " " + name
        return name

    def _spn(self) -> str:
        number = self._pick(
            (lambda: self._digits(3), self._group, lambda: self._digits(4), lambda: self._digits(5),
             lambda: self._digits(6), lambda: self._number(20, 9999))
        )()  # fmt: skip
        failure = self._pick((*[lambda: self._number(0, 31)] * 4, lambda: self._pick(["zero", "oh"])))()
        said_as = ("S P N {} F M I {}", "S P N {}, F M I {}", "code S P N {} F M I {}",
                   "fault code S P N {} F M I {}")  # fmt: skip
        return self._pick(said_as).format(number, failure)

    def _dtc(self) -> str:
        letter = self._pick("P P P C B U papa uniform charlie bravo".split())
        first = self._pick("zero zero oh one two three".split())
        more = f" dash {self._digits(2)}" if self._chance.random() < 0.15 else ""
        return f"{letter} {first} {self._digits(3)}{more}"

    def _code(self) -> str:
        return self._pick((self._spn, self._spn, self._spn, self._dtc))()

    def _part_number(self) -> str:
        d, w = self._digits, self._letters
        return self._pick(
            (lambda: d(6), lambda: d(8), lambda: f"{w(2)} {d(4)}", lambda: f"{w(1)} {d(5)}",
             lambda: f"{w(2)} {d(3)} {w(1)}", lambda: f"{d(3)} dash {d(4)}", lambda: f"{d(4)} {w(2)}",
             lambda: f"{w(3)} {d(2)} dash {d(2)}", lambda: f"{self._group()} {self._group()}")
        )()  # fmt: skip

    def _registration(self) -> str:
        d, w = self._digits, self._letters
        return self._pick(
            (lambda: f"{w(2)} {d(2)} {w(3)}", lambda: f"{w(3)} {d(3)}", lambda: f"{w(1)} {d(3)} {w(3)}",
             lambda: f"{d(4)} {w(2)}")
        )()  # fmt: skip

    def _state(self) -> str:
        counted = [f"active, {self._number(2, 60)} times", f"occurrence count {self._number(2, 60)}",
                   f"logged {self._number(2, 40)} times"]  # fmt: skip
        return self._pick([*_STATES, *counted])

    def _clock(self) -> str:
        n = self._number
        return self._pick(
            (f"{n(6, 18)} {n(10, 59)}", f"{n(6, 18)} oh {self._pick(DIGITS[1:])}", f"half past {n(6, 12)}",
             f"quarter to {n(6, 12)}", f"{n(6, 12)} o'clock", f"twenty past {n(6, 12)}")
        )  # fmt: skip

    def _hours(self) -> str:
        n = self._number
        return self._pick(
            (f"{n(1, 6)} hours", f"one hour {n(10, 50)}", f"{n(2, 5)} and a half hours", "half an hour",
             f"{n(10, 90)} minutes", "an hour and a quarter", "three quarters of an hour",
             f"{self._decimal()} hours")
        )  # fmt: skip

    def _limit(self) -> str:
        return self._pick(_LIMITS).format(self._value())

    def _failed(self) -> str:
        return self._pick(_FAILURES)

    def _done(self) -> str:
        return self._pick(_DONE)

    def _line(self) -> str:
        line = self._pick(self._forms())()
        return line[0].upper() + line[1:]

    def _forms(self) -> tuple[Callable[[], str], ...]:
        n, v, u, name, digits = self._number, self._value, self._unit, self._name, self._digits
        return (
            lambda: f"{name()} reads {v()} {u()}, {self._limit()}.",
            lambda: f"Measured {v()} {u()} at the {name()}.",
            lambda: f"{v()} {u()} across pins {n(1, 40)} and {n(1, 40)}.",
            lambda: f"Between {v()} and {v()} {u()} is what it should be.",
            lambda: f"Plus or minus {v()} {u()}.",
            lambda: f"{name()} {v()} {u()} before and {v()} {u()} after.",
            lambda: f"{self._code()}, {self._state()}.",
            lambda: f"{self._code()} and {self._code()}, both {self._state()}.",
            lambda: f"Got {self._code()} {self._state()}, and {self._code()}.",
            lambda: f"Same S P N, F M I {n(0, 31)}.",
            lambda: f"No fault codes {self._pick('stored,present,active,left,came back'.split(','))}.",
            lambda: f"Cleared the codes, {self._code()} did not return.",
            lambda: f"{self._code()} came back.",
            lambda: f"Part number {self._part_number()}.",
            lambda: f"New {name()}, part number {self._part_number()}.",
            lambda: f"Fitted {n(2, 12)} new {self._pick(_NAMES)}s.",
            lambda: f"Fitted new {name()} and {name()}.",
            lambda: f"Serial number {self._part_number()}.",
            lambda: f"Old one's number is {self._part_number()}, new one {self._part_number()}.",
            lambda: f"Registration {self._registration()}.",
            lambda: f"Job number {digits(self._pick([4, 5, 6]))}.",
            lambda: (
                f"Job {digits(self._pick([4, 5]))}, registration {self._registration()}, "
                f"odometer {n(20, 999)} thousand {n(100, 999)}."
            ),
            lambda: f"Odometer {n(1000, 999_999)} kilometres.",
            lambda: f"Engine hours {n(100, 20_000)}.",
            lambda: f"{name()} {self._done()}.",
            lambda: f"{self._done().capitalize()} the {name()}.",
            lambda: f"{self._done().capitalize()} the {name()} and the {name()}.",
            lambda: f"{n(2, 8)} bolts out of the {name()}.",
            lambda: f"{name()} and {name()} {self._done()}.",
            lambda: f"Torqued the {name()} to {n(5, 600)} newton metres{self._angle()}.",
            lambda: f"The {name()} is {self._failed()}.",
            lambda: f"Cause is the {name()}, {self._failed()}.",
            lambda: f"Finding, {name()} {self._failed()}.",
            lambda: f"Found the {name()} {self._failed()}, {name()} {self._failed()} as well.",
            lambda: f"Complaint, {self._pick(_COMPLAINTS).format(self._pick(_NAMES))}.",
            lambda: f"Drained {v()} litres of {self._pick(_FLUIDS)}.",
            lambda: f"Filled with {v()} litres, new {self._pick(_NAMES)} too.",
            lambda: f"Clocking on, {self._clock()}.",
            lambda: f"Clocking off at {self._clock()}.",
            lambda: f"Started at {self._clock()}, finished at {self._clock()}.",
            lambda: f"Paused at {self._clock()}, waiting for parts.",
            lambda: f"That's {self._hours()} on the {name()}.",
            lambda: f"Labour {self._hours()}.",
            lambda: f"{self._hours()} for the {name()}.",
            lambda: f"Scratch that, {v()} {u()}.",
            lambda: f"Correction, {self._code()}.",
            lambda: f"No, make that {v()}.",
            lambda: f"Supply at the {name()} {self._decimal()} volts, ground drop {self._decimal()} volts.",
            lambda: f"Left {v()}, right {v()} {u()}.",
            lambda: f"Rail pressure {n(200, 2200)} bar at {n(600, 2400)} R P M.",
            lambda: f"Cylinder {n(1, 6)} {v()} bar, cylinder {n(1, 6)} {v()} bar.",
            lambda: f"Insulation {v()} meg ohms, {self._limit()}.",
            lambda: f"Photo of the {name()}.",
            lambda: f"The {name()} is not replaced.",
            lambda: f"{name()} still to {self._pick(['fit', 'do', 'check', 'order'])}.",
            lambda: f"{name()} will need replacing at the next service.",
            lambda: f"{self._letters(self._pick([2, 3, 4]))}.",
            lambda: f"{self._part_number()}, {self._part_number()}, {self._part_number()}.",
        )

    def _angle(self) -> str:
        return self._pick(["", " plus ninety degrees", f" and angle {self._number(30, 180)}"])


def _unmarked(line: str) -> str:
    return line.replace(",", "").rstrip(".").lower()


def made_up(count: int, seed: int) -> Iterator[Session]:
    maker = Maker(seed)
    for number in range(count):
        yield f"made-{seed}-{number}", maker.session()


# --- general English ------------------------------------------------------------------------------

_FORTUNES = Path("/usr/share/games/fortunes")
_SAYINGS = (
    "wisdom platitudes work science education food computers people kids law medicine sports pets politics "
    "cookie linux tao miscellaneous definitions fortunes"
).split()


def general(count: int, seed: int) -> Iterator[Session]:
    """Sessions of ten sentences each, without digits, signs and abbreviations."""
    chance = random.Random(seed)
    sayings = [saying for name in _SAYINGS for saying in _sayings(_FORTUNES / name)]
    chance.shuffle(sayings)
    sentences = [s for saying in sayings for s in re.split(r"(?<=[.?!]) +", saying) if _sayable(s)]
    sentences = list(dict.fromkeys(sentences))
    chance.shuffle(sentences)
    for number in range(count):
        yield f"general-{number}", sentences[number * 10 : (number + 1) * 10]


_HANDBOOK = Path("/usr/share/doc/debian-handbook/html/en-US")


def prose(count: int) -> Iterator[Session]:
    """Sessions of ten sentences each, out of a handbook for people: likewise."""
    paragraphs = (
        re.sub(
            r"\s+", " ", re.sub(r"[“”]", "", html.unescape(re.sub(r"<[^>]+>", "", inner)).replace("’", "'"))
        )
        for page in sorted(_HANDBOOK.glob("*.html"))
        for inner in re.findall(r'<div class="para">(.*?)</div>', _without_code(page), flags=re.S)
    )
    found = (s.strip() for text in paragraphs for s in re.split(r"(?<=[.?!]) +", text))
    sentences = list(dict.fromkeys(s for s in found if _sayable(s) and _in_plain_words(s)))
    random.Random(5).shuffle(sentences)
    for number in range(min(count, len(sentences) // 10)):
        yield f"general-prose-{number}", sentences[number * 10 : (number + 1) * 10]


def _in_text(markup: str) -> str:
    text = html.unescape(re.sub(r"<[^>]+>", "", markup)).replace("’", "'")
    return re.sub(r"\s+", " ", re.sub(r"[“”]", "", text))


def _without_code(page: Path) -> str:
    text = page.read_text("utf-8", errors="ignore")
    return re.sub(r"<pre.*?</pre>|<code.*?</code>", " @@ ", text, flags=re.S)


def _in_plain_words(sentence: str) -> bool:
    words = sentence.split()
    return (
        sentence.isascii()
        and not re.search(r'[\d@<>\[\]{}|\\/*=_#~^():"&+]|--|\w\.\w|\b[a-z]+[A-Z]', sentence)
        and sum(word[0].isupper() for word in words[1:]) <= 1
        and max(map(len, words)) <= 14
    )


def _sayings(file: Path) -> Iterator[str]:
    for saying in file.read_text("utf-8", errors="ignore").split("\n%\n"):
        text = re.sub(r"\s+", " ", saying.split("\n\t\t--")[0])
        if text.isascii() and not re.search(r"[\d<>\[\]{}|\\/*=_#@~^]|--", text):
            yield re.sub(r'["()]', "", text).strip()


def _sayable(sentence: str) -> bool:
    return (
        4 <= len(sentence.split()) <= 24
        and sentence[0].isupper()
        and sentence[-1] in ".?!"
        and not re.search(r"\b[A-Z]{2,}\b", sentence)
    )
