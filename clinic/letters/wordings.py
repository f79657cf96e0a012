"""What a clinic says in letters in its own words: the texts in force, and the corrections offered as such."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from django.contrib.postgres.aggregates import ArrayAgg
from django.db.models import Count, Exists, Max, Min, OuterRef
from django.http import Http404
from django.utils import timezone

from clinic.letters.models import Correction, Wording
from clinic.letters.own_words import wrong_with
from clinic.letters.spelling import variant_of
from clinic.letters.texts import LETTERS, SOURCE, ClinicWords, Entry, Review, Texts
from clinic.letters.wording import words as sheet_words
from clinic.patients.models import Ownership
from clinic.people.actor import Actor
from clinic.people.models import Staff
from clinic.people.rights import Right
from clinic.platform.models import ClinicDetails
from clinic.platform.registries import letter_texts


def clinic_words(clinic: ClinicDetails) -> ClinicWords:
    """The clinic's spelling and the texts that it adopted. One query."""
    found: dict[tuple[str, str], dict[str, Entry]] = defaultdict(dict)
    for row in Wording.objects.filter(ended_at=None, declined=False).select_related("by"):
        room, _, key = row.text.partition(":")
        read = Review(row.by.full_name, timezone.localdate(row.at)) if row.reviewed else Review()
        found[room, row.language][key] = Entry(tuple(row.forms), read, adopted=True)
    return ClinicWords(found, variant_of(clinic.country))


def standing_text(text: str, language: str) -> tuple[Texts, Entry] | None:
    """The room's texts in that language as its files say them, and the one of `room:key`; None without it."""
    room, _, key = text.partition(":")
    found = next((each for each in letter_texts if each.name == room), None)
    texts = found.texts(language) if found else None
    entry = texts.entry(key) if texts is not None else None
    return (texts, entry) if texts is not None and entry is not None else None


@dataclass(frozen=True)
class Offer:
    """The same correction of the same text, however often it was made. `pk`: one of them, which names it."""

    pk: int
    text: str
    language: str
    language_name: str
    instead_of: str
    words: str
    times: int
    by: tuple[str, ...]
    last: datetime
    not_offered: str = ""


@dataclass(frozen=True)
class Adopted:
    """A version of a text of the clinic's own, or an offer declined."""

    pk: int
    text: str
    language: str
    language_name: str
    version: int
    words: tuple[str, ...]
    instead_of: tuple[str, ...]
    by: str
    at: datetime
    declined: bool
    ended_by: str
    ended_at: datetime | None
    beside: tuple[str, ...] = ()  # languages that still say it the old way, and so go out in both

    @property
    def stands(self) -> bool:
        return self.ended_at is None and not self.declined


@dataclass(frozen=True)
class Found:
    """A text of letters that somebody looked for. `words`: as letters say it now, one for each plural form;
    `own`: that is the clinic's wording already."""

    text: str
    words: tuple[str, ...]
    kind: str
    own: bool


def texts_with(words: str, language: str) -> tuple[Found, ...]:
    """Texts that hold these words, or whose name does, in the order of the files. One query."""
    wanted = " ".join(words.casefold().split())
    if not wanted:
        return ()
    standing = Wording.objects.filter(language=language, ended_at=None, declined=False)
    own = {each.text: tuple(each.forms) for each in standing}
    found = []
    for room in letter_texts:
        texts = room.texts(language)
        for key, entry in texts.entries.items():
            name = f"{room.name}:{key}"
            said = own.get(name, entry.forms)
            if any(wanted in each.casefold() for each in (name, *said, *entry.forms)):
                found.append(Found(name, said, _kind_of(texts, key), name in own))
    return tuple(found)


def _kind_of(texts: Texts, key: str) -> str:
    """Of which kind the clinicians' own language says it is."""
    source = (texts.english or texts).entry(key)
    return source.kind if source else ""


def access_text(actor: Actor, text: str, language: str) -> Entry:
    """A text of letters in one language, as its file says it. 404 where no file does."""
    actor.require(Right.SIGN)
    known = standing_text(text, language) if language in language_names() else None
    if known is None:
        raise Http404
    return known[1]


def language_names() -> Mapping[str, str]:
    return dict(LETTERS.languages())


