"""pydub segments, for level, silence and cutting.

pydub looks for an ffmpeg program when it is imported, in the current folder too, and warns if there is
none. Nothing here needs one: segments are made from decoded samples.
"""

from __future__ import annotations

import importlib
import importlib.util
import sys
import warnings
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from jobnotes.intake.sound import RATE_HZ, Samples, blocks_16k

if TYPE_CHECKING:
    from pydub import AudioSegment


def _import_pydub() -> Any:
    """pydub, imported with a search for programs that finds none.

    Its `utils` is loaded before the package itself runs and asks it for a program; the search is put
    back afterwards. A pydub that is already imported is left as it is.
    """
    if "pydub" in sys.modules:
        return sys.modules["pydub"]
    spec = importlib.util.find_spec("pydub")
    if spec is None or spec.loader is None:
        return importlib.import_module("pydub")  # raises the usual ImportError
    package = importlib.util.module_from_spec(spec)
    sys.modules["pydub"] = package
    try:
        with warnings.catch_warnings():
            # of a missing program; of escapes in its patterns (3.12); of audioop's removal (3.13)
            warnings.simplefilter("ignore")
            utils: Any = importlib.import_module("pydub.utils")
            search = utils.which
            utils.which = lambda program: None
            try:
                spec.loader.exec_module(package)
            finally:
                utils.which = search
    except BaseException:
        sys.modules.pop("pydub", None)
        raise
    return package


def segment(
    path: Path, start_s: float = 0.0, end_s: float | None = None, file: str | None = None
) -> AudioSegment:
    """A recording, or the stretch of it from `start_s` to `end_s` seconds: 16-bit, mono, 16 kHz.

    That is 2 MB a minute. Seconds are those of `sound`, so of a word's times. A stretch beyond the
    end is empty. Raises UnusableInputError as `blocks_16k` does.
    """
    first = max(0, round(start_s * RATE_HZ))
    last = None if end_s is None else round(end_s * RATE_HZ)
    kept: list[Samples] = []
    at = 0
    for block in blocks_16k(path, seconds=1.0, file=file):
        if last is not None and at >= last:
            break
        kept.append(block[max(0, first - at) : None if last is None else max(0, last - at)])
        at += len(block)
    return of_samples(np.concatenate(kept) if kept else np.zeros(0, np.float32))


def of_samples(samples: Samples) -> AudioSegment:
    """Mono samples at 16 kHz in [-1, 1] as a 16-bit segment."""
    whole = np.round(np.asarray(samples, np.float64) * 32767).astype("<i2")
    return _import_pydub().AudioSegment(whole.tobytes(), sample_width=2, frame_rate=RATE_HZ, channels=1)
