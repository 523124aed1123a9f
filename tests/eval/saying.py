"""A written line as a technician says it: what is given to a synthetic voice.

Codes, letters and units are written in transcripts as no voice would read them ("P0299", "180 Nm",
"QI72 LOR"). Here they become words: letters of codes and abbreviations by name, letters of part numbers,
registrations and the like by the ICAO spelling alphabet (Annex 10 volume II, chapter 5, from memory), digits
of such numbers one by one, amounts as amounts. How people choose among these forms: common practice, no
source. Where there is more than one ("zero", "nought", "oh"), the line itself decides, so that the same line
is always said the same way.
"""

from __future__ import annotations

import re
import zlib

from num2words import num2words

_ICAO = dict(
    zip(
        "ABCDEFGHIJKLMNOPQRSTUVWXYZ",
        "alfa bravo charlie delta echo foxtrot golf hotel india juliett kilo lima mike november oscar papa "
        "quebec romeo sierra tango uniform victor whiskey x-ray yankee zulu".split(),
        strict=True,
    )
)
_DIGITS = "zero one two three four five six seven eight nine".split()
#: said as words; all other capitals of up to five letters are spelled
_WORDS = {"CAN": "can", "NOX": "nox", "OK": "okay", "AND": "and"}
_WRITTEN = {
    "p/n": "part number",
    "pn": "part number",
    "a/c": "A C",
    "+/-": "plus or minus",
    "&": "and",
    "no.": "number",
    "wo": "work order",
    "nsf": "near side front",
    "osf": "off side front",
    "nsr": "near side rear",
    "osr": "off side rear",
    "odo": "odometer",
    "1st": "first",
    "2nd": "second",
    "3rd": "third",
    "4th": "fourth",
    "5th": "fifth",
    "6th": "sixth",
}
_UNITS = {
    "nm": "newton metres", "km/h": "kilometres an hour", "km": "kilometres", "mm": "millimetres",
    "cm": "centimetres", "m": "metres", "kg": "kilograms", "g": "grams", "mg": "milligrams", "v": "volts",
    "mv": "millivolts", "a": "amps", "ma": "milliamps", "mω": "meg ohms", "kω": "kilo ohms", "ω": "ohms",
    "kohm": "kilo ohms", "kohms": "kilo ohms", "mohm": "meg ohms", "ohm": "ohms", "mbar": "millibar",
    "kpa": "kilopascals", "psi": "P S I", "rpm": "R P M", "hz": "hertz", "khz": "kilohertz", "n": "newtons",
    "kn": "kilonewtons", "%": "percent", "°c": "degrees celsius", "°f": "degrees fahrenheit", "°": "degrees",
    "ppm": "P P M", "l": "litres", "ml": "millilitres", "h": "hours", "hrs": "hours", "k": "K",
    "l/min": "litres a minute", "in": "in",
}  # fmt: skip
_CODE = re.compile(r"([PCBU])([0-3][0-9A-F]{3})(?:-([0-9A-F]{2}))?")
_AMOUNT = re.compile(r"-?\d{1,3}(?:,\d{3})+(?:\.\d+)?|-?\d+(?:\.\d+)?")
_CLOCK = re.compile(r"(\d{1,2}):(\d{2})")
#: what comes after these is spelled out, to the end of the phrase
_IDENTIFIER_CUES = re.compile(
    r"(?:part|serial|job|order|registration|plate|vin|chassis|number|numbers|frame|filter's|tensioner's)\b",
    re.IGNORECASE,
)
_BETWEEN = {"number", "numbers", "is", "none", "city", "the", "off", "on", "work", "and", "again", "of"}
_SPELLED = re.compile(r"(?=.*[0-9])[A-Za-z0-9]+(?:-[A-Za-z0-9]+)*")


