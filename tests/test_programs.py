"""Where LibreOffice or Poppler is missing, tests that need it say so; on CI they fail."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

import programs

ONE = "tests/test_engines.py::test_every_engine_can_disagree"


def run_without(tmp_path: Path, **more: str) -> str:
    """Return what a run of one test prints where no program is on the path."""
    env = {k: v for k, v in os.environ.items() if k != "CI" and not k.startswith("PYTEST")}
    command = [sys.executable, "-m", "pytest", "-n", "0", "-p", "no:cacheprovider", ONE]
    done = subprocess.run(
        command, cwd=Path(__file__).parent.parent, env={**env, "PATH": str(tmp_path), **more},
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert "Traceback" not in done.stdout + done.stderr
    return done.stdout


def test_without_libreoffice_a_test_is_left_out_and_the_last_lines_say_so(tmp_path: Path) -> None:
    *_, told, last = run_without(tmp_path).splitlines()
    assert told == f"Tests left out: 1. {programs.MISSING['soffice']}"
    assert last.startswith("1 skipped")


def test_on_ci_nothing_is_left_out(tmp_path: Path) -> None:
    said = run_without(tmp_path, CI="1")
    assert programs.MISSING["soffice"] in said
    assert "1 failed" in said.splitlines()[-1]


@pytest.mark.parametrize("name", programs.NEEDED)
def test_each_program_names_its_package(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("PATH", str(tmp_path))
    monkeypatch.delenv("CI", raising=False)
    with pytest.raises(pytest.skip.Exception, match=programs.NEEDED[name][1]):
        programs.program(name)
    monkeypatch.setenv("CI", "1")
    with pytest.raises(pytest.fail.Exception, match=programs.NEEDED[name][1]):
        programs.program(name)
