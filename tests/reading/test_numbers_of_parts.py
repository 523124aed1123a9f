"""Part numbers and serials: which part they belong to, how they are printed, what is none."""

from __future__ import annotations

import pytest
from reading_forms import details, said

from jobnotes.reading.read import read_text
from jobnotes.record import Part, Statement, Step


def numbers(said: str) -> dict[str, str | None]:
    """Part number by name in lower case, of the parts that stand."""
    return {f.detail.name.casefold(): f.detail.number for f in read_text(said) if isinstance(f.detail, Part)}


@pytest.mark.parametrize(
    ("said", "name", "number"),
    [
        ("new fan on and a new belt on\nfan was number tango four four one niner", "fan", "T4419"),
        ("fitted a starter and a relay\nstarter has number 88-1204", "starter", "88-1204"),
        (
            "fitted a left lamp and a right lamp\npart number on the right lamp is 44-7810",
            "right lamp",
            "44-7810",
        ),
        ("changed the idler\nidler is part lima two two dash nine one", "idler", "L22-91"),
        (
            "a damper is on order reference kilo seven zero four and that'll be here on monday",
            "damper",
            "K704",
        ),
    ],
)
def test_a_number_goes_to_the_part_that_is_named_with_it(said: str, name: str, number: str) -> None:
    found = numbers(said)
    assert found[name] == number
    assert [n for n in found.values() if n] == [number]


@pytest.mark.parametrize(
    ("said", "name", "number"),
    [
        ("New bellows on, bellows no. RT 4410-2.", "bellows", "RT4410-2"),
        ("Bellows fitted, bellows no. RT-44.", "bellows", "RT-44"),
        ("Fan motor, 1 off, FM-20-0033, serial 1180-7.", "fan motor", "FM-20-0033"),
        ("Replaced fan motor, part 118-20-7, serial 55 01 B.", "fan motor", "118-20-7"),
        ("Relay, new, 1, RL-880-C.", "relay", "RL-880-C"),
        ("Fitted a fan motor, 1 piece, 4401.228.", "fan motor", "4401.228"),
        ("Fan motor replaced, part number 41.5520.118.", "fan motor", "41.5520.118"),
        ("Fitted new pin 45 K 210.", "pin", "45K210"),
    ],
)
def test_a_number_is_read_as_it_is_printed(said: str, name: str, number: str) -> None:
    assert numbers(said) == {name: number}


def test_the_pieces_before_a_number_are_no_part_of_it() -> None:
    part = next(f.detail for f in read_text("Relay, new, 2, RL-880-C.") if isinstance(f.detail, Part))
    assert (part.quantity, part.number) == (2, "RL-880-C")


@pytest.mark.parametrize(
    "said",
    [
        "fitted a new pump, P0087 cleared",
        "fitted a new pump P0087 cleared",
        "new pump on. Leaks? no. P0087 out",
    ],
)
def test_a_trouble_code_is_no_part_number_and_no_name(said: str) -> None:
    facts = read_text(said)
    assert [f.detail.number for f in facts if isinstance(f.detail, Part)] == [None]
    assert "P0087" in [getattr(f.detail, "code", None) for f in facts]


def test_a_heading_is_no_part_of_a_name() -> None:
    assert list(numbers("Correction: radiator replaced, part number 12-34.")) == ["radiator"]


def test_a_misheard_serial_number_is_told_as_repaired() -> None:
    fact = next(f for f in read_text("fitted a fan motor, cereal number four four one") if f.kind == "part")
    assert fact.detail.serial == "441"  # type: ignore[union-attr]
    assert [r.read_as for r in fact.repairs] == ["serial number"]


def test_a_number_told_much_later_is_quoted_without_all_that_lies_between() -> None:
    between = (
        "then the guards went back on and I swept up and had a brew and talked to the driver about his day "
    )
    said = f"fitted a new alternator.\n{between}\n{between}\nalternator is number 44-7120"
    fact = next(f for f in read_text(said) if f.kind == "part")
    assert fact.quote == "alternator is number 44-7120"


