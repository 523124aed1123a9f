"""What a person decides about a job's facts, and the documents that follow."""

from __future__ import annotations

from starlette.routing import BaseRoute

routes: list[BaseRoute] = []
