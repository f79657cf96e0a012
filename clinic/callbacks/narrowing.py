"""Which households a filter of the due list can be about at all, where they are few.

The list is read along the days, the longest overdue first. Where hardly anything of it is wanted, that would
look at every row; so whatever can be asked of sums, animals and owners alone is asked first. More than may
matter is found, never less: the rules of `queries.py` are asked of the rows all the same.
"""

from datetime import date, timedelta
from typing import Any

from django.db.models import Exists, OuterRef, Q, QuerySet, Subquery

from clinic.callbacks.manager_models import DueChange, DueTotals, HouseholdDue
from clinic.callbacks.models import AskedItem, CallBack
from clinic.callbacks.queries import Wanted, named
from clinic.callbacks.reasons import LeftOut
from clinic.patients.models import LifestyleAnswer, Ownership
from clinic.visits.models import Visit

FEW = 600  # animals; more, and a walk along the days soon has a page full of them


def few_households(
    wanted: Wanted, *, today: date, sums: Q | None = None, held: Q | None = None
) -> list[int] | None:
    """First owners among whom all that is wanted stands; None where they are many. One query or two.

    `sums`, `held`: what else is asked of a household's sums, and of who has the animal.
    """
    rows = Ownership.objects.filter(held or Q(), of_animal(wanted), until=None, is_first=True)
    if wanted.over > 1 or wanted.what:
        until = today - timedelta(days=max(wanted.over, 1))
        things = CallBack.objects.filter(named(wanted.what), patient=OuterRef("patient"), due_on__lte=until)
        rows = rows.filter(Exists(things))
    telling = wanted.why is not None or wanted.reach or sums is not None  # else nearly every sum has it
    if telling and DueTotals.objects.filter(pk=1, day=today).exists():
        rows = rows.filter(owner__in=_by_sums(wanted, sums or Q()))
    found = list(rows.order_by().values_list("owner", flat=True)[: FEW + 1])
    return sorted(set(found)) if len(found) <= FEW else None


def of_animal(wanted: Wanted) -> Q:
    """What is asked of an animal alone: of ownerships and call-backs alike."""
    found = Q(patient__species=wanted.species) if wanted.species else Q()
    if wanted.why == LeftOut.DIED:
        found &= Q(patient__deceased_on__isnull=False)
    if wanted.why == LeftOut.MOVED:
        found &= Q(patient__left_practice_on__isnull=False)
    this = {"patient": OuterRef("patient")}
    if wanted.life:
        found &= Q(Exists(LifestyleAnswer.objects.filter(code=wanted.life, answer="yes", **this)))
    if wanted.clinician:
        found &= Q(Exists(Visit.objects.filter(clinician=wanted.clinician, **this)))
    if wanted.asked in ("1", "2"):
        found &= Q(Exists(AskedItem.objects.filter(**this)))
    return found


def _by_sums(wanted: Wanted, sums: Q) -> QuerySet[HouseholdDue, Any]:
    """Households whose sums have it, and those of which the sums are not true any more."""
    rows = HouseholdDue.objects.filter(sums)
    rows = rows.exclude(why="") if wanted.why == "any" else rows.filter(why=wanted.why or "")
    if wanted.reach:
        rows = rows.filter(reach=wanted.reach)
    changed = DueChange.objects.filter(owner_id__isnull=False).values("owner_id")
    holds = Ownership.objects.filter(patient=OuterRef("patient_id"), until=None, is_first=True)
    through = DueChange.objects.filter(patient_id__isnull=False).annotate(
        first=Subquery(holds.values("owner"))
    )
    return rows.values("owner").union(changed, through.values("first"), all=True)
