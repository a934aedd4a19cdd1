"""Files made to break the program, each given to it in a process of its own and measured.

``python tests/hostile.py`` prints a table: file, seconds of work, peak of memory and answer.
``-k WORD`` takes the files with that word in their name.  No file is over 12 MB.
"""

from __future__ import annotations

import struct
import subprocess
import sys
import tempfile
import zipfile
import zlib
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path

from shop import build

SECONDS, MEGABYTES = 3.0, 300
LARGEST = 12_000_000
MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
_HEAD = b'<?xml version="1.0" encoding="UTF-8"?>'
_SHEET = f'<worksheet xmlns="{MAIN}"><sheetData>'.encode(), b"</sheetData></worksheet>"
_SIZED = f'<worksheet xmlns="{MAIN}"><dimension ref="A1:B2"/><sheetData>'.encode(), _SHEET[1]
_STRINGS = f'<sst xmlns="{MAIN}">'.encode(), b"</sst>"
_FIRST, _SECOND = "xl/worksheets/sheet1.xml", "xl/worksheets/sheet2.xml"

Parts = dict[str, bytes]


@dataclass(frozen=True)
class Hostile:
    """A file: how it is made of a sound workbook's parts, what it is given to, what is said.

    What is not told ``soon`` does no harm, or is told once a sound workbook was read beside it:
    it takes as long as any workbook does.
    """

    make: Callable[[Parts], Parts | bytes]
    said: str
    command: tuple[str, ...] = ("values", "{}")
    ending: str = ".xlsx"
    code: int = 1
    soon: bool = True


def instead(name: str, *pieces: bytes) -> Callable[[Parts], Parts]:
    """Return what puts another part in the place of one."""
    return lambda parts: parts | {name: _HEAD + b"".join(pieces)}


def before(name: str, mark: bytes, what: bytes) -> Callable[[Parts], Parts]:
    """Return what puts something into a part, before the first of a mark."""
    return lambda parts: parts | {name: parts[name].replace(mark, what + mark, 1)}


def _numbered(pattern: str, count: int) -> bytes:
    return "".join(pattern.format(n) for n in range(count)).encode()


def _fonts(parts: Parts) -> Parts:
    styles = parts["xl/styles.xml"]
    more = b'<font><sz val="11"/><name val="A"/></font>' * 500_000
    return parts | {"xl/styles.xml": styles.replace(b"</fonts>", more + b"</fonts>", 1)}


def _elsewhere(parts: Parts) -> Parts:
    """Let the list of sheets lead to a part that is called a picture."""
    rels = parts["xl/_rels/workbook.xml.rels"]
    name = b"worksheets/sheet2.xml"
    return parts | {
        "xl/_rels/workbook.xml.rels": rels.replace(name, b"media/image1.xml"),
        "xl/media/image1.xml": _HEAD + _SHEET[0] + b"<row>" + b"<c/>" * 4_000_000 + b"</row>"
        + _SHEET[1],
    }  # fmt: skip


def _lying(parts: Parts) -> bytes:
    """Say in the list that a part of 150 MB has 100 bytes, and give the sum of those."""
    raw = bytearray(zipped(parts | {_SECOND: b" " * 150_000_000}))
    for mark, sums in ((b"PK\x01\x02", 16), (b"PK\x03\x04", 14)):
        at = raw.index(_SECOND.encode(), raw.index(mark))
        while raw[at - (46 if mark[2] == 1 else 30) :][:4] != mark:
            at = raw.index(_SECOND.encode(), at + 1)
        head = at - (46 if mark[2] == 1 else 30)
        raw[head + sums : head + sums + 4] = struct.pack("<I", zlib.crc32(b" " * 100))
        raw[head + sums + 8 : head + sums + 12] = struct.pack("<I", 100)
    return bytes(raw)


