from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from library_jobs import AT, FACTS, fact, file_and_save, make_recording

from jobnotes.library.decisions import Decision, Reviewed, apply, gesture, in_force, merged, moved, split
from jobnotes.library.library import Library
from jobnotes.record import Fact, Measurement


def decision(action: str, before: Fact | None = None, after: Fact | None = None, **rest: object) -> Decision:
    about = after or before
    rest = {"fact_id": about.id if about else "F1", "who": "clerk", "at": AT, **rest}
    return Decision(action=action, before=before, after=after, **rest)  # type: ignore[arg-type]


def only(reviewed: Reviewed) -> Fact:
    assert not reviewed.unplaced
    (one,) = reviewed.facts
    return one


def signed(fact: Fact, who: str = "clerk", at: datetime = AT) -> Fact:
    return replace(fact, decided_by=who, decided_at=at)


DOUBTFUL = fact(status="check", why="volts or amps?")


def test_without_decisions_the_facts_are_as_derived() -> None:
    assert apply((), FACTS) == Reviewed(FACTS)


def test_accepting_clears_the_doubt_and_nothing_else() -> None:
    accepted = only(apply([decision("accepted", DOUBTFUL)], [DOUBTFUL]))
    assert accepted == signed(replace(DOUBTFUL, status="accepted", why=None))


def test_rejecting_keeps_the_fact_in_the_record_as_rejected() -> None:
    rejected = only(apply([decision("rejected", DOUBTFUL)], [DOUBTFUL]))
    assert not rejected.stands
    assert rejected.quote == DOUBTFUL.quote


def test_an_edit_changes_the_statement_and_leaves_the_evidence() -> None:
    derived = fact(note="N1", start_s=0.1, photos=("P1",))
    after = replace(derived, detail=fact(value="12.8").detail, audience="workshop", quote="not this")
    edited = only(apply([decision("edited", fact(), after)], [derived]))
    assert edited == signed(replace(derived, detail=after.detail, audience="workshop", status="edited"))


def test_an_added_fact_stands_behind_the_derived_ones() -> None:
    own = fact("A1", "24.6", quote="")
    reviewed = apply([decision("added", after=own)], FACTS)
    assert reviewed.facts == (*FACTS, signed(replace(own, status="accepted")))


def test_the_last_decision_counts() -> None:
    derived = fact()
    reject, accept = decision("rejected", derived), decision("accepted", derived)
    assert only(apply([reject, accept], [derived])).status == "accepted"
    assert only(apply([accept, reject], [derived])).status == "rejected"


def test_accepting_what_was_edited_leaves_it_marked_as_edited() -> None:
    edited = fact(value="12.8", status="edited")
    decisions = [decision("edited", fact(), edited), decision("accepted", edited)]
    assert only(apply(decisions, [fact()])) == signed(edited)


@pytest.mark.parametrize("action", ["accepted", "edited", "rejected", "added"])
def test_a_fact_says_who_decided_about_it_and_when(action: str) -> None:
    later = AT.replace(hour=17)
    before = None if action == "added" else fact()
    after = fact(value="12.8") if action in ("edited", "added") else None
    made = decision(action, before, after, who="Ann", at=later)
    now = only(apply([made], [] if action == "added" else [fact()]))
    assert (now.id, now.decided_by, now.decided_at) == ("F1", "Ann", later)


def test_the_last_to_decide_is_named() -> None:
    first = decision("accepted", fact(), who="Ann")
    last = decision("rejected", fact(), who="Ben", at=AT.replace(hour=17))
    now = only(apply([first, last], [fact()]))
    assert (now.decided_by, now.decided_at) == ("Ben", AT.replace(hour=17))


def test_what_nobody_decided_or_has_to_be_decided_again_names_nobody() -> None:
    reviewed = apply([decision("accepted", fact(value="12.6"))], [fact(value="21.6"), *FACTS[1:]])
    assert {(f.decided_by, f.decided_at) for f in reviewed.facts} == {(None, None)}


def test_accepting_what_a_correction_had_replaced_brings_it_back() -> None:
    replaced = fact(status="rejected", superseded_by="F9")
    back = only(apply([decision("accepted", replaced)], [replaced]))
    assert back.usable
    assert back.superseded_by is None


