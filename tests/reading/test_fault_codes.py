"""Fault codes as they are said, against the tables and bit fields of packages `obd` and `can-j1939`.

J1939: SPN 19 bits, FMI 5 bits, occurrence count 7 bits (SAE J1939-73); trouble codes: ISO 15031-6 and
SAE J2012; failure type byte: ISO 14229.
"""

from __future__ import annotations

import re
from datetime import UTC, datetime

import j1939
import pytest
from hypothesis import given
from hypothesis import strategies as st
from obd.codes import DTC
from reading_forms import DIGIT, ICAO, RADIO, TRADE, details, in_words, one, said, sure

from jobnotes.reading.read import read_notes, read_text
from jobnotes.record import FaultCode, Note, RecogniserStamp, Word

SPNS, FMIS = st.integers(0, 2**19 - 1), st.integers(0, 31)
SYSTEM = {"P": "powertrain", "C": "chassis", "B": "body", "U": "network"}
trouble_codes = st.builds(
    lambda letter, first, rest: f"{letter}{first}{rest}",
    st.sampled_from("PCBU"),
    st.sampled_from("0123"),
    st.text("0123456789ABCDEF", min_size=3, max_size=3),
)


def one_by_one(text: str, digit: dict[str, str] = DIGIT) -> str:
    return " ".join(ICAO.get(c) or digit[c] for c in text)


def test_the_table_it_is_checked_against_has_the_structure_of_the_standard() -> None:
    assert len(DTC) > 2_000
    assert all(re.fullmatch(r"[PCBU][0-3][0-9A-F]{3}", code) for code in DTC)


@pytest.mark.parametrize("part", range(4))
def test_every_code_of_the_table_is_read_as_itself(part: int) -> None:
    """One line a code: printed, digit by digit in words, by the radio alphabet."""
    for code in sorted(DTC)[part::4]:
        for words in (code, one_by_one(code), one_by_one(code, RADIO), f"{code[0]} {one_by_one(code[1:])}"):
            found = sure(words, FaultCode)
            assert (found.code, found.system) == (code, SYSTEM[code[0]]), words


@given(trouble_codes, st.sampled_from([DIGIT, RADIO]))
def test_a_trouble_code_of_any_system_comes_back(code: str, digit: dict[str, str]) -> None:
    assert sure(code, FaultCode).code == code
    assert sure(code.lower(), FaultCode).code == code
    found = sure(one_by_one(code, digit), FaultCode)
    assert (found.code, found.system) == (code, SYSTEM[code[0]])


@given(trouble_codes, st.text("0123456789ABCDEF", min_size=2, max_size=2))
def test_a_failure_type_byte_stays_with_its_code(code: str, byte: str) -> None:
    assert sure(f"{code}-{byte}", FaultCode).code == f"{code}-{byte}"
    assert sure(f"{one_by_one(code)} dash {one_by_one(byte)}", FaultCode).code == f"{code}-{byte}"
    assert sure(f"{one_by_one(code)} failure type {one_by_one(byte)}", FaultCode).code == f"{code}-{byte}"


@pytest.mark.parametrize("code", ["P4001", "U9999", "B5A00"])
def test_a_second_character_that_the_standard_lacks_makes_no_trouble_code(code: str) -> None:
    assert code not in [d.code for d in details(f"{code} is there", FaultCode)]


# --- J1939 -------------------------------------------------------------------------------------------


def ways(spn: int, fmi: int) -> list[str]:
    return [
        f"SPN {spn} FMI {fmi}",
        f"spn{spn} fmi{fmi}",
        f"SPN {spn}, FMI {in_words(fmi)}",
        f"S P N {one_by_one(str(spn))}, F M I {in_words(fmi)}",
        f"s p n {one_by_one(str(spn), RADIO)} f m i {one_by_one(str(fmi))}",
        f"SPN {spn}/{fmi}",
    ]


