"""A workshop's own trade data: added beside what ships and used; a wrong entry is named in one line."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from copy import deepcopy
from datetime import date
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from reading_forms import TRADE

from jobnotes.errors import JobnotesError
from jobnotes.reading.read import read_text
from jobnotes.reading.trade.files import FILES, load
from jobnotes.record import FaultCode, Measurement, Statement, Step

Write = Callable[[str, str], Path]


@pytest.fixture
def write(tmp_path: Path) -> Write:
    """Writes one file of a workshop's folder, with its format line, and gives the folder."""

    def _write(name: str, body: str) -> Path:
        head = f'format = "jobnotes-{name.replace("_", "-")}"\nversion = 1\n'
        (tmp_path / f"{name}.toml").write_text(head + body, "utf-8")
        return tmp_path

    return _write


def refused(folder: Path) -> str:
    with pytest.raises(JobnotesError) as caught:
        load(folder)
    message = str(caught.value)
    assert "\n" not in message
    assert str(folder) in message, "names the workshop's own file"
    assert "; " in message, "says what to do"
    return message


# --- what a workshop adds is used ----------------------------------------------------------------------


def test_a_component_of_the_workshop_is_known_by_its_kind(write: Write) -> None:
    text = "the flurbinator is cracked"
    trade = load(write("lexicon", '[components]\nvalve = ["flurbinator"]\n'))
    (found,) = [f.detail for f in read_text(text, trade) if isinstance(f.detail, Statement)]
    assert (found.component, trade.kind_of["flurbinator"]) == ("flurbinator", "valve")
    assert trade.kind_of["flurbinators"] == "valve"
    assert "flurbinator" not in TRADE.kind_of


def test_a_file_that_was_changed_is_read_again_and_one_that_was_not_is_not(write: Write) -> None:
    folder = write("lexicon", '[components]\nvalve = ["flurbinator"]\n')
    first = load(folder)
    assert load(folder) is first
    write("lexicon", '[components]\nvalve = ["wobbulator"]\n')
    assert load(folder).kind_of.get("wobbulator") == "valve"
    assert "flurbinator" not in load(folder).kind_of
    assert load(folder).sha256 != first.sha256


def test_a_unit_of_the_workshop_is_read_and_converted(write: Write) -> None:
    body = '[[unit]]\nucum = "hPa"\npint = "hectopascal"\nquantity = "pressure"\nforms = ["hectopascals"]\n'
    trade = load(write("units", body))
    text = "the pressure is 900 hectopascals, limit 1 bar"
    (found,) = [f.detail for f in read_text(text, trade) if isinstance(f.detail, Measurement)]
    assert (str(found.value), found.unit, found.verdict) == ("900", "hPa", "within")
    assert "hPa" not in TRADE.units


def test_a_failure_text_of_the_workshop_stands_in_the_code(write: Write) -> None:
    trade = load(write("fault_texts", '[fmi]\n7 = "our own words"\n'))
    (found,) = [f.detail for f in read_text("SPN 5246 FMI 7", trade) if isinstance(f.detail, FaultCode)]
    assert found.fmi_text == "our own words"
    assert trade.fmi[8] == TRADE.fmi[8], "the others stay"


def test_a_verb_of_the_workshop_makes_a_step(write: Write) -> None:
    body = '[[action]]\nname = "greased"\npast = ["tallowed"]\ndoing = ["tallowing"]\nbase = ["tallow"]\n'
    trade = load(write("lexicon", body))
    (found,) = [f.detail for f in read_text("tallowed the bearing", trade) if isinstance(f.detail, Step)]
    assert (found.action, found.object) == ("greased", "bearing")