def test_undo_gives_the_fact_as_if_the_decision_had_not_been_made() -> None:
    reject = decision("rejected", DOUBTFUL, id=1)
    undo = decision("undone", undoes=1, id=2)
    redo = decision("undone", undoes=2, id=3)
    assert only(apply([reject, undo], [DOUBTFUL])) == DOUBTFUL
    assert only(apply([reject, undo, redo], [DOUBTFUL])).status == "rejected"


def test_acceptance_does_not_pass_to_a_value_that_is_read_otherwise_now() -> None:
    accept = decision("accepted", fact(value="12.6"))
    reviewed = apply([accept], [fact(value="21.6")])
    (now,) = reviewed.facts
    assert now.status == "check"
    assert "clerk" in (now.why or "")
    assert [u.decision for u in reviewed.unplaced] == [accept]


def test_rejection_does_not_pass_to_a_value_that_is_read_otherwise_now() -> None:
    reviewed = apply([decision("rejected", fact(value="12.6"))], [fact(value="21.6")])
    assert [f.status for f in reviewed.facts] == ["check"]
    assert len(reviewed.unplaced) == 1


def test_an_edit_holds_for_the_same_words_but_not_for_others() -> None:
    edit = decision("edited", fact(value="12.6"), fact(value="12.8"))
    same_words = apply([edit], [fact(value="2.6")])
    assert only(same_words).detail == fact(value="12.8").detail
    other_words = apply([edit], [fact(value="2.6", quote="battery two point six")])
    assert [f.status for f in other_words.facts] == ["check"]
    assert other_words.facts[0].detail == fact(value="2.6").detail


def test_of_two_people_who_disagree_neither_wins_in_silence() -> None:
    derived = fact()
    one = decision("edited", derived, fact(value="12.8"), who="technician")
    other = decision("accepted", derived, who="clerk")  # who hadn't seen the edit
    reviewed = apply([one, other], [derived])
    assert [f.status for f in reviewed.facts] == ["check"]
    assert [u.decision.who for u in reviewed.unplaced] == ["clerk"]


def test_a_decision_whose_fact_is_gone_is_reported() -> None:
    accept = decision("accepted", fact("F77"))
    reviewed = apply([accept], FACTS)
    assert reviewed.facts == FACTS
    assert [u.decision for u in reviewed.unplaced] == [accept]


def test_an_added_fact_never_hides_a_derived_one() -> None:
    added = decision("added", after=fact("F1", "99"))
    reviewed = apply([added], FACTS)
    assert reviewed.facts == FACTS
    assert [u.decision for u in reviewed.unplaced] == [added]


def test_a_rejected_fact_that_is_read_otherwise_now_stays_rejected() -> None:
    derived = fact(value="21.6", status="rejected", superseded_by="F2")
    reviewed = apply([decision("accepted", fact(value="12.6"))], [derived])
    assert reviewed.facts == (derived,)
    assert reviewed.unplaced


@pytest.mark.parametrize(
    "wrong",
    [
        {"action": "accepted"},
        {"action": "edited", "before": fact()},
        {"action": "added", "before": fact(), "after": fact()},
        {"action": "undone"},
        {"action": "accepted", "before": fact(), "undoes": 3},
        {"action": "accepted", "before": fact("F2")},
        {"action": "accepted", "before": fact(), "who": "  "},
        {"action": "accepted", "before": fact(), "at": datetime(2031, 4, 7)},
    ],
)
def test_a_decision_that_lacks_what_it_needs_cannot_be_made(wrong: dict[str, object]) -> None:
    with pytest.raises(ValueError):  # noqa: PT011 - which of its parts is wrong is what the cases say
        Decision(**{"fact_id": "F1", "who": "clerk", "at": AT, **wrong})  # type: ignore[arg-type]


def test_two_facts_of_one_id_are_refused_rather_than_merged() -> None:
    with pytest.raises(ValueError, match="share an id"):
        apply((), [fact(), fact(value="13")])


# --- a photo moved -------------------------------------------------------------------------------

PHOTO = "ab" * 32


def numbered(*groups: list[Decision]) -> list[Decision]:
    made = [one for group in groups for one in group]
    return [replace(one, id=at) for at, one in enumerate(made, start=1)]


def test_moving_a_photo_says_so_on_both_facts_and_decides_neither() -> None:
    source, target = replace(DOUBTFUL, photos=(PHOTO,)), fact("F2")
    move = moved(PHOTO, source, target, "clerk", AT)
    assert [d.fact_id for d in move] == ["F2", "F1"]  # put before it is taken
    reviewed = apply(numbered(move), [DOUBTFUL, fact("F2")])
    assert reviewed.facts == (
        replace(DOUBTFUL, photos=("-" + PHOTO,)),
        replace(fact("F2"), photos=("+" + PHOTO,)),
    )


