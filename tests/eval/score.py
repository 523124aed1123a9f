"""Score the reader on the evaluation set, as README.md in this folder defines it.

    python tests/eval/score.py [dev|second|…|nineteenth|aside|FILE] [-v]

prints recall, wrong facts (sure and not), and the share to check, with 95 % Wilson intervals.
"""

from __future__ import annotations

import argparse
import json
import math
import re
import sys
from collections.abc import Callable
from dataclasses import dataclass, field
from decimal import Decimal
from functools import lru_cache
from pathlib import Path
from typing import Any, NamedTuple

from jobnotes import record_json
from jobnotes.reading.read import read_text
from jobnotes.record import Fact

HERE = Path(__file__).parent
CLOSED = frozenset(
    "fault_code measurement part labour clock job_number registration vin odometer engine_hours".split()
)
STATEMENTS = frozenset("complaint cause correction finding advisory loose_end hazard".split())
IDENTITIES = frozenset("job_number registration vin odometer engine_hours".split())
WORK = frozenset(("part", "step", "correction", "labour"))
#: Sets of this folder that may be named without their path.
SETS = (
    "dev",
    "second",
    "third",
    "fourth",
    "fifth",
    "sixth",
    "seventh",
    "eighth",
    "ninth",
    "tenth",
    "eleventh",
    "twelfth",
    "thirteenth",
    "fourteenth",
    "fifteenth",
    "sixteenth",
    "seventeenth",
    "eighteenth",
    "nineteenth",
    "aside",
)
_TIME = {"h": 3600, "min": 60, "s": 1, "ms": 0.001}


class Outcome(NamedTuple):
    """How a fact that came out was judged: on which line it was said, what is wrong, whether it is listed."""

    fact: dict[str, Any]
    line: int | None
    wrong: tuple[str, ...]
    listed: bool


@dataclass
class Result:
    """Counts over sessions; `wrong_sure` and the rest hold a line a case, for reading."""

    required: int = 0
    recalled: int = 0
    given: int = 0
    sure: int = 0
    check: int = 0
    wrong_sure: list[str] = field(default_factory=list)
    wrong_check: list[str] = field(default_factory=list)
    missed: list[str] = field(default_factory=list)
    incomplete: list[str] = field(default_factory=list)
    checks: list[str] = field(default_factory=list)
    reliability: list[tuple[float, bool]] = field(default_factory=list)
    outcomes: list[Outcome] = field(default_factory=list)


def _number(text: Any) -> Decimal | None:
    try:
        return Decimal(str(text))
    except ArithmeticError:
        return None


def _alnum(text: Any) -> str:
    return re.sub(r"[^A-Z0-9.]", "", str(text).upper())


def _close(a: Any, b: Any, places: str = "0.01") -> bool:
    x, y = _number(a), _number(b)
    return x is not None and y is not None and abs(x - y) <= Decimal(places)


def _same_value(got: dict[str, Any], want: dict[str, Any]) -> bool:
    u, v = got.get("unit"), want.get("unit")
    a, b = _number(got["value"]), _number(want["value"])
    if a is None or b is None:
        return False
    if u in _TIME and v in _TIME:
        x, y = float(a) * _TIME[u], float(b) * _TIME[v]
        return abs(x - y) <= 0.011 * max(abs(x), abs(y))
    return a == b and (v is None or u == v)


#: a recogniser may write either; what is compared is the second
_SPELLINGS = {"tyre": "tire", "kerb": "curb", "drier": "dryer", "calliper": "caliper", "grey": "gray"}
#: so many letters together are hardly found by chance where two words meet
_LONG = 8


@lru_cache(maxsize=4096)
def _pattern(alternative: str) -> re.Pattern[str]:
    """`alternative` written in one word, in two or with a hyphen: "air bag" is met by "airbag"."""
    return re.compile(
        "[ -]?".join(re.escape(piece) for piece in re.split("[ -]", _one_spelling(alternative)))
    )


