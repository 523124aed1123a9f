from __future__ import annotations

import hashlib
import os
import resource
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from library_jobs import in_child, kill_self

from jobnotes.errors import JobnotesError, UnusableInputError
from jobnotes.library.media import MediaStore


@pytest.fixture
def store(tmp_path: Path) -> MediaStore:
    return MediaStore(tmp_path / "media")


def whole_files(store: MediaStore) -> list[Path]:
    return [p for p in store.folder.rglob("*") if p.is_file() and not p.name.startswith(".")]


@pytest.mark.parametrize(
    ("content", "digest"),
    [
        # NIST, example computations for FIPS 180-4 (SHA-256): one block message "abc"
        (b"abc", "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"),
        # the same: two block message
        (
            b"abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq",
            "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1",
        ),
        # FIPS 180-2, appendix B.3: one million times "a" (longer than nothing, shorter than a chunk)
        (b"a" * 1_000_000, "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0"),
    ],
)
def test_an_original_lies_under_the_published_digest_of_its_bytes(
    store: MediaStore, tmp_path: Path, content: bytes, digest: str
) -> None:
    given = tmp_path / "note.M4A"
    given.write_bytes(content)
    assert store.keep(given) == digest
    kept = store.path_of(digest)
    assert kept == store.folder / digest[:2] / f"{digest}.m4a"
    assert kept.read_bytes() == content


def test_keeping_leaves_what_was_given_as_it_was(store: MediaStore, recording: Path) -> None:
    before = recording.stat(), recording.read_bytes()
    store.keep(recording)
    after = recording.stat()
    assert (after.st_ino, after.st_mtime_ns, after.st_mode) == (
        before[0].st_ino,
        before[0].st_mtime_ns,
        before[0].st_mode,
    )
    assert recording.read_bytes() == before[1]


def test_an_original_is_read_only(store: MediaStore, recording: Path) -> None:
    kept = store.path_of(store.keep(recording))
    # the rights of its library's folder, without any to write
    assert kept.stat().st_mode & 0o777 == 0o400


def test_the_same_bytes_under_another_name_are_the_same_original(store: MediaStore, tmp_path: Path) -> None:
    for name in ("a.m4a", "b.mp4", "no suffix", "odd.s p;"):
        (tmp_path / name).write_bytes(b"the same")
    digests = {store.keep(tmp_path / name) for name in ("a.m4a", "b.mp4", "no suffix", "odd.s p;")}
    assert len(digests) == 1
    assert len(whole_files(store)) == 1


@pytest.mark.parametrize("name", ["x.m4a", "x.", "x", "x.tar;rm", "x.toolongsuffix", "x.\u202e4pm", "x.é"])
def test_only_a_plain_suffix_is_carried_over(store: MediaStore, tmp_path: Path, name: str) -> None:
    (tmp_path / name).write_bytes(b"x")
    kept = store.path_of(store.keep(tmp_path / name))
    assert kept.name.partition(".")[0] == hashlib.sha256(b"x").hexdigest()
    assert kept.suffix in ("", ".m4a")


def test_a_changed_original_is_found_and_healed_when_it_is_given_again(
    store: MediaStore, recording: Path, photo: Path
) -> None:
    digest, other = store.keep(recording), store.keep(photo)
    kept = store.path_of(digest)
    kept.chmod(0o644)
    with kept.open("r+b") as file:
        file.seek(50)
        file.write(b"!")
    assert list(store.verify()) == [digest]
    assert not store.fits(digest)
    assert store.fits(other)
    store.keep(recording)
    assert list(store.verify()) == []
    assert store.path_of(digest).read_bytes() == recording.read_bytes()


def test_an_unknown_digest_is_a_key_error_even_if_it_looks_like_a_path(store: MediaStore) -> None:
    for name in ("0" * 64, "", "../../etc/passwd", "*"):
        with pytest.raises(KeyError):
            store.path_of(name)


