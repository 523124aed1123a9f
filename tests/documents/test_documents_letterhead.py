"""A workshop's own letterhead: taken over where it is theirs, and refused in one line where it can't be."""

from __future__ import annotations

import io
import re
import zipfile
from pathlib import Path
from typing import Any

import pytest
from coach_job import coach
from documents_read import house_of
from docx import Document
from docx.oxml.ns import qn
from docx.shared import Mm, Pt
from letterheads import FIRST_LINE, FOOT, IN_BODY, edited, in_another_language, letterhead, sign
from PIL import Image
from priced_job import priced
from test_documents_file import _ORDER

from jobnotes.documents import letterhead as letterheads
from jobnotes.documents import load, write_all, write_claim
from jobnotes.errors import JobnotesError


def drawing(_: object, _side: int) -> Image.Image:
    return Image.new("RGB", (64, 48), "grey")


NAMES = ("claim.docx", "customer.docx", "workshop.docx")


def drawn(tmp_path: Path, template: Path, **settings: Any) -> Path:
    """The coach job's documents under that letterhead."""
    out = tmp_path / "out"
    out.mkdir()
    write_all(coach(), None, drawing, out, house=house_of(letterhead=template, **settings))
    return out


def opened(folder: Path) -> list[Any]:
    return [Document(str(folder / name)) for name in NAMES]


def footer_text(footer: Any) -> list[str]:
    return [p.text for p in footer.paragraphs]


def test_page_margins_header_and_footer_are_the_letterheads_and_ours_is_added_below(tmp_path: Path) -> None:
    for document in opened(drawn(tmp_path, letterhead(tmp_path / "own.docx"))):
        section = document.sections[0]
        assert section.left_margin == pytest.approx(Mm(25), abs=700)
        assert section.top_margin == pytest.approx(Mm(40), abs=700)
        [header] = section.header.paragraphs
        assert FIRST_LINE in header.text
        picture = header._p.find(f".//{qn('a:blip')}").get(qn("r:embed"))
        assert section.header.part.related_parts[picture].blob == sign().getvalue()
        theirs, ours = section.footer.paragraphs
        assert theirs.text == FOOT
        assert "4820-B" in ours.text
        fields = [code.text.strip() for code in ours._p.iter(qn("w:instrText"))]
        assert fields == ["PAGE", "NUMPAGES"]


def test_their_styles_are_used_and_what_they_lack_is_ours(tmp_path: Path) -> None:
    claim, *_ = opened(drawn(tmp_path, letterhead(tmp_path / "own.docx")))
    assert claim.styles["Title"].font.size == Pt(24)
    assert claim.styles["Heading 1"].font.size == Pt(15)
    assert str(claim.styles["Heading 1"].font.color.rgb) == "264E36"
    assert claim.styles["Normal"].font.name == "Liberation Serif"
    assert claim.styles["Remark"].base_style.name == "Table Text"
    assert claim.styles["Table Text"].base_style.name == "Normal"
    assert claim.paragraphs[0].style.name == "Title"
    assert {t.style.name for t in claim.tables} == {"Fact Table", "Plate Table"}


def test_every_style_that_a_document_names_is_there_once(tmp_path: Path) -> None:
    template = in_another_language(letterhead(tmp_path / "own.docx"))
    assert "berschrift1" in zipfile.ZipFile(template).read("word/styles.xml").decode()
    for document in opened(drawn(tmp_path, template)):
        ids = [s.get(qn("w:styleId")) for s in document.styles.element.iter(qn("w:style"))]
        names = [s.find(qn("w:name")).get(qn("w:val")) for s in document.styles.element.iter(qn("w:style"))]
        assert len(ids) == len(set(ids))
        assert len(names) == len(set(names))
        roots = [document.element, document.styles.element, document.sections[0].footer._element]
        used = {
            e.get(qn("w:val"))
            for root in roots
            for tag in ("pStyle", "rStyle", "tblStyle", "basedOn", "next", "link")
            for e in root.iter(qn(f"w:{tag}"))
        }
        assert used <= set(ids)
        assert document.styles["Heading 1"].font.size == Pt(15)
        assert document.paragraphs[0].style.font.size == Pt(24)
        for kind in ("paragraph", "character", "table", "numbering"):
            of_kind = [s for s in document.styles.element.iter(qn("w:style")) if s.get(qn("w:type")) == kind]
            assert sum(s.get(qn("w:default")) is not None for s in of_kind) <= 1


