"""What a death leaves to be done: to tell the owner, and to ask what becomes of the body."""

from collections.abc import Iterable
from datetime import date, datetime, timedelta
from typing import Any

from django.db.models import CharField, Exists, OuterRef, Q, QuerySet, Subquery, Value
from django.db.models.functions import Cast, Concat
from django.urls import reverse
from django.utils import timezone

from clinic.death.models import BodyDecision, Death
from clinic.patients.facts import died_words
from clinic.patients.models import Patient
from clinic.people.actor import Actor
from clinic.promises.fold import Promise
from clinic.promises.models import PromiseStep

SOURCE = "death"
BODY, KNOWS = "body", "owner"
BODY_DAYS = 1  # ours; a body does not wait long, how long is the house's and local law's


def key_of(kind: str, death_id: int) -> str:
    return f"{kind}-{death_id}"


def _deaths(keys: Iterable[str]) -> list[int]:
    numbers = [key.partition("-")[2] for key in keys]
    return [int(each) for each in numbers if each.isascii() and each.isdigit() and len(each) < 18]


def _closed(kind: str) -> Exists:
    return Exists(
        PromiseStep.objects.filter(
            source=SOURCE,
            key=Concat(Value(f"{kind}-"), Cast(OuterRef("pk"), CharField())),
            what=PromiseStep.What.CLOSED,
        )
    )


class AfterDeath:
    """`body-<death>`: to be decided, or decided after an examination; `owner-<death>`: does not know yet."""

    name, order = SOURCE, 40

    def open(
        self, *, by: date | None = None, also: frozenset[str] = frozenset(), patient: Patient | None = None
    ) -> list[Promise]:
        rows = self._rows()
        if patient is not None:
            rows = rows.filter(patient=patient)
        found = [each for row in rows for each in self._promises(row)]
        return [each for each in found if by is None or each.due_on <= by or each.key in also]

    def one(self, key: str) -> Promise | None:
        rows = self._rows().filter(pk__in=_deaths([key]))
        return next((each for row in rows for each in self._promises(row) if each.key == key), None)

    def _rows(self) -> QuerySet[Death]:
        newest = BodyDecision.objects.filter(death=OuterRef("pk")).order_by("-at", "-pk")
        return (
            Death.objects.filter(struck_at=None)
            .annotate(
                body=Subquery(newest.values("what")[:1]),
                body_at=Subquery(newest.values("at")[:1]),
                body_closed=_closed(BODY),
                owner_closed=_closed(KNOWS),
            )
            .filter(
                Q(body__in=[BodyDecision.What.UNDECIDED, BodyDecision.What.EXAMINE], body_closed=False)
                | Q(owner_knows=False, owner_closed=False)
            )
            .select_related("patient", "certified_by", "by")
            .order_by("entered_at", "pk")
        )

    def _promises(self, row: Any) -> list[Promise]:
        entered = timezone.localdate(row.entered_at)
        found = []
        if not row.owner_knows and not row.owner_closed:
            found.append(self._promise(row, KNOWS, f"tell the owner that {row.patient.name} died", entered))
        if row.body in (BodyDecision.What.UNDECIDED, BodyDecision.What.EXAMINE) and not row.body_closed:
            after = " after the examination" if row.body == BodyDecision.What.EXAMINE else ""
            what = f"ask what is to be done with {row.patient.name}’s body{after}"
            found.append(self._promise(row, BODY, what, entered + timedelta(days=BODY_DAYS)))
        return found

    def _promise(self, row: Death, kind: str, what: str, due: date) -> Promise:
        who = row.certified_by or row.by
        return Promise(
            source=self.name,
            key=key_of(kind, row.pk),
            patient_id=row.patient_id,
            patient_name=row.patient.name,
            what=what,
            due_on=due,
            who_id=who.pk,
            who=who.full_name,
            as_of=row.entered_at,
            url=reverse("patient-death", args=[row.patient_id]),
            died=died_words(row.patient),
        )

    def stepped(self, key: str, step: PromiseStep, *, actor: Actor, now: datetime) -> None:
        """A death is frozen; the step is all."""