@given(SPNS, FMIS)
def test_spn_and_fmi_come_back_from_every_way_of_saying_them(spn: int, fmi: int) -> None:
    for words in ways(spn, fmi):
        found = sure(words, FaultCode)
        assert (found.spn, found.fmi, found.code) == (spn, fmi, f"SPN {spn} FMI {fmi}"), words
        assert found.fmi_text == TRADE.fmi[fmi]


@given(SPNS, FMIS, st.integers(1, 126))
def test_what_is_read_survives_the_bit_fields_of_the_bus(spn: int, fmi: int, count: int) -> None:
    found = sure(f"SPN {spn} FMI {fmi}, occurrence count {count}, active", FaultCode)
    assert (found.count, found.state) == (count, "active")
    packed = j1939.DTC(spn=found.spn, fmi=found.fmi, oc=found.count).dtc
    unpacked = j1939.DTC(dtc=packed)
    assert (unpacked.spn, unpacked.fmi, unpacked.oc) == (spn, fmi, count)


@given(st.integers(0, 2**32 - 1))
def test_any_code_from_the_bus_can_be_said_and_read(packed: int) -> None:
    bus = j1939.DTC(dtc=packed)
    found = sure(f"SPN {bus.spn} FMI {bus.fmi}", FaultCode)
    assert (found.spn, found.fmi) == (bus.spn, bus.fmi)


@given(st.integers(2**19, 10**9 - 1), FMIS)
def test_an_spn_of_more_than_19_bits_is_shown_for_checking(spn: int, fmi: int) -> None:
    fact, found = one(f"SPN {spn} FMI {fmi}", FaultCode)
    assert (fact.status, found.spn) == ("check", spn)
    assert fact.why is not None
    assert "bounds" in fact.why
    # the bus could not carry it either
    assert j1939.DTC(dtc=j1939.DTC(spn=spn, fmi=fmi).dtc).spn != spn


@given(SPNS, st.integers(32, 99))
def test_an_fmi_of_more_than_5_bits_is_shown_for_checking(spn: int, fmi: int) -> None:
    fact, _ = one(f"SPN {spn} FMI {fmi}", FaultCode)
    assert fact.status == "check"
    assert fact.why is not None
    assert "FMI" in fact.why


@pytest.mark.parametrize("longest", [10, 30, 5_000])
def test_a_number_of_absurd_length_is_never_sure(longest: int) -> None:
    for fact in said(f"SPN {'9' * longest} FMI 3"):
        assert fact.status == "check"


def test_each_failure_mode_has_its_text_and_no_other_number_has_one() -> None:
    assert set(TRADE.fmi) == set(range(32))
    assert all(TRADE.fmi[n].strip() for n in range(32))


@pytest.mark.parametrize(
    ("fmi", "words"),
    # SAE J1939-73, appendix A, from memory: the words that tell one mode from the next
    [
        (0, ("above", "most severe")),
        (1, ("below", "most severe")),
        (2, ("erratic",)),
        (3, ("voltage above",)),
        (4, ("voltage below",)),
        (5, ("current below",)),
        (6, ("current above",)),
        (7, ("mechanical",)),
        (8, ("frequency",)),
        (9, ("update rate",)),
        (10, ("rate of change",)),
        (11, ("not known",)),
        (12, ("intelligent",)),
        (13, ("calibration",)),
        (14, ("special",)),
        (15, ("above", "least severe")),
        (16, ("above", "moderately severe")),
        (17, ("below", "least severe")),
        (18, ("below", "moderately severe")),
        (19, ("network",)),
        (20, ("drifted high",)),
        (21, ("drifted low",)),
        (31, ("condition exists",)),
    ],
)
def test_the_text_of_a_failure_mode_says_what_the_standard_says(fmi: int, words: tuple[str, ...]) -> None:
    assert all(w in TRADE.fmi[fmi].casefold() for w in words), TRADE.fmi[fmi]


