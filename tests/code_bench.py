"""Rooms of the program with another text in them, and the tests that run what was changed.

Tests are gathered once, in a process that has loaded the templates.  Each runs once in a fork of
it, which notes the statements it comes by, also in programs that it starts; then only these tests
are asked of a change, in a fork that holds the change.
"""

from __future__ import annotations

import ast
import hashlib
import inspect
import json
import os
import select
import shutil
import signal
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from importlib import import_module
from pathlib import Path
from types import FunctionType
from typing import Any

import pytest
from _pytest.runner import runtestprotocol

import pourtally
import shop
from pourtally import build, output, share
from pourtally.model import UNITS, Entries
from pourtally.style import PLAIN, Face
from pourtally.template import Template

ROOMS = Path(pourtally.__file__).parent
SLOW = 2  # seconds of work; a test that takes longer, or fails as it is, is not asked
WHOLE = frozenset({"shelf", "smith", "filled", "workbook", "demo", "resaved"})
"""Fixtures that are whole workbooks: what takes one takes seconds, and is not asked."""
LONGEST = 30  # seconds of tests that are asked of one change, the quickest first
WAITED = 10  # how many times as long a busy machine may take
_LINES = "LINES_THAT_RAN"
_NOTED = f"""
def _ran(line, room=__name__.rpartition(".")[2], seen=set(), os=__import__("os"),
         open=__import__("os").open, write=__import__("os").write, close=__import__("os").close):
    place = os.environ["{_LINES}"]
    if (place, line) not in seen:
        seen.add((place, line))
        file = open(place, os.O_WRONLY | os.O_APPEND | os.O_CREAT)
        write(file, f"{{room}} {{line}}\\n".encode())
        close(file)
"""
"""What a room calls before each statement; what tests put in the place of ``os`` is not met."""


def text_of(room: str) -> str:
    """Return the text of a room."""
    return (ROOMS / f"{room}.py").read_text("utf-8")


def digest(words: str) -> str:
    """Return a short sum of words."""
    return hashlib.sha256(words.encode()).hexdigest()[:16]


# A text in the place of a room -------------------------------------------------------------


def put(room: str, text: str) -> None:
    """Let a room that is loaded, and all that took anything from it, be as a text says."""
    module = import_module(f"pourtally.{room}")
    before = dict(vars(module))
    exec(compile(text, str(module.__file__), "exec"), vars(module))
    for name, old in before.items():
        new = vars(module)[name]
        if new is old or name.startswith("__"):
            continue
        if getattr(new, "__module__", module.__name__) != module.__name__:
            vars(module)[name] = old  # a test has put something there
        elif isinstance(old, type):
            _class_as(old, new)
            vars(module)[name] = old
        elif isinstance(inner := inspect.unwrap(old) if callable(old) else old, FunctionType):
            _function_as(inner, inspect.unwrap(new))
            vars(module)[name] = old
        elif old != new:
            for other in [m for n, m in sys.modules.items() if n.startswith("pourtally.")]:
                if vars(other).get(name) is old:
                    setattr(other, name, new)


def _function_as(old: FunctionType, new: FunctionType) -> None:
    old.__code__, old.__defaults__ = new.__code__, new.__defaults__
    old.__kwdefaults__ = new.__kwdefaults__


def _class_as(old: type, new: type) -> None:
    for name, value in vars(new).items():
        was = vars(old).get(name)
        if isinstance(value, FunctionType) and "__class__" in value.__code__.co_freevars:
            assert isinstance(was, FunctionType)
            _function_as(was, value)  # super() of it knows the old class
        elif name not in ("__dict__", "__weakref__", "__doc__"):
            setattr(old, name, value)


def beside(place: Path, texts: dict[str, str]) -> Path:
    """Return a folder from which a program of its own takes the rooms, some with other texts."""
    rooms = place / "pourtally"
    shutil.rmtree(place, ignore_errors=True)
    rooms.mkdir(parents=True)
    for one in ROOMS.iterdir():
        if one.name != "__pycache__" and one.stem not in texts:
            (rooms / one.name).symlink_to(one)
    if not (ROOMS / "templates").exists():
        (rooms / "templates").symlink_to(ROOMS.parents[1] / "templates")
    for room, text in texts.items():
        (rooms / f"{room}.py").write_text(text, "utf-8")
    return place


def noting(room: str) -> str:
    """Return the text of a room that notes the first time each statement of a function runs."""
    tree = ast.parse(text_of(room))
    for function in [n for n in ast.walk(tree) if isinstance(n, ast.FunctionDef)]:
        for node in ast.walk(function):
            for part in ("body", "orelse", "finalbody"):
                block = getattr(node, part, None)
                if isinstance(block, list) and not getattr(block[0] if block else None, "noted", 0):
                    setattr(node, part, [new for old in block for new in (_note(old), old)])
    first = next(n for n, one in enumerate(tree.body) if not isinstance(one, ast.Expr)) + 1
    tree.body[first:first] = ast.parse(_NOTED).body
    return ast.unparse(ast.fix_missing_locations(tree))


