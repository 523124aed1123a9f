"""Documents in another language than that of speech: their words, and how what was said is told apart."""

from __future__ import annotations

import re
import tomllib
from dataclasses import replace
from decimal import Decimal
from importlib import resources
from pathlib import Path

import pytest
from coach_job import DAY, coach, note
from documents_read import Written, house_of, text_of, written
from docx.oxml.ns import qn
from hypothesis import given
from hypothesis import strategies as st
from priced_job import priced

from jobnotes import record as r
from jobnotes.checking import labour
from jobnotes.documents import plaintext, values, wording
from jobnotes.documents.wording import Wording
from jobnotes.errors import JobnotesError

DATA = resources.files("jobnotes") / "data"
FURTHER = sorted(
    match[1] for file in DATA.iterdir() if (match := re.fullmatch(r"documents\.([\w-]+)\.toml", file.name))
)
EN, DE = wording.load("en"), wording.load("de-DE")
NBSP = "\u00a0"


def data(name: str) -> dict[str, object]:
    return tomllib.loads((DATA / name).read_text("utf-8"))


def names_in(text: str) -> set[str]:
    return set(re.findall(r"\{(\w+)\}", text))


# --- the words -----------------------------------------------------------------------------------


def test_german_ships() -> None:
    assert "de" in FURTHER


@pytest.mark.parametrize("tag", FURTHER)
def test_a_language_that_ships_has_every_text_of_english_with_the_same_names_in_braces(tag: str) -> None:
    other = wording.load(tag)
    assert other.tag.split("-")[0] == tag
    assert other.texts.keys() == EN.texts.keys()
    assert other.cautions.keys() == EN.cautions.keys()
    assert other.quantity_words.keys() == EN.quantity_words.keys()
    assert {k: names_in(t) for k, t in other.texts.items()} == {k: names_in(t) for k, t in EN.texts.items()}
    assert {k: len(v) for k, v in other.cautions.items()} == {k: len(v) for k, v in EN.cautions.items()}
    empty = {key for key, text in EN.texts.items() if not text}
    assert {key for key, text in other.texts.items() if not text} == empty


@pytest.mark.parametrize("tag", FURTHER)
def test_a_language_explains_the_words_that_are_spoken(tag: str) -> None:
    """The statements are in the language of speech, so its words are those that need explaining."""
    for ours, theirs in zip(EN.terms, wording.load(tag).terms, strict=True):
        found = {form.casefold() for form in (theirs.word, *theirs.forms)}
        assert {form.casefold() for form in (ours.word, *ours.forms)} <= found
        assert theirs.means != ours.means


def test_german_is_not_english_but_where_the_word_is_the_same() -> None:
    same = {
        key for key, text in EN.texts.items() if text and DE.texts[key] == text and names_in(text) == set()
    }
    alike = {"column.code", "column.original", "form.none", "units.[mi_i]/h"}
    assert same <= alike


@pytest.mark.parametrize("tag", FURTHER)
def test_fixed_text_of_a_language_holds_no_numbers_that_could_pass_for_the_records(tag: str) -> None:
    other = wording.load(tag)
    told = [text for key, text in other.texts.items() if not key.startswith(("tag", "units."))]
    told += [line for lines in other.cautions.values() for line in lines]
    told += [term.means for term in other.terms]
    for text in told:
        assert not re.search(r"\d", text.replace("SHA-256", "").replace("J1939", "")), text


def test_there_is_a_word_for_everything_that_reading_and_checking_say_of_themselves() -> None:
    """Of their own, and not of what was said."""
    units, lexicon, cues = data("units.toml"), data("lexicon.toml"), data("cues.toml")
    fmi = data("fault_texts.toml")["fmi"]
    told = {
        "quantity": {entry["quantity"] for entry in units["unit"]},  # type: ignore[attr-defined]
        "step_action": {action["name"] for action in lexicon["action"]},  # type: ignore[attr-defined]
        "measured": set(cues["conditions"]),  # type: ignore[call-overload]
        "failure_mode": set(fmi.values()),  # type: ignore[attr-defined]
    }
    for table, wanted in told.items():
        assert {key.removeprefix(f"{table}.") for key in EN.texts if key.startswith(f"{table}.")} == wanted
    for line in (labour.WORKED, labour.NO_OPERATION):
        assert f"operation.{line}" in EN.texts


def test_a_workshop_changes_one_german_word_and_keeps_the_others(tmp_path: Path) -> None:
    head = 'format = "jobnotes-documents"\nversion = 1\n'
    own = '[units]\n"/min" = "U/min"\n[de.claim]\ntitle = "Kulanzantrag"\n'
    own += '[de-AT.label]\nbuyer = "Zulassungsbesitzer"\n'
    (tmp_path / "documents.toml").write_text(head + own, "utf-8")
    austrian = wording.load("de-AT", tmp_path)
    assert austrian.say("label.buyer") == "Zulassungsbesitzer"
    assert austrian.say("claim.summary") == DE.say("claim.summary")
    assert austrian.tag == "de-AT"
    assert wording.load("de", tmp_path).say("claim.title") == "Kulanzantrag"
    assert wording.load("de", tmp_path).units["/min"] == "U/min"
    assert wording.load("en", tmp_path).say("claim.title") == EN.say("claim.title")


