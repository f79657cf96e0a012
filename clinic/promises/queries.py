"""Every open promise of the house, in a fixed number of queries; the contacts of a patient."""

from collections import defaultdict
from collections.abc import Iterable
from datetime import date

from django.db.models import CharField, Exists, OuterRef
from django.db.models.functions import Cast
from django.shortcuts import get_object_or_404

from clinic.patients.models import Patient
from clinic.people.actor import Actor
from clinic.people.models import Owner, Staff
from clinic.people.rights import Right
from clinic.platform.registries import promise_sources
from clinic.promises.fold import Promise, Step, fold, until
from clinic.promises.models import Contact, PromiseStep
from clinic.promises.rows import said


def closed(source: str) -> Exists:
    """For a source's query: that a step closed the row's promise."""
    return Exists(
        PromiseStep.objects.filter(
            source=source, key=Cast(OuterRef("pk"), CharField()), what=PromiseStep.What.CLOSED
        )
    )


def open_promises(*, by: date | None = None, patient: Patient | None = None) -> list[Promise]:
    """All that nobody closed; `by`: only those due by that day. Two queries, and one for each source."""
    keys: dict[str, set[str]] = defaultdict(set)
    if by is not None:  # moved forward: the source still has the later day
        for source, key in (
            PromiseStep.objects.filter(due_on__lte=by).exclude(what="closed").values_list("source", "key")
        ):
            keys[source].add(key)
    found = [
        each
        for source in promise_sources
        for each in source.open(by=by, also=frozenset(keys[source.name]), patient=patient)
    ]
    folded = fold(found, newest_steps(each.name for each in found))
    return folded if by is None else until(folded, by)


def newest_steps(names: Iterable[tuple[str, str]]) -> dict[tuple[str, str], Step]:
    """The last step of each. One query."""
    wanted = set(names)
    rows = (
        PromiseStep.objects.filter(
            source__in={source for source, _ in wanted}, key__in={key for _, key in wanted}
        )
        .select_related("answerable", "by")
        .order_by("source", "key", "-number")
        .distinct("source", "key")
    )
    return {
        (row.source, row.key): Step(
            number=row.number,
            closes=row.what == PromiseStep.What.CLOSED,
            due_on=row.due_on,
            who_id=row.answerable_id,
            who=row.answerable.full_name if row.answerable else "",
            at=row.at,
            words=said(row),
            by_id=row.by_id,
        )
        for row in rows
    }


def steps_of(source: str, key: str) -> list[PromiseStep]:
    """In the order in which they happened."""
    rows = PromiseStep.objects.filter(source=source, key=key).select_related("by", "answerable")
    return list(rows.order_by("number"))


def contacts_of(patient: Patient, *, at_most: int | None = None) -> list[Contact]:
    """The newest first, with what corrects them. Two queries."""
    rows = (
        Contact.objects.filter(patient=patient)
        .select_related("by", "problem", "test", "plan_line", "corrects", "again_by")
        .prefetch_related("corrections__by", "closed_promises")
        .order_by("-happened_at", "-pk")
    )
    return list(rows[:at_most])


def staff_at_work() -> list[Staff]:
    """Whom something can be handed to, by name."""
    return list(Staff.objects.filter(is_active=True).order_by("full_name", "pk"))


# --- Loading with authorisation ---------------------------------------------------------------------------


def find_promise(source: str, key: str, *, actor: Actor) -> Promise | None:
    """One open promise as last agreed; None for what never was, or is closed."""
    actor.require(Right.SEE)
    for entry in promise_sources:
        if entry.name == source and (found := entry.one(key)) is not None:
            return next(iter(fold([found], newest_steps([found.name]))), None)
    return None


def access_patient(patient_id: int, *, actor: Actor, right: Right = Right.SEE) -> Patient:
    actor.require(right)
    return get_object_or_404(Patient, pk=patient_id)


def access_contact(contact_id: int, *, patient: Patient, actor: Actor) -> Contact:
    """A contact of this patient, to be corrected."""
    actor.require(Right.NOTE_CONTACT)
    return get_object_or_404(Contact, pk=contact_id, patient=patient)


def access_person(staff_id: int | None, *, actor: Actor) -> Staff | None:
    actor.require(Right.SEE)
    return get_object_or_404(Staff, pk=staff_id, is_active=True) if staff_id else None


def owners_of(patient: Patient) -> list[Owner]:
    """Who may be spoken to about the patient now, the first one first."""
    rows = Owner.objects.filter(ownerships__patient=patient, ownerships__until=None)
    return list(rows.order_by("-ownerships__is_first", "pk"))
