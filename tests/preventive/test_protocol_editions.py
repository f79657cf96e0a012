"""Another answer to a question of the protocol: asked for, tried on everybody, approved into an edition."""

from datetime import date, timedelta
from uuid import uuid4

import pytest
from django.core.exceptions import PermissionDenied
from django.db import DatabaseError, connection, transaction
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from clinic.callbacks.models import CallBack
from clinic.models import ClinicDetails
from clinic.platform.models import DataVersion
from preventive import actions
from preventive.actions import trying
from preventive.actions.trying import begin_trial
from preventive.errors import DecidedAlready, Incomplete, NotTried
from preventive.models import ProtocolEdition
from preventive.protocol import Protocol
from preventive.protocol_page import law_of, trial_of
from preventive.tasks import AT_ONCE, refresh_dues
from preventive.trial import tried
from preventive.versions import protocol_in_force
from tests import people
from tests.people import NOW, TODAY
from tests.preventive.build import core, dog, dose, history, under
from tests.preventive.room import room

pytestmark = pytest.mark.django_db


@pytest.fixture
def puppy():
    return room()


def asked(puppy, option="fifteen_months", setting="leptospira_lapse", by="manager", **facts):
    facts = {"why": "the usual here"} | facts
    return actions.propose_setting(actor=puppy.actor(by), now=NOW, setting=setting, option=option, **facts)


def approve(puppy, proposal, by="clinician"):
    return actions.approve_proposal(actor=puppy.actor(by), now=NOW, proposal=proposal)


def chosen(protocol, code="leptospira_lapse"):
    return next(each.chosen for each in protocol.settings if each.code == code)


def test_a_manager_asks_and_a_clinician_approves(puppy):
    proposal = asked(puppy)
    assert chosen(protocol_in_force()) == "eighteen_months"
    with pytest.raises(PermissionDenied):
        approve(puppy, proposal, by="manager")
    edition = approve(puppy, proposal)
    assert edition.number == 1
    assert chosen(protocol_in_force()) == "fifteen_months"
    assert "15 months since the last dose, instead of: 18 months" in edition.words


def test_the_edition_is_an_immutable_version_found_by_its_sum(puppy):
    edition = approve(puppy, asked(puppy))
    protocol = protocol_in_force()
    row = DataVersion.objects.get(pk=edition.version.pk)
    assert row.sha256 == protocol.sha256 == Protocol(row.body).sha256
    assert row.approved_by == puppy.people.clinician
    with pytest.raises(DatabaseError), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("UPDATE preventive_protocoledition SET words = 'nothing'")


def test_editions_add_up_and_a_dose_keeps_its_version(puppy):
    first = puppy.give()
    approve(puppy, asked(puppy))
    edition = approve(puppy, asked(puppy, "one_live", "dog_core_late_start"))
    assert edition.number == 2
    assert edition.settings == {"leptospira_lapse": "fifteen_months", "dog_core_late_start": "one_live"}
    first.refresh_from_db()
    assert chosen(Protocol(first.protocol.body)) == "eighteen_months"


def test_a_choice_among_the_details_holds_until_the_first_edition_takes_it_over(puppy):
    ClinicDetails.objects.update(settings={"faecal_adult": "yearly"})
    edition = approve(puppy, asked(puppy))
    assert edition.settings == {"faecal_adult": "yearly", "leptospira_lapse": "fifteen_months"}


def test_nothing_is_decided_twice(puppy):
    proposal = asked(puppy)
    approve(puppy, proposal)
    with pytest.raises(DecidedAlready):
        approve(puppy, proposal)
    with pytest.raises(DecidedAlready):
        actions.decline_proposal(actor=puppy.actor(), now=NOW, proposal=proposal, why="no")


def test_whoever_asked_takes_it_back_and_a_clinician_says_why_not(puppy):
    mine, other = asked(puppy), asked(puppy)
    actions.decline_proposal(actor=puppy.actor("manager"), now=NOW, proposal=mine)
    with pytest.raises(Incomplete):
        actions.decline_proposal(actor=puppy.actor(), now=NOW, proposal=other, why=" ")
    actions.decline_proposal(actor=puppy.actor(), now=NOW, proposal=other, why="AAHA stays our guide")
    assert [mine.__class__.objects.get(pk=each.pk).state for each in (mine, other)] == [
        "withdrawn",
        "declined",
    ]
    assert not ProtocolEdition.objects.exists()


@pytest.mark.parametrize(
    ("wrong", "field"),
    [({"option": "nineteen"}, "option"), ({"option": "eighteen_months"}, "option"), ({"why": " "}, "why")],
)
def test_what_cannot_be_asked_is_said(puppy, wrong, field):
    with pytest.raises(Incomplete) as refused:
        asked(puppy, **wrong)
    assert refused.value.field == field


