"""A small mail server (RFC 5321) on a thread: it accepts, refuses, or takes a mail and never says so."""

from __future__ import annotations

import contextlib
import email
import email.policy
import socketserver
import threading
from email.message import EmailMessage
from typing import Any


class MailServer(socketserver.ThreadingTCPServer):
    """``refuse`` is "connection" (421), "message" (451 after the text) or empty.

    ``silent_after``: the mail of this number is taken and kept, and the sender waits in vain for the answer.
    """

    daemon_threads = True
    allow_reuse_address = True

    def __init__(self) -> None:
        super().__init__(("127.0.0.1", 0), _Session)
        self.accepted: list[EmailMessage] = []
        self.refused = 0
        self.refuse = ""
        self.silent_after = 0
        self.holding = threading.Event()
        self.release = threading.Event()
        self._thread = threading.Thread(target=self.serve_forever, daemon=True)
        self._thread.start()

    @property
    def port(self) -> int:
        return int(self.server_address[1])

    def stop(self) -> None:
        self.release.set()
        self.shutdown()
        self.server_close()


class _Session(socketserver.StreamRequestHandler):
    server: MailServer

    def handle(self) -> None:
        if self.server.refuse == "connection":
            self.server.refused += 1
            self.say("421 closed for maintenance")
            return
        self.say("220 mail.tarn.example ready")
        for raw in self.rfile:
            word = raw.split()[0].upper() if raw.split() else b""
            if word == b"DATA":
                self.say("354 go on")
                self.take(self.text())
            elif word == b"QUIT":
                self.say("221 goodbye")
                return
            else:
                self.say("250 mail.tarn.example")

    def text(self) -> bytes:
        lines = []
        for raw in self.rfile:
            if raw == b".\r\n":
                break
            lines.append(raw.removeprefix(b".") if raw.startswith(b"..") else raw)
        return b"".join(lines)

    def take(self, text: bytes) -> None:
        if self.server.refuse == "message":
            self.server.refused += 1
            self.say("451 not now")
            return
        message: Any = email.message_from_bytes(text, policy=email.policy.default)
        self.server.accepted.append(message)
        if len(self.server.accepted) == self.server.silent_after:
            self.server.holding.set()
            self.server.release.wait(60)
            return
        self.say("250 accepted")

    def say(self, line: str) -> None:
        with contextlib.suppress(OSError):  # the other side may be dead: some tests see to that
            self.wfile.write(f"{line}\r\n".encode())
