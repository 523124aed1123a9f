"""The claim policy: what a payer asks for, as rules in a TOML file, and what a record lacks of it.

A workshop writes a policy of its own for a payer, with `include = ["default"]` (the one that ships) or the
name of another file beside it; a rule of the same id replaces the included one, and `drop` takes rules out.
The head of `data/claim_policy.toml` describes the file, `rules` what each type of rule may set.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import MISSING, dataclass, fields
from decimal import Decimal, InvalidOperation
from importlib import resources
from pathlib import Path
from typing import Any, Literal, TypeGuard, cast, get_args, get_type_hints

from jobnotes.checking.case import Case
from jobnotes.checking.particulars import OnlyHeard, Untold
from jobnotes.checking.rule_type import BadRuleError, RuleType
from jobnotes.checking.rules import CONDITIONS, NEEDS_VEHICLE, RULE_TYPES
from jobnotes.errors import JobnotesError
from jobnotes.record import ClaimGap, Fixable

FORMAT = "jobnotes-claim-policy"
VERSION = 1
DEFAULT = "default"

#: what a gap says of what was said but is in doubt, where its rule doesn't
HEARD = "Said, but it needs a look"
#: what one says of what nobody said, but a photo shows
READ = "Only read in a photo, and it needs a look"
# by whether it was heard, and whether it was read in a photo
_LOOK = {
    (True, False): "Listen to it",
    (False, True): "Look at the photo",
    (True, True): "Listen to it, look at the photo",
}
_THEN = "accept or correct it. If it can't be made out:"

Severity = Literal["refused", "queried", "nice"]
_WORST_FIRST: tuple[Severity, ...] = get_args(Severity)
#: until when a gap can be put right, the one that passes first at the head
SOONEST_FIRST: tuple[Fixable, ...] = get_args(Fixable)
_FILE_KEYS = frozenset({"format", "version", "include", "drop", "rule"})


@dataclass(frozen=True)
class Rule:
    """One thing that a claim must have.

    `missing` says what is missing, `why` why that matters, `remedy` what to say or photograph. `when`: the
    conditions under which it is asked for; all must hold. `severity`: without it the claim is refused,
    likely queried, or only better. `fixable`: until when it can be put right (see `record.ClaimGap`).
    `heard` says in place of `missing` that it was said, but is in doubt.
    """

    id: str
    severity: Severity
    missing: str
    why: str
    remedy: str
    asks: RuleType
    when: tuple[str, ...] = ()
    fixable: Fixable = "desk"
    heard: str = HEARD


@dataclass(frozen=True)
class Policy:
    """Rules in the order of their file, those of an included file first."""

    rules: tuple[Rule, ...]

    def rule(self, rule_id: str) -> Rule:
        """The rule with that id; KeyError if there is none."""
        for rule in self.rules:
            if rule.id == rule_id:
                return rule
        raise KeyError(rule_id)


def claim_gaps(case: Case, policy: Policy) -> tuple[ClaimGap, ...]:
    """What the policy asks for and the case's record lacks, the worst first; at most one gap for each rule.

    The record is taken as it is, so all but its gaps has to be filled in before.
    """
    gaps = []
    for rule in policy.rules:
        if all(CONDITIONS[name](case) for name in rule.when):
            lacks = rule.asks.unmet(case)
            if lacks is not None:
                missing, remedy, why = rule.missing, rule.remedy, f" {rule.why}"
                if isinstance(lacks, Untold):
                    missing, remedy, why = lacks.missing, lacks.remedy, ""
                said = f"{missing}: {lacks}" if lacks else missing
                if isinstance(lacks, OnlyHeard):
                    look = f"{_LOOK[lacks.heard, lacks.read]}, and {_THEN}"
                    remedy = f"{look} {remedy[:1].lower()}{remedy[1:]}"
                    besides = f"{missing}: {lacks.besides}. " if lacks.besides else ""
                    said = f"{besides}{rule.heard if lacks.heard else READ}: {lacks}"
                gaps.append(ClaimGap(rule.id, f"{said}.{why}", remedy, rule.severity, rule.fixable))
    return tuple(sorted(gaps, key=lambda gap: _WORST_FIRST.index(gap.severity)))


def while_there_is_time(gaps: Iterable[ClaimGap]) -> list[ClaimGap]:
    """Gaps in the order in which they can still be put right; of equals, the worst first."""
    return sorted(gaps, key=lambda g: (SOONEST_FIRST.index(g.fixable), _WORST_FIRST.index(g.severity)))


# --- reading the file ----------------------------------------------------------------------------


def load(path: Path | None = None) -> Policy:
    """The policy in that file, or the one that ships.

    Raises JobnotesError that names the file, the line, what is wrong there and what to write instead.
    """
    return Policy(tuple(_rules_of(_shipped() if path is None else _own(path), ()).values()))


@dataclass(frozen=True)
class _Source:
    label: str
    text: str
    folder: Path | None

    def error(self, reason: str, remedy: str, at: str | None = None) -> JobnotesError:
        """An error about the first line that begins with the expression `at`, if there is one."""
        found = re.search(rf"^[ \t]*{at}", self.text, re.MULTILINE) if at else None
        line = f", line {self.text.count(chr(10), 0, found.start()) + 1}" if found else ""
        return JobnotesError(f"{self.label}{line}", reason, remedy)


def _shipped() -> _Source:
    text = (resources.files("jobnotes") / "data" / "claim_policy.toml").read_text("utf-8")
    return _Source("claim_policy.toml", text, None)


def _own(path: Path) -> _Source:
    try:
        return _Source(str(path), path.read_text("utf-8"), path.parent)
    except FileNotFoundError:
        raise JobnotesError(
            str(path), "there is no such claim policy", "correct the name, or leave it out"
        ) from None
    except UnicodeDecodeError:
        raise JobnotesError(str(path), "not UTF-8 text", "save the claim policy as UTF-8") from None
    except OSError as error:
        reason = f"the claim policy can't be read ({error.strerror})"
        raise JobnotesError(str(path), reason, "give its TOML file, and leave to read it") from None


def _rules_of(source: _Source, within: tuple[str, ...]) -> dict[str, Rule]:
    try:
        data = tomllib.loads(source.text)
    except (ValueError, RecursionError) as error:
        # its message ends with "(at line 3, column 7)" or "(at end of document)"
        what, _, where = str(error).rpartition(" (at ")
        found = re.match(r"line (\d+)", where)
        line = int(found[1]) if found else len(source.text.splitlines())
        raise JobnotesError(
            f"{source.label}, line {line}", f"not TOML: {what or error}", "correct that line"
        ) from None
    if data.get("format") != FORMAT or data.get("version") != VERSION:
        remedy = f'begin the file with format = "{FORMAT}" and version = {VERSION}'
        raise source.error(f"not a claim policy, version {VERSION}", remedy)
    if unknown := sorted(set(data) - _FILE_KEYS):
        remedy = f"take it out, or write one of {', '.join(sorted(_FILE_KEYS))}"
        raise source.error(f"unknown key {unknown[0]!r}", remedy, rf"\[*{re.escape(unknown[0])}\b")

    rules: dict[str, Rule] = {}
    for name in _texts(source, data, "include"):
        included = _included(source, name)
        if included.label in within:
            raise source.error(f"it includes itself by way of {name}", "take that include out", "include")
        rules.update(_rules_of(included, (*within, source.label, included.label)))
    for rule_id in _texts(source, data, "drop"):
        if rule_id not in rules:
            raise source.error(f"drops the unknown rule {rule_id!r}", "name a rule that is included", "drop")
        del rules[rule_id]
    rows = data.get("rule", [])
    if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
        raise source.error("rule is not a list", "begin each rule with [[rule]]", r"\[?rule\b")
    own: set[str] = set()
    for row in rows:
        rule = _rule(source, row)
        if rule.id in own:
            raise source.error(
                f"rule {rule.id!r} stands there twice", "give each rule an id of its own", _id_line(rule.id)
            )
        own.add(rule.id)
        rules[rule.id] = rule
    return rules


def _included(source: _Source, name: str) -> _Source:
    if name == DEFAULT:
        return _shipped()
    if source.folder is None:
        raise source.error(f"includes {name!r}", f'only "{DEFAULT}" can be included here', "include")
    path = source.folder / name
    if not path.is_file():
        remedy = f'name a file beside it, or "{DEFAULT}"'
        raise source.error(f"includes {name!r}, which isn't there", remedy, "include")
    return _own(path)


def _rule(source: _Source, row: Mapping[str, Any]) -> Rule:
    rule_id = row.get("id")
    if not isinstance(rule_id, str) or not rule_id:
        raise source.error(
            "a rule has no id", 'add id = "…" to each [[rule]]', r"\[\[rule\]\](?!\s*\n[ \t]*id\b)"
        )
    here = _id_line(rule_id)

    def wrong(reason: str, remedy: str) -> JobnotesError:
        return source.error(f"rule {rule_id!r}: {reason}", remedy, here)

    said = {}
    for key in ("type", "severity", "missing", "why", "remedy"):
        value = row.get(key)
        if not isinstance(value, str) or not value.strip():
            raise wrong(f"{key} is missing", f'add {key} = "…"')
        said[key] = value.strip()
    if said["type"] not in RULE_TYPES:
        raise wrong(f"unknown type {said['type']!r}", f"write one of {', '.join(RULE_TYPES)}")
    if said["severity"] not in _WORST_FIRST:
        raise wrong(f"unknown severity {said['severity']!r}", f"write one of {', '.join(_WORST_FIRST)}")
    when = _list(row.get("when", []))
    if when is None or any(name not in CONDITIONS for name in when):
        raise wrong(
            f"unknown condition in when = {row['when']!r}", f"write a list of {', '.join(CONDITIONS)}"
        )
    rule_type = RULE_TYPES[said["type"]]
    fixable = row.get("fixable", "here" if rule_type in NEEDS_VEHICLE else "desk")
    if fixable not in SOONEST_FIRST:
        raise wrong(f"unknown fixable {fixable!r}", f"write one of {', '.join(SOONEST_FIRST)}")
    heard = row.get("heard", HEARD)
    if not isinstance(heard, str) or not heard.strip():
        raise wrong("heard is no text", 'write heard = "…"')
    params = {k: v for k, v in row.items() if k not in ("id", "when", "fixable", "heard", *said)}
    try:
        asks = _filled(rule_type, params)
    except BadRuleError as error:
        raise wrong(error.reason, error.remedy) from None
    return Rule(
        id=rule_id,
        severity=said["severity"],
        missing=said["missing"].rstrip("."),
        why=said["why"],
        remedy=said["remedy"],
        asks=asks,
        when=when,
        fixable=fixable,
        heard=heard.strip().rstrip("."),
    )


def _filled(rule_type: type[RuleType], params: Mapping[str, Any]) -> RuleType:
    """A rule of that type with its fields from the file, each checked against the type of the field."""
    hints = get_type_hints(rule_type)
    known = {f.name: f for f in fields(cast(Any, rule_type))}
    for name in params:
        if name not in known:
            may = f"it may have {', '.join(known)}" if known else "this type takes no keys of its own"
            raise BadRuleError(f"unknown key {name!r}", f"take it out; {may}")
    values = {name: _value(name, hints[name], value) for name, value in params.items()}
    try:
        return rule_type(**values)
    except TypeError:
        required = [n for n in known if n not in values and n in _required(rule_type)]
        raise BadRuleError(f"{required[0]} is missing", f"add {required[0]} = …") from None


def _required(rule_type: type[RuleType]) -> set[str]:
    return {
        f.name for f in fields(cast(Any, rule_type)) if f.default is MISSING and f.default_factory is MISSING
    }


def _value(name: str, hint: object, value: Any) -> object:
    if hint is bool:
        if isinstance(value, bool):
            return value
        raise BadRuleError(f"{name} is neither true nor false", f"write {name} = true")
    if hint is str:
        if isinstance(value, str):
            return value
        raise BadRuleError(f"{name} is not a word", f'write {name} = "…"')
    if hint in (int, int | None):
        if isinstance(value, int) and not isinstance(value, bool):
            return value
        raise BadRuleError(f"{name} is not a whole number", f"write it without quotes, as in {name} = 24")
    if hint in (Decimal, Decimal | None):
        try:
            number = Decimal(value) if isinstance(value, str | int) and not isinstance(value, bool) else None
        except InvalidOperation:
            number = None
        if number is None or not number.is_finite():
            raise BadRuleError(
                f"{name} is not a number", f'write its digits in quotes, as in {name} = "250000"'
            )
        if isinstance(value, str) and re.fullmatch(r"[1-9][0-9]{0,2}\.[0-9]{3}", value.strip()):
            plain = value.strip().replace(".", "")
            raise BadRuleError(
                f"{name} = {value!r} may mean {plain}", f'write {name} = "{plain}", or with other places'
            )
        return number
    if hint == tuple[str, ...]:
        words = _list(value)
        if words is None:
            raise BadRuleError(f"{name} is not a list of words", f'write {name} = ["one", "two"]')
        return words
    if hint == tuple[int, ...]:
        if not _are_numbers(value):
            raise BadRuleError(f"{name} is not a list of whole numbers", f"write {name} = [3, 4]")
        return tuple(value)
    if isinstance(value, dict) and all(_are_numbers(v) for v in value.values()):
        return {key: tuple(numbers) for key, numbers in value.items()}
    raise BadRuleError(f"{name} is not a table of lists of numbers", f"write {name} = {{ worn = [7] }}")


def _are_numbers(value: object) -> TypeGuard[list[int]]:
    return isinstance(value, list) and all(isinstance(n, int) for n in value)


def _texts(source: _Source, data: Mapping[str, Any], key: str) -> tuple[str, ...]:
    words = _list(data.get(key, []))
    if words is None:
        raise source.error(f"{key} is not a list of names", f'write {key} = ["one", "two"]', key)
    return words


def _list(value: object) -> tuple[str, ...] | None:
    if not isinstance(value, list) or not all(isinstance(v, str) and v for v in value):
        return None
    return tuple(str(v) for v in value)


def _id_line(rule_id: str) -> str:
    return rf"""id\s*=\s*["']{re.escape(rule_id)}["']"""
