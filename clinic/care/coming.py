"""What comes next: planned lines with a day, and booked visits; one row where one answers the other."""

from collections.abc import Iterable
from datetime import date, timedelta

from clinic.care.models import PlanLine
from clinic.letters.document import Dated, Sentence
from clinic.letters.texts import Texts
from clinic.letters.wording import capital, clock, ended
from clinic.visits.models import NextVisit, Record

NEAR, BESIDE = timedelta(days=7), timedelta(days=1)
# what a visit can answer; a call and what is watched at home go on beside it
AT_A_VISIT = frozenset({PlanLine.Kind.RECHECK, PlanLine.Kind.TEST, PlanLine.Kind.PROCEDURE})


def coming(record: Record, lines: Iterable[PlanLine], w: Texts) -> tuple[Dated, ...]:
    """`lines`: those that are to be done and have a day. One query."""
    waiting = {each.pk: each for each in lines}
    rows = []
    visits = list(record.next_visits.filter(state=NextVisit.State.PLANNED))
    for booked in visits:
        line = _answered(booked, waiting.values(), alone=len(visits) == 1)
        if line is not None:
            del waiting[line.pk]
        rows.append(_booked(booked, line, w))
    return tuple(rows) + tuple(_planned(each, w) for each in waiting.values())


def _answered(booked: NextVisit, lines: Iterable[PlanLine], *, alone: bool) -> PlanLine | None:
    """The line of the same problem within a week; else, of a visit booked for no problem, one of that day;
    else the only line, a day beside the only visit."""
    able = [each for each in lines if each.kind in AT_A_VISIT]
    same = [each for each in able if _same_problem(booked, each) and abs(_day(each) - booked.on) <= NEAR]
    if same or booked.problem_id is not None:
        return next(iter(same), None)
    that_day = [each for each in able if _day(each) == booked.on]
    if not that_day and alone and len(able) == 1 and abs(_day(able[0]) - booked.on) <= BESIDE:
        that_day = able
    return next(iter(that_day), None)


def _same_problem(booked: NextVisit, line: PlanLine) -> bool:
    return booked.problem_id is not None and booked.problem_id == line.problem_id


def _day(line: PlanLine) -> date:
    assert line.due_on is not None
    return line.due_on


def _booked(each: NextVisit, line: PlanLine | None, w: Texts) -> Dated:
    reason = each.reason.rstrip(".")
    key, kind = f"next-visit:{each.pk}", each.get_kind_display()
    if line is None:
        what = Sentence(key, w.own(reason), "the next visit", kind)
    elif _same_problem(each, line):
        what = _words(line, w)
    else:  # nobody said that they are one thing: both stand
        said = {"words": w.own(ended(owner_words(line))), "reason": w.own(capital(reason))}
        what = w.sentence(key, "plan.booked", "the next visit", f"{kind}; {line.text}", **said)
    return Dated(each.on, what, exact=not each.week_of, time=clock(each.at, w) if each.at else "")


def _planned(line: PlanLine, w: Texts) -> Dated:
    return Dated(_day(line), _words(line, w))


def _words(line: PlanLine, w: Texts) -> Sentence:
    words = w.own(owner_words(line).rstrip("."))
    text = "plan.calls" if who_calls(line) else "plan.words"
    return w.sentence(f"plan:{line.pk}", text, "the plan", line.text, words=words, **who_calls(line))


def owner_words(line: PlanLine) -> str:
    """What the owner reads of a plan line: its sentence for them, else the record's own."""
    return line.for_owner or line.text


def who_calls(line: PlanLine) -> dict[str, str]:
    """Who calls the owner, where that is what was planned."""
    calls = line.kind == PlanLine.Kind.CALL and line.answerable
    return {"who": line.answerable.full_name} if calls and line.answerable else {}
