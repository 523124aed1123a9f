"""jobnotes as a person starts it: a process of its own, in a folder of its own, with a home of its own."""

from __future__ import annotations

import contextlib
import io
import json
import os
import subprocess
import sys
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from jobnotes.commands import main

HERE = Path(__file__).parent
ROOT = HERE.parents[1]
CLIPS = HERE.parent / "hearing" / "clips"
SAMPLE = ROOT / "sample_media"

PROGRESS = ("Taking in …", "Listening …", "Looking at photos …", "Writing …")


@dataclass(frozen=True)
class Ended:
    """How a command ended. `events`: what `watched.py` wrote down, `world`: where it ran."""

    status: int
    out: str
    err: str
    world: World
    events: tuple[list[str], ...] = ()

    @property
    def json(self) -> Any:
        return json.loads(self.out)

    @property
    def messages(self) -> list[str]:
        """The lines on standard error that are no progress."""
        return [line for line in self.err.splitlines() if not line.startswith(PROGRESS)]

    @property
    def steps(self) -> list[str]:
        """The lines that open a step of the work; one that takes minutes says more than that."""
        return [line for line in self.err.splitlines() if not line.endswith("%")]

    @property
    def heard(self) -> bool:
        return "Listening …" in self.err.splitlines()


@dataclass(frozen=True)
class World:
    """A folder to stand in, a home and a place for temporary files, all empty at first."""

    root: Path
    cwd: Path = field(init=False)
    home: Path = field(init=False)
    temporary: Path = field(init=False)

    def __post_init__(self) -> None:
        for name in ("cwd", "home", "temporary"):
            object.__setattr__(self, name, self.root / name)
            (self.root / name).mkdir(parents=True, exist_ok=True)

    def environment(self, **more: str) -> dict[str, str]:
        kept = {k: v for k, v in os.environ.items() if not k.startswith(("JOBNOTES", "XDG_", "PYTHON"))}
        return {
            **kept,
            "HOME": str(self.home),
            "TMPDIR": str(self.temporary),
            "TZ": "Europe/Dublin",
            # the checkout may not be installed where it is run from, and bytecode is no output of the tool
            "PYTHONPATH": str(ROOT),
            "PYTHONDONTWRITEBYTECODE": "1",
            "PYTHONIOENCODING": "utf-8",
            "OMP_NUM_THREADS": "2",
            **more,
        }

    def jobnotes(
        self, *args: str | Path, stdin: bytes = b"", watch: bool = False, **environment: str
    ) -> Ended:
        """Run it to its end."""
        log = self.root / "events.jsonl"
        log.unlink(missing_ok=True)
        start = [str(HERE / "watched.py"), str(log)] if watch else ["-m", "jobnotes"]
        done = subprocess.run(
            [sys.executable, *start, *_quick(args)],
            input=stdin,
            capture_output=True,
            cwd=self.cwd,
            env=self.environment(**environment),
            timeout=600,
            check=False,
        )
        events = log.read_text("utf-8").splitlines() if watch else []
        return Ended(
            done.returncode,
            done.stdout.decode("utf-8"),
            done.stderr.decode("utf-8"),
            self,
            tuple(json.loads(line) for line in events),
        )

    def here(self, *args: str | Path, stdin: bytes = b"") -> Ended:
        """Run it in this process, which is quicker: the same program but for its start."""
        streams = [io.TextIOWrapper(io.BytesIO(raw), "utf-8") for raw in (stdin, b"", b"")]
        before = sys.stdin, sys.stdout, sys.stderr
        status: object = None
        with contextlib.chdir(self.cwd):
            sys.stdin, sys.stdout, sys.stderr = streams
            try:
                main(_quick(args), prog_name="jobnotes")
            except SystemExit as end:
                status = end.code
            finally:
                sys.stdin, sys.stdout, sys.stderr = before
        for stream in streams[1:]:
            stream.flush()
        out, err = (stream.buffer.getvalue().decode("utf-8") for stream in streams[1:])  # type: ignore[attr-defined]
        return Ended(status if isinstance(status, int) else 0, out, err, self)

    def start(self, *args: str | Path) -> subprocess.Popen[str]:
        """Start it, to be interrupted."""
        return subprocess.Popen(
            [sys.executable, "-m", "jobnotes", *_quick(args)],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            encoding="utf-8",
            cwd=self.cwd,
            env=self.environment(),
        )


def _quick(args: Iterable[str | Path]) -> list[str]:
    """The arguments, with photos left unread unless a test says what is to be done with them."""
    given = [str(arg) for arg in args]
    reads = given[:1] in (["run"], ["demo"]) and not {"--read-photos", "--no-read-photos"} & set(given)
    return [given[0], "--no-read-photos", *given[1:]] if reads else given


def record_in(out: Path) -> Any:
    return json.loads((out / "record.json").read_text("utf-8"))


def files_in(folder: Path) -> dict[str, tuple[bytes, int]]:
    """Bytes and modification time in nanoseconds of every file below `folder`, by its path there."""
    return {
        path.relative_to(folder).as_posix(): (path.read_bytes(), path.stat().st_mtime_ns)
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


@dataclass(frozen=True)
class Demo:
    """`jobnotes demo`, watched. `before` and `after`: the sample job's files on both sides of the run."""

    ended: Ended
    out: Path
    record: Any
    before: dict[str, tuple[bytes, int]]
    after: dict[str, tuple[bytes, int]]
