"""The command line: one command a module, each a thin call on the package's own functions."""

import os

# onnxruntime, which finds the speech in a recording, would else report its use to its maker, and leave
# files in the home folder. It has to be told before anything imports it.
os.environ["ORT_DISABLE_TELEMETRY"] = "1"

from jobnotes.commands.main import main

__all__ = ["main"]
