"""How a person writes a fact by hand: the fields of each kind, checked, to and from the record's details.

Pure. A number is digits with a point, so that no comma is taken for the wrong thing; a fault code is brought
to its canonical form; a verdict is worked out anew from value and limit.
"""

from __future__ import annotations

import functools
import re
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, Literal, cast, get_args, get_origin, get_type_hints

from jobnotes import record as r
from jobnotes.documents.wording import Wording
from jobnotes.reading.codes.j1939 import FMI_MAX, SPN_MAX
from jobnotes.reading.readings.verdicts import verdict_of
from jobnotes.reading.trade.files import Trade

Shape = Literal["text", "long", "number", "whole", "choice"]

MOST_TEXT = 4000
_MOST_LINE = 300

_NUMBER = re.compile(r"[-\u2212]?[0-9]{1,15}(?:\.[0-9]{1,9})?")
_SPN = re.compile(r"SPN\W*([0-9]{1,7})(?:[\W_]*FMI\W*([0-9]{1,3}))?", re.IGNORECASE)
#: SAE J2012, ISO 15031-6: a letter, a digit 0-3, three hexadecimal digits; a failure type byte behind it
_TROUBLE = re.compile(r"([PCBU][0-3][0-9A-F]{3})(?:[\s-]+([0-9A-F]{2}))?", re.IGNORECASE)
#: looks like a trouble code and is none
_NEARLY = re.compile(r"[PCBU][0-9A-F]{2,6}", re.IGNORECASE)
#: ISO 3779: seventeen characters, without I, O and Q
_VIN = re.compile(r"[A-HJ-NPR-Z0-9]{17}")


@dataclass(frozen=True, slots=True)
class Field:
    """One field of a form. `choices` are (value, what is shown); for a text they are suggestions."""

    name: str
    label: str
    shape: Shape = "text"
    needed: bool = False
    choices: tuple[tuple[str, str], ...] = ()
    hint: str = ""


class FormError(Exception):
    """What is wrong, by the name of the field."""

    def __init__(self, fields: dict[str, str]) -> None:
        self.fields = fields
        super().__init__("; ".join(f"{name}: {what}" for name, what in fields.items()))


KINDS: tuple[str, ...] = (
    "fault_code",
    "measurement",
    "part",
    "step",
    *get_args(r.StatementKind),
    "labour",
    "clock",
    *get_args(r.IdentityKind),
    "photo_cue",
)


def fields_of(kind: str, trade: Trade, wording: Wording) -> tuple[Field, ...]:
    """The fields of a kind of fact, in the order in which they are filled in. KeyError for no kind."""
    match kind:
        case "fault_code":
            return (
                Field(
                    "code", "Code", needed=True, hint="SPN 102 FMI 18, P0299, P2080-64, or the maker’s own"
                ),
                Field("state", "State", "choice", choices=_named(r.FaultCode, "state", "state", wording)),
                Field("count", "Times seen", "whole"),
                Field("ecu", "Control unit"),
            )
        case "measurement":
            quantities = sorted({unit.quantity for unit in trade.units.values()})
            return (
                Field(
                    "value", "Value", "number", needed=True, hint="Digits and a point, as it was read: 60.2"
                ),
                Field("unit", "Unit", "choice", needed=True, choices=_units(trade, wording)),
                Field("quantity", "What was measured", choices=tuple((q, q) for q in quantities)),
                Field("subject", "Where"),
                Field("conditions", "Conditions", "long", hint="One a line: ignition off"),
                Field("min", "Limit: at least", "number"),
                Field("max", "Limit: at most", "number"),
                Field("nominal", "Limit: nominal", "number"),
                Field("source", "Where the limit is from"),
            )
        case "part":
            return (
                Field("name", "Part", needed=True),
                Field("action", "What became of it", "choice", True, _actions(wording)),
                Field("quantity", "How many, how much", "number"),
                Field("unit", "Unit", "choice", choices=_units(trade, wording), hint="Only of an amount"),
                Field("number", "Part number"),
                Field("serial", "Serial number"),
                Field(
                    "condition",
                    "Condition",
                    "choice",
                    choices=_named(r.Part, "condition", "condition", wording),
                ),
            )
        case "step":
            done = sorted(trade.actions)
            return (
                Field("action", "What was done", needed=True, choices=tuple((a, a) for a in done)),
                Field("object", "To what", needed=True),
                Field("quantity", "How many, how much", "number"),
                Field("unit", "Unit", "choice", choices=_units(trade, wording), hint="Only of an amount"),
            )
        case "labour":
            return (
                Field("hours", "Hours", "number", needed=True, hint="One hour and a half: 1.5"),
                Field("operation", "For what"),
            )
        case "clock":
            return (
                Field("action", "Clock", "choice", True, _named(r.Clock, "action", "clock", wording)),
                Field("reason", "Reason"),
            )
        case "odometer":
            distances = tuple(
                (u, s) for u, s in _units(trade, wording) if trade.units[u].quantity == "distance"
            )
            own = distances or tuple((u, wording.units.get(u, u)) for u in ("km", "[mi_i]"))
            return (
                Field("value", "Value", "number", needed=True),
                Field("unit", "Unit", "choice", needed=True, choices=own),
            )
        case "engine_hours":
            return (Field("value", "Hours", "number", needed=True),)
        case "vin":
            return (
                Field(
                    "value",
                    "Vehicle identification number",
                    needed=True,
                    hint="17 characters, without I, O, Q",
                ),
            )
        case "job_number" | "registration":
            return (Field("value", wording.name("kind", kind), needed=True),)
        case "photo_cue":
            return (Field("subject", "What it shows"),)
        case kind if kind in get_args(r.StatementKind):
            return (
                Field("text", "Statement", "long", needed=True),
                Field("component", "Component"),
                Field("failure", "How it failed"),
            )
    raise KeyError(kind)


