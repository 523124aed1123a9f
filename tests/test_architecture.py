"""The flow is one way: no module imports one that comes later in it. DEVELOPERS.md describes the stages."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parents[1] / "jobnotes"

#: what the edges put together
_WHOLE_FLOW = {
    "workshop", "intake", "hearing", "seeing", "reading", "linking", "office", "checking", "documents",
    "library", "progress",
}  # fmt: skip

#: what each part may import besides itself and what every part may; everything else is refused
MAY_IMPORT: dict[str, set[str]] = {
    # what every stage hands on
    "errors": set(),
    "durable": set(),
    "record": {"errors"},
    "record_json": {"errors", "durable", "record"},
    "progress": set(),
    "processes": set(),
    "chronology": {"record"},
    # the stages, in the order of the flow
    "intake": set(),
    "hearing": set(),
    "seeing": {"intake", "processes"},
    "reading": set(),
    "linking": {"reading"},
    "past": set(),
    "office": set(),
    "money": {"chronology", "office"},
    "checking": {"chronology", "reading", "linking", "past", "office", "money"},
    "documents": {"chronology", "durable", "reading", "linking", "office", "money", "checking"},
    # keeping: stands beside the flow; what it stores is the record, whoever made it
    "library": {"durable", "past", "progress"},
    # the edges, which put it all together
    "workshop": {"reading", "office", "checking", "documents"},
    "stating": {"office", "library", "workshop"},
    "pipeline": _WHOLE_FLOW | {"durable", "stating"},
    "serve": _WHOLE_FLOW | {"durable", "processes", "stating", "pipeline"},
    "commands": _WHOLE_FLOW - {"linking", "progress"} | {"pipeline", "serve"},
    "__main__": {"commands"},
    "__init__": set(),
}
#: the parts of the reading stage, each of which may import those before it; `read` puts them together
READING_ORDER = (
    "utterances", "tokens", "trade", "speech", "private", "codes", "work", "readings", "narrative", "job",
    "doubt", "amendments", "same_again", "facts", "photos", "read",
)  # fmt: skip
EVERYWHERE = {"errors", "record", "record_json"}
#: touch files, the database, the clock or the network; what lies between them is pure
PURE = ("chronology", "reading", "linking", "money", "checking")
#: trade data is read there, from files that ship and the workshop's own; so is all that the office states
READS_DATA = {"reading/trade/files.py", "checking/policy.py", "checking/pairs.py"}
EFFECTS = {
    "sqlite3", "sqlite_utils", "socket", "urllib", "http", "requests", "subprocess", "shutil", "tempfile",
    "av", "pydub", "faster_whisper", "vosk", "docx", "PIL", "click", "random", "time", "os", "sys",
}  # fmt: skip


def part_of(path: Path) -> str:
    """The part that a module belongs to: its package under jobnotes, or its own name."""
    within = path.relative_to(PACKAGE).parts
    return within[0].removesuffix(".py")


def imported(path: Path) -> set[str]:
    """The full names of all modules that a module imports, anywhere in it."""
    names: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path} imports relatively"
            module = node.module or ""
            names |= {module, *(f"{module}.{alias.name}" for alias in node.names)}
    return names


def parts_imported(path: Path) -> set[str]:
    known = set(MAY_IMPORT) | {part_of(p) for p in PACKAGE.rglob("*.py")}
    found = {name.split(".")[1] for name in imported(path) if name.startswith("jobnotes.")}
    return found & known


MODULES = sorted(PACKAGE.rglob("*.py"))


def test_every_part_has_its_place_in_the_flow() -> None:
    assert {part_of(path) for path in MODULES} <= set(MAY_IMPORT)


def test_the_order_itself_goes_one_way() -> None:
    """Each part may import only parts that come before it in the table."""
    order = list(MAY_IMPORT)
    for part, allowed in MAY_IMPORT.items():
        assert all(order.index(other) < order.index(part) for other in allowed), part


@pytest.mark.parametrize("path", MODULES, ids=lambda p: p.relative_to(PACKAGE).as_posix())
def test_no_module_imports_a_later_stage(path: Path) -> None:
    part = part_of(path)
    shared = EVERYWHERE if part not in EVERYWHERE | {"progress", "__init__"} else set()
    assert parts_imported(path) - {part} - MAY_IMPORT[part] - shared == set()


@pytest.mark.parametrize("path", sorted((PACKAGE / "reading").rglob("*.py")), ids=lambda p: p.name)
def test_no_part_of_the_reading_stage_imports_a_later_one(path: Path) -> None:
    own = path.relative_to(PACKAGE / "reading").parts[0].removesuffix(".py")
    if own == "__init__":
        return
    found = {name.split(".")[2] for name in imported(path) if name.startswith("jobnotes.reading.")}
    assert found <= set(READING_ORDER[: READING_ORDER.index(own) + 1])


@pytest.mark.parametrize(
    "path",
    [p for p in MODULES if part_of(p) in PURE],
    ids=lambda p: p.relative_to(PACKAGE).as_posix(),
)
def test_what_lies_between_the_edges_is_pure(path: Path) -> None:
    # the parts and escapes of a URI are text; what opens one is not
    roots = {name.split(".")[0] for name in imported(path) if not name.startswith("urllib.parse")}
    assert roots & EFFECTS == set()
    if path.relative_to(PACKAGE).as_posix() not in READS_DATA:
        assert "pathlib" not in roots


def test_a_breach_would_be_seen(tmp_path: Path) -> None:
    module = tmp_path / "breach.py"
    module.write_text(
        "def f():\n    from jobnotes.documents import claim\n    import jobnotes.library.media\n"
    )
    assert parts_imported(module) == {"documents", "library"}
