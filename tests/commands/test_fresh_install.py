"""jobnotes as somebody else gets it: a wheel, in a new environment, away from the source."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from command_line import ROOT, record_in

pytestmark = pytest.mark.fresh

VERSIONS = ["3.11", "3.12", "3.13"]
DOCUMENTS = {"claim.docx", "customer.docx", "workshop.docx"}


def candidates(version: str) -> Iterator[str]:
    """Where an interpreter of that version may be: this one, on the path, or with pyenv."""
    yield sys.executable
    yield from filter(None, [shutil.which(f"python{version}")])
    pyenv = Path(os.environ.get("PYENV_ROOT", Path.home() / ".pyenv")) / "versions"
    yield from (str(path) for path in sorted(pyenv.glob(f"{version}.*/bin/python{version}")))


def interpreter(version: str) -> str:
    """An interpreter of that version which can make an environment; the test is skipped if there is none."""
    ask = "import ensurepip, sys, venv; print('%d.%d' % sys.version_info[:2])"
    for candidate in candidates(version):
        answer = subprocess.run([candidate, "-c", ask], capture_output=True, text=True, check=False)
        if answer.stdout.strip() == version:
            return candidate
    pytest.skip(f"no Python {version} here")


def ran(*command: str | Path, cwd: Path, **environment: str) -> str:
    kept = {k: v for k, v in os.environ.items() if not k.startswith(("PYTHON", "JOBNOTES", "VIRTUAL_ENV"))}
    done = subprocess.run(
        [str(part) for part in command],
        cwd=cwd,
        env={**kept, "PIP_DISABLE_PIP_VERSION_CHECK": "1", **environment},
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        encoding="utf-8",
        check=False,
    )
    assert done.returncode == 0, done.stdout[-4000:]
    return done.stdout


def environment(folder: Path, version: str) -> Path:
    """The `bin` folder of a new virtual environment."""
    ran(interpreter(version), "-m", "venv", folder, cwd=folder.parent)
    return folder / ("Scripts" if os.name == "nt" else "bin")


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Built from a copy, so that the source is left as it is."""
    folder = tmp_path_factory.mktemp("build")
    left_out = shutil.ignore_patterns(".*", "tests", "demo-out", "dist", "__pycache__", "models")
    shutil.copytree(ROOT, folder / "source", ignore=left_out)
    ran(sys.executable, "-m", "pip", "wheel", "-q", "--no-deps", "-w", folder, folder / "source", cwd=folder)
    (built,) = folder.glob("jobnotes-*.whl")
    return built


@pytest.mark.parametrize("version", VERSIONS)
def test_the_wheel_runs_the_demo_from_any_folder(wheel: Path, tmp_path: Path, version: str) -> None:
    bin_ = environment(tmp_path / "venv", version)
    ran(bin_ / "python", "-m", "pip", "install", "-q", wheel, cwd=tmp_path)
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    # no program on PATH is needed, ffmpeg least of all
    told = ran(
        bin_ / "jobnotes", "demo", "--out", "result", cwd=elsewhere, PATH=str(bin_), HOME=str(tmp_path)
    )
    assert "5 notes, 7 photos" in told
    assert {path.name for path in (elsewhere / "result").iterdir()} == {"record.json", "library", *DOCUMENTS}
    assert record_in(elsewhere / "result")["problems"] == []
    verified = ran(bin_ / "jobnotes", "verify", "--out", "result", cwd=elsewhere)
    assert "Everything fits" in verified


@pytest.mark.parametrize(
    "version", [v for v in VERSIONS if v != f"{sys.version_info[0]}.{sys.version_info[1]}"]
)
def test_the_default_tests_pass_with_other_versions_of_python(
    wheel: Path, tmp_path: Path, version: str
) -> None:
    bin_ = environment(tmp_path / "venv", version)
    ran(bin_ / "python", "-m", "pip", "install", "-q", f"jobnotes[test] @ {wheel.as_uri()}", cwd=tmp_path)
    left_out = shutil.ignore_patterns(".git", ".venv", ".*_cache", "demo-out", "dist", "__pycache__")
    shutil.copytree(ROOT, tmp_path / "source", ignore=left_out)
    told = ran(bin_ / "python", "-m", "pytest", cwd=tmp_path / "source")
    assert " passed" in told.splitlines()[-1]


def test_the_wheel_holds_the_sample_media_and_the_data_and_no_tests(wheel: Path) -> None:
    import zipfile

    names = zipfile.ZipFile(wheel).namelist()
    assert {Path(n).parts[0] for n in names if ".dist-info" not in n} == {"jobnotes"}
    assert "jobnotes/sample_media/job/put-back.m4a" in names
    assert "jobnotes/data/claim_policy.toml" in names
    for shipped in (ROOT / "jobnotes").rglob("*"):
        if shipped.is_file() and "__pycache__" not in shipped.parts:
            assert shipped.relative_to(ROOT).as_posix() in names
