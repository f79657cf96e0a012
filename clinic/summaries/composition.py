"""Facts become a summary: every part is named, also one that has nothing to say. Pure.

What belongs in it follows what a record holds (RCVS 13.1; Texas 22 TAC 573.52); which of it a colleague needs
first is common practice. Of the owner it says only how to reach them (data minimisation, GDPR Art. 5(1)(c),
from memory).
"""

from collections.abc import Iterable, Iterator
from itertools import groupby

from clinic.letters.document import Block, Section, Table, Text
from clinic.letters.wording import long_day
from clinic.summaries.blocks import facts as fact_rows
from clinic.summaries.blocks import lines, paragraph, say, tables
from clinic.summaries.document import Sheet
from clinic.summaries.facts import Directed, Facts, Lasting, OpenMatter, Result, Tested, Thought

NONE = "None recorded."
OPEN_RECORD = "The record of that visit is not signed yet."


def compose(facts: Facts) -> Sheet:
    """The summary that these facts make."""
    return Sheet(
        language="en",
        clinic_name=facts.clinic.name,
        clinic_lines=facts.clinic.lines,
        phone=facts.clinic.phone,
        email=facts.clinic.email,
        patient_name=facts.animal.name,
        day=long_day(facts.today),
        for_whom=f"For {facts.asked.to_whom}: {facts.asked.purpose}.",
        parts=tuple(_named(each) for each in sorted(_parts(facts), key=lambda each: each.order)),
        signed=(f"{facts.signer}, {long_day(facts.today)}.",),
        paper=facts.clinic.paper,
    )


def _named(part: Section) -> Section:
    """A part without facts is named all the same: silence could be read as “nothing wrong”."""
    if part.blocks:
        return part
    return Section(part.name, part.title, part.order, (paragraph(NONE),))


def _parts(facts: Facts) -> Iterator[Section]:
    yield Section("reason", "Reason", 0, _paragraphs(facts.asked.why))
    yield Section("consent", "Consent", 1, (paragraph(facts.asked.agreed),))
    yield Section("patient", "Patient", 5, (_animal(facts),))
    yield Section("owner", "Owner", 6, _owners(facts))
    yield Section("problems", "Open problems", 10, lines(_problem(each) for each in facts.problems))
    # apart, so that “none recorded” stands at the allergies too
    yield Section("allergies", "Allergies", 14, _lasting(each for each in facts.lasting if each.allergy))
    yield Section(
        "lasting", "Lasting facts", 15, _lasting(each for each in facts.lasting if not each.allergy)
    )
    yield Section("medicines", "Medicines in use", 20, _medicines(facts))
    yield Section("weight", "Weight", 50, _weights(facts))
    yield Section("tests", "Tests", 60, _tests(facts))
    yield Section("diet", "Diet", 80, _diet(facts))
    yield Section("awaited", "Awaited", 90, _awaited(facts))
    for room in facts.rooms:
        yield Section(room.name, room.title, room.order, room.blocks)


def _paragraphs(text: str) -> tuple[Block, ...]:
    return tuple(paragraph(line.strip()) for line in text.splitlines() if line.strip())


def _animal(facts: Facts) -> Table:
    animal = facts.animal
    return fact_rows(
        (
            ("Name", animal.name),
            ("Species", animal.species),
            ("Breed", animal.breed or "not recorded"),
            ("Sex", animal.sex),
            ("Birth", animal.born or "not known"),
            ("Colour", animal.colour),
            ("Microchip", "; ".join(animal.chips) or "none recorded"),
            ("Standing", animal.left),
        )
    )


def _owners(facts: Facts) -> tuple[Block, ...]:
    if not facts.keepers:
        return ()
    return (fact_rows((each.name, each.phone or "no telephone recorded") for each in facts.keepers),)


def _problem(matter: OpenMatter) -> tuple[str, tuple[str, ...]]:
    thoughts = tuple(_thought(each) for each in matter.thoughts)
    said = thoughts or ("Not assessed yet.",)
    open_record = any(not each.signed for each in matter.thoughts)
    return f"{matter.title}, since {long_day(matter.since)}.", (*said, OPEN_RECORD if open_record else "")


def _thought(each: Thought) -> str:
    course = f"; course: {each.course}" if each.course else ""
    return f"{each.certainty.capitalize()}: {each.text.rstrip('.')}{course} ({long_day(each.on)}, {each.by})."


def _lasting(rows: Iterable[Lasting]) -> tuple[Block, ...]:
    return tables(
        ("What", "Kind", "Since"),
        [(each.words, each.kind, long_day(each.since) if each.since else "not known") for each in rows],
    )


def _medicines(facts: Facts) -> tuple[Block, ...]:
    directed: tuple[Block, ...] = tuple(_directed(each) for each in facts.medicines)
    if facts.at_home and not directed:
        directed = (paragraph("Directed by us: none."),)
    at_home = lines((f"{each.name}, given by the owner.", (each.words,)) for each in facts.at_home)
    return (*directed, *at_home)


def _directed(each: Directed) -> Text:
    until = f" Until {long_day(each.until)}." if each.until else ""
    return Text(
        (
            say(f"{each.name}.", strong=True),
            say(each.directions),
            say(f"For {each.reason.rstrip('.')}; {each.by}, {long_day(each.on)}.{until}"),
            *(() if each.signed else (say(OPEN_RECORD),)),
        )
    )


def _weights(facts: Facts) -> tuple[Block, ...]:
    told = tables(
        ("Day", "Weight", "Body condition", "Muscle"),
        [(long_day(each.on), each.weight, each.condition, each.muscle) for each in facts.weighings],
    )
    left = facts.older_weights
    return (*told, paragraph(f"Older days that are not shown: {left}.")) if left else told


def _tests(facts: Facts) -> tuple[Block, ...]:
    """Tests of one value stand together in one table, a profile in a table of its own; the newest first."""
    found: list[Block] = []
    for alone, run in groupby(facts.tests, key=lambda each: len(each.results) == 1):
        tests = tuple(run)
        found += _of_one_value(tests) if alone else [block for each in tests for block in _profile(each)]
    if facts.older_tests:
        found.append(paragraph(f"Older tests that are not shown: {facts.older_tests}."))
    return tuple(found)


RESULT_HEAD = ("Result", "Unit", "Interval", "Meaning")


def _of_one_value(tests: tuple[Tested, ...]) -> Iterator[Block]:
    rows = []
    for each in tests:
        (row,) = each.results
        what = each.title if row.what == each.title else f"{each.title}, {row.what}"
        rows.append((f"{what}, {long_day(each.on)}", *_result(row)))
    yield from tables(("Test", *RESULT_HEAD), rows)


def _profile(each: Tested) -> Iterator[Block]:
    yield Text((say(f"{each.title}, {long_day(each.on)}.", strong=True),))
    yield from tables(("Measured", *RESULT_HEAD), [(row.what, *_result(row)) for row in each.results])


def _result(row: Result) -> tuple[str, ...]:
    return row.value, row.unit, row.interval, row.meaning if row.read else f"{row.meaning}, not read yet"


def _diet(facts: Facts) -> tuple[Block, ...]:
    return tables(
        ("Food", "Amount", "As", "Since"),
        [(each.food, each.amount, each.part, long_day(each.since)) for each in facts.diet],
    )


def _awaited(facts: Facts) -> tuple[Block, ...]:
    return tables(
        ("What", "By", "Who"),
        [(each.what, long_day(each.by) if each.by else "no day set", each.who) for each in facts.awaited],
    )
