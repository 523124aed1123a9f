"""The seconds of a note, and a photo, as a page plays and shows them."""

from __future__ import annotations

from starlette.routing import BaseRoute

routes: list[BaseRoute] = []
