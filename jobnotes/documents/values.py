"""Values of the record as people read them: quantities, limits, times, evidence, whole statements."""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import date as calendar_day
from datetime import datetime, timedelta, tzinfo
from decimal import Decimal, InvalidOperation

from babel import Locale, dates, numbers

from jobnotes import record as r
from jobnotes.documents.plaintext import sentence_case
from jobnotes.documents.wording import Wording

NBSP = "\u00a0"
MINUS = "\u2212"
_MOST_GROUPED_DIGITS = 20  # beyond them the library rounds


def number(value: Decimal, wording: Wording) -> str:
    """A decimal with the places that it has, and a true minus sign, which screen readers speak.

    It is not grouped: a clerk keys "312480".
    """
    point = numbers.get_decimal_symbol(wording.locale)
    return format(value, "f").replace(".", point).replace("-", MINUS)


def amount(value: Decimal, currency: str, wording: Wording) -> str:
    """An amount of money, grouped, with the places of its currency's minor unit (ISO 4217) or more: a
    price for one may have more. The currency stands beside it or above it; "" where it isn't known."""
    if not value.is_finite():
        return str(value)
    whole, _, rest = format(abs(value), "f").partition(".")
    rest = rest.ljust(numbers.get_currency_precision(currency) if currency else 0, "0")
    if len(whole) <= _MOST_GROUPED_DIGITS:
        whole = numbers.format_decimal(Decimal(whole), locale=wording.locale)
    point = numbers.get_decimal_symbol(wording.locale) if rest else ""
    return f"{MINUS if value < 0 else ''}{whole}{point}{rest}"


def money(value: Decimal, currency: str, wording: Wording) -> str:
    """An amount with its currency's code, which is never in doubt as a sign may be: "1,234.50 EUR"."""
    return f"{amount(value, currency, wording)}{NBSP}{currency}"


def percent(value: Decimal, wording: Wording) -> str:
    """A rate without idle noughts: "20 %"."""
    whole = value == value.to_integral_value()
    plain = value.to_integral_value() if whole else value.normalize()
    return f"{number(plain, wording)}{NBSP}%"


def unit_sign(unit: str | None, wording: Wording) -> str:
    """A UCUM code as people write it; an unknown code as it stands."""
    return wording.units.get(unit, unit) if unit else ""


def quantity(value: Decimal | str, unit: str | None, wording: Wording) -> str:
    """A value with its unit, kept on one line: "60.2 Ω"."""
    shown = number(value, wording) if isinstance(value, Decimal) else _as_said(value, unit, wording)
    sign = unit_sign(unit, wording)
    if not sign:
        return shown
    return f"{shown}{sign}" if sign in ("°", "′", "″") else f"{shown}{NBSP}{sign}"


def shown_field(fact: r.Fact, shown: r.Shown, wording: Wording) -> str:
    """What a photo shows of a fact: "part number", "odometer"."""
    return wording.name("shown", fact.kind if shown.field == "value" else shown.field)


def shown_value(fact: r.Fact, shown: r.Shown, wording: Wording) -> str:
    """What stands in the photo, as values are written, with its unit."""
    unit = getattr(fact.detail, "unit", None) if shown.field == "value" else None
    return quantity(shown.value, unit, wording)


def _as_said(value: str, unit: str | None, wording: Wording) -> str:
    """The text of an identity; one with a unit is a number, and is written like one."""
    try:
        return number(Decimal(value), wording) if unit and "." in value else value
    except InvalidOperation:
        return value


def limit(bounds: r.Limit, unit: str, wording: Wording) -> str:
    """A limit in words, with its source: "10 to 14 Ω (as stated)". Empty where it has no bound."""
    said: list[str] = []
    if bounds.min is not None and bounds.max is not None:
        both = wording.say(
            "form.range", min=number(bounds.min, wording), max=quantity(bounds.max, unit, wording)
        )
        said.append(both)
    elif bounds.max is not None:
        said.append(wording.say("form.at_most", max=quantity(bounds.max, unit, wording)))
    elif bounds.min is not None:
        said.append(wording.say("form.at_least", min=quantity(bounds.min, unit, wording)))
    if bounds.nominal is not None:
        said.append(wording.say("form.nominal", nominal=quantity(bounds.nominal, unit, wording)))
    text = ", ".join(said)
    if text and bounds.source:
        source = wording.say("form.limit_said") if bounds.source == "said" else bounds.source
        text = wording.say("form.limit_source", limit=text, source=source)
    return text


def pieces(value: Decimal | None, unit: str | None, wording: Wording) -> str:
    """How many or how much of a part; empty where it was not said."""
    return "" if value is None else quantity(value, unit, wording)


