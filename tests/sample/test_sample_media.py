"""The sample media are what their scenario says, and what phones and recorders would have written."""

from __future__ import annotations

import json
import re
import struct
import sys
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import av
import exifread
import numpy as np
import pytest
from num2words import num2words
from obd.codes import DTC
from PIL import Image, ImageOps

from jobnotes.intake.folder import scan
from jobnotes.intake.photos import open_photo
from jobnotes.intake.recordings import open_recording
from jobnotes.linking.camera_clock import judge

SAMPLE = Path(__file__).parents[2] / "sample_media"
JOB = SAMPLE / "job"
sys.path.insert(0, str(SAMPLE))

from making.scenario import Note, Shot, load_scenario  # noqa: E402

SCENARIO = load_scenario(SAMPLE / "scenario.toml")
EXPECTED: dict[str, Any] = json.loads((SAMPLE / "expected_facts.json").read_text(encoding="utf-8"))
ZONE = ZoneInfo(SCENARIO.timezone)
SHOTS = {shot.file: shot for shot in SCENARIO.photos}
NOTES = {note.file: note for note in SCENARIO.notes}

# ICAO Annex 10, volume II, 5.2.1.3: the spelling alphabet, from memory
ALPHABET = """
    alfa bravo charlie delta echo foxtrot golf hotel india juliett kilo lima mike november oscar papa
    quebec romeo sierra tango uniform victor whiskey xray yankee zulu
"""


def spoken_in(file: str) -> list[dict[str, Any]]:
    return [spoken for spoken in EXPECTED["spoken"] if spoken["note"] == file]


def cue_end(shot: Shot) -> datetime:
    spoken = next(s for s in EXPECTED["spoken"] if s.get("id") == shot.cue)
    return NOTES[spoken["note"]].started_at + timedelta(seconds=spoken["end_s"])


def samples(file: str) -> tuple[np.ndarray, int]:
    """The whole recording as mono float."""
    with av.open(str(JOB / file)) as container:
        rate = container.streams.audio[0].rate
        resampler = av.AudioResampler(format="flt", layout="mono", rate=rate)
        pieces = [
            piece.to_ndarray()[0]
            for frame in container.decode(audio=0)
            for piece in resampler.resample(frame)
        ]
    return np.concatenate(pieces), rate


# --- the folder ----------------------------------------------------------------------------------


def test_the_job_folder_holds_the_scenarios_files_and_what_the_office_knows() -> None:
    found = {path.name for path in JOB.iterdir() if not path.name.startswith(".")}
    assert found == set(NOTES) | set(SHOTS) | {"job.toml"}
    contents = scan(JOB)
    assert {p.name for p in contents.recordings} == set(NOTES)
    assert {p.name for p in contents.photos} == set(SHOTS)
    assert contents.problems == ()


def test_the_media_are_small_enough_to_travel_in_the_package() -> None:
    assert sum(path.stat().st_size for path in JOB.iterdir()) < 5_000_000


def test_recordings_come_in_several_containers_and_codecs() -> None:
    codecs = set()
    for file in NOTES:
        with av.open(str(JOB / file)) as container:
            codecs.add((container.format.name.split(",")[0], container.streams.audio[0].codec_context.name))
    assert len(codecs) >= 3
    assert sum(note.noise != "room" for note in SCENARIO.notes) >= 2


# --- the recordings ------------------------------------------------------------------------------


@pytest.mark.parametrize("file", NOTES)
def test_a_recording_lasts_until_after_its_last_word_and_no_line_overlaps_the_next(file: str) -> None:
    heard, rate = samples(file)
    ends = 0.0
    for spoken in spoken_in(file):
        assert ends < spoken["start_s"] < spoken["end_s"]
        ends = spoken["end_s"]
    assert ends < len(heard) / rate < ends + 10


@pytest.mark.parametrize("file", NOTES)
def test_words_are_where_the_expected_facts_say_and_noise_is_as_loud_as_stated(file: str) -> None:
    note = NOTES[file]
    heard, rate = samples(file)
    # MP3 and AAC start some milliseconds late; keep clear of the edges of words
    speech = np.zeros(len(heard), bool)
    pause = np.ones(len(heard), bool)
    for spoken in spoken_in(file):
        start, end = spoken["start_s"], spoken["end_s"]
        speech[int((start + 0.1) * rate) : int((end - 0.05) * rate)] = True
        pause[max(0, int((start - 0.1) * rate)) : int((end + 0.15) * rate)] = False
    pause[int(spoken_in(file)[-1]["end_s"] * rate) :] = False
    noise = float(np.mean(heard[pause] ** 2))
    ratio = 10 * np.log10((np.mean(heard[speech] ** 2) - noise) / noise)
    # the compressor runs and rests, so its loudness in the pauses isn't that over the whole note
    assert ratio == pytest.approx(note.snr_db, abs=2.5)


@pytest.mark.parametrize("file", NOTES)
def test_a_recordings_start_is_found_where_the_scenario_wrote_it(file: str) -> None:
    note = NOTES[file]
    recording = open_recording(JOB / file, ZONE, JOB)
    assert recording.started_at == note.started_at
    assert {"container": "container", "name": "file name", "bext": "bext"}[note.date_in] == (
        recording.started_at_source
    )