def test_a_mishearing_of_the_workshop_is_put_right(write: Write) -> None:
    trade = load(write("misheard", '[[word]]\nread_as = "radiator"\nheard = ["gladiator"]\n'))
    (fact,) = [f for f in read_text("removed the gladiator", trade) if isinstance(f.detail, Step)]
    assert fact.detail.object == "radiator"  # type: ignore[union-attr]
    assert [(r.heard, r.read_as) for r in fact.repairs] == [("gladiator", "radiator")]
    assert "gladiator" in fact.quote


def test_a_private_word_of_the_workshop_stays_in_the_workshop(write: Write) -> None:
    trade = load(write("cues", '[private]\nswearing = ["flipping"]\n'))
    (fact,) = read_text("the flipping hose is split", trade)
    assert "flipping" not in str(fact.detail)


def test_a_plausible_range_of_the_workshop_raises_a_doubt(write: Write) -> None:
    body = (
        '[[range]]\nquantity = "voltage"\nunit = "V"\nmin = 18\nmax = 32\nsubject = ["battery"]\n'
        'source = "our own"\n'
    )
    trade = load(write("ranges", body))
    (fact,) = [f for f in read_text("battery voltage is 46 volts", trade) if f.kind == "measurement"]
    assert fact.status == "check"
    assert "our own" in str(fact.why)


def test_what_ships_stays_when_a_workshop_adds(write: Write) -> None:
    trade = load(write("lexicon", '[components]\nvalve = ["flurbinator"]\n'))
    assert set(TRADE.kind_of) <= set(trade.kind_of)
    assert trade.sha256 != TRADE.sha256, "the digest tells that other data was used"


def test_an_empty_folder_changes_nothing(tmp_path: Path) -> None:
    assert load(tmp_path).sha256 == TRADE.sha256


# --- what is wrong is named ------------------------------------------------------------------------------

