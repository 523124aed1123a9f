"""The writing in a picture, by the engine `rapidocr`: a detector, a classifier of direction, a recogniser.

The weights are those that its package carries, checked against the digests below, and given to it by path: it
would fetch others where it is left to choose. One thread each, and one piece of writing at a time, so that
the same picture gives the same text on any machine with the same packages, whatever else it does.
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from functools import cached_property
from importlib import metadata
from itertools import groupby
from pathlib import Path
from typing import TYPE_CHECKING, Any

import cv2
import numpy as np
from numpy.typing import NDArray

from jobnotes.intake.originals import digest
from jobnotes.seeing.lines import Piece, Quad
from jobnotes.seeing.offline import no_socket_opened
from jobnotes.seeing.reader import UnreadableError

if TYPE_CHECKING:
    from rapidocr import RapidOCR

ENGINE, MODEL = "rapidocr", "PP-OCRv6 small"
WEIGHTS = {
    "Det": (
        "PP-OCRv6_det_small.onnx",
        "090f04abcd9d9a7498bc4ebf677e4cb9bdce1fe4197ddb7e529f1ef44e1ff94f",
    ),
    "Cls": (
        "ch_ppocr_mobile_v2.0_cls_mobile.onnx",
        "e47acedf663230f8863ff1ab0e64dd2d82b838fceb5957146dab185a89d6215c",
    ),
    "Rec": (
        "PP-OCRv6_rec_small.onnx",
        "6f327246b50388f3c176ae304bd95767ea6dc0c9ae92153ef8cbe210b3c14884",
    ),
}
"""Of each part of the engine: its file in the package, and the file's SHA-256."""

_REMEDY = "install it again: pip install --force-reinstall 'rapidocr==3.10.*'"
_STEP = 32  # the detector's pictures have sides of whole multiples, in pixels
_LINE_HEIGHT = 48  # pixels, as the recogniser was trained
_WIDEST = 40  # heights; more is no line of a label
_FOR_LONGER = 0.02  # of confidence
_UPRIGHT_RATIO = 1.5  # taller than so many widths: the writing runs up or down

Picture = NDArray[np.uint8]


@dataclass(frozen=True, slots=True)
class WritingSettings:
    """What decides on what is read; lengths in pixels, the rest are shares and confidences of 0–1.

    `pixels` is how many the detector looks at, `side` the longest side of what the writing is cut from,
    `box_at_least` how sure the detector is of a place, `at_least` the recogniser of what stands there
    (docs/photos.md has how both were chosen). Below `again_below` a piece is read again, turned and wider.
    `most_places` and `most_width`, of all that is recognised in lines of one height, bound the time. More
    than `longest_run` of one character in a row is a grille or a spring, and no writing. Digits are taken the
    other way up only where the recogniser is less sure than `other_way_below` of them upright.
    """

    pixels: int = 960 * 704
    side: int = 2560
    box_at_least: float = 0.5
    at_least: float = 0.92
    again_below: float = 0.98
    wider: float = 0.16
    shortest: int = 2
    most_places: int = 40
    most_width: int = 10_000
    longest_run: int = 5
    other_way_below: float = 0.8


@dataclass(slots=True)
class _Place:
    """Where writing seems to be: its box as it lies in the picture, the line cut out of it, whether that runs
    up or down the picture, whether it stands on its head, and what was read."""

    quad: Quad
    line: Picture
    tall: bool
    turned: bool = False
    text: str = ""
    confidence: float = 0.0

    @property
    def letters(self) -> int:
        return sum(c.isalpha() for c in self.text)

    def piece(self) -> Piece:
        shift = self.tall + 2 * self.turned
        return Piece(self.text, self.confidence, np.roll(self.quad, -shift, axis=0))


