"""Letterheads made on the fly, as an invented workshop might have them."""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

from docx import Document
from docx.enum.section import WD_ORIENT
from docx.enum.text import WD_ALIGN_PARAGRAPH
from docx.shared import Mm, Pt, RGBColor
from PIL import Image, ImageDraw

FIRST_LINE = "Sample Quay Coach Works (invented)"
FOOT = "3 Example Wharf · Sampleton · invented"
IN_BODY = "Dear customer, this line of the sample letter must go"


def sign() -> io.BytesIO:
    """A drawn sign: two hulls on a wave."""
    image = Image.new("RGB", (360, 120), "white")
    draw = ImageDraw.Draw(image)
    draw.rectangle((0, 84, 360, 120), fill="#264E36")
    draw.polygon(((40, 84), (150, 84), (130, 30), (60, 30)), fill="#B55A30")
    draw.polygon(((200, 84), (320, 84), (300, 44), (220, 44)), fill="#D89B4A")
    kept = io.BytesIO()
    image.save(kept, "PNG")
    kept.seek(0)
    return kept


def letterhead(
    path: Path,
    *,
    first_page: bool = False,
    two_sided: bool = False,
    landscape: bool = False,
    side_mm: float = 25,
    change: Callable[[Any], None] | None = None,
) -> Path:
    """A letterhead with a sign, a name, a foot, own styles and a sample letter, at `path`."""
    document = Document()
    section = document.sections[0]
    section.page_width, section.page_height = Mm(210), Mm(297)
    if landscape:
        section.orientation = WD_ORIENT.LANDSCAPE
        section.page_width, section.page_height = Mm(297), Mm(210)
    section.left_margin = section.right_margin = Mm(side_mm)
    section.top_margin, section.bottom_margin = Mm(40), Mm(28)
    section.different_first_page_header_footer = first_page
    document.settings.odd_and_even_pages_header_footer = two_sided
    header = section.first_page_header if first_page else section.header
    paragraph = header.paragraphs[0]
    paragraph.add_run().add_picture(sign(), width=Mm(30))
    paragraph.add_run(f"  {FIRST_LINE}").bold = True
    paragraph.alignment = WD_ALIGN_PARAGRAPH.RIGHT
    section.footer.paragraphs[0].text = FOOT
    normal = document.styles["Normal"]
    normal.font.name, normal.font.size = "Liberation Serif", Pt(10.5)
    for name, size in (("Title", 24), ("Heading 1", 15), ("Heading 2", 12)):
        style = document.styles[name]
        style.font.size, style.font.color.rgb = Pt(size), RGBColor(0x26, 0x4E, 0x36)
    document.add_heading("Sample letter", 1)
    document.add_paragraph(IN_BODY)
    document.add_picture(sign())
    document.core_properties.author = "S. Clerk"
    document.core_properties.keywords = "not for customers"
    if change is not None:
        change(document)
    document.save(str(path))
    return path


def edited(path: Path, edit: Callable[[str, bytes], bytes | None]) -> Path:
    """Rewrite each entry of the package by `edit(name, content)`; None leaves it out."""
    with zipfile.ZipFile(path) as package:
        entries = {name: package.read(name) for name in package.namelist()}
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as package:
        for name, content in entries.items():
            changed = edit(name, content)
            if changed is not None:
                package.writestr(name, changed)
    return path


def in_another_language(path: Path) -> Path:
    """The ids that a German word processor gives its styles; their names stay, as the standard has it."""
    ids = {"Title": "Titel", "Heading1": "berschrift1", "Heading2": "berschrift2", "Normal": "Standard"}
    ids["ListBullet"] = "Aufzhlungszeichen"

    def edit(name: str, content: bytes) -> bytes:
        if not name.startswith("word/") or not name.endswith(".xml"):
            return content
        text = content.decode()
        for old, new in ids.items():
            text = re.sub(rf'(w:(?:val|styleId))="{old}"(?=[ />])(?<!w:name )', rf'\1="{new}"', text)
        # the names were changed with the ids: put those back
        for old, new in ids.items():
            text = text.replace(f'<w:name w:val="{new}"/>', f'<w:name w:val="{old}"/>')
        return text.encode()

    return edited(path, edit)