def _overlapping(parts: Parts) -> bytes:
    """Let a thousand names in the list stand for the same bytes."""
    raw = zipped(parts | {"xl/a.xml": b"a" * 100_000})
    end = raw.rindex(b"PK\x05\x06")
    begins = int.from_bytes(raw[end + 16 : end + 20], "little")
    at = raw.index(b"xl/a.xml", begins) - 46
    entry = raw[at : at + 46 + 8]
    more = b"".join(entry[:28] + struct.pack("<H", 6) + entry[30:46] + b"xl/%03d" % n
                    for n in range(1, 1000))  # fmt: skip
    listed = raw[begins:end] + more
    count = int.from_bytes(raw[end + 8 : end + 10], "little") + 999
    tail = raw[end : end + 8] + struct.pack("<HHII", count, count, len(listed), begins) + b"\0\0"
    return raw[:begins] + listed + tail


def _packed_otherwise(parts: Parts) -> bytes:
    return zipped(parts | {_SECOND: b"0" * 15_000_000}, how={_SECOND: zipfile.ZIP_BZIP2})


def _listed(_: Parts) -> bytes:
    return zipped({f"xl/{n}": b"" for n in range(100_000)})


def zipped(parts: Parts, how: dict[str, int] | None = None) -> bytes:
    """Return parts as a zip."""
    with tempfile.TemporaryFile() as held:
        with zipfile.ZipFile(held, "w", zipfile.ZIP_DEFLATED) as archive:
            for name, part in parts.items():
                archive.writestr(name, part, (how or {}).get(name, zipfile.ZIP_DEFLATED))
        held.seek(0)
        return held.read()


_CELLS = b'<c r="A1" t="s"><v>1</v></c>'
_SHARED = b'<f t="shared" ref="A1:A9" si="0">' + b"1+" * 4000 + b"1</f>"
_MORE, _DAMAGED = "more than a workbook of ours holds", "damaged"
_JOB = ("build", "{}", "-o", "{}.out.xlsx")
_CSV = ("figures", "{sound}", "--load", "{}", "-o", "{}.out.xlsx")

