"""Files are written whole or not at all, whatever happens, and nobody reads more than before.

``tests/faults.py`` does the same to whole builds, many more times.
"""

from __future__ import annotations

import errno
import os
import random
import signal
import stat
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from click.testing import CliRunner

from faults import killed, leftovers, small_disk, writer
from pourtally import output
from pourtally.cli import main
from pourtally.output import Care, UseError, write_bytes

unix = pytest.mark.skipif(os.name != "posix", reason="of Unix")


def mode(path: Path) -> int:
    return stat.S_IMODE(path.stat().st_mode)


@pytest.fixture
def umask() -> Iterator[Callable[[int], int]]:
    """Hand out what sets the umask; it is as before when the test has ended."""
    before = os.umask(0o022)
    yield os.umask
    os.umask(before)


@unix
def test_a_program_killed_while_it_writes_breaks_nothing_and_the_next_sweeps_up(
    tmp_path: Path,
) -> None:
    path = tmp_path / "a.bin"
    wholes = [bytes([letter]) * 3_000_000 for letter in b"ab"]
    for _ in range(16):
        killed(writer(path), random.random() / 30)
        assert not path.exists() or path.read_bytes() in wholes
    assert len(leftovers(tmp_path)) <= 1  # each took away what the one before had left
    write_bytes(path, b"c")
    assert (path.read_bytes(), leftovers(tmp_path)) == (b"c", [])


@unix
def test_what_a_living_program_writes_and_what_others_left_is_not_swept(tmp_path: Path) -> None:
    name = f"{output._PREFIX}0123456789abcdef.part"
    held = "import fcntl, sys, time; f = open(sys.argv[1], 'w'); fcntl.flock(f, fcntl.LOCK_EX); "
    alive = subprocess.Popen([sys.executable, "-c", f"{held}print('ready', flush=True); "
                              "time.sleep(60)", str(tmp_path / name)],
                             stdout=subprocess.PIPE)  # fmt: skip
    assert alive.stdout
    alive.stdout.readline()
    others = [".pourtally-00000000-0123456789abcdef.part", ".part-abc.xlsx", ".notes"]
    for other in others:  # of another machine, of nobody we know
        (tmp_path / other).touch()
    write_bytes(tmp_path / "a", b"")
    assert leftovers(tmp_path) == sorted([name, *others])
    killed(alive, 0)
    write_bytes(tmp_path / "a", b"")
    assert leftovers(tmp_path) == sorted(others)


def test_of_twenty_that_write_one_file_at_once_one_does(tmp_path: Path) -> None:
    told: list[str] = []

    def write(letter: int) -> None:
        try:
            write_bytes(tmp_path / "a", bytes([letter]) * 100_000, Care(replace=False))
            told.append("written")
        except UseError as error:
            told.append(str(error))

    writers = [threading.Thread(target=write, args=(n,)) for n in range(20)]
    for one in writers:
        one.start()
    for one in writers:
        one.join()
    assert told.count("written") == 1
    assert sum("written by another program meanwhile" in said for said in told) == 19
    assert len(set((tmp_path / "a").read_bytes())) == 1
    assert leftovers(tmp_path) == []


