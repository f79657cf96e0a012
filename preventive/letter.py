"""What prevention says in a letter: vaccines with lot and place, what went home, what comes next."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import date

from dateutil.relativedelta import relativedelta

from clinic.letters.document import Block, Dated, Line, Mark, Part, Section, Sentence, Table, Text, Walk
from clinic.letters.wording import long_day
from clinic.visits.models import Record
from preventive.due import Due, DueGroup, Standing, paused_on, standing
from preventive.knowing import supply_fact
from preventive.models import Decline, Deferral, Dose, PutOff, Supply, TreatmentGiven
from preventive.protocol import Protocol
from preventive.queries import ENDED, groups_at, known_at, unanswered
from preventive.versions import protocol_in_force
from preventive.wording import antigens, backwards, thing

MONTHS_AHEAD = relativedelta(months=13)
SCHEDULE = "the schedule"


@dataclass(frozen=True)
class PreventionInLetter:
    name: str = "prevention"
    order: int = 70

    def part(self, record: Record, *, language: str, today: date) -> Part:
        """Nothing for an animal that died at this visit."""
        if record.visit.outcome in ENDED or record.visit.patient.deceased_on:
            return Part()
        protocol = protocol_in_force()
        groups = groups_at(known_at(record.visit, today=today), protocol, today=today)
        said = _Said(record, protocol, groups, today)
        blocks = said.blocks()
        return Part(
            sections=(Section("vaccines", "Prevention", 70, blocks),) if blocks else (),
            call_now=said.call_now(),
            next_things=_next_things(groups, today),
        )


class _Said:
    """Everything recorded for prevention at one visit, said for its owner."""

    def __init__(self, record: Record, protocol: Protocol, groups: tuple[DueGroup, ...], today: date) -> None:
        self.record, self.protocol, self.groups, self.today = record, protocol, groups, today
        self.pet = record.visit.patient.name
        self.doses = list(
            Dose.objects.filter(record=record, struck_at=None).select_related("given_by", "entered_by")
        )
        self.supplies = list(
            Supply.objects.filter(record=record, struck_at=None).select_related("entered_by")
        )
        self.treatments = list(
            TreatmentGiven.objects.filter(record=record, struck_at=None).select_related("entered_by")
        )
        self.declines = list(
            Decline.objects.filter(record=record, struck_at=None).select_related("entered_by")
        )
        self.deferrals = list(
            Deferral.objects.filter(record=record, struck_at=None).select_related("entered_by")
        )

    def blocks(self) -> tuple[Block, ...]:
        found: list[Block] = []
        if self.doses:
            found += [self._vaccines(), Text(self._after_a_vaccine())]
        found += [Text(self._supply(each)) for each in self.supplies]
        found += [Text((self._treatment(each),)) for each in self.treatments]
        lines = [
            *(self._declined(each) for each in self.declines),
            *(self._put_off(each) for each in self.deferrals),
        ]
        if lines:
            found.append(Walk(tuple(lines)))
        still = unanswered(self.record, self.groups, self.protocol, today=self.today)
        if still:
            found.append(Text((_not_done(still, self.today),), Mark.ABNORMAL))
        if found:
            found.append(Text((self._who_decides(),)))
        return tuple(found)

    def call_now(self) -> tuple[Sentence, ...]:
        if not self.doses:
            return ()
        text = (
            f"{self.pet}’s face swells, or {self.pet} vomits again and again, breathes hard or collapses "
            "after the vaccine."
        )
        return (Sentence("call-now:vaccine", text, "common practice after a vaccine"),)

    def _vaccines(self) -> Table:
        return Table(
            rows=tuple(self._vaccine(each) for each in self.doses),
            head=("Vaccine", "Lot", "Where", "Next dose"),
        )

    def _vaccine(self, dose: Dose) -> tuple[Sentence, ...]:
        key, by = f"dose:{dose.pk}", dose.given_by.printed_name if dose.given_by else ""
        name = dose.product_facts.get("name", "")
        what = f"{antigens(dose.antigens, self.protocol.rules)} ({name})"
        site = self.protocol.rules.sites.get(dose.site)
        recorded = f"{name}, lot {dose.lot}, {dose.route}"
        return (
            Sentence(f"{key}:what", what, "the dose", recorded, by, strong=True),
            Sentence(f"{key}:lot", dose.lot, "the dose", recorded, by),
            Sentence(f"{key}:where", site.label if site else "not recorded", "the dose", dose.site, by),
            self._next_of(dose, key),
        )

    def _next_of(self, dose: Dose, key: str) -> Sentence:
        """The earliest day any of its antigens is due again."""
        dues = [due for group in self.groups for due in group.dues if _is_of(due, dose, self.protocol)]
        dated = [due for due in dues if due.target]
        if not dated:
            return Sentence(f"{key}:next", "your veterinarian says when", SCHEDULE)
        due = min(dated, key=lambda each: each.target or date.max)
        assert due.target is not None
        return Sentence(f"{key}:next", long_day(due.target), SCHEDULE, _reasons(due))

    def _after_a_vaccine(self) -> tuple[Sentence, ...]:
        lump = self.protocol.rules.lump
        size = f"{lump.size_cm:g}"
        sentences = [
            Sentence(
                "vaccine:after",
                f"{self.pet} may be tired or sore for a day or two.",
                "common practice after a vaccine",
            ),
            Sentence(
                "vaccine:lump",
                f"A small lump can form where the needle went in. Call us if it still grows after "
                f"{lump.growing_after.words}, is larger than {size} cm, or is still there after "
                f"{lump.present_after.words}.",
                lump.source,
                lump.text,
            ),
        ]
        if any(self.protocol.rules.rabies.antigen in dose.antigens for dose in self.doses):
            text = "Local law says from when the rabies vaccine counts and when it is due again."
            sentences.append(Sentence("vaccine:law", text, "local law"))
        return tuple(sentences)

    def _supply(self, supply: Supply) -> tuple[Sentence, ...]:
        key, by = f"supply:{supply.pk}", supply.entered_by.printed_name
        size = f", size {supply.band}" if supply.band else ""
        fact = supply_fact(supply)
        what = f"{supply.product_name}{size} ({', '.join(supply.ingredients)}), {supply.count} to take home."
        first = (
            f"Give the first on {long_day(supply.first_on)}, then one every {_every(fact.interval.words)}."
        )
        sentences = [
            Sentence(f"{key}:what", what, "the supply", supply.product_name, by, strong=True),
            Sentence(
                f"{key}:first",
                first if supply.count > 1 else first.partition(",")[0] + ".",
                "the supply",
                by=by,
            ),
            Sentence(
                f"{key}:next",
                backwards(fact, supply.form, self.protocol.calendar),
                SCHEDULE,
                by=by,
                strong=True,
            ),
        ]
        return (*sentences, *self._cautions(supply, key))

    def _cautions(self, supply: Supply, key: str) -> list[Sentence]:
        """The label goes before; these stand where they matter."""
        classes = {self.protocol.rules.ingredients.get(name.lower(), "") for name in supply.ingredients}
        said = []
        if "heartworm" in supply.protects:
            text = (
                "It acts backwards, on what was caught in the weeks before: do not leave one out, and tell "
                "us if one was late."
            )
            said.append(Sentence(f"{key}:backwards", text, "AHS 2018/2020"))
        if "isoxazoline" in classes:
            text = f"Call us at once if {self.pet} trembles, staggers or has a fit."
            said.append(Sentence(f"{key}:isoxazoline", text, "FDA"))
        if "permethrin" in classes:
            text = f"It is poisonous to cats: keep every cat away from {self.pet} as the label says."
            said.append(Sentence(f"{key}:permethrin", text, "CAPC"))
        if supply.band:
            text = "The size fits today’s weight; a growing animal is weighed again before the next."
            said.append(Sentence(f"{key}:size", text, "the label"))
        return said

    def _treatment(self, given: TreatmentGiven) -> Sentence:
        words = f": {given.words.rstrip('.')}" if given.words else ""
        text = f"{given.get_kind_display().capitalize()} done on {long_day(given.on)}{words}."
        return Sentence(
            f"treatment:{given.pk}", text, "the treatment", given.words, given.entered_by.printed_name
        )

    def _declined(self, row: Decline) -> Line:
        key, by = f"decline:{row.pk}", row.entered_by.printed_name
        label = Sentence(key, f"{self._label(row)}: declined today.", "the refusal", row.reason, by)
        why = Sentence(f"{key}:why", f"Your reason: {row.reason.rstrip('.')}.", "the refusal", row.reason, by)
        again = Sentence(f"{key}:again", f"We ask again on {long_day(row.until)}.", "the refusal", by=by)
        return Line(label, (why, again), Mark.DECLINED)

    def _put_off(self, row: Deferral) -> Line:
        key, by = f"deferral:{row.pk}", row.entered_by.printed_name
        text = f"{self._label(row)}: put off to {long_day(row.until)}."
        why = Sentence(
            f"{key}:why",
            f"{row.reason[:1].upper()}{row.reason[1:].rstrip('.')}.",
            "the record",
            row.reason,
            by,
        )
        return Line(Sentence(key, text, "the record", row.reason, by), (why,), Mark.PENDING)

    def _label(self, row: PutOff) -> str:
        """The item's own name: a code is never printed."""
        for group in self.groups:
            for due in group.dues:
                if row.code in {due.code, due.group}:
                    return thing(group) if row.code == group.first.code else due.group_label
        return self.protocol.rules.antigens.get(row.code, row.code)

    def _who_decides(self) -> Sentence:
        text = (
            "These days follow published guidelines and the labels. Local law goes first, and your "
            f"veterinarian decides for {self.pet}."
        )
        return Sentence("prevention:decides", text, "the usual caution")


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
    return " ".join(f"{step.text} ({step.source})" for step in due.why)


def _not_done(groups: tuple[DueGroup, ...], today: date) -> Sentence:
    names = "; ".join(thing(group) for group in groups)
    since = [group.first.due_by for group in groups if group.first.due_by and group.first.due_by < today]
    text = f"Due, and not done today: {names}." + (" Please call us for a day." if since else "")
    return Sentence("prevention:open", text, SCHEDULE, " ".join(_reasons(group.first) for group in groups))


def _next_things(groups: tuple[DueGroup, ...], today: date) -> tuple[Dated, ...]:
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
                "; ".join(thing(group) for group in found),
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


def _every(words: str) -> str:
    """Every month, not every 1 month."""
    return words.removeprefix("1 ")