class Writing:
    """Finds and reads writing; the weights are loaded with the first picture."""

    def __init__(self, settings: WritingSettings | None = None) -> None:
        self.settings = settings or WritingSettings()
        self._width = 0

    def read(self, picture: Picture) -> list[Piece]:
        """What is written in `picture`, shape (height, width, 3), blue first; no order is promised.

        Raises UnreadableError where the weights can't be used.
        """
        self._width = 0
        places = []
        for quad in self._quads(picture):
            place = self._place(picture, quad)
            if place is not None:
                self._read_place(picture, place)
                places.append(place)
        self._agree(places)
        for place in places:
            place.text = told(place.text, self.settings.longest_run)
        return [
            p.piece()
            for p in places
            if p.confidence >= self.settings.at_least and len(p.text) >= self.settings.shortest
        ]

    def _quads(self, picture: Picture) -> list[Quad]:
        """Where writing seems to be, the largest first: boxes, clockwise from their own top left."""
        height, width = picture.shape[:2]
        share = min(1.0, (self.settings.pixels / (width * height)) ** 0.5)
        size = tuple(max(_STEP, round(side * share / _STEP) * _STEP) for side in (width, height))
        small = cv2.resize(picture, size, interpolation=cv2.INTER_AREA)
        found: Any = self._engine(
            small, use_det=True, use_cls=False, use_rec=False, box_thresh=self.settings.box_at_least
        )
        boxes = getattr(found, "boxes", None)
        if boxes is None:
            return []
        scale = np.array([width / size[0], height / size[1]])
        quads = [np.asarray(box, dtype=np.float64) * scale for box in boxes]
        quads.sort(key=lambda quad: -cv2.contourArea(quad.astype(np.float32)))
        return quads[: self.settings.most_places]

    def _place(self, picture: Picture, quad: Quad) -> _Place | None:
        cut = _cut(picture, quad)
        if cut is None:
            return None
        tall = cut.shape[0] >= _UPRIGHT_RATIO * cut.shape[1]
        return _Place(quad, _line(np.rot90(cut) if tall else cut), tall)

    def _read_place(self, picture: Picture, place: _Place) -> None:
        """Read it, and where the recogniser isn't sure, the other way up and with more of what is around."""
        found: Any = self._engine(place.line, use_det=False, use_cls=True, use_rec=False)
        place.turned = "180" in found.cls_res[0][0]
        place.text, place.confidence = self._recognised(place.line, place.turned)
        clipped = _CLIPPED.fullmatch(place.text) is not None
        if place.confidence >= self.settings.again_below and not clipped:
            return
        if not clipped:
            self._take_if_better(place, place.line, not place.turned)
        if clipped or self.settings.at_least / 2 < place.confidence < self.settings.again_below:
            wider = self._place(picture, _grown(place.quad, self.settings.wider))
            if wider is not None and wider.tall == place.tall:
                self._take_if_better(place, wider.line, place.turned)

    def _take_if_better(self, place: _Place, line: Picture, turned: bool) -> None:
        text, confidence = self._recognised(line, turned)
        # one that goes on where the other was clipped is worth a little less certainty
        longer = len(text) > len(place.text) and text.startswith(place.text) and place.text
        if confidence > place.confidence - (_FOR_LONGER if longer else 0.0):
            place.line, place.turned, place.text, place.confidence = line, turned, text, confidence

    def _agree(self, places: list[_Place]) -> None:
        """Digits can be read either way up: they stand as the words around them do."""
        for tall in (False, True):
            alike = [p for p in places if p.tall == tall]
            sure = [p for p in alike if p.confidence >= self.settings.at_least]
            votes = sum(-p.letters if p.turned else p.letters for p in sure if p.letters > 2)
            if not votes:
                for place in alike if not tall else ():
                    self._doubt_digits(place)
                continue
            for place in alike:
                if place.turned == (votes < 0) or place.letters > 2 or not place.text:
                    continue
                text, confidence = self._recognised(place.line, votes < 0)
                if confidence >= self.settings.at_least:
                    place.turned, place.text, place.confidence = votes < 0, text, confidence
                else:
                    place.confidence = 0.0

    def _doubt_digits(self, place: _Place) -> None:
        """Digits alone that seem to be on their head: 220.6 is 9022 so. They are read upright, unless they
        hold what makes no sense the other way up and the recogniser can't read them so."""
        if not place.turned or place.letters > 2 or not place.text:
            return
        upright, confidence = self._recognised(place.line, False)
        if _ONE_WAY.search(place.text) and confidence < self.settings.other_way_below:
            return
        place.turned, place.text, place.confidence = False, upright, confidence

    def _recognised(self, line: Picture, turned: bool) -> tuple[str, float]:
        """The text and how sure the recogniser is of it; nothing once so much was read that it takes long."""
        self._width += line.shape[1]
        if self._width > self.settings.most_width:
            return "", 0.0
        image = np.ascontiguousarray(line[::-1, ::-1]) if turned else line
        found: Any = self._engine(image, use_det=False, use_cls=False, use_rec=True)
        return found.txts[0].strip(), float(found.scores[0])

    @cached_property
    def _engine(self) -> RapidOCR:
        folder = _folder()
        for name, sha256 in WEIGHTS.values():
            path = folder / name
            if not path.is_file():
                raise UnreadableError(ENGINE, f"its {name} is not installed", _REMEDY)
            if digest(path) != sha256:
                raise UnreadableError(ENGINE, f"its {name} is not the file it should be", _REMEDY)
        with no_socket_opened():
            from rapidocr import RapidOCR
        cv2.setNumThreads(1)
        return RapidOCR(
            params={
                "Global.log_level": "critical",
                "Global.use_preprocess_img": False,
                "Global.use_vertical_padding": False,
                # only named so that it never looks for one to fetch: nothing is drawn
                "Global.font_path": str(folder),
                "EngineConfig.onnxruntime.intra_op_num_threads": 1,
                "EngineConfig.onnxruntime.inter_op_num_threads": 1,
                # the smaller side, in pixels, below which it would make a picture larger by itself
                "Det.limit_side_len": _STEP,
                "Rec.rec_img_shape": [3, _LINE_HEIGHT, 160],
                **{f"{part}.model_path": str(folder / name) for part, (name, _) in WEIGHTS.items()},
            }
        )