def test_what_is_no_file_is_refused_in_one_line(store: MediaStore, tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.wav")
    (tmp_path / "folder.wav").mkdir()
    for name in ("pipe.wav", "folder.wav", "missing.wav"):
        with pytest.raises(UnusableInputError, match=name) as caught:
            store.keep(tmp_path / name)
        assert "\n" not in str(caught.value)


def test_a_store_that_cannot_be_written_is_told_with_a_remedy(tmp_path: Path, recording: Path) -> None:
    (tmp_path / "media").write_text("a file where the folder should be")
    with pytest.raises(JobnotesError, match="--library"):
        MediaStore(tmp_path / "media").keep(recording)


def test_a_full_disk_leaves_no_half_original(store: MediaStore, tmp_path: Path) -> None:
    given = tmp_path / "long.wav"
    given.write_bytes(bytes(3_000_000))

    def keep_with_little_room() -> None:
        # the system refuses the write in mid-file, as a full disk does
        resource.setrlimit(resource.RLIMIT_FSIZE, (2_000_000, 2_000_000))
        with pytest.raises(JobnotesError, match="make room"):
            store.keep(given)

    assert in_child(keep_with_little_room) == 0
    assert [p for p in store.folder.rglob("*") if p.is_file()] == []
    assert store.fits(store.keep(given))


def test_a_kill_at_any_step_leaves_whole_originals_only(tmp_path: Path, recording: Path) -> None:
    digest = hashlib.sha256(recording.read_bytes()).hexdigest()

    def keep_until(step: int, store: MediaStore) -> None:
        left = step

        def count(event: str, _: object) -> None:
            nonlocal left
            if event == "open" or event.startswith(("os.", "tempfile.")):
                left -= 1
                if left == 0:
                    kill_self()

        sys.addaudithook(count)
        store.keep(recording)

    step = 1
    while True:
        store = MediaStore(tmp_path / f"media{step}")
        ended = in_child(lambda step=step, store=store: keep_until(step, store))  # type: ignore[misc]
        for path in whole_files(store):
            assert path.name == f"{digest}.wav"
            assert path.read_bytes() == recording.read_bytes()
        assert store.keep(recording) == digest
        assert list(store.verify()) == []
        if ended == 0:
            break
        assert ended == -signal.SIGKILL
        step += 1
    assert step > 5  # read, copy, rename … : the kill did fall between them


@contextmanager
def keeping(store: MediaStore, given: Path) -> Iterator[subprocess.Popen[bytes]]:
    """A process that keeps `given`, and is killed when the test has seen what it waited for."""
    run = "import sys; from pathlib import Path; from jobnotes.library.media import MediaStore as M;"
    child = subprocess.Popen(
        [sys.executable, "-c", f"{run} M(Path(sys.argv[1])).keep(Path(sys.argv[2]))", store.folder, given]
    )
    try:
        yield child
    finally:
        child.kill()
        child.wait()


@pytest.fixture
def long_recording(tmp_path: Path) -> Path:
    path = tmp_path / "shift.wav"
    with path.open("wb") as file:
        file.truncate(300_000_000)
    return path


def test_a_kill_in_the_middle_of_the_copy_leaves_nothing_under_the_final_name(
    store: MediaStore, long_recording: Path
) -> None:
    with keeping(store, long_recording) as child:
        while not any(half.stat().st_size > 1_000_000 for half in store.folder.glob(".incoming-*")):
            assert child.poll() is None
            time.sleep(0.001)
    assert whole_files(store) == []
    long_recording.write_bytes(b"shorter")
    assert store.fits(store.keep(long_recording))


def test_an_original_is_whole_from_the_moment_it_has_its_name(
    store: MediaStore, long_recording: Path
) -> None:
    with keeping(store, long_recording) as child:
        while not (there := whole_files(store)):
            assert child.poll() in (None, 0)
        child.kill()
    assert [p.stat().st_size for p in there] == [300_000_000]
    assert list(store.verify()) == []


def test_half_copies_are_cleared_once_nobody_can_be_making_them(store: MediaStore) -> None:
    store.folder.mkdir()
    old, young = store.folder / ".incoming-old", store.folder / ".incoming-young"
    for half in (old, young):
        half.write_bytes(b"half")
    os.utime(old, (time.time() - 7 * 24 * 3600,) * 2)
    store.clear_abandoned()
    assert not old.exists()
    assert young.exists()
