"""A recording is dated by the best evidence there is, and what can't be heard of it is said."""

from __future__ import annotations

import os
import shutil
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from made_sounds import (
    ENCODED,
    WITH_CREATION_TIME,
    amr_by_hand,
    bext,
    chunk,
    encode,
    make,
    pcm16,
    pcm_format,
    riff,
    tone,
)

from jobnotes.errors import UnusableInputError
from jobnotes.intake.recordings import mono_16k, open_recording

SAMPLE_JOB = Path(__file__).parents[2] / "sample_media" / "job"
HERE = ZoneInfo("Europe/Berlin")  # UTC+1 in winter, UTC+2 in summer
MORNING = datetime(2026, 11, 3, 8, 15, 2, tzinfo=timezone(timedelta(hours=1)))
ANOTHER_DAY = datetime(2026, 11, 5, 12, 0, tzinfo=UTC)


def saved_at(path: Path, at: datetime) -> Path:
    os.utime(path, (at.timestamp(), at.timestamp()))
    return path


def wave_file(path: Path, *chunks: bytes, seconds: float = 1.0) -> Path:
    path.write_bytes(riff(pcm_format(), *chunks, chunk(b"data", pcm16(tone(seconds, 16_000)))))
    return saved_at(path, ANOTHER_DAY)


# --- when it was begun ---------------------------------------------------------------------------


@pytest.mark.parametrize("name", WITH_CREATION_TIME)
def test_the_containers_creation_time_is_utc_and_goes_before_the_name(tmp_path: Path, name: str) -> None:
    made = make(tmp_path, name, tags={"creation_time": "2026-11-03T07:15:02Z"})
    path = saved_at(made.rename(tmp_path / f"20251224_235959{made.suffix}"), ANOTHER_DAY)
    recording = open_recording(path, HERE)
    assert recording.started_at == MORNING
    assert recording.started_at.isoformat() == "2026-11-03T08:15:02+01:00"
    assert recording.started_at_source == "container"


@pytest.mark.parametrize("nonsense", ["1904-01-01T00:00:00Z", "1970-01-01T00:00:00Z", "2000-01-01T00:00:07Z"])
def test_the_creation_time_of_a_clock_that_was_never_set_is_passed_over(
    tmp_path: Path, nonsense: str
) -> None:
    made = make(tmp_path, "note.m4a", tags={"creation_time": nonsense})
    recording = open_recording(made.rename(tmp_path / "REC-20261103-081502.m4a"), HERE)
    assert (recording.started_at, recording.started_at_source) == (MORNING, "file name")


def test_a_creation_time_that_is_when_the_file_was_closed_is_put_right_by_the_name(tmp_path: Path) -> None:
    sound = tone(9.0, 44_100)
    closed = {"creation_time": "2026-11-03T07:15:11Z"}
    path = make(tmp_path, "note.m4a", sound, tags=closed).rename(tmp_path / "20261103_081502.m4a")
    recording = open_recording(path, HERE)
    assert recording.started_at_source == "container"
    assert recording.started_at == pytest.approx(MORNING, abs=timedelta(seconds=0.1))


def test_a_broadcast_wave_is_dated_by_its_origination_in_local_time(tmp_path: Path) -> None:
    """Reference: EBU Tech 3285, 2.3: OriginationDate yyyy-mm-dd, OriginationTime hh-mm-ss."""
    path = wave_file(tmp_path / "20251224_235959.wav", bext(b"2026-11-03", b"08:15:02"))
    recording = open_recording(path, HERE)
    assert (recording.started_at, recording.started_at_source) == (MORNING, "bext")


@pytest.mark.parametrize("separator", [b"-", b"_", b":", b" ", b"."])
def test_every_separator_that_the_broadcast_wave_allows_is_read(tmp_path: Path, separator: bytes) -> None:
    """Reference: EBU Tech 3285, 2.3, lists these five."""
    date, time = separator.join([b"2026", b"11", b"03"]), separator.join([b"08", b"15", b"02"])
    path = wave_file(tmp_path / "note.wav", chunk(b"JUNK", b"odd"), bext(date, time, after=b"A=PCM\r\n"))
    assert open_recording(path, HERE).started_at == MORNING


def test_a_broadcast_chunk_after_the_sound_is_found(tmp_path: Path) -> None:
    path = tmp_path / "note.wav"
    sound = chunk(b"data", pcm16(tone(1.0, 16_000)))
    path.write_bytes(riff(pcm_format(), sound, bext(b"2026-11-03", b"08:15:02")))
    assert open_recording(path, HERE).started_at_source == "bext"


