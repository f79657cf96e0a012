"""The walk of a dog looked at in full is drawn on the server within its time, whatever else the machine does.

What the machine can do now is measured beside it: a page with nothing on it, for somebody signed in.
"""

import time
from collections.abc import Callable

import pytest
from django.test import Client

from clinic.models import Visit
from tests import people
from tests.exams.house import exam_here

pytestmark = pytest.mark.django_db
MOST_S = 0.150
MOST_EMPTY_PAGES = 14  # an empty page takes some 10 ms of such a processor


@pytest.fixture
def visit() -> Visit:
    """Every line of it answered, so that all there is to draw is drawn."""
    people.clinic_details()
    house = people.people()
    tablet = exam_here(house.actor("clinician"))
    tablet.tap("EAR.canal|left", "set_abnormal", {"findings": [{"code": "EAR-02", "severity": "mild"}]})
    tablet.tap("exam", "station_rest_not_examined", {"reason": "no-time", "all": True})
    return tablet.exam.record.visit


@pytest.fixture
def client(visit) -> Client:
    signed_in = Client(headers={"Accept-Encoding": "gzip"})
    signed_in.force_login(visit.clinician)
    return signed_in


def seconds(client: Client, address: str, times: int = 9) -> float:
    """Of processor time, at best: what others take of the machine is not the page's."""

    def once(get: Callable[[str], object]) -> float:
        began = time.process_time()
        get(address)
        return time.process_time() - began

    assert client.get(address).status_code == 200  # the walk and the templates are read once a process
    return min(once(client.get) for _ in range(times))


def test_the_page_comes_in_time(client, visit) -> None:
    empty, walk = seconds(client, "/tablet/"), seconds(client, f"/visits/{visit.pk}/exam/")
    print(  # noqa: T201 - the numbers are the result
        f"an empty page {empty * 1000:.1f} ms, the walk {walk * 1000:.1f} ms"
    )
    assert walk < max(MOST_S, MOST_EMPTY_PAGES * empty)
