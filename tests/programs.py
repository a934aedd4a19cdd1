"""LibreOffice and Poppler, which some tests run: where one is missing, those tests are left out.

With CI set nothing may be left out, so there they fail, with the same sentence.
"""

from __future__ import annotations

import json
import os
import re
import shutil
import socket
import subprocess
import zipfile
from collections.abc import Iterable
from pathlib import Path
from typing import Any, NoReturn

import pytest

NEEDED = {
    "soffice": ("LibreOffice", "libreoffice-calc"),
    "pdftotext": ("Poppler", "poppler-utils"),
    "pdfinfo": ("Poppler", "poppler-utils"),
    "uno": ("LibreOffice's bridge to Python", "python3-uno"),
}
"""What each program belongs to, and the package that brings it on Debian or Ubuntu."""
MISSING = {
    name: f"{what} is not installed here; on Debian or Ubuntu: apt-get install {package}"
    for name, (what, package) in NEEDED.items()
}
"""What is said where a program is missing."""


def program(name: str) -> str:
    """Return where a program is; without it leave the test out, or let it fail where CI is set."""
    return shutil.which(name) or _left_out(name)


def bridge() -> str:
    """Return a Python that can talk to LibreOffice: its own, or that of the system."""
    own = Path(program("soffice")).resolve().with_name("python")
    for python in (str(own), "/usr/bin/python3"):
        if Path(python).exists():
            tried = subprocess.run([python, "-c", "import uno"], check=False, capture_output=True)
            if tried.returncode == 0:
                return python
    return _left_out("uno")


def _left_out(name: str) -> NoReturn:
    if os.environ.get("CI"):
        pytest.fail(MISSING[name], pytrace=False)
    pytest.skip(MISSING[name])


def asked(command: str, *words: str | Path) -> str:
    """Return what a command prints."""
    done = subprocess.run([program(command), *words], check=True, capture_output=True, text=True)
    return done.stdout


def convert(files: Iterable[Path], kind: str, out: Path, profile: Path) -> None:
    """Let LibreOffice save the files as another kind into ``out``, with a profile of its own."""
    subprocess.run(
        [program("soffice"), "--headless", f"-env:UserInstallation={profile.as_uri()}",
         "--convert-to", kind, "--outdir", str(out), *map(str, files)],
        check=True, capture_output=True, timeout=300,
        env={**os.environ, "HOME": str(out.parent)},
    )  # fmt: skip


def printed(files: Iterable[Path], folder: Path, *sheets: str) -> dict[Path, Path]:
    """Return {workbook: the PDF of some of its sheets}; printing all takes five times as long."""
    short = {path: folder / "short" / path.name for path in files}
    for path, copy in short.items():
        copy.parent.mkdir(exist_ok=True)
        _leave_only(path, copy, sheets)
    convert(short.values(), "pdf", folder, folder / "profile")
    return {path: folder / f"{path.stem}.pdf" for path in short}


def _leave_only(path: Path, copy: Path, sheets: Iterable[str]) -> None:
    """Copy a workbook with nothing on all other sheets, and values in place of formulas."""
    with (
        zipfile.ZipFile(path) as package,
        zipfile.ZipFile(copy, "w", zipfile.ZIP_DEFLATED) as out,
    ):
        book = package.read("xl/workbook.xml").decode()
        order = re.findall(r'<sheet name="(\w+)"', book)
        kept = {f"xl/worksheets/sheet{order.index(name) + 1}.xml" for name in sheets}
        for part in package.namelist():
            content = package.read(part)
            if part in kept:
                content = re.sub(rb"<f>.*?</f>", b"", content)
            elif part.startswith("xl/worksheets/sheet"):
                content = re.sub(rb"(?s)<sheetData>.*</sheetData>", b"<sheetData/>", content)
                content = re.sub(rb"<drawing [^>]*/>", b"", content)
            elif part == "xl/workbook.xml":
                content = _areas_of(book, [order.index(name) for name in sheets]).encode()
            out.writestr(part, content)


def _areas_of(book: str, numbers: list[int]) -> str:
    """Return the workbook's part with print areas and repeated rows of some sheets alone."""
    of_sheet = r'<definedName name="_xlnm[^"]*" localSheetId="(\d+)".*?</definedName>'
    told = [int(n) for n in re.findall(r'_xlnm.Print_Area" localSheetId="(\d+)"', book)]
    told = [n for n in told if n in numbers]
    assert sorted(told) == sorted(numbers), "the print areas; pages repeat no rows"
    return re.sub(of_sheet, lambda m: m[0] if int(m[1]) in numbers else "", book)


def by_hand(script: Path, workbook: Path, asked: Any, folder: Path) -> list[Any]:
    """Return what a script that talks to LibreOffice made of a copy of a workbook."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    own = Path(shutil.copy(workbook, folder / "job.xlsx"))  # what another has open is locked
    listen = f"--accept=socket,host=127.0.0.1,port={port};urp;"
    profile = f"-env:UserInstallation={(folder / 'profile').as_uri()}"
    office = subprocess.Popen(
        [program("soffice"), "--headless", "--norestore", profile, listen],
        env={**os.environ, "HOME": str(folder)},
        stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
    )  # fmt: skip
    try:
        done = subprocess.run(
            [bridge(), str(script), str(own), str(port)], input=json.dumps(asked),
            capture_output=True, text=True, timeout=300, check=False,
        )  # fmt: skip
    finally:
        office.terminate()
        office.wait(30)
    assert done.returncode == 0, done.stderr
    made: list[Any] = json.loads(done.stdout)
    return made
