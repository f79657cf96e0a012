"""A record becomes a letter: parts gathered from the registry, ordered, and corrected by clinicians.

No sentence without a recorded fact behind it; no letter without an emergency telephone.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from decimal import Decimal
from typing import TypeVar

from django.utils import timezone

from clinic.letters.calls import usual_now, usual_within_a_day
from clinic.letters.document import (
    Dated,
    Document,
    Head,
    Part,
    Point,
    Section,
    Sentence,
    Signed,
    Tone,
    map_sentences,
    said,
)
from clinic.letters.models import Correction
from clinic.letters.texts import END, LETTERS, OWN, SOURCE, Texts, in_the_words_of
from clinic.letters.tightening import tightened
from clinic.letters.wording import capital, clock, ended, listed, long_day, titled, weekday, words
from clinic.letters.wordings import clinic_words
from clinic.patients.facts import signalment
from clinic.patients.models import Measurement, Ownership
from clinic.people.models import Owner
from clinic.platform.addresses import town
from clinic.platform.asked import asked_once
from clinic.platform.models import ClinicDetails
from clinic.platform.queries import clinic_details
from clinic.platform.registries import letter_parts
from clinic.visits.models import Record, Visit

POINTS_IN_SHORT = 4
CALL_LINES = 5
SILENT = frozenset({Visit.Outcome.DIED, Visit.Outcome.EUTHANISED})
# what is still to be done, offered or fed, or how to come to the ideal weight, is not written to somebody
# whose animal died
_FOR_THE_LIVING = frozenset({"to-do", "weight", "feeding", "vaccines", "declined"})
_RANK = {"E": 0, "T": 1, "R": 2, "M": 3}


class NoEmergencyTelephone(Exception):
    """A letter must say whom to call at night."""


@dataclass(frozen=True)
class Corrected:
    """Why this is a later version of the same letter."""

    why: str
    on: date


def first_owner(record: Record) -> Owner:
    """Who is written to."""
    ownership = (
        Ownership.objects.select_related("owner")
        .filter(patient=record.visit.patient_id, until=None)
        .order_by("-is_first", "pk")
        .first()
    )
    if ownership is None:
        raise Owner.DoesNotExist("nobody stands as this patient's owner")
    return ownership.owner


def compose(record: Record, *, today: date, again: Corrected | None = None) -> Document:
    """The letter of `record` as it would be today, in its owner's language.

    Raises NoEmergencyTelephone, Owner.DoesNotExist.
    """
    return next(iter(_told(record, today, again, every=False).values()))


def compose_all(record: Record, *, today: date, again: Corrected | None = None) -> dict[str, Document]:
    """The same in every language that letters are written in, the owner's first. Raises as `compose`."""
    return _told(record, today, again, every=True)


def _told(record: Record, today: date, again: Corrected | None, *, every: bool) -> dict[str, Document]:
    with asked_once():  # each language asks the same of the record
        return _told_of(record, today, again, every=every)


def _told_of(record: Record, today: date, again: Corrected | None, *, every: bool) -> dict[str, Document]:
    clinic = clinic_details()
    if not clinic.emergency_phone.strip():
        raise NoEmergencyTelephone
    owner = first_owner(record)
    language = words(owner.language).language
    own = {each.sentence: each for each in record.corrections.all()}
    with in_the_words_of(clinic_words(clinic)):
        return in_languages(
            lambda code: _corrected(_composed(record, clinic, owner, code, today, again), own),
            [language, *(languages() if every else ())],
        )


def languages() -> list[str]:
    """Those that letters are written in."""
    return [code for code, _name in LETTERS.languages()]


def in_languages(told: Callable[[str], Document], wanted: Iterable[str]) -> dict[str, Document]:
    """What `told` says in each wanted language, in that order; every one but the clinicians' own has beside
    each sentence the one that they sign."""
    signed = told(SOURCE)
    return {code: signed if code == SOURCE else beside(told(code), signed) for code in wanted}


T = TypeVar("T", Document, Section)


def beside(told: Document, signed: Document) -> Document:
    """`told` in the owner's language, each sentence with the one that the clinician signs."""
    return with_sources(told, signed)


