"""Promises and contacts as plain values for their pages, for Today and for the patient's page."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime

from django.urls import reverse
from django.utils import timezone

from clinic.people.actor import Actor
from clinic.platform.spans import span_words
from clinic.promises.fold import Promise, mine_first
from clinic.promises.models import Contact


@dataclass(frozen=True)
class PromiseRow:
    """`shape` and `mark` say how late it is, as shape and words; `mine`: whoever looks answers for it."""

    patient: str
    what: str
    who: str
    due: str
    shape: str
    mark: str
    late: bool
    mine: bool
    passed: str
    url: str
    patient_url: str
    died: str


def promise_rows(promises: Iterable[Promise], *, actor: Actor, today: date) -> tuple[PromiseRow, ...]:
    """One's own first, the longest overdue first."""
    me = actor.staff.pk
    return tuple(promise_row(each, me=me, today=today) for each in mine_first(promises, me))


def promise_row(each: Promise, *, me: int, today: date) -> PromiseRow:
    late = each.days_late(today) > 0
    due = f"{each.due_on:%A} {each.due_on.day} {each.due_on:%B}"
    due += f" {each.due_on.year}" if each.due_on.year != today.year else ""
    if late:
        shape, mark = "danger", f"late, {span_words(each.due_on, today)}"
    elif each.due_on == today:
        shape, mark = "abnormal", "today"
    else:
        shape, mark = "begun", due
    return PromiseRow(
        patient=each.patient_name,
        what=each.what,
        who=each.who or "Nobody named",
        due=due,
        shape=shape,
        mark=mark,
        late=late,
        mine=each.who_id == me,
        passed=each.passed,
        url=reverse("promise", args=[each.source, each.key]),
        patient_url=each.url or reverse("patient", args=[each.patient_id]),
        died=each.died,
    )


@dataclass(frozen=True)
class ContactRow:
    id: int
    kind: str
    with_whom: str
    text: str
    by: str
    happened: str
    entered: str
    about: tuple[str, ...]
    corrects: str
    corrected: tuple[str, ...]


def contact_rows(contacts: Iterable[Contact]) -> tuple[ContactRow, ...]:
    return tuple(_contact(each) for each in contacts)


def _at(at: datetime) -> str:
    local = timezone.localtime(at)
    return f"{local.day} {local:%B %Y, %H:%M}"


def _contact(each: Contact) -> ContactRow:
    about = [
        f"about {each.problem.title}" if each.problem else "",
        f"about the test {each.test.title}" if each.test else "",
        "owner told" if each.owner_told else "",
        *(f"closed a promise: {step.get_outcome_display()}" for step in each.closed_promises.all()),
        f"{each.again_by.full_name} gets back to them by {each.again_on.day} {each.again_on:%B}"
        if each.again_by and each.again_on
        else "",
    ]
    late = each.entered_at != each.happened_at
    return ContactRow(
        id=each.pk,
        kind=each.get_kind_display(),
        with_whom=each.with_whom,
        text=each.text,
        by=each.by.full_name,
        happened=_at(each.happened_at),
        entered=_at(each.entered_at) if late else "",
        about=tuple(part for part in about if part),
        corrects=f"{each.corrects.get_kind_display()}, {_at(each.corrects.happened_at)}"
        if each.corrects
        else "",
        corrected=tuple(f"{more.by.full_name}, {_at(more.entered_at)}" for more in each.corrections.all()),
    )
