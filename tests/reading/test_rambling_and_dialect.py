"""Rambling, dialect and second-language speech: what is read of it, and what must not be.

The lines are made up for these tests. Common practice, no source.
"""

from __future__ import annotations

import pytest
from reading_forms import details, said, sure, taken_back

from jobnotes.record import Clock, LabourSaid, Measurement, Part, Statement, Step


def parts(text: str) -> set[tuple[str, str]]:
    return {(p.action, p.name) for p in details(text, Part)}


def steps(text: str) -> set[tuple[str, str]]:
    return {(s.action, s.object) for s in details(text, Step)}


def readings(text: str) -> list[tuple[str, str]]:
    return [(str(m.value), m.unit) for m in details(text, Measurement)]


@pytest.mark.parametrize(
    "text",
    [
        "lift leaks down thirty two mil in five minutes",
        "leak down on the forks is 14 mil now",
        "boom crept 40 mil in ten minutes",
        "box body at minus 20 degrees",
        "boom at 45 degrees",
    ],
)
def test_a_unit_that_may_mean_two_is_left_to_a_person(text: str) -> None:
    fact = next(f for f in said(text) if f.kind == "measurement")
    assert fact.status == "check"
    assert " or " in fact.why


@pytest.mark.parametrize(
    ("text", "unit"),
    [
        ("leak off on number two 40 mil", "mL"),
        ("return flow 45 mil in a minute", "mL"),
        ("end float 2 mil", "mm"),
        ("coolant 84 degrees", "Cel"),
        ("camber two degrees", "deg"),
    ],
)
def test_what_is_spoken_of_still_tells_the_unit(text: str, unit: str) -> None:
    assert sure(text, Measurement).unit == unit


def test_a_hesitation_after_a_number_is_no_unit() -> None:
    assert readings("gap on the right hand one um i got the feelers in") == []
    assert readings("roughness 8 um") == [("8", "um")]


def test_an_afterthought_after_a_comma_ends_a_part_number() -> None:
    hose, rings = details("new hose, part number 05512-8, oh and two new sealing rings", Part)
    assert (hose.number, rings.quantity) == ("05512-8", 2)
    (seal,) = details("fitted a new seal, part number five five one, oh two", Part)
    assert seal.number.replace("-", "") == "55102"


def test_hundreds_with_more_behind_them_are_no_time_of_day() -> None:
    text = "pressure cuts in at one hundred and fifty two bar and out at one hundred and ninety eight bar"
    assert readings(text) == [("152", "bar"), ("198", "bar")]
    assert details(text, Clock) == []
    assert [c.action for c in details("clocked out at sixteen hundred", Clock)] == ["stop"]


def test_what_stays_on_the_pallet_is_kept_and_no_stays() -> None:
    assert parts("pump replaced. Old pump stays on the pallet with the tag for warranty") >= {
        ("removed", "pump")
    }
    assert ("removed", "stays") not in parts("old pump stays on the pallet with the tag for warranty")


@pytest.mark.parametrize(
    "text",
    ["marked the shafts with paint, rear shaft out", "numbered the pipes with tape", "hub marked with chalk"],
)
def test_what_something_was_marked_with_is_not_used_up(text: str) -> None:
    assert details(text, Part) == []


def test_a_clear_hose_is_there_to_look_through() -> None:
    assert parts("put a clear hose in the suction line and there's bubbles in it") == set()
    assert ("fitted", "clear hose") in parts("fitted a new clear hose to the washer bottle")


def test_a_mere_thought_is_no_work() -> None:
    assert steps("thought the brake pipe had caught it. No, it's only marked, leave it.") == set()
    assert steps("i thought i had drained it but the tank was full") == set()
    assert ("drained", "oil") in steps("drained the oil, caught it in a drum")


