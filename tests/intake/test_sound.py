"""Whatever the recorder, a recogniser gets mono 16 kHz sound at the times that a player shows."""

from __future__ import annotations

import os
import subprocess
import sys
import textwrap
import wave
from datetime import UTC
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from made_sounds import (
    ENCODED,
    amr_by_hand,
    burst,
    can_encode,
    chunk,
    encode,
    make,
    pcm16,
    pcm_format,
    riff,
    tone,
)

from jobnotes.errors import UnusableInputError
from jobnotes.intake.recordings import blocks_16k, mono_16k, open_recording, segment


def loud_from_to(sound: np.ndarray, rate: int = 16_000) -> tuple[float, float]:
    """Start and end in seconds of what is louder than a tenth of the loudest, in steps of 5 ms."""
    step = rate // 200
    level = np.abs(sound[: len(sound) // step * step]).reshape(-1, step).max(axis=1)
    loud = np.flatnonzero(level > level.max() / 10)
    return loud[0] / 200, (loud[-1] + 1) / 200


def pitch(sound: np.ndarray, rate: int = 16_000) -> float:
    spectrum = np.abs(np.fft.rfft(sound * np.hanning(len(sound))))
    return float(np.argmax(spectrum) * rate / len(sound))


def rms(sound: np.ndarray) -> float:
    return float(np.sqrt(np.mean(np.square(sound, dtype=np.float64))))


@pytest.mark.parametrize("name", [name for name in ENCODED if name != "note.amr"])
def test_every_container_gives_16k_mono_with_sound_at_its_time(tmp_path: Path, name: str) -> None:
    if not can_encode(ENCODED[name][1]):
        pytest.skip("this build of FFmpeg has no such encoder")
    sound = mono_16k(make(tmp_path, name))
    assert sound.dtype == np.float32
    assert sound.ndim == 1
    assert len(sound) / 16_000 == pytest.approx(2.0, abs=0.08)
    # codecs smear an edge by up to a frame (20 to 26 ms); ADTS can't tell its encoder's delay
    assert loud_from_to(sound) == pytest.approx((0.7, 1.2), abs=0.06 if name == "note.aac" else 0.035)


def test_amr_frames_are_decoded_at_20_ms_each(tmp_path: Path) -> None:
    # RFC 4867, 5.3: every frame holds 20 ms
    assert len(mono_16k(amr_by_hand(tmp_path / "note.amr", seconds=1.5))) == 1.5 * 16_000


def test_an_amr_file_by_the_encoder_is_heard_at_its_time(tmp_path: Path) -> None:
    if not can_encode("libopencore_amrnb"):
        pytest.skip("this build of FFmpeg has no AMR encoder")
    assert loud_from_to(mono_16k(make(tmp_path, "note.amr"))) == pytest.approx((0.7, 1.2), abs=0.035)


@pytest.mark.parametrize(
    "encoder",
    ["pcm_u8", "pcm_s16le", "pcm_s24le", "pcm_s32le", "pcm_f32le", "pcm_f64le", "pcm_alaw", "pcm_mulaw"],
)
@pytest.mark.parametrize("rate", [8_000, 11_025, 44_100, 192_000])
def test_wave_files_of_any_depth_and_rate_keep_level_and_pitch(
    tmp_path: Path, encoder: str, rate: int
) -> None:
    path = encode(tmp_path / "note.wav", tone(1.0, rate, level=0.5), "wav", encoder, rate)
    sound = mono_16k(path)
    assert len(sound) == pytest.approx(16_000, abs=2)
    assert pitch(sound) == pytest.approx(440, abs=2)
    # a sine's RMS is its peak over the root of two; 8 bits hold it to half a per cent
    assert rms(sound) == pytest.approx(0.5 / np.sqrt(2), rel=0.02)


def test_16_bit_16k_samples_are_those_that_the_wave_module_reads(tmp_path: Path) -> None:
    """Reference: Python's own `wave` module."""
    path = tmp_path / "note.wav"
    with wave.open(str(path), "wb") as out:
        out.setparams((1, 2, 16_000, 0, "NONE", ""))
        out.writeframes(pcm16(tone(0.5, 16_000, level=0.9)))
    with wave.open(str(path), "rb") as file:
        read = np.frombuffer(file.readframes(file.getnframes()), "<i2")
    assert np.array_equal(mono_16k(path), (read / 32768).astype(np.float32))


@pytest.mark.parametrize("channels", [2, 3, 4, 6, 7])
def test_channels_are_mixed_to_one_without_clipping(tmp_path: Path, channels: int) -> None:
    one = tone(0.5, 16_000, level=0.95)
    body = pcm16(np.repeat(one[:, None], channels, axis=1).reshape(-1))
    path = tmp_path / "note.wav"
    path.write_bytes(riff(pcm_format(channels=channels), chunk(b"data", body)))
    sound = mono_16k(path)
    assert sound == pytest.approx(one, abs=1 / 16_000)


def test_a_voice_on_one_channel_of_two_is_heard(tmp_path: Path) -> None:
    left = tone(0.5, 48_000)
    path = encode(tmp_path / "note.wav", np.stack([left, np.zeros_like(left)]), "wav", "pcm_s16le", 48_000)
    assert rms(mono_16k(path)) > 0.25 * rms(left)


def test_float_samples_beyond_full_scale_or_not_a_number_are_made_harmless(tmp_path: Path) -> None:
    wild = np.concatenate([tone(0.1, 16_000, level=3.0), np.full(100, np.nan), [np.inf, -np.inf]])
    path = tmp_path / "note.wav"
    body = wild.astype("<f4").tobytes()
    path.write_bytes(riff(pcm_format(bits=32, tag=3), chunk(b"data", body)))
    sound = mono_16k(path)
    assert np.isfinite(sound).all()
    assert np.abs(sound).max() == 1.0


def test_a_pause_in_the_timestamps_is_silence_of_that_length(tmp_path: Path) -> None:
    path = encode(
        tmp_path / "note.webm",
        np.concatenate([tone(1.0, 48_000), burst(48_000, 0.2, 0.6, 1.0)]),
        "webm",
        "libopus",
        48_000,
        starts=((48_000, 3 * 48_000),),
    )
    sound = mono_16k(path)
    assert len(sound) / 16_000 == pytest.approx(5.0, abs=0.05)
    assert np.abs(sound[int(1.1 * 16_000) : int(3.9 * 16_000)]).max() < 0.01
    assert loud_from_to(sound[4 * 16_000 - 800 :]) == pytest.approx((0.25, 0.65), abs=0.035)


def test_timestamps_that_jump_by_days_do_not_make_days_of_silence(tmp_path: Path) -> None:
    path = encode(
        tmp_path / "note.webm",
        tone(2.0, 48_000),
        "webm",
        "libopus",
        48_000,
        starts=((48_000, 48_000 * 86_400 * 3),),
    )
    assert len(mono_16k(path)) / 16_000 == pytest.approx(2.0, abs=0.05)


def test_sound_goes_on_where_rate_and_channels_change(tmp_path: Path) -> None:
    """Raw AAC may be joined end to end, and a phone does so when its headset is plugged in."""
    first = encode(tmp_path / "a", tone(1.0, 44_100, hertz=440), "adts", "aac", 44_100)
    wide = np.stack([tone(1.0, 16_000, hertz=880)] * 2)
    second = encode(tmp_path / "b", wide, "adts", "aac", 16_000)
    path = tmp_path / "note.aac"
    path.write_bytes(first.read_bytes() + second.read_bytes())
    sound = mono_16k(path)
    assert pitch(sound[4_000:12_000]) == pytest.approx(440, abs=5)
    assert pitch(sound[-12_000:-4_000]) == pytest.approx(880, abs=5)


@settings(max_examples=15, deadline=None)
@given(seconds=st.floats(0.001, 5.0))
def test_blocks_put_together_are_the_whole(tmp_path_factory: pytest.TempPathFactory, seconds: float) -> None:
    path = tmp_path_factory.getbasetemp() / "blocks.wav"
    if not path.exists():
        encode(path, tone(1.3, 44_100), "wav", "pcm_s16le", 44_100)
    blocks = list(blocks_16k(path, seconds))
    assert np.array_equal(np.concatenate(blocks), mono_16k(path))
    size = max(1, round(seconds * 16_000))
    assert all(len(block) == size for block in blocks[:-1])
    assert 0 < len(blocks[-1]) <= size


def test_a_segment_is_16_bit_mono_at_the_level_of_the_recording(tmp_path: Path) -> None:
    path = encode(tmp_path / "note.flac", tone(2.0, 44_100, level=0.5), "flac", "flac", 44_100)
    whole = segment(path)
    assert (whole.sample_width, whole.channels, whole.frame_rate) == (2, 1, 16_000)
    assert len(whole) == 2000
    # a full-scale sine is -3.01 dB below a full-scale square, and half of it 6.02 dB lower still
    assert whole.dBFS == pytest.approx(-9.03, abs=0.05)


def test_a_stretch_is_cut_at_its_seconds(tmp_path: Path) -> None:
    path = encode(tmp_path / "note.wav", burst(16_000), "wav", "pcm_s16le", 16_000)
    whole = segment(path)
    assert segment(path, 0.65, 1.25).raw_data == whole[650:1250].raw_data
    assert segment(path, 1.5).raw_data == whole[1500:].raw_data
    assert len(segment(path, 7.0, 8.0)) == 0


def test_pydub_is_imported_without_a_warning_and_finds_no_program(tmp_path: Path) -> None:
    """A program of the name that pydub prefers lies on the PATH and in the current folder."""
    program = tmp_path / ("avconv.exe" if os.name == "nt" else "avconv")
    program.write_text("#!/bin/sh\n")
    program.chmod(0o755)
    encode(tmp_path / "note.wav", tone(0.5, 16_000), "wav", "pcm_s16le", 16_000)
    code = """
        from pathlib import Path
        from jobnotes.intake.recordings import segment
        cut = segment(Path("note.wav"))
        print(len(cut), type(cut).converter, cut.max_dBFS < 0)
    """
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", textwrap.dedent(code)],
        cwd=tmp_path,
        env={**os.environ, "PATH": str(tmp_path)},
        capture_output=True,
        text=True,
        timeout=120,
    )
    assert done.stderr == ""
    assert done.stdout.split() == ["500", "ffmpeg", "True"]


# --- longer than any note ------------------------------------------------------------------------


@pytest.mark.parametrize("rate", [1, 3999])
def test_a_few_bytes_that_claim_days_are_refused(tmp_path: Path, rate: int) -> None:
    """At one sample a second 60 kB are eight hours, and 1.8 GB when a recogniser is given them."""
    path = tmp_path / "note.wav"
    path.write_bytes(riff(pcm_format(rate=rate), chunk(b"data", bytes(60_000))))
    for read in (mono_16k, lambda path: open_recording(path, UTC)):
        with pytest.raises(UnusableInputError, match=f"has only {rate} samples a second"):
            read(path)


def test_a_recording_longer_than_any_note_is_refused_however_it_is_packed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Six hours are 1.4 GB; here the bound is a second."""
    monkeypatch.setattr("jobnotes.intake.sound._LONGEST_S", 1.0)
    for name in ("note.wav", "note.opus", "note.m4a"):
        path = make(tmp_path, name)
        for read in (mono_16k, lambda path: open_recording(path, UTC)):
            with pytest.raises(UnusableInputError, match="is longer than"):
                read(path)


def test_all_of_a_recording_can_be_written_to(tmp_path: Path) -> None:
    """A recogniser may work in the array that it is given."""
    samples = mono_16k(make(tmp_path, "note.wav"))
    assert samples.dtype == np.float32
    assert samples.flags.writeable
