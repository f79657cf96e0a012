"""What prevention says in a letter: vaccines with lot and place, what went home, what comes next."""

import re
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from dateutil.relativedelta import relativedelta

from clinic.letters.document import Block, Dated, Line, Mark, Part, Section, Sentence, Table, Text, Walk
from clinic.letters.texts import Room, Texts
from clinic.letters.wording import capital, long_day, words
from clinic.patients.models import Species
from clinic.platform.asked import once
from clinic.visits.models import Record
from preventive.dates import Calendar, Span, Unit
from preventive.due import Due, DueGroup, Standing, paused_on, standing
from preventive.facts import Birth
from preventive.knowing import supply_fact
from preventive.models import Decline, Deferral, Dose, PutOff, Supply, TreatmentGiven
from preventive.protocol import Protocol
from preventive.queries import ENDED, groups_at, known_at, unanswered
from preventive.versions import protocol_in_force
from preventive.wording import FORMS

MONTHS_AHEAD = relativedelta(months=13)
SCHEDULE = "the schedule"
NAMES = frozenset({"Lyme"})  # a place in Connecticut
GROWN_AT = Span(2, Unit.YEAR)  # the largest dogs grow that long (common practice, from memory)
ROOM = Room(Path(__file__).with_name("texts"))


@dataclass(frozen=True)
class PreventionTexts:
    name: str = "preventive"
    order: int = 70

    def texts(self, language: str) -> Texts:
        return ROOM.of_files(language)


@dataclass(frozen=True)
class PreventionInLetter:
    name: str = "prevention"
    order: int = 70

    def part(self, record: Record, *, language: str, today: date) -> Part:
        """Nothing for an animal that died at this visit."""
        if record.visit.outcome in ENDED or record.visit.patient.deceased_on:
            return Part()
        protocol = protocol_in_force()
        known = known_at(record.visit, today=today)
        groups = groups_at(known, protocol, today=today)
        said = _Said(record, protocol, groups, known.animal.birth, today, ROOM(language))
        next_things = _next_things(groups, today, said.t)
        blocks = said.blocks() or said.of_next(next_things)
        return Part(
            sections=(Section("vaccines", said.t("prevention.title"), 70, blocks),) if blocks else (),
            call_now=said.call_now(),
            next_things=next_things,
        )


