"""Listening, in a worker: thin, and safe to repeat."""

from uuid import UUID

from django.utils import timezone
from procrastinate.contrib.django import app

from exams.recogniser.listening import TASK, listen_to


@app.task(name=TASK, queue="default")
def listen(recording_id: str) -> None:
    """Turn one recording into lines of talk, and delete its sound."""
    listen_to(UUID(recording_id), now=timezone.now())
