"""Sending, in a worker: thin, and safe to repeat."""

import uuid

from django.conf import settings
from django.utils import timezone
from procrastinate.contrib.django import app

from clinic.mail import actions
from clinic.mail.mailbox import read_bounces


@app.task(name=actions.SEND_TASK, queue=actions.QUEUE)
def send_message(message_id: str) -> None:
    """Try to send one message once."""
    actions.send(message_id=uuid.UUID(message_id), now=timezone.now())


@app.periodic(cron="* * * * *")
@app.task(queue=actions.QUEUE, queueing_lock="rescue_messages")
def rescue_messages(timestamp: int) -> None:
    """Every minute: no message is forgotten, none is sent twice unseen."""
    actions.rescue(now=timezone.now())


@app.periodic(cron="*/10 * * * *")
@app.task(queue=actions.QUEUE, queueing_lock="read_bounces")
def look_for_bounces(timestamp: int) -> None:
    """Every ten minutes, where the clinic has named the mailbox to which its mails come back."""
    if settings.BOUNCES_URL:
        read_bounces(settings.BOUNCES_URL, now=timezone.now())
