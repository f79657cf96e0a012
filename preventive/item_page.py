"""One item of one patient explained: its line in time, the reasons in order, and what if on another day."""

from dataclasses import dataclass, replace
from datetime import date

from django.db.models import F, Max, OuterRef, Q, Subquery
from django.http import Http404
from django.utils import timezone

from clinic.callbacks.models import CallBackWas
from clinic.patients.models import Patient
from preventive import facts
from preventive.call_backs import SOURCE
from preventive.case import OWN_DATE
from preventive.dates import PartialDate
from preventive.due import Due, DueGroup
from preventive.due_rows import DueRow, due_row
from preventive.knowing import Known, history_of
from preventive.models import Dose, OwnDate, Product, ProductKind
from preventive.products import vaccine_facts, vaccine_on_label
from preventive.protocol import Protocol
from preventive.queries import antigens_of, mine
from preventive.schedule import due_item
from preventive.timeline import NARROW, WIDE, Given, Timeline, timeline
from preventive.versions import protocol_in_force
from preventive.wording import dates_words, day

WHAT_IF = "what-if"
EARLIER = 5  # shown; all are kept
MANY = 40  # rows, of which many say the same day


@dataclass(frozen=True)
class ItemPage:
    """`lines`: the drawing, wide and narrow."""

    row: DueRow
    lines: tuple[Timeline, Timeline]
    on: date
    is_today: bool
    holds_until: str
    if_given: str
    product: str
    version: str
    own: OwnDate | None
    own_counts: bool
    earlier: tuple[str, ...]


def item_page(patient: Patient, code: str, *, today: date, on: date) -> ItemPage:
    """`on`: the day asked about, today or another one. Raises Http404 for an item the species has not."""
    protocol = protocol_in_force()
    known = history_of(patient, today=today)
    try:
        due = due_item(known.animal, known.history, protocol, on, code)
    except KeyError as error:
        raise Http404 from error
    antigens = antigens_of(due, protocol)
    given = _given(known, due, antigens)
    product, after = _if_given(known, patient, protocol, due, antigens, on)
    named = "today" if on == today else "the day asked about"
    wide, narrow = (
        timeline(due, given, on, if_given=(on, after) if after else None, named=named, width=width)
        for width in (WIDE, NARROW)
    )
    return ItemPage(
        row=due_row(DueGroup(due.label, (due,)), on),
        lines=(wide, narrow),
        on=on,
        is_today=on == today,
        holds_until=day(due.recheck_on) if due.recheck_on else "",
        if_given=dates_words(replace(after, last_on=None)) if after else "",
        product=product,
        version=protocol.sha256,
        own=own_date_of(patient, due.group),
        own_counts=any(step.source.startswith(OWN_DATE) for step in due.why),
        earlier=_earlier(patient, due.group),
    )


def _earlier(patient: Patient, group: str) -> tuple[str, ...]:
    """On which days it was to be done before something changed, the newest first. One query.

    Antigens of one vaccine share a call-back or part, so what was said of any of the group is told.
    """
    of_group = Q(key=group) | Q(key__startswith=f"{group}:")
    rows = CallBackWas.objects.filter(of_group, patient=patient, source=SOURCE).order_by("-until", "-pk")
    said = (f"due {day(row.due_on)}, until {day(timezone.localdate(row.until))}" for row in rows[:MANY])
    return tuple(dict.fromkeys(said))[:EARLIER]


def group_of(patient: Patient, code: str, *, today: date) -> str:
    """What the item's antigens share: a date of one's own is for all of them. Raises Http404."""
    known = history_of(patient, today=today)
    try:
        return due_item(known.animal, known.history, protocol_in_force(), today, code).group
    except KeyError as error:
        raise Http404 from error


def own_date_of(patient: Patient, group: str) -> OwnDate | None:
    rows = OwnDate.objects.filter(mine(patient), code=group, struck_at=None).select_related("entered_by")
    return rows.order_by("-on", "-pk").first()


def _given(known: Known, due: Due, antigens: frozenset[str]) -> list[Given]:
    """Doses of these antigens whose day is known well enough to be drawn."""
    why_not = {each.dose_id: each.text for each in due.uncounted}
    return [
        Given(dose.given.latest, why_not.get(dose.id, ""))
        for dose in known.history.doses
        if antigens & set(dose.antigens)
    ]


def _if_given(
    known: Known, patient: Patient, protocol: Protocol, due: Due, antigens: frozenset[str], on: date
) -> tuple[str, Due | None]:
    """What it had last where that is still used, else the clinic's first product against it; and the item
    after a dose of it on that day."""
    if not antigens or not due.applies:
        return "", None
    fitting = Product.objects.filter(
        kind=ProductKind.VACCINE,
        species__contains=[patient.species],
        retired_on=None,
        facts__antigens__contains=list(antigens)[:1],
    )
    had = Dose.objects.filter(mine(patient), product=OuterRef("pk"), struck_at=None).values("product")
    fitting = fitting.annotate(had_on=Subquery(had.annotate(last=Max("given_on")).values("last")))
    product = fitting.order_by(F("had_on").desc(nulls_last=True), "name", "pk").first()
    if product is None:
        return "", None
    label = vaccine_facts(product.facts)
    dose = facts.Dose(
        id=WHAT_IF,
        antigens=label.antigens,
        given=PartialDate(on),
        product=vaccine_on_label(product.name, tuple(product.species), label),
        route=label.routes[0],
        lot="tried",
    )
    history = replace(known.history, doses=(*known.history.doses, dose))
    return product.name, due_item(known.animal, history, protocol, on, due.code)
