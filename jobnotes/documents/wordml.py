"""WordprocessingML, element by element (ECMA-376 part 1, clause 17); child order is the schema's."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any, Literal

from docx.oxml import OxmlElement
from docx.oxml.ns import qn

from jobnotes.documents.plaintext import SPEECH, by_direction, by_language, fit, is_rtl, unmarked

TWIPS_PER_MM = 1440 / 25.4


def element(tag: str, **attributes: str) -> Any:
    element = OxmlElement(tag)
    for name, value in attributes.items():
        element.set(qn(f"w:{name}"), value)
    return element


def paragraph(style: str, text: str, *, bold: bool = False, points: float | None = None) -> Any:
    text = fit(text)
    paragraph = OxmlElement("w:p")
    properties = OxmlElement("w:pPr")
    properties.append(element("w:pStyle", val=style))
    if is_rtl(text):
        properties.append(OxmlElement("w:bidi"))
    paragraph.append(properties)
    append_runs(paragraph, text, bold=bold, points=points)
    return paragraph


def keep_with_next(paragraph: Any, tag: str) -> None:
    """Add `keepNext`, which the schema wants straight after the style."""
    paragraph.pPr[0].addnext(OxmlElement(tag))


def style_of(element: Any) -> str:
    """The style that a paragraph names; "" for anything else."""
    style = element.find(f"{qn('w:pPr')}/{qn('w:pStyle')}")
    return "" if style is None else str(style.get(qn("w:val")))


def has_content(paragraph: Any) -> bool:
    """True where a paragraph holds anything but its own properties."""
    return any(child.tag != qn("w:pPr") for child in paragraph)


def align(paragraph: Any, side: Literal["left", "right"]) -> None:
    """Amounts stand with their decimal signs below each other, clear of the column beside them."""
    if side == "right":
        paragraph.pPr.append(element("w:ind", right="80"))
        paragraph.pPr.append(element("w:jc", val="right"))


def append_runs(paragraph: Any, text: str, *, bold: bool = False, points: float | None = None) -> None:
    """Add text in runs of one direction and one language each; `points` is a size of its own."""
    pieces = (
        (piece, rtl, spoken)
        for told, spoken in by_language(fit(text))
        for piece, rtl in by_direction(told)
        if piece
    )
    for piece, rtl, spoken in pieces:
        run = OxmlElement("w:r")
        if bold or rtl or points or spoken:
            properties = OxmlElement("w:rPr")
            if bold:
                properties.append(OxmlElement("w:b"))
                properties.append(OxmlElement("w:bCs"))
            if points:
                properties.append(element("w:sz", val=str(round(points * 2))))
                properties.append(element("w:szCs", val=str(round(points * 2))))
            if rtl:
                properties.append(OxmlElement("w:rtl"))
            if spoken:
                properties.append(element("w:lang", val=SPEECH))
            run.append(properties)
        for number, line in enumerate(piece.split("\n")):
            if number:
                run.append(OxmlElement("w:br"))
            if line:
                content = OxmlElement("w:t")
                content.set("{http://www.w3.org/XML/1998/namespace}space", "preserve")
                content.text = line
                run.append(content)
        paragraph.append(run)


def run_of(child: Any) -> Any:
    run = OxmlElement("w:r")
    run.append(child)
    return run


def field(instruction: str) -> Iterable[Any]:
    """A field that the word processor works out, "1" until it does."""
    code = OxmlElement("w:instrText")
    code.set("{http://www.w3.org/XML/1998/namespace}space", "preserve")
    code.text = instruction
    result = OxmlElement("w:t")
    result.text = "1"
    yield run_of(element("w:fldChar", fldCharType="begin"))
    yield run_of(code)
    yield run_of(element("w:fldChar", fldCharType="separate"))
    yield run_of(result)
    yield run_of(element("w:fldChar", fldCharType="end"))


def table(style: str, widths_mm: Sequence[float], describe: str, *, rtl: bool) -> Any:
    twips = [str(round(width * TWIPS_PER_MM)) for width in widths_mm]
    table = OxmlElement("w:tbl")
    properties = OxmlElement("w:tblPr")
    properties.append(element("w:tblStyle", val=style))
    if rtl:
        properties.append(OxmlElement("w:bidiVisual"))  # the first column stands on the right
    properties.append(element("w:tblW", w=str(sum(map(int, twips))), type="dxa"))
    properties.append(element("w:tblLayout", type="fixed"))
    first_row = "1" if style == "FactTable" else "0"
    look = {"firstRow": first_row, "lastRow": "0", "firstColumn": "0", "lastColumn": "0"}
    val = "0620" if style == "FactTable" else "0600"
    properties.append(element("w:tblLook", val=val, **look, noHBand="1", noVBand="1"))
    if describe:
        properties.append(element("w:tblCaption", val=unmarked(fit(describe))))
    table.append(properties)
    grid = OxmlElement("w:tblGrid")
    for width in twips:
        grid.append(element("w:gridCol", w=width))
    table.append(grid)
    return table


def row_properties(*, repeat: bool) -> Any:
    properties = OxmlElement("w:trPr")
    properties.append(OxmlElement("w:cantSplit"))
    if repeat:
        properties.append(OxmlElement("w:tblHeader"))
    return properties


def cell(width_mm: float, *paragraphs: Any) -> Any:
    cell = OxmlElement("w:tc")
    properties = OxmlElement("w:tcPr")
    properties.append(element("w:tcW", w=str(round(width_mm * TWIPS_PER_MM)), type="dxa"))
    cell.append(properties)
    for paragraph in paragraphs:
        cell.append(paragraph)
    return cell
