"""Queueing the reckoning of dues, apart from the tasks: whoever queues does not import them."""

from procrastinate.contrib.django import app

QUEUE = "default"
TASK = "preventive.tasks.refresh_dues"
TRIAL_TASK = "preventive.tasks.try_proposal"
LETTERS = "letters"  # the one worker that holds the renderer
CERTIFICATE_TASK = "preventive.tasks.render_certificate"


def queue_all_dues(after: int = 0) -> None:
    """The dues of everybody whose answer no longer holds, behind that number; in the caller's transaction."""
    app.configure_task(TASK, queue=QUEUE).defer(after=after)


def queue_trial(trial_id: int, last: int) -> None:
    """The next animals of a proposal's trial; in the caller's transaction."""
    app.configure_task(TRIAL_TASK, queue=QUEUE).defer(trial_id=trial_id, last=last)


def queue_certificate(certificate_id: int) -> None:
    """Its PDF, made by the worker; in the caller's transaction."""
    app.configure_task(CERTIFICATE_TASK, queue=LETTERS).defer(certificate_id=certificate_id)
