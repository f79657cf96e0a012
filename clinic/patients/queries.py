"""Loading owners and patients for a page, and who might be meant already."""

from dataclasses import dataclass
from datetime import date

from django.db.models import Q
from django.http import Http404

from clinic.patients.models import Alert, Measurement, Microchip, Ownership, Patient
from clinic.patients.search import Hit, find_patients
from clinic.patients.searchtext import plain
from clinic.people.actor import Actor
from clinic.people.models import Owner, Phone
from clinic.people.phones import NotAPhone, normalise
from clinic.people.rights import Right


def access_patient(actor: Actor, patient_id: int) -> Patient:
    """A patient of this practice. 404 when there is none."""
    actor.require(Right.SEE)
    patient = Patient.objects.filter(pk=patient_id).first()
    if patient is None:
        raise Http404
    return patient


def access_owner(actor: Actor, owner_id: int) -> Owner:
    """An owner. 404 when there is none."""
    actor.require(Right.SEE)
    owner = Owner.objects.filter(pk=owner_id).first()
    if owner is None:
        raise Http404
    return owner


def access_alert(actor: Actor, patient_id: int, alert_id: int) -> Alert:
    """One alert of the patient. 404 when it is another's."""
    alert = Alert.objects.filter(pk=alert_id, patient=patient_id).first()
    if alert is None:
        raise Http404
    return alert


def access_measurement(actor: Actor, measurement_id: int) -> Measurement:
    """One measurement with its patient. 404 when there is none."""
    found = (
        Measurement.objects.select_related("patient", "observed_by", "visit")
        .filter(pk=measurement_id)
        .first()
    )
    if found is None:
        raise Http404
    return found


@dataclass(frozen=True)
class Likely:
    """Somebody who may be meant already. `why` says what is alike."""

    title: str
    words: str
    url_name: str
    id: int
    why: str


def likely_owners(*, family_name: str, given_name: str, phones: list[str]) -> tuple[Likely, ...]:
    """Owners with the same telephone, or with a name so alike that it may be the same."""
    digits = set()
    for number in phones:
        try:
            digits.add(normalise(number).digits)
        except NotAPhone:
            continue
    by_phone = {
        phone.owner_id: phone
        for phone in Phone.objects.select_related("owner").filter(digits__in=digits, owner__merged_into=None)
    }
    wanted = plain(f"{given_name} {family_name}")
    by_name = Owner.objects.filter(search__trigram_similar=wanted, merged_into=None).exclude(pk__in=by_phone)[
        :4
    ]
    same = [_likely_owner(phone.owner, f"the same telephone, {phone.number}") for phone in by_phone.values()]
    return (*same, *(_likely_owner(owner, "a name much alike") for owner in by_name if wanted))


def _likely_owner(owner: Owner, why: str) -> Likely:
    animals = ", ".join(
        Ownership.objects.filter(owner=owner, until=None).values_list("patient__name", flat=True)[:4]
    )
    return Likely(owner.name, animals or "no animal yet", "owner", owner.pk, why)


def likely_patients(*, owner: Owner, name: str, species: str, chip: str) -> tuple[Likely, ...]:
    """Animals of the same owner with a name alike, and any with the same chip."""
    own = Patient.objects.filter(ownerships__owner=owner, species=species, merged_into=None)
    alike = own.filter(Q(name__iexact=name.strip()) | Q(name__trigram_similar=name.strip())).distinct()
    found = [
        Likely(
            each.name,
            each.breed or each.get_species_display(),
            "patient",
            each.pk,
            "of the same owner, a name alike",
        )
        for each in alike
    ]
    if chip:
        number = "".join(chip.split()).replace("-", "")
        for row in Microchip.objects.select_related("patient").filter(number=number):
            found.append(
                Likely(row.patient.name, row.patient.breed, "patient", row.patient_id, f"chip {row.number}")
            )
    return tuple(found)


def hits(query: str, *, today: date) -> tuple[Hit, ...]:
    """What the search box finds."""
    return find_patients(query, today=today)