def _one_spelling(text: str) -> str:
    for form, chosen in _SPELLINGS.items():
        text = text.replace(form, chosen)
    return text


def _has(text: Any, words: list[str]) -> bool:
    low = _one_spelling(str(text or "").casefold())
    close = re.sub("[ -]", "", low)
    return all(
        any(_pattern(alt).search(low) or (len(alt) >= _LONG and alt in close) for alt in entry.split("|"))
        for entry in words
    )


def _one_of(value: Any, wanted: Any) -> bool:
    return value in wanted if isinstance(wanted, list) else value == wanted


_TEXT_KEY = {
    "measurement": "subject",
    "part": "name",
    "step": "object",
    "labour": "operation",
    "clock": "reason",
    "photo_cue": "subject",
}


def identity(got: dict[str, Any], want: dict[str, Any]) -> bool:
    kind = want["kind"]
    if got["kind"] != kind and got["kind"] not in want.get("also_kinds", []):
        return False
    if got["kind"] != kind and (kind in _TEXT_KEY or got["kind"] in _TEXT_KEY):
        told = " ".join(str(got.get(k) or "") for k in ("text", "name", "subject", "object"))
        return _has(told, want.get("text_has", []))
    if kind == "fault_code":
        return "code" not in want or got["code"].casefold() == want["code"].casefold()
    if kind == "measurement":
        return "value" not in want or _same_value(got, want)
    if kind in ("part", "step"):
        if "action" in want and not _one_of(got["action"], want["action"]):
            return False
        return _has(got[_TEXT_KEY[kind]], want.get("text_has", []))
    if kind in STATEMENTS:
        return _has(got.get("text"), want.get("text_has", []))
    if kind == "labour":
        return "hours" not in want or _close(got["hours"], want["hours"])
    if kind == "clock":
        return "action" not in want or _one_of(got["action"], want["action"])
    if kind in IDENTITIES:
        return "value" not in want or _alnum(got["value"]) == _alnum(want["value"])
    return True


def details(got: dict[str, Any], want: dict[str, Any]) -> tuple[list[str], list[str]]:
    """(absent, different) details."""
    absent: list[str] = []
    different: list[str] = []

    def compare(key: str, equal: bool, present: bool = True) -> None:
        if not present:
            absent.append(key)
        elif not equal:
            different.append(key)

    kind = want["kind"]
    if got["kind"] != kind:
        return absent, different
    if "state" in want:
        compare("state", _one_of(got.get("state"), want["state"]), got.get("state") is not None)
    if "count" in want:
        compare("count", got.get("count") == int(want["count"]), got.get("count") is not None)
    if "ecu_has" in want and not _has(got.get("ecu"), want["ecu_has"]):
        absent.append("ecu")
    if "quantity" in want:
        if kind == "measurement":
            compare("quantity", got["quantity"] == want["quantity"])
        elif not (got.get("quantity") is None and _number(want["quantity"]) == 1):
            compare(
                "quantity", _close(got.get("quantity"), want["quantity"]), got.get("quantity") is not None
            )
    if kind == "measurement":
        limit, wanted = got.get("limit"), want.get("limit")
        if wanted:
            if not limit:
                if not want.get("limit_may"):
                    absent.append("limit")
            else:
                for key in ("min", "max", "nominal"):
                    if key in wanted:
                        compare(f"limit.{key}", _close(limit.get(key), wanted[key], "0.0001"), key in limit)
                    elif key in limit and not (key == "nominal" and len(wanted) == 2):
                        different.append(f"limit.{key}")
            if limit and "verdict" in want and ("min" in wanted or "max" in wanted):
                compare("verdict", got.get("verdict") == want["verdict"])
        elif limit and limit.get("source") == "said" and not want.get("limit_may"):
            different.append("limit not said")
    for key in ("number", "serial"):
        if key in want:
            same = _alnum(got.get(key)).replace(".", "") == _alnum(want[key]).replace(".", "")
            compare(key, same, got.get(key) is not None)
    if kind in ("part", "step", *IDENTITIES) and "unit" in want:
        compare("unit", got.get("unit") == want["unit"], got.get("unit") is not None)
    if kind in ("measurement", "labour", "clock", "photo_cue") and not _has(
        got.get(_TEXT_KEY[kind]), want.get("text_has", [])
    ):
        absent.append("text")
    return absent, different