WRONG = [
    ("units", '[[unit]]\nucum = "X"\n', "X"),
    ("units", '[[unit]]\nucum = "X"\npint = "furlongx"\nquantity = "q"\n', "furlongx"),
    ("units", '[[unit]]\nucum = "X"\npint = "meter"\nquantity = "q"\nforms = "x"\n', "X"),
    ("units", '[unnamed]\nQQ = ["x"]\n', "QQ"),
    ("units", "quantity_words = 3\n", "quantity_words"),
    ("fault_texts", '[fmi]\n40 = "x"\n', "40"),
    ("spelling", "[letters]\na = 3\n", "letters.a"),
    ("lexicon", "components = 3\n", "components"),
    ("lexicon", '[components]\nhose = [""]\n', "hose"),
    ("lexicon", '[[action]]\npast = ["zapped"]\n', "name"),
    ("lexicon", '[[part_split]]\nverbs = ["x"]\n', "action"),
    ("cues", "[amend]\ncues = 3\n", "amend.cues"),
    ("cues", "amend = 3\n", "amend"),
    ("ranges", '[[range]]\nquantity = "x"\nunit = "V"\nmin = 1\nmax = 2\n', "source"),
    ("ranges", '[[range]]\nquantity = "x"\nunit = "Q"\nmin = 1\nmax = 2\nsource = "s"\n', "Q"),
    ("misheard", '[[word]]\nheard = ["x"]\n', "read_as"),
    ("misheard", '[[word]]\nread_as = "y"\nheard = "x"\n', "y"),
    ("fault_texts", '[fmi]\n"²" = "x"\n', "²"),
    ("fault_texts", "[fmi]\n4 = 5\n", "4"),
    ("fault_texts", "dtc_system = 3\n", "dtc_system"),
    ("lexicon", '[components]\nhose = [" "]\n', "hose"),
    ("lexicon", '[components]\nhose = ["-"]\n', "hose"),
    ("lexicon", "general = 3\n", "general"),
    ("lexicon", "sound = 3\n", "sound"),
    ("lexicon", '[part_actions]\nfitted = [" "]\n', "fitted"),
    ("lexicon", '[[action]]\nname = "zap"\nundone_by = ["unzap"]\n', "unzap"),
    ("ranges", '[[range]]\nquantity = "x"\nunit = "V"\nmin = 1\nsource = "s"\n', "max"),
    ("ranges", '[[range]]\nquantity = "x"\nunit = "V"\nmin = "a"\nmax = 2\nsource = "s"\n', "min"),
    ("ranges", '[[range]]\nquantity = "x"\nunit = "V"\nmin = 3\nmax = 2\nsource = "s"\n', "min"),
    ("ranges", '[[range]]\nquantity = "x"\nunit = ["V"]\nmin = 1\nmax = 2\nsource = "s"\n', "unit"),
    ("units", '[[unit]]\nucum = "X"\npint = "meter"\nquantity = "length"\nformes = ["x"]\n', "formes"),
    ("units", "units = 3\n", "units"),
    ("spelling", '[letters]\nab = ["x"]\n', "ab"),
    ("spelling", '[digits]\nx = ["x"]\n', "x"),
    ("cues", '[nosuch]\ncues = ["x"]\n', "nosuch"),
    ("cues", '[states]\nnosuch = ["zonked"]\n', "nosuch"),
    ("cues", '[clock]\nnosuch = ["zonked"]\n', "nosuch"),
    ("units", '[[unit]]\nucum = "X"\npint = "meter"\nquantity = "length"\n', "forms"),
    ("units", '[[unit]]\nucum = " "\npint = "meter"\nquantity = "length"\nforms = ["x"]\n', "ucum"),
    (
        "units",
        '[[unit]]\nucum = "X"\npint = "meter"\nquantity = "length"\nforms = ["x"]\nmisheard = ["axe"]\n',
        "axe",
    ),
    ("units", '[[alike]]\nucum = "V"\nform = ["x"]\n', "near"),
    ("units", '[[alike]]\nucum = "V"\nform = ["x"]\nnaer = ["y"]\n', "naer"),
    ("units", '[quantity_words]\nvoltige = ["tension"]\n', "voltige"),
    ("units", "[[unnamed]]\n", "unnamed"),
    ("fault_texts", '[fmi]\n32 = "x"\n', "32"),
    ("fault_texts", '[fmi]\n-1 = "x"\n', "-1"),
    ("fault_texts", f'[fmi]\n{"9" * 5000} = "x"\n', "out of bounds"),
    ("fault_texts", '[fmi]\n4 = " "\n', "fmi.4"),
    ("fault_texts", '[dtc_system]\nQ = "x"\n', "Q"),
    ("fault_texts", '[fmis]\n4 = "x"\n', "fmis"),
    ("spelling", '[letters]\n"é" = ["x"]\n', "é"),
    ("spelling", '[letters_misheard]\n"" = ["x"]\n', "letters_misheard"),
    ("spelling", '[digits]\n10 = ["x"]\n', "10"),
    ("spelling", '[digits_homophones]\n"²" = ["x"]\n', "²"),
    ("spelling", '[digit]\n1 = ["x"]\n', "digits"),
    ("lexicon", '[component]\nhose = ["x"]\n', "components"),
    ("lexicon", '[components]\n"" = ["x"]\n', "components"),
    ("lexicon", '[kinds]\nused_upp = ["hose"]\n', "used_up"),
    ("lexicon", '[kinds]\nused_up = ["hosse"]\n', "hosse"),
    ("lexicon", '[general]\nword = ["x"]\n', "word"),
    ("lexicon", '[sound]\nword = ["x"]\n', "word"),
    ("lexicon", '[failures]\nworn = ["x", 3]\n', "failures.worn"),
    ("lexicon", '[part_actions]\nfited = ["x"]\n', "fitted"),
    ("lexicon", '[[part_split]]\naction = "eaten"\nverbs = ["x"]\nparticles = ["up"]\n', "eaten"),
    ("lexicon", '[[part_split]]\naction = "fitted"\nverbs = ["x"]\n', "particles"),
    ("lexicon", '[[part_split]]\naction = "fitted"\nparticles = ["up"]\n', "verbs"),
    ("lexicon", '[[action]]\nname = "zap"\npassed = ["x"]\n', "passed"),
    ("lexicon", '[[action]]\nname = "zap"\nopens = 3\n', "opens"),
    ("lexicon", '[[action]]\nname = "zap"\nopens = "open"\n', "zap"),
    ("lexicon", '[[action]]\nname = "zap"\n[[action.split]]\nverb = ["x"]\n', "verb"),
    ("lexicon", '[[action]]\nname = "zap"\nsplit = 3\n', "split"),
    ("cues", '[headings]\ncuase = ["x"]\n', "cause"),
    ("cues", '[words]\nwears_thinn = ["x"]\n', "wears_thin"),
    ("cues", '[words]\nwears_thin = [" "]\n', "wears_thin"),
    ("cues", '[stop]\nword = ["x"]\n', "word"),
    ("cues", '[conditions]\n"" = ["x"]\n', "conditions"),
    ("cues", '[conditions]\nraining = "wet"\n', "raining"),
    ("cues", '[opposites]\nreach = ["near"]\n', "reach"),
    ("cues", 'nosuch = ["x"]\n', "nosuch"),
    ("ranges", '[[range]]\nquantity = "voltage"\nunit = "V"\nmin = 1\nmax = inf\nsource = "s"\n', "max"),
    ("ranges", '[[range]]\nquantity = "voltage"\nunit = "V"\nmin = nan\nmax = 2\nsource = "s"\n', "min"),
    ("ranges", '[[range]]\nquantity = "voltage"\nunit = "V"\nmin = true\nmax = 2\nsource = "s"\n', "min"),
    (
        "ranges",
        f'[[range]]\nquantity = "voltage"\nunit = "V"\nmin = 1\nmax = 1{"0" * 400}\nsource = "s"\n',
        "max",
    ),
    ("ranges", '[[range]]\nquantity = "voltige"\nunit = "V"\nmin = 1\nmax = 2\nsource = "s"\n', "voltige"),
    ("ranges", '[[ranges]]\nquantity = "voltage"\n', "ranges"),
    ("misheard", '[[word]]\nread_as = "y"\n', "heard"),
    ("misheard", '[[word]]\nread_as = " "\nheard = ["x"]\n', "read_as"),
    ("misheard", '[[word]]\nread_as = "y"\nheard = ["x"]\ndigits_near = "no"\n', "digits_near"),
    ("misheard", '[[word]]\nread_as = "y"\nheard = ["x"]\nnaer = ["z"]\n', "naer"),
]