def test_moving_a_photo_there_and_back_leaves_it_there() -> None:
    one, two = replace(fact(), photos=(PHOTO,)), fact("F2")
    there = moved(PHOTO, one, two, "clerk", AT)
    back = moved(PHOTO, replace(two, photos=(PHOTO,)), replace(one, photos=()), "clerk", AT.replace(hour=17))
    reviewed = apply(numbered(there, back), [fact(), fact("F2")])
    assert [f.photos for f in reviewed.facts] == [("+" + PHOTO,), ("-" + PHOTO,)]


def test_a_photo_put_to_nothing_is_only_taken() -> None:
    reviewed = apply(
        numbered(moved(PHOTO, replace(fact(), photos=(PHOTO,)), None, "clerk", AT)), [fact(), fact("F2")]
    )
    assert [f.photos for f in reviewed.facts] == [("-" + PHOTO,), ()]


def test_a_photo_stays_where_it_was_put_when_the_fact_is_read_otherwise() -> None:
    move = moved(PHOTO, None, fact(), "clerk", AT)
    assert only(apply(numbered(move), [fact(value="21.6")])).photos == ("+" + PHOTO,)


def test_a_moved_photo_is_kept_by_the_library_also_for_a_fact_without_a_note(tmp_path: Path) -> None:
    with Library.open(tmp_path / "library") as library:
        job, _ = file_and_save(library, make_recording(tmp_path / "job" / "note.wav"))
        own = fact("H1", quote="")
        library.decide(job, decision("added", after=own))
        for one in moved(PHOTO, None, own, "clerk", AT):
            library.decide(job, one)
        (kept,) = apply(library.decisions(job), []).facts
    assert kept.photos == ("+" + PHOTO,)


# --- two facts merged ----------------------------------------------------------------------------


def merge(kept: Fact, other: Fact) -> list[Decision]:
    return merged(kept, other, kept.detail, kept.audience, "clerk", AT)


def test_merging_leaves_one_that_stands_with_the_photos_of_both() -> None:
    one, two = replace(fact(), photos=("11" * 32,)), replace(fact("F2", "12.8"), photos=(PHOTO,))
    decisions = numbered(merged(one, two, fact(value="12.7").detail, "all", "clerk", AT))
    kept, gone = apply(decisions, [fact(), fact("F2", "12.8")]).facts
    assert (kept.status, kept.detail, kept.photos) == ("edited", fact(value="12.7").detail, ("+" + PHOTO,))
    assert (gone.status, gone.superseded_by, gone.decided_by) == ("rejected", "F1", "clerk")
    assert gone.detail == fact("F2", "12.8").detail


def test_undoing_a_merge_takes_back_all_of_it() -> None:
    one, two = fact(), replace(fact("F2", "12.8"), photos=(PHOTO,))
    decisions = numbered(merge(one, two))
    assert [d.id for d in gesture(decisions, 2)] == [1, 2, 3]
    undone = [
        Decision(d.fact_id, "clerk", AT.replace(hour=17), "undone", undoes=d.id, id=10 + at)
        for at, d in enumerate(decisions)
    ]
    assert apply([*decisions, *undone], FACTS) == Reviewed(FACTS)


def test_what_was_merged_into_a_fact_that_is_gone_has_to_be_looked_at_again() -> None:
    decisions = numbered(merge(fact("F9"), DOUBTFUL))
    reviewed = apply(decisions, [replace(DOUBTFUL, status="sure", why=None)])
    (back,) = reviewed.facts
    assert (back.status, back.superseded_by, back.decided_by) == ("check", None, None)
    assert "clerk" in (back.why or "")
    assert {u.decision.fact_id for u in reviewed.unplaced} == {"F9", "F1"}


def test_two_facts_merged_into_each_other_are_both_looked_at_again() -> None:
    into_one = merge(fact(), fact("F2"))
    into_two = merge(fact("F2"), fact())
    reviewed = apply(numbered(into_one, into_two), [fact(), fact("F2")])
    assert any(f.stands for f in reviewed.facts)


def test_a_merge_does_not_pass_to_a_value_that_is_read_otherwise_now() -> None:
    reviewed = apply(numbered(merge(fact(), fact("F2", "12.8"))), [fact(), fact("F2", "99")])
    assert reviewed.facts[1].status == "check"
    assert reviewed.facts[1].detail == fact("F2", "99").detail