def _note(statement: ast.stmt) -> ast.stmt:
    note = ast.parse(f"_ran({statement.lineno})").body[0]
    note.noted = True  # type: ignore[attr-defined]
    return note


# Forks --------------------------------------------------------------------------------------


def forked(work: Callable[[], str], seconds: float) -> str | None:
    """Return what a fork of this process answers, or nothing where it does not in that time."""
    ours, theirs = os.pipe()
    child = os.fork()
    if not child:
        os.setsid()
        for number in (1, 2):
            os.dup2(os.open(os.devnull, os.O_WRONLY), number)
        try:
            said = work()
        except BaseException as error:
            said = f"broken: {error!r}"
        rest = said.encode() + b"\0"
        while rest:
            rest = rest[os.write(theirs, rest) :]
        os._exit(0)
    os.close(theirs)
    answer, end = b"", time.monotonic() + seconds
    while not answer.endswith(b"\0"):
        left = end - time.monotonic()
        ready = left > 0 and select.select([ours], [], [], left)[0]
        piece = os.read(ours, 1 << 16) if ready else b""
        if not piece:
            break
        answer += piece
    os.close(ours)
    os.killpg(child, signal.SIGKILL)
    os.waitpid(child, 0)
    return answer[:-1].decode() if answer.endswith(b"\0") else None


def failing(items: list[pytest.Item]) -> str:
    """Run tests until one fails, and return its name, or nothing."""
    for item, after in zip(items, [*items[1:], None], strict=True):
        if any(report.failed for report in runtestprotocol(item, log=False, nextitem=after)):
            return item.nodeid
    return ""


def _worked() -> float:
    """Return the seconds of work of this process and of those it started."""
    return sum(os.times()[:4])


def _too_slow(*_: object) -> None:
    raise TimeoutError


def _lines(file: Path, known: dict[str, list[int]] | None = None) -> dict[str, list[int]]:
    """Return the lines of rooms that a file names, and those that are known already."""
    came = {room: list(lines) for room, lines in (known or {}).items()}
    for line in dict.fromkeys(file.read_text("utf-8").splitlines()):
        room, _, number = line.partition(" ")
        came.setdefault(room, []).append(int(number))
    return came


class _Memory:
    """Workbooks that were built of the same entries before: only writing them is done anew.

    None of the rooms that are changed works out or lays out a workbook.
    """

    def __init__(self, folder: Path) -> None:
        """Stand in the place of what builds."""
        self.folder, self.keeps, self.build = folder, True, build.build
        for room in (build, share):
            vars(room)["build"] = self.built

    def built(self, template: Template, entries: Entries, path: Path, face: Face = PLAIN,
              care: output.Care = output.OVER) -> None:  # fmt: skip
        """Write one workbook, as ``build`` does."""
        usual = next((k for k, t in shop.TEMPLATES.items() if t is template), None)
        if usual is None or face is not PLAIN:
            self.build(template, entries, path, face, care)
            return
        file = self.folder / f"{digest(repr((usual, sorted(entries.items()))))}.made"
        if file.exists():
            output.write_bytes(path, file.read_bytes(), care)
            return
        self.build(template, entries, path, face, care)
        if self.keeps:
            file.write_bytes(path.read_bytes())


# Tests --------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Ran:
    """What a test did when it ran alone: how long it took and which lines it came by."""

    seconds: float
    lines: dict[str, list[int]]