# prev-L07: UK practice convention (C) against AAHA 2017 (B): 15 months are over, 18 are not
def test_a_trial_says_what_moves_for_one_animal():
    animal = dog("2018-01-06")
    given = history(
        *(dose(on, "Leptospira", kind="inactivated") for on in ("2023-01-15", "2023-02-12", "2024-01-15"))
    )
    moved = tried(animal, given, under(), under(leptospira_lapse="fifteen_months"), date(2025, 5, 1))
    assert {each.code for each in moved} == {"dog_leptospira"}
    assert {each.how for each in moved} == {"other"}


# prev-D12: WSAVA 2024 (B): the booster at 26 weeks, 2025-07-07, in place of the one a year later
def test_a_trial_says_who_becomes_due_and_who_is_due_earlier():
    animal, doses = dog("2025-01-06"), history(*core("2025-03-03", "2025-03-31", "2025-04-28"))
    after = under(dog_core_first_booster="wsava_26_weeks")
    soon = {each.code: each for each in tried(animal, doses, under(), after, date(2025, 5, 1))}
    assert soon["dog_core:CPV"].how == "earlier"
    assert soon["dog_core:CPV"].after.endswith("7 July 2025")
    later = {each.code: each.how for each in tried(animal, doses, under(), after, date(2025, 7, 7))}
    assert later["dog_core:CPV"] == "due"
    back = {each.code: each.how for each in tried(animal, doses, after, under(), date(2025, 7, 7))}
    assert back["dog_core:CPV"] == "free"


# prev-R16 (A): 25 TAC 169.29, by 16 weeks of age, 2025-04-28
def test_a_trial_says_what_differs_where_the_day_itself_does_not():
    (moved,) = tried(
        dog("2025-01-06"), history(), under(), under(rabies_deadline="sixteen_weeks"), date(2025, 2, 1)
    )
    assert moved.before != moved.after
    assert "28 April 2025" in moved.after


def test_no_row_of_a_trial_reads_the_same_before_and_after():
    doses = history(*core("2025-03-03", "2025-03-31"), dose("2025-03-31", "Leptospira", kind="inactivated"))
    animal, before, rows = dog("2025-01-06"), under(), 0
    for setting in before.settings:
        for option in (each for each in setting.options if each.code != setting.chosen):
            after = under(**{setting.code: option.code})
            for on in (date(2025, 2, 1), date(2025, 5, 1), date(2026, 5, 1)):
                for moved in tried(animal, doses, before, after, on):
                    assert moved.before != moved.after, (setting.code, option.code, moved)
                    rows += 1
    assert rows > 10


def test_the_same_protocol_moves_nothing():
    assert tried(dog("2018-01-06"), history(), under(), under(), date(2025, 5, 1)) == ()


def test_a_trial_takes_the_whole_practice_without_the_dead(puppy):
    owner = puppy.patient.owners.first()
    grown = people.patient("Sorrel", of=owner, birth_date=date(2020, 3, 1))
    gone = people.patient("Old", of=owner, birth_date=date(2012, 3, 1), deceased_on=TODAY)
    proposal = asked(puppy, "noncore", "leptospira_category")
    trial = trial_of(proposal)
    assert (trial.animals, trial.of, trial.ended) == (2, 2, True)
    names = {row.patient for row in trial.rows}
    assert grown.name in names
    assert gone.name not in names
    assert not ProtocolEdition.objects.exists()


def in_small_steps(puppy, monkeypatch, animals=7, size=3):
    """A proposal whose trial the worker has to go on with; and what waits for the worker."""
    queued = []
    monkeypatch.setattr(trying, "queue_trial", lambda trial_id, last: queued.append((trial_id, last)))
    monkeypatch.setattr(begin_trial, "__kwdefaults__", {"at_once": size})
    owner = puppy.patient.owners.first()
    for number in range(animals - 1):
        people.patient(f"N{number}", of=owner, birth_date=date(2020, 3, 1))
    return asked(puppy, "noncore", "leptospira_category"), queued


def test_a_large_practice_is_tried_step_by_step_and_a_step_twice_counts_once(puppy, monkeypatch):
    whole = trial_of(asked(puppy, "noncore", "leptospira_category"))
    proposal, queued = in_small_steps(puppy, monkeypatch)
    assert trial_of(proposal).animals == 3
    assert not trial_of(proposal).ended
    with pytest.raises(NotTried):
        approve(puppy, proposal)
    steps = 0
    while queued:
        trial_id, last = queued.pop(0)
        for _again in range(2):
            trying.go_on(trial_id=trial_id, last=last, now=NOW, size=3)
        steps += 1
    assert steps == 2
    done = trial_of(proposal)
    assert (done.animals, done.of, done.ended) == (7, 7, True)
    assert done.touched > whole.touched
    assert approve(puppy, proposal).number == 1