def test_a_letterhead_without_bullets_of_its_own_gets_ours(tmp_path: Path) -> None:
    def bare(document: Any) -> None:
        for style in list(document.styles.element.iter(qn("w:style"))):
            if style.get(qn("w:styleId")) == "ListBullet":
                style.getparent().remove(style)

    out = drawn(tmp_path, letterhead(tmp_path / "own.docx", change=bare))
    claim = Document(str(out / "claim.docx"))
    number = claim.styles["List Bullet"].element.find(f".//{qn('w:numId')}").get(qn("w:val"))
    lists = claim.part.numbering_part.element
    ids = [n.get(qn("w:numId")) for n in lists.iter(qn("w:num"))]
    assert ids.count(number) == 1
    tags = [child.tag for child in lists if child.tag in (qn("w:num"), qn("w:abstractNum"))]
    assert tags == sorted(tags)  # each abstractNum before the first num
    [num] = [n for n in lists.iter(qn("w:num")) if n.get(qn("w:numId")) == number]
    abstract = num.find(qn("w:abstractNumId")).get(qn("w:val"))
    [levels] = [a for a in lists.iter(qn("w:abstractNum")) if a.get(qn("w:abstractNumId")) == abstract]
    assert levels.find(f".//{qn('w:numFmt')}").get(qn("w:val")) == "bullet"


def test_tables_are_drawn_as_theirs_are_where_they_say_so(tmp_path: Path) -> None:
    def prefers(document: Any) -> None:
        setting = document.settings.element.makeelement(qn("w:defaultTableStyle"), {})
        setting.set(qn("w:val"), "LightGrid-Accent1")
        document.settings.element.append(setting)

    out = drawn(tmp_path, letterhead(tmp_path / "own.docx", change=prefers))
    claim = Document(str(out / "claim.docx"))
    [style] = [s for s in claim.styles.element.iter(qn("w:style")) if s.get(qn("w:styleId")) == "FactTable"]
    assert style.find(f"{qn('w:tblStylePr')}[@{qn('w:type')}='band1Horz']") is not None  # ours has no bands
    heading = claim.styles["Table Heading"].element
    assert heading.find(f".//{qn('w:color')}") is None


def test_nothing_else_of_their_file_comes_along(tmp_path: Path) -> None:
    out = drawn(tmp_path, letterhead(tmp_path / "own.docx"))
    for name in NAMES:
        with zipfile.ZipFile(out / name) as package:
            assert package.testzip() is None
            everything = b"".join(package.read(n) for n in package.namelist())
            assert b"customXml" not in everything
            assert not [n for n in package.namelist() if "thumbnail" in n]
        assert IN_BODY.encode() not in everything
        document = Document(str(out / name))
        assert document.core_properties.author == "jobnotes"
        assert document.core_properties.keywords == ""
        assert document.core_properties.language == "en-GB"
        assert document.paragraphs[0].style.name == "Title"