class _Said:
    """Everything recorded for prevention at one visit, said for its owner."""

    def __init__(
        self,
        record: Record,
        protocol: Protocol,
        groups: tuple[DueGroup, ...],
        birth: Birth | None,
        today: date,
        t: Texts,
    ) -> None:
        self.record, self.protocol, self.groups, self.today, self.t = record, protocol, groups, today, t
        self.birth = birth
        self.pet = record.visit.patient.name
        self.doses, self.supplies, self.treatments, self.declines, self.deferrals = _recorded(record)

    def blocks(self) -> tuple[Block, ...]:
        found: list[Block] = []
        if self.doses:
            found += [self._vaccines(), Text(self._after_a_vaccine())]
        found += [Text(each) for each in self._supplied()]
        found += [Text((self._treatment(each),)) for each in self.treatments]
        lines = [
            *(self._declined(each) for each in self.declines),
            *(self._put_off(each) for each in self.deferrals),
        ]
        if lines:
            found.append(Walk(tuple(lines)))
        still = unanswered(self.record, self.groups, self.protocol, today=self.today)
        if still:
            found.append(Text((_not_done(still, self.today, self.t),), Mark.ABNORMAL))
        if found:
            found.append(Text((self._who_decides(),)))
        return tuple(found)

    def of_next(self, next_things: tuple[Dated, ...]) -> tuple[Block, ...]:
        """Where days are all that prevention says: who decides about them."""
        if not next_things:
            return ()
        return (
            Text((self.t.sentence("prevention:decides", "prevention.decides_next", "the usual caution"),)),
        )

    def _day(self, on: date) -> str:
        return long_day(on, words(self.t.language))

    def call_now(self) -> tuple[Sentence, ...]:
        if not self.doses:
            return ()
        origin = "common practice after a vaccine"
        return (self.t.sentence("call-now:vaccine", "prevention.after_vaccine", origin, pet=self.pet),)

    def _vaccines(self) -> Table:
        return Table(
            rows=tuple(self._vaccine(each) for each in self.doses),
            head=tuple(self.t.listed("prevention.head")),
        )

    def _vaccine(self, dose: Dose) -> tuple[Sentence, ...]:
        key, by = f"dose:{dose.pk}", dose.given_by.printed_name if dose.given_by else ""
        name = dose.product_facts.get("name", "")
        site = self.protocol.rules.sites.get(dose.site)
        recorded = f"{name}, lot {dose.lot}, {dose.route}"
        said = {"antigens": self._antigens(dose.antigens), "name": self.t.own(name)}
        where = named("site", site.label, self.t) if site else self.t("prevention.not_recorded")
        return (
            self.t.sentence(f"{key}:what", "prevention.what", "the dose", recorded, by, strong=True, **said),
            Sentence(f"{key}:lot", dose.lot, "the dose", recorded, by),
            Sentence(f"{key}:where", where, "the dose", dose.site, by),
            self._next_of(dose, key),
        )

    def _antigens(self, codes: list[str]) -> str:
        """Distemper, adenovirus (hepatitis), parvovirus."""
        labels = [named("label", self.protocol.rules.antigens.get(code, code), self.t) for code in codes]
        return ", ".join(label if n == 0 else _inside(label) for n, label in enumerate(labels))

    def _next_of(self, dose: Dose, key: str) -> Sentence:
        """The earliest day any of its antigens is due again."""
        dues = [due for group in self.groups for due in group.dues if _is_of(due, dose, self.protocol)]
        dated = [due for due in dues if due.target]
        if not dated:
            return self.t.sentence(f"{key}:next", "prevention.vet_says", SCHEDULE)
        due = min(dated, key=lambda each: each.target or date.max)
        assert due.target is not None
        return Sentence(f"{key}:next", self._day(due.target), SCHEDULE, _reasons(due))

    def _after_a_vaccine(self) -> tuple[Sentence, ...]:
        lump, t = self.protocol.rules.lump, self.t
        spans = {"growing": span(lump.growing_after, t), "present": span(lump.present_after, t)}
        size = f"{lump.size_cm:g}"
        sentences = [
            t.sentence("vaccine:after", "prevention.tired", "common practice after a vaccine", pet=self.pet),
            t.sentence("vaccine:lump", "prevention.lump", lump.source, lump.text, cm=size, **spans),
        ]
        if any(self.protocol.rules.rabies.antigen in dose.antigens for dose in self.doses):
            sentences.append(t.sentence("vaccine:law", "prevention.law", "local law"))
        return tuple(sentences)

    def _supplied(self) -> list[tuple[Sentence, ...]]:
        """Each with its own doses and dangers; what holds for several in the same words stands once, last."""
        told = [self._supply(each) for each in self.supplies]
        after: set[str] = set()
        kept = []
        for said in reversed(told):
            kept.append(tuple(each for each in said if not (_is_shared(each) and each.text in after)))
            after |= {each.text for each in said}
        return kept[::-1]

    def _supply(self, supply: Supply) -> tuple[Sentence, ...]:
        key, by, t = f"supply:{supply.pk}", supply.entered_by.printed_name, self.t
        fact, origin = supply_fact(supply), "the supply"
        what = {
            "name": t.own(supply.product_name),
            "ingredients": t.own(", ".join(supply.ingredients)),
            "count": supply.count,
        }
        if supply.band:
            what["size"] = size(supply.band, t)
        text = "prevention.supply_size" if supply.band else "prevention.supply"
        first = {"day": self._day(supply.first_on)}
        if supply.count > 1:
            first["every"] = every(fact.interval, t)
        then = "prevention.first_then" if supply.count > 1 else "prevention.first"
        ends = backwards(supply, self.protocol.calendar, t)
        return (
            t.sentence(f"{key}:what", text, origin, supply.product_name, by, strong=True, **what),
            t.sentence(f"{key}:first", then, origin, "", by, **first),
            # it acts backwards: never "protected until"
            t.sentence(f"{key}:next", "prevention.backwards", SCHEDULE, "", by, strong=True, **ends),
            *self._cautions(supply, key),
        )

    def _cautions(self, supply: Supply, key: str) -> list[Sentence]:
        """The label goes before; these stand where they matter."""
        classes = {self.protocol.rules.ingredients.get(name.lower(), "") for name in supply.ingredients}
        said, t = [], self.t
        if "heartworm" in supply.protects:
            said.append(t.sentence(f"{key}:acts", "prevention.acts_backwards", "AHS 2018/2020"))
        if "isoxazoline" in classes:
            said.append(t.sentence(f"{key}:isoxazoline", "prevention.isoxazoline", "FDA", pet=self.pet))
        if "permethrin" in classes:
            said.append(t.sentence(f"{key}:permethrin", "prevention.permethrin", "CAPC", pet=self.pet))
        is_cat = self.record.visit.patient.species == Species.CAT
        if is_cat and "fleas_ticks" in supply.protects:
            said.append(t.sentence(f"{key}:cats", "prevention.cats", "CAPC: permethrin", pet=self.pet))
        if supply.band:
            text = "prevention.size_fits_grown" if self._is_grown(supply.first_on) else "prevention.size_fits"
            said.append(t.sentence(f"{key}:size", text, "the label"))
        return said

    def _is_grown(self, on: date) -> bool:
        birth = self.birth
        return birth is not None and on >= self.protocol.calendar.due(birth.youngest(on), GROWN_AT)

    def _treatment(self, given: TreatmentGiven) -> Sentence:
        said = {"what": self.t(f"did.{given.kind}"), "day": self._day(given.on)}
        if given.words:
            said["words"] = self.t.own(given.words.rstrip("."))
        text = "prevention.treatment_words" if given.words else "prevention.treatment"
        by = given.entered_by.printed_name
        return self.t.sentence(f"treatment:{given.pk}", text, "the treatment", given.words, by, **said)

    def _declined(self, row: Decline) -> Line:
        key, by, t = f"decline:{row.pk}", row.entered_by.printed_name, self.t
        why, origin = t.own(row.reason.rstrip(".")), "the refusal"
        return Line(
            t.sentence(key, "prevention.declined", origin, row.reason, by, what=self._label(row)),
            (
                t.sentence(f"{key}:why", "prevention.reason", origin, row.reason, by, why=why),
                t.sentence(f"{key}:again", "prevention.again", origin, "", by, day=self._day(row.until)),
            ),
            Mark.DECLINED,
        )

    def _put_off(self, row: Deferral) -> Line:
        key, by, t = f"deferral:{row.pk}", row.entered_by.printed_name, self.t
        said = {"what": self._label(row), "day": self._day(row.until)}
        why = t.own(capital(row.reason.rstrip(".")))
        return Line(
            t.sentence(key, "prevention.put_off", "the record", row.reason, by, **said),
            (t.sentence(f"{key}:why", "prevention.why", "the record", row.reason, by, why=why),),
            Mark.PENDING,
        )

    def _label(self, row: PutOff) -> str:
        """The item's own name: a code is never printed."""
        for group in self.groups:
            for due in group.dues:
                if row.code in {due.code, due.group}:
                    if row.code == group.first.code:
                        return thing(group, self.t)
                    return named("label", due.group_label, self.t)
        return named("label", self.protocol.rules.antigens.get(row.code, row.code), self.t)

    def _who_decides(self) -> Sentence:
        return self.t.sentence("prevention:decides", "prevention.decides", "the usual caution")


