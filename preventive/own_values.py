"""The single values of the protocol that a clinic may set for itself, each with what it changes. Pure."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from preventive.dates import Span, Unit
from preventive.protocol import Protocol, ProtocolError

LONGEST_DAYS = 3653
_DAYS = {Unit.DAY: 1, Unit.WEEK: 7, Unit.MONTH: 30.4, Unit.YEAR: 365.25}
MAXIMUM = "maximum"


@dataclass(frozen=True, slots=True)
class OwnValue:
    """One value. `now`: the span or number in force as the files write it; "" where none is set.

    `unit`: "span" for a number with its unit, else the unit of the number. `own`: the clinic's already.
    `of_law`: it stands under the law, and only a stricter one is taken.
    """

    path: str
    about: str
    what: str
    changes: str
    now: str
    unit: str
    source: str
    certainty: str
    own: bool
    of_law: bool = False

    @property
    def now_words(self) -> str:
        return value_words(self.now, self.unit) if self.now else "none"


# What may be set, as a path in which * stands for any name or number; what it is; what changes with it.
_MAY_BE_SET = (
    (
        "vaccines.*.courses.*.start.earliest",
        "no dose counts below the age of",
        "A dose given younger does not count, and the first one is not offered sooner.",
    ),
    ("vaccines.*.courses.*.start.usual", "first dose at", "The first dose becomes due at this age."),
    (
        "vaccines.*.courses.*.series.gap_min",
        "doses of the series not closer than",
        "The next dose of the series is not offered sooner.",
    ),
    (
        "vaccines.*.courses.*.series.gap_max",
        "doses of the series at most apart",
        "The next dose of the series is due this long after the last, and overdue later.",
    ),
    (
        "vaccines.*.courses.*.series.outside_limit",
        "the series starts again after",
        "A next dose that comes later than this begins the series anew.",
    ),
    (
        "vaccines.*.courses.*.first_booster.after",
        "first booster",
        "The first booster becomes due so long after the series, or at this age where the protocol says so.",
    ),
    (
        "vaccines.*.courses.*.boosters.*.every",
        "later boosters every",
        "Each booster after the first becomes due this long after the one before it.",
    ),
    (
        "vaccines.*.courses.*.lapse.limit",
        "a booster later than this starts the series again:",
        "An animal that comes later needs the whole series.",
    ),
    ("tests.*.first.age", "first test at", "The first test becomes due at this age."),
    ("tests.*.repeats.*.every", "test every", "The next test becomes due this long after the last."),
    (
        "heartworm.*.pretest_age.age",
        "tested before the first preventive from the age of",
        "An older animal is asked for a test before its first preventive.",
    ),
    ("heartworm.*.retest.every", "tested again after the start", "The second test is due this long after."),
    (
        "heartworm.*.repeats.*.every",
        "then tested every",
        "The next test becomes due this long after the last.",
    ),
    (
        "heartworm.*.late_after.days",
        "a preventive counts as late after",
        "A longer gap is called a lapse: a test now, and again later.",
    ),
    (
        "retrovirus.*.infected.every",
        "tested every",
        "The next test is due this long after the last.",
    ),
    ("prevention.*.start.age", "begun at", "The preventive becomes due at this age."),
    (
        "deworming.*.repeats.*.every",
        "dewormed every",
        "The next deworming becomes due this long after the last.",
    ),
    (
        "visits.*.bands.*.latest",
        "examined at the latest every",
        "The next examination is overdue after this.",
    ),
    (
        "dental.*.repeats.*.every",
        "teeth looked after every",
        "The next cleaning becomes due this long after.",
    ),
    (
        "review.after",
        "the way of life is asked again after",
        "Older answers are asked again at intake.",
    ),
)
_TABLES = ("vaccines", "tests", "heartworm", "retrovirus", "prevention", "deworming", "visits", "dental")


def own_values(protocol: Protocol) -> tuple[OwnValue, ...]:
    """Every value that may be set, in the order of the protocol; the law's first."""
    return (_maximum(protocol), *_of_guidelines(protocol))


def own_value(protocol: Protocol, path: str) -> OwnValue | None:
    return next((each for each in own_values(protocol) if each.path == path), None)


def _maximum(protocol: Protocol) -> OwnValue:
    """A local ordinance may be stricter than the place's law; it is never looser."""
    place = protocol.jurisdiction
    path = f"jurisdictions.{place.code}.{MAXIMUM}"
    return OwnValue(
        path=path,
        about=f"Rabies, {place.label}",
        what="a dose holds at most",
        changes="No legal date falls later than this after the dose, whatever the label says.",
        now=str(place.maximum.months) if place.maximum else "",
        unit="months",
        source=place.maximum.source if place.maximum else "no maximum on file: the label’s",
        certainty=place.maximum.certainty.value if place.maximum else "",
        own=path in _own_paths(protocol),
        of_law=True,
    )


