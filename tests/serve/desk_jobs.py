"""A job on the desk: heard, with a photo, and what a clerk does with it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from served import Paired, Served, jpeg, served, wav

from jobnotes.hearing.recogniser import Samples
from jobnotes.record import RecogniserStamp, Word

#: what is heard, by the loudness of a note in tenths of full scale, and how surely
SAID = (
    ("battery at twelve point six volts", 0.95),
    ("fault code s p n one zero two f m i eighteen active", 0.95),
    ("replaced the lift pump part number four five six seven eight nine one", 0.95),
    ("the lift pump seal was leaking", 0.95),
    ("resistance at the sensor plug sixty point two ohms", 0.3),
    ("cause the lift pump seal was worn", 0.95),
    ("battery at twelve point eight volts", 0.95),
)


class DeskRecogniser:
    """Hears what SAID has for the loudness of the samples, a word every 0.4 seconds."""

    stamp = RecogniserStamp("fake", "desk", "de" * 32)

    def hear(self, samples: Samples, *, progress: Callable[[float], None] | None = None) -> tuple[Word, ...]:
        text, confidence = SAID[round(float(np.abs(samples).max()) * 10) % len(SAID)]
        return tuple(Word(w, 0.4 * at, 0.4 * at + 0.3, confidence) for at, w in enumerate(text.split()))


def make_desk_recogniser() -> DeskRecogniser:
    return DeskRecogniser()


@dataclass
class Desk:
    """A clerk's browser at one job that was heard."""

    web: Served
    clerk: Paired
    job: str

    @property
    def api(self) -> str:
        return f"/api/jobs/{self.job}"

    def state(self) -> dict[str, Any]:
        answer = self.clerk.get(f"{self.api}/state")
        assert answer.status_code == 200, answer.text
        return dict(answer.json())

    def fact(self, kind: str, at: int = 0) -> dict[str, Any]:
        """The fact of that kind, as the page shows it now."""
        return [f for f in sorted(self.state()["facts"], key=lambda f: f.get("at", "")) if f["kind"] == kind][
            at
        ]

    def with_id(self, fact_id: str) -> dict[str, Any]:
        return next(f for f in self.state()["facts"] if f["id"] == fact_id)

    def ask(self, action: str, fact: dict[str, Any] | None = None, **more: Any) -> Any:
        about = {"fact": fact["id"], "seen": fact["seen"]} if fact else {}
        return self.clerk.post(f"{self.api}/decisions", {"action": action, **about, **more})

    def decide(self, action: str, fact: dict[str, Any] | None = None, **more: Any) -> dict[str, Any]:
        """The state after a decision that is taken."""
        answer = self.ask(action, fact, **more)
        assert answer.status_code == 200, answer.text
        return dict(answer.json()["state"])

    def history(self) -> list[dict[str, Any]]:
        return list(self.clerk.get(f"{self.api}/decisions").json())

    def undo(self, at: int = 0) -> Any:
        """Take back the deed at that place of the history, the latest first."""
        return self.ask("undo", decision=self.history()[at]["decision"])


def started(minute: int, second: int = 0) -> str:
    return f"2031-04-07T08:{minute:02d}:{second:02d}+01:00"


def send_note(desk: Desk, minute: int, level: int, seed: int = 0) -> None:
    """Another note of the job, heard at once."""
    technician = desk.web.pair("technician", "another phone")
    desk.clerk.post(f"{desk.api}/devices", {"device": technician.id})
    answer = technician.send(desk.job, wav(level, seed=seed), started_at=started(minute))
    assert answer.status_code == 200, answer.text
    desk.web.hear()


def desk_with_job(folder: Path, *levels: int, photos: int = 1, **settings: Any) -> Desk:
    """Notes of those loudnesses (see SAID), a minute apart, and photos soon after the first."""
    web = served(folder / "library", make_recogniser=make_desk_recogniser, **settings)
    technician, clerk = web.pair("technician", "phone"), web.pair("clerk", "Office desk")
    job = technician.open_job(number="4417")
    for at, level in enumerate(levels or (0, 1, 2, 3, 4)):
        assert technician.send(job, wav(level, seed=at), started_at=started(15 + at)).status_code == 200
    for at in range(photos):
        colour = f"#{at:02x}8040"
        assert technician.send(job, jpeg(colour), started_at=started(15, 5 + at)).status_code == 200
    web.hear()
    return Desk(web, clerk, job)
