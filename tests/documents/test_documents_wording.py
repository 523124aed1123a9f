"""The words around the record: all there, and a workshop's own file checked before it is used."""

from __future__ import annotations

import ast
import re
from decimal import Decimal
from pathlib import Path

import pytest

import jobnotes.documents
from jobnotes.documents import values, wording
from jobnotes.documents.customer import terms_in
from jobnotes.documents.wording import Term
from jobnotes.errors import JobnotesError
from jobnotes.reading.readings.verdicts import Verdict
from jobnotes.record import Limit, Measurement

HEAD = 'format = "jobnotes-documents"\nversion = 1\n'
SOURCES = sorted(Path(jobnotes.documents.__file__).parent.glob("*.py"))


def own(folder: Path, text: str) -> wording.Wording:
    (folder / "documents.toml").write_text(text, "utf-8")
    return wording.load("en", folder)


def said_keys() -> set[str]:
    """The keys that the code asks for by a literal text: say("…"), count("…"), column(seen, "…", …)."""
    keys: set[str] = set()
    for source in SOURCES:
        for call in (n for n in ast.walk(ast.parse(source.read_text("utf-8"))) if isinstance(n, ast.Call)):
            name = call.func.attr if isinstance(call.func, ast.Attribute) else getattr(call.func, "id", "")
            texts = [a.value for a in call.args if isinstance(a, ast.Constant) and isinstance(a.value, str)]
            if name == "say":
                keys.update(texts)
            elif name == "count":
                keys.update(f"{text}.{form}" for text in texts if "." in text for form in ("one", "many"))
            elif name == "column" and texts:
                keys.add(f"column.{texts[0]}")
    return keys


def test_every_text_that_the_code_asks_for_is_there() -> None:
    keys = said_keys()
    assert len(keys) > 100
    assert sorted(keys - set(wording.load().texts)) == []


# looked up by a value of the record, or by a name that the code puts together
TABLES = {"kind", "state", "system", "verdict", "part_action", "condition", "clock", "basis", "status"}
TABLES |= {"units", "quantity", "measured", "measured_when", "failure_mode", "step_action"}
TABLES |= {"in_common", "operation", "sundry", "time_source", "time_doubt", "office_table", "stated"}
TABLES |= {"open_state", "severity", "linked_by", "shown"}
TABLES |= {"decided", "support", "payer", "bearer", "tax_category"}
PUT_TOGETHER = {"tag"} | {f"label.{n}" for n in ("opened", "closed", "customer", "technician", "net", "tax")}
PUT_TOGETHER |= {f"label.{n}" for n in ("gross", "complaint", "cause", "correction")}
PUT_TOGETHER |= {f"label.{n}" for n in ("in_service", "failed", "claimed_on", "issued", "due_on")}
PUT_TOGETHER |= {f"label.{n}" for n in ("claim_number", "claim_payer")}
PUT_TOGETHER |= {f"money.without_{n}" for n in ("check", "confirm")}
PUT_TOGETHER |= {f"column.{n}" for n in ("unit_price", "tax_base", "tax_amount")}
PUT_TOGETHER |= {f"mark.{n}.{form}" for n in ("draft_invoice", "confirm") for form in ("one", "many")}


def test_no_text_is_there_that_nothing_asks_for() -> None:
    keys = {key for key in wording.load().texts if key.split(".")[0] not in TABLES}
    source = "".join(path.read_text("utf-8") for path in SOURCES)
    unused = {k for k in keys - said_keys() - PUT_TOGETHER if f'"{k}"' not in source}
    assert sorted(unused) == []


def test_fixed_text_holds_no_numbers_that_could_pass_for_the_records() -> None:
    loaded = wording.load()
    names = ("SHA-256", "J1939")
    everything = [t for key, t in loaded.texts.items() if not key.startswith("tag")]
    everything += [line for lines in loaded.cautions.values() for line in lines]
    everything += [term.means for term in loaded.terms]
    for text in everything:
        for name in names:
            text = text.replace(name, "")
        assert not re.search(r"\d", text), text


def test_a_workshop_changes_one_text_and_keeps_the_others(tmp_path: Path) -> None:
    mine = own(tmp_path, HEAD + '[en.customer]\nno_prices = "Ask at the desk."\n')
    assert mine.say("customer.no_prices") == "Ask at the desk."
    assert mine.say("customer.title") == wording.load().say("customer.title")


def test_a_workshop_adds_a_unit_and_a_word_for_a_state(tmp_path: Path) -> None:
    mine = own(tmp_path, HEAD + '[units]\n"[acr_us]" = "acre"\n[en.open_state]\njammed = "stuck"\n')
    assert mine.units["[acr_us]"] == "acre"
    assert mine.name("open_state", "jammed") == "stuck"