# --- one fact split ------------------------------------------------------------------------------

HEARD = fact(note="N1", start_s=0.1, end_s=1.4, at=AT)


def parts() -> list[Decision]:
    first, second = fact(value="12.6").detail, fact(value="12.8").detail
    return numbered(split(HEARD, first, second, {"F1"}, "clerk", AT))


def test_splitting_gives_two_facts_with_one_evidence() -> None:
    one, two = apply(parts(), [HEARD]).facts
    assert (one.id, one.status, two.id, two.status) == ("F1", "edited", "F1.2", "accepted")
    assert two.detail == fact(value="12.8").detail
    evidence = [(f.quote, f.note, f.start_s, f.end_s, f.at, f.confidence) for f in (one, two)]
    assert evidence[0] == evidence[1]


def test_a_part_follows_its_note_to_another_number() -> None:
    _, two = apply(parts(), [replace(HEARD, note="N4")]).facts
    assert two.note == "N4"


def test_splitting_again_takes_a_number_that_is_free() -> None:
    again = split(HEARD, HEARD.detail, HEARD.detail, {"F1", "F1.2", "F1.3"}, "clerk", AT)
    assert [d.fact_id for d in again] == ["F1", "F1.4"]


def test_a_part_of_what_is_heard_otherwise_now_has_to_be_looked_at_again() -> None:
    other = replace(HEARD, quote="battery at two point six", detail=fact(value="2.6").detail)
    reviewed = apply(parts(), [other])
    assert [f.status for f in reviewed.facts] == ["check", "check"]
    assert len(reviewed.unplaced) == 2


def test_a_part_of_what_is_gone_is_kept_and_has_to_be_looked_at() -> None:
    reviewed = apply(parts(), [])
    (part,) = reviewed.facts
    assert (part.id, part.status, part.note, part.start_s) == ("F1.2", "check", None, None)
    assert len(reviewed.unplaced) == 2


values = st.sampled_from(["12.6", "12.8", "21.6"])


@st.composite
def histories(draw: st.DrawFn) -> list[Decision]:
    """Any decisions on three facts, with undos of earlier ones."""
    made: list[Decision] = []
    for number in range(1, draw(st.integers(0, 12)) + 1):
        id = draw(st.sampled_from(["F1", "F2", "A1"]))
        earlier = [d for d in made if d.fact_id == id]
        kinds = ["accepted", "rejected", "edited", "added"] + (["undone"] if earlier else [])
        action = draw(st.sampled_from(kinds))
        before = fact(id, draw(values)) if action in ("accepted", "rejected", "edited") else None
        after = fact(id, draw(values)) if action in ("edited", "added") else None
        undoes = draw(st.sampled_from(earlier)).id if action == "undone" else None
        made.append(decision(action, before, after, fact_id=id, undoes=undoes, id=number))
    return made


@given(histories(), st.lists(values, max_size=2))
def test_whatever_was_decided_no_fact_is_lost_and_no_decision_either(
    history: list[Decision], derived_values: list[str]
) -> None:
    derived = [fact(f"F{n}", value) for n, value in enumerate(derived_values, start=1)]
    reviewed = apply(history, derived)
    assert [f.id for f in reviewed.facts][: len(derived)] == [f.id for f in derived]
    # each decision in force either shows in a fact, or is reported
    reported = {u.decision.id for u in reviewed.unplaced}
    status = {f.id: f.status for f in reviewed.facts}
    for one in in_force(history):
        assert one.id in reported or status[one.fact_id] != "sure"


@given(histories(), st.lists(values, max_size=2))
def test_a_usable_fact_says_what_was_derived_or_what_a_person_wrote(
    history: list[Decision], derived_values: list[str]
) -> None:
    derived = {f"F{n}": Decimal(v) for n, v in enumerate(derived_values, start=1)}
    reviewed = apply(history, [fact(id, str(v)) for id, v in derived.items()])
    for one in reviewed.facts:
        assert isinstance(one.detail, Measurement)
        written = {
            d.after.detail.value
            for d in history
            if d.fact_id == one.id and d.after and isinstance(d.after.detail, Measurement)
        }
        assert one.detail.value in written | {derived.get(one.id)}
        if one.status == "accepted" and one.id in derived:
            assert any(d.before and d.before.detail == one.detail for d in history)
