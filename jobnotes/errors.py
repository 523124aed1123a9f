"""What can go wrong, said in one line: the thing, the reason, the remedy."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path


class JobnotesError(Exception):
    """Nothing could be done (exit status 2).

    `subject` is the file, folder or setting it is about, `reason` what is the matter with it and
    `remedy` what the person can do. The text is always one line.
    """

    def __init__(self, subject: str, reason: str, remedy: str) -> None:
        self.subject, self.reason, self.remedy = (one_line(t) for t in (subject, reason, remedy))
        super().__init__(f"{self.subject}: {self.reason}; {self.remedy}")

    def __reduce__(self) -> tuple[type[JobnotesError], tuple[str, str, str]]:
        return type(self), (self.subject, self.reason, self.remedy)  # it may come from another process


class UnusableInputError(JobnotesError):
    """One thing that was given can't be used; the others still can (exit status 1)."""


@dataclass(frozen=True, slots=True)
class Problem:
    """One entry of the record's `problems`: a file that could not be used, or only in part."""

    file: str
    message: str

    @classmethod
    def of(cls, error: JobnotesError) -> Problem:
        return cls(error.subject, f"{error.reason}; {error.remedy}")


class NothingUsableError(JobnotesError):
    """No recording of the folder can be used; `problems` says what is wrong with each."""

    def __init__(self, folder: Path, problems: tuple[Problem, ...]) -> None:
        super().__init__(str(folder), "holds no recording that can be used", "see what is said of each file")
        self.problems = problems


def one_line(text: str) -> str:
    """`text` without line breaks or control characters, so that a file name can't forge a message."""
    return "".join(c if c.isprintable() else " " for c in " ".join(text.split()))
