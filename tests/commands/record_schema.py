"""Does a record keep to its contract? In shape, by JSON Schema; in what a schema can't say, by hand."""

from __future__ import annotations

import json
from datetime import datetime
from functools import cache
from itertools import pairwise
from pathlib import Path
from typing import Any

from jsonschema import Draft202012Validator
from ucumvert import PintUcumRegistry

_FILE = Path(__file__).with_name("record.schema.json")


@cache
def _schema() -> dict[str, Any]:
    schema: dict[str, Any] = json.loads(_FILE.read_text("utf-8"))
    Draft202012Validator.check_schema(schema)
    return schema


@cache
def _ucum() -> PintUcumRegistry:
    return PintUcumRegistry()


def faults_of_record(record: Any) -> list[str]:
    """What is wrong with a parsed record.json, a line each; empty where nothing is."""
    return _by_schema(record, {}) + _by_hand(record)


def faults_of_fact(fact: Any) -> list[str]:
    """The same for one fact of `jobnotes facts`, which has no audio to point to."""
    return _by_schema(fact, {"$ref": "#/$defs/read_fact"}) + _units({"facts": [fact]})


def _by_schema(value: Any, of: dict[str, Any]) -> list[str]:
    schema = {"$defs": _schema()["$defs"], **of} if of else _schema()
    errors = Draft202012Validator(schema).iter_errors(value)
    return [f"{error.json_path}: {error.message[:300]}" for error in errors]


def _by_hand(record: Any) -> list[str]:
    found = _units(record)
    for where, name in (("notes", "note"), ("photos", "photo"), ("facts", "fact")):
        ids = [entry["id"] for entry in record[where]]
        found += [f"two of {where} are {name} {i}" for i in sorted({i for i in ids if ids.count(i) > 1})]
    notes = {note["id"]: note for note in record["notes"]}
    photos = {photo["id"] for photo in record["photos"]}
    facts = {fact["id"]: fact for fact in record["facts"]}
    for note in notes.values():
        times = [t for word in note["words"] for t in (word["start_s"], word["end_s"])]
        if any(a > b for a, b in pairwise(times)):
            found.append(f"{note['id']}: the times of its words don't rise")
        if times and times[-1] > note["duration_s"] + 0.05:
            found.append(f"{note['id']}: a word ends after its note")
    for fact in facts.values():
        if fact["note"] not in notes:
            found.append(f"{fact['id']}: no note {fact['note']}")
            continue
        note = notes[fact["note"]]
        if not fact["start_s"] <= fact["end_s"] <= note["duration_s"] + 0.05:
            found.append(f"{fact['id']}: {fact['start_s']} to {fact['end_s']} s isn't within its note")
        said = (_time(fact["at"]) - _time(note["started_at"])).total_seconds()
        if abs(said - fact["start_s"]) > 0.01:
            found.append(f"{fact['id']}: said at {fact['at']}, but {fact['start_s']} s into {note['id']}")
        found += [f"{fact['id']}: no photo {p}" for p in fact["photos"] if p not in photos]
        by = fact.get("superseded_by")
        if by is not None and (by not in facts or fact["status"] != "rejected"):
            found.append(f"{fact['id']}: superseded by {by}, and {fact['status']}")
    named = [(f"photo {p['id']}", i) for p in record["photos"] for i in p["fact_ids"]]
    named += [("a loose end", end["fact_id"]) for end in record["loose_ends"]]
    named += [("labour", i) for line in record["labour"] for i in line["fact_ids"]]
    found += [f"{what} names no fact: {i}" for what, i in named if i not in facts]
    for photo in record["photos"]:
        for fact in facts.values():
            if (fact["id"] in photo["fact_ids"]) != (photo["id"] in fact["photos"]):
                found.append(f"{photo['id']} and {fact['id']} disagree on whether they are linked")
    return found


def _units(record: Any) -> list[str]:
    """Units that the UCUM grammar, as package ucumvert has it, doesn't know."""
    units = {fact["unit"] for fact in record["facts"] if "unit" in fact}
    units |= {
        entry["unit"]
        for key in ("odometer", "engine_hours")
        if "unit" in (entry := record.get("job", {}).get(key, {}))
    }
    return [f"{unit} is no UCUM code" for unit in sorted(units) if not _is_ucum(unit)]


def _is_ucum(unit: str) -> bool:
    try:
        _ucum().from_ucum(unit)
    except Exception:  # the parser's own errors, of many classes
        return False
    return True


def _time(text: str) -> datetime:
    return datetime.fromisoformat(text)