@pytest.mark.parametrize(
    ("date", "time"), [(b"", b""), (b"0000-00-00", b"00:00:00"), (b"1970-01-01", b"00:00:00")]
)
def test_an_empty_origination_is_passed_over(tmp_path: Path, date: bytes, time: bytes) -> None:
    path = wave_file(tmp_path / "20261103_081502.wav", bext(date, time))
    assert open_recording(path, HERE).started_at_source == "file name"


def test_without_any_date_it_was_begun_its_duration_before_it_was_saved(tmp_path: Path) -> None:
    path = wave_file(tmp_path / "note.wav", seconds=3.0)
    recording = open_recording(path, HERE)
    assert recording.started_at == ANOTHER_DAY - timedelta(seconds=3)
    assert recording.started_at.isoformat().endswith("+01:00")
    assert recording.started_at_source == "file time"


def test_a_renamed_note_is_dated_by_its_file_with_doubt_and_named(tmp_path: Path) -> None:
    recording = open_recording(wave_file(tmp_path / "brakes.wav"), HERE)
    assert recording.started_at_doubt == "file time"
    assert recording.problem is not None
    assert recording.problem.file == "brakes.wav"
    assert f"{ANOTHER_DAY:%Y-%m-%d}" in recording.problem.message
    assert "put the date and time in its name" in recording.problem.message


def test_a_name_with_only_the_day_leaves_the_time_to_the_file_system(tmp_path: Path) -> None:
    path = wave_file(tmp_path / "AUD-20261105-0001.wav")
    recording = open_recording(path, HERE)
    assert recording.started_at == ANOTHER_DAY - timedelta(seconds=1)
    assert recording.started_at_source == "file time"
    assert (recording.started_at_doubt, recording.problem) == (None, None)


def test_a_name_with_only_the_day_of_a_file_copied_later_is_doubtful(tmp_path: Path) -> None:
    path = wave_file(tmp_path / "AUD-20261103-0001.wav")
    recording = open_recording(path, HERE)
    assert recording.started_at.date() == MORNING.date()
    assert recording.started_at_source == "file name"
    assert recording.problem is not None
    assert "2026-11-03" in recording.problem.message
    assert recording.started_at_doubt == "day only"


def test_a_second_later_is_a_second_later_across_a_change_of_the_clocks(tmp_path: Path) -> None:
    # 2026-10-25 03:00 CEST became 02:00 CET
    path = wave_file(tmp_path / "20261025_015900.wav")
    started = open_recording(path, HERE).started_at
    after = started + timedelta(hours=2)
    assert after.astimezone(UTC) - started.astimezone(UTC) == timedelta(hours=2)


# --- what is told about it -----------------------------------------------------------------------


@pytest.mark.parametrize("name", [name for name in ENCODED if name != "narrow.3gp"])
def test_its_duration_is_that_of_what_is_heard(tmp_path: Path, name: str) -> None:
    path = make(tmp_path, name)
    path = path.rename(tmp_path / f"20261103_081502{path.suffix}")
    recording = open_recording(path, HERE)
    assert recording.duration_s == pytest.approx(len(mono_16k(path)) / 16_000, abs=0.001)
    assert recording.problem is None


def test_it_has_the_name_within_the_folder_given(tmp_path: Path) -> None:
    (tmp_path / "monday").mkdir()
    path = wave_file(tmp_path / "monday" / "note.wav")
    recording = open_recording(path, HERE, folder=tmp_path)
    assert recording.file == "monday/note.wav"
    assert (recording.container, recording.codec) == ("wav", "pcm_s16le")
    assert (recording.sample_rate_hz, recording.channels) == (16_000, 1)


def test_a_wrong_extension_does_not_matter(tmp_path: Path) -> None:
    path = make(tmp_path, "note.ogg").rename(tmp_path / "note.m4a")
    assert open_recording(path, HERE).container == "ogg"


def test_a_name_that_is_no_unicode_can_be_opened(tmp_path: Path) -> None:
    name = os.fsdecode(b"note-\xff.wav")
    try:
        path = wave_file(tmp_path / name)
    except OSError:
        pytest.skip("this file system has only Unicode names")
    recording = open_recording(path, HERE)
    assert recording.duration_s == 1.0
    assert recording.file == "note-\ufffd.wav"


