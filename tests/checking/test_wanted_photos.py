"""A photo that the policy wants shows it, or was announced and can be seen; else the gap says why."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from complete_job import changed, checked, complete, record, without
from hypothesis import given
from hypothesis import strategies as st

from jobnotes.checking.policy import SOONEST_FIRST, while_there_is_time
from jobnotes.checking.sights import shows, to_take_again
from jobnotes.record import Fact, JobCard, Photo, PhotoText, RecogniserStamp, Record, Shown, Sight, Statement

STAMP = RecogniserStamp("none", "none", "0" * 64)
SQUARE = ((0.1, 0.1), (0.9, 0.1), (0.9, 0.9), (0.1, 0.9))
ALL = ("plate", "odometer", "fault", "old", "new")


def sight(*texts: str, flaws: tuple[str, ...] = ()) -> Sight:
    return Sight(STAMP, tuple(PhotoText(t, 0.95, SQUARE) for t in texts), flaws)  # type: ignore[arg-type]


def seen(rec: Record, file: str, **changes: Any) -> Record:
    """The record with something changed about one photo."""
    photos = tuple(replace(p, **changes) if p.file == f"{file}.jpg" else p for p in rec.photos)
    assert photos != rec.photos
    return replace(rec, photos=photos)


def gaps(rec: Record) -> dict[str, str]:
    return {g.rule: g.message for g in checked(rec).claim_gaps}


# --- what a photo shows --------------------------------------------------------------------------


@pytest.mark.parametrize("text", ["218400", "218 400 km", "ODO 218.400km", "TOTAL 218,400"])
def test_an_odometer_photo_is_one_in_which_its_value_is_read(text: str) -> None:
    facts = complete()
    without("cue odometer")(facts)
    rec = record(facts, ("plate", "fault", "old", "new"))
    assert "photo-odometer" in gaps(rec)
    taken = replace(rec.photos[0], id="P9", file="dash.jpg", fact_ids=(), linked_by=None, sight=sight(text))
    assert gaps(replace(rec, photos=(*rec.photos, taken))) == {}


@pytest.mark.parametrize("text", ["1218400", "2184001", "218401", "21 84", "A218400", ""])
def test_another_number_is_not_the_odometers(text: str) -> None:
    facts = complete()
    without("cue odometer")(facts)
    rec = record(facts, ("plate", "fault", "old", "new"))
    taken = replace(
        rec.photos[0], id="P9", file="dash.jpg", fact_ids=(), linked_by=None, sight=sight(text or " ")
    )
    assert "photo-odometer" in gaps(replace(rec, photos=(*rec.photos, taken)))


@pytest.mark.parametrize(
    ("rule", "cue", "text"),
    [("photo-plate", "plate", "9ZZ WK2HG4N0300761"), ("photo-new-part", "new", "P/N 4471-20")],
)
def test_a_plate_shows_the_identification_number_and_a_label_the_parts_number(
    rule: str, cue: str, text: str
) -> None:
    facts = complete()
    without(f"cue {cue}")(facts)
    rec = record(facts, tuple(p for p in ALL if p != cue))
    assert rule in gaps(rec)
    taken = replace(
        rec.photos[0], id="P9", file="label.jpg", fact_ids=(), linked_by=None, sight=sight("x", text)
    )
    assert rule not in gaps(replace(rec, photos=(*rec.photos, taken)))


def test_what_a_photo_was_found_to_show_meets_the_rule() -> None:
    facts = complete()
    without("cue odometer")(facts)
    show = Shown("P9", "value", "218400", "21840O", SQUARE)
    facts["odometer"] = replace(facts["odometer"], shown=(show,))
    rec = record(facts, ("plate", "fault", "old", "new"))
    taken = replace(
        rec.photos[0], id="P9", file="dash.jpg", fact_ids=(), linked_by=None, sight=sight("21840O")
    )
    assert gaps(replace(rec, photos=(*rec.photos, taken))) == {}
    facts["odometer"] = replace(facts["odometer"], shown=(replace(show, agrees=False),))
    rec = record(facts, ("plate", "fault", "old", "new"))
    assert "photo-odometer" in gaps(replace(rec, photos=(*rec.photos, taken)))


# --- what can't be seen --------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("flaws", "said"),
    [
        (("blurred",), "blurred"),
        (("too dark", "blurred"), "too dark and blurred"),
        (("burnt out",), "burnt out"),
    ],
)
@pytest.mark.parametrize(
    ("rule", "cue"),
    [
        ("photo-odometer", "odometer"),
        ("photo-plate", "plate"),
        ("photo-failed-part", "old"),
        ("photo-new-part", "new"),
    ],
)
def test_a_poor_photo_meets_no_rule_and_the_gap_says_so(
    rule: str, cue: str, flaws: tuple[str, ...], said: str
) -> None:
    rec = seen(record(complete()), cue, sight=sight(flaws=flaws))
    number = next(p.id for p in rec.photos if p.file == f"{cue}.jpg")
    told = gaps(rec)
    assert list(told) == [rule]
    assert f"only {number}, which is {said}." in told[rule]


def test_a_poor_photo_in_which_it_can_be_read_all_the_same_is_enough() -> None:
    rec = seen(record(complete()), "odometer", sight=sight("218400", flaws=("too dark",)))
    assert gaps(rec) == {}


@pytest.mark.parametrize(("agrees", "again"), [(True, ()), (False, ("P9",))])
def test_a_poor_photo_is_to_be_taken_again_unless_what_was_said_can_be_read_in_it(
    agrees: bool, again: tuple[str, ...]
) -> None:
    facts = complete()
    show = Shown("P9", "value", "218400", "218400", SQUARE, agrees)
    facts["odometer"] = replace(facts["odometer"], shown=(show,))
    rec = record(facts)
    glare = replace(rec.photos[0], id="P9", sight=sight("218400", flaws=("burnt out",)))
    dark = replace(glare, id="P10", sight=sight(flaws=("too dark",)))
    told = to_take_again(replace(rec, photos=(*rec.photos, glare, dark)))
    assert tuple(photo.id for photo in told) == (*again, "P10")


def test_one_good_photo_beside_a_poor_one_is_enough() -> None:
    rec = record(complete())
    poor = replace(
        next(p for p in rec.photos if p.file == "odometer.jpg"), id="P9", sight=sight(flaws=("blurred",))
    )
    assert gaps(replace(rec, photos=(poor, *rec.photos))) == {}


def test_a_cause_that_only_a_blurred_photo_bears_out_is_bare() -> None:
    facts = complete()
    without("code", "finding")(facts)
    changed("reading", verdict="within")(facts)
    rec = record(facts)
    assert "cause-supported" not in gaps(rec)
    for file in ("fault", "old", "new"):
        rec = seen(rec, file, sight=sight(flaws=("blurred",)))
    assert "which is blurred" in gaps(rec)["cause-supported"]


# --- what was announced --------------------------------------------------------------------------


def test_a_photo_that_was_announced_and_not_taken_is_named() -> None:
    rec = record(complete(), ("plate", "fault", "old", "new"))
    told = gaps(rec)["photo-odometer"]
    assert told.startswith("No photo of the odometer or hour meter: “words")
    assert "was said, but no photo was taken then" in told


def test_a_photo_that_was_looked_at_and_is_only_near_in_time_meets_nothing() -> None:
    facts = complete()
    without("cue odometer")(facts)
    odometer = facts["odometer"].id
    rec = record(facts, ("plate", "fault", "old", "new"))
    taken = Photo(
        "P9", "dash.jpg", "0", rec.photos[0].taken_at, "EXIF", 4, 3, fact_ids=(odometer,), linked_by="time"
    )
    unseen = replace(rec, photos=(*rec.photos, taken))
    assert gaps(unseen) == {}, "nobody looked at it, so that its time is all there is"
    told = gaps(replace(rec, photos=(*rec.photos, replace(taken, sight=sight("88.8 FM")))))
    assert "P9 was taken when it was spoken of, but nothing tells what it shows" in told["photo-odometer"]


def test_a_photo_that_is_only_announced_in_doubt_is_to_be_listened_to() -> None:
    facts = complete()
    facts["cue odometer"] = replace(facts["cue odometer"], status="check", why="misheard?")
    facts["odometer"] = replace(facts["odometer"], status="sure")
    message = gaps(record(facts))["photo-odometer"]
    assert facts["cue odometer"].quote in message
    assert "No photo" not in message


def test_neither_a_job_card_nor_another_jobs_photo_counts() -> None:
    rec = seen(record(complete()), "odometer", job="4417")
    assert list(gaps(rec)) == ["photo-odometer"]
    card = JobCard("5521", rec.photos[0].taken_at, "live")
    assert "photo-odometer" in gaps(seen(record(complete()), "odometer", card=card, sight=sight("218400")))


def test_gaps_of_photos_come_in_the_order_in_which_they_can_still_be_taken() -> None:
    facts = complete()
    without("finding")(facts)
    wanted = while_there_is_time(checked(record(facts, ())).claim_gaps)
    photos = [g for g in wanted if g.rule.startswith("photo")]
    assert {g.rule for g in photos} == {
        "photo-plate", "photo-odometer", "photo-fault", "photo-failed-part", "photo-new-part",
    }  # fmt: skip
    order = [SOONEST_FIRST.index(g.fixable) for g in photos]
    assert order == sorted(order)
    assert photos[0].rule == "photo-fault"


# --- values in writing ---------------------------------------------------------------------------


@given(
    st.from_regex(r"[A-Z0-9]{5,17}", fullmatch=True), st.sampled_from(["", " ", "-", "."]), st.integers(1, 4)
)
def test_a_value_is_found_however_it_is_spaced_and_not_with_a_digit_more(
    value: str, sign: str, step: int
) -> None:
    spaced = sign.join(value[i : i + step] for i in range(0, len(value), step))
    photo = Photo("P1", "a.jpg", "0", None, "EXIF", 4, 3, sight=sight(f"No: {spaced.lower()}"))  # type: ignore[arg-type]
    assert shows(photo, value)
    more = "7" if value[-1].isdigit() else "q"
    assert not shows(replace(photo, sight=sight(f"No: {spaced}{more}")), value)


def test_a_number_on_a_label_that_somebody_accepted_is_no_photo_of_the_fault() -> None:
    facts = complete()
    changed("cue old", subject="the failed part")(facts)  # which could be any
    rec = record(facts, ("plate", "odometer", "old", "new"))
    assert "photo-fault" in gaps(rec)
    label = Fact(
        "Flabel",
        Statement("finding", "part number 51A33092"),
        "P/N 51A33092",
        0.95,
        "accepted",
        photos=("P9",),
        source="photo",
        shown=(Shown("P9", "text", "51A33092", "P/N 51A33092", SQUARE),),
    )
    taken = replace(
        rec.photos[0],
        id="P9",
        file="label.jpg",
        fact_ids=("Flabel",),
        linked_by="value",
        sight=sight("P/N 51A33092"),
    )
    told = replace(rec, facts=(*rec.facts, label), photos=(*rec.photos, taken))
    assert "photo-fault" in gaps(told)
    found = replace(label, source=None, detail=Statement("finding", "seal torn", "seal", "torn"), shown=())
    assert "photo-fault" not in gaps(replace(told, facts=(*rec.facts, found)))
