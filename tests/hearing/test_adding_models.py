"""Adding a model: whole or not at all, and nothing gets out of its folder."""

from __future__ import annotations

import functools
import hashlib
import http.server
import json
import stat
import threading
import zipfile
from pathlib import Path

import pytest

from jobnotes.errors import JobnotesError
from jobnotes.hearing import adding, recogniser
from jobnotes.hearing.adding import add
from jobnotes.hearing.catalogue import catalogue
from jobnotes.hearing.download import fetch, published_md5
from jobnotes.hearing.weights import PackagedWeights

MODEL = {"am/final.mdl": b"a" * 50, "conf/mfcc.conf": b"b" * 50, "graph/HCLG.fst": b"c" * 50}


@pytest.fixture
def models(tmp_path) -> Path:
    return tmp_path / "models"


@pytest.fixture
def untried(monkeypatch):
    """Made-up files have a model's shape but can't be loaded: leave the trial out."""
    monkeypatch.setattr(adding, "_try", lambda model, name: None)


def zipped(path: Path, files: dict[str, bytes], pack: int = zipfile.ZIP_DEFLATED) -> Path:
    with zipfile.ZipFile(path, "w", pack) as out:
        for name, content in files.items():
            out.writestr(name, content)
    return path


def in_folder(name: str, files: dict[str, bytes] = MODEL) -> dict[str, bytes]:
    return {f"{name}/{file}": content for file, content in files.items()}


def nothing_left(models: Path) -> bool:
    return not models.exists() or list(models.iterdir()) == []


def test_a_real_model_is_added_from_its_zip_and_can_be_used(tmp_path, models):
    source = Path(PackagedWeights(catalogue().packaged_as("tiny.en")).place()[0])
    files = {p.name: p.read_bytes() for p in source.iterdir() if p.is_file()}
    added = add(
        str(zipped(tmp_path / "any.zip", in_folder("small-one", files), zipfile.ZIP_STORED)), to=models
    )
    assert (added.name, added.engine, added.path) == (
        "small-one",
        "whisper",
        (models / "small-one").resolve(),
    )
    assert [p.name for p in models.iterdir()] == ["small-one"]
    assert recogniser("small-one", folders=[models]).stamp.model == "small-one"


def test_a_folder_is_copied_and_left_as_it_was(tmp_path, models, untried):
    source = tmp_path / "given"
    for name, content in MODEL.items():
        (source / name).parent.mkdir(parents=True, exist_ok=True)
        (source / name).write_bytes(content)
    add(str(source), to=models)
    for folder in (source, models / "given"):
        assert {
            p.relative_to(folder).as_posix(): p.read_bytes() for p in folder.rglob("*.*") if p.is_file()
        } == MODEL


def test_a_model_at_the_top_of_its_zip_is_named_as_the_zip(tmp_path, models, untried):
    added = add(str(zipped(tmp_path / "workshop-model.zip", MODEL)), to=models)
    assert added.name == "workshop-model"


def test_only_the_model_is_taken_from_a_zip(tmp_path, models, untried):
    pack = in_folder("deep/inside/model-1") | {"readme.txt": b"hello", "run.sh": b"rm"}
    add(str(zipped(tmp_path / "x.zip", pack)), to=models)
    assert [p.name for p in models.iterdir()] == ["model-1"]


def test_what_has_the_shape_of_a_model_but_is_none_is_found_out_by_trying_it(tmp_path, models):
    with pytest.raises(JobnotesError, match="doesn't work as a model") as raised:
        add(str(zipped(tmp_path / "fake.zip", in_folder("fake"))), to=models)
    assert "\n" not in str(raised.value)
    assert nothing_left(models)


def test_a_model_that_is_there_is_not_overwritten(tmp_path, models, untried):
    pack = zipped(tmp_path / "m.zip", in_folder("m"))
    add(str(pack), to=models)
    (models / "m" / "mine").write_text("kept")
    with pytest.raises(JobnotesError, match="is there already"):
        add(str(pack), to=models)
    assert (models / "m" / "mine").read_text() == "kept"
    assert [p.name for p in models.iterdir()] == ["m"]


@pytest.mark.parametrize(
    "name",
    [
        "../escaped",
        "m/../../escaped",
        "/tmp/escaped",
        "C:/escaped",
        "..\\escaped",
        "m\\..\\..\\escaped",
        "m/a\nb",
    ],
)
def test_no_path_of_a_zip_gets_out_of_its_folder(tmp_path, models, untried, name):
    pack = zipped(tmp_path / "bad.zip", in_folder("m") | {"placeholder.txt": b"x"})
    # the name is written as it is, which zipfile itself wouldn't do for all of them
    raw = pack.read_bytes()
    padded = name.encode().ljust(len("placeholder.txt"), b"d")[: len("placeholder.txt")]
    pack.write_bytes(raw.replace(b"placeholder.txt", padded))
    before = set(tmp_path.rglob("*")) | {models}
    with pytest.raises(JobnotesError, match="leads out of it"):
        add(str(pack), to=models)
    assert set(tmp_path.rglob("*")) - before == set()
    assert nothing_left(models)


