"""A few pages of the tests' own, served with our static files and our content policy."""

from __future__ import annotations

import threading
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from mimetypes import guess_type
from pathlib import Path

from django.conf import settings

import dashboards

STATIC = Path(dashboards.__file__).parent / "static"


@contextmanager
def served(pages: Mapping[str, str]) -> Iterator[str]:
    """Serve each path's text, JSON where the path ends so; anything else unknown is a 404."""

    class Handler(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            kind = guess_type(self.path)[0] or "text/html"
            if self.path.startswith(settings.STATIC_URL):
                body = (STATIC / self.path.removeprefix(settings.STATIC_URL)).read_bytes()
            elif self.path in pages:
                body = pages[self.path].encode()
            else:
                self.send_error(404)
                return
            self.send_response(200)
            self.send_header("Content-Type", f"{kind}; charset=utf-8")
            self.send_header("Content-Length", str(len(body)))
            policy = settings.CONTENT_SECURITY_POLICY.items()
            self.send_header(
                "Content-Security-Policy", "; ".join(f"{part} {who}" for part, who in policy)
            )
            self.end_headers()
            self.wfile.write(body)

        def log_message(self, *_: object) -> None:
            """Say nothing: a test's own failure says enough."""

    server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    try:
        yield f"http://127.0.0.1:{server.server_port}"
    finally:
        server.shutdown()
        server.server_close()
        thread.join()