def offers() -> tuple[Offer, ...]:
    """What was corrected, the most frequent first, and is neither adopted nor declined yet. Two queries."""
    decided = Wording.objects.filter(
        text=OuterRef("text"), language=OuterRef("language"), offered=OuterRef("offered")
    ).filter(ended_at=None)
    rows = (
        Correction.objects.exclude(text="")
        .filter(~Exists(decided))
        .values("text", "language", "offered", "not_offered", "form")
        .annotate(
            first=Min("pk"), times=Count("pk"), last=Max("at"),
            who=ArrayAgg("by__full_name", distinct=True, order_by="by__full_name"),
            words_as_written=Min("words"),
        )
        .order_by("-times", "-last", "text")
    )  # fmt: skip
    names = language_names()
    standing = Wording.objects.filter(ended_at=None, declined=False)
    own = {(each.text, each.language): each.forms for each in standing}
    found = (
        Offer(
            pk=row["first"],
            text=row["text"],
            language=row["language"],
            language_name=names.get(row["language"], row["language"]),
            instead_of=_form(row["text"], row["language"], row["form"], own),
            words=row["offered"] or row["words_as_written"],
            times=row["times"],
            by=tuple(row["who"]),
            last=row["last"],
            not_offered=row["not_offered"],
        )
        for row in rows
    )
    return tuple(each for each in found if each.words != each.instead_of)


def _form(text: str, language: str, number: int, own: Mapping[tuple[str, str], Sequence[str]]) -> str:
    """What letters say now."""
    known = standing_text(text, language)
    forms = own.get((text, language)) or (known[1].forms if known else ("",))
    return forms[min(number, len(forms) - 1)]


def access_offer(actor: Actor, pk: int) -> Correction:
    """404 where there is none, or it is no text."""
    actor.require(Right.SIGN)
    found = Correction.objects.filter(pk=pk, not_offered="").exclude(text="").first()
    if found is None:
        raise Http404
    return found


def access_wording(actor: Actor, pk: int) -> Wording:
    """404 when there is none."""
    actor.require(Right.SIGN)
    found = Wording.objects.filter(pk=pk).first()
    if found is None:
        raise Http404
    return found


def in_force(text: str, language: str) -> Wording | None:
    """The clinic's own wording of a text, where it has one."""
    return Wording.objects.filter(text=text, language=language, ended_at=None, declined=False).first()


def adopted() -> tuple[Adopted, ...]:
    """Every version and every offer declined, the newest first. One query."""
    names = language_names()
    rows = list(Wording.objects.select_related("by", "ended_by").order_by("-at", "-pk"))
    stand = {(row.text, row.language) for row in rows if row.ended_at is None and not row.declined}
    return tuple(
        Adopted(
            pk=row.pk,
            text=row.text,
            language=row.language,
            language_name=names.get(row.language, row.language),
            version=row.version,
            words=tuple(row.forms) or (row.offered,),
            instead_of=tuple(row.instead_of),
            by=row.by.full_name,
            at=row.at,
            declined=row.declined,
            ended_by=row.ended_by.full_name if row.ended_by else "",
            ended_at=row.ended_at,
            beside=tuple(
                name
                for code, name in names.items()
                if row.language == SOURCE and code != SOURCE and (row.text, code) not in stand
            ),
        )
        for row in rows
    )


def private_words(correction: Correction) -> tuple[str, ...]:
    """Names of everybody in the letters where the same was written: what a text must not hold."""
    same = Correction.objects.filter(
        text=correction.text, language=correction.language, offered=correction.offered
    )
    people: set[str] = set()
    rows = same.select_related(
        "by", "record__visit__patient", "record__visit__clinician", "record__visit__technician"
    )
    patients = set()
    for each in rows:
        visit = each.record.visit
        patients.add(visit.patient_id)
        people.add(visit.patient.name)
        people |= {who.full_name for who in (each.by, visit.clinician, visit.technician) if who}
    owners = Ownership.objects.filter(patient__in=patients).select_related("owner")
    people |= {each.owner.name for each in owners}
    return tuple(sorted(people))


def colleagues() -> tuple[str, ...]:
    """Names of those who work here: of nobody else does a text that was written in no letter speak."""
    return tuple(Staff.objects.filter(is_active=True).values_list("full_name", flat=True))


def days_of(language: str) -> tuple[str, ...]:
    """Months and weekdays, as that language writes them."""
    w = sheet_words(language)
    return (*w.listed("date.months"), *w.listed("date.weekdays"))


def wrong_as_text(correction: Correction, forms: Sequence[str], entry: Entry) -> list[str]:
    """Why `forms` cannot be the clinic's text instead of `entry`; nothing when they can."""
    return wrong_with(forms, entry, private_words(correction), days_of(correction.language))


def wrong_as_begun(language: str, forms: Sequence[str], entry: Entry) -> list[str]:
    """The same of words that were written in no letter."""
    return wrong_with(forms, entry, colleagues(), days_of(language), of_a_letter=False)
