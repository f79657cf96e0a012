"""Making a letter's PDF, in a worker."""

from django.utils import timezone
from procrastinate import RetryStrategy
from procrastinate.contrib.django import app

from clinic.letters.actions import keep_file
from clinic.letters.document import from_json
from clinic.letters.models import Letter
from clinic.letters.tasks_queue import QUEUE, TASK
from clinic.mail.actions import hold, queue_sending
from clinic.platform.files import keep
from clinic.platform.warmup import before_first_job

RETRIES = RetryStrategy(max_attempts=5, exponential_wait=4)


@before_first_job
def load_the_renderer() -> None:
    """WeasyPrint and its fonts take most of a second to load."""
    from clinic.letters import pdf

    pdf.warm()


@app.task(name=TASK, queue=QUEUE, retry=RETRIES)
def render_letter(letter_id: int) -> None:
    """Render once, keep the bytes, and let the letter's messages go. Safe to repeat."""
    from clinic.letters.pdf import UnfitForPaper, render

    letter = Letter.objects.select_related("file").get(pk=letter_id)
    if not hasattr(letter, "file"):
        try:
            rendered = render(from_json(letter.content))
        except UnfitForPaper as unfit:
            hold(letter_id=letter_id, why=f"its PDF could not be made: {unfit}", now=timezone.now())
            raise
        name = keep(rendered.content, ".pdf")
        keep_file(
            letter=letter, name=name, size=len(rendered.content), pages=rendered.pages, now=timezone.now()
        )
    for message in letter.messages.filter(state="waiting"):
        queue_sending(message.pk)
