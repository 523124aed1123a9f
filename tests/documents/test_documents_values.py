"""How single values are written, checked against pint and against worked examples."""

from __future__ import annotations

import tomllib
from datetime import datetime, timedelta, timezone
from decimal import Decimal
from importlib import resources

import pint
import pytest
from babel.numbers import parse_decimal
from hypothesis import given
from hypothesis import strategies as st

from jobnotes import record as r
from jobnotes.documents import values, wording

EN = wording.load()
NBSP = "\u00a0"


@pytest.mark.parametrize(
    ("value", "unit", "shown"),
    [
        ("60.20", "Ohm", "60.20 Ω"),
        ("-5", "Cel", "\u22125 °C"),
        ("66", "N.m", "66 N·m"),
        ("120", "[psi]", "120 psi"),
        ("1500", "/min", "1500 rpm"),
        ("95", "%", "95 %"),
        ("45", "deg", "45°"),
        ("4", "1", "4"),
        ("4", None, "4"),
        ("3", "[fur_us]", "3 [fur_us]"),
    ],
)
def test_quantities_keep_their_places_and_get_the_sign_people_write(
    value: str, unit: str | None, shown: str
) -> None:
    assert values.quantity(Decimal(value), unit, EN).replace(NBSP, " ") == shown


def test_every_unit_that_can_be_heard_has_a_sign() -> None:
    heard = tomllib.loads((resources.files("jobnotes") / "data" / "units.toml").read_text("utf-8"))
    missing = [entry["ucum"] for entry in heard["unit"] if entry["ucum"] not in EN.units]
    assert missing == []


def test_the_sign_of_a_unit_means_what_its_code_means() -> None:
    """Against pint: the sign, read by pint, is the unit that units.toml gives for the UCUM code."""
    registry = pint.UnitRegistry(autoconvert_offset_to_baseunit=True)
    # pint takes "rpm" for an angle's speed and has no names for these
    unread = {"/min", "%", "[ppm]", "dB", "[in_i'H2O]", "m[H2O]", "[in_i'Hg]", "mm[Hg]"}
    spelt = {"Ω": "ohm", "US pt": "pint", "US qt": "quart", "US gal": "gallon", "imp pt": "imperial_pint"}
    spelt |= {"imp gal": "imperial_gallon", "h": "hour", "d": "day", "mph": "mph", "lbf·ft": "lbf*ft"}
    heard = tomllib.loads((resources.files("jobnotes") / "data" / "units.toml").read_text("utf-8"))
    compared = 0
    for entry in heard["unit"]:
        sign = EN.units[entry["ucum"]]
        if entry["ucum"] in unread or not sign or "pint" not in entry:
            continue
        read = registry.parse_units(spelt.get(sign, sign).replace("·", "*").replace("Ω", "ohm"))
        # a difference, so that degrees Celsius and Fahrenheit compare as scales
        step = registry.Quantity(2, read) - registry.Quantity(1, read)
        meant = registry.parse_units(entry["pint"])
        other = registry.Quantity(2, meant) - registry.Quantity(1, meant)
        assert step.to_base_units().magnitude == pytest.approx(other.to_base_units().magnitude), entry["ucum"]
        assert step.dimensionality == other.dimensionality, entry["ucum"]
        compared += 1
    assert compared > 20


@pytest.mark.parametrize(
    ("limit", "shown"),
    [
        (r.Limit(Decimal(10), Decimal(14)), "10 to 14 Ω"),
        (r.Limit(None, Decimal("0.5"), None, "said"), "at most 0.5 Ω (as stated)"),
        (r.Limit(Decimal("-0.2"), None), "at least \u22120.2 Ω"),
        (r.Limit(None, None, Decimal(60), "ISO 11898-2"), "nominal 60 Ω (ISO 11898-2)"),
        (r.Limit(Decimal(55), Decimal(65), Decimal(60)), "55 to 65 Ω, nominal 60 Ω"),
        (r.Limit(source="said"), ""),
    ],
)
def test_limits_say_which_way_they_bound(limit: r.Limit, shown: str) -> None:
    assert values.limit(limit, "Ohm", EN).replace(NBSP, " ") == shown


@given(st.floats(min_value=0, max_value=100_000))
def test_minutes_and_seconds_lead_to_just_before_the_words(seconds: float) -> None:
    minutes, rest = values.minute_second(seconds).split(":")
    assert len(rest) == 2
    assert int(rest) < 60
    assert 0 <= seconds - (int(minutes) * 60 + int(rest)) < 1


