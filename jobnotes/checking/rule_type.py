"""What every type of rule is, and what is wrong with one that makes no sense."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal
from typing import Protocol, get_args

from jobnotes.checking.case import Case
from jobnotes.record import _KIND_OF, IdentityKind, StatementKind

KINDS = frozenset({*_KIND_OF.values(), *get_args(StatementKind), *get_args(IdentityKind)})


class RuleType(Protocol):
    """A small frozen dataclass whose fields are what the policy file may set."""

    def unmet(self, case: Case) -> str | None:
        """None where the record has what is asked for, else the particulars of what it lacks, or ""."""


class BadRuleError(ValueError):
    """A rule that makes no sense: what is wrong, and what to write instead."""

    def __init__(self, reason: str, remedy: str) -> None:
        super().__init__(reason)
        self.reason, self.remedy = reason, remedy


def must_be_known(key: str, values: Iterable[str], known: frozenset[str]) -> None:
    for value in values:
        if value not in known:
            raise BadRuleError(f"{key}: unknown {value!r}", f"write one of {', '.join(sorted(known))}")


def must_be_positive(**bounds: Decimal | int | None) -> None:
    """Raises BadRuleError unless at least one is given, and each that is given is more than nothing."""
    for key, value in bounds.items():
        if value is not None and value <= 0:
            raise BadRuleError(f"{key} is {value}", f"write {key} as a number above 0")
    if all(value is None for value in bounds.values()):
        raise BadRuleError(
            f"none of {', '.join(bounds)} is given"
            if len(bounds) > 1
            else f"{next(iter(bounds))} is missing",
            f"add {next(iter(bounds))} = …",
        )
