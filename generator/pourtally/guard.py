"""Is this file a workbook at all? Asked before anything in it is parsed."""

from __future__ import annotations

import io
import re
import zipfile
from dataclasses import dataclass
from pathlib import Path

from .bounds import LARGEST, LARGEST_TOGETHER, BoundsError, BrokenError, check
from .opened import UnopenedError, start
from .unpack import UnpackError, Zip, opened, shown

_LARGEST = 20_000_000  # bytes; a filled-in workbook of the large size has 2.5 million
_TYPES = "[Content_Types].xml"
_BOOK = "xl/workbook.xml"
_RELATIONS = "_rels/.rels"
_RELATION = re.compile(rb"<(?:\w+:)?Relationship\s[^<>]*>")  # [^<>]: each letter is read once
_TARGET = re.compile(rb"\sTarget=[\"']/?([^\"']+)")
_KIND = re.compile(rb"<(?:\w+:)?Override\s[^<>]*>")
_LEFT_ALONE = re.compile(
    r"customXml/|docProps/app\.xml|xl/(charts|media|drawings|theme|comments|threadedComments|persons"
    r"|calcChain|externalLinks|pivot|tables|queryTables|printerSettings|ctrlProps|activeX|embeddings"
    r"|richData|chartsheets/_rels)"
)  # what no sheet's cells are in
_TOO_MUCH = (
    "{}, more than a workbook of ours holds, and is not read; copy your entries into a "
    "fresh workbook"
)
_STRICT = b"http://purl.oclc.org/ooxml/spreadsheetml/main"  # of ISO/IEC 29500 Strict
_SAVE_AS = "open it in your spreadsheet program and save it as an Excel workbook (.xlsx)"


class UnusableError(Exception):
    """A file that cannot be read as one of our workbooks; the text says why and what to do."""


@dataclass(frozen=True)
class Package:
    """A whole and harmless .xlsx: the parts that are read, as a zip of their own, and the rest.

    ``names`` are those of all parts; of drawings the text is looked through, and no more.
    """

    raw: bytes
    names: tuple[str, ...]
    drawings: tuple[bytes, ...]


def package(path: Path) -> Package:
    """Return the parts of a file that is a whole and harmless .xlsx, or raise."""
    raw = _read(path)
    if not raw.startswith(b"PK"):
        raise UnusableError(_not_a_zip(raw))
    try:
        return _checked(opened(raw))
    except UnpackError as error:
        raise UnusableError(str(error)) from None


def _read(path: Path) -> bytes:
    try:
        raw = start(path, _LARGEST)
    except UnopenedError as error:
        raise UnusableError(str(error)) from None
    if not raw:
        raise UnusableError("the file is empty; save the workbook again")
    if len(raw) > _LARGEST:
        raise UnusableError(
            f"over {_LARGEST // 1_000_000} MB, and a filled-in workbook is under 3 MB; "
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


def _checked(found: Zip) -> Package:
    """Return the parts of a zip that is a workbook, each looked at before it is read."""
    names = found.members.keys()
    _check_kind(found)
    for name in names:
        if not _is_read(name):
            found.check(name)
    book = _book(found)
    for needed in (_TYPES, book):
        if needed not in names:
            raise UnusableError(f"not a whole workbook: its part {shown(needed)} is missing")
    sizes = {name: found.members[name].file_size for name in names if _is_read(name)}
    if sum(sizes.values()) > LARGEST_TOGETHER:
        raise UnusableError(_TOO_MUCH.format(f"its sheets are over {LARGEST_TOGETHER // 10**6} MB"))
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w") as kept:
        for name in sorted(sizes, key=lambda n: n != book):
            kept.writestr(name, _bounded(found, name, book))
    drawings = (found.part(n) for n in names if n.lower().startswith("xl/drawings/d"))
    return Package(held.getvalue(), tuple(names), tuple(drawings))


def _bounded(found: Zip, name: str, book: str) -> bytes:
    """Return a part that holds no more than it may."""
    if found.members[name].file_size > LARGEST:
        raise UnusableError(_TOO_MUCH.format(f"its part {shown(name)} is over {LARGEST // 10**6} "
                                             "MB"))  # fmt: skip
    part = found.part(name)
    if name == book and _STRICT in part:
        raise UnusableError(
            "in the strict form of .xlsx (ISO/IEC 29500 Strict), which is not read here; open it "
            "in your spreadsheet program and save it as an ordinary Excel workbook (.xlsx)"
        )
    try:
        check(name, part)
    except BrokenError as error:
        raise UnusableError(f"damaged: its part {shown(name)} {error}; open it in your spreadsheet "
                            "program and save it again") from None  # fmt: skip
    except BoundsError as error:
        raise UnusableError(_TOO_MUCH.format(f"its part {shown(name)} {error}")) from None
    return part


def _is_read(name: str) -> bool:
    """Tell whether a part may be read as XML; drawings, pictures and the like never are."""
    return name.endswith((".xml", ".rels")) and not _LEFT_ALONE.match(name)


def _book(found: Zip) -> str:
    """Return the name of the part that is the workbook itself."""
    relations = found.part(_RELATIONS) if _RELATIONS in found.members else b""
    kinds = [tag for tag in _RELATION.findall(relations) if b"/officeDocument" in tag]
    target = _TARGET.search(kinds[0]) if kinds else None
    return target.group(1).decode("utf-8", "replace") if target else _BOOK


_MACROS = f"holds macros, which a workbook of ours never does; {_SAVE_AS}"


def _check_kind(found: Zip) -> None:
    names = found.members.keys()
    if "mimetype" in names and b"opendocument" in found.part("mimetype"):
        raise UnusableError(f"an OpenDocument file; {_SAVE_AS}")
    if any(n.endswith(".iwa") for n in names):
        raise UnusableError("an Apple Numbers file; export it to Excel (.xlsx)")
    if any(n.lower().endswith("vbaproject.bin") for n in names):
        raise UnusableError(_MACROS)
    if "xl/workbook.bin" in names:
        raise UnusableError(f"a binary .xlsb workbook; {_SAVE_AS}")
    if not any(n.startswith("xl/") for n in names):
        raise UnusableError("not a workbook but another kind of file; expected an .xlsx")
    if _TYPES in names:  # it lists kinds of parts; other programs list more than there are
        kinds, book = _KIND.findall(found.part(_TYPES)), _book(found).encode()
        if any(book in kind and b"macroEnabled" in kind for kind in kinds):
            raise UnusableError(_MACROS)
