"""Parts and steps that are told in passing: amounts, counts, what a number beside a part belongs to."""

from __future__ import annotations

from decimal import Decimal

import pytest

from jobnotes.reading.read import read_text
from jobnotes.record import Fact, Part, Statement, Step


def parts(said: str) -> list[tuple[str, str, Decimal | None]]:
    """(action, name in lower case, quantity) of the parts, in order."""
    return [
        (f.detail.action, f.detail.name.casefold(), f.detail.quantity)
        for f in read_text(said)
        if isinstance(f.detail, Part) and f.status != "rejected"
    ]


def steps(said: str) -> list[tuple[str, str, Decimal | None]]:
    """(action, object in lower case, quantity) of the steps, in order."""
    return [
        (f.detail.action, f.detail.object.casefold(), f.detail.quantity)
        for f in read_text(said)
        if isinstance(f.detail, Step) and f.status != "rejected"
    ]


def doubtful(said: str, kind: str = "part") -> list[Fact]:
    return [f for f in read_text(said) if f.kind == kind and f.status == "check"]


@pytest.mark.parametrize(
    ("said", "name", "quantity"),
    [
        ("Used a metre and a half of ten mil nylon pipe.", "nylon pipe", "1.5"),
        ("Replaced 2.5 metres of 5 core cable.", "cable", "2.5"),
        ("went through a can and a half of brake cleaner", "brake cleaner", "1.5"),
        ("fitted two of the six new clamps", "clamps", "2"),
        ("fitted three of his four new studs", "studs", "3"),
        ("4 gaskets and 2 V clamps new.", "v clamps", "2"),
    ],
)
def test_an_amount_counts_once_and_sizes_are_no_amount(said: str, name: str, quantity: str) -> None:
    assert [q for _, n, q in parts(said) if n == name] == [Decimal(quantity)]


@pytest.mark.parametrize(
    ("said", "name"),
    [
        ("replaced number two injector", "number two injector"),
        ("number three injector replaced", "number three injector"),
        ("swapped the number four glow plug for a new one", "number four glow plug"),
        ("size 8 bolts fitted", "size 8 bolts"),
        ("fitted grade ten bolts", "grade ten bolts"),
        ("stage two filters replaced", "stage two filters"),
        ("fitted m eight bolts", "m eight bolts"),
    ],
)
def test_a_number_that_tells_which_one_or_what_size_counts_no_pieces(said: str, name: str) -> None:
    assert parts(said) == [("fitted", name, None)]


def test_new_things_that_were_used_were_fitted_and_a_can_was_consumed() -> None:
    assert parts("Used three new fittings and a can of cleaner.") == [
        ("fitted", "fittings", Decimal(3)),
        ("consumed", "cleaner", None),
    ]


def test_a_noun_that_no_lexicon_knows_belongs_to_the_part_before_it() -> None:
    assert steps("lamp unplugged, bumper corner removed") == [
        ("disconnected", "lamp", None),
        ("removed", "bumper corner", None),
    ]
    assert ("removed", "rear half of the shaft", None) in steps("dropped the rear half of the shaft")


@pytest.mark.parametrize(
    ("said", "told"),
    [
        (
            "gearbox out\ngearbox up bell housing bolts eighty",
            [("removed", "gearbox"), ("refitted", "gearbox")],
        ),
        (
            "ram off pins out hoses off\nram on pins in hoses back on",
            [(a, o) for a in ("removed", "refitted") for o in ("ram", "pins", "hoses")],
        ),
        ("Plug off, solenoid out.", [("disconnected", "plug"), ("removed", "solenoid")]),
        ("prop dropped, diff carrier out on the jack", [("removed", "prop"), ("removed", "diff carrier")]),
        ("disc and hub off in one", [("removed", "disc"), ("removed", "hub")]),
    ],
)
def test_a_thing_and_its_place_tell_what_was_done(said: str, told: list[tuple[str, str]]) -> None:
    assert [(a, o) for a, o, _ in steps(said)] == told


@pytest.mark.parametrize(
    "said",
    [
        "hose off\nhose in two pieces",
        "wheel off\nwheel on the left is chafed",
        "plug off 24 volts at the pins",
        "so it stays on",
        "we can get the crane in",
    ],
)
def test_a_place_that_tells_a_state_puts_nothing_back(said: str) -> None:
    assert not [s for s in steps(said) if s[0] != "removed"]


