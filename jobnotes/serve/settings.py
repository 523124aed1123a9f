"""What one run of the server is set to, and where its things lie in the library's folder."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import tzinfo
from pathlib import Path
from zoneinfo import ZoneInfo

from jobnotes import workshop as workshops
from jobnotes.hearing.choose import recogniser
from jobnotes.hearing.recogniser import Recogniser
from jobnotes.seeing.choose import photo_reader
from jobnotes.seeing.reader import PhotoReader
from jobnotes.workshop import Workshop

MIB = 1024 * 1024


@dataclass(frozen=True, slots=True)
class Limits:
    """What is refused rather than taken. Sizes in bytes, times in seconds."""

    piece: int = 4 * MIB
    recording: int = 512 * MIB
    photo: int = 64 * MIB
    #: of all unfinished uploads of one device
    under_way: int = 2048 * MIB
    uploads_under_way: int = 500
    #: files of one job
    files: int = 2000
    #: that stay free on the disk whatever is sent
    disk_free: int = 512 * MIB
    #: of a request that is no piece of an upload
    json: int = 256 * 1024
    #: within which a request's body has arrived
    body_s: float = 60.0
    pairing_code_s: float = 600.0
    #: wrong pairing codes from one address, and from all, within `pairing_code_s`
    wrong_codes: int = 10
    wrong_codes_in_all: int = 1000
    #: a session ends when its device wasn't seen for so long, and at the latest after `session_s`
    session_idle_s: float = 60 * 86400.0
    session_s: float = 365 * 86400.0
    #: before a job that failed is tried again, times how often it was
    retry_s: float = 2.0
    #: of what is heard while it is being recorded: phones at once, one request's bytes, a recording's length,
    #: how far hearing may fall behind, and after how long without a request a phone counts as gone
    live_phones: int = 4
    live_piece: int = 320_000
    live_s: float = 4 * 3600.0
    live_behind_s: float = 30.0
    live_gone_s: float = 10.0
    #: what hears it ends after so long without a phone, and isn't started again for so long after it failed
    live_idle_s: float = 3600.0
    live_deaf_s: float = 60.0


@dataclass(frozen=True, slots=True)
class Settings:
    """One run of the server over one library. It can be pickled: the workers are given it.

    `hosts` are the names and addresses under which it may be asked, without port; `address` is the one to
    give to a person, such as https://192.168.1.20:8420. `make_recogniser` stands in for `hear_with` in tests.
    """

    library: Path
    workshop: Path | None = None
    hear_with: str | None = None
    zone: str = "UTC"
    address: str = "http://127.0.0.1:8420"
    hosts: frozenset[str] = frozenset({"127.0.0.1", "localhost", "[::1]"})
    tls: bool = False
    workers: int = 1
    limits: Limits = field(default_factory=Limits)
    make_recogniser: Callable[[], Recogniser] | None = None
    #: whether what is written in photos is read
    read_photos: bool = False
    #: whether what phones record is heard while they do, so that their page can show words
    live: bool = True

    @property
    def folder(self) -> Path:
        return self.library / "serve"

    @property
    def database(self) -> Path:
        return self.folder / "serve.db"

    @property
    def parts(self) -> Path:
        return self.folder / "parts"

    @property
    def tls_folder(self) -> Path:
        return self.folder / "tls"

    def job_folder(self, job: str) -> Path:
        return self.folder / "jobs" / job

    def given(self, job: str) -> Path:
        """The folder that the job is derived from: files as they were sent, and job.toml."""
        return self.job_folder(job) / "given"

    def out(self, job: str) -> Path:
        return self.job_folder(job) / "out"

    def sent(self, job: str) -> Path:
        """What was told of each file when it was sent: one JSON file a file."""
        return self.job_folder(job) / "sent"

    def tzinfo(self) -> tzinfo:
        return ZoneInfo(self.zone)

    def recogniser(self) -> Recogniser:
        """The recogniser that hears; its weights are loaded when it first hears."""
        return self.make_recogniser() if self.make_recogniser else recogniser(self.hear_with)

    def reader(self) -> PhotoReader | None:
        """What reads photos, if they are to be read; its weights are loaded with the first."""
        return photo_reader() if self.read_photos else None

    def load_workshop(self) -> Workshop:
        """What the workshop's folder holds, for any job."""
        return workshops.load(self.workshop)