def test_a_workshop_keeps_a_language_in_a_file_of_its_own(tmp_path: Path) -> None:
    head = 'format = "jobnotes-documents"\nversion = 1\n'
    (tmp_path / "documents.de.toml").write_text(head + '[de.claim]\ntitle = "Kulanzantrag"\n', "utf-8")
    assert wording.load("de", tmp_path).say("claim.title") == "Kulanzantrag"
    (tmp_path / "documents.de.toml").write_text(head + "[de.claim]\ntitle = 7\n", "utf-8")
    with pytest.raises(JobnotesError, match=r"documents\.de\.toml, line 4: de\.claim\.title"):
        wording.load("en", tmp_path)


@pytest.mark.parametrize(
    ("said", "english", "german"),
    [
        ("ignition off", "ignition off", "Zündung aus"),
        ("at 1500 /min", "at 1500 rpm", "bei 1500 min⁻¹"),
        ("for 10.5 min", "for 10.5 min", "10,5 min lang"),
        ("at 1500", "at 1500", "bei 1500"),
        ("tag axle up", "tag axle up", "tag axle up"),
    ],
)
def test_a_condition_is_told_in_words_with_its_unit(said: str, english: str, german: str) -> None:
    measured = r.Measurement(Decimal("13.8"), "V", "voltage", None, (said,))
    assert values.conditions(measured, EN).replace(NBSP, " ") == english
    assert plaintext.unmarked(values.conditions(measured, DE)).replace(NBSP, " ") == german


@pytest.mark.parametrize(
    ("count", "told"), [(1, "1 Aussage ist zu prüfen"), (3, "3 Aussagen sind zu prüfen")]
)
def test_one_and_many_differ(count: int, told: str) -> None:
    assert DE.count("mark.draft", count).endswith(told)


# --- the documents -------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def german(tmp_path_factory: pytest.TempPathFactory) -> Written:
    return written(priced(), tmp_path_factory.mktemp("german"), house=house_of(locale="de-DE"))


def test_a_german_document_is_tagged_and_headed_in_german_with_its_numbers_and_dates(german: Written) -> None:
    english = {
        t for k, t in EN.texts.items() if k.split(".")[0] in ("claim", "customer", "workshop", "column")
    }
    for name, document in german.each():
        assert document.core_properties.language == "de-DE"
        default = document.styles.element.find(qn("w:docDefaults")).find(".//" + qn("w:lang"))
        assert default.get(qn("w:val")) == "de-DE"
        heads = [p.text for p in document.paragraphs if p.style.name.startswith(("Heading", "Title"))]
        heads += [cell.text for table in document.tables for cell in table.rows[0].cells if cell.text]
        assert len(heads) > 30, name
        assert english.isdisjoint(set(heads) - {"Code", "Original"})
        text = text_of(document)
        assert "17. Juni 2031" in text
        assert f"60,2{NBSP}Ω" in text
        assert "June" not in text
    assert "Beanstandung" in text_of(german.claim)
    assert f"361,01{NBSP}EUR (300,84 netto, Steuer 60,17)" in text_of(german.claim)


def spoken_and_not(document_part: object) -> tuple[str, str]:
    """What of a document is tagged as English, and what is in the document's own language."""
    spoken, own = [], []
    for run in document_part.iter(qn("w:r")):  # type: ignore[attr-defined]
        text = "".join(t.text or "" for t in run.iter(qn("w:t")))
        lang = run.find(qn("w:rPr") + "/" + qn("w:lang"))
        (own if lang is None else spoken).append(text)
        assert lang is None or lang.get(qn("w:val")) == "en-GB"
    return "\n".join(spoken).casefold(), "\n".join(own).casefold()


def test_what_was_said_is_tagged_with_the_language_of_speech(german: Written) -> None:
    for name, document in german.each():
        spoken, own = spoken_and_not(document.element.body)
        for fact in german.record.facts:
            if not fact.stands or (fact.audience == "workshop" and name != "workshop"):
                continue
            for text in said_in(fact.detail):
                assert text.casefold() not in own, (name, text)
                if name == "workshop":
                    assert text.casefold() in spoken, (name, text)
        for german_word in ("teil", "grenzwert", "foto", "eingebaut", "ursache"):
            assert german_word not in spoken.split()
    spoken, _ = spoken_and_not(german.workshop.element.body)
    for fact in german.record.facts:
        assert not fact.stands or fact.quote.casefold() in spoken


def said_in(detail: r.Detail) -> list[str]:
    match detail:
        case r.Statement(text=text):
            return [text]
        case r.Step(object=thing):
            return [thing]
        case r.Part(name=name):
            return [name]
        case r.PhotoCue(subject=str(subject)):
            return [subject]
        case _:
            return []


