"""One thing changed at a time in the code that guards files; tells the changes no test notices.

``python tests/code_mutants.py output csvfile`` changes a comparison, a boolean, a number, a word
of a condition, or takes a statement out, and runs the tests that come by it until one fails.
``--only WORDS`` takes the changes whose name has these words, ``--some N`` every N-th.
What was tried stands in a folder, ``--kept FOLDER``, and is not tried again until the function,
or the tests that are asked of it, change.  A table tells what came of it.
"""

from __future__ import annotations

import ast
import copy
import json
import sys
import tempfile
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

from code_bench import Bench, digest, text_of

_READS = "test_read.py test_hostile.py"
TESTS: dict[str, str] = {
    "share": "test_share.py", "learn": "test_learn.py",
    "read": "test_read.py", "typed": "test_read.py",
    "jobfile": "test_cli.py test_lengths.py test_hostile.py test_older.py test_jobs.py",
    "guard": _READS, "opened": _READS, "unpack": _READS, "bounds": _READS,
    "csvfile": "test_prices.py", "priceload": "test_prices.py", "priceline": "test_prices.py",
    "pricesave": "test_prices.py", "pricetable": "test_prices.py test_learn.py",
    "output": "test_faults.py test_cli.py",
}  # fmt: skip
"""{room: the files of tests that are asked of it}."""
OTHER = {
    ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt, ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq, ast.In: ast.NotIn, ast.NotIn: ast.In, ast.Is: ast.IsNot,
    ast.IsNot: ast.Is, ast.And: ast.Or, ast.Or: ast.And, ast.Add: ast.Sub, ast.Sub: ast.Add,
}  # fmt: skip
KEEPERS = ("frozen", "strict")  # they keep us from slips; nothing that is sound shows them
BOUND = 100  # a number from here on is a bound, and is doubled: one more of it means nothing
EQUAL: dict[str, str] = {
    "priceload, top: 3 for 2": "the last of the turns 0, 1 and 2: any number above 1 is last",
    "csvfile, read: not False": "of a file with problems nothing is read, by comma or point",
    "jobfile, _line: len(set(p.values)) > 1 with GtE":
        "a column of one value in a fresh list is empty: emptied, it stays so",
    "learn, plain_text: 2 for 1 (2)": "a row of figures has one past its second cell, a title none",
}  # fmt: skip
"""{a change that no behavior shows: why}."""


@dataclass(frozen=True)
class Mutant:
    """A change: its name, the whole text with it, the function it is in, and where it shows."""

    name: str
    make: Callable[[], str]
    function: str
    lines: frozenset[int]

    @property
    def text(self) -> str:
        """Return the whole text with the change in it."""
        return self.make()


def _with(tree: ast.Module, at: int, change: Callable[[Any], object]) -> str:
    """Return a text whose node of a number is changed."""
    new = copy.deepcopy(tree)
    change(next(n for i, (n, _) in enumerate(_walk(new, ())) if i == at))
    return ast.unparse(ast.fix_missing_locations(new))


def mutants(room: str) -> list[Mutant]:
    """Return the text of a room with one thing changed, for each thing there is."""
    tree = ast.parse(text_of(room))
    found, names = [], Counter[str]()
    for at, (node, holders) in enumerate(_walk(tree, ())):
        if any(isinstance(h, ast.keyword) and h.arg in KEEPERS for h in holders):
            continue
        for said, change in _changes(node):
            functions = [h for h in (*holders, node) if isinstance(h, _NAMED)]
            name = f"{room}, {'.'.join(f.name for f in functions) or 'top'}: {said}"
            names[name] += 1
            name += f" ({names[name]})" if names[name] > 1 else ""
            whole = ast.unparse(functions[0] if functions else (*holders, node)[1])
            make = partial(_with, tree, at, change)
            found.append(Mutant(name, make, whole, _shows(tree, (*holders, node))))
    return found


_NAMED = (ast.FunctionDef, ast.ClassDef)


def _walk(node: ast.AST, holders: tuple[ast.AST, ...]) -> Iterator[tuple[Any, tuple[Any, ...]]]:
    """Yield each node with those that hold it, the outermost first."""
    yield node, holders
    for child in ast.iter_child_nodes(node):
        yield from _walk(child, (*holders, node))


def _shows(tree: ast.Module, chain: tuple[Any, ...]) -> frozenset[int]:
    """Return the lines of which a test must come by one to notice a change.

    What stands in no function shows wherever its name is read, or in all of its class.
    """
    inside = next((n for n, one in enumerate(chain) if isinstance(one, ast.FunctionDef)), None)
    if inside is not None and any(isinstance(one, ast.stmt) for one in chain[inside + 1 :]):
        return frozenset([[one for one in chain if isinstance(one, ast.stmt)][-1].lineno])
    top = chain[1]
    if isinstance(top, _NAMED):
        return frozenset(range(top.lineno, (top.end_lineno or 0) + 1))
    targets = {n.id for n in ast.walk(top) if isinstance(n, ast.Name)
               and isinstance(n.ctx, ast.Store)}  # fmt: skip
    lines: frozenset[int] = frozenset()
    for node, holders in _walk(tree, ()):
        if isinstance(node, ast.Name) and node.id in targets and isinstance(node.ctx, ast.Load):
            lines |= _shows(tree, (*holders, node)) if holders[1] is not top else frozenset()
    return lines or frozenset(range(1, 10_000))


