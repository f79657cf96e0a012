"""The rows of Today for animals in the house and those that went home today."""

from dataclasses import dataclass

from clinic.mail.models import Message
from clinic.mail.telling import told
from clinic.people.actor import Actor
from clinic.people.rights import Right, Role
from clinic.platform.registries import Flag
from clinic.visits import day
from clinic.visits.actions.places import END_OF_LIFE, WAYS
from clinic.visits.drawings import Trail, Wait, minutes_in_words, trail, wait
from clinic.visits.models import Visit
from clinic.visits.today_sight import Animal, Sight, animal_of, clock, minutes_since, number_of, step_url

P = Visit.Place
WAY_WORDS = {
    P.ARRIVED: "Back to the waiting room",
    P.WITH_TECHNICIAN: "With the technician",
    P.WITH_CLINICIAN: "With the clinician",
    P.ADMITTED: "Admitted, stays here",
    P.GONE_HOME: "Gone home",
    P.LEFT_EARLY: "Left early",
}
DOING = {
    P.ARRIVED: "waiting",
    P.WITH_TECHNICIAN: "at intake",
    P.WITH_CLINICIAN: "in exam",
    P.ADMITTED: "admitted",
}
RECORD_WORDS = ("not begun", "intake", "exam", "assessment and plan", "signed", "letter sent")
SIGNED, SENT = 4, 5


@dataclass(frozen=True)
class Way:
    to: str
    words: str


@dataclass(frozen=True)
class Urgent:
    visit_id: int
    animal: Animal
    why: str
    tapped: str
    where: str
    taken: str
    may_take: bool


@dataclass(frozen=True)
class Here:
    visit_id: int
    animal: Animal
    why: str
    body: Trail
    place_note: str
    paper: Trail
    wait: Wait | None
    flags: tuple[Flag, ...]
    seen: str
    take: Way | None
    ways: tuple[Way, ...]
    see_now: bool
    mark: Flag | None = None


@dataclass(frozen=True)
class Group:
    """Animals of one household that came, or come, together; `title` is empty for one alone."""

    title: str
    note: str
    rows: tuple[Here, ...]


def urgent_row(visit: Visit, sight: Sight) -> Urgent:
    by = visit.see_now_by.full_name if visit.see_now_by else ""
    where = ", ".join(part for part in (visit.get_place_display(), visit.room) if part)
    taken = visit.see_now_taken_by.full_name if visit.see_now_taken_by else ""
    return Urgent(
        visit_id=visit.pk,
        animal=animal_of(visit.patient, _work_url(visit), sight),
        why=visit.see_now_why,
        tapped=f"Tapped by {by}, {clock(visit.see_now_at)}.",
        where=f"{where[:1].upper()}{where[1:]}. {_came_for(visit)}".strip(),
        taken=f"{taken} has it" if taken else "",
        may_take=not taken and sight.actor.may(Right.ASSESS),
    )


def _came_for(visit: Visit) -> str:
    why = visit.owners_words or visit.booked_for
    return f"Came for: {why.rstrip('.')}." if why else ""


def groups(visits: list[Visit], sight: Sight) -> tuple[Group, ...]:
    """Longest wait first; a household that came together stays together."""
    households: dict[object, list[Visit]] = {}
    for visit in visits:
        households.setdefault(visit.arrival_id or f"visit {visit.pk}", []).append(visit)
    return tuple(_group(together, sight) for together in households.values())


def _group(together: list[Visit], sight: Sight) -> Group:
    rows = tuple(here_row(visit, sight) for visit in together)
    arrival = together[0].arrival
    if len(together) == 1 or arrival is None:
        return Group(title="", note="", rows=rows)
    many = len(together)
    return Group(
        title=f"{arrival.owner.family_name} household",
        note=f"one arrival, {clock(arrival.at)}; {many} exams, {many} letters",
        rows=rows,
    )