def minute_second(seconds: float) -> str:
    """Minutes and seconds into a recording, rounded down so that one starts to listen in time."""
    minutes, rest = divmod(int(seconds), 60)
    return f"{minutes}:{rest:02d}"


def date(day: calendar_day, wording: Wording) -> str:
    """A date in full, its month in the document's own language: "17 June 2031"."""
    return dates.format_date(day, "long", locale=_language(wording))


def clock_time(moment: datetime, wording: Wording, *, seconds: bool = False) -> str:
    """The time of day in the moment's own offset."""
    form = "medium" if seconds else "short"
    return dates.format_time(moment.time(), form, locale=_language(wording))


def _language(wording: Wording) -> Locale:
    """That of the words: numbers may be written as in another place."""
    return Locale.parse(wording.tag, sep="-")


def date_time(moment: datetime, wording: Wording) -> str:
    return wording.say("form.moment", date=date(moment, wording), time=clock_time(moment, wording))


def offset_name(moment: datetime, wording: Wording) -> str:
    """The offset from universal time: "UTC+01:00"."""
    offset = moment.utcoffset()
    if offset is None:
        return wording.say("form.no_offset")
    sign = "+" if offset >= timedelta(0) else "\u2212"
    minutes = abs(offset) // timedelta(minutes=1)
    return f"UTC{sign}{minutes // 60:02d}:{minutes % 60:02d}"


def shift(seconds: float, wording: Wording) -> str:
    """How far a clock was moved, with its sign: "−1 h", "+4 min 12 s"."""
    left = round(abs(seconds))
    parts = []
    for unit, length in (("d", 86_400), ("h", 3600), ("min", 60), ("s", 1)):
        count, left = divmod(left, length)
        if count:
            parts.append(quantity(Decimal(count), unit, wording))
    return ("+" if seconds >= 0 else MINUS) + (" ".join(parts) or quantity(Decimal(0), "s", wording))


def in_zone(moment: datetime, zone: tzinfo | None) -> datetime:
    return moment if zone is None or moment.tzinfo is None else moment.astimezone(zone)


def confidence(value: float, wording: Wording) -> str:
    """Two places, cut and not rounded: 0.999 must not read as certainty."""
    return number(Decimal(f"{int(value * 100 + 1e-9) / 100:.2f}"), wording)


def hours(value: Decimal, wording: Wording) -> str:
    return f"{number(value, wording)}{NBSP}h"


# --- whole statements ----------------------------------------------------------------------------


def statement(fact: r.Fact, wording: Wording) -> str:
    """One fact as one line of plain words, without its evidence and its standing."""
    detail = fact.detail
    match detail:
        case r.FaultCode():
            return listed(_code_parts(detail, wording))
        case r.Measurement():
            return listed(_measurement_parts(detail, wording))
        case r.Part():
            return listed(_part_parts(detail, wording))
        case r.Step():
            return step(detail, wording)
        case r.Statement():
            return wording.spoken(detail.text)
        case r.LabourSaid():
            if detail.operation:
                shown = number(detail.hours, wording)
                return wording.say(
                    "sentence.labour_of", hours=shown, operation=operation(detail.operation, wording)
                )
            return wording.say("sentence.labour", hours=number(detail.hours, wording))
        case r.Clock():
            action = wording.name("clock", detail.action)
            if detail.reason:
                return wording.say("sentence.clock_why", action=action, reason=wording.spoken(detail.reason))
            return action
        case r.Identity():
            return wording.say(
                "sentence.identity",
                kind=wording.name("kind", detail.kind),
                value=quantity(detail.value, detail.unit, wording),
            )
        case r.PhotoCue():
            if detail.subject:
                return wording.say("sentence.photo", subject=wording.spoken(detail.subject))
            return wording.say("sentence.photo_plain")


def step(detail: r.Step, wording: Wording) -> str:
    """A step with its count: "removed: 4 × air line"; a fluid's amount comes after it."""
    what = wording.spoken(detail.object)
    if detail.quantity is not None and not detail.unit:
        what = wording.say("form.times", quantity=number(detail.quantity, wording), name=what)
    elif detail.quantity is not None:
        what = f"{what}, {quantity(detail.quantity, detail.unit, wording)}"
    action = wording.name("step_action", detail.action)
    return wording.say("sentence.step", action=action, object=what)


def open_state(end: r.LooseEnd, wording: Wording) -> str:
    """How it is left, "open"; where that is in doubt, "perhaps open"."""
    name = wording.name("open_state", end.state)
    return name if end.doubt is None else wording.say("workshop.perhaps", state=name)


def _code_parts(code: r.FaultCode, wording: Wording) -> Iterable[str]:
    yield wording.say("sentence.fault_code", code=code.code)
    yield code_meaning(code, wording)
    yield wording.name("state", code.state) if code.state else ""
    if code.count is not None:
        yield wording.say("sentence.count_one" if code.count == 1 else "sentence.count", count=code.count)
    yield wording.say("sentence.ecu", ecu=wording.spoken(code.ecu)) if code.ecu else ""


