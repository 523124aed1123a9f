"""Who gets what: an unpaired device nothing, a technician their own jobs, another site no answer."""

from __future__ import annotations

import json
import re
import sqlite3
import time
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import pytest
from served import ORIGIN, Paired, Served, jpeg, paired, served, wav
from starlette.routing import Route

from jobnotes.serve import access
from jobnotes.serve.settings import Limits

#: what an unpaired device may ask for: nothing in it is of any job
OPEN = {"/pair", "/api/pair", "/sw.js", "/manifest.webmanifest"}


def addresses(web: Served) -> list[tuple[str, str]]:
    """Every method and path of the application, with something in the place of each parameter."""
    return [
        (method, re.sub(r"\{[^}]+\}", "abcdefghjk", route.path))
        for route in web.app.routes
        if isinstance(route, Route)
        for method in sorted(route.methods or ())
    ]


# --- unpaired ------------------------------------------------------------------------------------


def test_an_unpaired_device_gets_nothing(web: Served, technician: Paired) -> None:
    technician.open_job(number="4711")
    browser = web.browser()
    asked = [(method, path) for method, path in addresses(web) if path not in OPEN]
    assert len(asked) > 15
    for method, path in asked:
        answer = browser.request(method, path)
        if path.startswith("/api/") or method not in ("GET", "HEAD"):
            assert answer.status_code == 401, (method, path)
        else:
            assert (answer.status_code, answer.headers["location"]) == (303, "/pair"), (method, path)
        assert "4711" not in answer.text


@pytest.mark.parametrize("cookie", ["", "x", "a" * 43, "é", "a" * 5000, "null"])
def test_a_made_up_session_is_no_session(web: Served, cookie: str) -> None:
    header = b"jobnotes=" + cookie.encode("latin-1", "replace")
    assert web.browser().get("/api/me", headers={"cookie": header}).status_code == 401


def test_what_is_open_holds_nothing_of_a_job(web: Served, technician: Paired) -> None:
    technician.open_job(number="Zz4711", registration="QQ11QQQ")
    browser = web.browser()
    for path in ("/pair", "/static/pair.js", "/static/pair.css", "/sw.js", "/manifest.webmanifest"):
        answer = browser.get(path)
        assert answer.status_code == 200, path
        assert "4711" not in answer.text
        assert "QQ11" not in answer.text


@pytest.mark.parametrize(
    "path", ["/static/../app.py", "/static/..%2fapp.py", "/static/%2e%2e/store.py", "/static/"]
)
def test_no_file_beside_those_for_everybody_is_given_out(web: Served, path: str) -> None:
    answer = web.browser().get(path)
    assert answer.status_code in (303, 401, 404)
    assert "import" not in answer.text


# --- pairing -------------------------------------------------------------------------------------


def test_a_code_pairs_one_device_once(web: Served) -> None:
    code = access.new_code(web.app.state.store, web.settings, "technician").code
    assert paired(web.browser(), code, "phone").get("/api/me").json()["role"] == "technician"
    again = web.browser().post("/api/pair", json={"code": code, "name": "thief"})
    assert again.status_code == 403
    assert "set-cookie" not in again.headers


def test_of_many_who_use_a_code_at_once_one_is_paired(web: Served) -> None:
    code = access.new_code(web.app.state.store, web.settings, "clerk").code
    with ThreadPoolExecutor(8) as threads:
        got = list(
            threads.map(
                lambda n: access.pair(web.app.state.store, web.settings, code, f"phone {n}"), range(16)
            )
        )
    assert sum(pair is not None for pair in got) == 1
    assert len(web.app.state.store.devices()) == 1


def test_a_code_may_be_typed_as_people_do(web: Served) -> None:
    code = access.new_code(web.app.state.store, web.settings, "technician").code
    assert paired(web.browser(), f" {code.lower().replace('-', ' ')} ", "phone").id


def test_a_code_is_good_for_its_time_only(tmp_path: Any) -> None:
    web = served(tmp_path / "library", limits=Limits(pairing_code_s=0.05))
    code = access.new_code(web.app.state.store, web.settings, "clerk").code
    time.sleep(0.1)
    assert web.browser().post("/api/pair", json={"code": code, "name": "late"}).status_code == 403


