"""Something changed of which call-backs are reckoned: a worker writes that patient's anew.

Apart from the tasks, so that whoever changes something imports no room of the house.
"""

from procrastinate.contrib.django import app

TASK = "clinic.callbacks.tasks.refresh_call_backs_of"
QUEUE = "default"


def reckon_soon(patient_id: int) -> None:
    """In the caller's transaction, so that the change never stands without it.

    No queueing lock: a job that waits already may begin before this transaction is committed.
    """
    app.configure_task(TASK, queue=QUEUE).defer(patient_id=patient_id)
