"""`jobnotes facts`: a plain transcript in, JSON and nothing else out."""

from __future__ import annotations

import json
from typing import Any

import pytest
from command_line import World
from record_schema import faults_of_fact

TOLD = """\
job number four four one seven
S P N one seven two four, F M I five, active, count twelve
Ignition off, resistance across the can pair, 60.2 ohms, should be sixty.
fitted one new air hose, part number two zero six golf five one
"""
WITHOUT_AUDIO = {"note", "start_s", "end_s", "at", "photos"}


def facts_of(world: World, text: str) -> list[dict[str, Any]]:
    ended = world.here("facts", "--text", "-", stdin=text.encode())
    assert ended.status == 0, ended.err
    assert ended.err == ""
    assert list(ended.json) == ["facts"]
    return list(ended.json["facts"])


def test_a_transcript_gives_its_facts_in_the_shape_of_the_record(world: World) -> None:
    facts = facts_of(world, TOLD)
    assert [fault for fact in facts for fault in faults_of_fact(fact)] == []
    by_kind = {fact["kind"]: fact for fact in facts}
    assert by_kind["job_number"]["value"] == "4417"
    assert by_kind["fault_code"]["code"] == "SPN 1724 FMI 5"
    assert (by_kind["fault_code"]["state"], by_kind["fault_code"]["count"]) == ("active", 12)
    reading = by_kind["measurement"]
    assert (reading["value"], reading["unit"], reading["limit"]["nominal"]) == ("60.2", "Ohm", "60")
    assert by_kind["part"]["action"] == "fitted"


def test_the_keys_that_need_audio_are_absent(world: World) -> None:
    assert all(not WITHOUT_AUDIO & fact.keys() for fact in facts_of(world, TOLD))


def test_a_file_gives_the_same_as_standard_input_and_every_time(world: World) -> None:
    (world.cwd / "told.txt").write_text(TOLD, "utf-8")
    from_file = world.here("facts", "--text", "told.txt")
    again = world.jobnotes("facts", "--text", "-", stdin=TOLD.encode(), PYTHONHASHSEED="7")
    assert from_file.out == again.out


def test_numbers_in_words_and_in_digits_are_the_same_facts(world: World) -> None:
    in_words = facts_of(
        world, "ignition off resistance across the can pair sixty point two ohms should be sixty"
    )
    in_digits = facts_of(world, "Ignition off, resistance across the CAN pair 60.2 ohms, should be 60.")
    keys = ("kind", "value", "unit", "quantity", "limit", "conditions")
    assert [{k: f.get(k) for k in keys} for f in in_words] == [{k: f.get(k) for k in keys} for f in in_digits]


@pytest.mark.parametrize(
    "text", ["", "\n\n \n", "and then we had a cup of tea\n"], ids=["nothing", "blank", "idle talk"]
)
def test_text_without_facts_gives_an_empty_list(world: World, text: str) -> None:
    assert world.here("facts", "--text", "-", stdin=text.encode()).json == {"facts": []}


@pytest.mark.parametrize("text", ["", "\n\n \n"], ids=["nothing", "blank"])
def test_an_empty_transcript_is_named_in_one_line_and_is_no_failure(world: World, text: str) -> None:
    ended = world.here("facts", "--text", "-", stdin=text.encode())
    assert ended.err == "jobnotes: standard input: is empty; give a transcript, one utterance a line\n"
    assert (ended.status, ended.json) == (0, {"facts": []})
    (world.cwd / "told.txt").write_text(text, "utf-8")
    assert world.here("facts", "--text", "told.txt").err.startswith("jobnotes: told.txt: is empty")


@pytest.mark.parametrize(
    "raw",
    [
        "\ufeffjob number 4417".encode(),
        b"job number 4417\r\nclocking on\r\n",
        "job number 4417 \u201cwasn\u2019t it\u201d \u00b5 \U0001f527".encode(),
    ],
    ids=["byte order mark", "CRLF", "other signs"],
)
def test_text_as_other_programs_write_it_is_read(world: World, raw: bytes) -> None:
    ended = world.here("facts", "--text", "-", stdin=raw)
    assert ended.status == 0
    assert ended.json["facts"][0]["value"] == "4417"


def test_output_is_utf_8_whatever_the_terminal_speaks(world: World) -> None:
    text = "part number 206 golf 51 for the \u201cair\u201d hose, fitted one new air hose \u00b5"
    terminal = {"PYTHONIOENCODING": "ascii", "PYTHONUTF8": "0"}
    ended = world.jobnotes("facts", "--text", "-", stdin=text.encode(), **terminal)
    assert ended.status == 0, ended.err
    assert json.loads(ended.out)["facts"]


def test_no_such_file_and_no_text_end_with_2(world: World) -> None:
    (world.cwd / "binary").write_bytes(bytes(range(128, 256)))
    for source, reason in (("nowhere.txt", "No such file"), ("binary", "UTF-8"), (".", "directory")):
        ended = world.here("facts", "--text", source)
        assert ended.status == 2
        assert ended.out == ""
        assert len(ended.messages) == 1
        assert ended.err.startswith(f"jobnotes: {source}: ")
        assert reason in ended.err


@pytest.mark.slow
def test_a_long_transcript_is_read_to_its_end(world: World) -> None:
    lines = [f"measured the supply at pin {n}, {n % 40}.{n} volts" for n in range(1, 4001)]
    ended = world.here("facts", "--text", "-", stdin="\n".join(lines).encode())
    assert ended.status == 0
    assert ended.json["facts"][-1]["value"] == "0.4000"
