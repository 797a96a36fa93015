"""One POST to an address that a lead has set: no redirect, a short wait, a short answer.

The shop's own network is allowed, since a lamp at the bench may listen there; link-local addresses
are not, where machines in a cloud keep their credentials (169.254.0.0/16, RFC 3927). That is asked
of whatever the name led to, once connected and before anything is sent. Python's http.client
follows no redirect and heeds no proxy.
"""

from __future__ import annotations

import socket
import ssl
import threading
from dataclasses import dataclass
from http.client import HTTPConnection, HTTPException, HTTPSConnection
from ipaddress import IPv6Address, ip_address
from urllib.parse import SplitResult, urlsplit

from qc.delivery.failures import LONGEST, in_words
from qc.errors import BadInput, NotDelivered

STEP_SECONDS = 5.0  # The longest wait for a connection, and for each part of an answer.
MOST_SECONDS = 10.0  # The longest a whole POST takes once connected.
READ_BYTES = 2000
SCHEMES = ("http", "https")
LINK_LOCAL = "That address is for machines' own set-up (169.254.…), never a webhook."


@dataclass(frozen=True)
class Answer:
    status: int
    text: str

    @property
    def is_taken(self) -> bool:
        return 200 <= self.status < 300

    def __str__(self) -> str:
        said = f"Answered {self.status}"
        if 300 <= self.status < 400:
            return f"{said}: it points elsewhere, which is not followed. Set the new address."
        return f"{said}: {self.text}" if self.text else said


def check_address(url: str) -> None:
    """Raise BadInput unless a webhook may have this address. Looks no name up."""
    told = "Write the whole address, such as https://lamp.example/flags."
    try:
        parts = urlsplit(url)
        host, _ = parts.hostname, parts.port
    except ValueError:
        raise _bad(told) from None
    if parts.scheme not in SCHEMES or not host:
        raise _bad(told)
    if not url.isascii() or not url.isprintable() or " " in url:
        raise _bad("Write the address in plain letters, others as %XX, without spaces.")
    if parts.username is not None or parts.password is not None:
        raise _bad("Leave name and password out of the address: the signature says who sends.")
    if parts.fragment:
        raise _bad("Leave out what follows the #: it is not sent.")
    if is_link_local(host):
        raise _bad(LINK_LOCAL)


def _bad(why: str) -> BadInput:
    return BadInput(why=why, fields=("url",))


def is_link_local(host: str) -> bool:
    """Whether that is a link-local address, plain or inside an IPv6 one; a name is none."""
    try:
        found = ip_address(host.partition("%")[0])
    except ValueError:
        return False
    if isinstance(found, IPv6Address) and found.ipv4_mapped is not None:
        return found.ipv4_mapped.is_link_local
    return found.is_link_local


def post(url: str, *, body: bytes, headers: dict[str, str]) -> Answer:
    """What the receiver answers, whatever its status. Raises NotDelivered where it does not."""
    parts = urlsplit(url)
    connection = _connection(parts)
    target = (parts.path or "/") + (f"?{parts.query}" if parts.query else "")
    is_late = threading.Event()
    try:
        connection.connect()
        wire: socket.socket = connection.sock
        if is_link_local(str(wire.getpeername()[0])):
            raise NotDelivered(why=LINK_LOCAL)
        end = threading.Timer(MOST_SECONDS, _hang_up, (wire, is_late))
        end.daemon = True
        end.start()
        try:
            connection.request("POST", target, body=body, headers=headers)
            return _answer(connection)
        finally:
            end.cancel()
    except (OSError, HTTPException, ValueError) as error:
        raise NotDelivered(why=_why(error, is_late=is_late.is_set())) from error
    finally:
        connection.close()


def _connection(parts: SplitResult) -> HTTPConnection:
    assert parts.hostname is not None  # check_address
    if parts.scheme == "https":
        context = ssl.create_default_context()
        return HTTPSConnection(parts.hostname, parts.port, timeout=STEP_SECONDS, context=context)
    return HTTPConnection(parts.hostname, parts.port, timeout=STEP_SECONDS)


def _hang_up(wire: socket.socket, is_late: threading.Event) -> None:
    """A receiver that sends one byte now and then would hold the line for hours."""
    is_late.set()
    try:
        wire.shutdown(socket.SHUT_RDWR)
    except OSError:
        return  # It hung up first.


def _answer(connection: HTTPConnection) -> Answer:
    response = connection.getresponse()
    try:
        text = response.read(READ_BYTES).decode("utf-8", errors="replace")
    except (OSError, HTTPException, ValueError):
        text = ""  # The status says whether it was taken.
    shown = "".join(one if one.isprintable() else " " for one in text)
    return Answer(response.status, " ".join(shown.split())[:LONGEST])


def _why(error: Exception, *, is_late: bool) -> str:
    if is_late or isinstance(error, TimeoutError):
        return "No answer in time."
    return f"No answer: {in_words(error)}"