FILES: dict[str, Hostile] = {
    "styles with 500,000 fonts": Hostile(_fonts, _MORE),
    "a row of four million cells": Hostile(
        instead(_FIRST, _SHEET[0], b"<row>", b"<c/>" * 4_000_000, b"</row>", _SHEET[1]), _MORE),
    "a row of 300,000 cells": Hostile(
        instead(_SECOND, _SIZED[0], b"<row>", _CELLS * 300_000, b"</row>", _SIZED[1]), _MORE),
    "600,000 rows": Hostile(
        instead(_SECOND, _SIZED[0], b"<row/>" * 600_000, _SIZED[1]), _MORE),
    "a list of names of 190 MB": Hostile(
        before("xl/workbook.xml", b"</definedNames>", b'<definedName name="a">A!$A$1</definedName>'
               * 4_000_000), _MORE),
    "300,000 names": Hostile(
        before("xl/workbook.xml", b"</definedNames>",
               _numbered('<definedName name="n{}">A!$A$1</definedName>', 300_000)), _MORE),
    "nested a million deep": Hostile(
        instead(_SECOND, _SIZED[0], b"<a>" * 600_000, b"</a>" * 600_000, _SIZED[1]), _MORE),
    "styles nested 100,000 deep": Hostile(
        instead("xl/styles.xml", b"<a>" * 100_000, b"</a>" * 100_000), _MORE),
    "600,000 shared texts": Hostile(
        instead("xl/sharedStrings.xml", _STRINGS[0], b"<si><t>a</t></si>" * 340_000, _STRINGS[1]),
        _MORE),
    "a text of 15 MB": Hostile(
        instead("xl/sharedStrings.xml", _STRINGS[0], b"<si><t>", b"a" * 15_000_000, b"</t></si>",
                _STRINGS[1]), _MORE),
    "an element of 1.4 million attributes": Hostile(
        instead(_SECOND, b"<worksheet ", _numbered('a{}="" ', 1_400_000), b"/>"), _MORE),
    "an element of 100,000 attributes": Hostile(
        instead(_SECOND, b"<worksheet ", _numbered('a{}="" ', 100_000), b"/>"), _MORE),
    "4,000 cells that share a long formula": Hostile(
        instead(_SECOND, _SIZED[0], b'<row r="1"><c r="A1">', _SHARED, b"</c></row>",
                b'<row><c><f t="shared" si="0"/></c></row>' * 4000, _SIZED[1]), _MORE),
    "entities that swell": Hostile(
        instead(_SECOND, b'<!DOCTYPE b [<!ENTITY a "',
                b"a" * 1000, b'"><!ENTITY b "', b"&a;" * 1000, b'"><!ENTITY c "', b"&b;" * 1000,
                b'">]><worksheet>&c;</worksheet>'), _DAMAGED),
    "letters of a mainframe": Hostile(
        lambda parts: parts | {_SECOND: _HEAD.replace(b"UTF-8", b"cp037").decode().encode("cp037")},
        _DAMAGED),
    "relations without an end": Hostile(
        instead("_rels/.rels", b"<Relationship /officeDocument" * 600_000), _DAMAGED),
    "kinds without an end": Hostile(
        instead("[Content_Types].xml", b"<Override macroEnabled" * 600_000), _DAMAGED),
    "pictures without an end": Hostile(
        lambda parts: parts | {"xl/drawings/drawing99.xml": b"<xdr:pic " * 2_000_000}, "", code=0,
        soon=False),
    "a sheet that is called a picture": Hostile(_elsewhere, "not found", soon=False),
    "a part larger than it says": Hostile(_lying, _DAMAGED),
    "a thousand parts of the same bytes": Hostile(_overlapping, "share bytes"),
    "a part packed by bzip2": Hostile(_packed_otherwise, _DAMAGED),
    "100,000 parts": Hostile(_listed, "holds 100,000 parts"),
    "a number of 400 digits": Hostile(
        before(_SECOND, b"</sheetData>", b'<row r="9000"><c r="Z9000"><v>' + b"1" * 400
               + b"</v></c></row>"), "", code=0, soon=False),
    "a number of 5,000 digits": Hostile(
        before(_SECOND, b"</sheetData>", b'<row r="9000"><c r="Z9000"><v>' + b"1" * 5000
               + b"</v></c></row>"), _DAMAGED, soon=False),
    "a version of 5,000 digits": Hostile(
        lambda parts: parts | {"docProps/core.xml": parts["docProps/core.xml"].replace(
            b"<dc:description>Pourtally ", b"<dc:description>Pourtally " + b"9" * 5000)},
        "made by a newer version"),
    "a job of 100,000 unknown keys": Hostile(
        lambda _: _numbered("k{} = 1\n", 80_000), "unknown key 'k0'", _JOB, ".toml"),
    "a job of one long key": Hostile(lambda _: b"k" * 900_000 + b" = 1", "unknown key", _JOB,
                                     ".toml"),
    "a job key 3,000 dots deep": Hostile(
        lambda _: b"usual." + b"a." * 3000 + b"b = 1", "not valid TOML", _JOB, ".toml"),
    "a job key 400,000 dots deep": Hostile(
        lambda _: b"a." * 400_000 + b"b = 1", "not valid TOML", _JOB, ".toml"),
    "a job key of 400,000 quoted words": Hostile(
        lambda _: b'"".' * 300_000 + b"b = 1", "not valid TOML", _JOB, ".toml"),
    "a job of brackets": Hostile(lambda _: b"a = " + b"[" * 900_000, "not valid TOML", _JOB,
                                 ".toml"),
    "a job number of 400 digits": Hostile(
        lambda _: b"[usual]\nthickness = " + b"1" * 400, "usual.thickness: came", _JOB, ".toml"),
    "a job number of 5,000 digits": Hostile(
        lambda _: b"[usual]\nthickness = " + b"1" * 5000, "not valid TOML", _JOB, ".toml"),
    "20,000 lines of a table": Hostile(
        lambda _: b"[[pieces]]\nline = 1\nb = 1\n" * 35_000, "the line is given twice", _JOB,
        ".toml"),
    "a file of figures of 300,000 columns": Hostile(
        lambda _: b"table,figure,value," + _numbered("{},", 250_000) + b"\n" + b"a\n" * 20_000,
        "columns", _CSV, ".csv",
        soon=False),
    "a file of figures of 300,000 rows": Hostile(
        lambda _: b"table,figure,value\n" + _numbered("t{},a\n", 200_000), "lines", _CSV, ".csv",
        soon=False),
    "a file of figures with one long word": Hostile(
        lambda _: b"table,figure,value\n" + b"a" * 130_000 + b",b,c\n", "table: came", _CSV,
        ".csv", soon=False),
}  # fmt: skip


