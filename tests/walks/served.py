"""Pages that were fetched beforehand, given out by a small server: what a browser asks for once, it keeps."""

from __future__ import annotations

import mimetypes
import threading
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any

import axe_playwright_python
from django.contrib.staticfiles import finders

AXE = Path(axe_playwright_python.__file__).parent / "axe.min.js"
AXE_PATH = "/axe.min.js"
LEFT_OUT = {"Content-Length", "Content-Type"}
Texts = dict[str, tuple[bytes, dict[str, str]]]  # by path with its query: body and headers


@contextmanager
def served(texts: Texts) -> Iterator[str]:
    """The address of a server of these pages, of the static files, and of axe."""
    handler = type("Answers", (_Answers,), {"texts": texts})
    server = ThreadingHTTPServer(("127.0.0.1", 0), handler)
    threading.Thread(target=server.serve_forever, daemon=True).start()
    yield f"http://127.0.0.1:{server.server_port}"
    server.shutdown()
    server.server_close()


class _Answers(BaseHTTPRequestHandler):
    protocol_version = "HTTP/1.1"
    texts: Texts

    def do_GET(self) -> None:
        path = self.path.partition("?")[0]
        if self.path in self.texts:
            body, headers = self.texts[self.path]
            self._answer(200, body, {name: said for name, said in headers.items() if name not in LEFT_OUT})
        elif file := _file(path):
            kind = mimetypes.guess_type(path)[0] or "application/octet-stream"
            kept = {"Content-Type": kind, "Cache-Control": "max-age=3600, immutable"}
            self._answer(200, file.read_bytes(), kept)
        else:
            self._answer(404, b"", {})

    def _answer(self, status: int, body: bytes, headers: Mapping[str, str]) -> None:
        self.send_response(status)
        for name, said in ({"Content-Type": "text/html; charset=utf-8"} | dict(headers)).items():
            self.send_header(name, said)
        self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        self.wfile.write(body)

    def log_message(self, *_: Any) -> None:
        """Nothing: a test says what it finds."""


def _file(path: str) -> Path | None:
    """The static file at this path, or axe itself."""
    if path == AXE_PATH:
        return AXE
    found = finders.find(path.removeprefix("/static/")) if path.startswith("/static/") else None
    return Path(str(found)) if found else None
