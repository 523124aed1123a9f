"""All that the office keeps in the workshop's folder."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from pathlib import Path

from jobnotes.errors import JobnotesError
from jobnotes.office import prices, rates, standard_times, workshop
from jobnotes.office.misnamed import refuse_format_elsewhere, refuse_misnamed
from jobnotes.office.prices import PriceList
from jobnotes.office.rates import LabourRates
from jobnotes.office.standard_times import StandardTimes
from jobnotes.office.workshop import Workshop
from jobnotes.record import OfficeFile


@dataclass(frozen=True, slots=True)
class Office:
    """What isn't there is None: without a workshop nothing can be priced. `files` are those that it was read
    from."""

    workshop: Workshop | None = None
    prices: PriceList | None = None
    rates: LabourRates | None = None
    standard_times: StandardTimes | None = None
    files: tuple[OfficeFile, ...] = ()


def load(folder: Path | None) -> Office:
    """The office of that folder, empty where it has none of its files. Raises JobnotesError."""
    if folder is None:
        return Office()
    names = (workshop.NAME, prices.NAME, rates.NAME, standard_times.NAME)
    refuse_misnamed(folder, (), spelt=names)
    refuse_format_elsewhere(folder, workshop.FORMAT, workshop.NAME)
    own = workshop.load(folder)
    priced = [folder / name for name in (prices.NAME, rates.NAME) if (folder / name).exists()]
    if own is None and priced:
        raise JobnotesError(
            str(priced[0]),
            f"has no currency: there is no {workshop.NAME} beside it",
            "write one, see docs/prices.md",
        )
    times = folder / standard_times.NAME
    return Office(
        own,
        prices.load(folder / prices.NAME, own) if own and (folder / prices.NAME).exists() else None,
        rates.load(folder / rates.NAME, own) if own and (folder / rates.NAME).exists() else None,
        standard_times.load(times) if times.exists() else None,
        tuple(
            OfficeFile(name, hashlib.sha256((folder / name).read_bytes()).hexdigest())
            for name in names
            if (folder / name).is_file()
        ),
    )