def test_the_same_spn_may_be_said_once_for_two_failure_modes() -> None:
    found = details("SPN 102 FMI 18, same SPN FMI two", FaultCode)
    assert [c.code for c in found] == ["SPN 102 FMI 18", "SPN 102 FMI 2"]


def test_several_codes_in_a_breath_share_the_state_said_for_both() -> None:
    found = details("two codes, SPN 102 FMI 18 and SPN 3251 FMI 2, both active", FaultCode)
    assert [(c.code, c.state) for c in found] == [("SPN 102 FMI 18", "active"), ("SPN 3251 FMI 2", "active")]


@pytest.mark.parametrize(
    ("text", "codes"),
    [
        ("FMI 5 on SPN 102", ["SPN 102 FMI 5"]),
        ("f m i five on s p n one oh two and fmi 2 for spn 111", ["SPN 102 FMI 5", "SPN 111 FMI 2"]),
        ("SPN 102 and SPN 105, both FMI 18", ["SPN 102 FMI 18", "SPN 105 FMI 18"]),
        ("SPN 102 FMI 18 and FMI 2", ["SPN 102 FMI 18", "SPN 102 FMI 2"]),
    ],
)
def test_spn_and_fmi_may_come_in_another_order(text: str, codes: list[str]) -> None:
    assert [c.code for c in details(text, FaultCode)] == codes


def test_an_fmi_heard_as_a_word_is_for_checking_and_says_what_it_could_be() -> None:
    fact, found = one("SPN 102 FMIA 18", FaultCode)
    assert (fact.status, found.code) == ("check", "SPN 102 FMI 18")
    assert fact.why is not None
    assert "FMIA" in fact.why
    assert [r.heard for r in fact.repairs] == ["FMIA"]


@pytest.mark.parametrize("heard", ["pop a", "pappa"])
def test_a_repaired_letter_of_a_code_is_for_checking(heard: str) -> None:
    fact, found = one(f"{heard} zero two nine nine", FaultCode)
    assert (fact.status, found.code) == ("check", "P0299")
    assert fact.repairs


@pytest.mark.parametrize(
    ("words", "state"),
    [
        ("P0299 active", "active"),
        ("P0299 is inactive", "inactive"),
        ("P0299 stored", "stored"),
        ("P0299 pending", "pending"),
        ("P0299 not active", "inactive"),
        ("P0299 did not return", "cleared"),
        ("P0299 cleared", "cleared"),
        ("P0299 came straight back", "active"),
    ],
)
def test_the_state_of_a_code_is_kept(words: str, state: str) -> None:
    assert sure(words, FaultCode).state == state


def test_a_code_that_was_cleared_and_returns_is_told_twice() -> None:
    found = details("P0299 active.\nP0299 cleared.\nP0299 came back.", FaultCode)
    assert [c.state for c in found] == ["active", "cleared", "active"]


def test_a_code_without_its_fmi_is_the_one_that_was_told_before() -> None:
    found = details("SPN 102 FMI 18 active\ncleared the codes\nSPN 102 came back", FaultCode)
    assert {c.code for c in found} == {"SPN 102 FMI 18"}


@pytest.mark.parametrize(
    ("words", "count"),
    [
        ("count three", 3),
        ("count of 3", 3),
        ("three times", 3),
        ("3 counts", 3),
        ("occurrence count 12", 12),
        ("twice", 2),
    ],
)
def test_how_often_a_code_came_is_kept(words: str, count: int) -> None:
    assert sure(f"SPN 102 FMI 18, {words}", FaultCode).count == count


@pytest.mark.parametrize(
    "words", ["fault code 4471 in the brake module", "error code 4471 from the brake module"]
)
def test_a_makers_own_number_is_kept_as_it_was_said_with_its_control_unit(words: str) -> None:
    found = sure(words, FaultCode)
    assert (found.code, found.ecu) == ("4471", "brake module")
    assert found.system == "maker"