def _changes(node: ast.AST) -> Iterator[tuple[str, Callable[[Any], object]]]:
    if isinstance(node, ast.Compare) and type(node.ops[0]) in OTHER:
        other = OTHER[type(node.ops[0])]
        yield f"{ast.unparse(node)} with {other.__name__}", lambda n: n.ops.__setitem__(0, other())
    elif isinstance(node, (ast.BoolOp, ast.BinOp)) and type(node.op) in OTHER:
        other = OTHER[type(node.op)]
        yield f"{ast.unparse(node)} with {other.__name__}", lambda n: setattr(n, "op", other())
    elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not):
        yield f"{ast.unparse(node)} without not", _asserted
    elif isinstance(node, ast.Constant) and isinstance(node.value, bool):
        yield f"not {node.value}", lambda n: setattr(n, "value", not n.value)
    elif isinstance(node, ast.Constant) and isinstance(node.value, int):
        more = node.value + (node.value if node.value >= BOUND else 1)
        yield f"{more} for {node.value}", lambda n: setattr(n, "value", more)
    elif isinstance(node, ast.Return) and isinstance(node.value, ast.Constant):
        if node.value.value == "":
            yield "return 'x' for ''", lambda n: setattr(n, "value", ast.Constant("x"))
    elif isinstance(node, ast.Return) and node.value is not None:
        yield f"no {ast.unparse(node)}", lambda n: setattr(n, "value", ast.Constant(None))
    for part in ("body", "orelse", "finalbody"):
        block = getattr(node, part, None)
        for place, one in enumerate(block if isinstance(block, list) else ()):
            if isinstance(node, (ast.Module, ast.ClassDef)):
                continue
            if isinstance(one, (ast.Assign, ast.AugAssign, ast.Raise, ast.Continue)) or (
                isinstance(one, ast.Expr) and not isinstance(one.value, ast.Constant)
            ):
                yield f"no {ast.unparse(one)}", partial(_taken_out, part, place)


def _taken_out(part: str, place: int, node: Any) -> None:
    getattr(node, part)[place] = ast.Pass()


def _asserted(node: Any) -> None:
    """Take the not out of a condition: +bool(x) is as true as x."""
    node.op = ast.UAdd()
    node.operand = ast.Call(ast.Name("bool", ast.Load()), [node.operand], [])


def tried(bench: Bench, room: str, only: str, step: int) -> tuple[int, int, list[str]]:
    """Try changes of a room; return how many were, how many are equal, and which live."""
    file = bench.kept / f"{room}.json"
    known: dict[str, list[str]] = json.loads(file.read_text("utf-8")) if file.exists() else {}
    chosen = [m for m in mutants(room) if only in m.name][::step]
    alive = []
    for mutant in [m for m in chosen if m.name not in EQUAL]:
        asked = bench.asked(room, mutant.lines)
        whole = digest(mutant.function)
        said, by, of = known.get(mutant.name, ["", "", ""])
        if said != whole or not (by or of == digest(" ".join(sorted(asked)))):
            by = bench.noticed(room, mutant.text, asked)
            known[mutant.name] = [whole, by, digest(" ".join(sorted(asked)))]
            file.write_text(json.dumps(known, indent=0), "utf-8")
            print("." if by else f"\n{mutant.name} ({len(asked)} tests)", end="", flush=True)
        alive += [] if by else [mutant.name]
    return len(chosen), sum(m.name in EQUAL for m in chosen), alive


def table(found: dict[str, tuple[int, int, list[str]]]) -> str:
    """Return what came of each room, and of all."""
    lines = ["room        changes  equal  tried  killed  live  percent"]
    rows = {room: (n, same, len(alive)) for room, (n, same, alive) in found.items()}
    rows["all"] = (sum(r[0] for r in rows.values()), sum(r[1] for r in rows.values()),
                   sum(r[2] for r in rows.values()))  # fmt: skip
    for room, (every, same, alive) in rows.items():
        real = every - same
        share = 100 * (real - alive) / real if real else 100.0
        lines.append(f"{room:10}  {every:7}  {same:5}  {real:5}  {real - alive:6}  {alive:4}  "
                     f"{share:7.1f}")  # fmt: skip
    return "\n".join(lines)


def _option(name: str, usual: str) -> str:
    return sys.argv[sys.argv.index(name) + 1] if name in sys.argv else usual


def main() -> None:
    """Do what the command line says."""
    kept = Path(_option("--kept", str(Path(tempfile.gettempdir()) / "code-mutants")))
    wanted = [word for word in sys.argv[1:] if word in TESTS] or list(TESTS)
    words, step = _option("--only", ""), int(_option("--some", "1"))

    def work(bench: Bench) -> None:
        found = {}
        for room in wanted:
            found[room] = tried(bench, room, words, step)
            print(f"\n{room}: {len(found[room][2])} live", flush=True)
        living = [name for _, _, alive in found.values() for name in alive]
        print("\n".join(["Alive:", *living, "", table(found)]))

    files = dict.fromkeys(file for room in wanted for file in TESTS[room].split())
    Bench(list(TESTS), kept, work).run(files)


if __name__ == "__main__":
    main()
