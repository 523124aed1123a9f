"""All that one workshop brings to every job: its words, limits, claim policies, prices and letterhead."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from jobnotes.checking import policy as policies
from jobnotes.checking.policy import Policy
from jobnotes.documents import house as houses
from jobnotes.documents.house import House
from jobnotes.errors import JobnotesError
from jobnotes.office import job as job_details
from jobnotes.office import office as offices
from jobnotes.office.office import Office
from jobnotes.reading import trade as trades
from jobnotes.reading.trade import Trade

POLICY = "claim_policy.toml"


@dataclass(frozen=True, slots=True)
class Workshop:
    """Without any of it, what ships is used and nothing is priced."""

    trade: Trade | None = None
    policy: Policy | None = None
    house: House | None = None
    office: Office | None = None


def load(folder: Path | None, job: Path | None = None) -> Workshop:
    """What the workshop's `folder` holds. Raises JobnotesError with file, line and remedy.

    In the folder `job`, what the office states of one job may name the claim policy that holds for it.
    """
    if folder is not None and not folder.is_dir():
        raise JobnotesError(str(folder), "is no folder", "give the folder of the workshop's files")
    office = offices.load(folder)
    policy = _policy(folder, job / job_details.NAME if job else None, office)
    return Workshop(
        trades.load(folder), policies.load(policy), houses.load(folder, workshop=office.workshop), office
    )


def _policy(folder: Path | None, stated: Path | None, office: Office) -> Path | None:
    """The file of the claim policy that holds for the job; None: the one that ships."""
    named = job_details.load(stated, workshop=office.workshop).policy if stated and stated.is_file() else None
    if folder is None:
        if named is not None:
            reason = f"names the claim policy {named}, but there is no workshop's folder"
            raise JobnotesError(str(stated), reason, "give it with --workshop")
        return None
    own = folder / (named or POLICY)
    return own if named is not None or own.exists() else None