def test_a_disk_that_gives_a_file_one_name_only_is_written_to_all_the_same(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def link(*_: object) -> None:
        raise OSError(errno.EPERM, os.strerror(errno.EPERM))

    monkeypatch.setattr(os, "link", link)
    write_bytes(tmp_path / "a", b"1", Care(replace=False))
    with pytest.raises(UseError, match="left as it is"):
        write_bytes(tmp_path / "a", b"2", Care(replace=False))
    assert ((tmp_path / "a").read_bytes(), leftovers(tmp_path)) == (b"1", [])


@unix
def test_a_link_stays_and_what_it_leads_to_is_written(tmp_path: Path) -> None:
    (tmp_path / "far").mkdir()
    (tmp_path / "link").symlink_to(tmp_path / "far" / "a")
    write_bytes(tmp_path / "link", b"1", Care(replace=False))
    write_bytes(tmp_path / "link", b"2")
    assert (tmp_path / "link").is_symlink()
    assert (tmp_path / "far" / "a").read_bytes() == b"2"
    (tmp_path / "round").symlink_to(tmp_path / "round")
    with pytest.raises(UseError, match="leads back to itself"):
        write_bytes(tmp_path / "round", b"")


@unix
def test_a_new_file_goes_by_the_umask_and_a_replaced_one_keeps_its_mode(
    tmp_path: Path, umask: Callable[[int], int]
) -> None:
    path = tmp_path / "a"
    for mask, wanted in ((0o022, 0o644), (0o077, 0o600), (0o002, 0o664)):
        umask(mask)
        path.unlink(missing_ok=True)
        write_bytes(path, b"")
        assert mode(path) == wanted
    for kept in (0o600, 0o640, 0o666):
        path.chmod(kept)
        write_bytes(path, b"")
        assert mode(path) == kept


@unix
@pytest.mark.usefixtures("umask")
def test_nobody_reads_what_is_made_of_a_file_that_is_closed_to_them(tmp_path: Path) -> None:
    source, other, path = (tmp_path / name for name in ("source", "other", "a"))
    for one, bits in ((source, 0o640), (other, 0o604), (path, 0o666)):
        one.touch()
        one.chmod(bits)
    write_bytes(path, b"", Care(sources=(source,)))
    assert mode(path) == 0o640
    path.unlink()
    write_bytes(path, b"", Care(sources=(source, other)))
    assert mode(path) == 0o600


@unix
@pytest.mark.usefixtures("umask")
def test_each_command_keeps_a_closed_workbook_closed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)

    def run(*words: str) -> None:
        done = CliRunner().invoke(main, words)
        assert done.exit_code == 0, done.stderr

    Path("job.toml").write_text('[job]\nname = "Pad"\n', "utf-8")
    run("build", "job.toml", "--size", "small", "-o", "job.xlsx")
    assert mode(Path("job.xlsx")) == 0o644
    Path("job.xlsx").chmod(0o600)
    run("build", "job.toml", "--size", "small", "-o", "job.xlsx", "--replace")
    run("figures", "job.xlsx", "--save", "ours.csv")
    run("figures", "job.xlsx", "--load", "ours.csv", "-o", "loaded.xlsx")
    run("books", "job.xlsx", "-o", "books")
    run("build", "job.toml", "--size", "small", "--figures", "ours.csv", "-o", "built.xlsx")
    made = [Path(name) for name in ("job.xlsx", "ours.csv", "loaded.xlsx", "built.xlsx")]
    made += Path("books").iterdir()
    assert len(made) > 6
    assert {str(path): oct(mode(path)) for path in made if mode(path) != 0o600} == {}


FILES_OPEN = Path("/proc/self/fd")


def refused(use: Callable[[], object]) -> str:
    """Return why something that was asked for cannot be done."""
    with pytest.raises(UseError) as told:
        use()
    return str(told.value)


