"""PostgreSQL and Redis for one run of the tests, on ports and in a folder of their own.

Nothing that runs on the machine already is touched. One named in the environment is used as it
stands: SQUISH_TEST_POSTGRES=postgresql://..., SQUISH_TEST_REDIS=redis://host:port.
"""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import tempfile
import time
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path

from deploy.console import CannotStart, say

POSTGRES = "SQUISH_TEST_POSTGRES"
REDIS = "SQUISH_TEST_REDIS"
CHROMIUM = "SQUISH_CHROMIUM"
PACKAGES = {POSTGRES: "postgresql", REDIS: "redis-server", CHROMIUM: "chromium"}
ELSEWHERE = (
    "Install it from your system's packages (Debian and Ubuntu, as root: apt install {packages}), "
    "or name one in {names}."
)
SECONDS_TO_ANSWER = 20


def install_missing() -> None:
    """Where this runs as root on Debian, install what is absent; elsewhere say how to."""
    absent = missing()
    if not absent:
        return
    packages = [PACKAGES[name] for name in absent]
    say("servers", f"absent: {', '.join(packages)}")
    if not (shutil.which("apt-get") and getattr(os, "geteuid", lambda: 1)() == 0):
        say("", ELSEWHERE.format(packages=" ".join(packages), names=", ".join(absent)))
        return
    quiet = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}
    subprocess.run(["apt-get", "update", "-qq"], env=quiet, check=False)
    install = ["apt-get", "install", "-qq", "--no-install-recommends", *packages]
    subprocess.run(install, env=quiet, stdout=subprocess.DEVNULL, check=False)


def missing() -> list[str]:
    """The names, as in the environment, of those that are neither named there nor installed."""
    found = {POSTGRES: postgres_bin(), REDIS: shutil.which("redis-server"), CHROMIUM: chromium()}
    return [name for name, where in found.items() if name not in os.environ and where is None]


def chromium() -> str | None:
    names = ("chromium", "chromium-browser", "google-chrome")
    return next(filter(None, map(shutil.which, names)), None)


def postgres_bin() -> Path | None:
    """The folder with initdb and pg_ctl, the newest one where Debian keeps several."""
    kept = sorted(
        Path("/usr/lib/postgresql").glob("*/bin/initdb"), key=lambda path: int(path.parts[4])
    )
    found = kept[-1] if kept else shutil.which("initdb")
    return Path(found).parent if found else None


@contextmanager
def running() -> Iterator[dict[str, str]]:
    """Their addresses, by the names of the environment; only of those that could be started."""
    absent = missing()
    with ExitStack() as stack:
        # Not made with TemporaryDirectory's 0700: the database runs under another account.
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory(prefix="squish-test-")))
        folder.chmod(0o755)
        addresses = {}
        for name, start in ((POSTGRES, postgres), (REDIS, redis)):
            if name in os.environ:
                addresses[name] = os.environ[name]
            elif name not in absent:
                addresses[name] = stack.enter_context(start(folder))
        yield addresses


@contextmanager
def postgres(folder: Path) -> Iterator[str]:
    """A cluster that need not outlive a power cut, so it does not wait for the disk."""
    bin_folder, port, data = postgres_bin(), free_port(), folder / "postgres"
    assert bin_folder is not None
    data.mkdir()
    account = own_account(data)
    options = f"-p {port} -c listen_addresses=127.0.0.1 -c unix_socket_directories="
    options += " -c fsync=off -c full_page_writes=off -c synchronous_commit=off"
    control = [*account, str(bin_folder / "pg_ctl"), "-D", str(data), "-s", "-w"]
    initdb = [*account, str(bin_folder / "initdb"), "-D", str(data), "--auth=trust", "-U", "squish"]
    quietly([*initdb, "--encoding=UTF8", "--locale=C.UTF-8", "--no-sync"])
    quietly([*control, "-l", str(data / "log"), "-o", options, "start"])
    try:
        yield f"postgresql://squish@127.0.0.1:{port}/squish"
    finally:
        quietly([*control, "-m", "immediate", "stop"])


def own_account(data: Path) -> list[str]:
    """PostgreSQL refuses to run as root: the prefix that makes it run as its own account."""
    if getattr(os, "geteuid", lambda: 1)() != 0:
        return []
    shutil.chown(data, user="postgres", group="postgres")
    return ["setpriv", "--reuid=postgres", "--regid=postgres", "--init-groups"]


@contextmanager
def redis(folder: Path) -> Iterator[str]:
    port, data = free_port(), folder / "redis"
    data.mkdir()
    command = ["redis-server", "--port", str(port), "--bind", "127.0.0.1", "--dir", str(data)]
    server = subprocess.Popen(
        [*command, "--save", "", "--appendonly", "no"], stdout=subprocess.DEVNULL
    )
    try:
        wait_for_redis(port)
        yield f"redis://127.0.0.1:{port}"
    finally:
        server.terminate()
        server.wait()


def wait_for_redis(port: int) -> None:
    until = time.monotonic() + SECONDS_TO_ANSWER
    while time.monotonic() < until:
        try:
            with socket.create_connection(("127.0.0.1", port), timeout=1) as connection:
                connection.sendall(b"PING\r\n")
                if connection.recv(16).startswith(b"+PONG"):
                    return
        except OSError:
            time.sleep(0.05)
    raise CannotStart(f"Redis did not answer on port {port} within {SECONDS_TO_ANSWER} s.")


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port


def quietly(command: list[str]) -> None:
    """Run it; show what it said only when it failed."""
    ran = subprocess.run(
        command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, check=False, cwd="/"
    )
    if ran.returncode:
        raise CannotStart(f"{' '.join(command)}\nfailed:\n{ran.stdout.strip()}")
