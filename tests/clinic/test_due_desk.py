"""The manager's desk at the due list: filters, kept views, the list to telephone from, what came of calls."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from clinic.callbacks import actions, queries
from clinic.callbacks.manager_models import KeptView
from clinic.callbacks.models import Asking
from clinic.callbacks.queries import Wanted
from clinic.callbacks.reasons import over_run, over_words
from clinic.models import CallBack, LifestyleAnswer, Owner
from tests import people

pytestmark = pytest.mark.django_db


@pytest.fixture
def house(db: None) -> people.People:
    people.clinic_details()
    return people.people()


@pytest.fixture
def manager(house: people.People) -> Client:
    client = Client()
    client.force_login(house.manager)
    return client


def late(name: str = "Ada Lunt", *, days: int = 41, mail: str = "", **fields: object) -> CallBack:
    owner = Owner.objects.filter(family_name=name.split()[-1]).first() or people.owner(
        name, mail or f"{name.split()[-1].lower()}@example.com"
    )
    facts = {"key": "exam", "label": "Exam"} | fields
    animal = facts.pop("patient", None) or people.patient(f"Pet of {name}", of=owner)
    return CallBack.objects.create(
        patient=animal, source="dues", due_on=timezone.localdate() - timedelta(days=days),
        refreshed_at=people.NOW, **facts,
    )  # fmt: skip


def names(wanted: Wanted) -> list[str]:
    today = timezone.localdate()
    rows = queries.shown(queries.overdue(wanted, today=today), wanted.why)
    ids, _ = queries.households(rows, until=today)
    return [queries.owners(ids)[each].name for each in ids]


# --- Never recorded -----------------------------------------------------------------------------------------


def test_what_was_never_recorded_leads_nobody_and_is_worded_so(house: people.People, manager: Client) -> None:
    """A household with only such things stands behind all others; within one, they stand last."""
    late("Ada Lunt", days=16 * 365, never=True)
    late("Bo Tarn", days=3)
    both = late("Cy Ross", days=2)
    late("Cy Ross", patient=both.patient, days=4000, never=True, key="dental", label="Dental check")
    assert names(Wanted()) == ["Bo Tarn", "Cy Ross", "Ada Lunt"]
    page = manager.get(reverse("due-list")).content.decode()
    assert "16 years" not in page
    assert "never recorded" in page
    theirs = page[page.index(">Cy Ross</a>") :]
    assert theirs.index("Exam") < theirs.index("Dental check")
    assert over_words(timezone.localdate(), timezone.localdate(), never=True) == "never recorded"
    assert over_run(timezone.localdate() - timedelta(days=900), timezone.localdate(), never=True) == 2
    text = b"".join(manager.get(reverse("due-file")).streaming_content).decode()
    assert "never recorded" in text


# --- Filters ------------------------------------------------------------------------------------------------


def test_by_species_life_and_how_often_asked(house: people.People) -> None:
    cat = late("Ada Lunt")
    cat.patient.species = "cat"
    cat.patient.save()
    swims = late("Bo Tarn")
    LifestyleAnswer.objects.create(
        patient=swims.patient, code="water", answer="yes", review_on=timezone.localdate(),
        answered_at=people.NOW, entered_by=house.clinician,
    )  # fmt: skip
    for outcome in ("asked", "not-reached"):  # the second is heard by nobody
        actions.note_asking(
            owner=swims.patient.ownerships.get().owner, rows=[swims], how="call", outcome=outcome,
            actor=house.actor("assistant"), now=timezone.now() - timedelta(days=40),
        )  # fmt: skip
    assert names(Wanted(species="cat")) == ["Ada Lunt"]
    assert names(Wanted(life="water")) == ["Bo Tarn"]
    assert names(Wanted(asked="0")) == ["Ada Lunt"]
    assert names(Wanted(asked="1")) == ["Bo Tarn"]
    assert names(Wanted(asked="2")) == []


@pytest.mark.parametrize(
    "wanted",
    [Wanted(), Wanted(species="dog"), Wanted(asked="0"), Wanted(what="Exam"), Wanted(reach="mail"),
     Wanted(over=30), Wanted(life="water")],
)  # fmt: skip
def test_counts_match_the_rows_of_every_filter(house: people.People, wanted: Wanted) -> None:
    from clinic.callbacks.totals import fold, totals

    for number in range(4):
        late(f"Ada Lunt{number}", days=20 + 10 * number, label=("Exam", "Rabies vaccine")[number % 2])
    fold(now=timezone.now())
    today = timezone.localdate()
    rows = list(queries.overdue(wanted, today=today).filter(why=""))
    found = totals(wanted, today=today)
    assert found.things == len(rows)
    assert sum(found.reach.values()) == len(names(wanted)) == len({row.household for row in rows})


def test_the_form_offers_what_the_rooms_call_a_life(manager: Client) -> None:
    page = manager.get(reverse("due-list")).content.decode()
    assert 'name="life"' in page
    assert 'name="species"' in page
    assert "any way" in page


def test_results_and_records_that_wait_stand_beside(house: people.People, manager: Client) -> None:
    assert "not signed" not in manager.get(reverse("due-list")).content.decode()
    visit = people.visit_here(clinician=house.clinician)
    visit.place, visit.gone_at = "gone-home", timezone.now() - timedelta(days=2)
    visit.save()
    assert "1 record of an earlier day not signed" in manager.get(reverse("due-list")).content.decode()


# --- Kept views ---------------------------------------------------------------------------------------------


def test_a_view_is_kept_shown_renamed_and_removed(house: people.People, manager: Client) -> None:
    late()
    page = manager.get(f"{reverse('due-list')}?over=30&species=dog")
    form = page.context["keep"]
    sent = {"name": " Dogs,  a month ", "asked_for": form["asked_for"].value()}
    assert manager.post(reverse("due-views"), sent).status_code == 302
    view = KeptView.objects.get()
    assert (view.name, view.of) == ("Dogs, a month", house.manager)
    shown = manager.get(f"{reverse('due-list')}?{view.asked_for}").content.decode()
    assert "<h1>Dogs, a month</h1>" in shown
    assert "1 thing is overdue" in shown
    other = Client()
    other.force_login(house.assistant)
    assert "Dogs, a month" not in other.get(reverse("due-list")).content.decode()
    assert other.post(reverse("due-view-drop", args=[view.pk])).status_code == 404
    assert manager.post(reverse("due-view-rename", args=[view.pk]), {"name": ""}).status_code == 422
    manager.post(reverse("due-view-rename", args=[view.pk]), {"name": "Dogs"})
    manager.post(reverse("due-view-drop", args=[view.pk]))
    assert not KeptView.objects.exists()


def test_a_view_for_everybody_is_the_managers_to_keep(house: people.People, manager: Client) -> None:
    sent = {"name": "Dogs", "asked_for": "species=dog", "everybody": "on"}
    other = Client()
    other.force_login(house.assistant)
    assert other.post(reverse("due-views"), sent).status_code == 403
    for status in (302, 422):  # the second time the name is taken, and what was typed stands there
        assert manager.post(reverse("due-views"), sent).status_code == status
    assert "Dogs" in other.get(reverse("due-list")).content.decode()


# --- By telephone -------------------------------------------------------------------------------------------


def test_the_paper_has_the_list_s_households_numbers_and_room(house: people.People, manager: Client) -> None:
    late("Ada Lunt", days=90)
    late("Bo Tarn", days=10)
    page = manager.get(f"{reverse('due-calls')}?over=30")
    text = page.content.decode()
    assert [each.name for each in page.context["houses"]] == ["Ada Lunt"]
    assert "call-number" in text
    assert "reached, will come" in text
    assert "wrong number" in text
    many = manager.get(reverse("due-calls"))
    assert len(many.context["houses"]) == 2
    assert not many.context["more"]


def post_call(client: Client, row: CallBack, **fields: object):
    url = reverse("due-household", args=[row.patient.ownerships.get().owner_id])
    once = client.get(url).context["form"]["once"].value()
    return client.post(url, {"items": [row.pk], "how": "call", "once": once, **fields})


def why(row: CallBack) -> str:
    today = timezone.localdate()
    return queries.call_backs(today=today, until=today).get(pk=row.pk).why


def test_a_wrong_number_is_no_way_to_reach_them_until_taken_back(
    house: people.People, manager: Client
) -> None:
    owner = people.owner("Ada Lunt", "")
    row = late("Ada Lunt")
    number = owner.phones.get().number
    assert queries.owners([owner.pk])[owner.pk].reach == "telephone"
    post_call(manager, row, outcome="wrong-number", number=number)
    assert queries.owners([owner.pk])[owner.pk].reach in ("paper", "nothing")
    page = manager.get(reverse("due-household", args=[owner.pk])).content.decode()
    assert f"<s>{number}</s> wrong number" in page
    asking = Asking.objects.get()
    for _each in range(2):  # a second tap
        manager.post(reverse("due-take-back", args=[owner.pk, asking.pk]))
    assert queries.owners([owner.pk])[owner.pk].reach == "telephone"
    assert why(row) == ""
    assert "taken back by" in manager.get(reverse("due-household", args=[owner.pk])).content.decode()


@pytest.mark.parametrize(
    ("outcome", "leads", "days"),
    [("will-come", "due-household", 14), ("died", "patient-death", 2), ("moved", "patient-left", 2)],
)
def test_what_was_said_leads_to_its_consequence_and_can_be_taken_back(
    manager: Client, outcome: str, leads: str, days: int
) -> None:
    """A death and a move are confirmed on their own pages: the note alone changes nothing of the animal."""
    row = late()
    answer = post_call(manager, row, outcome=outcome)
    owner = row.patient.ownerships.get().owner_id
    target = owner if leads == "due-household" else row.patient_id
    assert answer.headers["Location"] == reverse(leads, args=[target])
    row.patient.refresh_from_db()
    assert row.patient.deceased_on is None
    assert row.patient.left_practice_on is None
    asking = Asking.objects.get()
    assert asking.again_on == timezone.localdate() + timedelta(days=days)
    assert why(row) == "lately"
    manager.post(reverse("due-take-back", args=[owner, asking.pk]))
    assert why(row) == ""


def test_somebody_elses_asking_is_not_taken_back_here(manager: Client) -> None:
    row, other = late(), late("Bo Tarn")
    post_call(manager, row, outcome="asked")
    url = reverse("due-take-back", args=[other.patient.ownerships.get().owner_id, Asking.objects.get().pk])
    assert manager.post(url).status_code == 404


@pytest.mark.parametrize("name", ["due-list", "due-calls"])
def test_as_many_queries_for_two_as_for_twenty(manager: Client, name: str) -> None:
    taken = []
    for start, stop in ((0, 2), (2, 20)):
        for number in range(start, stop):
            late(f"Ada Lunt{number}", days=20 + number)
        manager.get(reverse(name))
        with CaptureQueriesContext(connection) as sql:
            assert manager.get(reverse(name)).status_code == 200
        taken.append(len(sql))
    assert taken[0] == taken[1] <= 26, taken
