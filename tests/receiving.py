"""A webhook's receiver on this machine: answers what it is told to, and keeps what it was sent."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer


@dataclass
class Receiver:
    """status, says, headers: of the next answers. before: run before answering, in its thread."""

    url: str = ""
    status: int = 204
    says: bytes = b""
    headers: dict[str, str] = field(default_factory=dict)
    before: Callable[[], None] = lambda: None
    got: list[tuple[dict[str, str], bytes]] = field(default_factory=list)


@contextmanager
def receiving() -> Iterator[Receiver]:
    receiver = Receiver()

    class Handler(BaseHTTPRequestHandler):
        def do_POST(self) -> None:
            body = self.rfile.read(int(self.headers["Content-Length"]))
            receiver.got.append(({k.lower(): v for k, v in self.headers.items()}, body))
            receiver.before()
            self.send_response(receiver.status)
            for name, value in receiver.headers.items():
                self.send_header(name, value)
            self.end_headers()
            self.wfile.write(receiver.says)

        def log_message(self, format: str, *args: object) -> None:
            """Quiet."""

    with ThreadingHTTPServer(("127.0.0.1", 0), Handler) as server:
        receiver.url = f"http://127.0.0.1:{server.server_port}/flags?from=shop"
        thread = threading.Thread(target=server.serve_forever, args=(0.02,), daemon=True)
        thread.start()
        try:
            yield receiver
        finally:
            server.shutdown()
            thread.join()
