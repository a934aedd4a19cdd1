"""What the two guides say is held against the program itself."""

from __future__ import annotations

import re
from dataclasses import fields
from pathlib import Path

import pourtally
from pourtally.cli import main
from pourtally.declared import FieldSaid
from pourtally.files import items, templates_folder
from pourtally.model import SIZES
from shop import laid_out, load_book

TOP = Path(__file__).parents[1]
README = (TOP / "README.md").read_text("utf-8")
GUIDE = (TOP / "DEVELOPERS.md").read_text("utf-8")


def test_the_readme_names_every_command_and_no_other() -> None:
    named = set(re.findall(r"`pourtally ([a-z]+)", README))
    assert named == {name for name, command in main.commands.items() if not command.hidden}


def test_the_pictures_and_folders_that_the_readme_points_to_are_there() -> None:
    targets = re.findall(r"\]\(([^)#:]+)\)", README)
    assert len(targets) >= 5
    assert [t for t in targets if not (TOP / t).exists()] == []


def test_the_limits_that_the_readme_tells_are_those_of_the_workbook() -> None:
    small, lines, large = ({b.key: b.lines for b in load_book("us", s).blocks} for s in SIZES)
    told = ("pieces", "bands", "curves", "walks", "legs", "outlines", "placements", "loads")
    bands = int(laid_out("us")[0].parts["bands.inside_across"][2].limits.most)
    assert [large[key] for key in told] == [3 * lines[key] for key in told]
    many = {key: str(small[key]) for key in told}
    many["walks"] += f" with {many.pop('legs')} legs"
    *most, last = many.values()
    sentence = (
        f"room for {lines['pieces']} slab pieces, {lines['bands']} banded rectangles with {bands} "
        f"bands each way inside, {lines['curves']} curved bands, {lines['walks']} walks with "
        f"{lines['legs']} legs, {lines['outlines']} outlines of "
        f"{lines['corners'] // lines['outlines']} corners, {lines['placements']} placements and "
        f"{lines['loads']} loads; a large one for three times as many, "
        f"a small one for {', '.join(most)} and {last}."
    )
    assert sentence in README


def test_the_guide_lists_every_room_of_the_generator() -> None:
    rooms = {p.stem for p in Path(pourtally.__file__).parent.glob("*.py")} - {"__init__"}
    table = "\n".join(line for line in GUIDE.splitlines() if line.startswith("| `"))
    assert {r for r in rooms if f"`{r}`" not in table} == set()


def test_the_guide_explains_every_key_of_a_field() -> None:
    explained = set(re.findall(r"^([a-z_]+) = ", GUIDE, re.MULTILINE))
    assert {f.name.rstrip("_") for f in fields(FieldSaid)} - explained == set()


BODIES = re.compile(r"\b(?:ACI|ADA|ASTM|IRC|PCA|PCI|UFC|UFGS)\b")
READ = re.compile(r"from memory|\bread in |ACI FAQ 926")
"""How a document is named that was not read whole: from memory, or where it was read. One was."""


def said(clause: str, source: str) -> bool:
    """Tell whether a clause that names a standard says how it was read."""
    return not BODIES.search(clause) or bool(READ.search(clause) or "both read" in source)


def test_every_source_that_names_a_standard_says_how_it_was_read() -> None:
    files = [templates_folder() / "units.toml", *items(templates_folder())]
    sources = [
        (path.name, source)
        for path in files
        for source in re.findall(r'^ *source = "(.*)"', path.read_text("utf-8"), re.MULTILINE)
    ]
    named = [source for _, source in sources if BODIES.search(source)]
    assert len(named) > 100
    bare = [
        f"{name}: {source}"
        for name, source in sources
        if not all(said(clause, source) for clause in source.split("; "))
    ]
    assert bare == []
