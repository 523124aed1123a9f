"""The encoder of models that differ in their decoders alone: what one has encoded, the others needn't."""

from __future__ import annotations

import hashlib
import threading
from collections import OrderedDict
from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

_KEPT = 3  # windows a thread: a piece is rarely decoded in more


class SharedEncoder:
    """`encode`, remembering its last few results for each thread."""

    def __init__(self, encode: Callable[[NDArray[np.float32]], Any]) -> None:
        self._encode = encode
        self._of_thread = threading.local()

    def __call__(self, features: NDArray[np.float32]) -> Any:
        """The encoding of `features`, a window of (80, 3000) mel bands by frames."""
        kept: OrderedDict[bytes, Any] = self._of_thread.__dict__.setdefault("kept", OrderedDict())
        key = hashlib.sha256(features.tobytes()).digest()
        if key not in kept:
            kept[key] = self._encode(features)
            while len(kept) > _KEPT:
                kept.popitem(last=False)
        kept.move_to_end(key)
        return kept[key]