def test_a_workshop_replaces_cautions_and_explains_a_word_its_own_way(tmp_path: Path) -> None:
    mine = own(
        tmp_path,
        HEAD
        + '[en.cautions]\nclaim = ["Only this."]\n[[en.terms]]\nword = "Harness"\nmeans = "Cables."\n'
        + '[[en.terms]]\nword = "sensor"\nmeans = ""\n',
    )
    assert mine.cautions["claim"] == ("Only this.",)
    assert mine.cautions["customer"] == wording.load().cautions["customer"]
    assert [t.means for t in mine.terms if t.word.casefold() == "harness"] == ["Cables."]
    assert not [t for t in mine.terms if t.word == "sensor"]  # an empty meaning explains nothing


def test_a_folder_without_the_file_changes_nothing(tmp_path: Path) -> None:
    assert wording.load("en", tmp_path) == wording.load()


@pytest.mark.parametrize(
    ("text", "named"),
    [
        ('version = 1\n[en]\ntag = "en"\n', "not a file of document wording"),
        (HEAD + "[en.claim\n", "line 3"),
        (HEAD + '[en.claim]\ntitel = "x"\n', "line 4: en.claim.titel"),
        (HEAD + "[en.claim]\ntitle = 7\n", "line 4: en.claim.title"),
        (HEAD + "[en.mark]\ndraft.one = 7\n", "line 4: en.mark.draft.one"),
        (HEAD + '[en.unheard]\na = "x"\n', "line 3: en.unheard"),
        (HEAD + '[de.claim]\n\n"title" = "{x}"\n', "line 5: de.claim.title"),
        (HEAD + '[en]\nclaim = "x"\n', "en.claim is not a table"),
        (HEAD + '[en.form]\npage = "{page} {color}"\n', "{color}"),
        (HEAD + '[en.form]\npage = "{page"\n', "en.form.page"),
        (HEAD + "[en.cautions]\nclaim = [1]\n", "en.cautions.claim"),
        (HEAD + '[[en.terms]]\nword = "x"\n', "a term lacks"),
        (HEAD + "[picture_budget]\nclaim = true\n", "picture_budget.claim"),
    ],
)
def test_a_wrong_file_is_refused_in_one_line_that_names_the_place(
    tmp_path: Path, text: str, named: str
) -> None:
    with pytest.raises(JobnotesError) as caught:
        own(tmp_path, text)
    message = str(caught.value)
    assert "documents.toml" in message
    assert named in message
    assert "\n" not in message


def test_bytes_that_are_no_text_are_refused(tmp_path: Path) -> None:
    (tmp_path / "documents.toml").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(JobnotesError, match="not TOML"):
        wording.load("en", tmp_path)


def test_a_language_without_words_of_its_own_falls_back_to_english_words_with_its_own_numbers() -> None:
    swedish = wording.load("sv-SE")
    assert swedish.say("claim.title") == wording.load().say("claim.title")
    assert swedish.tag == "en-GB"
    assert values.number(Decimal("60.2"), swedish) == "60,2"
    assert wording.load("en-US").tag == "en-US"


def test_a_workshop_adds_a_language_with_only_the_words_that_it_has(tmp_path: Path) -> None:
    (tmp_path / "documents.toml").write_text(HEAD + '[sv.claim]\ntitle = "Garantiansökan"\n', "utf-8")
    swedish = wording.load("sv-SE", tmp_path)
    assert swedish.say("claim.title") == "Garantiansökan"
    assert swedish.say("claim.summary") == wording.load().say("claim.summary")
    assert swedish.tag == "sv-SE"
    assert wording.load("en", tmp_path) == wording.load()


@pytest.mark.parametrize("tag", ["tlh", "x", "", "de-DE-", "../en"])
def test_a_locale_that_is_none_is_refused_in_one_line(tag: str) -> None:
    with pytest.raises(JobnotesError, match=r"locale.*; give one such as"):
        wording.load(tag)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("the solenoid valve sticks", ["solenoid"]),
        ("two VALVES", ["valve"]),
        ("a valveless pump", []),
        ("DPF and another dpf", ["particulate filter"]),
        ("", []),
    ],
)
def test_a_term_is_found_in_any_form_as_a_whole_word(text: str, words: list[str]) -> None:
    terms = (
        Term("valve", "Opens and shuts.", ("valves",)),
        Term("solenoid", "A coil.", ("solenoid valve",)),
        Term("particulate filter", "Catches soot.", ("DPF",)),
    )
    assert [term.word for term in terms_in(text, terms)] == words


@pytest.mark.parametrize(
    ("value", "bounds", "judged", "told"),
    [
        ("60.2", Limit(None, None, Decimal(60), "said"), "within", "rounds to nominal"),
        ("50", Limit(None, None, Decimal(60), "said"), "outside", "off nominal by more than a tenth"),
        ("61", Limit(None, None, Decimal(60), "said"), "no limit given", "no tolerance given"),
        ("61", Limit(Decimal(59), Decimal(62), Decimal(60), "said"), "within", "within limit"),
        ("61", Limit(None, Decimal(60), None, "said"), "outside", "outside limit"),
    ],
)
def test_a_verdict_beside_a_bare_nominal_value_says_what_it_rests_on(
    value: str, bounds: Limit, judged: Verdict, told: str
) -> None:
    measured = Measurement(Decimal(value), "Ohm", "resistance", "coil", (), bounds, judged)
    assert values.verdict(measured, wording.load()) == told
