"""One document as it is drawn: headings, paragraphs, tables and pictures on python-docx."""

from __future__ import annotations

import io
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Literal

from babel import Locale
from docx import Document
from docx.enum.section import WD_ORIENT
from docx.opc.constants import RELATIONSHIP_TYPE
from docx.opc.packuri import PackURI
from docx.opc.part import Part
from docx.oxml import OxmlElement
from docx.oxml.ns import qn
from docx.oxml.shape import CT_Inline
from docx.shared import Emu, Mm

from jobnotes.documents import cells as measure
from jobnotes.documents import wordml
from jobnotes.documents.cells import Cell, Column, Plate
from jobnotes.documents.files import put_settled
from jobnotes.documents.letterhead import Letterhead
from jobnotes.documents.pictures import Shown
from jobnotes.documents.plaintext import fit, unmarked
from jobnotes.documents.template import blank
from jobnotes.documents.wording import Wording

Paper = Literal["A4", "Letter"]
_PAPER_MM: Mapping[str, tuple[float, float]] = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}
_SIDE_MM, _TOP_MM, _BOTTOM_MM = 20.0, 18.0, 20.0
_EMU_PER_MM = 36000
# a row taller than this may split: under a high letterhead no page might hold it together with its heading
_MOST_ROW_MM = 100.0
# a table lower than this stays on one page
_SMALL_TABLE_MM = 60.0
_MOST_BULLETS_TOGETHER = 8
_MOST_LETTERHEAD_PICTURES = 1000  # ids of pictures in a letterhead lie below it
_MOST_PROPERTY_CHARACTERS = 255


@dataclass(frozen=True, slots=True)
class Properties:
    """What the file says about itself. `made` is any time that depends on the record alone."""

    title: str
    identifier: str
    made: datetime


