"""How quick the pages are while twenty phones send at once, and whether all that they send arrives.

    python tests/bench/serve_load.py [SECONDS]

Starts `jobnotes serve` in a process of its own. Each phone opens a job and sends notes of 20 seconds, one
after the other, in pieces of 64 KiB; meanwhile the desk asks for its pages in turn, and jobs are heard.
Prints the answers' times, and exits 1 where a page's median is 200 ms or more, or a digest differs.
"""

from __future__ import annotations

import hashlib
import statistics
import sys
import tempfile
import threading
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "serve"))

from served import Paired, Running, paired, start, wav

PHONES = 20
PIECE = 64 * 1024
MOST_MS = 200.0
PAGES = ("/desk", "/api/jobs", "/desk/{job}", "/api/jobs/{job}/state", "/capture")


class Load:
    """What was sent (by job, the digests) and how long each answer took, in seconds."""

    def __init__(self, running: Running) -> None:
        self.running = running
        self.ends = threading.Event()
        self.sent: dict[str, set[str]] = {}
        self.times: dict[str, list[float]] = {}
        self.bytes = 0
        self.failed: list[str] = []
        self.lock = threading.Lock()

    def timed(self, what: str, seconds: float) -> None:
        with self.lock:
            self.times.setdefault(what, []).append(seconds)

    def phone(self, phone: Paired, number: int) -> None:
        try:
            job = phone.open_job(number=f"L{number}")
            self.sent[job] = set()
            turn = 0
            while not self.ends.is_set():
                turn += 1
                content = wav(1 + number % 4, seconds=20.0, seed=1000 * number + turn)
                self._send(phone, job, f"upload-{turn:06}", content)
        except Exception as error:
            self.failed.append(f"phone {number}: {type(error).__name__}: {error}")

    def _send(self, phone: Paired, job: str, upload: str, content: bytes) -> None:
        for offset in range(0, len(content), PIECE):
            began = time.perf_counter()
            answer = phone.put(job, upload, offset, content[offset : offset + PIECE])
            self.timed("a piece", time.perf_counter() - began)
            if answer.status_code != 204:
                raise AssertionError(answer.text)
        began = time.perf_counter()
        answer = phone.complete(job, upload, content)
        self.timed("completion", time.perf_counter() - began)
        if answer.status_code != 200:
            raise AssertionError(answer.text)
        with self.lock:
            self.sent[job].add(answer.json()["sha256"])
            self.bytes += len(content)

    def desk(self, clerk: Paired) -> None:
        turn = 0
        while not self.ends.is_set():
            jobs = list(self.sent)
            for page in PAGES:
                turn += 1
                path = page.replace("{job}", jobs[turn % len(jobs)]) if jobs else "/desk"
                began = time.perf_counter()
                answer = clerk.get(path)
                self.timed(page, time.perf_counter() - began)
                if answer.status_code >= 400:
                    self.failed.append(f"{path}: {answer.status_code} {answer.text[:200]}")
            time.sleep(0.05)

    def lost(self) -> int:
        """How many of the files that were confirmed aren't there to the byte."""
        count = 0
        for job, digests in self.sent.items():
            given = self.running.library / "serve" / "jobs" / job / "given"
            there = {hashlib.sha256(path.read_bytes()).hexdigest() for path in given.glob("*.wav")}
            count += len(digests - there)
        return count


def _phone(running: Running, clerk: Paired, number: int) -> Paired:
    code = clerk.post("/api/pairing", {"role": "technician"}).json()["code"]
    return paired(running.browser(), code, f"phone {number}")


def main() -> None:
    seconds = float(sys.argv[1]) if len(sys.argv) > 1 else 60.0
    with tempfile.TemporaryDirectory() as name:
        running = start(Path(name) / "library")
        load = Load(running)
        clerk = paired(running.browser(), running.codes["clerk"], "desk")
        phones = [_phone(running, clerk, n) for n in range(PHONES)]
        threads = [threading.Thread(target=load.phone, args=(p, n)) for n, p in enumerate(phones)]
        threads.append(threading.Thread(target=load.desk, args=(clerk,)))
        began = time.perf_counter()
        for thread in threads:
            thread.start()
        time.sleep(seconds)
        load.ends.set()
        for thread in threads:
            thread.join()
        took = time.perf_counter() - began
        notes = sum(map(len, load.sent.values()))
        lost = load.lost()
        waiting = sum(job["waiting"] for job in clerk.get("/api/jobs").json())
        running.stop()
    print(f"{PHONES} phones, {took:.0f} s: {notes} notes, {load.bytes / 2**20 / took:.1f} MiB/s, {lost} lost")
    print(f"{notes - waiting} of the notes were heard meanwhile")
    slow = False
    for what, times in load.times.items():
        middle = 1000 * statistics.median(times)
        worst = 1000 * statistics.quantiles(times, n=20)[-1] if len(times) > 1 else middle
        slow |= what in PAGES and middle >= MOST_MS
        print(f"{what:24} {len(times):6} times   median {middle:6.0f} ms   19 of 20 within {worst:6.0f} ms")
    for line in load.failed[:10]:
        print(line)
    sys.exit(1 if slow or lost or load.failed else 0)


if __name__ == "__main__":
    main()
