"""Asks a ClamAV daemon about bytes, by its own protocol: ``INSTREAM`` and ``PING`` of the manual page clamd(8).

Own lines, since the kept Python client comes under the GPL alone (docs/dependencies.md). Pure but for the socket.
"""

import socket
import struct
from collections.abc import Iterable
from contextlib import closing
from dataclasses import dataclass

LONGEST_ANSWER = 4096
END = b"\0"
ADDRESS_EXAMPLES = "127.0.0.1:3310 or /run/clamav/clamd.ctl"


class ScannerAwayError(Exception):
    """Nobody can say whether the file is clean: no daemon, no answer in time, or one that isn't understood."""


@dataclass(frozen=True, slots=True)
class ClamdAddress:
    """Where a daemon listens: at a port, or where `port` is 0 at a socket of this machine by its path."""

    host: str
    port: int = 0

    def connect(self, seconds: float) -> socket.socket:
        """A connection whose every wait ends after so many seconds. Raises `OSError`."""
        if self.port:
            return socket.create_connection((self.host, self.port), timeout=seconds)
        made = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
        made.settimeout(seconds)
        try:
            made.connect(self.host)
        except OSError:
            made.close()
            raise
        return made


def clamd_address(text: str) -> ClamdAddress:
    """An absolute path, or a host and a port such as ``[::1]:3310``. Raises `ValueError` with what is wrong."""
    if text.startswith("/"):
        return ClamdAddress(text)
    host, _, port = text.rpartition(":")
    if not host or not port.isascii() or not port.isdecimal() or not 0 < int(port) < 1 << 16:
        message = f"CLAMD_ADDRESS is neither a path nor a host with a port, such as {ADDRESS_EXAMPLES}"
        raise ValueError(message)
    return ClamdAddress(host.strip("[]"), int(port))


def clamd_answers(address: ClamdAddress, seconds: float) -> bool:
    """Whether a daemon is there and speaks."""
    try:
        with closing(address.connect(seconds)) as line:
            line.sendall(b"zPING" + END)
            return _answer(line) == b"PONG"
    except OSError:
        return False


def found_in(address: ClamdAddress, chunks: Iterable[bytes], seconds: float) -> str:
    """What the daemon calls what it found in a file, empty for a clean one. Raises `ScannerAwayError`."""
    try:
        with closing(address.connect(seconds)) as line:
            answer = _sent(line, chunks).decode("utf-8", "replace")
    except OSError as error:
        message = "no answer from clamd"
        raise ScannerAwayError(message) from error
    told = answer.removeprefix("stream: ")
    if told == "OK":
        return ""
    if told.endswith(" FOUND"):
        return told.removesuffix(" FOUND")
    message = f"clamd answered: {answer or 'nothing'}"
    raise ScannerAwayError(message)


def _sent(line: socket.socket, chunks: Iterable[bytes]) -> bytes:
    """The answer to a whole file; a daemon that takes no more of it says why before it closes the connection."""
    try:
        line.sendall(b"zINSTREAM" + END)
        for chunk in chunks:
            if chunk:
                line.sendall(struct.pack("!L", len(chunk)) + chunk)
        line.sendall(struct.pack("!L", 0))
    except (BrokenPipeError, ConnectionResetError):
        return _answer(line)
    return _answer(line)


def _answer(line: socket.socket) -> bytes:
    """Up to the end that the daemon marks."""
    found = b""
    while not found.endswith(END) and len(found) < LONGEST_ANSWER:
        part = line.recv(LONGEST_ANSWER)
        if not part:
            break
        found += part
    return found.rstrip(END)
