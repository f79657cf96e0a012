"""Queueing a summary's rendering, apart from the task itself: whoever queues does not import the renderer."""

from procrastinate.contrib.django import app

from clinic.letters.tasks_queue import QUEUE

TASK = "clinic.summaries.tasks.render_summary"


def queue_rendering(summary_id: int) -> None:
    """In the caller's transaction: rolled back with it, and there for a worker that comes later."""
    app.configure_task(TASK, queue=QUEUE).defer(summary_id=summary_id)
