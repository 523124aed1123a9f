"""Keeps the libraries that hear off the network, where they would look for weights or report their use."""

from __future__ import annotations

import os


def stay_offline() -> None:
    """To be called before faster-whisper is imported, which brings the libraries that read these."""
    os.environ.setdefault("HF_HUB_OFFLINE", "1")
    os.environ.setdefault("HF_HUB_DISABLE_TELEMETRY", "1")
    os.environ.setdefault("ORT_DISABLE_TELEMETRY", "1")
