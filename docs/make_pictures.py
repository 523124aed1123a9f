"""Draw the pictures of the docs: pages of the demo's documents.

    python docs/make_pictures.py [OUT]

OUT is what `jobnotes demo --out OUT` wrote; without it the demo is run. Needs LibreOffice (soffice) and
poppler-utils (pdftoppm).
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
from pathlib import Path

from PIL import Image

#: picture → document, the heading by which its page is found, colours that the page needs
PICTURES = {
    "claim-1": ("claim", "Summary", 48),
    "claim-2": ("claim", "Readings", 48),
    "claim-photos": ("claim", "Photo plates", 40),
    "customer-1": ("customer", "Your vehicle", 64),
    "customer-price": ("customer", "Price", 48),
    "customer-2": ("customer", "Readings before and after the repair", 64),
    "workshop-1": ("workshop", "What the claim still lacks", 48),
}
HERE = Path(__file__).parent
DOTS_PER_INCH = 100
LIMIT_BYTES = 150_000


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        work = Path(folder)
        out = Path(sys.argv[1]) if len(sys.argv) > 1 else work / "demo"
        if len(sys.argv) == 1:
            run(sys.executable, "-m", "jobnotes", "demo", "--out", out)
        for document in sorted({document for document, _, _ in PICTURES.values()}):
            profile = f"-env:UserInstallation={(work / 'profile').as_uri()}"
            docx = out / f"{document}.docx"
            run("soffice", profile, "--headless", "--convert-to", "pdf", "--outdir", work, docx)
        for name, (document, heading, colours) in PICTURES.items():
            pdf = work / f"{document}.pdf"
            draw(pdf, page_with(heading, pdf), colours, HERE / "pictures" / f"{name}.png")


def page_with(heading: str, pdf: Path) -> int:
    """The number of the first page with that heading on a line of its own."""
    pages = run("pdftotext", "-layout", pdf, "-").split("\f")
    for number, page in enumerate(pages, 1):
        if heading in map(str.strip, page.splitlines()):
            return number
    sys.exit(f"{pdf.stem} has no heading {heading!r}")


def draw(pdf: Path, page: int, colours: int, target: Path) -> None:
    """One page as a small PNG: text and tables need few colours."""
    drawn = pdf.with_name(target.name)
    part = ("-r", str(DOTS_PER_INCH), "-f", str(page), "-l", str(page))
    run("pdftoppm", "-png", "-singlefile", *part, pdf, drawn.with_suffix(""))
    with Image.open(drawn) as image:
        shown = image.convert("RGB").quantize(colours, dither=Image.Dither.NONE)
    target.parent.mkdir(exist_ok=True)
    shown.save(target, optimize=True)
    size = target.stat().st_size
    print(f"{target.relative_to(HERE)}: page {page}, {size} bytes")
    if size > LIMIT_BYTES:
        sys.exit(f"{target} is larger than {LIMIT_BYTES} bytes; give it fewer colours")


def run(*command: str | Path) -> str:
    """What the program printed."""
    parts = [str(part) for part in command]
    return subprocess.run(parts, check=True, stdout=subprocess.PIPE, encoding="utf-8").stdout


if __name__ == "__main__":
    main()