def code_meaning(code: r.FaultCode, wording: Wording) -> str:
    """The failure mode in words, else the family of the code; empty where neither is known."""
    if code.fmi_text:
        return wording.name("failure_mode", code.fmi_text)
    return wording.name("system", code.system) if code.system else ""


def reading_name(measured: r.Measurement, wording: Wording) -> str:
    """What was measured, and where: "Resistance at CAN plug"; "Ride height left rear" says both."""
    return _at(_quantity_name(measured, wording), measured, wording)


def _at(text: str, measured: r.Measurement, wording: Wording) -> str:
    subject = measured.subject
    if not subject or subject.isspace():
        return text
    if _names_quantity(measured, wording):
        return sentence_case(wording.spoken(subject))
    if subject.split()[0].casefold() in wording.joins:
        return f"{text} {wording.spoken(subject)}"
    return wording.say("sentence.subject", text=text, subject=wording.spoken(subject))


def _quantity_name(measured: r.Measurement, wording: Wording) -> str:
    return sentence_case(wording.name("quantity", measured.quantity))


def conditions(measured: r.Measurement, wording: Wording) -> str:
    """Under which conditions it was measured: "ignition on, at 1500 rpm"."""
    return listed(_condition(text, wording) for text in measured.conditions)


_AT_A_VALUE = re.compile(r"(at|for|after|within) (-?\d+(?:\.\d+)?)(?: (\S+))?")


def _condition(text: str, wording: Wording) -> str:
    """A condition in words; one with a value has the unit's code from the reading: "at 1500 /min"."""
    told = _AT_A_VALUE.fullmatch(text)
    if told is None:
        return wording.name("measured", text)
    when, value, unit = told.groups()
    return wording.say(f"measured_when.{when}", value=quantity(Decimal(value), unit, wording))


_IN_COMMON = re.compile(r"(fault code|cause|component|part) (.+)", re.DOTALL)


def in_common(text: str, wording: Wording) -> str:
    """What an earlier job has in common with this one: "component air spring"."""
    told = _IN_COMMON.fullmatch(text)
    if told is None:
        return wording.spoken(text)
    kind, what = told.groups()
    return wording.say(f"in_common.{kind}", what=what if kind == "fault code" else wording.spoken(what))


def operation(name: str, wording: Wording) -> str:
    """What hours were worked on: what was said, or the program's own name for what wasn't."""
    return wording.name("operation", name)


def _names_quantity(measured: r.Measurement, wording: Wording) -> bool:
    """True where the subject says itself what was measured: "supply voltage", "ride height"."""
    words = re.findall(r"[^\W\d_]+", (measured.subject or "").casefold())
    own = measured.quantity.casefold()
    return not {own, *wording.quantity_words.get(own, ())}.isdisjoint(words)


def _measurement_parts(measured: r.Measurement, wording: Wording) -> Iterable[str]:
    value = quantity(measured.value, measured.unit, wording)
    if _names_quantity(measured, wording):
        name = sentence_case(wording.spoken(measured.subject or ""))
        yield wording.say("sentence.measurement", quantity=name, value=value)
    else:
        name = _quantity_name(measured, wording)
        yield _at(wording.say("sentence.measurement", quantity=name, value=value), measured, wording)
    yield conditions(measured, wording)
    bounds = limit(measured.limit, measured.unit, wording) if measured.limit else ""
    told = verdict(measured, wording)
    yield wording.say("sentence.limit", limit=bounds, verdict=told) if bounds else told


def verdict(measured: r.Measurement, wording: Wording) -> str:
    """Whether it is within its limit; beside a nominal value without a tolerance also what that rests on."""
    bounds = measured.limit
    alone = bounds is not None and bounds.min is None and bounds.max is None
    told = f"{measured.verdict} of nominal" if alone else measured.verdict
    return wording.name("verdict", told)


def _part_parts(part: r.Part, wording: Wording) -> Iterable[str]:
    name = wording.spoken(part.name)
    if part.quantity is not None and not part.unit:
        name = wording.say("form.times", quantity=number(part.quantity, wording), name=name)
    yield wording.say("sentence.part", action=wording.name("part_action", part.action), name=name)
    if part.unit:
        yield pieces(part.quantity, part.unit, wording)
    yield wording.say("sentence.number", number=part.number) if part.number else ""
    yield wording.say("sentence.serial", serial=part.serial) if part.serial else ""
    yield wording.name("condition", part.condition) if part.condition else ""


def listed(parts: Iterable[str]) -> str:
    return ", ".join(part for part in parts if part)
