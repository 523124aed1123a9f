"""What the desk hands out as documents has nothing of what a phone wrote into its pictures."""

from __future__ import annotations

import io
import zipfile
from pathlib import Path

import exifread
import pytest
from desk_jobs import Desk, desk_with_job, started
from PIL import Image


def tagged() -> bytes:
    exif = Image.Exif()
    exif.get_ifd(0x8769).update({0xA431: "QX7BODY0042"})
    exif.get_ifd(0x8825).update({1: "N", 2: (52.0, 31.0, 12.0), 3: "E", 4: (13.0, 24.0, 18.0)})
    out = io.BytesIO()
    Image.effect_noise((800, 600), 60).convert("RGB").save(out, "JPEG", exif=exif, comment=b"QX7BODY0042")
    assert "GPS GPSLatitude" in exifread.process_file(io.BytesIO(out.getvalue()))
    return out.getvalue()


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    desk = desk_with_job(tmp_path, 0, 2, photos=0)
    technician = desk.web.pair("technician", "another phone")
    desk.clerk.post(f"{desk.api}/devices", {"device": technician.id})
    assert technician.send(desk.job, tagged(), started_at=started(15, 1)).status_code == 200
    desk.web.hear()
    return desk


def bare(picture: bytes) -> bool:
    return exifread.process_file(io.BytesIO(picture)) == {} and b"QX7BODY0042" not in picture


def test_the_documents_pictures_are_bare(desk: Desk) -> None:
    seen = 0
    for name in ("claim", "customer", "workshop"):
        answer = desk.clerk.get(f"{desk.api}/documents/{name}.docx")
        assert answer.status_code == 200
        with zipfile.ZipFile(io.BytesIO(answer.content)) as package:
            for part in package.namelist():
                content = package.read(part)
                assert b"QX7BODY0042" not in content
                if part.endswith(".jpg"):
                    seen += 1
                    assert bare(content)
    assert seen


def test_a_photo_on_the_page_is_bare_too(desk: Desk) -> None:
    (photo,) = desk.state()["photos"]
    answer = desk.clerk.get(f"{desk.api}/photos/{photo['id']}")
    assert answer.status_code == 200
    assert answer.headers["content-type"] == "image/jpeg"
    assert bare(answer.content)


def test_a_document_that_was_handed_out_is_known_to_verify(desk: Desk, tmp_path: Path) -> None:
    from jobnotes.library.in_hand import standing
    from jobnotes.library.library import Library

    answer = desk.clerk.get(f"{desk.api}/documents/claim.docx")
    (tmp_path / "claim-4417-draft.docx").write_bytes(answer.content)
    with Library.open(desk.web.settings.library) as library:
        assert standing(tmp_path / "claim-4417-draft.docx", library).state == "current"