def test_a_link_in_a_zip_is_refused(tmp_path, models, untried):
    path = tmp_path / "link.zip"
    zipped(path, in_folder("m"))
    with zipfile.ZipFile(path, "a") as out:
        link = zipfile.ZipInfo("m/secret")
        link.external_attr = (stat.S_IFLNK | 0o777) << 16
        out.writestr(link, "/etc/passwd")
    with pytest.raises(JobnotesError, match="link"):
        add(str(path), to=models)
    assert nothing_left(models)


def test_a_zip_that_swells_is_refused_before_it_is_written(tmp_path, models, untried):
    pack = zipped(tmp_path / "swells.zip", in_folder("m") | {"m/zeros": b"\0" * 60_000_000})
    assert pack.stat().st_size < 100_000
    with pytest.raises(JobnotesError, match="far more than a model"):
        add(str(pack), to=models)
    assert nothing_left(models)


def test_a_zip_that_understates_a_size_is_refused(tmp_path, models, untried):
    pack = zipped(tmp_path / "lies.zip", in_folder("m") | {"m/big": b"\0" * 3_000_000})
    raw = bytearray(pack.read_bytes())
    true_size = (3_000_000).to_bytes(4, "little")
    assert raw.count(true_size) == 2  # beside the file, and in the list at the end
    pack.write_bytes(bytes(raw).replace(true_size, (1_000).to_bytes(4, "little")))
    with pytest.raises(JobnotesError, match=r"lies\.zip"):
        add(str(pack), to=models)
    assert nothing_left(models)


def locked(pack: Path) -> Path:
    raw = bytearray(pack.read_bytes())
    for mark, at in ((b"PK\x03\x04", 6), (b"PK\x01\x02", 8)):
        start = 0
        while (found := raw.find(mark, start)) >= 0:
            raw[found + at] |= 1
            start = found + 4
    pack.write_bytes(bytes(raw))
    return pack


def broken(pack: Path) -> Path:
    raw = bytearray(pack.read_bytes())
    raw[60:70] = b"\xff" * 10
    pack.write_bytes(bytes(raw))
    return pack


def cut(pack: Path) -> Path:
    pack.write_bytes(pack.read_bytes()[:-30])
    return pack


@pytest.mark.parametrize("damage", [locked, broken, cut])
def test_a_zip_that_cannot_be_read_is_named_in_one_line(tmp_path, models, untried, damage):
    pack = damage(
        zipped(tmp_path / "bad.zip", in_folder("m", MODEL | {"am/final.mdl": bytes(range(256)) * 8}))
    )
    with pytest.raises(JobnotesError, match=r"bad\.zip") as raised:
        add(str(pack), to=models)
    assert "\n" not in str(raised.value)
    assert nothing_left(models)


@pytest.mark.parametrize(
    ("files", "said"),
    [
        ({"readme.txt": b"x"}, "holds no model"),
        (in_folder("one") | in_folder("two"), "holds 2 models"),
        ({}, "holds no model"),
        (in_folder("m") | {"M/../m/am/final.mdl": b"x"}, "leads out"),
    ],
)
def test_a_zip_must_hold_exactly_one_model(tmp_path, models, untried, files, said):
    with pytest.raises(JobnotesError, match=said):
        add(str(zipped(tmp_path / "x.zip", files)), to=models)
    assert nothing_left(models)


@pytest.mark.filterwarnings("ignore:Duplicate name")
def test_a_zip_that_names_a_file_twice_is_refused(tmp_path, models, untried):
    pack = zipped(tmp_path / "twice.zip", in_folder("m"))
    with zipfile.ZipFile(pack, "a") as out:
        out.writestr("m/am/final.mdl", b"other")
    with pytest.raises(JobnotesError, match="names a file twice"):
        add(str(pack), to=models)
    assert nothing_left(models)


def test_a_file_that_is_no_zip_and_a_name_that_is_unknown_are_refused(tmp_path, models):
    (tmp_path / "text.zip").write_text("hello")
    with pytest.raises(JobnotesError, match="not a zip"):
        add(str(tmp_path / "text.zip"), to=models)
    with pytest.raises(JobnotesError, match="neither a model's folder"):
        add("vosk-model-of-nobody", to=models)
    assert nothing_left(models)


def test_a_place_that_cannot_be_written_is_named(tmp_path, untried):
    (tmp_path / "file").write_text("")
    with pytest.raises(JobnotesError, match=r"file.*can't be written"):
        add(str(zipped(tmp_path / "m.zip", in_folder("m"))), to=tmp_path / "file" / "models")


# --- fetching, from a server on this machine -------------------------------------------------------


