"""Makes the pictures of the README from the demo: run it after a change that shows.

    .venv/bin/python .pictures/make.py

It builds the demo with the company's file, prints it by LibreOffice, finds each sheet's page
by the words on it, and cuts the white edges off.  LibreOffice and Poppler must be installed.
"""

from __future__ import annotations

import re
import subprocess
import sys
import tempfile
from pathlib import Path

from PIL import Image, ImageChops

HERE = Path(__file__).parent
TEMPLATES = HERE.parent / "templates"
PAGES = {
    "start": r"What comes next",
    "bands": r"Bands: rectangles",
    "order": r"Concrete order",
    "day": r"Timeline",
    "crew": r"String marks",
    "proposal": r"You may also choose|What we will do",
    "care": r"Your new concrete",
}
"""The words by which the first page of each sheet is known."""
RESOLUTION, WIDEST, MARGIN = 110, 1000, 12  # dots an inch; pixels
FOOT = {False: 0.952, True: 0.93}  # of a tall page, and a wide one: its number stands below


def main() -> None:
    """Make all pictures; say which page was not found."""
    with tempfile.TemporaryDirectory() as loose:
        folder = Path(loose)
        job = folder / "demo.xlsx"
        run(sys.executable, "-c", "from pourtally.cli import main; main()", "build",
            TEMPLATES / "jobs" / "demo.toml", "--size", "small",
            "--company", TEMPLATES / "company" / "demo.toml", "-o", job)  # fmt: skip
        profile = f"-env:UserInstallation={(folder / 'profile').as_uri()}"
        run("soffice", "--headless", profile, "--convert-to", "pdf", "--outdir", folder, job)
        pages = run("pdftotext", "-layout", job.with_suffix(".pdf"), "-").split("\f")
        for name, words in PAGES.items():
            found = next((n for n, page in enumerate(pages, 1) if re.search(words, page)), 0)
            if found:
                cut(job.with_suffix(".pdf"), found, HERE / f"{name}.png")
            else:
                print(f"{name}: no page says '{words}'", file=sys.stderr)


def run(*words: str | Path) -> str:
    """Return what a command prints."""
    done = subprocess.run([str(w) for w in words], check=True, capture_output=True, text=True)
    return done.stdout


def cut(printed: Path, page: int, picture: Path) -> None:
    """Make a picture of one page, without its white edges and its foot, in few colors."""
    loose = printed.with_name(picture.stem)
    number = str(page)
    run("pdftoppm", "-r", str(RESOLUTION), "-png", "-singlefile", "-f", number, "-l", number,
        printed, loose)  # fmt: skip
    with Image.open(loose.with_suffix(".png")) as drawn:
        whole = drawn.convert("RGB")
    body = whole.crop((0, 0, whole.width, round(whole.height * FOOT[whole.width > whole.height])))
    ink = ImageChops.difference(body, Image.new("RGB", body.size, "white")).getbbox()
    left, top, right, bottom = ink or (0, 0, *body.size)
    edges = (max(left - MARGIN, 0), max(top - MARGIN, 0),
             min(right + MARGIN, body.width), min(bottom + MARGIN, body.height))  # fmt: skip
    small = body.crop(edges)
    small.thumbnail((WIDEST, WIDEST * 2))
    small.quantize(64).save(picture, optimize=True)


if __name__ == "__main__":
    main()
