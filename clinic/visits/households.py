"""Who may have come in: owners and their animals, found as people say them at the desk."""

import re
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date
from uuid import UUID, uuid4

from django.db.models import Exists, OuterRef, Q
from django.http import Http404
from django.shortcuts import get_object_or_404
from django.utils import timezone

from clinic.patients.models import Microchip, Ownership, Patient
from clinic.people.actor import Actor
from clinic.people.models import Owner, Phone
from clinic.people.rights import Right
from clinic.visits.actions.arrivals import HERE
from clinic.visits.day import day_of
from clinic.visits.models import NextVisit, Visit

MOST = 8
ENOUGH_DIGITS = 4


@dataclass(frozen=True)
class Comer:
    """An animal of the household. `expected` says for what; `here` that it is in the house already."""

    patient_id: int
    name: str
    facts: str
    expected: str
    here: bool
    chosen: bool


@dataclass(frozen=True)
class Household:
    owner_id: int
    name: str
    phones: str
    animals: tuple[Comer, ...]
    once: UUID = field(default_factory=uuid4)


def find_households(query: str, *, today: date) -> tuple[Household, ...]:
    """Households for what was typed; without a query those expected today. A fixed number of queries."""
    expected = _expected(today)
    owners = _found(query) if query.strip() else _owners_of(expected)
    rows = list(
        Ownership.objects.filter(
            owner__in=owners, until=None, patient__deceased_on=None, patient__merged_into=None
        )
        .select_related("patient", "owner")
        .prefetch_related("owner__phones")
        .annotate(here=Exists(Visit.objects.filter(patient=OuterRef("patient"), place__in=HERE)))
        .order_by("owner__family_name", "owner__pk", "patient__name", "patient__pk")
    )
    wanted = _folded(query)
    households: dict[int, list[tuple[Ownership, bool]]] = {}
    for row in rows:
        households.setdefault(row.owner_id, []).append((row, row.here))
    return tuple(_household(found, expected, wanted) for found in households.values())


def _household(found: list[tuple[Ownership, bool]], expected: dict[int, str], wanted: str) -> Household:
    owner = found[0][0].owner
    animals = tuple(
        Comer(
            patient_id=row.patient_id,
            name=row.patient.name,
            facts=row.patient.breed or row.patient.get_species_display(),
            expected=expected.get(row.patient_id, ""),
            here=here,
            chosen=not here and (row.patient_id in expected or len(found) == 1 or _is(row.patient, wanted)),
        )
        for row, here in found
    )
    return Household(
        owner_id=owner.pk,
        name=owner.name,
        phones=", ".join(phone.number for phone in owner.phones.all()),
        animals=animals,
    )


def access_household(
    owner_id: int, patient_ids: Iterable[int], *, actor: Actor
) -> tuple[Owner, list[Patient]]:
    """The owner and the chosen animals. Raises Http404 for an animal that is not of this household."""
    actor.require(Right.MOVE_VISIT)
    wanted = set(patient_ids)
    owner = get_object_or_404(Owner, pk=owner_id)
    patients = list(
        Patient.objects.filter(pk__in=wanted, ownerships__owner=owner, ownerships__until=None).order_by("pk")
    )
    if len(patients) != len(wanted):
        raise Http404
    return owner, patients


def _is(patient: Patient, wanted: str) -> bool:
    return wanted != "" and wanted in _folded(patient.name)


def _folded(text: str) -> str:
    return text.strip().casefold()


def _found(query: str) -> list[int]:
    """Owners by their own or an animal's name, a telephone's digits or a chip."""
    digits = re.sub(r"\D", "", query)
    text = query.strip()
    matches = Q(search__icontains=text) | Q(
        Exists(
            Ownership.objects.filter(
                owner=OuterRef("pk"), until=None, patient__search__icontains=text, patient__deceased_on=None
            )
        )
    )
    if len(digits) >= ENOUGH_DIGITS:
        chip = Microchip.objects.filter(number=digits, patient__ownerships__owner=OuterRef("pk"))
        matches |= Q(Exists(Phone.objects.filter(owner=OuterRef("pk"), digits__contains=digits))) | Q(
            Exists(chip)
        )
    owners = Owner.objects.filter(matches, merged_into=None).order_by("family_name", "pk")
    return list(owners.values_list("pk", flat=True)[:MOST])


def _expected(today: date) -> dict[int, str]:
    """Patient to what it is expected for today, booked or planned."""
    start, end = day_of(today)
    planned = NextVisit.objects.filter(state=NextVisit.State.PLANNED, on=today, week_of=False)
    booked = Visit.objects.filter(
        place=Visit.Place.EXPECTED, expected_at__gte=start, expected_at__lt=end
    ).order_by("expected_at")
    expected = {plan.patient_id: f"planned for today: {plan.reason}" for plan in planned}
    for visit in booked:
        assert visit.expected_at
        at = timezone.localtime(visit.expected_at)
        clock = "today" if (at.hour, at.minute) == (0, 0) else f"{at:%H:%M}"
        expected[visit.patient_id] = f"expected {clock}: {visit.booked_for}"
    return expected


def _owners_of(expected: dict[int, str]) -> list[int]:
    firsts = Ownership.objects.filter(patient__in=list(expected), is_first=True, until=None)
    return list(firsts.values_list("owner", flat=True).distinct())