@pytest.mark.parametrize(
    "text",
    [
        "New belt not necessary, the same belt goes again.",
        "new seal not needed",
        "The pulley is from the old one, I change it over.",
        "changed the pulley over to the new alternator",
    ],
)
def test_what_was_not_needed_or_changed_over_is_no_new_part(text: str) -> None:
    assert "fitted" not in {action for action, _ in parts(text)}


def test_a_sleeve_is_a_part_and_heat_shrink_sleeve_is_used_up() -> None:
    assert ("fitted", "sleeve") in parts("put in a new sleeve and a new seal")
    assert ("consumed", "heat shrink sleeve") in parts("used some heat shrink sleeve")


@pytest.mark.parametrize(
    "text",
    ["Put down that the handle's bent. No, take that out.", "The hinge is cracked. Actually leave that out."],
)
def test_what_is_taken_out_again_does_not_stand(text: str) -> None:
    assert not [d for d in details(text, Statement) if d.kind == "finding"]
    assert taken_back(text)


@pytest.mark.parametrize(
    "text",
    [
        "job four four nine one eight i'm on",
        "Job 70662, I begin.",
        "Forwarder, job 58820. I start. Engine hours 12,988.",
        "Job number 51120. Started.",
        "job 60918 starting it's the coach with no cold air",
        "Right, job 44809, and the plate's QI 18 FWN. Starting.",
        "Job 88013, that's me on it.",
        "Hello, now I begin with the coach, order number 56031.",
    ],
)
def test_right_behind_the_number_of_the_job_a_word_starts_its_clock(text: str) -> None:
    assert [c.action for c in details(text, Clock)] == ["start"]


@pytest.mark.parametrize(
    "text",
    [
        "job 5512 started the engine and it knocks",
        "job 5512 starting fault",
        "Job 4417. Starting trouble when hot.",
        "job 4417 i'm on the nearside hub",
        "engine hours 4411 started",
    ],
)
def test_what_the_engine_or_the_trouble_does_starts_no_clock(text: str) -> None:
    assert details(text, Clock) == []


def test_off_this_until_something_comes_is_a_pause_and_i_finish_a_stop() -> None:
    assert [c.action for c in details("so i'm off this till the van comes", Clock)] == ["pause"]
    assert [c.action for c in details("Two hours. Finish.", Clock)] == ["stop"]
    assert details("the surface finish is rough", Clock) == []


@pytest.mark.parametrize(
    ("text", "hours"),
    [
        ("bolt back in its pocket call that one point six hours i'm off the clock", "1.6"),
        ("so that's still to do and i make it two and a half hours clocking off", "2.5"),
        ("right two point two hours that clock off", "2.2"),
    ],
)
def test_hours_told_in_passing_are_labour(text: str, hours: str) -> None:
    assert str(sure(text, LabourSaid).hours) == hours


@pytest.mark.parametrize(
    "text",
    [
        "it's up on stands don't you ever trust the jack",
        "Keep your sleeves out of there, it'll start on you.",
        "Oil is 70 degrees, it can burn you.",
        "stay on the verge side of it and get the cones out",
        "told the driver not to use it until that's fixed",
    ],
)
def test_a_warning_to_people_is_a_hazard(text: str) -> None:
    assert "hazard" in {d.kind for d in details(text, Statement)}


@pytest.mark.parametrize("text", ["don't you think it's loud", "it can burn oil", "keep your hair on"])
def test_what_only_sounds_like_a_warning_is_none(text: str) -> None:
    assert "hazard" not in {d.kind for d in details(text, Statement)}


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("bolt washer dry so the fridge stays unplugged", "fridge"),
        ("Line heater not checked, I want that done before it goes out.", "heater"),
        ("step light's out as well i'll do that friday", "light"),
        ("fan cowl's still aff the now", "cowl"),
    ],
)
def test_what_is_left_for_later_is_a_loose_end(text: str, told: str) -> None:
    assert any(d.kind == "loose_end" and told in d.text for d in details(text, Statement))
    assert ("disconnected", "fridge stays") not in steps(text)


