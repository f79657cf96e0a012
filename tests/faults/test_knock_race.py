"""Several processes count one address in the same place: no knock is lost."""

from concurrent.futures import ThreadPoolExecutor
from threading import Barrier

import pytest
from django.db import connection
from django.utils import timezone

from clinic.models import Knock
from clinic.platform import rates

AT_ONCE, EACH = 6, 10
LIMIT = rates.Limit("owner-page", most=300, in_vain=20)
pytestmark = [pytest.mark.faults, pytest.mark.django_db(transaction=True)]


def at_once(does) -> None:
    """Each on a connection of its own, as in processes of their own."""
    together = Barrier(AT_ONCE)

    def one(number: int) -> None:
        try:
            together.wait(timeout=20)
            does(together)
        finally:
            connection.close()

    with ThreadPoolExecutor(AT_ONCE) as pool:
        list(pool.map(one, range(AT_ONCE)))


def test_every_knock_is_counted():
    now = timezone.now()

    def ask(together: Barrier) -> None:
        for _ in range(EACH):
            rates.may_ask(LIMIT, "somebody", now)
            rates.asked_in_vain(LIMIT, "somebody", now)

    at_once(ask)
    assert Knock.objects.values_list("asked", "in_vain").get() == (AT_ONCE * EACH, AT_ONCE * EACH)


def test_counted_by_reading_and_writing_they_would_be_lost():
    """The guard off: one statement's count against one that is read, added to and written."""
    Knock.objects.create(who="somebody", since=timezone.now())

    def ask(together: Barrier) -> None:
        row = Knock.objects.get()
        together.wait(timeout=20)
        row.asked += 1
        row.save()

    at_once(ask)
    assert Knock.objects.get().asked < AT_ONCE
