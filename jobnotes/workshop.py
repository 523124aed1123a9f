"""All that one workshop brings to every job: its words, limits, claim policies, prices and letterhead."""

from __future__ import annotations

from dataclasses import dataclass, replace
from difflib import get_close_matches
from importlib import resources
from pathlib import Path

from jobnotes.checking import policy as policies
from jobnotes.checking.policy import Policy
from jobnotes.documents import house as houses
from jobnotes.documents.house import House
from jobnotes.errors import JobnotesError
from jobnotes.office import job as job_details
from jobnotes.office import office as offices
from jobnotes.office import workshop as workshops
from jobnotes.office.job import JobDetails
from jobnotes.office.misnamed import refuse_misnamed
from jobnotes.office.office import Office
from jobnotes.reading.trade import files as trades
from jobnotes.reading.trade.files import Trade

POLICY = "claim_policy.toml"
_HOUSE_FILES = ("documents", "pairing")
#: other files of a workshop's folder, which no job can name as its policy
_NO_POLICIES = frozenset(
    {p.name for p in resources.files("jobnotes").joinpath("data").iterdir()} - {POLICY} | {workshops.NAME}
)


@dataclass(frozen=True, slots=True)
class Workshop:
    """Without any of it, what ships is used and nothing is priced. `folder` is where it comes from, and
    `policy_named` the file of its claim policy there, where a job named it."""

    trade: Trade | None = None
    policy: Policy | None = None
    house: House | None = None
    office: Office | None = None
    folder: Path | None = None
    policy_named: str | None = None

    @property
    def own(self) -> workshops.Workshop | None:
        """What the workshop states of itself."""
        return self.office.workshop if self.office else None

    def under(self, details: JobDetails | None) -> Workshop:
        """The same with the claim policy that the job's details name. Raises JobnotesError."""
        named = details.policy if details else None
        if named == self.policy_named:
            return self
        path = _policy(self.folder, named, job_details.NAME)
        return replace(self, policy=policies.load(path), policy_named=named)


def load(folder: Path | None, job: Path | None = None) -> Workshop:
    """What the workshop's `folder` holds. Raises JobnotesError with file, line and remedy.

    In the folder `job`, what the office states of one job may name the claim policy that holds for it.
    """
    if folder is not None and not folder.is_dir():
        raise JobnotesError(str(folder), "is no folder", "give the folder of the workshop's files")
    if folder is not None:
        names = (*trades.FILES, *_HOUSE_FILES)
        refuse_misnamed(folder, [POLICY, *(f"{name}.toml" for name in names)])
    if job is not None:
        job_details.refuse_misnamed(job)
    office = offices.load(folder)
    stated = job / job_details.NAME if job else None
    named = job_details.load(stated, workshop=office.workshop).policy if stated and stated.is_file() else None
    return Workshop(
        trades.load(folder),
        policies.load(_policy(folder, named, str(stated))),
        houses.load(folder, workshop=office.workshop),
        office,
        folder,
        named,
    )


def policies_in(folder: Path | None) -> tuple[str, ...]:
    """The names of the files in a workshop's folder that may be a claim policy that a job names."""
    if folder is None:
        return ()
    return tuple(sorted(path.name for path in folder.glob("*.toml") if path.name not in _NO_POLICIES))


def _policy(folder: Path | None, named: str | None, stated: str) -> Path | None:
    """The file of the claim policy that is named, in `stated`, for the job; None: the one that ships."""
    if folder is None:
        if named is not None:
            reason = f"names the claim policy {named}, but there is no workshop's folder"
            raise JobnotesError(stated, reason, "give it with --workshop")
        return None
    own = folder / (named or POLICY)
    if named is not None and not own.is_file():
        there = policies_in(folder)
        close = get_close_matches(named, there, 1, 0.5) or there
        remedy = f"name a policy of {folder}, such as {close[0]}" if close else f"put it into {folder}"
        raise JobnotesError(stated, f"names the claim policy {named}, which isn't there", remedy)
    return own if own.exists() else None