def told(text: str, longest_run: int) -> str:
    """What of a line can be taken as read: plain characters, without a number that was clipped at its point.

    Empty where one character comes more than `longest_run` times in a row.
    """
    plain = unicodedata.normalize("NFKC", text).translate(_STOPS).strip()
    if any(len(list(same)) > longest_run for _, same in groupby(plain)):
        return ""
    clipped = _CLIPPED.fullmatch(plain)
    if clipped is None:
        return plain
    before, number = clipped.groups()
    return f"{before}{number if '.' in number else ''}".strip()


#: A line that ends with a number and a point: whatever comes before it, and that number. One with a point of
#: its own is whole ("220.6."), another was cut off there ("R22.").
_CLIPPED = re.compile(r"(|.*\s)(\S*\d)\.")
#: Characters that stand on their head are no other digit, on a display of seven segments neither.
_ONE_WAY = re.compile(r"[347RPNSVA]")
#: Full stops of other scripts, which the recogniser knows too.
_STOPS = str.maketrans({"。": ".", "、": ",", "·": "."})


def versions() -> dict[str, str]:
    """Of the packages that a reading depends on."""
    packages = ("rapidocr", "onnxruntime", "opencv-python-headless", "zxing-cpp", "pillow", "numpy")
    try:
        return {package: metadata.version(package) for package in packages}
    except metadata.PackageNotFoundError as error:
        raise UnreadableError(str(error.name), "is not installed", f"pip install {error.name}") from error


def _folder() -> Path:
    try:
        return Path(str(metadata.distribution("rapidocr").locate_file("rapidocr/models")))
    except metadata.PackageNotFoundError:
        raise UnreadableError(ENGINE, "is not installed", "pip install 'rapidocr==3.10.*'") from None


def _cut(picture: Picture, quad: Quad) -> Picture | None:
    """What stands in `quad`, seen from straight ahead; None for what is too small to be writing."""
    sides = [float(np.linalg.norm(quad[at] - quad[at - 1])) for at in range(4)]  # left, top, right, bottom
    width, height = max(sides[1], sides[3]), max(sides[0], sides[2])
    if min(width, height) < 4 or max(width, height) > _WIDEST * min(width, height):
        return None
    # no larger than the recogniser takes it: more would be thrown away
    share = min(1.0, 2 * _LINE_HEIGHT / min(width, height))
    size = max(1, round(width * share)), max(1, round(height * share))
    flat = np.array([[0, 0], [size[0], 0], [size[0], size[1]], [0, size[1]]], dtype=np.float32)
    matrix = cv2.getPerspectiveTransform(quad.astype(np.float32), flat)
    cut = cv2.warpPerspective(picture, matrix, size, flags=cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE)
    return np.asarray(cut, dtype=np.uint8)


def _grown(quad: Quad, share: float) -> Quad:
    """The box with `share` of its height more on each side: the detector clips a point or a last digit."""
    sides = [float(np.linalg.norm(quad[at] - quad[at - 1])) for at in range(4)]
    more = share * min(max(sides[1], sides[3]), max(sides[0], sides[2]))
    across, down = (quad[1] - quad[0]) / max(sides[1], 1.0), (quad[3] - quad[0]) / max(sides[0], 1.0)
    ways = np.array([-across - down, across - down, across + down, down - across])
    return np.asarray(quad + more * ways, dtype=np.float64)


def _line(cut: Picture) -> Picture:
    """The cut, as tall as the recogniser takes it."""
    width = max(1, round(cut.shape[1] * _LINE_HEIGHT / cut.shape[0]))
    resized = cv2.resize(np.ascontiguousarray(cut), (width, _LINE_HEIGHT), interpolation=cv2.INTER_AREA)
    return np.asarray(resized, dtype=np.uint8)