@pytest.mark.parametrize(
    ("text", "cause"),
    [
        ("the upstream hose has been split by the heat, put that down as the cause", "hose"),
        ("so worn drag link front ball joint is the cause boot's split", "ball joint"),
    ],
)
def test_what_is_called_the_cause_after_it_was_told_is_the_cause(text: str, cause: str) -> None:
    causes = [d for d in details(text, Statement) if d.kind == "cause"]
    assert len(causes) == 1
    assert cause in causes[0].text


def test_who_tells_of_trouble_in_dialect_or_by_a_card_complains() -> None:
    for text in (
        "driver's got down here handbrake slow to come off and you can hear air hissing",
        "the driver was telling me she derated on the motorway",
    ):
        assert [d.kind for d in details(text, Statement)] == ["complaint"], text


def test_scots_and_a_new_part_that_was_heard_as_known_are_understood() -> None:
    assert ("removed", "pump") in steps("six bolts and the pump's oot")
    assert ("fitted", "o rings") in parts("fitted a compressor and three knew o rings")
    text = "i knew the clamp was loose"
    assert parts(text) == set()
    assert [d.text for d in details(text, Statement)] == [text]
    assert parts("some numpty has fitted a module wi a terminator in it") == set()


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("crossmember out air lines unplugged gearbox out", ("removed", "crossmember")),
        ("split pin out nut off popped the joint", ("removed", "nut")),
        ("pipes off the slew motor and capped them", ("removed", "pipes")),
        ("pipes off the slew motor and capped them", ("closed", "pipes")),
        ("off with the shift unit eight bolts and two air pipes", ("removed", "shift unit")),
        ("Water in again, eight litre.", ("filled", "Water")),
        ("Oil: I add 1.5 litre.", ("filled", "Oil")),
    ],
)
def test_what_runs_on_without_verbs_is_taken_apart_and_put_back(text: str, wanted: tuple[str, str]) -> None:
    assert wanted in steps(text)


def test_a_hose_off_its_place_and_split_is_found_so_and_not_taken_off() -> None:
    assert steps("hose off the turbo and split") == set()


def test_pieces_told_behind_a_name_are_of_it_alone() -> None:
    pins, nuts = details("two new split pins two new castle nuts with it", Part)
    assert [(pins.name, pins.quantity), (nuts.name, nuts.quantity)] == [("split pins", 2), ("castle nuts", 2)]
    valve, ring = details("fitted a new valve and O-ring two pieces", Part)
    assert (valve.quantity, ring.quantity) == (None, 2)


def test_what_was_given_with_an_amount_is_used_up() -> None:
    assert parts("nipple on the top, I gave 20 g of grease") == {("consumed", "grease")}
    assert parts("i gave grease to the other lad") == set()


def test_which_of_two_a_printed_value_is_of_is_no_value() -> None:
    assert readings("gap, right one 1.5 mm, left one 3.5 mm") == [("1.5", "mm"), ("3.5", "mm")]


def test_a_last_digit_that_was_heard_as_a_word_is_read_and_doubted() -> None:
    (fact,) = [f for f in said("boost one point seven ate bar") if f.kind == "measurement"]
    assert (str(fact.detail.value), fact.status) == ("1.78", "check")
    assert readings("one point seven to two bar") != [("1.72", "bar")]


def test_who_told_of_trouble_may_be_named_in_the_midst_of_it() -> None:
    (told,) = details("gearbox sticks in sixth says the driver it's worse in the cold", Statement)
    assert told.kind == "complaint"


def test_a_cause_that_is_announced_comes_after() -> None:
    causes = [
        d
        for d in details("hose split.\nThis is the cause: rotator hose is rubbing on the link.", Statement)
        if d.kind == "cause"
    ]
    assert ["rubbing" in c.text for c in causes] == [True]
