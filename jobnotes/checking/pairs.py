"""What undoes what: the trade knowledge that pairs a take-apart step with its put-back step.

The verbs and the kinds of components come from the lexicon, the rest from `data/pairing.toml`; the code
knows neither. A workshop's own folder may hold a `pairing.toml` whose entries are added.
"""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from decimal import Decimal, InvalidOperation
from functools import lru_cache
from importlib import resources
from pathlib import Path
from typing import Any

from jobnotes.errors import JobnotesError
from jobnotes.office.names import singular, words_of
from jobnotes.reading.trade import files as trade_data
from jobnotes.reading.trade.phrases import M, Phrases

SameObject = Callable[[str, str], bool]


def _knows_nothing(_: str) -> None:
    return None


def _sees_nothing(_: str) -> frozenset[str]:
    return frozenset()


@dataclass(frozen=True)
class Pairs:
    """What the check has to know of the trade.

    `opposites`: by action, the actions that undo it. `states`: by action that opens something, the state it
    leaves behind ("off", "open", "unplugged", "drained", "connected", "lost"). `same_object(a, b)`: may two
    names mean one thing? `kind_of(name)`: its kind, or None. `actions_in(text)`: the actions that a remark
    speaks of; `failures_in(text)`: how it says that things failed. `places` are the words that tell where
    something was lost. The other fields are the entries of `data/pairing.toml`, under the same names.
    """

    opposites: Mapping[str, frozenset[str]]
    states: Mapping[str, str]
    same_object: SameObject
    kind_of: Callable[[str], str | None] = _knows_nothing
    actions_in: Callable[[str], frozenset[str]] = _sees_nothing
    failures_in: Callable[[str], frozenset[str]] = _sees_nothing
    plugs: frozenset[str] = frozenset()
    unplugging: frozenset[str] = frozenset()
    everything: frozenset[str] = frozenset({"everything"})
    test_gear: frozenset[str] = frozenset()
    vehicle_too: frozenset[str] = frozenset()
    fasteners: frozenset[str] = frozenset()
    done_by_reading: Mapping[str, str] = field(default_factory=dict)
    lost_state: str = "lost"
    lost_words: frozenset[str] = frozenset()
    went: frozenset[str] = frozenset()
    places: frozenset[str] = frozenset()
    filled_share: Decimal = Decimal(1)
    little_words: frozenset[str] = frozenset()


@dataclass(frozen=True)
class Names:
    """Compares names of things by their head noun and the words that describe it.

    "the four air lines", "air line" and "air pipe at the tank" may be one thing if lines and pipes are of one
    interchangeable kind; "coolant hose" and "air hose" can't, as each says something that the other denies.
    """

    kind_of: Callable[[str], str | None] = _knows_nothing
    same_kind: frozenset[str] = frozenset()
    ignored: frozenset[str] = frozenset()
    name_ends: frozenset[str] = frozenset()

    def same(self, a: str, b: str) -> bool:
        (head_a, words_a), (head_b, words_b) = self._parts(a), self._parts(b)
        if not head_a or not head_b:
            return False
        if head_a != head_b:
            kind = self.kind_of(self._plain(a))
            if kind is None or kind not in self.same_kind or kind != self.kind_of(self._plain(b)):
                return False
        return words_a <= words_b or words_b <= words_a

    def _plain(self, name: str) -> str:
        """The name up to its head noun, singular, without what doesn't tell one thing from another."""
        words: list[str] = []
        for word in words_of(name):
            if word in self.name_ends and words:
                break
            if word not in self.ignored and not word.isdigit():
                words.append(singular(word))
        # "tyre front offside" is a tyre: the head is the last word that names a component
        known = [n for n, word in enumerate(words) if self.kind_of(word)]
        return " ".join(words[: known[-1] + 1] if known else words)

    def _parts(self, name: str) -> tuple[str, frozenset[str]]:
        plain = self._plain(name).split()
        if not plain:
            return "", frozenset()
        described = {
            singular(w)
            for w in words_of(name)
            if w not in self.ignored and w not in self.name_ends and not w.isdigit()
        }
        return plain[-1], frozenset(described - {plain[-1]})


