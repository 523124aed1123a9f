"""Recorded human speech with published texts: the English prompts of a telephone exchange.

Source: Debian's packages asterisk-core-sounds-en-g722 (the recordings, one speaker, 16 kHz G.722) and
asterisk-core-sounds-en (their texts, core-sounds-en.txt), version 1.6.1-1.
"""

from __future__ import annotations

import gzip
import re
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from hearing_sounds import decoded
from num2words import num2words
from text_to_num import alpha2digit

from jobnotes.hearing import Samples

TEXTS = Path("/usr/share/doc/asterisk-core-sounds-en/core-sounds-en.txt.gz")
RECORDINGS = Path("/usr/share/asterisk/sounds/en")
FEWEST_WORDS = 4


@dataclass(frozen=True)
class Prompt:
    name: str
    text: str

    def samples(self) -> Samples:
        return decoded(RECORDINGS / f"{self.name}.g722", format="g722")


def installed() -> bool:
    return TEXTS.is_file() and any(RECORDINGS.glob("*.g722"))


def prompts() -> tuple[Prompt, ...]:
    """Those of four words and more that are words only: tones and remarks stand in brackets."""
    return tuple(_prompts())


def _prompts() -> Iterator[Prompt]:
    for line in gzip.decompress(TEXTS.read_bytes()).decode("utf-8", "replace").splitlines():
        name, colon, text = line.strip().partition(":")
        if line.startswith(";") or not colon or re.search(r"[\[\](<>]", text):
            continue
        if len(text.split()) >= FEWEST_WORDS and (RECORDINGS / f"{name}.g722").is_file():
            yield Prompt(name, text.strip())


def plain(text: str) -> str:
    """The same for both sides: lower case, no punctuation, signs as words, and each number digit by digit, as
    one recogniser writes "500" where another writes "five zero zero"."""
    text = unicodedata.normalize("NFKD", text).lower().replace("’", "'").replace("'", "")
    for sign, word in (("*", "star"), ("#", "pound"), ("%", "percent"), ("&", "and")):
        text = text.replace(sign, f" {word} ")
    text = re.sub(r"(?<=\d),(?=\d{3})", "", text)
    text = alpha2digit(re.sub(r"(?<=\d)\.(?=\d)", " point ", text), "en", 0)
    text = re.sub(r"\d", lambda digit: f" {num2words(int(digit[0]))} ", text)
    return " ".join(re.sub(r"[^a-z]+", " ", text).split())
