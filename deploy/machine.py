"""What the machine has to grant before anything starts: a folder and a port; and its addresses."""

from __future__ import annotations

import os
import socket
import tempfile
from contextlib import suppress
from errno import EACCES, EADDRINUSE, EADDRNOTAVAIL
from ipaddress import ip_address
from pathlib import Path

from deploy.console import CannotStart

LOCAL_NAMES = ["localhost", "127.0.0.1", "[::1]"]
REFUSALS = {
    EADDRINUSE: "Port {port} is taken, perhaps by this service started earlier. "
    "Stop that one, or choose another with --port N.",
    EACCES: "This account may not listen on port {port}. Choose one above 1023 with --port N.",
    EADDRNOTAVAIL: "This machine has no address {host}. Leave --host out, or give one it has.",
}


def claim_folder(folder: Path) -> None:
    """Make the data folder, for its owner alone, and see that it can be written in."""
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=folder):
            pass
    except OSError as error:
        raise CannotStart(
            f"Cannot write in {folder}: {error.strerror}. Choose another folder with --data DIR."
        ) from error


def open_port(host: str, port: int) -> socket.socket:
    """A socket bound to the address, not yet listening. Raises CannotStart."""
    try:
        family, _, _, _, address = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)[0]
    except socket.gaierror as error:
        raise CannotStart(f"No such address: {host}. Leave --host out, or correct it.") from error
    opened = socket.socket(family, socket.SOCK_STREAM)
    if os.name == "posix":
        # Without it a restart waits for old connections; on Windows it would share a taken port.
        opened.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        opened.bind(address)
        # Two bound sockets may share an address on Linux until one of them listens.
        opened.listen(1)
    except OSError as error:
        opened.close()
        words = REFUSALS.get(error.errno or 0, "Cannot listen on {host}, port {port}: {why}.")
        raise CannotStart(words.format(host=host, port=port, why=error.strerror)) from error
    return opened


def stays_on_this_machine(host: str) -> bool:
    return host == "localhost" or _is(host, "is_loopback")


def names_to_answer(host: str) -> list[str]:
    """The hosts a browser may ask for: this machine, and what others know it by if they may in."""
    if stays_on_this_machine(host):
        return LOCAL_NAMES
    own = [host]
    if _is(host, "is_unspecified"):
        own = [socket.gethostname(), f"{socket.gethostname()}.local", *addresses()]
    return LOCAL_NAMES + own


def addresses_for_tablets(host: str) -> list[str]:
    if stays_on_this_machine(host):
        return []
    return addresses() if _is(host, "is_unspecified") else [host]


def addresses() -> list[str]:
    """This machine's addresses on its networks, the one the default route uses first."""
    found = []
    with suppress(OSError), socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        # Sends nothing: it only asks which address would be used toward the outside.
        probe.connect(("192.0.2.1", 9))
        found.append(probe.getsockname()[0])
    with suppress(OSError):
        found += socket.gethostbyname_ex(socket.gethostname())[2]
    return [address for address in dict.fromkeys(found) if not _is(address, "is_loopback")]


def url(host: str, port: int) -> str:
    return f"http://[{host}]:{port}" if ":" in host else f"http://{host}:{port}"


def _is(host: str, kind: str) -> bool:
    try:
        return bool(getattr(ip_address(host), kind))
    except ValueError:
        return False