def _line_of(got: dict[str, Any], lines: list[str]) -> int | None:
    start = " ".join(got["quote"].split())[:40].casefold()
    for at, line in enumerate(lines):
        if start and start in " ".join(line.split()).casefold():
            return at
    for at in range(len(lines)):
        joined = " ".join(" ".join(lines[at:]).split()).casefold()
        if start and start in joined and joined.index(start) < len(lines[at]):
            return at
    return None


def score_session(
    session: dict[str, Any],
    facts: list[dict[str, Any]],
    result: Result,
    line_of: Callable[[dict[str, Any]], int | None] | None = None,
) -> None:
    """Adds the session's counts to `result`. `line_of` tells the line of a fact; None looks for its quote."""
    lines = session["lines"]
    wanted = session["facts"]
    standing = [f for f in facts if f["status"] != "rejected"]
    where = [line_of(f) if line_of else _line_of(f, lines) for f in standing]
    pairs = []
    for g, got in enumerate(standing):
        for w, want in enumerate(wanted):
            if identity(got, want):
                absent, different = details(got, want)
                off = abs((where[g] if where[g] is not None else 99) - want["line"])
                aside = (want.get("status") == "rejected", len(different), len(absent))
                rank = (*aside, bool(want.get("optional")), off)
                pairs.append((rank, g, w, absent, different))
    pairs.sort(key=lambda p: p[0])
    matched: dict[int, tuple[int, list[str], list[str]]] = {}
    used: set[int] = set()
    for _, g, w, absent, different in pairs:
        if g in matched or w in used:
            continue
        matched[g] = (w, absent, different)
        used.add(w)
    recalled_of: set[int] = set()
    name = session["id"]
    for g, got in enumerate(standing):
        result.given += 1
        result.sure += got["status"] == "sure"
        result.check += got["status"] == "check"
        if got["status"] == "check":
            result.checks.append(f"{name}: {_short(got)}")
        wrong: list[str] = []
        any_identity = [p for p in pairs if p[1] == g]
        match = matched.get(g)
        if match is None and any_identity:
            best = any_identity[0]
            match = (best[2], best[3], best[4])
            duplicate = True
        else:
            duplicate = False
        if match is not None:
            want = wanted[match[0]]
            if match[2] and got["kind"] == "fault_code" and any(p[3:] == ([], []) for p in any_identity):
                # one fact may satisfy all listed ones of a code: that this was told it meets already
                match, duplicate = (match[0], match[1], []), True
            if match[2]:
                wrong.append(f"{'; '.join(match[2])} differs from {_wanted(want)}")
            if want.get("status") == "rejected":
                wrong.append("was taken back")
            if want.get("must_check") and got["status"] == "sure":
                wrong.append("must be checked")
            if not match[1] and not match[2] and not duplicate:
                recalled_of.add(match[0])
        elif got["kind"] in CLOSED:
            wrong.append(f"not listed (line {where[g]})")
        else:
            for no in session.get("no_facts", []):
                kinds = {"*": got["kind"] != "photo_cue", "work": got["kind"] in WORK}.get(
                    no["kind"], no["kind"] == got["kind"]
                )
                if kinds and where[g] == no["line"] and identity(got, {**no, "kind": got["kind"]}):
                    wrong.append(f"forbidden on line {no['line']}")
                    break
        if got["audience"] == "all":
            if where[g] in session.get("private_lines", []):
                wrong.append("private line")
            told = " ".join(
                str(got.get(k) or "") for k in ("text", "name", "subject", "object", "operation", "reason")
            )
            bad = [
                w
                for w in session.get("private_words", [])
                if re.search(rf"\b{re.escape(w)}\b", told.casefold())
            ]
            if bad:
                wrong.append(f"private word {bad}")
        result.reliability.append((got["confidence"], not wrong))
        result.outcomes.append(Outcome(got, where[g], tuple(wrong), match is not None))
        if wrong:
            line = f"{name}: {_short(got)} -- {', '.join(wrong)}"
            (result.wrong_sure if got["status"] == "sure" else result.wrong_check).append(line)
    for w, want in enumerate(wanted):
        if want.get("optional") or want.get("status") == "rejected":
            continue
        result.required += 1
        if w in recalled_of or _covered(want, standing):
            result.recalled += 1
            continue
        near = [f"{_short(standing[p[1]])} lacks {p[3]} differs {p[4]}" for p in pairs if p[2] == w][:1]
        row = f"{name}:{want['line']} {_wanted(want)}  | {lines[want['line']]!r}" + (
            f"  | {near[0]}" if near else ""
        )
        (result.incomplete if near else result.missed).append(row)


