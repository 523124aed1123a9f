"""What a photo reader is: a picture in, its writing and its flaws out.

An engine is any object of this shape; nothing else of the tool knows how it sees.
"""

from __future__ import annotations

from typing import Protocol

from PIL import Image

from jobnotes.errors import JobnotesError
from jobnotes.record import RecogniserStamp, Sight


class UnreadableError(JobnotesError):
    """No photo can be read, because of the reader: its weights are missing, say."""


class PhotoReader(Protocol):
    """Reads what is written in photos.

    `stamp` is known without loading any weights, so that what was seen before is found again at no cost. Two
    readers with the same stamp see the same in the same picture.
    """

    @property
    def stamp(self) -> RecogniserStamp: ...

    def see(self, picture: Image.Image) -> Sight:
        """What is in `picture`: RGB, upright, as `jobnotes.intake.photos.shown` gives it, a very large
        one made smaller before.

        Writing in the order in which one reads it, top to bottom. Raises UnreadableError where the
        weights can't be used. Bounded in time and memory whatever the picture.
        """
        ...