class Sheet:
    """A document under construction, from top to bottom. Nothing is on disk before `save`."""

    def __init__(
        self,
        wording: Wording,
        footer: str,
        paper: Paper | None = None,
        letterhead: Letterhead | None = None,
    ) -> None:
        """`paper` goes before the letterhead's own; without either it is A4."""
        self._wording = wording
        self._rtl = Locale.parse(wording.tag, sep="-").text_direction == "rtl"
        empty = letterhead.template if letterhead else blank(wording.tag)
        self._document = Document(io.BytesIO(empty))
        self._body: Any = self._document.element.body
        self._last: Any = self._body[-1]  # the section's own properties stay last
        self._pictures = _MOST_LETTERHEAD_PICTURES if letterhead else 0
        self._new_page = False
        self._parts: dict[Path, str] = {}
        if letterhead is None:
            self._set_margins()
        if letterhead is None or paper is not None:
            self._set_paper(paper or "A4")
        section: Any = self._document.sections[0]
        text_width = section.page_width - section.left_margin - section.right_margin
        self.width_mm: float = text_width / _EMU_PER_MM
        text_height = section.page_height - section.top_margin - section.bottom_margin
        self.height_mm: float = text_height / _EMU_PER_MM
        self._write_footers(footer)

    # --- text ------------------------------------------------------------------------------------

    def title(self, text: str, subtitle: str = "") -> None:
        self._add(wordml.paragraph("Title", text))
        if subtitle:
            self._add(wordml.paragraph("Subtitle", subtitle))

    def heading(self, text: str, level: Literal[1, 2] = 1) -> None:
        paragraph = wordml.paragraph(f"Heading{level}", text)
        wordml.keep_with_next(paragraph, "w:keepNext")  # a letterhead's heading may not
        if self._new_page:
            paragraph.pPr.find(qn("w:keepNext")).addnext(OxmlElement("w:pageBreakBefore"))
            before = self._last.getprevious()
            if before is not None and wordml.style_of(before) == "AfterTable":
                self._body.remove(before)  # under a table that fills its page it would be a page of its own
            self._new_page = False
        self._add(paragraph)

    def new_page(self) -> None:
        """The next heading begins a page; without another heading there is no empty one."""
        self._new_page = True

    def paragraph(self, text: str, *, small: bool = False, keep_with_next: bool = False) -> None:
        paragraph = wordml.paragraph("Small" if small else "Normal", text)
        if keep_with_next:
            wordml.keep_with_next(paragraph, "w:keepNext")
        self._add(paragraph)

    def notice(self, lead: str, text: str) -> None:
        """A framed remark: what it is in bold, then what to do about it."""
        paragraph = wordml.paragraph("Notice", lead, bold=True)
        wordml.append_runs(paragraph, f"\n{text}")
        self._add(paragraph)

    def bullets(self, lines: Iterable[str]) -> None:
        """A list; a short one stays on one page, with what leads to it."""
        told = list(lines)
        for number, line in enumerate(told, 1):
            paragraph = wordml.paragraph("ListBullet", line)
            if number < len(told) <= _MOST_BULLETS_TOGETHER:
                wordml.keep_with_next(paragraph, "w:keepNext")
            self._add(paragraph)

    # --- tables ----------------------------------------------------------------------------------

    def table(
        self,
        columns: Sequence[Column],
        rows: Sequence[Sequence[Cell | str]],
        *,
        describe: str = "",
        room_mm: float | None = None,
        keep_with_next: bool = False,
    ) -> float:
        """A table with a heading row that repeats; nothing at all where there are no rows.

        Where the page is too narrow for the widest words, columns that may go below the first one do, and
        then the type gets smaller. So it does where a table that is to stand in `room_mm` is too tall, unless
        no legible type would do. `keep_with_next`: a low table stays on the page of what follows it. Returns
        about how tall the table is, in mm.
        """
        if not rows:
            return 0.0
        cells = [[cell if isinstance(cell, Cell) else Cell(cell) for cell in row] for row in rows]
        none = self._wording.say("form.none")
        kept = [
            index
            for index, column in enumerate(columns)
            if column.always or any(not row[index].empty(none) for row in cells)
        ]
        words = [measure.widest_word_mm(columns[i], [row[i].text for row in cells]) for i in kept]
        scale = measure.scale_for(self.width_mm, words)
        if scale < 1 and any(columns[i].below for i in kept):
            cells = [_first_over(row, columns, kept, none) for row in cells]
            kept = [i for i in kept if not columns[i].below]
            words = [measure.widest_word_mm(columns[i], [row[i].text for row in cells]) for i in kept]
            scale = measure.scale_for(self.width_mm, words)
        widths = measure.widths_mm(
            self.width_mm,
            [columns[index].width for index in kept],
            [measure.least_width_mm(word, scale) for word in words],
        )

        def heights_in(scale: float) -> list[float]:
            styles = [columns[index].style for index in kept]
            told = [[row[index] for index in kept] for row in cells]
            return [measure.row_height_mm(row, widths, styles, scale) for row in told]

        if room_mm is not None:
            fitting = (s for s in measure.steps_from(scale) if sum(heights_in(s)) <= room_mm)
            scale = next(fitting, scale)
        heights = heights_in(scale)
        together = sum(heights) <= _SMALL_TABLE_MM
        followed = keep_with_next and together
        # two rows with pictures that kept together would leave much of a page empty
        pictures = any(cell.plate for last in cells[-2:] for cell in last)
        table = wordml.table("FactTable", widths, describe, rtl=self._rtl)
        heading = OxmlElement("w:tr")
        heading.append(wordml.row_properties(repeat=True))
        for index, width in zip(kept, widths, strict=True):
            points = measure.points_of("TableHeading", scale)
            paragraph = wordml.paragraph("TableHeading", columns[index].heading, points=points)
            wordml.align(paragraph, columns[index].align)
            heading.append(wordml.cell(width, paragraph))
        table.append(heading)
        for number, (row, height) in enumerate(zip(cells, heights, strict=True)):
            # the last row does not stand alone on a page; a low table does not break at all
            last = number == len(cells) - 1
            keep = followed if last else together or (number == len(cells) - 2 and not pictures)
            line = OxmlElement("w:tr")
            if height <= _MOST_ROW_MM:
                line.append(wordml.row_properties(repeat=False))
            else:
                keep = False
            for index, width in zip(kept, widths, strict=True):
                line.append(self._filled(row[index], columns[index], width, none, scale, keep=keep))
            table.append(line)
        self._add(table)
        after = wordml.paragraph("AfterTable", "")
        if followed:
            wordml.keep_with_next(after, "w:keepNext")
        self._add(after)
        return sum(heights)

    def _filled(
        self, cell: Cell, column: Column, width: float, none: str, scale: float, *, keep: bool
    ) -> Any:
        if cell.plate is not None:
            room = width - measure.PADDING_MM
            return wordml.cell(width, *self._plate("PlatePicture", cell.plate, room, measure.PICTURE_MM))
        points = measure.points_of(column.style, scale)
        text = wordml.paragraph(column.style, cell.text or none, bold=cell.bold, points=points)
        wordml.align(text, column.align)
        paragraphs = [text]
        small = measure.points_of("Remark", scale)
        paragraphs += [
            wordml.paragraph("Remark", line, points=small) for line in cell.remark.split("\n") if line
        ]
        if keep:
            for paragraph in paragraphs:
                wordml.keep_with_next(paragraph, "w:keepNext")
        return wordml.cell(width, *paragraphs)

    # --- pictures --------------------------------------------------------------------------------

    def plates(self, plates: Sequence[Plate], *, thumbnails: bool = False) -> None:
        """Pictures with captions side by side, a single one larger; `thumbnails` are small in any number."""
        if not plates:
            return
        if len(plates) == 1 and not thumbnails:
            for paragraph in self._plate("Picture", plates[0], min(130.0, self.width_mm), 95.0):
                self._add(paragraph)
            return
        across, height = (3, 44.0) if thumbnails else (2, 68.0)
        gap = 6.0
        width = (self.width_mm - gap * (across - 1)) / across
        table = wordml.table("PlateTable", [width, *[gap, width] * (across - 1)], "", rtl=self._rtl)
        for first in range(0, len(plates), across):
            row = OxmlElement("w:tr")
            row.append(wordml.row_properties(repeat=False))
            for place in range(across):
                if place:
                    row.append(wordml.cell(gap, wordml.paragraph("TableText", "")))
                if first + place < len(plates):
                    drawn = self._plate("PlatePicture", plates[first + place], width, height)
                    row.append(wordml.cell(width, *drawn))
                else:
                    row.append(wordml.cell(width, wordml.paragraph("TableText", "")))
            table.append(row)
        self._add(table)
        self._add(wordml.paragraph("AfterTable", ""))

    def chart(self, picture: Shown, caption: str, width_mm: float) -> None:
        """A drawn picture with its caption, which is also what it says to who can't see it."""
        paragraph = wordml.paragraph("Picture", "")
        height_mm = width_mm * picture.height / picture.width
        paragraph.append(self._picture_run(picture, caption, width_mm, height_mm))
        self._add(paragraph)
        self._add(wordml.paragraph("Caption", caption))

    def _plate(self, style: str, plate: Plate, width_mm: float, height_mm: float) -> list[Any]:
        picture = wordml.paragraph(style, "" if plate.shown else plate.missing)
        if plate.shown:
            scale = min(width_mm / plate.shown.width, height_mm / plate.shown.height)
            # half a pixel more or less is not a stretched photo; a side of nothing would not open
            size = max(plate.shown.width * scale, 0.5), max(plate.shown.height * scale, 0.5)
            picture.append(self._picture_run(plate.shown, plate.alt, *size))
        return [picture, wordml.paragraph("Caption", plate.caption)]

    def _picture_run(self, shown: Shown, alt: str, width_mm: float, height_mm: float) -> Any:
        self._pictures += 1
        relation = self._parts.get(shown.path)
        if relation is None:
            name = f"/word/media/photo{len(self._parts) + 1}{shown.path.suffix}"
            kind = "image/png" if shown.path.suffix == ".png" else "image/jpeg"
            part = _FilePart(PackURI(name), kind, shown.path, self._document.part.package)
            relation = self._parts[shown.path] = self._document.part.relate_to(part, RELATIONSHIP_TYPE.IMAGE)
        inline = CT_Inline.new_pic_inline(
            self._pictures,
            relation,
            f"picture {self._pictures}",
            Emu(round(width_mm * _EMU_PER_MM)),
            Emu(round(height_mm * _EMU_PER_MM)),
        )
        for side in ("distT", "distB", "distL", "distR"):
            inline.set(side, "0")  # optional, but not every reader takes its absence for nothing
        inline.docPr.set("descr", unmarked(fit(alt)))
        drawing = OxmlElement("w:drawing")
        drawing.append(inline)
        run = OxmlElement("w:r")
        run.append(drawing)
        return run

    # --- the file --------------------------------------------------------------------------------

    def save(self, path: Path, properties: Properties) -> None:
        """Write the document, with the same bytes for the same content.

        The zip gets fixed times, and pictures, which are compressed already, are stored as they are.
        Raises JobnotesError where it can't be written; `path` is then as it was.
        """
        last = self._last.getprevious()
        if last is not None and wordml.style_of(last) == "AfterTable":
            # there must be a paragraph after a table, but it must not take a page of its own
            last.pPr.append(wordml.element("w:spacing", line="20", lineRule="exact"))
        core = self._document.core_properties
        core.title = unmarked(fit(properties.title))[:_MOST_PROPERTY_CHARACTERS]
        core.language = self._wording.tag
        core.author = core.last_modified_by = "jobnotes"
        core.identifier = properties.identifier[:_MOST_PROPERTY_CHARACTERS]
        core.comments = ""
        core.revision = 1
        made = properties.made.astimezone(UTC).replace(tzinfo=None, microsecond=0)
        core.created = core.modified = made
        # in memory: where the disk is full, what writes the zip would come back to it once it is closed
        loose = io.BytesIO()
        self._document.save(loose)
        put_settled(loose, path)

    def _set_paper(self, paper: Paper) -> None:
        section = self._document.sections[0]
        width, height = _PAPER_MM[paper]
        section.page_width, section.page_height = Mm(width), Mm(height)
        section.orientation = WD_ORIENT.PORTRAIT

    def _set_margins(self) -> None:
        section = self._document.sections[0]
        section.left_margin = section.right_margin = Mm(_SIDE_MM)
        section.top_margin, section.bottom_margin = Mm(_TOP_MM), Mm(_BOTTOM_MM)
        section.header_distance = section.footer_distance = Mm(9)

    def _write_footers(self, text: str) -> None:
        """Job and page number at the foot of every kind of page, below what a letterhead has there."""
        section = self._document.sections[0]
        kinds = [section.footer]
        if section.different_first_page_header_footer:
            kinds.append(section.first_page_footer)
        if self._document.settings.odd_and_even_pages_header_footer:
            kinds.append(section.even_page_footer)
        for footer in kinds:
            own = not footer.is_linked_to_previous  # an own footer of the letterhead
            last = footer.paragraphs[-1]._p if footer.paragraphs else None
            paragraph: Any = wordml.paragraph("Footer", "")
            if last is None:
                footer._element.append(paragraph)
            else:
                footer._element[-1].addnext(paragraph)
                if not own or not wordml.has_content(last):
                    footer._element.remove(last)
            self._fill_footer(paragraph, text)

    def _fill_footer(self, paragraph: Any, text: str) -> None:
        properties = paragraph.pPr
        tabs = OxmlElement("w:tabs")
        styles: Any = self._document.styles.element
        footers = [s for s in styles.iter(qn("w:style")) if s.get(qn("w:styleId")) == "Footer"]
        own = {tab.get(qn("w:pos")) for style in footers for tab in style.iter(qn("w:tab"))}
        for place in sorted(own, key=int):
            tabs.append(wordml.element("w:tab", val="clear", pos=place))  # a letterhead's centre is not ours
        tabs.append(wordml.element("w:tab", val="right", pos=str(round(self.width_mm * wordml.TWIPS_PER_MM))))
        properties.append(tabs)
        wordml.append_runs(paragraph, text)
        paragraph.append(wordml.run_of(OxmlElement("w:tab")))
        page = self._wording.say("form.page", page="\x1f PAGE \x1f", pages="\x1f NUMPAGES \x1f")
        for index, piece in enumerate(page.split("\x1f")):
            if index % 2:
                for run in wordml.field(piece):
                    paragraph.append(run)
            elif piece:
                wordml.append_runs(paragraph, piece)

    def _add(self, element: Any) -> None:
        self._last.addprevious(element)


def _first_over(row: list[Cell], columns: Sequence[Column], kept: Sequence[int], none: str) -> list[Cell]:
    """A row whose first cell says also what its columns that go below it hold."""
    told = [
        f"{columns[i].heading}: {row[i].text}"
        for i in kept
        if columns[i].below and row[i].text not in ("", none)
    ]
    first = kept[0]
    lead = replace(row[first], text="\n".join((row[first].text, *told)))
    return [lead if place == first else cell for place, cell in enumerate(row)]


class _FilePart(Part):
    """A part whose content stays on disk until the package is written."""

    def __init__(self, name: PackURI, kind: str, path: Path, package: Any) -> None:
        super().__init__(name, kind, None, package)
        self._path = path

    @property
    def blob(self) -> bytes:
        return self._path.read_bytes()
