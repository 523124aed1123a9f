"""What the commands say to a person: progress on standard error, messages, times."""

from __future__ import annotations

import contextlib
import sys
import time
from collections.abc import Callable, Iterable, Iterator
from typing import Any, NoReturn

import click

from jobnotes.errors import JobnotesError, NothingUsableError, Problem, one_line

_LINE_EVERY_S = 60.0


class Bar:
    """A progress bar with the time that is left, on standard error; plain lines where that is no terminal.

    There each step is a line, and a long one says once a minute how far it is. `clock` is in seconds.
    """

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._bar: Any = None
        self._clock = clock

    def step(self, label: str, total: float) -> Callable[[float], None]:
        self.done()
        if not sys.stderr.isatty():
            click.echo(f"{label} …", err=True)
            return self._lines(label, total)
        self._bar = click.progressbar(length=1000, label=f"{label:10s}", file=sys.stderr, show_eta=True)
        self._bar.__enter__()
        shown = 0

        def tick(done: float) -> None:
            nonlocal shown
            now = round(1000 * min(done / total, 1.0)) if total else 1000
            self._bar.update(now - shown)
            shown = now

        return tick

    def _lines(self, label: str, total: float) -> Callable[[float], None]:
        last = self._clock()

        def tick(done: float) -> None:
            nonlocal last
            if total and done < total and self._clock() - last >= _LINE_EVERY_S:
                last = self._clock()
                click.echo(f"{label} … {done / total:.0%}", err=True)

        return tick

    def done(self) -> None:
        if self._bar is not None:
            self._bar.__exit__(None, None, None)
            self._bar = None


@contextlib.contextmanager
def shown_progress() -> Iterator[Bar]:
    """A bar that is gone when the work ends, however it does: before anything else is said."""
    bar = Bar()
    try:
        yield bar
    finally:
        bar.done()


def tell_problems(problems: Iterable[Problem]) -> None:
    """A line for each, on standard error."""
    for problem in problems:
        click.echo(one_line(f"{problem.file}: {problem.message}"), err=True)


def problems_as_json(problems: Iterable[Problem]) -> list[dict[str, str]]:
    """What `--json` says of them, in the words of record.json."""
    return [{"file": p.file, "message": p.message} for p in problems]


def fail(error: JobnotesError) -> NoReturn:
    """Say why nothing could be done, and end with status 2."""
    if isinstance(error, NothingUsableError):
        tell_problems(error.problems)
    click.echo(f"jobnotes: {error}", err=True)
    sys.exit(2)


@contextlib.contextmanager
def plain_errors() -> Iterator[None]:
    """Errors as one line, an interruption as a hint that the work can go on."""
    try:
        yield
    except JobnotesError as error:
        fail(error)
    except KeyboardInterrupt:
        click.echo(
            "\njobnotes: stopped; what was heard is kept, the same command goes on from there", err=True
        )
        sys.exit(130)
    except MemoryError:
        fail(JobnotesError("memory", "ran out", "close other programs, or split the recordings"))
