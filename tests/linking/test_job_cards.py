"""A photo of a job card tells a camera's clock to the second, and whose photos follow; no other code does."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone
from itertools import count
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from card_photos import STAMP, card, drawn, photographed, saved, taken_in
from hypothesis import example, given, settings
from hypothesis import strategies as st
from test_photo_links import cue, note, said

from jobnotes.linking.confirming import confirm
from jobnotes.linking.photos import link
from jobnotes.reading.job.job_card import text_of
from jobnotes.reading.trade.files import load
from jobnotes.record import Identity, JobCard, Photo, PhotoText, Sight

START = datetime(2031, 3, 4, 8, 0, tzinfo=UTC)
HOURS_14 = 14 * 3600
SQUARE = ((0.1, 0.1), (0.9, 0.1), (0.9, 0.9), (0.1, 0.9))
CUES_S = (62.0, 480.0, 1733.0, 4120.0, 4391.0, 9002.0, 11477.0)
_file = count(1)


def at(seconds: float) -> datetime:
    return START + timedelta(seconds=seconds)


def shot(photo_id: str, second: float, *texts: str | JobCard, camera: str = "phone", **changes) -> Photo:
    """A photo by its camera's clock, with the codes that are in it."""
    codes = tuple(
        PhotoText(text_of(t) if isinstance(t, JobCard) else t, 1.0, SQUARE, "QR Code") for t in texts
    )
    photo = Photo(photo_id, f"{photo_id}.jpg", photo_id * 8, at(second), "exif", 640, 480, camera=camera)
    return replace(photo, sight=Sight(STAMP, codes), **changes)


def live(second: float, number: str = "4417") -> JobCard:
    return card(at(second), number)


def cues(seconds=CUES_S):
    return [cue(f"C{n}", second, "the part") for n, second in enumerate(seconds)]


def number(value: str, fact_id: str = "F1", **changes):
    return said(fact_id, 5, f"job number {value}", Identity("job_number", value), **changes)


def only(items):
    (one,) = items
    return one


# --- the clock -----------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("cards")


@settings(max_examples=20, deadline=None)
@given(
    off=st.integers(-HOURS_14, HOURS_14),
    zone_quarters=st.integers(-48, 56),
    told=st.booleans(),
    tilt=st.floats(-35, 35),
    second=st.integers(0, 86400),
)
@example(off=-HOURS_14, zone_quarters=0, told=True, tilt=0, second=0)
@example(off=HOURS_14, zone_quarters=0, told=False, tilt=0, second=0)
@example(off=1, zone_quarters=4, told=True, tilt=20, second=0)
def test_any_error_of_the_clock_is_told_to_the_second_from_a_real_picture(
    folder: Path, off: int, zone_quarters: int, told: bool, tilt: float, second: int
) -> None:
    zone = timezone(timedelta(minutes=15 * zone_quarters))
    now = at(second).astimezone(zone)
    image = photographed(drawn(card(now)), tilt=tilt)
    path = saved(image, folder / f"{next(_file)}.jpg", now - timedelta(seconds=off), offset=told)
    linked = link([], taken_in([path], zone), [])
    clock = only(linked.camera_clocks)
    assert clock.offset_s == off
    assert only(linked.photos).taken_at == now
    assert clock.card == "P1"
    assert clock.message.startswith("job card photographed as P1: camera clock is ")
    assert clock.message.endswith("; corrected") == (off != 0)


def test_the_message_says_how_far_and_by_which_photo() -> None:
    clock = only(link([], [shot("P1", 60, live(60 + 7387))], []).camera_clocks)
    assert clock.message == "job card photographed as P1: camera clock is 2 h 3 min 7 s slow; corrected"


def test_a_live_card_proves_the_times_of_its_camera_and_a_printed_one_does_not() -> None:
    by_live = link([], [shot("P1", 300, live(900)), shot("P2", 400)], [note()])
    assert [p.taken_at_doubt for p in by_live.photos] == [None, None]
    by_print = link([], [shot("P1", 900, card(at(0), "4417", "printed")), shot("P2", 960)], [note()])
    assert [p.taken_at_doubt for p in by_print.photos] == ["camera clock", "camera clock"]


def test_a_card_goes_before_too_few_cues_to_tell_anything() -> None:
    photos = [shot("P1", 0 - 5000, live(0)), shot("P2", 67 - 5000)]
    linked = link(cues(CUES_S[:1]), photos, [note()])
    assert only(linked.camera_clocks).offset_s == 5000
    assert linked.photos[1].fact_ids == ("C0",)