def load(folder: Path | None = None) -> Pairs:
    """The pairs from the lexicon and pairing.toml; `folder` holds a workshop's additions to both.

    What was made of the same bytes before is given again. Raises JobnotesError that names file and entry.
    """
    return _made(folder, trade_data.load(folder).sha256, _own(folder))


@lru_cache(maxsize=4)
def _made(folder: Path | None, lexicon: str, own: bytes | None) -> Pairs:
    """`lexicon` is the digest of the trade data that the folder has now."""
    trade = trade_data.load(folder)
    data = _read(folder, own)

    def kind_of(name: str) -> str | None:
        words = [singular(w) for w in words_of(name)]
        # the longest known ending of the name, so that "air bag" isn't a bag of any sort
        for start in range(len(words)):
            if kind := trade.kind_of.get(" ".join(words[start:])):
                return kind
        return None

    def actions_in(text: str) -> frozenset[str]:
        return frozenset(name for name, _ in _meanings(trade.action_forms, text))

    def failures_in(text: str) -> frozenset[str]:
        return frozenset(_meanings(trade.failures, text))

    for action in {*data.undone_also, *frozenset().union(*data.undone_also.values())} - set(trade.actions):
        raise JobnotesError(
            "pairing.toml", f"undone_also: unknown action {action!r}", "name one of lexicon.toml"
        )
    names = Names(kind_of, data.same_kind, data.ignored, data.name_ends)
    opposites = {
        name: action.undone_by | data.undone_also.get(name, frozenset())
        for name, action in trade.actions.items()
        if action.undone_by
    }
    return Pairs(
        opposites=opposites,
        states={name: action.opens for name, action in trade.actions.items() if action.opens},
        same_object=names.same,
        kind_of=kind_of,
        actions_in=actions_in,
        failures_in=failures_in,
        plugs=data.plugs,
        unplugging=data.unplugging,
        everything=data.everything,
        test_gear=data.test_gear,
        vehicle_too=data.vehicle_too,
        fasteners=data.fasteners,
        done_by_reading=data.done_by_reading,
        lost_state=data.lost_state,
        lost_words=data.lost_words,
        went=data.went,
        places=frozenset(trade.words["lost_where"]),
        filled_share=data.filled_share,
        little_words=data.ignored | data.name_ends,
    )


def _meanings(phrases: Phrases[M], text: str) -> Iterator[M]:
    """What the phrases that stand in a text mean, the longest at each place."""
    words = text.casefold().replace("-", " ").replace(",", " ").replace(".", " ").split()
    position = 0
    while position < len(words):
        end, meanings = phrases.at(words, position)
        yield from meanings
        position = max(end, position + 1)


# --- data/pairing.toml ---------------------------------------------------------------------------

_FORMAT = 'begin the file with format = "jobnotes-pairing" and version = 1'
_LISTS = (
    "same_kind", "plugs", "unplugging", "test_gear", "vehicle_too", "fasteners", "ignored", "name_ends",
    "everything",
)  # fmt: skip
_LISTS_OF_LOSSES = ("words", "went")


@dataclass(frozen=True)
class _Data:
    same_kind: frozenset[str]
    plugs: frozenset[str]
    unplugging: frozenset[str]
    test_gear: frozenset[str]
    vehicle_too: frozenset[str]
    fasteners: frozenset[str]
    ignored: frozenset[str]
    name_ends: frozenset[str]
    everything: frozenset[str]
    undone_also: Mapping[str, frozenset[str]]
    done_by_reading: Mapping[str, str]
    lost_state: str
    lost_words: frozenset[str]
    went: frozenset[str]
    filled_share: Decimal