def test_the_paper_that_is_asked_for_goes_before_the_letterheads(tmp_path: Path) -> None:
    template = letterhead(tmp_path / "own.docx", landscape=True)
    write_claim(coach(), drawing, tmp_path / "own-page.docx", house=house_of(letterhead=template))
    write_claim(
        coach(), drawing, tmp_path / "letter.docx", house=house_of(letterhead=template, paper="Letter")
    )
    own = Document(str(tmp_path / "own-page.docx")).sections[0]
    letter = Document(str(tmp_path / "letter.docx"))
    assert (round(own.page_width.mm), round(own.page_height.mm)) == (297, 210)
    page = letter.sections[0]
    assert (round(page.page_width.mm, 1), round(page.page_height.mm, 1)) == (215.9, 279.4)
    table = next(t for t in letter.tables if t.style.name == "Fact Table")
    text = page.page_width - page.left_margin - page.right_margin
    assert sum(c.width for c in table.columns) == pytest.approx(text, rel=0.005)


@pytest.mark.parametrize("first_page", [False, True])
@pytest.mark.parametrize("two_sided", [False, True])
def test_every_kind_of_page_has_the_job_number_and_its_own_number(
    tmp_path: Path, first_page: bool, two_sided: bool
) -> None:
    template = letterhead(tmp_path / "own.docx", first_page=first_page, two_sided=two_sided)
    for document in opened(drawn(tmp_path, template)):
        section = document.sections[0]
        assert section.different_first_page_header_footer == first_page
        assert document.settings.odd_and_even_pages_header_footer == two_sided
        kinds = [section.footer]
        kinds += [section.first_page_footer] if first_page else []
        kinds += [section.even_page_footer] if two_sided else []
        for footer in kinds:
            assert not footer.is_linked_to_previous
            assert sum("4820-B" in text for text in footer_text(footer)) == 1
        header = section.first_page_header if first_page else section.header
        assert FIRST_LINE in header.paragraphs[0].text


def test_the_same_record_under_the_same_letterhead_gives_the_same_bytes(tmp_path: Path) -> None:
    template = letterhead(tmp_path / "own.docx", first_page=True)
    kept = []
    for folder in ("one", "two"):
        (tmp_path / folder).mkdir()
        write_all(priced(), None, drawing, tmp_path / folder, house=house_of(letterhead=template))
        kept.append([(tmp_path / folder / name).read_bytes() for name in NAMES])
    assert kept[0] == kept[1]


def test_elements_under_a_letterhead_stand_in_the_order_of_the_standard(tmp_path: Path) -> None:
    for document in opened(drawn(tmp_path, letterhead(tmp_path / "own.docx"))):
        for root in (document.element, document.sections[0].footer._element):
            for element in (e for e in root.iter() if e.tag in _ORDER):
                places = [_ORDER[element.tag].index(child.tag) for child in element]
                assert places == sorted(places), element.tag


def test_pictures_have_ids_and_names_of_their_own_beside_the_letterheads(tmp_path: Path) -> None:
    out = drawn(tmp_path, letterhead(tmp_path / "own.docx"))
    for name in NAMES:
        document = Document(str(out / name))
        ids = [s._inline.docPr.get("id") for s in document.inline_shapes]
        header = document.sections[0].header._element
        ids += [e.get("id") for e in header.iter(qn("wp:docPr"))]
        assert len(ids) == len(set(ids)) >= 2
        with zipfile.ZipFile(out / name) as package:
            assert len(package.namelist()) == len(set(package.namelist()))


def test_the_photos_make_room_for_the_letterhead_in_what_may_be_sent(tmp_path: Path) -> None:
    house = house_of(letterhead=letterhead(tmp_path / "own.docx"))
    assert house.letterhead is not None
    weight = len(house.letterhead.template)
    assert house.picture_budget["customer"] == load().picture_budget["customer"] - weight


# --- what can't be used --------------------------------------------------------------------------

OLE = bytes.fromhex("d0cf11e0a1b11ae1")


def macros(name: str, content: bytes) -> bytes:
    return content.replace(
        b"application/vnd.openxmlformats-officedocument.wordprocessingml.document.main+xml",
        b"application/vnd.ms-word.document.macroEnabled.main+xml",
    )


def a_template(name: str, content: bytes) -> bytes:
    return content.replace(b"wordprocessingml.document.main+xml", b"wordprocessingml.template.main+xml")


