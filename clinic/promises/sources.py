"""What care itself promises: plan lines with a day, what is offered again, and getting back to somebody."""

from collections.abc import Iterable
from datetime import date, datetime, timedelta
from typing import Generic, TypeVar

from django.db.models import BigIntegerField, Case, Exists, F, Model, OuterRef, Q, QuerySet, Subquery, When
from django.db.models.functions import Coalesce, TruncDate
from django.urls import reverse

from clinic.callbacks.soon import reckon_soon
from clinic.care.models import PlanLine, PlanProgress, Test, TestResult
from clinic.patients.facts import died_words
from clinic.patients.models import Patient
from clinic.people.actor import Actor
from clinic.promises.fold import Promise
from clinic.promises.models import Contact, PromiseStep
from clinic.promises.queries import closed

Row = TypeVar("Row", bound=Model)
ASKED_AFTER = timedelta(days=7)
SETTLED = (PlanLine.Standing.DONE, PlanLine.Standing.DECLINED)


def _numbers(keys: Iterable[str]) -> list[int]:
    return [int(key) for key in keys if key.isascii() and key.isdigit() and len(key) < 18]


class _Rows(Generic[Row]):
    """One query of rows, each a promise. `due`: the name of its day; `patient`: the way to whose."""

    name = ""
    order = 0
    due = ""
    patient = "record__visit__patient"

    def open(
        self, *, by: date | None = None, also: frozenset[str] = frozenset(), patient: Patient | None = None
    ) -> list[Promise]:
        rows = self.rows()
        if patient is not None:
            rows = rows.filter(**{self.patient: patient})
        if by is not None:
            rows = rows.filter(Q(**{f"{self.due}__lte": by}) | Q(pk__in=_numbers(also)))
        return [self._promise(row) for row in rows]

    def one(self, key: str) -> Promise | None:
        row = self.rows().filter(pk__in=_numbers([key])).first()
        return self._promise(row) if row else None

    def rows(self) -> QuerySet[Row]:
        raise NotImplementedError

    def _promise(self, row: Row) -> Promise:
        raise NotImplementedError

    def stepped(self, key: str, step: PromiseStep, *, actor: Actor, now: datetime) -> None:
        """What was signed stays as it is; the step is all."""


class PlannedLines(_Rows[PlanLine]):
    """A plan line that has a day and a person, as first written or as last agreed; also before it is signed.

    To tell a result is kept by the visit's letter, where a clinician had read it before the signature.
    What a patient that died was promised does not vanish: whoever records the death closes it by that, or
    hands it to a clinician (`clinic/death`).
    """

    name, order, due = "plan-line", 10, "due"

    def rows(self) -> QuerySet[PlanLine]:
        steps = PlanProgress.objects.filter(line=OuterRef("pk"))
        last = steps.order_by("-at", "-pk")
        person = last.filter(answerable__isnull=False)
        in_the_letter = TestResult.objects.filter(
            test__plan_line=OuterRef("pk"),
            struck_at=None,
            read_at__lte=F("test__record__signed_at"),
        )
        return (
            PlanLine.objects.exclude(standing__in=SETTLED)
            .filter(
                ~Exists(steps.filter(standing__in=SETTLED)),
                ~Exists(in_the_letter),
                ~closed(self.name),
            )
            .annotate(
                due=Coalesce(Subquery(last.filter(due_on__isnull=False).values("due_on")[:1]), F("due_on")),
                who_id=Coalesce(
                    Subquery(person.values("answerable")[:1]), F("answerable"), output_field=BigIntegerField()
                ),
                who=Coalesce(
                    Subquery(person.values("answerable__full_name")[:1]), F("answerable__full_name")
                ),
                spoken=Coalesce(
                    Subquery(
                        last.filter(Q(due_on__isnull=False) | Q(answerable__isnull=False)).values("at")[:1]
                    ),
                    F("at"),
                ),
            )
            .filter(due__isnull=False)
            .select_related("record__visit__patient")
            .order_by("due", "pk")
        )

    def _promise(self, row: PlanLine) -> Promise:
        visit = row.record.visit
        return Promise(
            source=self.name,
            key=str(row.pk),
            patient_id=visit.patient_id,
            patient_name=visit.patient.name,
            what=f"{row.get_kind_display()}: {row.text}",
            due_on=row.due,  # type: ignore[attr-defined]
            who_id=row.who_id,  # type: ignore[attr-defined]
            who=row.who or "",  # type: ignore[attr-defined]
            as_of=row.spoken,  # type: ignore[attr-defined]
            url=reverse("visit-plan", args=[visit.pk]),
            died=died_words(visit.patient),
        )

    def stepped(self, key: str, step: PromiseStep, *, actor: Actor, now: datetime) -> None:
        """Said at the plan line too, so that its page and the list never differ."""
        line = PlanLine.objects.select_related("record__visit").get(pk=int(key))
        reckon_soon(line.record.visit.patient_id)
        last = line.progress.order_by("-at", "-pk").first()
        standing = last.standing if last else line.standing
        if step.what == PromiseStep.What.CLOSED and step.outcome == PromiseStep.Outcome.DONE:
            standing = PlanLine.Standing.DONE
        PlanProgress.objects.create(
            line=line,
            standing=standing,
            note=_note(step),
            answerable=step.answerable,
            due_on=step.due_on,
            by=actor.staff,
            at=now,
        )


