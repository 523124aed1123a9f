"""A photo that shows what was said confirms it, one that shows something else makes it doubtful."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest

from jobnotes.library.decisions import Decision
from jobnotes.linking.confirming import HIGHEST, settled, slips
from jobnotes.linking.photos import link
from jobnotes.pipeline import confirmed
from jobnotes.reading.doubt.confidence import only_of_hearing
from jobnotes.reading.read import read_notes
from jobnotes.reading.trade.files import load
from jobnotes.record import (
    Fact,
    FaultCode,
    Identity,
    Job,
    Measurement,
    Note,
    Part,
    Photo,
    PhotoCue,
    PhotoText,
    RecogniserStamp,
    Record,
    Sight,
    Word,
)

START = datetime(2031, 3, 4, 8, 0, tzinfo=UTC)
STAMP = RecogniserStamp("none", "none", "0" * 64)
NOTE = Note("N1", "n.wav", "0" * 64, START, "bext", 3600.0, STAMP, "", ())


def said(detail, second=10.0, *, status="sure", why=None, confidence=0.9, name="F1") -> Fact:
    at = START + timedelta(seconds=second)
    return Fact(
        name, detail, "as heard", confidence, status, why, "N1", start_s=second, end_s=second + 2, at=at
    )


def cue(second, name="C1") -> Fact:
    return said(PhotoCue(None), second, name=name)


def photo(*texts, second=14.0, name="P1", sure=0.96) -> Photo:
    seen = tuple(
        text
        if isinstance(text, PhotoText)
        else PhotoText(
            text, sure, tuple((x, 0.1 * row + y) for x, y in ((0.1, 0), (0.6, 0), (0.6, 0.05), (0.1, 0.05)))
        )
        for row, text in enumerate(texts)
    )
    at = START + timedelta(seconds=second)
    return Photo(name, f"{name}.jpg", name.lower() * 32, at, "exif", 4000, 3000, sight=Sight(STAMP, seen))


def held(facts, *photos, decisions=()) -> dict[str, Fact]:
    """The facts with what the photos show of them, by id; those of photos alone by their kind."""
    from jobnotes.library.decisions import apply

    given = Record(Job(), (NOTE,), tuple(photos))
    shown = apply(decisions, confirmed(facts, given, decisions, None, None)).facts
    linked = link(shown, photos, (NOTE,))
    return {f.id if f.source is None else f.kind: f for f in settled(linked.facts, load())}


PART = Part("air hose", "fitted", number="1874552")


def test_an_equal_number_makes_the_evidence_two_fold() -> None:
    fact = held([said(PART)], photo("P/N 1 874 552"))["F1"]
    (shown,) = fact.shown
    assert (shown.photo, shown.field, shown.value, shown.agrees) == ("P1", "number", "1874552", True)
    assert fact.status == "sure"
    assert fact.confidence == HIGHEST  # both wrong at once: 0.1 × 0.04


@pytest.mark.parametrize("written", ["P/N 1874-552", "P/N 01874552", "P/N I874S52", "1874552"])
def test_spaces_hyphens_zeros_and_shapes_are_allowed_for(written: str) -> None:
    assert [s.agrees for s in held([said(PART)], photo(written))["F1"].shown] == [True]


@pytest.mark.parametrize("heard", ["1874525", "187455", "1874557", "18774552"])
def test_a_close_number_makes_it_doubtful_and_tells_both(heard: str) -> None:
    fact = held([said(replace(PART, number=heard))], photo("P/N 1 874 552", name="P3"))["F1"]
    assert fact.status == "check"
    assert fact.why == f"heard {heard}, photo P3 shows 1874552"
    assert [s.agrees for s in fact.shown] == [False]
    assert fact.confidence <= 0.5


@pytest.mark.parametrize(
    ("detail", "written"),
    [
        (FaultCode("SPN 1724 FMI 7", "J1939", 1724, 7), "SPN 1724 FMI 5 OC 12"),
        (FaultCode("P0290", "powertrain"), "P0299 STORED"),
        (Measurement(Decimal("16.2"), "Ohm", "resistance"), "60.2 Ω"),
        (Identity("odometer", "112000", "km"), "ODO 312000 km"),
        (Identity("registration", "QQ00TS"), "REGISTRATION QQ00 TST"),
        (Identity("vin", "1M8GDM9AXKP042780"), "VIN 1M8GDM9AXKP042788"),
    ],
)
def test_every_kind_of_value_can_be_contradicted(detail, written: str) -> None:
    assert held([said(detail)], photo(written))["F1"].status == "check"


def test_a_doubt_about_hearing_is_answered_only_by_the_very_value() -> None:
    doubtful = said(PART, status="check", why="not sure that '5-5-2' was heard right", confidence=0.5)
    answered = held([doubtful], photo("P/N 1 874 552"))["F1"]
    assert (answered.status, answered.why) == ("sure", None)
    assert held([doubtful], photo("P/N I874S52"))["F1"].status == "check"
    # of which thing it is the number is another question
    for why in (
        "not sure that 'hose' was heard right",
        "is it a part?",
        f"{doubtful.why}; was it on this job?",
    ):
        assert held([replace(doubtful, why=why)], photo("P/N 1 874 552"))["F1"].why == why


def test_the_doubts_that_a_photo_answers_are_those_that_reading_words_so() -> None:
    words = [Word(w, 0.4 * k, 0.4 * k + 0.3, 0.3) for k, w in enumerate("odometer 203118 km".split())]
    (fact,) = read_notes([replace(NOTE, words=tuple(words))])
    assert fact.status == "check"
    assert only_of_hearing(fact.why or "", load())
    assert held([fact], photo("ODO 203118 km", second=1.0))[fact.id].status == "sure"


def test_short_numbers_prove_nothing_unless_the_photo_was_taken_of_them() -> None:
    short = Measurement(Decimal("24"), "V", "voltage")
    assert held([said(short)], photo("24 V"))["F1"].shown == ()
    assert [s.agrees for s in held([said(short), cue(12.5)], photo("24 V"))["F1"].shown] == [True]
    assert held([said(replace(PART, number="118"))], photo("118", second=900.0))["F1"].shown == ()


def test_a_page_full_of_numbers_proves_and_contradicts_nothing() -> None:
    page = [f"P/N 18745{n:02}" for n in range(50, 60)]
    facts = held([said(PART)], photo(*page))
    assert list(facts) == ["F1"]
    assert facts["F1"].shown == ()
    assert facts["F1"].confidence == 0.9


def test_a_number_beside_one_that_is_nearly_the_same_is_not_confirmed() -> None:
    fact = held([said(PART)], photo("P/N 1874552", "P/N 1874525"))["F1"]
    assert fact.shown == ()


def test_the_label_of_a_sibling_part_that_was_also_said_contradicts_nothing() -> None:
    other = said(replace(PART, number="1874553"), 30.0, name="F2")
    facts = held([said(PART), other], photo("P/N 1874553", second=33.0))
    assert facts["F1"].status == "sure"
    assert facts["F2"].shown[0].agrees


def test_the_plate_of_another_vehicle_comes_out_to_be_checked_and_changes_nothing() -> None:
    facts = held([said(Identity("registration", "QQ00TST"))], photo("REGISTRATION KX09 LMN", second=2000.0))
    assert facts["F1"].shown == ()
    assert facts["F1"].status == "sure"
    own = facts["registration"]
    assert (own.status, own.source, own.note) == ("check", "photo", None)


def test_what_nobody_said_is_a_fact_of_its_own_with_a_stable_id() -> None:
    shot = photo("ODO 203118 km")
    fact = held([said(PART)], shot)["odometer"]
    assert fact.detail == Identity("odometer", "203118", "km")
    assert (fact.status, fact.why) == ("check", "read in photo P1 only, nobody said it")
    assert fact.at == shot.taken_at
    assert fact.photos == ("P1",)
    renamed = replace(shot, id="P7", file="other.jpg")
    assert held([], renamed)["odometer"].id == fact.id
    assert held([], replace(shot, sha256="e" * 64))["odometer"].id != fact.id


def test_a_part_without_a_number_is_told_what_its_label_says_and_is_left_as_it_was_said() -> None:
    bare = replace(PART, number=None)
    fact = held([said(bare), cue(12.5)], photo("P/N 1 874 552"))["F1"]
    assert fact.detail == bare
    assert [(s.field, s.value) for s in fact.shown] == [("number", "1874552")]


def test_what_a_photo_shows_links_it_before_time_does() -> None:
    near = said(Part("clamp", "fitted"), 500.0, name="F2")
    shot = photo("P/N 1 874 552", second=503.0)
    given = Record(Job(), (NOTE,), (shot,))
    linked = link(confirmed([said(PART), near], given, (), None, None), (shot,), (NOTE,))
    assert (linked.photos[0].linked_by, linked.photos[0].fact_ids) == ("value", ("F1",))
    again = link(linked.facts, linked.photos, (NOTE,))
    assert again == linked


def test_what_a_person_decided_stays() -> None:
    heard = said(replace(PART, number="1874525"))
    accepted = Decision("F1", "Ada", START, "accepted", heard, id=1)
    fact = held([heard], photo("P/N 1 874 552"), decisions=[accepted])["F1"]
    assert (fact.status, fact.shown[0].agrees) == ("accepted", False)
    edited = Decision("F1", "Ada", START, "edited", heard, replace(heard, detail=PART), id=1)
    fact = held([heard], photo("P/N 1 874 552"), decisions=[edited])["F1"]
    assert (fact.status, fact.shown[0].agrees) == ("edited", True)


def test_a_photo_that_a_person_took_from_a_fact_says_nothing_of_it() -> None:
    shot = photo("P/N 1 874 552")
    before = replace(said(PART), photos=(shot.sha256,))
    taken = Decision("F1", "Ada", START, "edited", before, replace(before, photos=()), id=1)
    assert held([said(PART)], shot, decisions=[taken])["F1"].shown == ()


def test_without_writing_in_photos_nothing_changes() -> None:
    facts = (said(PART), cue(12.0))
    blank = replace(photo(), sight=Sight(STAMP))
    for shot in (blank, replace(blank, sight=None)):
        assert confirmed(facts, Record(Job(), (NOTE,), (shot,)), (), None, None) == facts


@pytest.mark.parametrize(
    ("one", "other", "apart"),
    [("ca", "abc", 3), ("1874525", "1874552", 1), ("", "12", 2), ("kitten", "sitting", 3), ("5", "5", 0)],
)
def test_slips_are_the_optimal_string_alignment_distance(one: str, other: str, apart: int) -> None:
    # textbook pairs: "ca" and "abc" are 3 apart where no piece may be changed twice; kitten, sitting: 3
    assert slips(one, other) == slips(other, one) == apart
