"""The documents stage: a record becomes the claim, the customer's invoice and the job sheet.

They say what the record says and nothing else; `jobnotes/data/documents.toml` holds the words around it.
"""

from jobnotes.documents.house import House, load
from jobnotes.documents.pictures import LONGEST_SIDE, Pictures
from jobnotes.documents.writing import write_all, write_claim, write_customer, write_workshop

__all__ = [
    "LONGEST_SIDE",
    "House",
    "Pictures",
    "load",
    "write_all",
    "write_claim",
    "write_customer",
    "write_workshop",
]
