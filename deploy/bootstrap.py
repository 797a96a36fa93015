"""The project's own environment: .venv, holding exactly what a hash-locked list names.

Standard library only, and nothing of one system alone: this runs before anything is installed.
"""

from __future__ import annotations

import hashlib
import importlib.util
import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Sequence
from pathlib import Path

from deploy.console import CannotStart, passing, say, wipe

PROJECT = Path(__file__).resolve().parents[1]
VENV = PROJECT / ".venv"
STAMP = VENV / "installed.json"
VENV_MISSING = (
    "This Python cannot make a virtual environment. On Debian and Ubuntu:\n"
    "  apt install python3-venv\n"
    "Elsewhere install a complete Python (with venv and ensurepip), then start again."
)
INSTALL_FAILED = (
    "The packages in {lock} could not be installed:\n\n{tail}\n\n"
    "Is this machine on the network? Behind a mirror, set PIP_INDEX_URL. Then start again: it goes "
    "on where it stopped."
)


def environment(lock: str) -> Path:
    """The Python of .venv with everything in deploy/`lock` installed; made or mended first.

    Cheap when nothing changed: one look at a stamp. Raises CannotStart.
    """
    path = PROJECT / "deploy" / lock
    wanted = hashlib.sha256(path.read_bytes()).hexdigest()
    if not _usable(venv_python()):
        _make()
    if _installed().get(lock) != wanted:
        _install(path)
        STAMP.write_text(json.dumps({**_installed(), lock: wanted}), encoding="utf-8")
    say("environment", "ready")
    return venv_python()


def venv_python() -> Path:
    return VENV / "Scripts" / "python.exe" if os.name == "nt" else VENV / "bin" / "python"


def venv_is_possible() -> bool:
    return all(importlib.util.find_spec(name) for name in ("venv", "ensurepip"))


def run(command: Sequence[str | Path], *, env: dict[str, str] | None = None) -> int:
    """Run until it ends, passing on a request to stop; its exit code.

    The child starts deaf to Ctrl-C and listens once it can end cleanly; until then it is ended
    from here, so that nobody is shown the middle of an import.
    """
    hears = signal.signal(signal.SIGINT, signal.SIG_IGN)
    child = subprocess.Popen(command, cwd=PROJECT, env={**os.environ, **(env or {})})
    signal.signal(signal.SIGTERM, lambda *_: child.terminate())
    signal.signal(signal.SIGINT, hears)
    while True:
        try:
            code = child.wait()
            return code if code >= 0 else 128 - code
        except KeyboardInterrupt:
            # On Windows this would be an abrupt end, and the child has the Ctrl-C already.
            if os.name != "nt":
                child.terminate()


def _usable(python: Path) -> bool:
    """Whether .venv stands on a Python that is still there and still the one it was made with."""
    probe = "import importlib.util as u, sys; sys.exit(u.find_spec('pip') is None)"
    try:
        return subprocess.run([python, "-c", probe], check=False).returncode == 0
    except OSError:
        return False


def _make() -> None:
    if not venv_is_possible():
        raise CannotStart(VENV_MISSING)
    say("environment", f"making {VENV}")
    made = subprocess.run(
        [sys.executable, "-m", "venv", "--clear", VENV],
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        check=False,
    )
    if made.returncode:
        words = VENV_MISSING if "ensurepip" in made.stdout else made.stdout.strip()
        raise CannotStart(f"{VENV} could not be made.\n{words}")


def _installed() -> dict[str, str]:
    try:
        stamp: dict[str, str] = json.loads(STAMP.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    return stamp


def _install(lock: Path) -> None:
    say("environment", f"installing what {lock.name} lists, about a minute")
    began = time.monotonic()
    pip = [str(venv_python()), "-m", "pip", "--disable-pip-version-check", "--no-input"]
    how = ["--no-compile", "--require-hashes", "--progress-bar", "off"]
    lines: list[str] = []
    with subprocess.Popen(
        [*pip, "install", *how, "-r", str(lock)],
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        errors="replace",
    ) as running:
        assert running.stdout is not None
        for line in running.stdout:
            lines.append(line.rstrip())
            if line.startswith(("Collecting ", "Installing ")):
                passing("environment", " ".join(line.split()[:2]))
    wipe()
    if running.returncode:
        raise CannotStart(INSTALL_FAILED.format(lock=lock.name, tail="\n".join(lines[-12:])))
    say("environment", f"installed in {time.monotonic() - began:.0f} s")
