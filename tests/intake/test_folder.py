"""A folder is read whole, and only that folder."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from made_sounds import chunk, pcm16, pcm_format, riff, tone
from PIL import Image

from jobnotes.errors import JobnotesError, UnusableInputError
from jobnotes.intake.folder import scan

SOUND = riff(pcm_format(), chunk(b"data", pcm16(tone(0.2, 16_000))))


def put(folder: Path, *names: str, content: bytes = SOUND) -> None:
    for name in names:
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(content)


def names(folder: Path, paths: tuple[Path, ...]) -> list[str]:
    return [path.relative_to(folder).as_posix() for path in paths]


def test_recordings_and_photos_are_found_in_order_of_their_names(tmp_path: Path) -> None:
    put(tmp_path, "b.wav", "A.WAV", "c.M4A", "sub/a.ogg", "sub/deep/z.mp3", "notes.txt", "sheet.pdf")
    for name in ("2.JPG", "1.jpeg", "sub/3.png", "4.webp"):
        Image.new("RGB", (4, 4)).save(tmp_path / name)
    seen: list[Path] = []
    contents = scan(tmp_path, progress=seen.append)
    assert names(tmp_path, contents.recordings) == ["A.WAV", "b.wav", "c.M4A", "sub/a.ogg", "sub/deep/z.mp3"]
    assert names(tmp_path, contents.photos) == ["1.jpeg", "2.JPG", "4.webp", "sub/3.png"]
    assert contents.problems == ()
    assert set(contents.recordings) | set(contents.photos) <= set(seen)
    assert scan(tmp_path) == contents


def test_hidden_files_and_folders_are_passed_over(tmp_path: Path) -> None:
    put(tmp_path, "a.wav", ".b.wav", "._a.wav", ".trash/c.wav", "sub/.hidden/d.wav")
    assert names(tmp_path, scan(tmp_path).recordings) == ["a.wav"]


def test_a_file_is_what_its_content_says(tmp_path: Path) -> None:
    Image.new("RGB", (4, 4)).save(tmp_path / "picture.png")
    (tmp_path / "picture.png").rename(tmp_path / "picture.m4a")
    put(tmp_path, "sound.jpg", "sound without extension", "sound.txt")
    contents = scan(tmp_path)
    assert names(tmp_path, contents.photos) == ["picture.m4a"]
    assert names(tmp_path, contents.recordings) == ["sound without extension", "sound.jpg"]


def test_what_is_neither_keeps_the_kind_its_extension_says(tmp_path: Path) -> None:
    put(tmp_path, "empty.m4a", content=b"")
    put(tmp_path, "text.m4a", "text.jpg", content=b"Dear workshop")
    contents = scan(tmp_path)
    assert names(tmp_path, contents.recordings) == ["empty.m4a", "text.m4a"]
    assert names(tmp_path, contents.photos) == ["text.jpg"]


def test_a_folder_named_like_a_recording_is_named_and_looked_into(tmp_path: Path) -> None:
    put(tmp_path, "x.m4a/a.wav")
    assert names(tmp_path, scan(tmp_path).recordings) == ["x.m4a", "x.m4a/a.wav"]


def test_evidence_in_a_format_that_is_not_read_is_named(tmp_path: Path) -> None:
    put(tmp_path, "a.wav", "dictation.dss", "sub/scan.tiff", "letter.docx")
    problems = scan(tmp_path).problems
    assert [problem.file for problem in problems] == ["dictation.dss", "sub/scan.tiff"]
    assert "wav" in problems[0].message
    assert "jpeg" in problems[1].message


def link(at: Path, to: Path) -> None:
    try:
        at.symlink_to(to, target_is_directory=to.is_dir())
    except OSError:
        pytest.skip("links can't be made here")


def test_links_are_not_followed_out_of_the_folder(tmp_path: Path) -> None:
    inside, outside = tmp_path / "in", tmp_path / "out"
    put(outside, "private.wav")
    put(inside, "sub/a.wav")
    link(inside / "b.wav", outside / "private.wav")
    link(inside / "others", outside)
    link(inside / "c.wav", inside / "sub" / "a.wav")
    link(inside / "up", inside)
    link(inside / "loop.wav", inside / "loop.wav")
    contents = scan(inside)
    assert names(inside, contents.recordings) == ["c.wav", "sub/a.wav"]
    assert {problem.file for problem in contents.problems} == {"b.wav", "loop.wav", "others"}
    assert not any("private" in problem.message for problem in contents.problems)


def test_a_link_to_the_folder_itself_is_followed(tmp_path: Path) -> None:
    put(tmp_path / "real", "a.wav")
    link(tmp_path / "linked", tmp_path / "real")
    assert names(tmp_path / "linked", scan(tmp_path / "linked").recordings) == ["a.wav"]


@pytest.mark.parametrize("case", ["missing", "file", "empty", "photos only"])
def test_nothing_can_be_done_without_a_recording(tmp_path: Path, case: str) -> None:
    folder = tmp_path / "job"
    if case == "file":
        folder.write_bytes(SOUND)
    elif case != "missing":
        folder.mkdir()
        if case == "photos only":
            Image.new("RGB", (4, 4)).save(folder / "a.jpg")
    with pytest.raises(JobnotesError) as caught:
        scan(folder)
    assert not isinstance(caught.value, UnusableInputError)
    assert caught.value.subject == str(folder)
    if folder.is_dir():
        for said in ("m4a", "mp3", "ogg", "webm", "amr", "3gp", "flac", "wav"):
            assert said in caught.value.remedy


def test_a_folder_inside_that_may_not_be_listed_is_named(tmp_path: Path) -> None:
    if not hasattr(os, "geteuid"):
        pytest.skip("no permissions of that kind here")
    # pytest's own folders are closed to others, and root is allowed everything
    for folder in (tmp_path, *(p for p in tmp_path.parents if p.name.startswith(("pytest-", "popen-")))):
        folder.chmod(0o755)
    put(tmp_path, "a.wav", "closed/b.wav")
    (tmp_path / "closed").chmod(0)
    as_root = os.geteuid() == 0
    try:
        if as_root:
            os.seteuid(65_534)
        contents = scan(tmp_path)
    finally:
        if as_root:
            os.seteuid(0)
        (tmp_path / "closed").chmod(0o755)
    assert names(tmp_path, contents.recordings) == ["a.wav"]
    assert [problem.file for problem in contents.problems] == ["closed"]