def values_of(detail: r.Detail) -> dict[str, str]:
    """What the fields of a form hold for this detail; those that hold nothing are left out."""
    match detail:
        case r.FaultCode(code=code, state=state, count=count, ecu=ecu):
            given: dict[str, object] = {"code": code, "state": state, "count": count, "ecu": ecu}
        case r.Measurement():
            limit = detail.limit or r.Limit()
            given = {
                "value": detail.value,
                "unit": detail.unit,
                "quantity": detail.quantity,
                "subject": detail.subject,
                "conditions": "\n".join(detail.conditions),
                "min": limit.min,
                "max": limit.max,
                "nominal": limit.nominal,
                "source": limit.source,
            }
        case _:
            given = {f: getattr(detail, f) for f in detail.__dataclass_fields__ if f != "kind"}
    return {name: _written(value) for name, value in given.items() if value not in (None, "")}


def detail_of(kind: str, values: Mapping[str, Any], trade: Trade) -> r.Detail:
    """The detail that was filled in. Raises FormError that names each field that is wrong."""
    form = _Form(values)
    detail: r.Detail
    match kind:
        case "fault_code":
            detail = _fault_code(form, trade)
        case "measurement":
            detail = _measurement(form, trade)
        case "part":
            name = form.text("name", needed=True)
            action = form.choice("action", r.Part, needed=True)
            quantity = form.number("quantity", above=True)
            unit = form.unit(trade, needed=False)
            number, serial = form.text("number"), form.text("serial")
            condition = form.choice("condition", r.Part)
            detail = r.Part(
                name or "", cast(Any, action), quantity, unit, number, serial, cast(Any, condition)
            )
        case "step":
            done, thing = form.text("action", needed=True), form.text("object", needed=True)
            quantity = form.number("quantity", above=True)
            detail = r.Step(done or "", thing or "", quantity, form.unit(trade, needed=False))
        case "labour":
            hours = form.number("hours", needed=True, above=True)
            detail = r.LabourSaid(hours or Decimal(0), form.text("operation"))
        case "clock":
            ticked = form.choice("action", r.Clock, needed=True)
            detail = r.Clock(cast(Any, ticked), form.text("reason"))
        case "photo_cue":
            detail = r.PhotoCue(form.text("subject"))
        case kind if kind in get_args(r.IdentityKind):
            detail = _identity(cast(r.IdentityKind, kind), form, trade)
        case kind if kind in get_args(r.StatementKind):
            text = form.text("text", needed=True, most=MOST_TEXT)
            component, failure = form.text("component"), form.text("failure")
            detail = r.Statement(cast(r.StatementKind, kind), text or "", component, failure)
        case _:
            raise FormError({"kind": "choose one"})
    form.check()
    return detail


def _fault_code(form: _Form, trade: Trade) -> r.FaultCode:
    said = form.text("code", needed=True) or ""
    state = cast(Any, form.choice("state", r.FaultCode))
    count, ecu = form.whole("count"), form.text("ecu")
    plain = r.FaultCode(said, "maker", state=state, count=count, ecu=ecu)
    if found := _SPN.fullmatch(said):
        spn, fmi = int(found[1]), int(found[2]) if found[2] else None
        if spn > SPN_MAX:
            form.wrong("code", f"an SPN is {SPN_MAX} at most (SAE J1939)")
        if fmi is not None and fmi > FMI_MAX:
            form.wrong("code", f"an FMI is {FMI_MAX} at most (SAE J1939)")
        code = f"SPN {spn}" if fmi is None else f"SPN {spn} FMI {fmi}"
        meaning = trade.fmi.get(fmi) if fmi is not None else None
        return r.FaultCode(code, "J1939", spn, fmi, meaning, state, count, ecu)
    if found := _TROUBLE.fullmatch(said):
        code = found[1].upper() + (f"-{found[2].upper()}" if found[2] else "")
        return r.FaultCode(code, trade.dtc_system.get(code[0]), state=state, count=count, ecu=ecu)
    if "SPN" in said.upper():
        form.wrong("code", "write it as SPN 102 FMI 18")
    elif _NEARLY.fullmatch(said):
        form.wrong("code", "a trouble code is a letter, a digit from 0 to 3 and three more: P0299")
    return plain


