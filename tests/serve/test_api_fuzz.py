"""The API is as it describes itself, and answers whatever it is sent without an error of its own.

schemathesis makes the requests from the description, valid ones and others; each answer is held to it. The
default run tries a few of each operation; `-m slow` many, or as many as the variable FUZZ_CASES says (1800
are about an hour's worth).
"""

from __future__ import annotations

import json
import os
import random
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import Any

import jsonschema
import pytest
import schemathesis
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from schemathesis import checks
from served import ORIGIN, Paired, Served, jpeg, served, wav
from starlette.routing import Route

from jobnotes.serve.fact_forms import KINDS
from jobnotes.serve.live import Live
from jobnotes.serve.pages import HERE
from jobnotes.serve.settings import Limits

DESCRIPTION: dict[str, Any] = json.loads((HERE / "openapi.json").read_text("utf-8"))
OPERATIONS = {
    operation["operationId"]: (path, method)
    for path, item in DESCRIPTION["paths"].items()
    for method, operation in item.items()
}
#: these would end what the others need
ENDING = {"unpair", "revoke"}

HELD_TO = [
    checks.not_a_server_error,
    checks.status_code_conformance,
    checks.content_type_conformance,
    checks.response_headers_conformance,
    checks.response_schema_conformance,
]


def walked(node: Any) -> Iterator[dict[str, Any]]:
    if isinstance(node, dict):
        yield node
        for inner in node.values():
            yield from walked(inner)
    elif isinstance(node, list):
        for inner in node:
            yield from walked(inner)


# --- the description -----------------------------------------------------------------------------


def test_every_part_of_the_api_is_described_and_nothing_else(web: Served) -> None:
    there = {
        (route.path, method.lower())
        for route in web.app.routes
        if isinstance(route, Route) and route.path.startswith("/api/")
        for method in (route.methods or set()) - ({"HEAD"} if "GET" in (route.methods or ()) else set())
    }
    assert there == set(OPERATIONS.values())


def test_the_description_is_whole() -> None:
    for node in walked(DESCRIPTION):
        if "$ref" in node:
            found: Any = DESCRIPTION
            for part in node["$ref"].removeprefix("#/").split("/"):
                found = found[part]
    for schema in DESCRIPTION["components"]["schemas"].values():
        jsonschema.Draft202012Validator.check_schema(schema)
    assert DESCRIPTION["openapi"].startswith("3.1")


def test_a_paired_device_may_read_it(technician: Paired) -> None:
    assert technician.get("/api/openapi.json").json() == DESCRIPTION


# --- what it is sent -----------------------------------------------------------------------------


@dataclass
class Api:
    web: Served
    clerk: Paired
    technician: Paired
    job: str


class Hearing:
    """An ear for the recordings that are still being made; without one they are refused, as described."""

    def hear(self, stream: int, sound: bytes) -> tuple[str, str]:
        return f"{len(sound)} of {stream}", "and"

    def forget(self, stream: int) -> None:
        pass

    def close(self) -> None:
        pass


@pytest.fixture(scope="module")
def served_api(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Api]:
    """A job with a note and a photo, which both devices may ask for."""
    web = served(tmp_path_factory.mktemp("fuzz") / "library")
    # pairing is tried, not guessed at
    open_ended = replace(web.settings, limits=Limits(wrong_codes=10**6, wrong_codes_in_all=10**6))
    web = served(open_ended.library, limits=open_ended.limits)
    technician = web.pair("technician")
    job = technician.open_job(number="4711")
    technician.send(job, wav(1))
    technician.send(job, jpeg())
    web.hear()
    yield Api(web, web.pair("clerk"), technician, job)
    web.app.state.store.close()


@pytest.fixture
def api(served_api: Api) -> Iterator[Api]:
    """With an ear of its own for each test: schemathesis ends the application's lifespan after each, and an
    ear that was stopped stays so."""
    ear = served_api.web.app.state.live = Live(served_api.web.settings, Hearing)
    yield served_api
    ear.stop()


@cache
def described() -> Any:
    return schemathesis.openapi.from_dict(DESCRIPTION)


