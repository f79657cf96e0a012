"""Dues as call-backs: for many patients at once, and whether what is stored still says the same."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from django.db.models import Exists, OuterRef, Q, QuerySet

from clinic.callbacks.models import CallBack
from clinic.patients.models import Patient
from clinic.platform.registries import CallBackRow
from preventive.due import Due, Standing, grouped, paused_on, standing
from preventive.knowing import histories_of
from preventive.models import Dose, Reckoning, SiteLook
from preventive.protocol import Protocol
from preventive.recalls import untold_of
from preventive.schedule import due_items
from preventive.sites import lump_checks, next_look
from preventive.versions import protocol_in_force

SOURCE = "dues"
NEVER_AFTER = timedelta(days=365)  # ours: so long due and nothing recorded is unknown rather than overdue
NEVER_HELD_OUT = ("rabies", "heartworm", "felv", "fiv", "leukaemia")
NOTHING_DUE = frozenset({Standing.NOT_APPLICABLE, Standing.COMPLETE, Standing.HOLD})


@dataclass(frozen=True)
class Reckoned:
    """What one patient is to be called back for, and the first day on which that may be otherwise."""

    rows: tuple[CallBackRow, ...] = ()
    holds_until: date | None = None


def reckon(
    patients: Sequence[Patient],
    *,
    today: date,
    protocol: Protocol | None = None,
    examined_on: dict[int, date] | None = None,
) -> dict[int, Reckoned]:
    """By patient's id. As many queries for one as for a thousand; none wanted for one that died or left."""
    protocol = protocol or protocol_in_force()
    living = [each for each in patients if not _gone(each)]
    known = histories_of(living, today=today, examined_on=examined_on)
    others = _others(living, protocol)
    found = {each.pk: Reckoned() for each in patients}
    for patient in living:
        one = known[patient.pk]
        dues = due_items(one.animal, one.history, protocol, today)
        found[patient.pk] = Reckoned(
            rows=(*rows_of(dues, today), *others[patient.pk]),
            holds_until=earliest(one.changes_on, holds_until(dues, today)),
        )
    return found


def holds_until(dues: Sequence[Due], today: date) -> date | None:
    """The first day on which the rows of these dues may be others."""
    return earliest(*(due.recheck_on for due in dues), *(unknown_from(due, today) for due in dues))


def earliest(*days: date | None) -> date | None:
    return min((day for day in days if day is not None), default=None)


def _gone(patient: Patient) -> bool:
    return bool(patient.deceased_on or patient.left_practice_on or patient.merged_into_id)


def rows_of(dues: tuple[Due, ...], today: date) -> list[CallBackRow]:
    """One row for each group of dues that has a date."""
    rows = []
    for group in grouped(dues):
        due = group.first
        if due.target is None or standing(due, today) in NOTHING_DUE:
            continue
        not_before = due.pause.until if due.pause and paused_on(due.pause, today) else None
        due_on = max(due.target, not_before) if not_before else due.target
        latest = due.latest if due.latest is None or due.latest >= due_on else due_on
        nature = "series" if due.sequence and due.sequence.number else ""
        never = due.last_on is None and due.target + NEVER_AFTER <= today
        rows.append(
            CallBackRow(due.code[:80], group.label[:160], due_on, latest, nature, never, may_wait(group.dues))
        )
    return rows


def unknown_from(due: Due, today: date) -> date | None:
    """The day from which what is due by age alone is no longer called overdue, where it lies ahead."""
    if due.last_on is not None or due.target is None or due.target + NEVER_AFTER <= today:
        return None
    return due.target + NEVER_AFTER


def may_wait(dues: Sequence[Due]) -> bool:
    """Whether a household may be held out from asking, to compare: no legal item (rabies), no dose of a
    series, nothing of heartworm, no test of an infection found; ours, the stricter of what is usual.
    """
    return all(
        due.legal is None
        and not (due.sequence and due.sequence.number)
        and not any(word in due.code for word in NEVER_HELD_OUT)
        for due in dues
    )


def _others(patients: Sequence[Patient], protocol: Protocol) -> dict[int, list[CallBackRow]]:
    """What is no due and yet somebody should come or be called for. Two queries where there is none."""
    ids = [each.pk for each in patients]
    found: dict[int, list[CallBackRow]] = defaultdict(list)
    for part in (sites_of(ids, protocol), recalls_of(ids)):
        for patient_id, rows in part.items():
            found[patient_id] += rows
    return found


def sites_of(ids: Sequence[int], protocol: Protocol) -> dict[int, list[CallBackRow]]:
    """The next look at every lump at the place of an injection."""
    looks = SiteLook.objects.filter(
        Q(dose__patient__in=ids) | Q(dose__patient__merged_into__in=ids), struck_at=None
    )
    newest: dict[int, SiteLook] = {}
    for look in looks.select_related("dose__patient").order_by("on", "pk"):
        newest[look.dose_id] = look
    found: dict[int, list[CallBackRow]] = defaultdict(list)
    for look in newest.values():
        dose = look.dose
        if not look.there or dose.struck_at:
            continue
        following = next_look(lump_checks(protocol, dose.given_on), look.on)
        if following:
            label = "Lump at the place of an injection: look again"
            found[_counts_for(dose)].append(CallBackRow(f"site:{dose.pk}", label, following))
    return found


def recalls_of(ids: Sequence[int]) -> dict[int, list[CallBackRow]]:
    """Owners to be told that a lot their animal had was recalled."""
    found: dict[int, list[CallBackRow]] = defaultdict(list)
    for each in untold_of(ids):
        label = f"Recalled lot {each.lot}: tell the owner"
        found[each.patient_id].append(
            CallBackRow(f"recall:{each.key}", label, each.recalled_on, nature="by-person")
        )
    return found


def _counts_for(dose: Dose) -> int:
    return dose.patient.merged_into_id or dose.patient_id


# --- Which are to be reckoned anew, and which say something else --------------------------------------------


def living() -> QuerySet[Patient]:
    return Patient.objects.filter(deceased_on=None, left_practice_on=None, merged_into=None)


def stale(protocol: Protocol, *, today: date) -> QuerySet[Patient]:
    """Those never reckoned, reckoned by another protocol, or whose answer no longer holds."""
    holds = Reckoning.objects.filter(
        Q(holds_until=None) | Q(holds_until__gt=today), patient=OuterRef("pk"), protocol=protocol.sha256
    )
    return living().filter(~Exists(holds)).order_by("pk")


@dataclass(frozen=True)
class Difference:
    """One row of one patient; `stored` or `reckoned` None where that side has none."""

    patient_id: int
    key: str
    stored: CallBackRow | None
    reckoned: CallBackRow | None


def differences(patients: Sequence[Patient], *, today: date) -> list[Difference]:
    """Where the stored call-backs and the core disagree; nothing is written."""
    stored: dict[int, dict[str, CallBackRow]] = defaultdict(dict)
    for row in CallBack.objects.filter(patient__in=patients, source=SOURCE):
        stored[row.patient_id][row.key] = CallBackRow(
            row.key, row.label, row.due_on, row.latest_on, row.nature, row.never, row.may_wait
        )
    found = []
    for patient_id, answer in reckon(patients, today=today).items():
        wanted, has = {row.key: row for row in answer.rows}, stored[patient_id]
        for key in sorted(wanted.keys() | has.keys()):
            if wanted.get(key) != has.get(key):
                found.append(Difference(patient_id, key, has.get(key), wanted.get(key)))
    return found