def test_the_broadcast_wave_has_its_date_at_the_offsets_of_ebu_tech_3285() -> None:
    note = next(n for n in SCENARIO.notes if n.date_in == "bext")
    data = (JOB / note.file).read_bytes()
    at = data.index(b"bext")
    (size,) = struct.unpack_from("<I", data, at + 4)
    chunk = data[at + 8 : at + 8 + size]
    # EBU Tech 3285: Description 256, Originator 32, OriginatorReference 32, OriginationDate 10, -Time 8
    date, time = chunk[320:330].decode("ascii"), chunk[330:338].decode("ascii")
    assert f"{date} {time}" == note.started_at.strftime("%Y-%m-%d %H:%M:%S")


# --- the photos ----------------------------------------------------------------------------------


@pytest.mark.parametrize("file", SHOTS)
def test_a_photo_was_shot_some_seconds_after_its_cue_by_the_cameras_own_clock(file: str) -> None:
    shot = SHOTS[file]
    camera = SCENARIO.cameras[shot.camera]
    assert 2 <= shot.after_s <= 12
    with (JOB / file).open("rb") as stream:
        tags = {
            name: str(tag) for name, tag in exifread.process_file(stream).items() if "MakerNote" not in name
        }
    assert (tags["Image Make"], tags["Image Model"]) == (camera.make, camera.model)
    assert int(exif_orientation(JOB / file)) == shot.orientation
    written = datetime.strptime(tags["EXIF DateTimeOriginal"], "%Y:%m:%d %H:%M:%S").replace(tzinfo=ZONE)
    true = cue_end(shot) + timedelta(seconds=shot.after_s + camera.clock_error_s)
    assert 0 <= (true - written).total_seconds() < 1
    assert ("EXIF SubSecTimeOriginal" in tags) == camera.subsec
    assert (tags.get("EXIF OffsetTimeOriginal") == "+00:00") == camera.offset_time
    assert not any(name.startswith("GPS") for name in tags), "a sample photo says where it was taken"


def exif_orientation(path: Path) -> int:
    with Image.open(path) as image:
        return int(image.getexif().get(0x0112, 1))


def test_one_photo_lies_on_its_side_until_its_orientation_is_applied() -> None:
    turned = [shot for shot in SCENARIO.photos if shot.orientation != 1]
    assert len(turned) == 1
    with Image.open(JOB / turned[0].file) as stored:
        shown = ImageOps.exif_transpose(stored)
        assert stored.size == (1600, 1200)
        assert shown.size == (1200, 1600)
    taken = open_photo(JOB / turned[0].file, ZONE, JOB)
    assert (taken.width, taken.height) == (1200, 1600)


def test_the_cues_tell_that_one_camera_is_an_hour_fast_and_leave_the_other_alone() -> None:
    cues = [
        NOTES[spoken["note"]].started_at + timedelta(seconds=spoken["start_s"])
        for number, spoken in enumerate(EXPECTED["spoken"])
        if any(fact["line"] == number and fact["kind"] == "photo_cue" for fact in EXPECTED["facts"])
    ]
    assert len(cues) >= 5
    for camera in SCENARIO.cameras.values():
        taken = [
            open_photo(JOB / s.file, ZONE, JOB).taken_at for s in SCENARIO.photos if s.camera == camera.id
        ]
        assert judge(cues, taken, camera.make).offset_s == -camera.clock_error_s
    assert sorted(camera.clock_error_s for camera in SCENARIO.cameras.values()) == [0, 3600]


@pytest.mark.parametrize("file", SHOTS)
def test_a_photo_shows_something(file: str) -> None:
    """Not a flat or a spoilt picture: light and dark, edges, and no border left over from the slant."""
    with Image.open(JOB / file) as image:
        grey = np.asarray(image.convert("L"), float)
    assert np.percentile(grey, 99) - np.percentile(grey, 1) > 90
    corners = [grey[:12, :12], grey[:12, -12:], grey[-12:, :12], grey[-12:, -12:]]
    assert all(corner.std() > 0.5 for corner in corners)


# --- the expected facts --------------------------------------------------------------------------


def test_the_expected_facts_are_the_scenarios() -> None:
    from make_samples import expected

    spans = {
        file: tuple((spoken["start_s"], spoken["end_s"]) for spoken in spoken_in(file)) for file in NOTES
    }
    assert json.loads(json.dumps(expected(SCENARIO, spans))) == EXPECTED


def number_words(value: str) -> set[str]:
    """The ways in which the script may say a number, after num2words (British "and")."""
    words = num2words(value, lang="en_GB").replace("-", " ").replace(",", "")
    ways = {words}
    if value.endswith(".5"):
        ways.add(f"{num2words(int(float(value)))} and a half")
    return ways