def _own(folder: Path | None) -> bytes | None:
    """The workshop's own pairing.toml; None where there is none."""
    own = folder / "pairing.toml" if folder is not None else None
    if own is None or not own.is_file():
        return None
    try:
        return own.read_bytes()
    except OSError as error:
        reason = f"can't be read ({error.strerror})"
        raise JobnotesError(str(own), reason, "give a file, and leave to read it") from None


def _read(folder: Path | None, own: bytes | None) -> _Data:
    texts = [("pairing.toml", (resources.files("jobnotes") / "data" / "pairing.toml").read_text("utf-8"))]
    if folder is not None and own is not None:
        label = str(folder / "pairing.toml")
        try:
            texts.append((label, own.decode("utf-8")))
        except UnicodeDecodeError:
            raise JobnotesError(label, "not UTF-8 text", "save it as UTF-8") from None
    lists: dict[str, set[str]] = {key: set() for key in _LISTS}
    undone: dict[str, frozenset[str]] = {}
    done: dict[str, str] = {}
    lost_state, share = "lost", Decimal(1)
    of_losses: dict[str, set[str]] = {key: set() for key in _LISTS_OF_LOSSES}
    for label, text in texts:
        data = _parsed(label, text)
        for key in _LISTS:
            lists[key].update(_phrases(label, key, data.get(key, [])))
        for action, by in _table(label, data, "undone_also").items():
            undone[action] = undone.get(action, frozenset()) | _phrases(label, f"undone_also.{action}", by)
        for quantity, action in _table(label, data, "done_by_reading").items():
            done[quantity] = _string(label, f"done_by_reading.{quantity}", action)
        lost = _table(label, data, "lost")
        lost_state = _string(label, "lost.state", lost.get("state", lost_state))
        for key in _LISTS_OF_LOSSES:
            of_losses[key] |= _phrases(label, f"lost.{key}", lost.get(key, []))
        share = _share(label, _table(label, data, "fluid").get("filled_share", str(share)))
    frozen = {key: frozenset(values) for key, values in lists.items()}
    return _Data(
        **frozen,
        undone_also=undone,
        done_by_reading=done,
        lost_state=lost_state,
        lost_words=frozenset(of_losses["words"]),
        went=frozenset(of_losses["went"]),
        filled_share=share,
    )


def _parsed(label: str, text: str) -> dict[str, Any]:
    try:
        data = tomllib.loads(text)
    except (ValueError, RecursionError) as error:  # also of a number of thousands of digits, and of [[[[[…
        raise JobnotesError(label, f"not TOML: {error}", "correct that line") from None
    if data.pop("format", None) != "jobnotes-pairing" or data.pop("version", None) != 1:
        raise JobnotesError(label, "not a pairing file, version 1", _FORMAT)
    if unknown := sorted(set(data) - {*_LISTS, "undone_also", "done_by_reading", "lost", "fluid"}):
        raise JobnotesError(label, f"unknown key {unknown[0]!r}", "take it out or correct its spelling")
    return data


def _table(label: str, data: Mapping[str, Any], key: str) -> Mapping[str, Any]:
    value = data.get(key, {})
    if not isinstance(value, dict):
        raise JobnotesError(label, f"{key} is not a table", f"write it as [{key}] with its keys below")
    return value


def _phrases(label: str, key: str, value: object) -> frozenset[str]:
    if not isinstance(value, list) or not all(isinstance(v, str) and v for v in value):
        raise JobnotesError(label, f"{key} is not a list of words", 'write it as ["one", "two"]')
    return frozenset(str(v).casefold() for v in value)


def _string(label: str, key: str, value: object) -> str:
    if not isinstance(value, str) or not value:
        raise JobnotesError(label, f"{key} is not a word", f'write it as {key} = "..."')
    return value


def _share(label: str, value: object) -> Decimal:
    try:
        share = Decimal(_string(label, "fluid.filled_share", value))
    except InvalidOperation:
        share = Decimal(-1)
    if not 0 <= share <= 1:
        raise JobnotesError(label, f"fluid.filled_share is {value}", 'write a share from "0" to "1"')
    return share
