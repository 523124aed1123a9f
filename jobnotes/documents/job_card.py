"""The job card: the code that is photographed first, with its words, as a page to print and as a picture.

What the code says is `jobnotes.reading.job.job_card`'s.
"""

from __future__ import annotations

import io
import tempfile
from datetime import datetime
from pathlib import Path

import segno
from PIL import Image, ImageDraw, ImageFont

from jobnotes.documents import values
from jobnotes.documents.files import put, unwritable
from jobnotes.documents.house import House
from jobnotes.documents.pictures import Shown
from jobnotes.documents.sheet import Properties, Sheet
from jobnotes.documents.wording import Wording
from jobnotes.errors import JobnotesError
from jobnotes.reading.job.job_card import BadCardError, text_of
from jobnotes.record import JobCard

DOCX, PNG = "card.docx", "card.png"
QUIET = 4  # modules of margin, which ISO/IEC 18004 asks for
#: what stands beside the time, and what it is good for; a live card stands on no paper
_TOLD = {"printed": ("card.printed", "card.printed_how"), "stated": ("card.stated", "card.stated_how")}

# a quarter of the code may be covered by grease or glare (level Q of ISO/IEC 18004)
_LEVEL = "q"
_CODE_MM = 125.0
_WIDTH, _MARGIN = 1240, 60  # pixels of the picture: 105 mm wide at 300 dots per inch
_LARGEST, _SMALLEST = 110, 24  # of its letters


def code(card: JobCard) -> segno.QRCode:
    """The card's QR code. Raises JobnotesError where the card can't be told by one."""
    try:
        return segno.make(text_of(card), error=_LEVEL, micro=False)
    except BadCardError as error:
        raise JobnotesError(f"job card of {card.number}", str(error), "shorten or correct it") from None


def moment(clock: datetime, wording: Wording) -> str:
    """A card's time as a person reads it: to the second, with its offset from UTC."""
    time = values.clock_time(clock, wording, seconds=True)
    told = wording.say("form.moment", date=values.date(clock, wording), time=time)
    return f"{told} ({values.offset_name(clock, wording)})"


def write_card(card: JobCard, out_dir: Path, house: House) -> tuple[Path, Path]:
    """Write `card.docx` and `card.png` to `out_dir`; returns their paths.

    The card's clock is printed or stated. Raises JobnotesError.
    """
    picture = _picture(card, house.wording)
    try:
        with tempfile.TemporaryDirectory(prefix="jobnotes-card.") as folder:
            sheet = _sheet(card, house, _code_picture(card, Path(folder)))
            title = house.wording.say("card.title", number=card.number)
            sheet.save(out_dir / DOCX, Properties(title, text_of(card), card.clock))
    except OSError as error:
        raise unwritable(out_dir / DOCX, error) from error
    put(picture, out_dir / PNG)
    return out_dir / DOCX, out_dir / PNG


def _sheet(card: JobCard, house: House, shown: Shown) -> Sheet:
    say = house.wording.say
    sheet = Sheet(house.wording, say("card.footer"), house.paper, house.letterhead)
    sheet.title(say("card.title", number=card.number), _about(card))
    sheet.paragraph(say("card.first"), keep_with_next=True)
    sheet.chart(shown, _clock(card, house.wording), min(_CODE_MM, sheet.width_mm))
    sheet.paragraph(say(_TOLD[card.clock_is][1]))
    sheet.paragraph(say("card.caution"), small=True)
    return sheet


def _about(card: JobCard) -> str:
    return " · ".join(told for told in (card.registration, card.customer) if told)


def _clock(card: JobCard, wording: Wording) -> str:
    return wording.say(_TOLD[card.clock_is][0], moment=moment(card.clock, wording))


def _code_picture(card: JobCard, folder: Path) -> Shown:
    path = folder / "code.png"
    path.write_bytes(_code_bytes(card, 16))
    with Image.open(path) as image:
        return Shown(path, *image.size, path.stat().st_size)


def _code_bytes(card: JobCard, scale: int) -> bytes:
    drawn = io.BytesIO()
    code(card).save(drawn, kind="png", scale=scale, border=QUIET)
    return drawn.getvalue()


def _picture(card: JobCard, wording: Wording) -> bytes:
    """The code under its number and over its clock, for a screen or a label printer."""
    inner = _WIDTH - 2 * _MARGIN
    modules = int(code(card).symbol_size(border=QUIET)[0])
    with Image.open(io.BytesIO(_code_bytes(card, inner // modules))) as image:
        square = image.convert("L")
    above = _lines((wording.say("card.title", number=card.number), card.registration), inner, _LARGEST)
    below = _lines((card.customer, _clock(card, wording), wording.say("card.first_short")), inner, 52)
    height = 2 * _MARGIN + square.height + sum(font.size * 1.35 for _, font in (*above, *below))
    page = Image.new("L", (_WIDTH, round(height)), 255)
    draw = ImageDraw.Draw(page)
    y = float(_MARGIN)
    for text, font in above:
        draw.text((_WIDTH / 2, y), text, fill=0, font=font, anchor="ma")
        y += font.size * 1.35
    page.paste(square, ((_WIDTH - square.width) // 2, round(y)))
    y += square.height
    for text, font in below:
        draw.text((_WIDTH / 2, y), text, fill=0, font=font, anchor="ma")
        y += font.size * 1.35
    drawn = io.BytesIO()
    page.save(drawn, "PNG", optimize=True, dpi=(300, 300))
    return drawn.getvalue()


def _lines(
    texts: tuple[str | None, ...], width: int, largest: int
) -> list[tuple[str, ImageFont.FreeTypeFont]]:
    """Each text that there is and that can be drawn, in letters in which it fits the width."""
    lines = []
    for text in texts:
        if not text or not _drawable(text):
            continue
        font = _font(largest)
        size = max(_SMALLEST, min(largest, int(largest * width / max(font.getlength(text), 1))))
        font = _font(size)
        while font.getlength(text) > width:
            text = f"{text.removesuffix('…')[:-1]}…"
        lines.append((text, font))
    return lines


def _font(size: int) -> ImageFont.FreeTypeFont:
    font = ImageFont.load_default(size=size)
    assert isinstance(font, ImageFont.FreeTypeFont)  # with a size it is one
    return font


def _drawable(text: str) -> bool:
    """False where the font that comes with Pillow lacks a letter: an empty box says nothing."""
    font = _font(_SMALLEST)
    lacking = bytes(font.getmask("\U0010ffff"))
    return all(c.isspace() or bytes(font.getmask(c)) != lacking for c in text)