def test_the_summer_time_of_a_zone_makes_no_error() -> None:
    """The last Sunday of March (EU Directive 2000/84/EC): in London the clock leaps from 01:00 to 02:00."""
    zone = ZoneInfo("Europe/London")
    before, after = datetime(2031, 3, 30, 0, 59, 58, tzinfo=UTC), datetime(2031, 3, 30, 1, 0, 3, tzinfo=UTC)
    photos = [
        replace(shot(p, 0, card(t.astimezone(zone))), taken_at=t.astimezone(zone))
        for p, t in (("P1", before), ("P2", after))
    ]
    assert only(link([], photos, []).camera_clocks).message.endswith("camera clock is right")


def test_parts_of_a_second_count_for_nothing() -> None:
    photo = replace(shot("P1", 0, live(3600)), taken_at=at(0.97))
    assert only(link([], [photo], []).camera_clocks).offset_s == 3600


def test_two_cameras_are_judged_one_by_the_card_the_other_by_the_cues() -> None:
    lags = (3, 9, 14, 2, 6, 19, 8)
    by_cues = [
        shot(f"P{n}", c + lag - 3600, camera="bench")
        for n, (c, lag) in enumerate(zip(CUES_S, lags, strict=True))
    ]
    by_card = [shot("Q1", -500, live(0)), shot("Q2", CUES_S[0] + 4 - 500)]
    clocks = {c.camera: c for c in link(cues(), [*by_cues, *by_card], [note()]).camera_clocks}
    assert (clocks["bench"].offset_s, clocks["bench"].card, clocks["bench"].support) == (3600, None, 7)
    assert (clocks["phone"].offset_s, clocks["phone"].card) == (500, "Q1")


def test_a_card_photographed_twice_tells_the_same() -> None:
    photos = [shot("P1", 0, live(900)), shot("P2", 7, live(907)), shot("P3", 60)]
    clock = only(link([], photos, []).camera_clocks)
    assert (clock.offset_s, clock.card) == (900, "P1")


def test_cards_that_differ_a_little_are_named_and_the_first_counts() -> None:
    clock = only(link([], [shot("P1", 0, live(900)), shot("P2", 4000, live(4914))], []).camera_clocks)
    assert clock.offset_s == 900
    assert "differ a little: 15 min slow by P1, 15 min 14 s slow by P2" in clock.message


def test_cards_that_contradict_each_other_leave_the_clock_to_the_cues() -> None:
    photos = [shot("P1", 0, live(900)), shot("P2", 4000, live(4000))]
    clock = only(link([], photos, []).camera_clocks)
    assert (clock.offset_s, clock.card) == (0, None)
    assert clock.message.startswith("not enough spoken cues to tell")
    assert "the job cards contradict each other: 15 min slow by P1, right by P2" in clock.message


@pytest.mark.parametrize("days", [-400, -1, 1, 4000])
def test_the_picture_of_an_old_card_sets_no_clock(days: int) -> None:
    clock = only(link([], [shot("P1", 0, live(days * 86400.0))], []).camera_clocks)
    assert clock.offset_s == 0
    assert "too far" in clock.message


def test_a_printed_card_sets_no_clock() -> None:
    photos = [shot("P1", 0, card(at(-3600), clock_is="printed"))]
    clock = only(link([], photos, []).camera_clocks)
    assert (clock.offset_s, clock.card) == (0, None)
    assert clock.message.startswith("not enough spoken cues")


def test_a_printed_card_says_where_the_clock_cannot_be_right() -> None:
    photos = [shot("P1", 0, card(at(3900), clock_is="printed"))]
    clock = only(link([], photos, []).camera_clocks)
    assert clock.offset_s == 0
    assert clock.message.endswith("was printed at 09:05:00, so the clock is at least 1 h 5 min slow")


def test_a_card_for_a_stated_time_is_taken_at_its_word_to_within_a_minute() -> None:
    photos = [shot("P1", 0, card(at(3630), clock_is="stated"))]
    clock = only(link([], photos, []).camera_clocks)
    assert (clock.offset_s, clock.card) == (3630, "P1")
    assert "to within a minute" in clock.message
    near = only(link([], [shot("P1", 0, card(at(40), clock_is="stated"))], []).camera_clocks)
    assert near.offset_s == 0


def test_the_time_of_a_file_is_no_camera_clock() -> None:
    photo = shot("P1", 0, live(900), taken_at_source="file time")
    clock = only(link([], [photo], []).camera_clocks)
    assert (clock.offset_s, clock.card) == (0, None)
    assert "no EXIF time" in clock.message