_MEASURED = """
import resource, subprocess, sys
program = [sys.executable, "-c", *sys.argv[1:]]
done = subprocess.run(program, stdout=subprocess.DEVNULL)
used = resource.getrusage(resource.RUSAGE_CHILDREN)
print(done.returncode, used.ru_utime + used.ru_stime, used.ru_maxrss / 1024)
"""
"""A small process between: a program started by a large one counts the memory of that one too."""


@dataclass(frozen=True)
class Answer:
    """What came of a file."""

    code: int
    seconds: float
    megabytes: float
    told: str


def sound(folder: Path) -> Path:
    """Return a workbook that nothing is wrong with."""
    path = folder / "sound.xlsx"
    if not path.exists():
        build("us", {}, path, "small")
    return path


def made(name: str, folder: Path) -> Path:
    """Write a hostile file and return where it is."""
    file = FILES[name]
    with zipfile.ZipFile(sound(folder)) as archive:
        parts = {n: archive.read(n) for n in archive.namelist()}
    content = file.make(parts)
    path = folder / (name.replace(" ", "-") + file.ending)
    path.write_bytes(content if isinstance(content, bytes) else zipped(content))
    assert path.stat().st_size <= LARGEST, path
    return path


def asked(name: str, folder: Path, most: int = 0) -> Answer:
    """Give a file to the program and return its answer; ``most`` bounds its memory in bytes."""
    path = made(name, folder)
    words = [w.format(path, sound=sound(folder)) for w in FILES[name].command]
    bound = f"import resource; resource.setrlimit(resource.RLIMIT_AS, ({most}, {most})); "
    program = f"{bound if most else ''}from pourtally.cli import main; main()"
    done = subprocess.run([sys.executable, "-c", _MEASURED, program, *words],
                          capture_output=True, check=False)  # fmt: skip
    code, seconds, megabytes = done.stdout.split()[-3:]
    return Answer(
        int(code), float(seconds), float(megabytes), done.stderr.decode("utf-8", "replace")
    )


def wrong(name: str, answer: Answer) -> list[str]:
    """Return what an answer lacks."""
    file, lines = FILES[name], answer.told.splitlines()
    return [
        *[f"exit code {answer.code}, not {file.code}"] * (answer.code != file.code),
        *["a traceback"] * ("Traceback" in answer.told),
        *[f"does not say {file.said!r}"] * (file.said not in answer.told),
        *[f"{len(lines)} lines"] * (len(lines) > 25 or len(answer.told) > 30_000),
    ]


def table(names: Iterable[str], folder: Path) -> int:
    """Print what came of each file, and return how many were not answered as they should be."""
    failed = 0
    print(f"{'file':<42} {'MB':>5} {'seconds':>7} {'peak MB':>7}  answer")
    for name in names:
        answer = asked(name, folder)
        lacks = wrong(name, answer)
        lacks += ["too slow"] * (answer.seconds > SECONDS and FILES[name].soon)
        lacks += ["too much memory"] * (answer.megabytes > MEGABYTES)
        failed += bool(lacks)
        size = next(folder.glob(name.replace(" ", "-") + ".*")).stat().st_size / 1e6
        said = (answer.told.splitlines() or ["(nothing)"])[0].rpartition(str(folder) + "/")[2]
        told = f"{'; '.join(lacks).upper()}{': ' * bool(lacks)}{said[:110]}"
        print(f"{name:<42} {size:5.1f} {answer.seconds:7.1f} {answer.megabytes:7.0f}  {told}",
              flush=True)  # fmt: skip
    print(f"{failed} of them not answered as they should be")
    return failed


if __name__ == "__main__":
    word = sys.argv[sys.argv.index("-k") + 1] if "-k" in sys.argv else ""
    with tempfile.TemporaryDirectory() as place:
        sys.exit(bool(table([n for n in FILES if word in n], Path(place))))
