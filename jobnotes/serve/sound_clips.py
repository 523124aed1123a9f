"""The seconds of a note, and a photo, as a page plays and shows them: derived from the originals, without
whatever else these say of the person or the place.
"""

from __future__ import annotations

import io
import wave
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Route

from jobnotes.errors import UnusableInputError
from jobnotes.intake.photos import shown
from jobnotes.intake.sound import RATE_HZ, blocks_16k
from jobnotes.library.library import Library
from jobnotes.record import Corners, Note, Photo, Record
from jobnotes.serve import access, state
from jobnotes.serve.close_ups import CLOSE_UP_OF, close_up
from jobnotes.serve.kept import Kept

_Original = TypeVar("_Original", Note, Photo)

MOST_SECONDS = 120.0
WIDTHS = (160, 320, 640, 1280, 2560)
_JPEG_QUALITY = 85

#: decoded notes that are kept, in samples: a clerk plays many clips of the same few
_MOST_KEPT = RATE_HZ * 3600 * 2
#: it follows from the original, which never changes
_KEEP = {"Cache-Control": "private, max-age=86400, immutable"}
_ASK = {"Cache-Control": "private, no-cache"}

_MOST_PICTURES = 256
_decoded: Kept[str, NDArray[np.int16]] = Kept(_MOST_KEPT, len)
_pictures: Kept[tuple[str, int, Corners | None], bytes] = Kept(_MOST_PICTURES)
#: of a digest, that tell one original from all others
_DIGITS = 12


def clip(samples: NDArray[np.int16], start_s: float, end_s: float) -> bytes:
    """Those seconds as a WAV file: one channel, 16 bit, 16 kHz. What lies outside the note is left out."""
    start, end = (max(0, min(len(samples), round(at * RATE_HZ))) for at in (start_s, end_s))
    file = io.BytesIO()
    with wave.open(file, "wb") as sound:
        sound.setparams((1, 2, RATE_HZ, 0, "NONE", ""))
        sound.writeframes(samples[start:end].astype("<i2").tobytes())
    return file.getvalue()


def sound(request: Request) -> Response:
    """`from` to `to` are seconds of the note; at most MOST_SECONDS."""
    start, end = (_seconds(request, name) for name in ("from", "to"))
    if not 0 <= start < end:
        raise HTTPException(400, "from must be 0 or more, and less than to")
    note, path = _original_of_note(request)
    samples = _decoded.once(note.sha256, lambda: _samples(note, path))
    body = clip(samples, start, min(end, start + MOST_SECONDS))
    return Response(body, media_type="audio/wav", headers=_headers(request, note.sha256))


def _headers(request: Request, sha256: str) -> dict[str, str]:
    """A browser may keep what was asked for by digest (`of`): the number of a note or photo changes when an
    earlier one is added, and must not bring up the wrong one then. 404 if it has changed already."""
    of = request.query_params.get("of", "")
    if of and not sha256.startswith(of):
        raise HTTPException(404, "that number is another's now; load the page again")
    return _KEEP if len(of) >= _DIGITS else _ASK


def _seconds(request: Request, name: str) -> float:
    try:
        return min(float(request.query_params.get(name, "")), 1e6)
    except ValueError:
        raise HTTPException(400, f"{name} must be a number of seconds") from None


def _samples(note: Note, path: Path) -> NDArray[np.int16]:
    whole = bytearray()  # of a note of hours, the only copy
    try:
        for block in blocks_16k(path, file=note.file):
            whole += (np.clip(block, -1.0, 1.0) * 32767).astype(np.int16).data
    except UnusableInputError as error:
        raise HTTPException(404, str(error)) from error
    return np.frombuffer(whole, np.int16)


def picture(request: Request) -> Response:
    """The photo as a person sees it, no wider or higher than the nearest of WIDTHS, without metadata; with
    `at` only what stands at those corners."""
    try:
        wanted = int(request.query_params.get("width", WIDTHS[2]))
    except ValueError:
        raise HTTPException(400, "width must be a whole number of pixels") from None
    side = next((width for width in WIDTHS if width >= wanted), WIDTHS[-1])
    corners = _corners(request.query_params.get("at"))
    photo, path = _original_of_photo(request)
    headers = _headers(request, photo.sha256)
    body = _pictures.once((photo.sha256, side, corners), lambda: _jpeg(photo, path, side, corners))
    return Response(body, media_type="image/jpeg", headers=headers)


def _corners(given: str | None) -> Corners | None:
    if given is None:
        return None
    try:
        shares = [float(share) for share in given.split(",")]
    except ValueError:
        shares = []
    if len(shares) != 8 or not all(0 <= share <= 1 for share in shares):
        raise HTTPException(400, "at must be four corners: eight numbers from 0 to 1, with commas")
    return tuple(zip(shares[::2], shares[1::2], strict=True))


def _jpeg(photo: Photo, path: Path, side: int, corners: Corners | None) -> bytes:
    try:
        image = shown(path, CLOSE_UP_OF if corners else side, photo.file)
    except UnusableInputError as error:
        raise HTTPException(404, str(error)) from error
    if corners:
        image = close_up(image, corners)
        image.thumbnail((side, side))
    file = io.BytesIO()
    profile = image.info.get("icc_profile")
    image.save(file, "JPEG", quality=_JPEG_QUALITY, **({"icc_profile": profile} if profile else {}))
    return file.getvalue()


def _original_of_note(request: Request) -> tuple[Note, Path]:
    return _original(request, "note", lambda record: record.notes)


def _original_of_photo(request: Request) -> tuple[Photo, Path]:
    return _original(request, "photo", lambda record: record.photos)


def _original(
    request: Request, name: str, among: Callable[[Record], Sequence[_Original]]
) -> tuple[_Original, Path]:
    """The note or photo whose number the address has, and where its original lies. HTTPException if none."""
    with Library.open(access.settings_of(request).library) as library:
        now = state.current(access.settings_of(request), library, access.job_of(request))
        if now is None:
            raise HTTPException(404, "nothing of this job was heard yet")
        found = next((each for each in among(now.record) if each.id == request.path_params[name]), None)
        if found is None:
            raise HTTPException(404, f"there is no such {name}")
        return found, _path(library, found.sha256)


def _path(library: Library, sha256: str) -> Path:
    try:
        return library.path_of(sha256)
    except KeyError:
        raise HTTPException(404, "its original is missing from the library") from None


routes: list[BaseRoute] = [
    Route("/api/jobs/{job}/notes/{note}/sound", sound),
    Route("/api/jobs/{job}/photos/{photo}", picture),
]
