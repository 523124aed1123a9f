"""A workshop's own letterhead: a .docx of theirs becomes the empty document that a sheet begins with.

Theirs are page and margins, header, footer and the styles that they have; what they lack is the house's.
The body of their file, its settings, comments, macros and properties are not taken over.
"""

from __future__ import annotations

import copy
import io
import zipfile
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from docx import Document
from docx.opc.constants import CONTENT_TYPE, RELATIONSHIP_TYPE
from docx.opc.packuri import PackURI
from docx.opc.part import XmlPart
from docx.oxml import OxmlElement
from docx.oxml.ns import qn

from jobnotes.documents import template
from jobnotes.errors import JobnotesError

_MOST_BYTES = 2_000_000  # the customer's document is to be sent by e-mail, its photos too
_MOST_UNPACKED_BYTES = 60_000_000
_OLE_HEAD = bytes.fromhex("d0cf11e0a1b11ae1")  # [MS-CFB] 2.2: old and encrypted documents begin so
_MAIN = "application/vnd.openxmlformats-officedocument.wordprocessingml.document.main+xml"
# what of their document part's relations is of use
_KEPT = ("/styles", "/theme", "/fontTable", "/numbering", "/settings", "/header", "/footer")
_KEPT_OF_SECTION = ("headerReference", "footerReference", "pgSz", "pgMar", "pgBorders", "titlePg")
_LEAST_TEXT_MM = (100.0, 120.0)
_A4_TWIPS = (11906, 16838)
_MARGIN_TWIPS = 1134
_EMU_PER_MM = 36000
# where a style is named by its id
_STYLE_REFERENCES = ("basedOn", "next", "link", "pStyle", "rStyle", "tblStyle", "styleLink", "numStyleLink")


@dataclass(frozen=True, slots=True)
class Letterhead:
    """`template` is an empty document with the workshop's page, header, footer and styles."""

    path: Path
    template: bytes


def load(path: Path, language: str) -> Letterhead:
    """Read a letterhead; `language` (BCP 47) is what is written under it.

    Raises JobnotesError, naming the file, the reason and the remedy, for what is no sound .docx.
    """
    raw = _bytes_of(path)
    _check_package(path, raw)
    try:
        document = Document(io.BytesIO(raw))
        _check_links(path, document)
        _clear_body(document)
        _check_page(path, document)
        _clear_parts(document)
        _own_settings(document)
        _add_styles(document)
        template.set_language(document, language)
        made = io.BytesIO()
        document.save(made)
        _look_through(Document(io.BytesIO(made.getvalue())))
    except JobnotesError:
        raise
    except Exception as error:  # a damaged package raises whatever the parser comes upon
        raise JobnotesError(
            str(path), "is damaged or no document that can be used", "open it, save it as .docx, give that"
        ) from error
    return Letterhead(path, made.getvalue())


# --- is it sound ---------------------------------------------------------------------------------


def _bytes_of(path: Path) -> bytes:
    try:
        size = path.stat().st_size
        if size > _MOST_BYTES:
            raise JobnotesError(
                str(path),
                f"is larger than {_MOST_BYTES // 1_000_000} MB, too large to go out with every document",
                "make its pictures smaller",
            )
        return path.read_bytes()
    except OSError as error:
        reason = error.strerror or "can't be read"
        raise JobnotesError(str(path), reason, "check the letterhead's name in workshop.toml") from error


def _check_package(path: Path, raw: bytes) -> None:
    if raw.startswith(_OLE_HEAD):
        if "EncryptedPackage".encode("utf-16-le") in raw:
            raise JobnotesError(str(path), "is protected by a password", "save it without one")
        raise JobnotesError(str(path), "is an old .doc file", "save it as .docx")
    try:
        with zipfile.ZipFile(io.BytesIO(raw)) as package:
            entries = package.infolist()
            if any(entry.flag_bits & 1 for entry in entries):
                raise JobnotesError(str(path), "is protected by a password", "save it without one")
            if sum(entry.file_size for entry in entries) > _MOST_UNPACKED_BYTES:
                raise JobnotesError(str(path), "unpacks to far more than a letterhead", "give a plain .docx")
            if (bad := package.testzip()) is not None:
                raise JobnotesError(str(path), f"is damaged in {bad}", "copy it again from where it was made")
            names = {entry.filename for entry in entries}
            types = package.read("[Content_Types].xml").decode("utf-8", "replace")
    except (zipfile.BadZipFile, KeyError, NotImplementedError, EOFError, zlib.error) as error:
        raise JobnotesError(
            str(path), "is no .docx document, or is cut short", "give a letterhead saved as .docx"
        ) from error
    if "macroEnabled" in types or any(name.casefold().endswith("vbaproject.bin") for name in names):
        raise JobnotesError(str(path), "holds macros", "save it as .docx, without macros")
    if _MAIN not in types:
        raise JobnotesError(str(path), "is no .docx document", "open it and save it as .docx")