def test_codes_cannot_be_tried_out(web: Served) -> None:
    browser = web.browser()
    tries = [browser.post("/api/pair", json={"code": f"AAAA-AA{n:02}", "name": "x"}) for n in range(12)]
    assert [t.status_code for t in tries] == [403] * 10 + [429] * 2
    assert int(tries[-1].headers["retry-after"]) > 0
    # a good code is refused too, or a try would tell something
    code = access.new_code(web.app.state.store, web.settings, "clerk").code
    assert browser.post("/api/pair", json={"code": code, "name": "x"}).status_code == 429
    other = web.browser(client=("192.0.2.7", 50000))
    assert other.post("/api/pair", json={"code": code, "name": "x"}).status_code == 200


def test_a_code_and_a_session_are_kept_as_digests_only(web: Served) -> None:
    waiting = access.new_code(web.app.state.store, web.settings, "clerk")
    technician = web.pair("technician")
    token = technician.client.cookies["jobnotes"]
    assert len(token) >= 43  # 256 bits in base64
    kept = b"".join(
        path.read_bytes() for path in web.settings.folder.iterdir() if path.name.startswith("serve.db")
    )
    for secret in (token, waiting.code, waiting.code.replace("-", ""), technician.csrf):
        assert secret.encode() not in kept
    assert access.digest(token).encode() in kept, "the test looks in the right place"


def test_a_secret_stands_in_no_address_that_is_sent(web: Served) -> None:
    code = access.new_code(web.app.state.store, web.settings, "technician")
    sent, _, kept_by_the_browser = code.address.partition("#")
    assert kept_by_the_browser == code.code
    assert code.code not in sent


def test_the_cookie_is_out_of_reach_of_scripts_and_other_sites(web: Served, tmp_path: Any) -> None:
    def cookie(app: Served) -> str:
        code = access.new_code(app.app.state.store, app.settings, "clerk").code
        return str(app.browser().post("/api/pair", json={"code": code, "name": "x"}).headers["set-cookie"])

    plain = cookie(web)
    assert plain.startswith("jobnotes=")
    assert {"httponly", "samesite=strict", "path=/"} <= {p.strip().lower() for p in plain.split(";")}
    over_tls = cookie(served(tmp_path / "other", address="https://127.0.0.1:8420", tls=True))
    # RFC 6265bis, 4.1.3.2: a __Host- cookie is Secure, has the path /, and no Domain
    assert over_tls.startswith("__Host-jobnotes=")
    parts = {p.strip().lower() for p in over_tls.split(";")}
    assert {"secure", "httponly", "samesite=strict", "path=/"} <= parts
    assert not any(p.startswith("domain") for p in parts)


def test_a_device_that_is_paired_again_keeps_its_jobs(web: Served, clerk: Paired, technician: Paired) -> None:
    job = technician.open_job(number="4711")
    answer = clerk.post("/api/pairing", {"device": technician.id})
    assert answer.status_code == 201
    again = paired(web.browser(), answer.json()["code"], "whatever")
    assert again.id == technician.id
    assert [j["id"] for j in again.get("/api/jobs").json()] == [job]
    assert technician.get("/api/me").status_code == 401, "the session before has ended"


def test_the_clerk_gets_a_code_to_scan(clerk: Paired) -> None:
    answer = clerk.post("/api/pairing", {"role": "technician"}).json()
    assert answer["address"] == f"{ORIGIN}/pair#{answer['code']}"
    assert answer["qr"].startswith("data:image/png;base64,")
    assert clerk.post("/api/pairing", {"role": "owner"}).status_code == 400
    assert clerk.post("/api/pairing", {"device": "nobody"}).status_code == 404


# --- roles ---------------------------------------------------------------------------------------


