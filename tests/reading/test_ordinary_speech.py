"""What technicians say on ordinary jobs, in words that name no heading (common practice, no source)."""

from __future__ import annotations

import pytest
from reading_forms import details, said

from jobnotes.record import Clock, Fact, Identity, LabourSaid, Measurement, Part, PhotoCue, Statement, Step


def of(text: str, kind: type) -> list[Fact]:
    return [f for f in said(text) if isinstance(f.detail, kind)]


@pytest.mark.parametrize(
    ("text", "value", "low", "high", "verdict"),
    [
        ("Nine volts on the same pin and that should be twenty three at least.", "9", "23", None, "outside"),
        ("Vent temp's 26 degrees and it should be 12 at the most.", "26", None, "12", "outside"),
        ("Return flow is ninety milliliters a minute, no more than forty.", "90", None, "40", "outside"),
    ],
)
def test_what_should_be_is_a_limit_and_never_takes_the_place_of_what_was_read(
    text: str, value: str, low: str | None, high: str | None, verdict: str
) -> None:
    (reading,) = details(text, Measurement)
    bounds = (reading.limit.min, reading.limit.max)
    assert str(reading.value) == value
    assert [None if b is None else str(b) for b in bounds] == [low, high]
    assert reading.verdict == verdict


def test_a_number_put_right_keeps_its_unit_however_that_is_written() -> None:
    for text in (
        "Strap bolts 45 foot-pounds, no, make that 55.",
        "Strap bolts 45 foot pounds, make that 55.",
    ):
        (reading,) = details(text, Measurement)
        assert (str(reading.value), reading.unit) == ("55", "[ft_i].[lbf_av]")


def test_a_limit_holds_for_no_reading_of_another_size_beside_its_own() -> None:
    supply, drop = details("Supply at the plug is 24.3 V, ground drop 0.08 V, maximum 0.2.", Measurement)
    assert supply.limit is None
    assert (str(drop.limit.max), drop.verdict) == ("0.2", "within")


def test_a_rate_in_a_unit_that_is_not_known_is_to_check() -> None:
    (fact,) = of("Loses half a bar a minute.", Measurement)
    assert fact.status == "check"
    assert "rate" in (fact.why or "")


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("Top plate bolts cleaned up and used again.", [("reused", "top plate bolts")]),
        ("The boots are good so I used them over.", [("reused", "boots")]),
        ("The pump's away and it's tagged with the job number.", [("removed", "pump")]),
        ("Hose out and that's gone in the failed parts bin.", [("removed", "hose")]),
        ("Old batteries are on the pallet for return.", [("removed", "batteries")]),
        ("The cabin filter was filthy so there's a new one in.", [("fitted", "cabin filter")]),
        ("Old lug cut off and a new one on.", [("fitted", "lug")]),
        ("New 30/30 chamber on, with a new clevis pin.", [("fitted", "chamber"), ("fitted", "clevis pin")]),
        ("One bumper clip's still on order.", [("ordered", "bumper clip")]),
        ("The flywheel we keep.", [("reused", "flywheel")]),
        ("The old lamp I keep for the customer.", [("removed", "lamp")]),
        (
            "New filter in and forty litres of hydraulic oil.",
            [("fitted", "filter"), ("consumed", "hydraulic oil")],
        ),
        ("Cover back on, anti-seize paste on the threads.", [("consumed", "anti-seize paste")]),
        ("I had a new governor out of the stores but never used it.", []),
        ("No control unit was changed.", []),
        ("Strainer blocked with bits of rag.", []),
    ],
)
def test_parts_are_read_for_what_became_of_them(text: str, expected: list[tuple[str, str]]) -> None:
    facts = of(text, Part)
    told = [(f.detail.action, f.detail.name.casefold()) for f in facts if isinstance(f.detail, Part)]
    assert told == expected
    assert {f.status for f in facts} <= {"sure"}


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        (
            "Drained 9 litres of coolant, 2 coolant pipes off.",
            [("drained", "coolant"), ("removed", "coolant pipes")],
        ),
        ("Drained seven litres of oil, old sensor out.", [("drained", "oil"), ("removed", "sensor")]),
        ("Old sensor out, new temperature sensor in.", [("removed", "sensor")]),
        ("Drum went back on, then the wheel.", [("refitted", "drum"), ("refitted", "wheel")]),
        ("Pins greased both circlips new.", [("lubricated", "pins")]),
        (
            "Harness plugged in rocker shaft and valve cover back on.",
            [("reconnected", "harness"), ("refitted", "valve cover")],
        ),
        (
            "Strap bolts out and the driveshaft's down.",
            [("removed", "strap bolts"), ("removed", "driveshaft")],
        ),
        (
            "Unplugged the rail sensor and took it out.",
            [("disconnected", "rail sensor"), ("removed", "rail sensor")],
        ),
        ("Slackened both clamps and the hose is out.", [("loosened", "clamps"), ("removed", "hose")]),
    ],
)
def test_a_verb_takes_only_what_is_told_with_it(text: str, expected: list[tuple[str, str]]) -> None:
    assert [(s.action, s.object.casefold()) for s in details(text, Step)] == expected


