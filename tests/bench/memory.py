"""The memory of a process, for the benchmarks."""

from __future__ import annotations

import resource
import sys
from pathlib import Path


def peak_mib() -> float:
    """The most memory that this process has had resident so far; not its parent's, where the system tells."""
    status = Path("/proc/self/status")
    if status.is_file():
        # ru_maxrss would begin with what the process that started this one had
        line = next(row for row in status.read_text("ascii").splitlines() if row.startswith("VmHWM"))
        return int(line.split()[1]) / 1024
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return peak / (1 << 20 if sys.platform == "darwin" else 1 << 10)