def _note(step: PromiseStep) -> str:
    return f"{step.get_outcome_display()}: {step.words}" if step.outcome else step.words


class OfferedAgain(_Rows[PlanLine]):
    """What was declined and is offered again on a day, by whoever explained it, until a plan line does."""

    name, order, due = "offer-again", 20, "offer_again_on"

    def rows(self) -> QuerySet[PlanLine]:
        return (
            PlanLine.objects.filter(
                ~closed(self.name),
                ~Exists(PlanLine.objects.filter(again_of=OuterRef("pk"))),
                standing=PlanLine.Standing.DECLINED,
                offer_again_on__isnull=False,
            )
            .select_related("record__visit__patient", "explained_by")
            .order_by("offer_again_on", "pk")
        )

    def _promise(self, row: PlanLine) -> Promise:
        assert row.offer_again_on
        visit = row.record.visit
        return Promise(
            source=self.name,
            key=str(row.pk),
            patient_id=visit.patient_id,
            patient_name=visit.patient.name,
            what=f"offer again: {row.text}",
            due_on=row.offer_again_on,
            who_id=row.explained_by_id,
            who=row.explained_by.full_name if row.explained_by else "",
            as_of=row.at,
            url=reverse("visit-plan", args=[visit.pk]),
            died=died_words(visit.patient),
        )


class GettingBack(_Rows[Contact]):
    """A contact that ended with “we get back to you by …”; also after a death, for people remain."""

    name, order, due, patient = "contact", 30, "again_on", "patient"

    def rows(self) -> QuerySet[Contact]:
        return (
            Contact.objects.filter(~closed(self.name), again_on__isnull=False)
            .select_related("patient", "again_by")
            .order_by("again_on", "pk")
        )

    def _promise(self, row: Contact) -> Promise:
        assert row.again_on
        assert row.again_by
        return Promise(
            source=self.name,
            key=str(row.pk),
            patient_id=row.patient_id,
            patient_name=row.patient.name,
            what=f"get back to {row.with_whom}: {row.text}",
            due_on=row.again_on,
            who_id=row.again_by_id,
            who=row.again_by.full_name,
            as_of=row.entered_at,
            url=reverse("patient-contacts", args=[row.patient_id]),
            died=died_words(row.patient),
        )


class AwaitedTests(_Rows[Test]):
    """A test without a result, where no plan line names a day for it. A result is the event that ends it.

    One that left the house is asked for after a week (common practice). A sample that was taken here is due
    on its own day, from the signature on: the owner's letter says that its result is pending.
    """

    name, order, due, patient = "test-awaited", 40, "due", "patient"

    def rows(self) -> QuerySet[Test]:
        return (
            Test.objects.filter(
                ~closed(self.name),
                ~Exists(TestResult.objects.filter(test=OuterRef("pk"), struck_at=None)),
                Q(plan_line=None) | Q(plan_line__due_on=None),
                Q(in_house=False, sent_at__isnull=False)
                | Q(in_house=True, taken_at__isnull=False, record__signed_at__isnull=False),
            )
            .annotate(
                due=Case(
                    When(in_house=True, then=TruncDate("taken_at")),
                    default=TruncDate(F("sent_at") + ASKED_AFTER),
                )
            )
            .select_related("patient", "ordered_by", "record")
            .order_by("due", "pk")
        )

    def _promise(self, row: Test) -> Promise:
        what = "look at the sample" if row.in_house else "ask for the result"
        as_of = row.taken_at if row.in_house else row.sent_at
        return _of_test(self.name, row, f"{what}: {row.title}", row.due, as_of)  # type: ignore[attr-defined]


def _of_test(source: str, row: Test, what: str, due: date, as_of: datetime | None) -> Promise:
    return Promise(
        source=source,
        key=str(row.pk),
        patient_id=row.patient_id,
        patient_name=row.patient.name,
        what=what,
        due_on=due,
        who_id=row.ordered_by_id,
        who=row.ordered_by.full_name,
        as_of=as_of or row.ordered_at,
        url=f"{reverse('visit-plan', args=[row.record.visit_id])}#test-{row.pk}",
        died=died_words(row.patient),
    )
