"""Trade knowledge: the TOML files of `jobnotes/data` and the workshop's own, checked and made ready to match.

A workshop's folder may hold files of the same names; their entries are added to the shipped ones. An error
names the file, where it is, and what to do.
"""

from __future__ import annotations

import contextlib
import gc
import hashlib
import tomllib
from collections.abc import Iterator
from functools import lru_cache
from importlib import resources
from pathlib import Path
from typing import Any

import pint

from jobnotes.errors import JobnotesError
from jobnotes.reading.trade.knowledge import Trade, convert
from jobnotes.reading.trade.tables import (
    Cues,
    check_top,
    cues_of,
    fault_texts_of,
    labels_of,
    misheard_of,
    ranges_of,
    spelling_of,
    things_of,
    units_of,
    verbs_of,
)

__all__ = ["FILES", "Trade", "convert", "load"]

FILES = ("units", "fault_texts", "spelling", "lexicon", "cues", "ranges", "misheard", "labels")


def load(folder: Path | None = None) -> Trade:
    """Read, check and index the trade's files; `folder` holds a workshop's additions.

    What was made of the same bytes before is given again. Raises JobnotesError that names the file and the
    entry.
    """
    if folder is None:
        return _made(None, ())
    _check_names(folder)
    return _made(folder, tuple(_own(folder / f"{name}.toml") for name in FILES))


@contextlib.contextmanager
def _uncollected() -> Iterator[None]:
    """Without the garbage collector: it would walk over all that is new again and again, which all stays."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()


@lru_cache(maxsize=4)
@_uncollected()
def _made(folder: Path | None, own: tuple[bytes | None, ...]) -> Trade:
    digest = hashlib.sha256()
    files: dict[str, list[tuple[str, dict[str, Any]]]] = {}
    for name, raw in zip(FILES, own or (None,) * len(FILES), strict=True):
        label, text, shipped = _shipped(name)
        files[name] = [(label, shipped)]
        digest.update(text)
        if folder is not None and raw is not None:
            label = str(folder / f"{name}.toml")
            files[name].append((label, _parsed(name, label, raw)))
            digest.update(raw)
        check_top(files[name])
    ureg = _registry()
    units = units_of(files["units"], ureg)
    faults = fault_texts_of(files["fault_texts"])
    spelling = spelling_of(files["spelling"])
    things = things_of(files["lexicon"])
    verbs = verbs_of(files["lexicon"])
    cues = cues_of(files["cues"]) if len(files["cues"]) > 1 else _shipped_cues()
    return Trade(
        units=units.units,
        unit_forms=units.forms,
        quantity_words=units.quantity_words,
        alike=units.alike,
        unnamed=units.unnamed,
        implied=units.implied,
        fmi=faults.fmi,
        dtc_system=faults.dtc_system,
        letters=spelling.letters,
        letters_misheard=spelling.letters_misheard,
        digits=spelling.digits,
        homophones=spelling.homophones,
        actions=verbs.actions,
        action_forms=verbs.action_forms,
        splits=verbs.splits,
        part_forms=verbs.part_forms,
        part_splits=verbs.part_splits,
        replaces=verbs.replaces,
        components=things.components,
        kind_of=things.kind_of,
        kinds=things.kinds,
        general=things.general,
        failures=things.failures,
        sound=things.sound,
        cue=cues.cue,
        words=cues.words,
        stop=cues.stop,
        determiners=cues.determiners,
        pronouns=cues.pronouns,
        conditions=cues.conditions,
        ranges=ranges_of(files["ranges"], units.units),
        misheard=misheard_of(files["misheard"]),
        opposite=cues.opposite,
        labels=labels_of(files["labels"]),
        sha256=digest.hexdigest(),
        ureg=ureg,
    )


@lru_cache(maxsize=1)
def _shipped_cues() -> Cues:
    """The phrases as shipped: most of the time of a load, and the same for workshops without their own."""
    label, _, data = _shipped("cues")
    return cues_of([(label, data)])


@lru_cache(maxsize=len(FILES))
def _shipped(name: str) -> tuple[str, bytes, dict[str, Any]]:
    """(label, text, what it holds) of the file as shipped. Not to be changed."""
    label = f"{name}.toml"
    text = (resources.files("jobnotes") / "data" / label).read_bytes()
    return label, text, _parsed(name, label, text)


def _own(path: Path) -> bytes | None:
    """The workshop's own file; None where there is none."""
    if not (path.exists() or path.is_symlink()):
        return None
    try:
        return path.read_bytes()
    except OSError as error:
        reason = f"can't be read ({error.strerror})"
        raise JobnotesError(str(path), reason, "give a file, and leave to read it") from None


def _parsed(name: str, label: str, text: bytes) -> dict[str, Any]:
    try:
        data = tomllib.loads(text.decode("utf-8"))
    except (ValueError, RecursionError) as error:
        # ValueError: wrong TOML, no UTF-8, and numbers of thousands of digits; RecursionError: [[[[[…
        raise JobnotesError(
            label, f"can't be read: {error}", "correct it as docs/trade-data.md shows"
        ) from None
    wanted = _format(name)
    if data.get("format") != wanted or data.get("version") != 1:
        raise JobnotesError(label, "has no format line", f'begin it with format = "{wanted}" and version = 1')
    return data


def _format(name: str) -> str:
    return f"jobnotes-{name.replace('_', '-')}"


def _check_names(folder: Path) -> None:
    """Refuses a file of trade data under a name that nothing reads: "lexikon.toml" would be without effect.

    Only the format line tells: a workshop's claim policies have names of its own.
    """
    wanted = {_format(name): f"{name}.toml" for name in FILES}
    for path in sorted(folder.glob("*.[tT][oO][mM][lL]")):
        if path.name in wanted.values():
            continue
        try:
            stated = tomllib.loads(path.read_text("utf-8")).get("format")
        except (OSError, ValueError, RecursionError):
            continue  # no file of ours, as far as can be told; if it is of another stage, that one says so
        if isinstance(stated, str) and stated in wanted:
            raise JobnotesError(
                str(path), f"{stated} is not read under this name", f"rename it to {wanted[stated]}"
            )


@lru_cache(maxsize=1)
def _registry() -> pint.UnitRegistry:
    return pint.UnitRegistry(non_int_type=float)