@pytest.mark.parametrize(
    "text",
    [
        "Keep your head away from the back of that chamber.",
        "The spring will kill you.",
        "Don't ever crack a line on that thing hot.",
        "Don't be going under that body without the prop.",
        "Nobody between the two units.",
        "No smoking no grinding while this tank's open.",
        "Keep the grinder away from here.",
        "Get the jack under it before you pull the last bolt.",
    ],
)
def test_a_warning_is_a_hazard_however_it_is_said(text: str) -> None:
    assert [s.kind for s in details(text, Statement)] == ["hazard"]


@pytest.mark.parametrize(
    ("text", "component"),
    [
        ("So what's caused it, the boost hose has chafed through on the bracket.", "boost hose"),
        (
            "So the shaft seal of the water pump is worn out, this is the cause.",
            "shaft seal of the water pump",
        ),
    ],
)
def test_a_cause_is_read_before_and_after_its_words(text: str, component: str) -> None:
    (fact,) = of(text, Statement)
    assert isinstance(fact.detail, Statement)
    assert (fact.kind, fact.detail.component, fact.status) == ("cause", component, "sure")


def test_what_was_done_is_the_correction() -> None:
    (told,) = details("So what was done: pump filter replaced and doser cleaned.", Statement)
    assert told.kind == "correction"


@pytest.mark.parametrize(
    ("text", "hours", "status"),
    [
        ("Do it next service, one point seven hours labour clock off.", "1.7", "sure"),
        ("So it stays the old one two hours and forty minutes labour clock stop.", "2.67", "sure"),
        (
            "New injector in, rail bled, leak test done. Rocker cover back on. "
            "Ran it thirty miles three point seven hours clock me out.",
            "3.7",
            "check",
        ),
    ],
)
def test_hours_before_the_clock_stops_are_labour_and_not_for_what_was_told_before(
    text: str, hours: str, status: str
) -> None:
    (fact,) = of(text, LabourSaid)
    assert isinstance(fact.detail, LabourSaid)
    assert (str(fact.detail.hours), fact.detail.operation, fact.status) == (hours, None, status)
    assert [c.action for c in details(text, Clock)] == ["stop"]


def test_so_long_on_vacuum_is_no_labour() -> None:
    assert details("Thirty minutes on vacuum and it held.", LabourSaid) == []


@pytest.mark.parametrize(
    ("text", "kind", "value"),
    [
        ("Reg, I never gave it, is QIB 315.", "registration", "QIB315"),
        ("Reg, if I've not said it, QIC 907.", "registration", "QIC907"),
        ("Reg Q I O 519.", "registration", "QIO519"),
        (
            "Registration is q i b two seven three and kilometres are eighty eight thousand six hundred.",
            "odometer",
            "88600",
        ),
    ],
)
def test_what_identifies_the_vehicle_is_read_past_what_is_put_in(text: str, kind: str, value: str) -> None:
    found = {f.detail.kind: f for f in of(text, Identity) if isinstance(f.detail, Identity)}
    assert isinstance(found[kind].detail, Identity)
    assert (found[kind].detail.value, found[kind].status) == (value, "sure")


def test_a_picture_after_a_comma_is_a_photo_cue() -> None:
    assert len(details("That's coolant that, picture of it there.", PhotoCue)) == 1


def test_a_part_number_with_points_and_a_hyphen_is_kept_whole() -> None:
    (part,) = details("New NOx sensor, part number 4.0912.77-3.", Part)
    assert part.number == "4.0912.77-3"


