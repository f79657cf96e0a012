"""Queueing a letter's rendering, apart from the task itself: whoever queues does not import the renderer."""

from procrastinate.contrib.django import app

QUEUE = "letters"
TASK = "clinic.letters.tasks.render_letter"


def queue_rendering(letter_id: int) -> None:
    """In the caller's transaction: rolled back with it, and there for a worker that comes later."""
    app.configure_task(TASK, queue=QUEUE).defer(letter_id=letter_id)
