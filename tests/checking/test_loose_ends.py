"""What is off, open, drained, unplugged, connected or lost is named until something undoes it."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest
from checking_builders import later, part, remark, step, torque
from hypothesis import given, settings
from hypothesis import strategies as st

from jobnotes.checking import pairs
from jobnotes.checking.loose_ends import certain_first, in_full, loose_ends
from jobnotes.checking.pairs import Pairs

PAIRS = pairs.load()


def ends(*facts):
    return [(end.text, end.state) for end in loose_ends(facts, PAIRS)]


# --- single things -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("action", "thing", "state", "undoing"),
    [
        ("removed", "bracket", "off", "refitted"),
        ("disconnected", "sensor plug", "unplugged", "reconnected"),
        ("drained", "coolant", "drained", "filled"),
        ("opened", "drain valve", "open", "closed"),
        ("loosened", "tensioner", "open", "tightened"),
        ("lost", "clip", "lost", "found"),
        ("connected", "pressure gauge", "connected", "disconnected"),
        ("lifted", "cab", "open", "lowered"),
    ],
)
def test_what_was_opened_is_a_loose_end_until_it_is_undone(action, thing, state, undoing):
    opened = step(action, thing)
    (end,) = loose_ends([opened], PAIRS)
    assert (end.state, end.fact_id) == (state, opened.id)
    assert thing in end.text
    assert loose_ends([opened, step(undoing, thing)], PAIRS) == ()


def test_undoing_comes_after_opening():
    assert ends(step("refitted", "bracket"), step("removed", "bracket")) == [("bracket still off", "off")]


def test_the_time_of_the_words_decides_not_the_order_of_the_list():
    off = step("removed", "bracket", at=later(1))
    on = step("refitted", "bracket", at=later(60))
    assert ends(on, off) == []


def test_what_came_off_again_is_off():
    taken = [step("removed", "cover"), step("refitted", "cover"), step("removed", "cover")]
    assert ends(*taken) == [("cover still off", "off")]


def test_another_thing_put_back_closes_nothing():
    assert ends(step("removed", "coolant hose"), step("refitted", "air hose")) == [
        ("coolant hose still off", "off")
    ]
    assert ends(step("removed", "fan"), step("refitted", "alternator")) == [("fan still off", "off")]


def test_a_line_is_a_hose_and_a_plug_a_connector():
    assert ends(step("removed", "air line"), step("refitted", "air pipe")) == []
    assert ends(step("disconnected", "the sensor plug"), step("connected", "sensor connector")) == []


def test_one_thing_unplugged_and_then_taken_off_is_closed_by_putting_it_back():
    taken = [step("disconnected", "air hose"), step("removed", "air hose")]
    assert len(ends(*taken)) == 2
    assert ends(*taken, step("refitted", "air hose")) == []


def test_the_same_thing_told_twice_is_one_loose_end():
    assert ends(step("removed", "liner"), step("removed", "the liner")) != []
    assert ends(step("removed", "liner"), step("removed", "liner"), step("refitted", "liner")) == []


def test_rejected_facts_neither_open_nor_close():
    assert ends(step("removed", "cover", status="rejected")) == []
    gone = step("refitted", "cover", status="rejected")
    assert ends(step("removed", "cover"), gone) == [("cover still off", "off")]


def test_a_doubtful_put_back_closes_nothing_and_is_told():
    back = step("refitted", "cover", status="check")
    (end,) = loose_ends([step("removed", "cover"), back], PAIRS)
    assert (end.text, end.state, end.evidence) == ("cover still off", "off", (back.id,))
    assert end.doubt == "its putting back was heard, but not for certain"
    assert in_full(end) == "cover still off (its putting back was heard, but not for certain)"
    assert ends(step("removed", "cover"), step("refitted", "cover", status="accepted")) == []


def test_what_came_off_only_in_doubt_is_loose_in_doubt_until_something_confirms_it():
    off = step("removed", "screws", 9, status="check")
    (end,) = loose_ends([off], PAIRS)
    assert end.doubt == "heard, but not for certain"
    (end,) = loose_ends([off, step("refitted", "screws", 8)], PAIRS)
    assert (end.text, end.doubt) == ("1 of 9 screws still off", None)


def test_what_is_loose_for_certain_comes_first():
    found = loose_ends([step("removed", "fan", status="check"), step("removed", "cover")], PAIRS)
    assert [end.text for end in certain_first(found)] == ["cover still off", "fan still off"]


def test_a_screw_lost_is_the_one_that_is_not_back_and_all_that_bears_on_it_is_named():
    off, back = step("removed", "screws", 9), step("refitted", "screws", 8)
    lost = step("lost", "screw", 1, quote="one screw is lost")
    told = remark("one screw is lost", component="screw", quote="one screw is lost")
    (end,) = loose_ends([off, back, lost, told], PAIRS)
    assert (end.text, end.state, end.doubt) == ("1 of 9 screws still off: lost", "lost", None)
    assert (end.fact_id, end.evidence) == (off.id, (back.id, lost.id, told.id))
    found = step("found", "screw", 1)
    assert ends(off, back, lost, told, found) == [("1 of 9 screws still off", "off")]


@pytest.mark.parametrize(
    ("words", "place"),
    [
        ("One screw is lost. It fell down behind the axle", "down behind the axle"),
        ("One screw is lost, it fell behind the gearbox cross member", "behind the gearbox cross member"),
        ("Lost one of the screws somewhere in the engine bay. I'll order one", "somewhere in the engine bay"),
        ("One screw from under the seat is lost", None),
        ("One screw is lost and I will get another one tomorrow in town", None),
    ],
)
def test_where_a_piece_was_lost_stands_with_the_loose_end(words, place):
    off, back = step("removed", "screws", 9), step("refitted", "screws", 8)
    lost = step("lost", "screw", 1, quote=words)
    (end,) = loose_ends([off, back, lost, remark(words, component="screw", quote=words)], PAIRS)
    assert end.place == place
    assert end.text == "1 of 9 screws still off: lost" + (f", {place}" if place else "")
    (alone,) = loose_ends([remark(words, component="screw", quote=words)], PAIRS)
    assert (alone.text, alone.place) == (words, place)


def test_where_a_piece_was_lost_is_in_doubt_with_the_words_that_tell_it_and_private_words_tell_nobody():
    words = "one screw is lost, it fell behind the axle"
    lost = step("lost", "screw", 1, quote=words)
    told = remark(words, component="screw", quote=words)
    assert ends(lost, replace(told, status="check")) == [("screw lost, perhaps behind the axle", "lost")]
    assert ends(lost, replace(told, audience="workshop")) == [("screw lost", "lost")]


@pytest.mark.parametrize(
    "lost",
    [
        step("lost", "screw", 2),  # more than are short
        step("lost", "clip", 1),  # something else
    ],
)
def test_a_loss_that_does_not_account_for_what_is_short_stays_one_of_its_own(lost):
    left = ends(step("removed", "screws", 9), step("refitted", "screws", 8), lost)
    assert len(left) == 2
    assert left[0] == ("1 of 9 screws still off", "off")


def test_a_loss_that_may_be_of_either_of_two_is_put_down_to_neither():
    facts = [
        step("removed", "cover screws", 4),
        step("refitted", "cover screws", 3),
        step("removed", "bracket screws", 2),
        step("refitted", "bracket screws", 1),
        step("lost", "screw", 1),
    ]
    assert [state for _, state in ends(*facts)] == ["off", "off", "lost"]


# --- parts ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("action", ["fitted", "reused"])
def test_a_removed_part_is_closed_by_a_new_one_or_by_its_reuse(action):
    assert ends(part("removed", "old fuel pump"), part(action, "fuel pump")) == []


def test_ordering_a_part_puts_nothing_back():
    assert ends(part("removed", "fuel pump"), part("ordered", "fuel pump")) == [
        ("fuel pump still off", "off")
    ]


def test_replaced_in_one_breath_leaves_nothing_off_in_whatever_order_it_is_read():
    both = [
        part("fitted", "pump", quote="replaced the pump"),
        part("removed", "pump", quote="replaced the pump"),
    ]
    assert ends(*both) == []


def test_one_statement_read_as_step_and_part_counts_once():
    off = [
        step("removed", "seals", 2, quote="two seals off"),
        part("removed", "seals", 2, quote="two seals off"),
    ]
    assert ends(*off) == [("2 seals still off", "off")]
    on = [step("refitted", "seal", 1, quote="one back"), part("reused", "seal", 1, quote="one back")]
    assert ends(*off, *on) == [("1 of 2 seals still off", "off")]


def test_words_read_twice_in_part_count_once():
    on = [
        step("refitted", "lines", quote="lines back on"),
        step("refitted", "lines", 3, quote="three lines back on"),
    ]
    for back in (on, on[::-1]):
        assert ends(step("removed", "air lines", 4), *back) == [("1 of 4 air lines still off", "off")]


def test_an_old_part_told_of_after_its_successor_is_not_off():
    new = part("fitted", "tyre front offside", 1)
    old = part("removed", "tyre")
    used = replace(old, detail=replace(old.detail, condition="used"))
    assert ends(new, used) == []
    assert ends(new, old) == [("tyre still off", "off")]


def test_a_lost_bolt_does_not_hide_among_those_put_back():
    taken = [step("removed", "liner"), step("removed", "screws", 9)]
    assert ends(*taken, step("refitted", "liner"), step("lost", "screw", 1)) == [("screw lost", "lost")]


def test_the_bolts_of_one_thing_do_not_go_back_with_another():
    taken = [step("removed", "bracket"), step("removed", "bolts", 4)]
    taken += [step("lifted", "cab"), step("removed", "cover"), step("removed", "bolts", 6)]
    assert ends(*taken, step("lowered", "cab"), step("refitted", "bracket")) == [
        ("cover still off", "off"),
        ("6 bolts still off", "off"),
    ]


def test_the_same_words_said_twice_a_minute_apart_count_twice():
    off = step("removed", "clips", 2, at=later(0), start_s=0.0)
    on = [step("refitted", "clip", 1, quote="one clip on", at=later(m), start_s=60.0 * m) for m in (5, 6)]
    assert ends(off, *on[:1]) == [("1 of 2 clips still off", "off")]
    assert ends(off, *on) == []


# --- counts --------------------------------------------------------------------------------------


def test_four_off_three_back_is_one_still_off():
    assert ends(step("removed", "air lines", 4), step("refitted", "air lines", 3)) == [
        ("1 of 4 air lines still off", "off")
    ]


def test_the_plural_without_a_number_puts_all_of_them_back():
    assert ends(step("removed", "air lines", 4), step("refitted", "the lines")) == []


def test_the_singular_puts_one_back():
    assert ends(step("removed", "air lines", 4), step("refitted", "air line")) == [
        ("3 of 4 air lines still off", "off")
    ]


def test_one_back_of_an_unknown_number_is_not_all():
    assert ends(step("removed", "lines"), step("refitted", "line", 1)) == [("lines still off, 1 back", "off")]


def test_a_number_spills_over_to_the_next_that_fits():
    taken = [step("removed", "coolant hose"), step("removed", "boost hose")]
    assert ends(*taken, step("refitted", "hoses", 2)) == []


def test_more_taken_off_later_adds_up():
    taken = [step("removed", "bolts", 4), step("removed", "bolts", 2)]
    assert ends(*taken, step("refitted", "bolts", 4)) == [("2 of 6 bolts still off", "off")]


# --- everything ----------------------------------------------------------------------------------


def test_everything_back_on_closes_what_that_undoes_and_nothing_else():
    taken = [
        step("removed", "cover"),
        step("removed", "air lines", 4),
        step("drained", "coolant"),
        step("lost", "clip"),
        step("connected", "test gauge"),
    ]
    left = [state for _, state in ends(*taken, step("refitted", "everything"))]
    assert left == ["drained", "lost", "connected"]


def test_all_reconnected_leaves_what_is_off():
    taken = [step("disconnected", "plug"), step("removed", "cover"), step("opened", "valve")]
    left = ends(*taken, step("reconnected", "everything"))
    assert ("plug still unplugged", "unplugged") not in left
    assert ("valve still open", "open") in left


def test_everything_covers_what_came_before_it_only():
    taken = [step("removed", "cover"), step("refitted", "everything"), step("removed", "shield")]
    assert ends(*taken) == [("shield still off", "off")]


def test_a_doubtful_everything_closes_nothing():
    (end,) = loose_ends([step("removed", "cover"), step("refitted", "everything", status="check")], PAIRS)
    assert "not for certain" in str(end.doubt)


# --- fasteners, fluids, test gear ----------------------------------------------------------------


def test_bolts_go_back_with_what_they_held():
    taken = [step("removed", "bracket"), step("removed", "bolts", 4)]
    assert ends(*taken, step("refitted", "bracket")) == []
    assert len(ends(*taken)) == 2


def test_clamps_go_back_with_the_hose_they_held():
    assert ends(step("removed", "clamps", 2), step("removed", "hose"), part("fitted", "hose")) == []


def test_bolts_that_are_counted_back_are_held_to_their_count():
    taken = [step("removed", "liner"), step("removed", "screws", 9)]
    back = [step("refitted", "liner"), step("refitted", "screws", 8)]
    assert ends(*taken, *back) == [("1 of 9 screws still off", "off")]


def test_a_torque_reading_says_that_the_bolts_are_in():
    assert ends(step("removed", "bolts", 2), torque("sensor bolts")) == []


def test_a_fluid_filled_to_nearly_what_was_drained_is_back():
    assert ends(step("drained", "oil", 28, "L"), step("filled", "oil", 27, "L")) == []
    assert ends(step("drained", "oil", 28, "L"), part("consumed", "oil", 29, "L")) == []


def test_a_fluid_filled_short_is_told_with_both_amounts():
    ((text, state),) = ends(step("drained", "oil", 28, "L"), step("filled", "oil", "12.5", "L"))
    assert state == "drained"
    assert "28 L" in text
    assert "12.5 L" in text


def test_test_gear_on_is_a_loose_end_and_off_is_none():
    assert ends(part("fitted", "blanking plug")) == [("blanking plug still connected", "connected")]
    assert ends(part("fitted", "blanking plug"), part("removed", "blanking plug")) == []
    assert ends(step("connected", "test gauge"), step("removed", "gauge")) == []


def test_connecting_a_hose_of_the_vehicle_opens_nothing():
    assert ends(step("connected", "air hose")) == []


def test_a_filler_cap_left_off_is_a_loose_end_although_caps_serve_in_tests_too():
    assert ends(step("removed", "filler cap")) == [("filler cap still off", "off")]
    assert ends(step("removed", "filler cap"), step("refitted", "filler cap")) == []
    assert ends(step("removed", "filler cap"), part("fitted", "filler cap")) == []


# --- lost, and in the technician's own words -----------------------------------------------------


def test_what_is_lost_stays_lost_until_it_is_found():
    lost = step("lost", "bolt")
    assert ends(lost, part("fitted", "bolt"), step("refitted", "everything")) == [("bolt lost", "lost")]
    assert ends(lost, step("found", "bolt")) == []


def test_a_remark_that_something_is_lost_is_closed_by_finding_it_only():
    lost = remark("one screw is lost, it fell behind the axle")
    assert ends(lost, step("refitted", "screw")) == [("one screw is lost, it fell behind the axle", "lost")]
    assert ends(lost, step("found", "screw")) == []


def test_what_is_still_to_do_is_closed_by_doing_it():
    to_do = remark("still need to torque the wheel nuts")
    assert ends(to_do) == [("still need to torque the wheel nuts", "unfinished")]
    assert ends(to_do, step("removed", "wheel nuts"), step("refitted", "wheel nuts"))[0][1] == "unfinished"
    assert ends(to_do, step("tightened", "wheel nuts")) == []


def test_a_remark_about_what_the_steps_show_open_is_not_told_twice():
    assert ends(step("removed", "sump guard"), remark("sump guard still off")) == [
        ("sump guard still off", "off")
    ]


# --- the rule that has an inverse ----------------------------------------------------------------

OPENING = {"removed": "refitted", "disconnected": "reconnected", "opened": "closed", "drained": "filled"}
THINGS = ("bracket", "coolant hose", "sensor plug", "rocker cover", "air filter", "fuel tank", "drain valve")


@st.composite
def teardowns(draw):
    things = draw(st.lists(st.sampled_from(THINGS), min_size=1, unique=True))
    return [
        (draw(st.sampled_from(sorted(OPENING))), thing, draw(st.one_of(st.none(), st.integers(1, 6))))
        for thing in things
    ]


def put_back(draw, taken):
    """Every piece put back, those with a number in one or more goes."""
    back = []
    for action, thing, number in taken:
        left = number
        while left is not None and left > 0:
            go = draw(st.integers(1, left))
            back.append(step(OPENING[action], thing, go))
            left -= go
        if number is None:
            back.append(step(OPENING[action], thing))
    return draw(st.permutations(back))


@settings(deadline=None)
@given(st.data(), teardowns())
def test_taking_apart_and_putting_back_in_any_order_leaves_no_loose_end(data, taken):
    facts = [step(*t) for t in taken]
    assert len(loose_ends(facts, PAIRS)) == len(taken)
    assert loose_ends([*facts, *put_back(data.draw, taken)], PAIRS) == ()


@settings(deadline=None)
@given(st.data(), teardowns())
def test_leaving_one_thing_out_leaves_just_that_one(data, taken):
    facts = [step(*t) for t in taken]
    forgotten = data.draw(st.sampled_from(range(len(taken))))
    back = put_back(data.draw, taken[:forgotten] + taken[forgotten + 1 :])
    (end,) = loose_ends([*facts, *back], PAIRS)
    assert end.fact_id == facts[forgotten].id


words = st.sampled_from(
    ["bolt", "bolts", "the hose", "everything", "gauge", "coolant", "", "é", "cap on the tank"]
)
amounts = st.one_of(st.none(), st.sampled_from([Decimal(0), Decimal("0.5"), Decimal(3), Decimal(-1)]))
steps = st.builds(
    step,
    st.sampled_from([*sorted(PAIRS.opposites), "refitted", "found", "filled", "unheard of"]),
    words,
    amounts,
    st.sampled_from([None, "L"]),
    status=st.sampled_from(["sure", "check", "rejected"]),
)


@settings(deadline=None, max_examples=200)
@given(
    st.lists(st.one_of(steps, st.builds(remark, words), st.builds(part, st.just("removed"), words, amounts)))
)
def test_any_facts_give_loose_ends_that_each_name_a_standing_fact_in_the_order_of_the_job(facts):
    found = loose_ends(facts, PAIRS)
    order = [f.id for f in facts if f.stands]
    positions = [order.index(end.fact_id) for end in found]
    assert positions == sorted(positions)


def test_pairs_can_be_given_by_hand():
    own = Pairs(
        opposites={"taken": frozenset({"brought"})},
        states={"taken": "off"},
        same_object=lambda a, b: a == b,
    )
    assert [e.text for e in loose_ends([step("taken", "lid")], own)] == ["lid still off"]
    assert loose_ends([step("taken", "lid"), step("brought", "lid")], own) == ()


@pytest.mark.parametrize(
    ("opened", "closed"),
    [
        ("alternator", "alternator plug"),
        ("alternator plug", "alternator"),
        ("speed sensor", "speed sensor connector"),
    ],
)
def test_what_was_unplugged_may_be_named_with_its_plug_or_without(opened: str, closed: str) -> None:
    assert ends(step("disconnected", opened), step("reconnected", closed)) == []


def test_a_plug_that_is_back_on_puts_back_nothing_that_was_taken_off() -> None:
    left = ends(step("removed", "alternator"), step("reconnected", "alternator plug"))
    assert left == [("alternator still off", "off")]


def test_the_plug_of_another_thing_closes_nothing() -> None:
    left = ends(step("disconnected", "speed sensor"), step("reconnected", "alternator plug"))
    assert left == [("speed sensor still unplugged", "unplugged")]