def here_row(visit: Visit, sight: Sight) -> Here:
    left = visit.place in day.PLACES_LEFT
    place = P(visit.place)
    return Here(
        visit_id=visit.pk,
        animal=animal_of(visit.patient, _work_url(visit), sight),
        why=visit.owners_words or visit.booked_for,
        body=trail("the animal", _body_at(visit), "waits again" if _waits_again(visit) else place.label),
        place_note=_place_note(visit),
        paper=trail("the record", _paper_at(visit, sight), RECORD_WORDS[_paper_at(visit, sight)]),
        wait=None if left else wait(minutes_since(visit.place_since, sight.now), DOING[place]),
        flags=tuple(sight.flags.get(visit.pk, ())),
        seen=visit.place,
        take=None if left else _take(visit, sight.actor),
        ways=tuple(Way(to, words) for to, words in WAY_WORDS.items() if to in WAYS[place]),
        see_now=visit.see_now_at is None and not left,
        mark=_gone_mark(visit, sight) if left else None,
    )


def _take(visit: Visit, actor: Actor) -> Way | None:
    """The step this person would take next with an animal that waits."""
    if (
        visit.place == P.ARRIVED
        and actor.roles & {Role.TECHNICIAN, Role.ASSISTANT}
        and not visit.technician_id
    ):
        return Way(P.WITH_TECHNICIAN, "To intake")
    if visit.place in (P.ARRIVED, P.WITH_TECHNICIAN) and Role.CLINICIAN in actor.roles:
        return Way(P.WITH_CLINICIAN, "To the exam")
    return None


def _waits_again(visit: Visit) -> bool:
    return visit.place == P.ARRIVED and visit.technician_id is not None


def _body_at(visit: Visit) -> int:
    if _waits_again(visit):
        return 2
    return {P.ARRIVED: 0, P.WITH_TECHNICIAN: 1, P.WITH_CLINICIAN: 3, P.ADMITTED: 4}.get(P(visit.place), 5)


def _paper_at(visit: Visit, sight: Sight) -> int:
    if visit.record.is_signed:
        message = sight.messages.get(visit.record.pk)
        return SENT if message and message.state == Message.State.SENT else SIGNED
    return sight.stages[visit.pk]


def _place_note(visit: Visit) -> str:
    if visit.place in day.PLACES_LEFT:
        return clock(visit.gone_at)
    if visit.place == P.ARRIVED and visit.see_now_taken_by:
        return f"{visit.see_now_taken_by.full_name} has it"
    person = {
        P.WITH_TECHNICIAN: visit.technician,
        P.WITH_CLINICIAN: visit.clinician,
        P.ADMITTED: visit.clinician,
        P.ARRIVED: visit.clinician,
    }.get(P(visit.place))
    name = f"for {person.full_name}" if person and visit.place == P.ARRIVED else person and person.full_name
    return ", ".join(part for part in (visit.room, name) if part)


def _gone_mark(visit: Visit, sight: Sight) -> Flag:
    if not visit.record.is_signed:
        who = f": {visit.clinician.full_name}" if visit.clinician else ""
        since = minutes_in_words(max(minutes_since(visit.place_since, sight.now), 0))
        return Flag("abnormal", f"not signed, {since}{who}")
    if visit.outcome in END_OF_LIFE:
        return Flag("normal", f"{visit.get_outcome_display()}; no letter goes out")
    message = sight.messages.get(visit.record.pk)
    if visit.record.pk in sight.handed and (message is None or message.state != Message.State.SENT):
        return Flag("normal", "letter given on paper")
    if message is None:
        return Flag("abnormal", "no e-mail: print the letter")
    mail = told(message.state, message.state_why)
    at = f" {clock(message.sent_at)}" if message.state == Message.State.SENT else ""
    return Flag(mail.shape, f"letter {mail.words}{at}")


def gone_words(gone: list[Visit]) -> str:
    open_records = sum(not visit.record.is_signed for visit in gone)
    said = number_of(len(gone), "animal").lower()
    return f"{said}; {open_records} not signed" if open_records else said


def _work_url(visit: Visit) -> str:
    """Where the visit's work is now."""
    if visit.place in day.PLACES_LEFT:
        return step_url(visit, "sign")
    return step_url(visit, "exam" if visit.place in (P.WITH_CLINICIAN, P.ADMITTED) else "intake")