@pytest.mark.parametrize(
    ("text", "value", "low", "high"),
    [
        ("Boost is 24 psi, should be 32 minimum.\n2 studs snapped off.", "24", "32", None),
        ("It dropped four psi in ten minutes, shouldn't drop more than one.", "4", None, "1"),
        ("Coolant temp got up to 228 degrees Fahrenheit, max is 215.", "228", None, "215"),
        ("Pressure's gone from 240 up to 455 kPa.", "455", None, None),
    ],
)
def test_a_limit_is_what_bounds_and_not_what_a_value_came_to(
    text: str, value: str, low: str | None, high: str | None
) -> None:
    (reading,) = details(text, Measurement)
    bounds = (reading.limit.min, reading.limit.max) if reading.limit else (None, None)
    assert str(reading.value) == value
    assert [None if b is None else str(b) for b in bounds] == [low, high]
    assert not details(text, Statement) or "studs" in text


def test_the_same_on_the_other_side_is_told_of_that_side() -> None:
    told = details("Bag pressure on the left is 2.1 bar, and on the right it's 4.6.", Measurement)
    assert [(m.subject, str(m.value)) for m in told] == [
        ("Bag pressure on the left", "2.1"),
        ("Bag pressure on the right", "4.6"),
    ]


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("Tyre front right 5.1 bar, must be 8.5. Front left 8.4 is ok.", "8.4"),
        ("Volt drop on the cable 0.2 volts. On the ground side, nought point one five.", "0.15"),
        ("Left sensor 2.4 kilohms. The right one for comparison's 1.2.", "1.2"),
    ],
)
def test_a_bare_value_of_the_other_one_is_in_its_unit_and_to_check(text: str, value: str) -> None:
    first, second = of(text, Measurement)
    assert isinstance(first.detail, Measurement)
    assert isinstance(second.detail, Measurement)
    assert (str(second.detail.value), second.detail.unit, second.status) == (
        value,
        first.detail.unit,
        "check",
    )


def test_a_part_number_put_right_later_is_to_check_with_both() -> None:
    said_later = "New compressor in, part number AC 30-6614.\nSorry, that compressor number's AC 30-6641."
    (fact,) = of(said_later, Part)
    assert isinstance(fact.detail, Part)
    assert (fact.detail.number, fact.status) == ("AC30-6641", "check")
    assert "AC30-6614" in (fact.why or "")


@pytest.mark.parametrize(
    ("text", "hours"),
    [
        (
            "Pressure tested it again, no drop in ten minutes labor four point two hours clocking out.",
            ["4.2"],
        ),
        ("Paused half an hour for smoko so labour two hours flat clocking off now.", ["2"]),
    ],
)
def test_a_test_or_a_break_beside_labour_is_not_added_to_it(text: str, hours: list[str]) -> None:
    assert [str(told.hours) for told in details(text, LabourSaid)] == hours


def test_the_clock_starts_where_the_job_is_named_on_the_clock() -> None:
    text = "Job five five zero eight on the clock eight wheeler."
    assert [c.action for c in details(text, Clock)] == ["start"]
    assert [i.kind for i in details(text, Identity)] == ["job_number"]


@pytest.mark.parametrize("text", ["Cleaned it with a wire brush.", "Air in at the door valve is 7.8 bar."])
def test_a_tool_is_no_part_and_a_place_no_fault(text: str) -> None:
    assert details(text, Part) == []
    assert details(text, Statement) == []


def test_what_the_old_one_gave_is_used_again() -> None:
    (part,) = details("Drive gear came across from the old compressor.", Part)
    assert (part.action, part.name) == ("reused", "Drive gear")


@pytest.mark.parametrize(
    ("text", "number"),
    [
        ("New seal kit in the ram, number on the bag is TL 5508 21.", "TL550821"),
        ("New seal kit in, the number on the box is 441 220.", "441220"),
    ],
)
def test_a_number_is_read_where_it_stands_on_the_bag(text: str, number: str) -> None:
    (part,) = details(text, Part)
    assert part.number == number


def test_what_it_does_is_not_what_was_put_back() -> None:
    assert (
        details("The tensioner spins nice so it stays, I put the same one back.", Step)[-1].object != "stays"
    )


def test_one_of_what_was_named_is_ordered() -> None:
    (part,) = details("There's a clip still to go on, it snapped, I've got one on order.", Part)
    assert (part.name, part.action, str(part.quantity)) == ("clip", "ordered", "1")


def test_a_number_told_right_behind_grease_is_the_parts_to_check() -> None:
    facts = of("New sensor in with the bush and some grease, part number 041485.", Part)
    (fact,) = [f for f in facts if isinstance(f.detail, Part) and f.detail.number]
    assert isinstance(fact.detail, Part)
    assert (fact.detail.name, fact.status) == ("sensor", "check")
    assert "grease" in (fact.why or "")
