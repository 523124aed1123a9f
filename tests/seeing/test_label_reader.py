"""What the photo reader promises of one picture. Its score on many is tests/eval/photos."""

from __future__ import annotations

import subprocess
import sys
import time
from pathlib import Path

import barcode
import numpy as np
import pytest
import segno
from photo_made import LABEL, grain, label
from PIL import Image
from ppf.datamatrix import DataMatrix

from jobnotes.record import Sight
from jobnotes.seeing import writing
from jobnotes.seeing.label_reader import LabelReader
from jobnotes.seeing.reader import UnreadableError
from jobnotes.seeing.writing import WritingSettings, told


@pytest.fixture(scope="module")
def reader() -> LabelReader:
    return LabelReader()


def lines(sight: Sight) -> list[str]:
    return [text.text for text in sight.texts if text.symbology is None]


@pytest.mark.parametrize("turn", [0, 90, 180, 270])
def test_a_label_is_read_whichever_way_it_is_turned_and_its_place_is_told(
    reader: LabelReader, turn: int
) -> None:
    sight = reader.see(label().rotate(-turn, expand=True))  # clockwise
    assert lines(sight) == list(LABEL)
    # the first corner is the text's own top left, which the turn has taken along
    wide = {0: (0.12, 0.16), 90: (0.84, 0.12), 180: (0.88, 0.84), 270: (0.16, 0.88)}[turn]
    assert sight.texts[0].corners[0] == pytest.approx(wide, abs=0.03)
    assert all(0 <= share <= 1 for text in sight.texts for corner in text.corners for share in corner)
    assert all(text.confidence > 0.9 for text in sight.texts)


def test_digits_are_read_the_way_the_words_around_them_stand(reader: LabelReader) -> None:
    """906818 and 818906 are each other on their head."""
    assert lines(reader.see(label(("TOTAL", "906818", "DISTANCE")))) == ["TOTAL", "906818", "DISTANCE"]
    turned = label(("TOTAL", "906818", "DISTANCE")).rotate(180)
    assert lines(reader.see(turned)) == ["TOTAL", "906818", "DISTANCE"]


def test_digits_alone_are_read_upright(reader: LabelReader) -> None:
    assert lines(reader.see(label(("906818",), text=80))) == ["906818"]


def test_in_a_picture_without_writing_nothing_is_read(reader: LabelReader) -> None:
    assert reader.see(grain()).texts == ()
    assert reader.see(Image.new("RGB", (800, 600), (90, 120, 90))).texts == ()


def test_the_same_picture_gives_the_same_sight(reader: LabelReader) -> None:
    assert reader.see(label()) == reader.see(label()) == LabelReader().see(label())


def _linear(kind: str, text: str) -> tuple[np.ndarray, str]:
    code = barcode.Code39(text, add_checksum=False) if kind == "code39" else barcode.get(kind, text)
    row = np.array([0 if c == "1" else 255 for c in code.build()[0]], dtype=np.uint8)
    strip = np.repeat(np.repeat(row[None, :], 120, axis=0), 3, axis=1)
    return np.pad(strip, 40, constant_values=255), code.get_fullcode()


def _square(rows: object) -> np.ndarray:
    cells = np.array([[0 if cell else 255 for cell in row] for row in rows], dtype=np.uint8)  # type: ignore[attr-defined]
    return np.pad(np.kron(cells, np.ones((7, 7), np.uint8)), 40, constant_values=255)


