"""Making a summary's PDF, in the worker that makes the letters'."""

from django.utils import timezone
from procrastinate.contrib.django import app

from clinic.letters.tasks import RETRIES
from clinic.letters.tasks_queue import QUEUE
from clinic.platform.files import keep
from clinic.summaries.actions import keep_file
from clinic.summaries.document import from_json
from clinic.summaries.models import Summary
from clinic.summaries.sheet import summary_html
from clinic.summaries.tasks_queue import TASK


@app.task(name=TASK, queue=QUEUE, retry=RETRIES)
def render_summary(summary_id: int) -> None:
    """Render once and keep the bytes. Safe to repeat."""
    from clinic.letters.pdf import render_html

    summary = Summary.objects.select_related("file").get(pk=summary_id)
    if hasattr(summary, "file"):
        return
    sheet = from_json(summary.content)
    rendered = render_html(summary_html(sheet), paper=sheet.paper)
    name = keep(rendered.content, ".pdf")
    keep_file(
        summary=summary, name=name, size=len(rendered.content), pages=rendered.pages, now=timezone.now()
    )
