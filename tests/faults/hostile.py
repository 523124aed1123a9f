"""File names made to do harm, through `jobnotes run` and through an upload: they are names, and nothing else.

Of each name there is a recording and a photo, in one folder. Names are bytes, as Linux takes them: some are
no UTF-8.
"""

from __future__ import annotations

import hashlib
import json
import os
import re
import wave
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import openpyxl
import scenarios
from docx import Document
from kernel import watched
from lxml import etree
from PIL import Image
from scenarios import Browser, Place

from jobnotes.library.library import Library
from jobnotes.library.media import MediaStore

#: without their extension, in bytes, 250 at most
STEMS: tuple[bytes, ...] = (
    # a path, where separators are other characters or are written otherwise
    b"x\\..\\..\\evil", b"%2e%2e%2fetc%2fpasswd", b"a....", b"~", b"C:evil", b"\\\\server\\share", b"file:x",
    "x∕..∕evil".encode(), "x．．／evil".encode(),
    # what Windows keeps for devices, or can't have (naming files, paths and namespaces; from memory)
    b"CON", b"nul", b"AUX", b"COM1", b"lpt9", b"PRN.txt", b'a<b>c"d|e?f*g', b"ends with a dot.", b" spaces ",
    # control characters, terminal escapes, a bell; from right to left; without width; no UTF-8
    b"two\nlines", b"a\rb", b"tab\tbed", b"\x01\x02\x7f", b"\x1b[31mred\x1b[0m", b"\x1b]0;title\x07",
    b"\x9b31m", "csi \x9b31m".encode(), "\u202egpj.exe".encode(), "\u200b\u2066hidden".encode(), b"\xff\xfe",
    b"\xed\xa0\x80", "line\u2028separator".encode(),
    # of four bytes each; composed and not, which some systems take for one; as long as a name may be
    "🔧🚛".encode(), ("🚛" * 62).encode(), "é".encode(), "e\u0301".encode(), b"x" * 250,
    # for whoever puts it into a page, a sheet, a document, a query, a format or a shell
    b"<img src=x onerror=alert(1)>", b"&amp;&#0;", b"=1+1", b"+cmd|' -C calc'!A0", b"@SUM(A1)", b"-1",
    b"'; DROP TABLE jobs; --", b"%s%n{0}{job}", b"{{7*7}}", b"$(touch evil)", b"`id`", b"--out", b"]]><w:p",
)  # fmt: skip


def made(folder: Path) -> dict[str, bytes]:
    """A recording and a photo of each name; their digests, by name."""
    folder.mkdir(parents=True)
    found = {}
    for nth, stem in enumerate(STEMS):
        for suffix in (".wav", ".png"):
            path = folder / os.fsdecode(stem + suffix.encode())
            if suffix == ".wav":
                with wave.open(str(path), "wb") as file:
                    file.setparams((1, 2, 16000, 0, "NONE", ""))
                    file.writeframes(np.full(3200, 1000 + nth, "<i2").tobytes())
            else:
                Image.new("RGB", (80 + nth, 60), (nth, 90, 90)).save(path, "PNG")
            found[path.name] = path.read_bytes()
    assert len(found) == 2 * len(STEMS)
    return found


def through_run(root: Path) -> list[str]:
    """What `jobnotes run` makes of them that it shouldn't."""
    place = Place(root)
    given = made(place.given)
    place.disk.mkdir()
    beside = {path.name for path in root.iterdir()}
    seen = watched(lambda: scenarios.run_with_all_files(place), root / "nothing")
    again = watched(lambda: scenarios.migrate(place), root / "nothing")
    return [
        *_said(seen.status, seen.said, (0, 1)),
        *_said(again.status, again.said, (0,)),
        *scenarios.misfits(place),
        *_not_kept(place.library, given),
        *(f"made beside it: {path}" for path in root.iterdir() if path.name not in beside),
        *_drawn(place, given),
    ]


def _drawn(place: Place, given: dict[str, bytes]) -> Iterator[str]:
    record = json.loads((place.out / "record.json").read_text("utf-8"))
    named = {entry["sha256"] for key in ("notes", "photos") for entry in record[key]}
    missing = {hashlib.sha256(content).hexdigest() for content in given.values()} - named
    if missing:
        yield f"not in the record: {len(missing)}"
    for path in place.out.glob("*.docx"):
        body = etree.tostring(Document(str(path)).element, encoding="unicode")
        if re.search("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u202e\u2066]", body):
            yield f"{path.name} has control characters"
    for sheet in place.out.glob("*.xlsx"):
        for row in openpyxl.load_workbook(sheet).active.iter_rows():
            yield from (f"formula in {sheet.name}: {c.value}" for c in row if c.data_type == "f")


def through_upload(root: Path) -> list[str]:
    """What an upload makes of them that it shouldn't: a phone names them in JSON, so as text."""
    place = Place(root)
    given = made(place.given)
    place.disk.mkdir()

    def act() -> None:
        browser = Browser(place, "technician")
        for nth, (name, content) in enumerate(given.items()):
            if nth % 40 == 0:  # a job has its bounds
                job = browser.answer("POST", "/api/jobs", json={"number": f"4{nth}"})["id"]
            _sent(browser, job, f"upload-{nth:04}", name, content)
        for page in ("/", *(f"/card/{row.id}" for row in browser.app.state.store.jobs())):
            browser.answer("GET", page)

    seen = watched(act, root / "nothing")
    sent = list(place.library.glob("serve/jobs/*/given/*"))
    digests = {hashlib.sha256(path.read_bytes()).hexdigest() for path in sent}
    lost = {hashlib.sha256(content).hexdigest() for content in given.values()} - digests
    return [
        *_said(seen.status, seen.said, (0,)),
        *([f"not there: {len(lost)}"] if lost else []),
        *(f"name: {path.name!r}" for path in sent if not re.fullmatch(r"[0-9A-Za-z_.-]{1,80}", path.name)),
    ]


def _sent(browser: Browser, job: str, upload: str, name: str, content: bytes) -> None:
    address = f"/api/jobs/{job}/uploads/{upload}"
    browser.answer("PUT", address, content=content, headers={"Upload-Offset": "0"})
    told = {
        "name": name,
        "kind": "recording" if name.endswith(".wav") else "photo",
        "sha256": hashlib.sha256(content).hexdigest(),
        "bytes": len(content),
        "started_at": "2031-04-07T09:31:00+01:00",
        "clock_difference_s": 0.0,
    }
    # as a browser does: what is no character is written as an escape
    headers = {"Content-Type": "application/json"}
    browser.answer("POST", f"{address}/complete", content=json.dumps(told).encode("ascii"), headers=headers)


def _not_kept(library: Path, given: dict[str, bytes]) -> Iterator[str]:
    store = MediaStore(library / "media")
    with Library.open(library, create=False):
        for name, content in given.items():
            if not store.has(hashlib.sha256(content).hexdigest()):
                yield f"not kept: {name!r}"


def _said(status: int, said: str, well: tuple[int, ...]) -> Iterator[str]:
    if status not in well:
        yield f"ended with {status}: {said[-800:]}"
    if "Traceback" in said:
        yield f"a traceback: {said[-800:]}"
    if odd := [line for line in said.split("\n") if not line.isprintable()]:
        yield f"said what can't be printed: {odd[:3]}"


#: what is done with the names → what it makes of them
WAYS = {"run": through_run, "upload": through_upload}