def test_a_tag_that_is_no_unicode_does_not_keep_a_recording_from_being_opened(tmp_path: Path) -> None:
    title = chunk(b"LIST", b"INFO" + chunk(b"INAM", "Prüfung".encode("latin-1") + b"\0"))
    assert open_recording(wave_file(tmp_path / "note.wav", title), HERE).duration_s == 1.0


# --- what can't be heard -------------------------------------------------------------------------


def no_index(folder: Path) -> Path:
    path = make(folder, "note.m4a")
    whole = path.read_bytes()
    path.write_bytes(whole[: whole.index(b"moov") - 4])
    return path


def written(folder: Path, name: str, content: bytes) -> Path:
    path = folder / name
    path.write_bytes(content)
    return path


def a_folder(folder: Path) -> Path:
    path = folder / "x.m4a"
    path.mkdir()
    return path


def a_pipe(folder: Path) -> Path:
    path = folder / "x.m4a"
    os.mkfifo(path)
    return path


FOUR_GIB = 0xFFFFFFFF
UNUSABLE = {
    "an empty file": (lambda f: written(f, "x.m4a", b""), "empty"),
    "text named .m4a": (lambda f: written(f, "x.m4a", b"Dear workshop,\n" * 40), "text"),
    "text in UTF-16 named .mp3": (lambda f: written(f, "x.mp3", "Dear workshop".encode("utf-16")), "text"),
    "text named .wav": (lambda f: written(f, "x.wav", "Prüfung\n".encode() * 40), "text"),
    "a playlist named .mp3": (
        lambda f: written(f, "x.mp3", b"#EXTM3U\n#EXTINF:1,\nnote.wav\n#EXT-X-ENDLIST\n"),
        "text",
    ),
    "a picture named .m4a": (lambda f: written(f, "x.m4a", b"\xff\xd8\xff\xe0" + bytes(99)), "jpeg"),
    "noise named .mp3": (lambda f: written(f, "x.mp3", bytes(range(1, 128)) * 30), "damaged"),
    "noise named .wav": (lambda f: written(f, "x.wav", bytes(range(1, 128)) * 30), "unknown"),
    "an m4a without its index": (no_index, "index"),
    "a 0-second wav": (lambda f: written(f, "x.wav", riff(pcm_format(), chunk(b"data", b""))), "0 seconds"),
    "a wav that claims 4 GiB and holds nothing": (
        lambda f: written(f, "x.wav", riff(pcm_format(), chunk(b"data", b"", claimed=FOUR_GIB))),
        "0 seconds",
    ),
    "a wav without sound chunk": (lambda f: written(f, "x.wav", riff(pcm_format())), ""),
    "a wav with 0 channels": (
        lambda f: written(f, "x.wav", riff(pcm_format(channels=0), chunk(b"data", bytes(99)))),
        "",
    ),
    "a wav in an unknown coding": (
        lambda f: written(f, "x.wav", riff(pcm_format(tag=0x4321), chunk(b"data", bytes(9999)))),
        "coding",
    ),
    "an amr of only its name": (lambda f: written(f, "x.amr", b"#!AMR\n"), ""),
    "a folder": (a_folder, "folder"),
    "a missing file": (lambda f: f / "x.m4a", "not there"),
}
if hasattr(os, "mkfifo"):
    UNUSABLE["a pipe"] = (a_pipe, "regular")


@pytest.mark.parametrize("case", UNUSABLE)
def test_what_is_no_recording_is_refused_in_one_line_with_a_remedy(
    tmp_path: Path, capfd: pytest.CaptureFixture[str], case: str
) -> None:
    make_it, expected = UNUSABLE[case]
    path = make_it(tmp_path)
    for attempt in (lambda: open_recording(path, HERE, folder=tmp_path), lambda: mono_16k(path)):
        with pytest.raises(UnusableInputError) as caught:
            attempt()
        error = caught.value
        assert error.subject == path.name
        assert error.remedy
        assert len(str(error).splitlines()) == 1
        assert expected in error.reason
        assert str(tmp_path) not in str(error)
    assert capfd.readouterr().err == ""


def test_a_recording_that_may_not_be_read_is_refused(tmp_path: Path) -> None:
    path = wave_file(tmp_path / "note.wav")
    path.chmod(0)
    as_root = hasattr(os, "geteuid") and os.geteuid() == 0
    try:
        if as_root:
            os.seteuid(65_534)  # root may read everything
        with pytest.raises(UnusableInputError, match="permission"):
            open_recording(path, HERE)
    finally:
        if as_root:
            os.seteuid(0)


