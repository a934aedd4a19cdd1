"""Many jobs in one call: on all cores, the same as one by one, and each slip named."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
import time
import zipfile
from collections.abc import Iterator
from pathlib import Path

import pytest
from click.testing import CliRunner

from pourtally import many
from pourtally.cli import main

pytestmark = pytest.mark.xdist_group("many")  # its workbooks are made once

JOB = """
[job]
name = "Job {0}"
[[pieces]]
shape = "Rectangle"
a = {0}
b = 20
"""
PARALLEL = "from pourtally import many; many._cores = lambda: 2; from pourtally.cli import main; "


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Work in an empty folder, on a machine of two cores."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(many, "_cores", lambda: 2)
    return tmp_path


def jobs(count: int) -> list[str]:
    for number in range(1, count + 1):
        Path(f"{number}.toml").write_text(JOB.format(number), "utf-8")
    return [f"{number}.toml" for number in range(1, count + 1)]


def written() -> list[str]:
    return sorted(path.name for path in Path("output").glob("*"))


@pytest.fixture
def started() -> Iterator[list[subprocess.Popen[bytes]]]:
    """Hand out a list for programs, all of which have ended when the test has."""
    programs: list[subprocess.Popen[bytes]] = []
    yield programs
    for program in programs:
        if program.poll() is None:
            os.killpg(program.pid, signal.SIGKILL)
        program.communicate()


def test_a_bad_job_is_left_out_and_named_and_the_rest_are_the_same_as_one_by_one() -> None:
    names = jobs(5)
    Path("bad.toml").write_text("[usual]\nthicknes = 5\nslope = 'steep'\n", "utf-8")
    result = CliRunner().invoke(main, ["build", *names[:2], "bad.toml", *names[2:], "--skip-bad"])
    assert result.exit_code == 1
    assert result.stdout.splitlines() == [f"Wrote output/{n}.xlsx" for n in range(1, 6)]
    told = result.stderr.splitlines()
    assert told[0] == "bad.toml: usual: unknown key 'thicknes'; did you mean 'thickness'?"
    assert told[1].startswith("bad.toml: usual.slope: came 'steep'; expected a number")
    assert told[-1] == "1 of 6 job files left out; the others were built"
    for name in ("2", "5"):
        alone = CliRunner().invoke(main, ["build", f"{name}.toml", "-o", "alone.xlsx", "--replace"])
        assert alone.exit_code == 0
        assert Path("alone.xlsx").read_bytes() == Path(f"output/{name}.xlsx").read_bytes()


def test_nothing_is_written_where_every_job_is_bad() -> None:
    Path("bad.toml").write_text("[usual]\nthicknes = 5\n", "utf-8")
    result = CliRunner().invoke(main, ["build", "bad.toml", "lost.toml", "--skip-bad"])
    assert (result.exit_code, result.stdout, written()) == (1, "", [])
    assert result.stderr.endswith("2 problems found; nothing was written\n")


def test_few_jobs_are_built_in_one_process(monkeypatch: pytest.MonkeyPatch) -> None:
    def none(*_: object) -> None:
        raise AssertionError("a second process for three jobs")

    monkeypatch.setattr(many, "_shared", none)
    assert CliRunner().invoke(main, ["build", *jobs(3), "--quiet"]).exit_code == 0
    assert written() == ["1.xlsx", "2.xlsx", "3.xlsx"]


def test_a_disk_that_takes_no_more_is_told_with_the_name_of_the_file(folder: Path) -> None:
    # no file may grow over 50 KB, so the first workbook fails in whatever process builds it
    (folder / "temporary").mkdir()
    script = "import resource; resource.setrlimit(resource.RLIMIT_FSIZE, (50_000, 50_000)); "
    done = subprocess.run(
        [sys.executable, "-c", f"{script}{PARALLEL}main()", "build", *jobs(4)],
        capture_output=True, text=True, check=False,
        env={**os.environ, "TMPDIR": str(folder / "temporary")},
    )  # fmt: skip
    assert (done.returncode, done.stdout) == (2, "")
    assert re.fullmatch(r"output/[12]\.xlsx: File too large", done.stderr.splitlines()[-1])
    assert "Traceback" not in done.stderr
    assert written() == []
    assert list((folder / "temporary").iterdir()) == []


def test_ctrl_c_ends_all_processes_and_leaves_whole_workbooks_only(
    started: list[subprocess.Popen[bytes]],
) -> None:
    names = jobs(12)
    # what a shell runs behind it does not hear Ctrl-C, and hands that on
    hears = "import signal; signal.signal(signal.SIGINT, signal.default_int_handler); "
    program = subprocess.Popen(
        [sys.executable, "-c", f"{hears}{PARALLEL}main()", "build", *names],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, start_new_session=True,
    )  # fmt: skip
    started.append(program)
    while program.poll() is None and not list(Path("output").glob("[0-9]*.xlsx")):
        time.sleep(0.05)
    os.killpg(program.pid, signal.SIGINT)  # as a terminal does: to each of the processes
    _, told = program.communicate()  # comes to its end only when all of them have
    assert program.returncode == 130
    assert told.decode().splitlines()[-1].startswith("Stopped by Ctrl-C: ")
    assert b"Traceback" not in told
    assert 1 <= len(written()) < len(names)
    assert all(name.endswith(".xlsx") and not name.startswith(".") for name in written())
    assert [name for name in written() if zipfile.ZipFile(f"output/{name}").testzip()] == []


@pytest.mark.parametrize("late", ["context.SpawnProcess.start", "util.spawnv_passfds", ""])
def test_a_process_that_is_killed_is_told_in_one_sentence(
    started: list[subprocess.Popen[bytes]], late: str
) -> None:
    # the second process starts, or is on its way, when the first is gone: so it may be on a
    # busy machine
    script = (
        "import multiprocessing, os, signal, threading, time\n"
        "import multiprocessing.context, multiprocessing.util\n"
        "def kill():\n"
        "    while not multiprocessing.active_children(): pass\n"
        "    os.kill(multiprocessing.active_children()[0].pid, signal.SIGKILL)\n"
        "threading.Thread(target=kill, daemon=True).start()\n"
    )
    if late:
        script += (
            f"def start(*a, late=multiprocessing.{late}):\n"
            "    if multiprocessing.active_children(): time.sleep(1)\n"
            "    return late(*a)\n"
            f"multiprocessing.{late} = start\n"
        )
    done = subprocess.run(
        [sys.executable, "-c", f"{script}{PARALLEL}main()", "build", *jobs(4)],
        capture_output=True, text=True, check=False, timeout=60,
    )  # fmt: skip
    assert done.returncode == 2
    assert "perhaps for want of memory" in done.stderr.splitlines()[-1]
    assert "Traceback" not in done.stderr
