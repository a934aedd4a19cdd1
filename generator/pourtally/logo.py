"""A picture file to the logo of a company's papers; the only room that talks to Pillow.

A picture comes from anywhere: it is decoded to its last line before anything is made of it,
and what goes into a workbook is drawn anew, small and without what else the file told.
"""

from __future__ import annotations

import warnings
from io import BytesIO
from pathlib import Path

from PIL import Image, ImageOps, UnidentifiedImageError

from .style import Logo

BOX = (170, 52)
"""Pixels across and up that a logo has room in."""
_SHARP = 2  # pixels kept for each one shown: as many as print and phones can show
_LEAST = 8  # pixels shown: letters lower than that cannot be read
_HEAVIEST = 2_000_000  # bytes; a drawing of this size takes a hundredth of them
_LONGEST = 4_000  # pixels a side: the widest scan or photo; decoded it takes 64 MB at most
_BLANK = 240  # of 255: what is lighter is not seen on paper
_OURS = {"PNG": b"\x89PNG\r\n", "JPEG": b"\xff\xd8\xff"}
_OTHERS = {"a GIF picture": b"GIF8", "a TIFF picture": b"II*\0", "a bitmap": b"BM",
           "a PDF": b"%PDF"}  # fmt: skip
_LATER = {"a HEIC or AVIF picture": b"ftyp", "a WebP picture": b"WEBP"}  # a few bytes further on
_SMALLER = f"save it at most {_LONGEST // 4:,} pixels wide"


class LogoError(Exception):
    """A picture that cannot be the logo; the text says why and what to do."""


def read_logo(path: Path) -> Logo:
    """Return the logo in a PNG or JPEG file, fitted to its box; raise ``LogoError``."""
    image = _decoded(_content(path))
    shown = _fitted(*image.size)
    if min(shown) < _LEAST:
        raise LogoError(f"{image.width} x {image.height} pixels would stand {shown[0]} x "
                        f"{shown[1]} on a paper; at least {_LEAST} x {_LEAST} are expected: take "
                        "a larger picture, or cut off what is empty at its ends")  # fmt: skip
    if _darkest(image) > _BLANK:
        raise LogoError("nothing of it is seen on white paper; take the dark one, or one "
                        "on a colored ground")  # fmt: skip
    small = _small(image, shown)
    return Logo(_packed(small), *shown, (shown[0] / small.width, shown[1] / small.height))


def _content(path: Path) -> bytes:
    """Return the bytes of a file that may be a picture by its size."""
    if not path.is_file():
        raise LogoError("there is no such file; it is looked for beside the company file")
    try:
        with path.open("rb") as file:
            content = file.read(_HEAVIEST + 1)
    except OSError as error:
        raise LogoError(f"cannot be read: {error.strerror}") from None
    if not content:
        raise LogoError("an empty file; save the picture again")
    if len(content) > _HEAVIEST:
        raise LogoError(f"over {_HEAVIEST:,} bytes; {_SMALLER}")
    return content


def _decoded(content: bytes) -> Image.Image:
    """Return a picture decoded to its last line; its size is looked at before that."""
    if not content.startswith(tuple(_OURS.values())):
        raise LogoError(f"came {_kind(content)}; expected a PNG or JPEG picture: save it as one")
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # of what it tells beside its pixels
            warnings.simplefilter("error", Image.DecompressionBombWarning)
            _opened(content).verify()  # sums of a PNG; the picture is of no use after it
            return _plain(_opened(content))
    except LogoError:
        raise
    except (Image.DecompressionBombError, Image.DecompressionBombWarning):
        raise LogoError(f"over {_LONGEST:,} pixels a side; {_SMALLER}") from None
    except Exception as error:  # a damaged picture fails in any of a dozen ways
        raise LogoError(f"damaged ({_reason(error)}); save the picture again") from error


def _opened(content: bytes) -> Image.Image:
    """Return a picture not decoded yet, none of whose sides is too long."""
    image = Image.open(BytesIO(content), formats=tuple(_OURS))
    if max(image.size) > _LONGEST:
        raise LogoError(f"{image.width:,} x {image.height:,} pixels, at most {_LONGEST:,} a side "
                        f"are taken; {_SMALLER}")  # fmt: skip
    return image


def _reason(error: Exception) -> str:
    unknown = isinstance(error, UnidentifiedImageError)  # which tells of an object in memory
    return "its head cannot be read" if unknown else str(error)


def _kind(content: bytes) -> str:
    """Return what a file is that is neither PNG nor JPEG, by its first bytes."""
    found = [kind for kind, mark in _OTHERS.items() if content.startswith(mark)]
    found += [kind for kind, mark in _LATER.items() if mark in content[4:12]]
    found += ["an SVG drawing"] * (b"<svg" in content[:2000])
    return found[0] if found else "a file that is no picture"


def _plain(image: Image.Image) -> Image.Image:
    """Return a picture upright, in three colors of 8 bits, and a fourth where it shows through."""
    image.load()
    image = ImageOps.exif_transpose(image)
    if image.mode.startswith("I"):  # 16 bits of gray
        image = image.convert("I").point(lambda gray: gray * (1 / 256)).convert("L")
    return image.convert("RGBA" if image.has_transparency_data else "RGB")


def _fitted(width: int, height: int) -> tuple[int, int]:
    """Return the pixels it stands in: proportions kept, and never larger than it is."""
    scale = min(BOX[0] / width, BOX[1] / height, 1)
    return max(1, round(width * scale)), max(1, round(height * scale))


def _darkest(image: Image.Image) -> float:
    """Return the darkest gray of a picture on white paper, 0 to 255."""
    paper = Image.new("RGBA", image.size, "white")
    paper.alpha_composite(image.convert("RGBA"))
    darkest, _ = paper.convert("L").getextrema()
    return float(darkest)  # type: ignore[arg-type]  # one channel has a pair of numbers


def _small(image: Image.Image, shown: tuple[int, int]) -> Image.Image:
    """Return a picture of no more pixels than can be seen."""
    width, height = (min(has, _SHARP * want) for has, want in zip(image.size, shown, strict=True))
    return image.resize((width, height), Image.Resampling.LANCZOS)


def _packed(image: Image.Image) -> bytes:
    """Return a picture as a PNG that tells nothing but its pixels."""
    image.info.clear()
    packed = BytesIO()
    image.save(packed, "PNG", optimize=True)
    return packed.getvalue()