@pytest.mark.parametrize(
    "said",
    [
        "dropped in a new thermostat",
        "dropped in a new thermostat and nipped it up",
        "old one out, dropped in the new thermostat",
    ],
)
def test_what_was_dropped_in_new_is_not_lost(said: str) -> None:
    facts = read_text(said)
    assert "thermostat" in numbers(said)
    assert not [f for f in facts if isinstance(f.detail, Statement) and f.detail.kind == "loose_end"]


@pytest.mark.parametrize("said", ["the washer dropped in the gearbox", "a nut dropped in the bellhousing"])
def test_what_fell_in_is_lost_and_nothing_was_fitted(said: str) -> None:
    facts = read_text(said)
    assert not [f for f in facts if isinstance(f.detail, Part) and f.status == "sure"]
    assert [f for f in facts if isinstance(f.detail, Statement) and f.detail.kind == "loose_end"]


def test_where_something_may_have_fallen_is_asked_for() -> None:
    (fact,) = [f for f in read_text("dropped in the gearbox") if f.kind == "part"]
    assert fact.status == "check"
    assert "did something fall there" in (fact.why or "")


def test_paint_to_know_a_thing_by_is_not_used_up_and_a_length_says_what_a_new_pipe_is_made_of() -> None:
    assert not numbers("all pipes marked with paint")
    nylon = [
        f for f in read_text("air pipe renewed, 60 centimetres of nylon, two unions") if f.kind == "part"
    ]
    assert [f.status for f in nylon] == ["sure", "check", "sure"]


def test_chocked_wheels_are_chocked_however_they_were_heard() -> None:
    facts = read_text("careful, the body is on stands and the wheels are chopped")
    assert next(f.detail.text for f in facts if isinstance(f.detail, Statement)).endswith(
        "wheels are chocked"
    )
    assert not [f for f in facts if isinstance(f.detail, Step) and f.detail.action == "removed"]


@pytest.mark.parametrize("spelled", ["one four six two kilo three", "1 4 6 2 kilo 3", "1462K3"])
def test_the_no_of_a_part_no_takes_nothing_back(spelled: str) -> None:
    (told,) = [f for f in read_text(f"Fitted one injector part no {spelled}.") if isinstance(f.detail, Part)]
    assert (told.status, told.detail.name, told.detail.number) == ("sure", "injector", "1462K3")


@pytest.mark.parametrize("name", ["brake pad set", "brake shoe set", "seal set", "gasket set"])
def test_a_set_of_parts_is_a_part_and_nothing_that_was_set(name: str) -> None:
    told = read_text(f"Fitted a new {name}, part number 445 J7.")
    assert [(f.kind, f.detail.name) for f in told if isinstance(f.detail, Part)] == [("part", name)]
    assert not [f for f in told if f.kind == "step"]


@pytest.mark.parametrize(
    ("text", "number"),
    [
        ("fitted a new valve number for ate one zero too double seven", "4810277"),
        ("new pipe, part number two two one dash ate ate zero six", "221-8806"),
        ("new lamp part number seven seven one zero won", "77101"),
        ("new bag number five one three alfa double to ate", "513A228"),
    ],
)
def test_figures_of_a_part_number_heard_as_words_are_read_and_left_to_a_person(
    text: str, number: str
) -> None:
    (fact,) = (f for f in said(text) if f.kind == "part")
    assert isinstance(fact.detail, Part)
    assert (fact.detail.number, fact.status) == (number, "check")


def test_for_and_to_behind_a_part_number_belong_to_the_sentence() -> None:
    (pump,) = details("fitted new pump number 5580 for the job", Part)
    assert pump.number == "5580"


@pytest.mark.parametrize(
    ("behind", "quantity"),
    [(", two of them", "2"), (" two of these", "2"), (" two off", "2"), (" twenty four volts", None)],
)
def test_a_count_or_rating_behind_a_part_number_is_none_of_its_digits(
    behind: str, quantity: str | None
) -> None:
    text = f"Fitted new relays, part number five one papa six zero{behind}."
    (told,) = [f.detail for f in read_text(text) if isinstance(f.detail, Part)]
    assert told.number == "51P60"
    assert told.quantity is None or str(told.quantity) == quantity
