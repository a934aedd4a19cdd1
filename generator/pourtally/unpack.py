"""The parts of a zip, each as large as it says it is and none where another one is.

A zip may say one size and hold another, or give the same bytes out as a thousand parts.  So
each part is unpacked here to its end, and no further than it said, before anything reads it.
"""

from __future__ import annotations

import io
import zipfile
import zlib
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

_LARGEST_UNPACKED = 200_000_000  # bytes, pictures and all
_MOST_MEMBERS = 5000  # a large one has 600, most of them drawings
_LISTED = b"PK\x01\x02"  # begins each part in the list of them
_HEAD = 30  # bytes before the name of a part, where it stands
_STEP = 1_000_000  # bytes unpacked at once of what is not kept
_DAMAGED = "damaged or only partly copied ({}); copy or download it again"


class UnpackError(Exception):
    """A zip that is not opened; the text says why and what to do."""


@dataclass(frozen=True)
class Zip:
    """A zip, and what its list says of each part, by name."""

    raw: bytes
    members: dict[str, zipfile.ZipInfo]

    def part(self, name: str) -> bytes:
        """Return a part, whole."""
        return b"".join(_unpacked(self.raw, self.members[name]))

    def check(self, name: str) -> None:
        """Unpack a part and keep nothing of it."""
        for _ in _unpacked(self.raw, self.members[name]):
            pass


def opened(raw: bytes) -> Zip:
    """Return a zip whose list of parts is sound; raise ``UnpackError`` where it is not."""
    if (listed := raw.count(_LISTED)) > _MOST_MEMBERS:
        raise UnpackError(f"holds {listed:,} parts; one of ours has fewer")
    try:
        with zipfile.ZipFile(io.BytesIO(raw)) as archive:
            members = archive.infolist()
    except Exception as error:  # a damaged zip fails in any of a dozen ways
        raise UnpackError(_DAMAGED.format(error)) from None
    if any(m.flag_bits & 1 for m in members):
        raise UnpackError("protected by a password; save it again without one")
    if sum(m.file_size for m in members) > _LARGEST_UNPACKED:
        raise UnpackError(f"unpacks to over {_LARGEST_UNPACKED // 1_000_000} MB; not opened")
    (name, times), *_ = [*Counter(m.filename for m in members).most_common(1), ("", 0)]
    if times > 1:
        raise UnpackError(_DAMAGED.format(f"its part {shown(name)} stands there {times} times"))
    in_order = sorted(members, key=lambda m: m.header_offset)
    for one, other in pairwise(in_order):
        if one.header_offset + _HEAD + one.compress_size > other.header_offset:
            raise UnpackError(_DAMAGED.format(f"its parts {shown(one.filename)} and "
                                              f"{shown(other.filename)} share bytes"))  # fmt: skip
    return Zip(raw, {m.filename: m for m in members})


def shown(name: str) -> str:
    """Return the name of a part as a message shows it."""
    plain = "".join(c if c.isprintable() else "?" for c in name)
    return plain if len(plain) <= 60 else plain[:57] + "..."


def _unpacked(raw: bytes, member: zipfile.ZipInfo) -> Iterator[bytes]:
    """Yield the pieces of a part; raise where it is damaged, or not as large as it says."""
    size = sums = 0
    try:
        for piece in _pieces(raw, member):
            size, sums = size + len(piece), zlib.crc32(piece, sums)
            if size > member.file_size:
                break
            yield piece
    except zlib.error as error:
        raise UnpackError(_broken(member, str(error))) from None
    if size != member.file_size:
        more = "more" if size > member.file_size else "less"
        raise UnpackError(_broken(member, f"it holds {more} than it says"))
    if sums != member.CRC:
        raise UnpackError(_broken(member, "its sum is wrong"))


def _pieces(raw: bytes, member: zipfile.ZipInfo) -> Iterator[bytes]:
    start = member.header_offset
    name, extra = (int.from_bytes(raw[at : at + 2], "little") for at in (start + 26, start + 28))
    start += _HEAD + name + extra
    packed = raw[start : start + member.compress_size]
    if member.compress_type == zipfile.ZIP_STORED:
        yield packed
        return
    if member.compress_type != zipfile.ZIP_DEFLATED:
        raise UnpackError(_broken(member, "it is packed in a way that no workbook is"))
    unpacking = zlib.decompressobj(-zlib.MAX_WBITS)
    while packed and not unpacking.eof:
        yield unpacking.decompress(packed, _STEP)
        packed = unpacking.unconsumed_tail
    yield unpacking.flush()


def _broken(member: zipfile.ZipInfo, why: str) -> str:
    return (f"damaged: its part {shown(member.filename)} is broken ({why}); copy or download it "
            "again")  # fmt: skip
