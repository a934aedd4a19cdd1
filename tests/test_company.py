"""A company's own face: what its file may say, and where its logo stands on the papers."""

from __future__ import annotations

import random
import struct
import zipfile
import zlib
from dataclasses import replace
from io import BytesIO
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from click.testing import CliRunner, Result
from openpyxl.utils import range_boundaries
from PIL import Image, ImageDraw

import programs
from pourtally import build as builder
from pourtally import many, style
from pourtally.cli import main
from pourtally.companyfile import color_problems
from pourtally.demo import demo_jobs
from pourtally.files import templates_folder
from pourtally.logo import BOX, LogoError, read_logo
from pourtally.model import Entries
from pourtally.share import write_copy
from pourtally.template import Template
from shop import TEMPLATES, load_copy, read_jobs

pytestmark = pytest.mark.xdist_group("company")  # its workbooks are made once

CLAY, GREEN = "#8A4B2A", "#1B4D3E"
COMPANY = f"""
logo = "logo.png"
color = "{GREEN}"
[company]
name = "Quillfeather Slabs"
street = "1 Fern Way"
license = "000001"
"""
JOB = """
size = "small"
[job]
name = "Patio"
[[pieces]]
shape = "Rectangle"
a = 20
b = 12
"""
PAPERS = {"Order", "Supplies", "Crew", "Tickets", "Proposal", "Invoice", "Care"}


def picture(width: int = 900, height: int = 300, mode: str = "RGB") -> Image.Image:
    """Return a clay bar on white, or on nothing, with half of its width left free."""
    ground: Any = (0, 0, 0, 0) if mode == "RGBA" else "white"
    image = Image.new(mode, (width, height), ground)
    ImageDraw.Draw(image).rectangle((0, 0, width // 2, height), fill=CLAY)
    return image


def packed(image: Image.Image, kind: str = "PNG", **options: Any) -> bytes:
    file = BytesIO()
    image.save(file, kind, **options)
    return file.getvalue()


def chunk(name: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))


def bare_png(width: int, height: int, *more: bytes, lines: bytes = b"") -> bytes:
    """Return a PNG by its specification, whatever it says of its size."""
    head = chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0))
    body = chunk(b"IDAT", zlib.compress(lines, 9))
    return b"\x89PNG\r\n\x1a\n" + head + b"".join(more) + body + chunk(b"IEND", b"")


def chunks(png: bytes) -> list[bytes]:
    """Return the names of the parts of a PNG in order."""
    found, at = [], 8
    while at < len(png):
        (length,) = struct.unpack(">I", png[at : at + 4])
        found.append(png[at + 4 : at + 8])
        at += length + 12
    return found


