"""What changed on a patient or an owner, when, and by whom: read from the history the database keeps."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.apps import apps
from django.db.models import Model
from django.utils import timezone

from clinic.patients.models import Measurement, Patient
from clinic.patients.pages import CHIP_WORDS, PART_WORDS
from clinic.people.models import Owner, Staff
from clinic.platform.registries import lifestyle_words

SHOWN = 200
OF_PATIENT = ("Microchip", "Alert", "Condition", "LastingFact", "LifestyleAnswer", "Ownership")
UNSEEN = frozenset(
    {"id", "search", "made_at", "entered_at", "entered_by", "answered_at", "patient", "digits", "rank"}
)
NAMES = {
    "Patient": "patient",
    "Microchip": "chip",
    "Alert": "alert",
    "Condition": "condition",
    "LastingFact": "part that is gone",
    "LifestyleAnswer": "answer about its life",
    "Ownership": "owner",
    "Owner": "owner",
    "Phone": "telephone",
}
# which of several rows of its table a change is about
WHICH = {
    "Microchip": "number",
    "Alert": "text",
    "Condition": "code",
    "LastingFact": "structure",
    "LifestyleAnswer": "code",
    "Ownership": "owner",
    "Phone": "number",
}
WORDS: dict[tuple[str, str], dict[str, str]] = {
    ("Microchip", "kind"): CHIP_WORDS,
    ("LastingFact", "structure"): PART_WORDS,
}


@dataclass(frozen=True)
class Line:
    """One field: what it was, what it became."""

    field: str
    before: str
    after: str


@dataclass(frozen=True)
class Change:
    """What one tap changed in one row."""

    at: datetime
    by: str
    title: str
    lines: tuple[Line, ...]


def of_patient(patient: Patient) -> tuple[Change, ...]:
    """Newest first: the patient, what hangs on it, values struck out. A fixed number of queries."""
    owners = {owner.pk: owner.name for owner in Owner.objects.filter(ownerships__patient=patient)}
    seen = [*_diffs("Patient", _events("Patient", pgh_obj=patient.pk), owners)]
    words = {
        ("LifestyleAnswer", "code"): {
            code: said for each in lifestyle_words for code, said in each.words().items()
        }
    }
    for name in OF_PATIENT:
        seen += _diffs(name, _events(name, patient=patient.pk), owners, WORDS | words)
    return _told([*seen, *_struck(patient)])


def of_owner(owner: Owner) -> tuple[Change, ...]:
    """Newest first: the owner and their telephones."""
    seen = [*_diffs("Owner", _events("Owner", pgh_obj=owner.pk), {})]
    seen += _diffs("Phone", _events("Phone", owner=owner.pk), {owner.pk: ""})  # the page's own
    return _told(seen)


@dataclass(frozen=True)
class _Raw:
    at: datetime
    who: int | str | None
    title: str
    lines: tuple[Line, ...]


def _events(name: str, **of: object) -> list[Any]:
    """The newest events of one table, in the order they were written."""
    table: type[Model] = apps.get_model("clinic", f"{name}Event")
    rows = table._default_manager.filter(**of).select_related("pgh_context").order_by("-pgh_id")[:SHOWN]
    return list(reversed(rows))


Words = Mapping[tuple[str, str], Mapping[str, str]]


def _diffs(name: str, events: Iterable[Any], owners: dict[int, str], words: Words = WORDS) -> Iterator[_Raw]:
    """Each event against the one before it of the same row. `owners`: names by key; `words`: what coded
    values are called, by table and field."""
    before: dict[int, Any] = {}
    model = apps.get_model("clinic", name)
    fields = [field for field in model._meta.concrete_fields if field.name not in UNSEEN]
    for event in events:
        earlier = before.get(event.pgh_obj_id)
        before[event.pgh_obj_id] = event
        lines = tuple(
            Line(str(field.verbose_name), before_words, after_words)
            for field in fields
            if (before_words := _value(name, earlier, field, owners, words))
            != (after_words := _value(name, event, field, owners, words))
        )
        if lines:
            verb = "entered" if event.pgh_label == "insert" else "changed"
            verb = "taken out" if event.pgh_label == "delete" else verb
            metadata = event.pgh_context.metadata if event.pgh_context else {}
            title = f"{NAMES[name]} {verb}"
            if name in WHICH:
                which = _value(name, event, model._meta.get_field(WHICH[name]), owners, words)
                title = f"{title}: {which}"
                lines = tuple(each for each in lines if each.before or each.after != which)
            yield _Raw(event.pgh_created_at, metadata.get("user"), title, lines)


def _value(name: str, row: Any, field: Any, owners: dict[int, str], words: Words) -> str:
    value = None if row is None else getattr(row, field.attname)
    if value is None:
        return ""
    if field.is_relation:
        return owners.get(value, f"no. {value}") if field.related_model is Owner else f"no. {value}"
    if (name, field.name) in words:
        return str(words[name, field.name].get(value, value))
    if field.choices:
        return str(dict(field.flatchoices).get(value, value))
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:%-d %b %Y}" if isinstance(value, date) else str(value)


def _struck(patient: Patient) -> Iterator[_Raw]:
    rows = Measurement.objects.filter(patient=patient, struck_at__isnull=False).order_by("-struck_at")[:SHOWN]
    for row in rows:
        kept = f"{row.typed.normalize():f} {row.unit}" if row.typed is not None else row.category
        line = Line(row.get_kind_display(), kept, f"struck out: {row.struck_reason}")
        assert row.struck_at is not None
        yield _Raw(row.struck_at, row.struck_by_id, "measurement struck out", (line,))


def _told(seen: list[_Raw]) -> tuple[Change, ...]:
    seen.reverse()  # the sort keeps this order: of what one tap changed, too, the last stands first
    newest = sorted(seen, key=lambda raw: raw.at, reverse=True)[:SHOWN]
    ids = {int(raw.who) for raw in newest if raw.who is not None}
    names = dict(Staff.objects.filter(pk__in=ids).values_list("pk", "full_name"))
    return tuple(
        Change(timezone.localtime(raw.at), names.get(int(raw.who or 0), "the program"), raw.title, raw.lines)
        for raw in newest
    )