def said(line: str) -> str:
    """`line` in words, with commas and full stops where it has them, and no digit left."""
    if line.isupper() and re.search(r"\b(?!SPN|FMI|ECU)[A-Z]{4,}", line):
        line = _shouted(line)
    line = line.replace("—", ", ").replace("–", " to ").replace("…", ".").replace("...", ",")
    line = re.sub(r"(\d{1,3}) (000)(?= ?(?:k|km|kilometres|miles)\b)", r"\1,\2", line)
    line = re.sub(r"(\d)(%|°[CF]?|[kMm]?Ω)", r"\1 \2", line)
    seed = zlib.crc32(line.encode())
    out: list[str] = []
    tokens = line.split()
    spelling = False
    for at, token in enumerate(tokens):
        body, end = _parted(token)
        after = _parted(tokens[at + 1])[0] if at + 1 < len(tokens) else ""
        before = _parted(tokens[at - 1])[0].casefold() if at else ""
        spelling = _still_spelling(spelling, body, before, after, tokens, at)
        out.append(_token(body, before, after, spelling, seed, bool(out)))
        if spelling and not end and len(body) > 1 and after[:1].isdigit() and len(after) > 1:
            end = ","  # a breath between two groups
        elif end:
            spelling = False
        if end:
            out[-1] = out[-1].removesuffix(end) + end
    return _letters(" ".join(w for w in out if w.strip(" ,.")))


def _shouted(line: str) -> str:
    """A line all in capitals, in small letters but for what is spelled anyway."""
    return " ".join(
        w
        if any(c.isdigit() for c in w) or w.strip(".,").casefold() in {"ecu", "pn", "spn", "fmi"}
        else w.lower()
        for w in line.split()
    )


def _parted(token: str) -> tuple[str, str]:
    """(the token, the mark that ends it); colons and dashes end as commas do, quotes fall away."""
    body = token.strip("\"'()[]")
    if body.casefold() in _WRITTEN:
        return body, ""
    match = re.fullmatch(r"(.*?)([.,;:?!]+)?", body)
    assert match is not None
    end = match[2] or ""
    mark = "?" if "?" in end else "." if "." in end or "!" in end else "," if end else ""
    return match[1], mark


def _still_spelling(spelling: bool, body: str, before: str, after: str, tokens: list[str], at: int) -> bool:
    """Whether `body` belongs to a number that is said digit by digit."""
    spelled = (
        bool(_SPELLED.fullmatch(body)) or bool(re.fullmatch(r"[A-Z]{1,3}", body)) or body in ("oh", "dash")
    )
    if not spelled:
        return False
    if spelling:
        return not _is_unit(after) or not re.fullmatch(r"\d{1,3}(?:\.\d+)?", body)
    for back in range(at - 1, max(-1, at - 5), -1):
        word = _parted(tokens[back])[0]
        if _IDENTIFIER_CUES.fullmatch(word) or word.casefold() in ("p/n", "pn", "wo", "no."):
            return True
        if word.casefold() not in _BETWEEN:
            return False
    return False


def _is_unit(word: str) -> bool:
    return word.casefold() in _UNITS or word.casefold() in set(_UNITS.values())


def _token(body: str, before: str, after: str, spelling: bool, seed: int, inside: bool) -> str:
    low = body.casefold()
    if low in _WRITTEN:
        return _WRITTEN[low]
    if code := _CODE.fullmatch(body):
        letter, digits, byte = code.groups()
        said_code = f"{letter} {_each(digits)}"
        return f"{said_code} dash {_each(byte)}" if byte else said_code
    if clock := _CLOCK.fullmatch(body):
        return _time(int(clock[1]), int(clock[2]))
    if spelling and body not in ("oh", "dash"):
        return _each(body, icao=True)
    if before == "spn" and body.isdigit():
        return _each(body)
    if re.fullmatch(r"0\d{3}", body) and before in ("at", "work", "around", "about"):
        return f"{'oh ' if body[1] != '0' else ''}{_time(int(body[:2]), int(body[2:]))}"
    if re.fullmatch(r"0\d+", body) or (re.fullmatch(r"\d{6,}", body) and "," not in body):
        return _each(body)
    if body.isdigit() and (re.fullmatch(r"\d{2,4}", after) and len(body) > 1 and after.isdigit()):
        return _each(body)
    if body.isdigit() and re.fullmatch(r"\d{2,4}", before) and len(body) > 1:
        return _each(body)
    if _AMOUNT.fullmatch(body):
        return _amount(body, seed)
    if (unit := re.fullmatch(r"(-?[\d.,]*\d)([A-Za-zΩ°%/]+)", body)) and unit[2].casefold() in _UNITS:
        return f"{_amount(unit[1], seed)} {_UNITS[unit[2].casefold()]}"
    if (
        inside
        and (_AMOUNT.fullmatch(before) or before == "half")
        and low in _UNITS
        and body not in ("in", "a")
    ):
        return _one(_UNITS[low]) if before in ("1", "-1") else _UNITS[low]
    if any(c.isdigit() for c in body):
        return _each(body, icao=True)
    if (body.isupper() and low.upper() in _WORDS) or low == "nox":
        return _WORDS[low.upper()]
    if re.fullmatch(r"[A-Z]{2,5}", body):
        return " ".join(body)
    return re.sub(r"(?<=\w)-(?=\w)", " ", body)


