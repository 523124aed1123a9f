"""`record.json`: the record as UTF-8 JSON in a stable order, and back."""

from __future__ import annotations

import json
from collections.abc import Sequence
from datetime import date, datetime
from decimal import Decimal
from pathlib import Path
from typing import Any, get_args

import cattrs

from jobnotes import durable
from jobnotes import record as r
from jobnotes.errors import JobnotesError

_DETAIL_OF: dict[str, type[r.Detail]] = {
    **{kind: cls for cls, kind in r._KIND_OF.items()},
    **dict.fromkeys(get_args(r.StatementKind), r.Statement),
    **dict.fromkeys(get_args(r.IdentityKind), r.Identity),
}
_FACT_KEYS = tuple(f for f in r.Fact.__dataclass_fields__ if f != "detail")


def _plain(value: Any) -> Any:
    """`value` as JSON types: no nulls, no empty optional lists, decimals and times as text."""
    if isinstance(value, r.Fact):
        head = {"id": value.id, "kind": value.kind}
        detail = _plain(value.detail)
        rest = {k: getattr(value, k) for k in _FACT_KEYS}
        # "photos" is in the contract for every fact of a recording, even when empty
        tail = {k: _plain(v) for k, v in rest.items() if v is not None and (v != () or k == "photos")}
        if value.note is None and value.source is None:
            tail.pop("photos", None)
        return {**head, **{k: v for k, v in detail.items() if k != "kind"}, **tail}
    if hasattr(value, "__dataclass_fields__"):
        items = ((k, getattr(value, k)) for k in value.__dataclass_fields__)
        return {k: _plain(v) for k, v in items if v is not None}
    if isinstance(value, tuple | list):
        return [_plain(v) for v in value]
    if isinstance(value, Decimal):
        return format(value, "f")
    if isinstance(value, date):  # a time of day too
        return value.isoformat()
    return value


def to_json(value: Any) -> Any:
    """A record, a fact or any part of one, as what `json.dumps` takes."""
    if isinstance(value, r.Record):
        plain = _plain(value)
        return {"format": plain.pop("format"), "version": plain.pop("version"), **plain}
    return _plain(value)


def dumps(value: Any) -> str:
    return json.dumps(to_json(value), ensure_ascii=False, indent=1) + "\n"


def _structure_fact(raw: dict[str, Any], _: type) -> r.Fact:
    detail_type = _DETAIL_OF[raw["kind"]]
    detail = _converter.structure({k: v for k, v in raw.items() if k in _fields(detail_type)}, detail_type)
    special = {
        "photos": tuple[str, ...],
        "repairs": tuple[r.Repair, ...],
        "shown": tuple[r.Shown, ...],
        "at": datetime,
        "decided_at": datetime,
    }
    rest = {
        k: _converter.structure(v, special[k]) if k in special else v
        for k, v in raw.items()
        if k in _FACT_KEYS
    }
    return r.Fact(detail=detail, **rest)


def _fields(cls: type[r.Detail]) -> frozenset[str]:
    return frozenset(cls.__dataclass_fields__)


_converter = cattrs.Converter()
_converter.register_structure_hook(Decimal, lambda v, _: Decimal(v))
_converter.register_structure_hook(datetime, lambda v, _: datetime.fromisoformat(v))
_converter.register_structure_hook(date, lambda v, _: date.fromisoformat(v))
_converter.register_structure_hook(r.Fact, _structure_fact)


def from_json(raw: Any) -> r.Record:
    """The record back from parsed JSON; raises JobnotesError when it is not one."""
    if not isinstance(raw, dict) or raw.get("format") != r.FORMAT or raw.get("version") != r.VERSION:
        raise JobnotesError(
            "record.json", f"not a jobnotes record, version {r.VERSION}", "make it again with jobnotes run"
        )
    try:
        return _converter.structure(raw, r.Record)
    except Exception as error:  # cattrs groups whatever went wrong; a reader needs one line
        raise JobnotesError("record.json", "damaged", "make it again with jobnotes run") from error


def facts_from_json(raw: Sequence[Any]) -> tuple[r.Fact, ...]:
    """Facts back from parsed JSON, without the rest of their record; raises JobnotesError as `from_json`."""
    return from_json({"format": r.FORMAT, "version": r.VERSION, "job": {}, "facts": list(raw)}).facts


def write(record: r.Record, path: Path) -> None:
    """Write beside, then rename: a reader never sees half a record."""
    write_text(path, dumps(record))


def write_text(path: Path, text: str) -> None:
    """As `write`, of text that is made already. OSError passes."""
    with durable.written(path) as file:
        file.write(text.encode("utf-8"))