def _check_links(path: Path, document: Any) -> None:
    """Nothing that would be fetched when a document is opened may come with a letterhead."""
    for story in _stories(document):
        for rel in story.rels.values():
            if rel.is_external and not rel.reltype.endswith("/hyperlink"):
                raise JobnotesError(
                    str(path),
                    "its header or footer shows something that lies outside the file",
                    "put the picture itself into the letterhead",
                )


def _check_page(path: Path, document: Any) -> None:
    page = document.sections[0]
    wide = (page.page_width - page.left_margin - page.right_margin) / _EMU_PER_MM
    high = (page.page_height - abs(page.top_margin) - abs(page.bottom_margin)) / _EMU_PER_MM
    if wide < _LEAST_TEXT_MM[0] or high < _LEAST_TEXT_MM[1]:
        least = " by ".join(f"{side:.0f}" for side in _LEAST_TEXT_MM)
        raise JobnotesError(
            str(path),
            f"its margins leave {max(wide, 0):.0f} by {max(high, 0):.0f} mm for text",
            f"leave {least} mm at least",
        )


def _look_through(document: Any) -> None:
    """Touch all that a sheet will: what is damaged there is to be found now."""
    section = document.sections[0]
    kinds = (
        "header",
        "footer",
        "first_page_header",
        "first_page_footer",
        "even_page_header",
        "even_page_footer",
    )
    for story in (getattr(section, kind) for kind in kinds):
        if not story.is_linked_to_previous:
            list(story.paragraphs)
    for root in (document.styles.element, document.settings.element):
        list(root.iter())
    numbering = _numbering(document)
    if numbering is not None:
        list(numbering.iter())


def _stories(document: Any) -> Iterator[Any]:
    """The header and footer parts of the document."""
    for rel in document.part.rels.values():
        if not rel.is_external and rel.reltype.endswith(("/header", "/footer")):
            yield rel.target_part


# --- what is left out ----------------------------------------------------------------------------


def _clear_body(document: Any) -> None:
    """Leave nothing of the body but the first section's page, header and footer."""
    root, body = document.element, document.element.body
    first = document.sections[0]._sectPr if len(document.sections) else OxmlElement("w:sectPr")
    section = copy.deepcopy(first)
    for child in list(section):
        if child.tag.rpartition("}")[2] not in _KEPT_OF_SECTION:
            section.remove(child)
    for child in list(root):
        if child is not body:
            root.remove(child)  # a page background
    for child in list(body):
        body.remove(child)
    body.append(section)
    page = document.sections[0]
    twips = 635  # in English Metric Units
    if page.page_width is None or page.page_height is None:
        page.page_width, page.page_height = (side * twips for side in _A4_TWIPS)
    for side in ("left_margin", "right_margin", "top_margin", "bottom_margin"):
        if getattr(page, side) is None:
            setattr(page, side, _MARGIN_TWIPS * twips)


def _clear_parts(document: Any) -> None:
    part = document.part
    used = {
        reference.get(qn("r:id"))
        for tag in ("w:headerReference", "w:footerReference")
        for reference in document.element.iter(qn(tag))
    }
    for key, rel in list(part.rels.items()):
        story = rel.reltype.endswith(("/header", "/footer"))
        if rel.is_external or not rel.reltype.endswith(_KEPT) or (story and key not in used):
            del part.rels[key]
    package = part.package
    for key, rel in list(package.rels.items()):
        if rel.reltype != RELATIONSHIP_TYPE.OFFICE_DOCUMENT:
            del package.rels[key]
    template.name_program(package)


def _own_settings(document: Any) -> None:
    """The house's settings for theirs, which may lock, merge or track; left and right pages stay."""
    ours = Document(io.BytesIO(template.blank("en"))).settings.element
    two_sided = document.settings.odd_and_even_pages_header_footer
    settings = document.settings.element
    default_table = settings.find(qn("w:defaultTableStyle"))
    named = None if default_table is None else default_table.get(qn("w:val"))
    if named:
        _name_table_style(document, named)
    for child in list(settings):
        settings.remove(child)
    for child in list(ours):
        settings.append(child)
    document.settings.odd_and_even_pages_header_footer = two_sided
    rels = document.part.part_related_by(RELATIONSHIP_TYPE.SETTINGS).rels
    for key in list(rels):
        del rels[key]


def _name_table_style(document: Any, style_id: str) -> None:
    """What they draw their own tables in, the facts are drawn in too."""
    for style in document.styles.element.iter(qn("w:style")):
        if style.get(qn("w:styleId")) == style_id and style.get(qn("w:type")) == "table":
            if not style.get(qn("w:default")):
                style.find(qn("w:name")).set(qn("w:val"), "Fact Table")
            return


