"""How long deploy/up takes in a fresh clone, and how long the second time.

Run by hand: `python tests/benchmarks/bench_start.py`. It clones the last commit beside itself in a
temporary folder, so the packages come from pip's cache or the network as they would for a newcomer.
Times are to the first good answer of /health, on whatever else the machine is doing.

Seen on two otherwise idle cores, Python 3.11, packages in pip's cache, in November 2026: 95 s the
first time, 4.2 s the second; on an earlier, faster machine, 52 and 2.6 s; on a busy one, and before
the charts' marks were thinned, 136 and 12 s at a load of 4.6. Of the second, most is importing
NumPy, SciPy and Django.
"""

from __future__ import annotations

import os
import platform
import socket
import subprocess
import sys
import tempfile
import time
import urllib.request
from pathlib import Path

PROJECT = Path(__file__).resolve().parents[2]
LONGEST_S = 900


def main() -> None:
    with tempfile.TemporaryDirectory(prefix="squish-start-") as folder:
        clone = Path(folder) / "clone"
        subprocess.run(["git", "clone", "--quiet", PROJECT, clone], check=True)
        print(f"Python {platform.python_version()}, {os.cpu_count()} cores", flush=True)
        print(f"first start   {start(clone):6.1f} s", flush=True)
        print(f"second start  {start(clone):6.1f} s")


def start(clone: Path) -> float:
    """Start the service, wait until it is well, stop it; the seconds until it was well."""
    port = free_port()
    began = time.monotonic()
    service = subprocess.Popen(
        [sys.executable, clone / "deploy" / "up", "--port", str(port)],
        stdout=subprocess.DEVNULL,
    )
    try:
        while not is_well(port):
            if service.poll() is not None or time.monotonic() - began > LONGEST_S:
                raise SystemExit(f"It did not start; exit code {service.poll()}.")
            time.sleep(0.05)
        return time.monotonic() - began
    finally:
        service.terminate()
        service.wait()


def is_well(port: int) -> bool:
    try:
        with urllib.request.urlopen(f"http://127.0.0.1:{port}/health", timeout=5) as answer:
            return bool(answer.status == 200)
    except OSError:
        return False


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


if __name__ == "__main__":
    main()