@once
def _recorded(
    record: Record,
) -> tuple[list[Dose], list[Supply], list[TreatmentGiven], list[Decline], list[Deferral]]:
    """What stands for prevention in this record. Five queries."""
    here = {"record": record, "struck_at": None}
    return (
        list(Dose.objects.filter(**here).select_related("given_by", "entered_by")),
        list(Supply.objects.filter(**here).select_related("entered_by")),
        list(TreatmentGiven.objects.filter(**here).select_related("entered_by")),
        list(Decline.objects.filter(**here).select_related("entered_by")),
        list(Deferral.objects.filter(**here).select_related("entered_by")),
    )


def _is_shared(said: Sentence) -> bool:
    """Whether it speaks of preventives as such: not of one product's doses, days or dangers."""
    return said.key.endswith((":acts", ":cats", ":size"))


def named(kind: str, label: str, t: Texts) -> str:
    """A name of the protocol in the owner's language; one that it does not know stays as it is, marked."""
    key = f"{kind}.{label}"
    if key in t:
        return t(key)
    return t.own(label) if t.english is not None else label


def backwards(supply: Supply, cal: Calendar, t: Texts) -> dict[str, str]:
    """What `prevention.backwards` says: the last dose and the day the next is due."""
    fact, said = supply_fact(supply), words(t.language)
    return {
        "form": t(f"form.{FORMS.get(supply.form, 'dose')}"),
        "last": long_day(fact.doses_on(cal)[-1], said),
        "next": long_day(fact.covered_until(cal), said),
    }


