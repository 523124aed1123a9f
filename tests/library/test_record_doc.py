"""docs/record.md is true: its examples are records, and it leaves nothing out."""

from __future__ import annotations

import dataclasses
import json
import re
from pathlib import Path
from typing import Any, Literal, get_args, get_origin, get_type_hints

import pytest

from jobnotes import record as r
from jobnotes import record_json
from jobnotes.errors import Problem

PAGE = (Path(__file__).parents[2] / "docs" / "record.md").read_text(encoding="utf-8")
BLOCKS = [json.loads(block) for block in re.findall(r"```json\n(.*?)```", PAGE, re.S)]
RECORD: dict[str, Any] = next(b for b in BLOCKS if isinstance(b, dict))
FACTS: list[dict[str, Any]] = [f for b in BLOCKS if isinstance(b, list) for f in b]
SHAPES = (
    *(c for c in vars(r).values() if dataclasses.is_dataclass(c) and c is not Problem),
    Problem,
)


def as_record(facts: list[dict[str, Any]]) -> dict[str, Any]:
    return {"format": r.FORMAT, "version": r.VERSION, "job": {}, "facts": facts}


def test_the_whole_record_reads_and_writes_back_the_same() -> None:
    back = record_json.to_json(record_json.from_json(RECORD))
    assert back == RECORD
    # in the same order, too
    assert json.dumps(back) == json.dumps(RECORD)


@pytest.mark.parametrize("fact", FACTS, ids=lambda f: f["id"])
def test_an_example_reads_and_writes_back_the_same(fact: dict[str, Any]) -> None:
    (read,) = record_json.from_json(as_record([fact])).facts
    written = record_json.to_json(read)
    assert json.dumps(written) == json.dumps(fact)


def test_there_is_an_example_of_every_kind_and_every_key() -> None:
    facts = [*FACTS, *RECORD["facts"]]
    kinds = {*r._KIND_OF.values(), *get_args(r.StatementKind), *get_args(r.IdentityKind)}
    assert {f["kind"] for f in facts} == kinds
    keys = {key for f in facts for key in f}
    assert keys == {
        field.name for shape in (r.Fact, *get_args(r.Detail)) for field in dataclasses.fields(shape)
    } - {"detail"} | {"kind"}


@pytest.mark.parametrize("shape", SHAPES, ids=lambda c: c.__name__)
def test_the_page_shows_every_key_and_every_word_it_may_have(shape: Any) -> None:
    hints = get_type_hints(shape)
    for field in dataclasses.fields(shape):
        if (shape, field.name) == (r.Fact, "detail"):
            continue
        assert f'"{field.name}":' in PAGE, field.name
        for choice in choices(hints[field.name]):
            assert f"`{choice}`" in PAGE or f'"{choice}"' in PAGE, choice


def choices(hint: Any) -> list[str]:
    if get_origin(hint) is Literal:
        return [str(a) for a in get_args(hint)]
    return [c for inner in get_args(hint) for c in choices(inner)]


def test_the_example_refers_only_to_what_it_has() -> None:
    record = record_json.from_json(RECORD)
    facts, photos = {f.id for f in record.facts}, {p.id for p in record.photos}
    notes = {n.id: n for n in record.notes}
    for fact in record.facts:
        assert set(fact.photos) <= photos
        note = notes[fact.note or ""]
        assert fact.quote in note.text
        assert fact.start_s is not None
        assert fact.at is not None
        assert (fact.at - note.started_at).total_seconds() == fact.start_s
        assert 0 <= fact.start_s < (fact.end_s or 0) <= note.duration_s
    for photo in record.photos:
        assert set(photo.fact_ids) <= facts
    assert {e.fact_id for e in record.loose_ends} <= facts
    assert record.totals is not None
    assert record.totals.net + record.totals.tax == record.totals.gross


def test_the_program_on_the_page_runs(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    (code,) = re.findall(r"```python\n(.*?)```", PAGE, re.S)
    monkeypatch.chdir(tmp_path)
    (tmp_path / "record.json").write_text(json.dumps(RECORD), encoding="utf-8")
    exec(compile(code, "record.md", "exec"), {})
    assert capsys.readouterr().out == "".join(f"{f['kind']} {f['quote']}\n" for f in RECORD["facts"])
    assert json.loads((tmp_path / "copy.json").read_text(encoding="utf-8")) == RECORD
