"""Making the PDF of one printing, in the worker that makes the letters'."""

from procrastinate.contrib.django import app

from clinic.callbacks.post_models import PostRun
from clinic.callbacks.posting import TASK
from clinic.letters.tasks import RETRIES
from clinic.letters.tasks_queue import QUEUE
from clinic.platform.files import keep


@app.task(name=TASK, queue=QUEUE, retry=RETRIES)
def print_post(run_id: int) -> None:
    """Render once and keep the bytes. Safe to repeat."""
    from clinic.letters.pdf import render_html

    run = PostRun.objects.get(pk=run_id)
    if run.sha256:
        return
    rendered = render_html(run.content, paper=run.paper)
    name = keep(rendered.content, ".pdf")
    sha = name.split("/")[1].removesuffix(".pdf")
    PostRun.objects.filter(pk=run.pk, sha256="").update(sha256=sha, pages=rendered.pages)
