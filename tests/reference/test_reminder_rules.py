"""Reminders against published and house rules: a death, an opt-out, a refusal, impossible dates."""

from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from django.core import mail as outgoing

from clinic.callbacks import actions, reminder_actions, reminding
from clinic.callbacks.models import CallBack
from clinic.callbacks.refreshing import refresh_patient
from clinic.callbacks.reminder_models import ReminderItem, ReminderSettings
from clinic.mail import actions as mail
from clinic.mail.models import Message
from clinic.models import Owner
from clinic.patients.actions import leave_practice, make_first_owner
from preventive.actions import decline, defer, hold, record_outside_dose
from preventive.errors import PreventionError
from tests import death, people

pytestmark = pytest.mark.django_db
UTC = ZoneInfo("UTC")


@pytest.fixture
def house(db: None) -> people.People:
    people.clinic_details()
    made = people.people()
    ReminderSettings.objects.create(pk=1, rehearsal=False, quiet_days=[])
    plan = reminder_actions.propose_plan(
        what="", days=[-30, 0, 30], series_days=[-7, -1], actor=made.actor("manager"), now=people.NOW
    )
    reminder_actions.approve_plan(plan=plan, actor=made.actor("manager"), now=people.NOW)
    return made


def on(day: date, *, hour: int = 4) -> datetime:
    return datetime(day.year, day.month, day.day, hour, tzinfo=UTC)


def a_day(day: date) -> None:
    """The house plans in the night and sends in the afternoon."""
    reminding.plan_batch(after=0, today=day, now=on(day))
    for each in Message.objects.filter(state="waiting"):
        mail.send(message_id=each.pk, now=on(day, hour=17))


def due(name: str, due_on: date, key: str = "rabies") -> CallBack:
    patient = people.patient(name, birth_date=date(2020, 1, 1))
    return CallBack.objects.create(
        patient=patient,
        source="dues",
        key=key,
        label="Rabies vaccine",
        due_on=due_on,
        refreshed_at=people.NOW,
    )


@pytest.mark.parametrize("source", [pytest.param("common practice", id="prev-M02")])
def test_after_a_death_only_what_had_left_was_sent(house, source) -> None:
    """Due on 10 June 2026; the steps are 11 May, 10 June, 10 July; it died on 20 May."""
    row = due("Pomfret", date(2026, 6, 10))
    day = date(2026, 5, 1)
    while day < date(2026, 8, 1):
        if day == date(2026, 5, 20):
            death.die(
                row.patient, actor=house.actor("clinician"), now=on(day, hour=12), facts=death.told(on=day)
            )
        a_day(day)
        day += timedelta(days=1)
    assert [at.date() for at in Message.objects.filter(state="sent").values_list("sent_at", flat=True)] == [
        date(2026, 5, 11)
    ], source
    assert len(outgoing.outbox) == 1
    assert list(ReminderItem.objects.values_list("step", flat=True)) == [-30]  # it stays in the history


@pytest.mark.parametrize(
    "source", [pytest.param("US CAN-SPAM, 15 USC 7704(a)(4): within 10 business days", id="prev-M03")]
)
def test_an_opt_out_is_obeyed_at_once(house, source) -> None:
    """Long before the law's last day nothing leaves any more, and what waited at that moment is cancelled."""
    row = due("Pomfret", date(2026, 5, 15))
    friday = date(2026, 5, 15)
    reminding.plan_batch(after=0, today=friday, now=on(friday))
    actions.stop_reminders(owner=Owner.objects.get(), actor=house.actor("assistant"), now=on(friday, hour=11))
    assert Message.objects.get().state == "cancelled", source
    for days in range(60):
        a_day(friday + timedelta(days=days))
    assert outgoing.outbox == []
    assert CallBack.objects.filter(pk=row.pk).exists()


@pytest.mark.parametrize("source", [pytest.param("record rule (ours)", id="prev-M04")])
def test_a_refusal_is_left_in_peace_for_a_year(house, source) -> None:
    patient = people.patient("Pomfret", birth_date=date(2018, 1, 9))
    said = date(2026, 5, 10)
    decline(
        actor=house.actor("clinician"), now=on(said, hour=10), patient=patient, visit=None,
        code="dog_leptospira", reason="never near water",
        risks_explained="explained", explained_by=house.clinician,
    )  # fmt: skip
    refresh_patient(patient_id=patient.pk, today=said, now=on(said))
    due_days = CallBack.objects.filter(patient=patient, label__icontains="lepto").values_list(
        "due_on", flat=True
    )
    assert list(due_days) == [date(2027, 5, 10)], source  # offered again after a year, and not before
    for days in (0, 30, 90, 200, 329):
        day = said + timedelta(days=days)
        a_day(day)
        assert not ReminderItem.objects.filter(label__icontains="lepto").exists(), day


