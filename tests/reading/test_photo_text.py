"""What labels, plates and displays show is read by the grammar of speech."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from jobnotes.reading.photos.text import READ_FROM, read_writing
from jobnotes.record import Identity, Measurement, PhotoText


def written(text, x=0.1, y=0.1, w=0.3, h=0.05, *, sure=0.95, symbology=None) -> PhotoText:
    return PhotoText(text, sure, ((x, y), (x + w, y), (x + w, y + h), (x, y + h)), symbology)


def on_its_head(text: PhotoText) -> PhotoText:
    return PhotoText(text.text, text.confidence, (*text.corners[2:], *text.corners[:2]))


def values(*texts: PhotoText) -> list[tuple[str, str]]:
    return [(one.kind, one.value) for one in read_writing(texts)]


@pytest.mark.parametrize(
    ("text", "kind", "value"),
    [
        ("P/N 1 874 552", "part_number", "1874552"),
        ("P/N1874552", "part_number", "1874552"),
        ("Part No.: 206-G51", "part_number", "206-G51"),
        ("TEILE-NR. 1874552", "part_number", "1874552"),
        ("S/N: 000318", "serial", "000318"),
        ("ODO 203118 km", "odometer", "203118"),
        ("203118 km", "odometer", "203118"),
        ("HOURS 5540.5 h", "engine_hours", "5540.5"),
        ("REGISTRATION QQ00 TST", "registration", "QQ00TST"),
        ("SPN 102 FMI 18 OC 4", "fault_code", "SPN 102 FMI 18"),
        ("SPN: 102  FMI: 18", "fault_code", "SPN 102 FMI 18"),
        ("P0299 stored", "fault_code", "P0299"),
        ("U0100-87 ACTIVE", "fault_code", "U0100-87"),
        ("60.2 Ω", "measurement", "60.2"),
        ("24.6 V DC", "measurement", "24.6"),
        ("1 874 552", "bare", "1874552"),
    ],
)
def test_a_line_of_writing_is_read_as_it_would_be_said(text: str, kind: str, value: str) -> None:
    assert values(written(text)) == [(kind, value)]


def test_a_reading_has_its_unit() -> None:
    (one,) = read_writing([written("12.4 kΩ")])
    assert isinstance(one.detail, Measurement)
    assert (one.detail.unit, one.detail.quantity) == ("kOhm", "resistance")


@pytest.mark.parametrize(
    "text",
    [
        *("EUR 1 874 552", "Tel. 0123 456789", "12.04.2031", "03 / 2019", "10:42", "FRAGILE", "24V 70A"),
        *("MAX 24.6 V", "QTY 1200", "SPN 102", "P/N"),
    ],
)
def test_prices_days_ratings_and_halves_are_no_values(text: str) -> None:
    assert values(written(text)) == []


def test_a_name_goes_with_the_number_beside_it_or_below_it() -> None:
    assert values(written("P/N", w=0.05), written("1 874 552", 0.2)) == [("part_number", "1874552")]
    large = written("73K 290 56", 0.1, 0.16, 0.6, 0.14)
    assert values(written("PART NUMBER"), large) == [("part_number", "73K29056")]
    assert values(written("SPN 102", w=0.1), written("FMI 18", 0.3)) == [("fault_code", "SPN 102 FMI 18")]
    assert values(written("SPN FMI OC"), written("102 18 4", y=0.2)) == [("fault_code", "SPN 102 FMI 18")]
    assert values(written("60.2", h=0.2), written("Ω", 0.45, w=0.05)) == [("measurement", "60.2")]


def test_a_meter_is_read_once_though_its_name_and_its_unit_stand_apart() -> None:
    display = [written("TOTAL"), written("203118", y=0.16, h=0.08), written("km", 0.42, 0.19, 0.05, 0.04)]
    (one,) = read_writing(display)
    assert (one.kind, one.value, one.detail) == ("odometer", "203118", Identity("odometer", "203118", "km"))


def test_the_numbers_of_a_scale_are_no_reading() -> None:
    scale = [written(str(n), 0.1 * n, w=0.03) for n in range(0, 9, 2)]
    assert values(*scale, written("bar", 0.85, w=0.05)) == []


def test_a_number_read_on_its_head_is_left_out_where_letters_tell_which_way_is_up() -> None:
    assert values(written("TOTAL"), on_its_head(written("902816", y=0.2))) == []


# ISO 3779: no I, O or Q; the check digit and its worked example by 49 CFR 565.15(c), from memory
def test_a_vin_has_no_letters_that_look_like_figures() -> None:
    assert values(written("VIN 1M8GDM9AXKPO42788")) == [("vin", "1M8GDM9AXKP042788")]
    (one,) = read_writing([written("1M8GDM9AXKP042788")])
    assert (one.kind, one.named, one.doubts) == ("vin", True, ())
    (wrong,) = read_writing([written("VIN 1M8GDM9A1KP042788")])
    assert "check digit would be X" in wrong.doubts[0]


def test_a_barcode_says_by_its_data_identifier_what_it_is() -> None:
    (one,) = read_writing([written("1P1874552", symbology="Code 128")])
    assert (one.kind, one.value, one.barcode) == ("part_number", "1874552", True)
    (ean,) = read_writing([written("4012345678901", symbology="EAN-13")])
    assert (ean.kind, ean.named) == ("bare", False)


def test_what_was_hardly_read_is_not_read() -> None:
    assert values(written("P/N 1 874 552", sure=READ_FROM - 0.01)) == []


@settings(max_examples=150, deadline=None)
@given(
    st.lists(
        st.builds(
            PhotoText,
            st.text("0123456789PNSFMI/-.:Ωkm ßéſ²٣\n" + "x", max_size=25) | st.text(max_size=25),
            st.floats(0, 1),
            st.tuples(*[st.tuples(st.floats(0, 1), st.floats(0, 1))] * 4),
        ),
        max_size=6,
    )
)
def test_any_writing_anywhere_is_read_without_an_error(texts: list[PhotoText]) -> None:
    for one in read_writing(texts):
        assert one.value
        assert 0 <= one.confidence <= 1


@pytest.mark.parametrize("text", ["KMH 120", "RPM X 100", "QQ00 TST", "TYPE HS 290 K"])
def test_letters_and_digits_that_nothing_names_are_no_registration(text: str) -> None:
    assert [kind for kind, _ in values(written(text)) if kind == "registration"] == []