def strategy(operation: str) -> st.SearchStrategy[Any]:
    """Requests as the description has them, and some that are against it."""
    path, method = OPERATIONS[operation]
    modes = [schemathesis.GenerationMode.POSITIVE]
    described_here = DESCRIPTION["paths"][path][method]
    if "requestBody" in described_here or described_here.get("parameters"):
        modes.append(schemathesis.GenerationMode.NEGATIVE)
    return st.one_of([described()[path][method].as_strategy(generation_mode=mode) for mode in modes])


def asked(api: Api, case: Any) -> None:
    """Ask as the clerk does, mostly about a job that there is, and hold the answer to the description."""
    chance = random.Random(repr((case.path_parameters, case.body, case.query)))
    device = api.clerk if chance.random() < 0.8 else api.technician
    for name, real in (("job", api.job), ("note", "N1"), ("photo", "P1"), ("upload", "upload-aaaa")):
        if name in (case.path_parameters or {}) and chance.random() < 0.8:
            case.path_parameters[name] = real
    if isinstance(case.body, dict) and "action" in case.body:
        _about_a_fact(api, case.body, chance)
    case.headers["X-CSRF-Token"] = device.csrf
    answer = case.call(
        base_url=ORIGIN,
        app=api.web.app,
        headers={"Host": "127.0.0.1:8420"},
        cookies={"jobnotes": device.client.cookies["jobnotes"]},
    )
    case.validate_response(answer, checks=HELD_TO)
    assert answer.headers["x-content-type-options"] == ["nosniff"]


def _fields(api: Api) -> dict[str, Any]:
    return {form["kind"]: form["fields"] for form in api.clerk.get(f"/api/jobs/{api.job}/forms").json()}


def _about_a_fact(api: Api, body: dict[str, Any], chance: random.Random) -> None:
    """Mostly decide about a statement that there is, of a kind that there is, or little is looked at."""
    state = api.technician.get(f"/api/jobs/{api.job}/state").json()
    for name, seen_name in (("fact", "seen"), ("to", "seen_to"), ("other", "seen_other")):
        if chance.random() < 0.8:
            fact = chance.choice(state["facts"])
            body[name], body[seen_name] = fact["id"], fact["seen"]
    if chance.random() < 0.8:
        body["kind"] = chance.choice(KINDS)
        if isinstance(body.get("values"), dict):
            names = [field["name"] for field in _fields(api)[body["kind"]]]
            body["values"] = {chance.choice(names): value for value in body["values"].values()}
    if chance.random() < 0.5:
        body["photo"] = "P1"


few = settings(
    max_examples=6,
    deadline=None,
    derandomize=True,
    phases=[Phase.generate],
    suppress_health_check=list(HealthCheck),
)
many = settings(few, max_examples=int(os.environ.get("FUZZ_CASES", "300")), derandomize=False)


@pytest.mark.parametrize("operation", sorted(OPERATIONS.keys() - ENDING))
def test_it_answers_as_described(api: Api, operation: str) -> None:
    @few
    @given(strategy(operation))
    def ask(case: Any) -> None:
        asked(api, case)

    ask()


@pytest.mark.slow
@pytest.mark.parametrize("operation", sorted(OPERATIONS.keys() - ENDING))
def test_it_answers_as_described_whatever_it_is_sent(api: Api, operation: str) -> None:
    @many
    @given(strategy(operation))
    def ask(case: Any) -> None:
        asked(api, case)

    ask()


@pytest.mark.parametrize("operation", sorted(ENDING))
def test_what_ends_a_session_answers_as_described(api: Api, operation: str) -> None:
    @few
    @given(strategy(operation))
    def ask(case: Any) -> None:
        asked(replace(api, clerk=api.web.pair("clerk"), technician=api.web.pair("technician")), case)

    ask()


def test_a_breach_of_the_description_would_be_seen(api: Api, tmp_path: Path) -> None:
    wrong = json.loads(json.dumps(DESCRIPTION))
    wrong["components"]["schemas"]["Job"]["required"].append("colour")
    case = schemathesis.openapi.from_dict(wrong)["/api/jobs"]["get"].Case()
    with pytest.raises(BaseException, match="colour"):
        asked(api, case)
