"""Sending, in a worker: thin, and safe to repeat."""

import uuid

from django.utils import timezone
from procrastinate.contrib.django import app

from clinic.mail import actions


@app.task(name=actions.SEND_TASK, queue=actions.QUEUE)
def send_message(message_id: str) -> None:
    """Try to send one message once."""
    actions.send(message_id=uuid.UUID(message_id), now=timezone.now())


@app.periodic(cron="* * * * *")
@app.task(queue=actions.QUEUE, queueing_lock="rescue_messages")
def rescue_messages(timestamp: int) -> None:
    """Every minute: no message is forgotten, none is sent twice unseen."""
    actions.rescue(now=timezone.now())