def test_a_phone_that_records_and_photographs_keeps_its_photos_with_its_words() -> None:
    """Both clocks are two hours slow: moving the photos alone would put each beside the wrong words."""
    photos = [shot("P9", 0, live(7200)), *(shot(f"P{n}", c + 5) for n, c in enumerate(CUES_S))]
    linked = link(cues(), photos, [note()])
    clock = only(linked.camera_clocks)
    assert (clock.offset_s, clock.support) == (0, 7)
    assert clock.message.startswith(
        "job card photographed as P9: camera clock is 2 h slow; but by the spoken cues"
    )
    assert "recordings' clock may be off" in clock.message
    assert [p.fact_ids for p in linked.photos[1:]] == [(f"C{n}",) for n in range(7)]
    few = link(cues(CUES_S[:2]), photos[:3], [note()])
    assert only(few.camera_clocks).offset_s == 0
    assert "2 spoken cues fit the photos' times as they are" in only(few.camera_clocks).message


@settings(max_examples=60, deadline=None)
@given(
    st.integers(-HOURS_14, HOURS_14), st.lists(st.integers(30, 30000), min_size=1, max_size=8, unique=True)
)
def test_judging_again_what_was_judged_comes_to_the_same(off: int, seconds: list[int]) -> None:
    photos = [shot("P0", -off, live(0)), *(shot(f"P{n}", s + 4 - off) for n, s in enumerate(seconds, 1))]
    once = link(cues(sorted(seconds)), photos, [note()])
    again = link(once.facts, once.photos, [note()])
    assert (again.photos, again.camera_clocks) == (once.photos, once.camera_clocks)


# --- whose photos --------------------------------------------------------------------------------


def roll() -> list[Photo]:
    """Two jobs in one camera roll; each photo lies within a minute of what is said of job 4417."""
    return [
        shot("P1", 0, live(0)),
        shot("P2", 20),
        shot("P3", 30, live(30, "5521")),
        shot("P4", 40),
        shot("P5", 50),
        shot("P6", 60, live(60)),
        shot("P7", 70),
    ]


def test_photos_behind_another_jobs_card_are_named_and_linked_to_nothing() -> None:
    facts = [number("4417"), said("F2", 45, "the hose is split")]
    linked = link(facts, roll(), [note()])
    assert [p.job for p in linked.photos] == [None, None, "5521", "5521", "5521", None, None]
    assert [bool(p.fact_ids) for p in linked.photos] == [True, True, False, False, False, True, True]
    problem = only(linked.problems)
    assert problem.file == "job card in P3.jpg"
    assert problem.message == (
        "it is of job 5521: 2 photos behind it (P4.jpg, P5.jpg) are kept, and linked to nothing of this job"
    )


def test_another_cameras_roll_is_its_own() -> None:
    photos = [shot("P1", 0, live(0, "5521")), shot("P2", 10), shot("P3", 12, camera="bench")]
    linked = link([said("F2", 8, "the hose is split")], photos, [note()], number="4417")
    assert [p.job for p in linked.photos] == ["5521", "5521", None]
    assert linked.photos[2].fact_ids == ("F2",)


def test_what_a_person_linked_stays() -> None:
    photos = [shot("P1", 0, live(0, "5521")), shot("P2", 10, fact_ids=("F2",), linked_by="person")]
    linked = link([said("F2", 8, "the hose is split")], photos, [note()], number="4417")
    assert (linked.photos[1].fact_ids, linked.photos[1].job) == (("F2",), "5521")


def test_photos_before_the_first_card_are_this_jobs() -> None:
    photos = [shot("P1", 0), shot("P2", 10, live(10, "5521")), shot("P3", 20)]
    assert [p.job for p in link([], photos, [], number="4417").photos] == [None, "5521", "5521"]


def test_a_card_shows_its_number_and_nothing_else_that_was_said() -> None:
    facts = [number("4417"), said("F2", 6, "the hose is split")]
    linked = link(facts, [shot("P1", 6, live(6))], [note()])
    assert (linked.photos[0].fact_ids, linked.photos[0].linked_by) == (("F1",), "value")
    shown = only(linked.facts[0].shown)
    assert (shown.photo, shown.value, shown.agrees) == ("P1", "4417", True)
    assert linked.facts[0].status == "sure"


@pytest.mark.parametrize("spelt", ["44 17", "44-17"])
def test_a_number_may_be_spelt_otherwise(spelt: str) -> None:
    linked = link([number(spelt)], [shot("P1", 0, live(0))], [note()])
    assert linked.facts[0].status == "sure"
    assert linked.problems == ()


def test_a_number_that_was_heard_and_contradicts_the_card_is_doubted_and_nothing_is_cut_off() -> None:
    facts = [number("4471"), said("F2", 45, "the hose is split")]
    linked = link(facts, [shot("P1", 0, live(0)), shot("P2", 44)], [note()])
    assert (linked.facts[0].status, linked.facts[0].why) == (
        "check",
        "the job card photographed as P1 says 4417",
    )
    assert [p.job for p in linked.photos] == [None, None]
    assert linked.photos[1].fact_ids == ("F2",)


