"""Photos go to what was said around their cue, or else at about their time; links are the same both ways."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from jobnotes.linking.photos import UNKNOWN_CAMERA, link
from jobnotes.record import (
    Fact,
    Identity,
    LabourSaid,
    Note,
    Part,
    Photo,
    PhotoCue,
    RecogniserStamp,
    Statement,
    Word,
)

START = datetime(2031, 3, 4, 8, 0, tzinfo=UTC)


def at(seconds: float) -> datetime:
    return START + timedelta(seconds=seconds)


def note(note_id="N1", start=0.0, words=()) -> Note:
    stamp = RecogniserStamp("none", "none", "0" * 64)
    return Note(note_id, f"{note_id}.wav", "0" * 64, at(start), "file name", 3600.0, stamp, "", tuple(words))


def said(fact_id, second, text, detail=None, *, note_id="N1", length=2.0, **changes) -> Fact:
    detail = detail or Statement("finding", text)
    fact = Fact(
        fact_id, detail, text, 0.9, "sure", note=note_id, start_s=second, end_s=second + length, at=at(second)
    )
    return replace(fact, **changes)


def cue(fact_id, second, subject, **more) -> Fact:
    return said(fact_id, second, f"photo of {subject}", PhotoCue(subject), **more)


def photo(photo_id, second, **changes) -> Photo:
    return replace(
        Photo(photo_id, f"{photo_id}.jpg", photo_id * 8, at(second), "EXIF", 640, 480, camera="phone"),
        **changes,
    )


def links(linked):
    return {p.id: (p.linked_by, p.fact_ids) for p in linked.photos}


def test_a_photo_goes_to_its_cue_and_the_facts_that_speak_of_the_same_thing():
    facts = [
        said("F1", 10, "the charge hose is split"),
        said("F2", 20, "belt looks fine"),
        cue("F3", 24, "the split hose"),
    ]
    linked = link(facts, [photo("P1", 31)], [note()])
    assert links(linked) == {"P1": ("cue", ("F3", "F1"))}


def test_a_photo_of_the_gauge_goes_to_the_reading_said_next_to_it():
    facts = [
        said("F1", 0, "leak test"),
        said("F2", 10, "air pressure eight point four bar"),
        cue("F3", 13, "the gauge"),
        said("F4", 18, "belt worn"),
    ]
    assert links(link(facts, [photo("P1", 17)], [note()])) == {"P1": ("cue", ("F3", "F2"))}


def test_a_photo_of_the_odometer_goes_to_the_odometer_and_to_no_other_number_of_the_vehicle():
    plate = said("F1", 0, "registration QQ00TST", Identity("registration", "QQ00TST"))
    reading = said("F2", 4, "four one eight two zero six", Identity("odometer", "418206", "km"))
    shot = cue("F3", 7, "the odometer")
    assert links(link([plate, reading, shot], [photo("P1", 12)], [note()])) == {"P1": ("cue", ("F3", "F2"))}
    assert links(link([plate, shot], [photo("P1", 12)], [note()])) == {"P1": ("cue", ("F3",))}


def test_a_photo_of_the_sensor_is_not_one_of_its_bracket():
    facts = [
        said("F1", 0, "fitted one new height sensor", Part("height sensor", "fitted")),
        said("F2", 4, "reused the sensor bracket", Part("sensor bracket", "reused")),
        cue("F3", 8, "the new sensor in place"),
    ]
    assert links(link(facts, [photo("P1", 12)], [note()])) == {"P1": ("cue", ("F3", "F1"))}


def test_a_cue_without_a_subject_of_its_own_means_what_was_said_in_the_same_breath():
    words = [
        Word(w, s, s + 0.4)
        for s, w in ((100, "clamp"), (100.5, "snapped"), (101, "photo"), (101.5, "of"), (102, "that"))
    ]
    facts = [
        said("F1", 90, "oil level is right"),
        said("F2", 100, "clamp snapped", length=0.9),
        cue("F3", 101, "that", length=1.4),
    ]
    linked = link(facts, [photo("P1", 108)], [note(words=words)])
    assert links(linked) == {"P1": ("cue", ("F3", "F2"))}


def test_a_cue_that_names_something_else_takes_no_fact_that_merely_stands_near():
    facts = [said("F1", 10, "wheel nuts are tight"), cue("F2", 25, "the identity plate")]
    assert links(link(facts, [photo("P1", 30)], [note()])) == {"P1": ("cue", ("F2",))}


def test_two_cues_in_one_breath_get_one_photo_each_in_order():
    facts = [cue("F1", 0, "the plate"), cue("F2", 8, "the odometer")]
    linked = link(facts, [photo("P1", 12), photo("P2", 20)], [note()])
    assert links(linked) == {"P1": ("cue", ("F1",)), "P2": ("cue", ("F2",))}


def test_several_photos_of_one_cue_all_go_to_it():
    facts = [cue("F1", 0, "the plate"), cue("F2", 300, "the odometer")]
    linked = link(facts, [photo("P1", 4), photo("P2", 9), photo("P3", 17)], [note()])
    assert {ids for _, ids in links(linked).values()} == {("F1",)}
    assert linked.facts[0].photos == ("P1", "P2", "P3")


def test_a_photo_just_before_its_cue_is_found_too():
    assert links(link([cue("F1", 10, "the plate")], [photo("P1", 4)], [note()])) == {"P1": ("cue", ("F1",))}


def test_a_photo_without_a_cue_goes_to_the_nearest_facts_in_time():
    facts = [said("F1", 0, "hose split"), said("F2", 100, "belt worn"), said("F3", 104, "pulley rough")]
    assert links(link(facts, [photo("P1", 110)], [note()])) == {"P1": ("time", ("F3", "F2"))}


def test_a_photo_near_nothing_stays_visible_without_links():
    linked = link([said("F1", 0, "hose split")], [photo("P1", 4000)], [note()])
    assert links(linked) == {"P1": (None, ())}


def test_the_window_is_the_callers():
    facts = [said("F1", 0, "hose split")]
    assert links(link(facts, [photo("P1", 40)], [note()], window_s=10)) == {"P1": (None, ())}
    assert links(link(facts, [photo("P1", 40)], [note()], window_s=60)) == {"P1": ("time", ("F1",))}


def test_rejected_facts_and_cues_get_no_photos():
    facts = [
        said("F1", 0, "hose split", status="rejected"),
        cue("F2", 4, "the hose", status="rejected"),
    ]
    linked = link(facts, [photo("P1", 8)], [note()])
    assert links(linked) == {"P1": (None, ())}
    assert all(f.photos == () for f in linked.facts)


def test_hours_are_nothing_that_a_photo_shows():
    facts = [said("F1", 0, "labour two hours", LabourSaid(Decimal(2)))]
    assert links(link(facts, [photo("P1", 3)], [note()])) == {"P1": (None, ())}


def test_a_cue_in_one_note_does_not_reach_into_another():
    facts = [said("F1", 0, "hose is split", note_id="N1"), cue("F2", 10, "the hose", note_id="N2")]
    assert links(link(facts, [photo("P1", 15)], [note("N1"), note("N2")])) == {"P1": ("cue", ("F2",))}


def test_facts_of_a_plain_transcript_have_no_time_and_get_no_photo():
    bare = Fact("F1", Statement("finding", "hose split"), "hose split", 0.9, "sure")
    linked = link([bare], [photo("P1", 0)], [])
    assert links(linked) == {"P1": (None, ())}


def test_a_camera_an_hour_off_is_corrected_and_its_photos_find_their_cues():
    second = (30, 1900, 4000, 7300)
    facts = [cue(f"F{n}", s, f"thing number {n}") for n, s in enumerate(second)]
    wrong = [photo(f"P{n}", s + 5 + 3600, camera="bench") for n, s in enumerate(second)]
    right = [photo("P9", 1905, camera="phone")]
    linked = link(facts, [*wrong, *right], [note()])
    assert [(c.camera, c.offset_s) for c in linked.camera_clocks] == [("bench", -3600.0), ("phone", 0.0)]
    assert [p.taken_at for p in linked.photos[:4]] == [at(s + 5) for s in second]
    assert [p.clock_offset_s for p in linked.photos] == [-3600.0] * 4 + [0.0]
    assert [p.fact_ids for p in linked.photos] == [("F0",), ("F1",), ("F2",), ("F3",), ("F1",)]


def test_a_camera_whose_clock_nothing_proves_leaves_its_photos_times_in_doubt():
    second = (30, 1900, 4000, 7300)
    facts = [cue(f"F{n}", s, f"thing number {n}") for n, s in enumerate(second)]
    proved = [photo(f"P{n}", s + 5 + 3600, camera="bench") for n, s in enumerate(second)]
    unproved = [photo("P8", 1905, camera="phone")]
    of_files = [photo("P9", 30, camera=None, taken_at_doubt="file time")]
    linked = link(facts, [*proved, *unproved, *of_files], [note()])
    assert [p.taken_at_doubt for p in linked.photos] == [None] * 4 + ["camera clock", "file time"]
    assert {c.camera: c.proved for c in linked.camera_clocks} == {
        "bench": True,
        "phone": False,
        UNKNOWN_CAMERA: False,
    }
    again = link(linked.facts, linked.photos, [note()])
    assert again.photos == linked.photos


def test_photos_without_a_camera_are_a_group_of_their_own():
    linked = link([cue("F1", 0, "it")], [photo("P1", 3, camera=None), photo("P2", 4)], [note()])
    assert [c.camera for c in linked.camera_clocks] == [UNKNOWN_CAMERA, "phone"]


def test_what_a_person_linked_stays_and_follows_a_correction():
    facts = [
        said("F1", 0, "hose split", status="rejected", superseded_by="F2"),
        said("F2", 5, "pipe split"),
        said("F3", 900, "belt worn"),
    ]
    by_hand = photo("P1", 900, fact_ids=("F1",), linked_by="person")
    assert links(link(facts, [by_hand], [note()])) == {"P1": ("person", ("F2",))}


def test_a_photo_of_a_part_is_found_by_the_parts_name():
    facts = [
        said("F1", 0, "fitted one new height sensor", Part("height sensor", "fitted")),
        said("F2", 3, "torque is eleven"),
        cue("F3", 8, "the new sensor in place"),
    ]
    assert links(link(facts, [photo("P1", 13)], [note()])) == {"P1": ("cue", ("F3", "F1"))}


@st.composite
def jobs(draw):
    seconds = st.integers(0, 3000)
    facts = []
    for n in range(draw(st.integers(0, 12))):
        second = draw(seconds)
        status = draw(st.sampled_from(["sure", "check", "rejected"]))
        make = draw(st.sampled_from([cue, said]))
        facts.append(
            make(f"F{n}", second, draw(st.sampled_from(["the hose", "a belt", "it"])), status=status)
        )
    photos = [
        photo(f"P{n}", draw(st.integers(-4000, 7000)), camera=draw(st.sampled_from(["phone", "bench", None])))
        for n in range(draw(st.integers(0, 10)))
    ]
    return facts, photos


@settings(max_examples=150, deadline=None)
@given(jobs())
def test_links_are_the_same_from_both_sides_and_linking_again_changes_nothing(job):
    facts, photos = job
    linked = link(facts, photos, [note()])
    assert [f.id for f in linked.facts] == [f.id for f in facts]
    assert [p.id for p in linked.photos] == [p.id for p in photos]
    from_photos = {(p.id, f) for p in linked.photos for f in p.fact_ids}
    from_facts = {(p, f.id) for f in linked.facts for p in f.photos}
    assert from_photos == from_facts
    assert not {f.id for f in facts if not f.stands} & {f for _, f in from_photos}
    assert all((p.linked_by is None) == (p.fact_ids == ()) for p in linked.photos)
    assert link(linked.facts, linked.photos, [note()]) == linked


@pytest.mark.parametrize("count", [300])
def test_many_photos_are_each_linked_to_their_own_cue(count):
    facts = [cue(f"F{n}", n * 71.0 + (n * n) % 37, f"item {n}") for n in range(count)]
    photos = [photo(f"P{n}", f.start_s + 6) for n, f in enumerate(facts)]
    linked = link(facts, photos, [note()])
    assert [p.fact_ids[0] for p in linked.photos] == [f.id for f in facts]