def thing(group: DueGroup, t: Texts) -> str:
    """Rabies vaccine; Faecal test; Heartworm prevention, next dose."""
    label, kind = named("label", group.label, t), group.first.kind
    key = {"vaccine": "prevention.vaccine", "prevention": "prevention.next_dose"}.get(kind)
    return t(key, label=label) if key else label


def things(groups: Iterable[DueGroup], t: Texts) -> str:
    """What is due on one day; next doses of several preventives are named once, and last."""
    each = list(groups)
    doses = [group for group in each if group.first.kind == "prevention"]
    if len(doses) < 2:
        return _in_one([thing(group, t) for group in each])
    labels = ", ".join(_inside(named("label", group.label, t)) for group in doses)
    others = [thing(group, t) for group in each if group not in doses]
    return _in_one([*others, t("prevention.next_doses", labels=labels)])


def _in_one(names: list[str]) -> str:
    return "; ".join(capital(name) if n == 0 else _inside(name) for n, name in enumerate(names))


def _inside(name: str) -> str:
    """As it stands within a sentence: an abbreviation and a name keep their capitals."""
    word = name.partition(" ")[0]
    keeps = word in NAMES or any(letter.isupper() for letter in word[1:])
    return name if keeps else name[:1].lower() + name[1:]


_NUMBER = r"(\d[\d.]*)"
_BANDS = tuple(
    (key, re.compile(f"{words} (kg|lb)"), names)
    for key, words, names in (
        ("band", f"over {_NUMBER} to {_NUMBER}", ("low", "high")),
        ("band_from", f"{_NUMBER} to {_NUMBER}", ("low", "high")),
        ("band_up_to", f"up to {_NUMBER}", ("high",)),
        ("band_over", f"over {_NUMBER}", ("low",)),
    )
)


def size(band: str, t: Texts) -> str:
    """The weights that a pack is for, as the label has them."""
    for key, shape, names in _BANDS:
        if found := shape.fullmatch(band):
            return t(f"prevention.{key}", **dict(zip((*names, "unit"), found.groups(), strict=True)))
    return t.own(band)


def span(length: Span, t: Texts) -> str:
    """12 weeks; 1 month."""
    return t("span.some", n=length.value, unit=t(f"span.{length.unit.value}", n=length.value))


def every(length: Span, t: Texts) -> str:
    """Every month, not every 1 month."""
    return t(f"span.{length.unit.value}", n=1) if length.value == 1 else span(length, t)


def _is_of(due: Due, dose: Dose, protocol: Protocol) -> bool:
    if due.kind != "vaccine":
        return False
    if due.code == "rabies":
        return protocol.rules.rabies.antigen in dose.antigens
    named = due.code.partition(":")[2]
    return (
        named in dose.antigens
        if named
        else bool(set(protocol.rules.vaccines[due.group].antigens) & set(dose.antigens))
    )


def _reasons(due: Due) -> str:
    return " ".join(f"{step.text} ({step.source})" for step in (*due.why, *due.notes))


def _not_done(groups: tuple[DueGroup, ...], today: date, t: Texts) -> Sentence:
    # nobody may have begun with a preventive: then there is no next dose
    names = "; ".join(
        _inside(named("label", group.label, t) if group.first.kind == "prevention" else thing(group, t))
        for group in groups
    )
    since = [group.first.due_by for group in groups if group.first.due_by and group.first.due_by < today]
    key = "prevention.open_call" if since else "prevention.open"
    reasons = " ".join(_reasons(group.first) for group in groups)
    return t.sentence("prevention:open", key, SCHEDULE, reasons, names=names)


def _next_things(groups: tuple[DueGroup, ...], today: date, t: Texts) -> tuple[Dated, ...]:
    """What comes within 13 months, joined by day."""
    by_day: dict[date, list[DueGroup]] = defaultdict(list)
    for group in groups:
        on = _when(group.first, today)
        if on is not None and today < on <= today + MONTHS_AHEAD:
            by_day[on].append(group)
    return tuple(
        Dated(
            on,
            Sentence(
                f"due:{on.isoformat()}",
                things(found, t),
                SCHEDULE,
                " ".join(_reasons(group.first) for group in found),
            ),
        )
        for on, found in sorted(by_day.items())
    )


def _when(due: Due, today: date) -> date | None:
    at = standing(due, today)
    if at in {Standing.NOT_APPLICABLE, Standing.COMPLETE, Standing.HOLD} or due.kind == "dental":
        return None
    if due.pause and paused_on(due.pause, today) and due.pause.until:
        return max(due.pause.until, due.target or due.pause.until)
    return due.target