def _of_guidelines(protocol: Protocol) -> Iterator[OwnValue]:
    own = _own_paths(protocol)
    for pattern, what, changes in _MAY_BE_SET:
        for path, table, key in _matches(protocol.data, pattern.split(".")):
            value = table[key]
            yield OwnValue(
                path=path,
                about=_about(protocol, path),
                what=f"{_whose(protocol, table)}{what}",
                changes=changes,
                now=str(value),
                unit="span" if isinstance(value, str) else "days",
                source=str(table.get("source", "")),
                certainty=str(table.get("certainty", "")),
                own=path in own,
            )


def _own_paths(protocol: Protocol) -> frozenset[str]:
    return frozenset(each["path"] for each in protocol.data["chosen"]["values"])


def _matches(
    data: Any, pattern: list[str], before: tuple[str, ...] = ()
) -> Iterator[tuple[str, Mapping[str, Any], str]]:
    """Path, the table that holds the value, its key; for every place that fits the pattern."""
    here, *rest = pattern
    named: Mapping[str, Any] = data if isinstance(data, Mapping) else {}
    if isinstance(data, list):
        named = {str(number): each for number, each in enumerate(data)}
    for name in named if here == "*" else [here] if here in named else []:
        path = (*before, name)
        if rest:
            yield from _matches(named[name], rest, path)
        elif isinstance(data, Mapping):
            yield ".".join(path), data, name


def _about(protocol: Protocol, path: str) -> str:
    table, code, *rest = path.split(".")
    if table not in _TABLES:
        return "Way of life"
    entry = protocol.data[table][code]
    course = rest[1].replace("_", " ") if rest[0] == "courses" and len(entry["courses"]) > 1 else ""
    species = entry["species"]
    return f"{entry['label']} ({', '.join(filter(None, (species, course)))})"


def _whose(protocol: Protocol, table: Mapping[str, Any]) -> str:
    """For which animals an entry among several is: `if outdoors:`, `to 1 year:`, `inactivated:`."""
    said = []
    if table.get("any_of"):
        said.append("if “" + "” or “".join(protocol.rules.lifestyle.get(c, c) for c in table["any_of"]) + "”")
    if table.get("kinds"):
        said.append(" or ".join(table["kinds"]))
    if table.get("stages"):
        said.append(" or ".join(str(each).replace("_", " ") for each in table["stages"]))
    if table.get("until_age"):
        said.append(f"to {Span.parse(table['until_age']).words} of age")
    return f"{', '.join(said)}: " if said else ""


def value_words(value: str, unit: str) -> str:
    """36 months; 15 days."""
    if unit == "span":
        return Span.parse(value).words
    return f"{value} {unit if value != '1' else unit.removesuffix('s')}"


def typed_value(value: OwnValue, number: str, unit: str, *, most: str = "") -> str:
    """What was typed, as the files write it. `most`: of a value of the law, the published one.

    Raises ValueError with a sentence.
    """
    if not number.strip().isdigit() or int(number) < 1:
        raise ValueError("A whole number, 1 or more.")
    text = f"{int(number)} {unit}" if value.unit == "span" else str(int(number))
    days = _days(text, value.unit)
    if days is None:
        raise ValueError("Days, weeks, months or years?")
    if days > LONGEST_DAYS:
        raise ValueError("Ten years at most.")
    if value.of_law and most and int(number) > int(most):
        raise ValueError("A value of the law is only made stricter, never looser.")
    return text


def _days(text: str, unit: str) -> float | None:
    if unit != "span":
        return int(text) * (30.4 if unit == "months" else 1)
    try:
        span = Span.parse(text)
    except ValueError:
        return None
    return span.value * _DAYS[span.unit]


def stored(value: OwnValue, text: str, *, reason: str, by: str) -> object:
    """What stands at the path: a span's text, a number, or the law's whole table with its source."""
    if value.of_law:
        return {"months": int(text), "source": f"local law, read by {by}: {reason}", "certainty": "clinic"}
    return text if value.unit == "span" else int(text)


def contradictions(protocol: Protocol) -> Iterator[str]:
    """What two values that were set apart from each other may not say together."""
    for rule in protocol.rules.vaccines.values():
        for course in rule.courses.values():
            series, start = course.series, course.start
            if _length(series.gap_min) > _length(series.gap_max):
                both = f"not closer than {series.gap_min.words}, and at most {series.gap_max.words}"
                yield f"{rule.label}: doses {both}"
            if _length(start.earliest) > _length(start.usual):
                both = f"no dose below {start.earliest.words}, and the first at {start.usual.words}"
                yield f"{rule.label}: {both}"
            if series.outside_limit and _length(series.outside_limit) < _length(series.gap_max):
                yield (
                    f"{rule.label}: at most {series.gap_max.words} apart, and started again after "
                    f"{series.outside_limit.words}"
                )


def _length(span: Span) -> float:
    return span.value * _DAYS[span.unit]


def checked(protocol: Protocol) -> Protocol:
    """The protocol, when its values agree. Raises ProtocolError."""
    for words in contradictions(protocol):
        raise ProtocolError(words)
    return protocol
