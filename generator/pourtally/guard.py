"""Is this file a workbook at all? Asked before anything in it is parsed."""

from __future__ import annotations

import io
import re
import zipfile
from pathlib import Path

_LARGEST = 20_000_000  # bytes; a filled-in workbook has about 200,000
_LARGEST_UNPACKED = 200_000_000
_MOST_MEMBERS = 5000  # a large one has 600, most of them drawings
_TYPES = "[Content_Types].xml"
_BOOK = "xl/workbook.xml"
_RELATION = re.compile(rb"<(?:\w+:)?Relationship\s[^>]*/officeDocument[\"'][^>]*>")
_TARGET = re.compile(rb"\sTarget=[\"']/?([^\"']+)")
_KIND = re.compile(rb"<(?:\w+:)?Override\s[^>]*>")
_STRICT = b"http://purl.oclc.org/ooxml/spreadsheetml/main"  # of ISO/IEC 29500 Strict
_SAVE_AS = "open it in your spreadsheet program and save it as an Excel workbook (.xlsx)"


class UnusableError(Exception):
    """A file that cannot be read as one of our workbooks; the text says why and what to do."""


def workbook_bytes(path: Path) -> bytes:
    """Return the bytes of a file that is a whole and harmless .xlsx, or raise."""
    raw = _read(path)
    if not raw.startswith(b"PK"):
        raise UnusableError(_not_a_zip(raw))
    try:
        with zipfile.ZipFile(io.BytesIO(raw)) as archive:
            _check_members(archive)
    except UnusableError:
        raise
    except Exception as error:  # a damaged zip fails in any of a dozen ways
        raise UnusableError(
            f"damaged or only partly copied ({error}); copy or download it again"
        ) from error
    return raw


def _read(path: Path) -> bytes:
    if not path.exists():
        raise UnusableError("there is no such file; check the name and the folder")
    if not path.is_file():
        raise UnusableError("not a file; expected a workbook ending in .xlsx")
    with path.open("rb") as file:
        raw = file.read(_LARGEST + 1)
    if not raw:
        raise UnusableError("the file is empty; save the workbook again")
    if len(raw) > _LARGEST:
        raise UnusableError(
            f"over {_LARGEST // 1_000_000} MB, and a filled-in workbook is under 1 MB; "
            "remove pictures and sheets of your own"
        )
    return raw


def _not_a_zip(raw: bytes) -> str:
    if raw.startswith(b"\xd0\xcf\x11\xe0"):
        if "EncryptedPackage".encode("utf-16-le") in raw:
            return "protected by a password; open it, take the password off and save it again"
        return f"an old .xls workbook; {_SAVE_AS}"
    if raw.startswith(b"%PDF"):
        return "not a workbook but a PDF; expected the .xlsx it was printed from"
    start = raw[:1000].lstrip(b"\xef\xbb\xbf \t\r\n").lower()
    if start.startswith((b"<!doctype html", b"<html", b"<table", b"<?xml", b"<")):
        return f"not a workbook but a web page or XML; {_SAVE_AS}"
    if b"\0" not in raw[:1000]:
        return "not a workbook but plain text, such as CSV, which holds one sheet's values only"
    return "not a workbook; expected a file ending in .xlsx that Pourtally made"


def _check_members(archive: zipfile.ZipFile) -> None:
    members = archive.infolist()
    names = {m.filename for m in members}
    if len(members) > _MOST_MEMBERS:
        raise UnusableError(f"holds {len(members):,} parts; one of ours has fewer")
    if sum(m.file_size for m in members) > _LARGEST_UNPACKED:
        raise UnusableError(f"unpacks to over {_LARGEST_UNPACKED // 1_000_000} MB; not opened")
    if any(m.flag_bits & 1 for m in members):
        raise UnusableError("protected by a password; save it again without one")
    _check_kind(archive, names)
    if broken := archive.testzip():
        raise UnusableError(f"damaged: its part {broken} is broken; copy or download it again")
    book = _book(archive, names)
    for needed in (_TYPES, book):
        if needed not in names:
            raise UnusableError(f"not a whole workbook: its part {needed} is missing")
    kinds = _KIND.findall(archive.read(_TYPES))  # those of parts; other programs list more kinds
    if any(book.encode() in kind and b"macroEnabled" in kind for kind in kinds):
        raise UnusableError(_MACROS)
    if _STRICT in archive.read(book):
        raise UnusableError(
            "in the strict form of .xlsx (ISO/IEC 29500 Strict), which is not read here; open it "
            "in your spreadsheet program and save it as an ordinary Excel workbook (.xlsx)"
        )


def _book(archive: zipfile.ZipFile, names: set[str]) -> str:
    """Return the name of the part that is the workbook itself."""
    relations = archive.read("_rels/.rels") if "_rels/.rels" in names else b""
    found = _RELATION.search(relations)
    target = _TARGET.search(found.group()) if found else None
    return target.group(1).decode("utf-8", "replace") if target else _BOOK


_MACROS = f"holds macros, which a workbook of ours never does; {_SAVE_AS}"


def _check_kind(archive: zipfile.ZipFile, names: set[str]) -> None:
    if "mimetype" in names and b"opendocument" in archive.read("mimetype"):
        raise UnusableError(f"an OpenDocument file; {_SAVE_AS}")
    if any(n.endswith(".iwa") for n in names):
        raise UnusableError("an Apple Numbers file; export it to Excel (.xlsx)")
    if any(n.lower().endswith("vbaproject.bin") for n in names):
        raise UnusableError(_MACROS)
    if "xl/workbook.bin" in names:
        raise UnusableError(f"a binary .xlsb workbook; {_SAVE_AS}")
    if not any(n.startswith("xl/") for n in names):
        raise UnusableError("not a workbook but another kind of file; expected an .xlsx")