def with_sources(told: T, signed: T) -> T:
    """The same, also of one section."""
    sources = {each.key: each.text for each in said(signed)}

    def with_source(each: Sentence) -> Sentence:
        source = sources.get(each.key, "") or each.source
        if each.lang == SOURCE or source == each.text:
            return each
        own = each.text.startswith(OWN) and each.text.rstrip(".").endswith(END)
        return replace(each, source=source, both=each.both and not own)

    return map_sentences(told, with_source)


def _composed(
    record: Record, clinic: ClinicDetails, owner: Owner, language: str, today: date, again: Corrected | None
) -> Document:
    patient, w = record.visit.patient, words(language)
    parts = [entry.part(record, language=language, today=today) for entry in letter_parts]
    if has_died(record):
        parts = [_of_the_dead(part) for part in parts]
    return tightened(
        Document(
            language=w.language,
            tone=_tone(parts, record),
            head=head_of(record, clinic, owner, w),
            headline=_headline(parts, record, w),
            points=_points(parts),
            call_now=_calls(parts, "call_now", () if has_died(record) else usual_now(patient, today, w)),
            call_within_a_day=_calls(
                parts, "call_within_a_day", () if has_died(record) else usual_within_a_day(patient, today, w)
            ),
            sections=_sections(parts),
            next_things=_next(parts),
            signed=_signed(record, parts, again, w),
            paper=clinic.paper,
            large_print=owner.print_size == Owner.Print.LARGE,
            answers=tuple(sentence for part in parts for sentence in part.answers),
        )
    )


def has_died(record: Record) -> bool:
    """At this visit, or since."""
    return record.visit.outcome in SILENT or record.visit.patient.deceased_on is not None


def _of_the_dead(part: Part) -> Part:
    sections = tuple(section for section in part.sections if section.name not in _FOR_THE_LIVING)
    return Part(sections=sections, assisted=part.assisted)


def _points(parts: list[Part]) -> tuple[Point, ...]:
    every = [point for part in parts for point in part.points]
    for key, lines in {k: v for part in parts for k, v in part.bare_titles.items()}.items():
        every = _in_owners_words(every, key, lines)
    return tuple(sorted(every, key=lambda point: _RANK[point.urgency])[:POINTS_IN_SHORT])


def _in_owners_words(every: list[Point], key: str, lines: Sequence[str]) -> list[Point]:
    """What a finding's own point says, with what is done by its problem's: not the same once more by a title
    in the trade's words."""
    titled = next((each for each in every if each.what.key == key), None)
    said = next((each for each in every if each.what.key.partition(":")[2].partition(":")[0] in lines), None)
    if titled is None or said is None:
        return every
    urgency = min(titled.urgency, said.urgency, key=_RANK.__getitem__)
    one = replace(titled, what=said.what, urgency=urgency)
    return [one if each is titled else each for each in every if each is not said]


def _tone(parts: list[Part], record: Record) -> Tone:
    if has_died(record):
        return Tone.QUIET
    if record.urgency == "E":
        return Tone.NOW
    return Tone.LOOK if any(part.points or part.looks for part in parts) else Tone.WELL


def _headline(parts: list[Part], record: Record, w: Texts) -> Sentence:
    given = next((part.headline for part in parts if part.headline), None)
    if given:
        return given
    visit = record.visit
    if not has_died(record):
        key, recorded = "visit.seen", visit.get_kind_display()
    else:
        asleep = Visit.Outcome.EUTHANISED in (visit.outcome, visit.patient.deceased_how)
        key, recorded = "visit.put_to_sleep" if asleep else "visit.died", visit.get_outcome_display()
    return w.sentence("headline", key, "the visit", recorded, patient=visit.patient.name)


def _calls(parts: list[Part], which: str, usual: tuple[Sentence, ...]) -> tuple[Sentence, ...]:
    """Those that today's findings ask for, then the usual ones as far as there is room."""
    own = [sentence for part in parts for sentence in getattr(part, which)]
    return tuple((own + list(usual))[: max(CALL_LINES, len(own))] if own else usual)


def _sections(parts: list[Part]) -> tuple[Section, ...]:
    every = [section for part in parts for section in part.sections if section.blocks]
    return tuple(sorted(every, key=lambda section: section.order))