@pytest.mark.parametrize(
    ("name", "body", "entry"),
    WRONG,
)
def test_a_wrong_entry_is_named_in_one_line(write: Write, name: str, body: str, entry: str) -> None:
    message = refused(write(name, body))
    assert f"{name}.toml" in message
    assert entry in message


SAMPLES: dict[str, dict[str, Any]] = {
    "units": {
        "unit": [{"ucum": "hPa", "pint": "hectopascal", "quantity": "pressure", "forms": ["hectopascals"]}],
        "alike": [{"ucum": "V", "form": ["volte"], "near": ["battery"]}],
        "unnamed": {"V": ["tension"]},
        "quantity_words": {"voltage": ["tension"]},
    },
    "fault_texts": {"fmi": {"7": "our own"}, "dtc_system": {"P": "our own"}},
    "spelling": {
        "letters": {"a": ["abel"]},
        "letters_misheard": {"b": ["bea"]},
        "digits": {"1": ["wan"]},
        "digits_homophones": {"2": ["tew"]},
    },
    "lexicon": {
        "components": {"mast": ["mast"]},
        "kinds": {"opening": ["mast"]},
        "general": {"words": ["gubbins"]},
        "failures": {"worn": ["galled"]},
        "sound": {"words": ["champion"]},
        "action": [
            {
                "name": "greased",
                "past": ["tallowed"],
                "opens": "open",
                "undone_by": ["cleaned"],
                "split": [{"verbs": ["daubed"], "particles": ["on"]}],
            }
        ],
        "part_actions": {"fitted": ["popped in"], "base": ["pop in"], "replaces": ["popped in"]},
        "part_split": [{"action": "removed", "verbs": ["winkled"], "particles": ["out"]}],
    },
    "cues": {
        "headings": {"cause": ["blame"]},
        "states": {"active": ["alight"]},
        "stop": {"words": ["erm"]},
        "opposites": {"reach": ["near", "far"]},
        "conditions": {"in rain": ["in rain"]},
        "words": {"wears_thin": ["skid"]},
    },
    "ranges": {
        "range": [
            {"quantity": "voltage", "unit": "V", "min": 1, "max": 2.5, "subject": ["coil"], "source": "own"}
        ]
    },
    "misheard": {
        "word": [{"heard": ["gladiator"], "read_as": "radiator", "near": ["x"], "digits_near": True}]
    },
    "labels": {
        "read_as": {"part number": ["bestell-nr", "order code"]},
        "display": {"dropped": ["backlight"]},
        "other": {"words": ["pallet"], "signs": ["¤"]},
        "alike": {"shapes": ["2z"]},
        "barcode": {"serial number": ["21s"]},
    },
}
#: Values of every type of TOML, right and wrong ones
VALUES: tuple[Any, ...] = (
    *("x", "", " ", "-", "²", 3, -1, 2.5, float("nan"), float("inf"), True, date(2031, 4, 7)),
    *([], [""], ["-"], ["x"], [3], [["x"]], [{}], [{"x": "y"}], {}, {"x": "y"}, {"": ["x"]}, {"x": ["y"]}),
)