def _each(text: str, icao: bool = False) -> str:
    """Digits one by one, letters by name or by the spelling alphabet, a hyphen as "dash".

    What is long is said in groups, with a breath between them: pairs of threes, or fours.
    """
    out: list[str] = []
    group = 3 if len(text) in (6, 9) else 4
    for at, c in enumerate(text):
        if out and len(text) >= 6 and text.isalnum() and at % group == 0 and len(text) - at > 1:
            out[-1] += ","
        if c.isdigit():
            out.append(_DIGITS[int(c)])
        elif c.isalpha():
            out.append(_ICAO[c.upper()] if icao else c.upper())
        elif c == "-":
            out.append("dash")
    return " ".join(out)


def _time(hours: int, minutes: int) -> str:
    hour = num2words(hours).replace("-", " ") if hours else "zero"
    if not minutes:
        return f"{hour} o'clock" if 1 <= hours <= 12 else f"{hour} hundred"
    return f"{hour} {'oh ' if minutes < 10 else ''}{num2words(minutes).replace('-', ' ')}"


def _one(unit: str) -> str:
    """One of it."""
    first, *rest = unit.split(" ")
    return " ".join([first if len(first) == 1 else first.removesuffix("s"), *rest])


def _amount(text: str, seed: int) -> str:
    """A number as an amount: thousands, and decimals one by one."""
    text = text.replace(",", "")
    sign = "minus " if text.startswith("-") else ""
    whole, _, places = text.lstrip("-").partition(".")
    nought, inner = (("zero", "zero"), ("nought", "nought"), ("oh", "oh"), ("zero", "oh"))[seed % 4]
    if whole == "0" and places:
        said_whole = nought
    elif re.fullmatch(r"[1-9][1-9]00", whole) and not places:
        said_whole = f"{num2words(int(whole[:2])).replace('-', ' ')} hundred"
    else:
        said_whole = num2words(int(whole), lang="en_GB").replace(",", "").replace("-", " ")
    said_places = " ".join(inner if d == "0" else _DIGITS[int(d)] for d in places)
    return f"{sign}{said_whole}" + (f" point {said_places}" if places else "")


def _letters(line: str) -> str:
    """Single letters in a form that each voice reads by name: "A" would be read as the article."""
    tokens = line.split()
    bare = [t.strip(",.?'") for t in tokens]

    def letter(at: int) -> bool:
        return 0 <= at < len(bare) and len(bare[at]) == 1 and bare[at].isalpha()

    def certain(at: int) -> bool:
        return letter(at) and (bare[at] not in "aiI")

    out: list[str] = []
    for at, token in enumerate(tokens):
        if letter(at) and (certain(at) or certain(at - 1) or (certain(at + 1) and bare[at] != "a")):
            name = bare[at].upper()
            token = token.replace(bare[at], "eigh" if name == "A" else name)
        elif letter(at) and bare[at] == "a" and certain(at + 1) and letter(at + 2):
            token = token.replace("a", "eigh")
        out.append(token)
    return " ".join(out)