@dataclass(eq=False)
class Bench:
    """All tests of some files, and which of them come by which lines of some rooms."""

    rooms: list[str]
    kept: Path
    work: Callable[[Bench], None]
    items: dict[str, pytest.Item] = field(default_factory=dict)
    ran: dict[str, Ran] = field(default_factory=dict)
    killers: Counter[str] = field(default_factory=Counter)
    sharing: float = 0.0
    """Seconds of work for fixtures that tests share, in one test."""

    def run(self, files: Iterable[str]) -> None:
        """Gather the tests of some files and do the work with them."""
        os.environ["PYTHONDONTWRITEBYTECODE"] = "1"
        places = [str(Path(__file__).parent / name) for name in files]
        pytest.main([*places, "-n", "0", "-p", "no:cacheprovider", "-p", "no:unraisableexception",
                     "-o", "tmp_path_retention_policy=none"], plugins=[self])  # fmt: skip

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        """Do the work in place of running the tests."""
        self.items = {
            item.nodeid: item
            for item in session.items
            if WHOLE.isdisjoint(vars(item).get("fixturenames", ()))
        }
        for units in UNITS:
            assert shop.laid_out(units)
        shop.results("us", {}, size="small")
        for units in UNITS:
            shop.load_copy(units)
        factory: Any = session.config._tmp_path_factory  # type: ignore[attr-defined]
        self._note_all(factory.getbasetemp())
        self.work(self)
        return True

    def _note_all(self, base: Path) -> None:
        """Run each test that is new since the last time, and keep what it came by."""
        now = {room: digest(text_of(room)) for room in self.rooms}
        file, shelf = self.kept / "ran.json", self.kept / "shelf"
        known = json.loads(file.read_text("utf-8")) if file.exists() else {}
        known.setdefault("tests", {})
        other = {room for room in self.rooms if known.get("rooms", {}).get(room) != now[room]}
        known = {"rooms": now, "tests": {name: test for name, test in known["tests"].items()
                                         if not other & test.get("lines", {}).keys()}}  # fmt: skip
        shelf.mkdir(parents=True, exist_ok=True)
        (base / "shelf").symlink_to(shelf)  # built by tests of rooms as they are, and by no other
        memory = _Memory(shelf)
        tests: dict[str, Any] = known["tests"]
        new: dict[Path, list[pytest.Item]] = {}
        sources: dict[str, str] = {}
        for name, item in self.items.items():
            source = digest(inspect.getsource(item.function))  # type: ignore[attr-defined]
            if tests.get(name, {}).get("source") != source:
                sources[name] = source
                new.setdefault(item.path, []).append(item)
        for path, items in new.items():
            print(f"{path.name}: {len(items)} tests are run once", flush=True)
            for name, found in self._noted(items).items():
                tests[name] = {"source": sources[name], **found}
            file.write_text(json.dumps(known), "utf-8")
        memory.keeps = False
        self.ran = {n: Ran(t["seconds"], t["lines"]) for n, t in tests.items()
                    if n in self.items and t.get("seconds", SLOW) < SLOW}  # fmt: skip
        left = sorted(self.items.keys() - self.ran.keys())
        print(f"{len(self.ran)} tests are asked; not those that fail or take over {SLOW} "
              f"seconds: {', '.join(left) or 'none'}", flush=True)  # fmt: skip

    def _noted(self, items: list[pytest.Item]) -> dict[str, Any]:
        """Run tests of a file in a fork; what a fixture that they share comes by is of each."""
        texts = {room: noting(room) for room in self.rooms}
        with tempfile.TemporaryDirectory() as place:
            folder = Path(place)
            shared = folder / "shared"
            for one in (shared, *(folder / str(n) for n in range(len(items)))):
                one.touch()

            def work() -> str:
                os.environ["PYTHONPATH"] = str(beside(folder / "rooms", texts))
                os.environ[_LINES] = str(shared)
                for room, text in texts.items():
                    put(room, text)
                for sign in (signal.SIGVTALRM, signal.SIGALRM):
                    signal.signal(sign, _too_slow)
                seconds = []
                for n, (item, after) in enumerate(zip(items, [*items[1:], None], strict=True)):
                    os.environ[_LINES] = str(folder / str(n))
                    signal.setitimer(signal.ITIMER_VIRTUAL, SLOW)
                    signal.alarm(SLOW * WAITED)
                    begun, self.sharing = _worked(), 0.0
                    try:
                        wrong = any(r.failed for r in runtestprotocol(item, False, after))
                    except BaseException:  # time was up in no test but in what runs it
                        wrong = True
                    signal.setitimer(signal.ITIMER_VIRTUAL, 0)
                    signal.alarm(0)
                    if wrong:
                        item.session._setupstate.teardown_exact(None)
                    seconds.append(SLOW if wrong else _worked() - begun - self.sharing)
                return json.dumps(seconds)

            said = forked(work, SLOW * WAITED * len(items)) or "[]"
            assert said.startswith("["), said
            every = _lines(shared)
            return {
                item.nodeid: {"seconds": took, "lines": _lines(folder / str(n), every)}
                for n, (item, took) in enumerate(zip(items, json.loads(said), strict=False))
            }

    @pytest.hookimpl(wrapper=True)
    def pytest_fixture_setup(self, fixturedef: Any) -> Iterator[Any]:
        """Note what a fixture comes by as of all tests where they share it."""
        before = os.environ.get(_LINES)
        if not before or fixturedef.scope == "function" or before.endswith("shared"):
            return (yield)
        os.environ[_LINES] = str(Path(before).with_name("shared"))
        left, begun = signal.setitimer(signal.ITIMER_VIRTUAL, 0)[0], _worked()
        try:
            return (yield)
        finally:
            self.sharing += _worked() - begun
            signal.setitimer(signal.ITIMER_VIRTUAL, left)
            os.environ[_LINES] = before

    def asked(self, room: str, lines: Iterable[int]) -> list[str]:
        """Return the tests that come by some lines of a room, the quickest first, as time allows.

        Those that noticed changes before come earlier.
        """
        wanted, taken, seconds = set(lines), [], 0.0
        every = [n for n, ran in self.ran.items() if wanted & set(ran.lines.get(room, []))]
        for name in sorted(every, key=lambda n: self.ran[n].seconds / (1 + self.killers[n])):
            seconds += self.ran[name].seconds
            if seconds <= LONGEST:
                taken.append(name)
        return taken

    def noticed(self, room: str, text: str, names: list[str]) -> str:
        """Return the first of some tests that fails with a text in the place of a room."""
        if not names:
            return ""
        with tempfile.TemporaryDirectory() as place:

            def work() -> str:
                os.environ["PYTHONPATH"] = str(beside(Path(place, "a"), {room: text}))
                put(room, text)
                return failing([self.items[name] for name in names])

            said = forked(work, WAITED * (5 + sum(self.ran[name].seconds for name in names)))
        if said:
            self.killers[said] += 1
        return "time" if said is None else said
