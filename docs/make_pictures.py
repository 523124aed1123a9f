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

#: picture → document, page, the part of the page's height that is shown
PICTURES = {
    "claim-1": ("claim", 1, 1.0),
    "claim-2": ("claim", 2, 1.0),
    "customer-1": ("customer", 1, 1.0),
    "customer-2": ("customer", 4, 1.0),
    "workshop-1": ("workshop", 1, 1.0),
}
HERE = Path(__file__).parent
DOTS_PER_INCH = 100
COLOURS = 48
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
        for name, (document, page, part) in PICTURES.items():
            draw(work / f"{document}.pdf", page, part, HERE / "pictures" / f"{name}.png")


def draw(pdf: Path, page: int, part: float, target: Path) -> None:
    """One page as a small PNG: few colours are enough for text and tables."""
    drawn = pdf.with_name(target.name)
    number = str(page)
    run(
        "pdftoppm",
        "-png",
        "-singlefile",
        "-r",
        str(DOTS_PER_INCH),
        "-f",
        number,
        "-l",
        number,
        pdf,
        drawn.with_suffix(""),
    )
    with Image.open(drawn) as image:
        shown = image.convert("RGB").crop((0, 0, image.width, round(image.height * part)))
    target.parent.mkdir(exist_ok=True)
    shown.quantize(COLOURS, dither=Image.Dither.NONE).save(target, optimize=True)
    size = target.stat().st_size
    print(f"{target.relative_to(HERE)}: {size} bytes")
    if size > LIMIT_BYTES:
        sys.exit(f"{target} is larger than {LIMIT_BYTES} bytes; show less of the page")


def run(*command: str | Path) -> None:
    subprocess.run([str(part) for part in command], check=True, stdout=subprocess.DEVNULL)


if __name__ == "__main__":
    main()