def test_a_technician_reaches_none_of_the_clerks_actions(web: Served, technician: Paired) -> None:
    job = technician.open_job()
    allowed = re.compile(
        r"/|/capture|/authority\.crt|/api/(me|time|unpair|jobs|openapi\.json)"
        r"|/card/[^/]+"
        r"|/api/jobs/[^/]+/(state|card|uploads/[^/]+(/complete)?|live/[^/]+|notes/[^/]+/sound|photos/[^/]+)"
    )
    asked = 0
    for method, path in addresses(web):
        if path in OPEN or allowed.fullmatch(path):
            continue
        own = path.replace("/api/jobs/abcdefghjk", f"/api/jobs/{job}")
        assert technician.request(method, own, json={}).status_code == 403, (method, path)
        asked += 1
    assert asked >= 5


def test_a_technician_reaches_no_job_of_another(web: Served, technician: Paired) -> None:
    other = web.pair("technician", "phone two")
    job = technician.open_job(number="4711")
    technician.send(job, wav(1))
    technician.send(job, jpeg())
    web.hear()
    assert other.get("/api/jobs").json() == []
    for path in (f"/api/jobs/{job}/state", f"/api/jobs/{job}/notes/N1/sound", f"/api/jobs/{job}/photos/P1"):
        assert other.get(path).status_code == 404, path
        assert "4711" not in other.get(path).text
    assert other.put(job, "upload-aaaa", 0, wav()).status_code == 404
    assert other.complete(job, "upload-aaaa", wav()).status_code == 404
    assert other.client.head(f"/api/jobs/{job}/uploads/upload-aaaa").status_code == 404
    assert technician.get(f"/api/jobs/{job}/state").status_code == 200


def test_nobody_learns_which_jobs_there_are(web: Served, technician: Paired) -> None:
    job = technician.open_job()
    other = web.pair("technician", "phone two")
    there, nowhere = (other.get(f"/api/jobs/{j}/state") for j in (job, "abcdefghjk"))
    assert (there.status_code, there.text) == (nowhere.status_code, nowhere.text)


def test_the_clerk_gives_a_job_to_a_technician(web: Served, clerk: Paired, technician: Paired) -> None:
    job = clerk.open_job(number="4711")
    assert technician.get(f"/api/jobs/{job}/state").status_code == 404
    assert clerk.post(f"/api/jobs/{job}/devices", {"device": technician.id}).status_code == 204
    assert technician.get(f"/api/jobs/{job}/state").status_code == 200
    named = clerk.open_job(technician="Phone One")
    assert technician.get(f"/api/jobs/{named}/state").status_code == 200


def test_a_page_that_is_refused_says_so_to_a_person(web: Served, technician: Paired) -> None:
    answer = technician.get("/desk", headers={"accept": "text/html,*/*;q=0.8"})
    assert answer.status_code == 403
    assert answer.headers["content-type"].startswith("text/html")
    assert "That is for the clerk." in answer.text
    assert technician.get("/<script>", headers={"accept": "text/html"}).status_code == 403


def test_each_is_led_to_their_own_page(clerk: Paired, technician: Paired) -> None:
    assert clerk.get("/").headers["location"] == "/desk"
    assert technician.get("/").headers["location"] == "/capture"
    assert technician.get("/capture").status_code == 200


# --- the end of a session ------------------------------------------------------------------------


def test_a_revoked_device_is_out_at_once(web: Served, clerk: Paired, technician: Paired) -> None:
    job = technician.open_job()
    assert technician.put(job, "upload-aaaa", 0, wav()).status_code == 204
    assert clerk.request("DELETE", f"/api/devices/{technician.id}").status_code == 204
    assert technician.get("/api/me").status_code == 401
    assert technician.put(job, "upload-aaaa", len(wav()), wav()).status_code == 401
    assert technician.complete(job, "upload-aaaa", wav()).status_code == 401
    listed = {d["id"]: d for d in clerk.get("/api/devices").json()}
    assert "revoked_at" in listed[technician.id]
    assert "revoked_at" not in listed[clerk.id]
    assert clerk.request("DELETE", "/api/devices/nobody").status_code == 404


def test_a_device_that_leaves_has_no_session(technician: Paired) -> None:
    cookie = technician.client.cookies["jobnotes"]
    assert technician.post("/api/unpair").status_code == 204
    assert "jobnotes" not in technician.client.cookies
    technician.client.cookies.set("jobnotes", cookie)
    assert technician.get("/api/me").status_code == 401, "the old cookie, played again"


