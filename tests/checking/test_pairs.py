"""Names of one thing meet, names of two things don't; a bad pairing file is refused in one line."""

from __future__ import annotations

from pathlib import Path

import pytest
from checking_builders import step
from hypothesis import given
from hypothesis import strategies as st

from jobnotes.checking import pairs
from jobnotes.checking.loose_ends import loose_ends
from jobnotes.errors import JobnotesError
from jobnotes.office.names import is_plural, singular

PAIRS = pairs.load()


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("hose", "air hose"),
        ("the air line", "air pipes"),
        ("old pump", "new water pump"),
        ("drain valve", "drain valve on the rear tank"),
        ("rear left wheel", "left rear wheel"),
        ("four air lines", "air line"),
        ("O-ring", "o ring"),
        ("tyre front offside", "tyre"),
    ],
)
def test_two_names_of_one_thing(one, other):
    assert PAIRS.same_object(one, other)


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("coolant hose", "air hose"),
        ("fan", "alternator"),
        ("left wheel", "right wheel"),
        ("sensor", "sensor bracket"),
        ("pump", "pump bolts"),
        ("coolant", "oil"),
        ("", "hose"),
    ],
)
def test_two_names_of_two_things(one, other):
    assert not PAIRS.same_object(one, other)


@given(st.sampled_from(["hose", "air hose", "the pump", "bolts at the pump", "x"]), st.text(max_size=20))
def test_being_the_same_has_no_direction(one, other):
    assert PAIRS.same_object(one, other) == PAIRS.same_object(other, one)


@pytest.mark.parametrize(
    ("many", "one"),
    [("hoses", "hose"), ("bushes", "bush"), ("batteries", "battery"), ("boxes", "box"), ("glasses", "glass")],
)
def test_plurals(many, one):
    assert singular(many) == one
    assert is_plural(many)
    assert not is_plural(one)


@pytest.mark.parametrize("word", ["gas", "bus", "chassis", "press"])
def test_singulars_that_end_in_s(word):
    assert singular(word) == word


def write(folder: Path, text: str) -> Path:
    (folder / "pairing.toml").write_text(text, encoding="utf-8")
    return folder


HEAD = 'format = "jobnotes-pairing"\nversion = 1\n'


def test_what_was_changed_in_either_file_counts_at_once(tmp_path):
    first = pairs.load(write(tmp_path, HEAD))
    assert pairs.load(tmp_path) is first
    assert "the whole shebang" not in first.everything
    assert (
        "the whole shebang"
        in pairs.load(write(tmp_path, HEAD + 'everything = ["the whole shebang"]\n')).everything
    )
    lexicon = 'format = "jobnotes-lexicon"\nversion = 1\n[components]\nvalve = ["flurbinator"]\n'
    (tmp_path / "lexicon.toml").write_text(lexicon, encoding="utf-8")
    assert pairs.load(tmp_path).kind_of("flurbinator") == "valve"


def test_a_workshop_adds_its_own_words(tmp_path):
    own = pairs.load(write(tmp_path, HEAD + 'same_kind = ["wiring"]\neverything = ["the whole shebang"]\n'))
    assert own.same_object("loom", "harness")
    assert not PAIRS.same_object("loom", "harness")
    facts = [step("removed", "cover"), step("refitted", "the whole shebang")]
    assert loose_ends(facts, own) == ()


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("same_kind = [", "not TOML"),
        ("version = 1\n", "not a pairing file"),
        (HEAD + "colour = 1\n", "unknown key"),
        (HEAD + 'same_kind = "hose"\n', "not a list of words"),
        (HEAD + "lost = 4\n", "not a table"),
        (HEAD + '[undone_also]\nremoved = ["vanished"]\n', "unknown action"),
        (HEAD + "[done_by_reading]\ntorque = 4\n", "not a word"),
        (HEAD + '[fluid]\nfilled_share = "3"\n', "filled_share is 3"),
    ],
)
def test_a_bad_pairing_file_is_one_line_with_the_remedy(tmp_path, text, words):
    with pytest.raises(JobnotesError) as caught:
        pairs.load(write(tmp_path, text))
    assert words in caught.value.reason
    assert caught.value.remedy
    assert "pairing.toml" in caught.value.subject


@pytest.mark.parametrize("content", [b"\xff\xfe", b"same_kind = " + b"[" * 5000, b"x = " + b"9" * 5000])
def test_a_pairing_file_that_is_no_text_or_overwhelms_its_reader_is_one_line_too(tmp_path, content):
    (tmp_path / "pairing.toml").write_bytes(content)
    with pytest.raises(JobnotesError) as caught:
        pairs.load(tmp_path)
    assert caught.value.subject == str(tmp_path / "pairing.toml")
