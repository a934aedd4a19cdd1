"""One thing changed at a time in the code that guards files; lists the changes no test notices.

``python tests/code_mutants.py output csvfile`` changes a comparison, a boolean, a number, a word
of a condition, or takes a statement out, and runs the tests that matter for the room until one
fails.  ``--only WORDS`` takes the changes whose name has these words, ``--some N`` every N-th.
What was tried stands in a file, ``--kept FILE``, and is not tried again.
"""

from __future__ import annotations

import ast
import copy
import json
import os
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path
from typing import Any

import pourtally

ROOMS = Path(pourtally.__file__).parent
TESTS: dict[str, str] = {
    "bounds": "test_hostile.py", "unpack": "test_hostile.py", "opened": "test_hostile.py",
    "guard": "test_read.py test_hostile.py", "sheets": "test_read.py test_hostile.py",
    "read": "test_read.py test_older.py", "typed": "test_read.py test_percent.py",
    "jobfile": "test_cli.py test_lengths.py test_hostile.py",
    "csvfile": "test_prices.py test_hostile.py", "priceload": "test_prices.py test_carry.py",
    "pricesave": "test_prices.py test_carry.py", "learn": "test_learn.py",
    "share": "test_share.py test_copy_rules.py", "output": "test_faults.py test_cli.py",
}  # fmt: skip
"""{room: the files of tests that matter for it}."""
OTHER = {
    ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt, ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq, ast.In: ast.NotIn, ast.NotIn: ast.In, ast.Is: ast.IsNot,
    ast.IsNot: ast.Is, ast.And: ast.Or, ast.Or: ast.And, ast.Add: ast.Sub, ast.Sub: ast.Add,
}  # fmt: skip
LONGEST = 600  # seconds that the tests of one change may take

Mutant = tuple[str, str]
"""What was changed, and the whole text with it."""


def mutants(text: str) -> Iterator[Mutant]:
    """Yield a text with one thing changed, for each thing there is."""
    tree = ast.parse(text)
    for at, node in enumerate(ast.walk(tree)):
        for said, change in _changes(node):
            new = copy.deepcopy(tree)
            change(next(n for i, n in enumerate(ast.walk(new)) if i == at))
            line = getattr(node, "lineno", 0)
            yield f"{line}: {said}", ast.unparse(ast.fix_missing_locations(new))


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
        yield f"{node.value} + 1", lambda n: setattr(n, "value", n.value + 1)
    elif isinstance(node, ast.Return) and node.value is not None:
        yield f"no {ast.unparse(node)}", lambda n: setattr(n, "value", ast.Constant(None))
    elif isinstance(node, (ast.FunctionDef, ast.If, ast.For, ast.With, ast.Try)):
        for place, one in enumerate(node.body):
            if isinstance(one, (ast.Assign, ast.AugAssign, ast.Raise, ast.Continue)) or (
                isinstance(one, ast.Expr) and not isinstance(one.value, ast.Constant)
            ):
                yield f"no {ast.unparse(one)}", partial(_taken_out, place)


def _taken_out(place: int, node: Any) -> None:
    node.body[place] = ast.Pass()


def _asserted(node: Any) -> None:
    """Take the not out of a condition: +bool(x) is as true as x."""
    node.op = ast.UAdd()
    node.operand = ast.Call(ast.Name("bool", ast.Load()), [node.operand], [])


def noticed(room: str, text: str) -> bool:
    """Tell whether a test fails, or none ends, with a text in the place of a room."""
    with tempfile.TemporaryDirectory() as place:
        rooms = Path(place) / "pourtally"
        rooms.mkdir()
        for one in ROOMS.iterdir():
            if one.name not in ("__pycache__", f"{room}.py"):
                (rooms / one.name).symlink_to(one)
        if not (ROOMS / "templates").exists():
            (rooms / "templates").symlink_to(ROOMS.parents[1] / "templates")
        (rooms / f"{room}.py").write_text(text, "utf-8")
        here = Path(__file__).parent
        files = [str(here / name) for name in TESTS[room].split()]
        words = [sys.executable, "-m", "pytest", "-x", "-q", "-n", "0", "-p", "no:cacheprovider",
                 *files]  # fmt: skip
        where = {**os.environ, "PYTHONPATH": place, "PYTHONDONTWRITEBYTECODE": "1"}
        try:
            done = subprocess.run(words, capture_output=True, cwd=here.parent, env=where,
                                  timeout=LONGEST, check=False)  # fmt: skip
        except subprocess.TimeoutExpired:
            return True
    return done.returncode != 0


def tried(room: str, kept: Path, only: str, step: int) -> list[str]:
    """Try the changes of a room that were not tried before; return those that live."""
    known: dict[str, bool] = json.loads(kept.read_text("utf-8")) if kept.exists() else {}
    every = list(mutants((ROOMS / f"{room}.py").read_text("utf-8")))
    chosen = [m for m in every if only in m[0]][::step]
    for said, text in chosen:
        name = f"{room}, line {said}"
        if name not in known:
            known[name] = noticed(room, text)
            kept.write_text(json.dumps(known, indent=0), "utf-8")
            print("." if known[name] else "\n" + name, end="", flush=True)
    names = {f"{room}, line {said}" for said, _ in chosen}
    alive = [name for name in known if name in names and not known[name]]
    print(f"\n{room}: {len(names)} of {len(every)} changes tried, {len(alive)} live", flush=True)
    return alive


def _option(name: str, usual: str) -> str:
    return sys.argv[sys.argv.index(name) + 1] if name in sys.argv else usual


if __name__ == "__main__":
    file = Path(_option("--kept", str(Path(tempfile.gettempdir()) / "code-mutants.json")))
    wanted = [word for word in sys.argv[1:] if word in TESTS] or list(TESTS)
    words, each = _option("--only", ""), int(_option("--some", "1"))
    living = [one for room in wanted for one in tried(room, file, words, each)]
    print("\n".join(["Alive:", *living]))