def linked_picture(name: str, content: bytes) -> bytes:
    if name.startswith("word/_rels/header"):
        return content.replace(b"media/image1.png", b"http://example.invalid/a.png").replace(
            b'/image" ', b'/image" TargetMode="External" '
        )
    return content


def broken(name: str, content: bytes) -> bytes:
    return content[: len(content) // 2] if name == "word/document.xml" else content


def lost_header(name: str, content: bytes) -> bytes:
    if name == "word/_rels/document.xml.rels":
        return re.sub(rb"<Relationship [^>]*header1.xml[^>]*/>", b"", content)
    return content


def styles_of_no_kind(name: str, content: bytes) -> bytes:
    if name == "[Content_Types].xml":
        return content.replace(b"wordprocessingml.styles+xml", b"wordprocessingml.unknown+xml")
    return content


def no_body(name: str, content: bytes) -> bytes | None:
    return None if name == "word/document.xml" else content


@pytest.mark.parametrize(
    ("edit", "reason"),
    [
        (macros, "holds macros"),
        (a_template, "is no .docx document"),
        (linked_picture, "lies outside the file"),
        (broken, "is damaged"),
        (no_body, "is damaged"),
        (lost_header, "is damaged"),
        (styles_of_no_kind, "is damaged"),
    ],
)
def test_a_letterhead_that_is_no_plain_document_is_refused(tmp_path: Path, edit: Any, reason: str) -> None:
    refused(edited(letterhead(tmp_path / "own.docx"), edit), reason)


@pytest.mark.parametrize(
    ("content", "reason"),
    [
        (b"", "is no .docx document"),
        (b"Sample Quay Coach Works", "is no .docx document"),
        (OLE + b"\0" * 600 + "EncryptedPackage".encode("utf-16-le"), "is protected by a password"),
        (OLE + b"\0" * 600 + "WordDocument".encode("utf-16-le"), "is an old .doc file"),
        (b"x" * 2_000_001, "is larger than 2 MB"),
    ],
)
def test_a_file_that_is_no_document_is_refused(tmp_path: Path, content: bytes, reason: str) -> None:
    (tmp_path / "own.docx").write_bytes(content)
    refused(tmp_path / "own.docx", reason)


def test_a_letterhead_that_is_cut_short_or_damaged_is_refused(tmp_path: Path) -> None:
    whole = letterhead(tmp_path / "own.docx").read_bytes()
    (tmp_path / "own.docx").write_bytes(whole[:-200])
    refused(tmp_path / "own.docx", "is cut short")
    with zipfile.ZipFile(io.BytesIO(whole)) as package:
        at = package.getinfo("word/styles.xml").header_offset + 400
    (tmp_path / "own.docx").write_bytes(whole[:at] + bytes(64) + whole[at + 64 :])
    refused(tmp_path / "own.docx", "")


def test_a_letterhead_that_is_not_there_is_refused(tmp_path: Path) -> None:
    refused(tmp_path / "missing.docx", "workshop.toml")
    (tmp_path / "folder.docx").mkdir()
    refused(tmp_path / "folder.docx", "workshop.toml")


def test_a_page_without_room_for_text_is_refused(tmp_path: Path) -> None:
    refused(letterhead(tmp_path / "own.docx", side_mm=70), "margins leave 70 by 229 mm")


def refused(path: Path, reason: str) -> None:
    with pytest.raises(JobnotesError) as caught:
        house_of(letterhead=path)
    message = str(caught.value)
    assert message.startswith(f"{path}: ")
    assert reason in message
    assert "; " in message
    assert "\n" not in message


def test_a_letterhead_that_is_refused_leaves_the_documents_as_they_were(tmp_path: Path) -> None:
    (tmp_path / "own.docx").write_bytes(b"no document")
    out = tmp_path / "out"
    out.mkdir()
    with pytest.raises(JobnotesError):
        write_all(coach(), None, drawing, out, house=house_of(letterhead=tmp_path / "own.docx"))
    assert list(out.iterdir()) == []


def test_an_empty_letterhead_document_is_enough(tmp_path: Path) -> None:
    Document().save(str(tmp_path / "own.docx"))
    made = letterheads.load(tmp_path / "own.docx", "en-GB")
    assert Document(io.BytesIO(made.template)).paragraphs == []


def test_a_folder_with_a_letterhead_of_its_own_is_enough(tmp_path: Path) -> None:
    letterhead(tmp_path / "letterhead.docx")
    (tmp_path / "workshop.toml").write_text(
        """
        format = "jobnotes-workshop"
        version = 1
        [workshop]
        name = "Sample Quay"
        [money]
        currency = "EUR"
        [[tax]]
        name = "standard"
        category = "S"
        rate = "23"
        [documents]
        locale = "de-AT"
        paper = "Letter"
        letterhead = "letterhead.docx"
        guarantee = "A year."
        """,
        "utf-8",
    )
    house = load(tmp_path)
    assert house.letterhead is not None
    assert (house.paper, house.guarantee) == ("Letter", "A year.")
    assert str(house.wording.locale) == "de_AT"
    assert load(tmp_path, language="en-US", paper="A4").paper == "A4"


@pytest.mark.parametrize("side_mm", [45, 35, 28, 20])
def test_no_amount_and_no_word_breaks_however_wide_the_margins(tmp_path: Path, side_mm: float) -> None:
    """Text 120 to 170 mm wide. Widths by the face's own measure: em of Liberation Sans, which has those of
    Helvetica (Adobe's core font metrics, from memory): digits 0.556, m and W at most 0.944."""
    house = house_of(letterhead=letterhead(tmp_path / "own.docx", side_mm=side_mm))
    write_all(priced(), None, drawing, tmp_path, house=house)
    base = {"Table Text": 9.0, "Table Small": 8.0, "Table Heading": 8.0}
    checked = 0
    for document in opened(tmp_path):
        for table in document.tables:
            for row in table.rows:
                for cell, column in zip(row.cells, table.columns, strict=True):
                    paragraph = cell.paragraphs[0]
                    size = base.get(str(paragraph.style and paragraph.style.name))
                    if size is None or not paragraph.runs:
                        continue
                    own = paragraph.runs[0].font.size
                    em_mm = (own.pt if own else size) * 25.4 / 72
                    for word in re.split("[ \n-]", paragraph.text):
                        if len(word) > 24:
                            continue
                        assert _em(word) * em_mm <= column.width.mm - 2.8, word
                        checked += 1
    assert checked > 500


def _em(word: str) -> float:
    narrow, wide = "ijlIft.,:;'|!()[]/\u00a0", "mwMW%@"
    return sum(0.3 if c in narrow else 0.944 if c in wide else 0.722 if c.isupper() else 0.556 for c in word)


@pytest.mark.parametrize(("side_mm", "smaller"), [(20, False), (42, True)])
def test_a_claims_summary_gets_smaller_type_where_the_page_is_narrow(
    tmp_path: Path, side_mm: float, smaller: bool
) -> None:
    house = house_of(letterhead=letterhead(tmp_path / "own.docx", side_mm=side_mm))
    write_all(coach(), None, drawing, tmp_path, house=house)
    [claim, *_] = opened(tmp_path)
    summary, next_one = claim.tables[0], claim.tables[1]
    sizes = [
        {run.font.size.pt for run in table.rows[1].cells[0].paragraphs[0].runs if run.font.size}
        for table in (summary, next_one)
    ]
    assert bool(sizes[0]) == smaller
    assert all(7.0 <= size < 9.0 for size in sizes[0])
    # the next section begins a page of its own either way
    heads = [p for p in claim.paragraphs if p.style.name == "Heading 1"]
    assert heads[1]._p.pPr.find(qn("w:pageBreakBefore")) is not None
