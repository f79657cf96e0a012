"""What stands in the refrigerator and on the shelf: lots, what is left, what ends soon, who had a lot."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from django.db.models import Count, Q, Sum
from django.utils import timezone

from clinic.mail.models import Message
from clinic.mail.telling import told
from clinic.patients.search import first_owners
from clinic.people.models import Owner
from preventive.models import Dose, Lot, LotStep, Product, ProductKind, RecallLetter, Supply
from preventive.products import preventive_facts, vaccine_facts
from preventive.recalls import given_from, had_words, letters_of, whose
from preventive.rules import Rules
from preventive.versions import protocol_in_force
from preventive.wording import antigens, day

SOON = timedelta(days=60)
FEW = 3


@dataclass(frozen=True)
class ShelfLot:
    id: int
    number: str
    band: str
    shape: str
    tone: str
    words: str
    left: str
    given: int


@dataclass(frozen=True)
class ShelfProduct:
    id: int
    name: str
    small: str
    lots: tuple[ShelfLot, ...]
    retired: bool


@dataclass(frozen=True)
class Had:
    """What one animal had from a lot, its owner, and whether the owner knows of the recall.

    `key`: dose:12, supply:3. `told`: by whom, or by a letter that left; `letter`: how one
    stands that did not.
    """

    key: str
    patient_id: int
    patient: str
    owner: str
    reach: str
    when: str
    told: str
    letter: str
    ended: str


@dataclass(frozen=True)
class LotPage:
    lot: Lot
    row: ShelfLot
    steps: Sequence[LotStep]
    had: tuple[Had, ...]
    elsewhere: tuple[Had, ...]
    untold: int


def shelf(*, today: date, all_lots: bool = False) -> tuple[ShelfProduct, ...]:
    """Products and their lots; used up and long expired ones only with `all_lots`. Four queries."""
    rules = protocol_in_force().rules
    lots: dict[int, list[ShelfLot]] = {}
    gone = dict(
        Supply.objects.filter(struck_at=None, lot_in_stock__isnull=False)
        .order_by()
        .values_list("lot_in_stock")
        .annotate(count=Sum("count"))
    )
    counted = Lot.objects.annotate(given=Count("doses", filter=Q(doses__struck_at=None)))
    for lot in counted.order_by("expires_on", "number"):
        if all_lots or _on_shelf(lot, today):
            given = lot.given + gone.get(lot.pk, 0)
            lots.setdefault(lot.product_id, []).append(_row(lot, given, today))
    return tuple(
        ShelfProduct(
            id=each.pk,
            name=each.name,
            small=f"{_against(each, rules)}; {each.maker}",
            lots=tuple(lots.get(each.pk, ())),
            retired=each.retired_on is not None,
        )
        for each in sorted(
            Product.objects.order_by("name", "pk"), key=lambda each: each.kind != ProductKind.VACCINE
        )
    )


def _against(product: Product, rules: Rules) -> str:
    if product.kind == ProductKind.VACCINE:
        return antigens(list(vaccine_facts(product.facts).antigens), rules)
    label = preventive_facts(product.facts)
    return f"{label.form} with {', '.join(label.ingredients)}"


def _on_shelf(lot: Lot, today: date) -> bool:
    return lot.recalled_on is not None or (lot.on_hand != 0 and lot.expires_on >= today - SOON)


def _row(lot: Lot, given: int, today: date) -> ShelfLot:
    shape, tone, words = _stands(lot, today)
    left = "not counted" if lot.on_hand is None else f"{lot.on_hand} left"
    return ShelfLot(lot.pk, lot.number, lot.band, shape, tone, words, left, given)


def _stands(lot: Lot, today: date) -> tuple[str, str, str]:
    """Shape, tone and words of a lot, the gravest first."""
    if lot.recalled_on is not None:
        return "danger", "is-danger", f"recalled {day(lot.recalled_on)}"
    if lot.expires_on < today:
        return "danger", "is-danger", f"ended {day(lot.expires_on)}: take it off the shelf"
    if lot.on_hand == 0:
        return "na", "", f"used up; ends {day(lot.expires_on)}"
    if lot.expires_on <= today + SOON:
        return "abnormal", "is-look", f"ends soon: {day(lot.expires_on)}"
    if lot.on_hand is not None and lot.on_hand <= FEW:
        return "abnormal", "is-look", f"few left; ends {day(lot.expires_on)}"
    return "normal", "is-normal", f"ends {day(lot.expires_on)}"


def lot_page(lot: Lot, *, today: date) -> LotPage:
    """A lot and everyone who had it; also doses from elsewhere under the same number, apart."""
    given = given_from(lot)
    outside = Dose.objects.filter(lot=lot.number, lot_in_stock=None, struck_at=None)
    elsewhere = list(
        outside.select_related("patient__merged_into", "recall_told__by")
        if lot.product.kind == ProductKind.VACCINE
        else ()
    )
    owners = first_owners([whose(each) for each in (*given, *elsewhere)])
    letters = {each.owner_id: each for each in letters_of(lot)}
    own = tuple(_had(each, owners.get(whose(each)), letters) for each in given)
    return LotPage(
        lot=lot,
        row=_row(lot, sum(1 if isinstance(each, Dose) else each.count for each in given), today),
        steps=tuple(lot.steps.select_related("by")),
        had=own,
        elsewhere=tuple(_had(each, owners.get(whose(each)), {}) for each in elsewhere),
        untold=sum(1 for row in own if not row.told),
    )


def reach_of(owner: Owner | None) -> str:
    """Telephones and mail of an owner in words."""
    ways = [each.number for each in owner.phones.all()] if owner else []
    if owner and owner.email:
        ways.append(owner.email)
    return ", ".join(ways) or "no way to reach them on record"


def _had(given: Dose | Supply, owner: Owner | None, letters: dict[int, RecallLetter]) -> Had:
    told = getattr(given, "recall_told", None)
    words = f"told {day(timezone.localdate(told.at))} by {told.by.full_name}: {told.how}" if told else ""
    letter = letters.get(owner.pk) if owner else None
    patient = given.patient
    ended = "has died" if patient.deceased_on else "left the practice" if patient.left_practice_on else ""
    return Had(
        key=f"{given._meta.model_name}:{given.pk}",
        patient_id=whose(given),
        patient=patient.name,
        owner=owner.name if owner else "no owner on record",
        reach=reach_of(owner),
        when=day(given.given_on) if isinstance(given, Dose) else had_words(given),
        told=words or (letter_sent(letter) if letter else ""),
        letter=letter_stands(letter) if letter and not words else "",
        ended=ended,
    )


def letter_sent(letter: RecallLetter) -> str:
    """Told by a mail that left; nothing while it has not."""
    message = letter.message
    if message.state != Message.State.SENT or message.sent_at is None:
        return ""
    return f"written to on {day(timezone.localdate(message.sent_at))}, by e-mail to {message.to_address}"


def letter_stands(letter: RecallLetter) -> str:
    """A mail that has not left: it waits, or why it does not leave."""
    message = letter.message
    if message.state == Message.State.SENT:
        return ""
    mail = told(message.state, message.state_why)
    return ". ".join(filter(None, (f"the e-mail to {message.to_address}, {mail.words}", mail.why)))
