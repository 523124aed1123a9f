"""Documents as a reader finds them: all their text, their tables, what is said of their pictures."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from docx import Document
from docx.document import Document as Docx
from docx.table import Table
from PIL import Image

from jobnotes.documents import House, load, write_all
from jobnotes.office.workshop import Workshop
from jobnotes.record import Party, Photo, Record


def drawing_small(shot: Photo, _side: int) -> Image.Image:
    """A drawing too small to take time, for tests that look at words."""
    return Image.new("RGB", (shot.width // 20, shot.height // 20), "grey")


def text_of(document: Docx) -> str:
    """All that a reader finds in a document, in order: paragraphs, cells, alt texts, then the footer."""
    lines: list[str] = []
    for block in document.iter_inner_content():
        if isinstance(block, Table):
            # by element: python-docx works out the grid for each cell anew
            lines += ["\n".join(p.text for p in cell.p_lst) for cell in block._tbl.iter_tcs()]
        else:
            lines.append(block.text)
    lines += alt_texts(document)
    lines += [paragraph.text for paragraph in document.sections[0].footer.paragraphs]
    return "\n".join(lines)


def alt_texts(document: Docx) -> list[str]:
    return [str(shape._inline.docPr.get("descr")) for shape in document.inline_shapes]


def tables_under(document: Docx, heading: str) -> list[Table]:
    """The tables between the heading with this text and the next one."""
    found: list[Table] = []
    inside = False
    for block in document.iter_inner_content():
        if isinstance(block, Table):
            if inside:
                found.append(block)
        elif block.style is not None and block.style.name.startswith("Heading"):
            inside = block.text == heading
    return found


def house_of(**stated: Any) -> House:
    """The house of a workshop that states this and nothing else."""
    return load(workshop=Workshop(Party("Sample Quay Coach Works (invented)"), "EUR", (), **stated))


@dataclass(frozen=True)
class Written:
    record: Record
    folder: Path
    claim: Docx
    customer: Docx
    workshop: Docx

    def each(self) -> Iterator[tuple[str, Docx]]:
        yield from (("claim", self.claim), ("customer", self.customer), ("workshop", self.workshop))


def written(  # type: ignore[no-untyped-def]
    record: Record, folder: Path, pictures=drawing_small, *, house: House | None = None
) -> Written:
    paths = write_all(record, None, pictures, folder, house=house)
    return Written(record, folder, *(Document(str(path)) for path in paths))
