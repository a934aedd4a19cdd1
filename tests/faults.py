"""Programs that are killed, stopped and starved in the middle of their work.

``python tests/faults.py`` kills, starves and crowds the real program, many times, and prints a
table: what was done, how often, what came of it.  ``--times N`` says how often one is killed.
"""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import tempfile
import time
import zipfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

PROGRAM = [sys.executable, "-c", "from pourtally.cli import main; main()"]
JOB = '[job]\nname = "Pad"\n[[pieces]]\nshape = "Rectangle"\na = 12\nb = 20\n'
_WRITES = """
import sys
from pathlib import Path
from pourtally.output import write_bytes
print("ready", flush=True)
while True:
    for letter in b"ab":
        write_bytes(Path(sys.argv[1]), bytes([letter]) * 3_000_000)
"""


def start(*words: str | Path, env: dict[str, str] | None = None) -> subprocess.Popen[bytes]:
    """Start the program."""
    return subprocess.Popen([*PROGRAM, *map(str, words)], stdout=subprocess.PIPE,
                            stderr=subprocess.PIPE, env=env)  # fmt: skip


def run(*words: str | Path, env: dict[str, str] | None = None) -> tuple[int, str]:
    """Run the program to its end, and return its code and what it told."""
    program = start(*words, env=env)
    _, told = program.communicate()
    return program.returncode, told.decode("utf-8", "replace")


def writer(path: Path) -> subprocess.Popen[bytes]:
    """Start what writes a file over and over, now all a and now all b."""
    program = subprocess.Popen([sys.executable, "-c", _WRITES, path], stdout=subprocess.PIPE)
    assert program.stdout
    program.stdout.readline()
    return program


def killed(program: subprocess.Popen[bytes], after: float, sign: int = signal.SIGKILL) -> None:
    """Kill a program after some seconds."""
    time.sleep(after)
    program.send_signal(sign)
    program.communicate()


def leftovers(folder: Path) -> list[str]:
    """Return the files that no name was given to."""
    return sorted(p.name for p in folder.iterdir() if p.name.startswith("."))


@contextmanager
def small_disk(place: Path, size: str) -> Iterator[bool]:
    """Put a disk of a size at a folder, where that may be done; tell whether it was."""
    place.mkdir(exist_ok=True)
    words = ["mount", "-t", "tmpfs", "-o", f"size={size}", "tmpfs", str(place)]
    try:
        mounted = subprocess.run(words, capture_output=True, check=False).returncode == 0
    except FileNotFoundError:
        mounted = False
    try:
        yield mounted
    finally:
        if mounted:
            subprocess.run(["umount", "-l", str(place)], check=True)


def _kills_of_a_writer(folder: Path, times: int) -> str:
    path, left, broken = folder / "a.bin", 0, 0
    for _ in range(times):
        killed(writer(path), random.random() / 20)
        left += len(leftovers(folder))
        broken += path.exists() and path.read_bytes() not in (b"a" * 3_000_000, b"b" * 3_000_000)
    last = writer(path)
    killed(last, 0.5, signal.SIGINT)
    return (f"{broken} files broken; {left} leftovers seen, {len(leftovers(folder))} after the "
            "next run")  # fmt: skip


def _kills_of_a_build(folder: Path, times: int) -> str:
    job = folder / "pad.toml"
    job.write_text(JOB, "utf-8")
    target, broken, done = folder / "pad.xlsx", 0, 0
    begun = time.perf_counter()
    assert run("build", job, "--size", "small", "-o", target)[0] == 0
    whole = time.perf_counter() - begun
    for _ in range(times):
        program = start("build", job, "--size", "small", "-o", target, "--replace")
        killed(program, random.uniform(0.3, 1.05) * whole)
        done += program.returncode == 0
        broken += zipfile.ZipFile(target).testzip() is not None
    assert run("build", job, "--size", "small", "-o", target, "--replace")[0] == 0
    return (f"{broken} workbooks broken, {done} were done before; {len(leftovers(folder))} "
            "leftovers after the next run")  # fmt: skip