@pytest.mark.parametrize(
    ("said", "step"),
    [
        ("connector's soaked in oil past the seal\nunplugged it", ("disconnected", "connector")),
        ("bore's a bit carboned up, cleaned it with the reamer", ("cleaned", "bore")),
        ("filter out, six clamps off\nfilter washed\nput it back", ("refitted", "filter")),
        ("sensor off cleaned in hot water back on", ("refitted", "sensor")),
    ],
)
def test_it_is_what_was_spoken_of_and_not_where_that_is(said: str, step: tuple[str, str]) -> None:
    assert step in [(a, o) for a, o, _ in steps(said)]


def test_a_list_of_new_parts_alone_is_of_fitted_ones_unless_they_are_wanted() -> None:
    told = "Belt off. New belt, new tensioner, 2 new idlers."
    assert parts(told) == [
        ("fitted", "belt", None),
        ("fitted", "tensioner", None),
        ("fitted", "idlers", Decimal(2)),
    ]
    assert not doubtful(told)
    assert not parts("new pads, new discs needed")
    assert not parts("cleaned the connector, didn't put any new terminals in")
    assert parts("new bearing set new seal") == [("fitted", "bearing set", None), ("fitted", "seal", None)]


@pytest.mark.parametrize(
    ("said", "told"),
    [
        ("edge rubber two off on order from the dealer", [("ordered", "edge rubber", Decimal(2))]),
        ("haven't got a hub here it's on back order", [("ordered", "hub", None)]),
        ("Heat shield was missing; ordered 1, 771-900.", [("ordered", "heat shield", Decimal(1))]),
        ("Waiting for parts, the piston rings are on order.", [("ordered", "piston rings", None)]),
        ("fan out, three screws\nI have ordered one", [("ordered", "fan", Decimal(1))]),
        ("valve is out\nI put a new one, 0 9 2 8 4 4.", [("fitted", "valve", None)]),
        ("the original clips were in good order and have been re used", [("reused", "clips", None)]),
        ("the filter was blocked and was replaced", [("fitted", "filter", None)]),
        ("used the same coolant again", [("reused", "coolant", None)]),
        ("we removed the seat and it was replaced", [("fitted", "seat", None)]),
    ],
)
def test_a_part_may_be_told_before_its_verb(said: str, told: list[tuple[str, str, Decimal | None]]) -> None:
    assert parts(said) == told
    assert not doubtful(said)


@pytest.mark.parametrize(
    "said", ["turbo out, actuator was seized\nfitted a new one", "hose off clip off\nfitted a new one"]
)
def test_a_new_one_of_two_things_is_for_a_person_to_say(said: str) -> None:
    assert len(doubtful(said)) == len(parts(said)) == 1


@pytest.mark.parametrize(
    ("said", "told"),
    [
        (
            "the coolant line to the doser i had off it's back on and bled",
            [
                ("removed", "coolant line", None),
                ("refitted", "coolant line", None),
                ("bled", "coolant line", None),
            ],
        ),
        ("removed and cleaned the injector", [("removed", "injector", None), ("cleaned", "injector", None)]),
        ("topped the tank up with six litres of hydraulic oil", [("filled", "hydraulic oil", Decimal(6))]),
        ("Took the clamps off, two of them", [("removed", "clamps", Decimal(2))]),
        (
            "valve off\ncleaned it and back in she goes",
            [(a, "valve", None) for a in ("removed", "cleaned", "refitted")],
        ),
    ],
)
def test_a_step_may_be_told_around_its_object(said: str, told: list[tuple[str, str, Decimal | None]]) -> None:
    assert steps(said) == told


@pytest.mark.parametrize(
    ("said", "told"),
    [
        (
            "Three of the old bolts and one new.",
            [("reused", "bolts", Decimal(3)), ("fitted", "bolts", Decimal(1))],
        ),
        (
            "filter out\nput it back with four new clamps and two of the old ones",
            [("fitted", "clamps", Decimal(4)), ("reused", "clamps", Decimal(2))],
        ),
        ("put five of the six bolts back in and one new one", [("fitted", "bolts", Decimal(1))]),
        ("fitted two of the old bolts", [("reused", "bolts", Decimal(2))]),
        ("cover off\ncover on again with the same screws", [("reused", "screws", None)]),
        ("new hose on with the old clamps", [("fitted", "hose", None), ("reused", "clamps", None)]),
        ("couplings fitted times two", [("fitted", "couplings", Decimal(2))]),
        (
            "Fitted new hose, clips and two o rings",
            [("fitted", "hose", None), ("fitted", "clips", None), ("fitted", "o rings", Decimal(2))],
        ),
        ("switch out\nNew one's number 77 double 4 1 2.", [("fitted", "switch", None)]),
    ],
)
def test_old_and_new_pieces_are_told_apart(said: str, told: list[tuple[str, str, Decimal | None]]) -> None:
    assert parts(said) == told
    assert not doubtful(said)


