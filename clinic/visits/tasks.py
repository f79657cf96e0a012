"""What a worker does for visits by itself."""

from django.utils import timezone
from procrastinate.contrib.django import app

from clinic.visits.actions import expect_today


@app.periodic(cron="*/10 * * * *")
@app.task(queue="default", queueing_lock="expect_todays_visits")
def expect_todays_visits(timestamp: int) -> int:
    """Next visits whose day has come become expected visits; often, so that a late start loses nothing."""
    return expect_today(now=timezone.now())
