"""Which slips in a formula no hand-worked example notices: ``python tests/mutants.py 75-wages``.

Takes the stems of files under ``templates/items``, all of them where none is named; changes one
thing at a time in what these files declare, and asks the examples of all files.  Prints the
changes that nothing noticed, and how many there were.  A program to run, not a test.
"""

from __future__ import annotations

import sys
from collections import Counter, defaultdict
from collections.abc import Iterator

from noticed import Bench, Change, World, changes
from pourtally.files import items, templates_folder
from pourtally.model import Units

EQUAL: dict[tuple[str, str, str], str] = {}
"""{(file, part, what was changed): why no figure can tell}."""
SYSTEMS: tuple[Units, ...] = ("us", "si")


def files(stems: list[str]) -> list[str]:
    """Return the names of some files, of all where none is named."""
    known = [path.name for path in items(templates_folder())]
    if unknown := [stem for stem in stems if f"{stem}.toml" not in known]:
        raise SystemExit(f"no file of templates/items: {', '.join(unknown)}")
    return [f"{stem}.toml" for stem in stems] or known


def tried(names: list[str]) -> Iterator[tuple[Change, bool]]:
    """Yield each change of some files with whether an example in either system notices it."""
    worlds = [World(units) for units in SYSTEMS]
    by_part: list[dict[str, list[Change]]] = [_by_part(world, names) for world in worlds]
    for key, changed in by_part[0].items():
        seen: set[tuple[str, str, str]] = set()
        for world, mine in zip(worlds, by_part, strict=True):
            left = [c for c in mine.get(key, ()) if c.named not in seen]
            seen |= {c.named for c in Bench(world, key).noticed(left)} if left else set()
        yield from ((change, change.named in seen) for change in changed)


def _by_part(world: World, names: list[str]) -> dict[str, list[Change]]:
    out: dict[str, list[Change]] = defaultdict(list)
    for change in changes(world.book, names):
        if change.named not in EQUAL:
            out[change.part.key].append(change)
    return out


def main() -> int:
    """Try the changes of the named files, print those alive and a table."""
    names = files(sys.argv[1:])
    counts: Counter[tuple[str, bool]] = Counter()
    for change, killed in tried(names):
        counts[change.file, killed] += 1
        if not killed:
            print(f"{change.file}  {change.part.key}  {change.what}", flush=True)
    print("\n tried  noticed  alive  file")
    for name in names:
        noticed, left = counts[name, True], counts[name, False]
        print(f"{noticed + left:6}  {noticed:7}  {left:5}  {name}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