@pytest.mark.parametrize(
    ("given_on", "source"),
    [
        pytest.param(date(2025, 1, 5), "date rule (ours)", id="prev-M05-before-birth"),
        pytest.param(date(2026, 3, 12), "date rule (ours)", id="prev-M05-tomorrow"),
    ],
)
def test_a_dose_on_an_impossible_day_puts_no_due_date_off(house, given_on, source) -> None:
    """Refused, or kept as the owner's paper says it and not counted: what is asked about stays the same."""
    patient = people.patient("Pomfret", birth_date=date(2025, 1, 6))
    refresh_patient(patient_id=patient.pk, today=people.TODAY, now=people.NOW)
    before = list(CallBack.objects.order_by("key").values_list("key", "due_on"))
    assert "dog_core:CDV" in {key for key, _ in before}
    try:
        record_outside_dose(
            actor=house.actor("clinician"), now=people.NOW, patient=patient, antigens=["CDV"],
            given_on=given_on, proof=True,
        )  # fmt: skip
    except PreventionError:
        assert given_on > people.TODAY
    assert list(CallBack.objects.order_by("key").values_list("key", "due_on")) == before, source


# --- The rules of stopping: whatever waits at that moment does not leave ------------------------------------

LEPTO = "dog_leptospira"


def told_elsewhere(row: CallBack, owner: Owner, house: people.People, now: datetime) -> None:
    actions.note_asking(
        owner=owner, rows=[row], how="call", outcome="elsewhere", actor=house.actor("assistant"), now=now
    )


def put_off(how: str, row: CallBack, house: people.People, now: datetime) -> None:
    facts = {"actor": house.actor("clinician"), "now": now, "patient": row.patient, "code": LEPTO}
    if how == "declined":
        decline(
            visit=None, reason="never near water", risks_explained="explained",
            explained_by=house.clinician, **facts,
        )  # fmt: skip
    elif how == "deferred":
        defer(visit=None, reason="unwell", until=now.date() + timedelta(days=60), **facts)
    else:
        hold(reason="a reaction", **facts)


def stops(rule: str, row: CallBack, house: people.People, now: datetime) -> None:
    """What happens after the message was queued, as the house notes it."""
    patient, owner = row.patient, row.patient.ownerships.get(is_first=True, until=None).owner
    clinician = house.actor("clinician")
    if rule == "deceased":
        death.die(patient, actor=clinician, now=now, facts=death.told(on=now.date()))
    elif rule == "transferred":
        leave_practice(patient=patient, on=now.date(), actor=clinician, now=now)
    elif rule == "inactive":
        type(patient).objects.filter(pk=patient.pk).update(made_at=now - timedelta(days=4 * 366))
    elif rule == "owner-changed":
        other = people.owner("Else Where", "else@example.com")
        make_first_owner(patient=patient, owner=other, actor=clinician, now=now)
    elif rule == "opted-out":
        actions.stop_reminders(owner=owner, actor=clinician, now=now)
    elif rule == "not-by-this-channel":
        Owner.objects.filter(pk=owner.pk).update(letters_by="paper", street="3 Mill Row")
    elif rule == "done-elsewhere":
        told_elsewhere(row, owner, house, now)
    elif rule == "applies-no-longer":
        CallBack.objects.filter(pk=row.pk).delete()  # so its source leaves it out when it is reckoned anew
    else:
        put_off(rule, row, house, now)


OF_ONE_THING = ("done-elsewhere", "declined", "deferred", "hold", "applies-no-longer")
OF_ALL = ("deceased", "transferred", "inactive", "owner-changed", "opted-out", "not-by-this-channel")


@pytest.mark.parametrize(
    "rule", [pytest.param(each, id=f"prev-9.2-{each}") for each in (*OF_ALL, *OF_ONE_THING)]
)
def test_what_waits_at_a_stop_does_not_leave(house, rule) -> None:
    """Common practice of reminders; an opt-out by US CAN-SPAM, 15 USC 7704(a)(4), and GDPR, art. 21."""
    patient = people.patient("Pomfret", birth_date=date(2018, 1, 9))
    day = people.TODAY
    refresh_patient(patient_id=patient.pk, today=day, now=on(day))
    row = CallBack.objects.get(patient=patient, label__icontains="lepto", due_on__lt=day)
    owner = patient.ownerships.get().owner
    reminder_actions.write_to(owner_ids=[owner.pk], actor=house.actor("manager"), now=on(day, hour=12))
    message = Message.objects.get()
    assert row.label in message.body
    stops(rule, row, house, on(day, hour=13))
    mail.send(message_id=message.pk, now=on(day, hour=17))
    assert not any(row.label in each.body for each in outgoing.outbox)
    assert len(outgoing.outbox) == (rule in OF_ONE_THING)  # the other things may be spoken of
    assert ReminderItem.objects.get(key=row.key).fell