def _covered(want: dict[str, Any], standing: list[dict[str, Any]]) -> bool:
    """One fact that came out may satisfy all listed facts of a code."""
    if want["kind"] != "fault_code":
        return False
    return any(identity(g, want) and details(g, want) == ([], []) for g in standing)


def _short(got: dict[str, Any]) -> str:
    keys = {
        k: v
        for k, v in got.items()
        if k not in ("id", "quote", "confidence", "audience", "fmi_text", "spn", "fmi", "system")
        and v not in (None, [], ())
    }
    return f"{keys.pop('kind')} {keys} <<{got['quote'][:70]}>>"


def _wanted(want: dict[str, Any]) -> str:
    return f"{want['kind']} " + str(
        {k: v for k, v in want.items() if k not in ("kind", "line", "may_check", "optional")}
    )


def wilson(hits: int, total: int, z: float = 1.96) -> tuple[float, float]:
    """95 % interval of a rate: E. B. Wilson, JASA 22 (1927) 209-212."""
    if not total:
        return 0.0, 1.0
    p = hits / total
    mid = (p + z * z / (2 * total)) / (1 + z * z / total)
    half = z / (1 + z * z / total) * math.sqrt(p * (1 - p) / total + z * z / (4 * total * total))
    return max(0.0, mid - half), min(1.0, mid + half)


def plain(facts: tuple[Fact, ...]) -> list[dict[str, Any]]:
    return [record_json.to_json(f) for f in facts]


def sessions(name: str) -> list[dict[str, Any]]:
    path = HERE / f"{name}.jsonl" if name in SETS else Path(name)
    return [json.loads(line) for line in path.read_text(encoding="utf-8").splitlines() if line.strip()]


def score(name: str) -> Result:
    result = Result()
    for session in sessions(name):
        score_session(session, plain(read_text("\n".join(session["lines"]))), result)
    return result


def table(result: Result) -> str:
    rows = [
        ("recall", result.recalled, result.required),
        ("wrong and sure", len(result.wrong_sure), result.sure),
        ("wrong, to check", len(result.wrong_check), result.check),
        ("to check", result.check, result.given),
    ]
    out = [f"{'':16s} {'n':>5s} {'of':>5s} {'rate':>8s}   95 % interval"]
    for label, hits, total in rows:
        low, high = wilson(hits, total)
        out.append(
            f"{label:16s} {hits:5d} {total:5d} {100 * hits / max(total, 1):7.2f}%"
            f"   {100 * low:.2f}–{100 * high:.2f} %"
        )
    return "\n".join(out)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("set", nargs="?", default="dev")
    parser.add_argument("-v", action="store_true", help="list every case")
    options = parser.parse_args()
    result = score(options.set)
    print(table(result))
    if options.v:
        for title in ("wrong_sure", "wrong_check", "missed", "incomplete", "checks"):
            rows = getattr(result, title)
            print(f"\n== {title} ({len(rows)})")
            print("\n".join(rows))
    sys.exit(0)


if __name__ == "__main__":
    main()