def test_a_session_ends_when_its_device_stays_away(tmp_path: Any) -> None:
    web = served(tmp_path / "library", limits=Limits(session_idle_s=30.0))
    technician = web.pair("technician")
    assert technician.get("/api/me").status_code == 200
    with sqlite3.connect(web.settings.database) as db:
        db.execute("UPDATE sessions SET seen_at = seen_at - 31")
    assert technician.get("/api/me").status_code == 401


# --- forged and replayed requests ----------------------------------------------------------------


def test_a_request_without_the_sessions_token_is_refused(web: Served, technician: Paired) -> None:
    other = web.pair("technician", "phone two")
    for token in ("", "x" * 64, other.csrf, technician.csrf[:-1], technician.csrf.upper() + "é"):
        headers = {access.CSRF_HEADER: token.encode("latin-1")} if token else {}
        answer = technician.client.post("/api/jobs", json={}, headers=headers)
        assert answer.status_code == 403, token
    assert technician.get("/api/jobs").json() == []


@pytest.mark.parametrize(
    "headers",
    [
        {"origin": "https://evil.example"},
        {"origin": "null"},
        {"origin": "http://127.0.0.1:9999"},
        {"origin": "https://127.0.0.1:8420"},
        {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site", "sec-fetch-mode": "navigate"},
    ],
)
def test_another_sites_page_changes_nothing(web: Served, technician: Paired, headers: dict[str, str]) -> None:
    assert technician.post("/api/jobs", {}, headers=headers).status_code == 403
    code = access.new_code(web.app.state.store, web.settings, "clerk").code
    forged = web.browser().post("/api/pair", json={"code": code, "name": "x"}, headers=headers)
    assert forged.status_code == 403
    assert technician.get("/api/jobs").json() == []


def test_another_sites_page_reads_nothing(technician: Paired) -> None:
    reads = {"sec-fetch-site": "cross-site", "sec-fetch-mode": "no-cors"}
    assert technician.get("/api/jobs", headers=reads).status_code == 403
    assert technician.get("/api/jobs", headers={"sec-fetch-site": "same-origin"}).status_code == 200
    follows = {"sec-fetch-site": "cross-site", "sec-fetch-mode": "navigate"}
    assert technician.get("/capture", headers=follows).status_code == 200, "a link may lead here"


def test_a_page_of_this_server_may_ask(technician: Paired) -> None:
    headers = {"origin": ORIGIN, "sec-fetch-site": "same-origin", "sec-fetch-mode": "cors"}
    assert technician.post("/api/jobs", {}, headers=headers).status_code == 201


def test_a_form_of_a_page_cannot_pass_as_json(technician: Paired) -> None:
    answer = technician.request(
        "POST", "/api/jobs", content=json.dumps({}), headers={"content-type": "text/plain"}
    )
    assert answer.status_code == 415


@pytest.mark.parametrize(
    "host",
    [
        "evil.example",
        "evil.example:8420",
        "127.0.0.1.evil.example",
        "127.0.0.1@evil.example",
        "",
        "[::1",
        "a:b:c",
    ],
)
def test_a_foreign_name_that_leads_here_gets_nothing(web: Served, technician: Paired, host: str) -> None:
    assert technician.get("/api/me", headers={"host": host}).status_code == 421
    assert web.browser().get("/pair", headers={"host": host}).status_code == 421


@pytest.mark.parametrize("host", ["127.0.0.1:8420", "localhost:8420", "LOCALHOST", "[::1]:8420"])
def test_its_own_names_are_known(web: Served, host: str) -> None:
    assert web.browser().get("/pair", headers={"host": host}).status_code == 200


# --- headers and errors --------------------------------------------------------------------------


def test_every_answer_carries_the_guards_of_a_browser(web: Served, technician: Paired, clerk: Paired) -> None:
    answers = [
        web.browser().get("/pair"),
        web.browser().get("/static/pair.js"),
        web.browser().get("/api/me"),
        web.browser().get("/pair", headers={"host": "evil.example"}),
        technician.get("/capture"),
        technician.get("/api/jobs"),
        technician.get("/desk"),
        clerk.get("/api/jobs/abcdefghjk/state"),
        clerk.get("/nothing-here"),
    ]
    for answer in answers:
        policy = dict(
            part.strip().split(" ", 1) for part in answer.headers["content-security-policy"].split(";")
        )
        assert policy["script-src"] == policy["style-src"] == "'self'"
        assert policy["default-src"] == policy["frame-ancestors"] == policy["base-uri"] == "'none'"
        assert "unsafe" not in answer.headers["content-security-policy"]
        assert answer.headers["x-content-type-options"] == "nosniff"
        assert answer.headers["referrer-policy"] == "no-referrer"
        assert {"microphone=(self)", "camera=(self)", "geolocation=()"} <= set(
            answer.headers["permissions-policy"].split(", ")
        )
        assert answer.headers["cache-control"] in ("no-store", "no-cache")


def test_an_error_is_one_line_and_never_the_programs_own(
    web: Served, clerk: Paired, monkeypatch: Any
) -> None:
    assert clerk.get("/api/jobs/abcdefghjk/state").json() == {"error": "there is no such job"}

    def broken(*_: object) -> None:
        raise RuntimeError("a secret of the program\nin two lines")

    monkeypatch.setattr(web.app.state.store, "counts", broken)
    quiet = web.pair("clerk", raise_server_exceptions=False)
    answer = quiet.get("/api/jobs")
    assert answer.status_code == 500
    assert list(answer.json()) == ["error"]
    assert "secret" not in answer.text
    assert answer.headers["x-content-type-options"] == "nosniff"


def test_a_disk_that_fails_is_said_and_shuts_nobody_out(web: Served, clerk: Paired, monkeypatch: Any) -> None:
    """That nothing is written then is tried with SQLite's own limit on a database's size."""
    with sqlite3.connect(web.settings.database) as db:
        db.execute("UPDATE sessions SET seen_at = seen_at - 120")
    connection = web.app.state.store._db

    def full(_: object) -> sqlite3.Connection:
        connection.execute("PRAGMA max_page_count = 1")
        return connection

    monkeypatch.setattr(type(web.app.state.store), "_db", property(full))
    assert clerk.get("/api/me").status_code == 200
    answers = [clerk.post("/api/pairing", {"role": "clerk"}) for _ in range(200)]
    failed = next(a for a in answers if a.status_code != 201)
    assert failed.status_code == 503
    assert "full" in failed.json()["error"]
    assert failed.headers["retry-after"]
    monkeypatch.undo()


@pytest.mark.parametrize("content", [b"", b"[]", b"{", b'"x"', b"\xff\xfe", b"[" * 100000, b"NaN"])
def test_what_is_no_json_object_is_refused(technician: Paired, content: bytes) -> None:
    answer = technician.request(
        "POST", "/api/jobs", content=content, headers={"content-type": "application/json"}
    )
    assert answer.status_code == 400


def test_a_request_that_is_too_large_is_refused(web: Served, technician: Paired) -> None:
    large = b'{"number": "' + b"1" * web.settings.limits.json + b'"}'
    answer = technician.request(
        "POST", "/api/jobs", content=large, headers={"content-type": "application/json"}
    )
    assert answer.status_code == 413
    assert technician.post("/api/jobs", {"number": "1" * 61}).status_code == 400
    assert technician.post("/api/jobs", {"number": 4711}).status_code == 400


def test_a_job_that_is_opened_again_under_the_same_key_is_the_same(technician: Any) -> None:
    """The answer to the first request may have been lost on the way to the phone."""
    first = technician.post("/api/jobs", json={"number": "4417", "key": "k1"})
    again = technician.post("/api/jobs", json={"number": "4417", "key": "k1"})
    other = technician.post("/api/jobs", json={"number": "4417", "key": "k2"})
    assert (first.status_code, again.status_code, other.status_code) == (201, 200, 201)
    assert first.json() == again.json() != other.json()
    assert len(technician.get("/api/jobs").json()) == 2