@given(st.floats(min_value=0, max_value=1))
def test_confidence_is_never_shown_higher_than_it_is(value: float) -> None:
    shown = Decimal(values.confidence(value, EN))
    assert shown <= Decimal(value) + Decimal("1e-9")
    assert Decimal(value) - shown < Decimal("0.010001")


@given(st.decimals(allow_nan=False, allow_infinity=False, min_value=-(10**9), max_value=10**9, places=3))
def test_a_number_is_read_back_as_it_was(value: Decimal) -> None:
    shown = values.number(value, EN)
    assert "-" not in shown
    back = Decimal(shown.replace("\u2212", "-"))
    assert back == value
    assert back.as_tuple().exponent == value.as_tuple().exponent


def test_a_time_carries_its_offset_from_universal_time() -> None:
    moment = datetime(2031, 1, 2, 3, 4, 5)
    for minutes, shown in ((0, "UTC+00:00"), (330, "UTC+05:30"), (-570, "UTC\u221209:30")):
        zoned = moment.replace(tzinfo=timezone(timedelta(minutes=minutes)))
        assert values.offset_name(zoned, EN) == shown
    assert values.date_time(moment, EN) == "2 January 2031, 03:04"


@pytest.mark.parametrize(
    ("amount", "currency", "locale", "shown"),
    [
        # minor units by ISO 4217: EUR 2, JPY 0, KWD 3; separators by the Unicode CLDR (from memory)
        ("1234.5", "EUR", "en", "1,234.50 EUR"),
        ("1234.5", "EUR", "de", "1.234,50 EUR"),
        ("1234.5", "CHF", "fr", "1\u202f234,50 CHF"),
        ("-1234567", "JPY", "en", "\u22121,234,567 JPY"),
        ("0.25", "KWD", "en", "0.250 KWD"),
        ("0.1825", "EUR", "de", "0,1825 EUR"),
        ("1234567.5", "INR", "en-IN", "12,34,567.50 INR"),
    ],
)
def test_money_has_the_places_of_its_currency_and_the_signs_of_its_place(
    amount: str, currency: str, locale: str, shown: str
) -> None:
    assert values.money(Decimal(amount), currency, wording.load(locale)).replace(NBSP, " ") == shown


@given(
    st.decimals(allow_nan=False, allow_infinity=False, min_value=-(10**12), max_value=10**12, places=2),
    st.sampled_from(["en", "de", "fr-CH", "sv", "en-IN", "pl"]),
)
def test_an_amount_is_read_back_to_the_last_place(value: Decimal, locale: str) -> None:
    loaded = wording.load(locale)
    shown = values.amount(value, "EUR", loaded).replace("\u2212", "-")
    assert parse_decimal(shown, locale=loaded.locale) == value


@pytest.mark.parametrize(
    ("locale", "date", "time"),
    [
        ("en", "17 June 2031", "08:02"),
        ("en-US", "June 17, 2031", "8:02\u202fAM"),
        ("de-CH", "17. Juni 2031", "08:02"),
        ("fr", "17 June 2031", "08:02"),
    ],
)
def test_dates_and_times_are_written_as_in_the_place(locale: str, date: str, time: str) -> None:
    loaded = wording.load(locale)
    moment = datetime(2031, 6, 17, 8, 2, 11, tzinfo=timezone(timedelta(hours=9)))
    assert values.date(moment, loaded) == date
    assert values.clock_time(moment, loaded) == time


def test_said_values_keep_their_places_in_any_locale() -> None:
    german = wording.load("de")
    assert values.quantity(Decimal("60.20"), "Ohm", german) == f"60,20{NBSP}Ω"
    assert values.quantity("312480.5", "km", german) == f"312480,5{NBSP}km"
    assert values.quantity("4820.5-B", None, german) == "4820.5-B"
    assert values.confidence(0.999, german) == "0,99"


@pytest.mark.parametrize(
    ("rate", "shown"), [("20", "20"), ("20.00", "20"), ("5.50", "5.5"), ("0", "0"), ("100", "100")]
)
def test_rates_are_without_idle_noughts(rate: str, shown: str) -> None:
    assert values.percent(Decimal(rate), EN) == f"{shown}{NBSP}%"


def test_what_may_be_loose_is_not_written_as_if_it_were() -> None:
    end = r.LooseEnd("drain valve still open", "F1", "open")
    doubtful = r.LooseEnd("drain valve still open", "F1", "open", (), "its putting back was not certain")
    assert values.open_state(end, EN) != values.open_state(doubtful, EN)
    assert "perhaps" in values.open_state(doubtful, EN)
