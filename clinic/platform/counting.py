"""Counts that ride along in another query."""

from typing import Any

from django.db.models import Count, F, IntegerField, QuerySet, Subquery, Value
from django.db.models.functions import Coalesce


def how_many(rows: QuerySet[Any]) -> Coalesce:
    """The number of `rows` as an expression of any other query."""
    alone = rows.order_by().annotate(_all=Value(1)).values("_all")  # one group, else one count a row
    counted = alone.annotate(_count=Count(F("pk"))).values("_count")
    return Coalesce(Subquery(counted), 0, output_field=IntegerField())
