"""Who sells or buys, from a table of an office's file."""

from __future__ import annotations

import re
from dataclasses import fields

from babel import Locale

from jobnotes.office.stated import Table
from jobnotes.record import Party

# territories of CLDR with two letters that ISO 3166-1 doesn't assign
_NOT_ISO_3166 = frozenset("AC CP CQ DG EA EU EZ IC QO TA UN XA XB XK ZZ".split())
#: the codes of ISO 3166-1 alpha-2, as CLDR has them
COUNTRIES = (
    frozenset(c for c in map(str, Locale("en").territories) if re.fullmatch("[A-Z]{2}", c)) - _NOT_ISO_3166
)


def party_of(table: Table) -> Party | None:
    """The party that the table states, None where it is empty. Raises JobnotesError."""
    keys = tuple(f.name for f in fields(Party))
    table.known(*keys)
    if not table.values:
        return None
    said = {key: table.words(key) for key in keys}
    name = said.pop("name")
    if name is None:
        raise table.error("name", "is missing", 'add name = "…"')
    country = said["country"]
    if country is not None and country not in COUNTRIES:
        raise table.error("country", f"is {country!r}", 'write its two letters of ISO 3166-1, as in "GB"')
    iban = said["iban"]
    if iban is not None and not _is_iban(iban):
        raise table.error("iban", "has a wrong check digit or form", "copy it from the bank's papers")
    return Party(name, **said)


def _is_iban(text: str) -> bool:
    """ISO 13616: country, two check digits, account; as a number, moved round, it is 1 modulo 97."""
    plain = re.sub(r"[ \-]", "", text).upper()
    if not re.fullmatch(r"[A-Z]{2}[0-9]{2}[A-Z0-9]{11,30}", plain):
        return False
    return int("".join(str(int(c, 36)) for c in plain[4:] + plain[:4])) % 97 == 1
