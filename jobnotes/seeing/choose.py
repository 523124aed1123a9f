"""Which photo reader there is; its packages are loaded when it is asked for, its weights with a photo."""

from __future__ import annotations

from jobnotes.seeing.reader import PhotoReader


def photo_reader() -> PhotoReader:
    """The reader that is used where nothing else is asked for."""
    from jobnotes.seeing.label_reader import LabelReader

    return LabelReader()