def test_fall_code_is_a_fault_code_and_the_repair_is_recorded() -> None:
    fact, found = one("fall code 1234", FaultCode)
    assert found.code == "1234"
    assert [(r.heard, r.read_as) for r in fact.repairs] == [("fall code", "fault code")]


@pytest.mark.parametrize("words", ["no fault codes stored", "no codes", "there were no codes active"])
def test_no_codes_is_no_code(words: str) -> None:
    assert not details(words, FaultCode)


def test_that_codes_were_cleared_is_quoted_from_where_it_was_said_up_to_that_they_did_not_return() -> None:
    told = "Fault code P0299 active. Fitted one new sensor. Codes cleared. Road test, 12 kilometres. "
    *_, gone = [f for f in read_text(f"{told}Codes did not return.") if isinstance(f.detail, FaultCode)]
    assert gone.detail.state == "cleared"
    assert gone.quote == "Codes cleared. Road test, 12 kilometres. Codes did not return."


def test_private_words_between_two_sentences_about_codes_are_in_neither() -> None:
    told = (
        "Fault code P0299 active. Codes cleared. Off the record, what a mess that was. Codes did not return."
    )
    *_, gone = [f for f in read_text(told) if isinstance(f.detail, FaultCode)]
    assert (gone.quote, gone.audience) == ("Codes did not return.", "all")


def test_what_one_note_says_of_codes_is_quoted_from_that_note_alone() -> None:
    told = ("Fault code P0299 active. Fitted one new sensor. Codes cleared.", "Codes did not return.")
    *_, gone = [
        f for f in read_notes([note_of(n, text) for n, text in enumerate(told, 1)]) if f.kind == "fault_code"
    ]
    assert (gone.note, gone.quote, gone.start_s) == ("N2", "Codes did not return.", 0.0)


def note_of(number: int, text: str) -> Note:
    words = tuple(Word(word, 0.4 * n, 0.4 * n + 0.3, 0.95) for n, word in enumerate(text.split()))
    began = datetime(2031, 4, 7, 8, number, tzinfo=UTC)
    stamp = RecogniserStamp("none", "none", "0" * 64)
    return Note(f"N{number}", f"{number}.wav", f"{number}" * 64, began, "container", 60.0, stamp, text, words)


@pytest.mark.parametrize("counted", ["times", "counts", "occurrences"])
def test_a_failure_mode_that_may_end_before_how_often_it_came_is_to_be_checked(counted: str) -> None:
    (fact,) = [f for f in read_text(f"spn one one zero fmi twenty four {counted}") if f.kind == "fault_code"]
    assert fact.status == "check"
    assert "FMI 24, or FMI 20 4 times?" in (fact.why or "")


@pytest.mark.parametrize("told", ["fmi twenty four, four times", "fmi twenty four count four"])
def test_a_failure_mode_told_apart_from_how_often_it_came_is_sure(told: str) -> None:
    (fact,) = [f for f in read_text(f"spn 110 {told}") if f.kind == "fault_code"]
    assert fact.status == "sure"
    assert isinstance(fact.detail, FaultCode)
    assert (fact.detail.fmi, fact.detail.count) == (24, 4)


@pytest.mark.parametrize(
    ("told", "state"),
    [
        ("{} comes straight back when cleared", "active"),
        ("{} was active but now inactive", "inactive"),
        ("{} no longer active", "inactive"),
        ("{} not present now", "inactive"),
        ("{} dormant", "inactive"),
        ("code {} is clear now", "cleared"),
        ("never had {}", None),
        ("checked for {} nothing there", None),
    ],
)
@pytest.mark.parametrize("code", ["P0299", "SPN 102 FMI 18"])
def test_what_is_told_last_of_a_code_is_its_state(told: str, state: str | None, code: str) -> None:
    found = [(f.detail.code, f.detail.state) for f in read_text(told.format(code)) if f.kind == "fault_code"]
    assert found == ([] if state is None else [(code, state)])