def places(value: Any, path: tuple[str | int, ...] = ()) -> Iterator[tuple[str | int, ...]]:
    """The way to every entry of a file, from the whole tables down to single phrases."""
    if path:
        yield path
    if isinstance(value, dict | list):
        for key, below in value.items() if isinstance(value, dict) else enumerate(value):
            yield from places(below, (*path, key))


PLACES = [(name, path) for name, sample in SAMPLES.items() for path in places(sample)]


@pytest.mark.parametrize("name", FILES)
def test_what_the_page_allows_is_taken(tmp_path: Path, name: str) -> None:
    written(tmp_path, name, SAMPLES[name])
    assert load(tmp_path).sha256 != TRADE.sha256


@given(st.sampled_from(PLACES), st.sampled_from(VALUES))
@settings(max_examples=30, deadline=None)
def test_any_value_at_any_place_is_taken_or_refused_in_one_line(
    place: tuple[str, tuple[str | int, ...]], value: Any
) -> None:
    name, path = place
    sample = deepcopy(SAMPLES[name])
    inside: Any = sample
    for key in path[:-1]:
        inside = inside[key]
    inside[path[-1]] = value
    with TemporaryDirectory() as folder:
        written(Path(folder), name, sample)
        try:
            trade = load(Path(folder))
        except JobnotesError as error:
            assert str(error).startswith(str(Path(folder) / f"{name}.toml"))  # noqa: PT017
            assert "\n" not in str(error)  # noqa: PT017
            return
    # what was taken can be read with
    read_text("P0299 active, SPN 102 FMI 7. removed the hose, 2 volts. clock on", trade)


def written(folder: Path, name: str, data: dict[str, Any]) -> None:
    head = {"format": f"jobnotes-{name.replace('_', '-')}", "version": 1}
    (folder / f"{name}.toml").write_text(as_toml(head | data), "utf-8")


def as_toml(data: dict[str, Any]) -> str:
    """Every table in one line, which is TOML too."""
    return "".join(f"{json.dumps(key)} = {_value(value)}\n" for key, value in data.items())