@pytest.mark.parametrize(
    "said",
    [
        "two of the old studs sheared and one new",
        "two of the old bolts were snapped",
        "threw out three of the old clips",
        "pump off\nthe new one's number is on the box",
    ],
)
def test_old_pieces_that_did_not_go_on_again_are_no_parts(said: str) -> None:
    assert not parts(said)


@pytest.mark.parametrize(
    ("said", "name"),
    [
        ("the old module's in the box under the bench tagged for the claim", "module"),
        ("old strip removed and retained", "strip"),
    ],
)
def test_what_is_kept_may_be_named_some_words_before(said: str, name: str) -> None:
    assert parts(said) == [("removed", name, None)]


def test_what_went_back_to_somebody_is_not_back_on_the_vehicle() -> None:
    assert not steps("Old brake hose went back to the supplier.")


def test_of_a_new_thing_and_another_the_other_is_not_just_put_back() -> None:
    said = "New tensioner and idler on, and one belt."
    assert not steps(said)
    assert parts(said)[0] == ("fitted", "tensioner", None)
    assert [f.detail.name for f in doubtful(said) if isinstance(f.detail, Part)] == ["idler"]


@pytest.mark.parametrize(
    ("said", "told"),
    [
        ("hub, caliper and wheel are back on", [("refitted", n, None) for n in ("hub", "caliper", "wheel")]),
        ("reconnected all six injector plugs", [("reconnected", "injector plugs", Decimal(6))]),
        ("popped the clips off the trim, six of them", [("removed", "clips", Decimal(6))]),
        (
            "seat out, two plugs under there undone",
            [("removed", "seat", None), ("disconnected", "plugs", Decimal(2))],
        ),
        ("eight wheel nuts a side, all torqued", [("tightened", "wheel nuts", Decimal(8))]),
        ("batteries in", [("refitted", "batteries", None)]),
        ("plugs numbered and pulled off the injectors", [("removed", "plugs", None)]),
        ("held the nut with a spanner and the bolt came out", [("removed", "bolt", None)]),
        ("wound the caliper back", [("adjusted", "caliper", None)]),
    ],
)
def test_each_step_is_of_the_thing_that_it_was_done_to(
    said: str, told: list[tuple[str, str, Decimal | None]]
) -> None:
    assert steps(said) == told


@pytest.mark.parametrize(
    ("said", "told"),
    [
        ("tapped the new seal home", [("fitted", "seal", None)]),
        ("put two screws through it", [("fitted", "screws", Decimal(2))]),
        ("Ended up fitting a whole new loom.", [("fitted", "loom", None)]),
        ("swapped the alternator over for the reconditioned one", [("fitted", "alternator", None)]),
        ("Track rod end off, new one on.", [("fitted", "track rod end", None)]),
        ("filters all changed, oil, two fuel and the air", [("fitted", "filters", None)]),
    ],
)
def test_a_fitted_part_has_its_whole_name(said: str, told: list[tuple[str, str, Decimal | None]]) -> None:
    assert parts(said) == told


def test_what_a_thing_was_driven_in_with_may_be_a_tool() -> None:
    for said in ("seal knocked in with a bit of tube", "pressed the new bush in with a socket"):
        assert all("tool" in str(f.why) for f in doubtful(said))
        assert len([f for f in read_text(said) if f.kind == "part" and f.status == "sure"]) == 1


def loose_ends(said: str) -> list[str]:
    return [
        f.detail.component or ""
        for f in read_text(said)
        if isinstance(f.detail, Statement) and f.kind == "loose_end"
    ]


@pytest.mark.parametrize(
    ("said", "thing"),
    [
        ("I've not put the prop back up yet.", "prop"),
        ("haven't plugged the sensor back in yet", "sensor"),
        ("left the belt guard off for now", "belt guard"),
        ("everything's back on apart from the undertray", "undertray"),
    ],
)
def test_what_is_left_for_later_is_a_loose_end(said: str, thing: str) -> None:
    assert loose_ends(said) == [thing]
    assert not [
        f
        for f in read_text(said)
        if isinstance(f.detail, Step) and f.detail.action == "refitted" and f.status == "sure"
    ]


def test_a_wheel_on_the_left_is_not_left_off() -> None:
    assert not loose_ends("left hand wheel off")
    assert not steps("Not had chance to put the bonnet strut back yet.")


