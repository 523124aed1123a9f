from __future__ import annotations

import importlib

import click

from jobnotes import __version__

#: command → module; a module is imported only when its command is asked for, so that help comes at once
COMMANDS = {
    "run": "jobnotes.commands.run",
    "demo": "jobnotes.commands.run",
    "facts": "jobnotes.commands.facts",
    "serve": "jobnotes.commands.serve",
    "models": "jobnotes.commands.models",
    "card": "jobnotes.commands.card",
    "verify": "jobnotes.commands.verify",
    "backup": "jobnotes.commands.backup",
    "restore": "jobnotes.commands.backup",
    "delete": "jobnotes.commands.delete",
    "key": "jobnotes.commands.key",
}


class _Lazy(click.Group):
    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in COMMANDS:
            return None
        command = getattr(importlib.import_module(COMMANDS[cmd_name]), cmd_name)
        assert isinstance(command, click.Command)
        return command


@click.group(cls=_Lazy, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(__version__, prog_name="jobnotes")
def main() -> None:
    """Spoken repair notes and photos become a warranty-ready claim, offline.

    Never dictate, photograph or look at a screen while a person is at risk from the vehicle. jobnotes
    writes down what was said; it does not diagnose, and does not judge that a vehicle is safe to use.
    """