def _stops(folder: Path, times: int) -> str:
    said = 0
    for _ in range(times):
        program = start("build", "--size", "small", "-o", folder / "a.xlsx", "--replace")
        time.sleep(random.uniform(1, 3))
        program.send_signal(signal.SIGINT)
        _, told = program.communicate()
        whole = program.returncode == 0
        said += whole or (program.returncode == 130 and told.startswith(b"Stopped by Ctrl-C"))
    return f"{said} of {times} said so in one sentence and gave 130, or were done"


def _two_at_once(folder: Path, times: int) -> str:
    codes = []
    for number in range(times):
        both = [start("build", "--size", "small", "-o", folder / f"{number}.xlsx")
                for _ in range(2)]  # fmt: skip
        told = [program.communicate()[1] for program in both]
        assert not any(b"Traceback" in one for one in told)
        codes.append(sorted(program.returncode for program in both))
        assert zipfile.ZipFile(folder / f"{number}.xlsx").testzip() is None
    return f"{codes.count([0, 2])} times one said no, {len(codes) - codes.count([0, 2])} times else"


def _full_disk(folder: Path, times: int) -> str:
    told = []
    with small_disk(folder / "small", "400k") as mounted:
        if not mounted:
            return "no disk could be mounted here"
        for words in [("build", "--size", "small", "-o"), ("new",)][:times]:
            ending = ".xlsx" if words[0] == "build" else ".toml"
            if words[0] == "new":
                (folder / "small" / "fill").write_bytes(bytes(398 * 1024))
            told.append(run(*words, folder / "small" / f"a{ending}",
                            env={**os.environ, "TMPDIR": str(folder / "small")}))  # fmt: skip
        left = leftovers(folder / "small")
    return f"{[(code, said.rpartition('/')[2].strip()) for code, said in told]}, left: {left}"


def _odd_surroundings(folder: Path, _: int) -> str:
    made = set()
    for name, value in (("LC_ALL", "C"), ("LC_ALL", "tr_TR.UTF-8"), ("LC_ALL", "POSIX"),
                        ("TZ", "Pacific/Kiritimati"), ("TZ", "America/St_Johns"),
                        ("PYTHONUTF8", "0")):  # fmt: skip
        code, told = run("build", "--size", "small", "-o", folder / "o.xlsx", "--replace",
                         env={**os.environ, name: value})  # fmt: skip
        made.add((code, told, (folder / "o.xlsx").read_bytes()))
    return f"{len(made)} different outcomes of 6 (1 is wanted), codes {sorted(m[0] for m in made)}"


def _ends_of_pipes(folder: Path, _: int) -> str:
    target = folder / "p.xlsx"
    run("build", "--size", "small", "-o", target)
    line = " ".join(f"'{word}'" for word in PROGRAM)
    shell = f"{line} values {target} --all {{}}"
    told = [subprocess.run(["bash", "-c", shell.format(end)], capture_output=True, text=True,
                           check=False) for end in ("| head -1", "> /dev/full")]  # fmt: skip
    return "; ".join(f"{one.returncode}: {one.stderr.strip() or 'nothing said'}" for one in told)


TRIED: dict[str, Callable[[Path, int], str]] = {
    "killed while it writes, over and over": _kills_of_a_writer,
    "a build killed at any moment": _kills_of_a_build,
    "Ctrl-C at any moment": _stops,
    "two builds of one file at once": _two_at_once,
    "a full disk, also for what is temporary": _full_disk,
    "other languages and time zones": _odd_surroundings,
    "head -1, and a full output": _ends_of_pipes,
}


if __name__ == "__main__":
    count = int(sys.argv[sys.argv.index("--times") + 1]) if "--times" in sys.argv else 24
    for what, tried in TRIED.items():
        with tempfile.TemporaryDirectory() as place:
            print(f"{what:<40} {count:3}  {tried(Path(place), count)}", flush=True)
