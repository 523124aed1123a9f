"""Files under a name that nothing reads: "prices.csv.txt" would be without effect, and nobody would know."""

from __future__ import annotations

import re
from collections.abc import Sequence
from difflib import SequenceMatcher
from pathlib import Path, PurePath

from jobnotes.errors import JobnotesError

# what a text editor or a browser adds to a name; file managers hide it
_ADDED = (".txt", ".csv", ".toml")
_SHEETS = frozenset({".xlsx", ".xlsm", ".xls", ".ods", ".numbers"})
_TEXTS = frozenset({"", ".txt", ".tsv", ".csv", ".toml"})
# of lock files and the like
_HIDDEN = (".", "~")
# "labor rates" for "labour_rates", "price" for "prices"
_CLOSE = 0.85
# the line that tells a file's format stands at its beginning
_HEAD_BYTES = 4096


def refuse_misnamed(folder: Path, names: Sequence[str], *, spelt: Sequence[str] = ()) -> None:
    """Raises JobnotesError for a file in `folder` that seems to be meant as one of `names` or `spelt`.

    Of `names` another case and an ending too many tell; of `spelt` too, while no file has the right name,
    another spelling and the ending of another program.
    """
    if not folder.is_dir():
        return
    for path in sorted(folder.iterdir()):
        if path.name in (*names, *spelt) or path.name.startswith(_HIDDEN) or not path.is_file():
            continue
        for wanted in (*spelt, *names):
            right = folder / wanted
            there = right.exists()
            if there and right.samefile(path):  # where upper and lower case are one
                continue
            plain = path.name.casefold()
            if plain == wanted or plain.removeprefix(wanted) in _ADDED:
                raise _refusal(path, wanted, there)
            if wanted in spelt and not there and _alike(plain, wanted):
                raise _refusal(path, wanted, there)


def refuse_format_elsewhere(folder: Path, form: str, wanted: str) -> None:
    """Raises JobnotesError for a file that states the format `form` while there is none called `wanted`."""
    if not folder.is_dir() or (folder / wanted).exists():
        return
    line = re.compile(rb"^\s*format\s*=\s*[\"']" + re.escape(form.encode()) + rb"[\"']", re.MULTILINE)
    for path in sorted(folder.iterdir()):
        if path.suffix.casefold() not in (".toml", ".txt") or not path.is_file():
            continue
        try:
            with path.open("rb") as file:
                head = file.read(_HEAD_BYTES)
        except OSError:
            continue
        if line.search(head.removeprefix(b"\xef\xbb\xbf")):
            raise _refusal(path, wanted, there=False)


def _alike(plain: str, wanted: str) -> bool:
    """May a lower-case name be meant for `wanted`? "prices 2031.csv", "labor-rates.csv", "prices.xlsx"."""
    name, right = PurePath(plain), PurePath(wanted)
    if name.suffix not in _SHEETS | _TEXTS or (name.suffix in _SHEETS and right.suffix != ".csv"):
        return False
    of_name, of_right = (re.sub(r"[^a-z]|copy", "", stem) for stem in (name.stem, right.stem))
    if of_name == of_right:
        return True
    return name.suffix == right.suffix and SequenceMatcher(None, of_name, of_right).ratio() >= _CLOSE


def _refusal(path: Path, wanted: str, there: bool) -> JobnotesError:
    if there:
        return JobnotesError(
            str(path), "is not read under this name", f"keep either it or {wanted}, under the name {wanted}"
        )
    if path.suffix.casefold() in _SHEETS:
        return JobnotesError(str(path), "is not read: it is no CSV", f"save it as CSV in UTF-8, as {wanted}")
    return JobnotesError(str(path), "is not read under this name", f"rename it to {wanted}")
