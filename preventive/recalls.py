"""Who had a lot, by household, and how each household can be told of its recall."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from django.db.models import Exists, OuterRef, Q, QuerySet, Value
from django.db.models.functions import Coalesce

from clinic.mail.models import Message
from clinic.patients.models import Patient
from clinic.patients.search import first_owners
from clinic.people.models import Owner
from clinic.platform.addresses import one_line
from clinic.platform.queries import clinic_details
from preventive.models import Dose, Lot, RecallLetter, Supply
from preventive.recall_letter import House, Named, ToHousehold
from preventive.wording import day


@dataclass(frozen=True)
class Household:
    """One owner and everything their animals had from a lot. `owner` None: nobody stands as the owner.

    `why_not`: why no mail goes there, in words; `letter`: the one about this recall.
    """

    owner: Owner | None
    given: tuple[Dose | Supply, ...]
    why_not: str
    letter: RecallLetter | None

    @property
    def by_mail(self) -> bool:
        return not self.why_not

    @property
    def patients(self) -> tuple[Patient, ...]:
        return tuple({each.patient_id: each.patient for each in self.given}.values())

    @property
    def named(self) -> ToHousehold:
        return ToHousehold(
            self.owner.name if self.owner else "",
            tuple(Named(each.patient.name, had_words(each)) for each in self.given),
        )


def had_words(given: Dose | Supply) -> str:
    """A dose on 3 March 2026; 3 of over 5 to 10 kg, the first on 3 March 2026."""
    if isinstance(given, Dose):
        return f"a dose on {day(given.given_on)}"
    size = f" of the size {given.band}" if given.band else ""
    return f"{given.count}{size}, the first for {day(given.first_on)}"


def letter_house(lot: Lot) -> House:
    clinic = clinic_details()
    size = f", size {lot.band}" if lot.band else ""
    return House(
        product=lot.product.name,
        maker=lot.product.maker,
        lot=f"{lot.number}{size}",
        phone=clinic.phone,
        emergency=f"{clinic.emergency_name}, {clinic.emergency_phone}" if clinic.emergency_phone else "",
        address=(clinic.name, one_line(clinic)),
    )


def given_from(lot: Lot) -> tuple[Dose | Supply, ...]:
    """Doses, then supplies, from this lot of ours; two queries."""
    doses = Dose.objects.filter(lot_in_stock=lot, struck_at=None)
    supplies = Supply.objects.filter(lot_in_stock=lot, struck_at=None)
    people = ("patient__merged_into", "recall_told__by")
    found: list[Dose | Supply] = [*doses.select_related(*people).order_by("given_on", "pk")]
    return (*found, *supplies.select_related(*people).order_by("first_on", "pk"))


def whose(given: Dose | Supply) -> int:
    """The record in force, where two were found to be one animal."""
    return given.patient.merged_into_id or given.patient_id


def households_of(lot: Lot) -> tuple[Household, ...]:
    """Every household, by its name; of animals that died nothing is written. A fixed number of queries."""
    given = [each for each in given_from(lot) if not each.patient.deceased_on]
    owners = first_owners([whose(each) for each in given])
    letters = {each.owner_id: each for each in letters_of(lot)}
    by_owner: dict[int | None, list[Dose | Supply]] = {}
    for each in given:
        owner = owners.get(whose(each))
        by_owner.setdefault(owner.pk if owner else None, []).append(each)
    people = {owner.pk: owner for owner in owners.values()}
    found = []
    for key, rows in by_owner.items():
        owner = people.get(key) if key is not None else None
        letter = letters.get(key) if key is not None else None
        found.append(Household(owner, tuple(rows), _why_no_mail(owner), letter))
    return tuple(sorted(found, key=lambda each: each.owner.name.casefold() if each.owner else ""))


def _why_no_mail(owner: Owner | None) -> str:
    if owner is None:
        return "nobody stands as the owner"
    if not owner.email:
        return "no e-mail address"
    if owner.letters_by == Owner.LettersBy.PAPER:
        return "wants letters on paper"
    return "the address did not work" if owner.email_state == Owner.EmailState.BOUNCED else ""


def letters_of(lot: Lot) -> QuerySet[RecallLetter]:
    """Those about the recall that stands; none where none does."""
    if lot.recalled_on is None:
        return RecallLetter.objects.none()
    rows = RecallLetter.objects.filter(lot=lot, recalled_on=lot.recalled_on)
    return rows.select_related("message", "owner")


@dataclass(frozen=True)
class Untold:
    """A dose or a supply from a recalled lot whose owner does not know yet. `key`: dose:12, supply:3.

    `patient_id`: the record in force, where two were found to be one animal.
    """

    patient_id: int
    key: str
    lot: str
    recalled_on: date


def untold_of(patient_ids: Sequence[int]) -> tuple[Untold, ...]:
    """Neither told by somebody nor by a letter that was sent. One query, for one as for a thousand."""
    theirs = Q(patient__in=patient_ids) | Q(patient__merged_into__in=patient_ids)
    parts = []
    for sort, rows, named in (("dose", Dose.objects, "doses"), ("supply", Supply.objects, "supplies")):
        sent = RecallLetter.objects.filter(
            recalled_on=OuterRef("lot_in_stock__recalled_on"),
            message__state=Message.State.SENT,
            **{named: OuterRef("pk")},
        )
        parts.append(
            rows.filter(theirs, struck_at=None, lot_in_stock__recalled_on__isnull=False, recall_told=None)
            .exclude(Exists(sent))
            .annotate(whose=Coalesce("patient__merged_into", "patient"))
            .order_by()
            .values_list("whose", "pk", "lot_in_stock__number", "lot_in_stock__recalled_on", Value(sort))
        )
    found = parts[0].union(parts[1], all=True)
    return tuple(Untold(of, f"{sort}:{pk}", lot, on) for of, pk, lot, on, sort in found)
