"""Keeping the owners' pages in order."""

from django.utils import timezone
from procrastinate.contrib.django import app

from clinic.platform import rates


@app.periodic(cron="17 * * * *")
@app.task(queue="default", queueing_lock="forget_knocks")
def forget_knocks(timestamp: int) -> None:
    """Every hour: how often an address asked is nobody's business any longer."""
    rates.forget(timezone.now())
