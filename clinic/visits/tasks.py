"""What a worker does for visits by itself."""

from django.utils import timezone
from procrastinate.contrib.django import app

from clinic.callbacks.missed import refresh_missed
from clinic.visits.actions import expect_today


@app.periodic(cron="*/10 * * * *")
@app.task(queue="default", queueing_lock="expect_todays_visits")
def expect_todays_visits(timestamp: int) -> int:
    """Next visits whose day has come become expected visits, those that were missed
    become call-backs; often, so that a late start loses nothing."""
    now = timezone.now()
    made = expect_today(now=now)
    refresh_missed(now=now)
    return made
