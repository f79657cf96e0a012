"""Addenda as plain values, for the signing page, the patient's page and the next visit."""

from dataclasses import dataclass

from django.utils import timezone

from clinic.visits.models import Addendum, Record


@dataclass(frozen=True)
class AddendumRow:
    text: str
    corrects: str
    by: str
    entered: str
    happened: str
    for_owner: bool


def addenda_rows(record: Record) -> tuple[AddendumRow, ...]:
    """In the order in which they were entered."""
    return tuple(_row(each) for each in Addendum.objects.filter(record=record).select_related("by"))


def _row(each: Addendum) -> AddendumRow:
    entered, happened = timezone.localtime(each.entered_at), timezone.localtime(each.happened_at)
    apart = each.happened_at != each.entered_at
    return AddendumRow(
        text=each.text,
        corrects=each.corrects,
        by=each.by.full_name,
        entered=f"{entered:%-d %B %Y, %H:%M}",
        happened=f"{happened:%-d %B %Y, %H:%M}" if apart else "",
        for_owner=each.for_owner,
    )
