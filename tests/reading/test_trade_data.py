"""A workshop's own trade data: added beside what ships and used; a wrong entry is named in one line."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from reading_forms import TRADE

from jobnotes.errors import JobnotesError
from jobnotes.reading.read import read_text
from jobnotes.reading.trade import FILES, load
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
]
NOT_YET = [
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
]


@pytest.mark.parametrize(
    ("name", "body", "entry"),
    [
        *WRONG,
        *(pytest.param(*w, marks=pytest.mark.xfail(strict=True, reason="not checked yet")) for w in NOT_YET),
    ],
)
def test_a_wrong_entry_is_named_in_one_line(write: Write, name: str, body: str, entry: str) -> None:
    message = refused(write(name, body))
    assert f"{name}.toml" in message
    assert entry in message


@pytest.mark.parametrize("name", FILES)
@pytest.mark.parametrize(
    "raw",
    [b"[[x", b"a = ", b"\xff\xfe\x00", b"", b'format = "something else"\nversion = 1\n', b"version = 2\n"],
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