def _value(value: Any) -> str:
    match value:
        case dict():
            return "{" + ", ".join(f"{json.dumps(k)} = {_value(v)}" for k, v in value.items()) + "}"
        case list():
            return "[" + ", ".join(map(_value, value)) + "]"
        case float() | date():
            return str(value)
        case _:
            return json.dumps(value, ensure_ascii=False)


def test_what_is_near_a_misspelt_name_is_told(write: Write) -> None:
    assert "write wears_thin" in refused(write("cues", '[words]\nwears_thinn = ["x"]\n'))
    assert "inactive" in refused(write("cues", '[states]\nnosuch = ["x"]\n')), "a short list is told in full"


@pytest.mark.parametrize("name", ["lexikon", "Cues2"])
def test_a_file_that_nothing_reads_is_named(tmp_path: Path, name: str) -> None:
    (tmp_path / f"{name}.toml").write_text('format = "jobnotes-lexicon"\nversion = 1\n', "utf-8")
    message = refused(tmp_path)
    assert f"{name}.toml" in message
    assert "rename it to lexicon.toml" in message


def test_other_files_of_the_workshop_are_left_alone(tmp_path: Path) -> None:
    (tmp_path / "payer.toml").write_text('format = "jobnotes-claim-policy"\nversion = 1\n', "utf-8")
    (tmp_path / "notes.toml").write_bytes(b"\xff not even TOML")
    assert load(tmp_path).sha256 == TRADE.sha256


def test_a_folder_in_a_files_place_is_named(tmp_path: Path) -> None:
    (tmp_path / "cues.toml").mkdir()
    assert "cues.toml" in refused(tmp_path)


def test_a_form_added_to_an_action_leaves_what_undoes_it(write: Write) -> None:
    trade = load(write("lexicon", '[[action]]\nname = "removed"\npast = ["winkled"]\n'))
    assert trade.actions["removed"] == TRADE.actions["removed"]
    (found,) = [f.detail for f in read_text("winkled the hose", trade) if isinstance(f.detail, Step)]
    assert found.action == "removed"


def test_a_kind_of_the_workshop_has_the_properties_it_names(write: Write) -> None:
    trade = load(write("lexicon", '[components]\nFlurb = ["flurbinator"]\n\n[kinds]\nopening = ["flurb"]\n'))
    assert trade.kinds["opening"] == TRADE.kinds["opening"] | {trade.kind_of["flurbinator"]}


@pytest.mark.parametrize("name", FILES)
@pytest.mark.parametrize(
    "raw",
    [
        b"[" * 5000,
        b"a = " + b"9" * 5000,
        b"[[x",
        b"a = ",
        b"\xff\xfe\x00",
        b"",
        b'format = "something else"\nversion = 1\n',
        b"version = 2\n",
    ],
)
def test_a_broken_file_is_named_in_one_line(tmp_path: Path, name: str, raw: bytes) -> None:
    (tmp_path / f"{name}.toml").write_bytes(raw)
    assert f"{name}.toml" in refused(tmp_path)


def test_a_broken_toml_says_on_which_line(write: Write) -> None:
    assert "line 4" in refused(write("lexicon", '[components]\nhose = ["a" "b"]\n'))


# --- what ships ------------------------------------------------------------------------------------------


def test_every_plausible_range_names_its_source() -> None:
    assert TRADE.ranges
    assert all(r.source and r.min < r.max for r in TRADE.ranges)


def test_every_action_that_opens_something_can_be_undone() -> None:
    opening = [a for a in TRADE.actions.values() if a.opens]
    assert opening
    assert all(a.undone_by for a in opening)
    assert all(other in TRADE.actions for a in TRADE.actions.values() for other in a.undone_by)


def test_the_lexicon_gives_every_component_a_kind() -> None:
    assert len(TRADE.kind_of) > 300
    assert all(kind for kind in TRADE.kind_of.values())
