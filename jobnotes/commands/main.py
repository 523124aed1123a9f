from __future__ import annotations

import click


@click.group()
def main() -> None:
    """Spoken repair notes and photos become a warranty-ready claim, offline."""