class Publisher(http.server.BaseHTTPRequestHandler):
    """Serves `content` by path. Breaks off after `breaks` bytes once for each number in the list."""

    def __init__(self, content: dict[str, bytes], breaks: list[int], asked: list, *args) -> None:
        self.content, self.breaks, self.asked = content, breaks, asked
        super().__init__(*args)

    def do_GET(self) -> None:
        self.asked.append((self.path, self.headers.get("Range")))
        if self.path not in self.content:
            self.send_error(404)
            return
        whole = self.content[self.path]
        begin = 0
        if (wanted := self.headers.get("Range")) and self.headers.get("If-Range") == '"v1"':
            begin = int(wanted.removeprefix("bytes=").rstrip("-"))
            self.send_response(206)
            self.send_header("Content-Range", f"bytes {begin}-{len(whole) - 1}/{len(whole)}")
        else:
            self.send_response(200)
        self.send_header("Content-Length", str(len(whole) - begin))
        self.send_header("ETag", '"v1"')
        self.end_headers()
        end = begin + self.breaks.pop(0) if self.breaks else len(whole)
        self.wfile.write(whole[begin:end])

    def log_message(self, *args) -> None:
        pass


@pytest.fixture
def publisher():
    content: dict[str, bytes] = {}
    breaks: list[int] = []
    asked: list = []
    handler = functools.partial(Publisher, content, breaks, asked)
    server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), handler)
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    server.content, server.breaks, server.asked = content, breaks, asked
    server.address = f"http://127.0.0.1:{server.server_address[1]}"
    yield server
    server.shutdown()
    server.server_close()
    thread.join()


DATA = bytes(range(256)) * 4000


def test_a_file_is_fetched_and_its_progress_told(publisher, tmp_path):
    publisher.content["/m.zip"] = DATA
    told: list = []
    fetch(f"{publisher.address}/m.zip", tmp_path / "m", most_bytes=9**9, fetched=lambda *t: told.append(t))
    assert (tmp_path / "m").read_bytes() == DATA
    assert told == sorted(told)
    assert told[-1] == (len(DATA), len(DATA))


def test_a_connection_that_breaks_off_is_taken_up_where_it_ended(publisher, tmp_path):
    publisher.content["/m.zip"] = DATA
    publisher.breaks += [300_000, 400_000]
    fetch(f"{publisher.address}/m.zip", tmp_path / "m", most_bytes=9**9)
    assert (tmp_path / "m").read_bytes() == DATA
    assert [wanted for _, wanted in publisher.asked] == [None, "bytes=300000-", "bytes=700000-"]


def test_a_connection_that_keeps_breaking_leaves_nothing_behind(publisher, tmp_path):
    publisher.content["/m.zip"] = DATA
    publisher.breaks += [1000] * 9
    with pytest.raises(JobnotesError, match=r"can't be reached.*download it on a machine with a network"):
        fetch(f"{publisher.address}/m.zip", tmp_path / "m", most_bytes=9**9)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("path", "most", "said"), [("/gone.zip", 9**9, "404"), ("/m.zip", 1000, "is larger than")]
)
def test_what_is_gone_or_too_large_is_not_fetched(publisher, tmp_path, path, most, said):
    publisher.content["/m.zip"] = DATA
    with pytest.raises(JobnotesError, match=said):
        fetch(publisher.address + path, tmp_path / "m", most_bytes=most)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("address", ["file:///etc/passwd", "ftp://127.0.0.1/x", "m.zip"])
def test_only_the_web_is_fetched_from(tmp_path, address):
    with pytest.raises(JobnotesError, match="not a web address"):
        fetch(address, tmp_path / "m", most_bytes=9)


def test_a_published_digest_is_read_from_the_list_and_its_lack_is_no_error(publisher):
    publisher.content["/list"] = json.dumps([{"name": "m", "md5": "ABC"}, {"name": "n"}, "odd"]).encode()
    publisher.content["/odd"] = b"<html>"
    assert published_md5(f"{publisher.address}/list", "m") == "abc"
    assert published_md5(f"{publisher.address}/list", "n") is None
    assert published_md5(f"{publisher.address}/odd", "m") is None
    assert published_md5(f"{publisher.address}/none", "m") is None
    assert published_md5("http://127.0.0.1:9/", "m") is None


@pytest.mark.parametrize("digest", ["right", "wrong", "none"])
def test_a_known_model_is_fetched_checked_and_added(
    publisher, tmp_path, models, untried, monkeypatch, digest
):
    pack = zipped(tmp_path / "x.zip", in_folder("known-1")).read_bytes()
    publisher.content["/known-1.zip"] = pack
    md5 = {"right": hashlib.md5(pack).hexdigest(), "wrong": "0" * 32, "none": None}[digest]
    publisher.content["/list"] = json.dumps([{"name": "known-1", "md5": md5}]).encode()
    known = published_here(publisher, monkeypatch)
    if digest == "wrong":
        with pytest.raises(JobnotesError, match="not what its publisher's digest says"):
            add(known, to=models)
        assert nothing_left(models)
    else:
        assert add(known, to=models).path == models / "known-1"
        assert [p.name for p in models.iterdir()] == ["known-1"]


def published_here(publisher, monkeypatch) -> str:
    from dataclasses import replace

    shipped = catalogue()
    model = replace(shipped.known[0], name="known-1", address=f"{publisher.address}/known-1.zip")
    changed = replace(shipped, known=(model,), vosk=replace(shipped.vosk, list=f"{publisher.address}/list"))
    monkeypatch.setattr(adding, "catalogue", lambda: changed)
    return "known-1"
