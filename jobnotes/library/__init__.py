"""Keeping: originals, what was derived from them, and what people decided about it.

`media` holds the originals, `database` and `migrations` the SQLite file, `decisions` the pure rules for
laying a person's decisions over derived facts, `library` the one interface to all of it and
`verification` the check that a folder's record and documents still fit what is kept.
"""