# --- what can be heard only in part --------------------------------------------------------------


def test_a_wav_that_claims_4_gib_is_heard_as_far_as_it_goes_and_named(tmp_path: Path) -> None:
    body = pcm16(tone(2.0, 16_000))
    for claimed in (FOUR_GIB, FOUR_GIB - 15):
        path = written(tmp_path, "x.wav", riff(pcm_format(), chunk(b"data", body, claimed=claimed)))
        recording = open_recording(path, HERE)
        assert recording.duration_s == 2.0
        assert recording.problem is not None
        assert "2.0 s" in recording.problem.message
        assert len(mono_16k(path)) == 32_000


@pytest.mark.parametrize("name", ["note.mp3", "note.ogg", "note.webm", "note.flac", "note.wav", "cut.m4a"])
def test_a_recording_cut_short_is_heard_as_far_as_it_goes_and_named(tmp_path: Path, name: str) -> None:
    if name == "cut.m4a":  # with the index in front
        sound = tone(2.0, 44_100)
        path = encode(tmp_path / name, sound, "ipod", "aac", 44_100, options={"movflags": "faststart"})
    else:
        path = make(tmp_path, name)
    whole = path.read_bytes()
    path.write_bytes(whole[: len(whole) * 6 // 10])
    recording = open_recording(path, HERE)
    assert 0.3 < recording.duration_s < 1.6
    assert recording.problem is not None
    assert recording.problem.file == name
    assert ";" in recording.problem.message
    assert len(mono_16k(path)) / 16_000 == pytest.approx(recording.duration_s, abs=0.001)


def test_a_damaged_stretch_is_silent_and_named_and_what_follows_keeps_its_time(
    tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    sound = np.concatenate([tone(3.0, 44_100, level=0.05), tone(1.0, 44_100, level=0.9)])
    path = make(tmp_path, "note.m4a", sound)
    before = mono_16k(path)
    content = bytearray(path.read_bytes())
    content[5_000:12_000] = b"\xff" * 7_000
    path.write_bytes(content)
    recording, after = open_recording(path, HERE), mono_16k(path)
    assert recording.problem is not None
    assert "damaged" in recording.problem.message
    assert len(after) == pytest.approx(len(before), abs=16)

    def loud(sound: np.ndarray) -> int:
        return int(np.argmax(np.abs(sound) > 0.5))

    assert loud(after) == pytest.approx(loud(before), abs=160)
    assert capfd.readouterr().err == ""


SEEDS = ["note.m4a", "note.mp3", "note.ogg", "note.webm", "note.flac", "note.wav", "note.amr"]


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data(), name=st.sampled_from(SEEDS))
def test_damage_anywhere_gives_sound_or_a_plain_refusal(
    tmp_path: Path, data: st.DataObject, name: str
) -> None:
    seed = tmp_path / f"seed-{name}"
    if not seed.exists():
        if name == "note.amr":
            amr_by_hand(seed, seconds=0.4)
        else:
            make(tmp_path, name, tone(0.4, ENCODED[name][2])).rename(seed)
    content = bytearray(seed.read_bytes())
    for _ in range(data.draw(st.integers(1, 8))):
        # headers are short, and most of the trouble is in them
        at = data.draw(
            st.one_of(st.integers(0, min(200, len(content) - 1)), st.integers(0, len(content) - 1))
        )
        content[at] = data.draw(st.integers(0, 255))
    path = tmp_path / name
    path.write_bytes(content[: data.draw(st.integers(1, len(content)))])
    try:
        recording = open_recording(path, HERE)
    except UnusableInputError:
        return
    assert recording.duration_s > 0


def test_a_name_in_utc_goes_before_what_the_phone_wrote_into_the_file(tmp_path: Path) -> None:
    """A phone with a wrong clock writes it into its mp4; the server named the file rightly."""
    path = tmp_path / "20261103T081502Z_phone.m4a"
    shutil.copy(SAMPLE_JOB / "booking-in.m4a", path)
    recording = open_recording(path, ZoneInfo("Europe/London"))
    assert recording.started_at == datetime(2026, 11, 3, 8, 15, 2, tzinfo=UTC)
    assert recording.started_at_source == "file name"
