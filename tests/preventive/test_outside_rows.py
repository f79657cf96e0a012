"""Doses given elsewhere, several from one paper: entered fast, all or none, with the paper beside them."""

from datetime import date, timedelta
from uuid import uuid4

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from preventive.models import Dose, Proof
from preventive.outside_form import vaccines_for
from preventive.typed_days import read_day
from tests.house import PICTURE
from tests.preventive.build import under
from tests.preventive.room import room


@pytest.mark.parametrize(
    ("typed", "day", "precision"),
    [
        ("2024-05-12", date(2024, 5, 12), "day"),
        (" 12 May 2024 ", date(2024, 5, 12), "day"),
        ("2024-5", date(2024, 5, 1), "month"),
        ("may 2024", date(2024, 5, 1), "month"),
        ("2024", date(2024, 1, 1), "year"),
    ],
)
def test_a_day_is_read_as_it_is_copied(typed, day, precision):
    read = read_day(typed)
    assert (read.value, read.precision.value) == (day, precision)


@pytest.mark.parametrize("typed", ["no", "05/12/2024", "2024-13", "2024-02-30", "24"])
def test_what_may_be_two_days_is_none(typed):
    with pytest.raises(ValueError, match=r"no day|month must|day is out|unconverted"):
        read_day(typed)


def test_a_dog_is_offered_what_dogs_have():
    offered = {each.code: each.antigens for each in vaccines_for("dog", under().rules)}
    assert offered["rabies"] == ("Rabies",)
    assert offered["dog_core"] == ("CDV", "CAV-2", "CPV")
    assert offered["CPV"] == ("CPV",)
    assert "FeLV" not in offered


pytestmark = pytest.mark.django_db


@pytest.fixture
def grown():
    return room(200)


def day(weeks):
    return (timezone.localdate() - timedelta(weeks=weeks)).isoformat()


def sent(**other):
    rows = {
        "what-0": "dog_core",
        "on-0": day(30),
        "product-0": "Other Three",
        "lot-0": "Z-1",
        "months-0": "36",
    }
    rows |= {"what-1": "rabies", "on-1": day(30), "months-1": "12", "what-2": "CPV", "on-2": day(60)[:7]}
    return {"once": uuid4(), "source": "outside", "proof_words": "booklet"} | rows | other


def post(grown, by="assistant", **other):
    client = Client()
    client.force_login(getattr(grown.people, by))
    return client.post(reverse("prevention-outside", args=[grown.visit.pk]), sent(**other))


def test_three_doses_are_entered_at_once_and_a_second_tap_enters_none(grown):
    once = uuid4()
    assert [post(grown, once=once).status_code for _ in range(2)] == [302, 302]
    rows = Dose.objects.order_by("pk").values_list("antigens", "precision", "proof", "lot")
    assert list(rows) == [
        (["CDV", "CAV-2", "CPV"], "day", True, "Z-1"),
        (["Rabies"], "day", True, ""),
        (["CPV"], "month", True, ""),
    ]
    assert Dose.objects.get(antigens=["Rabies"]).product_facts["facts"]["licensed_months"] == 12


def test_the_paper_is_kept_beside_each_and_opened_from_the_history(grown):
    paper = SimpleUploadedFile("booklet.jpg", PICTURE, "image/jpeg")
    assert post(grown, proof_file=paper, proof_words="").status_code == 302
    proof = Proof.objects.get()
    assert {each.proof_file for each in Dose.objects.all()} == {proof}
    assert Dose.objects.filter(proof=True).count() == 3
    client = Client()
    client.force_login(grown.people.technician)
    address = reverse("proof", args=[grown.patient.pk, proof.pk])
    assert address in client.get(reverse("patient-prevention", args=[grown.patient.pk])).content.decode()
    answer = client.get(address)
    assert answer["Content-Type"] == "image/jpeg"
    assert "sandbox" in answer["Content-Security-Policy"]
    assert client.get(reverse("proof", args=[grown.patient.pk + 1, proof.pk])).status_code == 404


def test_nothing_typed_is_lost_and_the_paper_need_not_be_chosen_again(grown):
    paper = SimpleUploadedFile("booklet.jpg", PICTURE, "image/jpeg")
    wrong = post(grown, proof_file=paper, **{"on-1": "05/12/2024", "what-3": "", "lot-3": "Q-9"})
    shown = wrong.content.decode()
    assert (wrong.status_code, Dose.objects.count()) == (422, 0)
    for words in ("05/12/2024", "Q-9", "Other Three", "A day, a month or a year", "Against what?", "is kept"):
        assert words in shown
    kept = shown.partition('name="kept" value="')[2].partition('"')[0]
    assert post(grown, kept=kept).status_code == 302
    assert Proof.objects.count() == 1
    forged = post(grown, kept="ab/abc.jpg:forged")
    assert "Choose the paper again." in forged.content.decode()


@pytest.mark.parametrize(
    ("other", "words"),
    [
        ({"what-0": "", "on-0": "", "product-0": "", "lot-0": "", "months-0": "",
          "what-1": "", "on-1": "", "months-1": "", "what-2": "", "on-2": ""}, "Which dose? Fill in a row."),
        ({"on-2": "2090"}, "This day has not come yet."),
        ({"what-0": "moon"}, "Against what?"),
        ({"months-0": "7"}, "Not recorded: see below."),
        ({"source": "dream"}, "Not recorded: see below."),
    ],
)  # fmt: skip
def test_what_cannot_be_is_said_and_nothing_is_half_entered(grown, other, words):
    answer = post(grown, **other)
    assert answer.status_code == 422
    assert words in answer.content.decode()
    assert not Dose.objects.exists()


def test_a_file_that_is_no_paper_is_refused(grown):
    answer = post(grown, proof_file=SimpleUploadedFile("a.exe", b"MZ no paper"))
    assert "A proof is a PDF or a picture." in answer.content.decode()
    assert not Dose.objects.exists()


def test_the_owner_s_word_is_no_proof_whatever_lies_beside_it(grown):
    post(grown, source="owner")
    assert not Dose.objects.filter(proof=True).exists()
