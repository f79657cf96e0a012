"""What the rooms say of a record in short, as templates and plain values."""

from datetime import date
from typing import Any

from clinic.people.actor import Actor
from clinic.platform.registries import record_panels
from clinic.visits.models import Record


def in_short(record: Record, *, actor: Actor, today: date) -> tuple[dict[str, Any], ...]:
    """A block each, in the order of the registry."""
    return tuple(
        {
            "name": each.name,
            "title": each.title,
            "template": each.template,
            **each.context(record, actor=actor, today=today),
        }
        for each in record_panels
    )
