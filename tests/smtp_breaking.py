"""A mail server that breaks off where it is told to: plain sockets, for what no polite server does."""

import socket
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field


@dataclass
class Breaking:
    """`at`: connect, greeting, rcpt, data (before its go-ahead), content (in the middle), end (after the last
    dot), quit (after it was taken). `whole`: mails whose last dot has come."""

    at: str
    port: int = 0
    connections: int = 0
    whole: list[bytes] = field(default_factory=list)

    def talk(self, line: socket.socket) -> None:
        """One conversation; returning hangs up."""
        self.connections += 1
        if self.at == "connect":
            return
        read = line.makefile("rb")

        def say(answer: str) -> None:
            line.sendall(f"{answer}\r\n".encode())

        say("220 here")
        while command := read.readline().decode().strip().upper():
            verb = command.split(" ")[0].split(":")[0]
            if verb in ("EHLO", "HELO"):
                if self.at == "greeting":
                    return
                say("250 here")
            elif verb == "DATA":
                if self.at == "data":
                    return
                say("354 go ahead")
                if self.at == "content":
                    read.readline()
                    return
                content = b""
                while (got := read.readline()) not in (b".\r\n", b""):
                    content += got
                self.whole.append(content)
                if self.at == "end":
                    return
                say("250 taken")
            elif verb == "QUIT":
                return  # without a word, where `at` is quit; nobody needs one
            else:
                if verb == "RCPT" and self.at == "rcpt":
                    return
                say("250 OK")


@contextmanager
def breaking(settings, at: str) -> Iterator[Breaking]:
    """The settings send there."""
    peer = Breaking(at)
    listening = socket.create_server(("127.0.0.1", 0))
    peer.port = listening.getsockname()[1]
    settings.EMAIL_BACKEND = "clinic.mail.smtp.Backend"
    settings.EMAIL_HOST, settings.EMAIL_PORT = "127.0.0.1", peer.port

    def serve() -> None:
        while True:
            try:
                line, _ = listening.accept()
            except OSError:
                return
            with line:
                peer.talk(line)

    thread = threading.Thread(target=serve, daemon=True)
    thread.start()
    try:
        yield peer
    finally:
        listening.shutdown(socket.SHUT_RDWR)
        listening.close()
        thread.join(timeout=5)
