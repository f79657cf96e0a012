"""A mail server on this machine, for tests that open what arrived."""

import asyncio
import email
import email.policy
import socket
from collections.abc import Iterator
from contextlib import contextmanager
from email.message import EmailMessage

from aiosmtpd.controller import Controller
from aiosmtpd.smtp import SMTP, Envelope, Session


class Peer:
    """A mail server that keeps what it takes, and answers as it is told."""

    def __init__(self) -> None:
        self.taken: list[Envelope] = []
        self.answer = "250 OK"
        self.to_recipient = "250 OK"
        self.pause = 0.0  # seconds before it answers for the content

    async def handle_RCPT(
        self, server: SMTP, session: Session, envelope: Envelope, address: str, options: list[str]
    ) -> str:
        if self.to_recipient.startswith("250"):
            envelope.rcpt_tos.append(address)
        return self.to_recipient

    async def handle_DATA(self, server: SMTP, session: Session, envelope: Envelope) -> str:
        if self.pause:
            await asyncio.sleep(self.pause)
        if self.answer.startswith("250"):
            self.taken.append(envelope)
        return self.answer

    def opened(self, number: int = 0) -> EmailMessage:
        """What arrived, read as an owner's mail program reads it."""
        message = email.message_from_bytes(self.taken[number].content, policy=email.policy.default)
        assert isinstance(message, EmailMessage)
        return message


@contextmanager
def serving(settings) -> Iterator[Peer]:
    """A server that takes mail; the settings send there."""
    peer = Peer()
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    controller = Controller(peer, hostname="127.0.0.1", port=port)
    controller.start()
    settings.EMAIL_BACKEND = "clinic.mail.smtp.Backend"
    settings.EMAIL_HOST, settings.EMAIL_PORT = "127.0.0.1", port
    try:
        yield peer
    finally:
        controller.stop()