@pytest.mark.parametrize(
    ("kind", "drawn", "said"),
    [
        ("Code 128", *_linear("code128", "ZX1180-22")),
        ("Code 39", *_linear("code39", "ZX1180-22")),
        ("EAN-13", *_linear("ean13", "978020137962")),
        ("EAN-8", *_linear("ean8", "5512345")),
        ("QR Code", _square(segno.make("JOB 4417", micro=False).matrix), "JOB 4417"),
        ("Data Matrix", _square(DataMatrix("ZX1180-22 K7").matrix), "ZX1180-22 K7"),
    ],
)
def test_a_barcode_says_what_another_library_encoded(
    reader: LabelReader, kind: str, drawn: np.ndarray, said: str
) -> None:
    """python-barcode, segno and ppf-datamatrix have drawn them."""
    page = Image.new("RGB", (900, 500), (140, 140, 136))
    page.paste(Image.fromarray(drawn).convert("RGB"), (60, 60))
    found = [(t.symbology, t.text, t.confidence) for t in reader.see(page).texts if t.symbology]
    assert found == [(kind, said, 1.0)]


@pytest.mark.parametrize("size", [(1, 1), (1, 900), (30_000, 3), (30_000, 60), (40, 4096), (33, 31)])
def test_a_picture_of_any_shape_is_seen_in_bounded_time(reader: LabelReader, size: tuple[int, int]) -> None:
    """No more than a whole 12-megapixel photo takes, with room for a busy machine."""
    before = time.process_time()
    sight = reader.see(Image.new("RGB", size, (200, 200, 200)))
    assert time.process_time() - before < 10
    assert sight.texts == ()
    assert "too small" in sight.flaws
    assert sight.sharpness == 0


def test_weights_that_are_not_those_expected_are_refused(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    for name, _ in writing.WEIGHTS.values():
        (tmp_path / name).write_bytes(b"not these")
    monkeypatch.setattr(writing, "_folder", lambda: tmp_path)
    with pytest.raises(UnreadableError, match=r"is not the file it should be; .*pip install"):
        LabelReader().see(label())


def test_the_stamp_is_known_without_weights_and_changes_with_the_settings() -> None:
    one, other = LabelReader(), LabelReader(writing.WritingSettings(at_least=0.5))
    assert one.stamp == LabelReader().stamp
    assert (one.stamp.engine, len(one.stamp.sha256)) == ("rapidocr", 64)
    assert one.stamp != other.stamp


_IN_A_PROCESS = """
import sys
def refuse(event, args):
    if event.startswith("socket."):
        raise SystemExit(f"asked for {event} {args}")
sys.addaudithook(refuse)
sys.path.insert(0, sys.argv[1])
from photo_made import label
from jobnotes.seeing.label_reader import LabelReader
print(len(LabelReader().see(label()).texts))
"""


def test_no_socket_is_opened_from_import_to_the_last_word() -> None:
    done = subprocess.run(
        [sys.executable, "-c", _IN_A_PROCESS, str(Path(__file__).parent)],
        capture_output=True,
        text=True,
        check=False,
    )
    assert (done.stdout.strip(), done.returncode) == (str(len(LABEL)), 0), done.stderr


@pytest.mark.slow
@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="needs Linux's account of a process")
def test_a_large_photo_stays_under_700_mib() -> None:
    """Peak resident memory of a process that does nothing else. getrusage won't do: what it tells begins
    with what the process that started this one has held."""
    code = _IN_A_PROCESS.replace("label()).texts", "label(size=(4000, 3000), text=120)).texts")
    code += "print(Path('/proc/self/status').read_text().split('VmHWM:')[1].split()[0])"
    code = "from pathlib import Path\n" + code
    told = subprocess.check_output([sys.executable, "-c", code, str(Path(__file__).parent)], text=True)
    assert 0 < int(told.split()[-1]) < 700 * 1024  # in KiB


@pytest.mark.parametrize(
    ("read", "taken"),
    [
        ("P/N 4 718 552", "P/N 4 718 552"),
        ("220.6。", "220.6"),
        ("３１５/80 R22.", "315/80"),
        ("24.6 V.", "24.6 V."),
        ("ＮＯ. 5", "NO. 5"),
        ("C11111111111111110", ""),
        ("R22.", ""),
    ],
)
def test_a_line_is_taken_in_plain_characters_and_without_what_was_clipped(read: str, taken: str) -> None:
    assert told(read, WritingSettings().longest_run) == taken