def test_where_workbooks_go_is_a_folder_or_one_name_that_ends_so(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    here = Path("here.v2")
    here.mkdir()
    (here / "a.xlsx").touch()
    assert output.targets(["a", "b"], None, False) == [Path("output/a.xlsx"), Path("output/b.xlsx")]
    assert output.targets(["a"], "new", False) == [Path("new/a.xlsx")]
    assert output.targets(["b"], str(here), False) == [here / "b.xlsx"]
    assert output.targets(["a"], "one.XLSX", False) == [Path("one.XLSX")]
    assert output.targets(["a"], str(here), True) == [here / "a.xlsx"]
    told = refused(lambda: output.targets(["a", "b"], str(here), False))
    assert told.startswith(f"{here / 'a.xlsx'}: there already, nothing was written")
    assert "name ends in .xlsx" in refused(lambda: output.targets(["a"], "one.xls", False))
    assert "2 jobs do not fit" in refused(lambda: output.targets(["a", "b"], "one.xlsx", True))
    assert "two jobs would be written" in refused(lambda: output.targets(["a", "A"], None, True))
    (tmp_path / "plain").touch()
    assert "expected a folder" in refused(lambda: output.targets(["a"], "plain", True))


def test_a_folder_of_that_name_is_never_written_over(tmp_path: Path) -> None:
    (tmp_path / "a.csv").mkdir()
    assert "there already" in refused(lambda: output.free([tmp_path / "a.csv"], True))
    assert "expected a file whose name ends in .csv" in refused(
        lambda: output.with_suffix(tmp_path / "a.csv", ".csv")
    )
    (tmp_path / "b.CSV").touch()
    assert output.with_suffix(tmp_path / "b.CSV", ".csv") == tmp_path / "b.CSV"
    output.free([tmp_path / "b.CSV", tmp_path / "c.csv"], True)


@unix
def test_a_device_and_a_pipe_are_said_to_be_no_file_by_each_way_to_name_one(
    tmp_path: Path,
) -> None:
    pipe = tmp_path / "pipe.csv"
    os.mkfifo(pipe)
    for use in (
        lambda: output.with_suffix(pipe, ".csv"),
        lambda: output.targets(["a"], str(pipe), True),
        lambda: write_bytes(pipe, b"1"),
    ):
        assert "no file and no folder, but a device or a pipe" in refused(use)


def test_a_folder_is_made_where_there_is_none_and_a_file_in_its_place_is_told(
    tmp_path: Path,
) -> None:
    write_bytes(tmp_path / "a" / "b" / "c", b"1")
    write_bytes(tmp_path / "a" / "b" / "d", b"2")
    assert (tmp_path / "a" / "b" / "c").read_bytes() == b"1"
    said = f"{tmp_path / 'a' / 'b' / 'c'}: a file is where a folder is needed"
    assert refused(lambda: write_bytes(tmp_path / "a" / "b" / "c" / "d", b"2")).startswith(said)


def test_whatever_stops_a_write_no_part_of_it_is_left_and_the_error_names_the_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def failing(error: BaseException) -> Callable[..., None]:
        def fail(*_: object, **__: object) -> None:
            raise error

        return fail

    opened = len(list(FILES_OPEN.iterdir())) if FILES_OPEN.exists() else 0
    for name in ("fsync", "replace", "chmod"):
        for error in (OSError(errno.EIO, "I/O error"), OSError("odd"), KeyboardInterrupt()):
            monkeypatch.setattr(os, name, failing(error))
            with pytest.raises(type(error)) as told:
                write_bytes(tmp_path / "a", b"1")
            monkeypatch.undo()
            assert leftovers(tmp_path) == []
            if isinstance(told.value, OSError):
                assert told.value.filename == str(tmp_path / "a")
                assert told.value.strerror in ("I/O error", "odd")
    if opened:
        assert len(list(FILES_OPEN.iterdir())) == opened  # each was closed again


@unix
def test_a_file_stays_whose_it_was_where_that_may_be_done(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    given: list[tuple[int, int]] = []
    monkeypatch.setattr(os, "chown", lambda _, user, group: given.append((user, group)))
    write_bytes(tmp_path / "a", b"1")
    assert given == []
    write_bytes(tmp_path / "a", b"2")
    there = (tmp_path / "a").stat()
    assert given == [(there.st_uid, there.st_gid)]


@unix
def test_a_part_that_was_swept_before_it_was_locked_is_begun_anew(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    import fcntl  # noqa: PLC0415  Windows has none

    lock = fcntl.flock
    swept: list[Path] = []

    def late(handle: int, how: int) -> None:
        if not swept:
            swept.append(next(tmp_path.glob(".pourtally-*")))
            swept[0].unlink()
        lock(handle, how)

    monkeypatch.setattr(fcntl, "flock", late)
    write_bytes(tmp_path / "a", b"1")
    assert ((tmp_path / "a").read_bytes(), leftovers(tmp_path)) == (b"1", [])


@unix
def test_where_locks_are_not_known_a_file_is_written_all_the_same(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    import fcntl  # noqa: PLC0415  Windows has none

    def none(*_: object) -> None:
        raise OSError(errno.ENOLCK, "No locks available")

    monkeypatch.setattr(fcntl, "flock", none)
    write_bytes(tmp_path / "a", b"1")
    assert ((tmp_path / "a").read_bytes(), leftovers(tmp_path)) == (b"1", [])


def test_where_an_open_file_has_no_second_name_it_is_closed_before_it_gets_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    left = tmp_path / f"{output._PREFIX}0123456789abcdef.part"
    left.touch()
    monkeypatch.setattr(output, "fcntl", None)
    closed: list[int] = []
    close, replace = os.close, os.replace

    def move(part: Path, goal: Path) -> None:
        assert len(closed) == 1
        replace(part, goal)

    def shut(handle: int) -> None:
        closed.append(handle)
        close(handle)

    monkeypatch.setattr(os, "close", shut)
    monkeypatch.setattr(os, "replace", move)
    write_bytes(tmp_path / "a", b"1")
    assert ((tmp_path / "a").read_bytes(), left.exists()) == (b"1", True)


@unix
def test_a_leftover_that_is_a_link_or_no_file_is_not_swept(tmp_path: Path) -> None:
    (tmp_path / "mine").write_bytes(b"1")
    link, folder, gone = (tmp_path / f"{output._PREFIX}{n}.part" for n in "abc")
    link.symlink_to(tmp_path / "mine")
    folder.mkdir()
    gone.touch()
    write_bytes(tmp_path / "a", b"1")
    assert (link.is_symlink(), folder.is_dir(), gone.exists()) == (True, True, False)


@pytest.mark.parametrize("words", [("build", "-o"), ("figures", "a.xlsx", "--save"), ("new",)])
@unix
def test_a_device_is_no_file_to_write(words: tuple[str, ...]) -> None:
    done = CliRunner().invoke(main, [*words, "/dev/null"])
    assert (done.exit_code, done.stdout, done.stderr.count("\n")) == (2, "", 1)
    assert "ends in .toml" in done.stderr or "a device or a pipe" in done.stderr


@unix
def test_a_full_disk_is_one_sentence_and_leaves_nothing(tmp_path: Path) -> None:
    with small_disk(tmp_path / "disk", "64k") as mounted:
        if not mounted:
            pytest.skip("no disk can be mounted here; test_many bounds the size of files instead")
        with pytest.raises(OSError, match=r"No space left on device: '.*a\.bin'"):
            write_bytes(tmp_path / "disk" / "a.bin", bytes(100_000))
        assert list((tmp_path / "disk").iterdir()) == []


@unix
def test_what_is_stopped_by_ctrl_c_says_so_in_one_sentence(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    def stopped(*_: object) -> None:
        os.kill(os.getpid(), signal.SIGINT)
        time.sleep(5)

    monkeypatch.setattr(os, "fsync", stopped)
    # a shell that runs the tests behind itself lets them ignore it
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    try:
        done = CliRunner().invoke(main, ["new", str(tmp_path / "a.toml")])
    finally:
        signal.signal(signal.SIGINT, before)
    assert (done.exit_code, done.stdout, done.stderr.count("\n")) == (130, "", 1)
    assert done.stderr.startswith("Stopped by Ctrl-C")
    assert list(tmp_path.iterdir()) == []


@unix
@pytest.mark.parametrize(
    ("end", "code", "said"),
    [("| head -1", 141, ""),
     ("> /dev/full", 2, "what was to be printed: No space left on device\n")],
)  # fmt: skip
def test_a_reader_that_leaves_and_an_output_that_is_full(
    end: str, code: int, said: str, tmp_path: Path
) -> None:
    # a command of many lines and little work
    lines = (
        "import click; from pourtally.telling import Commands\n"
        "@click.group(cls=Commands)\ndef main(): pass\n"
        "@main.command()\ndef many():\n    for n in range(50_000): click.echo('a line of words')\n"
        "main()\n"
    )
    (tmp_path / "many.py").write_text(lines, "utf-8")
    shell = f"set -o pipefail; '{sys.executable}' '{tmp_path / 'many.py'}' many {end} > /dev/null"
    if "full" in end:
        shell = shell.removesuffix(" > /dev/null")
    done = subprocess.run(["bash", "-c", shell], capture_output=True, text=True, check=False)
    assert (done.returncode, done.stderr) == (code, said)
