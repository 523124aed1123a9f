"""The empty document that a sheet begins with, in the house's look."""

from __future__ import annotations

import io
from functools import lru_cache
from importlib import resources
from typing import Any

from docx import Document
from docx.opc.constants import CONTENT_TYPE, RELATIONSHIP_TYPE
from docx.opc.packuri import PackURI
from docx.opc.part import Part
from docx.oxml import parse_xml
from docx.oxml.ns import qn

_UNWANTED_PARTS = ("/thumbnail", "/stylesWithEffects", "/customXml", "/webSettings")
_APP_PROPERTIES = (
    b'<?xml version="1.0" encoding="UTF-8" standalone="yes"?>\n'
    b'<Properties xmlns="http://schemas.openxmlformats.org/officeDocument/2006/extended-properties">'
    b"<Application>jobnotes</Application></Properties>"
)


@lru_cache(maxsize=4)
def blank(language: str) -> bytes:
    """An empty document in the house's look: python-docx's own, without what it brings of another's."""
    document = Document()
    styles: Any = document.styles.element
    for child in list(styles):
        styles.remove(child)
    for child in list(house_styles()):
        styles.append(child)

    settings: Any = document.settings.element
    for mode in settings.iter(qn("w:compatSetting")):
        if mode.get(qn("w:name")) == "compatibilityMode":
            mode.set(qn("w:val"), "15")

    package = document.part.package
    for rels in (package.rels, document.part.rels):
        for relation in [key for key, rel in rels.items() if rel.reltype.endswith(_UNWANTED_PARTS)]:
            del rels[relation]
    name_program(package)
    set_language(document, language)
    made = io.BytesIO()
    document.save(made)
    return made.getvalue()


def house_styles() -> Any:
    """The root element of the house's own styles, fresh from styles.xml."""
    return parse_xml((resources.files("jobnotes.documents") / "styles.xml").read_bytes())


def set_language(document: Any, language: str) -> None:
    """Say in what language (BCP 47) the text is, wherever a style or a setting says another."""
    for root, tag in ((document.styles.element, "w:lang"), (document.settings.element, "w:themeFontLang")):
        for tagged in root.iter(qn(tag)):
            tagged.set(qn("w:val"), language)


def name_program(package: Any) -> None:
    """Put this program's name in place of what the package says of another's."""
    for key, rel in list(package.rels.items()):
        if rel.reltype == RELATIONSHIP_TYPE.EXTENDED_PROPERTIES:
            del package.rels[key]
    part = Part(PackURI("/docProps/app.xml"), CONTENT_TYPE.OFC_EXTENDED_PROPERTIES, _APP_PROPERTIES, package)
    package.relate_to(part, RELATIONSHIP_TYPE.EXTENDED_PROPERTIES)