def test_a_number_that_a_person_accepted_stands_against_the_card() -> None:
    linked = link([number("4471", status="accepted")], [shot("P1", 0, live(0)), shot("P2", 44)], [note()])
    assert linked.facts[0].status == "accepted"
    assert [p.job for p in linked.photos] == ["4417", "4417"]
    assert len(linked.problems) == 1


def test_cards_of_several_jobs_without_a_number_are_named() -> None:
    linked = link([said("F2", 45, "the hose is split")], roll(), [note()])
    assert {p.job for p in linked.photos} == {None}
    assert "cards of jobs 4417, 5521" in only(linked.problems).message


# --- other codes ---------------------------------------------------------------------------------

GOOD = text_of(live(0))


@pytest.mark.parametrize(
    "text", ["https://example.org/4417", "ZX118022", "JOBNOTES-CARD:1?job=1", "A" * 300, ""]
)
def test_other_peoples_codes_are_none_of_its_business(text: str) -> None:
    linked = link([], [shot("P1", 0, text)], [])
    assert linked.photos[0].card is None
    assert linked.problems == ()


@pytest.mark.parametrize(
    "text",
    [
        "jobnotes-card:",
        GOOD.replace(":1?", ":2?"),
        GOOD.replace("is=live", "is=real"),
        GOOD.replace("job=4417", "job="),
        GOOD.replace("job=4417", "job=44%0017"),
        GOOD.replace("job=4417", "job=44%E2%80%AE17"),
        GOOD.replace("job=4417", "job=%FF"),
        GOOD.replace("job=4417", "job=" + "4" * 61),
        GOOD.replace("job=4417", "job=4417&job=5521"),
        GOOD.replace("+00:00", ""),
        GOOD.replace("+00:00", "+15:00"),
        GOOD.replace("2031-03-04", "2031-13-04"),
        GOOD.replace("2031", "1970"),
        GOOD[:30],
        GOOD + "&customer=" + "x" * 400,
    ],
)
def test_a_damaged_or_hostile_card_is_named_and_never_used(text: str) -> None:
    linked = link([number("9")], [shot("P1", 50, text), shot("P2", 51)], [note()])
    assert linked.photos[0].card is None
    assert [c.offset_s for c in linked.camera_clocks] == [0]
    assert linked.facts[0].status == "sure"
    problem = only(linked.problems)
    assert problem.file == "job card in P1.jpg"
    assert problem.message.endswith("so it was not used")
    assert problem.message.isprintable()


def test_two_cards_in_one_photo_are_named_and_neither_is_used() -> None:
    linked = link([], [shot("P1", 0, live(0), live(1))], [])
    assert linked.photos[0].card is None
    assert "beside another one" in only(linked.problems).message


def test_writing_is_no_card() -> None:
    photo = shot("P1", 0)
    text = PhotoText(GOOD, 0.99, SQUARE)
    linked = link([], [replace(photo, sight=Sight(STAMP, (text,)))], [])
    assert linked.photos[0].card is None


def test_linking_again_doubts_and_shows_nothing_twice() -> None:
    photos = [shot("P1", 0, live(0)), shot("P2", 44)]
    for said_number in ("4417", "4471"):
        once = link([number(said_number)], photos, [note()])
        again = link(once.facts, once.photos, [note()])
        assert again == once


@pytest.mark.slow
@settings(max_examples=200, deadline=None)
@given(off=st.integers(-HOURS_14, HOURS_14), tilt=st.floats(-40, 40), blur=st.floats(0, 1.0))
def test_hundreds_of_errors_are_told_to_the_second(folder: Path, off: int, tilt: float, blur: float) -> None:
    image = photographed(drawn(card(START)), tilt=tilt, blur=blur)
    path = saved(image, folder / f"{next(_file)}.jpg", START - timedelta(seconds=off))
    assert only(link([], taken_in([path], UTC), []).camera_clocks).offset_s == off


def test_what_a_card_shows_of_the_number_stays_when_labels_are_read_too() -> None:
    label = PhotoText("PART NUMBER 73K 290 56", 0.98, SQUARE)
    other = replace(shot("P2", 30), sight=Sight(STAMP, (label,)))
    linked = link([number("4417"), number("4471", "F2")], [shot("P1", 0, live(0)), other], [note()])
    confirmed = confirm(linked.facts, linked.photos, load())
    assert [s.agrees for s in confirmed[0].shown] == [True]
    assert [s.agrees for s in confirmed[1].shown] == [False]
    assert (confirmed[0].status, confirmed[1].status) == ("sure", "check")
