"""The command line: one command a module, each a thin call on the package's own functions."""

from jobnotes.commands.main import main

__all__ = ["main"]
