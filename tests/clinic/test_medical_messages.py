"""Medical messages stand outside all that holds reminders back: a stop, the switch, the day's one mail."""

from collections.abc import Callable

import pytest
from django.core import mail as outgoing

from clinic.callbacks import actions
from clinic.callbacks.models import Asking
from clinic.callbacks.reminder_models import HouseholdReminder, ReminderSettings
from clinic.mail import actions as mail
from clinic.mail import further
from clinic.mail.models import Message
from clinic.models import Owner, Ownership, Staff
from clinic.people.actor import Actor
from tests import letters, people
from tests.clinic.test_care_results import blood, me, staff, told, visit  # noqa: F401 - fixtures, by name
from tests.letters import NOW, TODAY
from tests.owners import a_letter, printed

pytestmark = pytest.mark.django_db


def letter(_request: pytest.FixtureRequest) -> Message:
    return a_letter().messages.get()


def letter_of_a_result(request: pytest.FixtureRequest) -> Message:
    return printed(request.getfixturevalue("told")).messages.get()


def copy_for_another_owner(_request: pytest.FixtureRequest) -> Message:
    case = letters.sore_ear()
    kept = a_letter(case)
    other = people.owner("Else Where", "else@example.com")
    Ownership.objects.create(patient=kept.patient, owner=other, since=TODAY)
    return further.send_to_owner(letter=kept, owner=other, actor=case.actor("clinician"), now=NOW)


def mail_about_health(_request: pytest.FixtureRequest) -> Message:
    """As a recall is told, and whatever else a clinician writes without a letter."""
    people.clinic_details()
    patient, actor = people.patient(), people.people().actor("clinician")
    owner = Owner.objects.get()
    return mail.queue_medical(
        owner=owner, animals=[patient], subject="About Pomfret", body="b", once="m", actor=actor, now=NOW
    )


KINDS: list[Callable[[pytest.FixtureRequest], Message]] = [
    letter, letter_of_a_result, copy_for_another_owner, mail_about_health,
]  # fmt: skip


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.__name__)
def test_it_leaves_whatever_holds_reminders_back(kind, request) -> None:
    message = kind(request)
    owner = message.owner
    assert message.purpose == "medical"
    actions._suppress(owner.email, NOW)
    actions.stop_reminders(owner=owner, actor=Actor.of(Staff.objects.filter(is_active=True)[0]), now=NOW)
    ReminderSettings.objects.create(
        pk=1, rehearsal=True, paused=True, hold_out=50, quiet_from="00:00", quiet_until="23:59",
        quiet_days=[0, 1, 2, 3, 4, 5],
    )  # fmt: skip
    reminded = Message.objects.create(
        purpose="service", owner=owner, to_address=owner.email, subject="s", body="b", state="sent",
        state_since=NOW, sent_at=NOW, made_at=NOW, once="r",
    )  # fmt: skip
    HouseholdReminder.objects.create(
        owner=owner, day=TODAY, message=reminded, rest_until=TODAY, made_at=NOW
    )  # the household had its message of the day
    assert mail.send(message_id=message.pk, now=max(NOW, message.made_at)) == "sent"
    (sent,) = outgoing.outbox
    assert sent.to == [owner.email]
    assert "List-Unsubscribe" not in sent.message()
    assert not Asking.objects.exists()  # it asked for nothing, and counts as no asking
