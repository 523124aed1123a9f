"""What the sample job's people say is in its record or shown as doubtful, and nothing sure is wrong.

The scenario states what each of its sentences says (sample_media/expected_facts.json, made from
scenario.toml and never from a recogniser). What counts as the same is the evaluation set's rule: identity
and details, as tests/eval/README.md has them.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

import pytest
from command_line import SAMPLE, Demo

sys.path.insert(0, str(Path(__file__).parents[1] / "eval"))

from score import CLOSED, details, identity

EXPECTED: dict[str, Any] = json.loads((SAMPLE / "expected_facts.json").read_text("utf-8"))
WANTED: list[dict[str, Any]] = EXPECTED["facts"]
REQUIRED = [f for f in WANTED if not f.get("optional") and f.get("status") != "rejected"]
#: seconds by which the words of a line may be heard early or late
LEEWAY_S = 1.0


def told(want: dict[str, Any]) -> str:
    keys = {k: v for k, v in want.items() if k not in ("line", "kind")}
    return f"{want['kind']} {keys} <<{EXPECTED['lines'][want['line']]}>>"


def line_of(fact: dict[str, Any], demo: Demo) -> set[int]:
    """The lines of the script during which the fact was said; none where only a photo shows it."""
    if fact.get("source") == "photo":
        return set()
    files = {note["id"]: note["file"] for note in demo.record["notes"]}
    return {
        at
        for at, spoken in enumerate(EXPECTED["spoken"])
        if spoken["note"] == files[fact["note"]]
        and fact["start_s"] < spoken["end_s"] + LEEWAY_S
        and fact["end_s"] > spoken["start_s"] - LEEWAY_S
    }


def standing(demo: Demo) -> list[dict[str, Any]]:
    return [fact for fact in demo.record["facts"] if fact["status"] != "rejected"]


def is_held(want: dict[str, Any], facts: list[dict[str, Any]]) -> bool:
    return any(identity(f, want) and details(f, want) == ([], []) for f in facts)


def is_shown_as_doubtful(want: dict[str, Any], demo: Demo) -> bool:
    """A fact of that kind, said there, is marked for a person to look at."""
    kinds = {want["kind"], *want.get("also_kinds", [])}
    return any(
        fact["status"] == "check" and fact["kind"] in kinds and want["line"] in line_of(fact, demo)
        for fact in standing(demo)
    )


def test_every_fact_that_is_said_is_in_the_record_or_shown_as_doubtful(demo: Demo) -> None:
    facts = standing(demo)
    lost = [told(w) for w in REQUIRED if not is_held(w, facts) and not is_shown_as_doubtful(w, demo)]
    assert lost == [], "\n" + "\n".join(lost)


def faults_of(fact: dict[str, Any], demo: Demo) -> list[str]:
    """In what ways a fact says something that nobody said."""
    same = [want for want in WANTED if identity(fact, want)]
    lines = line_of(fact, demo)
    here = [want for want in same if want["line"] in lines] or same
    if not here:
        return ["nobody said that"] if fact["kind"] in CLOSED else []
    if all(want.get("status") == "rejected" for want in here):
        return ["it was taken back"]
    different = [details(fact, want)[1] for want in here if want.get("status") != "rejected"]
    return min(different, key=len)


def test_nothing_that_is_sure_is_wrong(demo: Demo) -> None:
    wrong = []
    for fact in standing(demo):
        if fact["status"] == "sure":
            faults = faults_of(fact, demo)
            for no in EXPECTED["no_facts"]:
                if fact["kind"] == no["kind"] and no["line"] in line_of(fact, demo) and identity(fact, no):
                    faults = [*faults, "it must not come of this line"]
            if faults:
                wrong.append(f"{faults}: {fact}")
    assert wrong == [], "\n" + "\n".join(wrong)


#: what the pictures show, drawn by scenario.toml: the kind, the key, and its value by letters and digits
DRAWN = {
    ("part", "number", "73K29056"),
    ("registration", "value", "QQ00TST"),
    ("odometer", "value", "418206"),
}


def shown(demo: Demo) -> list[tuple[str, str, str, bool]]:
    """What the record says that photos show: kind, key, value, whether it is what was said."""
    return [
        (fact["kind"], one["field"], "".join(c for c in one["value"] if c.isalnum()), one["agrees"])
        for fact in standing(demo)
        for one in fact.get("shown", ())
    ]


def test_photos_confirm_what_they_show_and_nothing_else(demo: Demo) -> None:
    found = shown(demo)
    assert {(kind, field, value) for kind, field, value, _ in found} <= DRAWN
    assert all(agrees for *_, agrees in found), found
    assert ("part", "number", "73K29056", True) in found
    assert [fact for fact in demo.record["facts"] if fact.get("source") == "photo"] == []


def test_most_of_it_is_sure(demo: Demo) -> None:
    """Marking everything as doubtful would keep the two promises above, and help nobody."""
    facts = [fact for fact in standing(demo) if fact["status"] == "sure"]
    held = [want for want in REQUIRED if is_held(want, facts)]
    assert len(held) >= 0.7 * len(REQUIRED), "\n".join(told(w) for w in REQUIRED if w not in held)


@pytest.mark.parametrize("word", EXPECTED["private_words"])
def test_a_private_remark_stays_in_the_workshop(demo: Demo, word: str) -> None:
    for fact in demo.record["facts"]:
        if set(EXPECTED["private_lines"]) & line_of(fact, demo) and word in fact["quote"].lower():
            assert fact["audience"] == "workshop", fact
        if fact["audience"] == "all":
            text = " ".join(str(fact.get(k, "")) for k in ("text", "name", "subject", "object", "reason"))
            assert word not in text.lower(), fact


def test_what_is_still_off_when_the_bus_goes_is_a_loose_end_and_nothing_else_is(demo: Demo) -> None:
    """But for what is said to be uncertain: there a person has to look."""
    facts = {fact["id"]: fact for fact in demo.record["facts"]}
    ends = demo.record["loose_ends"]
    told = [f"{end['text']} <<{facts[end['fact_id']]['quote']}>>".lower() for end in ends]
    wanted = EXPECTED["open_at_end"]
    for words in wanted:
        assert any(all(word in text for word in words) for text in told), told
    others = [
        text
        for text, end in zip(told, ends, strict=True)
        if not any(all(word in text for word in words) for words in wanted)
        and "not for certain" not in text
        and facts[end["fact_id"]]["status"] != "check"
    ]
    assert others == []
