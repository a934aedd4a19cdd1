"""Programs that open a workbook and save it again: what comes back is looked at elsewhere."""

from __future__ import annotations

import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path

import openpyxl

from programs import MISSING, convert

HERE = Path(__file__).parent


class LeftOutError(Exception):
    """A program that is not there; says which, and what to do."""


class GaveUpError(LeftOutError):
    """A program that is there and did not come to an end with a workbook of ours."""

    @classmethod
    def told(cls, words: str) -> GaveUpError:
        """Return one with the last line that a program said."""
        lines = words.strip().splitlines() or ["no word why"]
        return cls(f"gave up: {lines[-1][:200]}")


def run(*words: str | Path, seconds: int = 600) -> str:
    """Return what a command prints, or say why it did not come to its end."""
    try:
        done = subprocess.run(
            [str(w) for w in words], capture_output=True, text=True, timeout=seconds, check=False
        )
    except subprocess.TimeoutExpired:
        raise GaveUpError(f"did not come to an end in {seconds} seconds") from None
    if done.returncode:
        raise GaveUpError.told(done.stderr or done.stdout)
    return done.stdout


def found(program: str, package: str) -> str:
    """Return where a program is; say which package brings it where it is missing."""
    path = shutil.which(program)
    if path is None:
        raise LeftOutError(f"not installed; on Debian or Ubuntu: apt-get install {package}")
    return path


def modules(folder: Path | None, *names: str) -> Path:
    """Return the folder that holds modules for JavaScript."""
    if folder is None or any(not (folder / "node_modules" / n).exists() for n in names):
        raise LeftOutError(f"{', '.join(names)} not in the folder given; see --install")
    found("node", "nodejs")
    return folder.resolve()


def by_openpyxl(path: Path, out: Path, _: Path | None) -> None:
    """Open a workbook with openpyxl and save it."""
    openpyxl.load_workbook(path).save(out)


def by_libreoffice(path: Path, out: Path, _: Path | None) -> None:
    """Let LibreOffice save a workbook as it is."""
    _office(path, "xlsx", out)


def by_ods(path: Path, out: Path, _: Path | None) -> None:
    """Let LibreOffice save a workbook as an OpenDocument sheet, and that as a workbook."""
    between = out.with_suffix(".ods")
    _office(path, "ods", between)
    _office(between, "xlsx", out)


def _office(path: Path, kind: str, out: Path) -> None:
    if shutil.which("soffice") is None:
        raise LeftOutError(MISSING["soffice"])
    folder = out.parent / f"office-{kind}"
    folder.mkdir(exist_ok=True)
    try:
        convert([path], kind, folder, out.parent / "profile")
    except subprocess.SubprocessError as error:
        raise GaveUpError.told(str(error)) from None
    shutil.move(folder / path.with_suffix(f".{kind}").name, out)


def by_gnumeric(path: Path, out: Path, _: Path | None) -> None:
    """Let Gnumeric work a workbook out and save it."""
    run(found("ssconvert", "gnumeric"), "--recalc", path, out)


def _by_javascript(library: str, module: str) -> Callable[[Path, Path, Path | None], None]:
    def saved(path: Path, out: Path, folder: Path | None) -> None:
        own = modules(folder, module)
        run("node", HERE / "save_again.mjs", own, library, path, out)

    return saved


TRIPS: dict[str, Callable[[Path, Path, Path | None], None]] = {
    "LibreOffice": by_libreoffice,
    "LibreOffice, ods": by_ods,
    "openpyxl": by_openpyxl,
    "Gnumeric": by_gnumeric,
    "ExcelJS": _by_javascript("exceljs", "exceljs"),
    "SheetJS": _by_javascript("sheetjs", "xlsx"),
}
"""Each program that saves a workbook again."""
