"""A server on loopback that answers as a test tells it: for what other people's servers may say."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, HTTPServer
from threading import Thread

from tests.services import free_port

type Says = Callable[[str, bytes], tuple[int, bytes]]


@contextmanager
def server_that(says: Says) -> Iterator[str]:
    """A server that answers a path and a body as told; its URL."""

    class Answering(BaseHTTPRequestHandler):
        """Answers as told."""

        def do_GET(self) -> None:
            """To a GET."""
            self.do_POST()

        def do_POST(self) -> None:
            """To a POST."""
            status, body = says(self.path, self.rfile.read(int(self.headers.get("Content-Length", "0"))))
            self.send_response(status)
            self.end_headers()
            self.wfile.write(body)

        def log_message(self, *args: object) -> None:
            """Nothing."""

    server = HTTPServer(("127.0.0.1", free_port()), Answering)
    Thread(target=server.serve_forever, daemon=True).start()
    try:
        yield f"http://127.0.0.1:{server.server_port}"
    finally:
        server.shutdown()
        server.server_close()