@pytest.mark.parametrize(
    "said",
    [
        "could've fitted two clamps but one did the job",
        "the truck is fitted with drum brakes",
        "the filters fitted are from another maker",
        "there's a ten amp fuse fitted where it should be five",
        "new style clamps don't suit this hose",
        "none of the bolts were replaced",
        "not one bolt was replaced",
        "clutch has been replaced at some point",
        "the seal's been changed recently by the look of it",
        "a new seal would fix it",
        "new seal costs forty pounds",
        "new seal arrived",
        "collected a new seal from the dealer",
        "put the lights on",
        "put my boots on",
        "changed gear",
        "swapped the relay with the horn one and it works",
        "swapped the sensors left to right and the fault moved",
        "used two jacks",
        "kept the engine running",
        "it's using two litres of oil a week",
    ],
)
def test_a_part_that_was_only_spoken_of_is_not_sure(said: str) -> None:
    assert not [f for f in read_text(said) if f.kind == "part" and f.status == "sure"]


@pytest.mark.parametrize(
    "said",
    [
        "it lost ten litres of oil",
        "took an hour off for lunch",
        "pulled the codes",
        "pulled a vacuum on it",
        "dropped the keys off at the office",
        "ran out of grease",
        "tightened up the rules",
        "drained the battery",
        "charged the customer two hours",
        "the heater's on",
        "the code's back on",
        "battery's on its way out",
        "hose off the turbo is split",
        "with the wheel off you can see the crack",
        "put the cab up and put my coat on",
    ],
)
def test_nothing_is_taken_apart_or_put_back_by_a_turn_of_speech(said: str) -> None:
    assert not [s for s in steps(said) if s[0] != "lifted"]


def test_a_thing_told_of_right_before_is_meant_rather_than_one_that_came_off_long_before() -> None:
    said = "the catch is off\nair pipe's off its spigot pushed it back on"
    assert ("refitted", "air pipe", None) in steps(said)
    assert ("refitted", "catch", None) not in steps(said)


def test_two_things_of_one_head_each_have_it() -> None:
    assert parts("Replaced primary and secondary fuel filters.") == [
        ("fitted", "primary fuel filters", None),
        ("fitted", "secondary fuel filters", None),
    ]


def test_a_state_or_a_test_that_is_named_like_a_command_is_no_doubtful_step() -> None:
    assert not steps("solenoid reads open circuit")
    assert not steps("code P2263 active")
    assert steps("pressure test one bar fifteen minutes no loss") == [("tested", "pressure test", None)]
    assert not doubtful("pressure test one bar fifteen minutes no loss", "step")


@pytest.mark.parametrize(
    ("said", "name", "quantity"),
    [
        ("fitted a three quarter inch hose", "hose", None),
        ("fitted a half inch stud", "stud", None),
        ("fitted a ten stud hub", "stud hub", None),
        ("fitted a set of four pads", "pads", "4"),
        ("fitted two pairs of wipers", "wipers", "4"),
        ("fitted two brake pads", "brake pads", "2"),
        ("fitted half a can of cleaner", "cleaner", "0.5"),
    ],
)
def test_a_count_is_of_pieces_and_not_of_inches_or_studs(said: str, name: str, quantity: str | None) -> None:
    assert [(n, q) for _, n, q in parts(said)] == [(name, Decimal(quantity) if quantity else None)]
    assert not doubtful(said)


@pytest.mark.parametrize(
    "said", ["fitted four sets of pads", "fitted 12 piece seal kit", "fitted two clips and then another two"]
)
def test_how_many_pieces_there_were_is_asked_where_it_was_not_said(said: str) -> None:
    assert len(doubtful(said)) == len(parts(said)) == 1


def test_a_set_is_a_noun_where_it_is_of_something() -> None:
    assert parts("Removed the caliper, fitted a set of pads.") == [("fitted", "set of pads", None)]
    assert parts("bearing set new") == [("fitted", "bearing set", None)]
    assert steps("set the clearance") == [("adjusted", "clearance", None)]


@pytest.mark.parametrize(
    "said", ["road test still to do", "pressure test not done", "road test to be done tomorrow"]
)
def test_a_test_that_is_still_to_do_was_not_done(said: str) -> None:
    assert not steps(said)


def test_what_was_moved_over_from_the_old_unit_is_reused_though_it_was_heard_as_removed() -> None:
    told = read_text("the drive gear and the bracket removed over from the old unit")
    parts = [f.detail for f in told if isinstance(f.detail, Part)]
    assert [(p.name, p.action) for p in parts] == [("drive gear", "reused"), ("bracket", "reused")]


@pytest.mark.parametrize(
    ("count", "words"), [(4, "four"), (24, "twenty four"), (124, "one hundred and twenty four")]
)
def test_how_many_of_them_is_the_whole_number_before_of(count: int, words: str) -> None:
    assert parts(f"{words} of the wheel nuts replaced") == [("fitted", "wheel nuts", Decimal(count))]
