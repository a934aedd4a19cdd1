"""A workbook to a PDF, by LibreOffice where it is installed."""

from __future__ import annotations

import shutil
import subprocess
import tempfile
from pathlib import Path

from .output import Care, UseError, write_bytes

_NAMES = ("soffice", "libreoffice")
_USUAL = (
    "/Applications/LibreOffice.app/Contents/MacOS/soffice",
    r"C:\Program Files\LibreOffice\program\soffice.exe",
)
_LONGEST = 180  # seconds; a first start makes its settings


def office() -> str:
    """Return the program that makes PDFs, or raise ``UseError`` where there is none."""
    for name in (*_NAMES, *_USUAL):
        if found := shutil.which(name):
            return found
    raise UseError(
        "--pdf needs LibreOffice, which is not installed here: install it, or leave --pdf out "
        "and save the workbook as a PDF from your spreadsheet program"
    )


def write_pdf(workbook: Path, pdf: Path, replace: bool = True) -> None:
    """Write a workbook's printed pages to ``pdf``, whole or not at all."""
    program = office()
    with tempfile.TemporaryDirectory() as folder:
        settings = Path(folder, "settings").as_uri()
        command = [program, "--headless", f"-env:UserInstallation={settings}",
                   "--convert-to", "pdf", "--outdir", folder, str(workbook)]  # fmt: skip
        try:
            subprocess.run(command, check=True, capture_output=True, timeout=_LONGEST)
            made = Path(folder, workbook.stem + ".pdf").read_bytes()
        except (OSError, subprocess.SubprocessError) as error:
            raise UseError(
                f"{pdf}: LibreOffice made no PDF of {workbook}: {error}; "
                "save it as a PDF from your spreadsheet program"
            ) from error
    write_bytes(pdf, made, Care(replace, (workbook,)))