def _next(parts: list[Part]) -> tuple[Dated, ...]:
    """By the day; what several rooms say of one day in the same words stands once, with its hour."""
    every: dict[tuple[date, str], Dated] = {}
    for thing in (thing for part in parts for thing in part.next_things):
        same = (thing.on, thing.what.text.casefold())
        if same not in every or (thing.time and not every[same].time):
            every[same] = thing
    return tuple(sorted(every.values(), key=lambda thing: (thing.on, thing.time)))


def head_of(record: Record, clinic: ClinicDetails, owner: Owner, w: Texts) -> Head:
    """Letterhead, whose animal, and the visit."""
    visit = record.visit
    seen_at = timezone.localtime(visit.arrived_at or record.opened_at)
    # whoever signs has seen the animal, also where nobody moved it to them on Today
    names = [each.full_name for each in (visit.clinician or record.signed_by, visit.technician) if each]
    place = town(clinic)
    return Head(
        clinic_name=clinic.name,
        clinic_lines=(f"{clinic.street}, {place}",),
        phone=clinic.phone,
        emergency_name=clinic.emergency_name,
        emergency_phone=clinic.emergency_phone,
        owner_name=owner.name,
        owner_lines=tuple(
            line for line in (owner.street, f"{owner.postal_code} {owner.city}".strip()) if line
        ),
        patient_name=visit.patient.name,
        patient_facts=signalment(
            visit.patient, on=seen_at.date(), weight_kg=_weight_of(visit), w=w, unit=clinic.weight_unit
        ),
        day=long_day(seen_at.date(), w),
        weekday=capital(weekday(seen_at.date(), w)),
        time=clock(seen_at.time(), w),
        seen_by=listed(names, w),
        reason=w("sheet.reason", reason=w.own(ended(visit.owners_words)))
        if visit.owners_words.strip()
        else "",
    )


def _weight_of(visit: Visit) -> Decimal | None:
    """As measured at this visit: a copy made later does not show a newer one, nor one that was struck out."""
    taken = visit.measurements.filter(kind=Measurement.Kind.WEIGHT, struck_at=None, value__isnull=False)
    return taken.order_by("-measured_at", "-pk").values_list("value", flat=True).first()


def _signed(record: Record, parts: list[Part], again: Corrected | None, w: Texts) -> Signed:
    lines = []
    if record.signed_by:
        lines.append(signature(record.signed_name, timezone.localtime(record.signed_at), w))
    for number, who in enumerate(name for part in parts for name in part.assisted):
        lines.append(Sentence(f"signed:assisted-{number}", who, "the record of the visit"))
    addenda = tuple(
        Sentence(f"addendum:{each.pk}", w.own(each.text), "an addendum", by=titled(each.by.printed_name, w))
        for each in record.addenda.filter(for_owner=True).select_related("by")
    )
    return Signed(lines=tuple(lines), version_line=version_line(again, w), addenda=addenda)


def signature(name: str, at: datetime, w: Texts) -> Sentence:
    """Who signed, on which day, at what hour. `at` in the clinic's own time."""
    said = {"name": titled(name, w), "day": long_day(at.date(), w), "time": clock(at.time(), w)}
    return w.sentence("signed:by", "visit.signed_by", "the signature", "", name, **said)


def version_line(again: Corrected | None, w: Texts) -> str:
    """What a corrected copy says of itself; empty for the first version."""
    return w("sheet.corrected_copy", day=long_day(again.on, w), why=w.own(again.why)) if again else ""


def _corrected(document: Document, own: Mapping[str, Correction]) -> Document:
    """A clinician's own words stay as they are in every language, and are marked where it is not theirs."""
    w = words(document.language)

    def correct(sentence: Sentence) -> Sentence:
        said = own.get(sentence.key)
        if said is None:
            return sentence
        if said.language == document.language:
            return replace(sentence, text=said.words, lang="", corrected=True, both=False)
        if document.language == SOURCE:
            return replace(sentence, text=said.words, lang=said.language, corrected=True, both=False)
        return replace(sentence, text=w.own(said.words), lang="", corrected=True, both=False)

    return map_sentences(document, correct) if own else document