def test_every_number_among_the_expected_facts_is_said_on_its_line() -> None:
    checked = 0
    for fact in EXPECTED["facts"]:
        if fact["kind"] not in ("measurement", "labour", "part", "step"):
            continue
        line = f" {re.sub(r'[^a-z ]', ' ', EXPECTED['lines'][fact['line']].lower())} "
        said = " ".join(line.split())
        numbers = [
            fact[key]
            for key in ("value", "hours", "quantity")
            if fact.get(key, "").replace(".", "").isdigit()
        ]
        limit = fact.get("limit", {})
        if "plus or minus" in said:
            middle = (float(limit["min"]) + float(limit["max"])) / 2
            half = (float(limit["max"]) - float(limit["min"])) / 2
            numbers += [f"{middle:g}", f"{half:g}"]
        else:
            numbers += list(limit.values())
        for number in numbers:
            implied = number == "1" and fact["kind"] == "part" and fact.get("optional")
            assert implied or any(f" {way} " in f" {said} " for way in number_words(number)), (number, said)
            checked += 1
    assert checked > 25


def spelled(said: str) -> str:
    """Digits and letters of what is said by digits and by the spelling alphabet; other words are dropped."""
    digits = {num2words(d): str(d) for d in range(10)}
    letters = {word: word[0].upper() for word in ALPHABET.split()}
    return "".join((digits | letters).get(word, "") for word in re.findall("[a-z]+", said.lower()))


def test_every_number_that_is_spelled_out_is_said_on_its_line() -> None:
    checked = 0
    for fact in EXPECTED["facts"]:
        said = spelled(EXPECTED["lines"][fact["line"]])
        for key in ("number", "value", "code"):
            if key not in fact or fact["kind"] in ("measurement",):
                continue
            text = str(fact[key])
            if text.startswith("SPN"):
                spn, fmi = re.findall(r"\d+", text)
                assert (fact["spn"], fact["fmi"]) == (int(spn), int(fmi))
                assert fmi in said
                assert spn in said or "same" in EXPECTED["lines"][fact["line"]].lower()
            else:
                assert text in said
            checked += 1
    assert checked >= 8


def test_fault_codes_are_within_their_bounds_and_the_network_code_means_ride_level() -> None:
    codes = [fact for fact in EXPECTED["facts"] if fact["kind"] == "fault_code"]
    for code in codes:
        if code["system"] == "J1939":  # SAE J1939-73: SPN 19 bits, FMI 5 bits
            assert 0 < code["spn"] < 2**19
            assert 0 <= code["fmi"] < 2**5
        else:  # the table of package obd
            assert "Ride Level" in DTC[code["code"]]
    assert {code["system"] for code in codes} == {"J1939", "network"}


def test_the_scenario_holds_what_a_job_needs_and_one_thing_left_undone() -> None:
    kinds = {fact["kind"] for fact in EXPECTED["facts"]}
    assert kinds >= {
        "job_number", "registration", "odometer", "complaint", "cause", "correction", "finding", "advisory",
        "hazard", "loose_end", "fault_code", "measurement", "part", "step", "labour", "clock", "photo_cue",
    }  # fmt: skip
    assert {f["action"] for f in EXPECTED["facts"] if f["kind"] == "clock"} == {
        "start",
        "pause",
        "resume",
        "stop",
    }
    actions = {a for f in EXPECTED["facts"] if f["kind"] == "part" for a in [f["action"]]}
    assert actions >= {"fitted", "reused", "consumed"}
    assert [f["status"] for f in EXPECTED["facts"] if "status" in f] == ["rejected"]
    assert len(EXPECTED["open_at_end"]) == 1


def test_private_words_are_said_on_private_lines_only() -> None:
    assert EXPECTED["private_words"]
    for number, line in enumerate(EXPECTED["lines"]):
        private = [word for word in EXPECTED["private_words"] if word in line.lower()]
        assert bool(private) == (number in EXPECTED["private_lines"])


def test_the_readme_says_that_everything_is_synthetic() -> None:
    assert "Everything here is synthetic" in (SAMPLE / "README.md").read_text(encoding="utf-8")


# --- making them anew ----------------------------------------------------------------------------


@pytest.mark.slow
def test_the_script_draws_the_same_photo_again() -> None:
    """To within what another version of Pillow or numpy may round differently."""
    from making.pictures import PICTURES

    number, shot = next((n, s) for n, s in enumerate(SCENARIO.photos) if s.draw == "label")
    again = PICTURES[shot.draw](np.random.default_rng(100 + number))
    with Image.open(JOB / shot.file) as image:
        difference = np.abs(np.asarray(image, float) - np.asarray(again, float))
    assert difference.mean() < 3


@pytest.mark.speech
def test_the_script_says_a_note_again_in_the_same_time() -> None:
    speech = pytest.importorskip("making.speech", reason="needs piper-tts")
    pytest.importorskip(SCENARIO.voice.package)
    note: Note = SCENARIO.notes[2]
    spans = speech.speak(note, SCENARIO.voice).spans
    for (start, end), spoken in zip(spans, spoken_in(note.file), strict=True):
        assert end - start == pytest.approx(spoken["end_s"] - spoken["start_s"], rel=0.1)
