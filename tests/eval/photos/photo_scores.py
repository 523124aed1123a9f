"""Score the photo reader on the set that draw.py makes.

    python tests/eval/photos/photo_scores.py [dev|aside] [-v] [--processes N] [--keep FILE]

prints, of the photos with writing, how many of the drawn values were read, how many of the numbers that were
read stand nowhere, and how many barcodes were read as encoded; and in how many of the text-free photos
anything was read. A number is a word with two digits or more that aren't all zero; a value counts only whole.
Spaces don't matter, nor does the case of a letter; everything else does.
"""

from __future__ import annotations

import argparse
import json
import multiprocessing
import re
import sys
from collections import Counter
from collections.abc import Iterable
from dataclasses import asdict, dataclass
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

from draw import Drawn, drawn, names

from jobnotes.record import PhotoText
from jobnotes.seeing.label_reader import LabelReader


@dataclass(frozen=True)
class Judged:
    """One photo: the values that were read, missed, and the lines with a number that isn't there."""

    name: str
    kind: str
    spoilt: tuple[str, ...]
    read: tuple[str, ...]
    missed: tuple[str, ...]
    wrong: tuple[tuple[str, float], ...]
    lines: int
    codes: tuple[int, int, int]
    texts: tuple[tuple[str, float], ...]


def plain(text: str) -> str:
    return "".join(text.upper().split()).replace("—", "-").replace("–", "-").replace("Ω", "Ω")


def _is_number(word: str) -> bool:
    digits = [c for c in word if c.isdigit()]
    return len(digits) > 1 and any(c != "0" for c in digits)


def _stands(value: str, line: str) -> bool:
    """Whether the value stands in the line, in whole words; letters and signs may be stuck to it."""
    words = [plain(word) for word in line.split()]
    parts = ("".join(words[a:b]) for a in range(len(words)) for b in range(a + 1, len(words) + 1))
    return any(re.fullmatch(rf"[^0-9]*{re.escape(value)}[^0-9.,]*", part) for part in parts)


def judged(photo: Drawn, texts: Iterable[PhotoText]) -> Judged:
    written = [t for t in texts if t.symbology is None]
    codes = {(t.symbology, t.text) for t in texts if t.symbology}
    # whole words next to each other, over the end of a line too: that is what may be read
    words = [plain(word) for line in photo.lines for word in line.split()]
    there = {"".join(words[a:b]) for a in range(len(words)) for b in range(a + 1, len(words) + 1)}
    numbers = [(t, word) for t in written for word in t.text.split() if _is_number(word)]
    wrong = [(t.text, t.confidence) for t, word in numbers if plain(word) not in there]
    read = [v for v in photo.values if any(_stands(plain(v), t.text) for t in written)]
    missed = [v for v in photo.values if v not in read]
    true = set(photo.barcodes)
    return Judged(
        photo.name,
        photo.kind,
        photo.spoilt,
        tuple(read),
        tuple(missed),
        tuple(wrong),
        len(numbers),
        (len(true & codes), len(true), len(codes - true)),
        tuple((t.text, t.confidence) for t in written),
    )


_READER = LabelReader()


def look(name: str) -> Judged:
    photo = drawn(name)
    return judged(photo, _READER.see(photo.image).texts)


@dataclass(frozen=True)
class Score:
    """Over all photos of a part."""

    with_writing: tuple[Judged, ...]
    text_free: tuple[Judged, ...]

    @property
    def values(self) -> int:
        return sum(len(j.read) + len(j.missed) for j in self.with_writing)

    @property
    def read(self) -> int:
        return sum(len(j.read) for j in self.with_writing)

    @property
    def lines(self) -> int:
        return sum(j.lines for j in self.with_writing)

    @property
    def wrong(self) -> int:
        return sum(len(j.wrong) for j in self.with_writing)

    @property
    def codes(self) -> tuple[int, int, int]:
        """Barcodes read as encoded, encoded, and read otherwise."""
        kept = [j.codes for j in (*self.with_writing, *self.text_free)]
        return sum(k[0] for k in kept), sum(k[1] for k in kept), sum(k[2] for k in kept)

    @property
    def read_in_text_free(self) -> int:
        return sum(bool(j.texts) for j in self.text_free)


def score(part: str, processes: int = 1, some: slice = slice(None)) -> Score:
    groups = [group[some] for group in names(part)]
    if processes == 1:
        return Score(*(tuple(map(look, group)) for group in groups))
    with multiprocessing.get_context("spawn").Pool(processes) as pool:
        return Score(*(tuple(pool.imap(look, group)) for group in groups))


def _table(result: Score) -> str:
    codes = result.codes
    rows = [
        f"photos with writing: {len(result.with_writing)}, text-free: {len(result.text_free)}",
        f"values read: {result.read} of {result.values} ({result.read / result.values:.1%})",
        f"numbers that aren't there: {result.wrong} of {result.lines} "
        f"({result.wrong / max(1, result.lines):.1%})",
        f"barcodes read as encoded: {codes[0]} of {codes[1]}, otherwise: {codes[2]}",
        f"text-free photos in which anything was read: {result.read_in_text_free}",
        "",
    ]
    for about in ("kind", "spoilt"):
        all_of, read = Counter[str](), Counter[str]()
        for j in result.with_writing:
            for key in [j.kind] if about == "kind" else j.spoilt or ("unspoilt",):
                all_of[key] += len(j.read) + len(j.missed)
                read[key] += len(j.read)
        rows += [f"  {key:15s} {read[key]:4d} of {all_of[key]:4d}" for key in sorted(all_of)] + [""]
    return "\n".join(rows)


def main() -> None:
    arguments = argparse.ArgumentParser()
    arguments.add_argument("part", nargs="?", default="dev", choices=["dev", "aside"])
    arguments.add_argument("-v", action="store_true", help="each value that was missed, each wrong line")
    arguments.add_argument("--processes", type=int, default=2)
    arguments.add_argument("--first", type=int, help="only so many photos of each group")
    arguments.add_argument("--keep", type=Path, help="write what was read of each photo there, as JSON")
    given = arguments.parse_args()
    result = score(given.part, given.processes, slice(given.first))
    if given.v:
        for j in (*result.with_writing, *result.text_free):
            if (
                j.missed
                or j.wrong
                or j.codes[0] < j.codes[1]
                or j.codes[2]
                or (j in result.text_free and j.texts)
            ):
                print(
                    f"{j.name} {j.kind} {'+'.join(j.spoilt)}: missed {list(j.missed)}, wrong {list(j.wrong)},"
                )
                print(f"    barcodes {j.codes}, read {list(j.texts)}")
    if given.keep:
        whole = [asdict(j) for j in (*result.with_writing, *result.text_free)]
        given.keep.write_text(json.dumps(whole, indent=1), "utf-8")
    print(_table(result))


if __name__ == "__main__":
    main()