def test_what_an_earlier_repair_has_in_common_is_told_in_german(german: Written) -> None:
    text = text_of(german.claim)
    assert "Fehlercode SPN 1044 FMI 1\nBauteil: air spring" in text
    assert values.in_common("component air spring", EN) == "component air spring"
    assert values.in_common("the same driver", DE) == plaintext.marked("the same driver")


def test_an_english_document_tags_nothing(priced_documents: Written) -> None:
    for _, document in priced_documents.each():
        assert spoken_and_not(document.element.body)[0] == ""


def test_no_mark_of_a_language_reaches_a_file(german: Written) -> None:
    awkward = "left \ufdd0 marked \ufdd1 by hand"
    for name, document in german.each():
        for part in document.part.package.iter_parts():
            if part.partname.endswith(".xml"):
                assert not re.search("[\ufdd0\ufdd1]", part.blob.decode("utf-8")), (name, part.partname)
        assert "\ufdd0" not in document.core_properties.title
    assert plaintext.unmarked(plaintext.marked(awkward)) == "left  marked  by hand"


def test_a_part_that_nobody_names_is_charged_under_a_german_name(tmp_path: Path) -> None:
    line = r.Charge("C1", "sundry", "consumables", Decimal(1), "1", unit_price=Decimal(3), net=Decimal(3))
    told = written(replace(coach(), charges=(line,)), tmp_path, house=house_of(locale="de"))
    assert "Kleinmaterial" in text_of(told.customer)


def test_the_pages_of_the_office_stay_english_where_the_documents_are_german() -> None:
    house = house_of(locale="de-DE")
    assert house.wording.name("kind", "part") == "Teil"
    assert house.desk.name("kind", "part") == "Part"
    assert house_of(locale="en-US").desk.tag == "en-US"


# --- the marks -----------------------------------------------------------------------------------

TEXTS = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\ufdd0\ufdd1"), max_size=40)


@given(st.lists(st.tuples(TEXTS, st.booleans()), max_size=6))
def test_pieces_in_two_languages_are_told_apart_again(pieces: list[tuple[str, bool]]) -> None:
    joined = "".join(plaintext.marked(text) if spoken else text for text, spoken in pieces)
    back = list(plaintext.by_language(joined))
    for spoken in (True, False):
        assert "".join(t for t, s in back if s == spoken) == "".join(t for t, s in pieces if s == spoken)
    assert plaintext.unmarked(joined) == "".join(text for text, _ in pieces)


@given(TEXTS, TEXTS, st.integers(5, 60))
def test_what_is_cut_short_does_not_lend_its_language_to_what_follows(one: str, two: str, room: int) -> None:
    joined = f"{plaintext.shortened(plaintext.marked(one), room)}; {two}"
    assert list(plaintext.by_language(joined))[-1][0].endswith(two)
    assert not any(spoken and "; " + two in piece for piece, spoken in plaintext.by_language(joined) if two)


def test_a_capital_is_set_behind_the_mark(german: Written) -> None:
    assert plaintext.sentence_case(plaintext.marked("air hose")) == plaintext.marked("Air hose")
    assert plaintext.without_stop(plaintext.marked("It leaks.")) == plaintext.marked("It leaks")


# --- a language of the speech is the same as that of the document: nothing is marked ------------------


@pytest.mark.parametrize(("tag", "marks"), [("en-US", False), ("de-CH", True), ("fr", False)])
def test_only_words_in_another_language_are_marked(tag: str, marks: bool) -> None:
    loaded: Wording = wording.load(tag)
    assert (loaded.spoken("air hose") != "air hose") == marks


def test_a_number_written_in_two_ways_is_written_as_the_price_list_prints_it(tmp_path: Path) -> None:
    facts = tuple(
        r.Fact(f"F{n}", r.Part("air hose", action, number=number), number, 0.9, "sure", None, "N1", float(n))
        for n, (action, number) in enumerate((("removed", "206-G51"), ("fitted", "206G51")))
    )
    line = r.Charge("C1", "part", "air hose", Decimal(1), "1", ("F1",), "206 G51", Decimal(3), net=Decimal(3))
    bare = r.Record(job=r.Job(), notes=(note(1, DAY),), facts=facts)
    for record, printed, others in (
        (replace(bare, charges=(line,)), "206 G51", ("206-G51", "206G51")),
        (bare, "206-G51", ("206 G51", "206G51")),
    ):
        (tmp_path / printed).mkdir()
        told = written(record, tmp_path / printed)
        for document in (told.claim, told.customer):
            text = text_of(document)
            assert printed in text
            assert not any(other in text for other in others)
    # what was heard stays as it was
    assert "206G51" in text_of(told.workshop)
    assert [f.detail.number for f in record.facts if isinstance(f.detail, r.Part)] == ["206-G51", "206G51"]