def noise(width: int, height: int) -> Image.Image:
    dots = random.Random(1).randbytes(width * height * 3)
    return Image.frombytes("RGB", (width, height), dots)


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Work in a folder with a company, its logo and a job."""
    monkeypatch.chdir(tmp_path)
    Path("logo.png").write_bytes(packed(picture()))
    Path("ours.toml").write_text(COMPANY, "utf-8")
    Path("patio.toml").write_text(JOB, "utf-8")
    return tmp_path


def run(*words: str) -> Result:
    result = CliRunner().invoke(main, words)
    if result.exception and not isinstance(result.exception, SystemExit):
        raise result.exception
    return result


def build(*words: str) -> Path:
    result = run("build", *words, "-q")
    assert (result.exit_code, result.stderr) == (0, "")
    return Path("output") / f"{Path(words[0]).stem}.xlsx"


def refused(text: str, *words: str) -> list[str]:
    """Return what is told of a company file with which nothing is built."""
    Path("ours.toml").write_text(text, "utf-8")
    result = run("build", "patio.toml", "--company", "ours.toml", *words)
    assert result.exit_code == 1
    assert not Path("output").exists()
    *problems, last = result.stderr.splitlines()
    assert last.endswith("found; nothing was written")
    return problems


def logos(path: Path) -> dict[str, list[Any]]:
    """Return the pictures of each sheet that has any."""
    book = openpyxl.load_workbook(path)
    return {sheet.title: sheet._images for sheet in book if sheet._images}


def parts(path: Path) -> dict[str, bytes]:
    with zipfile.ZipFile(path) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def typed(path: Path, sheet: str = "Terms") -> set[object]:
    return {c.value for row in openpyxl.load_workbook(path)[sheet].iter_rows() for c in row}


# The logo on the papers -----------------------------------------------------------------------


def test_the_logo_stands_at_the_head_of_the_papers_and_of_nothing_else() -> None:
    path = build("patio.toml", "--company", "ours.toml")
    found = logos(path)
    assert set(found) == PAPERS
    assert all(len(pictures) == 1 for pictures in found.values())
    pictures = [name for name in parts(path) if "media" in name]
    assert pictures == ["xl/media/image1.png"], "kept once, however often it is shown"


def test_it_ends_where_the_last_printed_column_does_and_within_the_row_of_the_title() -> None:
    book = openpyxl.load_workbook(build("patio.toml", "--company", "ours.toml"))
    for name in PAPERS:
        sheet, anchor = book[name], book[name]._images[0].anchor
        _, _, last, _ = range_boundaries(sheet.print_area.rpartition("!")[2])
        assert (anchor.to.col, anchor.to.colOff) == (last, 0), name
        assert (anchor._from.row, anchor.to.row) == (0, 0), name
        assert anchor.to.rowOff / 12_700 < sheet.row_dimensions[1].height, name
        assert anchor.editAs == "oneCell", "a column made wider does not stretch it"


@pytest.mark.parametrize(
    ("size", "shown"),
    [((900, 300), (156, 52)), ((1700, 200), (170, 20)), ((3000, 3000), (52, 52)),
     ((120, 40), (120, 40)), ((17, 52), (17, 52))],
)  # fmt: skip
def test_it_fits_its_box_in_its_own_proportions_and_is_never_made_larger(
    size: tuple[int, int], shown: tuple[int, int]
) -> None:
    Path("logo.png").write_bytes(packed(picture(*size)))
    path = build("patio.toml", "--company", "ours.toml")
    drawing = next(p for n, p in parts(path).items() if "drawings/d" in n and b"<xdr:pic>" in p)
    pic = drawing[drawing.index(b"<xdr:pic>") :]
    across, up = (
        int(pic.split(f'{side}="'.encode())[1].split(b'"')[0]) / 9525 for side in ("cx", "cy")
    )
    assert (round(across, 3), round(up, 3)) == shown


def test_those_who_cannot_see_it_are_told_whose_logo_it_is() -> None:
    named = parts(build("patio.toml", "--company", "ours.toml"))
    told = sum(p.count(b'descr="Logo of Quillfeather Slabs"') for p in named.values())
    assert told == len(PAPERS)
    Path("ours.toml").write_text('logo = "logo.png"', "utf-8")
    nameless = parts(build("patio.toml", "--company", "ours.toml", "--replace"))
    assert sum(p.count(b'descr="Logo of the company"') for p in nameless.values()) == len(PAPERS)


def test_without_a_logo_nothing_is_left_for_one() -> None:
    plain = parts(build("patio.toml"))
    assert not any("media" in name for name in plain)
    Path("ours.toml").write_text(f'color = "{CLAY}"', "utf-8")
    assert parts(build("patio.toml", "--company", "ours.toml", "--replace")) == plain


def test_a_paper_may_say_in_which_column_it_ends() -> None:
    book = load_copy("us")
    sheets = tuple(replace(s, logo_column=9) if s.logo else s for s in book.sheets)
    face = style.Face(logo=read_logo(Path("logo.png")))
    builder.build(Template(replace(book, sheets=sheets)), {}, Path("copy.xlsx"), face)
    ((picture,),) = logos(Path("copy.xlsx")).values()
    assert (picture.anchor.to.col, picture.anchor.to.colOff) == (9, 0)


# What of a picture goes along -----------------------------------------------------------------


@pytest.mark.parametrize(
    ("image", "kind", "options"),
    [(picture(3900, 1200), "PNG", {"dpi": (600, 600)}),
     (picture(900, 300, "RGBA"), "PNG", {}),
     (picture(900, 300).convert("CMYK"), "JPEG", {}),
     (picture(900, 300).convert("L"), "JPEG", {"exif": b"Exif\0\0II*\0\x08\0\0\0\0\0"}),
     (picture(900, 300).quantize(8), "PNG", {"transparency": 0}),
     (noise(3000, 300), "JPEG", {"comment": b"12 Secret Road"}),
     (picture(200, 60).convert("L").convert("I").point(lambda v: v * 257).convert("I;16"),
      "PNG", {})],
)  # fmt: skip
def test_it_is_drawn_anew_small_and_tells_nothing_but_its_pixels(
    image: Image.Image, kind: str, options: dict[str, Any]
) -> None:
    Path("logo").write_bytes(packed(image, kind, **options))
    logo = read_logo(Path("logo"))
    kept = Image.open(BytesIO(logo.png))
    assert set(chunks(logo.png)) == {b"IHDR", b"IDAT", b"IEND"}
    assert kept.width <= 2 * BOX[0]
    assert kept.height <= 2 * BOX[1]
    assert kept.width / kept.height == pytest.approx(image.width / image.height, rel=0.05)
    assert (kept.width * logo.scale[0], kept.height * logo.scale[1]) == pytest.approx(
        (logo.width, logo.height)
    )


def test_gray_of_16_bits_stays_gray() -> None:
    shades = Image.new("L", (200, 60), 128).convert("I").point(lambda v: v * 257)
    Path("gray.png").write_bytes(packed(shades.convert("I;16")))
    kept = Image.open(BytesIO(read_logo(Path("gray.png")).png)).convert("RGB")
    assert kept.getpixel((100, 30)) == (128, 128, 128)


def test_a_photo_taken_with_the_phone_upright_stands_upright() -> None:
    exif = Image.Exif()
    exif[0x0112] = 6  # turn to the right
    Path("photo.jpg").write_bytes(packed(picture(300, 100), "JPEG", exif=exif))
    logo = read_logo(Path("photo.jpg"))
    assert (logo.width, logo.height) == (17, 52)


def test_what_shows_through_stays_so() -> None:
    Path("clear.png").write_bytes(packed(picture(340, 104, "RGBA")))
    kept = Image.open(BytesIO(read_logo(Path("clear.png")).png)).convert("RGBA")
    assert kept.getpixel((300, 50)) == (0, 0, 0, 0)
    assert kept.getpixel((20, 50)) == (0x8A, 0x4B, 0x2A, 255)


# What is refused ------------------------------------------------------------------------------

REFUSED = {
    "an empty file": b"",
    "came an SVG drawing; expected a PNG or JPEG": b'<?xml version="1.0"?><svg width="9"/>',
    "came a GIF picture; expected a PNG or JPEG": packed(picture(), "GIF"),
    "came a TIFF picture": packed(picture(), "TIFF"),
    "came a bitmap": packed(picture(), "BMP"),
    "came a WebP picture": b"RIFF\x24\0\0\0WEBPVP8 ",
    "came a HEIC or AVIF picture": b"\0\0\0\x18ftypheic\0\0\0\0mif1heic",
    "came a PDF": b"%PDF-1.7\n",
    "came a file that is no picture": b"This was never a picture.",
    "damaged (": packed(picture())[:-200],
    "damaged (image file is truncated": packed(picture(), "JPEG")[:-300],
    "damaged (Truncated File Read)": packed(picture())[:20],
    "damaged (its head cannot be read); ": bare_png(0, 0),
    "damaged (broken PNG file": packed(picture()).replace(b"IDAT", b"IDAT\1", 1),
    "over 2,000,000 bytes": packed(noise(900, 900)),
    "4,001 x 80 pixels": packed(picture(4001, 80)),
    "80 x 4,001 pixels": packed(picture(80, 4001), "JPEG"),
    "12,000 x 4,000 pixels": bare_png(12_000, 4_000),
    "over 4,000 pixels a side": bare_png(60_000, 60_000),
    "would stand 170 x 2 on a paper": packed(picture(3400, 40)),
    "1 x 1 pixels would stand 1 x 1": packed(picture(1, 1)),
    "nothing of it is seen on white": packed(Image.new("RGB", (300, 100), "#FAFAFA")),
    "nothing of it is seen on white paper": packed(Image.new("RGBA", (300, 100), (0, 0, 0, 0))),
    "Decompressed data too large": bare_png(
        60, 60, chunk(b"zTXt", b"a\0\0" + zlib.compress(b"x" * 20_000_000)), lines=bytes(60 * 181)
    ),
}


@pytest.mark.parametrize("told", REFUSED, ids=lambda t: t[:30])
def test_what_cannot_be_a_logo_is_refused_with_the_reason_and_the_fix(told: str) -> None:
    Path("logo.png").write_bytes(REFUSED[told])
    (problem,) = refused('logo = "logo.png"')
    assert problem.startswith("ours.toml: logo: logo.png: ")
    assert told in problem
    fixes = ("save", "cut off", "take the dark one")
    assert any(fix in problem.rpartition(told)[2] for fix in fixes)


@pytest.mark.parametrize("name", ["gone.png", ".", "folder/logo.png", "/"])
def test_a_logo_that_is_not_there_is_told(name: str) -> None:
    (problem,) = refused(f'logo = "{name}"')
    assert f"logo: {name}: there is no such file; it is looked for beside" in problem


def test_the_logo_is_looked_for_beside_the_company_file() -> None:
    Path("shop").mkdir()
    Path("logo.png").rename("shop/logo.png")
    Path("ours.toml").rename("shop/ours.toml")
    assert set(logos(build("patio.toml", "--company", "shop/ours.toml"))) == PAPERS


@pytest.mark.parametrize("kind", ["PNG", "JPEG"])
def test_however_a_picture_is_damaged_it_is_taken_or_refused(kind: str, folder: Path) -> None:
    whole, dice, path = packed(picture(180, 60), kind), random.Random(5), folder / "logo.png"
    taken = 0
    for turn in range(150):
        spoiled = bytearray(whole)
        if turn % 3:
            for _ in range(dice.randrange(1, 9)):
                spoiled[dice.randrange(8, len(whole))] = dice.randrange(256)
        else:
            del spoiled[dice.randrange(8, len(whole) - 4) :]
        path.write_bytes(spoiled)
        try:
            taken += bool(read_logo(path).png)
            assert turn % 3, "cut off, and yet taken"
        except LogoError as error:
            assert str(error)
    assert taken < 100


# What the file may say ------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "told"),
    [("logo = 7", "logo: came 7; expected the name of a PNG or JPEG file"),
     ('logo = ""', "logo: came ''; expected the name of a PNG or JPEG file"),
     ("color = 5", "color: came 5; expected six digits"),
     ('color = "clay"', "color: came 'clay'; expected six digits"),
     ('color = "#8A4"', "color: came '#8A4'; expected six digits"),
     ('colour = "#8A4B2A"', "unknown key 'colour'; did you mean 'color'?"),
     ('company = "We"', "company: came words; expected one table, [company]"),
     ("[[company]]", "company: came a list; expected one table"),
     ("[company]\nnmae = 'We'", "company: unknown key 'nmae'; did you mean 'name'?"),
     ("[company]\nphone = 5550100", "company.phone: came 5550100"),
     ("[pieces]\na = 5", "unknown key 'pieces'; did you mean 'notices'?"),
     ("logo = ", "not valid TOML"),
     ("#" * 1_000_001, "over 1,000,000 bytes; a company file is a short text")],
)  # fmt: skip
def test_each_slip_of_a_company_file_is_told(text: str, told: str) -> None:
    (problem,) = refused(text)
    assert problem.startswith("ours.toml: ")
    assert told in problem


def test_all_slips_of_company_and_jobs_are_told_at_once() -> None:
    Path("patio.toml").write_text("[job]\nnmae = 1", "utf-8")
    Path("logo.png").write_bytes(b"GIF89a")
    text = 'logo = "logo.png"\ncolor = "#FFCC00"\nshape = 1\n[company]\nname = 1\nfax = ""'
    problems = refused(text)
    assert [p.split(":")[0] for p in problems] == ["ours.toml"] * 5 + ["patio.toml"]
    assert [word for word in ("shape", "logo", "color", "name", "fax")
            if not any(word in p for p in problems)] == []  # fmt: skip


def test_a_bad_company_file_is_no_job_that_may_be_left_out() -> None:
    assert len(refused("color = 5", "--skip-bad")) == 1
    assert "there is no such file" in run("build", "--company", "none.toml").stderr


@pytest.mark.parametrize(
    ("color", "has"), [("#777777", "4.47"), ("#FFFFFF", "1.00"), ("#FFFF00", "1.07")]
)
def test_a_color_too_light_is_refused_and_a_darker_shade_of_it_offered(
    color: str, has: str
) -> None:
    (problem,) = color_problems(color)
    assert f"came '{color}', which has a contrast of {has} to 1 on white" in problem
    shade = problem.split('"')[1]
    assert color_problems(shade) == []
    assert color_problems("#767676") == []  # the lightest gray by the tables of WCAG


def test_the_color_is_that_of_the_heads_of_papers() -> None:
    book = load_copy("us")
    head, *others = book.blocks
    name, *more = head.fields
    role = replace(name, parts=tuple(replace(p, role="masthead") for p in name.parts))
    blocks = (replace(head, fields=(role, *more)), *others)
    said: Entries = {name.key: ["Quillfeather Slabs"]}
    builder.build(
        Template(replace(book, blocks=blocks)), said, Path("copy.xlsx"), style.Face(GREEN)
    )
    looks = parts(Path("copy.xlsx"))["xl/styles.xml"]
    assert f'<color rgb="FF{GREEN[1:]}"/>'.encode() in looks
    assert f"FF{style.ACCENT[1:]}".encode() not in looks


# Whose words go first -------------------------------------------------------------------------


def test_the_company_fills_in_what_a_job_does_not_say_itself() -> None:
    Path("patio.toml").write_text(JOB + '[company]\nname = "Other Name"\nlicense = ""', "utf-8")
    words = typed(build("patio.toml", "--company", "ours.toml"))
    assert {"Other Name", "1 Fern Way"} <= words
    assert not {"Quillfeather Slabs", "000001"} & words


def test_a_blank_workbook_is_the_company_s_too() -> None:
    assert run("build", "--size", "small", "--company", "ours.toml", "-q").exit_code == 0
    assert {"Quillfeather Slabs", "1 Fern Way", "000001"} <= typed(Path("output/flatwork.xlsx"))


def test_a_copy_takes_the_face_and_what_the_workbook_lacks() -> None:
    demo = templates_folder() / "jobs" / "demo.toml"
    text = demo.read_text("utf-8").replace('name = "Tolliver Flatwork"\n', "")
    Path("smith.toml").write_text(text, "utf-8")
    build("smith.toml")
    result = run("share", "output/smith.xlsx", "--company", "ours.toml")
    assert (result.exit_code, result.stderr) == (0, "")
    copy = Path("output/smith-proposal.xlsx")
    assert list(logos(copy)) == ["Proposal"]
    told = b"".join(parts(copy).values())
    assert b'descr="Logo of Quillfeather Slabs"' in told
    assert b"220 Mill Street" in told
    assert b"1 Fern Way" not in told


def test_no_copy_is_written_with_a_bad_company_file() -> None:
    build("patio.toml")
    Path("ours.toml").write_text("color = 5", "utf-8")
    result = run("share", "output/patio.xlsx", "--company", "ours.toml")
    assert result.exit_code == 1
    assert "color: came 5" in result.stderr
    assert not Path("output/patio-proposal.xlsx").exists()


# Many, again and onward -----------------------------------------------------------------------


def test_many_on_all_cores_have_the_same_face_byte_for_byte(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(many, "_cores", lambda: 2)
    for name in "abcd":
        Path(f"{name}.toml").write_text(JOB, "utf-8")
    files = [f"{name}.toml" for name in "abcd"]
    assert run("build", *files, "--company", "ours.toml", "-q").exit_code == 0
    alone = build("patio.toml", "--company", "ours.toml").read_bytes()
    assert {Path(f"output/{name}.xlsx").read_bytes() for name in "abcd"} == {alone}


def test_a_workbook_into_which_prices_are_loaded_keeps_its_face_by_the_company_file() -> None:
    path = build("patio.toml", "--company", "ours.toml")
    before = path.read_bytes()
    assert run("prices", str(path), "--save", "p.csv").exit_code == 0
    load = ("prices", str(path), "--load", "p.csv", "--replace")
    told = run(*load)
    assert told.exit_code == 1
    assert "the company's logo (--company FILE brings it) would not be carried over" in told.stderr
    assert path.read_bytes() == before
    assert run(*load, "--company", "ours.toml").exit_code == 0
    assert path.read_bytes() == before


def test_a_picture_of_one_s_own_beside_the_logo_is_still_told() -> None:
    path = build("patio.toml", "--company", "ours.toml")
    book = openpyxl.load_workbook(path)
    book["Crew"].add_image(openpyxl.drawing.image.Image("logo.png"), "B3")
    book.save("changed.xlsx")
    run("prices", str(path), "--save", "p.csv")
    told = run("prices", "changed.xlsx", "--load", "p.csv", "-o", "new.xlsx", "--company",
               "ours.toml")  # fmt: skip
    assert "pictures are not carried over" in told.stderr


# The demo, and the look -----------------------------------------------------------------------


def test_the_demo_s_company_has_a_small_logo_and_the_finished_job_another_company() -> None:
    assert (templates_folder() / "company" / "demo.png").stat().st_size < 6_000
    assert run("demo", "-q").exit_code == 0
    assert set(logos(Path("output/demo.xlsx"))) == PAPERS
    assert set(logos(Path("output/demo-proposal.xlsx"))) == {"Proposal"}
    assert logos(Path("output/finished.xlsx")) == {}
    assert [job.stem for job in demo_jobs()] == ["demo", "finished"]


def test_libreoffice_shows_it_at_the_upper_right_and_hands_it_on(folder: Path) -> None:
    (job,), _ = read_jobs([templates_folder() / "jobs" / "demo.toml"], None)
    worked = TEMPLATES["us", "usual"].results(job.entries)
    face = style.Face(accent="#1F3A5F", logo=read_logo(Path("logo.png")))
    write_copy(load_copy("us"), worked, Path("copy.xlsx"), face)
    programs.convert([Path("copy.xlsx")], "pdf", folder, folder / "profile")
    programs.asked("pdftoppm", "-r", "96", "-png", "-singlefile", "copy.pdf", "page")
    page = Image.open("page.png").convert("RGB")
    clay = [(n % page.width, n // page.width) for n, dot in enumerate(_dots(page))
            if dot == (0x8A, 0x4B, 0x2A)]  # fmt: skip
    across, down = zip(*clay, strict=True)
    assert min(across) > page.width / 2
    assert max(down) < page.height / 8
    shape = (max(across) - min(across)) / (max(down) - min(down))
    assert shape == pytest.approx(1.5, rel=0.1), "the bar is half of 3 to 1"
    programs.convert([Path("copy.xlsx")], "xlsx", folder / "saved", folder / "profile")
    saved = b"".join(parts(folder / "saved" / "copy.xlsx").values())
    assert b'descr="Logo of Tolliver Flatwork"' in saved


def _dots(page: Image.Image) -> list[tuple[int, ...]]:
    raw = page.tobytes()
    return [tuple(raw[at : at + 3]) for at in range(0, len(raw), 3)]
