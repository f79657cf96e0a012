"""What prevention adds to a summary for a colleague: vaccines, and parasite preventives of the last year."""

from datetime import date
from typing import Any

from dateutil.relativedelta import relativedelta

from clinic.letters.document import Block
from clinic.letters.wording import long_day
from clinic.patients.models import Patient
from clinic.summaries.blocks import paragraph, tables
from preventive.dates import Span
from preventive.models import Dose, Precision, Source, Supply
from preventive.protocol import Protocol
from preventive.versions import protocol_in_force
from preventive.wording import antigens

MOST_DOSES = 30
LOOKED_BACK = relativedelta(years=1)


class VaccinesInSummary:
    """The newest first; what came from elsewhere says so."""

    name, order, title = "vaccines", 70, "Vaccines given"

    def blocks(self, patient: Patient, *, today: date) -> tuple[Block, ...]:
        doses = list(Dose.objects.filter(patient=patient, struck_at=None).order_by("-given_on", "-pk"))
        protocol = protocol_in_force()
        told = tables(
            ("Day", "Against", "Product, lot", "From"),
            [_dose(each, protocol) for each in doses[:MOST_DOSES]],
        )
        left = len(doses) - MOST_DOSES
        return (*told, paragraph(f"Older doses that are not shown: {left}.")) if left > 0 else told


def _dose(each: Dose, protocol: Protocol) -> tuple[str, ...]:
    lot = f"lot {each.lot}" if each.lot else ""
    product = ", ".join(part for part in (str(each.product_facts.get("name", "")), lot) if part)
    proof = "" if each.proof else ", no proof seen"
    return (
        _on(each),
        antigens(each.antigens, protocol.rules),
        product,
        f"{Source(each.source).label}{proof}",
    )


def _on(each: Dose) -> str:
    if each.precision == Precision.YEAR:
        return f"{each.given_on:%Y}"
    if each.precision == Precision.MONTH:
        return f"{each.given_on:%B %Y}"
    return long_day(each.given_on)


class PreventivesInSummary:
    """What went home or was given against parasites within a year; the newest first."""

    name, order, title = "parasites", 71, "Against parasites"

    def blocks(self, patient: Patient, *, today: date) -> tuple[Block, ...]:
        recent: dict[str, Any] = {"struck_at": None, "first_on__gte": today - LOOKED_BACK}
        rows = Supply.objects.filter(patient=patient, **recent).order_by("-first_on", "-pk")
        return tables(
            ("Product", "Ingredients", "Doses", "From"),
            [
                (
                    each.product_name,
                    ", ".join(each.ingredients),
                    f"{each.count}, one every {_interval(each.interval)}",
                    long_day(each.first_on),
                )
                for each in rows
            ],
        )


def _interval(code: str) -> str:
    """1 mo is a month, 12 wk are 12 weeks."""
    return Span.parse(code).words.removeprefix("1 ")
