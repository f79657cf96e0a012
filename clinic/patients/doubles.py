"""Who may stand here already: shown before a new row is made, never decided by the program."""

from collections.abc import Iterator, Sequence
from difflib import SequenceMatcher

from django.db.models import Q
from django.db.models.functions import Upper
from django.urls import reverse

from clinic.patients import microchip as chips
from clinic.patients.errors import Likely
from clinic.patients.models import Microchip, Patient
from clinic.patients.searchtext import joined, plain
from clinic.people.models import Owner, Phone
from clinic.people.phones import NotAPhone, PhoneNumber, normalise

ALIKE = 0.8  # of 1: one letter in five may differ
SHOWN = 5


def likely_owners(
    *, given_name: str, family_name: str, phones: Sequence[tuple[str, str]], email: str
) -> list[Likely]:
    """Owners with the same telephone digits, the same address, or nearly the same name. Two queries."""
    digits = [number.digits for number in _numbers(phones)]
    name = joined((given_name, family_name))
    same_phone = dict(Phone.objects.filter(digits__in=digits).values_list("owner_id", "number"))
    near = Q(pk__in=same_phone) | Q(searched__trigram_word_similar=name.upper())
    if email.strip():
        near |= Q(email__iexact=email.strip())
    found = Owner.objects.alias(searched=Upper("search")).filter(near, merged_into=None)[:50]
    likely = [_likely_owner(owner, same_phone.get(owner.pk, ""), email.strip(), name) for owner in found]
    return [each for each in likely if each][:SHOWN]


def _numbers(phones: Sequence[tuple[str, str]]) -> Iterator[PhoneNumber]:
    for _label, number in phones:
        try:
            yield normalise(number)
        except NotAPhone:
            continue


def _likely_owner(owner: Owner, phone: str, email: str, name: str) -> Likely | None:
    url = reverse("owner", args=[owner.pk])
    if phone:
        return Likely(owner.name, f"same telephone, {phone}", url)
    if email and owner.email.lower() == email.lower():
        return Likely(owner.name, "same e-mail address", url)
    return Likely(owner.name, "a similar name", url) if alike(owner.name, name) else None


def likely_patients(*, owner: Owner, name: str, species: str) -> list[Likely]:
    """Animals of this owner, of the same species and nearly the same name. One query."""
    theirs = Patient.objects.filter(
        ownerships__owner=owner, ownerships__until=None, species=species, merged_into=None
    ).distinct()
    return [
        Likely(
            each.name,
            f"{owner.name} has a {each.get_species_display()} of that name",
            reverse("patient", args=[each.pk]),
        )
        for each in theirs
        if alike(each.name, name)
    ][:SHOWN]


def chip_holder(number: str) -> Likely | None:
    """The patient that carries this chip. A chip is one animal's: this cannot be overridden."""
    found = Microchip.objects.select_related("patient").filter(number=chips.normalise(number)).first()
    if found is None:
        return None
    return Likely(found.patient.name, "carries this chip", reverse("patient", args=[found.patient_id]))


def alike(one: str, other: str) -> bool:
    """Whether two names are the same but for accents, case and a slip of the finger."""
    first, second = plain(one), plain(other)
    return bool(first) and SequenceMatcher(None, first, second).ratio() >= ALIKE