def _measurement(form: _Form, trade: Trade) -> r.Measurement:
    value = form.number("value", needed=True)
    unit = form.unit(trade, needed=True)
    quantity = form.text("quantity") or (trade.units[unit].quantity if unit else "")
    said = form.text("conditions", most=MOST_TEXT, lines=True) or ""
    conditions = tuple(line.strip() for line in said.split("\n") if line.strip())
    low, high, nominal = form.number("min"), form.number("max"), form.number("nominal")
    source = form.text("source")
    if low is not None and high is not None and low > high:
        form.wrong("max", "is below the least that is allowed")
    limit = None
    if low is not None or high is not None or nominal is not None:
        limit = r.Limit(low, high, nominal, source or "said")
    elif source and source != "said":
        form.wrong("source", "there is no limit that it could be of")
    value = value if value is not None else Decimal(0)
    verdict = "no limit given" if form.errors else verdict_of(value, limit)[0]
    return r.Measurement(
        value, unit or "", quantity, form.text("subject"), conditions, limit, cast(Any, verdict)
    )


def _identity(kind: r.IdentityKind, form: _Form, trade: Trade) -> r.Identity:
    match kind:
        case "odometer" | "engine_hours":
            value = form.number("value", needed=True, above=True)
            unit = form.unit(trade, needed=True) if kind == "odometer" else "h"
            return r.Identity(kind, _written(value or 0), unit)
        case "vin":
            vin = "".join((form.text("value", needed=True) or "").upper().split())
            if vin and not _VIN.fullmatch(vin):
                form.wrong("value", "17 letters and digits, without I, O and Q (ISO 3779)")
            return r.Identity(kind, vin)
        case _:
            return r.Identity(kind, form.text("value", needed=True) or "")


class _Form:
    """What was filled in; collects what is wrong with it."""

    def __init__(self, values: Mapping[str, Any]) -> None:
        self._values = values
        self.errors: dict[str, str] = {}

    def wrong(self, name: str, what: str) -> None:
        self.errors.setdefault(name, what)

    def check(self) -> None:
        if self.errors:
            raise FormError(self.errors)

    def text(
        self, name: str, *, needed: bool = False, most: int = _MOST_LINE, lines: bool = False
    ) -> str | None:
        given = self._values.get(name)
        if given is None:
            given = ""
        if not isinstance(given, str):
            self.wrong(name, "must be text")
            return None
        # a lone surrogate can't be stored, nor a control character printed
        given = given.encode("utf-8", "replace").decode("utf-8")
        kept = "".join(c if c.isprintable() or (c == "\n" and lines) else " " for c in given)
        plain = kept.strip() if lines else " ".join(kept.split())
        if len(plain) > max(most, 2000 if name in ("name", "object", "subject") else most):
            self.wrong(name, f"is too long: {most} characters at most")
        if needed and not plain:
            self.wrong(name, "is missing")
        return plain or None

    def number(self, name: str, *, needed: bool = False, above: bool = False) -> Decimal | None:
        said = self.text(name, needed=needed)
        if said is None:
            return None
        if not _NUMBER.fullmatch(said):
            self.wrong(name, "write digits, with a point before decimals: 60.2")
            return None
        value = Decimal(said.replace("\u2212", "-"))
        if above and value <= 0:
            self.wrong(name, "must be above 0")
        return value

    def whole(self, name: str) -> int | None:
        said = self.text(name)
        if said is None:
            return None
        if not re.fullmatch(r"[0-9]{1,9}", said):
            self.wrong(name, "write a whole number")
            return None
        return int(said)

    def choice(self, name: str, cls: type, *, needed: bool = False) -> str | None:
        said = self.text(name, needed=needed)
        if said is not None and said not in _allowed(cls, name):
            self.wrong(name, "choose one of the list")
        return said

    def unit(self, trade: Trade, *, needed: bool) -> str | None:
        said = self.text("unit", needed=needed)
        if said is not None and said not in trade.units:
            self.wrong("unit", "choose one of the list")
            return None
        return said


@functools.cache
def _allowed(cls: type, name: str) -> tuple[str, ...]:
    """What a field of the record may say that has only a few values."""
    hint = get_type_hints(cls)[name]
    return get_args(next((part for part in get_args(hint) if get_origin(part) is Literal), hint))


def _named(cls: type, name: str, table: str, wording: Wording) -> tuple[tuple[str, str], ...]:
    return tuple((value, wording.name(table, value)) for value in _allowed(cls, name))


def _actions(wording: Wording) -> tuple[tuple[str, str], ...]:
    return _named(r.Part, "action", "part_action", wording)


def _units(trade: Trade, wording: Wording) -> tuple[tuple[str, str], ...]:
    return tuple(
        (ucum, f"{wording.units.get(ucum, ucum)} ({unit.quantity})") for ucum, unit in trade.units.items()
    )


def _written(value: object) -> str:
    return format(value, "f") if isinstance(value, Decimal) else str(value)