# --- styles --------------------------------------------------------------------------------------


def _add_styles(document: Any) -> None:
    """Their styles under the house's ids, and the house's where they have none of that name.

    Ids differ between languages of a word processor, names do not: ECMA-376 part 1, 17.7.4.9.
    """
    theirs = document.styles.element
    own_table = False
    for style in list(template.house_styles().iter(qn("w:style"))):
        style_id, kind, name = style.get(qn("w:styleId")), style.get(qn("w:type")), _name(style)
        same = [s for s in theirs.iter(qn("w:style")) if _name(s).casefold() == name.casefold()]
        match = next((s for s in same if s.get(qn("w:type")) == kind), None)
        holder = next((s for s in theirs.iter(qn("w:style")) if s.get(qn("w:styleId")) == style_id), None)
        if holder is not None and holder is not match:
            _rename(document, style_id, f"{style_id}-own")
        if match is not None:
            own_table = own_table or style_id == "FactTable"
            if match.get(qn("w:styleId")) != style_id:
                _rename(document, match.get(qn("w:styleId")), style_id)
            continue
        if same:  # of another type: names are unique
            style.find(qn("w:name")).set(qn("w:val"), f"{name} (jobnotes)")
        if any(s.get(qn("w:default")) and s.get(qn("w:type")) == kind for s in theirs.iter(qn("w:style"))):
            style.attrib.pop(qn("w:default"), None)
        if style_id == "ListBullet":
            number = _add_bullets(document)
            for reference in style.iter(qn("w:numId")):
                reference.set(qn("w:val"), number)
        theirs.append(style)
    if own_table:
        # a heading row of theirs may be dark: its colour is the table's, not ours
        for style in theirs.iter(qn("w:style")):
            if style.get(qn("w:styleId")) == "TableHeading":
                for colour in list(style.iter(qn("w:color"))):
                    colour.getparent().remove(colour)


def _name(style: Any) -> str:
    name = style.find(qn("w:name"))
    return "" if name is None else str(name.get(qn("w:val"), ""))


def _rename(document: Any, old: str, new: str) -> None:
    roots = [document.styles.element, *(story.element for story in _stories(document))]
    numbering = _numbering(document)
    if numbering is not None:
        roots.append(numbering)
    for style in document.styles.element.iter(qn("w:style")):
        if style.get(qn("w:styleId")) == old:
            style.set(qn("w:styleId"), new)
    for root in roots:
        for tag in _STYLE_REFERENCES:
            for reference in root.iter(qn(f"w:{tag}")):
                if reference.get(qn("w:val")) == old:
                    reference.set(qn("w:val"), new)


def _numbering(document: Any) -> Any:
    for rel in document.part.rels.values():
        if rel.reltype == RELATIONSHIP_TYPE.NUMBERING:
            return rel.target_part.element
    return None


def _add_bullets(document: Any) -> str:
    """Add the house's bullets to their lists; returns the number by which a style names them."""
    ours = _numbering(Document(io.BytesIO(template.blank("en"))))
    theirs = _numbering(document)
    if theirs is None:
        part = XmlPart(
            PackURI("/word/numbering.xml"),
            CONTENT_TYPE.WML_NUMBERING,
            OxmlElement("w:numbering"),
            document.part.package,
        )
        document.part.relate_to(part, RELATIONSHIP_TYPE.NUMBERING)
        theirs = part.element
    number = next(n for n in ours.iter(qn("w:num")) if n.get(qn("w:numId")) == "1")
    abstract_id = number.find(qn("w:abstractNumId")).get(qn("w:val"))
    abstract = next(a for a in ours.iter(qn("w:abstractNum")) if a.get(qn("w:abstractNumId")) == abstract_id)
    fresh_abstract = _free(theirs, "w:abstractNum", "w:abstractNumId")
    fresh = _free(theirs, "w:num", "w:numId")
    abstract.set(qn("w:abstractNumId"), fresh_abstract)
    number.set(qn("w:numId"), fresh)
    number.find(qn("w:abstractNumId")).set(qn("w:val"), fresh_abstract)
    # every abstractNum stands before the first num: ECMA-376 part 1, 17.9.16
    first = theirs.find(qn("w:num"))
    if first is None:
        theirs.append(abstract)
    else:
        first.addprevious(abstract)
    last = theirs.findall(qn("w:num"))
    if last:
        last[-1].addnext(number)
    else:
        abstract.addnext(number)
    return fresh


def _free(root: Any, tag: str, attribute: str) -> str:
    taken = [int(e.get(qn(attribute), "0")) for e in root.iter(qn(tag))]
    return str(max(taken, default=0) + 1)