def test_a_trial_under_an_earlier_edition_does_not_let_it_be_approved(puppy, monkeypatch):
    first, (second, queued) = asked(puppy), in_small_steps(puppy, monkeypatch)
    approve(puppy, first)
    trial_id, last = queued[0]
    assert trying.go_on(trial_id=trial_id, last=last, now=NOW, size=3).tried == 3
    assert second.trials.count() == 2  # begun again by the approval
    with pytest.raises(NotTried):
        approve(puppy, second)
    trial_id, last = queued[-1]
    trying.go_on(trial_id=trial_id, last=last, now=NOW, size=10)
    assert approve(puppy, second).number == 2


def test_the_page_says_how_far_the_trial_is_and_looks_again_by_itself(puppy, monkeypatch):
    proposal, queued = in_small_steps(puppy, monkeypatch)
    page = reverse("protocol-proposal", args=[proposal.pk])
    shown = client(puppy, "clinician").get(page).content.decode()
    assert "3 of 7 animals are done." in shown
    assert 'hx-trigger="every 2s"' in shown
    assert "Approve it" not in shown
    trying.go_on(trial_id=queued[0][0], last=queued[0][1], now=NOW, size=10)
    shown = client(puppy, "clinician").get(page).content.decode()
    assert "Tried on every animal" in shown
    assert "hx-trigger" not in shown
    assert "Approve it" in shown
    assert client(puppy, "clinician").post(reverse("protocol-try", args=[proposal.pk])).status_code == 302
    assert proposal.trials.count() == 2


def test_the_law_is_said_with_its_source_and_from_memory_is_marked():
    said = {each.text: each.source for each in law_of(under("us-tx"))}
    assert said["Currently vaccinated 30 days after the first dose; after a booster at once."] == (
        "Texas import rule"
    )
    assert said["First dose by 16 weeks of age."] == "25 TAC 169.29"
    assert any("from memory" in source for source in said.values())
    for place in under().rules.jurisdictions:
        assert len(list(law_of(under(place)))) >= 4


def test_after_an_approval_a_worker_reckons_every_due(puppy):
    before = CallBack.objects.filter(patient=puppy.patient).count()
    CallBack.objects.all().delete()
    refresh_dues(after=0)
    assert CallBack.objects.filter(patient=puppy.patient).count() >= max(before, 1)


def test_a_hundred_patients_at_once_and_then_a_job_for_the_next(puppy, monkeypatch):
    queued = []
    monkeypatch.setattr("preventive.tasks.queue_all_dues", lambda after=0: queued.append(after))
    owner = puppy.patient.owners.first()
    made = [people.patient(f"N{n}", of=owner) for n in range(AT_ONCE)]
    refresh_dues(after=0)
    assert queued == [made[-2].pk]


# --- the pages ---


def client(puppy, role="manager"):
    made = Client()
    made.force_login(getattr(puppy.people, role))
    return made


def test_law_stands_apart_from_guideline(puppy):
    shown = client(puppy).get(reverse("protocol")).content.decode()
    law, guideline = shown.split("Guidelines: where they disagree")
    assert "Currently vaccinated 28 days after the first dose" in law
    assert "What does a late rabies booster mean?" in law
    assert "What does a late rabies booster mean?" not in guideline
    assert "After how long does a lapsed leptospirosis booster mean two doses again?" in guideline
    assert "from memory, to be checked" in guideline


def test_asking_leads_to_the_trial_and_approval_to_the_edition(puppy):
    sent = {"once": uuid4(), "setting": "leptospira_category", "option": "noncore", "why": "dry hills"}
    answer = client(puppy).post(reverse("protocol-propose"), sent, follow=True)
    shown = answer.content.decode()
    assert "Tried on every animal" in shown
    assert "A clinician approves it." in shown
    again = client(puppy).post(reverse("protocol-propose"), sent, follow=True)
    assert again.redirect_chain[-1][0] == reverse("protocol")
    page = answer.redirect_chain[-1][0]
    assert client(puppy, "clinician").post(f"{page}approve/").status_code == 302
    assert "dry hills" in client(puppy).get(reverse("protocol-editions")).content.decode()


def test_what_was_typed_stays(puppy):
    sent = {"once": uuid4(), "setting": "leptospira_lapse", "option": "eighteen_months", "why": "dry hills"}
    answer = client(puppy).post(reverse("protocol-propose"), sent)
    assert answer.status_code == 422
    assert "That is the answer already." in answer.content.decode()
    assert "dry hills</textarea>" in answer.content.decode()


def test_the_trial_takes_the_same_queries_for_two_animals_and_twenty(puppy):
    looks, page = client(puppy), reverse("protocol-proposal", args=[asked(puppy).pk])

    def queries():
        looks.get(page)
        with CaptureQueriesContext(connection) as counted:
            looks.get(page)
        return len(counted)

    few = queries()
    owner = puppy.patient.owners.first()
    for number in range(20):
        people.patient(f"N{number}", of=owner, birth_date=TODAY - timedelta(100 * number + 50))
    assert queries() == few
